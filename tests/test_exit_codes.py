"""Exit codes of the gates, told by the real program in a process of its own, and where its words go."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
GOOD, BAD, DOUBT = "accepted/every-family.toml", "refused/comma.toml", "doubted/no-source.toml"

# What is typed (in the folder of the samples), and the exit code that it must end with.
TABLE = [
    (["check", GOOD], 0),
    (["check", GOOD, "accepted/job.toml"], 0),
    (["check", BAD], 1),
    (["check", GOOD, "doubted/lever-check.toml", "--fail-at", "caution"], 1),
    (["check", DOUBT], 0),
    (["check", DOUBT, "--fail-at", "caution"], 1),
    (["check", BAD, "--format", "json"], 1),
    (["check", BAD, "--format", "sarif"], 1),
    (["check", BAD, "--format", "junit"], 1),
    (["check", "nowhere.toml", "--format", "junit"], 3),
    (["check", BAD, "nowhere.toml"], 3),
    (["check"], 2),
    (["check", BAD, "--format", "xml"], 2),
    (["check", BAD, "--most", "0"], 2),
    (["check", BAD, "--accept", "no file named"], 2),
    (["check", BAD, "--accepted", "nowhere.toml"], 3),
    (["check", BAD, "--accepted", "accepted/job.toml"], 3),
    (["check", BAD, "--accepted", "refused/comma.toml/known.toml", "--accept", "a file is no folder"], 4),
    (["rules", "default"], 0),
    (["rules", "accepted/profile.toml"], 0),
    (["rules", "refused/profile-leaves.toml"], 3),
    (["rules", "nowhere.toml"], 3),
    (["rules"], 2),
]


@pytest.mark.parametrize(("typed", "code"), TABLE, ids=[" ".join(typed) for typed, _ in TABLE])
def test_the_real_program_ends_with(typed: list[str], code: int) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}
    ended = subprocess.run(
        [sys.executable, "-m", "fitcheck", *typed],
        cwd=ROOT / "tests",
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ended.returncode == code, ended.stdout + ended.stderr
    assert "Traceback" not in ended.stderr
    assert bool(ended.stdout) != bool(ended.stderr)

"""What README.md shows is true: its files are accepted, its counts are what the program counts, its commands exist."""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from fitcheck.check import check_paths
from fitcheck.cli import program
from fitcheck.demo import copy_demo
from fitcheck.inputs import DIMENSIONS, read_job

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
PART, JOB = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """The demo with the two files that a kit designer is told to write."""
    copy_demo(tmp_path)
    (tmp_path / "catalog" / "mine.toml").write_text(PART, encoding="utf-8")
    (tmp_path / "mine.toml").write_text(JOB, encoding="utf-8")
    return tmp_path


def test_the_designers_own_slave_is_accepted_and_fits_something(demo: Path) -> None:
    report = check_paths([demo], DIMENSIONS)
    assert report.complete
    assert [finding for finding in report.findings if finding.severity == "error"] == []
    counts = read_job(demo / "mine.toml").count()
    assert sum(counts.values()) > 0
    assert {train for _, train in counts} == {"external"}


def test_the_number_of_legal_kits_of_the_demo_is_the_one_shown(tmp_path: Path) -> None:
    copy_demo(tmp_path)
    total = sum(read_job(tmp_path / "job.toml").count().values())
    assert f"Legal kits: {total:,}.".replace(",", " ") in README


def test_the_faults_shown_are_the_faults_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    wrong = PART.replace("20.64", "20,64").replace("stroke = ", "strok = ").replace('"60 N"', '"60"')
    (tmp_path / "bad").mkdir()
    (tmp_path / "bad" / "slaves.toml").write_text(wrong, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    found = [str(finding) for finding in check_paths([Path("bad")], DIMENSIONS).findings]
    assert len(found) == 4
    assert [line for line in README.splitlines() if line.startswith("bad/slaves.toml:")] == found


def test_every_command_shown_exists() -> None:
    shown = re.findall(r"^(?:\$ )?(?:\.venv/bin/| +\.venv/bin/)?fitcheck (.+)$|`fitcheck ([^`]+)`", README, re.MULTILINE)
    words = {shlex.split(first or second)[0] for first, second in shown}
    assert words
    assert words <= set(program.commands)


def run_by_a_shell(script: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """A script of README run in a folder, where `fitcheck` is this very checkout."""
    (folder / "bin").mkdir(exist_ok=True)
    command = folder / "bin" / "fitcheck"
    command.write_text(f'#!/bin/sh\nPYTHONPATH="{ROOT}" exec "{sys.executable}" -m fitcheck "$@"\n', encoding="utf-8")
    command.chmod(0o755)
    environment = {**os.environ, "PATH": f"{folder / 'bin'}{os.pathsep}{os.environ['PATH']}"}
    return subprocess.run(["sh", "-c", script], cwd=folder, env=environment, capture_output=True, text=True, check=False)


def test_the_script_for_ci_does_what_it_says(tmp_path: Path) -> None:
    (script,) = re.findall(r"```sh\n(.*?)```", README, re.DOTALL)
    assert len(script.splitlines()) <= 10
    adopt = next(line for line in README.splitlines() if line.startswith("fitcheck check") and "--accept " in line)
    copy_demo(tmp_path)
    assert run_by_a_shell(adopt, tmp_path).returncode == 0
    assert run_by_a_shell(script, tmp_path).returncode == 0
    assert json.loads((tmp_path / "check.sarif").read_text("utf-8"))["version"] == "2.1.0"
    assert 'failures="0"' in (tmp_path / "check.xml").read_text("utf-8")
    (tmp_path / "catalog" / "new.toml").write_text('[fork.new]\nname = "New"\n', encoding="utf-8")
    assert run_by_a_shell(script, tmp_path).returncode == 3  # `count` could not read it all; `check` alone says 1
    assert run_by_a_shell(adopt.partition(" --accept ")[0], tmp_path).returncode == 1


def test_the_hook_calls_a_command_that_exists() -> None:
    hook = (ROOT / ".pre-commit-hooks.yaml").read_text("utf-8")
    keys = dict(re.findall(r"^[- ] (\w+): (.*)$", hook, re.MULTILINE))
    assert keys["entry"].split() == ["fitcheck", "check"]
    assert keys["args"] == "[catalog]"
    assert (keys["language"], keys["pass_filenames"]) == ("python", "false")
    assert keys["id"] in README

"""What README.md shows is true: its files are accepted, its counts are what the program counts, its commands exist."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from fitcheck.check import check_paths
from fitcheck.cli import program
from fitcheck.demo import copy_demo
from fitcheck.inputs import DIMENSIONS, read_job

README = (Path(__file__).resolve().parent.parent / "README.md").read_text(encoding="utf-8")
PART, JOB = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """The demo with the two files that a kit designer is told to write."""
    copy_demo(tmp_path)
    (tmp_path / "catalog" / "mine.toml").write_text(PART, encoding="utf-8")
    (tmp_path / "mine.toml").write_text(JOB, encoding="utf-8")
    return tmp_path


def test_the_designers_own_slave_is_accepted_and_fits_something(demo: Path) -> None:
    assert check_paths([demo], DIMENSIONS).findings == ()
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

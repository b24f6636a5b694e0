"""What README.md shows is true: its files are accepted, its counts are what the program counts, its commands exist."""

from __future__ import annotations

import json
import os
import re
import shlex
import shutil
import subprocess
import sys
from itertools import cycle
from pathlib import Path

import pytest

from fitcheck import cli
from fitcheck.cli import program
from fitcheck.demo import copy_demo
from fitcheck.gates.check import check_paths
from fitcheck.inputs import DIMENSIONS, read_job

pytestmark = pytest.mark.no_cover  # the rooms that are gated are covered without

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
PART, JOB, WAIVER = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
BLOCKS = [text for kind, text in re.findall(r"^```(\w*)\n(.*?)^```$", README, re.DOTALL | re.MULTILINE) if not kind]
BAD = PART.replace("20.64", "20,64").replace("stroke = ", "strok = ").replace('"60 N"', '"60"')


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
    (tmp_path / "bad").mkdir()
    (tmp_path / "bad" / "slaves.toml").write_text(BAD, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    found = [str(finding) for finding in check_paths([Path("bad")], DIMENSIONS).findings]
    assert len(found) == 4
    assert [line for line in README.splitlines() if line.startswith("bad/slaves.toml:")] == found


def test_every_command_shown_exists() -> None:
    shown = re.findall(r"^(?:\$ )?(?:\.venv/bin/| +\.venv/bin/)?fitcheck (.+)$|`fitcheck ([^`]+)`", README, re.MULTILINE)
    words = {shlex.split(first or second)[0] for first, second in shown}
    assert words
    assert words <= set(program.commands)


def shown_commands() -> dict[str, str]:
    """Every line of a block that types a command, in the order of the page, and what the page says that comes out, if it does.

    Words in capitals stand for a kit: any that the page names.
    """
    found = {}
    kits = cycle(sorted(set(re.findall(r"[a-z0-9-]+(?:\+[a-z0-9-]+){7,}", README)), reverse=True))
    for block in BLOCKS:
        for line in block.splitlines():
            typed = re.match(r"(?:\$ |  \.venv/bin/)?(fitcheck [a-z]+ .*?)(?: {2,}\(.*)?$", line)
            if typed:
                out = block.partition("\n")[2] if line.startswith("$ ") else ""
                found[re.sub(r"\bKIT\b", lambda _: next(kits), typed[1])] = out
    return found


def test_every_command_shown_runs(demo: Path, tmp_path_factory: pytest.TempPathFactory, monkeypatch, capsys) -> None:
    """Top to bottom, by a reader who did what stands beside them: beside the demo, or in it where files are named without it."""
    beside = tmp_path_factory.mktemp("reader")
    inside = Path(shutil.move(demo, beside / "fitcheck-demo"))
    (beside / "bad").mkdir()
    (beside / "bad" / "slaves.toml").write_text(BAD, encoding="utf-8")
    (beside / "new-slaves.toml").write_text(PART.replace("mine-20", "mine-22").replace("20.64", "22.2"), encoding="utf-8")
    commands = shown_commands()
    assert len(commands) > 12
    for command, out in commands.items():
        words = shlex.split(command)[1:]
        monkeypatch.chdir(beside if re.search(r"fitcheck-demo|\bbad\b", command) else inside)
        code = cli.run(words)
        heard = capsys.readouterr()
        strict = words[:2] == ["check", "bad"] or "caution" in words
        assert code == int(strict), (command, heard.err)
        assert heard.out, command
        assert out in ("", heard.out), command


def test_the_commands_shown_are_found_wherever_they_stand() -> None:
    for start in ("fitcheck check fitcheck-demo", "fitcheck compare fitcheck-demo/job.toml hay-lorry", "fitcheck check bad"):
        assert start in shown_commands()
    named = {command.split()[1] for command in shown_commands()}
    assert set(program.commands) - {"demo", "changes"} <= named


def test_the_waiver_shown_is_one_that_a_bundle_takes(demo: Path) -> None:
    path = demo / "bundles" / "hay-lorry.toml"
    path.write_text(path.read_text("utf-8") + "\n" + WAIVER, encoding="utf-8")
    report = check_paths([path], DIMENSIONS)
    assert report.complete
    assert not report.findings


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
    assert 'failures="0"' in (tmp_path / "judge.xml").read_text("utf-8")
    (tmp_path / "catalog" / "new.toml").write_text('[fork.new]\nname = "New"\n', encoding="utf-8")
    assert run_by_a_shell(script, tmp_path).returncode == 1  # the kit does not use it
    (tmp_path / "catalog" / "covers.toml").unlink()
    assert run_by_a_shell(script, tmp_path).returncode == 3  # `check` alone says 1


def test_the_hooks_call_commands_that_exist() -> None:
    hooks = re.split(r"^(?=- id: )", (ROOT / ".pre-commit-hooks.yaml").read_text("utf-8"), flags=re.MULTILINE)[1:]
    told = [dict(re.findall(r"^[- ] (\w+): (.*)$", hook, re.MULTILINE)) for hook in hooks]
    assert [(keys["entry"], keys["args"]) for keys in told] == [("fitcheck check", "[catalog]"), ("fitcheck judge", "[bundles]")]
    assert all((keys["language"], keys["pass_filenames"]) == ("python", "false") for keys in told)
    assert all(keys["id"] in README and keys["entry"].split()[1] in program.commands for keys in told)

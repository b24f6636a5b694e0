"""Setting up from a fresh checkout, with every outside command replaced by a note that it was called; and what gets packed."""

from __future__ import annotations

import ast
import importlib.util
import json
import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "ci" / "start.py"


class Outside:
    """Commands that `start.py` believes to run: `refused` holds words whose commands fail."""

    def __init__(self, python: str) -> None:
        self.python = python
        self.refused: set[str] = set()
        self.calls: list[tuple[str, ...]] = []

    def call(self, command: tuple[str, ...], **_: object) -> int:
        self.calls.append(tuple(command))
        if command[0] == self.python and not Path(self.python).exists():
            raise FileNotFoundError(self.python)
        if self.refused.intersection(command):
            return 1
        if "venv" in command:
            Path(self.python).parent.mkdir(parents=True, exist_ok=True)
            Path(self.python).touch()
        return 0

    def installs(self) -> list[tuple[str, ...]]:
        return [call for call in self.calls if "install" in call]


@pytest.fixture
def start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """`ci/start.py` as it would be in an invented checkout, cut off from everything outside."""
    folder = tmp_path / "a checkout" / "ci"
    folder.mkdir(parents=True)
    (folder / "start.py").write_bytes(SOURCE.read_bytes())
    (folder.parent / "pyproject.toml").write_text("one")
    spec = importlib.util.spec_from_file_location("start", folder / "start.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    module.outside = Outside(module.PYTHON)
    monkeypatch.setattr(module.subprocess, "call", module.outside.call)
    monkeypatch.chdir(tmp_path)
    return module


def test_the_first_run_makes_installs_and_runs(start: ModuleType) -> None:
    assert start.main(["demo", "somewhere"]) == 0
    assert (start.BASE, "-m", "venv", start.VENV) in start.outside.calls
    assert start.outside.installs()[-1][-2:] == ("--editable", start.ROOT)
    assert start.outside.calls[-1] == (start.PYTHON, "-m", "fitcheck", "demo", "somewhere")


def test_the_second_run_only_runs(start: ModuleType) -> None:
    start.main(["demo"])
    start.outside.calls.clear()
    assert start.main(["demo"]) == 0
    assert start.outside.calls == [(start.PYTHON, "-m", "fitcheck", "demo")]


def test_what_the_tests_need_serves_the_demo_but_not_the_other_way_round(start: ModuleType) -> None:
    start.main(["demo"])
    start.main(["test"])
    assert start.outside.installs()[-1][-1] == start.ROOT + "[test]"
    before = len(start.outside.installs())
    start.main(["demo"])
    assert len(start.outside.installs()) == before


def test_changed_requirements_are_installed_into_the_same_environment(start: ModuleType) -> None:
    start.main(["demo"])
    Path(start.ROOT, "pyproject.toml").write_text("two")
    start.outside.calls.clear()
    start.main(["demo"])
    assert len(start.outside.installs()) == 1
    assert not any("venv" in call for call in start.outside.calls)


@pytest.mark.parametrize("key", ["folder", "python"])
def test_a_moved_checkout_or_another_python_gets_a_new_environment(start: ModuleType, key: str) -> None:
    start.main(["demo"])
    stamp = Path(start.STAMP)
    stamp.write_text(json.dumps({**json.loads(stamp.read_text()), key: "other"}))
    leftover = Path(start.VENV, "leftover")
    leftover.touch()
    assert start.main(["demo"]) == 0
    assert not leftover.exists()


def test_an_install_that_was_cut_short_is_begun_anew(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object) -> int:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(start, "run", stopped)
        assert start.main(["demo"]) == 130
    leftover = Path(start.VENV, "half-installed")
    leftover.touch()
    assert start.main(["demo"]) == 0
    assert not leftover.exists()


def test_a_failed_install_says_so_and_leaves_no_stamp(start: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    start.outside.refused = {"--editable"}
    assert start.main(["demo"]) == 4
    assert "Installing failed" in capsys.readouterr().err
    assert not Path(start.STAMP).exists()
    assert not any("fitcheck" in call for call in start.outside.calls)


def test_an_environment_made_by_hand_is_used_and_never_removed(start: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    Path(start.PYTHON).parent.mkdir(parents=True)
    Path(start.PYTHON).touch()
    assert start.main(["demo"]) == 0
    assert not any("venv" in call for call in start.outside.calls)
    Path(start.PYTHON).unlink()
    assert start.main(["demo"]) == 4
    assert "Move it away" in capsys.readouterr().err
    assert Path(start.VENV).exists()


def test_without_ensurepip_the_environment_is_filled_from_outside(start: ModuleType) -> None:
    start.outside.refused = {"import ensurepip"}
    own_pip = start.works

    def works(*command: str) -> bool:
        return command[:3] != (start.PYTHON, "-m", "pip") and bool(own_pip(*command))

    start.works = works
    assert start.main(["demo"]) == 0
    assert (start.BASE, "-m", "venv", "--without-pip", start.VENV) in start.outside.calls
    assert start.outside.installs()[-1][:5] == (start.BASE, "-m", "pip", "--python", start.PYTHON)


@pytest.mark.parametrize(("refused", "message"), [("venv", "cannot make an environment"), ("pip", "There is no pip")])
def test_a_python_without_the_means_is_told_what_to_install(
    start: ModuleType, capsys: pytest.CaptureFixture[str], refused: str, message: str
) -> None:
    start.outside.refused = {refused}
    assert start.main(["demo"]) == 4
    assert message in capsys.readouterr().err


def test_tests_run_after_lint_and_types_and_any_fault_fails_the_run(start: ModuleType) -> None:
    assert start.main(["test"]) == 0
    assert [call[2] for call in start.outside.calls[-4:]] == ["ruff", "mypy", "pytest", "pytest"]
    assert ["--cov" in call for call in start.outside.calls[-2:]] == [True, False]
    assert [call[9] for call in start.outside.calls[-2:]] == ["not no_cover", "no_cover"]  # together every test
    for tool in ("ruff", "mypy", "not no_cover", "no_cover"):
        start.outside.refused = {tool}
        assert start.main(["test"]) == 1
        assert start.outside.calls[-1][2] == "pytest"


def test_arguments_go_to_pytest_alone(start: ModuleType) -> None:
    assert start.main(["test", "-k", "name"]) == 0
    assert start.outside.calls[-1] == (start.PYTHON, "-m", "pytest", "-k", "name")
    assert not any("ruff" in call for call in start.outside.calls)


def test_the_exit_code_of_the_demo_is_passed_on(start: ModuleType) -> None:
    start.main(["demo"])
    start.outside.refused = {"fitcheck"}
    assert start.main(["demo"]) == 1


@pytest.mark.parametrize("arguments", [[], ["tset"]])
def test_wrong_usage_is_shown_the_usage(start: ModuleType, capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    assert start.main(arguments) == 2
    assert "usage:" in capsys.readouterr().err


@pytest.mark.parametrize(("newer", "advice"), [(True, "type `python3."), (False, "Install one")])
def test_an_old_python_is_refused_in_plain_words(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], newer: bool, advice: str
) -> None:
    monkeypatch.setattr(start.sys, "version_info", (3, 10, 2))
    monkeypatch.setattr(start, "works", lambda *_: newer)
    assert start.main(["demo"]) == 4
    message = capsys.readouterr().err
    assert "needs Python 3.11 or newer" in message
    assert advice in message


def test_an_old_python_can_read_the_file() -> None:
    ast.parse(SOURCE.read_text(encoding="utf-8"), feature_version=(3, 6))


def packed(kind: str, folder: Path) -> Path:
    """Build a wheel or source archive of this checkout without any network."""
    command = [sys.executable, "-m", "hatchling", "build", "-t", kind, "-d", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    return next(folder.iterdir())


def shipped(name: str) -> set[str]:
    """Files of a data folder, relative to it."""
    return {path.relative_to(ROOT / name).as_posix() for path in (ROOT / name).rglob("*") if path.is_file()}


def test_the_wheel_carries_the_schemas_and_catalogs_and_finds_them(tmp_path: Path) -> None:
    unpacked = tmp_path / "unpacked"
    with zipfile.ZipFile(packed("wheel", tmp_path / "wheel")) as archive:
        archive.extractall(unpacked)
    code = "from fitcheck.data import folder; print(folder('schemas')); print(folder('catalogs'))"
    environment = {**os.environ, "PYTHONPATH": str(unpacked)}
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, env=environment, capture_output=True, text=True, check=True)
    for name, place in zip(("schemas", "catalogs"), done.stdout.splitlines(), strict=True):
        assert Path(place) == unpacked / "fitcheck" / "_data" / name
        assert {path.relative_to(place).as_posix() for path in Path(place).rglob("*") if path.is_file()} == shipped(name)


def test_the_source_archive_can_be_built_and_tested_from(tmp_path: Path) -> None:
    with tarfile.open(packed("sdist", tmp_path)) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    assert {"README.md", "DEVELOPERS.md", "pyproject.toml", "ci/start.py", "tests/test_start.py"} <= names
    assert {f"schemas/{name}" for name in shipped("schemas")} <= names

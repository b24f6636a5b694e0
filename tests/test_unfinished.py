"""A screening that is stopped at any time and taken up again gives the bytes of one that was never stopped."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from fitcheck import cli
from fitcheck.engine import unfinished
from fitcheck.engine.screening import screen
from fitcheck.engine.unfinished import Known, Unfinished, key_of
from fitcheck.errors import OutputError
from fitcheck.inputs import Inputs, read_job
from fitcheck.report.files import write_result

pytestmark = pytest.mark.no_cover  # the rooms that are gated are covered without

ROOT = Path(__file__).resolve().parent.parent
JOB = f"""
catalogs = ["{(ROOT / "catalogs" / "demo" / "catalog").as_posix()}"]
applications = ["hay-lorry", "snow-plough", "cable-shunter"]
prefer = ["least effort_peak"]
best = 20
row_limit = 100
need_pass = false
[only]
pedal = ["lever-62"]
master = ["vell-19", "steep-21"]
fluid = ["amber", "violet"]
fork = ["lorry-17", "heavy-17"]
"""
Outcome = tuple[bytes, bytes]


class Enough(Exception):
    """The stop of these tests."""


@pytest.fixture(scope="module")
def inputs(tmp_path_factory: pytest.TempPathFactory) -> Inputs:
    path = tmp_path_factory.mktemp("job") / "two.toml"
    path.write_text(JOB, encoding="utf-8")
    return read_job(path)


@pytest.fixture(scope="module")
def whole(inputs: Inputs, tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """What a screening gives that was never stopped."""
    return outcome(inputs, tmp_path_factory.mktemp("whole"))


@pytest.fixture
def always(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is known is kept after every cover, however fast the machine."""
    monkeypatch.setattr(unfinished, "EVERY", 0.0)


def outcome(inputs: Inputs, folder: Path, progress: Callable[[int, int], None] | None = None, cells: int = 131_072) -> Outcome:
    """Screen, taking up what the folder keeps, and write."""
    keeper = inputs.unfinished(folder)
    found = screen(inputs.catalog, inputs.profile, inputs.job, progress=progress, cells=cells, unfinished=keeper)
    write_result(found, folder, {})  # what the page explains is not asked here
    return (folder / "kits.csv").read_bytes(), (folder / "summary.json").read_bytes()


def stopping_after(calls: int) -> Callable[[int, int], None]:
    left = iter(range(calls))

    def progress(done: int, total: int) -> None:
        if next(left, None) is None:
            raise Enough

    return progress


def stopped(inputs: Inputs, folder: Path, calls: int, cells: int = 131_072) -> bool:
    """Screen until so many tiles are judged; False where the screening was through before."""
    try:
        outcome(inputs, folder, stopping_after(calls), cells)
    except Enough:
        return True
    return False


def test_wherever_it_is_stopped_the_result_is_the_same(inputs: Inputs, whole: Outcome, tmp_path: Path, always: None) -> None:
    for calls in (1, 4, 8, 11):
        folder = tmp_path / str(calls)
        assert stopped(inputs, folder, calls, cells=64)
        assert outcome(inputs, folder) == whole


def test_a_run_that_is_stopped_again_and_again_comes_to_an_end(
    inputs: Inputs, whole: Outcome, tmp_path: Path, always: None
) -> None:
    folder = tmp_path / "often"
    done = [inputs.unfinished(folder).known.done]
    while stopped(inputs, folder, 3):
        done.append(inputs.unfinished(folder).known.done)
    assert len(done) > 3
    assert done == sorted(set(done))
    assert outcome(inputs, folder) == whole


def test_what_is_judged_is_not_judged_again(inputs: Inputs, tmp_path: Path, always: None) -> None:
    total = sum(inputs.count().values())
    assert stopped(inputs, tmp_path, 8)
    keeper = inputs.unfinished(tmp_path)
    assert keeper.said == (
        f"{keeper.path}: going on with an unfinished result of the same inputs, {keeper.known.done} kits already judged"
    )
    before = keeper.known.done
    told: list[int] = []
    outcome(inputs, tmp_path, lambda done, _: told.append(done))
    assert before < told[0]
    assert told[-1] == total


def test_work_too_short_to_be_worth_keeping_leaves_no_file(inputs: Inputs, tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(unfinished, "EVERY", 1e9)
    assert stopped(inputs, tmp_path, 8)
    assert not (tmp_path / unfinished.NAME).exists()


# Which result it is.


def test_other_inputs_begin_anew(inputs: Inputs, tmp_path: Path, always: None) -> None:
    assert stopped(inputs, tmp_path, 8)
    other = replace(inputs, job=replace(inputs.job, best=21))
    keeper = other.unfinished(tmp_path)
    assert keeper.said == f"{keeper.path}: an unfinished result of other inputs; beginning anew"
    assert keeper.known == Known()
    assert outcome(other, tmp_path) == outcome(other, tmp_path / "whole")


def changes(inputs: Inputs) -> Iterator[Inputs]:
    """The same question, but for one thing that decides about the result."""
    job, profile, catalog = inputs.job, inputs.profile, inputs.catalog
    asked = {"applications": ("hay-lorry",), "trains": ("external",), "only": {}, "leave_out": {"fluid": ("amber",)}}
    asked |= {"supplied": ("slave",), "prefer": (), "best": 5, "row_limit": 99}
    for field, value in asked.items():
        yield replace(inputs, job=replace(job, **{field: value}))
    judged = {"headroom_step": 0.5, "headroom_enough": 2.0, "fits": profile.fits[1:], "rules": profile.rules[1:]}
    judged |= {"assumptions": replace(profile.assumptions, air=1e-7)}
    judged |= {"rules ": (replace(profile.rules[0], scale=7.0), *profile.rules[1:])}
    for field, value in judged.items():
        yield replace(inputs, profile=replace(profile, **{field.strip(): value}))
    fluids = catalog.families["fluid"]
    for family in (fluids[1:], (replace(fluids[0], texts={"notes": "changed"}), *fluids[1:])):
        yield replace(inputs, catalog=replace(catalog, families={**catalog.families, "fluid": family}))


def test_every_input_counts_and_where_it_stands_does_not(inputs: Inputs, tmp_path: Path, monkeypatch) -> None:
    def key(some: Inputs) -> str:
        return key_of(some.catalog, some.profile, some.job)

    keys = [key(inputs), *map(key, changes(inputs))]
    assert len(set(keys)) == len(keys) == 17
    (tmp_path / "named-else.toml").write_text(f"# A remark.\n{JOB}", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert key(read_job("named-else.toml")) == key(inputs)
    monkeypatch.setattr(unfinished, "VERSION", "another")
    assert key(inputs) not in keys


# Damage.


def test_a_damaged_file_is_told_and_passed_over(inputs: Inputs, whole: Outcome, tmp_path: Path, always: None) -> None:
    assert stopped(inputs, tmp_path, 8)
    path = tmp_path / unfinished.NAME
    good = path.read_bytes()
    flipped = [good[:at] + bytes([good[at] ^ 1]) + good[at + 1 :] for at in (0, 70, 150, len(good) // 2, len(good) - 1)]
    for content in (b"", b"\n", b"not ours", b"\xff\n\xfe\n", good[:100], good[:-1], good + b"\0", *flipped):
        path.write_bytes(content)
        keeper = inputs.unfinished(tmp_path)
        assert keeper.said == f"{path}: an unfinished result that is damaged; beginning anew"
        assert keeper.known == Known()
    assert outcome(inputs, tmp_path) == whole


def test_a_file_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    (tmp_path / unfinished.NAME).mkdir()
    assert "an unfinished result that cannot be read (" in Unfinished(tmp_path, "key").said


def test_a_folder_that_cannot_be_written_is_said_before_all_is_judged(inputs: Inputs, tmp_path: Path, always: None) -> None:
    (tmp_path / "taken").write_text("", encoding="utf-8")
    with pytest.raises(OutputError, match="cannot write to"):
        outcome(inputs, tmp_path / "taken", stopping_after(8))


def test_a_stop_while_the_file_is_written_leaves_the_one_before(tmp_path: Path, monkeypatch) -> None:
    Unfinished(tmp_path, "key").save(Known((1, 0, 2)))

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(Path, "replace", stop)
        with pytest.raises(KeyboardInterrupt):
            Unfinished(tmp_path, "key").save(Known((5, 1, 7)))
    assert Unfinished(tmp_path, "key").known == Known((1, 0, 2))
    assert [path.name for path in tmp_path.iterdir()] == [unfinished.NAME]


# The program.

HELD = """
import signal, sys, time, fitcheck.cli as cli, fitcheck.engine.unfinished as unfinished
signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's job in the background starts deaf to it
keep, kept = unfinished.Unfinished.save, []
def save(self, known):
    keep(self, known)
    kept.append(known)
    if len(kept) == 3:
        print('kept', flush=True)
        time.sleep(600)
unfinished.Unfinished.save, unfinished.EVERY = save, 0.0
cli.main(['screen', sys.argv[1]])
"""


@pytest.mark.parametrize(("sent", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGKILL, -signal.SIGKILL)])
def test_a_program_that_was_stopped_goes_on(sent: signal.Signals, code: int, tmp_path: Path, capsys) -> None:
    job, folder = tmp_path / "two.toml", tmp_path / "two-result"
    job.write_text(JOB, encoding="utf-8")
    known = {**os.environ, "PYTHONPATH": str(ROOT)}
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    with subprocess.Popen([sys.executable, "-c", HELD, str(job)], env=known, text=True, **pipes) as running:
        assert running.stdout.readline() == "kept\n"
        running.send_signal(sent)
        out, err = running.communicate(timeout=300)
    assert (running.returncode, out) == (code, "")
    assert err in ("", "fitcheck: stopped\n")
    assert [path.name for path in folder.iterdir()] == [unfinished.NAME]
    assert cli.run(["screen", str(job)]) == 0
    assert "going on with an unfinished result of the same inputs" in capsys.readouterr().err
    names = ["kits.csv", "report.html", "summary.json"]
    assert sorted(path.name for path in folder.iterdir()) == names
    assert cli.run(["screen", str(job), "--out", str(tmp_path / "whole")]) == 0
    assert capsys.readouterr().err == ""
    assert all((folder / name).read_bytes() == (tmp_path / "whole" / name).read_bytes() for name in names)

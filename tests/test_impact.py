"""What a change changes: held against two full screenings of random catalogs, and asked of the real program."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from random_catalogs import Case, random_case, varied
from two_runs import two_runs

from fitcheck import cli
from fitcheck.catalog.parts import Catalog, Part
from fitcheck.changes.impact import impact
from fitcheck.changes.overlay import Change, entries_between, read_change
from fitcheck.engine.table import METRICS
from fitcheck.inputs import Inputs
from fitcheck.job import Preference
from fitcheck.report.impact import impact_lines

pytestmark = pytest.mark.no_cover  # the rooms that are gated are covered without

ROOT = Path(__file__).resolve().parent.parent
GOLDEN = Path(__file__).parent / "golden"
CASES, MOST_KITS = 28, 60
NO_SUMS = [name for name in METRICS if name not in ("cost", "mass")]


def signed(catalog: Catalog) -> Catalog:
    """Every part with a digest of what it says, as reading gives it."""
    return Catalog(
        {
            family: tuple(replace(part, texts={"values": repr(part.values)}) for part in parts)
            for family, parts in catalog.families.items()
        }
    )


def changed(rng: Random, catalog: Catalog, used: list[tuple[str, str]]) -> tuple[Catalog, list[tuple[str, str]]]:
    """A few entries changed a little, removed, or added beside one that they are like; and those that are new or changed."""
    families = {family: list(parts) for family, parts in catalog.families.items()}
    laid: list[tuple[str, str]] = []
    for family, name in rng.sample(used, min(len(used), rng.choice((1, 1, 2, 3)))):
        part = next(part for part in families[family] if part.id == name)
        how = rng.choice(("new", "new", "changed", "changed", "changed", "removed"))
        if how != "new":
            families[family].remove(part)
        if how != "removed":
            cheaper = how == "new" and rng.random() < 0.5
            values = dict(part.values) if cheaper else varied(rng, dict(part.values), rng.choice((0.001, 0.02, 0.1)))
            values |= {"cost": 1.0, "mass": 0.1} if cheaper else {}
            identifier = f"{part.id}-x{rng.randrange(100)}" if how == "new" else part.id
            families[family] = [one for one in families[family] if one.id != identifier]
            families[family].append(Part(family, identifier, values, part.places))
            laid.append((family, identifier))
    made = {family: tuple(sorted(parts, key=lambda part: part.id)) for family, parts in families.items()}
    return signed(Catalog(made)), laid


def same(catalog: Catalog, part: Part) -> bool:
    other = catalog.part(part.family, part.id)
    return other is not None and other.digest == part.digest


def random_change(seed: int) -> Change:
    """One with few legal kits before and after: every kit is judged several times over."""
    rng = Random(seed)
    change = one_change(rng)
    while max(sum(half.count().values()) for half in (change.before, change.after)) > MOST_KITS:
        change = one_change(rng)
    return change


def one_change(rng: Random) -> Change:
    case: Case = random_case(rng)
    while not any(case.legal.values()):
        case = random_case(rng)
    wishes = [rng.choice(("least cost", "least mass", f"most {rng.choice(NO_SUMS)}")) for _ in range(rng.randint(0, 2))]
    prefer = tuple(Preference(*wish.split()) for wish in dict.fromkeys(wishes))
    job = replace(case.job, prefer=prefer)
    old = signed(case.catalog)
    kits = [kit for some in case.legal.values() for kit in some]
    held = {(family, part.id) for kit in kits for family, part in kit.items()}
    held |= {("linkage", kit["application"].values["linkage"]) for kit in kits if "linkage" in kit["application"].values}
    new, laid = changed(rng, old, sorted(held))
    if rng.random() < 0.4:  # the other way round
        laid = [(part.family, part.id) for parts in old.families.values() for part in parts if not same(new, part)]
        old, new = new, old
    before, after = Inputs(job, case.profile, old), Inputs(job, case.profile, new)
    return Change(before, after, entries_between(old, new, laid), (), True)


@pytest.mark.parametrize("seed", range(CASES))
def test_impact_is_the_difference_of_two_full_runs(seed: int) -> None:
    held_against_two_runs(random_change(seed))


def held_against_two_runs(change: Change) -> None:
    """Everything that impact tells is what two full screenings differ by."""
    fresh = {(entry.family, entry.id) for entry in change.entries if entry.how in ("new", "changed")}
    told = two_runs(change.before, change.after, {key for key in fresh if key[0] != "linkage"})
    found = impact(change)
    for name, wanted in (("added", told.added), ("lost", told.lost)):
        counts = {group: Counter(dict(enumerate(getattr(one, name)))) for group, one in found.groups.items()}
        assert {group: +count for group, count in counts.items() if +count} == wanted
    assert {flip.kit: (flip.before, flip.after, frozenset(flip.rules)) for flip in found.flips} == told.flips
    bests = {group: (one.best_before, one.best_after) for group, one in found.groups.items()}
    names = {group: tuple(best and best.kit for best in pair) for group, pair in bests.items()}
    assert {group: pair for group, pair in names.items() if pair[0] != pair[1]} == told.best
    assert (found.gained, found.missed) == (told.gained, told.missed)
    assert {(one.family, one.old, one.by) for one in found.bettered} == told.bettered


def test_the_random_changes_show_every_kind_of_change() -> None:
    """Or the comparison above would compare nothing with nothing."""
    seen: Counter[str] = Counter()
    for seed in range(CASES):
        found = impact(random_change(seed))
        groups = found.groups.values()
        seen.update(added=any(any(one.added) for one in groups), lost=any(any(one.lost) for one in groups))
        seen.update(kept=any(one.kept for one in groups), flips=bool(found.flips), bettered=bool(found.bettered))
        seen.update(missed=bool(found.missed), beside=found.beside > 0)
    assert all(seen.values()), seen


# On the demo, through files.

JOB = """
catalogs = ["catalog"]
profile = "profile.toml"
applications = ["hay-lorry"]
trains = ["external"]
prefer = ["least effort_peak"]
need_pass = true
[only]
pedal = ["lever-62"]
line = ["inch-braid"]
fluid = ["amber"]
slave = ["ridge-22", "mine-22"]
fork = ["lorry-17"]
pressure_plate = ["crane", "heron"]
disc = ["lorry-240"]
"""


def entry(folder: Path, identifier: str) -> str:
    """One slave of the demo as it stands in its file."""
    text = (folder / "catalog" / "slaves.toml").read_text(encoding="utf-8")
    return f"[slave.{identifier}]" + text.partition(f"[slave.{identifier}]")[2].partition("\n[")[0] + "\n"


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """The demo with a small job, a changed slave and a new one that is the same but slips more easily."""
    shutil.copytree(ROOT / "catalogs" / "demo", tmp_path, dirs_exist_ok=True)
    (tmp_path / "small.toml").write_text(JOB, encoding="utf-8")
    (tmp_path / "old.toml").write_text(JOB.replace(', "mine-22"', ""), encoding="utf-8")
    old = entry(tmp_path, "ridge-22")
    (tmp_path / "changed.toml").write_text(old.replace("42 mm", "18 mm", 1), encoding="utf-8")
    new = old.replace("[slave.ridge-22]", "[slave.mine-22]").replace("efficiency = 0.96", "efficiency = 0.99")
    (tmp_path / "new.toml").write_text(new, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("names", "gone"),
    [(["new"], []), (["changed"], []), (["new", "changed"], []), ([], ["crane"]), (["new"], ["slave.ridge-22"])],
)
def test_the_demo_changes_as_two_full_runs_do(demo: Path, names: list[str], gone: list[str]) -> None:
    job = "small.toml" if "new" in names else "old.toml"  # the one that asks for the new slave, or the one before it came
    change = read_change(demo / job, [demo / f"{name}.toml" for name in names], gone)
    assert change.complete
    held_against_two_runs(change)


def test_a_first_passing_kit_is_told(demo: Path) -> None:
    slaves = demo / "catalog" / "slaves.toml"
    whole, weak = slaves.read_text(encoding="utf-8"), (demo / "changed.toml").read_text(encoding="utf-8")
    slaves.write_text(whole.replace(entry(demo, "ridge-22"), weak), encoding="utf-8")
    change = read_change(demo / "small.toml", [demo / "new.toml"], [])
    assert impact(change).gained == ("hay-lorry",)
    held_against_two_runs(change)


def test_a_new_part_that_is_better_throughout_betters_the_old_one(demo: Path) -> None:
    """Less friction, all else equal: less effort (the lead of a piston's efficiency in its force is elementary)."""
    found = impact(read_change(demo / "small.toml", [demo / "new.toml"], []))
    assert [(one.family, one.old, one.by) for one in found.bettered] == [("slave", "ridge-22", "mine-22")]


def test_only_kits_that_hold_the_entry_are_judged(demo: Path) -> None:
    change = read_change(demo / "small.toml", [demo / "new.toml"], [])
    found = impact(change)
    before, after = (sum(half.count().values()) for half in (change.before, change.after))
    assert (found.judged, found.beside) == (after - before, before)
    hopeless = (demo / "new.toml").read_text(encoding="utf-8").replace('"160 bar"', '"1 bar"')
    (demo / "new.toml").write_text(hopeless, encoding="utf-8")
    found = impact(read_change(demo / "small.toml", [demo / "new.toml"], []))
    assert (found.judged, found.beside) == (after - before, 0)  # all are rejected: no other kit has to be looked at


def test_an_entry_said_again_changes_nothing(demo: Path) -> None:
    (demo / "new.toml").write_text(entry(demo, "ridge-22"), encoding="utf-8")
    change = read_change(demo / "small.toml", [demo / "new.toml"], [])
    assert [entry.how for entry in change.entries] == ["unchanged"]
    assert (impact(change).groups, impact(change).judged) == ({}, 0)


def test_an_entry_that_another_one_takes_along_is_left_out_and_not_removed(demo: Path) -> None:
    change = read_change(demo / "old.toml", [], ["rods-hay-lorry"])
    told = {(entry.family, entry.id): entry.how for entry in change.entries}
    assert told == {("linkage", "rods-hay-lorry"): "removed", ("application", "hay-lorry"): "left out"}
    assert impact(change).missed == ("hay-lorry",)


@pytest.mark.parametrize("slip", ["nan", '"none"'])
@pytest.mark.parametrize(("names", "gone"), [(["mended"], []), ([], ["ridge-22"])])
def test_what_was_wrong_with_an_entry_goes_with_it(demo: Path, names: list[str], gone: list[str], slip: str) -> None:
    sound = entry(demo, "ridge-22")
    (demo / "mended.toml").write_text(sound, encoding="utf-8")
    slaves = demo / "catalog" / "slaves.toml"
    broken = sound.replace("efficiency = 0.96", f"efficiency = {slip}")
    slaves.write_text(slaves.read_text(encoding="utf-8").replace(sound.rstrip(), broken.rstrip()), encoding="utf-8")
    change = read_change(demo / "job.toml", [demo / f"{name}.toml" for name in names], gone)
    assert change.complete
    assert change.after.catalog.complete
    assert not change.before.catalog.complete
    told = [finding for finding in change.findings if finding.severity == "error"]
    assert [finding.place.key for finding in told] == ["slave.ridge-22.efficiency"]
    assert not set(told) & set(change.unmended)


def test_a_name_that_leads_nowhere_before_and_after_is_a_fault(demo: Path, capsys) -> None:
    assert cli.run(["impact", str(demo / "small.toml"), str(demo / "changed.toml")]) == 3  # nobody brings the mine-22
    assert "no slave with the id mine-22" in capsys.readouterr().err


def test_a_file_that_the_job_reads_already_is_looked_at_as_new(demo: Path) -> None:
    (demo / "new.toml").rename(demo / "catalog" / "new.toml")
    change = read_change(demo / "small.toml", [demo / "catalog" / "new.toml"], [])
    assert [(entry.id, entry.how) for entry in change.entries] == [("mine-22", "new")]
    assert [finding.problem for finding in change.findings] == ["already-read"]


# Text and codes.


def test_the_lines_are_those_that_were_agreed(demo: Path) -> None:
    change = read_change(demo / "small.toml", [demo / "new.toml", demo / "changed.toml"], [])
    text = "\n".join(impact_lines(impact(change))) + "\n"
    assert text == (GOLDEN / "impact.txt").read_bytes().decode("utf-8")


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["new.toml"], 0, ""),
        (["changed.toml"], 1, ""),  # the last passing kit goes, and the job needs one
        (["--without", "ridge-22"], 1, ""),
        (["--without", "ridge-2"], 2, "did you mean"),
        (["--without", "amber", "--without", "fluid.ambre"], 2, "no such entry"),
        (["new.toml", "--without", "mine-22"], 2, "no such entry"),
        (["changed.toml", "--without", "ridge-22"], 2, "leave one of the two away"),
        ([], 2, "nothing to compare"),
        (["nowhere.toml"], 3, "no such file"),
        (["small.toml"], 3, "found a job"),
        (["empty.toml"], 3, ""),
        (["broken.toml"], 3, "bore"),
    ],
)
def test_the_code_tells_what_was_found(demo: Path, arguments: list[str], code: int, said: str, capsys, monkeypatch) -> None:
    (demo / "empty.toml").write_text("", encoding="utf-8")
    (demo / "broken.toml").write_text(entry(demo, "ridge-22").replace('"7/8 in"', '"7/8"'), encoding="utf-8")
    monkeypatch.chdir(demo)
    job = "small.toml" if "new.toml" in arguments else "old.toml"
    assert cli.run(["impact", job, *arguments]) == code
    heard = capsys.readouterr()
    assert said in heard.err
    assert ("Incomplete: " in heard.out) == (code == 3)


def test_the_real_program_tells_it(demo: Path) -> None:
    command = [sys.executable, "-m", "fitcheck", "impact", "old.toml", "changed.toml"]
    done = subprocess.run(
        command, cwd=demo, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 1
    assert done.stdout.startswith("Entries: slave.ridge-22 changed.\n")
    assert "Last passing kit: hay-lorry has none any more.\n" in done.stdout


# Progress, and a stop.


@pytest.mark.parametrize("names", [["new"], ["changed"], ["new", "changed"]])
def test_progress_counts_every_kit_judged_and_never_falls_back(demo: Path, names: list[str]) -> None:
    told: list[tuple[int, int]] = []
    job = "small.toml" if "new" in names else "old.toml"
    change = read_change(demo / job, [demo / f"{name}.toml" for name in names], [])
    found = impact(change, lambda done, total: told.append((done, total)))
    assert found == impact(change)
    assert told == sorted(told)
    assert all(done <= total for done, total in told)
    assert told[-1][0] == found.judged + found.beside + sum(group.kept for group in found.groups.values())


def test_on_a_terminal_a_bar_is_shown_and_a_stop_leaves_nothing(demo: Path) -> None:
    """128 and the number of the signal, as shells report it (POSIX.1-2017, XCU 2.8.2)."""
    script = (
        "import signal, time, fitcheck.cli as cli, fitcheck.changes.impact as room\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"  # a shell's job in the background starts deaf to it
        "def wait(*_, progress=None, **__):\n    progress(1, 2)\n    time.sleep(600)\n"
        "room.screen = wait\ncli.main(['impact', 'small.toml', 'new.toml'])\n"
    )
    before = {path: path.read_bytes() for path in demo.rglob("*") if path.is_file()}
    ours, theirs = os.openpty()
    known = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1", "TERM": "xterm"}
    command = [sys.executable, "-c", script]
    with subprocess.Popen(command, cwd=demo, env=known, stdout=subprocess.PIPE, stderr=theirs) as running:
        os.close(theirs)
        seen = b""
        while b"Judging kits" not in seen:
            seen += os.read(ours, 1000)
        running.send_signal(signal.SIGINT)
        out, _ = running.communicate(timeout=300)
    seen += os.read(ours, 100_000)
    os.close(ours)
    assert (running.returncode, out) == (130, b"")
    assert b"fitcheck: stopped" in seen
    assert {path: path.read_bytes() for path in demo.rglob("*") if path.is_file()} == before

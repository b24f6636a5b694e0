"""The shipped demo: an invented workshop that shows everything once, with the trade's magnitudes; and the same bytes always."""

from __future__ import annotations

import csv
import json
import os
import random
import re
import subprocess
import sys
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import pytest

import fitcheck
from fitcheck import cli
from fitcheck.catalog.parts import Catalog, Part
from fitcheck.engine.screening import screen
from fitcheck.inputs import read_job
from fitcheck.report.files import write_result

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "catalogs" / "demo"
MM, INCH = 1e-3, 25.4e-3  # m; the inch is exact (ISO 80000-3)
HAIR = 1e-9
ROWS = 20_000

pytestmark = [pytest.mark.no_cover, pytest.mark.xdist_group("demo")]  # one worker screens it for all of these


@dataclass(frozen=True)
class Found:
    """The demo as its files tell it, and what the program said when it screened it."""

    folder: Path
    code: int
    out: str
    err: str

    @cached_property
    def catalog(self) -> Catalog:
        return fitcheck.load_catalog(self.folder / "catalog")

    @cached_property
    def summary(self) -> dict[str, Any]:
        return json.loads((self.folder / "job-result" / "summary.json").read_text(encoding="utf-8"))

    @cached_property
    def kits(self) -> list[dict[str, str]]:
        with (self.folder / "job-result" / "kits.csv").open(encoding="utf-8", newline="") as stream:
            return list(csv.DictReader(stream))

    @property
    def passing(self) -> list[dict[str, str]]:
        return [kit for kit in self.kits if kit["verdict"] == "pass"]

    @property
    def groups(self) -> list[dict[str, Any]]:
        return [group for trains in self.summary["applications"].values() for group in trains.values()]

    def part(self, family: str, identifier: str) -> Part:
        found = self.catalog.part(family, identifier)
        assert found is not None
        return found

    def sums(self, word: str) -> dict[str, int]:
        """Kits of that kind by application, both trains together."""
        return {name: sum(group[word] for group in trains.values()) for name, trains in self.summary["applications"].items()}


def started(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """The program in a process of its own, which has taken over the locale of its environment as a notebook may have."""
    code = (
        "import contextlib, locale, sys, fitcheck.cli as cli\n"
        "with contextlib.suppress(locale.Error):\n    locale.setlocale(locale.LC_ALL, '')\n"
        "cli.main(sys.argv[1:])\n"
    )
    known = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1", **environment}
    command = [sys.executable, "-c", code, *arguments]
    return subprocess.run(command, env=known, capture_output=True, text=True, encoding="utf-8", timeout=600)


@pytest.fixture(scope="session")
def found(tmp_path_factory: pytest.TempPathFactory) -> Found:
    """The demo as anybody runs it, but that all passing kits are listed and not only the best of them."""
    folder = tmp_path_factory.mktemp("demo") / "made-up"
    folder.mkdir()
    job, changed = re.subn(r"(?m)^row_limit = \d+", f"row_limit = {ROWS}", (DEMO / "job.toml").read_text(encoding="utf-8"))
    assert changed == 1
    (folder / "job.toml").write_text(job, encoding="utf-8")
    ended = started("demo", str(folder))
    return Found(folder, ended.returncode, ended.stdout, ended.stderr)


# What the demo must hold.

LEAST = {"application": 6, "master": 12, "slave": 12, "fork": 8, "bearing": 10, "concentric": 8, "pressure_plate": 10}
LEAST |= {"disc": 10, "line": 8, "fluid": 4, "pedal": 4, "linkage": 4}


def test_the_demo_ends_well_and_says_what_it_found(found: Found) -> None:
    assert (found.code, found.err) == (0, "")
    total = found.summary["totals"]
    assert f"Legal kits: {total['legal']:,}.".replace(",", " ") in found.out
    assert "1 kept as you changed them (job.toml). All of it is invented." in " ".join(found.out.split())
    lines = found.out.splitlines()
    assert 10 <= len(lines) <= 26
    assert all(len(line) <= 120 for line in lines[: lines.index("Go on with:")])  # a command is as long as its paths


def test_the_demo_has_enough_of_every_family(found: Found) -> None:
    families = found.catalog.families
    short = {family: len(families.get(family, ())) for family, least in LEAST.items() if len(families.get(family, ())) < least}
    assert not short
    covers = [part.values for part in families["pressure_plate"]]
    assert sum("diaphragm" in cover for cover in covers) >= 3
    assert sum(cover["action"] == "pull" for cover in covers) >= 2
    assert any("fitted" in part.values for part in families["application"])


def test_every_file_and_part_of_the_demo_says_that_it_is_invented(found: Found) -> None:
    files = sorted(DEMO.rglob("*.toml"))
    assert len(files) > 10
    assert not [file.name for file in files if not file.read_text(encoding="utf-8").startswith("# INVENTED")]
    parts = [part for family in found.catalog.families.values() for part in family]
    assert not [part.id for part in parts if part.values.get("evidence") != "invented"]


def test_demo_and_default_profile_are_without_fault(capsys) -> None:
    assert cli.run(["check", str(DEMO), str(ROOT / "catalogs" / "default.toml")]) == 0
    heard = capsys.readouterr()
    assert re.search(r"Checked \d+ files \(2 bundles, \d+ catalogs, 1 job, 2 profiles\): 0 errors, \d+ cautions", heard.out)
    assert heard.err == ""


# What its result must show.


def test_many_kits_are_legal_and_every_one_is_judged(found: Found) -> None:
    assert found.summary["complete"]
    assert found.summary["findings"] == []
    assert found.summary["totals"]["legal"] >= 100_000
    for group in found.groups:
        assert group["pass"] + group["caution"] + group["reject"] == group["legal"]
        for counts in group["rules"].values():
            assert 0 <= counts["only_by"] <= counts["broken_by"] <= group["legal"]
        assert sum(counts["only_by"] for counts in group["rules"].values()) <= group["reject"]
    for word, total in found.summary["totals"].items():
        assert total == sum(group[word] for group in found.groups)


def test_listed_kits_are_as_many_as_promised_and_the_best(found: Found) -> None:
    legal, passing, cautioned = (found.sums(word) for word in ("legal", "pass", "caution"))
    assert len(found.kits) == min(ROWS, sum(legal.values()))
    for name in legal:
        listed = [kit["verdict"] for kit in found.kits if kit["application"] == name]
        assert listed.count("pass") == min(passing[name], len(listed))
        assert listed.count("caution") == min(cautioned[name], len(listed) - listed.count("pass"))
        assert listed == sorted(listed, key=("pass", "caution", "reject").index)


def test_each_train_wins_somewhere_where_both_pass(found: Found) -> None:
    first = {kit["application"]: kit["train"] for kit in found.kits if kit["rank"] == "1"}
    both = [name for name, trains in found.summary["applications"].items() if all(group["pass"] for group in trains.values())]
    assert {first[name] for name in both} == {"external", "concentric"}


def test_somewhere_nothing_passes_and_somewhere_nothing_is_legal_with_reasons(found: Found) -> None:
    legal, passing = found.sums("legal"), found.sums("pass")
    hopeless = [name for name in legal if legal[name] and not passing[name]]
    barred = [name for name in legal if not legal[name]]
    assert hopeless
    assert barred
    for name in hopeless:
        groups = [group for group in found.summary["applications"][name].values() if group["legal"]]
        assert all(group["nearest_misses"] for group in groups)
        assert all(kit["reasons"] for kit in found.kits if kit["application"] == name)
    for name in barred:
        told = [group["emptied_by"] for group in found.summary["applications"][name].values()]
        assert all(one["fits"] and one["sentences"] for one in told)


def test_parts_that_stay_in_a_vehicle_are_in_each_of_its_kits(found: Found) -> None:
    fitted = {part.id: part.values["fitted"] for part in found.catalog.families["application"] if "fitted" in part.values}
    for name, parts in fitted.items():
        kits = [kit for kit in found.kits if kit["application"] == name]
        assert kits
        for family, identifier in parts.items():
            assert {kit[family] for kit in kits} == {identifier}


def test_every_rejecting_rule_rejects_something(found: Found) -> None:
    rejecting = [rule.name for rule in fitcheck.load_profile("default").rules if rule.severity == "reject"]
    assert len(rejecting) > 10
    broken = {name for group in found.groups for name, counts in group["rules"].items() if counts["broken_by"]}
    assert not set(rejecting) - broken


# Magnitudes of passing kits: common practice, no source.


def test_passing_kits_have_masters_and_pedals_as_the_trade_fits_them(found: Found) -> None:
    assert len(found.passing) == found.summary["totals"]["pass"] > 0
    bores = {found.part("master", kit["master"]).values["bore"] / INCH for kit in found.passing}
    assert all(5 / 8 - HAIR <= bore <= 7 / 8 + HAIR for bore in bores)
    ratios = {found.part("pedal", kit["pedal"]).values["ratio"] for kit in found.passing}
    assert all(4.5 <= ratio <= 7 for ratio in ratios)


def release_travel(cover: Part, disc: Part) -> float:
    """Finger travel at which the clutch parts, in m: lift of the plate times the cover's lever, and what is lost before."""
    ring = cover.values.get("diaphragm")
    if ring:
        lever = abs(ring["pivot_radius"] - ring["tip_radius"]) / abs(ring["load_radius"] - ring["pivot_radius"])
    else:
        lever = cover.values["lever_ratio"]
    lift = disc.values["cushion_travel"] + disc.values["faces"] * disc.values["running_clearance"]
    return float(lever * lift + cover.values["lift_loss"])


def test_passing_kits_release_at_a_travel_pressure_and_effort_that_the_trade_knows(found: Found) -> None:
    pairs = {(kit["pressure_plate"], kit["disc"]) for kit in found.passing}
    travels = [release_travel(found.part("pressure_plate", cover), found.part("disc", disc)) / MM for cover, disc in pairs]
    assert all(7 <= travel <= 12 for travel in travels)
    assert all(12 <= float(kit["peak_pressure_bar"]) <= 45 for kit in found.passing)
    assert all(80 <= float(kit["effort_peak_N"]) <= 200 for kit in found.passing)


# The same bytes, whatever surrounds the program. Two vehicles, both trains, fitted parts.

JOB = """
catalogs = ["catalog"]
profile = "profile.toml"
applications = ["orchard-tractor", "snow-plough"]
prefer = ["least effort_peak", "most setup_window_fingers", "least cost"]
row_limit = 1500
need_pass = false
[leave_out]
pedal = ["helper-60"]
"""
Outcome = tuple[bytes, bytes]


def workshop(folder: Path) -> Path:
    """The demo's files in a folder, with the shorter job."""
    for file in sorted(DEMO.rglob("*.toml")):
        target = folder / file.relative_to(DEMO)
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(file.read_bytes())
    (folder / "two.toml").write_text(JOB, encoding="utf-8")
    return folder / "two.toml"


def outcome(job: Path, cells: int = 131_072) -> Outcome:
    inputs = read_job(job)
    write_result(screen(inputs.catalog, inputs.profile, inputs.job, cells=cells), job.parent / "result")
    return written(job.parent / "result")


def written(folder: Path) -> Outcome:
    return (folder / "kits.csv").read_bytes(), (folder / "summary.json").read_bytes()


@pytest.fixture(scope="session")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    return outcome(workshop(tmp_path_factory.mktemp("plain")))


@pytest.mark.parametrize(
    "surroundings",
    [
        {"PYTHONHASHSEED": "0", "LC_ALL": "C", "TZ": "UTC"},
        {"PYTHONHASHSEED": "1", "LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8", "TZ": "Pacific/Chatham"},
    ],
)
def test_hash_seed_locale_and_time_zone_change_nothing(surroundings: dict[str, str], plain: Outcome, tmp_path: Path) -> None:
    ended = started("screen", str(workshop(tmp_path)), **surroundings)
    assert (ended.returncode, ended.stderr) == (0, "")
    assert written(tmp_path / "two-result") == plain


@pytest.mark.parametrize("cells", [97, 5000])
def test_the_size_of_tiles_changes_nothing(cells: int, plain: Outcome, tmp_path: Path) -> None:
    assert outcome(workshop(tmp_path), cells) == plain


def test_the_order_in_which_a_disk_lists_files_changes_nothing(plain: Outcome, tmp_path: Path, monkeypatch) -> None:
    listed = os.walk

    def backwards(*arguments, **options):
        for folder, inner, names in listed(*arguments, **options):
            yield folder, inner, sorted(names, reverse=True)

    monkeypatch.setattr(os, "walk", backwards)
    assert outcome(workshop(tmp_path)) == plain


def test_shuffled_entries_in_files_split_at_random_change_only_what_is_said_of_files(plain: Outcome, tmp_path: Path) -> None:
    job = workshop(tmp_path)
    entries: list[str] = []
    for file in sorted((tmp_path / "catalog").iterdir()):
        entries += re.split(r"(?m)^(?=\[\w+\.[\w-]+\]$)", file.read_text(encoding="utf-8"))[1:]
        file.unlink()
    assert len(entries) > 100
    dice = random.Random(7)
    dice.shuffle(entries)
    for number in range(9):
        (tmp_path / "catalog" / f"{dice.random()}.toml").write_text("".join(entries[number::9]), encoding="utf-8")
    kits, summary = outcome(job)
    assert kits == plain[0]
    assert without_files(summary) == without_files(plain[1])


def without_files(summary: bytes) -> dict[str, Any]:
    return {key: value for key, value in json.loads(summary).items() if key not in ("inputs", "run")}


# The kit designer adds a part of their own beside the demo.

OWN = """
[slave.made-here-23]
name = "Made here 23"
bore = "23 mm"
stroke = "42 mm"
preload = "70 N"
efficiency = 0.95
pressure_rating = "160 bar"
inlet = "3/8-24 double-flare"
seal = "EPDM"
action = "push"
slave_mount = "side-68"
rod_min = "100 mm"
rod_max = "150 mm"
dead_volume = "1.5 mL"
"""
OWN_JOB = """
catalogs = ["catalog", "own.toml"]
profile = "profile.toml"
applications = ["hay-lorry"]
trains = ["external"]
only = { slave = ["made-here-23"], pedal = ["lever-62"] }
prefer = ["least effort_peak"]
"""


def test_a_designer_finds_a_slave_of_their_own_in_the_result(tmp_path: Path, capsys) -> None:
    workshop(tmp_path)
    (tmp_path / "own.toml").write_text(OWN, encoding="utf-8")
    (tmp_path / "mine.toml").write_text(OWN_JOB, encoding="utf-8")
    assert cli.run(["check", str(tmp_path / "own.toml"), str(tmp_path / "mine.toml")]) == 0
    assert cli.run(["screen", str(tmp_path / "mine.toml")]) in (0, 1)  # 1 where none of its kits passes
    with (tmp_path / "mine-result" / "kits.csv").open(encoding="utf-8", newline="") as stream:
        kits = list(csv.DictReader(stream))
    assert {kit["slave"] for kit in kits} == {"made-here-23"}
    assert all("+made-here-23+" in kit["kit"] for kit in kits)
    assert len({kit["verdict"] for kit in kits}) > 1
    page = (tmp_path / "mine-result" / "report.html").read_text(encoding="utf-8")
    assert "Made here 23" in page or "made-here-23" in page
    capsys.readouterr()

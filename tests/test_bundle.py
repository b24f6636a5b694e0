"""Frozen kits: what is passed stays passed, what changed is noticed, and a waiver hides nothing but its own rule."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import replace
from datetime import date
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import tomli
import tomli_w
from hypothesis import given
from hypothesis import strategies as st

import fitcheck
from fitcheck import cli
from fitcheck.bundle_file import Waiver
from fitcheck.bundles.freezing import freeze
from fitcheck.bundles.judging import judge_files
from fitcheck.bundles.standing import REMARKS, Standing, Waived, standing
from fitcheck.catalog.parts import TRAINS
from fitcheck.catalog.schema import document
from fitcheck.engine.states import VERDICT_WORDS
from fitcheck.errors import Finding, OutputError, Place, UsageError
from fitcheck.inputs import Inputs, read_job
from fitcheck.quantities import to_unit
from tests.chosen_kits import (
    DAY,
    DEMO,
    HAY,
    PLOUGH,
    RING,
    ROOT,
    WINCH,
    frozen,
    judged,
    name_of,
    problems,
    raw_of,
    stands,
    waive,
    write,
)

pytestmark = pytest.mark.no_cover  # the rooms that are gated are covered without

GOLDEN = Path(__file__).parent / "golden"


# What is frozen.


def test_a_bundle_holds_what_the_kit_is_and_was(room: Path) -> None:
    text = (room / "bundles" / "hay-lorry-10.toml").read_text(encoding="utf-8")
    values, raw = tomli.loads(text), raw_of(room)
    assert "+".join(values["parts"].values()) == HAY
    assert list(values["parts"]) == list(TRAINS["external"])
    assert (values["catalogs"], values["profile"], values["train"]) == (["../parts.toml"], "../profile.toml", "external")
    for family, identifier in {**values["parts"], "linkage": "rods-hay-lorry"}.items():
        canonical = json.dumps(raw[family][identifier], sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        assert values["digests"][family] == sha256(canonical.encode()).hexdigest()
    assert values["digests"].keys() == values["value_digests"].keys()
    assert values["frozen"]["verdict"] == "pass"


def test_frozen_figures_are_those_of_a_screening(inputs: Inputs, room: Path) -> None:
    """One kit alone and the same kit among all of its job."""
    only = {family: (identifier,) for family, identifier in zip(TRAINS["concentric"], RING.split("+"), strict=True)}
    job = replace(inputs.job, applications=("hay-lorry",), trains=("concentric",), only=only)
    kits = replace(inputs, job=job).screen().kits
    values = tomli.loads((room / "bundles" / "hay-lorry-8.toml").read_text(encoding="utf-8"))
    assert kits.kit == (RING,)
    assert values["setup"]["shims"] == kits.shims[0]
    assert values["setup"]["setup_target"] == f"{to_unit(float(kits.metrics['setup_target'][0]), 'mm'):.9g} mm"
    assert values["figures"]["effort_peak"] == f"{float(kits.metrics['effort_peak'][0]):.9g} N"
    assert values["frozen"]["verdict"] == VERDICT_WORDS[int(kits.verdict[0])]


def test_the_same_kit_is_frozen_in_the_same_bytes_and_keeps_its_waivers_and_remarks(own: Path) -> None:
    ready, path = read_job(own / "job.toml"), own / "bundles" / f"{name_of(WINCH)}.toml"
    once = path.read_bytes()
    assert frozen(ready, WINCH, path).read_bytes() == once
    waive(own, WINCH, "torque-factor")
    path.write_text("# Ours.\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
    again = freeze(ready, WINCH, path)
    assert [waiver.rule for waiver in again.waivers] == ["torque-factor"]
    assert again.text.startswith("# Ours.\n")
    assert tomli.loads(again.text) == tomli.loads(path.read_text(encoding="utf-8"))
    assert not again.rejected
    assert freeze(ready, WINCH, own / "other.toml").rejected


def test_a_file_that_is_not_this_kits_bundle_is_left_alone(own: Path) -> None:
    ready = read_job(own / "job.toml")
    for path in (own / "bundles" / f"{name_of(WINCH)}.toml", own / "profile.toml"):
        with pytest.raises(OutputError, match="stands there"):
            freeze(ready, HAY, path)


def test_a_bundle_behind_a_link_finds_its_catalog(own: Path) -> None:
    (own / "deep" / "er").mkdir(parents=True)
    (own / "link").symlink_to(own / "deep" / "er")
    path = frozen(read_job(own / "job.toml"), HAY, own / "link" / "hay.toml")
    assert tomli.loads(path.read_text(encoding="utf-8"))["catalogs"] == ["../../parts.toml"]
    assert judge_files([path], DAY).findings == ()


def test_a_kit_that_is_not_legal_is_not_frozen(inputs: Inputs, tmp_path: Path) -> None:
    found = freeze(inputs, HAY.replace("crane", "eagle"), tmp_path / "x.toml")
    assert (found.text, found.rejected) == ("", True)
    assert found.unmet is not None
    assert found.unmet.fits == ("flywheel-pattern",)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        (HAY.replace("ovrel-19", "ovrel-18"), f'the catalog has no master "ovrel-18". Did you mean {HAY} or '),
        (HAY.replace("+straw", ""), "it has no fluid. A kit is 10 ids joined by +"),
        (RING + "+crest-22", 'it has "crest-22" too much'),
        ("", "A kit is 10 ids joined by +"),
        (HAY.replace("+", " "), "A kit is 10 ids joined by +"),
        (HAY.replace("hay-lorry", "zzz"), 'the catalog has no application "zzz".'),
    ],
)
def test_a_wrong_name_gets_the_nearest(name: str, said: str, inputs: Inputs, tmp_path: Path) -> None:
    with pytest.raises(UsageError) as error:
        freeze(inputs, name, tmp_path / "x.toml")
    assert said in str(error.value)


def test_a_kit_that_the_job_leaves_out_is_said(inputs: Inputs, tmp_path: Path) -> None:
    job = replace(inputs.job, applications=("post-van",), trains=("concentric",), leave_out={"fluid": ("straw",)})
    with pytest.raises(UsageError, match="leaves this kit out: the external train, application hay-lorry, fluid straw"):
        freeze(replace(inputs, job=job), HAY, tmp_path / "x.toml")


# What is judged.


@pytest.fixture(scope="module")
def passing(inputs: Inputs) -> list[str]:
    """Passing kits of the demo, of every application and train that has any."""
    best = replace(inputs, job=replace(inputs.job, best=30)).screen().best.values()
    kits = [kit for table in best for kit, verdict in zip(table.kit, table.verdict, strict=True) if verdict == 0]
    assert len({kit.partition("+")[0] for kit in kits}) > 4
    assert {len(kit.split("+")) for kit in kits} == {8, 10}
    return kits


@given(st.data())
def test_a_bundle_made_from_a_passing_kit_is_judged_pass(
    passing: list[str], inputs: Inputs, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    path = frozen(inputs, data.draw(st.sampled_from(passing)), tmp_path_factory.mktemp("passing") / "kit.toml")
    found = judge_files([path], DAY)
    (kit,) = found.bundles
    assert found.complete
    assert found.findings == ()
    assert kit.standing is not None
    assert (kit.standing.verdict, kit.standing.moves, kit.standing.changes, kit.standing.profile_change) == (0, (), (), None)


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The paths of all numbers and texts of a table."""
    if isinstance(value, dict | list):
        for key, below in value.items() if isinstance(value, dict) else enumerate(value):
            yield from leaves(below, (*path, key))
    else:
        yield path


def other(value: Any) -> Any:
    """Nearly the same value, still of its kind."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value * 1.01 if value else 0.01
    first, _, rest = value.partition(" ")
    try:
        return f"{Decimal(first) * Decimal('1.01') or Decimal('0.01')} {rest}"
    except ArithmeticError:
        return f"{value}x"


TRAIN_OF = {HAY: "external", RING: "concentric"}
USED = [*((HAY, family) for family in (*TRAINS["external"], "linkage")), (RING, "concentric")]


def changes(entry: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """An entry with one value changed, for each value in it; with one key taken away, for each; and with a remark more."""
    for path in leaves(entry):
        made = deepcopy(entry)
        at: Any = made
        for step in path[:-1]:
            at = at[step]
        at[path[-1]] = other(at[path[-1]])
        yield str(path[0]), made
    for key in entry:
        yield key, {name: value for name, value in entry.items() if name != key}
    yield "notes", entry | {"notes": "seen"}


@pytest.mark.parametrize(("kit", "family"), USED)
def test_any_change_of_a_used_entry_is_noticed(kit: str, family: str, own: Path) -> None:
    """Either it is told as changed, and nothing else is; or the entry can no longer be used, and the judgement is not whole."""
    ids = dict(zip(TRAINS[TRAIN_OF[kit]], kit.split("+"), strict=True)) | {"linkage": "rods-hay-lorry"}
    raw = raw_of(own)
    few = {name: {ids[name]: raw[name][ids[name]]} for name in ids}
    every = list(changes(few[family][ids[family]]))
    assert len(every) > 6
    for key, entry in every:
        write(own, few | {family: {ids[family]: entry}})
        found = judged(own, kit)
        assert found.findings or key in REMARKS, (key, entry)
        if not found.complete:
            assert any(finding.severity == "error" for finding in found.findings)
        elif (family, key) == ("application", "linkage"):
            assert {change.family for change in found.standing.changes} >= {"application"}
        else:
            assert [(change.family, change.part.id) for change in found.standing.changes] == [(family, ids[family])], (key, entry)


def test_a_file_written_otherwise_is_no_change(own: Path) -> None:
    raw = raw_of(own)
    turned = {family: dict(reversed(tables.items())) for family, tables in reversed(raw.items())}
    lines = tomli_w.dumps(turned).splitlines()
    (own / "parts.toml").write_text(
        "# remark\r\n" + "\r\n".join(f"  {line}   # note" if line[:1] == "[" else line for line in lines)
    )
    found = judged(own)
    assert found.findings == ()
    assert found.standing is not None
    assert (found.standing.changes, found.standing.moves) == ((), ())


def in_micrometres(value: Any) -> Any:
    """Every length in mm written in um, to the letter the same length."""
    if isinstance(value, dict):
        return {key: in_micrometres(below) for key, below in value.items()}
    if isinstance(value, list):
        return [in_micrometres(below) for below in value]
    if isinstance(value, str) and value.endswith(" mm") and "+/-" not in value and "/" not in value:
        return f"{Decimal(value.removesuffix(' mm')) * 1000:f} um"
    return value


def test_the_same_values_in_another_text_are_said_as_that(own: Path) -> None:
    raw = raw_of(own)
    raw["master"]["ovrel-19"] = in_micrometres(raw["master"]["ovrel-19"]) | {"notes": "seen again"}
    raw["slave"]["crest-22"] = in_micrometres(raw["slave"]["crest-22"])
    write(own, raw)
    found = judged(own)
    assert found.standing is not None
    assert [(change.family, change.same_values) for change in found.standing.changes] == [("master", True), ("slave", True)]
    assert found.standing.moves == ()
    assert found.findings == ()


def test_a_change_tells_what_it_did_to_the_numbers(own: Path) -> None:
    """Against the figures that the changed kit has when it is frozen anew."""
    raw = raw_of(own)
    raw["master"]["ovrel-19"]["bore"] = "19.4 mm"
    write(own, raw)
    found = judged(own)
    assert found.standing is not None
    moves = {move.metric: move for move in found.standing.moves}
    anew = tomli.loads(freeze(read_job(own / "job.toml"), HAY, own / "anew.toml").text)
    before = tomli.loads((own / "bundles" / "hay-lorry-10.toml").read_text(encoding="utf-8"))
    then, now = ({**values["setup"], **values["figures"]} for values in (before, anew))
    assert moves.keys() == {name for name in then.keys() | now.keys() if then.get(name) != now.get(name)}
    assert f"{moves['effort_peak'].now:.9g} N" == now["effort_peak"]
    assert f"{moves['effort_peak'].then:.9g} N" == then["effort_peak"]
    (told,) = [finding for finding in found.findings if finding.problem == "changed-entry"]
    assert f"master.ovrel-19 ({own.as_posix()}/parts.toml:" in told.found
    assert {finding.place.key for finding in found.findings if finding.problem == "moved-setup"} == {
        f"setup.{name}" for name, move in moves.items() if move.setup
    }


def test_a_changed_linkage_is_noticed(own: Path) -> None:
    raw = raw_of(own)
    raw["linkage"]["rods-hay-lorry"]["efficiency"] = 0.5
    write(own, raw)
    found = stands(own)
    assert [change.family for change in found.changes] == ["linkage"]
    assert [move.metric for move in found.moves] == ["effort_vs_linkage"]


def test_figures_that_moved_without_an_entry_are_told(own: Path) -> None:
    path = own / "bundles" / "hay-lorry-10.toml"
    values = tomli.loads(path.read_text(encoding="utf-8"))
    values["figures"]["effort_peak"] = "99 N"
    values["frozen"]["version"] = "0.0.1"
    path.write_text(tomli_w.dumps(values), encoding="utf-8")
    (finding,) = judged(own).findings
    assert finding.problem == "moved-figures"
    assert finding.mend.startswith("it was frozen by version 0.0.1 of the program: ")


def test_a_figure_with_a_tolerance_may_move_within_it(own: Path) -> None:
    path = own / "bundles" / "hay-lorry-10.toml"
    values = tomli.loads(path.read_text(encoding="utf-8"))
    target = Decimal(values["setup"]["setup_target"].removesuffix(" mm"))
    for off, moved in (("0.09", []), ("0.11", ["setup_target"])):
        values["setup"]["setup_target"] = f"{target + Decimal(off)} mm +/- 0.1 mm"
        path.write_text(tomli_w.dumps(values), encoding="utf-8")
        assert [move.metric for move in stands(own).moves] == moved


def test_another_stack_of_shims_is_told(own: Path) -> None:
    path = own / "bundles" / f"{name_of(RING)}.toml"
    path.write_text(path.read_text(encoding="utf-8").replace('shims = "2"', 'shims = "1+1"'), encoding="utf-8")
    assert problems(judged(own, RING)) == ["moved-setup"]


def test_a_superseded_part_is_a_caution(own: Path) -> None:
    raw = raw_of(own)
    raw["disc"]["lorry-240"]["superseded_by"] = "heavy-265"
    write(own, raw)
    found = judged(own)
    assert problems(found) == ["superseded-part"]
    assert {finding.severity for finding in found.findings} == {"caution"}
    assert found.standing is not None
    assert [(change.family, change.same_values) for change in found.standing.changes] == [("disc", True)]


def test_interfaces_that_no_longer_meet_reject_by_the_name_of_the_fit(own: Path) -> None:
    raw = raw_of(own)
    raw["disc"]["lorry-240"]["spline"] = "another"
    write(own, raw)
    found = judged(own)
    assert found.standing is not None
    assert (VERDICT_WORDS[found.standing.verdict], found.standing.table) == ("reject", None)
    (unmet,) = [finding for finding in found.findings if finding.problem == "unmet-fit"]
    assert (unmet.severity, unmet.place.key) == ("error", "fits.spline")
    assert "another" in unmet.found
    assert unmet.mend


def test_a_part_that_the_vehicle_keeps_must_be_in_the_kit(own: Path) -> None:
    raw = raw_of(own)
    raw["application"]["hay-lorry"]["fitted"] = {"disc": "heavy-265"}
    write(own, raw)
    (unmet,) = [finding for finding in judged(own).findings if finding.problem == "unmet-fit"]
    assert unmet.found == "the application keeps the disc heavy-265, not lorry-240"


def test_a_part_that_is_gone_or_broken_leaves_the_bundle_unjudged(own: Path) -> None:
    raw = raw_of(own)
    raw["disc"]["lorry-241"] = raw["disc"].pop("lorry-240")
    raw["fork"]["lorry-15"]["arm"] = "12,5 mm"
    write(own, raw)
    found = judged(own)
    assert (found.standing, found.complete) == (None, False)
    told = {finding.place.key: finding for finding in found.findings}
    assert told["parts.disc"].mend.startswith("did you mean lorry-241")
    assert told["parts.fork"].found == "fork lorry-15, whose entry is left out"
    assert told["fork.lorry-15.arm"].problem == "comma"


def test_entries_that_the_kit_does_not_use_are_no_concern_of_it(own: Path) -> None:
    raw = raw_of(own)
    raw["disc"]["heavy-265"] = {"name": "broken"}
    write(own, raw)
    found = judged(own)
    assert (found.findings, found.complete) == ((), True)
    (own / "more.toml").write_text(tomli_w.dumps({"disc": {"lorry-240": raw["disc"]["lorry-240"]}}), encoding="utf-8")
    path = own / "bundles" / "hay-lorry-10.toml"
    path.write_text(
        path.read_text(encoding="utf-8").replace('"../parts.toml",', '"../parts.toml", "../more.toml",'), encoding="utf-8"
    )
    assert "double-id" in problems(judged(own))


def test_a_file_that_can_only_be_read_in_part_is_never_fine(own: Path) -> None:
    (own / "more.toml").write_text("[disc.x\n", encoding="utf-8")
    path = own / "bundles" / "hay-lorry-10.toml"
    path.write_text(
        path.read_text(encoding="utf-8").replace('"../parts.toml",', '"../parts.toml", "../more.toml",'), encoding="utf-8"
    )
    found = judged(own)
    assert found.standing is not None
    assert not found.complete
    assert found.findings


def test_one_bundle_that_cannot_be_judged_keeps_no_other_from_it(own: Path) -> None:
    """A fit that asks for a number where the catalog has a word is told when the parts are known."""
    fit = "[fits.odd]\nat_most = ['disc.spline', 'application.bell_depth']\nreason = 'r'\nremedy = 'm'\nsource = 's'\n"
    (own / "odd.toml").write_text(f"extends = 'profile.toml'\n{fit}", encoding="utf-8")
    text = (own / "bundles" / "hay-lorry-10.toml").read_text(encoding="utf-8")
    (own / "bundles" / "odd.toml").write_text(text.replace("../profile.toml", "../odd.toml"), encoding="utf-8")
    found = judge_files([own / "bundles"], DAY)
    assert not found.complete
    assert [Path(each.file).stem for each in found.bundles if each.standing is None] == ["odd"]
    assert any(finding.place.key.startswith("fits.odd") or "fit" in finding.expected for finding in found.findings)


def test_a_bundle_without_digests_says_so(own: Path) -> None:
    path = own / "bundles" / "hay-lorry-10.toml"
    values = tomli.loads(path.read_text(encoding="utf-8"))
    kept = {key: values[key] for key in ("catalogs", "profile", "train", "parts")}
    path.write_text(tomli_w.dumps(kept | {"digests": {"pedal": "0" * 64}}), encoding="utf-8")
    found = judged(own)
    assert problems(found) == ["changed-entry", "no-digest"]
    assert found.standing is not None
    assert [(change.family, change.same_values) for change in found.standing.changes] == [("pedal", None)]
    assert any("the bundle holds no figures to compare" in finding.found for finding in found.findings)


# Waivers.


def test_a_waived_rule_makes_a_caution_that_is_named(own: Path) -> None:
    waive(own, PLOUGH, "port-clearance")
    found = judged(own, PLOUGH)
    assert found.standing is not None
    assert found.standing.table is not None
    assert VERDICT_WORDS[found.standing.verdict] == "caution"
    assert [(reason.rule, reason.kind, reason.severity) for reason in found.standing.table.reasons[0]] == [
        ("port-clearance", "waived", "caution")
    ]
    assert found.standing.table.limiting_rule == ("port-clearance",)
    assert float(found.standing.table.headroom[0]) < 0
    assert problems(found) == ["waived-rule"]


@pytest.mark.parametrize(
    ("day", "verdict", "told"), [("2029-12-31", "caution", []), ("2030-01-01", "reject", ["expired-waiver"])]
)
def test_a_waiver_is_good_through_its_date(own: Path, day: str, verdict: str, told: list[str]) -> None:
    waive(own, PLOUGH, "port-clearance")
    found = judged(own, PLOUGH, date.fromisoformat(day))
    assert found.standing is not None
    assert VERDICT_WORDS[found.standing.verdict] == verdict
    assert [problem for problem in problems(found) if "waiver" in problem] == told


def test_waivers_that_do_nothing_are_told(own: Path) -> None:
    waive(own, HAY, "effort-limit")
    waive(own, HAY, "speed", until="2020-01-01")
    waive(own, HAY, "setup-window", "effort-limits")
    found = judged(own)
    assert found.standing is not None
    assert VERDICT_WORDS[found.standing.verdict] == "pass"
    told = [(finding.problem, finding.severity, finding.found.split(" by ")[0]) for finding in found.findings]
    assert ("unused-waiver", "caution", "a waiver of effort-limit") in told
    assert ("expired-waiver", "caution", "a waiver of speed") in told
    assert ("unused-waiver", "caution", "a waiver of speed") in told
    assert ("not-waivable", "error", "a waiver of setup-window, which cannot be waived") in told
    assert any(finding.problem == "unknown-rule" and "did you mean effort-limit" in finding.mend for finding in found.findings)


def test_a_waiver_says_why_it_lets_nothing_pass(own: Path) -> None:
    waive(own, HAY, "effort-limit")
    waive(own, HAY, "rod-turn")
    waive(own, HAY, "shim-less")
    path = own / "profile.toml"
    rule = "train = 'concentric'\nmetric = 'jump'\nupper = '9 mm'\nseverity = 'caution'\nscale = '1 mm'\n"
    words = "reason = 'r'\nremedy = 'm'\nsource = 's'\n"
    path.write_text(f"{path.read_text(encoding='utf-8')}\n[rules.shim-less]\n{rule}{words}", encoding="utf-8")
    told = [finding.found.partition(", 2")[0] for finding in judged(own).findings if finding.problem == "unused-waiver"]
    assert [words.partition(" that nothing needs: ")[2] for words in told] == [
        "the kit keeps the rule",
        "rod_turn does not exist, and no waiver makes up for it",
        "the rule is for other trains or vehicles",
    ]


def test_a_rule_that_cannot_be_waived_stays(own: Path) -> None:
    path = own / "profile.toml"
    path.write_text(path.read_text(encoding="utf-8") + "\n[rules.port-clearance]\nwaivable = false\n", encoding="utf-8")
    waive(own, PLOUGH, "port-clearance")
    found = judged(own, PLOUGH)
    assert found.standing is not None
    assert VERDICT_WORDS[found.standing.verdict] == "reject"
    assert [reason.kind for reason in found.standing.table.reasons[0]] == ["broken"]


@pytest.fixture(scope="module")
def strict(room: Path, tmp_path_factory: pytest.TempPathFactory) -> Standing:
    """A kit under a profile that it breaks in many ways, so that there is something to hide."""
    folder = Path(shutil.copytree(room, tmp_path_factory.mktemp("strict") / "room"))
    tight = {
        "effort-limit": "upper = '150 N'",
        "speed": "upper = 0.2",
        "stroke-reserve": "lower = '9 mm'",
        "jump": "upper = '-1 mm'",
    }
    path = folder / "profile.toml"
    added = "".join(f"\n[rules.{name}]\n{bound}\n" for name, bound in tight.items())
    path.write_text(path.read_text(encoding="utf-8") + added, encoding="utf-8")
    return stands(folder, WINCH)


def weighed(found: Standing, waived: set[str]) -> tuple[str, float, set[tuple[str, str]]]:
    """Verdict, headroom and what is said of each rule, by the words of the rules: a waived rule counts as one that cautions."""
    assert found.table is not None
    broken = {reason.rule: (reason.severity, reason.headroom) for reason in found.table.reasons[0]}
    rejecting = [headroom for rule, (severity, headroom) in broken.items() if severity == "reject" and rule not in waived]
    least = min(rejecting or [headroom for _, headroom in broken.values()])
    said = {(rule, "waived" if rule in waived else "broken") for rule in broken}
    return ("reject" if rejecting else "caution"), least, said


@given(st.data())
def test_a_waiver_never_hides_another_rule(strict: Standing, data: st.DataObject) -> None:
    assert strict.table is not None
    broken = [reason.rule for reason in strict.table.reasons[0]]
    assert len(broken) > 6
    rules = data.draw(st.sets(st.sampled_from(broken)) | st.sets(st.sampled_from([rule.name for rule in strict.profile.rules])))
    waivers = tuple(Waiver(rule, "Until spring", "A. Keeper", DAY, Place("x")) for rule in sorted(rules))
    found = standing(replace(strict.bundle, waivers=waivers), strict.profile, strict.catalog, DAY)
    assert found.table is not None
    waivable = {rule.name for rule in strict.profile.rules if rule.waivable}
    verdict, headroom, said = weighed(strict, rules & waivable)
    assert VERDICT_WORDS[found.verdict] == verdict
    assert float(found.table.headroom[0]) == pytest.approx(headroom)
    assert {(reason.rule, reason.kind) for reason in found.table.reasons[0]} == said
    assert {each.waiver.rule for each in found.waivers if each.used} == rules & set(broken)
    assert [(move.metric, move.now) for move in found.moves] == [(move.metric, move.now) for move in strict.moves]


# What is written.


def test_what_is_said_of_the_demos_bundles(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(DEMO)
    assert cli.run(["judge", "bundles", "--on", DAY.isoformat()]) == 0
    assert cli.run(["judge", "bundles", "--on", DAY.strftime("%Y%m%d")]) == 2  # a bundle would not take it either
    assert capsys.readouterr().out == (GOLDEN / "judge.txt").read_text(encoding="utf-8")


def test_json_holds_to_its_schema_and_shows_every_waiver(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    schemas = [
        json.loads((ROOT / "schemas" / f"{name}.schema.json").read_text(encoding="utf-8")) for name in ("findings", "judgement")
    ]
    for schema in schemas:
        jsonschema.Draft202012Validator.check_schema(schema)
    waive(own, PLOUGH, "port-clearance", "speed")
    raw = raw_of(own)
    raw["disc"]["lorry-240"]["spline"] = "another"
    raw["master"].pop("steep-19")
    write(own, raw)
    assert cli.run(["judge", str(own / "bundles"), "--on", DAY.isoformat(), "--format", "json"]) == 3
    read = json.loads(capsys.readouterr().out)
    details = read["details"]
    for schema, value in zip(schemas, (read, details), strict=True):
        jsonschema.Draft202012Validator(schema, format_checker=jsonschema.FormatChecker()).validate(value)
    bundles = {Path(each["file"]).stem: each for each in details["bundles"]}
    assert {name: each["verdict"] for name, each in bundles.items()} == {
        name_of(HAY): "reject", name_of(RING): "reject", name_of(WINCH): None, name_of(PLOUGH): "caution"
    }  # fmt: skip
    assert [(each["rule"], each["in_force"], each["used"]) for each in bundles[name_of(PLOUGH)]["waivers"]] == [
        ("port-clearance", True, True),
        ("speed", True, False),
    ]
    assert (read["exit"], details["on"], read["complete"]) == (3, "2029-06-30", False)
    assert details["cautions"]


def test_text_shows_waivers_changes_and_moves(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    waive(own, HAY, "effort-limit")
    raw = raw_of(own)
    raw["master"]["ovrel-19"]["bore"] = "19.4 mm"
    raw["fluid"]["straw"]["notes"] = "Seen again"
    write(own, raw)
    assert cli.run(["judge", str(own / "bundles" / "hay-lorry-10.toml"), "--on", DAY.isoformat()]) == 0
    out = capsys.readouterr().out
    assert "waiver: effort-limit, through 2029-12-31, A. Keeper: Until spring. In force, not needed." in out
    assert "another text, the same values" in out
    assert ": other values" in out
    assert "moved: effort_peak " in out
    assert "expected waivers of broken rules; take the waiver away" in out


def test_the_bundle_command_tells_what_it_froze(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, to = str(own / "job.toml"), own / "deep" / "winch.toml"
    assert cli.run(["bundle", job, WINCH, "--to", str(to)]) == 1
    out = capsys.readouterr().out
    assert "reject, headroom -0.38, limited by torque-factor" in out
    assert "Remedy: Choose a cover of higher clamp load" in out
    assert f"Written: {to}" in out
    assert to.read_text(encoding="utf-8").startswith("# A chosen kit, frozen:")
    assert cli.run(["bundle", job, HAY.replace("crane", "eagle"), "--to", str(own / "x.toml")]) == 1
    assert "Nothing was written" in capsys.readouterr().out
    assert not (own / "x.toml").exists()


def test_from_python(room: Path) -> None:
    found = fitcheck.judge(room / "bundles" / "hay-lorry-10.toml", on=DAY)
    assert found.complete
    assert all(isinstance(finding, Finding) for finding in found.findings)
    assert fitcheck.judge(room / "bundles").on == date.today()
    file = (room / "bundles" / "hay-lorry-10.toml").as_posix()
    assert found.read == {file: "bundle"}
    assert found.digests[file] == sha256(Path(file).read_bytes()).hexdigest()
    assert {Path(name).name for name in found.digests} == {"hay-lorry-10.toml", "parts.toml", "profile.toml", "default"}


# From the program's inside.


def test_judging_loads_nothing_that_only_results_need(room: Path) -> None:
    code = "import sys, fitcheck.cli as c; c.run(['judge', 'bundles/hay-lorry-10.toml']); print(*sys.modules, file=sys.stderr)"
    known = {**os.environ, "PYTHONPATH": str(ROOT)}
    ended = subprocess.run([sys.executable, "-c", code], cwd=room, env=known, capture_output=True, text=True, check=True)
    assert not {"pandas", "rich", "jinja2", "jsonschema"} & set(ended.stderr.split())


def test_the_schema_of_bundles_is_one_for_editors() -> None:
    assert document("bundle")["required"] == ["catalogs", "train", "parts"]


def test_a_waiver_is_in_force_only_if_all_of_it_holds() -> None:
    waiver = Waiver("a", "b", "c", DAY, Place("x"))
    for flags, force in (
        ((False, True, True), True),
        ((True, True, True), False),
        ((False, False, True), False),
        ((False, True, False), False),
    ):
        assert Waived(waiver, True, *flags).in_force == force

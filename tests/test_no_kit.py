"""Why an application has no kit: what is told of rules and misses is so, and a part that is said to be missing mends it.

A missing part is written as an entry into a catalog file of its own and screened like any other part.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import tomli
import tomli_w
from test_legality import EXTERNAL, meets, random_world

from fitcheck.catalog.parts import TRAINS
from fitcheck.engine.interfaces import field_value
from fitcheck.engine.states import CAUTION, PASS
from fitcheck.errors import UsageError
from fitcheck.inputs import Inputs, read_job
from fitcheck.profile import Fit, Rule
from fitcheck.reasons.demands import demands, meeting
from fitcheck.reasons.missing_part import MissingPart
from fitcheck.reasons.no_kit import NoKit, no_kit_of
from fitcheck.report import words
from fitcheck.report.no_kit import NONE_FOUND, no_kit_lines

pytestmark = pytest.mark.no_cover  # the rooms that are gated are covered without

DEMO = Path(__file__).parent.parent / "catalogs" / "demo"
GOLDEN = Path(__file__).parent / "golden"
PASSING = "hay-lorry+helper-60+ovrel-19+metric-braid+straw+crest-22+lorry-15+roller-42+crane+lorry-240"
KEPT = ("fork", "bearing", "pressure_plate", "disc")


@cache
def inputs() -> Inputs:
    return read_job(DEMO / "job.toml")


@cache
def demo(application: str) -> NoKit:
    return no_kit_of(inputs(), application)


def asked(**only: str) -> Inputs:
    """The demo's hay lorry on the external train with the release parts of a kit that passes, and those named."""
    kit = dict(zip(TRAINS["external"], PASSING.split("+"), strict=True))
    chosen = {family: (kit[family],) for family in KEPT} | {family: (name,) for family, name in only.items()}
    read = inputs()
    return replace(read, job=replace(read.job, applications=("hay-lorry",), trains=("external",), only=chosen))


@cache
def small_master() -> NoKit:
    """Nothing passes with a master this small, and the catalog has no other for the job."""
    return no_kit_of(asked(master="vell-16", slave="crest-22"), "hay-lorry")


def lines(found: NoKit) -> list[str]:
    return list(no_kit_lines(found))


# --- what is told


@pytest.mark.parametrize("application", ["cable-shunter", "winch-truck"])
def test_the_lines_are_those_of_the_golden_text(application: str) -> None:
    told = "".join(f"{line}\n" for line in lines(demo(application)))
    assert told == (GOLDEN / f"no-kit-{application}.txt").read_text(encoding="utf-8")


def test_of_an_application_with_passing_kits_the_best_is_named_and_no_part_is_missing() -> None:
    found = no_kit_of(asked(master="ovrel-19", slave="crest-22"), "hay-lorry")
    assert found.passes
    assert found.missing == {}
    told = lines(found)
    assert told[1].startswith("20 kits with an external slave pass; the best: pass, headroom 0.51")
    assert told[2].startswith("  hay-lorry+")
    assert not any("Why" in line or "would do" in line for line in told)


def test_of_a_train_without_a_pass_it_is_told_why_although_the_other_has_kits() -> None:
    read = asked(master="ovrel-19", slave="crest-22")
    both = replace(read.job, trains=("external", "concentric"), only={**read.job.only, "concentric": ("ring-48-a",)})
    found = no_kit_of(replace(read, job=both), "hay-lorry")
    assert found.missing == {}
    told = lines(found)
    assert told[3] == "Why no kit with a concentric cylinder passes:"
    assert any("would be" in line for line in told[4:])


def test_what_the_job_restricts_is_told() -> None:
    told = lines(small_master())
    assert "The job lets in 1 of 14 masters; the others were not looked at." in told
    assert not any("lets in" in line for line in lines(demo("winch-truck")))


def test_a_missing_size_is_told_as_it_would_be_ordered() -> None:
    found = no_kit_of(asked(master="ovrel-22", slave="crest-22"), "hay-lorry")
    one = next(one for one in found.missing["hay-lorry", "external"] if one.family == "master" and one.change)
    assert one.change
    low, high = one.change.ends.low, one.change.ends.high
    assert low is not None
    assert high is not None
    assert low < Decimal("19.05") < high
    start = f"  - a master of {low} to {high} mm bore (sold too as 3/4 in): the kit would pass, headroom "
    assert [line for line in lines(found) if line.startswith(start)]


def test_where_the_job_itself_empties_it_what_it_leaves_out_is_told() -> None:
    read = asked(master="ovrel-19", slave="crest-22", disc="van-190")
    free = {family: ids for family, ids in read.job.only.items() if family != "disc"}
    kits = replace(read, job=replace(read.job, only=free)).count()["hay-lorry", "external"]
    told = lines(no_kit_of(read, "hay-lorry"))
    assert '  No disc that the job lets in has the spline "6x26x32" of the application; discs have "6x21x25".' in told
    assert f"  With every disc that the job leaves out there would be {kits} legal kits." in told
    read = replace(read, job=replace(read.job, only={**read.job.only, "fork": ("heavy-17",), "bearing": ("roller-48",)}))
    told = lines(no_kit_of(read, "hay-lorry"))
    assert any(line.startswith("  With every fork, bearing and disc that the job leaves out there would be") for line in told)


def test_without_a_rule_those_that_it_alone_rejects_are_not_rejected() -> None:
    """The number beside a rule, by screening anew with a profile that has not this rule."""
    found = demo("winch-truck")
    for train in ("external", "concentric"):
        group = ("winch-truck", train)
        alone = {name: count for name, count in found.result.only_by[group].items() if count}
        assert alone
        for name, count in alone.items():
            less = replace(found.result.profile, rules=tuple(rule for rule in found.result.profile.rules if rule.name != name))
            read = replace(inputs(), profile=less, job=replace(inputs().job, applications=("winch-truck",), trains=(train,)))
            verdicts = read.screen().verdicts[group]
            assert verdicts[PASS] + verdicts[CAUTION] == count
            broken = words.count(found.result.broken_by[group][name])
            assert f"  {name} rejects {broken}; without this rule {count} would not be rejected." in lines(found)


def test_cautions_alone_are_told_apart_from_rejections() -> None:
    found = no_kit_of(asked(master="ovrel-22", slave="crest-22"), "hay-lorry")
    assert found.result.verdicts["hay-lorry", "external"] == (0, 24, 8)
    assert "  Of 32 legal kits none passes; 24 with cautions only." in lines(found)


def test_a_wrong_application_gets_the_nearest_name_and_one_left_out_is_told() -> None:
    with pytest.raises(UsageError, match=r"no application.*winch-truk.*winch-truck"):
        no_kit_of(inputs(), "winch-truk")
    for changes in ({"applications": ("hay-lorry",)}, {"leave_out": {"application": ("winch-truck",)}}):
        with pytest.raises(UsageError, match="leaves the application winch-truck out"):
            no_kit_of(replace(inputs(), job=replace(inputs().job, **changes)), "winch-truck")


def test_where_no_part_is_found_it_is_said() -> None:
    """No size of a part makes a clutch keep a rule that nothing can keep."""
    read = asked(master="vell-16", slave="crest-22")
    never = Rule("never", "cost", None, -1.0, "reject", 1.0, "nothing is free", "", "common practice, no source")
    found = no_kit_of(replace(read, profile=replace(read.profile, rules=(*read.profile.rules, never))), "hay-lorry")
    assert found.missing["hay-lorry", "external"] == ()
    assert f"  {NONE_FOUND}" in lines(found)


def test_what_could_not_be_read_is_told() -> None:
    read = replace(asked(master="vell-16", slave="crest-22"), catalog=replace(inputs().catalog, complete=False))
    assert any(line.startswith("Incomplete:") for line in lines(no_kit_of(read, "hay-lorry")))
    assert not any(line.startswith("Incomplete:") for line in lines(demo("cable-shunter")))


# --- a missing part mends it


def entry(family: str, identifier: str) -> dict[str, Any]:
    """The entry of the demo as it is written."""
    for path in sorted((DEMO / "catalog").glob("*.toml")):
        table = tomli.loads(path.read_text(encoding="utf-8")).get(family, {}).get(identifier)
        if table:
            return dict(table)
    raise AssertionError(identifier)


def screened(folder: Path, application: str, one: MissingPart, train: str, *written: Mapping[str, str]) -> list[tuple[int, str]]:
    """Verdict and kit of every kit with the part written so, once for each way: the demo's catalog and one file more."""
    like = entry(one.family, one.kit[one.family].id)
    new = {f"made-{number}": {**like, **changes} for number, changes in enumerate(written)}
    (folder / "made.toml").write_text(tomli_w.dumps({one.family: new}), encoding="utf-8")
    only = {family: (kept.id,) for family, kept in one.kit.items()} | {one.family: tuple(new)}
    job = replace(inputs().job, catalogs=(DEMO / "catalog", folder), applications=(application,), trains=(train,), only=only)
    read = read_job(replace(job, digests={}))
    assert not [finding for finding in read.findings if finding.severity == "error"]
    kits = read.screen().kits
    return list(zip(kits.verdict.tolist(), kits.kit, strict=True))


@pytest.mark.parametrize("train", ["external", "concentric"])
def test_the_part_that_would_make_kits_legal_does_once_it_is_in_the_catalog(train: str, tmp_path: Path) -> None:
    (one,) = demo("cable-shunter").missing["cable-shunter", train]
    assert one.family == "disc"
    assert [(demand.field, demand.words) for demand in one.differs] == [("disc.spline", ("7x27x33",))]
    ((verdict, _),) = screened(tmp_path, "cable-shunter", one, train, {"spline": "7x27x33"})
    assert verdict == one.verdict == PASS


def ends(one: MissingPart) -> list[Decimal]:
    assert one.change
    assert one.change.best is not None
    return [end for end in (one.change.ends.low, one.change.best, one.change.ends.high) if end is not None]


def test_a_missing_size_passes_once_it_is_in_the_catalog_at_either_end_and_not_beyond(tmp_path: Path) -> None:
    sizes = {one.change.number.name: one for one in small_master().missing["hay-lorry", "external"] if one.change}
    one = sizes["master bore"]
    assert one.change
    inside, step = ends(one), one.change.ends.step
    beyond = [inside[0] - step, inside[-1] + step]
    found = screened(tmp_path, "hay-lorry", one, "external", *({"bore": f"{value} mm"} for value in (*inside, *beyond)))
    verdicts = {int(kit.split("made-")[1].split("+")[0]): verdict for verdict, kit in found}
    assert [verdicts[number] for number in range(5)] == [PASS, PASS, PASS, verdicts[3], verdicts[4]]
    assert PASS not in (verdicts[3], verdicts[4])


def test_every_interface_of_a_missing_part_is_what_the_other_parts_demand() -> None:
    (one, *_) = [one for one in small_master().missing["hay-lorry", "external"] if one.family == "master"]
    application, line, fluid = one.kit["application"], one.kit["line"], one.kit["fluid"]
    told = {demand.field: demand.words for demand in one.asked}
    seals = {row[0] for fit in inputs().profile.fits if fit.name == "seal-master" for row in fit.allowed}
    assert told.keys() == {"master.master_mount", "master.outlet", "master.seal"}
    assert told["master.master_mount"] == (application.values["master_mount"],)
    assert told["master.outlet"] == (field_value(line, "line.inlet"),)
    assert set(told["master.seal"] or ()) < seals
    assert fluid.values["base"] == "glycol"
    assert set(told["master.seal"] or ()) == {"EPDM", "SBR"}  # ISO 4925, scope; 49 CFR 571.116


def test_parts_that_stay_in_the_vehicle_are_never_missing() -> None:
    read = asked(master="vell-16", slave="crest-22")
    lorry = inputs().catalog.part("application", "hay-lorry")
    assert lorry
    keeps = replace(lorry, values={**lorry.values, "fitted": {"master": "vell-16"}})
    others = [each for each in read.catalog.families["application"] if each.id != "hay-lorry"]
    families = {**read.catalog.families, "application": tuple(sorted([keeps, *others], key=lambda each: each.id))}
    found = no_kit_of(replace(read, catalog=replace(read.catalog, families=families)), "hay-lorry")
    missing = found.missing["hay-lorry", "external"]
    assert missing
    assert "master" not in [one.family for one in missing]


def test_where_two_families_are_at_odds_a_part_of_either_would_do() -> None:
    """Every master on the lorry's flange has a port that no line starts with."""
    read = asked(slave="crest-22")
    odd = [
        master.having("outlet", "M99") if master.values["master_mount"] == "flange-57" else master
        for master in read.catalog.families["master"]
    ]
    catalog = replace(read.catalog, families={**read.catalog.families, "master": tuple(odd)})
    found = no_kit_of(replace(read, catalog=catalog), "hay-lorry")
    group = ("hay-lorry", "external")
    assert found.result.emptied[group].conflicts == (("master-mount", "thread-master-line"),)
    assert [one.family for one in found.missing[group]] == ["master", "line"]
    for one in found.missing[group]:
        made = replace(one.part, id="made")
        only = {family: (kept.id,) for family, kept in one.kit.items()} | {one.family: ("made",)}
        families = {
            **catalog.families,
            one.family: tuple(sorted([*catalog.families[one.family], made], key=lambda part: part.id)),
        }
        again = replace(read, catalog=replace(catalog, families=families), job=replace(read.job, only=only))
        kits = again.screen().kits
        assert kits.verdict.tolist() == [one.verdict]
    told = "\n".join(lines(found))
    assert "`" not in told
    assert "- a line of inlet M99: the kit would pass" in told
    assert "Without the fit thread-master-line there would be" in told


# --- demands at the interfaces


def families_of(fit: Fit) -> set[str]:
    return {field.split(".")[0] for field in fit.fields}


def test_what_is_demanded_at_the_interfaces_is_what_the_fits_hold_in_random_kits() -> None:
    """Held against the plain definition of each kind of fit: all demands are met exactly where all fits of the family are."""
    met = unmet = made = 0
    for seed in range(80):
        catalog, profile, _ = random_world(seed)
        dice = random.Random(seed)
        for _ in range(20):
            kit = {family: dice.choice(catalog.families[family]) for family in EXTERNAL}
            family = dice.choice(EXTERNAL[1:])
            own = [fit for fit in profile.fits if fit.kind != "fitted" and family in families_of(fit) <= kit.keys()]
            wanted = demands(profile, kit, family)
            holds = all(meets(fit, kit) for fit in own)
            assert all(demand.possible and demand.met for demand in wanted) == holds
            met, unmet = met + holds, unmet + (not holds)
            other = meeting(kit[family], wanted)
            if other is not None:
                made += other is not kit[family]
                assert all(meets(fit, {**kit, family: other}) for fit in own)
    assert min(met, unmet, made) > 50

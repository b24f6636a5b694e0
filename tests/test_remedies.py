"""What is told as a remedy mends: written into a catalog, or judged by the oracle, it passes; a step outside it does not."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Mapping
from copy import deepcopy
from dataclasses import replace
from decimal import Decimal
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import oracle
import pytest
import tomli
import tomli_w
from random_catalogs import random_case

from fitcheck.catalog.checks import checks
from fitcheck.catalog.parts import Part
from fitcheck.catalog.schema import node
from fitcheck.engine.result import KitTable
from fitcheck.engine.single import one_kit
from fitcheck.engine.states import PASS, REJECT, VERDICT_WORDS
from fitcheck.engine.variants import Bench
from fitcheck.inputs import Inputs, read_job
from fitcheck.kit_names import find_kit, only_these
from fitcheck.profile import Rule
from fitcheck.quantities import UNITS, parse, to_unit
from fitcheck.reasons.intervals import Change, changes_of, value_of
from fitcheck.reasons.numbers import NUMBERS, Number, numbers_on, sizes
from fitcheck.reasons.remedies import remedies_of
from fitcheck.reasons.shelf import Shelf
from fitcheck.reasons.swaps import swaps_of
from fitcheck.report.remedies import remedy_lines

DEMO = Path(__file__).parent.parent / "catalogs" / "demo"
GOLDEN = Path(__file__).parent / "golden"
PLOUGH = "snow-plough+worn-lever+steep-22+metric-copper+straw+base-25+heavy-19+roller-48+harrier+heavy-265"
HEAVY = "snow-plough+lever-62+steep-22+metric-to-inch+amber+base-24+heavy-17+roller-48+harrier+heavy-280"
WINCH = "winch-truck+lever-62+steep-19+metric-copper+violet+base-22+heavy-17+roller-48+eagle+heavy-280-woven"
TRACTOR = "orchard-tractor+stirrup-62+vell-17+inch-braid+violet+strap-22+tractor-fork+dome-38+finch+tractor-200-rigid"
HAY = "hay-lorry+helper-60+ovrel-19+metric-braid+straw+crest-22+lorry-15+roller-42+crane+lorry-240"
RING = "hay-lorry+lever-62+vell-21+metric-copper+straw+ring-42-a+crane+lorry-240"
COLD = "hay-lorry+lever-55+vell-18+inch-capillary+clear+ridge-21+lorry-17+roller-42-long+crane+lorry-250"
SHORT = "hay-lorry+lever-55+stub-19+inch-to-metric+violet+ring-42-a+stork+lorry-240"
VAN = "post-van+short-53+vell-18+inch-to-metric+clear+crest-22+van-17+roller-35+lark+van-200"
PULL = "fire-pump+helper-60+vell-18+inch-to-metric+violet+base-puller-22+pump-15+hook-roller-42+crane+pump-240"
SOFT = "hay-lorry+lever-62+vell-21+metric-copper+clear+crest-22+lorry-17+roller-42+crane+lorry-250-woven"

OLD = "post-van+short-53+vell-18+inch-to-metric-old+clear+crest-22+van-17+roller-35+lark+van-200"
ILLEGAL = RING.replace("+straw+", "+moss+")

Raw = dict[str, dict[str, dict[str, Any]]]  # a catalog as it is written: family, id, entry


@cache
def inputs() -> Inputs:
    return read_job(DEMO / "job.toml")


def bench_of(kit: str, read: Inputs | None = None) -> Bench:
    read = read or inputs()
    return Bench(read.catalog, read.profile, read.job, *find_kit(kit, read.catalog, read.job))


# --- a remedy written into the catalog


@cache
def demo_text() -> bytes:
    raw: Raw = {}
    for path in sorted((DEMO / "catalog").glob("*.toml")):
        for family, entries in tomli.loads(path.read_text(encoding="utf-8")).items():
            raw.setdefault(family, {}).update(entries)
    return tomli_w.dumps(raw).encode()


def written(folder: Path, change: Callable[[Raw], None]) -> Inputs:
    """The demo with its catalog in one file, changed, and read like any other."""
    raw = tomli.loads(demo_text().decode())
    change(raw)
    (folder / "catalog").mkdir(parents=True, exist_ok=True)
    (folder / "catalog" / "all.toml").write_bytes(tomli_w.dumps(raw).encode())
    for name in ("job.toml", "profile.toml"):
        shutil.copy(DEMO / name, folder / name)
    return read_job(folder / "job.toml")


def judged(kit: str, read: Inputs) -> int:
    train, ids = find_kit(kit, read.catalog, read.job)
    table = one_kit(only_these(read.catalog, ids), read.profile, read.job, train)
    return int(table.verdict[0]) if isinstance(table, KitTable) else REJECT


def text(number: Number, value: Decimal) -> Any:
    return f"{value:f} {number.unit}" if number.unit else float(value)


# Where a number stands in a catalog, if it is one field of one entry.
FIELDS = {
    "free play": "pedal.free_play", "pedal stop": "pedal.travel", "pedal ratio": "pedal.ratio", "pedal travel": "pedal.travel",
    "master bore": "master.bore", "master stroke": "master.stroke", "reservoir room": "master.reservoir_room",
    "slave bore": "slave.bore", "slave stroke": "slave.stroke", "slave preload": "slave.preload",
    "longest rod": "slave.rod_max", "shortest rod": "slave.rod_min", "fork ratio": "fork.ratio",
    "bearing height": "bearing.height", "concentric outer diameter": "concentric.outer_diameter",
    "concentric stroke": "concentric.stroke", "concentric height": "concentric.height",
    "concentric preload": "concentric.preload", "disc friction": "disc.friction",
}  # fmt: skip


def write(raw: Raw, ids: Mapping[str, str], number: Number, value: Decimal) -> None:
    """What a person would write into the catalog to have that number."""
    said = text(number, value)
    if number.name in FIELDS:
        family, _, field = FIELDS[number.name].partition(".")
        raw[family][ids[family]][field] = said
    elif number.name == "rod":
        raw["slave"][ids["slave"]] |= {"rod_min": said, "rod_max": said}
    elif number.name == "shim":
        raw["concentric"][ids["concentric"]]["shims"].append(said)
    elif number.name == "hose expansion":
        for piece in raw["line"][ids["line"]]["pieces"]:
            piece |= {"expansion": said} if piece["kind"] == "hose" else {}
    elif number.name == "line bore":
        for piece in raw["line"][ids["line"]]["pieces"]:
            if "inner_diameter" in piece and parse(piece["inner_diameter"], "length").value < parse(said, "length").value:
                piece["inner_diameter"] = said
    else:
        assert number.name == "clamp load"
        scale_cover(raw["pressure_plate"][ids["pressure_plate"]], parse(said, "force").value)


def scale_cover(cover: dict[str, Any], clamp: float) -> None:
    share = clamp / parse(cover["clamp_load"], "force").value
    for key in ("clamp_load", "worn_clamp_load"):
        if key in cover:
            cover[key] = f"{parse(cover[key], 'force').value * share!r} N"
    for key in ("release_load", "worn_release_load"):
        if key in cover:
            cover[key]["load"] = [load * share for load in cover[key]["load"]]


def outside(change: Change) -> Iterator[Decimal]:
    """A step beyond each end that the search did not set."""
    low, high, step = change.ends.low, change.ends.high, change.ends.step
    if low is not None and change.below:
        yield low - step
    if high is not None and change.above:
        yield high + step


def held(change: Change) -> list[Decimal]:
    return [value for value in (change.ends.low, change.ends.high, change.best) if value is not None]


# A kit, what is made worse in its catalog so that it no longer passes, and numbers that must be among those that mend it.
HURT: tuple[tuple[str, dict[str, Any], set[str]], ...] = (
    (PLOUGH, {}, {"free play", "pedal ratio"}),
    (HEAVY, {}, {"pedal ratio", "master bore", "slave bore", "slave preload", "fork ratio", "clamp load"}),
    (WINCH, {}, {"clamp load", "disc friction"}),
    (COLD, {}, {"line bore"}),
    (SHORT, {}, {"master stroke"}),
    (VAN, {}, {"free play", "hose expansion", "pedal travel"}),
    (PULL, {}, {"bearing height"}),
    (SOFT, {}, {"slave stroke"}),
    (HAY, {"slave.rod_max": "112 mm"}, {"longest rod"}),
    (HAY, {"slave.rod_min": "140 mm", "slave.rod_max": "160 mm"}, {"shortest rod"}),
    (RING, {"concentric.height": "78 mm", "concentric.shims": []}, {"shim", "concentric height", "concentric stroke"}),
    (RING, {"concentric.outer_diameter": "52 mm"}, {"concentric outer diameter"}),
    (RING, {"concentric.preload": "20 N"}, {"concentric preload"}),
    (RING, {"pedal.travel": "230 mm", "pedal.stop_range": ["10 mm", "11 mm"]}, {"pedal stop"}),
    (RING, {"master.reservoir_room": "2 mL"}, {"reservoir room"}),
)


@pytest.mark.parametrize(("kit", "hurt", "expected"), HURT)
def test_a_number_told_mends_the_kit_and_a_step_outside_does_not(
    kit: str, hurt: dict[str, Any], expected: set[str], tmp_path: Path
) -> None:
    _, ids = find_kit(kit, inputs().catalog, inputs().job)

    def hurting(raw: Raw) -> None:
        for key, value in hurt.items():
            family, _, field = key.partition(".")
            raw[family][ids[family]][field] = deepcopy(value)

    def mended(number: Number, value: Decimal) -> int:
        def both(raw: Raw) -> None:
            hurting(raw)
            write(raw, ids, number, value)

        return judged(kit, written(tmp_path, both))

    read = written(tmp_path, hurting)
    bench = bench_of(kit, read)
    assert judged(kit, read) == bench.itself.verdict[0] != PASS
    changes = changes_of(bench, list(numbers_on(bench).values()))
    assert expected <= {change.number.name for change in changes.found}
    assert not changes.narrow
    for change in changes.found:
        if change.number.name in expected:
            assert [mended(change.number, value) for value in held(change)] == [change.goal] * len(held(change))
            assert all(mended(change.number, value) > change.goal for value in outside(change)), change.number.name


HOSE = "valley-bus+lever-55+vell-19+inch-braid+straw+ring-42-b+crane+bus-250"


def test_at_least_and_at_most_hold_far_beyond_the_search() -> None:
    """Of this kit's hose a little more give than the search looks at is too much again."""
    bench = bench_of(HOSE)
    (change,) = (change for change in changes_of(bench, list(numbers_on(bench).values())).found if change.number.unit == "cc/ft")
    assert change.ends.low is not None
    assert change.ends.high is not None
    assert change.above
    for kit in (HOSE, WINCH, VAN, RING, SHORT):
        bench = bench_of(kit)
        numbers = numbers_on(bench)
        for change in changes_of(bench, list(numbers.values())).found:
            low, high = numbers[change.number.name][1]
            open_ends = [low / times for times in (1.1, 1.5, 3.0, 10.0) if change.ends.low is None]
            open_ends += [high * times for times in (1.1, 1.5, 3.0, 10.0) if change.ends.high is None]
            verdicts = bench.verdicts([change.number.apply(bench, value) for value in open_ends])
            assert (verdicts <= change.goal).all() or change.number.name == "disc friction", change


# --- settings, which stand in no catalog


RODS = (
    (TRACTOR, "lash", Rule("short", "rod_length", None, 0.0, "reject", 0.01, "r", "m", "invented")),
    (HAY, "piston out", Rule("short", "rod_length", None, 0.0, "caution", 0.01, "r", "m", "invented")),
)


@pytest.mark.parametrize(("kit", "name", "rule"), RODS)
def test_a_setting_told_mends_the_kit_like_a_rod_of_that_length(kit: str, name: str, rule: Rule) -> None:
    """Under rules that ask for a shorter rod; a rod of fixed length then leaves no other setting."""
    whole = inputs()
    plain = bench_of(kit)
    now, target = (plain.itself.draft.metrics[metric][0] for metric in ("rod_length", "setup_target"))
    rules = (replace(rule, upper=now - 0.001), *(each for each in whole.profile.rules if each.metric == "release_margin"))
    read = replace(whole, profile=replace(whole.profile, rules=rules))
    bench = bench_of(kit, read)
    (change,) = changes_of(bench, [numbers_on(bench)[name]]).found
    assert change.goal == PASS

    def with_rod(setting: Decimal) -> int:
        length = now + target - value_of(change.number, setting)  # a rod that pushes
        slave = bench.parts["slave"].having("rod_min", length).having("rod_max", length)
        families = {**whole.catalog.families, "slave": (slave,)}
        return judged(kit, replace(read, catalog=replace(whole.catalog, families=families)))

    assert [with_rod(value) for value in held(change)] == [PASS] * 3
    assert [with_rod(value) for value in outside(change)] == [bench.itself.verdict[0]] * len(list(outside(change)))
    assert list(outside(change))


# --- the oracle


def by_oracle(bench: Bench, parts: Mapping[str, Part]) -> int:
    """The verdict on the kit with those parts, kit by kit in plain floats."""
    kit = {**bench.parts, **parts}
    if oracle.legal(bench.train, kit, bench.profile.fits):
        return REJECT
    linkage = bench.catalog.part("linkage", bench.application.values.get("linkage", ""))
    margins = oracle.margins_of(bench.profile.rules, bench.train, bench.application.id)
    values = {family: part.values for family, part in kit.items()}
    old = linkage.values if linkage else None
    metrics = oracle.evaluate(bench.train, values, old, bench.profile.assumptions, margins, bench.job.supplied)
    return VERDICT_WORDS.index(oracle.judge(metrics, bench.profile.rules, bench.train, bench.application.id).verdict)


def random_benches(seeds: range) -> Iterator[Bench]:
    """Kits of random catalogs that do not pass."""
    for seed in seeds:
        case = random_case(Random(f"remedies {seed}"))
        for (_, train), kits in case.legal.items():
            for kit in kits[:1]:
                bench = Bench(case.catalog, case.profile, case.job, train, {family: part.id for family, part in kit.items()})
                if bench.itself.verdict[0]:
                    yield bench


@pytest.mark.parametrize("seeds", [range(start, start + 4) for start in range(0, 16, 4)], ids=str)
def test_numbers_that_mend_random_kits_mend_them_for_the_oracle(seeds: range) -> None:
    told = 0
    for bench in random_benches(seeds):
        numbers = [(number, span) for name, (number, span) in numbers_on(bench).items() if name not in ("lash", "piston out")]
        for change in changes_of(bench, numbers).found[:6]:
            told += 1
            for value in held(change):
                parts = change.number.apply(bench, value_of(change.number, value)).parts
                assert by_oracle(bench, parts) <= change.goal, (change, value)
            if not change.others:
                for value in outside(change):
                    parts = change.number.apply(bench, value_of(change.number, value)).parts
                    assert by_oracle(bench, parts) > change.goal, (change, value)
    assert told


# --- swaps


@pytest.mark.parametrize("kit", [PLOUGH, HEAVY, SHORT, RING])
def test_swaps_are_all_that_one_kit_after_the_other_finds(kit: str) -> None:
    read = inputs()
    bench = bench_of(kit)
    train, ids = find_kit(kit, read.catalog, read.job)
    found: dict[int, set[tuple[str, str]]] = {0: set(), 1: set(), 2: set()}
    for family in bench.parts.keys() - {"application"}:
        for part in read.catalog.families[family]:
            if part.id != ids[family]:
                table = one_kit(only_these(read.catalog, {**ids, family: part.id}), read.profile, read.job, train)
                found[int(table.verdict[0]) if isinstance(table, KitTable) else REJECT].add((family, part.id))
    swaps, now = swaps_of(Shelf(bench)), int(bench.itself.verdict[0])
    better = [goal for goal in range(now) if found[goal]]
    assert swaps.kits == (found[better[0]] if better else set())
    assert (swaps.total, swaps.tried) == (len(swaps.kits), sum(map(len, found.values())))
    assert len(swaps.best) == min(5, swaps.total)
    for swap in swaps.best:
        table = one_kit(only_these(read.catalog, {**ids, swap.part.family: swap.part.id}), read.profile, read.job, train)
        assert isinstance(table, KitTable)
        assert (swap.verdict, swap.headroom, swap.limiting_rule) == (table.verdict[0], table.headroom[0], table.limiting_rule[0])
        assert {reason.rule for reason in (*swap.stays, *swap.new)} == {reason.rule for reason in table.reasons[0]}
        for moved in swap.mended:
            assert moved.after == table.metrics[moved.metric][0]


def test_swaps_stand_in_the_order_of_a_screening() -> None:
    """The same kits screened alone: the job lets in the swapped parts only."""
    read = inputs()
    bench = bench_of(HEAVY)
    free = replace(read.job, applications=("snow-plough",), trains=("external",), prefer=read.job.prefer)
    swaps = swaps_of(Shelf(bench), best=100)
    assert swaps.total
    for family in swaps.by_family:
        only = {name: (part.id,) for name, part in bench.parts.items() if name not in ("application", family)}
        result = replace(read, job=replace(free, only=only, leave_out={family: (bench.parts[family].id,)})).screen()
        passing = [kit for kit, verdict in zip(result.kits.kit, result.kits.verdict, strict=True) if verdict == PASS]
        mine = [swap.part.id for swap in swaps.best if swap.part.family == family]
        assert [kit.split("+")[list(bench.parts).index(family)] for kit in passing] == mine


def test_only_parts_that_the_job_lets_in_are_swapped() -> None:
    read = inputs()
    swaps = swaps_of(Shelf(bench_of(PLOUGH)))
    left = replace(read, job=replace(read.job, leave_out={"pedal": (swaps.best[0].part.id,)}))
    fewer = swaps_of(Shelf(bench_of(PLOUGH, left)))
    assert swaps.kits - fewer.kits == {("pedal", swaps.best[0].part.id)}
    alone = replace(read, job=replace(read.job, only={"pedal": ("worn-lever",)}))
    assert not swaps_of(Shelf(bench_of(PLOUGH, alone))).total


# --- numbers


@pytest.mark.parametrize("kit", [HAY, RING, TRACTOR, PULL, WINCH])
def test_a_number_put_back_to_what_it_is_changes_nothing(kit: str) -> None:
    bench = bench_of(kit)
    for name, (number, _) in numbers_on(bench).items():
        if name not in ("shim", "rod"):
            again = bench.tried([number.apply(bench, number.present(bench))]).draft
            for metric, numbers in bench.itself.draft.metrics.items():
                np.testing.assert_allclose(again.metrics[metric], numbers, rtol=1e-9, err_msg=f"{name} {metric}")


@pytest.mark.parametrize("kit", [HAY, RING, TRACTOR, PULL, WINCH])
def test_every_value_that_is_tried_could_stand_in_a_catalog(kit: str) -> None:
    bench = bench_of(kit)
    for number, span in numbers_on(bench).values():
        assert len(number.grid(span, 9)) == 9
        for value in number.grid(span, 9).tolist():
            for family, part in number.apply(bench, value).parts.items():
                assert not [fault for fault in checks(family, part.values) if fault.severity == "error"]
                for key, got in part.numbers():
                    path = tuple(int(step) if step.isdigit() else step for step in key.split("."))
                    limits = node(family, path, as_lists(part.values))
                    assert got > limits.get("x-above", -np.inf)
                    assert limits.get("x-at-least", -np.inf) <= got <= limits.get("x-at-most", np.inf)


def as_lists(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: as_lists(each) for key, each in value.items()}
    return [as_lists(each) for each in value] if isinstance(value, tuple) else value


def test_numbers_have_their_units_and_names_of_their_own() -> None:
    assert len({number.name for number in NUMBERS}) == len(NUMBERS)
    for number in NUMBERS:
        assert number.unit in UNITS[number.dimension]
        assert number.phrase.count("{}") == 1
        assert to_unit(value_of(number, Decimal("1.25")), number.unit) == pytest.approx(1.25, rel=1e-12)
    assert [number.name for number in sizes("bearing")] == ["bearing height"]
    assert not any(number.fitter for number in sizes("pedal"))


def test_what_stays_in_the_vehicle_is_only_set() -> None:
    bench = bench_of(TRACTOR)
    assert set(bench.application.values["fitted"]) == {"pedal", "fork"}
    names = set(numbers_on(bench))
    assert {"free play", "pedal stop"} <= names
    assert not {"pedal ratio", "pedal travel", "fork ratio"} & names
    assert changes_of(bench, list(numbers_on(bench).values())).staying == ("pedal", "fork")


# --- words


def test_the_lines_are_as_agreed() -> None:
    told = []
    for kit in (PLOUGH, HEAVY, WINCH, TRACTOR, OLD, ILLEGAL):
        told += [kit, *remedy_lines(remedies_of(bench_of(kit)), inputs().profile), ""]
    assert "\n".join(told) == (GOLDEN / "remedies.txt").read_text(encoding="utf-8")


def test_a_kit_that_passes_needs_no_remedy() -> None:
    remedies = remedies_of(bench_of(RING))
    assert remedies.swaps is not None
    assert (remedies.verdict, remedies.swaps.total, remedies.changes.found) == (PASS, 0, ())
    assert list(remedy_lines(remedies, inputs().profile)) == ["The kit passes: there is nothing to mend."]


def test_a_kit_that_is_not_legal_is_mended_by_the_part_that_fits() -> None:
    remedies = remedies_of(bench_of(ILLEGAL))
    assert not remedies.legal
    assert remedies.swaps is not None
    assert ("fluid", "straw") in remedies.swaps.kits
    assert any("meets: " in line for line in remedy_lines(remedies, inputs().profile))

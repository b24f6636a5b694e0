"""What is told as a remedy mends: written into a catalog, or judged by the oracle, it passes; a step outside it does not."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from mending import (
    BUSTARD,
    COLD,
    HAY,
    HEAVY,
    ILLEGAL,
    OLD,
    PLOUGH,
    PULL,
    RING,
    SHORT,
    SOFT,
    TRACTOR,
    VAN,
    WINCH,
    Raw,
    bench_of,
    by_oracle,
    held,
    inputs,
    judged,
    outside,
    random_benches,
    write,
    written,
)  # fmt: skip

from fitcheck.catalog.checks import checks
from fitcheck.catalog.schema import node
from fitcheck.engine.result import KitTable
from fitcheck.engine.single import one_kit
from fitcheck.engine.states import PASS, REJECT
from fitcheck.kit_names import find_kit, only_these
from fitcheck.profile import Rule
from fitcheck.quantities import UNITS, to_unit
from fitcheck.reasons.intervals import changes_of, value_of
from fitcheck.reasons.numbers import NUMBERS, Number, numbers_on, sizes
from fitcheck.reasons.remedies import remedies_of
from fitcheck.reasons.shelf import Shelf
from fitcheck.reasons.swaps import swaps_of
from fitcheck.report.remedies import remedy_lines

pytestmark = pytest.mark.no_cover  # the rooms that are gated are covered without

GOLDEN = Path(__file__).parent / "golden"

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
    for kit in (PLOUGH, HEAVY, WINCH, TRACTOR, OLD, BUSTARD, ILLEGAL):
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

"""Each rule by itself: the change told mends it and does to the others what is said; nearer to the present it does not."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from mending import (
    HEAVY,
    OLD,
    PLOUGH,
    PULL,
    TRACTOR,
    WINCH,
    Raw,
    alone,
    bench_of,
    inputs,
    oracle_on,
    random_benches,
    write,
    written,
)

from fitcheck.engine.result import KitTable, Reason
from fitcheck.engine.states import PASS, REJECT
from fitcheck.engine.variants import Bench
from fitcheck.inputs import Inputs
from fitcheck.kit_names import let_in
from fitcheck.profile import Rule
from fitcheck.reasons.by_rule import ByRule, Least, by_rule, held_fast
from fitcheck.reasons.intervals import value_of
from fitcheck.reasons.numbers import numbers_on
from fitcheck.reasons.remedies import remedies_of
from fitcheck.reasons.scan import GRID, scanned
from fitcheck.reasons.shelf import Shelf

pytestmark = pytest.mark.no_cover

# A kit of which one part mends a rule and breaks but one other, which rejects; another breaks more, but none that rejects.
STUB = "hay-lorry+worn-lever+vell-16+inch-to-metric+clear+stub-slave-24+lorry-15+roller-42+crane+lorry-250-woven"


def told(bench: Bench, swaps: bool = True) -> tuple[ByRule, ...]:
    scans = [scan for scan, _ in scanned(bench, list(numbers_on(bench).values()), (PASS,))]
    return by_rule(bench, scans, Shelf(bench) if swaps else None)


def ids_of(bench: Bench) -> dict[str, str]:
    return {family: part.id for family, part in bench.parts.items()}


def speaking(table: KitTable) -> set[str]:
    return {reason.rule for reason in table.reasons[0]}


def names(reasons: tuple[Reason, ...]) -> set[str]:
    return {reason.rule for reason in reasons}


def nearer(least: Least) -> Decimal:
    """A step of the usual digits nearer to the present value."""
    away = 1 if value_of(least.number, least.value) > (0.0 if np.isnan(least.present) else least.present) else -1
    return least.value - away * Decimal(1).scaleb(-least.number.decimals)


@pytest.mark.parametrize("kit", [PLOUGH, OLD, WINCH])
def test_the_least_change_of_a_number_mends_its_rule_and_a_step_less_does_not(kit: str, tmp_path: Path) -> None:
    """Written into the catalog, and the kit judged alone."""
    bench, found = bench_of(kit), 0
    before = speaking(itself(bench))
    for one in told(bench):
        assert (one.least is None) == (not one.numbers)
        if one.least is None:
            continue
        found += 1

        def after(value: Decimal, least: Least = one.least) -> KitTable:
            def change(raw: Raw) -> None:
                write(raw, ids_of(bench), least.number, value)

            table = alone(ids_of(bench), bench.train, written(tmp_path, change))
            assert table is not None
            return table

        there = speaking(after(one.least.value))
        assert one.reason.rule not in there
        assert names(one.least.new) == there - before
        assert set(one.least.mended) == before - there - {one.reason.rule}
        assert one.reason.rule in speaking(after(nearer(one.least)))
        assert one.least.value.as_tuple().exponent == -one.least.number.decimals  # as a person would ask for it
    assert found


def itself(bench: Bench) -> KitTable:
    table = alone(ids_of(bench), bench.train)
    assert table is not None
    return table


@pytest.mark.parametrize("kit", [PLOUGH, TRACTOR, STUB])
def test_the_part_told_mends_its_rule_and_no_other_harms_less(kit: str) -> None:
    """Each other part put into the kit, and the kit judged alone."""
    bench = bench_of(kit)
    before = speaking(itself(bench))
    strict = {rule.name for rule in bench.rules if rule.severity == "reject"}
    others = [
        part
        for family, own in bench.parts.items()
        for part in bench.catalog.families[family]
        if family != "application" and part.id != own.id and let_in(bench.job, family, part.id)
    ]
    tables = {(part.family, part.id): alone({**ids_of(bench), part.family: part.id}, bench.train) for part in others}
    for one in told(bench):
        mending = {}
        for which, table in tables.items():
            if table is not None and one.reason.rule not in speaking(table):
                new = speaking(table) - before
                mending[which] = (len(new & strict), len(new - strict), speaking(table))
        assert one.swaps == len(mending)
        if one.swap is None:
            assert not mending
            continue
        harm = mending[one.swap.part.family, one.swap.part.id]
        assert harm[:2] == min(each[:2] for each in mending.values())
        assert names(one.swap.new) == harm[2] - before
        assert {moved.rule for moved in one.swap.mended} == before - harm[2]


def test_a_number_of_which_some_value_does_is_named_and_no_other() -> None:
    bench = bench_of(WINCH)
    for one in told(bench, swaps=False):
        assert (one.swap, one.swaps, one.sought) == (None, 0, False)
        row = bench.ruled.index(one.reason.rule)
        named = {number.name for number in one.numbers}
        for name, (number, span) in numbers_on(bench).items():
            rooms = bench.glance([number.apply(bench, value) for value in number.grid(span, GRID).tolist()]).rooms[row]
            assert (name in named) == bool((rooms >= 0.0).any()), (one.reason.rule, name)


def test_rejecting_rules_come_first_each_once() -> None:
    for kit in (OLD, WINCH):
        bench = bench_of(kit)
        found = [(one.reason.severity, one.reason.rule) for one in told(bench, swaps=False)]
        severities = [severity for severity, _ in found]
        assert severities == sorted(severities, reverse=True)
        assert sorted(rule for _, rule in found) == sorted({reason.rule for reason in bench.itself.draft.reasons[0]})


@pytest.mark.parametrize("seeds", [range(start, start + 6) for start in range(0, 18, 6)], ids=str)
def test_the_least_change_of_a_random_kit_mends_its_rule_for_the_oracle(seeds: range) -> None:
    found = 0
    for bench in random_benches(seeds):
        for one in told(bench, swaps=False):
            if one.least is not None and one.least.number.name not in ("lash", "piston out"):
                found += 1
                values = [value_of(one.least.number, value) for value in (one.least.value, nearer(one.least))]
                there, short_of_it = (oracle_on(bench, one.least.number.apply(bench, value).parts) for value in values)
                assert there is not None
                assert one.reason.rule not in there.broken, one
                assert short_of_it is None or one.reason.rule in short_of_it.broken, one
    assert found


def test_a_rule_whose_figure_is_no_longer_known_is_not_mended() -> None:
    """No cover of the demo that lacks its worn load counts, though the rule on it is then silent."""
    read = inputs()
    kit = OLD
    asked = Rule("worn", "torque_factor_worn", 99.0, None, "reject", 0.1, "r", "m", "invented", not_given="said")
    strict = replace(read, profile=replace(read.profile, rules=(*read.profile.rules, asked)))
    bench = bench_of(kit, strict)
    seen = Shelf(bench).seen
    row = bench.ruled.index("worn")
    assert np.isnan(seen.rooms[row]).any()
    (one,) = (one for one in told(bench) if one.reason.rule == "worn")
    assert (one.least, one.swap, one.swaps) == (None, None, 0)


def test_rules_are_told_apart_only_where_no_one_change_makes_the_kit_pass() -> None:
    assert remedies_of(bench_of(HEAVY)).by_rule == ()
    assert remedies_of(bench_of(PULL)).by_rule == ()
    assert [one.reason.rule for one in remedies_of(bench_of(PLOUGH)).by_rule] == ["port-clearance"]


def test_a_rejecting_figure_of_the_vehicle_leaves_nothing_open() -> None:
    """The same lift, but as a reason to reject."""
    read = inputs()
    rules = tuple(replace(rule, severity="reject") if rule.name == "bleed-lift" else rule for rule in read.profile.rules)
    strict: Inputs = replace(read, profile=replace(read.profile, rules=rules))
    bench = bench_of(WINCH, strict)
    assert held_fast(bench) == REJECT
    remedies = remedies_of(bench)
    assert (remedies.pairs, remedies.mixed) == (None, None)
    assert [one.reason.rule for one in remedies.by_rule if one.fixed] == ["bleed-lift"]

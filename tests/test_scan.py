"""Intervals found along one number, held against intervals that are known beforehand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.engine.states import CAUTION, PASS, REJECT
from fitcheck.reasons.intervals import Ends, ends_of, tried_again
from fitcheck.reasons.numbers import Number
from fitcheck.reasons.scan import FINE, GRID, scanned

Interval = tuple[float, float]


def made(present: float = 1.0, span: Interval = (0.5, 2.0), firm: bool = False, decimals: int = 2) -> tuple[Number, Interval]:
    """A number whose variants know nothing but its values; ratios, so that no unit stands between."""
    words: Any = ("made", "pedal", "a made one of {}", "", "ratio", decimals)
    functions: Any = (lambda _: present, lambda _: span, lambda _, value: SimpleNamespace(value=value, parts={}))
    return replace(Number(*words, *functions), firm=firm), span


def bench(passing: Sequence[Interval], cautioned: Sequence[Interval] = ()) -> Any:
    """Headroom is the distance to the nearest end of what passes, negative outside."""

    def glance(variants: Sequence[Any]) -> Any:
        at = np.array([variant.value for variant in variants])
        inside = [np.minimum(at - low, high - at) for low, high in passing]
        room = np.max([np.full(len(at), -10.0), *inside], axis=0)
        mild = np.any([np.zeros(len(at), bool), *((at >= low) & (at <= high) for low, high in cautioned)], axis=0)
        verdict = np.where(room >= 0.0, PASS, np.where(mild, CAUTION, REJECT)).astype(np.uint8)
        return SimpleNamespace(verdict=verdict, headroom=room, rooms=room[None, :])

    return SimpleNamespace(glance=glance)


def told(kit: Any, number: tuple[Number, Interval], goals: Sequence[int] = (PASS, CAUTION)) -> tuple[int, Ends | None]:
    ((scan, goal),) = scanned(kit, [number], goals)
    kept = tried_again(kit, [(scan, goal)]) if goal < REJECT else []
    return goal, kept[0][2] if kept else None


@given(st.floats(0.51, 1.7), st.floats(0.001, 0.28), st.booleans(), st.integers(0, 3))
def test_ends_are_rounded_inward_by_less_than_a_step(low: float, width: float, above: bool, decimals: int) -> None:
    goal, ends = told(bench([(low, low + width)]), made(0.5 if above else 2.0, decimals=decimals))
    assert goal == PASS
    assert ends is not None
    assert ends.low is not None
    assert ends.high is not None
    slack, step = 4 * FINE * 2.0, float(ends.step)
    assert low - slack <= float(ends.low) <= low + step + slack
    assert low + width - step - slack <= float(ends.high) <= low + width + slack
    assert ends.high - ends.low >= 3 * ends.step or ends.step == Decimal(1).scaleb(-decimals - 4)


def test_of_several_intervals_the_nearest_is_told() -> None:
    kit = bench([(0.6, 0.7), (1.2, 1.3), (1.5, 1.8)])
    for present, expected in ((0.5, "0.60"), (1.0, "1.20"), (1.45, "1.50")):
        ((scan, goal),) = scanned(kit, [made(present)], (PASS,))
        ends = ends_of(scan, goal)
        assert ends is not None
        assert (str(ends.low), len(scan.runs(goal))) == (expected, 3)


def test_an_end_of_the_search_is_open_where_it_goes_on_far_beyond_unless_it_is_firm() -> None:
    cases = ((1e6, False, None), (9.0, False, Decimal(9)), (2.01, False, Decimal("2.01")), (9.0, True, Decimal(2)))
    for end, firm, high in cases:
        _, ends = told(bench([(1.4, end)]), made(firm=firm))
        assert ends == Ends(Decimal("1.40"), high, Decimal("0.01"))
    _, ends = told(bench([(0.03, 0.7)]), made())
    assert ends == Ends(Decimal("0.03"), Decimal("0.70"), Decimal("0.01"))


def test_a_written_end_leaves_some_of_the_search_inside() -> None:
    """Rounded to the usual digits nothing of it would be left."""
    assert told(bench([(0.01, 0.5046)]), made(decimals=0)) == (PASS, Ends(None, Decimal("0.504"), Decimal("0.001")))
    assert told(bench([(1.9951, 100.0)]), made(decimals=0)) == (PASS, Ends(Decimal("1.996"), None, Decimal("0.001")))


def test_a_value_that_does_next_to_an_end_is_told_as_another_interval() -> None:
    kit = bench([(1.2042, 1.3), (1.2, 1.203)])
    ((scan, goal),) = scanned(kit, [made(1.6)], (PASS,))
    ((_, _, ends),) = tried_again(kit, [(scan, goal)])
    assert (ends.low, len(scan.runs(goal))) == (Decimal("1.21"), 2)


def test_a_sliver_between_two_values_of_the_grid_is_found_by_its_headroom() -> None:
    goal, ends = told(bench([(1.23456, 1.23556)], [(0.9, 1.6)]), made(1.0))
    assert (goal, ends) == (PASS, Ends(Decimal("1.2346"), Decimal("1.2355"), Decimal("0.0001")))


def test_a_hole_that_the_grid_steps_over_shortens_the_interval() -> None:
    step = 1.5 / (GRID - 1)
    hole = 0.5 + 30.05 * step  # between two values of the grid
    _, ends = told(bench([(0.8, hole), (hole + 0.9 * step, 1.9)]), made(0.5))
    assert ends is not None
    assert ends.high is not None
    assert float(ends.high) <= hole


def test_what_only_a_caution_reaches_is_told_as_that() -> None:
    assert told(bench([], [(1.1, 1.2)]), made())[0] == CAUTION
    assert told(bench([]), made()) == (REJECT, None)
    assert told(bench([], [(1.1, 1.2)]), made(), (PASS,)) == (REJECT, None)


def test_an_interval_narrower_than_can_be_written_is_not_told() -> None:
    goal, ends = told(bench([(1.000000012, 1.000000013)], [(0.9, 1.6)]), made(1.1, span=(0.99999999, 1.00000004)))
    assert (goal, ends) == (PASS, None)

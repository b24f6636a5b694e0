"""Each broken rule by itself: by what least change of one number, and with what other part, the kit would keep to it.

What either does to the other rules is told with it: the kit as a whole may be no better for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

import numpy as np

from fitcheck.engine.evaluate import TOTALS
from fitcheck.engine.result import Reason
from fitcheck.engine.states import CAUTION, PASS, REJECT
from fitcheck.engine.variants import Bench, Variant
from fitcheck.engine.verdict import BREAKS
from fitcheck.reasons.intervals import AS_GOOD, MORE, rounded, value_of, written
from fitcheck.reasons.numbers import Number
from fitcheck.reasons.scan import FloatArray, Scan, look, nearer
from fitcheck.reasons.shelf import Shelf
from fitcheck.reasons.swaps import Swap, compared, in_order, told_of

CLOSE = 4  # numbers of each rule that are looked at closely
Harm = tuple[int, int]  # rules that reject, and others, that were kept and no longer are


@dataclass(frozen=True)
class Least:
    """The least change of a number, as it can be written, with which a rule is kept, and what it does to the others."""

    number: Number
    present: float  # SI; not-a-number where the kit has none yet
    value: Decimal  # in the number's unit
    mended: tuple[str, ...]  # rules that spoke and are silent
    new: tuple[Reason, ...]  # what was not said before


@dataclass(frozen=True)
class ByRule:
    """One rule that speaks against a kit, with the single changes after which it does not."""

    reason: Reason
    least: Least | None
    numbers: tuple[Number, ...]  # all of which some value that was tried does
    sought: bool  # whether other parts were looked at
    swap: Swap | None
    swaps: int  # other parts after whose exchange it does not
    fixed: bool  # whether its figure rests on the vehicle alone, so that no part and no setting changes it


def by_rule(bench: Bench, scans: Sequence[Scan], shelf: Shelf | None) -> tuple[ByRule, ...]:
    """Every rule that speaks, the rejecting ones first; without a shelf other parts are not sought."""
    reasons: dict[str, Reason] = {}
    for reason in bench.itself.draft.reasons[0]:
        reasons.setdefault(reason.rule, reason)
    now, rows = bench.glance([Variant()]).rooms, [bench.ruled.index(rule) for rule in reasons]
    along = [_along(bench, scans, row, now) for row in rows]
    leasts = _leasts(bench, list(reasons), [some[:CLOSE] for some in along])
    parts = _parts(shelf, rows, now) if shelf else [(None, 0)] * len(rows)
    told = zip(reasons.values(), leasts, along, parts, strict=True)
    return tuple(
        ByRule(reason, least, tuple(scan.number for scan in some), shelf is not None, *part, _fixed(bench, reason.metric))
        for reason, least, some, part in told
    )


def held_fast(bench: Bench) -> int:
    """The best verdict that is left open by the rules whose figures rest on the vehicle alone."""
    fixed = [reason.severity for reason in bench.itself.draft.reasons[0] if _fixed(bench, reason.metric)]
    return REJECT if "reject" in fixed else CAUTION if fixed else PASS


def _fixed(bench: Bench, metric: str) -> bool:
    """Whether nothing that the figure rests on is a part's, but the vehicle's."""
    values = bench.values
    origins = (origin for name in values.plan.ancestors(metric) for origin in values.givens.origins(name))
    return metric not in TOTALS and {origin.partition(".")[0] for origin in origins}.isdisjoint(
        bench.parts.keys() - {"application"}
    )


def _harms(bench: Bench, now: FloatArray, rooms: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How many rules were kept and no longer are, of those that reject and of the others, column by column."""
    lost = (now >= BREAKS) & ~(rooms >= BREAKS)
    mild = np.zeros(len(bench.ruled), dtype=np.bool_)
    mild[: len(bench.rules)] = [rule.severity != "reject" for rule in bench.rules]
    return lost[~mild].sum(axis=0), lost[mild].sum(axis=0)


# --- one number


def _along(bench: Bench, scans: Sequence[Scan], row: int, now: FloatArray) -> list[Scan]:
    """The numbers by some value of which the rule is kept, in the order of what the nearest such value does."""
    found = []
    for place, scan in enumerate(scans):
        kept = np.flatnonzero(scan.rooms[row] >= BREAKS)
        if len(kept):
            near = kept[np.argmin(np.abs(scan.at[kept] - scan.start))]
            strict, mild = _harms(bench, now, scan.rooms[:, [near]])
            found.append((int(strict[0]), int(mild[0]), _size(scan.number, scan.start, float(scan.at[near])), place))
    return [_of_rule(scans[place], row, now) for *_, place in sorted(found)]


def _size(number: Number, start: float, value: float) -> tuple[bool, float]:
    """How large a change is: a setting is less than another part, and of parts the share counts by which a size differs."""
    change = abs(value - start)
    return (False, change) if number.fitter else (True, change / start if start else np.inf)


def _of_rule(scan: Scan, row: int, now: FloatArray) -> Scan:
    """What is known of the rule along the number, the kit as it is among it."""
    one = scan.of(row)
    if one.present == one.present:
        one.learn(np.array([one.present]), np.array([REJECT], dtype=np.uint8), np.zeros(1), now)
    return one


def _leasts(bench: Bench, rules: Sequence[str], along: Sequence[Sequence[Scan]]) -> list[Least | None]:
    """For each rule the number that harms least and is changed least; each value is judged as it is written."""
    scans = [scan for some in along for scan in some]
    nearer(bench, [(scan, PASS) for scan in scans], far=False)
    look(bench, scans, [_a_step_nearer(scan) for scan in scans])
    every = ((place, scan, _nearest_written(scan)) for place, some in enumerate(along) for scan in some)
    tries = [(place, scan, value) for place, scan, value in every if value is not None]
    told = bench.tried([Variant(), *(scan.number.apply(bench, value_of(scan.number, value)) for _, scan, value in tries)])
    found: list[list[Least]] = [[] for _ in along]
    for row, (place, scan, value) in enumerate(tries, 1):
        silent, _, new = compared(told.draft.reasons[0], told.draft.reasons[row])
        mended = [reason.rule for reason in silent]
        if told.legal[row] and rules[place] in mended:
            others = tuple(rule for rule in dict.fromkeys(mended) if rule != rules[place])
            found[place].append(Least(scan.number, scan.present, value, others, new))
    return [min(some, key=_order, default=None) for some in found]


def _order(least: Least) -> tuple[int, int, tuple[bool, float]]:
    strict = sum(reason.severity == "reject" for reason in least.new)
    start = 0.0 if np.isnan(least.present) else least.present
    return strict, len(least.new) - strict, _size(least.number, start, value_of(least.number, least.value))


def _a_step_nearer(scan: Scan) -> FloatArray:
    """The last value that could be written nearer to the present one; none where that comes between."""
    value = _nearest_written(scan)
    if value is None:
        return np.zeros(0)
    away = 1 if value_of(scan.number, value) > scan.start else -1
    nearer_one = value_of(scan.number, value - away * Decimal(1).scaleb(-scan.number.decimals))
    return np.array([nearer_one] if away * (nearer_one - scan.start) > 0.0 else [])


def _nearest_written(scan: Scan) -> Decimal | None:
    """The kept value nearest to the present one, rounded away from it; None where the run is too narrow to be written."""
    first, last = scan.run(PASS)
    low, high = scan.at[first], scan.at[last]
    near, way = (low, ROUND_CEILING) if low > scan.start else (high, ROUND_FLOOR)
    slack = AS_GOOD * abs(near)
    for more in range(MORE + 1):
        step = Decimal(1).scaleb(-(scan.number.decimals + more))
        value = rounded(scan, PASS, written(scan.number, near), step, way)
        if value is not None and low - slack <= value_of(scan.number, value) <= high + slack:
            return value
    return None


# --- another part


def _parts(shelf: Shelf, rows: Sequence[int], now: FloatArray) -> list[tuple[Swap | None, int]]:
    """For each rule the part that harms least and mends most, among these as kits are ranked; and how many parts do."""
    variants = [shelf.variant(place) for place in shelf.alone.tolist()]
    kept = shelf.seen.rooms >= BREAKS
    rank = np.argsort(in_order(shelf.bench, shelf.seen, variants, np.arange(len(variants))))
    strict, mild = _harms(shelf.bench, now, shelf.seen.rooms)
    order = np.lexsort([rank, shelf.seen.verdict, -(kept & ~(now >= BREAKS)).sum(axis=0), mild, strict])
    firsts = [next((int(place) for place in order if kept[row, place]), None) for row in rows]
    chosen = sorted({place for place in firsts if place is not None})
    swaps = dict(zip(chosen, told_of(shelf.bench, [variants[place] for place in chosen]), strict=True))
    return [(None if first is None else swaps[first], int(kept[row].sum())) for row, first in zip(rows, firsts, strict=True)]

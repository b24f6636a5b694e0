"""The interval of one number within which a kit would pass; its printed ends were tried again."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from fractions import Fraction

import numpy as np

from fitcheck.engine.states import CAUTION, PASS, REJECT
from fitcheck.engine.variants import Bench, Trials, Variant
from fitcheck.engine.verdict import TIE
from fitcheck.quantities import parse, to_unit
from fitcheck.reasons.changing import Span
from fitcheck.reasons.numbers import Number, staying
from fitcheck.reasons.scan import FINE, FloatArray, Scan, look, nearer, scanned

CHECKED = 101  # values inside a printed interval, both ends among them, that are tried once more
MORE = 4  # digits that may be added where an interval is too narrow for the usual ones
ROOMY = 3  # steps of the last digit that an interval should hold
AS_GOOD = 3 * FINE  # share by which an end may miss a round number that is told for it
AGAIN = 4  # times that an interval is mended where a value inside it fails


@dataclass(frozen=True)
class Ends:
    """An interval as it is printed, in the number's unit; None where it goes on to the end of the search."""

    low: Decimal | None
    high: Decimal | None
    step: Decimal  # of the last digit


@dataclass(frozen=True)
class Change:
    """The values of one number with which the kit would reach the goal, all else as it is."""

    number: Number
    present: float  # SI; not-a-number where the kit has none yet
    goal: int  # PASS, or CAUTION where none passes
    ends: Ends
    others: int  # further intervals, away from the present value
    below: tuple[str, ...]  # rules, or fits, that speak just below the interval
    above: tuple[str, ...]
    best: Decimal | None  # the nearest value of most headroom, in the number's unit; of a caution the nearest value
    headroom: float  # there
    cautions: tuple[str, ...]  # rules that still speak there
    shims: str  # to fit there, in mm; blank where there are none
    note: str
    inches: tuple[str, ...]  # sizes inside that bores are sold by


@dataclass(frozen=True)
class Changes:
    """What each number of a kit can do for it alone."""

    found: tuple[Change, ...]
    idle: tuple[Number, ...]  # no value that was tried reaches the goal
    narrow: tuple[Number, ...]  # some values do, but over less than can be written
    staying: tuple[str, ...]  # families whose part stays in the vehicle, so that no size of it was sought


NO_CHANGES = Changes((), (), (), ())


def changes_of(bench: Bench, numbers: Sequence[tuple[Number, Span]]) -> Changes:
    """For each number that can mend the kit alone, the interval nearest to what it is now; nothing for a kit that passes."""
    goals = (PASS, CAUTION)[: int(bench.itself.verdict[0])]
    return changes_along(bench, scanned(bench, numbers, goals)) if goals else NO_CHANGES


def changes_along(bench: Bench, every: Sequence[tuple[Scan, int]]) -> Changes:
    """The same of numbers along which the kit was looked at."""
    found = [(scan, goal) for scan, goal in every if goal < REJECT]
    kept = tried_again(bench, found)
    told = bench.tried([variant for each in kept for variant in _samples(bench, *each)])
    changes = tuple(_change(bench, *each, told, 3 * row) for row, each in enumerate(kept))
    told_of = {change.number.name for change in changes}
    idle = tuple(scan.number for scan, goal in every if goal == REJECT)
    narrow = tuple(scan.number for scan, _ in found if scan.number.name not in told_of)
    return Changes(changes, idle, narrow, staying(bench))


# --- printed ends


def value_of(number: Number, text: Decimal) -> float:
    """What a catalog would read where the number is written so, in SI."""
    return parse(f"{text:f} {number.unit}".rstrip(), number.dimension).value


def ends_of(scan: Scan, goal: int) -> Ends | None:
    """The run nearest to the present value, its ends rounded inward; None where it is too narrow to be written."""
    number, (first, last) = scan.number, scan.run(goal)
    low = None if first == 0 and not number.firm else written(number, scan.at[first])
    high = None if last == len(scan.at) - 1 and not number.firm else written(number, scan.at[last])
    from_end, to_end = (written(number, end) for end in scan.span)
    for more in range(MORE + 1):
        step = Decimal(1).scaleb(-(number.decimals + more))
        ends = Ends(rounded(scan, goal, low, step, ROUND_CEILING), rounded(scan, goal, high, step, ROUND_FLOOR), step)
        room = (to_end if ends.high is None else ends.high) - (from_end if ends.low is None else ends.low)
        if room >= (ROOMY * step if more < MORE else 0):
            return ends
    return None


def written(number: Number, value: float) -> Decimal:
    """An SI value in the number's unit, without what is only rounding of the conversion."""
    return Decimal(f"{to_unit(float(value), number.unit):.13g}")


def rounded(scan: Scan, goal: int, value: Decimal | None, step: Decimal, way: str) -> Decimal | None:
    """An end rounded inward; one that as good as is a round number is that number, unless it is known to fail."""
    if value is None:
        return None
    near = value.quantize(step)
    as_good = abs(near - value) <= Decimal(AS_GOOD) * abs(value)
    return near if as_good and not scan.fails(value_of(scan.number, near), goal) else value.quantize(step, way)


def _limits(scan: Scan, goal: int, ends: Ends) -> Span:
    """The printed interval in SI; an open end is where the search ended."""
    low = scan.span[0] if ends.low is None else value_of(scan.number, ends.low)
    high = scan.span[1] if ends.high is None else value_of(scan.number, ends.high)
    return low, high


def tried_again(bench: Bench, found: Sequence[tuple[Scan, int]]) -> list[tuple[Scan, int, Ends]]:
    """Every interval with the ends that are printed, tried at both and in between; what fails inside makes it shorter."""
    for _ in range(AGAIN):
        told = [(scan, goal, ends) for scan, goal in found if (ends := ends_of(scan, goal))]
        points = [np.concatenate([_inside(*each), _steps_outside(*each)]) for each in told]
        look(bench, [scan for scan, _, _ in told], points)
        whole = [_whole(*each) for each in told]
        if all(whole):
            break
        nearer(bench, [(scan, goal) for (scan, goal, _), kept in zip(told, whole, strict=True) if not kept])
    return [each for each, kept in zip(told, whole, strict=True) if kept]


def _inside(scan: Scan, goal: int, ends: Ends) -> FloatArray:
    """Values from one printed end to the other; as close within the search as if they did not go on beyond it."""
    low, high = _limits(scan, goal, ends)
    first, last = np.clip(scan.span, low, high).tolist()
    return np.concatenate([np.linspace(first, last, CHECKED), np.linspace(low, high, CHECKED)])


def _steps_outside(scan: Scan, goal: int, ends: Ends) -> FloatArray:
    """The printable values next to the ends: where one of them does after all, that is an interval of its own."""
    next_ones = [end + side * ends.step for end, side in ((ends.low, -1), (ends.high, 1)) if end is not None]
    values = [value_of(scan.number, one) for one in next_ones]
    return np.array([value for value in values if scan.at[0] < value < scan.at[-1]])


def _whole(scan: Scan, goal: int, ends: Ends) -> bool:
    """Whether all that was tried inside reaches the goal."""
    low, high = _limits(scan, goal, ends)
    inside = (scan.at >= low) & (scan.at <= high)
    return bool((scan.verdict[inside] <= goal).all())


# --- what is told beside the interval


def _best(bench: Bench, scan: Scan, goal: int, ends: Ends) -> Decimal:
    """The value inside of most headroom, or of enough, that is nearest to the present one; written with the digits of the ends.

    Where the kit stays a caution, and headroom tells of other rules, the nearest value at all.
    """
    low, high = _limits(scan, goal, ends)
    inside = np.flatnonzero((scan.at >= low) & (scan.at <= high) & (scan.verdict == goal))
    room = np.minimum(scan.headroom[inside], bench.profile.headroom_enough) if goal == PASS else np.zeros(len(inside))
    most = scan.at[inside[room >= room.max(initial=-np.inf) - TIE]]
    near = written(scan.number, most[np.argmin(np.abs(most - scan.start))]).quantize(ends.step)
    if value_of(scan.number, near) < low:
        near += ends.step
    return near - ends.step if value_of(scan.number, near) > high else near


def _inches(bench: Bench, scan: Scan, goal: int, ends: Ends) -> tuple[str, ...]:
    """The sixteenths of an inch inside, by which bores are sold too; each tried."""
    if not scan.number.inches:
        return ()
    low, high = (to_unit(end, "in") for end in _limits(scan, goal, ends))
    texts = [str(Fraction(part, 16)) for part in range(math.ceil(low * 16), math.floor(high * 16) + 1)]
    variants = [scan.number.apply(bench, parse(f"{text} in", "length").value) for text in texts]
    verdicts = bench.verdicts(variants).tolist()
    return tuple(text for text, verdict in zip(texts, verdicts, strict=True) if verdict <= goal)


def _samples(bench: Bench, scan: Scan, goal: int, ends: Ends) -> Iterator[Variant]:
    """The best value inside, and the nearest ones outside that are known to fail."""
    first, last = scan.run(goal)
    inside = value_of(scan.number, _best(bench, scan, goal, ends))
    yield scan.number.apply(bench, inside)
    yield scan.number.apply(bench, float(scan.at[first - 1]) if first else inside)
    yield scan.number.apply(bench, float(scan.at[last + 1]) if last + 1 < len(scan.at) else inside)


def _change(bench: Bench, scan: Scan, goal: int, ends: Ends, told: Trials, row: int) -> Change:
    first, last = scan.run(goal)
    good = int(told.verdict[row]) <= goal
    return Change(
        scan.number,
        scan.present,
        goal,
        ends,
        len(scan.runs(goal)) - 1,
        _speaking(told, row + 1, goal) if first else (),
        _speaking(told, row + 2, goal) if last + 1 < len(scan.at) else (),
        _best(bench, scan, goal, ends) if good else None,
        float(told.draft.headroom[row]),
        _speaking(told, row, PASS),
        told.draft.shims[row],
        scan.note,
        _inches(bench, scan, goal, ends),
    )


def _speaking(told: Trials, row: int, goal: int) -> tuple[str, ...]:
    """Fits that are not met, or else the rules that keep a kit from the goal."""
    reasons = (reason.rule for reason in told.draft.reasons[row] if goal == PASS or reason.severity == "reject")
    return told.unmet[row] or tuple(dict.fromkeys(reasons))

"""A part among its family: the odd one out, and the same part twice."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator, Mapping, Sequence
from typing import Any

from fitcheck.catalog.parts import Part
from fitcheck.errors import Finding
from fitcheck.soundness.doubts import about, shown, spoken

# When to doubt: common practice, no source. A doubt is a caution and judges no kit.
ENOUGH = 5  # so many values make a family in which one can be odd
GAP = 4.0  # an odd value lies so many times beyond the others
SHARE = 0.1  # at most this share of a family is odd: more are another kind of part
NEAR = 0.003  # relative: two parts whose every number is this close are as good as the same
ROOM = 1.1  # a figure without its slip lies among the others, or beyond them by the step of a series
_SLIPS = {10.0: "a decimal point?", 100.0: "a decimal point?", 1000.0: "a unit?", 25.4: "inches for millimetres?"}
_LISTS = ("pieces", "finger_circle", "stop_range")  # whose members each mean something; of other lists only the run does
_NOT_COMPARED = {"name", "notes", "source", "evidence", "superseded_by", "available", "box_lines", "cost", "mass"}

Figures = tuple[float, ...]
Kind = list[tuple[Figures, Part]]  # parts that differ in their figures alone, each with all of them
Column = tuple[Kind, int, str]  # the figures of a kind at one place, and their key


def family_doubts(parts: Sequence[Part]) -> Iterator[Finding]:
    """All doubts that the parts of a family raise by standing side by side."""
    kinds = _kinds(parts)
    columns: defaultdict[str, list[Column]] = defaultdict(list)
    for kind in kinds:
        first = kind[0][1]
        for at, key in enumerate(_keys(_compared(first), "")):
            if key:
                columns[spoken(first, key)].append((kind, at, key))
    for name, each in sorted(columns.items()):
        yield from _odd(name, each)
    for kind in kinds:
        yield from _twice(kind)


def _kinds(parts: Sequence[Part]) -> list[Kind]:
    """Parts of the same words and keys together."""
    kinds: defaultdict[Hashable, Kind] = defaultdict(list)
    for part in parts:
        figures: list[float] = []
        words = _words(_compared(part), figures)
        kinds[words].append((tuple(figures), part))
    return list(kinds.values())


def _compared(part: Part) -> dict[str, Any]:
    return {key: value for key, value in part.values.items() if key not in _NOT_COMPARED}


def _words(table: Mapping[Any, Any], figures: list[float]) -> Hashable:
    """What is left of a table once its figures are taken out, in the order of the keys."""
    words: list[Hashable] = []
    for key in sorted(table):
        value = table[key]
        if isinstance(value, float):
            figures.append(value)
            value = "figure"
        elif isinstance(value, tuple) and {*map(type, value)} == {float}:
            figures += value
            value = len(value)
        elif isinstance(value, dict | tuple):
            value = _words(value if isinstance(value, dict) else dict(enumerate(value)), figures)
        words.append((key, value))
    return tuple(words)


def _keys(value: Any, key: str) -> Iterator[str]:
    """The key of each figure, in the same order; none for the points of a curve, which follow from each other."""
    if isinstance(value, float):
        yield key
    elif isinstance(value, dict):
        for step in sorted(value):
            yield from _keys(value[step], f"{key}.{step}" if key else step)
    elif isinstance(value, tuple):
        for at, below in enumerate(value):
            yield from _keys(below, f"{key}.{at}" if key in _LISTS else "")


def _odd(name: str, columns: Sequence[Column]) -> Iterator[Finding]:
    """The few figures, at either end, that stand far apart from all others."""
    values = sorted([figures[at] for kind, at, _ in columns for figures, _ in kind if figures[at] > 0])
    count = len(values)
    for cut in range(1, max(1, int(count * SHARE)) + 1) if count >= ENOUGH else ():
        if _apart(values[-cut], values[0], values[-cut - 1]):
            yield from _odd_ones(name, columns, values[-cut:], (values[0], values[-cut - 1]), count - cut)
            return
        if _apart(values[cut - 1], values[cut], values[-1]):
            yield from _odd_ones(name, columns, values[:cut], (values[cut], values[-1]), count - cut)
            return


def _odd_ones(
    name: str, columns: Sequence[Column], odd: Sequence[float], others: tuple[float, float], count: int
) -> Iterator[Finding]:
    """A finding for each of the odd figures; `others` are the least and the greatest of the `count` that are not."""
    for kind, at, key in columns:
        for figures, part in kind:
            if odd[0] <= figures[at] <= odd[-1]:
                slip = _slip(figures[at], *others)
                span = " to ".join(shown(part, key, value) for value in others)
                wanted = f"one like the {name} of {count} others, {span}{f': {slip}' if slip else ''}"
                yield about(part, key, "odd-one-out", f"{name} of {shown(part, key)}", wanted, "check the figure and its unit")


def _apart(value: float, least: float, most: float) -> bool:
    """Whether a value is further from the others than they are from each other, and by a slip that people make, or much."""
    distance = value / most if value > most else least / value
    return distance >= max(GAP, most / least) and (distance >= GAP * GAP or _slip(value, least, most) != "")


def _slip(value: float, least: float, most: float) -> str:
    """The slip of the pen that would bring the value among the others."""
    for factor, slip in _SLIPS.items():
        if any(least / ROOM <= mended <= most * ROOM for mended in (value / factor, value * factor)):
            return slip
    return ""


def _twice(kind: Kind) -> Iterator[Finding]:
    """Parts that are close in every figure to one of a lesser id, each told once; the same figures before nearly the same.

    Sorted by the figure that differs most, close ones lie near each other.
    """
    counts = [len({*column}) for column in zip(*(figures for figures, _ in kind), strict=True)]
    if len(kind) < 2 or not counts:
        return
    widest = counts.index(max(counts))
    others = [at for at, count in enumerate(counts) if count > 1 and at != widest]  # what all share tells none apart
    rows = sorted((figures[widest], part.id, tuple([figures[at] for at in others]), part) for figures, part in kind)
    twins: dict[str, tuple[Part, Part, bool]] = {}
    start = 0
    for at, (figure, identifier, rest, part) in enumerate(rows):
        while not _close(rows[start][0], figure):
            start += 1
        for other_figure, other_id, other_rest, other in rows[start:at]:
            later, same = max(identifier, other_id), (other_figure, other_rest) == (figure, rest)
            if later in twins and (twins[later][2] or not same):
                continue
            if all(map(_close, other_rest, rest)) and not _successor(part, other):
                twins[later] = (part, other, same) if later == identifier else (other, part, same)
    yield from (_same(*twin) for twin in twins.values())


def _close(one: float, two: float) -> bool:
    return abs(one - two) <= NEAR * max(abs(one), abs(two))


def _successor(one: Part, two: Part) -> bool:
    return two.id in (one.values.get("superseded_by"),) or one.id in (two.values.get("superseded_by"),)


def _same(part: Part, other: Part, exact: bool) -> Finding:
    how, problem = ("the same", "duplicate") if exact else ("nearly the same", "near-duplicate")
    found = f"{how} figures as another {part.family.replace('_', ' ')}"
    mend = "keep one and name it in superseded_by of the other, or check which figure was copied by mistake"
    return about(part, "", problem, found, f"each part once; {other.family}.{other.id} has them too", mend)

"""A part among its family: the odd one out, and the same part twice."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any

from fitcheck.catalog.parts import Part
from fitcheck.errors import Finding
from fitcheck.soundness.doubts import about, numbers, shown, spoken

# When to doubt: common practice, no source. A doubt is a caution and judges no kit.
ENOUGH = 5  # so many values make a family in which one can be odd
GAP = 4.0  # an odd value lies so many times beyond the others
SHARE = 0.1  # at most this share of a family is odd: more are another kind of part
NEAR = 0.003  # relative: two parts whose every number is this close are as good as the same
_SLIPS = {10.0: "a decimal point?", 100.0: "a decimal point?", 1000.0: "a unit?", 25.4: "inches for millimetres?"}
_NOT_COMPARED = {"name", "notes", "source", "evidence", "superseded_by", "available", "box_lines", "cost", "mass"}

Row = tuple[float, Part, str]  # a value, whose it is, and under which key


def family_doubts(parts: Sequence[Part]) -> Iterator[Finding]:
    """All doubts that the parts of a family raise by standing side by side."""
    columns: defaultdict[str, list[Row]] = defaultdict(list)
    for part in parts:
        for key, value in numbers(part):
            if value > 0 and key not in _NOT_COMPARED:
                columns[spoken(part, key)].append((value, part, key))
    for name, rows in sorted(columns.items()):
        yield from _odd(name, rows)
    yield from _twice(parts)


def _odd(name: str, rows: list[Row]) -> Iterator[Finding]:
    """The few values, at either end, that stand far apart from all others."""
    rows = sorted(rows, key=lambda row: (row[0], row[1].id, row[2]))
    if len(rows) < ENOUGH:
        return
    for cut in range(1, max(1, int(len(rows) * SHARE)) + 1):
        for outer, others, nearest in ((rows[-cut:], rows[:-cut], rows[-cut]), (rows[:cut], rows[cut:], rows[cut - 1])):
            if _apart(nearest[0], others[0][0], others[-1][0]):
                yield from (_odd_one(name, row, others) for row in outer)
                return


def _apart(value: float, least: float, most: float) -> bool:
    """Whether a value is further from the others than they are from each other, and by a slip that people make, or much."""
    distance = value / most if value > most else least / value
    return distance >= max(GAP, most / least) and (distance >= GAP * GAP or _slip(value, least, most) != "")


def _slip(value: float, least: float, most: float) -> str:
    """The slip of the pen that would bring the value among the others."""
    for factor, slip in _SLIPS.items():
        if any(least <= mended <= most for mended in (value / factor, value * factor)):
            return slip
    return ""


def _odd_one(name: str, row: Row, others: Sequence[Row]) -> Finding:
    value, part, key = row
    least, most = others[0][0], others[-1][0]
    slip = _slip(value, least, most)
    span = f"{shown(part, key, least)} to {shown(part, key, most)}"
    wanted = f"one like the {name} of {len(others)} others, {span}{f': {slip}' if slip else ''}"
    return about(part, key, "odd-one-out", f"{name} of {shown(part, key)}", wanted, "check the figure and its unit")


def _twice(parts: Sequence[Part]) -> Iterator[Finding]:
    """Parts of one set of words whose numbers are the same, or nearly."""
    alike: defaultdict[Any, list[tuple[tuple[float, ...], Part]]] = defaultdict(list)
    for part in parts:
        words, row = _taken_apart(part)
        alike[words].append((row, part))
    for group in alike.values():
        yield from _near(group)


def _taken_apart(part: Part) -> tuple[Any, tuple[float, ...]]:
    """Words and keys of a part, and its numbers in their order."""
    row: list[float] = []

    def words(value: Any) -> Any:
        if isinstance(value, float):
            row.append(value)
            return "number"
        if isinstance(value, dict):
            return tuple([(key, words(value[key])) for key in sorted(value)])
        return tuple([words(below) for below in value]) if isinstance(value, tuple) else value

    kept = {key: value for key, value in part.values.items() if key not in _NOT_COMPARED}
    return words(kept), tuple(row)


def _near(group: list[tuple[tuple[float, ...], Part]]) -> Iterator[Finding]:
    """Neighbours, once sorted by the number that differs most, that are close in every number."""
    if len(group) < 2:
        return
    widest = max(range(len(group[0][0])), key=lambda at: len({row[at] for row, _ in group}), default=None)
    if widest is None:
        return
    group = sorted(group, key=lambda member: (member[0][widest], member[1].id))
    start = 0
    for at, (row, part) in enumerate(group):
        while not _close(group[start][0][widest], row[widest]):
            start += 1
        for other_row, other in group[start:at]:
            if all(_close(one, two) for one, two in zip(other_row, row, strict=True)) and not _successor(part, other):
                first, second = sorted((part, other), key=lambda each: each.id)
                yield _same(first, second, row == other_row)
                break


def _close(one: float, two: float) -> bool:
    return abs(one - two) <= NEAR * max(abs(one), abs(two))


def _successor(one: Part, two: Part) -> bool:
    return two.id in (one.values.get("superseded_by"),) or one.id in (two.values.get("superseded_by"),)


def _same(first: Part, second: Part, exact: bool) -> Finding:
    how = "the same figures as" if exact else "nearly the same figures as"
    problem = "duplicate" if exact else "near-duplicate"
    mend = "keep one and name it in superseded_by of the other, or check which figure was copied by mistake"
    return about(second, "", problem, f"{how} {first.family}.{first.id}", "each part once", mend)

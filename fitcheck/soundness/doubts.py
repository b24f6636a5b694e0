"""Findings about parts that are well-formed: how they are made, and how numbers are shown in them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from fitcheck.catalog.parts import Part
from fitcheck.catalog.schema import node
from fitcheck.errors import Finding
from fitcheck.quantities import UNITS, to_unit


def about(
    part: Part,
    key: str,
    problem: str,
    found: str,
    expected: str,
    mend: str,
    severity: Literal["error", "caution"] = "caution",
) -> Finding:
    """A finding at a key of a part, or at what is around it where the key is not written.

    `found` speaks of the part alone and `expected` of what it is held against: a finding is known by the first, and must
    stay the same when other parts come and go.
    """
    return Finding(part.placed(key), problem, found, expected, mend, severity)


def spoken(part: Part, key: str) -> str:
    """A key as its family speaks of it: a piece of a line by its kind."""
    if not key.startswith("pieces."):
        return key
    at, rest = _piece(key)
    return f"{part.values['pieces'][at]['kind']} {rest}"


def shown(part: Part, key: str, value: float | None = None) -> str:
    """A number of a part in the first unit of its dimension."""
    number = part.at(key) if value is None else value
    unit = UNITS[_dimension(part, key)][0]
    return f"{to_unit(number, unit):.5g} {unit}".rstrip()


def _dimension(part: Part, key: str) -> str:
    if key.startswith("pieces."):
        at, rest = _piece(key)
        kind = part.values["pieces"][at]["kind"]
        found = node("line", ("pieces", 0, rest), {"pieces": [{"kind": kind}]})
    else:
        found = node(part.family, tuple(step for step in key.split(".") if not step.isdigit()), None)
    return str(found.get("x-dimension", "ratio"))


def _piece(key: str) -> tuple[int, str]:
    """Which piece of a line a key is in, and its key there."""
    _, at, rest = key.split(".", 2)
    return int(at), rest


def listed(words: Sequence[str], last: str = "and") -> str:
    """`a, b and c`."""
    *others, end = words
    return f"{', '.join(others)} {last} {end}" if others else end

"""Findings about parts that are well-formed: how they are made, and how numbers are shown in them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal

from fitcheck.catalog.parts import Part
from fitcheck.catalog.schema import node
from fitcheck.errors import Finding
from fitcheck.quantities import UNITS, to_unit

Number = tuple[str, float]  # dotted key within an entry, value in SI


def about(
    part: Part,
    key: str,
    problem: str,
    found: str,
    expected: str,
    mend: str,
    severity: Literal["error", "caution"] = "caution",
) -> Finding:
    """A finding at a key of a part, or at its header where the key is not written.

    `found` speaks of the part alone and `expected` of what it is held against: a finding is known by the first, and must
    stay the same when other parts come and go.
    """
    place = part.places.get(key, part.place) if key else part.place
    return Finding(place, problem, found, expected, mend, severity)


def numbers(part: Part) -> list[Number]:
    """Every single number of a part that is not a point of a curve."""
    found: list[Number] = []
    _note_numbers(part.values, "", found)
    return found


def _note_numbers(values: Mapping[str, Any], prefix: str, found: list[Number]) -> None:
    for key, value in values.items():
        if isinstance(value, float):
            found.append((f"{prefix}{key}", value))
        elif isinstance(value, dict):
            _note_numbers(value, f"{prefix}{key}.", found)
        elif isinstance(value, tuple) and key in ("pieces", "finger_circle", "stop_range"):
            _note_numbers({str(at): below for at, below in enumerate(value)}, f"{prefix}{key}.", found)


def spoken(part: Part, key: str) -> str:
    """A key as its family speaks of it: a piece of a line by its kind."""
    if not key.startswith("pieces."):
        return key
    at, rest = _piece(key)
    return f"{part.values['pieces'][at]['kind']} {rest}"


def shown(part: Part, key: str, value: float | None = None) -> str:
    """A number of a part in the first unit of its dimension."""
    number = dict(numbers(part))[key] if value is None else value
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

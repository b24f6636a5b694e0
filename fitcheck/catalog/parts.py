"""What the catalog said, checked and in SI: one Part an entry, in families."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from hashlib import sha256
from typing import Any

from fitcheck.errors import Finding, Place

FAMILIES = (
    "application",
    "pedal",
    "master",
    "line",
    "fluid",
    "slave",
    "fork",
    "bearing",
    "concentric",
    "pressure_plate",
    "disc",
    "linkage",
)

# The families of a train in the order in which a kit names them.
TRAINS: dict[str, tuple[str, ...]] = {
    "external": tuple(family for family in FAMILIES if family not in ("concentric", "linkage")),
    "concentric": tuple(family for family in FAMILIES if family not in ("slave", "fork", "bearing", "linkage")),
}

_CANONICAL = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


@dataclass(frozen=True)
class Part:
    """One checked entry.

    `values` holds SI floats, words, flags, tuples (shims, finger_circle, box_lines), and plain dicts for nested tables
    (cavity, diaphragm, curves, pieces); a key that the file leaves out is not there.
    `places` maps a dotted key to its place, and "" to that of the entry's header. `tolerances` maps a dotted key to the
    half-width in SI. `texts` holds the values as the file writes them.
    """

    family: str
    id: str
    values: Mapping[str, Any]
    places: Mapping[str, Place]
    tolerances: Mapping[str, float] = field(default_factory=dict)
    texts: Mapping[str, Any] = field(default_factory=dict)

    @property
    def place(self) -> Place:
        """Where its header stands."""
        return self.places[""]

    @cached_property
    def digest(self) -> str:
        """SHA-256 of what the file writes, as canonical JSON: keys sorted, no blanks, UTF-8."""
        return sha256(_CANONICAL.encode(self.texts).encode("utf-8", "surrogatepass")).hexdigest()

    def at(self, key: str) -> Any:
        """The value at a dotted key, such as `pieces.1.length`; None where the part does not give it."""
        value: Any = self.values
        for step in key.split("."):
            if isinstance(value, Mapping):
                value = value.get(step)
            elif isinstance(value, tuple) and step.isdigit() and int(step) < len(value):
                value = value[int(step)]
            else:
                return None
        return value

    def said(self, key: str) -> tuple[str, Any]:
        """What the file writes at a dotted key, or at the nearest key around it, and that key; "" if nothing."""
        text: Any = self.texts
        reached: list[str] = []
        for step in key.split("."):
            row = int(step) if isinstance(text, list) and step.isdigit() else step
            try:
                text = text[row]
            except (KeyError, IndexError, TypeError):
                break
            reached.append(step)
        return ".".join(reached), text if reached else None

    def placed(self, key: str) -> Place:
        """Where a value stands, or else what is around it."""
        reached = self.said(key)[0]
        return self.places[reached]

    def having(self, key: str, value: object) -> Part:
        """The same part with another value at a dotted key; the digest stays that of the entry it was made from."""
        return replace(self, values=_put(self.values, key.split("."), value))

    def numbers(self) -> Iterator[tuple[str, float]]:
        """Every number of the part by its dotted key, in the order of its values; flags are none."""
        yield from _numbers("", self.values)


def _put(values: Any, steps: list[str], value: object) -> Any:
    if not steps:
        return value
    first, *rest = steps
    if isinstance(values, Mapping):
        return {**values, first: _put(values.get(first, {}), rest, value)}
    row = int(first)
    return (*values[:row], _put(values[row], rest, value), *values[row + 1 :])


def _numbers(key: str, value: Any) -> Iterator[tuple[str, float]]:
    if isinstance(value, Mapping):
        below: Any = value.items()
    elif isinstance(value, tuple):
        below = enumerate(value)
    else:
        if isinstance(value, int | float) and not isinstance(value, bool):
            yield key, float(value)
        return
    for step, each in below:
        yield from _numbers(f"{key}.{step}" if key else str(step), each)


@dataclass(frozen=True)
class Catalog:
    """All parts that could be read, by family and sorted by id, with the findings of the files they came from."""

    families: Mapping[str, tuple[Part, ...]]
    findings: tuple[Finding, ...] = ()
    digests: Mapping[str, str] = field(default_factory=dict)  # file name as given -> SHA-256 of its bytes
    complete: bool = True  # False when an entry or a file was left out

    def part(self, family: str, identifier: str) -> Part | None:
        """The part of that family and id, or None."""
        return next((part for part in self.families.get(family, ()) if part.id == identifier), None)

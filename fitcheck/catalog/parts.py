"""What the catalog said, checked and in SI: one Part an entry, in families."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
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


@dataclass(frozen=True)
class Part:
    """One checked entry.

    `values` holds SI floats, words, flags, tuples (shims, finger_circle, box_lines), and plain dicts for nested tables
    (cavity, diaphragm, curves, pieces); a key that the file leaves out is not there.
    `tolerances` maps a dotted key to the half-width in SI. `places` maps a dotted key to its place.
    """

    family: str
    id: str
    values: Mapping[str, Any]
    place: Place
    digest: str
    tolerances: Mapping[str, float] = field(default_factory=dict)
    places: Mapping[str, Place] = field(default_factory=dict)


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

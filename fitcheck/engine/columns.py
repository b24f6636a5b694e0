"""Catalog entries as columns: one array of SI numbers per field, its parts along the last axis.

Columns are named `family_field`; which fields a family has is read from its schema. An optional field that a part does not
give is not a number in the column, unless the trade has a default for it. Fields with several numbers (pieces of a line,
points of a curve, shims) lie on a leading axis, padded so that the padding changes nothing.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import FAMILIES, Catalog, Part
from fitcheck.data import folder
from fitcheck.job import Job
from fitcheck.physics.fork import shim_stacks
from fitcheck.profile import Profile

Array = npt.NDArray[np.float64]

DEFAULTS: dict[str, float] = {
    "application_slave_clock": 0.0,
    "application_bulkhead_stiffness": np.inf,  # rigid where it is not known
    "slave_cavity_clock": 0.0,
    "concentric_cavity_clock": 0.0,
}
STANDS_IN: dict[str, str] = {  # what counts where one of these is left out: in words, or another field
    "application.slave_tilt": "application.tilt",
    "application.slave_clock": "0 deg, port up",
    "application.bulkhead_stiffness": "rigid",
    "slave.cavity.clock": "0 deg, port up",
    "concentric.cavity.clock": "0 deg, port up",
    "disc.cushion_curve": "a straight line from full clamp to none",
    "disc.radius_rule": "uniform wear",
    "pedal.stop_range": "no adjustable stop",
    "pressure_plate.wear_compensated": "no",
}
_EQUALLY_NEAR = 1e-6  # m, difference of two distances


@dataclass(frozen=True)
class Column:
    """Numbers of one field; `counts` says how many leading entries of each part are not padding (None: no leading axis)."""

    numbers: Array
    fields: tuple[str, ...]  # `family.key` of what it is made from, dotted, with `*` for each member of a list
    counts: npt.NDArray[np.intp] | None = None

    @property
    def field(self) -> str:
        """`family.field`, as a person would look for it."""
        return ".".join(self.fields[0].split(".")[:2])

    @cached_property
    def has_gaps(self) -> bool:
        """Whether a part does not give the number."""
        return bool(np.isnan(self.numbers).any())

    def pick(self, rows: npt.NDArray[np.intp]) -> Array:
        """The numbers of those parts, without padding that none of them needs."""
        if self.counts is None:
            return np.asarray(self.numbers[rows])
        return np.asarray(self.numbers[: max(1, int(self.counts[rows].max(initial=1))), rows])


@cache
def numeric_fields(family: str) -> tuple[tuple[str, ...], ...]:
    """Paths of the single numbers of a family, from its schema."""
    schema = json.loads((folder("schemas") / f"{family}.schema.json").read_text(encoding="utf-8"))
    return tuple(_numeric(schema["properties"], ()))


def _numeric(properties: Mapping[str, Mapping[str, object]], path: tuple[str, ...]) -> list[tuple[str, ...]]:
    found: list[tuple[str, ...]] = []
    for key, spec in properties.items():
        nested = spec.get("properties")
        if isinstance(nested, Mapping) and "x-dimension" not in spec and "travel_unit" not in nested and "clamp" not in nested:
            found += _numeric(nested, (*path, key))
        elif "x-dimension" in spec and spec.get("type") != "array" and not nested:
            found.append((*path, key))
    return found


def _number(part: Part, path: Sequence[str], default: float) -> float:
    value: object = part.values
    for key in path:
        value = value.get(key) if isinstance(value, Mapping) else None
    return default if value is None else float(value)  # type: ignore[arg-type]


def family_columns(family: str, parts: Sequence[Part]) -> dict[str, Column]:
    """All columns of a family."""
    columns = {}
    for path in numeric_fields(family):
        name = "_".join((family, *path))
        default = DEFAULTS.get(name, np.nan)
        columns[name] = Column(np.array([_number(part, path, default) for part in parts], float), (".".join((family, *path)),))
    columns.update(_SPECIAL.get(family, _nothing_special)(parts))
    return columns


def _nothing_special(parts: Sequence[Part]) -> dict[str, Column]:
    return {}


def _padded(field: str, rows: Sequence[Sequence[float]], pad: float | None = None) -> Column:
    """Entries on a leading axis; a shorter row is padded with its last entry, or with `pad`."""
    width = max([1, *map(len, rows)])
    table = np.full((width, len(rows)), np.nan if pad is None else pad)
    for number, row in enumerate(rows):
        table[: len(row), number] = row
        if pad is None and len(row):
            table[len(row) :, number] = row[-1]
    return Column(table, (field,), np.array([len(row) for row in rows], np.intp))


def _pedal(parts: Sequence[Part]) -> dict[str, Column]:
    curves = [part.values["return_force"] for part in parts]
    stops = [part.values.get("stop_range", (np.inf, -np.inf)) for part in parts]  # no range: a stop can stand nowhere
    return {
        "pedal_return_travel": _padded("pedal.return_force.travel", [curve["travel"] for curve in curves]),
        "pedal_return_force": _padded("pedal.return_force.force", [curve["force"] for curve in curves]),
        "pedal_stop_low": Column(np.array([stop[0] for stop in stops], float), ("pedal.stop_range.0",)),
        "pedal_stop_high": Column(np.array([stop[1] for stop in stops], float), ("pedal.stop_range.1",)),
    }


def _line(parts: Sequence[Part]) -> dict[str, Column]:
    rows = [part.values["pieces"] for part in parts]
    harmless = {"length": 0.0, "inner_diameter": 1.0, "wall": 1.0, "modulus": 1.0, "poisson": 0.0}
    harmless |= {"expansion": 0.0, "at_pressure": 1.0}
    columns = {
        f"line_piece_{key}": _padded(f"line.pieces.*.{key}", [[_piece(piece, key, pad) for piece in row] for row in rows], pad)
        for key, pad in harmless.items()
    }
    lengths = [sum(piece.get("length", 0.0) for piece in row) for row in rows]
    ratings = [min(piece["pressure_rating"] for piece in row) for row in rows]
    columns["line_length"] = Column(np.array(lengths, float), ("line.pieces.*.length",))
    columns["line_pressure_rating"] = Column(np.array(ratings, float), ("line.pieces.*.pressure_rating",))
    return columns


def _piece(piece: Mapping[str, Any], key: str, harmless: float) -> float:
    """A number of a piece; a hose has no wall that stretches by Lame's law, which a modulus without end says."""
    stiff = key == "modulus" and piece["kind"] != "tube"
    return np.inf if stiff else float(piece.get(key, harmless))


def _fluid(parts: Sequence[Part]) -> dict[str, Column]:
    points = [part.values["viscosity"] for part in parts]
    return {
        f"fluid_viscosity_{key}": _padded(f"fluid.viscosity.{key}", [point[key] for point in points])
        for key in ("temperature", "kinematic")
    }


def _disc(parts: Sequence[Part]) -> dict[str, Column]:
    straight = {"travel": (0.0, 1.0), "clamp": (1.0, 0.0)}
    curves = [part.values.get("cushion_curve", straight) for part in parts]
    uniform = [part.values.get("radius_rule") == "uniform pressure" for part in parts]
    return {
        "disc_cushion_share": _padded("disc.cushion_curve.travel", [curve["travel"] for curve in curves]),
        "disc_cushion_clamp": _padded("disc.cushion_curve.clamp", [curve["clamp"] for curve in curves]),
        "disc_uniform_pressure": Column(np.array(uniform, float), ("disc.radius_rule",)),
    }


def _plate(parts: Sequence[Part]) -> dict[str, Column]:
    return {
        "pressure_plate_wear_compensated": _flag("pressure_plate.wear_compensated", parts, True),
        "pressure_plate_push": _sign("pressure_plate", parts),
    }


def _flag(field: str, parts: Sequence[Part], word: object) -> Column:
    key = field.partition(".")[2]
    return Column(np.array([part.values.get(key) == word for part in parts], float), (field,))


def _sign(family: str, parts: Sequence[Part]) -> Column:
    """+1 where the action is a push, -1 where it is a pull."""
    return Column(np.array([1.0 if part.values["action"] == "push" else -1.0 for part in parts]), (f"{family}.action",))


def _slave(parts: Sequence[Part]) -> dict[str, Column]:
    return {"slave_push": _sign("slave", parts)}


def _application(parts: Sequence[Part]) -> dict[str, Column]:
    tilts = [part.values.get("slave_tilt", part.values["tilt"]) for part in parts]
    return {"application_slave_tilt": Column(np.array(tilts, float), ("application.slave_tilt",))}


_SPECIAL: dict[str, Callable[[Sequence[Part]], dict[str, Column]]] = {
    "application": _application,
    "pedal": _pedal,
    "line": _line,
    "fluid": _fluid,
    "slave": _slave,
    "disc": _disc,
    "pressure_plate": _plate,
}


def _stacked(rows: Sequence[Sequence[float]], pad: float | None = None) -> Column:
    return replace(_padded("", rows, pad), fields=("concentric.shims", "assumptions.shim_count"))


def shim_columns(parts: Sequence[Part], count: int) -> tuple[dict[str, Column], list[list[tuple[float, ...]]]]:
    """Reachable stacks of each concentric, thinnest first, with the borders between neighbours, and what each is made of."""
    stacks = [shim_stacks(part.values["shims"], count) for part in parts]
    columns = {
        "shim_totals": _stacked([[total for total, _ in row] for row in stacks]),
        "shim_borders": _stacked([[_border(*pair) for pair in pairwise(row)] for row in stacks], np.inf),
    }
    return columns, [[shims for _, shims in row] for row in stacks]


def _border(thin: tuple[float, tuple[float, ...]], thick: tuple[float, tuple[float, ...]]) -> float:
    """The wish at which both stacks count as equally near; then the one of fewer shims is taken, or else the thinner."""
    middle = 0.5 * (thin[0] + thick[0])
    return middle + 0.5 * _EQUALLY_NEAR if len(thin[1]) <= len(thick[1]) else middle - 0.5 * _EQUALLY_NEAR


class Context:
    """Everything that evaluation reads: the catalog's columns, the profile's assumptions, and what the job supplies."""

    def __init__(self, catalog: Catalog, profile: Profile, job: Job) -> None:
        """Turn the catalog into columns."""
        self.catalog, self.profile, self.job = catalog, profile, job
        self.parts = {family: catalog.families.get(family, ()) for family in FAMILIES}
        self.columns = {family: family_columns(family, parts) for family, parts in self.parts.items()}
        shims, self.shims_of = shim_columns(self.parts["concentric"], profile.assumptions.shim_count)
        self.columns["concentric"].update(shims)
        forces = self.columns["pedal"]["pedal_return_force"].counts
        self.bent_pedals = np.zeros(0, dtype=bool) if forces is None else forces > 1  # whose own force changes on the way
        self.named: dict[tuple[str, str], dict[str, tuple[str, Column]]] = {}  # names in a plan, filled by evaluation
        self.supplied = job.supplied or tuple(family for family in FAMILIES if family not in ("application", "linkage"))

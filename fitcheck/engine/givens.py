"""What a plan is given for the kits of a tile, each with where it comes from: fields, assumptions, rules, or the train itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import Part
from fitcheck.engine.columns import Column, Context
from fitcheck.engine.margins import margin_rules, margins_of
from fitcheck.engine.states import NOT_GIVEN
from fitcheck.physics.springs import Spring, diaphragm_load, load_curve
from fitcheck.profile import Rule

Array = npt.NDArray[np.float64]
States = npt.NDArray[np.uint8]
Rows = npt.NDArray[np.intp]
Lacks = npt.NDArray[np.bool_]

_BEARING_FIELDS = ("height", "bore", "face_diameter", "load_rating", "speed_rating")
_ASSUMED = ("air", "ambient_pressure", "slope", "wear_between_adjustments", "foot_limit", "warming")
_LINKAGE = tuple(f"linkage_{field}" for field in ("ratio", "efficiency", "stiffness", "free_play"))
_MAY_LACK = frozenset(("worn_clamp_load", *_LINKAGE))
_COMPENSATED = "pressure_plate.wear_compensated"
# m: a diaphragm takes over the load of a disc without cushion on this travel, as good as at once; a profile may allow such kits
_RIGID = 1e-9
_CUSHION = ("disc.cushion_travel", "disc.cushion_curve.travel", "disc.cushion_curve.clamp")


@dataclass(frozen=True)
class Tile:
    """Kits of one application, cover, train and way of resting: the product of its axes.

    Families that share an axis have row arrays of equal length, already paired; all families on one axis make plain rows.
    `rows` may name covers too, all of the kind of `cover`; without them the tile has that one.
    """

    application: int
    cover: int
    train: str
    rest: str
    rows: Mapping[str, Rows]
    axis: Mapping[str, int]
    ndim: int

    @property
    def shape(self) -> tuple[int, ...]:
        """Kits along each axis."""
        shape = [1] * self.ndim
        for family, rows in self.rows.items():
            shape[self.axis[family]] = len(rows)
        return tuple(shape)


class Givens:
    """What the plan is given: columns on their axes, the cover's spring, assumptions and margins."""

    def __init__(self, context: Context, tile: Tile) -> None:
        self.context, self.tile = context, tile
        every = context.parts["pressure_plate"]
        self.plate = every[tile.cover]
        self.plates = [every[row].values for row in tile.rows.get("pressure_plate", np.array([tile.cover])).tolist()]
        self.application = context.parts["application"][tile.application]
        self.spring_kind = "diaphragm" if "diaphragm" in self.plate.values else "curve"
        kind = (tile.train, self.spring_kind)
        if kind not in context.named:
            context.named[kind] = self._columns()
        self.columns = context.named[kind]
        self.constants = self._constants()
        self.names = {*self.columns, *self.constants, "spring", "spring_worn", "fork_return_force"}

    def _columns(self) -> dict[str, tuple[str, Column]]:
        """Name in the plan -> family and column."""
        columns = self.context.columns
        found = {
            name: (family, column)
            for family in ("application", "pedal", "master", "line", "fluid", "pressure_plate", "disc")
            for name, column in columns[family].items()
        }
        if self.tile.train == "external":
            found |= {
                name: (family, column) for family in ("slave", "fork", "bearing") for name, column in columns[family].items()
            }
        else:
            found |= self._concentric(columns["concentric"])
        hours = "application_hours_slave" if self.tile.train == "external" else "application_hours_gearbox"
        found["slave_hours"] = ("application", columns["application"][hours])
        if self.spring_kind == "diaphragm":
            found |= {
                name.removeprefix("pressure_plate_"): pair
                for name, pair in found.items()
                if name.startswith("pressure_plate_diaphragm_")
            }
        return found

    def _concentric(self, columns: Mapping[str, Column]) -> dict[str, tuple[str, Column]]:
        found = {}
        for name, column in columns.items():
            field = name.removeprefix("concentric_")
            found["slave_" + field if name.startswith("concentric_") else name] = ("concentric", column)
            if field in _BEARING_FIELDS:
                found["bearing_" + field] = ("concentric", column)
        return found

    def _constants(self) -> dict[str, Any]:
        assumptions = self.context.profile.assumptions
        constants: dict[str, Any] = {name: getattr(assumptions, name) for name in _ASSUMED}
        constants |= margins_of(self.context.profile.rules, self.application.id, self.tile.train)
        if self.tile.train == "concentric":
            one = np.ones((1,) * self.tile.ndim)
            constants |= {"fork_ratio": one, "fork_efficiency": one, "fork_give": 0.0 * one, "fork_return_force": 0.0 * one}
        elif self.tile.rest == "contact":
            constants["fork_return_force"] = np.zeros((1,) * self.tile.ndim)
        if self.spring_kind == "curve":
            constants |= self._curve_cover()
        return constants | self._linkage()

    def _curve_cover(self) -> dict[str, Array]:
        worn = "clamp_load" if self._compensated else "worn_clamp_load"
        return {
            "cover_ratio": self._of_covers(lambda plate: plate["lever_ratio"]),
            "clamp_load": self._of_covers(lambda plate: plate["clamp_load"]),
            "worn_clamp_load": self._of_covers(lambda plate: plate.get(worn, np.nan)),
        }

    def _linkage(self) -> dict[str, Array]:
        values = self.linkage.values if self.linkage else {}
        return {name: self._scalar(values.get(name.removeprefix("linkage_"), np.nan)) for name in _LINKAGE}

    def _scalar(self, number: float) -> Array:
        return np.full((1,) * self.tile.ndim, float(number))

    def _of_covers(self, read: Callable[[Mapping[str, Any]], float]) -> Array:
        """A number of every cover, on the axis of the covers."""
        shape = [1] * self.tile.ndim
        shape[self.tile.axis.get("pressure_plate", 0)] = len(self.plates)
        return np.array([read(plate) for plate in self.plates], float).reshape(shape)

    def load(self, name: str) -> tuple[Any, States | None, tuple[str, Lacks] | None]:
        """A given with its state; where a field is missing, which, and in which kits."""
        if name in ("spring", "spring_worn"):
            return self._springs[0 if name == "spring" else 1], None, None
        if name in self.constants:
            number, may_lack = self.constants[name], name in _MAY_LACK
        elif name == "fork_return_force":
            number, may_lack = self._placed("application_fork_return_force"), False
        else:
            number, may_lack = self._placed(name), self.columns[name][1].has_gaps
        if not may_lack or not (lacks := np.isnan(number)).any():
            return number, None, None
        lacks = np.asarray(lacks.reshape((-1, *lacks.shape[-self.tile.ndim :])).any(axis=0))
        return number, np.where(lacks, np.uint8(NOT_GIVEN), np.uint8(0)), (self._missing(name), lacks)

    def _missing(self, name: str) -> str:
        """The field that a person would have to give."""
        if name in _LINKAGE:
            return "application.linkage"
        return "pressure_plate.worn_clamp_load" if name in self.constants else self.columns[name][1].field

    def _placed(self, name: str) -> Array:
        family, column = self.columns[name]
        fixed = {"application": self.tile.application, "pressure_plate": self.tile.cover}
        if family not in self.tile.rows and family in fixed:
            picked, axis = column.pick(np.array([fixed[family]])), 0
        else:
            picked, axis = column.pick(self.tile.rows[family]), self.tile.axis[family]
        shape = [1] * self.tile.ndim
        shape[axis] = picked.shape[-1]
        placed = picked.reshape((*picked.shape[:-1], *shape))
        return np.maximum(placed, _RIGID) if name == "disc_cushion_travel" and self.spring_kind == "diaphragm" else placed

    @cached_property
    def _springs(self) -> tuple[Spring, Spring]:
        """What the fingers push against, new and fully worn; the same where nothing is known of the worn one."""
        if self.spring_kind == "diaphragm":
            wear = self._placed("disc_wear_allowance")
            new = self._diaphragm(0.0 * wear)
            return new, new if self._compensated else self._diaphragm(wear)
        new = self._curve("release_load")
        return new, self._curve("worn_release_load") if self._worn_known else new

    def _curve(self, field: str) -> Spring:
        curves = [plate[field] for plate in self.plates]
        most = max(len(curve["travel"]) for curve in curves)

        def padded(key: str) -> Array:
            """Points on a leading axis; a shorter curve stays at its last one, which it keeps anyway."""
            rows = [[*curve[key], *[curve[key][-1]] * (most - len(curve[key]))] for curve in curves]
            return np.moveaxis(np.array(rows, float), 1, 0)

        if len(curves) == 1:
            return load_curve(padded("travel")[:, 0], padded("load")[:, 0], self.tile.ndim)
        shape = (most, *self._of_covers(lambda _: 0.0).shape)
        return load_curve(padded("travel").reshape(shape), padded("load").reshape(shape), self.tile.ndim)

    def _diaphragm(self, wear: Array) -> Spring:
        def of_spring(key: str) -> Array:
            return self._of_covers(lambda plate: plate["diaphragm"][key])

        tip, pivot, load = (of_spring(f"{circle}_radius") for circle in ("tip", "pivot", "load"))
        keys = [key for key in self.plate.values["diaphragm"] if key not in ("tip_radius", "set_deflection")]
        return diaphragm_load(
            {key: of_spring(key) for key in keys},
            of_spring("set_deflection"),
            np.abs(pivot - tip) / np.abs(load - pivot),
            self._of_covers(lambda plate: plate["lift_loss"]),
            wear,
            self._placed("disc_cushion_travel"),
            self._placed("disc_cushion_share"),
            self._placed("disc_cushion_clamp"),
        )

    @property
    def worn_unknown(self) -> bool:
        """Whether wear changes the cover's load in a way that nobody told."""
        return self.spring_kind == "curve" and not self._worn_known and not self._compensated

    @property
    def _worn_known(self) -> bool:
        return "worn_release_load" in self.plate.values and not self._compensated

    @property
    def _compensated(self) -> bool:
        return bool(self.plate.values.get("wear_compensated"))

    @cached_property
    def linkage(self) -> Part | None:
        """The old linkage of the application, if the catalog has it."""
        return self.context.catalog.part("linkage", self.application.values.get("linkage", ""))

    @cached_property
    def _asking(self) -> dict[str, Rule | None]:
        return margin_rules(self.context.profile.rules, self.application.id, self.tile.train)

    # --- where it comes from

    def origins(self, name: str) -> tuple[str, ...]:
        """What a given is made from: `family.key` with `*` for each member of a list, `assumptions.key`, or `rules.name`.

        Nothing where the train itself says what it is. Of a field that is left out, the column names what stands in for it.
        """
        if name in self.columns and name not in self.constants:
            return self.columns[name][1].fields
        return tuple(self._constant_origins(name))

    def _constant_origins(self, name: str) -> Iterator[str]:
        if name in ("spring", "spring_worn"):
            yield from self._spring_origins(worn=name == "spring_worn")
        elif name in _ASSUMED:
            yield f"assumptions.{name}"
        elif name in self._asking:
            rule = self._asking[name]
            yield from () if rule is None else (f"rules.{rule.name}",)
        elif name in _LINKAGE:
            yield f"linkage.{name.removeprefix('linkage_')}" if self.linkage else "application.linkage"
        elif name == "fork_return_force" and name not in self.constants:
            yield "application.fork_return_force"
        elif name in ("cover_ratio", "clamp_load", "worn_clamp_load"):
            yield from self._cover_origins(name)

    def _cover_origins(self, name: str) -> Iterator[str]:
        if name == "worn_clamp_load":
            yield from ("pressure_plate.clamp_load" if self._compensated else "pressure_plate.worn_clamp_load", _COMPENSATED)
        else:
            yield {"cover_ratio": "pressure_plate.lever_ratio"}.get(name, f"pressure_plate.{name}")

    def _spring_origins(self, worn: bool) -> Iterator[str]:
        if self.spring_kind == "curve":
            yield f"pressure_plate.{'worn_release_load' if worn and self._worn_known else 'release_load'}"
        else:
            yield from (f"pressure_plate.diaphragm.{key}" for key in self.plate.values["diaphragm"])
            yield from ("pressure_plate.lift_loss", *_CUSHION)
            yield from ("disc.wear_allowance",) if worn and not self._compensated else ()
        yield from (_COMPENSATED,) if worn else ()

    def totals(self, total: str) -> dict[str, str]:
        """What is summed up for `cost` or `mass`: family and given, of the parts supplied."""
        there = (*self.tile.rows, "pressure_plate", "application")
        return {
            family: f"{'slave' if family == 'concentric' else family}_{total}"
            for family in self.context.supplied
            if family in there
        }

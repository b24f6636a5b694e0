"""Kits to numbers: columns on their axes, the plan of metrics run over them, states kept beside the values."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from fitcheck.engine.columns import Column, Context
from fitcheck.engine.margins import margins_of
from fitcheck.engine.plan import Plan, PlanError, Step
from fitcheck.engine.states import ABSENT, CANNOT, NOT_GIVEN, VALUE
from fitcheck.engine.table import METRICS
from fitcheck.engine.trains import NEW_AND_WORN, REASONS, plan_for
from fitcheck.physics.springs import Spring, diaphragm_load, load_curve

Array = npt.NDArray[np.float64]
States = npt.NDArray[np.uint8]
Rows = npt.NDArray[np.intp]

_BEARING_FIELDS = ("height", "bore", "face_diameter", "load_rating", "speed_rating")


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


class Values:
    """Evaluated quantities with their states, and where the states come from."""

    def __init__(self, plan: Plan, tile: Tile) -> None:
        """Start empty; `evaluate` fills it."""
        self.plan, self.tile = plan, tile
        self.numbers: dict[str, Any] = {}
        self.states: dict[str, States | None] = {}
        self.lacking: dict[str, list[tuple[str, npt.NDArray[np.bool_]]]] = {}  # given -> (field, where)
        self.failing: dict[str, npt.NDArray[np.bool_]] = {}  # step -> where it fails by itself
        self.remarks: list[tuple[str, npt.NDArray[np.bool_]]] = []
        self._known_roots: dict[str, frozenset[str]] = {}
        self.shims: Sequence[Sequence[tuple[float, ...]]] = ()  # stacks of each concentric, as `shim_choice` counts them

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Metrics that were evaluated and exist on this train."""
        return tuple(name for name in METRICS if name in self.numbers)

    def number(self, name: str) -> Array:
        """SI values, broadcastable to the tile; of no meaning where the state is not VALUE."""
        return np.asarray(self.numbers[name])

    def state(self, name: str) -> States | None:
        """States, broadcastable to the tile; None where every one is VALUE."""
        return self.states[name]

    def missing_fields(self, name: str) -> list[tuple[str, npt.NDArray[np.bool_]]]:
        """Which optional fields the metric lacks, and where."""
        found = [lack for given in sorted(self._roots(name)) for lack in self.lacking.get(given, ())]
        return list({field: (field, where) for field, where in found}.values())

    def causes(self, name: str) -> list[tuple[str, npt.NDArray[np.bool_]]]:
        """Why the metric cannot be computed, and where."""
        roots = self._roots(name)
        return [(REASONS[step], where) for step, where in self.failing.items() if step in roots]

    def _roots(self, name: str) -> frozenset[str]:
        if name not in self._known_roots:
            self._known_roots[name] = self.plan.ancestors(name)
        return self._known_roots[name]


def evaluate(
    context: Context, tile: Tile, wanted: Collection[str] | None = None, held: Mapping[str, Array] | None = None
) -> Values:
    """All metrics of a tile, or those wanted with what they rest on.

    A quantity that is `held` keeps that number where there is one, whatever its equation gives: not-a-number holds nothing.
    """
    givens = _Givens(context, tile)
    plan = plan_for(tile.train, tile.rest, givens.spring_kind, frozenset(givens.names))
    steps = plan.steps if wanted is None else plan.for_names([name for name in wanted if name not in _TOTALS])
    values = Values(plan, tile)
    # places where a field is missing carry not-a-number through the equations; their state tells, no warning is needed
    with np.errstate(all="ignore"):
        for step in steps:
            _run(step, values, givens)
            if held and step.name in held:
                values.numbers[step.name] = np.where(np.isnan(held[step.name]), values.numbers[step.name], held[step.name])
    _add_totals(givens, values, wanted)
    _add_absent(tile, values, wanted)
    _add_remarks(givens, values)
    values.shims = context.shims_of
    return values


def _run(step: Step, values: Values, givens: _Givens) -> None:
    inputs = {}
    state: States | None = None
    for name in step.inputs:
        if name not in values.numbers:
            values.numbers[name], values.states[name] = givens.load(name, values)
        inputs[name] = values.numbers[name]
        # what does not exist (a stop that is not needed) keeps nothing else from existing
        if name not in _MAY_NOT_EXIST:
            state = _worse(state, values.states[name])
    if state is not None and state.all():
        values.numbers[step.name], values.states[step.name] = np.full((1,) * values.tile.ndim, np.nan), state
        return
    number = step.function(**inputs)
    values.numbers[step.name] = number
    values.states[step.name] = _own_state(step.name, number, state, values)


def _worse(first: States | None, second: States | None) -> States | None:
    if first is None or second is None:
        return second if first is None else first
    return np.maximum(first, second)


def _own_state(name: str, number: Any, state: States | None, values: Values) -> States | None:
    metric = METRICS.get(name)
    blank = metric is not None and metric.blank_where != ""
    if not blank and name not in REASONS:
        return state
    failed = np.isnan(number)
    if state is not None:
        failed = failed & (state == 0)
    if not failed.any():
        return state
    if not blank:
        values.failing[name] = failed
    own = np.where(failed, np.uint8(ABSENT if blank else CANNOT), np.uint8(0))
    return own if state is None else np.maximum(own, state)


class _Givens:
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
        names = ("air", "ambient_pressure", "slope", "wear_between_adjustments", "foot_limit", "warming")
        constants: dict[str, Any] = {name: getattr(assumptions, name) for name in names}
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
        def worn(plate: Mapping[str, Any]) -> float:
            return float(plate["clamp_load"] if plate.get("wear_compensated") else plate.get("worn_clamp_load", np.nan))

        return {
            "cover_ratio": self._of_covers(lambda plate: plate["lever_ratio"]),
            "clamp_load": self._of_covers(lambda plate: plate["clamp_load"]),
            "worn_clamp_load": self._of_covers(worn),
        }

    def _linkage(self) -> dict[str, Array]:
        linkage = self.context.catalog.part("linkage", self.application.values.get("linkage", ""))
        values = linkage.values if linkage else {}
        return {
            f"linkage_{field}": self._scalar(values.get(field, np.nan))
            for field in ("ratio", "efficiency", "stiffness", "free_play")
        }

    def _scalar(self, number: float) -> Array:
        return np.full((1,) * self.tile.ndim, float(number))

    def _of_covers(self, read: Callable[[Mapping[str, Any]], float]) -> Array:
        """A number of every cover, on the axis of the covers."""
        shape = [1] * self.tile.ndim
        shape[self.tile.axis.get("pressure_plate", 0)] = len(self.plates)
        return np.array([read(plate) for plate in self.plates], float).reshape(shape)

    def load(self, name: str, values: Values) -> tuple[Any, States | None]:
        """A given with its state; where fields are missing it is noted which."""
        if name in ("spring", "spring_worn"):
            return self._springs[0 if name == "spring" else 1], None
        if name in self.constants:
            number = self.constants[name]
            field = _CONSTANT_FIELDS.get(name, "")
        elif name == "fork_return_force":
            number, field = self._placed("application_fork_return_force"), ""
        else:
            column = self.columns[name][1]
            number, field = self._placed(name), column.field if column.has_gaps else ""
        if not field or not (lacks := np.isnan(number)).any():
            return number, None
        lacks = np.asarray(lacks.reshape((-1, *lacks.shape[-self.tile.ndim :])).any(axis=0))
        values.lacking[name] = [(field, lacks)]
        return number, np.where(lacks, np.uint8(NOT_GIVEN), np.uint8(0))

    def _placed(self, name: str) -> Array:
        family, column = self.columns[name]
        fixed = {"application": self.tile.application, "pressure_plate": self.tile.cover}
        if family not in self.tile.rows and family in fixed:
            picked, axis = column.pick(np.array([fixed[family]])), 0
        else:
            picked, axis = column.pick(self.tile.rows[family]), self.tile.axis[family]
        shape = [1] * self.tile.ndim
        shape[axis] = picked.shape[-1]
        return picked.reshape((*picked.shape[:-1], *shape))

    @cached_property
    def _springs(self) -> tuple[Spring, Spring]:
        """What the fingers push against, new and fully worn; the same where nothing is known of the worn one."""
        plate = self.plate.values
        if self.spring_kind == "diaphragm":
            wear = self._placed("disc_wear_allowance")
            new = self._diaphragm(0.0 * wear)
            return new, new if plate.get("wear_compensated") else self._diaphragm(wear)
        new = self._curve("release_load")
        worn_known = "worn_release_load" in plate and not plate.get("wear_compensated")
        return new, self._curve("worn_release_load") if worn_known else new

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
        plate = self.plate.values
        return self.spring_kind == "curve" and "worn_release_load" not in plate and not plate.get("wear_compensated")


_CONSTANT_FIELDS = {
    "worn_clamp_load": "pressure_plate.worn_clamp_load",
    **{f"linkage_{field}": "application.linkage" for field in ("ratio", "efficiency", "stiffness", "free_play")},
}
_MAY_NOT_EXIST = frozenset(name for name, metric in METRICS.items() if metric.blank_where)
_TOTALS = ("cost", "mass")


def _add_totals(givens: _Givens, values: Values, wanted: Collection[str] | None) -> None:
    """Sums over the parts supplied; a part without the number makes the sum not given."""
    tile = givens.tile
    families = [family for family in givens.context.supplied if family in (*tile.rows, "pressure_plate", "application")]
    for total in _TOTALS:
        if wanted is not None and total not in wanted:
            continue
        number, state = np.zeros((1,) * tile.ndim), None
        for family in families:
            name = f"{'slave' if family == 'concentric' else family}_{total}"
            column, lacks = givens.load(name, values)
            number, state = number + column, _worse(state, lacks)
        values.numbers[total], values.states[total] = number, state
        values.lacking[total] = [
            lack
            for family in families
            for lack in values.lacking.get(f"{'slave' if family == 'concentric' else family}_{total}", ())
        ]


def _add_absent(tile: Tile, values: Values, wanted: Collection[str] | None) -> None:
    """Metrics of this train that do not exist under this cover; one that the plan forgot is a fault of our own."""
    one = (1,) * tile.ndim
    for name, metric in METRICS.items():
        if metric.exists(tile.train, tile.rest) and name not in values.numbers and (wanted is None or name in wanted):
            if not metric.blank_where:
                raise PlanError(f"no function gives the metric `{name}` on the {tile.train} train")
            values.numbers[name], values.states[name] = np.full(one, np.nan), np.full(one, ABSENT, np.uint8)


def _add_remarks(givens: _Givens, values: Values) -> None:
    if "with_stop" in values.numbers:
        values.remarks.append(("with stop", np.asarray(values.numbers["with_stop"] > 0.0)))
    if givens.worn_unknown:
        states = {name: values.states[name] for name in NEW_AND_WORN if name in values.numbers}
        names = [name for name, state in states.items() if state is None or (state == VALUE).any()]
        everywhere = np.ones((1,) * givens.tile.ndim, dtype=bool)
        values.remarks.append((f"new only: {', '.join(names)}", everywhere))

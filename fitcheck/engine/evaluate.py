"""Kits to numbers: columns on their axes, the plan of metrics run over them, states kept beside the values."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from fitcheck.engine.columns import Context
from fitcheck.engine.givens import Array, Givens, States, Tile
from fitcheck.engine.plan import Plan, PlanError, Step
from fitcheck.engine.states import ABSENT, CANNOT, VALUE
from fitcheck.engine.table import METRICS
from fitcheck.engine.trains import NEW_AND_WORN, REASONS, plan_for

__all__ = ["TOTALS", "Tile", "Values", "evaluate"]

TOTALS = ("cost", "mass")  # sums over the parts supplied


class Values:
    """Evaluated quantities with their states, and where the states come from."""

    def __init__(self, plan: Plan, givens: Givens) -> None:
        """Start empty; `evaluate` fills it."""
        self.plan, self.givens, self.tile = plan, givens, givens.tile
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

    def given(self, name: str) -> tuple[Any, States | None]:
        """A given with its state; where fields are missing it is noted which."""
        number, state, lacks = self.givens.load(name)
        if lacks is not None:
            self.lacking[name] = [lacks]
        return number, state

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
    givens = Givens(context, tile)
    plan = plan_for(tile.train, tile.rest, givens.spring_kind, frozenset(givens.names))
    steps = plan.steps if wanted is None else plan.for_names([name for name in wanted if name not in TOTALS])
    values = Values(plan, givens)
    # places where a field is missing carry not-a-number through the equations; their state tells, no warning is needed
    with np.errstate(all="ignore"):
        for step in steps:
            _run(step, values)
            if held and step.name in held:
                values.numbers[step.name] = np.where(np.isnan(held[step.name]), values.numbers[step.name], held[step.name])
    _add_totals(values, wanted)
    _add_absent(tile, values, wanted)
    _add_remarks(values)
    values.shims = context.shims_of
    return values


def _run(step: Step, values: Values) -> None:
    inputs = {}
    state: States | None = None
    for name in step.inputs:
        if name not in values.numbers:
            values.numbers[name], values.states[name] = values.given(name)
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


_MAY_NOT_EXIST = frozenset(name for name, metric in METRICS.items() if metric.blank_where)


def _add_totals(values: Values, wanted: Collection[str] | None) -> None:
    """Sums over the parts supplied; a part without the number makes the sum not given."""
    for total in TOTALS:
        if wanted is not None and total not in wanted:
            continue
        names = values.givens.totals(total).values()
        number, state = np.zeros((1,) * values.tile.ndim), None
        for name in names:
            column, lacks = values.given(name)
            number, state = number + column, _worse(state, lacks)
        values.numbers[total], values.states[total] = number, state
        values.lacking[total] = [lack for name in names for lack in values.lacking.get(name, ())]


def _add_absent(tile: Tile, values: Values, wanted: Collection[str] | None) -> None:
    """Metrics of this train that do not exist under this cover; one that the plan forgot is a fault of our own."""
    one = (1,) * tile.ndim
    for name, metric in METRICS.items():
        if metric.exists(tile.train, tile.rest) and name not in values.numbers and (wanted is None or name in wanted):
            if not metric.blank_where:
                raise PlanError(f"no function gives the metric `{name}` on the {tile.train} train")
            values.numbers[name], values.states[name] = np.full(one, np.nan), np.full(one, ABSENT, np.uint8)


def _add_remarks(values: Values) -> None:
    if "with_stop" in values.numbers:
        values.remarks.append(("with stop", np.asarray(values.numbers["with_stop"] > 0.0)))
    if values.givens.worn_unknown:
        states = {name: values.states[name] for name in NEW_AND_WORN if name in values.numbers}
        names = [name for name, state in states.items() if state is None or (state == VALUE).any()]
        everywhere = np.ones((1,) * values.tile.ndim, dtype=bool)
        values.remarks.append((f"new only: {', '.join(names)}", everywhere))

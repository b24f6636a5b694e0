"""Figures of a frozen kit that are not what they were, and which of them weigh most: those that turned or moved a rule."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite, isinf, isnan

import numpy as np

from fitcheck.bundle_file import Bundle
from fitcheck.engine.result import KitTable
from fitcheck.engine.states import CANNOT, VALUE
from fitcheck.engine.table import METRICS, Metric
from fitcheck.engine.verdict import BREAKS, applicable, headroom_of
from fitcheck.profile import Profile, Rule
from fitcheck.quantities import Quantity, from_unit

UNMOVED = 1e-6  # share of a figure by which it may differ and still be the same


@dataclass(frozen=True)
class Move:
    """A figure that is not what it was, in SI; None where there was or is none."""

    metric: str
    then: float | None
    now: float | None
    state: int  # of the figure now
    setup: bool  # whether a fitter sets it
    rule: str = ""  # of the rules that judge it, the one that it moved most; blank where none does
    headrooms: tuple[float, float] | None = None  # by that rule, then and now; None where there was or is no figure

    @property
    def turned(self) -> bool:
        """Whether its rule is broken and was kept, or the other way round, or has lost or won what it judges."""
        broken = [headroom < BREAKS for headroom in self.headrooms or ()]
        return bool(self.rule) and (not broken or broken[0] != broken[1])


def moves_of(bundle: Bundle, profile: Profile, table: KitTable) -> tuple[Move, ...]:
    """What moved, by today's rules: figures whose rule turned, then the others that rules judge, then the rest.

    Judged figures stand by how far their headroom moved below what the profile takes for enough, then above; the rest by
    the share by which they did. The first moved most.
    """
    rules = applicable(profile, bundle.parts["application"], bundle.train)
    enough = profile.headroom_enough
    return tuple(sorted((_judged(move, rules, enough) for move in _moves(bundle, table)), key=lambda one: _weight(one, enough)))


def _judged(move: Move, rules: Sequence[Rule], enough: float) -> Move:
    """The move with the rule for which it weighs most."""
    by_rule = (replace(move, rule=rule.name, headrooms=_headrooms(move, rule)) for rule in rules if rule.metric == move.metric)
    return min(by_rule, key=lambda one: _weight(one, enough), default=move)


def _headrooms(move: Move, rule: Rule) -> tuple[float, float] | None:
    if move.then is None or move.now is None:
        return None
    then, now = headroom_of(rule, np.array([move.then, move.now])).tolist()
    return then, now


def _weight(move: Move, enough: float) -> tuple[bool, bool, float, float]:
    """What weighs more sorts first."""
    if move.headrooms is None:
        return not move.turned, not move.rule, -_share(move), 0.0
    then, now = move.headrooms
    return not move.turned, False, -_distance(min(then, enough), min(now, enough)), -_distance(then, now)


def _distance(one: float, other: float) -> float:
    return 0.0 if one == other else abs(one - other)


def _share(move: Move) -> float:
    """By which part of the larger one a figure moved; without end where there was or is none."""
    if move.then is None or move.now is None or not isfinite(move.then) or not isfinite(move.now):
        return inf
    return abs(move.now - move.then) / max(abs(move.then), abs(move.now))


def _moves(bundle: Bundle, table: KitTable) -> Iterator[Move]:
    """Set-up figures, then all others; a figure that the bundle never held is one that moved only where it holds the rest."""
    for name, then in bundle.setup.items():
        yield from _move(name, then, table, True)
    for name in METRICS if bundle.figures else ():
        if name not in bundle.setup:
            yield from _move(name, bundle.figures.get(name), table, False)


def _move(name: str, then: Quantity | None, table: KitTable, setup: bool) -> Iterator[Move]:
    state, number = int(table.states[name][0]), float(table.metrics[name][0])
    if state == VALUE and isnan(number):  # beyond what a float holds, in a kit that is rejected for it
        state = CANNOT
    now = number if state == VALUE else None
    if not _same(METRICS[name], then, now):
        yield Move(name, None if then is None else then.value, now, state, setup)


def _same(metric: Metric, then: Quantity | None, now: float | None) -> bool:
    """Whether a figure is still what it was: within the tolerance written beside it, or far below what anybody reads."""
    if then is None or now is None:
        return then is None and now is None
    if isinf(then.value) or isinf(now):
        return then.value == now
    digit = from_unit(10.0 ** -(metric.decimals + 3), metric.unit) - from_unit(0.0, metric.unit)
    slack = max(digit, UNMOVED * max(abs(then.value), abs(now))) if then.tolerance is None else then.tolerance + digit
    return abs(now - then.value) <= slack

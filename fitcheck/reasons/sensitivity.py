"""Which catalog numbers move a figure of a kit most, found by evaluating the kit anew with each of them a little off."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fitcheck.catalog.checks import checks
from fitcheck.catalog.convert import within
from fitcheck.catalog.parts import Part
from fitcheck.engine.states import STATE_WORDS, VALUE
from fitcheck.engine.variants import Trials, Variant
from fitcheck.reasons.chain import Chain, spec_of

FIGURES = ("release_margin", "effort_peak", "setup_window")
MOST = 5  # told of each figure
PER_CENT = 0.01
TINY = 1e-9  # a share of the figure below which nothing has moved: rounding


@dataclass(frozen=True)
class Push:
    """A number a little off, down and up: by its own tolerance, or by a hundredth where it has none."""

    part: Part
    key: str
    value: float  # SI
    dimension: str
    step: float  # SI
    by_tolerance: bool


@dataclass(frozen=True)
class Effect:
    """What a push does to a figure: the change in SI on either side, or why there is none."""

    push: Push
    down: float | None
    up: float | None
    why_down: str = ""
    why_up: str = ""

    @property
    def size(self) -> float:
        """The larger change, its sign aside."""
        return max((abs(change) for change in (self.down, self.up) if change is not None), default=0.0)


@dataclass(frozen=True)
class Sensitivity:
    """The numbers that move a figure most, and those that take its value away."""

    metric: str
    value: float | None  # SI; None where there is none to be moved
    effects: tuple[Effect, ...]  # the largest first
    lost: tuple[Effect, ...]  # where a push leaves no value


def sensitivity(chain: Chain, metrics: Sequence[str] = FIGURES) -> tuple[Sensitivity, ...]:
    """All figures at once: the kit as it is and every push are one batch of variants."""
    pushes = tuple(_pushes(chain, metrics))
    sides = [side for push in pushes for side in (_moved(push, -push.step), _moved(push, push.step))]
    variants = [Variant({} if isinstance(side, str) else {side.family: side}) for side in sides]
    trials = chain.bench.tried([Variant(), *variants])
    return tuple(_of(metric, pushes, sides, trials) for metric in metrics)


def _pushes(chain: Chain, metrics: Sequence[str]) -> Iterator[Push]:
    """Every number of a part that one of the figures rests on."""
    leaves = {leaf.id: leaf for metric in metrics for leaf in chain.leaves(metric) if leaf.kind == "field"}
    parts = {f"{part.family} {part.id}": part for part in chain.bench.parts.values()}
    for leaf in leaves.values():
        part = parts.get(leaf.owner)
        for key, value in _numbers(part, leaf.key) if part else ():
            tolerance = part.tolerances.get(key, 0.0) if part else 0.0
            step = tolerance or PER_CENT * abs(value)
            if part and step and spec_of(part, key).get("type") != "integer":  # a number of faces is no measure
                yield Push(part, key, value, leaf.dimension, step, tolerance > 0.0)


def _numbers(part: Part, key: str) -> Iterator[tuple[str, float]]:
    """The number at a key, or those of the list there."""
    value = part.at(key)
    if isinstance(value, tuple):
        yield from ((f"{key}.{row}", each) for row, each in enumerate(value))
    elif isinstance(value, float | int) and not isinstance(value, bool):
        yield key, float(value)


def _moved(push: Push, by: float) -> Part | str:
    """The part with its number moved, or why that cannot be."""
    changed = push.part.having(push.key, push.value + by)
    if not within(spec_of(push.part, push.key), push.value + by):
        return "out of the field's bounds"
    before = {(fault.path, fault.problem) for fault in checks(push.part.family, push.part.values)}
    new = [fault for fault in checks(push.part.family, changed.values) if fault.severity == "error"]
    return "against its other numbers" if any((fault.path, fault.problem) not in before for fault in new) else changed


def _of(metric: str, pushes: Sequence[Push], sides: Sequence[Part | str], trials: Trials) -> Sensitivity:
    numbers, states = trials.draft.metrics[metric], trials.draft.states[metric]
    if states[0] != VALUE or not np.isfinite(numbers[0]):
        return Sensitivity(metric, None, (), ())
    base = float(numbers[0])

    def side(row: int) -> tuple[float | None, str]:
        told = sides[row - 1]
        if isinstance(told, str):
            return None, told
        if not trials.legal[row]:
            return None, f"no longer legal: {', '.join(trials.unmet[row])}"
        if states[row] != VALUE:
            return None, STATE_WORDS[int(states[row])]
        return float(numbers[row]) - base, ""

    effects = []
    for place, push in enumerate(pushes):
        (down, why_down), (up, why_up) = side(2 * place + 1), side(2 * place + 2)
        effects.append(Effect(push, down, up, why_down, why_up))
    ranked = sorted(effects, key=lambda effect: (-effect.size, effect.push.part.family, effect.push.key))
    moving = [effect for effect in ranked if effect.size > TINY * max(abs(base), TINY)]
    lost = [effect for effect in effects if {effect.why_down, effect.why_up} & set(STATE_WORDS[1:])]
    return Sensitivity(metric, base, tuple(moving[:MOST]), tuple(lost))

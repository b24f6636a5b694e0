"""Which catalog numbers move a figure most, for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from fitcheck.engine.table import METRICS, Metric
from fitcheck.quantities import UNITS, to_unit
from fitcheck.reasons.sensitivity import Effect, Push, Sensitivity
from fitcheck.report import words


def sensitivity_lines(found: Iterable[Sensitivity]) -> Iterator[str]:
    """Each figure with the numbers that move it most, the largest first; then those that take its value away."""
    for some in found:
        metric = METRICS[some.metric]
        if some.value is None:
            yield f"{some.metric} has no value that could be moved."
            continue
        yield f"What moves {some.metric} ({words.figure(metric, some.value)}) most:"
        yield from (f"  {_effect(metric, effect)}" for effect in some.effects)
        if not some.effects:
            yield "  no number of the catalog moves it by itself"
        yield from (f"  it has no value any more: {_effect(metric, effect)}" for effect in some.lost)


def _effect(metric: Metric, effect: Effect) -> str:
    push = effect.push
    by = f"{_quantity(push.step, push)} (its tolerance)" if push.by_tolerance else "1 %"
    sides = (("less", effect.down, effect.why_down), ("more", effect.up, effect.why_up))
    told = ", ".join(f"{word}: {_change(metric, change, why)}" for word, change, why in sides)
    return f"{push.part.family} {push.part.id} {push.key} {_quantity(push.value, push)}, by {by} {told}"


def _change(metric: Metric, change: float | None, why: str) -> str:
    if change is None:
        return f"({why})"
    text = words.figure(metric, change, 1)
    return text if text.startswith("-") else f"+{text}"


def _quantity(value: float, push: Push) -> str:
    unit = UNITS.get(push.dimension, ("",))[0]
    return f"{float(to_unit(value, unit)):.5g} {unit}".rstrip()

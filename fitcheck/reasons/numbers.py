"""The numbers of a kit that may be changed one at a time: where each exists, how it is changed, and how far it is sought."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from fitcheck.engine.variants import Bench, Variant
from fitcheck.quantities import from_unit
from fitcheck.reasons.changing import (
    Span,
    clamp,
    clamp_span,
    expansion,
    expansion_note,
    expansion_span,
    free_play,
    line_bore,
    line_bore_span,
    longest_span,
    pedal_with,
    quantity,
    rod,
    rod_end,
    rod_span,
    setting_span,
    shim_span,
    shortest_span,
    slave_with,
    stop_note,
    travel,
    with_clamp,
    with_expansion,
    with_line_bore,
    with_rod,
    with_shim,
)

JUST = 1e-6  # share by which a number keeps off one that it must not reach
FRICTION_LIMIT = 2.0  # the greatest that a catalog may say


def _no_note(bench: Bench) -> str:
    return ""


@dataclass(frozen=True)
class Number:
    """One number in SI with its words; `phrase` has a place for the range that would do."""

    name: str
    family: str  # the part that has it
    phrase: str
    unit: str
    dimension: str
    decimals: int  # that a person would ask for, where the range is wide enough
    present: Callable[[Bench], float]  # not-a-number where the kit has none yet
    span: Callable[[Bench], Span | None]  # from where to where it is sought; None where the kit has no such number
    apply: Callable[[Bench, float], Variant]
    even: bool = True  # whether it is sought in equal steps, or in equal shares
    fitter: bool = False  # whether it is set when fitting; else it is the size of a part to be found
    firm: bool = False  # whether it can go no further than it is sought
    note: Callable[[Bench], str] = _no_note
    inches: bool = False  # whether it is sold by the sixteenth of an inch as well: common practice, no source

    @property
    def step(self) -> float:
        """A step of the last digit that a person would ask for [SI]."""
        return from_unit(10.0**-self.decimals, self.unit)

    def grid(self, span: Span, points: int) -> np.ndarray[Any, np.dtype[np.float64]]:
        """So many values from one end to the other."""
        return np.asarray(np.linspace(*span, points) if self.even else np.geomspace(*span, points))


def numbers_on(bench: Bench) -> dict[str, tuple[Number, Span]]:
    """The numbers of a kit that can be changed, by name, with the range in which each is sought."""
    fixed = staying(bench)
    open_to_change = (number for number in NUMBERS if number.family in bench.parts)
    spans = {
        number.name: (number, number.span(bench)) for number in open_to_change if number.fitter or number.family not in fixed
    }
    return {name: (number, span) for name, (number, span) in spans.items() if span is not None and span[0] < span[1]}


def staying(bench: Bench) -> tuple[str, ...]:
    """Families of the kit whose part stays in the vehicle: it can be set, and no other can be ordered."""
    held = any(fit.kind == "fitted" for fit in bench.profile.fits)
    fitted = bench.application.values.get("fitted", {}) if held else {}
    return tuple(family for family in bench.parts if family in fitted)


def sizes(family: str) -> tuple[Number, ...]:
    """The sizes that a part of a family would be ordered by."""
    return tuple(number for number in NUMBERS if number.family == family and not number.fitter)


# --- a number that stands in the catalog


def _field(
    name: str,
    key: str,
    phrase: str,
    shares: Span = (0.5, 2.0),
    above: str = "",
    at_most: float = np.inf,
    unit: str = "mm",
    dimension: str = "length",
    decimals: int = 1,
    even: bool = False,
    inches: bool = False,
) -> Number:
    """A number of one part, sought from one share of what it is to another."""
    family, _, field = key.partition(".")

    def present(bench: Bench) -> float:
        value = bench.parts[family].at(field)
        return np.nan if value is None else float(value)

    def span(bench: Bench) -> Span | None:
        value, floor = present(bench), float(bench.parts[family].at(above) or 0.0) if above else 0.0
        return (max(value * shares[0], floor * (1.0 + JUST)), min(value * shares[1], at_most)) if value > 0.0 else None

    def apply(bench: Bench, value: float) -> Variant:
        return Variant({family: bench.parts[family].having(field, value)})

    return Number(name, family, phrase, unit, dimension, decimals, present, span, apply, even, inches=inches)


NUMBERS: tuple[Number, ...] = (
    Number(
        "free play",
        "pedal",
        "the pedal's free play set to {}",
        "mm",
        "length",
        1,
        free_play,
        lambda bench: (0.0, 0.3 * travel(bench)),
        partial(pedal_with, "free_play"),
        fitter=True,
    ),
    Number(
        "pedal stop",
        "pedal",
        "a stop at {}",
        "mm",
        "length",
        0,
        travel,
        lambda bench: (0.3 * travel(bench), travel(bench)),
        partial(pedal_with, "travel"),
        fitter=True,
        note=stop_note,
    ),
    Number(
        "lash",
        "slave",
        "the lash set to {}",
        "mm",
        "length",
        1,
        lambda bench: quantity(bench, "setup_target"),
        partial(setting_span, False),
        lambda bench, value: Variant(setting=value),
        fitter=True,
        firm=True,
    ),
    Number(
        "piston out",
        "slave",
        "the piston set out by {}",
        "mm",
        "length",
        1,
        lambda bench: quantity(bench, "setup_target"),
        partial(setting_span, True),
        lambda bench, value: Variant(setting=value),
        fitter=True,
        firm=True,
    ),
    Number(
        "shim",
        "concentric",
        "one more shim of {} on hand",
        "mm",
        "length",
        1,
        lambda bench: np.nan,
        shim_span,
        with_shim,
        fitter=True,
    ),
    _field("pedal ratio", "pedal.ratio", "a pedal of ratio {}", unit="", dimension="ratio", decimals=2),
    _field("pedal travel", "pedal.travel", "a pedal of {} travel", (1.0, 1.6), decimals=0),
    _field("master bore", "master.bore", "a master of {} bore", decimals=2, inches=True),
    _field("master stroke", "master.stroke", "a master of {} stroke", (0.3, 2.5), "cutoff_stroke"),
    _field(
        "reservoir room",
        "master.reservoir_room",
        "a master with {} of room in its reservoir",
        (0.1, 10.0),
        unit="mL",
        dimension="volume",
        decimals=0,
    ),
    Number(
        "hose expansion",
        "line",
        "a hose with an expansion of {}",
        "cc/ft",
        "line_expansion",
        2,
        expansion,
        expansion_span,
        with_expansion,
        even=False,
        note=expansion_note,
    ),
    Number(
        "line bore",
        "line",
        "a line of {} bore throughout",
        "mm",
        "length",
        1,
        line_bore,
        line_bore_span,
        with_line_bore,
        even=False,
    ),
    _field("slave bore", "slave.bore", "a slave of {} bore", decimals=2, inches=True),
    _field("slave stroke", "slave.stroke", "a slave of {} stroke", (0.3, 2.5)),
    _field("slave preload", "slave.preload", "a slave of {} preload", (0.05, 20.0), unit="N", dimension="force", decimals=0),
    Number("rod", "slave", "a rod of fixed length, {}", "mm", "length", 0, rod, rod_span, with_rod),
    Number(
        "longest rod",
        "slave",
        "a rod that reaches {}",
        "mm",
        "length",
        0,
        partial(rod_end, "rod_max"),
        longest_span,
        partial(slave_with, "rod_max"),
    ),
    Number(
        "shortest rod",
        "slave",
        "a rod that can be shortened to {}",
        "mm",
        "length",
        0,
        partial(rod_end, "rod_min"),
        shortest_span,
        partial(slave_with, "rod_min"),
    ),
    _field("fork ratio", "fork.ratio", "a fork of ratio {}", unit="", dimension="ratio", decimals=2),
    _field("bearing height", "bearing.height", "a bearing of {} height", (0.3, 3.0), even=True),
    _field(
        "concentric outer diameter",
        "concentric.outer_diameter",
        "a concentric cylinder of {} outer diameter",
        (0.5, 1.6),
        "inner_diameter",
    ),
    _field("concentric stroke", "concentric.stroke", "a concentric cylinder of {} stroke", (0.3, 2.5)),
    _field("concentric height", "concentric.height", "a concentric cylinder of {} height", (0.5, 1.6), even=True),
    _field(
        "concentric preload",
        "concentric.preload",
        "a concentric cylinder of {} preload",
        (0.05, 20.0),
        unit="N",
        dimension="force",
        decimals=0,
    ),
    Number(
        "clamp load",
        "pressure_plate",
        "a pressure plate of {} clamp load, its release load in proportion",
        "N",
        "force",
        -1,
        clamp,
        clamp_span,
        with_clamp,
        even=False,
    ),
    _field(
        "disc friction",
        "disc.friction",
        "a disc with a friction of {}",
        at_most=FRICTION_LIMIT,
        unit="",
        dimension="ratio",
        decimals=2,
    ),
)

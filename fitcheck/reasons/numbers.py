"""The numbers of a kit that may be changed one at a time: where each exists, how it is changed, and how far it is sought."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from fitcheck.catalog.parts import Part
from fitcheck.engine.variants import Bench, Variant
from fitcheck.quantities import to_unit

Span = tuple[float, float]

JUST = 1e-6  # share by which a number keeps off one that it must not reach
THINNEST = 1e-4  # m, the thinnest shim that is sought
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


def _quantity(bench: Bench, name: str) -> float:
    """A quantity of the kit as it is."""
    return float(np.asarray(bench.values.numbers[name]).reshape(-1)[0])


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

    return Number(name, family, phrase, unit, dimension, decimals, present, span, apply, even)


# --- pedal


def _free_play(bench: Bench) -> float:
    return float(bench.parts["pedal"].at("free_play"))


def _travel(bench: Bench) -> float:
    return float(bench.parts["pedal"].at("travel"))


def _stop_note(bench: Bench) -> str:
    reach = bench.parts["pedal"].at("stop_range")
    if reach is None:
        return "the pedal has no stop of its own that can be set"
    low, high = (f"{to_unit(end, 'mm'):.4g}" for end in reach)
    return f"the pedal's own stop can stand at {low} to {high} mm"


def _pedal_with(field: str, bench: Bench, value: float) -> Variant:
    return Variant({"pedal": bench.parts["pedal"].having(field, value)})


# --- line


def _pieces(bench: Bench, field: str) -> list[Mapping[str, Any]]:
    return [piece for piece in bench.parts["line"].values["pieces"] if piece.get(field) is not None]


def _expansion(bench: Bench) -> float:
    return max((float(piece["expansion"]) for piece in _pieces(bench, "expansion")), default=np.nan)


def _expansion_span(bench: Bench) -> Span | None:
    present = _expansion(bench)
    return None if np.isnan(present) else (0.02 * present, 3.0 * present)


def _expansion_note(bench: Bench) -> str:
    pressures = sorted({float(piece["at_pressure"]) for piece in _pieces(bench, "expansion")})
    told = " and ".join(f"{to_unit(pressure, 'psi'):.4g}" for pressure in pressures)
    return f"stated at {told} psi{', for every hose of the line' if len(_pieces(bench, 'expansion')) > 1 else ''}"


def _line_bore(bench: Bench) -> float:
    return min((float(piece["inner_diameter"]) for piece in _pieces(bench, "inner_diameter")), default=np.nan)


def _line_bore_span(bench: Bench) -> Span | None:
    present = _line_bore(bench)
    return None if np.isnan(present) else (present, 4.0 * present)


def _line_with(change: Callable[[Mapping[str, Any]], Mapping[str, Any]], bench: Bench) -> Variant:
    line = bench.parts["line"]
    return Variant({"line": line.having("pieces", tuple(map(change, line.values["pieces"])))})


def _with_expansion(bench: Bench, value: float) -> Variant:
    return _line_with(lambda piece: {**piece, "expansion": value} if "expansion" in piece else piece, bench)


def _with_line_bore(bench: Bench, value: float) -> Variant:
    def widened(piece: Mapping[str, Any]) -> Mapping[str, Any]:
        own = piece.get("inner_diameter")
        return piece if own is None else {**piece, "inner_diameter": max(own, value)}

    return _line_with(widened, bench)


# --- rod, lash, shims


def _rod(bench: Bench) -> float:
    return _quantity(bench, "rod_length")


def _rod_span(bench: Bench) -> Span:
    """As far either way as the piston could follow."""
    length, stroke = _rod(bench), float(bench.parts["slave"].at("stroke"))
    return max(length - stroke, 0.01 * length), length + stroke


def _with_rod(bench: Bench, value: float) -> Variant:
    return Variant({"slave": bench.parts["slave"].having("rod_min", value).having("rod_max", value)})


def _rod_end(key: str, bench: Bench) -> float:
    return float(bench.parts["slave"].at(key))


def _longest_span(bench: Bench) -> Span:
    return _rod_end("rod_max", bench), _rod_end("rod_max", bench) + float(bench.parts["slave"].at("stroke"))


def _shortest_span(bench: Bench) -> Span:
    present = _rod_end("rod_min", bench)
    return max(present - float(bench.parts["slave"].at("stroke")), 0.01 * present), present


def _slave_with(field: str, bench: Bench, value: float) -> Variant:
    return Variant({"slave": bench.parts["slave"].having(field, value)})


def _setting_span(rests: bool, bench: Bench) -> Span | None:
    """What the slave's rod can reach, bottomed or in contact, within its stroke."""
    slave = bench.parts["slave"]
    if (slave.at("preload") > 0.0) != rests:
        return None
    return max(0.0, _quantity(bench, "setting_reach_low")), min(slave.at("stroke"), _quantity(bench, "setting_reach_high"))


def _shim_span(bench: Bench) -> Span | None:
    """Up to one that fills the whole gap."""
    return (THINNEST, _quantity(bench, "gap_without_shims")) if bench.profile.assumptions.shim_count else None


def _with_shim(bench: Bench, value: float) -> Variant:
    concentric = bench.parts["concentric"]
    return Variant({"concentric": concentric.having("shims", (*concentric.at("shims"), value))})


# --- cover


def _clamp(bench: Bench) -> float:
    return _quantity(bench, "clamp_load")


def _clamp_span(bench: Bench) -> Span | None:
    return (0.5 * _clamp(bench), 2.0 * _clamp(bench)) if _clamp(bench) > 0.0 else None


def _with_clamp(bench: Bench, value: float) -> Variant:
    """All loads of the cover in proportion; those of a diaphragm by the stiffness of its sheet."""
    cover, share = bench.parts["pressure_plate"], value / _clamp(bench)
    for key, load in _loads(cover):
        cover = cover.having(key, tuple(each * share for each in load) if isinstance(load, tuple) else load * share)
    return Variant({"pressure_plate": cover})


def _loads(cover: Part) -> Iterator[tuple[str, Any]]:
    keys = ("clamp_load", "worn_clamp_load", "release_load.load", "worn_release_load.load", "diaphragm.modulus")
    return ((key, cover.at(key)) for key in keys if cover.at(key) is not None)


NUMBERS: tuple[Number, ...] = (
    Number(
        "free play",
        "pedal",
        "set the pedal's free play to {}",
        "mm",
        "length",
        1,
        _free_play,
        lambda bench: (0.0, 0.3 * _travel(bench)),
        partial(_pedal_with, "free_play"),
        fitter=True,
    ),
    Number(
        "pedal stop",
        "pedal",
        "a stop at {}",
        "mm",
        "length",
        0,
        _travel,
        lambda bench: (0.3 * _travel(bench), _travel(bench)),
        partial(_pedal_with, "travel"),
        fitter=True,
        note=_stop_note,
    ),
    Number(
        "lash",
        "slave",
        "set the lash to {}",
        "mm",
        "length",
        1,
        lambda bench: _quantity(bench, "setup_target"),
        partial(_setting_span, False),
        lambda bench, value: Variant(setting=value),
        fitter=True,
        firm=True,
    ),
    Number(
        "piston out",
        "slave",
        "set the piston out by {}",
        "mm",
        "length",
        1,
        lambda bench: _quantity(bench, "setup_target"),
        partial(_setting_span, True),
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
        _shim_span,
        _with_shim,
        fitter=True,
    ),
    _field("pedal ratio", "pedal.ratio", "a pedal of ratio {}", unit="", dimension="ratio", decimals=2),
    _field("pedal travel", "pedal.travel", "a pedal of {} travel", (1.0, 1.6), decimals=0),
    _field("master bore", "master.bore", "a master of {} bore", decimals=2),
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
        "a hose with {}",
        "cc/ft",
        "line_expansion",
        2,
        _expansion,
        _expansion_span,
        _with_expansion,
        even=False,
        note=_expansion_note,
    ),
    Number(
        "line bore",
        "line",
        "a line of {} bore throughout",
        "mm",
        "length",
        1,
        _line_bore,
        _line_bore_span,
        _with_line_bore,
        even=False,
    ),
    _field("slave bore", "slave.bore", "a slave of {} bore", decimals=2),
    _field("slave stroke", "slave.stroke", "a slave of {} stroke", (0.3, 2.5)),
    _field("slave preload", "slave.preload", "a slave of {} preload", (0.05, 20.0), unit="N", dimension="force", decimals=0),
    Number("rod", "slave", "a rod of fixed length, {}", "mm", "length", 0, _rod, _rod_span, _with_rod),
    Number(
        "longest rod",
        "slave",
        "a rod that reaches {}",
        "mm",
        "length",
        0,
        partial(_rod_end, "rod_max"),
        _longest_span,
        partial(_slave_with, "rod_max"),
    ),
    Number(
        "shortest rod",
        "slave",
        "a rod that can be shortened to {}",
        "mm",
        "length",
        0,
        partial(_rod_end, "rod_min"),
        _shortest_span,
        partial(_slave_with, "rod_min"),
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
        _clamp,
        _clamp_span,
        _with_clamp,
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

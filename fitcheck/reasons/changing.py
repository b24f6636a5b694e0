"""How a number of a kit is read, how far it is sought, and how a kit with another one is made; SI throughout."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

import numpy as np

from fitcheck.catalog.parts import Part
from fitcheck.engine.variants import Bench, Variant
from fitcheck.quantities import to_unit

Span = tuple[float, float]

THINNEST = 1e-4  # m, the thinnest shim that is sought


def quantity(bench: Bench, name: str) -> float:
    """A quantity of the kit as it is."""
    return float(np.asarray(bench.values.numbers[name]).reshape(-1)[0])


# --- pedal


def free_play(bench: Bench) -> float:
    """Free play at the pad [m]."""
    return float(bench.parts["pedal"].at("free_play"))


def travel(bench: Bench) -> float:
    """Travel of the pad to its stop [m]."""
    return float(bench.parts["pedal"].at("travel"))


def stop_note(bench: Bench) -> str:
    """Where the pedal's own stop can stand, in words."""
    reach = bench.parts["pedal"].at("stop_range")
    if reach is None:
        return "the pedal has no stop of its own that can be set"
    low, high = (f"{to_unit(end, 'mm'):.4g}" for end in reach)
    return f"the pedal's own stop can stand at {low} to {high} mm"


def pedal_with(field: str, bench: Bench, value: float) -> Variant:
    """A kit whose pedal has another number."""
    return Variant({"pedal": bench.parts["pedal"].having(field, value)})


# --- line


def _pieces(bench: Bench, field: str) -> list[Mapping[str, Any]]:
    return [piece for piece in bench.parts["line"].values["pieces"] if piece.get(field) is not None]


def expansion(bench: Bench) -> float:
    """Largest expansion of a hose of the line [m3/m]."""
    return max((float(piece["expansion"]) for piece in _pieces(bench, "expansion")), default=np.nan)


def expansion_span(bench: Bench) -> Span | None:
    """From next to nothing to three times as much."""
    present = expansion(bench)
    return None if np.isnan(present) else (0.02 * present, 3.0 * present)


def expansion_note(bench: Bench) -> str:
    """At what pressure the expansion is stated, in words."""
    pressures = sorted({float(piece["at_pressure"]) for piece in _pieces(bench, "expansion")})
    told = " and ".join(f"{to_unit(pressure, 'psi'):.4g}" for pressure in pressures)
    return f"stated at {told} psi{', for every hose of the line' if len(_pieces(bench, 'expansion')) > 1 else ''}"


def line_bore(bench: Bench) -> float:
    """Least inner diameter of a piece of the line [m]."""
    return min((float(piece["inner_diameter"]) for piece in _pieces(bench, "inner_diameter")), default=np.nan)


def line_bore_span(bench: Bench) -> Span | None:
    """Wider ones."""
    present = line_bore(bench)
    return None if np.isnan(present) else (present, 4.0 * present)


def _line_with(change: Callable[[Mapping[str, Any]], Mapping[str, Any]], bench: Bench) -> Variant:
    line = bench.parts["line"]
    return Variant({"line": line.having("pieces", tuple(map(change, line.values["pieces"])))})


def with_expansion(bench: Bench, value: float) -> Variant:
    """A kit whose hoses all have that expansion."""
    return _line_with(lambda piece: {**piece, "expansion": value} if "expansion" in piece else piece, bench)


def with_line_bore(bench: Bench, value: float) -> Variant:
    """A kit whose line is nowhere narrower."""

    def widened(piece: Mapping[str, Any]) -> Mapping[str, Any]:
        own = piece.get("inner_diameter")
        return piece if own is None else {**piece, "inner_diameter": max(own, value)}

    return _line_with(widened, bench)


# --- rod, lash, shims


def rod(bench: Bench) -> float:
    """Length to which the rod is set [m]."""
    return quantity(bench, "rod_length")


def rod_span(bench: Bench) -> Span:
    """As far either way as the piston could follow."""
    length, stroke = rod(bench), float(bench.parts["slave"].at("stroke"))
    return max(length - stroke, 0.01 * length), length + stroke


def with_rod(bench: Bench, value: float) -> Variant:
    """A kit whose rod has that length and no other."""
    return Variant({"slave": bench.parts["slave"].having("rod_min", value).having("rod_max", value)})


def rod_end(key: str, bench: Bench) -> float:
    """Least or greatest length of the rod [m]."""
    return float(bench.parts["slave"].at(key))


def longest_span(bench: Bench) -> Span:
    """Longer ones, as far as the piston could follow."""
    return rod_end("rod_max", bench), rod_end("rod_max", bench) + float(bench.parts["slave"].at("stroke"))


def shortest_span(bench: Bench) -> Span:
    """Shorter ones, as far as the piston could follow."""
    present = rod_end("rod_min", bench)
    return max(present - float(bench.parts["slave"].at("stroke")), 0.01 * present), present


def slave_with(field: str, bench: Bench, value: float) -> Variant:
    """A kit whose slave has another number."""
    return Variant({"slave": bench.parts["slave"].having(field, value)})


def setting_span(rests: bool, bench: Bench) -> Span | None:
    """What the slave's rod can reach, bottomed or in contact, within its stroke."""
    slave = bench.parts["slave"]
    if (slave.at("preload") > 0.0) != rests:
        return None
    return max(0.0, quantity(bench, "setting_reach_low")), min(slave.at("stroke"), quantity(bench, "setting_reach_high"))


def shim_span(bench: Bench) -> Span | None:
    """Up to one that fills the whole gap."""
    return (THINNEST, quantity(bench, "gap_without_shims")) if bench.profile.assumptions.shim_count else None


def with_shim(bench: Bench, value: float) -> Variant:
    """A kit with one more thickness of shim on hand."""
    concentric = bench.parts["concentric"]
    return Variant({"concentric": concentric.having("shims", (*concentric.at("shims"), value))})


# --- cover


def clamp(bench: Bench) -> float:
    """Clamp load of the cover [N]."""
    return quantity(bench, "clamp_load")


def clamp_span(bench: Bench) -> Span | None:
    """From half of it to twice as much."""
    return (0.5 * clamp(bench), 2.0 * clamp(bench)) if clamp(bench) > 0.0 else None


def with_clamp(bench: Bench, value: float) -> Variant:
    """All loads of the cover in proportion; those of a diaphragm by the stiffness of its sheet."""
    cover, share = bench.parts["pressure_plate"], value / clamp(bench)
    for key, load in _loads(cover):
        cover = cover.having(key, tuple(each * share for each in load) if isinstance(load, tuple) else load * share)
    return Variant({"pressure_plate": cover})


def _loads(cover: Part) -> Iterator[tuple[str, Any]]:
    keys = ("clamp_load", "worn_clamp_load", "release_load.load", "worn_release_load.load", "diaphragm.modulus")
    return ((key, cover.at(key)) for key in keys if cover.at(key) is not None)

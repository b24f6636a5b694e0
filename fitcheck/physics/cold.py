"""How fast the fluid comes home through a row of pipe pieces when it is cold and thick.

Each piece is laminar up to its own Reynolds number of 2300 and follows Blasius beyond it. Between the two laws its loss
jumps: a total pressure that neither side of a jump gives leaves the flow where the jump is. The thinnest bore gets there
first, so with the pieces in order of their bores the flow passes through regimes 0, 1, 2, ... with so many turbulent pieces.
In one regime the pressure is `a Q + b Q^1.75`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fitcheck.physics.curves import Array, running

__all__: list[str] = []

CRITICAL = 2300.0  # Reynolds number where laminar flow ends
_NARROW = 1e-3  # share of the pressure below which a difference of logarithms loses digits and Simpson's rule does not
# Blasius' pressure loss `0.3164 Re^-1/4 (L/d) rho V^2/2` with Reynolds number and speed written by the flow.
_BLASIUS = 0.3164 * (np.pi / 4.0) ** 0.25 * 8.0 / np.pi**2
# Newton's steps from above on a rising convex curve, none of which goes past the root: the start is at most 1.8 times the
# root, so five reach the last bits of a double and one is to spare.
_STEPS = 6


@dataclass(frozen=True)
class Regimes:
    """What a line does to a fluid; regimes on the leading axis, one more than there are pieces.

    `flow` and `pressure` bound the regimes from above, `onset` is the pressure where a regime begins.
    """

    laminar: Array  # [Pa s/m3]
    blasius: Array  # [Pa (s/m3)^1.75]
    flow: Array  # [m3/s], inf for the last regime
    pressure: Array  # [Pa], inf for the last regime
    onset: Array  # [Pa], 0 for the first regime


def regimes(line_piece_length: Array, line_piece_inner_diameter: Array, dynamic_viscosity: Array, density: Array) -> Regimes:
    """Regimes of flow through a row of pieces.

    Parameters
    ----------
    line_piece_length, line_piece_inner_diameter : array
        [m] of the pieces, on the leading axis; a length of 0 resists nothing.
    dynamic_viscosity : array
        [Pa s] of the fluid.
    density : array
        [kg/m3] of the fluid.

    Returns
    -------
    Regimes
        [Pa s/m3, Pa (s/m3)^1.75, m3/s, Pa, Pa] resistances and bounds, pieces ordered by their bores.

    Source: Hagen-Poiseuille law; Blasius' friction factor 0.3164 Re^-1/4.
    """
    length, bore = np.broadcast_arrays(line_piece_length, np.where(line_piece_length > 0.0, line_piece_inner_diameter, np.inf))
    order = np.argsort(bore, axis=0, kind="stable")
    length, bore = np.take_along_axis(length, order, axis=0), np.take_along_axis(bore, order, axis=0)
    with np.errstate(invalid="ignore"):  # an endless viscosity in a piece without length
        piece_laminar = np.where(length > 0.0, 128.0 / np.pi * dynamic_viscosity * length / bore**4, 0.0)
        friction = density**0.75 * dynamic_viscosity**0.25 * length / bore**4.75
        piece_blasius = np.where(length > 0.0, _BLASIUS * friction, 0.0)
    none = np.zeros_like(piece_laminar[:1])
    laminar = np.concatenate([running(np.add, piece_laminar[::-1])[::-1], none])
    blasius = np.concatenate([none, running(np.add, piece_blasius)])
    last = CRITICAL * 0.25 * np.pi * dynamic_viscosity * bore / density
    flow = np.broadcast_to(last, piece_laminar.shape)
    with np.errstate(invalid="ignore"):  # a piece without length has no limit: 0 times inf
        below = np.where(np.isinf(flow), np.inf, laminar[:-1] * flow + blasius[:-1] * flow**1.75)
        above = np.where(np.isinf(flow), np.inf, laminar[1:] * flow + blasius[1:] * flow**1.75)
    endless = np.full_like(none, np.inf)
    return Regimes(
        laminar=laminar,
        blasius=blasius,
        flow=np.concatenate([flow, endless]),
        pressure=np.concatenate([below, endless]),
        onset=np.concatenate([none, above]),
    )


def flow_in(line: Regimes, regime: int, pressure: Array) -> Array:
    """Flow that a pressure drives by the law of one regime, whether or not that law holds there.

    Parameters
    ----------
    line : Regimes
        [Pa s/m3, Pa (s/m3)^1.75, m3/s, Pa, Pa] of the row.
    regime : int
        [-] number of pieces in turbulent flow.
    pressure : array
        [Pa] over the whole row, at least 0.

    Returns
    -------
    array
        [m3/s] flow, rising with pressure.

    Source: Hagen-Poiseuille law; Blasius' friction factor; Newton's method.
    """
    a: Array = line.laminar[regime]
    b: Array = line.blasius[regime]
    if regime == 0:
        return pressure / a
    flow: Array = np.minimum(pressure / a, (pressure / b) ** (4.0 / 7.0))
    for _ in range(_STEPS):
        root = _three_quarters(flow)
        flow = flow - (flow * (a + b * root) - pressure) / (a + 1.75 * b * root)
    return flow


def flow_at(line: Regimes, pressure: Array) -> Array:
    """Flow that a total pressure drives through a row of pieces.

    Parameters
    ----------
    line : Regimes
        [Pa s/m3, Pa (s/m3)^1.75, m3/s, Pa, Pa] of the row.
    pressure : array
        [Pa] over the whole row, at least 0.

    Returns
    -------
    array
        [m3/s] flow, rising with pressure; inf through a row without length, nan for nan.

    Source: Hagen-Poiseuille law up to Re 2300, Blasius' friction factor beyond, each piece by its own Re.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        flow = flow_in(line, 0, pressure)
        for regime in range(1, len(line.flow)):
            begun = pressure > line.pressure[regime - 1]
            if not np.any(begun):
                break
            # The least of all regimes begun, none below the flow where it begins, is the one that holds.
            slower: Array = np.minimum(flow, flow_in(line, regime, np.maximum(pressure, line.onset[regime])))
            flow = np.where(begun, slower, flow)
    return flow


def slowness_between(line: Regimes, pressure_from: Array, pressure_to: Array) -> Array:
    """Mean of one over the flow while the total pressure goes evenly from one value to another.

    Parameters
    ----------
    line : Regimes
        [Pa s/m3, Pa (s/m3)^1.75, m3/s, Pa, Pa] of the row.
    pressure_from, pressure_to : array
        [Pa] over the whole row, at least 0, in either order or equal.

    Returns
    -------
    array
        [s/m3] time per volume; inf where a pressure is 0, nan for nan.

    Source: integral of the Hagen-Poiseuille law and of Blasius' law over pressure, in closed form.
    """
    change = pressure_to - pressure_from
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = _integral(line, pressure_from, pressure_to) / change
        even = change == 0.0
        if np.any(even):
            mean = np.where(even, 1.0 / flow_at(line, pressure_from), mean)
    return mean


def return_flow(
    pressure: Array, line_piece_length: Array, line_piece_inner_diameter: Array, dynamic_viscosity: Array, density: Array
) -> Array:
    """Flow that a total pressure drives through a row of pieces.

    Parameters
    ----------
    pressure : array
        [Pa] over the whole row, at least 0.
    line_piece_length, line_piece_inner_diameter : array
        [m] of the pieces, on the leading axis; a length of 0 resists nothing.
    dynamic_viscosity : array
        [Pa s] of the fluid.
    density : array
        [kg/m3] of the fluid.

    Returns
    -------
    array
        [m3/s] flow, rising with pressure; inf through a row without length, nan for nan.

    Source: Hagen-Poiseuille law up to Re 2300, Blasius' friction factor beyond, each piece by its own Re.
    """
    return flow_at(regimes(line_piece_length, line_piece_inner_diameter, dynamic_viscosity, density), pressure)


def mean_slowness(
    pressure_from: Array,
    pressure_to: Array,
    line_piece_length: Array,
    line_piece_inner_diameter: Array,
    dynamic_viscosity: Array,
    density: Array,
) -> Array:
    """Mean of one over the flow while the total pressure goes evenly from one value to another.

    Parameters
    ----------
    pressure_from, pressure_to : array
        [Pa] over the whole row, at least 0, in either order or equal.
    line_piece_length, line_piece_inner_diameter : array
        [m] of the pieces, on the leading axis; a length of 0 resists nothing.
    dynamic_viscosity : array
        [Pa s] of the fluid.
    density : array
        [kg/m3] of the fluid.

    Returns
    -------
    array
        [s/m3] time per volume; inf where a pressure is 0, nan for nan.

    Source: integral of the Hagen-Poiseuille law and of Blasius' law over pressure, in closed form.
    """
    line = regimes(line_piece_length, line_piece_inner_diameter, dynamic_viscosity, density)
    return slowness_between(line, pressure_from, pressure_to)


def _three_quarters(flow: Array) -> Array:
    """The power 3/4, by square roots: several times as fast as a general power."""
    root = np.sqrt(flow)
    power: Array = root * np.sqrt(root)
    return power


def _integral(line: Regimes, start: Array, end: Array) -> Array:
    """Integral of one over the flow from a start to an end pressure, regime by regime."""
    smooth: Array = line.laminar[0]
    highest: Array = np.maximum(start, end)
    if not np.any(highest > line.pressure[0]):  # the usual case: all of it is laminar
        return smooth * np.log1p((end - start) / start)
    here, there = np.minimum(start, line.pressure[0]), np.minimum(end, line.pressure[0])
    total: Array = smooth * np.log1p((there - here) / here)
    for regime in range(1, len(line.flow)):
        begun = highest > line.pressure[regime - 1]
        if not np.any(begun):
            break
        total = total + np.where(begun, _held(line, regime, start, end) + _in_regime(line, regime, start, end), 0.0)
    return total


def _held(line: Regimes, regime: int, start: Array, end: Array) -> Array:
    """The part of the integral over which the flow waits where a regime begins."""
    low, high = line.pressure[regime - 1], line.onset[regime]
    held: Array = (np.clip(end, low, high) - np.clip(start, low, high)) / line.flow[regime - 1]
    return held


def _in_regime(line: Regimes, regime: int, start: Array, end: Array) -> Array:
    """The part of the integral over which one regime holds: with `p = a Q + b Q^1.75` it is elementary in the flow."""
    here, there = (np.clip(p, line.onset[regime], line.pressure[regime]) for p in (start, end))
    first, last = flow_in(line, regime, here), flow_in(line, regime, there)
    a: Array = line.laminar[regime]
    b: Array = line.blasius[regime]
    wide: Array = a * np.log(last / first) + 1.75 / 0.75 * b * (_three_quarters(last) - _three_quarters(first))
    middle = flow_in(line, regime, 0.5 * (here + there))
    narrow = (there - here) / 6.0 * (1.0 / first + 4.0 / middle + 1.0 / last)
    return np.where(np.abs(there - here) > _NARROW * here, wide, narrow)

"""Does it release, with how much to spare, and what does that cost in fluid?"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fitcheck.physics.curves import Array, bracketed_root, running
from fitcheck.physics.demand import taken_with_lash
from fitcheck.physics.way import Lookup, Spot, Way, at, knot_before

__all__ = [
    "air_allowance",
    "compliance_loss",
    "jump",
    "overtravel",
    "release_margin",
    "release_margin_worn",
    "release_volume",
    "supply_volume",
]

DRY = 1e-9  # share of the ambient pressure up to which there is none


def supply_volume(supply: Array) -> Array:
    """Fluid that the master sends at full pedal.

    Parameters
    ----------
    supply : array
        [m3] fluid sent at full pedal.

    Returns
    -------
    array
        [m3] past the master's port.

    Source: derivation: swept volume.
    """
    return supply


def release_volume(way: Way, release_travel: Array, piston_area: Array, lash: Array) -> Array:
    """Fluid that release takes, lash included.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    release_travel : array
        [m] finger travel needed to release.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.

    Returns
    -------
    array
        [m3] lash and all that is passed on the way.

    Equation: piston_area * lash + most fluid taken on way up to release_travel

    Source: derivation: volume balance of the line.
    """
    return taken_with_lash(way, release_travel, piston_area, lash)


def release_margin(full: Spot, release_travel: Array) -> Array:
    """Finger travel left over once released.

    Parameters
    ----------
    full : Spot
        [SI] where the fingers stand at full pedal.
    release_travel : array
        [m] finger travel needed to release.

    Returns
    -------
    array
        [m] below 0 where the clutch does not release.

    Source: definition.
    """
    return full.travel - release_travel


def release_margin_worn(full_worn: Spot, release_travel: Array) -> Array:
    """Finger travel left over once released, disc fully worn, counted from the worn rest.

    Parameters
    ----------
    full_worn : Spot
        [SI] where the fingers stand at full pedal, worn.
    release_travel : array
        [m] finger travel needed to release.

    Returns
    -------
    array
        [m] below 0 where the clutch does not release.

    Source: definition.
    """
    return full_worn.travel - release_travel


def overtravel(full_bled: Spot, pressure_plate_max_travel: Array) -> Array:
    """Finger travel past the cover's limit, without air.

    Parameters
    ----------
    full_bled : Spot
        [SI] where the fingers stand at full pedal, without air.
    pressure_plate_max_travel : array
        [m] finger travel that damages the cover.

    Returns
    -------
    array
        [m] above 0 where the cover is damaged.

    Source: definition.
    """
    return full_bled.travel - pressure_plate_max_travel


def jump(way: Way, full: Spot, release_travel: Array) -> Array:
    """Longest stretch up to full pedal or release that the fingers jump over; 0 where the fluid taken always rises.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    full : Spot
        [SI] where the fingers stand at full pedal.
    release_travel : array
        [m] finger travel needed to release.

    Returns
    -------
    array
        [m] at least 0; a jump not yet ended counts as far as it goes.

    Equation: longest stretch of way that the fingers jump over, up to the greater of full and release_travel

    Source: derivation: volume balance of the line.
    """
    end = np.maximum(full.travel, release_travel)
    if way.skipped is None:
        return np.zeros_like(end)
    longest = run = np.zeros(np.broadcast_shapes(end.shape, way.top.shape[1:]))
    for left, right, skipped in zip(way.travel[:-1], way.travel[1:], way.skipped[:-1], strict=True):
        length = np.maximum(np.minimum(right, end) - left, 0.0)
        run = np.where(skipped, run + length, np.where(length > 0.0, 0.0, run))
        longest = np.maximum(longest, run)
    return longest


def compliance_loss(way: Way, release_travel: Array, piston_area: Array, lash: Array) -> Array:
    """Share of the release volume spent on dilation, compression, bulkhead and air, at the top before a jump if there
    is one; not a number where release takes no fluid.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    release_travel : array
        [m] finger travel needed to release.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.

    Returns
    -------
    array
        [-] from 0 to 1; nan where release takes no fluid.

    Equation: fluid lost to pressure / (piston_area * lash + fluid taken), on way at release_travel

    Source: derivation: volume balance of the line.
    """
    spot = at(way, release_travel)
    volume = way.hydraulics.volume(spot.travel, spot.load)
    pressure = spot.pressure
    pick = knot_before(way, release_travel)
    before = pick(way.top) > volume
    if np.any(before):
        pressure = np.where(before, pick(_pressure_at_top(way)), pressure)
        volume = np.where(before, pick(way.top), volume)
    with np.errstate(invalid="ignore"):
        return way.hydraulics.hidden(pressure) / (piston_area * lash + volume)


def _pressure_at_top(way: Way) -> Array:
    pressures = [way.pressure[0] + 0.0 * way.top[0]]
    for volume, top, pressure in zip(way.volume[1:], way.top[1:], way.pressure[1:], strict=True):
        pressures.append(np.where(volume >= top, pressure, pressures[-1]))
    return np.stack(pressures)


def air_allowance(
    way_bled: Way, release_travel: Array, supply: Array, piston_area: Array, lash: Array, ambient_pressure: float
) -> Array:
    """Air, at ambient pressure, that may stay before the clutch no longer releases; infinite where there is no pressure.

    Parameters
    ----------
    way_bled : Way
        [SI] the fingers' way without air.
    release_travel : array
        [m] finger travel needed to release.
    supply : array
        [m3] fluid sent at full pedal.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.
    ambient_pressure : float
        [Pa] absolute.

    Returns
    -------
    array
        [m3] at ambient pressure; inf where there is no pressure, below 0 where even without air it does not release, -inf where
        fluid already lacks as the pressure sets in.

    Equation: least of (supply - piston_area * lash - V) * (ambient_pressure + p) / p, V taken and p on way_bled up to
    release_travel

    Source: Boyle's law; derivation: volume balance of the line.
    """
    way, spare = way_bled, supply - piston_area * lash
    rest = at(way, release_travel)
    here = _allowed(spare - way.hydraulics.volume(release_travel, rest.load), rest.pressure, ambient_pressure)
    # between two knots the allowance falls as the pressure rises, so the knots on the way count, rest included
    left_over = spare - way.volume
    at_knots = _allowed(left_over, way.pressure, ambient_pressure)
    at_knots[_starved(left_over, way.pressure, ambient_pressure)] = -np.inf
    least = np.minimum(here, Lookup(rest.index)(running(np.minimum, at_knots)))
    for j, (left, width) in enumerate(zip(way.travel, way.width, strict=True)):
        span = np.clip(release_travel - left, 0.0, width)
        if np.any(way.load[j] > way.spring.past(j, span)[0]):
            turn = _allowance_turn(way, j, span, spare)
            load = way.spring.past(j, turn)[0]
            volume = way.hydraulics.volume(left + turn, load)
            found = _allowed(spare - volume, way.hydraulics.pressure(load), ambient_pressure)
            least = np.where(turn > 0.0, np.minimum(least, found), least)
    return np.where(release_travel > 0.0, least, np.inf)


def _wet(pressure: Array, ambient: float) -> npt.NDArray[np.bool_]:
    """Where there is pressure; where it just sets in or ends, a rounding error may stand instead of nothing."""
    return np.asarray(pressure > DRY * ambient)


def _allowed(spare: Array, pressure: Array, ambient: float) -> Array:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(_wet(pressure, ambient), spare * (ambient + pressure) / pressure, np.inf)


def _starved(spare: Array, pressure: Array, ambient: float) -> npt.NDArray[np.bool_]:
    """Knots without pressure beside a piece with some, where fluid lacks already: there no amount of air is little enough."""
    wet = _wet(pressure, ambient)
    beside = np.zeros_like(wet)
    beside[:-1] |= wet[1:]
    beside[1:] |= wet[:-1]
    return np.asarray(beside & ~wet & (spare < 0.0))


def _allowance_turn(way: Way, j: int, span: Array, spare: Array) -> Array:
    """Travel past knot `j`, within a span of falling load, at which the allowance is least; 0 where it is least at an end."""
    h = way.hydraulics

    def slope(d: Array) -> Array:
        load, stiffness = way.spring.past(j, d)
        rate, pressure = way.gain[j] * stiffness, h.pressure(load)
        left = spare - h.volume(way.travel[j] + d, load)
        fall: Array = -h.rise(stiffness, rate, pressure) * (h.ambient + pressure) * pressure - left * h.ambient * rate
        return fall

    none = np.zeros(np.broadcast_shapes(span.shape, spare.shape))
    turns = (slope(0.0 * span) < 0.0) & (slope(span) > 0.0)
    if not turns.any():
        return none
    high = np.where(turns, span, 0.0)
    return bracketed_root(lambda d: (slope(d), None), none, high, 0.5 * high)

"""What the foot must do: the largest force, the force held, its fall, and what brings the pedal back."""

from __future__ import annotations

import numpy as np

from fitcheck.physics.curves import Array
from fitcheck.physics.pad import Foot, Pedal, Press, least_of, peak_and_low_of, peak_of
from fitcheck.physics.way import Spot, Way

__all__ = [
    "effort_drop",
    "effort_hold",
    "effort_peak",
    "effort_peak_new",
    "effort_return",
    "least_return_force",
]


def effort_peak_new(
    way_bled: Way, pedal: Pedal, foot: Foot, full_bled: Spot, press_end: Array, piston_area: Array, lash: Array
) -> Array:
    """Largest force at the pad on the way to full pedal, disc new.

    Parameters
    ----------
    way_bled : Way
        [SI] the fingers' way without air.
    pedal : Pedal
        [SI] map of pad position, fluid and spring force.
    foot : Foot
        [SI] force at the pad while pressing.
    full_bled : Spot
        [SI] where the fingers stand at full pedal, without air.
    press_end : array
        [m] pad position where the press ends.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.

    Returns
    -------
    array
        [N] below 0 where a helper spring pulls throughout.

    Equation: largest of foot + springs of pedal on way_bled up to full_bled, after piston_area * lash, no further than press_end

    Source: derivation: equilibrium of master and pedal.
    """
    return peak_of(Press(way_bled, pedal, foot, full_bled, piston_area * lash, press_end))


def effort_peak(
    way_bled: Way,
    way_worn_bled: Way,
    effort_peak_new: Array,
    pedal: Pedal,
    foot: Foot,
    full_worn_bled: Spot,
    press_end: Array,
    piston_area: Array,
    lash: Array,
) -> Array:
    """Largest force at the pad on the way to full pedal, disc new or fully worn.

    Parameters
    ----------
    way_bled : Way
        [SI] the fingers' way without air.
    way_worn_bled : Way
        [SI] the fingers' way from the worn rest, without air.
    effort_peak_new : array
        [N] largest force at the pad, disc new.
    pedal : Pedal
        [SI] map of pad position, fluid and spring force.
    foot : Foot
        [SI] force at the pad while pressing.
    full_worn_bled : Spot
        [SI] where the fingers stand at full pedal, worn, without air.
    press_end : array
        [m] pad position where the press ends.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.

    Returns
    -------
    array
        [N] the larger of both; new where the worn load is not known.

    Equation: max(effort_peak_new, largest of foot + springs of pedal on way_worn_bled up to full_worn_bled, after piston_area *
    lash, to press_end)

    Source: derivation: equilibrium of master and pedal.
    """
    if way_worn_bled is way_bled:
        return effort_peak_new
    worn = peak_of(Press(way_worn_bled, pedal, foot, full_worn_bled, piston_area * lash, press_end))
    return np.maximum(effort_peak_new, worn)


def effort_hold(
    foot: Foot,
    pedal: Pedal,
    way: Way,
    way_worn: Way,
    full: Spot,
    full_worn: Spot,
    press_end: Array,
    piston_area: Array,
    lash: Array,
) -> Array:
    """Force at the pad at full pedal, disc new or fully worn, whichever is larger.

    Parameters
    ----------
    foot : Foot
        [SI] force at the pad while pressing.
    pedal : Pedal
        [SI] map of pad position, fluid and spring force.
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    way_worn : Way
        [SI] the fingers' way from the worn rest.
    full : Spot
        [SI] where the fingers stand at full pedal.
    full_worn : Spot
        [SI] where the fingers stand at full pedal, worn.
    press_end : array
        [m] pad position where the press ends.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.

    Returns
    -------
    array
        [N] the larger of both; new where the worn load is not known.

    Equation: greater of foot + springs of pedal at full on way and at full_worn on way_worn, after piston_area * lash, at
    press_end at most

    Source: derivation: equilibrium of master and pedal.
    """
    new = Press(way, pedal, foot, full, piston_area * lash, press_end).force(full)
    if way_worn is way:
        return new
    return np.maximum(new, Press(way_worn, pedal, foot, full_worn, piston_area * lash, press_end).force(full_worn))


def effort_drop(way: Way, pedal: Pedal, foot: Foot, full: Spot, press_end: Array, piston_area: Array, lash: Array) -> Array:
    """Fall of the force after its peak, over the peak, disc new; not a number where the peak does not push the foot.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    pedal : Pedal
        [SI] map of pad position, fluid and spring force.
    foot : Foot
        [SI] force at the pad while pressing.
    full : Spot
        [SI] where the fingers stand at full pedal.
    press_end : array
        [m] pad position where the press ends.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.

    Returns
    -------
    array
        [-] 0 where the force never falls, above 1 where it turns into a pull; nan where the peak is not above 0.

    Equation: (peak - least after it) / peak of foot + springs of pedal on way up to full, after piston_area * lash, to press_end

    Source: derivation: equilibrium of master and pedal.
    """
    peak, low = peak_and_low_of(Press(way, pedal, foot, full, piston_area * lash, press_end))
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(peak > 0.0, (peak - low) / peak, np.nan)


def effort_return(
    way: Way,
    way_worn: Way,
    pedal: Pedal,
    letting_back_foot: Foot,
    full: Spot,
    full_worn: Spot,
    press_end: Array,
    piston_area: Array,
    lash: Array,
) -> Array:
    """Least force that brings the pedal back, disc new or fully worn, whichever is less.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    way_worn : Way
        [SI] the fingers' way from the worn rest.
    pedal : Pedal
        [SI] map of pad position, fluid and spring force.
    letting_back_foot : Foot
        [SI] force at the pad while letting back.
    full : Spot
        [SI] where the fingers stand at full pedal.
    full_worn : Spot
        [SI] where the fingers stand at full pedal, worn.
    press_end : array
        [m] pad position where the press ends.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.

    Returns
    -------
    array
        [N] below 0 where the pedal would stay down; new where the worn load is not known.

    Equation: least of letting_back_foot + springs of pedal on way up to full and way_worn up to full_worn, after piston_area *
    lash, to press_end

    Source: derivation: equilibrium of master and pedal.
    """
    new = least_of(Press(way, pedal, letting_back_foot, full, piston_area * lash, press_end))
    if way_worn is way:
        return new
    return np.minimum(new, least_of(Press(way_worn, pedal, letting_back_foot, full_worn, piston_area * lash, press_end)))


def least_return_force(pedal: Pedal, travel: Array) -> Array:
    """Least force of the pedal's own springs over its travel.

    Parameters
    ----------
    pedal : Pedal
        [SI] map of pad position, fluid and spring force.
    travel : array
        [m] pad travel at full pedal, stop included.

    Returns
    -------
    array
        [N] below 0 for an over-centre helper.

    Equation: least force of the springs of pedal from 0 to travel

    Source: straight-line interpolation: least at a point of the curve or at an end.
    """
    least = np.minimum(pedal.force(0.0 * travel), pedal.force(travel))
    for point in pedal.points:
        least = np.minimum(least, pedal.force(np.clip(point, 0.0, travel)))
    return least

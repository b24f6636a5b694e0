"""Which settings work: the window, and how wide it is."""

from __future__ import annotations

import numpy as np

from fitcheck.physics.curves import Array
from fitcheck.physics.demand import taken_with_lash
from fitcheck.physics.way import Spot, Way

__all__ = [
    "bottomed_high",
    "bottomed_low",
    "contact_high",
    "contact_low",
    "setup_high",
    "setup_low",
    "setup_window",
    "setup_window_fingers",
]


def contact_low(fork_ratio: Array, wear_travel: Array, wear_bound: float) -> Array:
    """Least piston extension at rest of a train in contact: what wear will push back, and the reserve asked for.

    Parameters
    ----------
    fork_ratio : array
        [-] slave travel over bearing travel.
    wear_travel : array
        [m] how far the fingers' rest moves over the disc's life.
    wear_bound : float
        [m] wear reserve asked for.

    Returns
    -------
    array
        [m] at the slave.

    Source: derivation: lever and wear.
    """
    return fork_ratio * wear_travel + wear_bound


def contact_high(slave_stroke: Array, fork_ratio: Array, full_bled: Spot, fork_give: Array, stroke_bound: float) -> Array:
    """Greatest piston extension at rest of a train in contact: what full pedal leaves of the stroke, without air.

    Parameters
    ----------
    slave_stroke : array
        [m] of the slave.
    fork_ratio : array
        [-] slave travel over bearing travel.
    full_bled : Spot
        [SI] where the fingers stand at full pedal, without air.
    fork_give : array
        [m/N] of the fork at the bearing.
    stroke_bound : float
        [m] stroke reserve asked for.

    Returns
    -------
    array
        [m] below 0 where the stroke is too short for any.

    Source: derivation: lever and stroke.
    """
    return slave_stroke - fork_ratio * (full_bled.travel + full_bled.load * fork_give) - stroke_bound


def bottomed_low(
    fork_ratio: Array,
    wear_ratio: Array,
    wear_between_adjustments: float,
    supply: Array,
    way_bled: Way,
    pressure_plate_max_travel: Array,
    travel_reserve: float,
    piston_area: Array,
) -> Array:
    """Least lash of a bottomed train: room for wear between adjustments, and enough to keep the fingers within their limit.

    Parameters
    ----------
    fork_ratio : array
        [-] slave travel over bearing travel.
    wear_ratio : array
        [-] how far the fingers' rest moves per thickness worn off.
    wear_between_adjustments : float
        [m] thickness worn off before the rod is reset.
    supply : array
        [m3] fluid sent at full pedal.
    way_bled : Way
        [SI] the fingers' way without air.
    pressure_plate_max_travel : array
        [m] finger travel that damages the cover.
    travel_reserve : float
        [m] finger travel to keep from the cover's limit.
    piston_area : array
        [m2] of the slave.

    Returns
    -------
    array
        [m] the larger of both.

    Equation: max(fork_ratio * wear_ratio * wear_between_adjustments, (supply - V) / piston_area), V on way_bled to max(0,
    max_travel - travel_reserve)

    Source: derivation: volume balance of the line, without air.
    """
    limit = np.maximum(0.0, pressure_plate_max_travel - travel_reserve)
    held = (supply - taken_with_lash(way_bled, limit, piston_area, np.zeros_like(piston_area))) / piston_area
    return np.maximum(fork_ratio * wear_ratio * wear_between_adjustments, held)


def bottomed_high(supply: Array, way: Way, release_travel: Array, release_bound: float, piston_area: Array) -> Array:
    """Greatest lash of a bottomed train that still releases, with the margin asked for.

    Parameters
    ----------
    supply : array
        [m3] fluid sent at full pedal.
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    release_travel : array
        [m] finger travel needed to release.
    release_bound : float
        [m] release margin asked for.
    piston_area : array
        [m2] of the slave.

    Returns
    -------
    array
        [m] below 0 where even without lash it does not.

    Equation: (supply - most fluid taken on way up to max(0, release_travel + release_bound)) / piston_area

    Source: derivation: volume balance of the line.
    """
    needed = np.maximum(0.0, release_travel + release_bound)
    return (supply - taken_with_lash(way, needed, piston_area, np.zeros_like(piston_area))) / piston_area


def setup_low(setting_bound_low: Array, setting_reach_low: Array) -> Array:
    """Least setting that works and can be reached.

    Parameters
    ----------
    setting_bound_low : array
        [m] least setting that works.
    setting_reach_low : array
        [m] least setting that can be reached.

    Returns
    -------
    array
        [m] the greater of both.

    Source: definition.
    """
    return np.maximum(setting_bound_low, setting_reach_low)


def setup_high(setting_bound_high: Array, setting_reach_high: Array) -> Array:
    """Greatest setting that works and can be reached.

    Parameters
    ----------
    setting_bound_high : array
        [m] greatest setting that works.
    setting_reach_high : array
        [m] greatest setting that can be reached.

    Returns
    -------
    array
        [m] the lesser of both.

    Source: definition.
    """
    return np.minimum(setting_bound_high, setting_reach_high)


def setup_window(setup_low: Array, setup_high: Array) -> Array:
    """Width of the settings that work; below 0 there is none.

    Parameters
    ----------
    setup_low : array
        [m] least setting.
    setup_high : array
        [m] greatest setting.

    Returns
    -------
    array
        [m] below 0 where no setting works.

    Source: definition.
    """
    return setup_high - setup_low


def setup_window_fingers(setup_window: Array, fork_ratio: Array) -> Array:
    """Width of the settings that work, seen at the fingers so that the trains compare.

    Parameters
    ----------
    setup_window : array
        [m] width of the window.
    fork_ratio : array
        [-] slave travel over bearing travel.

    Returns
    -------
    array
        [m] below 0 where no setting works.

    Source: derivation: lever.
    """
    return setup_window / fork_ratio

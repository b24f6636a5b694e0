"""Where the pad stands at release, at the bite, and where a pedal stop must stand."""

from __future__ import annotations

import numpy as np

from fitcheck.physics.curves import Array
from fitcheck.physics.demand import pad_for, taken_with_lash
from fitcheck.physics.way import Way, reached

__all__ = [
    "bite_band",
    "bite_point",
    "pedal_stop",
    "release_point",
    "stop_position",
    "stop_volume",
    "stopped_travel",
    "whole_travel",
    "with_stop",
]


def pad_at(volume: Array, free_play: Array, ratio: Array, area: Array, stroke: Array, cutoff: Array) -> Array:
    """Pad position [m] for a volume [m3]; not a number where the master's stroke ends before.

    Parameters
    ----------
    volume : array
        [m3] of fluid.
    free_play : array
        [m] play at the pad.
    ratio : array
        [-] pad travel over rod travel.
    area : array
        [m2] of the master.
    stroke : array
        [m] of the master.
    cutoff : array
        [m] master travel that closes its port.

    Returns
    -------
    array
        [m] from the pad at rest; nan where the master's stroke ends before.

    Source: derivation: pedal lever and swept volume.
    """
    within = volume <= area * (stroke - cutoff)
    return np.where(within, pad_for(volume, free_play, ratio, area, cutoff), np.nan)


def release_point(
    release_volume: Array,
    pedal_free_play: Array,
    pedal_ratio: Array,
    master_area: Array,
    master_stroke: Array,
    master_cutoff_stroke: Array,
) -> Array:
    """Pad position at which the clutch is released; not a number where the master's stroke ends before.

    Parameters
    ----------
    release_volume : array
        [m3] fluid that release takes.
    pedal_free_play : array
        [m] play at the pad.
    pedal_ratio : array
        [-] pad travel over rod travel.
    master_area : array
        [m2] of the master's bore.
    master_stroke : array
        [m] mechanical stroke of the master.
    master_cutoff_stroke : array
        [m] master travel that closes its port.

    Returns
    -------
    array
        [m] from the pad at rest; nan where the master's stroke ends before.

    Equation: free_play + pedal_ratio * (cutoff_stroke + release_volume / master_area), within master_stroke

    Source: derivation: pedal lever and swept volume.
    """
    return pad_at(release_volume, pedal_free_play, pedal_ratio, master_area, master_stroke, master_cutoff_stroke)


def bite_point(
    way: Way,
    bite_travel: Array,
    piston_area: Array,
    lash: Array,
    pedal_free_play: Array,
    pedal_ratio: Array,
    master_area: Array,
    master_stroke: Array,
    master_cutoff_stroke: Array,
) -> Array:
    """Pad position at which the vehicle starts to roll on the slope; not a number where the master's stroke ends before.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    bite_travel : array
        [m] finger travel at the bite; may be not a number.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.
    pedal_free_play : array
        [m] play at the pad.
    pedal_ratio : array
        [-] pad travel over rod travel.
    master_area : array
        [m2] of the master's bore.
    master_stroke : array
        [m] mechanical stroke of the master.
    master_cutoff_stroke : array
        [m] master travel that closes its port.

    Returns
    -------
    array
        [m] from the pad at rest; nan where there is no bite or the master's stroke ends before.

    Equation: free_play + pedal_ratio * (cutoff_stroke + (V + piston_area * lash) / master_area), V taken on way to bite_travel;
    within master_stroke

    Source: common practice, no source (slope test); derivation: volume balance of the line.
    """
    volume = taken_with_lash(way, bite_travel, piston_area, lash)
    return pad_at(volume, pedal_free_play, pedal_ratio, master_area, master_stroke, master_cutoff_stroke)


def bite_band(
    way: Way,
    engine_travel: Array,
    bite_point: Array,
    piston_area: Array,
    lash: Array,
    pedal_free_play: Array,
    pedal_ratio: Array,
    master_area: Array,
    master_stroke: Array,
    master_cutoff_stroke: Array,
) -> Array:
    """Pad travel from the clamp that carries engine torque to the clamp that carries slope torque.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    engine_travel : array
        [m] finger travel where the clamp left carries engine torque.
    bite_point : array
        [m] pad position at the bite; may be not a number.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.
    pedal_free_play : array
        [m] play at the pad.
    pedal_ratio : array
        [-] pad travel over rod travel.
    master_area : array
        [m2] of the master's bore.
    master_stroke : array
        [m] mechanical stroke of the master.
    master_cutoff_stroke : array
        [m] master travel that closes its port.

    Returns
    -------
    array
        [m] nan where full clamp does not carry one of the torques, or the master's stroke ends before.

    Equation: bite_point - free_play - pedal_ratio * (cutoff_stroke + (V + piston_area * lash) / master_area), V on way to
    engine_travel; within master_stroke

    Source: derivation: volume balance of the line.
    """
    volume = taken_with_lash(way, engine_travel, piston_area, lash)
    start = pad_at(volume, pedal_free_play, pedal_ratio, master_area, master_stroke, master_cutoff_stroke)
    return bite_point - start


def stop_volume(way_bled: Way, pressure_plate_max_travel: Array, travel_reserve: float, piston_area: Array, lash: Array) -> Array:
    """Fluid that takes the fingers to their limit less the reserve, without air.

    Parameters
    ----------
    way_bled : Way
        [SI] the fingers' way without air.
    pressure_plate_max_travel : array
        [m] finger travel that damages the cover.
    travel_reserve : float
        [m] finger travel to keep from the cover's limit.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.

    Returns
    -------
    array
        [m3] lash included.

    Equation: piston_area * lash + most fluid taken on way_bled up to max(0, max_travel - travel_reserve)

    Source: derivation: volume balance of the line.
    """
    limit = np.maximum(0.0, pressure_plate_max_travel - travel_reserve)
    return taken_with_lash(way_bled, limit, piston_area, lash)


def stop_position(
    stop_volume: Array, pedal_free_play: Array, pedal_ratio: Array, master_area: Array, master_cutoff_stroke: Array
) -> Array:
    """Pad position at which the fingers stand at their limit less the reserve, without air.

    Parameters
    ----------
    stop_volume : array
        [m3] fluid that takes the fingers to their limit.
    pedal_free_play : array
        [m] play at the pad.
    pedal_ratio : array
        [-] pad travel over rod travel.
    master_area : array
        [m2] of the master's bore.
    master_cutoff_stroke : array
        [m] master travel that closes its port.

    Returns
    -------
    array
        [m] from the pad at rest; may lie past the end of the master's stroke.

    Equation: free_play + pedal_ratio * (cutoff_stroke + stop_volume / master_area)

    Source: derivation: pedal lever and swept volume.
    """
    return pad_for(stop_volume, pedal_free_play, pedal_ratio, master_area, master_cutoff_stroke)


def pedal_stop(
    way_bled: Way,
    pedal_supply: Array,
    piston_area: Array,
    lash: Array,
    pressure_plate_max_travel: Array,
    travel_reserve: float,
    stop_position: Array,
) -> Array:
    """Where a pedal stop must stand to keep the fingers within their limit; not a number where none is needed.

    Parameters
    ----------
    way_bled : Way
        [SI] the fingers' way without air.
    pedal_supply : array
        [m3] fluid sent at the pedal's own full travel.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.
    pressure_plate_max_travel : array
        [m] finger travel that damages the cover.
    travel_reserve : float
        [m] finger travel to keep from the cover's limit.
    stop_position : array
        [m] pad position for the fingers' limit.

    Returns
    -------
    array
        [m] from the pad at rest; nan where none is needed.

    Equation: stop_position if pedal_supply - piston_area * lash takes way_bled past max_travel - travel_reserve, else none

    Source: derivation: volume balance of the line, without air.
    """
    unstopped = reached(way_bled, pedal_supply - piston_area * lash).travel
    return np.where(unstopped > pressure_plate_max_travel - travel_reserve, stop_position, np.nan)


def with_stop(pedal_stop: Array, pedal_stop_low: Array, pedal_stop_high: Array) -> Array:
    """1 where a stop is needed and the pedal's adjustable stop can stand there, else 0.

    Parameters
    ----------
    pedal_stop : array
        [m] where a stop must stand; not a number where none is needed.
    pedal_stop_low : array
        [m] least pad position where a stop can stand.
    pedal_stop_high : array
        [m] greatest pad position where a stop can stand.

    Returns
    -------
    array
        [-] 0 or 1.

    Equation: 1 if stop_low <= pedal_stop <= stop_high else 0

    Source: common practice, no source.
    """
    with np.errstate(invalid="ignore"):
        return np.where((pedal_stop >= pedal_stop_low) & (pedal_stop <= pedal_stop_high), 1.0, 0.0)


def stopped_travel(with_stop: Array, pedal_stop: Array, pedal_travel: Array) -> Array:
    """Pedal travel of a train in contact: to the adjustable stop where one is needed and can stand there.

    Parameters
    ----------
    with_stop : array
        [-] 1 where a pedal stop is fitted, else 0.
    pedal_stop : array
        [m] where a stop must stand; not a number where none is needed.
    pedal_travel : array
        [m] pad travel to the pedal's own stop.

    Returns
    -------
    array
        [m] the stop's place where one is fitted, else the pedal's own travel.

    Equation: pedal_stop if with_stop > 0 else pedal_travel

    Source: common practice, no source.
    """
    return np.where(with_stop > 0.0, pedal_stop, pedal_travel) if np.any(with_stop) else pedal_travel


def whole_travel(pedal_travel: Array) -> Array:
    """Pedal travel of a bottomed train, to the pedal's own stop.

    Parameters
    ----------
    pedal_travel : array
        [m] pad travel to the pedal's own stop.

    Returns
    -------
    array
        [m] the pedal's own travel.

    Source: common practice, no source.
    """
    return pedal_travel

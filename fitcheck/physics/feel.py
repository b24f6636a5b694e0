"""What the foot feels and spends: slope at the bite, dead band, the work of a press, and the old linkage beside it."""

from __future__ import annotations

import numpy as np

from fitcheck.physics.balance import Hydraulics
from fitcheck.physics.curves import Array
from fitcheck.physics.lay import lay_way
from fitcheck.physics.pad import Foot, Pedal, Press, peak_of
from fitcheck.physics.springs import Spring
from fitcheck.physics.way import Lookup, Spot, Way, at, knot_before, reached, slope_at

__all__ = [
    "dead_band",
    "effort_slope",
    "effort_vs_linkage",
    "pedal_work",
]


def dead_band(foot: Foot, letting_back_foot: Foot, full: Spot, pedal: Pedal, press_end: Array) -> Array:
    """Force at full pedal less the force that lets it return; nothing where the press never moves the master's rod.

    Parameters
    ----------
    foot : Foot
        [SI] force at the pad while pressing.
    letting_back_foot : Foot
        [SI] force at the pad while letting back.
    full : Spot
        [SI] where the fingers stand at full pedal.
    pedal : Pedal
        [SI] map of pad position, fluid and spring force.
    press_end : array
        [m] pad position where the press ends.

    Returns
    -------
    array
        [N] what friction takes both ways.

    Equation: force of foot at full - force of letting_back_foot at full, if press_end is past the free play of pedal

    Source: derivation: equilibrium of master and pedal with efficiencies against the motion.
    """
    return np.where(press_end > pedal.free_play, foot.force(full.load) - letting_back_foot.force(full.load), 0.0)


def effort_slope(way: Way, pedal: Pedal, foot: Foot, bite_travel: Array, bite_point: Array) -> Array:
    """Rise of the force per pad travel just past the bite, where the fingers land; not a number where the bite is not.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    pedal : Pedal
        [SI] map of pad position, fluid and spring force.
    foot : Foot
        [SI] force at the pad while pressing.
    bite_travel : array
        [m] finger travel at the bite; may be not a number.
    bite_point : array
        [m] pad position at the bite; may be not a number.

    Returns
    -------
    array
        [N/m] below 0 where the foot feels the force fall; nan where there is no bite or the master's stroke ends before it.

    Equation: rise of foot per pad travel (pedal) on way just past bite_travel + rise of the springs of pedal at bite_point

    Source: derivation: slope of the pad force over the volume balance.
    """
    spot = at(way, _landing(way, bite_travel))
    slope, gain = slope_at(way, spot)
    rate = gain * slope
    pad = pedal.ratio / pedal.area * way.hydraulics.rise(slope, rate, spot.pressure)
    spring = 0.0 if len(pedal.forces) == 1 else pedal.force_slope(bite_point)
    return np.where(np.isnan(bite_point), np.nan, foot.per_signal * rate / pad + spring)


def _landing(way: Way, x: Array) -> Array:
    if way.skipped is None:
        return x
    land = way.travel[-1] + 0.0 * way.top[-1]
    landings = [land]
    pieces = zip(way.travel[:-1], way.skipped[:-1], way.top[:-1], way.top[1:], strict=True)
    for left, skipped, low, high in reversed(list(pieces)):
        land = np.where(~skipped & (high > low), left, land)
        landings.append(land)
    place = knot_before(way, x)
    return np.where(place(way.skipped.astype(float)) > 0.0, np.maximum(x, place(np.stack(landings[::-1]))), x)


def effort_vs_linkage(
    spring: Spring,
    effort_peak_new: Array,
    travel: Array,
    linkage_ratio: Array,
    linkage_efficiency: Array,
    linkage_stiffness: Array,
    linkage_free_play: Array,
    pedal_return_travel: Array,
    pedal_return_force: Array,
) -> Array:
    """Largest force at the pad against that of the old linkage on the same cover, less 1, disc new; not a
    number where the old linkage's does not push the foot.

    Parameters
    ----------
    spring : Spring
        [SI] what the fingers push against, disc new.
    effort_peak_new : array
        [N] largest force at the pad, disc new.
    travel : array
        [m] pad travel at full pedal, stop included.
    linkage_ratio : array
        [-] pad travel over bearing travel of the old linkage.
    linkage_efficiency : array
        [-] of the old linkage.
    linkage_stiffness : array
        [N/m] of the old linkage at the bearing.
    linkage_free_play : array
        [m] play of the old linkage at the pad.
    pedal_return_travel : array
        [m] pad positions of the return force, on the leading axis.
    pedal_return_force : array
        [N] of the pedal's own springs at these, on the leading axis.

    Returns
    -------
    array
        [-] below 0 where the kit is lighter; nan where the old linkage's largest force is not above 0.

    Equation: effort_peak_new / P - 1, P = peak of spring / (ratio * efficiency) + return_force(return_travel) by linkage
    stiffness, free_play, to travel

    Source: derivation: equilibrium of the linkage with its efficiency against the motion, give in series.
    """
    one, none = np.ones_like(linkage_ratio), np.zeros_like(linkage_ratio)
    rods = Hydraulics(one, 1.0 / linkage_stiffness, none, none, none, 0.0, 1.0)
    rod_travel = np.maximum(0.0, travel - linkage_free_play) / linkage_ratio
    way = lay_way(spring, rods, ())
    # a linkage is a master of unit area: its "volume" is rod travel at the bearing
    pedal = Pedal(linkage_free_play, linkage_ratio, one, one * np.inf, none, pedal_return_travel, pedal_return_force)
    foot = Foot(1.0 / (linkage_ratio * linkage_efficiency), none, one, none)
    press = Press(way, pedal, foot, reached(way, rod_travel), none, travel)
    old = peak_of(press)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(old > 0.0, effort_peak_new / old - 1.0, np.nan)


def pedal_work(
    way: Way,
    pedal: Pedal,
    full: Spot,
    press_end: Array,
    master_spring_force: Array,
    master_efficiency: Array,
    pedal_efficiency: Array,
    piston_area: Array,
    lash: Array,
) -> Array:
    """Work of one full press, stretches jumped over left out.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    pedal : Pedal
        [SI] map of pad position, fluid and spring force.
    full : Spot
        [SI] where the fingers stand at full pedal.
    press_end : array
        [m] pad position where the press ends.
    master_spring_force : array
        [N] of the spring inside the master.
    master_efficiency : array
        [-] of the master.
    pedal_efficiency : array
        [-] of the pedal.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.

    Returns
    -------
    array
        [J] from pad at rest to the end of the press.

    Equation: work of pedal to press_end + (spring_force * rod travel + (work on way to full after piston_area * lash) /
    master_efficiency) / pedal_efficiency

    Source: derivation: force at the pad integrated over pad travel.
    """
    springs = _area_under(pedal.points, pedal.forces, press_end)
    rod = np.maximum(0.0, (press_end - pedal.free_play) / pedal.ratio)
    fluid = way.pressure[0] * (piston_area * lash + way.volume[0]) + _fluid_work(way, full)
    work: Array = springs + master_spring_force * rod / pedal_efficiency + fluid / (master_efficiency * pedal_efficiency)
    return work


def _area_under(points: Array, values: Array, end: Array) -> Array:
    """Integral from 0 to `end` of a curve that keeps its end values."""
    area = values[0] * np.minimum(end, np.maximum(points[0], 0.0))
    for left, right, low, high in zip(points[:-1], points[1:], values[:-1], values[1:], strict=True):
        width = np.where(right > left, right - left, 1.0)
        start, stop = np.clip(0.0, left, right), np.clip(end, left, right)
        middle = low + (0.5 * (start + stop) - left) / width * (high - low)
        area = area + middle * np.maximum(stop - start, 0.0)
    return np.asarray(area + values[-1] * np.maximum(end - np.maximum(points[-1], 0.0), 0.0))


def _fluid_work(way: Way, end: Spot) -> Array:
    """Integral of pressure over fluid taken, from rest to `end`."""
    sums = [np.zeros_like(way.volume[0])]
    for j in range(len(way.travel) - 1):
        piece = _piece_work(way, j, way.width[j], way.pressure[j], way.pressure[j + 1])
        if way.skipped is not None:
            piece = np.where(way.skipped[j], 0.0, piece)
        sums.append(sums[-1] + piece)
    pick = Lookup(end.index)
    rest = _piece_work(way, pick, end.travel - pick(way.travel), pick(way.pressure), end.pressure)
    if way.skipped is not None:
        rest = np.where(pick(way.skipped.astype(float)) > 0.0, 0.0, rest)
    return pick(np.stack(np.broadcast_arrays(*sums))) + rest


def _piece_work(way: Way, piece: int | Lookup, width: Array, low: Array, high: Array) -> Array:
    """The same over one piece, on which the pressure is linear in travel, or a cubic for which Simpson's rule is exact."""
    h = way.hydraulics
    mean = 0.5 * (low + high)
    if not way.spring.straight:
        mean = (low + 4.0 * h.pressure(way.spring.halfway(piece, width)) + high) / 6.0
    work = h.sweep * width * mean + (h.sweep * h.give / h.gain + h.compliance) * 0.5 * (high**2 - low**2)
    if h.air:
        before, after = h.ambient + low, h.ambient + high
        work = work + h.air * h.ambient * (np.log(after / before) + h.ambient * (1.0 / after - 1.0 / before))
    return np.asarray(work)

"""The fingers' way: travel against load, pressure and fluid taken, and the travel that a given volume of fluid reaches.

On a straight piece of the load curve the pressure is linear in travel, so the fluid taken is a straight line plus the air's
share and the travel for a volume is the root of one quadratic. On a piece of a diaphragm it is a root inside the piece.
Where a falling load makes the fluid taken turn back the fingers jump: the knots then hold the top before each jump and the
place where the fingers land.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fitcheck.physics.balance import Hydraulics
from fitcheck.physics.curves import Array, bracketed_root
from fitcheck.physics.springs import Spring

__all__: list[str] = []

Index = npt.NDArray[np.intp]


@dataclass(frozen=True)
class Way:
    """Knots on the leading axis; what is said of a piece holds from its knot to the next, and past the last one."""

    spring: Spring
    hydraulics: Hydraulics
    gain: Array  # [1/m2] pressure per load on each piece; 0 where there is no pressure
    pressure: Array  # [Pa]
    volume: Array  # [m3] without lash
    top: Array  # [m3] largest volume so far
    width: Array  # [m] of each piece; inf for the last
    skipped: npt.NDArray[np.bool_] | None  # pieces on which the fingers are never at rest; None where no kit jumps

    @property
    def travel(self) -> Array:
        """Finger travel [m] at the knots."""
        return self.spring.travel

    @property
    def load(self) -> Array:
        """Load [N] at the knots."""
        return self.spring.load


@dataclass(frozen=True)
class Spot:
    """A place on the way."""

    travel: Array  # [m]
    load: Array  # [N]
    pressure: Array  # [Pa]
    index: Index  # of the knot at or before it


class Lookup:
    """Reads arrays with knots on the leading axis at a chosen knot for every cell, whatever axes the arrays lie on."""

    def __init__(self, index: Index) -> None:
        """Keep the knot of every cell."""
        self.index = index
        self._flat: dict[tuple[int, ...], Index] = {}

    def __call__(self, knots: Array) -> Array:
        """The array's value at each cell's knot."""
        shape = knots.shape[1:]
        if shape not in self._flat:
            size = int(np.prod(shape))
            self._flat[shape] = self.index if size == 1 else self.index * size + np.arange(size).reshape(shape)
        return np.asarray(knots.reshape(-1).take(self._flat[shape]))


def step_past(hydraulics: Hydraulics, slope: Array, gain: Array, pressure: Array, more: Array) -> Array:
    """Least travel past a knot at which so much more fluid is taken on a straight piece: the stable root of one quadratic.

    Parameters
    ----------
    hydraulics : Hydraulics
        [SI] constants of the volume balance.
    slope : array
        [N/m] of the load on the piece.
    gain : array
        [1/m2] pressure per load on the piece.
    pressure : array
        [Pa] at the knot.
    more : array
        [m3] of fluid past the knot, at least 0.

    Returns
    -------
    array
        [m] travel; inf where the piece's line never takes that much.

    Source: derivation: volume balance of the line; Boyle's law for the air.
    """
    rate = gain * slope
    straight = hydraulics.sweep * (1.0 + hydraulics.give * slope) + hydraulics.compliance * rate
    if not hydraulics.air:
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(straight > 0.0, more / straight, np.where(more > 0.0, np.inf, 0.0))
    room = hydraulics.ambient + pressure
    middle = straight * room - more * rate + hydraulics.air * hydraulics.ambient * rate / room
    square = middle * middle + 4.0 * straight * rate * more * room
    with np.errstate(divide="ignore", invalid="ignore"):
        root = 2.0 * more * room / (middle + np.sqrt(np.maximum(square, 0.0)))
    good = (square >= 0.0) & (root >= 0.0)
    return np.where(good, root, np.where(more > 0.0, np.inf, 0.0))


def reached(way: Way, volume: Array) -> Spot:
    """First place at which the way takes a volume; at rest where even that is too little to start.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way.
    volume : array
        [m3] of fluid, lash taken off.

    Returns
    -------
    Spot
        [SI] travel, load and pressure.

    Source: derivation: volume balance of the line; first crossing, root of a quadratic on each straight piece.
    """
    index = _later_knots(np.greater, volume, way.top)
    pick = Lookup(index)
    first, gain, pressure = pick(way.spring.first), pick(way.gain), pick(way.pressure)
    more = np.maximum(volume - pick(way.volume), 0.0)
    if way.spring.straight:
        # rounding may put a volume at a landing into the piece that is jumped over: never leave the piece
        past = np.minimum(step_past(way.hydraulics, first, gain, pressure, more), pick(way.width))
        return Spot(pick(way.travel) + past, pick(way.load) + first * past, pressure + gain * first * past, index)
    return _reached_exactly(way, pick, volume, more)


def _reached_exactly(way: Way, pick: Lookup, volume: Array, more: Array) -> Spot:
    h = way.hydraulics
    load, first, second, third = pick(way.load), pick(way.spring.first), pick(way.spring.second), pick(way.spring.third)
    travel, gain, start = pick(way.travel), pick(way.gain), pick(way.volume)

    def load_past(d: Array) -> Array:
        return np.asarray(load + d * (first + d * (second + d * third)))

    def excess(d: Array) -> tuple[Array, Array]:
        here = load_past(d)
        slope = first + d * (2.0 * second + d * (3.0 * third))
        pressure = h.pressure(here)
        return h.volume(travel + d, here) - volume, h.rise(slope, gain * slope, pressure)

    width = pick(way.width)
    widest = np.where(np.isfinite(width), width, more / h.sweep + 1e-9)  # past the last knot the load only rises
    within = volume > start
    d = np.where(within, bracketed_root(excess, 0.0 * more, np.where(within, widest, 0.0), 0.5 * widest), 0.0)
    here = load_past(d)
    return Spot(travel + d, here, h.pressure(here), pick.index)


def at(way: Way, x: Array) -> Spot:
    """The place at a finger travel.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way.
    x : array
        [m] finger travel.

    Returns
    -------
    Spot
        [SI] travel, load and pressure.

    Source: the cover's load curve.
    """
    pick = knot_before(way, x)
    d = x - pick(way.travel)
    load = pick(way.load) + d * (pick(way.spring.first) + 0.0)
    if not way.spring.straight:
        load = load + d * d * (pick(way.spring.second) + d * pick(way.spring.third))
    return Spot(x, load, way.hydraulics.pressure(load), pick.index)


def slope_at(way: Way, spot: Spot) -> tuple[Array, Array]:
    """Slope of the load and pressure per load just past a place.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way.
    spot : Spot
        [SI] a place on it.

    Returns
    -------
    tuple of array
        [N/m, 1/m2] slope and gain.

    Source: the cover's load curve.
    """
    pick = Lookup(spot.index)
    d = spot.travel - pick(way.travel)
    slope = pick(way.spring.first)
    if not way.spring.straight:
        slope = slope + d * (2.0 * pick(way.spring.second) + d * (3.0 * pick(way.spring.third)))
    return slope, pick(way.gain)


def taken(way: Way, x: Array) -> Array:
    """Largest volume that the way takes up to a finger travel.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way.
    x : array
        [m] finger travel.

    Returns
    -------
    array
        [m3] without lash.

    Source: derivation: volume balance of the line.
    """
    spot = at(way, x)
    return np.maximum(way.hydraulics.volume(x, spot.load), Lookup(spot.index)(way.top))


def knot_before(way: Way, x: Array) -> Lookup:
    """The last knot at or before a finger travel, for every cell.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way.
    x : array
        [m] finger travel; not a number gives the first knot.

    Returns
    -------
    Lookup
        [-] reads arrays at those knots.

    Source: definition.
    """
    return Lookup(_later_knots(np.greater_equal, x, way.travel))


def _later_knots(beyond: np.ufunc, x: Array, knots: Array) -> Index:
    """How many knots after the first one a place is beyond."""
    rows = knots[1:].reshape((len(knots) - 1,) + (1,) * (x.ndim + 1 - knots.ndim) + knots.shape[1:])
    few = np.uint8 if len(knots) < 256 else np.uint16  # small numbers are added much faster
    return np.asarray(np.add.reduce(beyond(x, rows).view(np.uint8), axis=0, dtype=few), dtype=np.intp)

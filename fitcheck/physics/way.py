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
from fitcheck.physics.springs import Spring, finer

__all__: list[str] = []

Index = npt.NDArray[np.intp]
_PIECES = 12  # a piece of a diaphragm on which the fluid taken may turn back is cut into so many


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
    rises: bool  # True where the fluid taken never turns back
    skipped: npt.NDArray[np.bool_] | None  # pieces on which the fingers are never at rest; None where it rises

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


def lay_way(spring: Spring, hydraulics: Hydraulics, kinks: tuple[Array, ...]) -> Way:
    """Lay the knots of a way.

    Parameters
    ----------
    spring : Spring
        [SI] what the fingers push against.
    hydraulics : Hydraulics
        [SI] constants of the volume balance.
    kinks : tuple of array
        [N] finger loads at which a pressure starts, pressing and letting back; each becomes a knot where it is crossed.

    Returns
    -------
    Way
        [SI] knots on a leading axis.

    Source: derivation: volume balance of the line.
    """
    spring = _with_kinks(spring, [kink for kink in kinks if np.any(kink > 0.0)])
    way = _fill(spring, hydraulics)
    if way.rises:
        return way
    return _with_jumps(way if spring.straight else _fill(finer(spring, _PIECES), hydraulics))


def _with_kinks(spring: Spring, kinks: list[Array]) -> Spring:
    """Put a knot where the load crosses a kink, on each piece that crosses it for any cell; elsewhere it falls on an end."""
    places, owners = [spring.travel[0]], [0]
    last = len(spring.travel) - 1
    far = spring.travel[-1] + 1.0
    for j in range(last + 1 if not spring.straight else last):
        low, right = spring.load[j], spring.travel[j + 1] if j < last else far
        high = spring.load[j + 1] if j < last else spring.past(j, far - spring.travel[j])[0]
        crossed = [kink for kink in kinks if np.any((low - kink) * (high - kink) < 0.0)]
        inside = [_crossing(spring, j, right - spring.travel[j], low, high, kink) for kink in crossed]
        if len(inside) == 2:
            inside = [np.minimum(*inside), np.maximum(*inside)]
        places += [spring.travel[j] + past for past in inside]
        owners += [j] * len(inside)
        if j < last:
            places.append(right)
            owners.append(j + 1)
    if len(places) == len(spring.travel):
        return spring
    return spring.cut(np.stack(np.broadcast_arrays(*places)), np.array(owners))


def _crossing(spring: Spring, j: int, width: Array, low: Array, high: Array, kink: Array) -> Array:
    """Travel past knot `j` at which the load crosses a kink; 0 or the whole width where it does not."""
    change = high - low
    share = np.clip((kink - low) / np.where(change == 0.0, np.inf, change), 0.0, 1.0)
    if spring.straight:
        return share * width
    side = np.sign(change)

    def past(d: Array) -> tuple[Array, Array]:
        load, slope = spring.past(j, d)
        return side * (load - kink), side * slope

    within = (low - kink) * (high - kink) < 0.0
    return np.where(within, bracketed_root(past, 0.0 * width, np.where(within, width, 0.0), share * width), share * width)


def _fill(spring: Spring, hydraulics: Hydraulics) -> Way:
    pressure = hydraulics.pressure(spring.load)
    width = np.append(np.diff(spring.travel, axis=0), np.full_like(spring.travel[:1], np.inf), axis=0)
    ends = np.append(pressure[1:], hydraulics.pressure(spring.past(-1, np.asarray(1.0))[0])[None] + 0.0 * pressure[-1:], axis=0)
    # a knot at a kink may carry a rounding error of pressure; a piece is pressed only if more than that is at one end
    noise = 1e-9 * (np.abs(hydraulics.offset) + 1.0)
    gain = np.where(np.maximum(pressure, ends) > noise, hydraulics.gain, 0.0)
    volume = hydraulics.volume(spring.travel, spring.load)
    steepest = _steepest_fall(spring, width)
    lowest = np.minimum(pressure, ends)
    rises = not np.any(hydraulics.rise(steepest, gain * steepest, lowest) < 0.0)
    top = volume if rises else np.maximum.accumulate(volume, axis=0)
    return Way(spring, hydraulics, gain, pressure, volume, top, width, rises, None)


def _steepest_fall(spring: Spring, width: Array) -> Array:
    """Steepest fall of the load on each piece [N/m], at most 0."""
    if spring.straight:
        return np.minimum(spring.first, 0.0)
    # a metre past the last knot of a diaphragm its load has long risen again
    end = np.where(np.isfinite(width), width, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        bend = np.clip(np.where(spring.third != 0.0, -spring.second / (3.0 * spring.third), 0.0), 0.0, end)
    ends = spring.past(slice(None), end)[1]
    return np.minimum(np.minimum(np.minimum(spring.first, ends), spring.past(slice(None), bend)[1]), 0.0)


def _with_jumps(way: Way) -> Way:
    """Cut each piece into what is jumped over, what is passed, and what starts the next jump; the last only into two."""
    peak = way.volume[0]
    places: list[Array] = []
    last = len(way.travel) - 1
    for j in range(last + 1):
        land, turn = _piece_jump(way, j, peak, j == last)
        places += [way.travel[j] + 0.0 * peak, way.travel[j] + land]
        if j < last:
            peak = np.where(turn > land, np.maximum(peak, _volume_past(way, j, turn)), peak)
            places.append(way.travel[j] + turn)
    travel = np.stack(np.broadcast_arrays(*places))
    owner = np.arange(len(places)) // 3
    laid = _fill(way.spring.cut(travel, owner), way.hydraulics)
    skipped = (np.arange(len(places)) % 3 != 1).reshape((-1,) + (1,) * (travel.ndim - 1))
    return Way(
        laid.spring,
        way.hydraulics,
        way.gain[owner] + 0.0 * laid.gain,
        laid.pressure,
        laid.volume,
        np.maximum.accumulate(laid.volume, axis=0),
        laid.width,
        False,
        skipped & np.ones(laid.volume.shape, dtype=bool),
    )


def _piece_jump(way: Way, j: int, peak: Array, last: bool) -> tuple[Array, Array]:
    """How far into piece `j` the fingers land, and how far in the fluid taken turns back; both cut to the piece."""
    width = way.width[j]
    behind = np.maximum(peak - way.volume[j], 0.0)
    land = np.where(
        behind > 0.0, np.minimum(_step(way.hydraulics, way.spring.first[j], way.gain[j], way.pressure[j], behind), width), 0.0
    )
    if last:
        return (land, land) if way.spring.straight else (_last_landing(way, peak, behind),) * 2
    turn = _turn_in(way, j)
    if not way.spring.straight:
        land, turn = _exact_jump(way, j, peak, land)
    return land, np.maximum(land, turn)


def _step(hydraulics: Hydraulics, slope: Array, gain: Array, pressure: Array, more: Array) -> Array:
    """Least travel [m] past a knot at which `more` fluid [m3] is taken on a straight piece: the stable root of one quadratic.

    Infinite where the piece's line never takes it.
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


def _turn_in(way: Way, j: int) -> Array:
    """Travel past knot `j` at which the fluid taken is largest on a straight piece."""
    h, slope, width, pressure = way.hydraulics, way.spring.first[j], way.width[j], way.pressure[j]
    rate = way.gain[j] * slope
    straight = h.sweep * (1.0 + h.give * slope) + h.compliance * rate
    with np.errstate(divide="ignore", invalid="ignore"):
        peak_pressure = np.sqrt(h.air * h.ambient * -rate / straight) - h.ambient
        inside = np.clip((peak_pressure - pressure) / rate, 0.0, width)
    inside = np.where(straight > 0.0, inside, 0.0)
    return np.where(rate < 0.0, inside, np.where(straight >= 0.0, width, 0.0))


def _volume_past(way: Way, j: int, past: Array) -> Array:
    return way.hydraulics.volume(way.travel[j] + past, way.spring.past(j, past)[0])


def _exact_jump(way: Way, j: int, peak: Array, guess: Array) -> tuple[Array, Array]:
    """The same two places on a diaphragm's own equation, by roots inside the piece."""
    width = way.width[j]

    def bend(d: Array) -> tuple[Array, None]:
        return -_rise_past(way, j, d), None

    none = np.zeros_like(peak + width)
    start, end = _rise_past(way, j, none), _rise_past(way, j, width + none)
    turns = (start > 0.0) & (end < 0.0)
    within = bracketed_root(bend, none, np.where(turns, width, 0.0), 0.5 * width)
    turn = np.where(turns, within, np.where(start > 0.0, width, 0.0))
    reached_here = _volume_past(way, j, turn) >= peak
    behind = peak > way.volume[j]
    crosses = behind & reached_here

    def crossing(d: Array) -> tuple[Array, Array]:
        return _volume_past(way, j, d) - peak, _rise_past(way, j, d)

    found = bracketed_root(crossing, none, np.where(crosses, turn, 0.0), np.minimum(guess, turn))
    return np.where(behind, np.where(reached_here, found, width), 0.0), turn


def _last_landing(way: Way, peak: Array, behind: Array) -> Array:
    """How far past the last knot of a diaphragm, where its load only rises, the fingers land."""
    widest = behind / way.hydraulics.sweep * (1.0 + 1e-9)

    def crossing(d: Array) -> tuple[Array, Array]:
        return _volume_past(way, -1, d) - peak, _rise_past(way, -1, d)

    return bracketed_root(crossing, 0.0 * widest, widest, 0.5 * widest)


def _rise_past(way: Way, j: int, d: Array) -> Array:
    load, slope = way.spring.past(j, d)
    return way.hydraulics.rise(slope, way.gain[j] * slope, way.hydraulics.pressure(load))


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
    index = np.zeros(np.broadcast_shapes(volume.shape, way.top.shape[1:]), dtype=np.intp)
    for top in way.top[1:]:
        index += volume > top
    pick = Lookup(index)
    first, gain, pressure = pick(way.spring.first), pick(way.gain), pick(way.pressure)
    more = np.maximum(volume - pick(way.volume), 0.0)
    if way.spring.straight:
        past = _step(way.hydraulics, first, gain, pressure, more)
        if not way.rises:
            # rounding may put a volume at a landing into the piece that is jumped over: never leave the piece
            past = np.minimum(past, pick(way.width))
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
    volume = way.hydraulics.volume(x, spot.load)
    return volume if way.rises else np.maximum(volume, Lookup(spot.index)(way.top))


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
    index = np.zeros(np.broadcast_shapes(x.shape, way.travel.shape[1:]), dtype=np.intp)
    for travel in way.travel[1:]:
        index += x >= travel
    return Lookup(index)

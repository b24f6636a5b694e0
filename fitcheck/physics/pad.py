"""The press seen from the pad: where the pad stands, what force it takes there, and its extremes over the fingers' travel."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import reduce

import numpy as np
import numpy.typing as npt

from fitcheck.physics.curves import Array, follow, running
from fitcheck.physics.demand import pad_for, sent
from fitcheck.physics.turns import exact_turns, straight_turns
from fitcheck.physics.way import Index, Lookup, Spot, Way, reached

__all__: list[str] = []

Met = npt.NDArray[np.bool_]  # where a place is on the way


@dataclass(frozen=True)
class Pedal:
    """The pad's own map: position against fluid, and the force of the pedal's springs."""

    free_play: Array
    ratio: Array
    area: Array  # of the master
    stroke: Array
    cutoff: Array
    points: Array  # [m] pad positions of the spring force, leading axis
    forces: Array  # [N] leading axis

    def force(self, position: Array) -> Array:
        """Force of the pedal's springs [N] at a pad position [m]."""
        return self.forces[0] if len(self.forces) == 1 else follow(self.points, self.forces, position)

    def force_slope(self, position: Array) -> Array:
        """Rise of that force [N/m] just past a pad position [m]."""
        slope = np.zeros(np.broadcast_shapes(position.shape, self.points.shape[1:]))
        for left, right, low, high in zip(self.points[:-1], self.points[1:], self.forces[:-1], self.forces[1:], strict=True):
            width = np.where(right > left, right - left, np.inf)
            slope = np.where((position >= left) & (position < right), (high - low) / width, slope)
        return slope

    def position(self, volume: Array) -> Array:
        """Pad position [m] at which a volume [m3] has been sent."""
        return pad_for(volume, self.free_play, self.ratio, self.area, self.cutoff)

    def sent(self, position: Array) -> Array:
        """Fluid [m3] sent at a pad position [m]."""
        return sent(position, self.free_play, self.ratio, self.area, self.stroke, self.cutoff)

    def end(self, travel: Array) -> Array:
        """Pad position [m] where the press ends: full travel, or the master on its bottom."""
        return np.minimum(travel, self.free_play + self.ratio * self.stroke)


@dataclass(frozen=True)
class Foot:
    """Force at the pad while the master moves, `per_signal * signal + rest + spring force`.

    The signal (a pressure, or the finger load of the old linkage) is linear in the finger load above 0.
    """

    per_signal: Array
    rest: Array
    gain: Array
    offset: Array

    def signal(self, load: Array) -> Array:
        """The signal at a finger load [N]."""
        return np.maximum(0.0, self.gain * load + self.offset)

    def force(self, load: Array) -> Array:
        """Force at the pad [N] at a finger load [N], without the pedal's springs."""
        return self.per_signal * self.signal(load) + self.rest


@dataclass(frozen=True)
class Station:
    """Places on the way at which the force can turn, along the leading axis."""

    force: Array  # [N] at the pad
    met: Met | bool  # whether the press comes there
    place: npt.NDArray[np.intp]  # rises with finger travel; below 0 the fingers do not move yet


@dataclass(frozen=True)
class Press:
    """One press of the pedal, from rest to `end`, on one way."""

    way: Way
    pedal: Pedal
    foot: Foot
    end: Spot
    lash_volume: Array  # [m3] that goes before the fingers move
    last: Array  # [m] pad position where the press ends

    def force(self, spot: Spot) -> Array:
        """Force at the pad [N] with the fingers at a place on the way."""
        volume = self.way.hydraulics.volume(spot.travel, spot.load)
        return self._at_pad(spot.load, np.maximum(volume, Lookup(spot.index)(self.way.top)))

    def _at_pad(self, load: Array, volume: Array) -> Array:
        position = np.minimum(self.pedal.position(volume + self.lash_volume), self.last)
        return self.moved(self.foot.force(load)) + self.pedal.force(position)

    def moved(self, force: Array) -> Array:
        """A force that is felt only once the master's rod moves."""
        return np.where(self.last > self.pedal.free_play, force, 0.0)

    @property
    def starts(self) -> Array:
        """Pad position [m] at which the fingers start to move, no further than the press goes."""
        return np.minimum(self.pedal.position(self.way.volume[0] + self.lash_volume), self.last)

    def stations(self) -> Iterator[Station]:
        """Every place at which the force can turn.

        These are the ends of the free play, the knots of the way, the points of the pedal spring's curve, the end, and places
        inside a piece where the cover's and the pedal's forces balance.
        """
        way, pedal, last = self.way, self.pedal, self.last
        count, step = int(self.end.index.max(initial=0)) + 1, 2 * len(pedal.points) + 2  # knots in reach, places a piece
        knot = np.arange(count).reshape((-1,) + (1,) * self.end.index.ndim)
        free_play = np.minimum(pedal.free_play, last)
        yield Station(pedal.force(0.0 * free_play)[None], True, np.array(-3 * step))
        alone = pedal.force(free_play)[None]
        yield Station(alone, True, np.array(-2 * step))
        yield Station(alone + self.moved(self.foot.force(way.load[0])), True, np.array(-2 * step + 1))
        bends = reached(way, pedal.sent(pedal.points) - self.lash_volume)
        yield self._bends(bends, step)
        position = np.minimum(pedal.position(way.top[:count] + self.lash_volume), last)
        yield Station(self.moved(self.foot.force(way.load[:count])) + pedal.force(position), knot <= self.end.index, step * knot)
        yield from self._turns(bends, count, step)
        at_end = self.moved(self.foot.force(self.end.load)) + pedal.force(last)
        yield Station(at_end[None], True, (step * self.end.index + step - 1)[None])

    def _bends(self, bends: Spot, step: int) -> Station:
        """The points of the pedal spring's curve: in the free play, before the fingers start, and after."""
        points, number = self.pedal.points, np.arange(len(self.pedal.points)).reshape((-1,) + (1,) * (bends.index.ndim - 1))
        pushed = points > self.pedal.free_play
        force = self.pedal.forces + np.where(pushed, self.foot.force(bends.load), 0.0)
        early = np.where(pushed, number - step, number - 3 * step + 1)
        place = np.where(points > self.starts, step * bends.index + 2 * number + 1, early)
        return Station(force, (points > 0.0) & (points < self.last), place)

    def _turns(self, bends: Spot, count: int, step: int) -> Iterator[Station]:
        """Between two points of the pedal spring's curve, and two knots."""
        way, straight = self.way, self.way.spring.straight
        pieces = min(count, len(way.travel) - 1) if straight else count
        levers = {number: lever for number, lever in self._levers() if lever.any()}
        if (straight and not way.hydraulics.air) or not levers or not pieces:
            return
        travel, width = way.travel[:pieces], way.width[:pieces]
        reach = width if straight else np.clip(self.end.travel - travel, 0.0, width)
        signal = self.foot.signal(way.spring.past(slice(0, pieces), 0.5 * reach)[0])
        own = np.where(signal > 0.0, self.foot.per_signal * self.foot.gain, 0.0)
        thrown = 1.0 if way.skipped is None else np.where(way.skipped[:pieces], 0.0, 1.0)
        if straight:
            for number, lever in levers.items():
                some, turn = straight_turns(way, pieces, own, lever * thrown)
                here = way.travel[some] + turn
                met = (turn > 0.0) & (turn < width[some]) & (here > bends.travel[number]) & (here < bends.travel[number + 1])
                yield from self._turned(some, turn, met & (here < self.end.travel), step * some + 2 * number + 2)
            return
        numbers = np.array(list(levers))
        start, stop = (np.clip(bends.travel[ends][:, None] - travel, 0.0, reach) for ends in (numbers, numbers + 1))
        turn = exact_turns(way, own, np.stack(list(levers.values()))[:, None] * thrown, start, stop)
        places = step * np.arange(pieces) + 2 * numbers[:, None] + 2
        owner = np.tile(np.arange(pieces), len(numbers))
        turn = turn.reshape((len(owner), *turn.shape[2:]))
        yield from self._turned(owner, turn, ~np.isnan(turn), places.reshape(-1))

    def _levers(self) -> Iterator[tuple[int, Array]]:
        """Force of the pedal's spring per fluid sent [N/m3] between each two points of its curve."""
        pedal = self.pedal
        for number, span in enumerate(np.diff(pedal.points, axis=0)):
            change = pedal.forces[number + 1] - pedal.forces[number]
            yield number, pedal.ratio / pedal.area * (change / np.where(span > 0.0, span, np.inf))

    def _turned(self, owner: Index, turn: Array, met: Met, places: Index) -> Iterator[Station]:
        if not met.any():
            return
        some = np.flatnonzero(met.reshape(len(met), -1).any(axis=1))
        way, d, met, owner = self.way, np.where(met[some], turn[some], 0.0), met[some], owner[some]
        load = way.spring.past(owner, d)[0]
        volume = np.maximum(way.hydraulics.volume(way.travel[owner] + d, load), way.top[owner])
        yield Station(self._at_pad(load, volume), met, places[some].reshape((-1,) + (1,) * (d.ndim - 1)))


def largest_before(way: Way, knots: Array, end: Spot, at_end: Array) -> Array:
    """Largest of a quantity given at the knots, from rest to `end`.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    knots : array
        [any] values at the knots, on the leading axis.
    end : Spot
        [SI] the last place.
    at_end : array
        [any] value at the last place.

    Returns
    -------
    array
        [any] at a knot passed on the way, or at the last place.

    Source: definition; for a quantity that turns only at knots.
    """
    return np.maximum(Lookup(end.index)(running(np.maximum, knots)), at_end)


def _least_before(way: Way, knots: Array, end: Spot, at_end: Array) -> Array:
    return np.minimum(Lookup(end.index)(running(np.minimum, knots)), at_end)


def peak_of(press: Press) -> Array:
    """Largest force at the pad [N] on the way.

    Parameters
    ----------
    press : Press
        [SI] one press of the pedal.

    Returns
    -------
    array
        [N] of the pedal's springs alone until the master's rod moves.

    Source: derivation: equilibrium of master and pedal.
    """
    if len(press.pedal.forces) == 1:
        way, foot, end, own = press.way, press.foot, press.end, press.pedal.forces[0]
        largest = press.moved(largest_before(way, foot.force(way.load), end, foot.force(end.load)))
        return np.asarray(np.maximum(own, largest + own))
    return _most(press.stations())


def _most(stations: Iterable[Station]) -> Array:
    return np.asarray(reduce(np.maximum, (np.where(some.met, some.force, -np.inf).max(axis=0) for some in stations)))


def _least(stations: Iterable[Station], after: Array) -> Array:
    """The least force at a place or later."""
    later = ((some.force, some.met & (some.place >= after)) for some in stations)
    return np.asarray(reduce(np.minimum, (np.where(met, force, np.inf).min(axis=0) for force, met in later)))


def least_of(press: Press) -> Array:
    """Least force at the pad [N] over the fingers' travel.

    Parameters
    ----------
    press : Press
        [SI] one press of the pedal.

    Returns
    -------
    array
        [N] may be below 0.

    Source: derivation: equilibrium of master and pedal.
    """
    if len(press.pedal.forces) == 1:
        way, foot, end = press.way, press.foot, press.end
        least: Array = press.moved(_least_before(way, foot.force(way.load), end, foot.force(end.load))) + press.pedal.forces[0]
        return least
    return _least(press.stations(), np.array(0))


def peak_and_low_of(press: Press) -> tuple[Array, Array]:
    """Largest force at the pad [N] on the way, and the least [N] after it.

    Parameters
    ----------
    press : Press
        [SI] one press of the pedal.

    Returns
    -------
    tuple of array
        [N, N] the least is the largest itself where the force never falls.

    Source: derivation: equilibrium of master and pedal.
    """
    if len(press.pedal.forces) == 1:
        return _steady_peak_and_low(press)
    stations = list(press.stations())
    peak, never = _most(stations), np.iinfo(np.intp).max
    tops = (np.where(some.met & (some.force == peak), some.place, never).min(axis=0) for some in stations)
    return peak, _least(stations, reduce(np.minimum, tops))


def _steady_peak_and_low(press: Press) -> tuple[Array, Array]:
    """The same where the pedal's own force never changes: only the signal counts."""
    way, foot = press.way, press.foot
    signals = foot.signal(way.load)
    peaks, lows = [signals[0]], [signals[0]]
    for signal in signals[1:]:
        lows.append(np.where(signal > peaks[-1], signal, np.minimum(lows[-1], signal)))
        peaks.append(np.maximum(peaks[-1], signal))
    pick = Lookup(press.end.index)
    peak, low, last = pick(np.stack(peaks)), pick(np.stack(lows)), foot.signal(press.end.load)
    low = np.where(last > peak, last, np.minimum(low, last))
    own = press.pedal.forces[0]
    largest, least = (press.moved(foot.per_signal * signal + foot.rest) for signal in (np.maximum(peak, last), low))
    return largest + own, least + own

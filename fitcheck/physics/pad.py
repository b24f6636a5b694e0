"""The press seen from the pad: where the pad stands, what force it takes there, and its extremes over the fingers' travel."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fitcheck.physics.curves import Array, bracketed_root, follow
from fitcheck.physics.demand import pad_for, sent
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
        if not self.way.rises:
            volume = np.maximum(volume, Lookup(spot.index)(self.way.top))
        return self._at_pad(spot.load, volume)

    def _at_pad(self, load: Array, volume: Array) -> Array:
        position = np.minimum(self.pedal.position(volume + self.lash_volume), self.last)
        return self._moved(self.foot.force(load)) + self.pedal.force(position)

    def _moved(self, force: Array) -> Array:
        """A force that is felt only once the master's rod moves."""
        return np.where(self.last > self.pedal.free_play, force, 0.0)

    def early(self) -> Iterator[Array]:
        """Forces at the pad, in order, at all corners before the fingers start: the pedal alone, then the master too."""
        free_play = np.minimum(self.pedal.free_play, self.last)
        start = np.minimum(self.pedal.position(self.way.volume[0] + self.lash_volume), self.last)
        for place in (0.0 * free_play, *[np.clip(point, 0.0, free_play) for point in self.pedal.points], free_play):
            yield self.pedal.force(place)
        more = self._moved(self.foot.force(self.way.load[0]))
        for place in (free_play, *[np.clip(point, free_play, start) for point in self.pedal.points], start):
            yield more + self.pedal.force(place)

    def steps(self) -> tuple[Array, Met]:
        """Forces at the pad and whether they are met, on a leading axis in order of finger travel.

        The force can only turn at a knot of the way, where the pedal's spring force bends, at the end, or at a place inside
        a piece where the cover's and the pedal's forces balance.
        """
        way, end = self.way, self.end.travel
        bends = reached(way, self.pedal.sent(self.pedal.points) - self.lash_volume).travel
        owner = np.repeat(np.arange(len(way.travel)), len(bends) + 1)
        left, width = way.travel[owner], way.width[owner]
        marks = [np.clip(bends - here, 0.0, wide) for here, wide in zip(way.travel, way.width, strict=True)]
        none = np.zeros((1, *np.broadcast_shapes(bends.shape[1:], width.shape[1:])))
        first = np.concatenate([part for mark in marks for part in (none, mark)])
        last = np.concatenate([np.append(mark, none + wide, axis=0) for mark, wide in zip(marks, way.width, strict=True)])
        stop = np.minimum(last, end - left)
        inside = stop > first
        some = np.flatnonzero(inside.reshape(len(owner), -1).any(axis=1))  # most stretches are empty for every kit
        owner, first, inside = owner[some], first[some], inside[some]
        stop = np.where(inside, stop[some], first)
        turn = self._turns(owner, first, stop)
        met = inside & (turn > first) & (turn < stop)
        forces = [self._past(np.zeros(1, np.intp), none), self._past(owner, np.where(met, turn, first)), self._past(owner, stop)]
        between = np.stack(forces[1:], axis=1).reshape((-1, *forces[2].shape[1:]))
        counts = np.stack([met, inside], axis=1).reshape((-1, *inside.shape[1:]))
        start = np.broadcast_to(forces[0], (1, *between.shape[1:]))
        return np.append(start, between, axis=0), np.append(np.ones((1, *counts.shape[1:]), dtype=bool), counts, axis=0)

    def _past(self, owner: Index, d: Array) -> Array:
        """Forces at the pad [N] at travels `d` past the knots `owner`."""
        load = self.way.spring.past(owner, d)[0]
        return self._at_pad(load, self._volume(owner, d, load))

    def _volume(self, owner: Index, d: Array, load: Array) -> Array:
        volume = self.way.hydraulics.volume(self.way.travel[owner] + d, load)
        return volume if self.way.rises else np.maximum(volume, self.way.top[owner])

    def _turns(self, owner: Index, first: Array, stop: Array) -> Array:
        """Travels past the knots `owner` at which the force turns between two places; not a number where it does not."""
        middle = 0.5 * (first + stop)
        load = self.way.spring.past(owner, middle)[0]
        volume = self._volume(owner, middle, load) + self.lash_volume
        lever = self.pedal.ratio / self.pedal.area * self.pedal.force_slope(self.pedal.position(volume))
        if self.way.skipped is not None:
            lever = np.where(self.way.skipped[owner], 0.0, lever)
        own = np.where(self.foot.signal(load) > 0.0, self.foot.per_signal * self.foot.gain, 0.0)
        return (
            self._straight_turns(owner, own, lever)
            if self.way.spring.straight
            else self._exact_turns(owner, own, lever, first, stop)
        )

    def _straight_turns(self, owner: Index, own: Array, lever: Array) -> Array:
        """The same on straight pieces, where only air makes the force bend."""
        h, slope, gain = self.way.hydraulics, self.way.spring.first[owner], self.way.gain[owner]
        if not h.air:
            return np.full_like(slope, np.nan)
        rate = gain * slope
        steady = own * slope + lever * (h.sweep * (1.0 + h.give * slope) + h.compliance * rate)
        with np.errstate(divide="ignore", invalid="ignore"):
            pressure = np.sqrt(-lever * h.air * h.ambient * rate / steady) - h.ambient
            return np.where(rate != 0.0, (pressure - self.way.pressure[owner]) / rate, np.nan)

    def _exact_turns(self, owner: Index, own: Array, lever: Array, first: Array, stop: Array) -> Array:
        """The same on a diaphragm's own equation: roots of the force's slope between two places."""
        h, spring = self.way.hydraulics, self.way.spring

        def slope(rows: Index, d: Array) -> Array:
            load, stiffness = spring.past(owner[rows], d)
            rate = self.way.gain[owner[rows]] * stiffness
            return own[rows] * stiffness + lever[rows] * h.rise(stiffness, rate, h.pressure(load))

        every = np.arange(len(owner))
        start, end = slope(every, first), slope(every, stop)
        turns = start * end < 0.0
        found = np.full_like(start, np.nan)
        rows = np.flatnonzero(turns.reshape(len(owner), -1).any(axis=1))
        if len(rows):
            side, low = np.where(end[rows] > 0.0, 1.0, -1.0), first[rows]
            high = np.where(turns[rows], stop[rows], low)
            root = bracketed_root(lambda d: (side * slope(rows, d), None), low, high, 0.5 * (low + high))
            found[rows] = np.where(turns[rows], root, np.nan)
        return found


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
        [any] the value, on the axes of what it is computed from.

    Source: derivation: volume balance of the line.
    """
    return np.maximum(Lookup(end.index)(np.maximum.accumulate(knots, axis=0)), at_end)


def _least_before(way: Way, knots: Array, end: Spot, at_end: Array) -> Array:
    return np.minimum(Lookup(end.index)(np.minimum.accumulate(knots, axis=0)), at_end)


def peak_of(press: Press) -> Array:
    """Largest force at the pad [N] on the way.

    Parameters
    ----------
    press : Press
        [SI] one press of the pedal.

    Returns
    -------
    array
        [N] the value, on the axes of what it is computed from.

    Source: derivation: volume balance of the line.
    """
    early = press.early()
    peak = next(early)
    for force in early:
        peak = np.maximum(peak, force)
    if len(press.pedal.forces) == 1:
        way, foot, end = press.way, press.foot, press.end
        moving = largest_before(way, foot.force(way.load), end, foot.force(end.load)) + press.pedal.forces[0]
        return np.where(press.last > press.pedal.free_play, np.maximum(peak, moving), peak)
    forces, met = press.steps()
    return np.asarray(np.maximum(peak, np.where(met, forces, -np.inf).max(axis=0)))


def least_of(press: Press) -> Array:
    """Least force at the pad [N] over the fingers' travel.

    Parameters
    ----------
    press : Press
        [SI] one press of the pedal.

    Returns
    -------
    array
        [N] the value, on the axes of what it is computed from.

    Source: derivation: volume balance of the line.
    """
    if len(press.pedal.forces) == 1:
        way, foot, end = press.way, press.foot, press.end
        moving: Array = _least_before(way, foot.force(way.load), end, foot.force(end.load)) + press.pedal.forces[0]
        return moving
    forces, met = press.steps()
    return np.asarray(np.where(met, forces, np.inf).min(axis=0))


def peak_and_low_of(press: Press) -> tuple[Array, Array]:
    """Largest force at the pad [N] on the way, and the least [N] after it.

    Parameters
    ----------
    press : Press
        [SI] one press of the pedal.

    Returns
    -------
    tuple of array
        [N] the value, on the axes of what it is computed from.

    Source: derivation: volume balance of the line.
    """
    if len(press.pedal.forces) == 1:
        return _steady_peak_and_low(press)
    forces, met = press.steps()
    early = [np.broadcast_to(force, forces.shape[1:])[None] for force in press.early()]
    forces = np.concatenate([*early, np.where(met, forces, -np.inf)])
    met = np.append(np.ones((len(early), *met.shape[1:]), dtype=bool), met, axis=0)
    place = forces.argmax(axis=0)
    later = met & (np.arange(len(forces)).reshape((-1,) + (1,) * place.ndim) >= place)
    return np.asarray(forces.max(axis=0)), np.asarray(np.where(later, forces, np.inf).min(axis=0))


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
    base = foot.rest + press.pedal.forces[0]
    return foot.per_signal * np.maximum(peak, last) + base, foot.per_signal * low + base

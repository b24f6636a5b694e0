"""The press seen from the pad: where the pad stands, what force it takes there, and its extremes over the fingers' travel."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from fitcheck.physics.curves import Array, bracketed_root, follow
from fitcheck.physics.demand import pad_for, sent
from fitcheck.physics.way import Lookup, Spot, Way, reached

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

    def _past(self, j: int, d: Array) -> Array:
        """Force at the pad [N] at a travel `d` past knot `j`."""
        load = self.way.spring.past(j, d)[0]
        return self._at_pad(load, self._volume(j, d, load))

    def _volume(self, j: int, d: Array, load: Array) -> Array:
        volume = self.way.hydraulics.volume(self.way.travel[j] + d, load)
        return volume if self.way.rises else np.maximum(volume, self.way.top[j])

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

    def steps(self) -> Iterator[tuple[Array, Met]]:
        """Force at the pad and whether it is met, in order of finger travel.

        The force can only turn at a knot of the way, where the pedal's spring force bends, at the end, or at a place inside
        a piece where the cover's and the pedal's forces balance.
        """
        way, end = self.way, self.end.travel
        bends = [reached(way, self.pedal.sent(point) - self.lash_volume).travel for point in self.pedal.points]
        yield self._past(0, 0.0 * end), end >= 0.0
        for j, (left, width) in enumerate(zip(way.travel, way.width, strict=True)):
            here = end - left
            marks = [np.zeros_like(left), *[np.clip(bend - left, 0.0, width) for bend in bends], width]
            for first, last in pairwise(marks):
                stop = np.minimum(last, here)
                inside = stop > first
                if not inside.any():
                    continue
                stop = np.where(inside, stop, first)
                turn = self._turn(j, first, stop)
                met = inside & (turn > first) & (turn < stop)
                if met.any():
                    yield self._past(j, np.where(met, turn, first)), met
                yield self._past(j, stop), inside

    def _turn(self, j: int, first: Array, stop: Array) -> Array:
        """Travel past knot `j` at which the force turns between two places; not a number where it does not."""
        middle = 0.5 * (first + stop)
        load, _ = self.way.spring.past(j, middle)
        volume = self._volume(j, middle, load) + self.lash_volume
        lever = self.pedal.ratio / self.pedal.area * self.pedal.force_slope(self.pedal.position(volume))
        if self.way.skipped is not None:
            lever = np.where(self.way.skipped[j], 0.0, lever)
        own = np.where(self.foot.signal(load) > 0.0, self.foot.per_signal * self.foot.gain, 0.0)
        return self._straight_turn(j, own, lever) if self.way.spring.straight else self._exact_turn(j, own, lever, first, stop)

    def _straight_turn(self, j: int, own: Array, lever: Array) -> Array:
        """The same on a straight piece, where only air makes the force bend."""
        h, slope, gain = self.way.hydraulics, self.way.spring.first[j], self.way.gain[j]
        if not h.air:
            return np.full_like(slope, np.nan)
        rate = gain * slope
        steady = own * slope + lever * (h.sweep * (1.0 + h.give * slope) + h.compliance * rate)
        with np.errstate(divide="ignore", invalid="ignore"):
            pressure = np.sqrt(-lever * h.air * h.ambient * rate / steady) - h.ambient
            return np.where(rate != 0.0, (pressure - self.way.pressure[j]) / rate, np.nan)

    def _exact_turn(self, j: int, own: Array, lever: Array, first: Array, stop: Array) -> Array:
        """The same on a diaphragm's own equation: a root of the force's slope between two places."""
        h, spring, gain = self.way.hydraulics, self.way.spring, self.way.gain[j]

        def slope(d: Array) -> Array:
            load, stiffness = spring.past(j, d)
            return own * stiffness + lever * h.rise(stiffness, gain * stiffness, h.pressure(load))

        start, end = slope(first), slope(stop)
        turns = start * end < 0.0
        if not np.any(turns):
            return np.full_like(start, np.nan)
        side = np.where(end > 0.0, 1.0, -1.0)
        high = np.where(turns, stop, first)
        root = bracketed_root(lambda d: (side * slope(d), np.zeros_like(d)), first, high, 0.5 * (first + high))
        return np.where(turns, root, np.nan)


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
    for force, met in press.steps():
        peak = np.where(met, np.maximum(peak, force), peak)
    return peak


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
    least = np.asarray(np.inf)
    for force, met in press.steps():
        least = np.where(met, np.minimum(least, force), least)
    return least


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
    peak = low = np.asarray(-np.inf)
    for force, met in _all_steps(press):
        higher = met & (force > peak)
        low = np.where(higher, force, np.where(met, np.minimum(low, force), low))
        peak = np.where(higher, force, peak)
    return peak, low


def _all_steps(press: Press) -> Iterator[tuple[Array, Met]]:
    for force in press.early():
        yield force, np.asarray(True)
    yield from press.steps()


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

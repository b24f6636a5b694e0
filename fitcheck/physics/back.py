"""How long the fingers take to come back when the fluid is cold.

On a straight piece of the load curve the time is elementary. A piece of a diaphragm is parted where the flow goes from one
regime to the next, by roots, so that each part is smooth and a fixed rule of quadrature does for it: the time of a kit hangs
on that kit alone.
"""

from __future__ import annotations

from operator import itemgetter

import numpy as np

from fitcheck.physics.cold import Regimes, flow_at, flow_in, regimes, slowness_between
from fitcheck.physics.curves import Array, bracketed_root, running
from fitcheck.physics.pad import Foot
from fitcheck.physics.springs import Reader
from fitcheck.physics.way import Lookup, Spot, Way, at

__all__ = ["cold_line", "return_time"]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
_AT_ONCE = 1 << 16  # numbers worked on in one go


def cold_line(
    line_piece_length: Array, line_piece_inner_diameter: Array, cold_dynamic_viscosity: Array, fluid_density: Array
) -> Regimes:
    """The line as the cold fluid meets it.

    Parameters
    ----------
    line_piece_length : array
        [m] lengths of the pieces, on the leading axis.
    line_piece_inner_diameter : array
        [m] bores of the pieces, on the leading axis.
    cold_dynamic_viscosity : array
        [Pa s] of the cold fluid.
    fluid_density : array
        [kg/m3] of the fluid.

    Returns
    -------
    Regimes
        [SI] resistances and bounds of each regime of flow, pieces ordered by their bores.

    Equation: pressure for a flow Q: sum of 128 * Q * cold_dynamic_viscosity * length / (pi * inner_diameter^4); past Re 2300 by
    Blasius, with density

    Source: Hagen-Poiseuille law; Blasius' friction factor.
    """
    return regimes(line_piece_length, line_piece_inner_diameter, cold_dynamic_viscosity, fluid_density)


def return_time(way: Way, letting_back_foot: Foot, cold_line: Regimes, full: Spot, bite_travel: Array) -> Array:
    """Time from full pedal back to the bite when cold; infinite where the fingers cannot push the fluid home, 0 where the
    bite is not reached, not a number where there is no bite.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    letting_back_foot : Foot
        [SI] force at the pad while letting back.
    cold_line : Regimes
        [SI] the line filled with cold fluid.
    full : Spot
        [SI] where the fingers stand at full pedal.
    bite_travel : array
        [m] finger travel at the bite; may be not a number.

    Returns
    -------
    array
        [s] inf where the fingers do not push the fluid home all the way, 0 where full pedal does not go past the bite, nan where
        there is no bite.

    Equation: time in which the pressure of letting_back_foot drives home through cold_line what the slave sweeps from full to
    bite_travel on way

    Source: Hagen-Poiseuille law up to Re 2300, Blasius' friction factor beyond; derivation: integral of swept volume over flow.
    """
    home, bite = letting_back_foot.signal(way.load), at(way, bite_travel)
    # where the load just meets the slave's spring there is no pressure, whatever rounding leaves of it
    home = np.where(home > 1e-9 * (np.abs(letting_back_foot.offset) + 1.0), home, 0.0)
    at_full, at_bite = letting_back_foot.signal(full.load), letting_back_foot.signal(bite.load)
    to_full, to_bite = Lookup(full.index), Lookup(bite.index)
    stuck = running(np.add, (home <= 0.0).astype(float))
    blocked = (at_full <= 0.0) | (at_bite <= 0.0) | (to_full(stuck) > to_bite(stuck))
    pieces = _Pieces(way, letting_back_foot, home, cold_line)
    with np.errstate(invalid="ignore", divide="ignore"):
        time = pieces.until(to_full, full.travel, at_full) - pieces.until(to_bite, bite_travel, at_bite)
    time = np.where(blocked, np.inf, time)
    return np.where(np.isnan(bite_travel), np.nan, np.where(full.travel <= bite_travel, 0.0, time))


class _Pieces:
    """Time to pass each piece of the way, added up; a piece with no pressure at its left end is timed from its right end."""

    def __init__(self, way: Way, foot: Foot, home: Array, line: Regimes) -> None:
        self.way, self.foot, self.home, self.line = way, foot, home, line
        self.from_right = (home <= 0.0) & np.concatenate([home[1:] > 0.0, np.zeros_like(home[:1], dtype=bool)])
        width = way.width[:-1]
        some = np.flatnonzero((width > 0.0).reshape(len(width), -1).any(axis=1))
        low, high = home[some], home[some + 1]
        time = self._time(itemgetter(some), np.zeros_like(width[some]), low, width[some], high)
        times = np.zeros((len(home), *time.shape[1:]))
        times[some + 1] = np.where((low > 0.0) & (high > 0.0), time, 0.0)
        self.sums = running(np.add, times)

    def _time(self, read: Reader, start: Array, low: Array, end: Array, high: Array) -> Array:
        """Time from travel `start` to `end` past the knot that is read, the pressures there being `low` and `high`."""
        h, spring = self.way.hydraulics, self.way.spring
        with np.errstate(invalid="ignore", divide="ignore"):
            if spring.straight:
                swept = h.sweep * (1.0 + h.give * read(spring.first)) * (end - start)
                return np.asarray(swept * slowness_between(self.line, low, high))
            return _Bent(self.way, self.foot, self.line, read).time(start, low, end, high)

    def until(self, pick: Lookup, x: Array, pressure: Array) -> Array:
        """Time summed up to travel `x`, which lies past the knot that `pick` reads."""
        after = Lookup(np.minimum(pick.index + 1, len(self.home) - 1))
        right_first = pick(self.from_right.astype(float)) > 0.0
        left = pick(self.way.travel)
        start = np.where(right_first, after(self.way.travel) - left, 0.0)
        low = np.where(right_first, after(self.home), pick(self.home))
        return pick(self.sums) + self._time(pick, start, low, x - left, pressure)


class _Bent:
    """A piece of a diaphragm's way, on which the load only rises or falls."""

    def __init__(self, way: Way, foot: Foot, line: Regimes, read: Reader) -> None:
        self.h, self.foot, self.line = way.hydraulics, foot, line
        self.cubic = [read(knots) for knots in (way.load, way.spring.first, way.spring.second, way.spring.third)]

    def past(self, d: Array) -> tuple[Array, Array]:
        """Load and slope at a travel `d` past the knot."""
        load, first, second, third = self.cubic
        return load + d * (first + d * (second + d * third)), first + d * (2.0 * second + d * (3.0 * third))

    def swept(self, start: Array, end: Array) -> Array:
        """Fluid that the slave gives back between two travels."""
        h = self.h
        return np.asarray(h.sweep * (end - start + h.give * (self.past(end)[0] - self.past(start)[0])))

    def time(self, start: Array, low: Array, end: Array, high: Array) -> Array:
        """Time from travel `start` to `end`, the pressures there being `low` and `high`: regime by regime of the flow."""
        line, highest = self.line, np.maximum(low, high)

        def place(pressure: Array) -> Array:
            return self._place(pressure, start, low, end, high)

        here, there = np.minimum(low, line.pressure[0]), np.minimum(high, line.pressure[0])
        total = self._in_regime(0, place(here), here, place(there), there)
        for regime in range(1, len(line.flow)):
            waits, begins, ends = line.pressure[regime - 1], line.onset[regime], line.pressure[regime]
            if not np.any(highest > waits):
                break
            here, there = (np.clip(pressure, begins, ends) for pressure in (low, high))
            held = self.swept(*(place(np.clip(pressure, waits, begins)) for pressure in (low, high))) / line.flow[regime - 1]
            later = held + self._in_regime(regime, place(here), here, place(there), there)
            total = total + np.where(highest > waits, later, 0.0)
        even = low == high
        return np.where(even, self.swept(start, end) / flow_at(line, low), total) if np.any(even) else total

    def _place(self, pressure: Array, start: Array, low: Array, end: Array, high: Array) -> Array:
        """Travel at which the pressure is so much: an end of the way where it is no more than there, else a root between."""
        first, last = np.minimum(start, end), np.maximum(start, end)
        between = (pressure - low) * (high - pressure) > 0.0
        side = np.sign((high - low) * (end - start))

        def excess(d: Array) -> tuple[Array, Array]:
            load, slope = self.past(d)
            return side * (self.foot.gain * load + self.foot.offset - pressure), side * self.foot.gain * slope

        found = bracketed_root(excess, first, np.where(between, last, first), 0.5 * (first + last))
        return np.where(pressure == low, start, np.where(pressure == high, end, found))

    def _in_regime(self, regime: int, start: Array, low: Array, end: Array, high: Array) -> Array:
        """The same in one regime, over the logarithm of an even pressure: near no pressure time goes like it."""
        ratio = np.log(high / low)
        even = np.abs(ratio) < 1e-3
        total: Array = np.zeros_like(ratio)
        together = max(1, _AT_ONCE // max(1, ratio.size))
        for first_node in range(0, len(_NODES), together):
            nodes = slice(first_node, first_node + together)
            part, weight = (row[nodes].reshape((-1,) + (1,) * ratio.ndim) for row in (0.5 * (1.0 + _NODES), _WEIGHTS))
            grown = low * np.exp(ratio * part)
            share = np.where(even, part, (grown - low) / (high - low))
            pace = np.where(even, 1.0, ratio * grown / (high - low))
            load, slope = self.past(start + share * (end - start))
            swept = self.h.sweep * (1.0 + self.h.give * slope)
            for term in 0.5 * weight * pace * swept / flow_in(self.line, regime, self.foot.signal(load)):
                total = total + term
        return np.where(start == end, 0.0, total * (end - start))

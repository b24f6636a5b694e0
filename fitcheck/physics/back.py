"""How long the fingers take to come back when the fluid is cold."""

from __future__ import annotations

from operator import itemgetter

import numpy as np

from fitcheck.physics.cold import Regimes, flow_at, regimes, slowness_between
from fitcheck.physics.curves import Array, running
from fitcheck.physics.pad import Foot
from fitcheck.physics.springs import Reader
from fitcheck.physics.way import Lookup, Spot, Way, at

__all__ = ["cold_line", "return_time"]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(12)
_AT_ONCE = 1 << 16  # numbers worked on in one go
_CHORDS = 1000  # shared by the knots of the way, at least two on a piece


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
        self.chords = max(2, _CHORDS // len(home))
        # straight pieces all at once; the others one by one, each by the method that it needs
        each = [slice(0, -1)] if way.spring.straight else [slice(j, j + 1) for j in range(len(home) - 1)]
        times = [self._piece(piece, slice(piece.start + 1, None if piece.stop == -1 else piece.stop + 1)) for piece in each]
        shape = np.broadcast_shapes(*(time.shape[1:] for time in times))
        alike = [np.broadcast_to(time, (len(time), *shape)) for time in times]
        self.sums = running(np.add, np.concatenate([np.zeros((1, *shape)), *alike]))

    def _piece(self, left: slice, right: slice) -> Array:
        low, high, width = self.home[left], self.home[right], self.way.width[left]
        if not np.any(width > 0.0):
            return np.zeros_like(width)
        time = self._time(itemgetter(left), np.zeros_like(width), low, width, high)
        return np.where((low > 0.0) & (high > 0.0), time, 0.0)

    def _time(self, read: Reader, start: Array, low: Array, end: Array, high: Array) -> Array:
        """Time from travel `start` to `end` past the knot that is read, the pressures there being `low` and `high`."""
        h, spring = self.way.hydraulics, self.way.spring
        with np.errstate(invalid="ignore", divide="ignore"):
            if spring.straight:
                swept = h.sweep * (1.0 + h.give * read(spring.first)) * (end - start)
                return np.asarray(swept * slowness_between(self.line, low, high))
            # each cell by the method that it needs itself, or its last digits would depend on its neighbours
            changes = np.maximum(low, high) > self.line.pressure[0]
            if not np.any(changes):
                return self._by_quadrature(read, start, low, end, high)
            coarse, fine = (self._by_chords(read, start, end, parts) for parts in (self.chords, 2 * self.chords))
            chords = np.asarray((4.0 * fine - coarse) / 3.0)
            return chords if np.all(changes) else np.where(changes, chords, self._by_quadrature(read, start, low, end, high))

    def _by_chords(self, read: Reader, start: Array, end: Array, parts: int) -> Array:
        """The same where the flow changes its regime on the way: exact on chords, whose error goes with their length squared."""
        h, spring = self.way.hydraulics, self.way.spring
        load, first, second, third = read(spring.load), read(spring.first), read(spring.second), read(spring.third)
        total: Array = np.zeros(1)
        together = max(1, _AT_ONCE // max(1, np.broadcast(load, start, end, self.line.laminar[0]).size))
        for first_chord in range(0, parts, together):
            ends = np.arange(first_chord, min(first_chord + together, parts) + 1) / parts
            d = start + (end - start) * ends.reshape((-1,) + (1,) * np.broadcast(load, start, end).ndim)
            loads = load + d * (first + d * (second + d * third))
            swept = h.sweep * (np.diff(d, axis=0) + h.give * np.diff(loads, axis=0))
            pressure = self.foot.signal(loads)
            for term in swept * slowness_between(self.line, pressure[:-1], pressure[1:]):
                total = total + term
        return total

    def _by_quadrature(self, read: Reader, start: Array, low: Array, end: Array, high: Array) -> Array:
        """The same on a piece of a diaphragm, over the logarithm of an even pressure: near no pressure time goes like it."""
        h, spring = self.way.hydraulics, self.way.spring
        load, first, second, third = read(spring.load), read(spring.first), read(spring.second), read(spring.third)
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
            d = start + share * (end - start)
            pressure = self.foot.signal(load + d * (first + d * (second + d * third)))
            swept = h.sweep * (1.0 + h.give * (first + d * (2.0 * second + d * (3.0 * third))))
            for term in 0.5 * weight * pace * swept / flow_at(self.line, pressure):
                total = total + term
        return np.asarray(total * (end - start))

    def until(self, pick: Lookup, x: Array, pressure: Array) -> Array:
        """Time summed up to travel `x`, which lies past the knot that `pick` reads."""
        after = Lookup(np.minimum(pick.index + 1, len(self.home) - 1))
        right_first = pick(self.from_right.astype(float)) > 0.0
        left = pick(self.way.travel)
        start = np.where(right_first, after(self.way.travel) - left, 0.0)
        low = np.where(right_first, after(self.home), pick(self.home))
        return pick(self.sums) + self._time(pick, start, low, x - left, pressure)

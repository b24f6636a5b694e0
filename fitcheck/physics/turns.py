"""Where the force at the pad turns between two knots of the way: cover, air and the pedal's spring pull against each other.

With `own` for the force per finger load and `lever` for the pedal spring's force per fluid, the force rises along a piece by
`own * stiffness + lever * rise of the fluid taken`; it turns where that changes its sign.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fitcheck.physics.balance import Hydraulics
from fitcheck.physics.curves import Array, bracketed_root
from fitcheck.physics.way import Index, Way

__all__: list[str] = []


def straight_turns(way: Way, pieces: int, own: Array, lever: Array) -> tuple[Index, Array]:
    """Travels past their knots at which the force turns on straight pieces, where only air makes it bend.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way.
    pieces : int
        [-] so many pieces from the first on.
    own : array
        [-] force at the pad per finger load, pieces on the leading axis.
    lever : array
        [N/m3] force of the pedal's spring per fluid sent, pieces on the leading axis.

    Returns
    -------
    tuple of array
        [-] pieces on which the force turns for some kit; [m] the travels there, these pieces on the leading axis, not a
        number or outside its piece where it does not turn.

    Source: derivation: volume balance of the line, Boyle's law.
    """
    h, slope = way.hydraulics, way.spring.first[:pieces]
    rows = np.arange(pieces)
    if way.skipped is None:  # then the force can turn only where load and pedal spring pull apart
        rows = np.flatnonzero((lever * slope < 0.0).reshape(pieces, -1).any(axis=1))
    slope, own = slope[rows], own[rows]
    rate = way.gain[rows] * slope
    steady = own * slope + lever * (h.sweep * (1.0 + h.give * slope) + h.compliance * rate)
    with np.errstate(divide="ignore", invalid="ignore"):
        square = lever * (-h.air * h.ambient * rate) / steady  # of the absolute pressure
        some = np.flatnonzero((square >= h.ambient**2).any(axis=tuple(range(1, square.ndim))))
        pressure, rate, rows = np.sqrt(square[some]) - h.ambient, rate[some], rows[some]
        return rows, np.where(rate != 0.0, (pressure - way.pressure[rows]) / rate, np.nan)


def exact_turns(way: Way, own: Array, lever: Array, start: Array, stop: Array) -> Array:
    """The same on a diaphragm's own equation: roots of the force's slope between two travels past each knot.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way.
    own : array
        [-] force at the pad per finger load; here and below pieces lie on the axis after the leading one.
    lever : array
        [N/m3] force of the pedal's spring per fluid sent, stretches of its curve on the leading axis.
    start, stop : array
        [m] travels past the knots, for so many pieces from the first on; nothing to look for where they do not rise.

    Returns
    -------
    array
        [m] not a number where the force does not turn.

    Source: derivation: volume balance of the line, Boyle's law; equilibrium of the lever.
    """
    found, pieces = np.full(start.shape, np.nan), slice(0, start.shape[1])
    spring, cells = way.spring, _Cells(stop > start)
    knots = [some[pieces] for some in (spring.load, spring.first, spring.second, spring.third, way.gain)]
    every = [cells(array) for array in (*knots, own, lever)]
    low, high = cells(start), cells(stop)
    h = way.hydraulics
    fluid = [cells(array) for array in (h.sweep, h.give, h.gain, h.offset, h.compliance)]

    def at(rows: slice | npt.NDArray[np.bool_]) -> _Slope:
        sweep, give, gain, offset, compliance = (array[rows] for array in fluid)
        here = Hydraulics(sweep, give, gain, offset, compliance, h.air, h.ambient)
        return _Slope(here, *(array[rows] for array in every))

    whole = at(slice(None))
    before, after = whole(low)[0], whole(high)[0]
    turns = before * after < 0.0
    if turns.any():
        side, part, low, high = np.where(after[turns] > 0.0, 1.0, -1.0), at(turns), low[turns], high[turns]

        def rise(d: Array) -> tuple[Array, Array]:
            value, slope = part(d)
            return side * value, side * slope

        cells.set(found, turns, bracketed_root(rise, low, high, 0.5 * (low + high)))
    return found


class _Slope:
    """Rise of the force at the pad with finger travel past the knots, and the rise of that."""

    def __init__(self, h: Hydraulics, *arrays: Array) -> None:
        self.h, self.cubic = h, arrays[:4]
        self.gain, self.own, self.lever = arrays[4:]

    def __call__(self, d: Array) -> tuple[Array, Array]:
        load, first, second, third = self.cubic
        h, own, lever = self.h, self.own, self.lever
        stiffness, bend = first + d * (2.0 * second + d * (3.0 * third)), 2.0 * second + 6.0 * third * d
        pressure = h.pressure(load + d * (first + d * (second + d * third)))
        rate = self.gain * stiffness
        rise = own * stiffness + lever * h.rise(stiffness, rate, pressure)
        steady = h.sweep * h.give * bend + h.compliance * self.gain * bend
        if h.air:
            room = h.ambient + pressure
            steady = steady + h.air * h.ambient * (self.gain * bend - 2.0 * rate * rate / room) / room**2
        return rise, own * bend + lever * steady


class _Cells:
    """Reads arrays on any axes at some cells only."""

    def __init__(self, chosen: npt.NDArray[np.bool_]) -> None:
        self._shape, self._flat = chosen.shape, np.flatnonzero(chosen)
        self._places: dict[tuple[int, ...], Index] = {}

    def __call__(self, array: Array) -> Array:
        if array.shape not in self._places:
            own = np.arange(array.size).reshape(array.shape)
            self._places[array.shape] = np.broadcast_to(own, self._shape).reshape(-1)[self._flat]
        return np.asarray(array.reshape(-1).take(self._places[array.shape]))

    def set(self, array: Array, rows: npt.NDArray[np.bool_], values: Array) -> None:
        """Write values into some of the cells."""
        array.reshape(-1)[self._flat[rows]] = values

"""What the fingers push against, as pieces of a cubic: straight ones for a load curve, exact ones for a diaphragm spring."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from fitcheck.physics.curves import Array, bracketed_root
from fitcheck.physics.diaphragm import load_terms

__all__ = ["lift_off_load"]


Knot = npt.NDArray[np.intp] | slice | int
Reader = Callable[[Array], Array]  # an array with knots on the leading axis -> its value at each cell's knot


@dataclass(frozen=True)
class Spring:
    """Load at the fingers over their travel.

    From each knot on, the leading axis, `load + first d + second d^2 + third d^3` holds for a travel `d` past it, up to the
    next knot; every turn of the load is a knot, so that it only rises or falls between two.
    """

    travel: Array  # [m] from 0, not falling
    load: Array  # [N]
    first: Array  # [N/m]
    second: Array  # [N/m2]
    third: Array  # [N/m3]
    straight: bool

    def past(self, knot: Knot, d: Array) -> tuple[Array, Array]:
        """Load [N] and slope [N/m] at a travel `d` past a knot."""
        first = self.first[knot]
        if self.straight:
            return self.load[knot] + first * d, first + 0.0 * d
        second, third = self.second[knot], self.third[knot]
        return (
            self.load[knot] + d * (first + d * (second + d * third)),
            first + d * (2.0 * second + d * (3.0 * third)),
        )

    def halfway(self, piece: int | Reader, width: Array) -> Array:
        """Load [N] half a width past a knot, given by its number or by what reads it for every cell."""
        read = (lambda knots: knots[piece]) if isinstance(piece, int) else piece
        d = 0.5 * width
        return np.asarray(read(self.load) + d * (read(self.first) + d * (read(self.second) + d * read(self.third))))

    def cut(self, travel: Array, owner: npt.NDArray[np.intp]) -> Spring:
        """The same load on other knots; `owner` is the number of the piece that each new knot lies on."""
        past = travel - self.travel[owner]
        load, slope = self.past(owner, past)
        second = self.second[owner] + 3.0 * self.third[owner] * past
        third = self.third[owner] + 0.0 * past
        return Spring(travel, load, slope, second, third, self.straight)


def load_curve(travel: Array, load: Array, ndim: int) -> Spring:
    """A load straight between its points and constant past the last one.

    Parameters
    ----------
    travel : array
        [m] shape (K,), or with the axes of the kits behind; from 0, rising until it stays at its last point.
    load : array
        [N] of the same shape.
    ndim : int
        [-] axes of the kits.

    Returns
    -------
    Spring
        [SI] knots on a leading axis.

    Source: straight-line interpolation, elementary.
    """
    knots = travel.shape if travel.ndim > 1 else (-1,) + (1,) * ndim
    along = np.diff(travel, axis=0)
    rise = np.diff(load, axis=0) / np.where(along == 0.0, np.inf, along)
    slope = np.append(rise, 0.0 * load[-1:], axis=0).reshape(knots)
    none = np.zeros_like(slope)
    return Spring(travel.reshape(knots), load.reshape(knots), slope, none, none, True)


def diaphragm_load(
    ring: dict[str, Array],
    set_deflection: Array,
    cover_ratio: Array,
    lift_loss: Array,
    wear: Array,
    cushion_travel: Array,
    cushion_share: Array,
    cushion_clamp: Array,
) -> Spring:
    """Load at the fingers of a diaphragm spring by equilibrium of its lever; exact, since the ring's load is a cubic.

    Parameters
    ----------
    ring : dict of array
        [SI] geometry and material, arguments of `load_terms`.
    set_deflection : array
        [m] at the load circle, disc new.
    cover_ratio : array
        [-] finger travel over plate lift.
    lift_loss : array
        [m] finger travel before lift starts.
    wear : array
        [m] thickness worn off.
    cushion_travel : array
        [m] of the disc.
    cushion_share, cushion_clamp : array
        [-] points of the cushion curve, on the leading axis.

    Returns
    -------
    Spring
        [SI] knots on a leading axis.

    Source: Almen and Laszlo's equation in the form of DIN 2092 (EN 16984); derivation: equilibrium of the lever.
    """
    one, two, three = load_terms(**ring)
    deflection = set_deflection - wear
    clamp = deflection * (one + deflection * (two + deflection * three))
    lifts = [cushion_travel * share for share in cushion_share]
    pieces = [(0.0 * wear, 0.0 * wear, 0.0 * wear, 0.0 * wear, 0.0 * wear)]
    ends = [*lifts[1:], None]
    for lift, end, left, right in zip(lifts, ends, cushion_clamp, [*cushion_clamp[1:], None], strict=True):
        at = deflection + lift
        fall = 0.0 * lift
        if right is not None and end is not None:
            fall = clamp * (right - left) / np.where(end > lift, end - lift, np.inf)
        pieces.append(
            (
                lift_loss + cover_ratio * lift,
                (at * (one + at * (two + at * three)) - clamp * left) / cover_ratio,
                (one + at * (2.0 * two + 3.0 * three * at) - fall) / cover_ratio**2,
                (two + 3.0 * three * at) / cover_ratio**3,
                three / cover_ratio**4 + 0.0 * at,
            )
        )
    stacked = [np.stack(np.broadcast_arrays(*column)) for column in zip(*pieces, strict=True)]
    travel, load, first, second, third = stacked
    return _never_below_nothing(_with_turns(Spring(travel, load, first, second, third, False)))


def _with_turns(spring: Spring) -> Spring:
    """Put the places where the load turns among the knots: the roots of a quadratic on each piece."""
    width = np.append(np.diff(spring.travel, axis=0), np.full_like(spring.travel[:1], np.inf), axis=0)
    square = spring.second**2 - 3.0 * spring.first * spring.third
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(square)
        turns = np.sort(
            np.stack([(-spring.second - root) / (3.0 * spring.third), (-spring.second + root) / (3.0 * spring.third)]), axis=0
        )
    inside = [np.where(np.isfinite(turn), np.clip(turn, 0.0, width), 0.0) for turn in turns]
    travel = np.stack([spring.travel, spring.travel + inside[0], spring.travel + inside[1]], axis=1)
    travel = travel.reshape((-1, *spring.travel.shape[1:]))
    return spring.cut(travel, np.repeat(np.arange(len(spring.travel)), 3))


def _never_below_nothing(spring: Spring) -> Spring:
    """Where the fingers would have to be pulled back there is no load: put the places where it ends or starts among the knots."""
    low = spring.load
    below = np.min(low, axis=0) < -1e-9 * np.max(np.abs(low), axis=0)
    if not np.any(below):
        return _floored(spring)
    far = spring.travel[-1:] + 1.0  # a metre on, where the cubic has long come back
    ends = np.append(spring.travel[1:], far, axis=0)
    high = np.append(low[1:], spring.past(-1, np.ones_like(low[-1]))[0][None], axis=0)
    crosses = below & (low * high < 0.0)
    side = np.sign(high)

    def past(d: Array) -> tuple[Array, Array]:
        load, slope = spring.past(slice(None), d)
        return side * load, side * slope

    found = bracketed_root(past, np.zeros_like(low), np.where(crosses, ends - spring.travel, 0.0), 0.5 * (ends - spring.travel))
    travel = np.stack([spring.travel, spring.travel + np.where(crosses, found, 0.0)], axis=1).reshape((-1, *low.shape[1:]))
    return _floored(spring.cut(travel, np.repeat(np.arange(len(low)), 2)))


def _floored(spring: Spring) -> Spring:
    """Take the load away from each piece on which it is below nothing."""
    ends = np.append(spring.travel[1:], spring.travel[-1:] + 1.0, axis=0)
    middle = spring.past(slice(None), 0.5 * (ends - spring.travel))[0]
    none = middle < 0.0

    def kept(values: Array) -> Array:
        return np.where(none, 0.0, values)

    load = np.maximum(kept(spring.load), 0.0)
    return Spring(spring.travel, load, kept(spring.first), kept(spring.second), kept(spring.third), False)


def lift_off_load(spring: Spring, lift_off_travel: Array) -> Array:
    """Load at the fingers where the plate has just left the disc.

    Parameters
    ----------
    spring : Spring
        [SI] what the fingers push against, disc new.
    lift_off_travel : array
        [m] finger travel at which the plate has just left the disc.

    Returns
    -------
    array
        [N] load.

    Equation: load of spring at lift_off_travel

    Source: the cover's load curve.
    """
    load = spring.load[0] + 0.0 * lift_off_travel
    for knot, here in enumerate(spring.travel):
        load = np.where(lift_off_travel >= here, spring.past(knot, lift_off_travel - here)[0], load)
    return np.asarray(load)


def finer(spring: Spring, pieces: int, cut: npt.NDArray[np.bool_]) -> Spring:
    """The same load with some pieces cut into equal ones; the last one over as long a way again.

    Parameters
    ----------
    spring : Spring
        [SI] what the fingers push against.
    pieces : int
        [-] pieces for each of before.
    cut : array
        [-] which pieces of which kits are cut; in another kit the new knots lie on the old ones.

    Returns
    -------
    Spring
        [SI] the same load on more knots.

    Source: definition.
    """
    far = spring.travel[-1:] + np.maximum(spring.travel[-1:], 5e-3)
    travel = []
    for (left, right), some in zip(pairwise([*spring.travel, far[0]]), cut, strict=True):
        width = np.where(some, right - left, 0.0)
        travel += [left + width * (number / pieces) for number in range(pieces)]
    return spring.cut(np.stack(travel), np.repeat(np.arange(len(spring.travel)), pieces))

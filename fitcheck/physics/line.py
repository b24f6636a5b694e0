"""What the line between the cylinders holds, gives and stands.

Pieces lie on the leading axis and are summed over it. A tube has expansion 0; a hose has modulus inf (its wall and ratio of
contraction then do not count); an adapter and the padding of a short line have length 0.
"""

from __future__ import annotations

from functools import reduce

import numpy as np

from fitcheck.physics.curves import Array

__all__ = [
    "blocked_use",
    "line_dilation",
    "line_spare",
    "line_volume",
    "pressure_rating",
    "pressure_use",
]


def tube_dilation(length: Array, inner_diameter: Array, wall: Array, modulus: Array, poisson: Array) -> Array:
    """Volume that a tube with closed ends gains per pressure, wall and length stretched by it.

    Parameters
    ----------
    length, inner_diameter, wall : array
        [m] of the tube; a length of 0 gains nothing.
    modulus : array
        [Pa] of elasticity; inf is rigid.
    poisson : array
        [-] ratio of contraction.

    Returns
    -------
    array
        [m3/Pa] volume per pressure; finite for a wall above 0.

    Source: Lame's thick cylinder with closed ends.
    """
    inside = 0.5 * inner_diameter
    outside = inside + wall
    spread = wall * (inside + outside)  # difference of the squares, without cancellation in a thin wall
    axial = inside**2 / spread
    hoop = (inside**2 + outside**2) / spread
    strain = (2.0 * (hoop + poisson - poisson * axial) + (1.0 - 2.0 * poisson) * axial) / modulus
    return strain * np.pi * inside**2 * length


def hose_expansion(length: Array, expansion: Array, at_pressure: Array) -> Array:
    """Volume that a hose gains per pressure, taken as a constant slope.

    Parameters
    ----------
    length : array
        [m] of the hose.
    expansion : array
        [m2] volume gained per length at the pressure stated.
    at_pressure : array
        [Pa] the pressure stated, above 0.

    Returns
    -------
    array
        [m3/Pa] volume per pressure; finite for finite input.

    Source: definition; the measure is that of 49 CFR 571.106 (FMVSS 106), S5.3.2, volume per length at a pressure.
    """
    return length * expansion / at_pressure


def line_dilation(
    line_piece_length: Array,
    line_piece_inner_diameter: Array,
    line_piece_wall: Array,
    line_piece_modulus: Array,
    line_piece_poisson: Array,
    line_piece_expansion: Array,
    line_piece_at_pressure: Array,
) -> Array:
    """Volume that the whole line gains per pressure.

    Parameters
    ----------
    line_piece_length, line_piece_inner_diameter, line_piece_wall : array
        [m] of the pieces, on the leading axis.
    line_piece_modulus : array
        [Pa] of elasticity, inf for a hose.
    line_piece_poisson : array
        [-] ratio of contraction.
    line_piece_expansion : array
        [m2] volume gained per length at the pressure stated, 0 for a tube.
    line_piece_at_pressure : array
        [Pa] the pressure stated, above 0.

    Returns
    -------
    array
        [m3/Pa] volume per pressure; without the leading axis.

    Equation: sum of length * (pi r^2 (2 + 2n + (5 - 4n) r^2 / (wall (2r + wall))) / modulus + expansion / at_pressure), 2r =
    inner_diameter, n = poisson

    Source: Lame's thick cylinder with closed ends; hoses by their stated expansion.
    """
    tubes = tube_dilation(
        length=line_piece_length,
        inner_diameter=line_piece_inner_diameter,
        wall=line_piece_wall,
        modulus=line_piece_modulus,
        poisson=line_piece_poisson,
    )
    hoses = hose_expansion(length=line_piece_length, expansion=line_piece_expansion, at_pressure=line_piece_at_pressure)
    return _total(tubes + hoses)


def line_volume(line_piece_length: Array, line_piece_inner_diameter: Array) -> Array:
    """Fluid that the line holds.

    Parameters
    ----------
    line_piece_length, line_piece_inner_diameter : array
        [m] of the pieces, on the leading axis.

    Returns
    -------
    array
        [m3] volume; without the leading axis.

    Equation: sum over the pieces of pi / 4 * inner_diameter^2 * length

    Source: geometry of the cylinder.
    """
    return _total(0.25 * np.pi * line_piece_inner_diameter**2 * line_piece_length)


def _total(pieces: Array) -> Array:
    """Sum over the pieces, from the first on: `sum` adds in an order that hangs on how many lines there are."""
    whole: Array = reduce(np.add, pieces)
    return whole


def pressure_rating(master_pressure_rating: Array, line_pressure_rating: Array, slave_pressure_rating: Array) -> Array:
    """Lowest pressure rating in the train.

    Parameters
    ----------
    master_pressure_rating, line_pressure_rating, slave_pressure_rating : array
        [Pa] rating of each; the line's is the lowest of its pieces.

    Returns
    -------
    array
        [Pa] rating; nan where one of them is nan.

    Source: definition.
    """
    lowest: Array = np.minimum(np.minimum(master_pressure_rating, line_pressure_rating), slave_pressure_rating)
    return lowest


def pressure_use(peak_pressure: Array, pressure_rating: Array) -> Array:
    """Largest pressure over the lowest rating in the train.

    Parameters
    ----------
    peak_pressure : array
        [Pa] largest gauge pressure of a press.
    pressure_rating : array
        [Pa] lowest rating, above 0.

    Returns
    -------
    array
        [-] share; finite for finite input.

    Source: definition.
    """
    return peak_pressure / pressure_rating


def blocked_use(blocked_pressure: Array, pressure_rating: Array) -> Array:
    """Pressure of the whole foot against a stuck release, over the lowest rating in the train.

    Parameters
    ----------
    blocked_pressure : array
        [Pa] gauge pressure of the whole foot.
    pressure_rating : array
        [Pa] lowest rating, above 0.

    Returns
    -------
    array
        [-] share; finite for finite input.

    Source: definition.
    """
    return blocked_pressure / pressure_rating


def line_spare(line_length: Array, application_line_run: Array) -> Array:
    """Line length left over the run that it must cover.

    Parameters
    ----------
    line_length : array
        [m] all pieces together.
    application_line_run : array
        [m] least length that reaches.

    Returns
    -------
    array
        [m] length; below 0 where the line is too short.

    Source: definition.
    """
    return line_length - application_line_run

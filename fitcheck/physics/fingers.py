"""Where the fingers stand at full pedal, new and worn, with and without air."""

from __future__ import annotations

from fitcheck.physics.balance import Hydraulics
from fitcheck.physics.curves import Array
from fitcheck.physics.springs import Spring
from fitcheck.physics.way import Spot, Way, lay_way, reached

__all__ = [
    "full",
    "full_bled",
    "full_load",
    "full_load_bled",
    "full_load_worn",
    "full_travel",
    "full_travel_bled",
    "full_worn",
    "full_worn_bled",
    "way",
    "way_bled",
    "way_worn",
    "way_worn_bled",
]


def way(spring: Spring, hydraulics: Hydraulics, kinks: tuple[Array, Array]) -> Way:
    """The fingers' way with the air left after bleeding, disc new.

    Parameters
    ----------
    spring : Spring
        [SI] what the fingers push against, disc new.
    hydraulics : Hydraulics
        [SI] constants of the volume balance, with air.
    kinks : tuple of array
        [N] finger loads at which a pressure starts.

    Returns
    -------
    Way
        [SI] the value, on the axes of what it is computed from.

    Source: derivation: volume balance of the line.
    """
    return lay_way(spring, hydraulics, kinks)


def way_bled(spring: Spring, hydraulics_bled: Hydraulics, kinks: tuple[Array, Array]) -> Way:
    """The fingers' way without air, disc new.

    Parameters
    ----------
    spring : Spring
        [SI] what the fingers push against, disc new.
    hydraulics_bled : Hydraulics
        [SI] constants of the volume balance, without air.
    kinks : tuple of array
        [N] finger loads at which a pressure starts.

    Returns
    -------
    Way
        [SI] the value, on the axes of what it is computed from.

    Source: derivation: volume balance of the line.
    """
    return lay_way(spring, hydraulics_bled, kinks)


def way_worn(spring: Spring, spring_worn: Spring, hydraulics: Hydraulics, kinks: tuple[Array, Array], way: Way) -> Way:
    """The fingers' way from the worn rest, disc fully worn; the new one where the worn load curve is not known.

    Parameters
    ----------
    spring : Spring
        [SI] what the fingers push against, disc new.
    spring_worn : Spring
        [SI] what the fingers push against, disc fully worn.
    hydraulics : Hydraulics
        [SI] constants of the volume balance, with air.
    kinks : tuple of array
        [N] finger loads at which a pressure starts.
    way : Way
        [SI] the fingers' way with the air left after bleeding.

    Returns
    -------
    Way
        [SI] the value, on the axes of what it is computed from.

    Source: derivation: volume balance of the line.
    """
    return way if spring_worn is spring else lay_way(spring_worn, hydraulics, kinks)


def way_worn_bled(
    spring: Spring, spring_worn: Spring, hydraulics_bled: Hydraulics, kinks: tuple[Array, Array], way_bled: Way
) -> Way:
    """The fingers' way from the worn rest without air.

    Parameters
    ----------
    spring : Spring
        [SI] what the fingers push against, disc new.
    spring_worn : Spring
        [SI] what the fingers push against, disc fully worn.
    hydraulics_bled : Hydraulics
        [SI] constants of the volume balance, without air.
    kinks : tuple of array
        [N] finger loads at which a pressure starts.
    way_bled : Way
        [SI] the fingers' way without air.

    Returns
    -------
    Way
        [SI] the value, on the axes of what it is computed from.

    Source: derivation: volume balance of the line.
    """
    return way_bled if spring_worn is spring else lay_way(spring_worn, hydraulics_bled, kinks)


def full(way: Way, supply: Array, piston_area: Array, lash: Array) -> Spot:
    """Where the fingers stand at full pedal.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    supply : array
        [m3] fluid sent at full pedal.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.

    Returns
    -------
    Spot
        [SI] the value, on the axes of what it is computed from.

    Source: derivation: volume balance of the line.
    """
    return reached(way, supply - piston_area * lash)


def full_bled(way_bled: Way, supply: Array, piston_area: Array, lash: Array) -> Spot:
    """Where the fingers stand at full pedal without air.

    Parameters
    ----------
    way_bled : Way
        [SI] the fingers' way without air.
    supply : array
        [m3] fluid sent at full pedal.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.

    Returns
    -------
    Spot
        [SI] the value, on the axes of what it is computed from.

    Source: derivation: volume balance of the line.
    """
    return reached(way_bled, supply - piston_area * lash)


def full_worn(way: Way, way_worn: Way, full: Spot, supply: Array, piston_area: Array, lash: Array) -> Spot:
    """Where the fingers stand at full pedal, from the worn rest, the lash freshly reset.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    way_worn : Way
        [SI] the fingers' way from the worn rest.
    full : Spot
        [SI] where the fingers stand at full pedal.
    supply : array
        [m3] fluid sent at full pedal.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.

    Returns
    -------
    Spot
        [SI] the value, on the axes of what it is computed from.

    Source: derivation: volume balance of the line.
    """
    return full if way_worn is way else reached(way_worn, supply - piston_area * lash)


def full_worn_bled(way_bled: Way, way_worn_bled: Way, full_bled: Spot, supply: Array, piston_area: Array, lash: Array) -> Spot:
    """Where the fingers stand at full pedal, from the worn rest, without air.

    Parameters
    ----------
    way_bled : Way
        [SI] the fingers' way without air.
    way_worn_bled : Way
        [SI] the fingers' way from the worn rest, without air.
    full_bled : Spot
        [SI] where the fingers stand at full pedal, without air.
    supply : array
        [m3] fluid sent at full pedal.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.

    Returns
    -------
    Spot
        [SI] the value, on the axes of what it is computed from.

    Source: derivation: volume balance of the line.
    """
    return full_bled if way_worn_bled is way_bled else reached(way_worn_bled, supply - piston_area * lash)


def full_travel(full: Spot) -> Array:
    """Finger travel at full pedal.

    Parameters
    ----------
    full : Spot
        [SI] where the fingers stand at full pedal.

    Returns
    -------
    array
        [m] the value, on the axes of what it is computed from.

    Source: derivation: volume balance of the line.
    """
    return full.travel


def full_travel_bled(full_bled: Spot) -> Array:
    """Finger travel at full pedal without air.

    Parameters
    ----------
    full_bled : Spot
        [SI] where the fingers stand at full pedal, without air.

    Returns
    -------
    array
        [m] the value, on the axes of what it is computed from.

    Source: derivation: volume balance of the line.
    """
    return full_bled.travel


def full_load(full: Spot) -> Array:
    """Load at the fingers at full pedal.

    Parameters
    ----------
    full : Spot
        [SI] where the fingers stand at full pedal.

    Returns
    -------
    array
        [N] the value, on the axes of what it is computed from.

    Source: the cover's load curve.
    """
    return full.load


def full_load_bled(full_bled: Spot) -> Array:
    """Load at the fingers at full pedal without air.

    Parameters
    ----------
    full_bled : Spot
        [SI] where the fingers stand at full pedal, without air.

    Returns
    -------
    array
        [N] the value, on the axes of what it is computed from.

    Source: the cover's load curve.
    """
    return full_bled.load


def full_load_worn(full_worn: Spot) -> Array:
    """Load at the fingers at full pedal, disc fully worn.

    Parameters
    ----------
    full_worn : Spot
        [SI] where the fingers stand at full pedal, worn.

    Returns
    -------
    array
        [N] the value, on the axes of what it is computed from.

    Source: the cover's load curve.
    """
    return full_worn.load

"""Where the fingers stand at full pedal, new and worn, with and without air."""

from __future__ import annotations

from fitcheck.physics.balance import Hydraulics
from fitcheck.physics.curves import Array
from fitcheck.physics.lay import lay_way, with_kinks
from fitcheck.physics.springs import Spring
from fitcheck.physics.way import Spot, Way, reached

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
    "kinked_spring",
    "kinked_spring_worn",
    "way",
    "way_bled",
    "way_worn",
    "way_worn_bled",
]


def kinked_spring(spring: Spring, kinks: tuple[Array, Array]) -> Spring:
    """What the fingers push against with a knot where a pressure starts, disc new.

    Parameters
    ----------
    spring : Spring
        [SI] what the fingers push against, disc new.
    kinks : tuple of array
        [N] finger loads at which a pressure starts.

    Returns
    -------
    Spring
        [SI] the same load on more knots.

    Equation: spring, with a knot where its load crosses one of kinks

    Source: definition.
    """
    return with_kinks(spring, kinks)


def kinked_spring_worn(spring: Spring, spring_worn: Spring, kinks: tuple[Array, Array], kinked_spring: Spring) -> Spring:
    """The same, disc fully worn; the very one of the new disc where the worn load curve is not known.

    Parameters
    ----------
    spring : Spring
        [SI] what the fingers push against, disc new.
    spring_worn : Spring
        [SI] what the fingers push against, disc fully worn.
    kinks : tuple of array
        [N] finger loads at which a pressure starts.
    kinked_spring : Spring
        [SI] with these kinks, disc new.

    Returns
    -------
    Spring
        [SI] the same load on more knots.

    Equation: spring_worn, with a knot where its load crosses one of kinks

    Source: definition.
    """
    return kinked_spring if spring_worn is spring else with_kinks(spring_worn, kinks)


def way(kinked_spring: Spring, hydraulics: Hydraulics) -> Way:
    """The fingers' way with the air left after bleeding, disc new.

    Parameters
    ----------
    kinked_spring : Spring
        [SI] what the fingers push against, disc new, with the kinks of the pressure among its knots.
    hydraulics : Hydraulics
        [SI] constants of the volume balance, with air.

    Returns
    -------
    Way
        [SI] knots on a leading axis.

    Equation: fluid that hydraulics takes over finger travel against kinked_spring

    Source: derivation: volume balance of the line.
    """
    return lay_way(kinked_spring, hydraulics)


def way_bled(kinked_spring: Spring, hydraulics_bled: Hydraulics) -> Way:
    """The fingers' way without air, disc new.

    Parameters
    ----------
    kinked_spring : Spring
        [SI] what the fingers push against, disc new, with the kinks of the pressure among its knots.
    hydraulics_bled : Hydraulics
        [SI] constants of the volume balance, without air.

    Returns
    -------
    Way
        [SI] knots on a leading axis.

    Equation: fluid that hydraulics_bled takes over finger travel against kinked_spring

    Source: derivation: volume balance of the line.
    """
    return lay_way(kinked_spring, hydraulics_bled)


def way_worn(kinked_spring: Spring, kinked_spring_worn: Spring, hydraulics: Hydraulics, way: Way) -> Way:
    """The fingers' way from the worn rest, disc fully worn; the new one where the worn load curve is not known.

    Parameters
    ----------
    kinked_spring : Spring
        [SI] what the fingers push against, disc new, with the kinks of the pressure among its knots.
    kinked_spring_worn : Spring
        [SI] the same, disc fully worn.
    hydraulics : Hydraulics
        [SI] constants of the volume balance, with air.
    way : Way
        [SI] the fingers' way with the air left after bleeding.

    Returns
    -------
    Way
        [SI] knots on a leading axis; the very way of the new disc where its worn load is not known.

    Equation: fluid that hydraulics takes over finger travel against kinked_spring_worn

    Source: derivation: volume balance of the line.
    """
    return way if kinked_spring_worn is kinked_spring else lay_way(kinked_spring_worn, hydraulics)


def way_worn_bled(kinked_spring: Spring, kinked_spring_worn: Spring, hydraulics_bled: Hydraulics, way_bled: Way) -> Way:
    """The fingers' way from the worn rest without air.

    Parameters
    ----------
    kinked_spring : Spring
        [SI] what the fingers push against, disc new, with the kinks of the pressure among its knots.
    kinked_spring_worn : Spring
        [SI] the same, disc fully worn.
    hydraulics_bled : Hydraulics
        [SI] constants of the volume balance, without air.
    way_bled : Way
        [SI] the fingers' way without air.

    Returns
    -------
    Way
        [SI] knots on a leading axis; the very way of the new disc where its worn load is not known.

    Equation: fluid that hydraulics_bled takes over finger travel against kinked_spring_worn

    Source: derivation: volume balance of the line.
    """
    return way_bled if kinked_spring_worn is kinked_spring else lay_way(kinked_spring_worn, hydraulics_bled)


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
        [SI] at rest where the supply does not take up the lash.

    Equation: place on way at which supply - piston_area * lash is taken

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
        [SI] at rest where the supply does not take up the lash.

    Equation: place on way_bled at which supply - piston_area * lash is taken

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
        [SI] the very place of the new disc where its worn load is not known.

    Equation: place on way_worn at which supply - piston_area * lash is taken

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
        [SI] the very place of the new disc where its worn load is not known.

    Equation: place on way_worn_bled at which supply - piston_area * lash is taken

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
        [m] from the free tips, at least 0.

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
        [m] from the free tips, at least 0.

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
        [N] at least 0.

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
        [N] at least 0.

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
        [N] at least 0; new where the worn load is not known.

    Source: the cover's load curve.
    """
    return full_worn.load

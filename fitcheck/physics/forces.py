"""How finger load becomes pressure, pressing and letting back, and the largest of both."""

from __future__ import annotations

import numpy as np

from fitcheck.physics.curves import Array
from fitcheck.physics.pad import largest_before
from fitcheck.physics.way import Spot, Way

__all__ = [
    "kinks",
    "largest_load",
    "letting_back_gain",
    "letting_back_offset",
    "peak_pressure",
    "pressing_gain",
    "pressing_offset",
]


def pressing_gain(piston_area: Array, fork_ratio: Array, fork_efficiency: Array, slave_efficiency: Array) -> Array:
    """Pressure per load at the fingers while pressing.

    Parameters
    ----------
    piston_area : array
        [m2] of the slave.
    fork_ratio : array
        [-] slave travel over bearing travel.
    fork_efficiency : array
        [-] of the fork.
    slave_efficiency : array
        [-] of the slave.

    Returns
    -------
    array
        [1/m2] one over the effective piston area at the fingers.

    Source: derivation: equilibrium of fork and piston with efficiencies against the motion.
    """
    return 1.0 / (fork_ratio * fork_efficiency * slave_efficiency * piston_area)


def pressing_offset(piston_area: Array, fork_return_force: Array, slave_efficiency: Array, slave_preload: Array) -> Array:
    """Pressure at no finger load while pressing; negative where the slave's spring alone carries some load.

    Parameters
    ----------
    piston_area : array
        [m2] of the slave.
    fork_return_force : array
        [N] of the return spring at the fork tip.
    slave_efficiency : array
        [-] of the slave.
    slave_preload : array
        [N] of the spring inside the slave.

    Returns
    -------
    array
        [Pa] gauge, negative where the slave's spring carries the first load.

    Source: derivation: equilibrium of the piston.
    """
    return (fork_return_force / slave_efficiency - slave_preload) / piston_area


def letting_back_gain(piston_area: Array, fork_ratio: Array, fork_efficiency: Array, slave_efficiency: Array) -> Array:
    """Pressure per load at the fingers while letting back.

    Parameters
    ----------
    piston_area : array
        [m2] of the slave.
    fork_ratio : array
        [-] slave travel over bearing travel.
    fork_efficiency : array
        [-] of the fork.
    slave_efficiency : array
        [-] of the slave.

    Returns
    -------
    array
        [1/m2] at most that of pressing.

    Source: derivation: equilibrium of fork and piston with efficiencies against the motion.
    """
    return fork_efficiency * slave_efficiency / (fork_ratio * piston_area)


def letting_back_offset(piston_area: Array, fork_return_force: Array, slave_efficiency: Array, slave_preload: Array) -> Array:
    """Pressure at no finger load while letting back.

    Parameters
    ----------
    piston_area : array
        [m2] of the slave.
    fork_return_force : array
        [N] of the return spring at the fork tip.
    slave_efficiency : array
        [-] of the slave.
    slave_preload : array
        [N] of the spring inside the slave.

    Returns
    -------
    array
        [Pa] gauge, negative where the slave's spring carries the first load.

    Source: derivation: equilibrium of the piston.
    """
    return (fork_return_force * slave_efficiency - slave_preload) / piston_area


def kinks(
    pressing_gain: Array, pressing_offset: Array, letting_back_gain: Array, letting_back_offset: Array
) -> tuple[Array, Array]:
    """Loads at the fingers from which there is pressure, pressing and letting back.

    Parameters
    ----------
    pressing_gain : array
        [1/m2] pressure per finger load, pressing.
    pressing_offset : array
        [Pa] pressure at no finger load, pressing.
    letting_back_gain : array
        [1/m2] pressure per finger load, letting back.
    letting_back_offset : array
        [Pa] pressure at no finger load, letting back.

    Returns
    -------
    tuple of array
        [N] pressing and letting back; at most 0 where there is pressure from the first load on.

    Source: derivation: zero of the pressure.
    """
    return -pressing_offset / pressing_gain, -letting_back_offset / letting_back_gain


def peak_pressure(way_bled: Way, way_worn_bled: Way, full_bled: Spot, full_worn_bled: Spot) -> Array:
    """Largest pressure on the way to full pedal, disc new or fully worn.

    Parameters
    ----------
    way_bled : Way
        [SI] the fingers' way without air.
    way_worn_bled : Way
        [SI] the fingers' way from the worn rest, without air.
    full_bled : Spot
        [SI] where the fingers stand at full pedal, without air.
    full_worn_bled : Spot
        [SI] where the fingers stand at full pedal, worn, without air.

    Returns
    -------
    array
        [Pa] gauge, the larger of both; new where the worn load is not known.

    Equation: largest pressure on way_bled up to full_bled, or on way_worn_bled up to full_worn_bled

    Source: derivation: equilibrium of fork and piston.
    """
    new = largest_before(way_bled, way_bled.pressure, full_bled, full_bled.pressure)
    if way_worn_bled is way_bled:
        return new
    return np.maximum(new, largest_before(way_worn_bled, way_worn_bled.pressure, full_worn_bled, full_worn_bled.pressure))


def largest_load(way_bled: Way, way_worn_bled: Way, full_bled: Spot, full_worn_bled: Spot) -> Array:
    """Largest load at the fingers on the way to full pedal, disc new or fully worn.

    Parameters
    ----------
    way_bled : Way
        [SI] the fingers' way without air.
    way_worn_bled : Way
        [SI] the fingers' way from the worn rest, without air.
    full_bled : Spot
        [SI] where the fingers stand at full pedal, without air.
    full_worn_bled : Spot
        [SI] where the fingers stand at full pedal, worn, without air.

    Returns
    -------
    array
        [N] the larger of both; new where the worn load is not known.

    Equation: largest load on way_bled up to full_bled, or on way_worn_bled up to full_worn_bled

    Source: the cover's load curve.
    """
    new = largest_before(way_bled, way_bled.load, full_bled, full_bled.load)
    if way_worn_bled is way_bled:
        return new
    return np.maximum(new, largest_before(way_worn_bled, way_worn_bled.load, full_worn_bled, full_worn_bled.load))

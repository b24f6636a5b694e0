"""Between the pad and the fluid: areas, ratios, the master's rod, the whole foot, and shares of the pedal's travel."""

from __future__ import annotations

import numpy as np

from fitcheck.physics.curves import Array

__all__ = [
    "adjustments",
    "bite_height",
    "blocked_pressure",
    "concentric_piston_area",
    "external_piston_area",
    "master_area",
    "master_reserve",
    "master_rod_travel",
    "port_clearance",
    "release_point_share",
    "total_ratio",
]


def master_area(master_bore: Array) -> Array:
    """Area of the master's piston.

    Parameters
    ----------
    master_bore : array
        [m] diameter.

    Returns
    -------
    array
        [m2] area; finite for finite input.

    Source: geometry of the circle.
    """
    return 0.25 * np.pi * master_bore**2


def external_piston_area(slave_bore: Array) -> Array:
    """Area of an external slave's piston.

    Parameters
    ----------
    slave_bore : array
        [m] diameter.

    Returns
    -------
    array
        [m2] area; finite for finite input.

    Source: geometry of the circle.
    """
    return 0.25 * np.pi * slave_bore**2


def concentric_piston_area(slave_outer_diameter: Array, slave_inner_diameter: Array) -> Array:
    """Area of a concentric release cylinder's annular piston.

    Parameters
    ----------
    slave_outer_diameter, slave_inner_diameter : array
        [m] diameters of the annulus.

    Returns
    -------
    array
        [m2] area; finite for finite input.

    Source: geometry of the annulus.
    """
    return 0.25 * np.pi * (slave_outer_diameter - slave_inner_diameter) * (slave_outer_diameter + slave_inner_diameter)


def total_ratio(pedal_ratio: Array, piston_area: Array, master_area: Array, fork_ratio: Array) -> Array:
    """Pad travel over finger travel of a rigid train.

    Parameters
    ----------
    pedal_ratio : array
        [-] pad travel over rod travel.
    piston_area, master_area : array
        [m2] of slave and master.
    fork_ratio : array
        [-] slave travel over bearing travel.

    Returns
    -------
    array
        [-] ratio; finite for finite input.

    Source: Pascal's law and the lever.
    """
    return pedal_ratio * (piston_area / master_area) * fork_ratio


def port_clearance(pedal_free_play: Array, pedal_ratio: Array) -> Array:
    """Free play at the master's rod, which keeps the compensating port open at rest.

    Parameters
    ----------
    pedal_free_play : array
        [m] at the pad.
    pedal_ratio : array
        [-] pad travel over rod travel.

    Returns
    -------
    array
        [m] at the rod; finite for finite input.

    Source: derivation, lever of the pedal.
    """
    return pedal_free_play / pedal_ratio


def master_rod_travel(travel: Array, pedal_free_play: Array, pedal_ratio: Array) -> Array:
    """Travel of the master's rod at full pedal.

    Parameters
    ----------
    travel : array
        [m] of the pad, to its stop.
    pedal_free_play : array
        [m] at the pad.
    pedal_ratio : array
        [-] pad travel over rod travel.

    Returns
    -------
    array
        [m] at the rod, at least 0; nan for nan.

    Source: derivation, lever of the pedal.
    """
    rod: Array = np.maximum(0.0, travel - pedal_free_play) / pedal_ratio
    return rod


def master_reserve(master_stroke: Array, master_rod_travel: Array) -> Array:
    """Master stroke left at full pedal.

    Parameters
    ----------
    master_stroke : array
        [m] mechanical stroke.
    master_rod_travel : array
        [m] of the rod at full pedal.

    Returns
    -------
    array
        [m] stroke; below 0 where the master bottoms before the pedal.

    Source: definition.
    """
    return master_stroke - master_rod_travel


def blocked_pressure(
    foot_limit: Array,
    least_return_force: Array,
    pedal_ratio: Array,
    pedal_efficiency: Array,
    master_spring_force: Array,
    master_efficiency: Array,
    master_area: Array,
) -> Array:
    """Pressure of the whole foot against a release that sticks or a slave at the end of its stroke.

    Parameters
    ----------
    foot_limit : array
        [N] the whole foot at the pad.
    least_return_force : array
        [N] least force of the pedal's own springs over its travel.
    pedal_ratio : array
        [-] pad travel over rod travel.
    pedal_efficiency : array
        [-] of the pedal.
    master_spring_force : array
        [N] of the master's return spring.
    master_efficiency : array
        [-] of the master.
    master_area : array
        [m2] of the master.

    Returns
    -------
    array
        [Pa] gauge pressure; below 0 where the springs alone hold the foot.

    Source: derivation, equilibrium of pedal and master.
    """
    rod = (foot_limit - least_return_force) * pedal_ratio * pedal_efficiency
    return (rod - master_spring_force) * master_efficiency / master_area


def release_point_share(release_point: Array, travel: Array) -> Array:
    """Pad position at release over pedal travel.

    Parameters
    ----------
    release_point : array
        [m] pad position.
    travel : array
        [m] of the pad, to its stop, above 0.

    Returns
    -------
    array
        [-] share; nan for nan.

    Source: definition.
    """
    return release_point / travel


def bite_height(travel: Array, bite_point: Array) -> Array:
    """Height of the bite above full pedal, over pedal travel.

    Parameters
    ----------
    travel : array
        [m] of the pad, to its stop, above 0.
    bite_point : array
        [m] pad position.

    Returns
    -------
    array
        [-] share; nan for nan.

    Source: definition.
    """
    return (travel - bite_point) / travel


def adjustments(fork_ratio: Array, wear_travel: Array, lash: Array) -> Array:
    """Times that the rod must be reset over the disc's life.

    Parameters
    ----------
    fork_ratio : array
        [-] slave travel over bearing travel.
    wear_travel : array
        [m] how far wear moves the resting fingers over the disc's life.
    lash : array
        [m] at the rod, freshly set.

    Returns
    -------
    array
        [-] whole number, at least 0; inf without lash, nan for nan.

    Source: derivation, each setting lasts until wear has used up the lash.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        spans = fork_ratio * wear_travel / lash
    times = np.maximum(0.0, np.ceil(spans - 1e-9) - 1.0)
    return np.where(lash <= 0.0, np.inf, times)

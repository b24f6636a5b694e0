"""What torque the clutch carries, and what torque the slope of the bite test asks."""

from __future__ import annotations

import numpy as np

from fitcheck.physics.curves import Array

__all__ = [
    "mean_radius",
    "slope_torque",
    "torque_capacity",
    "torque_capacity_worn",
    "torque_factor",
    "torque_factor_worn",
]

GRAVITY = 9.80665  # m/s2, the standard acceleration of free fall


def mean_radius(disc_outer_diameter: Array, disc_inner_diameter: Array, disc_uniform_pressure: Array) -> Array:
    """Radius at which the friction of a face may be thought to act.

    Parameters
    ----------
    disc_outer_diameter : array
        [m] outer diameter of the facings.
    disc_inner_diameter : array
        [m] inner diameter of the facings.
    disc_uniform_pressure : array
        [-] 1 for the rule of uniform pressure, 0 for uniform wear.

    Returns
    -------
    array
        [m] radius, between the inner and the outer radius.

    Equation: (D + d - D * d / (D + d)) / 3 if uniform_pressure else (D + d) / 4, with D = outer_diameter, d = inner_diameter

    Source: Budynas and Nisbett, Shigley's Mechanical Engineering Design, chapter 16, disc clutches.
    """
    across = disc_outer_diameter + disc_inner_diameter
    # The quotient of the differences of cubes and squares, divided out: nothing is lost where the facing is narrow.
    even_pressure = (across - disc_outer_diameter * disc_inner_diameter / across) / 3.0
    return np.where(disc_uniform_pressure, even_pressure, across / 4.0)


def torque_capacity(clamp: Array, mean_radius: Array, disc_faces: Array, disc_friction: Array) -> Array:
    """Torque that the clutch carries with a new disc.

    Parameters
    ----------
    clamp : array
        [N] load on the disc.
    mean_radius : array
        [m] radius at which friction acts.
    disc_faces : array
        [-] friction faces.
    disc_friction : array
        [-] coefficient of friction.

    Returns
    -------
    array
        [N m] torque; finite for finite input.

    Source: Budynas and Nisbett, Shigley's Mechanical Engineering Design, chapter 16, disc clutches.
    """
    return disc_faces * disc_friction * mean_radius * clamp


def torque_capacity_worn(clamp_worn: Array, mean_radius: Array, disc_faces: Array, disc_friction: Array) -> Array:
    """Torque that the clutch carries with a fully worn disc.

    Parameters
    ----------
    clamp_worn : array
        [N] load on the worn disc.
    mean_radius : array
        [m] radius at which friction acts.
    disc_faces : array
        [-] friction faces.
    disc_friction : array
        [-] coefficient of friction.

    Returns
    -------
    array
        [N m] torque; finite for finite input.

    Source: Budynas and Nisbett, Shigley's Mechanical Engineering Design, chapter 16, disc clutches.
    """
    return disc_faces * disc_friction * mean_radius * clamp_worn


def torque_factor(torque_capacity: Array, application_engine_torque: Array) -> Array:
    """Torque capacity over engine torque, new disc.

    Parameters
    ----------
    torque_capacity : array
        [N m] torque that the clutch carries.
    application_engine_torque : array
        [N m] largest torque of the engine, above 0.

    Returns
    -------
    array
        [-] factor; finite for finite input.

    Source: definition.
    """
    return torque_capacity / application_engine_torque


def torque_factor_worn(torque_capacity_worn: Array, application_engine_torque: Array) -> Array:
    """Torque capacity over engine torque, fully worn disc.

    Parameters
    ----------
    torque_capacity_worn : array
        [N m] torque that the worn clutch carries.
    application_engine_torque : array
        [N m] largest torque of the engine, above 0.

    Returns
    -------
    array
        [-] factor; finite for finite input.

    Source: definition.
    """
    return torque_capacity_worn / application_engine_torque


def slope_torque(
    application_vehicle_mass: Array,
    slope: Array,
    application_wheel_radius: Array,
    application_first_gear: Array,
    application_final_drive: Array,
) -> Array:
    """Torque at the clutch that holds the vehicle on the slope of the bite test in first gear.

    Parameters
    ----------
    application_vehicle_mass : array
        [kg] mass of the vehicle.
    slope : array
        [rad] angle of the slope.
    application_wheel_radius : array
        [m] rolling radius of the driven wheels.
    application_first_gear : array
        [-] ratio of first gear.
    application_final_drive : array
        [-] ratio of the final drive.

    Returns
    -------
    array
        [N m] torque; finite for finite input.

    Source: derivation, weight along the slope through the wheels and the gears.
    """
    return (
        application_vehicle_mass * GRAVITY * np.sin(slope) * application_wheel_radius
        / (application_first_gear * application_final_drive)
    )  # fmt: skip

"""What the fluid itself does: how thick it is in the cold, how it gives, warms, boils and comes back to the reservoir."""

from __future__ import annotations

import numpy as np

from fitcheck.physics.curves import Array

__all__ = [
    "boil_reserve",
    "cold_dynamic_viscosity",
    "cold_kinematic_viscosity",
    "reservoir_rise",
    "reservoir_spare",
    "warm_creep",
]

_MM2 = 1e-6  # m2: the standard's line is drawn for viscosity in mm2/s


def viscosity_line(temperature: Array, known_temperature: Array, known_viscosity: Array) -> Array:
    """Kinematic viscosity at a temperature from known points, by the nearest pair of points outside them.

    Parameters
    ----------
    temperature : array
        [K] where the viscosity is wanted.
    known_temperature : array
        [K] of the points, rising along the leading axis, two or more; a short set repeats its last point.
    known_viscosity : array
        [m2/s] kinematic viscosity of the points.

    Returns
    -------
    array
        [m2/s] kinematic viscosity; inf where it exceeds all numbers, nan where a point is at 0.3 mm2/s or below.

    Source: ASTM D341, Walther's line `log10 log10(nu + 0.7)` over `log10 T`, nu in mm2/s.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        warmth = np.log10(known_temperature)
        height = np.log10(np.log10(known_viscosity / _MM2 + 0.7))
        at = np.log10(temperature)
        slope = (height[1] - height[0]) / (warmth[1] - warmth[0])
        line = height[0] + slope * (at - warmth[0])
        for left, right, low, high in zip(warmth[1:-1], warmth[2:], height[1:-1], height[2:], strict=True):
            # A repeated point makes no pair: the last real one goes on beyond it.
            line = np.where((at >= left) & (right > left), low + (high - low) / (right - left) * (at - left), line)
        viscosity: Array = (10.0 ** (10.0**line) - 0.7) * _MM2
    return viscosity


def cold_kinematic_viscosity(
    fluid_viscosity_temperature: Array, fluid_viscosity_kinematic: Array, application_cold_temperature: Array
) -> Array:
    """Kinematic viscosity of the fluid at the cold temperature.

    Parameters
    ----------
    fluid_viscosity_temperature : array
        [K] of the known points, rising along the leading axis, two or more; a short set repeats its last point.
    fluid_viscosity_kinematic : array
        [m2/s] kinematic viscosity of the known points.
    application_cold_temperature : array
        [K] lowest temperature of the vehicle.

    Returns
    -------
    array
        [m2/s] kinematic viscosity; inf where it exceeds all numbers, nan where a point is at 0.3 mm2/s or below.

    Equation: log10 log10(nu + 0.7) straight over log10 T, through viscosity_kinematic at viscosity_temperature, read at
    cold_temperature

    Source: ASTM D341, Walther's line.
    """
    return viscosity_line(
        temperature=application_cold_temperature,
        known_temperature=fluid_viscosity_temperature,
        known_viscosity=fluid_viscosity_kinematic,
    )


def cold_dynamic_viscosity(cold_kinematic_viscosity: Array, fluid_density: Array) -> Array:
    """Dynamic viscosity of the fluid at the cold temperature.

    Parameters
    ----------
    cold_kinematic_viscosity : array
        [m2/s] kinematic viscosity.
    fluid_density : array
        [kg/m3] of the fluid.

    Returns
    -------
    array
        [Pa s] dynamic viscosity; nan for nan.

    Source: definition of kinematic viscosity.
    """
    return cold_kinematic_viscosity * fluid_density


def boil_reserve(fluid_wet_boil: Array, application_line_temperature: Array) -> Array:
    """Wet boiling point above the hottest place that the line passes.

    Parameters
    ----------
    fluid_wet_boil : array
        [K] boiling point of the fluid once it has taken up water.
    application_line_temperature : array
        [K] of the hottest place.

    Returns
    -------
    array
        [K] difference; below 0 where the fluid would boil.

    Source: definition.
    """
    return fluid_wet_boil - application_line_temperature


def warm_creep(
    fluid_volume: Array, fluid_expansion: Array, warming: Array, piston_area: Array, lash: Array, fork_ratio: Array
) -> Array:
    """Travel of the fingers by warming fluid, were the compensating port shut.

    Parameters
    ----------
    fluid_volume : array
        [m3] fluid under pressure.
    fluid_expansion : array
        [1/K] share of volume gained per warming.
    warming : array
        [K] warming that is thought of.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] that the slave takes up first.
    fork_ratio : array
        [-] slave travel over bearing travel.

    Returns
    -------
    array
        [m] finger travel, at least 0; nan for nan.

    Source: derivation, volume balance of the line.
    """
    creep: Array = np.maximum(0.0, fluid_volume * fluid_expansion * warming / piston_area - lash) / fork_ratio
    return creep


def reservoir_rise(piston_area: Array, fork_ratio: Array, wear_travel: Array) -> Array:
    """Fluid that wear pushes back into the reservoir over the disc's life.

    Parameters
    ----------
    piston_area : array
        [m2] of the slave.
    fork_ratio : array
        [-] slave travel over bearing travel.
    wear_travel : array
        [m] how far wear moves the resting fingers.

    Returns
    -------
    array
        [m3] volume; finite for finite input.

    Source: derivation, volume balance of the line.
    """
    return piston_area * fork_ratio * wear_travel


def reservoir_spare(master_reservoir_room: Array, reservoir_rise: Array) -> Array:
    """Room of the reservoir left when the disc is fully worn.

    Parameters
    ----------
    master_reservoir_room : array
        [m3] free volume above the filling mark.
    reservoir_rise : array
        [m3] fluid that wear pushes back.

    Returns
    -------
    array
        [m3] volume; below 0 where the reservoir spills.

    Source: definition.
    """
    return master_reservoir_room - reservoir_rise

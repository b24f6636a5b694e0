"""What the release bearing must stand, and how it sits on the gearbox's retainer."""

from __future__ import annotations

import numpy as np

from fitcheck.physics.curves import Array

__all__ = ["bearing_load_use", "retainer_clearance", "service_hours", "sleeve_engagement", "speed_use", "thrust_use"]


def speed_use(application_max_speed: Array, bearing_speed_rating: Array, pressure_plate_speed_rating: Array) -> Array:
    """Highest engine speed over the lower rating of bearing and cover.

    Parameters
    ----------
    application_max_speed : array
        [rad/s] of the engine.
    bearing_speed_rating, pressure_plate_speed_rating : array
        [rad/s] ratings, above 0.

    Returns
    -------
    array
        [-] share; finite for finite input.

    Source: definition.
    """
    use: Array = application_max_speed / np.minimum(bearing_speed_rating, pressure_plate_speed_rating)
    return use


def bearing_load_use(largest_load: Array, bearing_load_rating: Array) -> Array:
    """Largest load of a press over the bearing's rating.

    Parameters
    ----------
    largest_load : array
        [N] at the fingers.
    bearing_load_rating : array
        [N] rating, above 0.

    Returns
    -------
    array
        [-] share; nan for nan.

    Source: definition.
    """
    return largest_load / bearing_load_rating


def thrust_use(full_load: Array, full_load_worn: Array, application_thrust_limit: Array) -> Array:
    """Load at full pedal, the larger of new and worn, over what the crankshaft's thrust bearing may carry for long.

    Parameters
    ----------
    full_load, full_load_worn : array
        [N] at the fingers at full pedal, disc new and fully worn; the same where the worn load is not known.
    application_thrust_limit : array
        [N] sustained limit, above 0.

    Returns
    -------
    array
        [-] share; nan for nan.

    Source: definition.
    """
    use: Array = np.maximum(full_load, full_load_worn) / application_thrust_limit
    return use


def retainer_clearance(bearing_bore: Array, application_retainer_diameter: Array) -> Array:
    """Bore of the bearing less the diameter of the retainer that it slides on.

    Parameters
    ----------
    bearing_bore : array
        [m] of the bearing.
    application_retainer_diameter : array
        [m] of the retainer's sleeve.

    Returns
    -------
    array
        [m] clearance; below 0 where the bearing does not go on.

    Source: definition.
    """
    return bearing_bore - application_retainer_diameter


def sleeve_engagement(
    application_retainer_length: Array,
    bearing_guide_rear: Array,
    ear_height: Array,
    full_travel_bled: Array,
    wear_travel: Array,
    pressure_plate_push: Array,
) -> Array:
    """Length of the retainer's sleeve still inside the bearing at its far end.

    Parameters
    ----------
    application_retainer_length : array
        [m] of the sleeve, from the seat.
    bearing_guide_rear : array
        [m] ears to the rear end of the bearing's bore.
    ear_height : array
        [m] of the bearing's ears above the retainer's seat, fingers at rest, disc new.
    full_travel_bled : array
        [m] finger travel at full pedal, without air: with it the bearing stays nearer.
    wear_travel : array
        [m] how far wear moves the resting fingers.
    pressure_plate_push : array
        [-] 1 for a push cover, -1 for a pull cover.

    Returns
    -------
    array
        [m] length; below 0 where the bearing leaves the sleeve, nan for nan.

    Source: derivation, axial chain; a push cover is farthest at full pedal, a pull cover at rest when worn.
    """
    farthest = ear_height + np.where(pressure_plate_push > 0.0, full_travel_bled, wear_travel)
    return application_retainer_length + bearing_guide_rear - farthest


def service_hours(slave_hours: Array) -> Array:
    """Labour to replace the actuator.

    Parameters
    ----------
    slave_hours : array
        [s] to replace the external slave, or to take the gearbox out for a concentric one.

    Returns
    -------
    array
        [s] labour; as given.

    Source: definition.
    """
    return slave_hours

"""The axial chain from the retainer's seat to the finger tips, and how far off square it puts the fork."""

from __future__ import annotations

from fitcheck.physics.curves import Array

__all__ = [
    "ear_height",
    "fork_offset_full",
    "fork_offset_rest",
    "fork_offset_worn",
    "off_square",
    "tip_height",
]


def tip_height(application_bell_depth: Array, application_flywheel_stand: Array, pressure_plate_finger_height: Array) -> Array:
    """Height of the finger tips above the retainer's seat, disc new.

    Parameters
    ----------
    application_bell_depth : array
        [m] engine mating plane to retainer seat.
    application_flywheel_stand : array
        [m] mating plane to friction face, positive towards the gearbox.
    pressure_plate_finger_height : array
        [m] friction face to tips, disc new.

    Returns
    -------
    array
        [m] height towards the engine; finite for finite input.

    Source: derivation, axial chain.
    """
    return application_bell_depth - application_flywheel_stand - pressure_plate_finger_height


def ear_height(tip_height: Array, bearing_height: Array) -> Array:
    """Height of the bearing's ears above the retainer's seat, bearing on the fingers, disc new.

    Parameters
    ----------
    tip_height : array
        [m] of the finger tips above the seat.
    bearing_height : array
        [m] face to ears.

    Returns
    -------
    array
        [m] height towards the engine; finite for finite input.

    Source: derivation, axial chain.
    """
    return tip_height - bearing_height


def off_square(ear_height: Array, fork_ear_plane: Array, pressure_plate_push: Array) -> Array:
    """How far the ears stand from where the fork is square, in the release direction.

    Parameters
    ----------
    ear_height : array
        [m] of the bearing's ears above the retainer's seat, fingers at rest.
    fork_ear_plane : array
        [m] of the ears above the seat when the fork is square.
    pressure_plate_push : array
        [-] 1 for a push cover, -1 for a pull cover.

    Returns
    -------
    array
        [m] offset; finite for finite input.

    Source: derivation, axial chain.
    """
    return pressure_plate_push * (ear_height - fork_ear_plane)


def fork_offset_rest(off_square: Array, lash: Array, fork_ratio: Array) -> Array:
    """Offset of the fork at the bearing from square while the pedal is up, disc new.

    Parameters
    ----------
    off_square : array
        [m] ears from square, bearing on the resting fingers.
    lash : array
        [m] at the rod.
    fork_ratio : array
        [-] slave travel over bearing travel.

    Returns
    -------
    array
        [m] offset in the release direction; finite for finite input.

    Source: derivation, axial chain.
    """
    return off_square - lash / fork_ratio


def fork_offset_full(off_square: Array, full_travel_bled: Array) -> Array:
    """Offset of the fork at the bearing from square at full pedal, disc new, no air in the line.

    Parameters
    ----------
    off_square : array
        [m] ears from square, bearing on the resting fingers.
    full_travel_bled : array
        [m] finger travel at full pedal without air.

    Returns
    -------
    array
        [m] offset in the release direction; nan for nan.

    Source: derivation, axial chain.
    """
    return off_square + full_travel_bled


def fork_offset_worn(fork_offset_rest: Array, wear_travel: Array) -> Array:
    """Offset of the fork at the bearing from square while the pedal is up, disc fully worn, lash freshly reset.

    Parameters
    ----------
    fork_offset_rest : array
        [m] offset with a new disc.
    wear_travel : array
        [m] how far wear moves the resting fingers.

    Returns
    -------
    array
        [m] offset in the release direction; finite for finite input.

    Source: derivation, axial chain.
    """
    return fork_offset_rest - wear_travel

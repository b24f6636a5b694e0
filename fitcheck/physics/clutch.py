"""What the cover asks of the fingers and gives to the disc: travel, wear, clamp."""

from __future__ import annotations

import numpy as np

from fitcheck.physics.curves import Array

__all__ = [
    "clamp",
    "clamp_worn",
    "lever_check",
    "lift_off_travel",
    "release_travel",
    "resting_load",
    "uncompensated_wear",
    "wear_ratio",
    "wear_travel",
]


def release_travel(
    cover_ratio: Array,
    disc_cushion_travel: Array,
    disc_faces: Array,
    disc_running_clearance: Array,
    pressure_plate_lift_loss: Array,
) -> Array:
    """Finger travel at which every face of the disc runs free.

    Parameters
    ----------
    cover_ratio : array
        [-] finger travel over plate lift.
    disc_cushion_travel : array
        [m] travel of the cushion between the facings.
    disc_faces : array
        [-] friction faces.
    disc_running_clearance : array
        [m] clearance wanted at each face.
    pressure_plate_lift_loss : array
        [m] finger travel before the plate starts to lift.

    Returns
    -------
    array
        [m] finger travel; finite for finite input.

    Source: derivation, plate lift through the lever of the cover.
    """
    return cover_ratio * (disc_cushion_travel + disc_faces * disc_running_clearance) + pressure_plate_lift_loss


def lift_off_travel(cover_ratio: Array, disc_cushion_travel: Array, pressure_plate_lift_loss: Array) -> Array:
    """Finger travel at which the cushion has just let go of the plate.

    Parameters
    ----------
    cover_ratio : array
        [-] finger travel over plate lift.
    disc_cushion_travel : array
        [m] travel of the cushion between the facings.
    pressure_plate_lift_loss : array
        [m] finger travel before the plate starts to lift.

    Returns
    -------
    array
        [m] finger travel; finite for finite input.

    Source: derivation, plate lift through the lever of the cover.
    """
    return cover_ratio * disc_cushion_travel + pressure_plate_lift_loss


def uncompensated_wear(disc_wear_allowance: Array, pressure_plate_wear_compensated: Array) -> Array:
    """Wear of the disc, all faces, that the cover passes on to its fingers over the disc's life.

    Parameters
    ----------
    disc_wear_allowance : array
        [m] thickness that the disc may lose, all faces.
    pressure_plate_wear_compensated : array
        [-] 1 where the cover takes up the wear itself, else 0.

    Returns
    -------
    array
        [m] thickness; 0 for a cover that takes up wear.

    Source: derivation, the plate follows the worn disc.
    """
    return np.where(pressure_plate_wear_compensated, 0.0, disc_wear_allowance)


def wear_ratio(cover_ratio: Array, pressure_plate_wear_compensated: Array) -> Array:
    """How far the resting fingers move per wear of the disc.

    Parameters
    ----------
    cover_ratio : array
        [-] finger travel over plate lift.
    pressure_plate_wear_compensated : array
        [-] 1 where the cover takes up the wear itself, else 0.

    Returns
    -------
    array
        [-] finger travel over thickness worn off; 0 for a cover that takes up wear.

    Source: derivation, plate travel through the lever of the cover.
    """
    return np.where(pressure_plate_wear_compensated, 0.0, cover_ratio)


def wear_travel(wear_ratio: Array, disc_wear_allowance: Array) -> Array:
    """How far wear moves the resting fingers over the disc's life.

    Parameters
    ----------
    wear_ratio : array
        [-] finger travel over thickness worn off.
    disc_wear_allowance : array
        [m] thickness that the disc may lose, all faces.

    Returns
    -------
    array
        [m] finger travel against the release direction; 0 for a cover that takes up wear.

    Source: derivation, plate travel through the lever of the cover.
    """
    return wear_ratio * disc_wear_allowance


def resting_load(fork_ratio: Array, slave_preload: Array) -> Array:
    """Load on bearing and fingers while the pedal is up.

    Parameters
    ----------
    fork_ratio : array
        [-] slave travel over bearing travel.
    slave_preload : array
        [N] force of the slave's internal spring, 0 for a slave that rests bottomed.

    Returns
    -------
    array
        [N] load; finite for finite input.

    Source: derivation, equilibrium of the fork.
    """
    return fork_ratio * slave_preload


def clamp(clamp_load: Array, cover_ratio: Array, resting_load: Array) -> Array:
    """Load on a new disc while the pedal is up.

    Parameters
    ----------
    clamp_load : array
        [N] load of the cover on a new disc, fingers free.
    cover_ratio : array
        [-] finger travel over plate lift.
    resting_load : array
        [N] load on the fingers while the pedal is up.

    Returns
    -------
    array
        [N] clamp; below 0 where the resting load already lifts the plate.

    Source: derivation, equilibrium of the cover's lever.
    """
    return clamp_load - cover_ratio * resting_load


def clamp_worn(worn_clamp_load: Array, cover_ratio: Array, resting_load: Array) -> Array:
    """Load on a fully worn disc while the pedal is up.

    Parameters
    ----------
    worn_clamp_load : array
        [N] load of the cover on a fully worn disc, fingers free.
    cover_ratio : array
        [-] finger travel over plate lift.
    resting_load : array
        [N] load on the fingers while the pedal is up.

    Returns
    -------
    array
        [N] clamp; below 0 where the resting load already lifts the plate.

    Source: derivation, equilibrium of the cover's lever.
    """
    return worn_clamp_load - cover_ratio * resting_load


def lever_check(cover_ratio: Array, lift_off_load: Array, clamp_load: Array, disc_cushion_travel: Array) -> Array:
    """Finger load at lift-off, brought to the plate, over the clamp that it must have overcome there.

    Parameters
    ----------
    cover_ratio : array
        [-] finger travel over plate lift.
    lift_off_load : array
        [N] load at the fingers where the cushion has just let go of the plate.
    clamp_load : array
        [N] load of the cover on a new disc, fingers free, above 0.
    disc_cushion_travel : array
        [m] travel of the cushion between the facings.

    Returns
    -------
    array
        [-] ratio near 1 for consistent data; nan where there is no cushion.

    Source: derivation, equilibrium of the cover's lever.
    """
    return np.where(disc_cushion_travel > 0.0, cover_ratio * lift_off_load / clamp_load, np.nan)

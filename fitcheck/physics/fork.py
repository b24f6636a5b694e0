"""How the fork moves between slave and bearing: its angles, its room, the push rod; and what shims stand in for a rod."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations_with_replacement

import numpy as np

from fitcheck.physics.curves import Array

__all__ = [
    "fork_angle_full",
    "fork_angle_rest",
    "fork_angle_worn",
    "fork_give",
    "rod_angle",
    "rod_length",
    "rod_turn",
    "window_clearance",
]

Stack = tuple[float, tuple[float, ...]]  # total thickness and its shims, m

ALIKE = 1e-6  # m: stacks nearer to each other than this are one stack


def fork_give(fork_stiffness: Array) -> Array:
    """Give of the fork per load at the bearing.

    Parameters
    ----------
    fork_stiffness : array
        [N/m] at the bearing, above 0.

    Returns
    -------
    array
        [m/N] give; finite for finite input.

    Source: definition.
    """
    return 1.0 / fork_stiffness


def angle_of(offset: Array, fork_arm: Array) -> Array:
    """Angle of the fork off square at an offset of its bearing.

    Parameters
    ----------
    offset : array
        [m] of the bearing from square.
    fork_arm : array
        [m] pivot to bearing ears.

    Returns
    -------
    array
        [rad] angle with the sign of the offset; nan where the offset is beyond the arm.

    Source: geometry of the lever.
    """
    with np.errstate(invalid="ignore"):
        angle: Array = np.arcsin(offset / fork_arm)
    return angle


def fork_angle_rest(fork_offset_rest: Array, fork_arm: Array) -> Array:
    """Angle of the fork off square while the pedal is up, disc new.

    Parameters
    ----------
    fork_offset_rest : array
        [m] of the bearing from square.
    fork_arm : array
        [m] pivot to bearing ears.

    Returns
    -------
    array
        [rad] angle; nan where the offset is beyond the arm.

    Equation: arcsin(fork_offset_rest / fork_arm)

    Source: geometry of the lever.
    """
    return angle_of(fork_offset_rest, fork_arm)


def fork_angle_full(fork_offset_full: Array, fork_arm: Array) -> Array:
    """Angle of the fork off square at full pedal, disc new.

    Parameters
    ----------
    fork_offset_full : array
        [m] of the bearing from square.
    fork_arm : array
        [m] pivot to bearing ears.

    Returns
    -------
    array
        [rad] angle; nan where the offset is beyond the arm.

    Equation: arcsin(fork_offset_full / fork_arm)

    Source: geometry of the lever.
    """
    return angle_of(fork_offset_full, fork_arm)


def fork_angle_worn(fork_offset_worn: Array, fork_arm: Array) -> Array:
    """Angle of the fork off square while the pedal is up, disc fully worn.

    Parameters
    ----------
    fork_offset_worn : array
        [m] of the bearing from square.
    fork_arm : array
        [m] pivot to bearing ears.

    Returns
    -------
    array
        [rad] angle; nan where the offset is beyond the arm.

    Equation: arcsin(fork_offset_worn / fork_arm)

    Source: geometry of the lever.
    """
    return angle_of(fork_offset_worn, fork_arm)


def window_clearance(
    fork_offset_rest: Array,
    fork_offset_full: Array,
    full_load_bled: Array,
    fork_give: Array,
    fork_ratio: Array,
    wear_travel: Array,
    application_window_rest: Array,
    application_window_release: Array,
) -> Array:
    """Least room of the fork tip in its window, from the worn rest to full pedal.

    Parameters
    ----------
    fork_offset_rest, fork_offset_full : array
        [m] of the bearing from square, disc new.
    full_load_bled : array
        [N] at the fingers at full pedal without air.
    fork_give : array
        [m/N] give of the fork at the bearing.
    fork_ratio : array
        [-] slave travel over bearing travel.
    wear_travel : array
        [m] how far wear moves the resting fingers.
    application_window_rest, application_window_release : array
        [m] room for the tip on either side of square.

    Returns
    -------
    array
        [m] room; below 0 where the tip meets the housing, nan for nan.

    Equation: min(window_release - ratio * max(a, b), window_rest + ratio * (min(a, b) - wear_travel)), a = offset_rest, b =
    offset_full + load_bled * give

    Source: geometry of the lever.
    """
    full = fork_offset_full + full_load_bled * fork_give
    farthest = fork_ratio * np.maximum(fork_offset_rest, full)
    nearest = fork_ratio * (np.minimum(fork_offset_rest, full) - wear_travel)
    room: Array = np.minimum(application_window_release - farthest, application_window_rest + nearest)
    return room


def rod_length(
    application_slave_seat_to_fork: Array,
    slave_push: Array,
    fork_ratio: Array,
    off_square: Array,
    rest_extension: Array,
    lash: Array,
) -> Array:
    """Length of the slave's push rod at the setting.

    Parameters
    ----------
    application_slave_seat_to_fork : array
        [m] bottomed piston seat to fork pocket, fork square.
    slave_push : array
        [-] 1 for a rod that pushes, -1 for one that pulls.
    fork_ratio : array
        [-] slave travel over bearing travel.
    off_square : array
        [m] ears from square, bearing on the resting fingers.
    rest_extension : array
        [m] piston out of its home at rest.
    lash : array
        [m] at the rod.

    Returns
    -------
    array
        [m] length; nan for nan.

    Source: derivation, axial chain through the fork.
    """
    return application_slave_seat_to_fork + slave_push * (fork_ratio * off_square - rest_extension - lash)


def rod_angle(
    rod_length: Array,
    fork_ratio: Array,
    fork_arm: Array,
    fork_angle_rest: Array,
    fork_angle_worn: Array,
    fork_angle_full: Array,
) -> Array:
    """Angle of the push rod off its line at its worst.

    Parameters
    ----------
    rod_length : array
        [m] of the push rod.
    fork_ratio : array
        [-] slave travel over bearing travel.
    fork_arm : array
        [m] pivot to bearing ears.
    fork_angle_rest, fork_angle_worn, fork_angle_full : array
        [rad] of the fork off square.

    Returns
    -------
    array
        [rad] angle, at least 0; nan where a fork angle is nan, the rod has no length or is too short for the arc.

    Equation: arcsin(fork_ratio * fork_arm * (1 - cos(a)) / rod_length), a = largest of fork_angle_rest, fork_angle_worn,
    fork_angle_full, signs aside

    Source: geometry of the lever, rise of the tip's arc over the rod's length.
    """
    worst: Array = np.maximum(np.maximum(np.abs(fork_angle_rest), np.abs(fork_angle_worn)), np.abs(fork_angle_full))
    rise = fork_ratio * fork_arm * (1.0 - np.cos(worst))
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(rod_length > 0.0, np.arcsin(rise / rod_length), np.nan)


def rod_turn(slave_rod_pitch: Array, pedal_ratio: Array, piston_area: Array, master_area: Array) -> Array:
    """How far one turn of the rod moves the bite at the pad of a train with lash.

    Parameters
    ----------
    slave_rod_pitch : array
        [m] of the rod's thread.
    pedal_ratio : array
        [-] pad travel over rod travel.
    piston_area, master_area : array
        [m2] of slave and master.

    Returns
    -------
    array
        [m] pad travel; finite for finite input.

    Source: derivation, volume balance of the line.
    """
    return slave_rod_pitch * pedal_ratio * piston_area / master_area


def shim_stacks(thicknesses: Sequence[float], count: int) -> list[Stack]:
    """All stacks of at most so many shims, each thickness as often as wanted, from the thinnest on; no shim is a stack.

    Parameters
    ----------
    thicknesses : sequence of float
        [m] shims on hand.
    count : int
        [-] largest number of shims in a stack.

    Returns
    -------
    list of (float, tuple of float)
        [m] total and shims, thin ones first; of stacks within 1 um the one of fewer shims, then the thinner.

    Source: definition.
    """
    kinds = sorted(set(thicknesses))
    stacks = sorted((sum(shims), shims) for number in range(count + 1) for shims in combinations_with_replacement(kinds, number))
    kept: list[Stack] = []
    for stack in stacks:
        if kept and stack[0] - kept[-1][0] <= ALIKE:
            kept[-1] = min(kept[-1], stack, key=_preference)
        else:
            kept.append((float(stack[0]), stack[1]))
    return kept


def _preference(stack: Stack) -> tuple[int, float]:
    """Fewer shims, then the thinner stack."""
    return len(stack[1]), stack[0]

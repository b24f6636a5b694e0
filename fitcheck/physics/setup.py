"""How it is set: what rod and shims can reach, the target, and the stroke left at both ends."""

from __future__ import annotations

import numpy as np

from fitcheck.physics.curves import Array
from fitcheck.physics.way import Spot

__all__ = [
    "free_stroke_reserve",
    "gap_without_shims",
    "no_extension",
    "no_lash",
    "rod_setting_high",
    "rod_setting_low",
    "rod_target",
    "setting",
    "shim_choice",
    "shim_setting_high",
    "shim_setting_low",
    "shim_stack",
    "shim_target",
    "stroke_reserve",
    "wear_reserve",
]


def rod_setting_low(
    application_slave_seat_to_fork: Array,
    fork_ratio: Array,
    off_square: Array,
    slave_push: Array,
    slave_rod_min: Array,
    slave_rod_max: Array,
) -> Array:
    """Least setting that the rod's range can reach.

    Parameters
    ----------
    application_slave_seat_to_fork : array
        [m] bottomed piston seat to fork pocket, fork square.
    fork_ratio : array
        [-] slave travel over bearing travel.
    off_square : array
        [m] how far the ears lie off square, towards release.
    slave_push : array
        [-] 1 for a rod that pushes, -1 for one that pulls.
    slave_rod_min : array
        [m] least rod length.
    slave_rod_max : array
        [m] greatest rod length.

    Returns
    -------
    array
        [m] may be below 0.

    Equation: s - rod_max if slave_push > 0 else rod_min - s, s = slave_seat_to_fork + slave_push * fork_ratio * off_square

    Source: derivation: rod length between piston seat and fork pocket.
    """
    square = application_slave_seat_to_fork + slave_push * fork_ratio * off_square
    return np.where(slave_push > 0.0, square - slave_rod_max, slave_rod_min - square)


def rod_setting_high(
    application_slave_seat_to_fork: Array,
    fork_ratio: Array,
    off_square: Array,
    slave_push: Array,
    slave_rod_min: Array,
    slave_rod_max: Array,
) -> Array:
    """Greatest setting that the rod's range can reach.

    Parameters
    ----------
    application_slave_seat_to_fork : array
        [m] bottomed piston seat to fork pocket, fork square.
    fork_ratio : array
        [-] slave travel over bearing travel.
    off_square : array
        [m] how far the ears lie off square, towards release.
    slave_push : array
        [-] 1 for a rod that pushes, -1 for one that pulls.
    slave_rod_min : array
        [m] least rod length.
    slave_rod_max : array
        [m] greatest rod length.

    Returns
    -------
    array
        [m] below 0 where even the end of the rod's range presses on the fingers.

    Equation: s - rod_min if slave_push > 0 else rod_max - s, s = slave_seat_to_fork + slave_push * fork_ratio * off_square

    Source: derivation: rod length between piston seat and fork pocket.
    """
    square = application_slave_seat_to_fork + slave_push * fork_ratio * off_square
    return np.where(slave_push > 0.0, square - slave_rod_min, slave_rod_max - square)


def gap_without_shims(tip_height: Array, bearing_height: Array) -> Array:
    """Gap between the bottomed bearing's face and the finger tips, no shim fitted.

    Parameters
    ----------
    tip_height : array
        [m] finger tips over the retainer's seat.
    bearing_height : array
        [m] of the bearing, bottomed.

    Returns
    -------
    array
        [m] below 0 where the bearing would press on the fingers.

    Source: derivation: axial chain.
    """
    return tip_height - bearing_height


def shim_setting_low(gap_without_shims: Array, shim_totals: Array) -> Array:
    """Least gap that the shims on hand give.

    Parameters
    ----------
    gap_without_shims : array
        [m] gap with no shim fitted.
    shim_totals : array
        [m] stacks that the shims on hand give, on the leading axis, thinnest first.

    Returns
    -------
    array
        [m] with the thickest stack.

    Equation: gap_without_shims - greatest of shim_totals

    Source: derivation: axial chain.
    """
    least: Array = gap_without_shims - shim_totals.max(axis=0)
    return least


def shim_setting_high(gap_without_shims: Array, shim_totals: Array) -> Array:
    """Greatest gap that the shims on hand give.

    Parameters
    ----------
    gap_without_shims : array
        [m] gap with no shim fitted.
    shim_totals : array
        [m] stacks that the shims on hand give, on the leading axis, thinnest first.

    Returns
    -------
    array
        [m] with the thinnest stack, which is none.

    Equation: gap_without_shims - least of shim_totals

    Source: derivation: axial chain.
    """
    greatest: Array = gap_without_shims - shim_totals.min(axis=0)
    return greatest


def rod_target(setup_low: Array, setup_high: Array) -> Array:
    """The setting to aim for: the middle of the window, never below 0.

    Parameters
    ----------
    setup_low : array
        [m] least setting.
    setup_high : array
        [m] greatest setting.

    Returns
    -------
    array
        [m] at least 0, even where the window is empty or lies below.

    Source: common practice, no source.
    """
    return np.maximum(0.0, 0.5 * (setup_low + setup_high))


def shim_choice(rod_target: Array, gap_without_shims: Array, shim_borders: Array) -> Array:
    """Number of the stack, counted from the thinnest, whose gap lies nearest to the middle of the window.

    Parameters
    ----------
    rod_target : array
        [m] middle of the window.
    gap_without_shims : array
        [m] gap with no shim fitted.
    shim_borders : array
        [m] thicknesses wanted above which the next stack is taken, on the leading axis.

    Returns
    -------
    array
        [-] whole number from 0.

    Equation: place among shim_borders of gap_without_shims - rod_target: the stack that comes nearest

    Source: common practice, no source.
    """
    wanted = gap_without_shims - rod_target
    choice = np.zeros(np.broadcast_shapes(wanted.shape, shim_borders.shape[1:]))
    for border in shim_borders:
        choice += wanted > border
    return choice


def shim_stack(shim_choice: Array, shim_totals: Array) -> Array:
    """Total thickness of the shims to fit.

    Parameters
    ----------
    shim_choice : array
        [-] number of the stack, counted from the thinnest.
    shim_totals : array
        [m] stacks that the shims on hand give, on the leading axis, thinnest first.

    Returns
    -------
    array
        [m] 0 where none is to be fitted.

    Equation: shim_totals at shim_choice, counted from 0

    Source: common practice, no source.
    """
    total = np.broadcast_to(shim_totals[0], shim_choice.shape)
    for number, thickness in enumerate(shim_totals[1:], start=1):
        total = np.where(shim_choice == number, thickness, total)
    return total


def shim_target(gap_without_shims: Array, shim_stack: Array) -> Array:
    """The gap that the chosen stack gives.

    Parameters
    ----------
    gap_without_shims : array
        [m] gap with no shim fitted.
    shim_stack : array
        [m] thickness of the shims to fit.

    Returns
    -------
    array
        [m] may lie outside the window, or below 0, where no stack fits.

    Source: derivation: axial chain.
    """
    return gap_without_shims - shim_stack


def no_lash(piston_area: Array) -> Array:
    """Lash of a train in contact: none.

    Parameters
    ----------
    piston_area : array
        [m2] of the slave.

    Returns
    -------
    array
        [m] zeros.

    Source: definition: a train in contact has no lash.
    """
    return np.zeros_like(piston_area)


def no_extension(piston_area: Array) -> Array:
    """Piston extension at rest of a bottomed train: none.

    Parameters
    ----------
    piston_area : array
        [m2] of the slave.

    Returns
    -------
    array
        [m] zeros.

    Source: definition: a bottomed piston stands at home.
    """
    return np.zeros_like(piston_area)


def setting(setup_target: Array) -> Array:
    """The target, as the lash of a bottomed train or the extension at rest of one in contact.

    Parameters
    ----------
    setup_target : array
        [m] the setting to aim for.

    Returns
    -------
    array
        [m] the target itself.

    Source: definition.
    """
    return setup_target


def stroke_reserve(
    slave_stroke: Array, rest_extension: Array, lash: Array, fork_ratio: Array, full_bled: Spot, fork_give: Array
) -> Array:
    """Slave stroke left at full pedal, without air.

    Parameters
    ----------
    slave_stroke : array
        [m] of the slave.
    rest_extension : array
        [m] piston extension at rest.
    lash : array
        [m] at the rod.
    fork_ratio : array
        [-] slave travel over bearing travel.
    full_bled : Spot
        [SI] where the fingers stand at full pedal, without air.
    fork_give : array
        [m/N] of the fork at the bearing.

    Returns
    -------
    array
        [m] below 0 where the slave runs out of stroke first.

    Source: derivation: lever and stroke.
    """
    used = fork_ratio * (full_bled.travel + full_bled.load * fork_give)
    return (slave_stroke - used) - rest_extension - lash


def free_stroke_reserve(slave_stroke: Array, rest_extension: Array, supply: Array, piston_area: Array) -> Array:
    """Slave stroke left at full pedal with nothing behind the slave; below 0 its piston is pumped out.

    Parameters
    ----------
    slave_stroke : array
        [m] of the slave.
    rest_extension : array
        [m] piston extension at rest.
    supply : array
        [m3] fluid sent at full pedal.
    piston_area : array
        [m2] of the slave.

    Returns
    -------
    array
        [m] below 0 where the piston comes out.

    Source: derivation: swept volume.
    """
    return (slave_stroke - supply / piston_area) - rest_extension


def wear_reserve(rest_extension: Array, fork_ratio: Array, wear_travel: Array) -> Array:
    """Slave stroke left towards home when the disc is fully worn, train in contact.

    Parameters
    ----------
    rest_extension : array
        [m] piston extension at rest.
    fork_ratio : array
        [-] slave travel over bearing travel.
    wear_travel : array
        [m] how far the fingers' rest moves over the disc's life.

    Returns
    -------
    array
        [m] below 0 where the piston is home before the disc is worn.

    Source: derivation: lever and wear.
    """
    return rest_extension - fork_ratio * wear_travel

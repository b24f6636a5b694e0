"""What the foot acts on: the pedal's map of position and fluid, and the force at the pad while pressing and letting back."""

from __future__ import annotations

from fitcheck.physics.curves import Array
from fitcheck.physics.pad import Foot, Pedal

__all__ = ["foot", "letting_back_foot", "pedal", "press_end"]


def pedal(
    pedal_free_play: Array,
    pedal_ratio: Array,
    master_area: Array,
    master_stroke: Array,
    master_cutoff_stroke: Array,
    pedal_return_travel: Array,
    pedal_return_force: Array,
) -> Pedal:
    """The pedal's map of pad position, fluid and spring force.

    Parameters
    ----------
    pedal_free_play : array
        [m] play at the pad.
    pedal_ratio : array
        [-] pad travel over rod travel.
    master_area : array
        [m2] of the master's bore.
    master_stroke : array
        [m] mechanical stroke of the master.
    master_cutoff_stroke : array
        [m] master travel that closes its port.
    pedal_return_travel : array
        [m] pad positions of the return force, on the leading axis.
    pedal_return_force : array
        [N] of the pedal's own springs at these, on the leading axis.

    Returns
    -------
    Pedal
        [SI] the same numbers in one record.

    Equation: at x: fluid master_area * (min((x - free_play) / pedal_ratio, master_stroke) - cutoff_stroke), not below 0; force
    return_force at return_travel

    Source: derivation: pedal lever and swept volume.
    """
    return Pedal(
        pedal_free_play,
        pedal_ratio,
        master_area,
        master_stroke,
        master_cutoff_stroke,
        pedal_return_travel,
        pedal_return_force,
    )


def foot(
    master_area: Array,
    master_efficiency: Array,
    master_spring_force: Array,
    pedal_ratio: Array,
    pedal_efficiency: Array,
    pressing_gain: Array,
    pressing_offset: Array,
) -> Foot:
    """Force at the pad while pressing.

    Parameters
    ----------
    master_area : array
        [m2] of the master's bore.
    master_efficiency : array
        [-] of the master.
    master_spring_force : array
        [N] of the spring inside the master.
    pedal_ratio : array
        [-] pad travel over rod travel.
    pedal_efficiency : array
        [-] of the pedal.
    pressing_gain : array
        [1/m2] pressure per finger load, pressing.
    pressing_offset : array
        [Pa] pressure at no finger load, pressing.

    Returns
    -------
    Foot
        [SI] force per pressure, force of the master's spring, and the pressure that a finger load makes.

    Equation: (master_area * p / master_efficiency + spring_force) / (pedal_ratio * pedal_efficiency), p = max(0, pressing_gain *
    F + pressing_offset)

    Source: derivation: equilibrium of master and pedal with efficiencies against the motion.
    """
    lever = pedal_ratio * pedal_efficiency
    return Foot(master_area / (master_efficiency * lever), master_spring_force / lever, pressing_gain, pressing_offset)


def letting_back_foot(
    master_area: Array,
    master_efficiency: Array,
    master_spring_force: Array,
    pedal_ratio: Array,
    pedal_efficiency: Array,
    letting_back_gain: Array,
    letting_back_offset: Array,
) -> Foot:
    """Force at the pad while letting back.

    Parameters
    ----------
    master_area : array
        [m2] of the master's bore.
    master_efficiency : array
        [-] of the master.
    master_spring_force : array
        [N] of the spring inside the master.
    pedal_ratio : array
        [-] pad travel over rod travel.
    pedal_efficiency : array
        [-] of the pedal.
    letting_back_gain : array
        [1/m2] pressure per finger load, letting back.
    letting_back_offset : array
        [Pa] pressure at no finger load, letting back.

    Returns
    -------
    Foot
        [SI] force per pressure, force of the master's spring, and the pressure that a finger load makes.

    Equation: (master_area * master_efficiency * p + spring_force) * pedal_efficiency / pedal_ratio, p = letting_back_gain * F +
    letting_back_offset >= 0

    Source: derivation: equilibrium of master and pedal with efficiencies against the motion.
    """
    lever = pedal_efficiency / pedal_ratio
    return Foot(master_area * master_efficiency * lever, master_spring_force * lever, letting_back_gain, letting_back_offset)


def press_end(pedal: Pedal, travel: Array) -> Array:
    """Pad position where the press ends: full travel, or the master on its bottom.

    Parameters
    ----------
    pedal : Pedal
        [SI] map of pad position, fluid and spring force.
    travel : array
        [m] pad travel at full pedal, stop included.

    Returns
    -------
    array
        [m] the lesser of both.

    Equation: min(travel, pedal: free play + ratio * stroke)

    Source: derivation: pedal lever.
    """
    return pedal.end(travel)

"""How much fluid the master sends and how much the slave takes."""

from __future__ import annotations

import numpy as np

from fitcheck.physics.balance import Hydraulics
from fitcheck.physics.curves import Array
from fitcheck.physics.way import Way, taken

__all__ = [
    "compliance",
    "fluid_volume",
    "hydraulics",
    "hydraulics_bled",
    "pedal_supply",
    "stopped_supply",
    "sweep",
    "whole_supply",
]


def sent(position: Array, free_play: Array, ratio: Array, area: Array, stroke: Array, cutoff: Array) -> Array:
    """Fluid [m3] that the master has sent past its port with the pad at `position` [m].

    Parameters
    ----------
    position : array
        [m] pad position.
    free_play : array
        [m] play at the pad.
    ratio : array
        [-] pad travel over rod travel.
    area : array
        [m2] of the master.
    stroke : array
        [m] of the master.
    cutoff : array
        [m] master travel that closes its port.

    Returns
    -------
    array
        [m3] 0 until the port is shut; no more once the master is on its bottom.

    Source: derivation: pedal lever and swept volume.
    """
    rod = np.maximum(0.0, (position - free_play) / ratio)
    volume: Array = area * np.maximum(0.0, np.minimum(rod, stroke) - cutoff)
    return volume


def pad_for(volume: Array, free_play: Array, ratio: Array, area: Array, cutoff: Array) -> Array:
    """Pad position [m] at which the master has sent `volume` [m3], were its stroke long enough.

    Parameters
    ----------
    volume : array
        [m3] of fluid.
    free_play : array
        [m] play at the pad.
    ratio : array
        [-] pad travel over rod travel.
    area : array
        [m2] of the master.
    cutoff : array
        [m] master travel that closes its port.

    Returns
    -------
    array
        [m] past the free play and the port; may lie past the end of the stroke.

    Source: derivation: pedal lever and swept volume.
    """
    position: Array = free_play + ratio * (cutoff + volume / area)
    return position


def pedal_supply(
    pedal_travel: Array,
    pedal_free_play: Array,
    pedal_ratio: Array,
    master_area: Array,
    master_stroke: Array,
    master_cutoff_stroke: Array,
) -> Array:
    """Fluid that the master sends at the pedal's own full travel.

    Parameters
    ----------
    pedal_travel : array
        [m] pad travel to the pedal's own stop.
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

    Returns
    -------
    array
        [m3] past the port; 0 where the pedal's travel does not shut it.

    Equation: master_area * max(0, min(max(0, (pedal_travel - free_play) / pedal_ratio), master_stroke) - cutoff_stroke)

    Source: derivation: pedal lever and swept volume.
    """
    return sent(pedal_travel, pedal_free_play, pedal_ratio, master_area, master_stroke, master_cutoff_stroke)


def whole_supply(pedal_supply: Array) -> Array:
    """Fluid that the master sends at full pedal, no stop in the way.

    Parameters
    ----------
    pedal_supply : array
        [m3] fluid sent at the pedal's own full travel.

    Returns
    -------
    array
        [m3] the supply of the pedal's own travel.

    Source: derivation: pedal lever and swept volume.
    """
    return pedal_supply


def stopped_supply(with_stop: Array, stop_volume: Array, pedal_supply: Array) -> Array:
    """Fluid that the master sends at full pedal, stop included.

    The volume that the stop is set by is taken as it is: worked out again from the stop's place, its rounding could throw
    the fingers over a jump.

    Parameters
    ----------
    with_stop : array
        [-] 1 where a pedal stop is fitted, else 0.
    stop_volume : array
        [m3] fluid that takes the fingers to their limit.
    pedal_supply : array
        [m3] fluid sent at the pedal's own full travel.

    Returns
    -------
    array
        [m3] what the stop is set by where one is fitted, else the supply of the pedal's own travel.

    Equation: stop_volume if with_stop > 0 else pedal_supply

    Source: derivation: pedal lever and swept volume.
    """
    return np.where(with_stop > 0.0, stop_volume, pedal_supply) if np.any(with_stop) else pedal_supply


def sweep(piston_area: Array, fork_ratio: Array) -> Array:
    """Fluid per finger travel, stiff train.

    Parameters
    ----------
    piston_area : array
        [m2] of the slave.
    fork_ratio : array
        [-] slave travel over bearing travel.

    Returns
    -------
    array
        [m2] piston area times fork ratio.

    Source: derivation: lever and swept volume.
    """
    return piston_area * fork_ratio


def fluid_volume(master_area: Array, master_stroke: Array, line_volume: Array, slave_dead_volume: Array) -> Array:
    """Fluid under pressure: master bore, line and the slave's dead space; what stands behind a parked piston is left out.

    Parameters
    ----------
    master_area : array
        [m2] of the master's bore.
    master_stroke : array
        [m] mechanical stroke of the master.
    line_volume : array
        [m3] of the line's bore.
    slave_dead_volume : array
        [m3] fluid that the slave holds at home.

    Returns
    -------
    array
        [m3] with the slave's piston at home.

    Source: definition.
    """
    return master_area * master_stroke + line_volume + slave_dead_volume


def compliance(
    line_dilation: Array,
    fluid_volume: Array,
    fluid_bulk_modulus: Array,
    master_area: Array,
    master_efficiency: Array,
    application_bulkhead_stiffness: Array,
) -> Array:
    """Fluid lost per pressure: line dilation, compression, and the bulkhead giving way under the master.

    Parameters
    ----------
    line_dilation : array
        [m3/Pa] of all pieces.
    fluid_volume : array
        [m3] of fluid under pressure.
    fluid_bulk_modulus : array
        [Pa] of the fluid.
    master_area : array
        [m2] of the master's bore.
    master_efficiency : array
        [-] of the master.
    application_bulkhead_stiffness : array
        [N/m] at the master's rod; inf where rigid.

    Returns
    -------
    array
        [m3/Pa] sum of the three; a rigid bulkhead adds 0.

    Source: derivation: volume balance of the line; bulk modulus by definition.
    """
    bulkhead = master_area**2 / (master_efficiency * application_bulkhead_stiffness)
    return line_dilation + fluid_volume / fluid_bulk_modulus + bulkhead


def hydraulics(
    sweep: Array,
    fork_give: Array,
    pressing_gain: Array,
    pressing_offset: Array,
    compliance: Array,
    air: float,
    ambient_pressure: float,
) -> Hydraulics:
    """Constants of the volume balance, with the air left after bleeding.

    Parameters
    ----------
    sweep : array
        [m2] fluid per finger travel.
    fork_give : array
        [m/N] of the fork at the bearing.
    pressing_gain : array
        [1/m2] pressure per finger load, pressing.
    pressing_offset : array
        [Pa] pressure at no finger load, pressing.
    compliance : array
        [m3/Pa] fluid lost per pressure.
    air : float
        [m3] left after bleeding, at ambient pressure.
    ambient_pressure : float
        [Pa] absolute.

    Returns
    -------
    Hydraulics
        [SI] the same constants in one record.

    Equation: sweep * (x + fork_give * F) + compliance * p + air * p / (ambient_pressure + p), p = max(0, pressing_gain * F +
    pressing_offset)

    Source: derivation: volume balance of the line; Boyle's law for the air.
    """
    return Hydraulics(sweep, fork_give, pressing_gain, pressing_offset, compliance, air, ambient_pressure)


def hydraulics_bled(
    sweep: Array, fork_give: Array, pressing_gain: Array, pressing_offset: Array, compliance: Array, ambient_pressure: float
) -> Hydraulics:
    """Constants of the volume balance without air: the unsafe side wherever the fingers may go too far.

    Parameters
    ----------
    sweep : array
        [m2] fluid per finger travel.
    fork_give : array
        [m/N] of the fork at the bearing.
    pressing_gain : array
        [1/m2] pressure per finger load, pressing.
    pressing_offset : array
        [Pa] pressure at no finger load, pressing.
    compliance : array
        [m3/Pa] fluid lost per pressure.
    ambient_pressure : float
        [Pa] absolute.

    Returns
    -------
    Hydraulics
        [SI] the same constants in one record, no air.

    Equation: sweep * (x + fork_give * F) + compliance * p, p = max(0, pressing_gain * F + pressing_offset)

    Source: derivation: volume balance of the line.
    """
    return Hydraulics(sweep, fork_give, pressing_gain, pressing_offset, compliance, 0.0, ambient_pressure)


def taken_with_lash(way: Way, x: Array, piston_area: Array, lash: Array) -> Array:
    """Largest volume [m3] that the train takes on [0, x], lash first.

    Parameters
    ----------
    way : Way
        [SI] the fingers' way with the air left after bleeding.
    x : array
        [m] finger travel.
    piston_area : array
        [m2] of the slave.
    lash : array
        [m] at the rod.

    Returns
    -------
    array
        [m3] at least the volume at rest; nan where x is.

    Source: derivation: volume balance of the line.
    """
    return np.asarray(piston_area * lash + taken(way, x))

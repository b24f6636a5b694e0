"""Where on its way the clutch lets go: the cushion curve read backwards.

A cushion curve is two arrays whose leading axis runs along its points: shares of the cushion travel, rising from 0 to 1, and
shares of the clamp, falling from 1 to 0. Short curves are padded by repeating their last point.
"""

from __future__ import annotations

import numpy as np

from fitcheck.physics.curves import Array

__all__ = [
    "bite_travel",
    "engine_travel",
]

_NOTHING = 1e-200  # keeps a division finite where the numerator is exactly zero


def share_at_clamp(clamp_share: Array, disc_cushion_share: Array, disc_cushion_clamp: Array) -> Array:
    """Least share of the cushion travel at which at most a share of the clamp is left.

    Parameters
    ----------
    clamp_share : array
        [-] share of the clamp.
    disc_cushion_share : array
        [-] points of the curve along the leading axis, share of cushion travel.
    disc_cushion_clamp : array
        [-] points of the curve along the leading axis, share of clamp.

    Returns
    -------
    array
        [-] share of the cushion travel, 0 to 1; nan for nan.

    Source: definition, inverse of the curve.
    """
    passed: Array = disc_cushion_share[0] + 0.0 * clamp_share
    for here, there, high, low in zip(
        disc_cushion_share[:-1], disc_cushion_share[1:], disc_cushion_clamp[:-1], disc_cushion_clamp[1:], strict=True
    ):
        part: Array = np.clip((high - clamp_share) / np.maximum(high - low, _NOTHING), 0.0, 1.0)
        passed = passed + (there - here) * part
    return passed


def travel_at_torque(
    torque: Array,
    torque_capacity: Array,
    cover_ratio: Array,
    disc_cushion_travel: Array,
    disc_cushion_share: Array,
    disc_cushion_clamp: Array,
    pressure_plate_lift_loss: Array,
) -> Array:
    """Least finger travel at which the clamp left carries at most a torque.

    Parameters
    ----------
    torque : array
        [N m] torque, at least 0.
    torque_capacity : array
        [N m] torque that the clutch carries at full clamp.
    cover_ratio : array
        [-] finger travel over plate lift.
    disc_cushion_travel : array
        [m] travel of the cushion between the facings; 0 is a step where lift starts.
    disc_cushion_share : array
        [-] points of the cushion curve along the leading axis, share of cushion travel.
    disc_cushion_clamp : array
        [-] points of the cushion curve along the leading axis, share of clamp.
    pressure_plate_lift_loss : array
        [m] finger travel before the plate starts to lift.

    Returns
    -------
    array
        [m] finger travel; 0 where full clamp carries just that torque, nan where it does not carry it.

    Source: derivation, friction torque in proportion to the clamp left on the cushion.
    """
    # A clutch that carries nothing asks for an endless share of its clamp: refused below like any share above 1.
    with np.errstate(divide="ignore", invalid="ignore"):
        wanted = np.where(torque_capacity > 0.0, torque / torque_capacity, np.inf)
    share = share_at_clamp(np.minimum(wanted, 1.0), disc_cushion_share, disc_cushion_clamp)
    lifting = pressure_plate_lift_loss + cover_ratio * disc_cushion_travel * share
    return np.where(wanted < 1.0, lifting, np.where(wanted == 1.0, 0.0, np.nan))


def bite_travel(
    slope_torque: Array,
    torque_capacity: Array,
    cover_ratio: Array,
    disc_cushion_travel: Array,
    disc_cushion_share: Array,
    disc_cushion_clamp: Array,
    pressure_plate_lift_loss: Array,
) -> Array:
    """Finger travel at which the vehicle starts to roll in the bite test.

    Parameters
    ----------
    slope_torque : array
        [N m] torque at the clutch that holds the vehicle on the slope.
    torque_capacity : array
        [N m] torque that the clutch carries at full clamp.
    cover_ratio : array
        [-] finger travel over plate lift.
    disc_cushion_travel : array
        [m] travel of the cushion between the facings.
    disc_cushion_share : array
        [-] points of the cushion curve along the leading axis, share of cushion travel.
    disc_cushion_clamp : array
        [-] points of the cushion curve along the leading axis, share of clamp.
    pressure_plate_lift_loss : array
        [m] finger travel before the plate starts to lift.

    Returns
    -------
    array
        [m] finger travel; nan where full clamp does not hold the vehicle on the slope.

    Equation: lift_loss + cover_ratio * cushion_travel * s, s = cushion_share at which cushion_clamp = slope_torque /
    torque_capacity

    Source: common practice, the bite test on a slope.
    """
    return travel_at_torque(
        torque=slope_torque,
        torque_capacity=torque_capacity,
        cover_ratio=cover_ratio,
        disc_cushion_travel=disc_cushion_travel,
        disc_cushion_share=disc_cushion_share,
        disc_cushion_clamp=disc_cushion_clamp,
        pressure_plate_lift_loss=pressure_plate_lift_loss,
    )


def engine_travel(
    application_engine_torque: Array,
    torque_capacity: Array,
    cover_ratio: Array,
    disc_cushion_travel: Array,
    disc_cushion_share: Array,
    disc_cushion_clamp: Array,
    pressure_plate_lift_loss: Array,
) -> Array:
    """Finger travel at which the clamp left just carries the engine's torque.

    Parameters
    ----------
    application_engine_torque : array
        [N m] largest torque of the engine.
    torque_capacity : array
        [N m] torque that the clutch carries at full clamp.
    cover_ratio : array
        [-] finger travel over plate lift.
    disc_cushion_travel : array
        [m] travel of the cushion between the facings.
    disc_cushion_share : array
        [-] points of the cushion curve along the leading axis, share of cushion travel.
    disc_cushion_clamp : array
        [-] points of the cushion curve along the leading axis, share of clamp.
    pressure_plate_lift_loss : array
        [m] finger travel before the plate starts to lift.

    Returns
    -------
    array
        [m] finger travel; nan where full clamp does not carry the engine's torque.

    Equation: lift_loss + cover_ratio * cushion_travel * s, s = cushion_share at which cushion_clamp = engine_torque /
    torque_capacity

    Source: derivation, friction torque in proportion to the clamp left on the cushion.
    """
    return travel_at_torque(
        torque=application_engine_torque,
        torque_capacity=torque_capacity,
        cover_ratio=cover_ratio,
        disc_cushion_travel=disc_cushion_travel,
        disc_cushion_share=disc_cushion_share,
        disc_cushion_clamp=disc_cushion_clamp,
        pressure_plate_lift_loss=pressure_plate_lift_loss,
    )

"""Air that a tilted slave keeps above its bleed port, before any trick of the fitter's."""

from __future__ import annotations

from math import factorial

import numpy as np

from fitcheck.physics.curves import Array

__all__ = ["air_reserve", "bleed_lift", "concentric_air_pocket", "external_air_pocket"]

LEVEL = 1e-6  # rad: a bore closer to level than this is taken as level
_FLAT = 0.3  # rad: half angle of a segment below which the closed form cancels and a series takes over
# The same closed form by odd powers of the half angle, from the fifth on.
_SERIES = tuple((-1) ** n * (0.75 + 9**n / 4 - (2 * n + 1)) / factorial(2 * n + 1) for n in range(2, 8))


def segment_area(bore: Array, depth: Array) -> Array:
    """Area of the part of a circle that lies above a level.

    Parameters
    ----------
    bore : array
        [m] diameter of the circle.
    depth : array
        [m] of the level below the top of the circle.

    Returns
    -------
    array
        [m2] area; 0 above the circle, the whole circle below it.

    Source: geometry of the circular segment.
    """
    radius = 0.5 * bore
    half = _half_angle(bore, depth)
    return radius**2 * (half - 0.5 * np.sin(2.0 * half))


def segment_integral(bore: Array, depth: Array) -> Array:
    """Integral of the segment's area over the depth of its level.

    Parameters
    ----------
    bore : array
        [m] diameter of the circle.
    depth : array
        [m] of the level below the top of the circle.

    Returns
    -------
    array
        [m3] integral; 0 above the circle, growing by its area below it.

    Source: Weisstein, Cylindrical Wedge (MathWorld): the wedge's volume is this integral over the tangent of its angle.
    """
    radius = 0.5 * bore
    half = _half_angle(bore, depth)
    sine = np.sin(half)
    closed = sine - sine**3 / 3.0 - half * np.cos(half)
    square = half**2
    series = half**5 * sum(term * square**power for power, term in enumerate(_SERIES))
    below: Array = np.maximum(depth - bore, 0.0)
    return radius**3 * np.where(half < _FLAT, series, closed) + np.pi * radius**2 * below


def _half_angle(bore: Array, depth: Array) -> Array:
    """Half of the angle [rad] that the segment spans, exact for shallow segments too."""
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(bore > 0.0, depth / bore, 0.0)  # the inner circle of a plain bore has no size
    half: Array = 2.0 * np.arcsin(np.sqrt(np.clip(share, 0.0, 1.0)))
    return half


def trapped(
    outer_diameter: Array, inner_diameter: Array, length: Array, bleed_offset: Array, port_clock: Array, tilt: Array
) -> Array:
    """Volume above the level through the bleed port of a straight bore or annulus.

    Parameters
    ----------
    outer_diameter, inner_diameter : array
        [m] of the annulus; inner 0 for a bore.
    length : array
        [m] of the cavity.
    bleed_offset : array
        [m] from the engine-side end to the near edge of the port.
    port_clock : array
        [rad] of the port from the top.
    tilt : array
        [rad] of the bore, rear down positive, below a right angle.

    Returns
    -------
    array
        [m3] volume, at least 0; nan for nan.

    Source: derivation, circular segments piled up along the bore; Weisstein, Cylindrical Wedge (MathWorld).
    """
    depth = 0.5 * outer_diameter * (1.0 - np.cos(port_clock))
    shift = 0.5 * (outer_diameter - inner_diameter)
    level = np.abs(tilt) < LEVEL
    slope = np.tan(np.where(level, 1.0, np.abs(tilt)))
    behind = np.where(tilt > 0.0, bleed_offset, length - bleed_offset)  # from the port to the end that is higher
    deep = depth + behind * slope
    shallow: Array = np.maximum(0.0, depth - (length - behind) * slope)

    def section(at: Array) -> Array:
        return segment_area(outer_diameter, at) - segment_area(inner_diameter, at - shift)

    def pile(at: Array) -> Array:
        return segment_integral(outer_diameter, at) - segment_integral(inner_diameter, at - shift)

    return np.where(level, section(depth) * length, (pile(deep) - pile(shallow)) / slope)


def external_air_pocket(
    slave_bore: Array,
    slave_cavity_length: Array,
    slave_cavity_bleed_offset: Array,
    slave_cavity_clock: Array,
    application_slave_tilt: Array,
    application_slave_clock: Array,
) -> Array:
    """Air that an external slave keeps past its bleed port.

    Parameters
    ----------
    slave_bore : array
        [m] of the slave.
    slave_cavity_length : array
        [m] of the cavity along the bore.
    slave_cavity_bleed_offset : array
        [m] from the engine-side end to the near edge of the bleed port.
    slave_cavity_clock : array
        [rad] of the port from the slave's own top.
    application_slave_tilt : array
        [rad] of the mounted slave, rear down positive.
    application_slave_clock : array
        [rad] by which the bracket turns the slave from port up.

    Returns
    -------
    array
        [m3] volume, at least 0; nan for nan.

    Equation: part of a bore slave_bore by cavity_length above its port (at cavity_bleed_offset, turned cavity_clock +
    slave_clock), tilt slave_tilt

    Source: derivation, circular segments piled up along the bore.
    """
    return trapped(
        outer_diameter=slave_bore,
        inner_diameter=0.0 * slave_bore,
        length=slave_cavity_length,
        bleed_offset=slave_cavity_bleed_offset,
        port_clock=slave_cavity_clock + application_slave_clock,
        tilt=application_slave_tilt,
    )


def concentric_air_pocket(
    slave_outer_diameter: Array,
    slave_inner_diameter: Array,
    slave_cavity_length: Array,
    slave_cavity_bleed_offset: Array,
    slave_cavity_clock: Array,
    application_tilt: Array,
) -> Array:
    """Air that a concentric release cylinder keeps past its bleed port.

    Parameters
    ----------
    slave_outer_diameter, slave_inner_diameter : array
        [m] of the annular piston.
    slave_cavity_length : array
        [m] of the cavity along the bore.
    slave_cavity_bleed_offset : array
        [m] from the engine-side end to the near edge of the bleed port.
    slave_cavity_clock : array
        [rad] of the port from the top.
    application_tilt : array
        [rad] of the gearbox, rear down positive.

    Returns
    -------
    array
        [m3] volume, at least 0; nan for nan.

    Equation: part of a ring outer_diameter, inner_diameter by cavity_length above its port (cavity_bleed_offset, cavity_clock),
    tilt application_tilt

    Source: derivation, circular segments piled up along the bore.
    """
    return trapped(
        outer_diameter=slave_outer_diameter,
        inner_diameter=slave_inner_diameter,
        length=slave_cavity_length,
        bleed_offset=slave_cavity_bleed_offset,
        port_clock=slave_cavity_clock,
        tilt=application_tilt,
    )


def air_reserve(air_allowance: Array, air_pocket: Array) -> Array:
    """Air that may stay in the line beyond what the tilted slave keeps anyway.

    Parameters
    ----------
    air_allowance : array
        [m3] air that may stay before the clutch no longer releases.
    air_pocket : array
        [m3] air that the slave keeps.

    Returns
    -------
    array
        [m3] volume; below 0 where the slave must be bled by a trick, inf where no air matters.

    Source: definition.
    """
    return air_allowance - air_pocket


def bleed_lift(application_wheelbase: Array, application_tilt: Array) -> Array:
    """How far the rear must be raised for the gearbox to lie level.

    Parameters
    ----------
    application_wheelbase : array
        [m] of the vehicle.
    application_tilt : array
        [rad] of the gearbox, rear down positive.

    Returns
    -------
    array
        [m] height; below 0 where the rear must be lowered.

    Source: geometry of the raised vehicle.
    """
    return application_wheelbase * np.sin(application_tilt)

"""The diaphragm spring: a coned ring whose load is led away from its edges by circles it rocks on.

The constant of the ring is K1 of the disc-spring standard, not the older approximation by logarithms, which gives up to one
per cent more for the usual rings. The slots take hoop stiffness from the fingers: the ring is the unslotted part.
"""

from __future__ import annotations

import numpy as np

from fitcheck.physics.curves import Array

__all__ = ["diaphragm_clamp_load", "diaphragm_ratio", "diaphragm_worn_clamp_load"]


def ring_constant(outer_radius: Array, inner_radius: Array) -> Array:
    """Constant K1 of a coned ring.

    Parameters
    ----------
    outer_radius, inner_radius : array
        [m] radii of the ring, the outer one larger.

    Returns
    -------
    array
        [-] constant; nan where the radii are equal.

    Source: DIN 2092 (EN 16984), constant K1.
    """
    over = outer_radius / inner_radius
    with np.errstate(divide="ignore", invalid="ignore"):
        bracket = (over + 1.0) / (over - 1.0) - 2.0 / np.log(over)
        constant: Array = ((over - 1.0) / over) ** 2 / (np.pi * bracket)
    return constant


def load_terms(
    outer_radius: Array,
    inner_radius: Array,
    thickness: Array,
    cone_height: Array,
    modulus: Array,
    poisson: Array,
    load_radius: Array,
    pivot_radius: Array,
) -> tuple[Array, Array, Array]:
    """Coefficients of the load at the load circle, a cubic in the deflection there.

    Parameters
    ----------
    outer_radius, inner_radius : array
        [m] radii of the unslotted ring.
    thickness : array
        [m] of the sheet.
    cone_height : array
        [m] free height of the cone of the ring.
    modulus : array
        [Pa] of elasticity.
    poisson : array
        [-] ratio of contraction.
    load_radius, pivot_radius : array
        [m] radii of the circle that loads the plate and of the circle that the spring rocks on.

    Returns
    -------
    tuple of array
        [N/m, N/m2, N/m3] the load is `a s + b s^2 + c s^3` at deflection `s`.

    Source: Almen and Laszlo's equation in the form of DIN 2092 (EN 16984); shortened lever by equal work of the moved points.
    """
    # Lengths over the lever between the circles; work is the same wherever the rotation is measured.
    lever = (outer_radius - inner_radius) / np.abs(load_radius - pivot_radius)
    constant = ring_constant(outer_radius=outer_radius, inner_radius=inner_radius)
    scale = modulus * thickness * lever**2 / ((1.0 - poisson**2) * constant * outer_radius**2)
    return scale * (cone_height**2 + thickness**2), -1.5 * scale * lever * cone_height, 0.5 * scale * lever**2


def lever_load(
    deflection: Array,
    outer_radius: Array,
    inner_radius: Array,
    thickness: Array,
    cone_height: Array,
    modulus: Array,
    poisson: Array,
    load_radius: Array,
    pivot_radius: Array,
) -> Array:
    """Load at the load circle of a diaphragm spring that rocks on its pivot circle.

    Parameters
    ----------
    deflection : array
        [m] at the load circle, from the free cone.
    outer_radius, inner_radius : array
        [m] radii of the unslotted ring.
    thickness : array
        [m] of the sheet.
    cone_height : array
        [m] free height of the cone of the ring.
    modulus : array
        [Pa] of elasticity.
    poisson : array
        [-] ratio of contraction.
    load_radius, pivot_radius : array
        [m] radii of the circle that loads the plate and of the circle that the spring rocks on.

    Returns
    -------
    array
        [N] load; below 0 where the spring has snapped through, nan where a pair of radii is equal.

    Source: Almen and Laszlo's equation in the form of DIN 2092 (EN 16984); shortened lever by equal work of the moved points.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        first, second, third = load_terms(
            outer_radius=outer_radius,
            inner_radius=inner_radius,
            thickness=thickness,
            cone_height=cone_height,
            modulus=modulus,
            poisson=poisson,
            load_radius=load_radius,
            pivot_radius=pivot_radius,
        )
        return deflection * (first + deflection * (second + deflection * third))


clamp_of_ring = lever_load  # with the fingers free, the load at the load circle is the clamp


def lever_stiffness(
    deflection: Array,
    outer_radius: Array,
    inner_radius: Array,
    thickness: Array,
    cone_height: Array,
    modulus: Array,
    poisson: Array,
    load_radius: Array,
    pivot_radius: Array,
) -> Array:
    """Slope of the load at the load circle over the deflection there.

    Parameters
    ----------
    deflection : array
        [m] at the load circle, from the free cone.
    outer_radius, inner_radius : array
        [m] radii of the unslotted ring.
    thickness : array
        [m] of the sheet.
    cone_height : array
        [m] free height of the cone of the ring.
    modulus : array
        [Pa] of elasticity.
    poisson : array
        [-] ratio of contraction.
    load_radius, pivot_radius : array
        [m] radii of the circle that loads the plate and of the circle that the spring rocks on.

    Returns
    -------
    array
        [N/m] slope; below 0 where the load falls, nan where a pair of radii is equal.

    Source: derivative of Almen and Laszlo's equation.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        first, second, third = load_terms(
            outer_radius=outer_radius,
            inner_radius=inner_radius,
            thickness=thickness,
            cone_height=cone_height,
            modulus=modulus,
            poisson=poisson,
            load_radius=load_radius,
            pivot_radius=pivot_radius,
        )
        return first + deflection * (2.0 * second + 3.0 * third * deflection)


def diaphragm_ratio(diaphragm_load_radius: Array, diaphragm_pivot_radius: Array, diaphragm_tip_radius: Array) -> Array:
    """Finger travel over plate lift of a diaphragm spring.

    Parameters
    ----------
    diaphragm_load_radius, diaphragm_pivot_radius, diaphragm_tip_radius : array
        [m] radii of the circle that loads the plate, of the pivot circle and of the finger tips.

    Returns
    -------
    array
        [-] ratio of the lever; inf where load and pivot circle are the same.

    Source: derivation, rigid rotation about the pivot circle.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        lever: Array = np.abs(diaphragm_pivot_radius - diaphragm_tip_radius)
        return lever / np.abs(diaphragm_load_radius - diaphragm_pivot_radius)


def diaphragm_clamp_load(
    diaphragm_outer_radius: Array,
    diaphragm_inner_radius: Array,
    diaphragm_thickness: Array,
    diaphragm_cone_height: Array,
    diaphragm_modulus: Array,
    diaphragm_poisson: Array,
    diaphragm_load_radius: Array,
    diaphragm_pivot_radius: Array,
    diaphragm_set_deflection: Array,
) -> Array:
    """Load of a diaphragm cover on a new disc, fingers free.

    Parameters
    ----------
    diaphragm_outer_radius, diaphragm_inner_radius : array
        [m] radii of the unslotted ring.
    diaphragm_thickness : array
        [m] of the sheet.
    diaphragm_cone_height : array
        [m] free height of the cone of the ring.
    diaphragm_modulus : array
        [Pa] of elasticity.
    diaphragm_poisson : array
        [-] ratio of contraction.
    diaphragm_load_radius, diaphragm_pivot_radius : array
        [m] radii of the circle that loads the plate and of the pivot circle.
    diaphragm_set_deflection : array
        [m] deflection at the load circle, disc new.

    Returns
    -------
    array
        [N] load; nan where a pair of radii is equal.

    Equation: Almen-Laszlo load at set_deflection: outer_radius, inner_radius, thickness, cone_height, modulus, poisson,
    load_radius, pivot_radius

    Source: Almen and Laszlo's equation in the form of DIN 2092 (EN 16984).
    """
    return lever_load(
        deflection=diaphragm_set_deflection,
        outer_radius=diaphragm_outer_radius,
        inner_radius=diaphragm_inner_radius,
        thickness=diaphragm_thickness,
        cone_height=diaphragm_cone_height,
        modulus=diaphragm_modulus,
        poisson=diaphragm_poisson,
        load_radius=diaphragm_load_radius,
        pivot_radius=diaphragm_pivot_radius,
    )


def diaphragm_worn_clamp_load(
    diaphragm_outer_radius: Array,
    diaphragm_inner_radius: Array,
    diaphragm_thickness: Array,
    diaphragm_cone_height: Array,
    diaphragm_modulus: Array,
    diaphragm_poisson: Array,
    diaphragm_load_radius: Array,
    diaphragm_pivot_radius: Array,
    diaphragm_set_deflection: Array,
    uncompensated_wear: Array,
) -> Array:
    """Load of a diaphragm cover on a fully worn disc, fingers free.

    Parameters
    ----------
    diaphragm_outer_radius, diaphragm_inner_radius : array
        [m] radii of the unslotted ring.
    diaphragm_thickness : array
        [m] of the sheet.
    diaphragm_cone_height : array
        [m] free height of the cone of the ring.
    diaphragm_modulus : array
        [Pa] of elasticity.
    diaphragm_poisson : array
        [-] ratio of contraction.
    diaphragm_load_radius, diaphragm_pivot_radius : array
        [m] radii of the circle that loads the plate and of the pivot circle.
    diaphragm_set_deflection : array
        [m] deflection at the load circle, disc new.
    uncompensated_wear : array
        [m] wear that the cover passes on, by which the spring relaxes.

    Returns
    -------
    array
        [N] load; nan where a pair of radii is equal.

    Equation: ring at set_deflection - uncompensated_wear: outer_radius, inner_radius, thickness, cone_height, modulus, poisson,
    load_radius, pivot_radius

    Source: Almen and Laszlo's equation in the form of DIN 2092 (EN 16984).
    """
    return lever_load(
        deflection=diaphragm_set_deflection - uncompensated_wear,
        outer_radius=diaphragm_outer_radius,
        inner_radius=diaphragm_inner_radius,
        thickness=diaphragm_thickness,
        cone_height=diaphragm_cone_height,
        modulus=diaphragm_modulus,
        poisson=diaphragm_poisson,
        load_radius=diaphragm_load_radius,
        pivot_radius=diaphragm_pivot_radius,
    )

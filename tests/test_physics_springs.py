"""Disc and diaphragm springs against the standard's tables, books and quadrature.

Beside each check stands where its number is from; "from memory" means that nobody looked it up for this test.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from fitcheck.physics import diaphragm

MM = 1e-3


# Disc springs.


def edge_loaded(outer, inner, thickness, free_height, share=0.75):
    """Load of a disc spring loaded at its edges, compressed by a share of its cone."""
    cone = free_height - thickness
    return diaphragm.lever_load(
        deflection=share * cone * MM,
        outer_radius=outer / 2 * MM,
        inner_radius=inner / 2 * MM,
        thickness=thickness * MM,
        cone_height=cone * MM,
        modulus=206e9,
        poisson=0.3,
        load_radius=outer / 2 * MM,
        pivot_radius=inner / 2 * MM,
    )


# DIN 2093:2006-03, group 2, series A and B: outer, inner diameter, thickness, free height in mm, load in N to three figures.
DIN_2093 = [
    (31.5, 16.3, 1.75, 2.45, 3870),
    (40, 20.4, 2.25, 3.15, 6500),
    (45, 22.4, 2.5, 3.5, 7720),
    (50, 25.4, 3, 4.1, 12000),
    (63, 31, 3.5, 4.9, 15000),
    (80, 41, 5, 6.7, 33600),
    (100, 51, 6, 8.2, 48000),
    (31.5, 16.3, 1.25, 2.15, 1910),
    (40, 20.4, 1.5, 2.65, 2620),
    (50, 25.4, 2, 3.4, 4760),
    (63, 31, 2.5, 4.25, 7190),
    (80, 41, 3, 5.3, 10500),
    (100, 51, 3.5, 6.3, 13100),
]


@pytest.mark.parametrize("row", DIN_2093)
def test_disc_spring_loads_of_the_standard(row):
    """DIN 2093:2006-03, table of group 2; printed to three figures, so within half of the third figure."""
    *sizes, printed = row
    figure = 10 ** (math.floor(math.log10(printed)) - 2)
    assert edge_loaded(*sizes) == pytest.approx(printed, abs=figure / 2)


# DIN 2093 loads to full digits, all from memory.
FROM_MEMORY = [
    (31.5, 16.3, 0.8, 1.85, 687),
    (40, 20.4, 1, 2.3, 1017),
    (50, 25.4, 1.25, 2.85, 1550),
    (63, 31, 1.8, 4.15, 4238),
    (80, 41, 2.25, 5.2, 6613),
    (100, 51, 2.7, 6.2, 8609),
    (125, 64, 3.5, 8, 15416),
    (200, 102, 5.5, 12.5, 36111),
    (50, 25.4, 3, 4.1, 11976),
    (50, 25.4, 2, 3.4, 4762),
]


@pytest.mark.parametrize("row", FROM_MEMORY)
def test_disc_spring_loads_from_memory(row):
    *sizes, remembered = row
    assert edge_loaded(*sizes) == pytest.approx(remembered, abs=0.6)


def test_constant_of_the_ring():
    """DIN 2092:2006-03, K1 of a 250/125 disc, as a public test of the equation asserts it."""
    assert diaphragm.ring_constant(outer_radius=125.0, inner_radius=62.5) == pytest.approx(0.69433320, abs=5e-9)


def test_flat_load_against_the_other_constant():
    """Bhandari, Design of Machine Elements, example 10.26: 4500 N flat, with the logarithmic constant, 0.52 % above K1."""
    outer, inner, thickness, cone = 154.818478, 88.467702, 2.652980, 3.979470
    flat = diaphragm.lever_load(
        deflection=cone * MM,
        outer_radius=outer / 2 * MM,
        inner_radius=inner / 2 * MM,
        thickness=thickness * MM,
        cone_height=cone * MM,
        modulus=207e9,
        poisson=0.3,
        load_radius=outer / 2 * MM,
        pivot_radius=inner / 2 * MM,
    )
    over = outer / inner
    logarithmic = 6 / (math.pi * math.log(over)) * ((over - 1) / over) ** 2
    constant = diaphragm.ring_constant(outer_radius=outer, inner_radius=inner)
    assert flat * constant / logarithmic == pytest.approx(4500, abs=0.01)


LEVER = {  # an invented spring, lengths in m
    "outer_radius": 0.100,
    "inner_radius": 0.075,
    "thickness": 0.0024,
    "cone_height": 0.0042,
    "modulus": 206e9,
    "poisson": 0.3,
    "load_radius": 0.097,
    "pivot_radius": 0.077,
}


def test_load_between_the_circles_by_equal_work():
    """Almen and Laszlo, Trans. ASME 58 (1936), for the edges; the work is the same wherever the rotation is measured."""
    at_edges = LEVER | {"load_radius": LEVER["outer_radius"], "pivot_radius": LEVER["inner_radius"]}
    lever = 25 / 20
    work_between = quad(lambda s: float(diaphragm.lever_load(deflection=s, **LEVER)), 0, 3 * MM)[0]
    work_at_edges = quad(lambda s: float(diaphragm.lever_load(deflection=s, **at_edges)), 0, 3 * MM * lever)[0]
    assert work_between == pytest.approx(work_at_edges, rel=1e-12)
    # The same spring in the form of car-design books (from memory), which uses the logarithmic constant.
    e, t, h, s = 206e9, 2.4 * MM, 4.2 * MM, 3 * MM
    book = math.pi * e * t * s * math.log(100 / 75) / (6 * (1 - 0.09) * (20 * MM) ** 2)
    book *= (h - s * lever) * (h - s / 2 * lever) + t**2
    assert book == pytest.approx(4177.51, abs=0.005)
    over = 100 / 75
    ratio = 6 / (math.pi * math.log(over)) * ((over - 1) / over) ** 2 / diaphragm.ring_constant(0.1, 0.075)
    assert diaphragm.lever_load(deflection=s, **LEVER) == pytest.approx(book * ratio, rel=1e-12)


def test_diaphragm_ratio_and_finger_load():
    """Rigid lever: 20 mm between the circles, fingers 57 mm inside the pivot circle."""
    ratio = diaphragm.diaphragm_ratio(diaphragm_load_radius=0.097, diaphragm_pivot_radius=0.077, diaphragm_tip_radius=0.020)
    assert ratio == pytest.approx(2.85, rel=1e-12)


def test_the_load_turns_where_the_standard_says():
    """DIN 2092: a maximum exists if h0/t exceeds sqrt 2, at h0 - sqrt((h0^2 - 2 t^2)/3); negative loads beyond 2 sqrt 2."""
    at_edges = LEVER | {"load_radius": LEVER["outer_radius"], "pivot_radius": LEVER["inner_radius"]}
    cone, thickness = LEVER["cone_height"], LEVER["thickness"]
    top = cone - math.sqrt((cone**2 - 2 * thickness**2) / 3)
    assert diaphragm.lever_stiffness(deflection=top, **at_edges) == pytest.approx(0, abs=1.0)
    low = at_edges | {"cone_height": 1.41 * thickness}
    slopes = diaphragm.lever_stiffness(deflection=np.linspace(0, 2 * low["cone_height"], 999), **low)
    assert np.all(slopes > 0)
    high = at_edges | {"cone_height": 2.83 * thickness}
    assert np.min(diaphragm.lever_load(deflection=np.linspace(0, 2 * high["cone_height"], 9999), **high)) < 0
    assert np.min(diaphragm.lever_load(deflection=np.linspace(0, 2 * cone, 9999), **at_edges)) >= 0


def test_stiffness_is_the_slope_of_the_load():
    """Central difference of a cubic, exact but for its third derivative."""
    s, step = np.linspace(0, 6 * MM, 7), 1e-6
    load = diaphragm.lever_load(deflection=s + step, **LEVER) - diaphragm.lever_load(deflection=s - step, **LEVER)
    assert diaphragm.lever_stiffness(deflection=s, **LEVER) == pytest.approx(load / (2 * step), rel=1e-5)


def test_a_ring_without_width_has_no_load():
    flat = {name: np.float64(number) for name, number in LEVER.items()} | {"inner_radius": np.float64(LEVER["outer_radius"])}
    assert np.isnan(diaphragm.lever_load(deflection=0.001, **flat))
    assert np.isnan(diaphragm.lever_stiffness(deflection=0.001, **flat))

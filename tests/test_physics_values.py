"""Physics against published values: standards, books, worked examples, and general libraries for cross-checks.

Beside each check stands where its number is from. "Second hand" means that the number was read in a document that quotes
the source; "from memory" that nobody looked it up for this test.
"""

from __future__ import annotations

import math
from itertools import pairwise

import fluids
import numpy as np
import pytest
from fluids.geometry import A_partial_circle
from scipy.integrate import quad, solve_bvp

from fitcheck.physics import bite, clutch, cold, demand, diaphragm, fluid, fork, line, pedal, pocket, torque
from fitcheck.physics.way import Hydraulics

MM, MM2, MM3, MPA = 1e-3, 1e-6, 1e-9, 1e6
PSI = 6894.757293168  # Pa; NIST SP 811, appendix B.8
ATM = 101325.0  # Pa; NIST SP 811, appendix B.8


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


# Friction torque.


def torque_of(outer, inner, faces, friction, force, uniform_pressure):
    radius = torque.mean_radius(
        disc_outer_diameter=outer * MM, disc_inner_diameter=inner * MM, disc_uniform_pressure=uniform_pressure
    )
    return torque.torque_capacity(clamp=force, mean_radius=radius, disc_faces=faces, disc_friction=friction)


@pytest.mark.parametrize(
    ("disc", "expected", "within"),
    [
        # Bhandari, Design of Machine Elements, example 11.1, N mm printed to 1e-3.
        ((200, 100, 1, 0.2, 15707.963268, 0), 235.619449, 1e-6),
        # The same, example 11.2.
        ((200, 100, 1, 0.2, 23561.944902, 1), 366.519143, 1e-6),
        # The same, example 11.8, eight faces.
        ((150, 75, 8, 0.1, 2650.718801, 0), 119.282346, 1e-6),
        # The same, example 11.6: factor over 250 N m, new by uniform pressure and worn by uniform wear.
        ((250, 175, 2, 0.35, 9 * 800, 1), 250 * 2.164235, 250e-6),
        ((250, 175, 2, 0.35, 9 * 800, 0), 250 * 2.142000, 250e-6),
        # Budynas and Nisbett, Shigley's Mechanical Engineering Design, equations 16-23 to 16-28, a course's solution.
        ((300, 225, 1, 0.25, 5000, 0), 164.063, 5e-4),
        # The same inputs with uniform pressure: the equation worked by hand.
        ((300, 225, 1, 0.25, 5000, 1), 165.179, 5e-4),
        # The same book, chapter 16, plate problem, from memory.
        ((250, 175, 1, 0.30, 4000, 0), 127.5, 0.05),
        ((250, 175, 1, 0.30, 4000, 1), 129, 0.5),
    ],
)
def test_torque_of_friction_discs(disc, expected, within):
    assert torque_of(*disc) == pytest.approx(expected, abs=within)


def test_torque_factors():
    """Bhandari, example 11.6, over an engine of 250 N m."""
    capacity = torque_of(250, 175, 2, 0.35, 9 * 800, 1)
    assert torque.torque_factor(torque_capacity=capacity, application_engine_torque=250.0) == pytest.approx(2.164235, abs=5e-7)
    worn = torque.torque_capacity_worn(clamp_worn=7200.0, mean_radius=0.10625, disc_faces=2.0, disc_friction=0.35)
    assert torque.torque_factor_worn(torque_capacity_worn=worn, application_engine_torque=250.0) == pytest.approx(2.142, abs=5e-7)


@pytest.mark.parametrize(("percent", "force"), [(12, 1752.623), (20, 2884.863), (30, 4226.880)])
def test_slope_torque(percent, force):
    """Weight of 1500 kg along a slope given in per cent, atan of the grade, standard gravity of NIST SP 811."""
    held = torque.slope_torque(
        application_vehicle_mass=1500.0,
        slope=math.atan(percent / 100),
        application_wheel_radius=0.3,
        application_first_gear=3.5,
        application_final_drive=4.0,
    )
    assert held * 3.5 * 4.0 / 0.3 == pytest.approx(force, abs=5e-4)


# Bite.

CURVE = {"disc_cushion_share": np.array([0, 0.25, 0.25, 0.75, 1.0]), "disc_cushion_clamp": np.array([1, 0.5, 0.5, 0.5, 0.0])}


@pytest.mark.parametrize(
    ("left", "share"), [(1, 0), (1.5, 0), (0.75, 0.125), (0.5, 0.25), (0.25, 0.875), (0, 1), (-0.1, 1), (math.nan, math.nan)]
)
def test_share_of_travel_that_leaves_a_share_of_clamp(left, share):
    """Read off the curve by hand; on its level stretch the least share counts."""
    assert bite.share_at_clamp(clamp_share=left, **CURVE) == pytest.approx(share, abs=1e-15, nan_ok=True)


@pytest.mark.parametrize(
    ("wanted", "capacity", "cushion", "travel"),
    [
        (150, 200, 0.8, 1.5 + 3 * 0.8 * 0.125),
        (200, 200, 0.8, 0),
        (201, 200, 0.8, math.nan),
        (150, 200, 0, 1.5),
        (150, 0, 0.8, math.nan),
        (150, -10, 0.8, math.nan),
        (math.nan, 200, 0.8, math.nan),
    ],
)
def test_travel_where_the_clamp_left_carries_a_torque(wanted, capacity, cushion, travel):
    """Worked by hand: a lever of 3, 1.5 mm lost; a full clamp that just holds needs no travel, one that does not has none."""
    rest = {"cover_ratio": 3.0, "pressure_plate_lift_loss": 1.5, "disc_cushion_travel": float(cushion), **CURVE}
    for found in (
        bite.bite_travel(slope_torque=float(wanted), torque_capacity=np.float64(capacity), **rest),
        bite.engine_travel(application_engine_torque=float(wanted), torque_capacity=np.float64(capacity), **rest),
    ):
        assert found == pytest.approx(travel, nan_ok=True)


# Line and fluid.


def test_hose_expansion_of_the_brake_hose_rule():
    """49 CFR 571.106 (FMVSS 106), S5.3.2, table I, low-expansion hose of 1/8 in: second hand, as cc/ft and as cc/m."""
    for per_foot, psi, per_metre, slope in ((0.33, 1000, 1.08, 0.1570), (0.42, 1500, 1.38, 0.1332), (0.61, 2900, 2.00, 0.1001)):
        expansion = per_foot * 1e-6 / 0.3048
        assert expansion * 1e6 == pytest.approx(per_metre, abs=5e-3)
        gained = line.hose_expansion(length=1.0, expansion=expansion, at_pressure=psi * PSI)
        assert gained * 1e6 * MPA == pytest.approx(slope, abs=5e-5)


TUBE = {"inner_diameter": 3.35 * MM, "wall": 0.7 * MM, "modulus": 206e9, "poisson": 0.3}


def test_tube_dilation_by_lame():
    """Lame's thick cylinder with closed ends, steel tube 4.75 x 0.7: 3.0877e-5 per MPa, 1.361 mm3 a metre at 5 MPa."""
    gained = line.tube_dilation(length=1.0, **TUBE)
    held = line.line_volume(line_piece_length=np.array([1.0]), line_piece_inner_diameter=np.array([3.35 * MM]))
    assert gained / held * MPA == pytest.approx(3.0877e-5, abs=5e-10)
    assert gained * 5 * MPA / MM3 == pytest.approx(1.361, abs=5e-4)


@pytest.mark.parametrize("poisson", [0.0, 0.3, 0.49])
def test_tube_dilation_against_the_boundary_value_problem(poisson):
    """Equilibrium of the wall, `u'' + u'/r - u/r^2 = 0`, solved by scipy with the loads of closed ends."""
    a, b, e, p = 10.0, 20.0, 210.0e3, 100.0  # mm, MPa
    axial = p * a**2 / (b**2 - a**2)
    lame, shear = e * poisson / ((1 + poisson) * (1 - 2 * poisson)), e / (2 * (1 + poisson))

    def strain_axial(radial, hoop):
        return (axial - lame * (radial + hoop)) / (lame + 2 * shear)

    def stress_radial(r, u, rate):
        return lame * (rate + u / r + strain_axial(rate, u / r)) + 2 * shear * rate

    def ends(inner, outer):
        return [stress_radial(a, *inner) + p, stress_radial(b, *outer)]

    r = np.linspace(a, b, 50)
    solved = solve_bvp(lambda r, y: [y[1], -y[1] / r + y[0] / r**2], ends, r, [0 * r, 0 * r], tol=1e-10, max_nodes=100000)
    bore = solved.sol(a)
    expected = 2 * bore[0] / a + strain_axial(bore[1], bore[0] / a)
    gained = line.tube_dilation(length=1.0, inner_diameter=2 * a, wall=b - a, modulus=e, poisson=poisson)
    assert gained * p / (math.pi * a**2) == pytest.approx(expected, rel=1e-7)


def test_pieces_of_a_line_add():
    """A tube, a hose and an adapter without length: each gives only its own share."""
    pieces = {
        "line_piece_length": np.array([1.2, 0.4, 0.0]),
        "line_piece_inner_diameter": np.array([3.35 * MM, 3.2 * MM, 1.0]),
        "line_piece_wall": np.array([0.7 * MM, 1.0, 1.0]),
        "line_piece_modulus": np.array([206e9, np.inf, np.inf]),
        "line_piece_poisson": np.array([0.3, 0.0, 0.0]),
        "line_piece_expansion": np.array([0.0, 1.38e-6, 0.0]),
        "line_piece_at_pressure": np.array([1.0, 1500 * PSI, 1.0]),
    }
    alone = line.tube_dilation(length=1.2, **TUBE) + line.hose_expansion(0.4, 1.38e-6, 1500 * PSI)
    assert line.line_dilation(**pieces) == pytest.approx(alone, rel=1e-15)


def compliance_of(volume, modulus, dilation=0.0):
    return demand.compliance(
        line_dilation=dilation,
        fluid_volume=volume,
        fluid_bulk_modulus=modulus,
        master_area=1.0,
        master_efficiency=1.0,
        application_bulkhead_stiffness=np.inf,
    )


def test_bulk_compression():
    """OpenStax, College Physics, example 5.6: 5.00e7 Pa on a modulus of 2.2e9 Pa is 2.3 %; example 13.5: 1.10 L of 60 L."""
    assert compliance_of(1.0, 2.2e9) * 5.00e7 == pytest.approx(0.0227, abs=5e-5)
    assert 1.10 / compliance_of(60.0, 1e9) == pytest.approx(1.83e7, abs=5e4)


def test_hydraulic_press():
    """OpenStax, College Physics, example 11.6: 500 N on 0.500 cm, out through 2.50 cm: 2.5e7 Pa and 1.25e4 N."""
    pressure = pedal.blocked_pressure(
        foot_limit=500.0,
        least_return_force=0.0,
        pedal_ratio=1.0,
        pedal_efficiency=1.0,
        master_spring_force=0.0,
        master_efficiency=1.0,
        master_area=pedal.master_area(master_bore=0.5e-2),
    )
    assert pressure == pytest.approx(2.5e7, abs=5e5)
    assert pressure * pedal.external_piston_area(slave_bore=2.5e-2) == pytest.approx(1.25e4, rel=1e-12)


@pytest.mark.parametrize(("inches", "area"), [(5 / 8, 197.9326), (3 / 4, 285.0230), (7 / 8, 387.9479), (1.0, 506.7075)])
def test_areas_of_usual_bores(inches, area):
    """Circle of an exact inch size (25.4 mm, NIST SP 811), mm2."""
    assert pedal.master_area(master_bore=inches * 25.4) == pytest.approx(area, abs=5e-5)
    whole = pedal.concentric_piston_area(slave_outer_diameter=inches * 25.4, slave_inner_diameter=0.0)
    assert whole == pytest.approx(area, abs=5e-5)


# Gas law.


def hidden_volume(compliance, air, pressure):
    return Hydraulics(1.0, 0.0, 1.0, 0.0, compliance, air, ATM).hidden(np.asarray(pressure))


@pytest.mark.parametrize(("gauge", "boyle", "real"), [(1, 0.092003, 0.091690), (2, 0.048220, 0.047918), (5, 0.019862, 0.019627)])
def test_trapped_air_by_boyle(gauge, boyle, real):
    """Boyle's law from one atmosphere; `real` is air at 20 degC by a property library, about one per cent below."""
    left = 1.0 - hidden_volume(0.0, 1.0, gauge * MPA)
    assert left == pytest.approx(boyle, abs=5e-7)
    assert left == pytest.approx(real, rel=0.013)


@pytest.mark.parametrize(("absolute", "modulus"), [(0.5, 215.470), (1, 633.628), (2, 1231.728), (5, 1672.241)])
def test_effective_modulus_of_fluid_with_air(absolute, modulus):
    """One per cent of air at one atmosphere in fluid of 1.8 GPa: `Be = -V/(dV/dp)` of the closed form, worked separately."""
    compliance, gauge, step = compliance_of(0.99, 1.8e9), absolute * MPA - ATM, 50.0
    left = 1.0 - hidden_volume(compliance, 0.01, gauge)
    slope = (hidden_volume(compliance, 0.01, gauge + step) - hidden_volume(compliance, 0.01, gauge - step)) / (2 * step)
    assert left / slope / MPA == pytest.approx(modulus, abs=6e-4)


def test_effective_modulus_of_a_handbook_type_example():
    """1 % air, fluid of 250 000 psi, wall 3.33e-7 per psi, 500 psi absolute: reciprocals added by hand, 41 096 psi."""
    give = compliance_of(1.0, 250_000.0, dilation=10 / 30e6)  # per psi, volume 1
    assert 1 / (give + 0.01 / 500) == pytest.approx(41096, abs=0.5)


# Viscosity.


def test_viscosity_goes_through_its_points_and_is_walther_between():
    """ASTM D341, worked with the logarithms of the standard library."""
    temperature, viscosity = np.array([233.15, 293.15, 373.15]), np.array([1500e-6, 15e-6, 2e-6])
    through = [fluid.viscosity_line(temperature=t, known_temperature=temperature, known_viscosity=viscosity) for t in temperature]
    assert through == pytest.approx(viscosity, rel=1e-12)

    def by_hand(at, first, last):
        heights = [math.log10(math.log10(viscosity[k] * 1e6 + 0.7)) for k in (first, last)]
        warmths = [math.log10(temperature[k]) for k in (first, last)]
        height = heights[0] + (heights[1] - heights[0]) * (math.log10(at) - warmths[0]) / (warmths[1] - warmths[0])
        return (10 ** (10**height) - 0.7) * 1e-6

    for at, first, last in ((220.0, 0, 1), (263.15, 0, 1), (300.0, 1, 2), (400.0, 1, 2)):
        found = fluid.viscosity_line(temperature=at, known_temperature=temperature, known_viscosity=viscosity)
        assert found == pytest.approx(by_hand(at, first, last), rel=1e-12)
        padded = fluid.viscosity_line(
            temperature=at,
            known_temperature=np.append(temperature, temperature[-1]),
            known_viscosity=np.append(viscosity, viscosity[-1]),
        )
        assert padded == found


def test_viscosity_beyond_all_bounds():
    pair = np.array([300.0, 310.0])
    assert np.isnan(fluid.viscosity_line(305.0, pair, np.array([0.3e-6, 0.2e-6])))
    assert np.isinf(fluid.viscosity_line(100.0, pair, np.array([1.0, 1e-6])))


# Flow.

DENSITY = 1060.0


def loss_of(flow, lengths, bores, viscosity):
    """Pressure loss by the library `fluids`, piece by piece, laminar up to 2300 and Blasius beyond."""
    total = 0.0
    for length, bore in zip(lengths, bores, strict=True):
        speed = flow / (math.pi / 4 * bore**2)
        reynolds = fluids.Reynolds(D=bore, V=speed, rho=DENSITY, mu=viscosity)
        laminar = reynolds <= cold.CRITICAL
        friction = fluids.friction.friction_laminar(reynolds) if laminar else fluids.friction.Blasius(reynolds)
        total += friction * length / bore * DENSITY * speed**2 / 2
    return total


def flow_of(pressure, lengths, bores, viscosity, density=DENSITY):
    pieces = {"line_piece_length": np.asarray(lengths, float), "line_piece_inner_diameter": np.asarray(bores, float)}
    return cold.return_flow(pressure=pressure, dynamic_viscosity=viscosity, density=density, **pieces)


def test_laminar_loss_of_the_library():
    """`fluids.friction.one_phase_dP`: bore 3.35 mm, 2 m, 0.010 Pa s, 0.5 m/s: 28514.1457 Pa."""
    flow = 0.5 * math.pi / 4 * 0.00335**2
    loss = fluids.friction.one_phase_dP(m=flow * DENSITY, rho=DENSITY, mu=0.010, D=0.00335, L=2.0)
    assert loss == pytest.approx(28514.1457, abs=5e-5)
    assert flow_of(28514.1457, [2.0], [0.00335], 0.010) == pytest.approx(flow, rel=1e-8)


def test_laminar_flow_through_a_needle():
    """OpenStax, College Physics, example 12.8: 0.120 cm3/s through radius 0.150 mm, 2.50 cm, into 8 mmHg of 133 Pa."""
    assert flow_of(1.6154e4 - 8 * 133, [0.025], [0.3 * MM], 1e-3) == pytest.approx(0.120e-6, abs=5e-11)


def test_cold_loss_a_metre():
    """1800 mm2/s (second hand: the standard's limit at -40 degC), bore 3.35 mm, 0.5 m/s: 2.72 MPa a metre."""
    flow = 0.5 * math.pi / 4 * 0.00335**2
    assert flow_of(2.72e6, [1.0], [0.00335], 1800e-6 * DENSITY) == pytest.approx(flow, rel=2e-3)


ROWS = [
    ([2.0], [3.35]),
    ([1.0, 0.4], [3.35, 3.0]),
    ([0.4, 1.0, 0.3], [3.0, 6.0, 3.0]),
    ([1.0, 0.0, 0.5], [5.0, 1.0, 2.5]),
]


@pytest.mark.parametrize(("lengths", "bores"), ROWS)
@pytest.mark.parametrize("viscosity", [1e-3, 5e-3, 0.5])
def test_flow_gives_back_the_library_s_loss(lengths, bores, viscosity):
    bores = np.array(bores) * MM
    pressures = np.geomspace(1e2, 1e7, 41)
    flows = flow_of(pressures, np.array(lengths)[:, None], bores[:, None], viscosity)
    assert np.all(np.diff(flows) >= 0)
    for pressure, flow in zip(pressures, flows, strict=True):
        # Within a jump of the loss both sides of the flow lie on either side of the pressure.
        below, above = (loss_of(flow * (1 + nudge), lengths, bores, viscosity) for nudge in (-1e-9, 1e-9))
        assert below <= pressure <= above


@pytest.mark.parametrize(("lengths", "bores"), ROWS)
@pytest.mark.parametrize("span", [(1e4, 1e7), (3e6, 2e4), (5e4, 5.02e4), (1e6, 1.0000001e6), (2e5, 2e5)])
def test_mean_slowness_against_quadrature(lengths, bores, span):
    """One over the flow, integrated by scipy between its kinks."""
    lengths, bores = np.array(lengths), np.array(bores) * MM
    start, end = span
    pieces = {
        "line_piece_length": lengths,
        "line_piece_inner_diameter": bores,
        "dynamic_viscosity": np.float64(2e-3),
        "density": DENSITY,
    }
    found = cold.mean_slowness(pressure_from=np.float64(start), pressure_to=np.float64(end), **pieces)

    def slowness(pressure):
        return 1 / float(cold.return_flow(pressure=np.float64(pressure), **pieces))

    if start == end:
        assert found == pytest.approx(slowness(start), rel=1e-12)
        return
    row = cold.regimes(**pieces)
    kinks = [kink for kink in (*row.pressure, *row.onset) if min(span) < kink < max(span)]
    stops = [min(span), *sorted(kinks), max(span)]
    total = sum(quad(slowness, *pair, epsabs=0, epsrel=1e-10)[0] for pair in pairwise(stops))
    assert found == pytest.approx(total / (max(span) - min(span)), rel=1e-9)


def test_flow_at_its_ends():
    pieces = {"line_piece_length": np.array([2.0]), "line_piece_inner_diameter": np.array([3.35 * MM])}
    thin = {"dynamic_viscosity": np.float64(0.01), "density": DENSITY, **pieces}
    thick = {"dynamic_viscosity": np.float64(np.inf), "density": DENSITY, **pieces}
    assert cold.return_flow(pressure=np.float64(0), **thin) == 0
    assert np.isnan(cold.return_flow(pressure=np.float64(np.nan), **thin))
    assert cold.return_flow(pressure=np.float64(1e6), **thick) == 0
    ends = np.array([0.0, 0.0, 1e5]), np.array([0.0, 1e5, 0.0])
    assert np.all(np.isinf(cold.mean_slowness(pressure_from=ends[0], pressure_to=ends[1], **thin)))
    assert np.isinf(cold.mean_slowness(pressure_from=np.float64(1e5), pressure_to=np.float64(2e5), **thick))
    assert np.isinf(flow_of(5.0, [0.0], [0.0], 0.01))


# Air pockets.


@pytest.mark.parametrize(
    ("depth", "volume"), [(5, 503.681108960), (10, 1333.333333333), (15, 2262.288805380), (20, 3141.592653590)]
)
def test_wedge_of_a_cylinder(depth, volume):
    """Weisstein, Cylindrical Wedge, MathWorld, equations 8 to 10: radius 10, height 20."""
    integral = pocket.segment_integral(bore=np.float64(20), depth=np.float64(depth))
    assert integral * 20 / depth == pytest.approx(volume, abs=5e-10)


def test_another_wedge():
    """The same equations: radius 9.525, height 3, depth 4."""
    integral = pocket.segment_integral(bore=np.float64(19.05), depth=np.float64(4))
    assert integral * 3 / 4 == pytest.approx(53.274853575, abs=5e-10)


@pytest.mark.parametrize(("depth", "area"), [(2, 16.350110879), (10, 157.079632679), (15, 252.740780429)])
def test_circular_segment(depth, area):
    """Horizontal circular segment of radius 10; the same by `fluids.geometry.A_partial_circle`."""
    found = pocket.segment_area(bore=np.float64(20), depth=np.float64(depth))
    assert found == pytest.approx(area, abs=5e-10)
    assert found == pytest.approx(A_partial_circle(20, depth), rel=1e-14)


@pytest.mark.parametrize(("degrees", "volume"), [(5, 5.2804), (10, 15.0163), (15, 27.9499), (30, 86.4468)])
def test_pocket_past_a_port_in_the_top(degrees, volume):
    """The same wedge: bore 19.05 mm, 6 mm from port to the high end, mm3."""
    for tilt, offset in ((degrees, 6.0), (-degrees, 34.0)):
        found = pocket.external_air_pocket(
            slave_bore=19.05,
            slave_cavity_length=40.0,
            slave_cavity_bleed_offset=offset,
            slave_cavity_clock=0.0,
            application_slave_tilt=math.radians(tilt),
            application_slave_clock=0.0,
        )
        assert found == pytest.approx(volume, abs=5e-5)


def pocket_by_quadrature(outer, inner, length, offset, clock, tilt):
    """Segments of `fluids.geometry` piled up along the bore by scipy."""
    depth, slope = outer / 2 * (1 - math.cos(clock)), math.tan(abs(tilt))
    behind = offset if tilt > 0 else length - offset

    def section(x):
        level = depth + x * slope
        ring = A_partial_circle(inner, min(max(level - (outer - inner) / 2, 0), inner)) if inner else 0
        return A_partial_circle(outer, min(max(level, 0), outer)) - ring

    edges = [0, (outer - inner) / 2, (outer + inner) / 2, outer]
    kinks = [(edge - depth) / slope for edge in edges] if slope else []
    stops = [behind - length, *sorted(kink for kink in kinks if behind - length < kink < behind), behind]
    return sum(quad(section, *pair, epsabs=1e-12, epsrel=1e-11)[0] for pair in pairwise(stops))


@pytest.mark.parametrize("tilt", [-0.7, -0.05, 0.0, 5e-7, 0.01, 0.3, 0.78])
@pytest.mark.parametrize("clock", [-0.6, 0.0, 1.2, math.pi])
@pytest.mark.parametrize("inner", [0.0, 38.0])
def test_pockets_against_quadrature(tilt, clock, inner):
    shape = (52.0, inner, 22.0, 4.0, clock, tilt)
    found = pocket.trapped(*(np.float64(number) for number in shape))
    expected = pocket_by_quadrature(*(shape if abs(tilt) >= pocket.LEVEL else (*shape[:-1], 0.0)))
    assert found == pytest.approx(expected, rel=1e-8, abs=1e-7)


def test_segment_is_smooth_where_its_series_takes_over():
    """Against quadrature of `fluids.geometry` on both sides of the change, and against the parabola of a shallow segment."""
    for depth in (0.0223, 0.0224, 0.3):
        expected = quad(lambda y: A_partial_circle(1.0, y), 0, depth, epsabs=0, epsrel=1e-11)[0]
        assert pocket.segment_integral(np.float64(1), np.float64(depth)) == pytest.approx(expected, rel=1e-9)
    shallow = np.array([1e-12, 1e-9])
    assert pocket.segment_integral(np.float64(1), shallow) == pytest.approx(8 / 15 * shallow**2.5, rel=1e-8)


@pytest.mark.parametrize("tilt", [2e-6, -2e-6])
def test_a_bore_nearly_level_keeps_what_a_level_one_keeps(tilt):
    level, nearly = (pocket.trapped(52.0, 38.0, 22.0, 4.0, np.float64(1.0), np.float64(number)) for number in (0.0, tilt))
    assert nearly == pytest.approx(level, rel=1e-4)


# Shims and adjustments: counted by hand.


def test_stacks_of_shims():
    """All stacks of up to two of 0.5 and 1.0 mm; 1.0 is one shim rather than two."""
    stacks = fork.shim_stacks(thicknesses=(0.001, 0.0005), count=2)
    assert [total for total, _ in stacks] == pytest.approx([0, 0.0005, 0.001, 0.0015, 0.002])
    assert [shims for _, shims in stacks] == [(), (0.0005,), (0.001,), (0.0005, 0.001), (0.001, 0.001)]


def test_stacks_nearly_alike_are_one():
    stacks = fork.shim_stacks(thicknesses=(0.0005, 0.0010005), count=2)
    assert [shims for _, shims in stacks][2] == (0.0010005,)
    assert fork.shim_stacks(thicknesses=(), count=3) == [(0.0, ())]
    assert fork.shim_stacks(thicknesses=(0.001,), count=0) == [(0.0, ())]


@pytest.mark.parametrize(
    ("lash", "times"), [(3.0, 0), (2.0, 0), (1.0, 1), (0.7, 2), (0.5, 3), (0.0, math.inf), (-1, math.inf), (math.nan, math.nan)]
)
def test_adjustments(lash, times):
    """Two millimetres of wear at the rod, counted by hand."""
    assert pedal.adjustments(fork_ratio=2.0, wear_travel=1.0, lash=np.float64(lash)) == pytest.approx(times, nan_ok=True)


def test_wear_that_the_cover_takes_up():
    flags = np.array([0.0, 1.0])
    assert list(clutch.wear_ratio(cover_ratio=3.0, pressure_plate_wear_compensated=flags)) == [3.0, 0.0]
    assert list(clutch.uncompensated_wear(disc_wear_allowance=0.002, pressure_plate_wear_compensated=flags)) == [0.002, 0.0]


def test_check_of_the_cover_s_own_data():
    """A lever of 3 that lets go at a third of the clamp is consistent; without a cushion there is nothing to check."""
    found = clutch.lever_check(
        cover_ratio=3.0, lift_off_load=1500.0, clamp_load=4500.0, disc_cushion_travel=np.array([0.0008, 0.0])
    )
    assert found[0] == pytest.approx(1.0)
    assert np.isnan(found[1])


def test_fork_beyond_its_arm_has_no_angle():
    offsets = np.array([-0.051, -0.05, 0.025, 0.05, 0.051, np.nan])
    angles = fork.fork_angle_rest(fork_offset_rest=offsets, fork_arm=0.05)
    assert angles[1:4] == pytest.approx(np.radians([-90, 30, 90]))
    assert np.all(np.isnan(angles[[0, 4, 5]]))


def test_rod_off_its_line():
    """Arm 60 mm at the tip, 30 deg: the tip rises by 60 (1 - cos 30 deg)."""
    rest = {"fork_ratio": 1.5, "fork_arm": 0.04, "fork_angle_rest": -0.1, "fork_angle_worn": 0.2, "fork_angle_full": math.pi / 6}
    lengths = np.array([0.1, 0.005, 0.0, -0.1, np.nan])
    angles = fork.rod_angle(rod_length=lengths, **rest)
    assert angles[0] == pytest.approx(math.asin(0.06 * (1 - math.cos(math.pi / 6)) / 0.1))
    assert np.all(np.isnan(angles[1:]))


def test_window_of_the_fork_tip():
    """By hand, ratio 2: rest at -1, full at 6, with 0.5 of give; wear 2 draws the rest back to -3: room 15 - 13 and 8 - 6."""
    room = fork.window_clearance(
        fork_offset_rest=-1.0,
        fork_offset_full=6.0,
        full_load_bled=100.0,
        fork_give=0.005,
        fork_ratio=2.0,
        wear_travel=2.0,
        application_window_rest=8.5,
        application_window_release=15.0,
    )
    assert room == pytest.approx(2.0)

"""Physics against published values: standards, books, worked examples, and general libraries for cross-checks.

Beside each check stands where its number is from. "Second hand" means that the number was read in a document that quotes
the source; "from memory" that nobody looked it up for this test.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from fitcheck.physics import bite, clutch, demand, fork, line, pedal, torque
from fitcheck.physics.balance import Hydraulics

MM, MM3, MPA = 1e-3, 1e-9, 1e6
PSI = 6894.757293168  # Pa; NIST SP 811, appendix B.8
ATM = 101325.0  # Pa; NIST SP 811, appendix B.8


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


def test_the_pieces_of_a_line_are_added_in_the_same_order_alone_and_beside_other_lines():
    """Rounding hangs on the order: lines of many random pieces, each to the last bit."""
    dice = np.random.default_rng(7)
    length, bore = dice.uniform(0.05, 0.5, (11, 40)), dice.uniform(2, 5, (11, 40)) * 1e-3
    together = line.line_volume(line_piece_length=length, line_piece_inner_diameter=bore)
    for number in range(40):
        own = slice(number, number + 1)
        alone = line.line_volume(line_piece_length=length[:, own], line_piece_inner_diameter=bore[:, own])
        assert alone == together[own]


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

"""Viscosity, flow through the line and air pockets against published values and general libraries.

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
from scipy.integrate import quad

from fitcheck.physics import cold, fluid, pocket

MM = 1e-3


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

"""The oracle's single parts against standards, worked examples of books and general libraries."""

from __future__ import annotations

import math
from typing import Any

import fluids
import pytest
from oracle_bite import torque_of
from oracle_math import Broken, Path, Piece, first_true, golden, integrate
from oracle_parts import Disc, Flow, diaphragm_load, dilation, pocket, segment_area, segment_integral, viscosity

MM = 1e-3


# DIN 2093:1992-01, group 2, series A and B, loads at s = 0.75 h0 as printed to three figures: De, Di, t, l0 in mm, F in N
DISC_SPRINGS = (
    (31.5, 16.3, 1.75, 2.45, 3870), (40, 20.4, 2.25, 3.15, 6500), (45, 22.4, 2.5, 3.5, 7720), (50, 25.4, 3, 4.1, 12000),
    (63, 31, 3.5, 4.9, 15000), (80, 41, 5, 6.7, 33600), (100, 51, 6, 8.2, 48000), (31.5, 16.3, 1.25, 2.15, 1910),
    (40, 20.4, 1.5, 2.65, 2620), (50, 25.4, 2, 3.4, 4760), (63, 31, 2.5, 4.25, 7190), (80, 41, 3, 5.3, 10500),
    (100, 51, 3.5, 6.3, 13100),
)  # fmt: skip


def spring(outer: float, inner: float, t: float, cone: float, load: float, pivot: float, tip: float, deflection: float) -> Any:
    """A diaphragm of steel, measures in mm."""
    names = (
        "outer_radius",
        "inner_radius",
        "thickness",
        "cone_height",
        "load_radius",
        "pivot_radius",
        "tip_radius",
        "set_deflection",
    )
    mm = (outer, inner, t, cone, load, pivot, tip, deflection)
    return {"modulus": 206e9, "poisson": 0.3} | {name: value * MM for name, value in zip(names, mm, strict=True)}


@pytest.mark.parametrize(("outer", "inner", "t", "height", "force"), DISC_SPRINGS)
def test_disc_springs_of_the_standard(outer: float, inner: float, t: float, height: float, force: float) -> None:
    """DIN 2093:1992-01 tables: E 206 000 MPa, nu 0.3; 0.5 % covers the three printed figures."""
    cone = height - t
    disc = Disc(spring(outer / 2, inner / 2, t, cone, outer / 2, inner / 2, 1.0, 1.0))
    assert disc.load(0.75 * cone * MM) == pytest.approx(force, rel=5e-3)


def test_moved_load_circles_do_the_same_work() -> None:
    """Derivation: the strain energy of a rigidly turning section depends on its turn only, wherever it is loaded."""
    edges, moved = Disc(spring(100, 75, 2.4, 4.2, 100, 75, 20, 1)), Disc(spring(100, 75, 2.4, 4.2, 97, 77, 20, 1))
    assert integrate(moved.load, 0, 3 * MM) == pytest.approx(integrate(edges.load, 0, 3 * MM * 25 / 20), rel=1e-12)
    assert moved.lever == pytest.approx(57 / 20)


def test_highest_load_of_a_disc_spring() -> None:
    """DIN 2092:2006-03, from its load equation: the load is largest at h0 - sqrt((h0^2 - 2 t^2)/3)."""
    disc = Disc(spring(100, 75, 2.4, 4.2, 100, 75, 20, 1))
    low, _ = disc.where_slope_is(0.0)
    assert low == pytest.approx((4.2 - math.sqrt((4.2**2 - 2 * 2.4**2) / 3)) * MM)
    assert golden(lambda s: -disc.load(s), 0, 4.2 * MM)[0] == pytest.approx(low, rel=1e-7)


def test_released_diaphragm_keeps_its_lever_in_balance() -> None:
    """Derivation: while lifting, spring = cushion + fingers times lever; clear of the cushion the fingers carry it all."""
    geometry = spring(100, 75, 2.4, 4.2, 97, 77, 20, 4.0)
    clamp = Broken((0.0, 0.5, 1.0), (1.0, 0.4, 0.0))
    load, disc = diaphragm_load(geometry, 1 * MM, 0.8 * MM, clamp, 0.0), Disc(geometry)
    assert load(0.9 * MM) == load(1 * MM) == 0.0
    for lift, share in ((0.4, 0.4), (0.6, 0.2), (0.8, 0.0), (1.3, 0.0)):
        x = (1 + disc.lever * lift) * MM
        given, resting = disc.load((4.0 + lift) * MM), disc.load(4.0 * MM)
        assert load(x) * disc.lever + resting * share == pytest.approx(given, rel=1e-12)


@pytest.mark.parametrize(
    ("faces", "outer", "inner", "friction", "clamp", "rule", "torque"),
    [
        # Bhandari, Design of Machine Elements, examples 11.1, 11.2 and 11.8 (companion code, unrounded)
        (1, 200, 100, 0.2, 15707.963268, "uniform wear", 235.619449),
        (1, 200, 100, 0.2, 23561.944902, "uniform pressure", 366.519143),
        (8, 150, 75, 0.1, 2650.718801, "uniform wear", 119.282346),
        # Course problem on the equations of Shigley (Budynas, Nisbett), 16-23 to 16-28
        (1, 300, 225, 0.25, 5000, "uniform wear", 164.0625),
    ],
)
def test_torque_of_friction_discs(
    faces: int, outer: float, inner: float, friction: float, clamp: float, rule: str, torque: float
) -> None:
    """Published worked examples of plate clutches."""
    disc = {"outer_diameter": outer * MM, "inner_diameter": inner * MM, "faces": faces, "friction": friction, "radius_rule": rule}
    assert torque_of(disc, clamp) == pytest.approx(torque, rel=1e-7)


# ------------------------------------------------------------------------------------------------------------ line and air


def test_dilation_of_a_steel_tube() -> None:
    """Lame's closed cylinder, 4.75 x 0.7 mm, E 206 GPa, nu 0.3: 3.0877e-5 per MPa by integrating its boundary value problem."""
    tube = {"kind": "tube", "length": 1.0, "inner_diameter": 3.35 * MM, "wall": 0.7 * MM, "modulus": 206e9, "poisson": 0.3}
    volume = math.pi / 4 * (3.35 * MM) ** 2
    assert dilation(tube) * 1e6 / volume == pytest.approx(3.0877e-5, abs=5e-10)
    assert dilation(tube) * 5e6 == pytest.approx(1.361e-9, abs=5e-13)


def test_dilation_of_a_thin_tube() -> None:
    """Membrane theory of the closed thin-walled cylinder: dV/V = p r/(t E) (5/2 - 2 nu)."""
    r, t = 10 * MM, 1e-6
    tube = {"kind": "tube", "length": 1.0, "inner_diameter": 2 * r, "wall": t, "modulus": 100e9, "poisson": 0.3}
    assert dilation(tube) / (math.pi * r * r) == pytest.approx(r / (t * 100e9) * (2.5 - 0.6), rel=3e-4)


def test_dilation_of_a_hose() -> None:
    """49 CFR 571.106, Table I (low expansion, 1/8 in, 1500 psi; read second-hand): 0.42 cc/ft."""
    hose = {
        "kind": "hose",
        "length": 0.3048,
        "inner_diameter": 3.2 * MM,
        "expansion": 0.42e-6 / 0.3048,
        "at_pressure": 10.342136e6,
    }
    assert dilation(hose) * 10.342136e6 == pytest.approx(0.42e-6)
    assert dilation({"kind": "adapter"}) == 0.0


def test_laminar_and_turbulent_flow() -> None:
    """The open library `fluids`: pressure lost below Re 2300 by Hagen-Poiseuille and above by Blasius."""
    d, length, rho, nu = 3.35 * MM, 2.0, 1060.0, 0.010 / 1060
    flow, area = Flow([(length, d)], nu, rho), math.pi / 4 * d * d
    for speed in (0.5, 2.0, 9.0, 30.0):
        re = fluids.Reynolds(V=speed, D=d, nu=nu)
        friction = fluids.friction.friction_laminar(re) if re < 2300 else fluids.friction.Blasius(re)
        lost = friction * length / d * rho * speed**2 / 2
        assert flow.rate(lost) == pytest.approx(speed * area, rel=1e-12)
    assert flow.drop(0.5 * area, 0.0) == pytest.approx(28514.1457, rel=1e-8)  # fluids.friction.one_phase_dP, laminar


def test_flow_between_the_laws_stays_at_the_turn() -> None:
    """Neither law gives these pressures: the flow stays at Re 2300 of the bore that turns; the other bore goes by its own Re."""
    bores, nu, rho = [(1.0, 3 * MM), (0.5, 5 * MM)], 20e-6, 1000.0
    flow = Flow(bores, nu, rho)
    turn = 2300 * math.pi * 3 * MM * nu / 4
    before, after = flow.levels()[:2]
    assert after > before
    assert flow.rate((before + after) / 2) == flow.rate(before) == pytest.approx(turn)
    assert flow.rate(0.5 * before) == pytest.approx(0.5 * turn)


def test_needle_of_a_drip() -> None:
    """OpenStax, College Physics, example 12.8: 0.120 cm3/s, radius 0.150 mm, 2.50 cm, 1.00e-3 Pa s, 8 mmHg behind: 1.62e4 Pa."""
    assert Flow([(0.025, 0.3 * MM)], 1e-6, 1000.0).drop(0.120e-6, 0.0) + 8 * 133 == pytest.approx(1.62e4, rel=5e-3)


def test_walther_line() -> None:
    """ASTM D341: through the given points, straight in log log (nu + 0.7) over log T, on the nearest two outside of them."""
    points = {"temperature": (233.15, 293.15, 373.15), "kinematic": (1500e-6, 15e-6, 2e-6)}
    for t, nu in zip(*points.values(), strict=True):
        assert viscosity(points, t) == pytest.approx(nu, rel=1e-12)

    def w(t: float) -> float:
        return math.log10(math.log10(viscosity(points, t) * 1e6 + 0.7))

    middle = math.sqrt(233.15 * 293.15)
    assert w(middle) == pytest.approx((w(233.15) + w(293.15)) / 2)
    assert w(293.15**2 / middle) == pytest.approx(2 * w(293.15) - w(middle) + (w(293.15**2 / middle) - 2 * w(293.15) + w(middle)))
    assert w(373.15**2 / 293.15) == pytest.approx(2 * w(373.15) - w(293.15))  # beyond the last point
    assert w(233.15**2 / 293.15) == pytest.approx(2 * w(233.15) - w(293.15))  # below the first


@pytest.mark.parametrize(("r", "h", "b", "volume"), [
    (10, 20, 5, 503.681108960), (10, 20, 10, 1333.333333333), (10, 20, 15, 2262.288805380), (10, 20, 20, 3141.592653590),
    (9.525, 3, 4, 53.274853575),
])  # fmt: skip
def test_cylindrical_wedge(r: float, h: float, b: float, volume: float) -> None:
    """Weisstein, Cylindrical Wedge (MathWorld), equations 8 to 10: the pocket past a port in the top is such a wedge."""
    found = pocket(2 * r * MM, 0.0, 2 * h * MM, h * MM, 0.0, math.atan(b / h))
    assert found == pytest.approx(volume * MM**3, rel=1e-10)


@pytest.mark.parametrize(("tilt", "volume"), [(5, 5.2804), (10, 15.0163), (15, 27.9499), (30, 86.4468)])
def test_pocket_of_a_tilted_slave(tilt: float, volume: float) -> None:
    """The same wedge formula: bore 19.05 mm, port 6 mm from the end that is higher; rear up is the mirror image of rear down."""
    down = pocket(19.05 * MM, 0.0, 30 * MM, 6 * MM, 0.0, math.radians(tilt))
    assert down == pytest.approx(volume * 1e-9, abs=6e-14)
    assert pocket(19.05 * MM, 0.0, 30 * MM, 24 * MM, 0.0, -math.radians(tilt)) == pytest.approx(down, rel=1e-12)


@pytest.mark.parametrize(("outer", "inner", "clock", "tilt"), [
    (20, 0, 40, 3), (20, 0, -70, -8), (45, 36, 0, 6), (45, 36, 50, -4), (45, 36, 75, 12), (20, 0, 160, 35),
])  # fmt: skip
def test_pocket_by_adding_up_slices(outer: float, inner: float, clock: float, tilt: float) -> None:
    """Derivation: slices along the bore, each a circular segment (fluids.geometry.A_partial_circle), less that of the core."""
    length, offset = 30.0, 7.0
    fall = math.tan(math.radians(tilt))
    h0 = outer / 2 * (1 - math.cos(math.radians(clock)))

    def area(h: float, d: float) -> float:
        return fluids.geometry.A_partial_circle(d, min(max(h, 0.0), d)) if d > 0 else 0.0

    def slice_at(place: float) -> float:
        level = h0 + (offset - place) * fall  # depth of the level through the port below the top, `place` from the engine end
        return area(level, outer) - area(level - (outer - inner) / 2, inner)

    n = 20000
    total = sum(slice_at((i + 0.5) * length / n) for i in range(n)) * length / n
    assert pocket(outer * MM, inner * MM, length * MM, offset * MM, math.radians(clock), math.radians(tilt)) == pytest.approx(
        total * MM**3, rel=1e-5
    )


def test_level_bore_and_segments() -> None:
    """fluids.geometry.A_partial_circle: area of the segment; its integral over the height."""
    for h in (2.0, 10.0, 15.0):
        assert segment_area(h, 20.0) == pytest.approx(fluids.geometry.A_partial_circle(20.0, h), rel=1e-12)
        assert segment_integral(h, 20.0) == pytest.approx(integrate(lambda v: segment_area(v, 20.0), 0, h), rel=1e-9)
    assert segment_integral(25.0, 20.0) == pytest.approx(math.pi * 1000 + math.pi * 100 * 5)
    assert pocket(20.0, 0.0, 7.0, 1.0, math.pi / 2, 0.0) == pytest.approx(math.pi * 50 * 7)


def test_tools() -> None:
    """Calculus: integrals, bisection to the last bit, paths that turn back."""
    assert integrate(math.sqrt, 0.0, 1.0) == pytest.approx(2 / 3, rel=1e-10)
    assert integrate(lambda x: 1 / (1e-3 + x * x), -1.0, 2.0) == pytest.approx(
        (math.atan(2 / math.sqrt(1e-3)) + math.atan(1 / math.sqrt(1e-3))) / math.sqrt(1e-3), rel=1e-12
    )
    root = first_true(lambda x: x * x >= 2, 0.0, 2.0)
    assert root in (math.sqrt(2), math.nextafter(math.sqrt(2), 2))
    pieces = [Piece(0.0, 3.0, lambda x: x**3 - 3 * x * x + 3 * x / 2, lambda x: 3 * x * x - 6 * x + 1.5)]
    path = Path(pieces[0].value, [*pieces, Piece(3.0, math.inf, pieces[0].value, pieces[0].slope)], 0.01)
    top, valley = 1 - math.sqrt(0.5), 1 + math.sqrt(0.5)
    assert path.breaks == [0.0, pytest.approx(top, rel=1e-15), pytest.approx(valley, rel=1e-15), 3.0]
    ((start, landing),) = path.stretches
    assert start == path.breaks[1]
    assert landing == pytest.approx(3 - 2 * top)  # the cubic's other root at the height of a double one
    assert path.first(path.heights[1] + 1e-9) > landing
    assert path.highest(1.5) == (path.heights[1], path.breaks[1])
    assert path.landing(1.0) == landing
    assert path.landing(2.9) == 2.9

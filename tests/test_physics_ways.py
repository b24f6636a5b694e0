"""The springs and the fingers' way against numbers worked by hand and the raw equations.

Nothing here asks our own code for what it should be: small numbers are worked in the text, everything else is the volume
balance as it stands, scanned densely for the first crossing.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from raw_kit import BENT, CUSHION, END, LOST, ONE, RATIO, SEEDS, SPRINGY, STEPS, STRAIGHT, column, diaphragm, drawn, straight

from fitcheck.physics import feel, release
from fitcheck.physics.curves import bracketed_root, follow
from fitcheck.physics.demand import taken_with_lash
from fitcheck.physics.pad import Foot, Pedal
from fitcheck.physics.springs import lift_off_load
from fitcheck.physics.way import reached

# Springs.


@pytest.mark.parametrize("name", SPRINGY)
@pytest.mark.parametrize("curve", [STRAIGHT, BENT, ([0.0, 0.5, 0.5, 1.0], [1.0, 0.6, 0.4, 0.0])])
def test_diaphragm_load_is_the_standard_s_equation(name: str, curve: tuple[list[float], list[float]]) -> None:
    raw, spring = diaphragm(*SPRINGY[name], curve)
    x = np.linspace(0.0, 0.03, 3001)
    x = x[np.min(np.abs(x[:, None] - [LOST + RATIO * CUSHION * share for share in curve[0]]), axis=1) > 1e-9]  # but at a step
    place = np.searchsorted(spring.travel[:, 0], x, side="right") - 1
    load, slope = spring.past(place, (x - spring.travel[place, 0])[:, None])
    np.testing.assert_allclose(load[:, 0], raw.load(x), rtol=1e-9, atol=1e-6)
    step = 1e-7
    smooth = np.min(np.abs(x[:, None] - spring.travel[:, 0]), axis=1) > step
    rise = (raw.load(x + step) - raw.load(x - step)) / (2 * step)
    np.testing.assert_allclose(slope[smooth, 0], rise[smooth], rtol=1e-5, atol=1.0)


def test_a_spring_that_snaps_through_lets_go_of_the_fingers_and_takes_them_again() -> None:
    """DIN 2092: a cone of more than 2 sqrt 2 thicknesses has negative loads; h0/t is 3.25 here. Fingers cannot be pulled back."""
    raw, spring = diaphragm(*SPRINGY["snaps"], STRAIGHT)
    x = raw.scan(0.03)
    free = raw.load(x) == 0.0
    edges = x[1:][np.diff(free.astype(int)) != 0]
    assert len(edges) == 3  # the load starts, ends and starts again
    for edge in edges:
        assert np.min(np.abs(spring.travel[:, 0] - edge)) < 2 * 0.03 / STEPS


def test_lift_off_load_is_read_off_the_curve() -> None:
    """By hand: 100 N at 1, then a straight line to 300 N at 3, then level."""
    _, spring = straight([0.0, 1.0, 3.0], [0.0, 100.0, 300.0])
    assert list(lift_off_load(spring, np.array([0.5, 1.0, 2.0, 7.0]))) == [50.0, 100.0, 200.0, 300.0]


def test_roots_in_a_bracket() -> None:
    """Square roots by the standard library; a bracket without width is its own root, one that is not a number has none."""
    squares = np.array([2.0, 4.0, 3.0, math.nan])
    low, high = np.array([0.0, 2.0, 0.0, math.nan]), np.array([2.0, 2.0, 3.0, 3.0])
    for with_slope in (True, False):

        def square(x: np.ndarray, told: bool = with_slope) -> tuple[np.ndarray, np.ndarray | None]:
            return x**2 - squares, 2 * x if told else None

        found = bracketed_root(square, low, high, 0.5 * (low + high))
        assert found == pytest.approx([math.sqrt(2), 2.0, math.sqrt(3), math.nan], rel=1e-13, nan_ok=True)


def test_roots_that_newton_would_run_away_from() -> None:
    """`x^(1/3)` throws Newton's steps ever further out, a step function gives them no slope: both end on the root, 0.3."""

    def cube_root(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return np.cbrt(x - 0.3), np.abs(x - 0.3 + 1e-300) ** (-2 / 3) / 3

    def step(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return np.where(x < 0.3, -1.0, 1.0), 0.0 * x

    for function in (cube_root, step):
        assert bracketed_root(function, -ONE, ONE, 0.9 * ONE) == pytest.approx(0.3, abs=1e-13)


def test_curves_are_straight_between_their_points_and_keep_their_ends() -> None:
    """Read off by hand; a point given twice, as padding gives it, adds nothing."""
    at = np.array([-1.0, 0.0, 0.5, 1.0, 1.5, 2.0, 7.0, math.nan])
    found = follow(column(0.0, 1.0, 1.0, 2.0, 2.0), column(5.0, 6.0, 6.0, 3.0, 3.0), at)
    assert found == pytest.approx([5.0, 5.0, 5.5, 6.0, 4.5, 3.0, 3.0, math.nan], nan_ok=True)


# The way by hand: sweep 1, pressure 1 per load, 1 of fluid lost per pressure.

STEEP = ([0.0, 1.0, 2.0, 6.0], [0.0, 4.0, 1.0, 1.0])  # V: 0, 5, 3, 7


@pytest.mark.parametrize(
    ("volume", "travel"),
    [(-1.0, 0.0), (0.0, 0.0), (2.5, 0.5), (5.0, 1.0), (5.0000001, 4.0000001), (6.0, 5.0), (9.0, 8.0)],
)
def test_fingers_jump_where_the_load_falls_faster_than_the_line_gives(volume: float, travel: float) -> None:
    """V = x + F rises to 5 at 1, falls to 3 at 2 and is back at 5 only at 4: nothing between 1 and 4 is ever reached."""
    raw, spring = straight(*STEEP, compliance=1.0)
    assert reached(raw.way(spring), np.array([volume])).travel == pytest.approx(travel, abs=1e-12)


def test_a_slave_spring_that_carries_every_load_leaves_no_pressure_and_no_jump() -> None:
    """It holds 9 and the load never passes 4, so nothing is lost to pressure: V = x, as far as one likes."""
    raw, spring = straight(*STEEP, compliance=1.0, offset=-9.0)
    way = raw.way(spring)
    spot = reached(way, np.array([2.5]))
    assert (spot.travel, spot.load, spot.pressure) == (pytest.approx(2.5), pytest.approx(1.0), pytest.approx(0.0))
    assert release.jump(way, spot, 9 * ONE) == 0.0
    assert release.compliance_loss(way, 5 * ONE, 2 * ONE, 0 * ONE) == 0.0


def test_what_a_jump_does_to_each_reading() -> None:
    raw, spring = straight(*STEEP, compliance=1.0)
    way, inside = raw.way(spring), np.array([3.0])
    assert taken_with_lash(way, inside, 2 * ONE, 0.5 * ONE) == pytest.approx(6.0)  # the top, 5, and 2 x 0.5 of lash
    assert taken_with_lash(way, 5 * ONE, 2 * ONE, 0 * ONE) == pytest.approx(6.0)
    for end, length in ((0.5, 0.0), (1.5, 0.5), (3.0, 2.0), (5.0, 3.0)):
        spot = replace(reached(way, 0 * ONE), travel=end * ONE)
        assert release.jump(way, spot, 0 * ONE) == pytest.approx(length)
        assert release.jump(way, reached(way, 0 * ONE), end * ONE) == pytest.approx(length)
    # at the top: 4 lost of 5, and of 6 with lash; past the jump, at 5: 1 lost of 6
    assert release.compliance_loss(way, inside, 2 * ONE, 0 * ONE) == pytest.approx(4 / 5)
    assert release.compliance_loss(way, inside, 2 * ONE, 0.5 * ONE) == pytest.approx(4 / 6)
    assert release.compliance_loss(way, 5 * ONE, 2 * ONE, 0 * ONE) == pytest.approx(1 / 6)
    assert np.isnan(release.compliance_loss(way, 0 * ONE, 2 * ONE, 0 * ONE))


def test_two_jumps_the_longer_one_is_said() -> None:
    """V = x + F: 5 at 1, 3 at 2, 7 at 4, 5 at 4.5, then a travel each: from 1 to 3 (5 again), and from 4 to 6.5 (7 again)."""
    raw, spring = straight([0.0, 1.0, 2.0, 4.0, 4.5, 9.0], [0.0, 4.0, 1.0, 3.0, 0.5, 0.5], compliance=1.0)
    way = raw.way(spring)
    rest = reached(way, 0 * ONE)
    for end, longest in ((2.5, 1.5), (4.0, 2.0), (5.5, 2.0), (9.0, 2.5)):
        assert release.jump(way, rest, np.array([end])) == pytest.approx(longest)
    for volume, travel in ((6.0, 3.5), (7.0, 4.0), (7.5, 7.0)):
        assert reached(way, np.array([volume])).travel == pytest.approx(travel)


def test_slope_of_the_force_where_the_fingers_land() -> None:
    """By hand: on the rise V = x + 4x, so the pad goes 5 and the force 4 a travel; landed, the load is level: no slope."""
    raw, spring = straight(*STEEP, compliance=1.0)
    way = raw.way(spring)
    pedal = Pedal(0 * ONE, ONE, ONE, np.inf * ONE, 0 * ONE, column(0.0, 100.0), column(3.0, 53.0))  # 0.5 a pad travel
    foot = Foot(ONE, 0 * ONE, ONE, 0 * ONE)
    for x, slope in ((0.5, 4 / 5 + 0.5), (1.0, 0.5), (3.0, 0.5), (5.0, 0.5)):
        assert feel.effort_slope(way, pedal, foot, x * ONE, ONE) == pytest.approx(slope)
    assert np.isnan(feel.effort_slope(way, pedal, foot, 0.5 * ONE, np.nan * ONE))


def test_a_landing_on_a_rising_piece_feels_its_slope() -> None:
    """V = x + F: 5 at 1, 3 at 2, then up again with F by 0.5 a travel to 9 at 6: 5 again at 10/3, force 0.5 a pad travel 1.5."""
    raw, spring = straight([0.0, 1.0, 2.0, 6.0], [0.0, 4.0, 1.0, 3.0], compliance=1.0)
    way = raw.way(spring)
    pedal = Pedal(0 * ONE, ONE, ONE, np.inf * ONE, 0 * ONE, column(0.0), column(7.0))
    for x in (1.0, 1.7, 3.0):
        assert feel.effort_slope(way, pedal, Foot(ONE, 0 * ONE, ONE, 0 * ONE), x * ONE, ONE) == pytest.approx(0.5 / 1.5)
    assert reached(way, np.array([5.0 + 1e-9])).travel == pytest.approx(10 / 3, abs=1e-8)


def test_air_makes_a_straight_load_jump_in_the_middle_of_a_piece() -> None:
    """V = x + a p/(1 + p) with p falling from 3 at 1 to 0 at 4: dV/dx = 1 - a/(1 + p)^2 is nothing where p = sqrt a - 1.

    With a = 4 that is p = 1, at x = 3: V rises to 3 + 4 x 1/2 = 5 there, from 1 + 4 x 3/4 = 4; then 4 + 0 = 4 at 4, 5 at 5.
    """
    raw, spring = straight([0.0, 1.0, 4.0, 9.0], [0.0, 3.0, 0.0, 0.0], air=4.0)
    way = raw.way(spring)
    assert reached(way, np.array([5.0])).travel == pytest.approx(3.0, abs=1e-6)  # a flat top: as exact as its square
    assert reached(way, np.array([5.0 + 1e-9])).travel == pytest.approx(5.0, abs=1e-8)
    assert release.jump(way, reached(way, 0 * ONE), np.array([9.0])) == pytest.approx(2.0)


# The way against a dense scan.


@pytest.mark.parametrize("seed", SEEDS)
def test_first_crossing_of_any_volume(seed: int) -> None:
    raw, spring = drawn(seed)
    way, x = raw.way(spring), raw.scan(END)
    top = float(raw.volume(x).max())
    start = float(raw.volume(np.zeros(1))[0])
    for volume in np.linspace(start, top, 13)[1:-1] + 1e-12:
        found = reached(way, np.array([volume]))
        assert found.travel == pytest.approx(raw.first(volume), rel=1e-7, abs=1e-9), volume
        assert found.load == pytest.approx(raw.load(found.travel), rel=1e-6, abs=1e-3)
        assert found.pressure == pytest.approx(raw.pressure(found.travel), rel=1e-6, abs=10.0)


@pytest.mark.parametrize("seed", SEEDS)
def test_release_volume_jump_and_loss(seed: int) -> None:
    raw, spring = drawn(seed)
    way, x = raw.way(spring), raw.scan(END)
    volume = raw.volume(x)
    top = np.maximum.accumulate(volume)
    held = np.append(top[:-1] >= volume[1:], False)  # stretches on which the fingers are never at rest
    lost = raw.compliance * raw.pressure(x) + raw.air * raw.pressure(x) / (raw.ambient + raw.pressure(x))
    for place in (STEPS // 5, STEPS // 2, STEPS - 1):
        end = x[place : place + 1]
        assert taken_with_lash(way, end, 4e-4 * ONE, 1e-3 * ONE) == pytest.approx(4e-7 + top[place], rel=1e-9)
        at_top = int(volume[: place + 1].argmax())
        expected = lost[at_top] / (4e-7 + top[place])
        assert release.compliance_loss(way, end, 4e-4 * ONE, 1e-3 * ONE) == pytest.approx(expected, rel=1e-3, abs=1e-9)
        runs = np.split(np.arange(place), np.flatnonzero(~held[:place]))
        jumps = (run[held[run]] for run in runs)
        longest = max((x[run[-1] + 1] - x[run[0]] for run in jumps if len(run)), default=0.0)
        assert release.jump(way, reached(way, 0 * ONE), end) == pytest.approx(longest, abs=3 * END / STEPS)


# How much air may stay.


def test_air_allowance_by_hand() -> None:
    """Ambient 1, supply 10, F = 1 at 1 and level: at 1 V = 1, so (10 - 1)(1 + 1)/1 = 18; at 4 only 12. No load, no bound."""
    raw, spring = straight([0.0, 1.0, 9.0], [0.0, 1.0, 1.0])
    way = raw.way(spring)
    for x, allowed in ((1.0, 18.0), (4.0, 12.0), (0.0, math.inf)):
        assert release.air_allowance(way, x * ONE, 10 * ONE, ONE, 0 * ONE, 1.0) == pytest.approx(allowed)
    assert release.air_allowance(way, 4 * ONE, 10 * ONE, ONE, 2 * ONE, 1.0) == pytest.approx(8.0)  # lash takes 2
    assert release.air_allowance(way, 4 * ONE, 3 * ONE, ONE, 0 * ONE, 1.0) == pytest.approx(-2.0)


def test_air_allowance_is_least_inside_a_falling_piece() -> None:
    """F = 4 - (x - 1)/2 past 1: (10 - x)(1 + 1/p) has its least where p (p + 1) = (10 - x)/2.

    With x = 9 - 2p: p^2 + p = (1 + 2p)/2, so p = sqrt(1/2): (1 + 2p)(1 + 1/p) = 1 + sqrt 2 + sqrt 2 + 2 = 3 + 2 sqrt 2.
    """
    raw, spring = straight([0.0, 1.0, 8.8], [0.0, 4.0, 0.1])
    found = release.air_allowance(raw.way(spring), np.array([8.8]), 10 * ONE, ONE, 0 * ONE, 1.0)
    assert found == pytest.approx(3 + 2 * math.sqrt(2), rel=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_air_allowance_against_a_scan(seed: int) -> None:
    raw, spring = drawn(seed)
    raw = replace(raw, air=0.0)
    x = raw.scan(0.8 * END)[1:]
    p, supply = raw.pressure(x), 1.2 * float(raw.volume(x).max())
    allowed = (supply - raw.volume(x[p > 0])) * (raw.ambient + p[p > 0]) / p[p > 0]
    found = release.air_allowance(raw.way(spring), x[-1:], supply * ONE, ONE, 0 * ONE, raw.ambient)
    assert found == pytest.approx(allowed.min(), rel=1e-4)
    assert found <= allowed.min() * (1 + 1e-9)

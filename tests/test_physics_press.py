"""The force at the pad, the work of a press and the time to come back, against hand work and the raw equations.

Nothing here asks our own code for what it should be: forces are scanned over the travel, work and time are quadratures.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import pytest
from raw_kit import END, ONE, SEEDS, Raw, column, drawn, straight

from fitcheck.physics import back, effort, feel, forces
from fitcheck.physics.pad import Foot, Pedal, Press, least_of, peak_and_low_of, peak_of
from fitcheck.physics.way import Way, reached

# The force at the pad.


@dataclass(frozen=True)
class Pad:
    """The pad's side of one kit in plain numbers."""

    free_play: float
    ratio: float
    area: float
    cutoff: float
    points: tuple[float, ...]
    forces: tuple[float, ...]
    per_signal: float
    rest: float
    lash: float  # m3
    last: float

    def position(self, volume: np.ndarray) -> np.ndarray:
        return np.minimum(self.free_play + self.ratio * (self.cutoff + (volume + self.lash) / self.area), self.last)

    def own(self, position: np.ndarray) -> np.ndarray:
        return np.interp(position, self.points, self.forces)

    def press(self, raw: Raw, way: Way, end: float) -> Press:
        numbers = (self.free_play, self.ratio, self.area, np.inf, self.cutoff)
        pedal = Pedal(*(ONE * number for number in numbers), column(*self.points), column(*self.forces))
        foot = Foot(*(ONE * number for number in (self.per_signal, self.rest, raw.gain, raw.offset)))
        spot = reached(way, ONE * end)
        return Press(way, pedal, foot, spot, ONE * self.lash, ONE * self.position(np.asarray(end)))

    def scanned(self, raw: Raw, end: float) -> tuple[np.ndarray, np.ndarray]:
        """Forces before the fingers move, and over their travel up to `end`."""
        x = raw.scan(end)
        top = np.maximum.accumulate(raw.volume(x))
        signal = self.per_signal * raw.pressure(x) + self.rest if self.last > self.free_play else 0.0 * x
        start = float(self.position(raw.volume(np.zeros(1)))[0])
        alone, pushed = np.linspace(0.0, min(self.free_play, self.last), 999), np.linspace(self.free_play, start, 9999)
        early = np.concatenate([self.own(alone), signal[0] + self.own(np.minimum(pushed, self.last))])
        return early, signal + self.own(self.position(top))


def drawn_pad(seed: int, raw: Raw) -> tuple[Pad, float]:
    rng = np.random.default_rng(1000 + seed)
    points = (0.0,) if seed % 5 == 0 else tuple(np.append(0.0, np.cumsum(rng.uniform(0.01, 0.05, 3))))
    force = tuple(rng.uniform(-60, 60, len(points)))
    pad = Pad(0.004, 5.5, 2.85e-4, 0.001, points, force, 5e-5 * rng.uniform(0.6, 1.4), 6.0, rng.choice([0.0, 4e-7]), 1.0)
    volume = float(raw.volume(np.array([rng.uniform(0.4, 1.0) * END]))[0]) + 1e-12
    return replace(pad, last=float(pad.position(np.array([volume]))[0])), volume


@pytest.mark.parametrize("seed", SEEDS)
def test_extremes_of_the_force_at_the_pad(seed: int) -> None:
    raw, spring = drawn(seed)
    pad, volume = drawn_pad(seed, raw)
    press = pad.press(raw, raw.way(spring), volume)
    early, moving = pad.scanned(raw, raw.first(volume))
    every = np.concatenate([early, moving])
    within = 0.05  # N: what a scan of that step can miss at a corner
    assert peak_of(press) == pytest.approx(every.max(), abs=within)
    assert least_of(press) == pytest.approx(moving.min(), abs=within)
    peak, low = peak_and_low_of(press)
    assert peak == pytest.approx(every.max(), abs=within)
    if len(pad.points) > 1:
        assert low == pytest.approx(every[every.argmax() :].min(), abs=within)
    else:  # a steady force of the pedal's own is no peak: what counts is the signal
        assert low == pytest.approx(moving[moving.argmax() :].min(), abs=within)
    assert press.force(press.end) == pytest.approx(moving[-1], abs=within)


def bare(points: tuple[float, ...], own: tuple[float, ...], **numbers: float) -> Pad:
    """A pad without levers or play on a master of unit area: pad travel is fluid, and force is signal."""
    plain = {"free_play": 0.0, "ratio": 1.0, "area": 1.0, "cutoff": 0.0, "per_signal": 1.0, "rest": 0.0, "lash": 0.0}
    return Pad(points=points, forces=own, **(plain | {"last": math.inf} | numbers))


def test_force_that_is_least_where_air_and_a_weakening_return_spring_balance() -> None:
    """E = 2x + 100 - V, V = x + 8 p/(1 + p), p = 2x: dE/dx = 1 - 16/(1 + 2x)^2 is nothing at 1.5, E = 3 + 100 - 7.5.

    It starts at 100 and ends, at x = 3.5 where V = 3.5 + 7, at 96.5: the least is at neither end nor at a corner.
    """
    raw, spring = straight([0.0, 9.0], [0.0, 18.0], air=8.0)
    press = bare((0.0, 100.0, 200.0), (100.0, 0.0, 0.0), last=10.5).press(raw, raw.way(spring), 10.5)
    assert press.end.travel == pytest.approx(3.5)
    assert least_of(press) == pytest.approx(95.5, rel=1e-12)
    assert peak_and_low_of(press) == (pytest.approx(100.0), pytest.approx(95.5, rel=1e-12))
    assert peak_of(press) == pytest.approx(100.0)


def test_force_that_is_greatest_on_the_way_over_a_falling_load() -> None:
    """p = 5 - x on [1, 4], V = x + 2 p/(1 + p), so V' = 1 - 2/(6 - x)^2, and a return force of 9/7 a pad travel on top.

    E' = -1 + 9/7 V' is nothing where (6 - x)^2 = 9, at x = 3: V = 3 + 4/3 and E = 2 + 39/7; at 4 V = 5 and E = 1 + 45/7.
    """
    raw, spring = straight([0.0, 1.0, 4.0, 9.0], [0.0, 4.0, 1.0, 1.0], air=2.0)
    press = bare((0.0, 70.0), (0.0, 90.0)).press(raw, raw.way(spring), 5.0)
    assert peak_of(press) == pytest.approx(53 / 7, rel=1e-12)
    assert peak_and_low_of(press) == (pytest.approx(53 / 7, rel=1e-12), pytest.approx(52 / 7, rel=1e-12))


@pytest.mark.parametrize("own", [(7.0,), (7.0, 7.0)])
def test_a_pad_that_only_takes_up_its_play_feels_the_pedal_alone(own: tuple[float, ...]) -> None:
    """Play 3 and travel 2: the master never moves, whatever its spring and the slave hold."""
    raw, spring = straight([0.0, 9.0], [0.0, 9.0], offset=5.0)
    pad = bare((0.0, 9.0)[: len(own)], own, free_play=3.0, rest=50.0, last=2.0)
    press = pad.press(raw, raw.way(spring), 0.0)
    assert [float(found) for found in (peak_of(press)[0], least_of(press)[0])] == [7.0, 7.0]
    assert [float(found[0]) for found in peak_and_low_of(press)] == [7.0, 7.0]


def test_return_force_bends_on_its_points() -> None:
    """5 up to 2, then 1 a travel up to 8 at 5, level after: slopes by hand, the later piece counting at a point."""
    pedal = Pedal(0 * ONE, ONE, ONE, ONE, 0 * ONE, column(0.0, 2.0, 2.0, 5.0), column(5.0, 5.0, 5.0, 8.0))
    positions = np.array([-1.0, 0.0, 1.0, 2.0, 4.9, 5.0, 9.0])
    assert list(pedal.force_slope(positions)) == [0.0, 0.0, 0.0, 1.0, 1.0, 0.0, 0.0]
    assert list(pedal.force(positions)) == pytest.approx([5.0, 5.0, 5.0, 5.0, 7.9, 8.0, 8.0])


# New and worn.


def test_worn_counts_only_where_its_load_is_known() -> None:
    """Loads by hand, pressure and force equal to load: 4 at the end new, 6 worn; let back, 4 and 6 at the end, 0 at rest."""
    (raw, new), (worn_raw, worn) = straight([0.0, 2.0], [0.0, 4.0]), straight([0.0, 2.0], [0.0, 6.0])
    way, way_worn = raw.way(new), worn_raw.way(worn)
    pad, full, full_worn = bare((0.0,), (1.0,)).press(raw, way, 2.0), reached(way, 2 * ONE), reached(way_worn, 2 * ONE)
    rest = (pad.pedal, pad.foot)
    lashed = (pad.last, ONE, 0 * ONE)
    assert effort.effort_peak_new(way, *rest, full, *lashed) == pytest.approx(5.0)
    for other, spot, most in ((way, full, 4.0), (way_worn, full_worn, 6.0)):
        assert effort.effort_peak(way, other, 5 * ONE, *rest, spot, *lashed) == pytest.approx(most + 1)
        assert effort.effort_hold(pad.foot, pad.pedal, way, other, full, spot, *lashed) == pytest.approx(most + 1)
        assert effort.effort_return(way, other, *rest, full, spot, *lashed) == pytest.approx(1.0)
        assert forces.peak_pressure(way, other, full, spot) == pytest.approx(most)
        assert forces.largest_load(way, other, full, spot) == pytest.approx(most)


def test_drop_of_a_force_that_does_not_push_cannot_be_said() -> None:
    raw, spring = straight([0.0, 2.0, 4.0], [0.0, 4.0, 1.0])
    way = raw.way(spring)
    for own, drop in ((0.0, 0.75), (4.0, 3 / 8), (-5.0, math.nan)):
        press = bare((0.0,), (own,)).press(raw, way, 4.0)
        found = effort.effort_drop(way, press.pedal, press.foot, press.end, press.last, ONE, 0 * ONE)
        assert found == pytest.approx(drop, nan_ok=True)


def test_against_the_old_linkage() -> None:
    """2 : 1 and efficiency 0.5 on 1 N a travel, 1 travel a newton of give: 8 less 2 of play gives 3 = x + F, F = 1.5.

    That is 1.5/(2 x 0.5) + 1 of the pedal's own = 2.5 at the pad; 5 N is twice it. Nothing is compared to a helper's pull.
    """
    _, spring = straight([0.0, 9.0], [0.0, 9.0])
    linkage = (2 * ONE, 0.5 * ONE, ONE, 2 * ONE)
    for own, expected in ((1.0, 1.0), (-1.5, math.nan), (-2.0, math.nan)):
        found = feel.effort_vs_linkage(spring, 5 * ONE, 8 * ONE, *linkage, column(0.0), column(own))
        assert found == pytest.approx(expected, nan_ok=True)
    # play beyond the travel: only the pedal's own force is left, at the pad positions passed: 1 + 4 x 0.25
    played = (*linkage[:3], 99 * ONE)
    found = feel.effort_vs_linkage(spring, 5 * ONE, 4 * ONE, *played, column(0.0, 40.0), column(1.0, 11.0))
    assert found == pytest.approx(5 / 2 - 1)


# Work.


def test_work_by_hand() -> None:
    """V = 2x with p = x: 2 x 3^2/2 = 9 of fluid; 2 a pad travel of 7 is 14, and 1 x 6 of the spring over 0.5: 12."""
    raw, spring = straight([0.0, 9.0], [0.0, 9.0], compliance=1.0)
    way = raw.way(spring)
    press = bare((0.0,), (2.0,), free_play=1.0).press(raw, way, 6.0)
    work = feel.pedal_work(way, press.pedal, press.end, 7 * ONE, ONE, 0.9 * ONE, 0.5 * ONE, ONE, 0 * ONE)
    assert work == pytest.approx(14 + 12 + 9 / 0.45)


@pytest.mark.parametrize("seed", SEEDS)
def test_work_against_a_quadrature(seed: int) -> None:
    """`integral p dV` over what is not jumped over, trapezoids on the largest volume so far; the pedal's own force likewise."""
    raw, spring = drawn(seed)
    pad, volume = drawn_pad(seed, raw)
    way = raw.way(spring)
    press = pad.press(raw, way, volume)
    x = raw.scan(raw.first(volume))
    top, p = np.maximum.accumulate(raw.volume(x)), raw.pressure(x)
    fluid = float(p[0] * (pad.lash + top[0]) + np.sum(0.5 * (p[1:] + p[:-1]) * np.diff(top)))
    pads = np.unique([*np.linspace(0.0, pad.last, 9999), *(point for point in pad.points if point < pad.last)])
    own = pad.own(pads)
    expected = float(np.sum(0.5 * (own[1:] + own[:-1]) * np.diff(pads))) + 40 * (pad.last - pad.free_play) / pad.ratio / 0.92
    expected += fluid / (0.96 * 0.92)
    numbers = (40 * ONE, 0.96 * ONE, 0.92 * ONE, ONE, ONE * pad.lash)
    assert feel.pedal_work(way, press.pedal, press.end, press.last, *numbers) == pytest.approx(expected, rel=1e-5, abs=1e-5)


# Slope of the force.


@pytest.mark.parametrize("seed", SEEDS)
def test_slope_of_the_force_against_a_difference(seed: int) -> None:
    raw, spring = drawn(seed)
    pad, volume = drawn_pad(seed, raw)
    way = raw.way(spring)
    press = pad.press(raw, way, volume)
    x, top = raw.scanned
    for place in (len(x) // 7, len(x) // 3, len(x) // 2):
        land = int(np.searchsorted(top, top[place], side="right"))  # the first place that takes more
        here = x[place if land == place + 1 else land] + np.array([1e-8, 1e-6])
        position = pad.free_play + pad.ratio * (pad.cutoff + (raw.volume(here) + pad.lash) / pad.area)
        own = np.interp(position, pad.points, pad.forces)
        expected = np.diff(pad.per_signal * raw.pressure(here) + own) / np.diff(position)
        found = feel.effort_slope(way, press.pedal, press.foot, x[place : place + 1], position[:1])
        assert found == pytest.approx(expected, rel=5e-3, abs=1.0)


# Cold return.

BORE, LENGTH, DENSITY = 0.0032, 2.0, 1060.0


def flow_by_hand(pressure: float, viscosity: float) -> float:
    """One pipe: Hagen-Poiseuille up to Re 2300, Blasius `f = 0.3164 Re^-1/4` where its flow is beyond, else held at Re 2300."""
    area = math.pi / 4 * BORE**2
    at_limit = 2300 * viscosity / (DENSITY * BORE) * area
    laminar = pressure * math.pi * BORE**4 / (128 * viscosity * LENGTH)
    # Blasius: p = 0.3164 (mu/(rho v d))^0.25 L/d rho v^2/2, solved for v
    speed = (pressure * 2 * BORE / (0.3164 * LENGTH * DENSITY) * (DENSITY * BORE / viscosity) ** 0.25) ** (4 / 7)
    return min(laminar, max(at_limit, speed * area))


def cold(viscosity: float) -> object:
    return back.cold_line(column(LENGTH), column(BORE), viscosity * ONE, DENSITY * ONE)


def time_of(raw: Raw, way: Way, start: float, end: float, viscosity: float) -> np.ndarray:
    foot = Foot(ONE, 0 * ONE, ONE * raw.gain_back, ONE * raw.offset_back)
    full = reached(way, ONE * raw.volume(np.array([end])))
    return back.return_time(way, foot, cold(viscosity), full, ONE * start)


def test_time_to_come_back_by_hand() -> None:
    """Level load, so level pressure: swept volume over flow; 6e-4 m2 over 4 mm at 1500 N and 2000 per m2, 0.9 Pa s."""
    raw, spring = straight([0.0, 0.001, 0.02], [0.0, 1500.0, 1500.0], sweep=6e-4, gain=2e3, gain_back=2e3, compliance=1e-13)
    flow = 3e6 * math.pi * BORE**4 / (128 * 0.9 * LENGTH)
    assert time_of(raw, raw.way(spring), 0.002, 0.006, 0.9) == pytest.approx(6e-4 * 0.004 / flow, rel=1e-9)


@pytest.mark.parametrize(("bite", "full", "time"), [(0.006, 0.006, 0.0), (0.007, 0.006, 0.0), (math.nan, 0.006, math.nan)])
def test_no_way_back_takes_no_time_and_no_bite_none_that_could_be_said(bite: float, full: float, time: float) -> None:
    raw, spring = straight([0.0, 0.001, 0.02], [0.0, 1500.0, 1500.0], sweep=6e-4, gain=2e3, gain_back=2e3)
    assert time_of(raw, raw.way(spring), bite, full, 0.9) == pytest.approx(time, nan_ok=True)


@pytest.mark.parametrize(("bite", "full", "stuck"), [(0.001, 0.003, True), (0.001, 0.007, True), (0.006, 0.0075, False)])
def test_fingers_that_do_not_push_the_fluid_home_stay_in(bite: float, full: float, stuck: bool) -> None:
    """The load is gone between 3 and 5 mm: who has to come through there never comes back."""
    raw, spring = straight([0.0, 0.001, 0.003, 0.005, 0.02], [0.0, 900.0, 0.0, 0.0, 1500.0], sweep=6e-4, gain=2e3, gain_back=2e3)
    assert np.isinf(time_of(raw, raw.way(spring), bite, full, 0.9)) == stuck


@pytest.mark.parametrize("viscosity", [0.9, 0.02, 0.004])
@pytest.mark.parametrize("seed", SEEDS)
def test_time_to_come_back_against_a_quadrature(seed: int, viscosity: float) -> None:
    raw, spring = drawn(seed)
    way = raw.way(spring)
    start, end = 0.25 * END, raw.first(0.97 * float(raw.scanned[1][-1]))
    found = time_of(raw, way, start, end, viscosity)

    def home(x: np.ndarray) -> np.ndarray:
        return np.maximum(0.0, raw.gain_back * raw.load(x) + raw.offset_back)

    x = np.unique([*np.linspace(start, end, 2_000), *(corner for corner in raw.corners if start < corner < end)])
    if np.any(home(np.linspace(start, end, 99_999)) == 0.0):
        assert np.isinf(found)
        return
    nodes, weights = np.polynomial.legendre.leggauss(4)
    total = 0.0
    for left, right in pairwise(x):
        inside = left + (right - left) * (nodes + 1) / 2
        slope = (raw.load(inside + 1e-9) - raw.load(inside - 1e-9)) / 2e-9
        flows = [flow_by_hand(float(pressure), viscosity) for pressure in home(inside)]
        total += float(np.sum(weights * raw.sweep * (1 + raw.give * slope) / flows)) * (right - left) / 2
    assert found == pytest.approx(total, rel=2e-6)

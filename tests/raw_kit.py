"""The volume balance and the springs as they stand, in plain numbers and dense scans, to hold the package's roots against.

Written apart from the package, of which only the records are built: what comes out is `numpy` on a grid, closed by `scipy`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.optimize import brentq

from fitcheck.physics.balance import Hydraulics
from fitcheck.physics.lay import lay_way
from fitcheck.physics.springs import Spring, diaphragm_load, load_curve
from fitcheck.physics.way import Way

ONE = np.ones(1)
STEPS = 40_001  # of a dense scan
END = 0.012  # m


def column(*numbers: float) -> np.ndarray:
    """Points on the leading axis, one kit on the last."""
    return np.array(numbers, float)[:, None]


@dataclass(frozen=True)
class Raw:
    """One kit: `p(x)`, `V_d(x)`, and the force at the pad, in plain numbers. Loads of one unit, unless said."""

    load: Callable[[np.ndarray], np.ndarray]
    corners: tuple[float, ...]  # travels at which the load bends
    sweep: float = 1.0
    give: float = 0.0
    gain: float = 1.0
    offset: float = 0.0
    compliance: float = 0.0
    air: float = 0.0
    ambient: float = 1.0
    gain_back: float = 1.0
    offset_back: float = 0.0

    def pressure(self, x: np.ndarray) -> np.ndarray:
        return np.maximum(0.0, self.gain * self.load(x) + self.offset)

    def volume(self, x: np.ndarray) -> np.ndarray:
        p = self.pressure(x)
        return self.sweep * (x + self.give * self.load(x)) + self.compliance * p + self.air * p / (self.ambient + p)

    def scan(self, end: float) -> np.ndarray:
        corners = [corner for corner in self.corners if corner < end]
        return np.unique(np.append(np.linspace(0.0, end, STEPS), corners))

    @cached_property
    def scanned(self) -> tuple[np.ndarray, np.ndarray]:
        """Travels up to the usual end, and the largest volume taken up to each."""
        x = self.scan(END)
        return x, np.maximum.accumulate(self.volume(x))

    def first(self, volume: float) -> float:
        """The first travel at which a volume is taken."""
        x, top = self.scanned
        place = int(np.searchsorted(top, volume))
        return brentq(lambda d: float(self.volume(d)) - volume, x[place - 1], x[place], xtol=1e-16) if place else 0.0

    def hydraulics(self) -> Hydraulics:
        numbers = (self.sweep, self.give, self.gain, self.offset, self.compliance)
        return Hydraulics(*(number * ONE for number in numbers), self.air, self.ambient)

    def way(self, spring: Spring) -> Way:
        kinks = tuple(ONE * -offset / gain for offset, gain in ((self.offset, self.gain), (self.offset_back, self.gain_back)))
        return lay_way(spring, self.hydraulics(), kinks)


def straight(travel: list[float], load: list[float], **numbers: float) -> tuple[Raw, Spring]:
    raw = Raw(lambda x: np.interp(x, travel, load), tuple(travel), **numbers)
    return raw, load_curve(np.array(travel), np.array(load, float), 1)


def almen_laszlo(ring: dict[str, float], deflection: np.ndarray) -> np.ndarray:
    """DIN 2092 (EN 16984), load at the edges with K1, carried to the circles by the lever between them."""
    outer, inner, thickness, cone = (ring[name] for name in ("outer_radius", "inner_radius", "thickness", "cone_height"))
    over = outer / inner
    k1 = ((over - 1) / over) ** 2 / ((over + 1) / (over - 1) - 2 / math.log(over)) / math.pi
    lever = (outer - inner) / abs(ring["load_radius"] - ring["pivot_radius"])
    s = deflection * lever
    flat = 4 * ring["modulus"] / (1 - ring["poisson"] ** 2) * thickness / (k1 * (2 * outer) ** 2)
    return lever * flat * s * ((cone - s) * (cone - s / 2) + thickness**2)


RING = {"outer_radius": 0.1, "inner_radius": 0.075, "modulus": 206e9, "poisson": 0.3, "load_radius": 0.097, "pivot_radius": 0.077}
RATIO, LOST, CUSHION = 2.85, 0.0015, 0.0008  # an invented cover of 57 mm over 20 mm, and disc


def diaphragm(
    thickness: float, cone: float, set_deflection: float, curve: tuple[list[float], list[float]], **numbers: float
) -> tuple[Raw, Spring]:
    ring = RING | {"thickness": thickness, "cone_height": cone}

    def load(x: np.ndarray) -> np.ndarray:
        lift = np.maximum(0.0, (x - LOST) / RATIO)
        held = almen_laszlo(ring, set_deflection) * np.interp(lift / CUSHION, *curve)
        return np.maximum(0.0, (almen_laszlo(ring, set_deflection + lift) - held) / RATIO)

    spring = diaphragm_load(
        {name: ONE * number for name, number in ring.items()},
        *(ONE * number for number in (set_deflection, RATIO, LOST, 0.0, CUSHION)),
        *(column(*points) for points in curve),
    )
    return Raw(load, tuple(LOST + RATIO * CUSHION * share for share in curve[0]), **numbers), spring


STRAIGHT = ([0.0, 1.0], [1.0, 0.0])
BENT = ([0.0, 0.4, 1.0], [1.0, 0.3, 0.0])
SPRINGY = {"usual": (0.0024, 0.0042, 0.0036), "steep": (0.0016, 0.0040, 0.0024), "snaps": (0.0016, 0.0052, 0.0035)}


def drawn(seed: int) -> tuple[Raw, Spring]:
    """An invented kit in SI: a curve or a diaphragm, soft or stiff lines, with and without air, springs against the slave."""
    rng = np.random.default_rng(seed)
    numbers = {
        "sweep": rng.uniform(4e-4, 9e-4),
        "give": rng.choice([0.0, 4e-7]),
        "gain": rng.uniform(1.5e3, 2.5e3),
        "offset": rng.choice([0.0, 8e4, -3e5]),
        "compliance": 10.0 ** rng.uniform(-13.3, -11.7),
        "air": rng.choice([0.0, 0.5e-6, 3e-6]),
        "ambient": 101325.0,
    }
    numbers |= {"gain_back": 0.8 * numbers["gain"], "offset_back": 0.9 * numbers["offset"]}
    if seed % 2:
        return diaphragm(*list(SPRINGY.values())[seed // 2 % 3], (STRAIGHT, BENT)[seed // 6 % 2], **numbers)
    travel = np.cumsum(rng.uniform(3e-4, 4e-3, 5)) * 1.2
    return straight([0.0, *travel], [0.0, *rng.uniform(200, 2500, 5)], **numbers)


SEEDS = range(24)

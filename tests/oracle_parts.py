"""Single parts for the oracle: load at the fingers, dilation and flow of a line, viscosity, air in a tilted bore. All in SI."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Any

from oracle_math import Broken, Function, Piece, Pieces, first_true

RE_TURN = 2300.0


class Load:
    """Load over finger travel, in smooth pieces, each of which only rises or only falls."""

    def __init__(self, pieces: Sequence[Piece]) -> None:
        """Keep the pieces."""
        self.pieces = Pieces(pieces)

    def __call__(self, x: float) -> float:
        """Load at finger travel x."""
        return self.pieces.at(x).value(x)

    def slope(self, x: float) -> float:
        """Slope of the load just past x."""
        return self.pieces.at(x).slope(x)

    def crossings(self, level: float) -> list[float]:
        """Every place where the load passes through a level."""
        found = []
        for piece in self.pieces:
            end = far_end(piece, lambda v: v > level)
            before, after = piece.value(piece.start) - level, piece.value(end) - level
            if before * after < 0:
                rises = after > 0
                found.append(first_true(lambda x, p=piece, r=rises: (p.value(x) >= level) == r, piece.start, end))  # type: ignore[misc]
        return found


def far_end(piece: Piece, beyond: Callable[[float], bool]) -> float:
    """The end of a piece; of an endless one a point whose value is `beyond`, or just some point if it is constant."""
    if math.isfinite(piece.end):
        return piece.end
    step = 1e-3
    while piece.slope(piece.start + step) > 0 and not beyond(piece.value(piece.start + step)):
        step *= 2
    return piece.start + step


def curve_load(travel: Sequence[float], load: Sequence[float]) -> Load:
    """A catalog curve: straight between its points, constant past the last."""
    line = Broken(tuple(travel), tuple(load))
    pieces = []
    for a, b in zip(line.x, line.x[1:], strict=False):
        rate = line.slope(a)
        pieces.append(Piece(a, b, line, lambda x, rate=rate: rate))  # type: ignore[misc]
    return Load([*pieces, Piece(line.x[-1], math.inf, line, lambda x: 0.0)])


class Disc:
    """A coned ring loaded on two circles: Almen-Laszlo with constant K1 (DIN 2092), moved to those circles by the lever law."""

    def __init__(self, spring: Mapping[str, float]) -> None:
        """Take the measures of the ring and of the circles."""
        outer, inner = 2 * spring["outer_radius"], 2 * spring["inner_radius"]
        delta = outer / inner
        k1 = ((delta - 1) / delta) ** 2 / ((delta + 1) / (delta - 1) - 2 / math.log(delta)) / math.pi
        self.t, self.cone = spring["thickness"], spring["cone_height"]
        self.base = 4 * spring["modulus"] / (1 - spring["poisson"] ** 2) * self.t**4 / (k1 * outer**2)
        gap = abs(spring["load_radius"] - spring["pivot_radius"])
        self.share = (outer - inner) / 2 / gap
        self.lever = abs(spring["pivot_radius"] - spring["tip_radius"]) / gap

    def edge(self, s: float) -> float:
        """Load at the edges for a deflection s."""
        a, b = self.cone / self.t, s / self.t
        return self.base * b * ((a - b) * (a - b / 2) + 1)

    def edge_slope(self, s: float) -> float:
        """Stiffness at the edges."""
        a, b = self.cone / self.t, s / self.t
        return self.base / self.t * (a * a - 3 * a * b + 1.5 * b * b + 1)

    def load(self, deflection: float) -> float:
        """Load at the load circle for a deflection there."""
        return self.share * self.edge(self.share * deflection)

    def slope(self, deflection: float) -> float:
        """Stiffness at the load circle."""
        return self.share**2 * self.edge_slope(self.share * deflection)

    def where_slope_is(self, rate: float) -> list[float]:
        """Deflections at the load circle where the stiffness has a given value: the roots of a square equation."""
        a = self.cone / self.t
        square = a * a - (a * a + 1 - rate / (self.share**2 * self.base / self.t)) * 2 / 3
        if square <= 0:
            return []
        return [(a - math.sqrt(square)) * self.t / self.share, (a + math.sqrt(square)) * self.t / self.share]


def diaphragm_load(spring: Mapping[str, float], lift_loss: float, cushion: float, clamp: Broken, wear: float) -> Load:
    """Equilibrium of the lever while the plate lifts: the spring pushes more, the cushion carries less; never below 0."""
    disc = Disc(spring)
    start = spring["set_deflection"] - wear
    resting = disc.load(start)
    raw_pieces: list[Piece] = []
    shares = [*clamp.x, math.inf]
    for u, v in pairwise(shares):
        rate = clamp.slope(u) / cushion
        level = clamp(u)

        def raw(x: float, u: float = u, rate: float = rate, level: float = level) -> float:
            lift = (x - lift_loss) / disc.lever
            return (disc.load(start + lift) - resting * (level + rate * (lift - u * cushion))) / disc.lever

        def slope(x: float, rate: float = rate) -> float:
            return (disc.slope(start + (x - lift_loss) / disc.lever) - resting * rate) / disc.lever**2

        ends = lift_loss + disc.lever * cushion * u, lift_loss + disc.lever * cushion * v
        turns = [lift_loss + disc.lever * (deflection - start) for deflection in disc.where_slope_is(resting * rate)]
        cuts = [ends[0], *(x for x in turns if ends[0] < x < ends[1]), ends[1]]
        raw_pieces += [Piece(a, b, raw, slope) for a, b in pairwise(cuts)]
    before = [Piece(0.0, lift_loss, _nothing, _nothing)] if lift_loss > 0 else []
    return Load([*before, *_never_negative(raw_pieces)])


def _nothing(x: float) -> float:
    return 0.0


def _never_negative(pieces: Iterable[Piece]) -> list[Piece]:
    """The same pieces with 0 where they lie below 0."""
    found = []
    for piece in pieces:
        middle = Load([piece]).crossings(0.0)
        ends = [piece.start, *middle, piece.end]
        for a, b in pairwise(ends):
            above = piece.value(Piece(a, b, piece.value, piece.slope).inner()) > 0
            found.append(Piece(a, b, _floored(piece.value), piece.slope) if above else Piece(a, b, _nothing, _nothing))
    return found


def _floored(f: Function) -> Function:
    return lambda x: max(0.0, f(x))


def dilation(piece: Mapping[str, Any]) -> float:
    """Volume gained per pressure by one piece of a line: Lame's thick cylinder with closed ends, or a hose's constant slope."""
    if piece["kind"] == "hose":
        return float(piece["length"] * piece["expansion"] / piece["at_pressure"])
    if piece["kind"] == "adapter":
        return 0.0
    a = piece["inner_diameter"] / 2
    b, nu, e = a + piece["wall"], piece["poisson"], piece["modulus"]
    axial = a * a / (b * b - a * a)  # stress along the tube per pressure
    hoop_strain = ((b * b + a * a) / (b * b - a * a) + nu - nu * axial) / e
    axial_strain = (1 - 2 * nu) * axial / e
    return float(math.pi * a * a * piece["length"] * (2 * hoop_strain + axial_strain))


def bores(pieces: Iterable[Mapping[str, Any]]) -> list[tuple[float, float]]:
    """Length and inner diameter of the pieces that hold fluid."""
    return [(piece["length"], piece["inner_diameter"]) for piece in pieces if piece["kind"] != "adapter"]


def viscosity(points: Mapping[str, Sequence[float]], temperature: float) -> float:
    """Kinematic viscosity by Walther's line (ASTM D341) through the two points around the temperature, or the nearest two."""
    pairs = sorted(zip(points["temperature"], points["kinematic"], strict=True))
    i = max([k for k, (t, _) in enumerate(pairs[:-1]) if t <= temperature], default=0)
    (t1, n1), (t2, n2) = pairs[i], pairs[i + 1]
    w1, w2 = (math.log10(math.log10(n * 1e6 + 0.7)) for n in (n1, n2))
    w = w1 + (w2 - w1) * (math.log10(temperature) - math.log10(t1)) / (math.log10(t2) - math.log10(t1))
    return float(10 ** (10**w) - 0.7) * 1e-6


class Flow:
    """Flow through bores in a row: Hagen-Poiseuille up to Re 2300, Blasius above, each bore by its own Re."""

    def __init__(self, bores: Sequence[tuple[float, float]], nu: float, density: float) -> None:
        """Take length and diameter of each bore, kinematic viscosity and density."""
        self.bores, self.nu, self.density = bores, nu, density
        self.turns = sorted({self.turn(d) for _, d in bores})

    def turn(self, d: float) -> float:
        """The flow at which a bore stands at Re 2300."""
        return RE_TURN * math.pi * d * self.nu / 4

    def drop(self, q: float, turned: float) -> float:
        """Pressure lost at flow q where bores that turn at a flow of up to `turned` count as turbulent."""
        return math.fsum(self._drop(q, length, d, self.turn(d) <= turned) for length, d in self.bores)

    def _drop(self, q: float, length: float, d: float, turbulent: bool) -> float:
        if not turbulent:
            return 128 * self.nu * self.density * length * q / (math.pi * d**4)
        speed = q / (math.pi / 4 * d * d)
        friction = 0.3164 / math.sqrt(math.sqrt(speed * d / self.nu))
        return friction * length / d * self.density * speed * speed / 2

    def levels(self) -> list[float]:
        """Pressures at which a bore leaves the laminar law, and at which it takes up the turbulent one."""
        before = [0.0, *self.turns]
        return [self.drop(q, turned) for q, last in zip(self.turns, before, strict=False) for turned in (last, q)]

    def rate(self, pressure: float) -> float:
        """The flow that a pressure drives; at Re 2300 where neither law gives the pressure."""
        last = 0.0
        for q in self.turns:
            if pressure <= self.drop(q, last):
                return self._solve(pressure, last, last, q)
            if pressure <= self.drop(q, q):
                return q
            last = q
        high = 2 * last
        while self.drop(high, last) < pressure:
            high *= 2
        return self._solve(pressure, last, last, high)

    def _solve(self, pressure: float, turned: float, low: float, high: float) -> float:
        if turned == 0.0:
            return pressure / self.drop(1.0, 0.0)
        return first_true(lambda q: self.drop(q, turned) >= pressure, low, high)


def segment_integral(h: float, diameter: float) -> float:
    """Integral of the area of a circular segment over its height from 0 to h; beyond the full circle its area times the rest."""
    if h <= 0:
        return 0.0
    r = diameter / 2
    if h > diameter:
        return math.pi * r**3 + math.pi * r * r * (h - diameter)
    c = math.sqrt(max(0.0, h * (diameter - h)))
    return c * (3 * r * r - c * c) / 3 + r * r * (h - r) * math.acos(max(-1.0, 1 - h / r))


def segment_area(h: float, diameter: float) -> float:
    """Area of a circular segment of height h, at most the circle."""
    r, h = diameter / 2, min(max(h, 0.0), diameter)
    return r * r * math.acos(1 - h / r) - (r - h) * math.sqrt(max(0.0, h * (diameter - h)))


def pocket(outer: float, inner: float, length: float, bleed_offset: float, clock: float, tilt: float) -> float:
    """Air above the level through the port of a tilted bore; `inner` is the diameter of a core, 0 for none."""
    h0 = outer / 2 * (1 - math.cos(clock))
    step = (outer - inner) / 2
    if abs(tilt) < 1e-6:
        core = segment_area(h0 - step, inner) if inner > 0 else 0.0
        return (segment_area(h0, outer) - core) * length
    fall = math.tan(abs(tilt))
    b = bleed_offset if tilt > 0 else length - bleed_offset
    high, low = h0 + b * fall, max(0.0, h0 - (length - b) * fall)

    def total(h: float) -> float:
        return segment_integral(h, outer) - (segment_integral(h - step, inner) if inner > 0 else 0.0)

    return (total(high) - total(low)) / fall

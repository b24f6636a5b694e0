"""Plain scalar mathematics for the oracle: bisection to the last bit, golden section, adaptive Gauss, broken lines, paths."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

Function = Callable[[float], float]
SAMPLES = 24  # looks for an extreme between two break points; the functions have at most a few there


def first_true(holds: Callable[[float], bool], low: float, high: float) -> float:
    """The least float above `low` where `holds` is true, if it is false at `low`, true at `high` and changes once between."""
    while True:
        middle = low + (high - low) / 2
        if middle <= low or middle >= high:
            return high
        if holds(middle):
            high = middle
        else:
            low = middle


def golden(f: Function, low: float, high: float) -> tuple[float, float]:
    """Place and value of the least `f` between `low` and `high`, for one valley."""
    ratio = (math.sqrt(5) - 1) / 2
    a, b = low, high
    c, d = b - ratio * (b - a), a + ratio * (b - a)
    fc, fd = f(c), f(d)
    for _ in range(48):
        if fc <= fd:
            b, d, fd = d, c, fc
            c = b - ratio * (b - a)
            fc = f(c)
        else:
            a, c, fc = c, d, fd
            d = a + ratio * (b - a)
            fd = f(d)
    return min(((fc, c), (fd, d)))[1], min(fc, fd)


def least(f: Function, points: Sequence[float]) -> tuple[float, float]:
    """Place and value of the least `f` from the first to the last of the rising break points; of several places the first."""
    best = (f(points[0]), points[0])
    for a, b in pairwise(points):
        xs = [a + (b - a) * i / SAMPLES for i in range(SAMPLES)] + [b]
        values = [f(x) for x in xs]
        i = min(range(len(xs)), key=values.__getitem__)
        best = min(best, (values[i], xs[i]))
        if _dips(f, xs, values, i):
            place, value = golden(f, xs[max(i - 1, 0)], xs[min(i + 1, SAMPLES)])
            best = min(best, (value, place))
    return best[1], best[0]


def _dips(f: Function, xs: Sequence[float], values: Sequence[float], i: int) -> bool:
    """Whether the least sample may have a lower neighbourhood: always inside; at an end only if `f` falls just inside of it."""
    if 0 < i < SAMPLES:
        return True
    inward = 1 if i == 0 else SAMPLES - 1
    return f(xs[i] + 1e-4 * (xs[inward] - xs[i])) < values[i]


def greatest(f: Function, points: Sequence[float]) -> tuple[float, float]:
    """Place and value of the greatest `f`; see `least`."""
    place, value = least(lambda x: -f(x), points)
    return place, -value


def _legendre(n: int) -> list[tuple[float, float]]:
    """Nodes and weights of the Gauss-Legendre rule on [-1, 1], by Newton's method on the Legendre polynomial."""
    rule = []
    for i in range(n):
        x = math.cos(math.pi * (i + 0.75) / (n + 0.5))
        for _ in range(100):
            p0, p1 = 1.0, x
            for k in range(2, n + 1):
                p0, p1 = p1, ((2 * k - 1) * x * p1 - (k - 1) * p0) / k
            slope = n * (x * p1 - p0) / (x * x - 1)
            x -= p1 / slope
        rule.append((x, 2 / ((1 - x * x) * slope * slope)))
    return rule


RULE = _legendre(10)


def _gauss(f: Function, a: float, b: float) -> float:
    half, middle = (b - a) / 2, (a + b) / 2
    return half * sum(weight * f(middle + half * node) for node, weight in RULE)


def integrate(f: Function, a: float, b: float) -> float:
    """Integral of a function smooth between `a` and `b`: ten-point Gauss, halved until halves and whole agree to 1e-13 of all."""
    rough = math.fsum(abs(_gauss(f, a + (b - a) * i / 8, a + (b - a) * (i + 1) / 8)) for i in range(8))
    return _refined(f, a, b, 1e-13 * rough, 40)


def _refined(f: Function, a: float, b: float, small: float, depth: int) -> float:
    middle = (a + b) / 2
    whole, halves = _gauss(f, a, b), _gauss(f, a, middle) + _gauss(f, middle, b)
    if depth == 0 or abs(whole - halves) <= small:
        return halves
    return _refined(f, a, middle, small, depth - 1) + _refined(f, middle, b, small, depth - 1)


@dataclass(frozen=True)
class Broken:
    """A broken line through points of rising x; it keeps its end values outside."""

    x: tuple[float, ...]
    y: tuple[float, ...]

    def __call__(self, x: float) -> float:
        """Height at x."""
        if x >= self.x[-1]:
            return self.y[-1]
        i = bisect_right(self.x, x) - 1
        return self.y[0] if i < 0 else self.y[i] + (x - self.x[i]) * self._slope(i)

    def _slope(self, i: int) -> float:
        return (self.y[i + 1] - self.y[i]) / (self.x[i + 1] - self.x[i])

    def slope(self, x: float) -> float:
        """Slope just past x."""
        i = bisect_right(self.x, x) - 1
        return self._slope(i) if 0 <= i < len(self.x) - 1 else 0.0

    def knots(self, low: float, high: float) -> list[float]:
        """Rising: `low`, the corners strictly between, `high`."""
        return [low, *(x for x in self.x if low < x < high), high]

    def area(self, low: float, high: float) -> float:
        """Integral from `low` to `high`: trapezia between corners."""
        xs = self.knots(low, high)
        return sum((b - a) * (self(a) + self(b)) / 2 for a, b in pairwise(xs))


@dataclass(frozen=True)
class Piece:
    """A stretch on which a function is smooth, with its slope there (one-sided at both ends); `end` may be infinite."""

    start: float
    end: float
    value: Function
    slope: Function

    def inner(self) -> float:
        """Some point inside."""
        return self.start + 1.0 if math.isinf(self.end) else (self.start + self.end) / 2


class Pieces(tuple[Piece, ...]):
    """Pieces in a row from x = 0 on."""

    @cached_property
    def starts(self) -> list[float]:
        """Where each begins."""
        return [piece.start for piece in self]

    def at(self, x: float) -> Piece:
        """The piece that holds just past x."""
        return self[max(bisect_right(self.starts, x) - 1, 0)]


class Path:
    """A function of x >= 0 in smooth pieces, which should rise but may turn back; it never lies below its start plus `rate` x."""

    def __init__(self, value: Function, pieces: Sequence[Piece], rate: float) -> None:
        """Find every point where the path turns."""
        self.value, self.pieces, self.rate = value, Pieces(pieces), rate
        turns = [x for piece in pieces if math.isfinite(piece.end) for x in _turns(piece)]
        self.breaks = sorted({*(piece.start for piece in pieces), *turns})
        self.heights = [value(x) for x in self.breaks]

    def highest(self, x: float) -> tuple[float, float]:
        """The largest value on [0, x] and the first place that has it."""
        candidates = [(h, b) for h, b in zip(self.heights, self.breaks, strict=True) if b <= x] + [(self.value(x), x)]
        top = max(height for height, _ in candidates)
        return top, min(place for height, place in candidates if height == top)

    def first(self, wanted: float, start: float = 0.0) -> float:
        """The first x from `start` on with value(x) >= wanted."""
        left = start
        if self.value(left) >= wanted:
            return left
        for right in (*(b for b in self.breaks if b > start), max(start, self.breaks[-1]) + wanted / self.rate + 1.0):
            if self.value(right) >= wanted:
                return first_true(lambda x: self.value(x) >= wanted, left, right)
            left = right
        raise AssertionError("the path never gets there")

    def landing(self, x: float) -> float:
        """Where one stands just past the highest value on [0, x]: x itself, or the far side of a stretch jumped over."""
        top = self.highest(x)[0]
        later = [b for b in self.breaks if b > x]
        falls = later and self.value(later[0]) < self.value(x)
        return self.first(top, later[0] if falls else x)

    @cached_property
    def stretches(self) -> list[tuple[float, float]]:
        """All stretches that are jumped over, from top to landing."""
        found = []
        best = -math.inf
        for height, following, place in zip(self.heights, self.heights[1:], self.breaks, strict=False):
            if height > best and following < height:
                found.append((place, self.landing(place)))
            best = max(best, height)
        return found

    def slope(self, x: float) -> float:
        """Slope just past x."""
        return self.pieces.at(x).slope(x)

    def points(self, low: float, high: float, more: Iterable[float] = ()) -> list[float]:
        """Rising: `low`, all breaks, ends of stretches and `more` strictly between, `high`."""
        inside = {*self.breaks, *more, *(x for stretch in self.stretches for x in stretch)}
        return [low, *sorted(x for x in inside if low < x < high), high] if high > low else [low]


def _turns(piece: Piece) -> list[float]:
    """Points inside a piece where its slope changes sign."""
    xs = [piece.start + (piece.end - piece.start) * i / SAMPLES for i in range(SAMPLES)] + [piece.end]
    slopes = [piece.slope(x) for x in xs]
    found = []
    for i in range(SAMPLES):
        later = slopes[i + 1] > 0
        if (slopes[i] > 0) != later:
            found.append(first_true(lambda x, later=later: (piece.slope(x) > 0) == later, xs[i], xs[i + 1]))  # type: ignore[misc]
    return found

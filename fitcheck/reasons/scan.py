"""Where along one number does a kit pass? Looked at on a grid, then nearer and nearer at the ends, many numbers in one batch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.convert import within
from fitcheck.catalog.parts import Part
from fitcheck.engine.states import PASS, REJECT
from fitcheck.engine.variants import Bench
from fitcheck.engine.verdict import BREAKS
from fitcheck.reasons.chain import spec_of
from fitcheck.reasons.changing import Span
from fitcheck.reasons.demands import faulty
from fitcheck.reasons.numbers import Number

FloatArray = npt.NDArray[np.float64]

GRID = 64  # values of each number that are looked at first
CLOSER = 15  # values inside a gap that is looked at again
FINE = 1e-8  # share of an end's own size to which it is found
ROUNDS = 8
FARTHER = (1.25, 2.0, 5.0, 20.0)  # times an end of the search, where the number still does there


@dataclass
class Scan:
    """What is known of a kit along one number: verdict and headrooms at rising values.

    With a `rule` its keeping stands for the verdict, and its headroom for the kit's.
    """

    number: Number
    span: Span
    present: float
    note: str
    at: FloatArray = field(default_factory=lambda: np.zeros(0))
    verdict: npt.NDArray[np.uint8] = field(default_factory=lambda: np.zeros(0, np.uint8))
    headroom: FloatArray = field(default_factory=lambda: np.zeros(0))
    rooms: FloatArray = field(default_factory=lambda: np.zeros((0, 0)))  # as in a glance
    rule: int | None = None  # its row there

    def learn(self, at: FloatArray, verdict: npt.NDArray[np.uint8], headroom: FloatArray, rooms: FloatArray) -> None:
        """Take up what was found at some more values."""
        if self.rule is not None:
            headroom = rooms[self.rule]
            verdict = np.where(headroom >= BREAKS, PASS, REJECT).astype(np.uint8)
        every = np.concatenate([self.at, at])
        self.at, places = np.unique(every, return_index=True)
        self.verdict = np.concatenate([self.verdict, verdict])[places]
        self.headroom = np.concatenate([self.headroom, headroom])[places]
        self.rooms = (np.concatenate([self.rooms, rooms], axis=1) if self.rooms.size else rooms)[:, places]

    def of(self, rule: int) -> Scan:
        """The same, of one rule."""
        scan = Scan(self.number, self.span, self.present, self.note, rule=rule)
        scan.learn(self.at, self.verdict, self.headroom, self.rooms)
        return scan

    @property
    def start(self) -> float:
        """From where a change is counted: the present value, or nothing where the kit has none."""
        return 0.0 if np.isnan(self.present) else self.present

    def fails(self, value: float, goal: int) -> bool:
        """Whether that very value is known to miss the goal."""
        return bool((self.verdict[self.at == value] > goal).any())

    def runs(self, goal: int) -> list[tuple[int, int]]:
        """First and last place of each row of neighbours that all reach the goal."""
        good = np.concatenate([[False], self.verdict <= goal, [False]])
        turns = np.flatnonzero(good[1:] != good[:-1])
        return [(int(first), int(end) - 1) for first, end in zip(turns[::2], turns[1::2], strict=True)]

    def run(self, goal: int) -> tuple[int, int]:
        """The run nearest to the present value."""
        return min(self.runs(goal), key=lambda run: max(self.at[run[0]] - self.start, self.start - self.at[run[1]], 0.0))

    def gaps(self, goal: int, far: bool = True) -> Iterator[Span]:
        """The gaps at the ends of the run in which the true ends lie; none where the search itself ends.

        Without `far` only at the end that is nearer to the present value.
        """
        first, last = self.run(goal)
        nearer = {first: self.start < self.at[first], last + 1: self.start > self.at[last]}
        for right in (first, last + 1):
            if 0 < right < len(self.at) and (far or nearer[right]):
                yield float(self.at[right - 1]), float(self.at[right])

    def hopeful(self) -> Iterator[Span]:
        """The gaps beside the best value so far, where nothing reaches the goal: a narrow run may lie between two values."""
        best = max(range(len(self.at)), key=lambda place: (-int(self.verdict[place]), float(self.headroom[place])))
        yield float(self.at[max(best - 1, 0)]), float(self.at[min(best + 1, len(self.at) - 1)])


def look(bench: Bench, scans: Sequence[Scan], points: Sequence[FloatArray]) -> None:
    """Try those values of each number, all in one batch."""
    variants = [scan.number.apply(bench, value) for scan, some in zip(scans, points, strict=True) for value in some.tolist()]
    if not variants:
        return
    seen = bench.glance(variants)
    start = 0
    for scan, some in zip(scans, points, strict=True):
        rows = slice(start, start := start + len(some))
        scan.learn(some, seen.verdict[rows], seen.headroom[rows], seen.rooms[:, rows])


def scanned(bench: Bench, numbers: Sequence[tuple[Number, Span]], goals: Sequence[int]) -> list[tuple[Scan, int]]:
    """Each number with the first of the goals that some value reaches, the ends found; REJECT where none reaches any."""
    scans = [Scan(number, span, number.present(bench), number.note(bench)) for number, span in numbers]
    look(bench, scans, [scan.number.grid(scan.span, GRID) for scan in scans])
    for _ in range(2):
        short = [scan for scan in scans if not scan.runs(goals[0])]
        look(bench, short, [_inside(scan.hopeful()) for scan in short])
    found = [(scan, _reached(scan, goals)) for scan in scans]
    nearer(bench, found)
    _farther(bench, [(scan, goal) for scan, goal in found if goal < REJECT and not scan.number.firm])
    return found


def _farther(bench: Bench, found: Sequence[tuple[Scan, int]]) -> None:
    """Look beyond the search where its end still reaches the goal: `at least` and `at most` must hold farther out too."""
    points = [np.array([value for value in _beyond(scan, goal) if _stands(scan.number, bench, value)]) for scan, goal in found]
    look(bench, [scan for scan, _ in found], points)
    nearer(bench, found)


def _beyond(scan: Scan, goal: int) -> Iterator[float]:
    first, last = scan.run(goal)
    if first == 0:
        yield from (scan.span[0] / times for times in FARTHER)
    if last == len(scan.at) - 1:
        yield from (scan.span[1] * times for times in FARTHER)


def _stands(number: Number, bench: Bench, value: float) -> bool:
    """Whether a part with that number could stand in a catalog."""
    return all(_sound(part, bench.parts[family]) for family, part in number.apply(bench, value).parts.items())


def _sound(part: Part, own: Part) -> bool:
    before = dict(own.numbers())
    changed = ((key, number) for key, number in part.numbers() if before.get(key) != number)
    return all(within(spec_of(part, key), number) for key, number in changed) and not faulty(part)


def _reached(scan: Scan, goals: Sequence[int]) -> int:
    return next((goal for goal in goals if scan.runs(goal)), REJECT)


def nearer(bench: Bench, found: Sequence[tuple[Scan, int]], far: bool = True) -> None:
    """Find the ends of every run that reaches its goal; without `far` only the nearer end, to a step that is written."""
    for _ in range(ROUNDS):
        open_ends = {place: _inside(_wide(scan, goal, far)) for place, (scan, goal) in enumerate(found) if goal < REJECT}
        left = {place: points for place, points in open_ends.items() if len(points)}
        look(bench, [found[place][0] for place in left], list(left.values()))


def _wide(scan: Scan, goal: int, far: bool) -> Iterator[Span]:
    step = 0.0 if far else scan.number.step
    return ((low, high) for low, high in scan.gaps(goal, far) if high - low > max(step, FINE * max(abs(low), abs(high))))


def _inside(gaps: Iterator[Span]) -> FloatArray:
    rows = [np.linspace(low, high, CLOSER + 2)[1:-1] for low, high in gaps]
    return np.concatenate(rows) if rows else np.zeros(0)

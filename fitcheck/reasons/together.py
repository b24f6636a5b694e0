"""Two changes together: two parts exchanged, or one part and one number, where no single one makes a kit pass.

Few pairs are all tried. Of many those are tried that promise most: what each change alone does to the headroom of each rule is
added up, and what would then still be short says which come first. Whatever is told was tried.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitcheck.catalog.parts import Part
from fitcheck.engine.variants import Bench, Variant
from fitcheck.reasons.changing import Span
from fitcheck.reasons.intervals import Change, changes_of
from fitcheck.reasons.numbers import Number, numbers_on
from fitcheck.reasons.scan import GRID, FloatArray, Scan
from fitcheck.reasons.shelf import IntArray, Shelf
from fitcheck.reasons.swaps import Swap, in_order, reaching, told_of

BEST = 3  # of either kind told in full
TRIED, MIXED = 1500, 600  # of either kind, at most
EACH = 8  # parts of a family that are best for one rule, where not all are looked at
VALUES = 2  # of a number that are tried with a part
FAR = 20.0  # headroom beyond which it makes no difference


@dataclass(frozen=True)
class Pairs:
    """Two parts exchanged."""

    sought: tuple[int, ...]  # verdicts better than those that one part or setting reaches
    goal: int  # the verdict that they reach: PASS, or CAUTION where none passes
    fitting: int  # pairs of parts that the job lets in and that fit in together
    tried: int
    total: int  # of those that reach the goal
    best: tuple[Swap, ...]
    kits: frozenset[frozenset[tuple[str, str]]]  # families and ids of all that reach it


@dataclass(frozen=True)
class PartAndNumber:
    """One part exchanged, and the interval of one number of the kit with it."""

    part: Part
    instead: Part
    change: Change


@dataclass(frozen=True)
class Mixed:
    """A part exchanged and a number changed."""

    sought: tuple[int, ...]  # verdicts better than those reached otherwise
    tried: int  # parts with a value of a number
    best: tuple[PartAndNumber, ...]


def pairs_of(shelf: Shelf, goals: Sequence[int]) -> Pairs:
    """The pairs that reach the first of the goals that any reaches."""
    first, second = shelf.pairs
    chosen = _promising(shelf) if len(first) > TRIED else np.arange(len(first))
    variants = [shelf.variant(*two) for two in zip(first[chosen].tolist(), second[chosen].tolist(), strict=True)]
    seen = shelf.look(variants)
    goal, found = reaching(seen, goals)
    ordered = [variants[place] for place in in_order(shelf.bench, seen, variants, found)]
    kits = (frozenset((family, part.id) for family, part in variant.parts.items()) for variant in ordered)
    return Pairs(
        tuple(goals), goal, len(first), len(variants), len(ordered), told_of(shelf.bench, ordered[:BEST]), frozenset(kits)
    )


# --- what promises most


def _short(*changes: FloatArray) -> FloatArray:
    """By how much all rules together fall short; arrays of headrooms by rule, or of what changes them, are added up."""
    total: FloatArray = np.zeros(())
    for rooms in zip(*changes, strict=True):
        total = total - np.minimum(sum(rooms), 0.0)
    return total


def _bounded(rooms: FloatArray) -> FloatArray:
    """Headrooms that can be added up; what is not known counts as if it were short."""
    return np.clip(np.where(np.isnan(rooms), -1.0, rooms), -FAR, FAR)


def _own(bench: Bench) -> FloatArray:
    return _bounded(bench.glance([Variant()], fitting=False).rooms)


def _promising(shelf: Shelf) -> IntArray:
    """Which pairs are tried where there are too many; parts that do not fit in alone are judged as if they did."""
    (first, second), own = shelf.pairs, _own(shelf.bench)
    used, rooms = np.zeros(len(shelf.parts), dtype=np.bool_), np.full((len(own), len(shelf.parts)), -FAR)
    used[first] = used[second] = True
    used[shelf.alone] = False
    rest = np.flatnonzero(used)
    rooms[:, shelf.alone] = _bounded(shelf.seen.rooms)
    rooms[:, rest] = _bounded(shelf.bench.glance([shelf.variant(place) for place in rest.tolist()], fitting=False).rooms)
    wide = np.zeros(len(shelf.parts), dtype=np.bool_)
    wide[_leading(shelf.parts, own, rooms)] = True
    near = np.flatnonzero(wide[first] & wide[second])
    short = _short(rooms[:, first[near]], rooms[:, second[near]] - own)
    return near[np.argsort(short, kind="stable")[:TRIED]]


def _leading(parts: Sequence[Part], own: FloatArray, rooms: FloatArray) -> IntArray:
    """Of each family the parts that alone leave least to mend, in all and of each rule that speaks."""
    families = np.array([part.family for part in parts])
    keys = np.stack([_short(rooms), *-rooms[own[:, 0] < 0.0]])
    found = []
    for family in dict.fromkeys(families.tolist()):
        some = np.flatnonzero(families == family)
        found += [some[np.argsort(key[some], kind="stable")[:EACH]] for key in keys]
    return np.unique(np.concatenate(found)) if found else np.zeros(0, dtype=np.intp)


# --- a part and a number


@dataclass(frozen=True)
class _Mix:
    """A part and a value of a number."""

    part: Part
    number: Number
    value: float


def mixed_of(shelf: Shelf, scans: Sequence[Scan], goals: Sequence[int]) -> Mixed:
    """Parts with which some value of a number reaches one of the goals: settings first, then as kits are ranked."""
    mixes = _mixes(shelf, scans)
    variants = [_with_both(_bench_for(shelf.bench, mix), mix.part, mix.number, mix.value) for mix in mixes]
    seen = shelf.look(variants)
    _, found = reaching(seen, goals)
    ordered = sorted((mixes[row] for row in in_order(shelf.bench, seen, variants, found)), key=lambda mix: not mix.number.fitter)
    distinct = {(mix.part.family, mix.part.id, mix.number.name): mix for mix in reversed(ordered)}
    return Mixed(tuple(goals), len(mixes), tuple(_intervals(shelf.bench, list(reversed(distinct.values()))[:BEST], goals)))


def _mixes(shelf: Shelf, scans: Sequence[Scan]) -> list[_Mix]:
    """Those that promise most of each leading part with each number, a size only of another part, and two values of it."""
    own, rooms = _own(shelf.bench), _bounded(shelf.seen.rooms)
    parts = [shelf.parts[place] for place in shelf.alone.tolist()]
    leading = _leading(parts, own, rooms)
    found: list[tuple[float, int, Number, float]] = []
    for scan in scans:
        number, values = scan.number, scan.number.grid(scan.span, GRID)
        some = np.array(
            [place for place in leading.tolist() if number.fitter or parts[place].family != number.family], dtype=np.intp
        )
        along = _bounded(scan.rooms[:, np.searchsorted(scan.at, values)]) - own
        short = _short(rooms[:, some, None], along[:, None, :])
        best = np.argsort(short, axis=1, kind="stable")[:, :VALUES]
        rows = zip(some.tolist(), best.tolist(), np.take_along_axis(short, best, 1).tolist(), strict=True)
        found += [(left, place, number, float(values[at])) for place, *two in rows for at, left in zip(*two, strict=True)]
    return [_Mix(parts[place], number, value) for _, place, number, value in sorted(found, key=lambda one: one[0])[:MIXED]]


def _bench_for(bench: Bench, mix: _Mix) -> Bench:
    """The kit in which the number is put: with the part, if it is one of that part."""
    return _with(bench, mix.part) if mix.number.family == mix.part.family else bench


def _with(bench: Bench, part: Part) -> Bench:
    ids = {family: own.id for family, own in bench.parts.items()}
    return Bench(bench.catalog, bench.profile, bench.job, bench.train, {**ids, part.family: part.id})


def _with_both(bench: Bench, part: Part, number: Number, value: float) -> Variant:
    changed = number.apply(bench, value)
    return Variant({part.family: part, **changed.parts}, changed.setting)


def _intervals(bench: Bench, mixes: Sequence[_Mix], goals: Sequence[int]) -> Iterator[PartAndNumber]:
    """The interval of each number in the kit with the part, sought as if it were one of the kit itself."""
    sought = [(mix, one) for mix in mixes if (one := _as_own(_with(bench, mix.part), mix))]
    found = {change.number.name: change for change in changes_of(bench, [one for _, one in sought]).found}
    for mix, (number, _) in sought:
        change = found.get(number.name)
        if change and change.goal in goals:
            yield PartAndNumber(mix.part, bench.parts[mix.part.family], replace(change, number=mix.number))


def _as_own(mended: Bench, mix: _Mix) -> tuple[Number, Span] | None:
    """The number of the kit with the part, under a name of its own; None where that kit has none."""
    known = numbers_on(mended).get(mix.number.name)
    if known is None:
        return None
    number, span = known
    present, note = number.present(mended), number.note(mended)

    def apply(_: Bench, value: float) -> Variant:
        return _with_both(mended, mix.part, number, value)

    name = f"{mix.part.family} {mix.part.id} {number.name}"
    return replace(number, name=name, present=lambda _: present, note=lambda _: note, apply=apply), span

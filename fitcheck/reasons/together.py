"""Two changes together: two parts exchanged, or one part and one number, where no single one makes a kit pass.

Few pairs are all tried. Of many those are tried that promise most: what each change alone does to the headroom of each rule is
added up, and what would then still be short says which come first. Whatever is told was tried.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import Part
from fitcheck.engine.variants import Bench, Variant
from fitcheck.reasons.changing import Span
from fitcheck.reasons.intervals import Change, changes_of
from fitcheck.reasons.numbers import Number, numbers_on
from fitcheck.reasons.scan import GRID, FloatArray, Scan
from fitcheck.reasons.shelf import BoolArray, IntArray, Shelf
from fitcheck.reasons.swaps import Swap, in_order, reaching, told_of

BEST = 3  # of either kind told in full
TRIED, MIXED = 1000, 800  # pairs, and parts with a value of a number, at most
EACH = 8  # parts of a family that are best for one rule, where not all are looked at
VALUES = 4  # of a number that are tried with a part
SHARES = 8  # pairs of two families are at most this part of all
ROOM = 0.5  # headroom that is hoped for: what is added up is not exact
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
    goal: int  # the verdict that they reach
    tried: int  # parts with a number, each at some values
    total: int  # of those that reach the goal
    best: tuple[PartAndNumber, ...]


def pairs_of(shelf: Shelf, goals: Sequence[int]) -> Pairs:
    """The pairs that reach the first of the goals that any reaches."""
    fitting = sum(len(first) for first, _ in shelf.pairs)
    chosen = _promising(shelf) if fitting > TRIED else shelf.pairs
    variants = [shelf.variant(*two) for pairs in chosen for two in zip(*map(np.ndarray.tolist, pairs), strict=True)]
    seen = shelf.look(variants)
    goal, found = reaching(seen, goals)
    ordered = [variants[place] for place in in_order(shelf.bench, seen, variants, found)]
    kits = (frozenset((family, part.id) for family, part in variant.parts.items()) for variant in ordered)
    best = told_of(shelf.bench, ordered[:BEST])
    return Pairs(tuple(goals), goal, fitting, len(variants), len(ordered), best, frozenset(kits))


# --- what promises most


def _short(*changes: FloatArray) -> tuple[FloatArray, FloatArray]:
    """By how much all rules together fall short of some room, and of their bounds; headrooms by rule are added up."""
    roomy: FloatArray = np.zeros(())
    bare: FloatArray = np.zeros(())
    for rooms in zip(*changes, strict=True):
        left = sum(rooms)
        roomy, bare = roomy + np.maximum(ROOM - left, 0.0), bare + np.maximum(-left, 0.0)
    return roomy, bare


def _by_turns(roomy: FloatArray, bare: FloatArray) -> IntArray:
    """In which order to try them, along the last axis: the first by either shortfall in turn, since neither is exact."""
    orders = np.lexsort((bare, roomy), axis=-1), np.lexsort((roomy, bare), axis=-1)
    return np.argsort(np.minimum(*(np.argsort(order, axis=-1) for order in orders)), axis=-1, kind="stable")


def _bounded(rooms: FloatArray) -> FloatArray:
    """Headrooms that can be added up; what is not known counts as if it were short."""
    return np.clip(np.where(np.isnan(rooms), -1.0, rooms), -FAR, FAR)


def _own(bench: Bench) -> FloatArray:
    return _bounded(bench.glance([Variant()], fitting=False).rooms)


def _promising(shelf: Shelf) -> list[tuple[IntArray, IntArray]]:
    """Which pairs are tried where there are too many: of any two families a share at most."""
    own, rooms = _own(shelf.bench), _rooms_of_all(shelf)
    found = zip(*(_of_two(*pairs, own, rooms) for pairs in shelf.pairs), strict=True)
    first, second, roomy, bare = map(np.concatenate, found)
    best = _by_turns(roomy, bare)[:TRIED]
    return [(first[best], second[best])]


def _rooms_of_all(shelf: Shelf) -> FloatArray:
    """The headrooms with each part of the shelf; those that fit in only with another are judged as if they did alone."""
    used, rooms = np.zeros(len(shelf.parts), dtype=np.bool_), np.full((len(shelf.bench.ruled), len(shelf.parts)), -FAR)
    for first, second in shelf.pairs:
        used[first] = used[second] = True
    used[shelf.alone] = False
    rest = np.flatnonzero(used)
    rooms[:, shelf.alone] = _bounded(shelf.seen.rooms)
    rooms[:, rest] = _bounded(shelf.bench.glance([shelf.variant(place) for place in rest.tolist()], fitting=False).rooms)
    return rooms


def _of_two(first: IntArray, second: IntArray, own: FloatArray, rooms: FloatArray) -> Iterator[npt.NDArray[Any]]:
    """Of the pairs of two families those that would be least short, and by how much."""
    near = np.flatnonzero(_leads(first, own, rooms)[first] & _leads(second, own, rooms)[second])
    short = _short(rooms[:, first[near]], rooms[:, second[near]] - own)
    best = _by_turns(*short)[: TRIED // SHARES]
    return (each[best] for each in (first[near], second[near], *short))


def _leads(places: IntArray, own: FloatArray, rooms: FloatArray) -> BoolArray:
    """Which of all parts are among those that leave least to mend of some, in all or of a rule that speaks."""
    there, leads = np.zeros((2, rooms.shape[1]), dtype=np.bool_)
    there[places] = True
    some = np.flatnonzero(there)
    leads[some[_by_turns(*_short(rooms[:, some]))[: 2 * EACH]]] = True
    for room in rooms[own[:, 0] < 0.0][:, some]:
        leads[some[np.argsort(-room, kind="stable")[:EACH]]] = True
    return leads


# --- a part and a number


@dataclass(frozen=True)
class _Mix:
    """A part and a value of a number."""

    part: Part
    number: Number
    value: float

    @property
    def which(self) -> tuple[str, str, str]:
        """The part and the number."""
        return self.part.family, self.part.id, self.number.name


def mixed_of(shelf: Shelf, scans: Sequence[Scan], goals: Sequence[int]) -> Mixed:
    """Parts with which some value of a number reaches one of the goals: settings first, then as kits are ranked."""
    mixes = _mixes(shelf, scans)
    variants = [_with_both(_bench_for(shelf.bench, mix), mix.part, mix.number, mix.value) for mix in mixes]
    seen = shelf.look(variants)
    goal, found = reaching(seen, goals)
    ordered = sorted((mixes[row] for row in in_order(shelf.bench, seen, variants, found)), key=lambda mix: not mix.number.fitter)
    distinct = {mix.which: mix for mix in reversed(ordered)}
    best = _intervals(shelf.bench, list(reversed(distinct.values()))[:BEST], goal)
    return Mixed(tuple(goals), goal, len({mix.which for mix in mixes}), len(distinct), tuple(best))


def _mixes(shelf: Shelf, scans: Sequence[Scan]) -> list[_Mix]:
    """Those that promise most of each leading part with each number, a size only of another part, and some values of it."""
    own, rooms = _own(shelf.bench), _bounded(shelf.seen.rooms)
    parts = [shelf.parts[place] for place in shelf.alone.tolist()]
    families = np.array([part.family for part in parts])
    each = [_leads(np.flatnonzero(families == family), own, rooms) for family in dict.fromkeys(families.tolist())]
    leading = np.flatnonzero(np.any(each, axis=0))
    found: list[_Mix] = []
    short: list[FloatArray] = []
    for scan in scans:
        number, values = scan.number, scan.number.grid(scan.span, GRID)
        some = leading if number.fitter else leading[families[leading] != number.family]
        along = _bounded(scan.rooms[:, np.searchsorted(scan.at, values)]) - own
        both = _short(rooms[:, some, None], along[:, None, :])
        best = _by_turns(*both)[:, :VALUES]
        found += [_Mix(parts[place], number, float(values[at])) for place, row in zip(some, best, strict=True) for at in row]
        short.append(np.stack([np.take_along_axis(each, best, axis=1).ravel() for each in both]))
    order: list[int] = _by_turns(*np.concatenate(short, axis=1)).tolist() if short else []
    return [found[at] for at in order[:MIXED]]


def _bench_for(bench: Bench, mix: _Mix) -> Bench:
    """The kit in which the number is put: with the part, if it is one of that part."""
    return _with(bench, mix.part) if mix.number.family == mix.part.family else bench


def _with(bench: Bench, part: Part) -> Bench:
    ids = {family: own.id for family, own in bench.parts.items()}
    return Bench(bench.catalog, bench.profile, bench.job, bench.train, {**ids, part.family: part.id})


def _with_both(bench: Bench, part: Part, number: Number, value: float) -> Variant:
    changed = number.apply(bench, value)
    return Variant({part.family: part, **changed.parts}, changed.setting)


def _intervals(bench: Bench, mixes: Sequence[_Mix], goal: int) -> Iterator[PartAndNumber]:
    """The interval of each number in the kit with the part, sought as if it were one of the kit itself."""
    sought = [(mix, one) for mix in mixes if (one := _as_own(_with(bench, mix.part), mix))]
    found = {change.number.name: change for change in changes_of(bench, [one for _, one in sought]).found}
    for mix, (number, _) in sought:
        change = found.get(number.name)
        if change and change.goal <= goal:
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

    name = " ".join(mix.which)
    return replace(number, name=name, present=lambda _: present, note=lambda _: note, apply=apply), span

"""What does a change of the catalog change? Kits that come, go and flip, best kits, vehicles won and lost, parts outdone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from heapq import nsmallest

import numpy as np

from fitcheck.catalog.parts import Catalog
from fitcheck.changes.overlay import Change, Entry, Key
from fitcheck.engine.counting import count
from fitcheck.engine.legality import TRAINS
from fitcheck.engine.ranking import preference_key, steps
from fitcheck.engine.result import Group, KitTable, Result
from fitcheck.engine.screening import screen
from fitcheck.engine.states import PASS
from fitcheck.engine.touched import Ids, Side, carried, replaced, slices, without
from fitcheck.inputs import Inputs, Progress
from fitcheck.job import Job
from fitcheck.profile import Profile

Counts = tuple[int, int, int]  # pass, caution, reject
NONE: Counts = (0, 0, 0)
NAMED = 20  # flipped kits that are named for each way of flipping; all are counted


@dataclass(frozen=True)
class Standing:
    """The best kit of an application and train that is not rejected."""

    kit: str
    verdict: int
    headroom: float
    limiting_rule: str


@dataclass(frozen=True)
class Flip:
    """A kit that is legal before and after, with another verdict."""

    kit: str
    before: int
    after: int
    rules: tuple[str, ...]  # what makes the worse of the two verdicts: rules that reject or, if none does, that caution


@dataclass(frozen=True)
class GroupImpact:
    """What changes for one application and train."""

    added: Counts = NONE  # legal kits that were not legal, by verdict
    lost: Counts = NONE  # legal kits that are so no more, by the verdict that they had
    kept: int = 0  # kits that hold a changed entry and are legal before and after, flipped or not
    flips: Mapping[tuple[int, int], int] = field(default_factory=dict)  # (before, after) -> kits
    flipped_by: Mapping[tuple[int, int, str], int] = field(default_factory=dict)  # the same by rule; a kit may count for several
    best_before: Standing | None = None
    best_after: Standing | None = None


@dataclass(frozen=True)
class Bettered:
    """An old part and a new or changed one that is now at least as good wherever the old one is legal."""

    family: str
    old: str
    by: str


@dataclass(frozen=True)
class Impact:
    """All that a change of the catalog changes; groups in which nothing changes are left out."""

    entries: tuple[Entry, ...]
    groups: Mapping[Group, GroupImpact]
    flips: tuple[Flip, ...]  # by name, the first of each kind
    gained: tuple[str, ...]  # applications that get their first passing kit
    missed: tuple[str, ...]  # applications that lose their last
    bettered: tuple[Bettered, ...]
    judged: int  # kits that hold an entry of the change, before and after
    beside: int  # kits without any, judged once to know which kit is best and whether anything passes


def impact(change: Change, progress: Progress | None = None) -> Impact:
    """The difference that a change makes, from the kits that hold an entry which is new, changed or removed.

    No other kit can change. They are looked at in two cases only. The best kit and the first passing one of an
    application may be among them: they are judged once where a touched kit could stand before or after them. And whether an
    existing part is **bettered on every count** is asked of its kits, whatever else these hold: a new or changed part betters
    it if every legal kit with the old part has a legal sibling, the same kit with the new part in its place, that is at
    least as good in its verdict and in every preference of the job, and one sibling is truly better in one of them; and if
    this was not so before. A value that is missing is worse than any.

    `progress` is told how many kits are judged, and how many may have to be.
    """
    meter = _Meter(progress)
    before, after, shared = (_Half(inputs, meter) for inputs in (change.before, change.after, change.before))
    old = _touched(change.entries, before, ("removed", "changed", "left out"))
    new = _touched(change.entries, after, ("new", "changed", "left out"))
    there = _kept_ids(change.entries, old, after.inputs.catalog)
    gone = {family: ids - there.get(family, frozenset()) for family, ids in old.items()}
    others = without(before.inputs.job, old)
    twice = list(slices(without(before.inputs.job, gone), there))
    if progress:
        meter.total = before.size([*slices(before.inputs.job, old), others, *twice]) + after.size(slices(after.inputs.job, new))
    for half, touched in ((before, old), (after, new)):
        half.judge(slices(half.inputs.job, touched))
    alive = {group[0] for half in (before, after) for group, best in half.best.items() if best}
    if alive - old.get("application", frozenset()):
        shared.judge([_of(others, alive)])
    kept = _Kept(meter)
    sides = Side(*before.asked), Side(*after.asked)
    for job in twice:
        kept.compare(*sides, job)
    groups = _groups(before, after, shared, kept)
    passing = [_passing(half.verdicts, shared.verdicts) for half in (before, after)]
    names = sorted(alive)
    return Impact(
        change.entries,
        groups,
        kept.named(),
        tuple(name for name in names if passing[1].get(name) and not passing[0].get(name)),
        tuple(name for name in names if passing[0].get(name) and not passing[1].get(name)),
        tuple(_bettered(change, *sides)),
        before.judged + after.judged,
        shared.judged,
    )


# --- what is touched


def _touched(entries: Iterable[Entry], half: _Half, hows: Collection[str]) -> Ids:
    """Entries of the change by family, as this catalog has them; an old linkage touches the vehicles that name it."""
    catalog = half.inputs.catalog
    found: dict[str, set[str]] = {}
    linkages = {entry.id for entry in entries if entry.family == "linkage" and entry.how != "unchanged"}
    for entry in entries:
        if entry.how in hows and catalog.part(entry.family, entry.id) is not None:
            found.setdefault(entry.family, set()).add(entry.id)
    found.pop("linkage", None)
    for part in catalog.families["application"]:
        if part.values.get("linkage") in linkages:
            found.setdefault("application", set()).add(part.id)
    return {family: frozenset(ids) for family, ids in found.items()}


def _kept_ids(entries: Iterable[Entry], old: Ids, after: Catalog) -> Ids:
    """The touched parts that both catalogs have."""
    found = {family: frozenset(name for name in ids if after.part(family, name)) for family, ids in old.items()}
    return {family: ids for family, ids in found.items() if ids}


def _of(job: Job, applications: Collection[str]) -> Job:
    """The job for some applications only."""
    wanted = set(applications) & set(job.only.get("application", applications))
    return replace(job, only={**job.only, "application": tuple(sorted(wanted))})


# --- one side


@dataclass
class _Meter:
    """How many kits are judged, of all that may have to be."""

    progress: Progress | None
    total: int = 0
    done: int = 0

    def add(self, kits: int) -> None:
        """Some more are judged."""
        self.done += kits
        if self.progress:
            self.progress(self.done, max(self.done, self.total))

    def follow(self) -> Progress | None:
        """What a screening is to call: it counts from its own start."""
        start = self.done
        return (lambda done, _: self.add(start + done - self.done)) if self.progress else None


class _Half:
    """What is counted and best among some kits of one catalog."""

    def __init__(self, inputs: Inputs, meter: _Meter) -> None:
        self.inputs = inputs
        self.meter = meter
        self.verdicts: dict[Group, Counts] = {}
        self.best: dict[Group, list[tuple[tuple[object, ...], Standing]]] = {}
        self.judged = 0

    @property
    def asked(self) -> tuple[Catalog, Profile, Job]:
        """What its kits are judged by."""
        return self.inputs.catalog, self.inputs.profile, self.inputs.job

    def size(self, jobs: Iterable[Job]) -> int:
        """How many legal kits some jobs have."""
        catalog, profile, _ = self.asked
        return sum(sum(count(catalog, profile, job).values()) for job in jobs)

    def judge(self, jobs: Iterable[Job]) -> None:
        """Count and rank the kits of some jobs; only the best one of each group is kept."""
        catalog, profile, _ = self.asked
        for job in jobs:
            result = screen(catalog, profile, replace(job, best=1, row_limit=0), progress=self.meter.follow())
            self.judged += sum(result.legal.values())
            for group, counts in result.verdicts.items():
                self.verdicts[group] = _sum(self.verdicts.get(group, NONE), counts)
                self.best.setdefault(group, []).extend(_standing(result, group))


def _standing(result: Result, group: Group) -> Iterator[tuple[tuple[object, ...], Standing]]:
    """The first kit of a group with the keys that kits are ranked by."""
    table = result.best[group]
    if len(table):
        verdict, headroom = int(table.verdict[0]), float(table.headroom[0])
        yield (
            (*_keys(table, result.profile, result.job), table.kit[0]),
            Standing(table.kit[0], verdict, headroom, table.limiting_rule[0]),
        )


def _keys(table: KitTable, profile: Profile, job: Job) -> tuple[float, ...]:
    wishes = [preference_key(wish, table.metrics[wish.metric][:1], table.states[wish.metric][:1]) for wish in job.prefer]
    level = steps(table.headroom[:1], profile.headroom_enough, profile.headroom_step)
    return (float(table.verdict[0]), -float(level[0]), *(float(wish[0]) for wish in wishes))


def _sum(first: Sequence[int], second: Sequence[int], sign: int = 1) -> Counts:
    a, b, c = (one + sign * other for one, other in zip(first, second, strict=True))
    return a, b, c


def _passing(*counted: Mapping[Group, Counts]) -> dict[str, int]:
    """Passing kits by application."""
    found: Counter[str] = Counter()
    for verdicts in counted:
        for (application, _), counts in verdicts.items():
            found[application] += counts[PASS]
    return found


# --- kits on both sides


@dataclass
class _Kept:
    """Kits that hold a changed entry and are legal before and after, by application, train and both verdicts."""

    meter: _Meter
    counts: dict[Group, Counter[tuple[int, int]]] = field(default_factory=dict)
    rules: dict[Group, Counter[tuple[int, int, str]]] = field(default_factory=dict)
    flips: dict[tuple[int, int], list[Flip]] = field(default_factory=dict)

    def compare(self, before: Side, after: Side, job: Job) -> None:
        """Judge the kits of a job in both catalogs, one against the other."""
        for train, old, new in carried(before, after, job):
            was, now = before.verdicts(old), after.verdicts(new)
            self.meter.add(len(old))
            group = (before.catalog.families["application"][old.parts[0, 0]].id, train)
            self.counts.setdefault(group, Counter()).update(zip(was.tolist(), now.tolist(), strict=True))
            for side, rows, here in ((before, old, was > now), (after, new, was < now)):
                flat = np.flatnonzero(here)
                if len(flat):
                    some = rows.take(flat)
                    names, blamed = side.names(train, some), side.blamed(some)
                    self._note(group, map(Flip, names, was[flat].tolist(), now[flat].tolist(), blamed))

    def _note(self, group: Group, flips: Iterable[Flip]) -> None:
        for flip in flips:
            self.flips.setdefault((flip.before, flip.after), []).append(flip)
            self.rules.setdefault(group, Counter()).update((flip.before, flip.after, rule) for rule in flip.rules)
        self.flips = {way: nsmallest(NAMED, some, key=lambda flip: flip.kit) for way, some in self.flips.items()}

    def named(self) -> tuple[Flip, ...]:
        """The flips that are named, kind by kind."""
        return tuple(flip for _, some in sorted(self.flips.items()) for flip in some)


def _groups(before: _Half, after: _Half, shared: _Half, kept: _Kept) -> dict[Group, GroupImpact]:
    """Groups in which something changes."""
    found = {}
    for group in sorted({*before.verdicts, *after.verdicts}):
        both = kept.counts.get(group, Counter())
        was = [sum(count for (old, _), count in both.items() if old == code) for code in range(3)]
        now = [sum(count for (_, new), count in both.items() if new == code) for code in range(3)]
        made = GroupImpact(
            _sum(after.verdicts.get(group, NONE), now, -1),
            _sum(before.verdicts.get(group, NONE), was, -1),
            sum(both.values()),
            {way: count for way, count in sorted(both.items()) if way[0] != way[1]},
            dict(sorted(kept.rules.get(group, Counter()).items())),
            *(_best(half.best.get(group, []) + shared.best.get(group, [])) for half in (before, after)),
        )
        if any(made.added) or any(made.lost) or made.kept:
            found[group] = made
    return found


def _best(found: Iterable[tuple[tuple[object, ...], Standing]]) -> Standing | None:
    return min(found, key=lambda pair: pair[0], default=((), None))[1]


# --- parts outdone


def _bettered(change: Change, before: Side, after: Side) -> Iterator[Bettered]:
    """Old parts that a new or changed one now betters on every count and did not before."""
    job = change.after.job
    fresh: dict[str, list[str]] = {}
    for entry in change.entries:
        if entry.how in ("new", "changed") and entry.family in FAMILIES_OF_CHOICE and _permitted(job, entry.family, entry.id):
            fresh.setdefault(entry.family, []).append(entry.id)
    for family, news in fresh.items():
        for part in before.catalog.families[family]:
            if _permitted(job, family, part.id) and after.catalog.part(family, part.id):
                now = outdone_by(after, job, (family, part.id), [name for name in news if name != part.id])
                were = [name for name in now if before.catalog.part(family, name)]
                earlier = outdone_by(before, job, (family, part.id), were) if were else []
                yield from (Bettered(family, part.id, name) for name in now if name not in earlier)


FAMILIES_OF_CHOICE = frozenset(family for families in TRAINS.values() for family in families) - {"application"}


def _permitted(job: Job, family: str, identifier: str) -> bool:
    """Whether the job leaves a part in play."""
    return identifier in job.only.get(family, (identifier,)) and identifier not in job.leave_out.get(family, ())


def outdone_by(side: Side, job: Job, old: Key, others: Sequence[str]) -> list[str]:
    """Which of some parts better another one of their family on every count; looks no further than the first that is worse."""
    family, identifier = old
    ids = [part.id for part in side.catalog.families[family]]
    left, better = list(others), set()
    for train, rows in side.rows(next(slices(job, {family: frozenset({identifier})}), replace(job, trains=()))):
        if not left:
            break
        mine = side.keys(rows)
        for name in tuple(left):
            sibling = replaced(train, rows, family, ids.index(name))
            theirs = side.keys(sibling) if side.legal(train, sibling).all() else None
            if theirs is None or (theirs > mine).any():
                left.remove(name)
            elif (theirs < mine).any():
                better.add(name)
    return [name for name in left if name in better]

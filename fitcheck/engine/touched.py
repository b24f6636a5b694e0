"""Kits that hold one of some parts: as jobs of their own, and carried over from one catalog to another.

Kits do not influence each other's numbers, so that a change of some entries changes nothing but the kits that hold them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import Catalog
from fitcheck.engine.columns import Context
from fitcheck.engine.evaluate import Tile, Values, evaluate
from fitcheck.engine.interfaces import interfaces
from fitcheck.engine.legality import TRAINS, Legality
from fitcheck.engine.listing import plain_tiles
from fitcheck.engine.ranking import LONGEST, TRAIN_WORDS, IntArray, Rows, preference_key
from fitcheck.engine.states import ABSENT, VALUE
from fitcheck.engine.tiling import tiles
from fitcheck.engine.trains import may_fail
from fitcheck.engine.verdict import Judgement, applicable, explain, judge
from fitcheck.job import Job, Preference
from fitcheck.profile import Profile, Rule

BoolArray = npt.NDArray[np.bool_]
FloatArray = npt.NDArray[np.float64]
Ids = Mapping[str, frozenset[str]]  # family -> ids

CELLS = 8192  # kits looked at together: all their families lie on one axis, and one bad kit may end the question


def slices(job: Job, touched: Ids) -> Iterator[Job]:
    """Jobs that together ask for exactly those kits of `job` that hold a touched part, each kit in one job only."""
    out = dict(job.leave_out)
    for family, ids in touched.items():
        trains = tuple(train for train in job.trains if family in TRAINS[train])
        wanted = ids & set(job.only.get(family, ids))
        if trains and wanted:
            only = {**job.only, family: tuple(sorted(wanted))}
            yield replace(job, trains=trains, only=only, leave_out=dict(out))
        out[family] = (*out.get(family, ()), *sorted(ids))


def without(job: Job, touched: Ids) -> Job:
    """The job that asks for all other kits."""
    out = {family: (*job.leave_out.get(family, ()), *sorted(ids)) for family, ids in touched.items()}
    return replace(job, leave_out={**job.leave_out, **out})


@dataclass(frozen=True)
class _Judged:
    """Some kits of one application evaluated, with their places among all that were asked about."""

    places: IntArray
    values: Values
    rules: tuple[Rule, ...]
    judgement: Judgement


class Side:
    """One catalog under the profile: its kits judged as plain rows, one after the other."""

    def __init__(self, catalog: Catalog, profile: Profile, job: Job) -> None:
        """Make columns and fits ready."""
        self.catalog, self.profile, self.job = catalog, profile, job
        self._context = Context(catalog, profile, job)
        ready = interfaces(catalog, profile)
        self._fits = {train: [fit for fit in ready if set(fit.families) <= set(families)] for train, families in TRAINS.items()}

    def rows(self, job: Job) -> Iterator[tuple[str, Rows]]:
        """The legal kits of a job on this catalog, by train, some at a time and of one application each."""
        legality = Legality(self.catalog, self.profile, job)
        for application, train in legality.groups():
            for tile in tiles(legality.blocks(application, train), CELLS, self._context.bent_pedals):
                yield train, _rows_of(tile)

    def legal(self, train: str, rows: Rows) -> BoolArray:
        """Whether kits of this catalog's parts meet every fit; what a job leaves out is not asked."""
        index = {family: rows.parts[:, place] for place, family in enumerate(TRAINS[train])}
        held = [np.broadcast_to(fit.holds(index), len(rows)) for fit in self._fits[train]]
        return reduce(np.logical_and, held, np.ones(len(rows), dtype=np.bool_))

    def verdicts(self, rows: Rows) -> npt.NDArray[np.uint8]:
        """Their verdicts."""
        found = np.zeros(len(rows), dtype=np.uint8)
        for some in self._judged(rows):
            found[some.places] = some.judgement.verdict
        return found

    def keys(self, rows: Rows) -> FloatArray:
        """Verdict and the job's preferences of each kit, a column a kit; smaller is better."""
        found = np.zeros((1 + len(self.job.prefer), len(rows)))
        for some in self._judged(rows):
            found[0, some.places] = some.judgement.verdict
            for row, wish in enumerate(self.job.prefer, start=1):
                found[row, some.places] = _preferred(some.values, wish, len(some.places))
        return found

    def blamed(self, rows: Rows) -> list[tuple[str, ...]]:
        """The rules that make each kit's verdict what it is: those that reject, or else those that caution."""
        found: list[tuple[str, ...]] = [()] * len(rows)
        for some in self._judged(rows):
            reasons = explain(some.values, some.rules, some.judgement).reasons
            for place, why in zip(some.places.tolist(), reasons, strict=True):
                worst = "reject" if any(reason.severity == "reject" for reason in why) else "caution"
                found[place] = tuple(sorted({reason.rule for reason in why if reason.severity == worst}))
        return found

    def names(self, train: str, rows: Rows) -> list[str]:
        """The names of kits."""
        columns = [[self.catalog.families[family][row].id for row in rows.parts[:, place].tolist()]
                   for place, family in enumerate(TRAINS[train])]  # fmt: skip
        return ["+".join(ids) for ids in zip(*columns, strict=True)]

    def _judged(self, rows: Rows) -> Iterator[_Judged]:
        prefer = {wish.metric for wish in self.job.prefer}
        for tile, places in plain_tiles(self._context, rows):
            application = self.catalog.families["application"][tile.application].id
            rules = applicable(self.profile, application, tile.train)
            values = evaluate(self._context, tile, {rule.metric for rule in rules} | prefer | may_fail())
            yield _Judged(places, values, rules, judge(values, rules, (len(places),)))


def carried(before: Side, after: Side, job: Job) -> Iterator[tuple[str, Rows, Rows]]:
    """Kits of a job that are legal on both sides: their train, and the same kits as rows of each catalog."""
    moves = {
        family: np.array([_place(after.catalog, family, part.id) for part in parts], dtype=np.int32)
        for family, parts in before.catalog.families.items()
    }
    for train, rows in before.rows(job):
        moved = rows.parts.copy()
        for place, family in enumerate(TRAINS[train]):
            moved[:, place] = moves[family][rows.parts[:, place]]
        there = np.flatnonzero((moved[:, : len(TRAINS[train])] >= 0).all(axis=1))
        old, new = rows.take(there), Rows(rows.keys, rows.train, moved).take(there)
        both = np.flatnonzero(after.legal(train, new))
        if len(both):
            yield train, old.take(both), new.take(both)


def replaced(train: str, rows: Rows, family: str, row: int) -> Rows:
    """The same kits with another part of a family."""
    parts = rows.parts.copy()
    parts[:, TRAINS[train].index(family)] = row
    return Rows(rows.keys, rows.train, parts)


def _place(catalog: Catalog, family: str, identifier: str) -> int:
    return next((row for row, part in enumerate(catalog.families.get(family, ())) if part.id == identifier), -1)


def _rows_of(tile: Tile) -> Rows:
    """Every kit of a tile."""
    size = int(np.prod(tile.shape))
    places = np.unravel_index(np.arange(size), tile.shape)
    fixed = {"application": tile.application, "pressure_plate": tile.cover}
    parts = np.full((size, LONGEST), -1, dtype=np.int32)
    for place, family in enumerate(TRAINS[tile.train]):
        parts[:, place] = fixed[family] if family in fixed else tile.rows[family][places[tile.axis[family]]]
    return Rows(np.zeros((0, size)), np.full(size, TRAIN_WORDS.index(tile.train), dtype=np.int8), parts)


def _preferred(values: Values, wish: Preference, size: int) -> FloatArray:
    """A preference's key, kit by kit; a metric that this train has not counts as missing."""
    if wish.metric not in values.names:
        return preference_key(wish, np.full(size, np.nan), np.full(size, ABSENT, dtype=np.uint8))
    state = values.state(wish.metric)
    known = np.full(size, VALUE, dtype=np.uint8) if state is None else np.broadcast_to(state, size)
    return preference_key(wish, np.broadcast_to(values.number(wish.metric), size), known)

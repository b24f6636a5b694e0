"""In what order kits stand: verdict, stepped headroom, the job's preferences, name; and the best of very many of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import Catalog
from fitcheck.engine.legality import TRAINS
from fitcheck.engine.states import PASS, VALUE
from fitcheck.engine.table import METRICS
from fitcheck.engine.verdict import Judgement, Shape, Values
from fitcheck.job import Preference
from fitcheck.quantities import to_unit

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.intp]
Key = Callable[[IntArray], npt.NDArray[Any]]  # what some kits are sorted by, smaller first; never not-a-number

HAIR = 1e-9  # added before headroom is rounded down, so that a full step counts as one
LONGEST = max(len(families) for families in TRAINS.values())
TRAIN_WORDS = tuple(TRAINS)
_LAST = np.finfo(np.float64).max  # behind every number, before a value that is missing


def steps(headroom: FloatArray, enough: float, step: float) -> FloatArray:
    """Headroom in whole steps, rounded down, no more than is enough: differences below a step leave room to preferences."""
    return np.floor((np.minimum(headroom, enough) + HAIR) / step)


def as_written(values: FloatArray, unit: str) -> FloatArray:
    """SI values as files carry them, in the unit shown with 12 significant digits."""
    shown = np.asarray(to_unit(values, unit))
    with np.errstate(all="ignore"):
        scale = 10.0 ** (11 - np.floor(np.log10(np.abs(shown))))
        rounded = np.rint(shown * scale) / scale
    return np.where(np.isfinite(rounded), rounded, shown)


def preference_key(preference: Preference, values: FloatArray, states: npt.NDArray[np.uint8]) -> FloatArray:
    """A key by which the preferred value comes first and a value that is missing comes last."""
    written = as_written(values, METRICS[preference.metric].unit)
    signed = written if preference.direction == "least" else -written
    return np.where((states == VALUE) & ~np.isnan(signed), np.minimum(signed, _LAST), np.inf)


def unbeaten(verdict: npt.NDArray[np.uint8], keys: Sequence[FloatArray]) -> npt.NDArray[np.bool_]:
    """Passing kits that no other passing kit equals on all preferences and betters on one.

    In sorted order only an earlier kit can better a later one, and it is enough to ask those that are unbeaten themselves.
    """
    passing = np.asarray(verdict == PASS)
    if not keys or not passing.any():
        return passing
    distinct, place = np.unique(np.stack(keys, axis=1)[passing], axis=0, return_inverse=True)
    front: list[int] = []
    for row, wanted in enumerate(distinct):
        if not (distinct[front] <= wanted).all(axis=1).any():
            front.append(row)
    marks = np.zeros(len(verdict), dtype=np.bool_)
    marks[passing] = np.isin(place.ravel(), front)
    return marks


# --- names


class Names:
    """Kit names as numbers that sort like them: ids joined by `+`, which sorts before every character of an id."""

    def __init__(self, catalog: Catalog) -> None:
        """Number all ids of the catalog in their order."""
        known = sorted({part.id for parts in catalog.families.values() for part in parts})
        place = {identifier: rank for rank, identifier in enumerate(known, start=1)}  # 0 is the end of a name
        self._rank = {
            family: np.array([place[part.id] for part in parts], dtype=np.int64) for family, parts in catalog.families.items()
        }
        self._bits = max(1, len(known).bit_length())

    def keys(self, train: npt.NDArray[np.int8], parts: npt.NDArray[np.int32]) -> list[npt.NDArray[np.int64]]:
        """The keys of some kits, several ids packed into a number."""
        ranks = np.zeros((len(train), LONGEST), dtype=np.int64)
        for code, word in enumerate(TRAIN_WORDS):
            here = train == code
            for place, family in enumerate(TRAINS[word]):
                ranks[here, place] = self._rank[family][parts[here, place]] if here.any() else 0
        together = 62 // self._bits
        return [self._packed(ranks[:, start : start + together]) for start in range(0, LONGEST, together)]

    def _packed(self, ranks: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        packed = np.zeros(len(ranks), dtype=np.int64)
        for column in ranks.T:
            packed = (packed << self._bits) | column
        return packed


# --- kits on their way through


@dataclass(frozen=True)
class Rows:
    """Kits kept from tiles: their keys but the name, and their parts by place in the family order of their train."""

    keys: FloatArray  # (keys, kits): verdict, steps of headroom, preferences
    train: npt.NDArray[np.int8]
    parts: npt.NDArray[np.int32]  # (kits, places)

    def __len__(self) -> int:
        """How many kits."""
        return len(self.train)

    def take(self, rows: IntArray) -> Rows:
        """Some of them."""
        return Rows(self.keys[:, rows], self.train[rows], self.parts[rows])

    @staticmethod
    def joined(several: Sequence[Rows]) -> Rows:
        """All of them, one after the other."""
        keys = np.concatenate([rows.keys for rows in several], axis=1)
        return Rows(keys, np.concatenate([rows.train for rows in several]), np.concatenate([rows.parts for rows in several]))


@dataclass(frozen=True)
class Crowd:
    """The kits of one tile, looked at only as far as the ranking needs it."""

    train: str
    fixed: Mapping[str, int]  # application and cover
    rows: Mapping[str, IntArray]  # every other family
    axis: Mapping[str, int]
    shape: Shape
    values: Values
    judgement: Judgement
    prefer: tuple[Preference, ...]
    enough: float
    step: float

    @cached_property
    def keys(self) -> list[Key]:
        """Verdict, steps of headroom and preferences of kits by their flat place in the tile."""
        verdict, headroom = self.judgement.verdict.ravel(), self.judgement.headroom.ravel()
        firsts: list[Key] = [lambda rows: verdict[rows], lambda rows: -steps(headroom[rows], self.enough, self.step)]
        return firsts + [self._preferred(preference) for preference in self.prefer]

    def _preferred(self, preference: Preference) -> Key:
        if preference.metric not in self.values.names:
            return lambda rows: np.full(len(rows), np.inf)
        number, state = self.values.number(preference.metric), self.values.state(preference.metric)
        known = np.array(VALUE, dtype=np.uint8) if state is None else state
        return lambda rows: preference_key(preference, self._at(number, rows), self._at(known, rows))

    def _at(self, array: npt.NDArray[Any], rows: IntArray) -> npt.NDArray[Any]:
        """An array on its own axes at flat places of the tile."""
        if array.shape == self.shape:
            return array.reshape(-1)[rows]
        places = np.unravel_index(rows, self.shape)[len(self.shape) - array.ndim :]
        picked: npt.NDArray[Any] = array[tuple(0 if size == 1 else at for size, at in zip(array.shape, places, strict=True))]
        return np.broadcast_to(picked, rows.shape)

    def hopeful(self, worst: Sequence[float] | None) -> IntArray:
        """Kits that are not behind `worst` by verdict and headroom alone, the cheap look."""
        if worst is None:
            return np.arange(self.judgement.verdict.size)
        verdict, headroom = self.judgement.verdict, self.judgement.headroom
        level = headroom >= -worst[1] * self.step - 2 * HAIR
        return np.flatnonzero((verdict < worst[0]) | ((verdict == worst[0]) & level))

    def take(self, rows: IntArray) -> Rows:
        """Those kits, to keep."""
        places = np.unravel_index(rows, self.shape)
        parts = np.full((len(rows), LONGEST), -1, dtype=np.int32)
        for place, family in enumerate(TRAINS[self.train]):
            fixed = self.fixed.get(family)
            parts[:, place] = self.rows[family][places[self.axis[family]]] if fixed is None else fixed
        keys = np.stack([np.asarray(key(rows), dtype=np.float64) for key in self.keys])
        return Rows(keys, np.full(len(rows), TRAIN_WORDS.index(self.train), dtype=np.int8), parts)


class Best:
    """The best kits of all that were offered, exactly, in memory that depends on how many are wanted and not on how many come."""

    def __init__(self, capacity: int, names: Names, kept: Rows | None = None) -> None:
        """Keep at most so many; `kept` are the best of what was offered before."""
        self._capacity = capacity
        self._names = names
        self._waiting = [] if kept is None else [kept]
        self._worst: list[float] | None = None  # keys, but the name, of the last kit kept; None while there is room

    def offer(self, crowd: Crowd) -> None:
        """Take from a tile what may be among the best."""
        rows = crowd.hopeful(self._worst) if self._capacity else np.arange(0)
        if self._worst is not None:
            rows = not_behind(crowd.keys, rows, self._worst)
        if not len(rows):
            return
        rows = leading(crowd.keys, rows, self._capacity)
        self._waiting.append(crowd.take(rows))
        if sum(map(len, self._waiting)) > 2 * self._capacity + 10_000:
            self._prune()

    def rows(self) -> Rows | None:
        """The best, in order; None where nothing was offered."""
        if not self._waiting:
            return None
        self._prune()
        return self._waiting[0]

    def _prune(self) -> None:
        all_of_them = Rows.joined(self._waiting)
        keys = [*all_of_them.keys, *self._names.keys(all_of_them.train, all_of_them.parts)]
        best = leading([key.__getitem__ for key in keys], np.arange(len(all_of_them)), self._capacity)
        best = best[np.lexsort([key[best] for key in reversed(keys)])]
        self._waiting = [all_of_them.take(best)]
        if len(best) == self._capacity:
            self._worst = self._waiting[0].keys[:, -1].tolist()


def not_behind(keys: Iterable[Key], rows: IntArray, worst: Sequence[float]) -> IntArray:
    """Rows that do not sort behind those keys."""
    ahead = []
    for key, bar in zip(keys, worst, strict=True):
        values = key(rows)
        ahead.append(rows[values < bar])
        rows = rows[values == bar]
    return np.concatenate([*ahead, rows])


def leading(keys: Iterable[Key], rows: IntArray, capacity: int) -> IntArray:
    """The first `capacity` rows by the keys in turn, in no order, and all that are equal to the last of them.

    Each key is asked only about rows that the keys before it leave equal.
    """
    chosen = []
    for key in keys:
        if len(rows) <= capacity:
            break
        values = key(rows)
        cut = np.partition(values, capacity - 1)[capacity - 1]
        chosen.append(rows[values < cut])
        capacity -= len(chosen[-1])
        rows = rows[values == cut]
    return np.concatenate([*chosen, rows])


def shares(limit: int, wanted: Sequence[int]) -> list[int]:
    """Divide `limit` rows evenly, none more than it wants; what is left over goes to the first ones."""
    given = [0] * len(wanted)
    while True:
        hungry = [place for place, want in enumerate(wanted) if given[place] < want]
        if not hungry or limit <= 0:
            return given
        each = max(1, limit // len(hungry))
        for place in hungry:
            more = min(each, wanted[place] - given[place], limit)
            given[place] += more
            limit -= more

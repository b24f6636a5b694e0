"""Which kits are legal: the product of the families, cut by the fits into Cartesian blocks, never enumerated."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import reduce
from itertools import product
from math import prod

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import FAMILIES, Catalog
from fitcheck.catalog.parts import TRAINS as TRAINS  # told to those who ask what is legal
from fitcheck.engine.interfaces import BoolArray, Interface, field_value, interfaces
from fitcheck.job import Job
from fitcheck.profile import Profile

Rows = npt.NDArray[np.intp]  # positions of parts in their family, rising
Pair = tuple[str, str]
Product = Mapping[str, Rows]  # any part of each family may stand with any of the others

REMEMBERED = 64  # solved parts of a graph that are kept: neighbouring covers often share them


@dataclass(frozen=True)
class Block:
    """Legal kits of one application, cover and train: every combination of `rows` is legal."""

    application: int
    cover: int
    train: str
    rest: str  # where the slave rests: `contact` or `bottomed`
    rows: Product  # every other family of the train

    @property
    def size(self) -> int:
        """How many kits."""
        return prod(len(rows) for rows in self.rows.values())


@dataclass(frozen=True)
class Space:
    """One application and cover: the parts that meet both, and which parts of two other families meet each other."""

    application: int
    cover: int
    train: str
    rows: Product
    meets: Mapping[Pair, BoolArray]  # over all parts of both families, not only `rows`
    names: Mapping[Pair, object]  # equal names, equal matrices


class Legality:
    """The fits of a profile on a catalog, as far as a job asks for them."""

    def __init__(self, catalog: Catalog, profile: Profile, job: Job, ready: tuple[Interface, ...] | None = None) -> None:
        """Make the fits ready, unless they are; raises InputError where one cannot be asked."""
        self.catalog, self.profile, self.job = catalog, profile, job
        self.interfaces = interfaces(catalog, profile) if ready is None else ready
        self.permitted = {family: _permitted(catalog, job, family) for family in FAMILIES}
        self.trains = tuple(train for train in TRAINS if train in job.trains)
        self._unary: dict[str, list[tuple[str, Interface]]] = {}  # train -> (family or "", fit)
        self._paired: dict[str, dict[Pair, list[Interface]]] = {}
        for train in self.trains:
            self._sort(train, [fit for fit in self.interfaces if set(fit.families) <= set(TRAINS[train])])
        self._matrices: dict[object, BoolArray] = {}
        self._counts: dict[object, int] = {}
        self._products: dict[object, list[dict[str, Rows]]] = {}

    def _sort(self, train: str, ready: list[Interface]) -> None:
        """Part the fits of a train by how many families they hold against each other, application and cover known."""
        unary, paired = self._unary.setdefault(train, []), self._paired.setdefault(train, {})
        for interface in ready:
            free = [family for family in _inner(train) if family in interface.families]
            if len(free) == 2:
                paired.setdefault((free[0], free[1]), []).append(interface)
            else:
                unary.append((free[0] if free else "", interface))

    def under(self, fits: Collection[str]) -> Legality:
        """The same with some of the fits only."""
        return Legality(self.catalog, self.profile, self.job, tuple(one for one in self.interfaces if one.fit.name in fits))

    def asked(self, job: Job) -> Legality:
        """The same as far as another job asks."""
        return Legality(self.catalog, self.profile, job, self.interfaces)

    def groups(self) -> tuple[tuple[int, str], ...]:
        """Every application and train that the job asks for, in order of application id."""
        chosen = np.flatnonzero(self.permitted["application"]).tolist()
        return tuple((application, train) for application in chosen for train in self.trains)

    def spaces(self, application: int, train: str) -> Iterator[Space]:
        """What is left of each cover once every family is held against it and the application; empty ones left out."""
        covers = np.flatnonzero(self.permitted["pressure_plate"])
        masks = self._masks(application, train, covers)
        alive = reduce(np.logical_and, (mask.any(axis=1) for mask in masks.values()))
        for row in np.flatnonzero(alive).tolist():
            rows = {family: np.flatnonzero(masks[family][row]) for family in _inner(train)}
            yield self._space(application, int(covers[row]), train, rows)

    def _masks(self, application: int, train: str, covers: Rows) -> dict[str, BoolArray]:
        """For each family, and for `` the cover itself: an array over (covers, parts)."""
        masks = {family: np.tile(self.permitted[family], (len(covers), 1)) for family in _inner(train)}
        masks[""] = np.ones((len(covers), 1), dtype=np.bool_)
        for family, interface in self._unary[train]:
            parts = np.arange(masks[family].shape[1])[None, :]
            masks[family] &= interface.holds({"application": application, "pressure_plate": covers[:, None], family: parts})
        return masks

    def _space(self, application: int, cover: int, train: str, rows: Product) -> Space:
        names, meets = {}, {}
        for pair, fits in self._paired[train].items():
            involved = {family for fit in fits for family in fit.families}
            fixed = {"application": application, "pressure_plate": cover}
            names[pair] = (train, pair, *(place for family, place in fixed.items() if family in involved))
            meets[pair] = self._matrix(names[pair], pair, fits, fixed)
        return Space(application, cover, train, rows, meets, names)

    def _matrix(self, name: object, pair: Pair, fits: list[Interface], fixed: Mapping[str, int]) -> BoolArray:
        if name not in self._matrices:
            first, second = (np.arange(len(self.permitted[family])) for family in pair)
            index = {**fixed, pair[0]: first[:, None], pair[1]: second[None, :]}
            self._matrices[name] = reduce(np.logical_and, (fit.holds(index) for fit in fits))
        return self._matrices[name]

    def blocks(self, application: int, train: str) -> Iterator[Block]:
        """The legal kits of one application and train as Cartesian blocks, each kit in exactly one."""
        for space in self.spaces(application, train):
            solved = [self._solved(space, families, pairs) for families, pairs in components(space.rows, space.meets)]
            for choice in product(*solved):
                found = {family: rows for each in choice for family, rows in each.items()}
                yield from self._by_rest(space, {family: found[family] for family in space.rows})

    def _by_rest(self, space: Space, rows: Product) -> Iterator[Block]:
        """A block each for slaves that rest in contact and bottomed: their physics differ."""
        if "slave" not in rows:
            yield Block(space.application, space.cover, space.train, "contact", rows)
            return
        slaves = self.catalog.families["slave"]
        rests = np.array([field_value(slaves[row], "slave.rest") for row in rows["slave"].tolist()])
        for rest in ("contact", "bottomed"):
            if (rests == rest).any():
                yield Block(space.application, space.cover, space.train, rest, {**rows, "slave": rows["slave"][rests == rest]})

    def count(self, application: int, train: str) -> int:
        """How many legal kits, exactly, before any is looked at."""
        return sum(self._count(space) for space in self.spaces(application, train))

    def _count(self, space: Space) -> int:
        """The product over those parts of the graph that no fit joins; a part met before is not counted again."""
        total = 1
        for families, pairs in components(space.rows, space.meets):
            key = _key(space, families, pairs)
            if key not in self._counts:
                self._counts[key] = sum(prod(map(len, each.values())) for each in self._solved(space, families, pairs))
            total *= self._counts[key]
        return total

    def _solved(self, space: Space, families: tuple[str, ...], pairs: list[Pair]) -> list[dict[str, Rows]]:
        key = _key(space, families, pairs)
        if key not in self._products:
            if len(self._products) >= REMEMBERED:
                self._products.clear()
            rows = {family: space.rows[family] for family in families}
            self._products[key] = solve(rows, {pair: space.meets[pair] for pair in pairs})
        return self._products[key]


def _key(space: Space, families: tuple[str, ...], pairs: list[Pair]) -> object:
    """Equal keys, equal solutions: the same parts of the same families under the same matrices."""
    return families, tuple(space.rows[family].tobytes() for family in families), tuple(space.names[pair] for pair in pairs)


def _inner(train: str) -> tuple[str, ...]:
    """The families of a train that are not fixed before the parts are held against each other."""
    return tuple(family for family in TRAINS[train] if family not in ("application", "pressure_plate"))


def _permitted(catalog: Catalog, job: Job, family: str) -> BoolArray:
    """Which parts of a family the job leaves in play."""
    ids = [part.id for part in catalog.families.get(family, ())]
    only = set(job.only.get(family, ids)) - set(job.leave_out.get(family, ()))
    if family == "application" and "all" not in job.applications:
        only &= set(job.applications)
    return np.array([identifier in only for identifier in ids], dtype=np.bool_)


# --- constraint graph -> Cartesian products


def components(rows: Product, meets: Mapping[Pair, BoolArray]) -> list[tuple[tuple[str, ...], list[Pair]]]:
    """Families that pairs join directly or through others, in family order, with the pairs inside."""
    home = {family: family for family in rows}
    for first, second in meets:
        old, new = home[second], home[first]
        home = {family: new if place == old else place for family, place in home.items()}
    together = [tuple(family for family in rows if home[family] == place) for place in dict.fromkeys(home.values())]
    return [(families, [pair for pair in meets if pair[0] in families]) for families in together]


def solve(rows: Product, meets: Mapping[Pair, BoolArray]) -> list[dict[str, Rows]]:
    """Cartesian products that hold every combination of `rows` in which all pairs meet, each exactly once.

    Condition on the family with most open pairs until none is open; parts that meet the same neighbours stay together.
    """
    open_pairs = {}
    for pair, matrix in meets.items():
        inside = matrix[np.ix_(rows[pair[0]], rows[pair[1]])]
        if not inside.all():
            open_pairs[pair] = inside
    if not all(len(part) for part in rows.values()):
        return []
    if not open_pairs:
        return [dict(rows)]
    family = max(rows, key=lambda name: sum(name in pair for pair in open_pairs))  # the first of equals
    rest = {pair: meets[pair] for pair in open_pairs if family not in pair}
    found = []
    for alike, reach in _classes(family, rows, open_pairs):
        found += solve({**rows, family: alike, **reach}, rest)
    return found


def _classes(family: str, rows: Product, open_pairs: Mapping[Pair, BoolArray]) -> Iterator[tuple[Rows, dict[str, Rows]]]:
    """Parts of a family that meet exactly the same neighbours, with those neighbours."""
    sides = {}
    for (first, second), inside in open_pairs.items():
        if family in (first, second):
            sides[second if first == family else first] = inside if first == family else inside.T
    together: dict[bytes, list[int]] = {}
    for row, seen in enumerate(np.hstack(list(sides.values()))):
        together.setdefault(seen.tobytes(), []).append(row)
    for members in together.values():
        yield rows[family][members], {name: rows[name][side[members[0]]] for name, side in sides.items()}

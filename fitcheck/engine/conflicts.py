"""Which fits leave an application no legal kit on a train: minimal conflicts, and the smallest sets that would free it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice, product
from math import prod

import numpy as np

from fitcheck.catalog.parts import TRAINS, Catalog
from fitcheck.engine.interfaces import Interface
from fitcheck.engine.legality import Block, Legality, Rows
from fitcheck.engine.result import Freeing

MOST_TRIED = 400  # sets of fits that are tried in search of what would free an application; beyond, nothing is said
MOST_FREEING = 4  # sets that are counted and told

Names = tuple[str, ...]


class Alike:
    """The parts of one application's train, those that no fit can tell apart taken as one that stands for all of them."""

    def __init__(self, legality: Legality, application: int, train: str) -> None:
        """Sort the parts that the job lets in by what stands at their interfaces."""
        self._train = train
        fits = [one for one in legality.interfaces if set(one.families) <= set(TRAINS[train])]
        self.names: Names = tuple(dict.fromkeys(one.fit.name for one in fits))
        chosen, self._many = {}, {}
        for family in TRAINS[train]:
            rows = np.array([application]) if family == "application" else np.flatnonzero(legality.permitted[family])
            groups = _groups(family, rows, [one for one in fits if family in one.families], application)
            chosen[family] = tuple(legality.catalog.families[family][group[0]] for group in groups) if groups else ()
            self._many[family] = np.array([len(group) for group in groups], dtype=object)
        job = replace(legality.job, applications=("all",), trains=(train,), only={}, leave_out={})
        profile = replace(legality.profile, fits=tuple(fit for fit in legality.profile.fits if fit.name in self.names))
        self._legality = Legality(Catalog(chosen), profile, job)

    def met(self, fits: Sequence[str]) -> bool:
        """Whether some kit meets those fits."""
        return next(self._blocks(fits), None) is not None

    def kits(self, fits: Sequence[str]) -> int:
        """How many kits meet those fits."""
        return sum(self._size(block) for block in self._blocks(fits))

    def _blocks(self, fits: Sequence[str]) -> Iterator[Block]:
        return self._legality.under(fits).blocks(0, self._train)

    def _size(self, block: Block) -> int:
        covers = int(self._many["pressure_plate"][block.cover])
        return covers * prod(int(self._many[family][rows].sum()) for family, rows in block.rows.items())


def _groups(family: str, rows: Rows, fits: Sequence[Interface], application: int) -> list[list[int]]:
    """Rows of a family that show the same at every fit; of a fit with the application alone only whether it is met counts."""
    shown: list[list[bytes]] = []
    for one in fits:
        if set(one.families) <= {"application", family}:
            met = np.broadcast_to(one.holds({"application": application, family: rows}), rows.shape)
            shown.append([bytes([held]) for held in met.tolist()])
            continue
        own = [column for name, column in zip(one.families, one.columns, strict=True) if name == family]
        shown += [[value.tobytes() for value in column[rows]] for column in own]
    groups: dict[tuple[bytes, ...], list[int]] = {}
    for place, row in enumerate(rows.tolist()):
        groups.setdefault(tuple(column[place] for column in shown), []).append(row)
    return list(groups.values())


@dataclass(frozen=True)
class Found:
    """The conflicts, those of a single fit first, and what would free the application."""

    conflicts: tuple[Names, ...]
    freeing: tuple[Freeing, ...]


def find_conflicts(alike: Alike) -> Found:
    """Each fit that nothing meets, then disjoint minimal sets among the others until what is left can be met."""
    single: list[Names] = [(name,) for name in alike.names if not alike.met([name])]
    left = [name for name in alike.names if (name,) not in single]
    conflicts = list(single)
    while not alike.met(left):
        conflicts.append(minimal(left, alike.met))
        left = [name for name in left if name not in conflicts[-1]]
    return Found(tuple(conflicts), tuple(_freeing(conflicts, alike)))


def minimal(names: Sequence[str], met: Callable[[Sequence[str]], bool]) -> Names:
    """Of names that cannot be met together, some that still cannot, but can without any one of them.

    More fits never let in more, so what was needed once stays needed and one pass is enough.
    """
    core = list(names)
    for name in names:
        rest = [other for other in core if other != name]
        if not met(rest):
            core = rest
    return tuple(core)


def _freeing(conflicts: Sequence[Names], alike: Alike) -> list[Freeing]:
    """The smallest sets without which there are kits: one of each conflict, else one more; those that win most first."""
    for sets in (_one_of_each, _one_more):
        tried = list(islice(sets(conflicts, alike.names), MOST_TRIED + 1))
        if len(tried) > MOST_TRIED:
            return []
        found = [some for some in tried if alike.met(_without(alike.names, some))]
        if found:
            counted = [Freeing(some, alike.kits(_without(alike.names, some))) for some in found]
            return sorted(counted, key=lambda each: -each.kits)[:MOST_FREEING]
    return []


def _without(names: Names, some: Names) -> list[str]:
    return [name for name in names if name not in some]


def _one_of_each(conflicts: Sequence[Names], names: Names) -> Iterator[Names]:
    """A set that frees takes something from every conflict, and they share no fit: no smaller set can do."""
    return product(*conflicts)


def _one_more(conflicts: Sequence[Names], names: Names) -> Iterator[Names]:
    sets = (tuple(sorted((*some, other))) for some in product(*conflicts) for other in names if other not in some)
    return iter(dict.fromkeys(sets))

"""A chosen kit whose parts no longer meet: which legal kit is nearest to it, one part away."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from fitcheck.catalog.parts import TRAINS, Catalog
from fitcheck.engine.ranking import LONGEST, TRAIN_WORDS, Rows
from fitcheck.engine.touched import Side
from fitcheck.job import Job
from fitcheck.profile import Profile


@dataclass(frozen=True)
class Neighbour:
    """A legal kit that has one other part."""

    kit: str
    family: str
    old: str
    new: str
    verdict: int


def nearest_legal(parts: Mapping[str, str], train: str, catalog: Catalog, profile: Profile, job: Job) -> Neighbour | None:
    """The best legal kit that differs in one part, the vehicle aside; None where no single exchange makes the kit legal.

    Best is the better verdict, then a part that nothing supersedes, then the first by family and id.
    """
    side = Side(catalog, profile, job)
    swaps = list(_swaps(parts, train, catalog))
    rows = _rows(parts, train, catalog, swaps)
    legal = np.flatnonzero(side.legal(train, rows))
    if not len(legal):
        return None
    some = rows.take(legal)
    verdicts, names = side.verdicts(some).tolist(), side.names(train, some)
    news = [(family, catalog.families[family][row]) for family, row in (swaps[number] for number in legal.tolist())]
    best = min(range(len(news)), key=lambda place: (verdicts[place], "superseded_by" in news[place][1].values, place))
    family, part = news[best]
    return Neighbour(names[best], family, parts[family], part.id, verdicts[best])


def _swaps(parts: Mapping[str, str], train: str, catalog: Catalog) -> Iterator[tuple[str, int]]:
    """Each family with each part of it that the kit has not, as a row of the catalog."""
    for family in TRAINS[train]:
        if family != "application":
            others = enumerate(catalog.families[family])
            yield from ((family, row) for row, part in others if part.id != parts[family])


def _rows(parts: Mapping[str, str], train: str, catalog: Catalog, swaps: list[tuple[str, int]]) -> Rows:
    """The kit once for each exchange."""
    families = TRAINS[train]
    own = [[part.id for part in catalog.families[family]].index(parts[family]) for family in families]
    found = np.full((len(swaps), LONGEST), -1, dtype=np.int32)
    found[:, : len(families)] = own
    for number, (family, row) in enumerate(swaps):
        found[number, families.index(family)] = row
    return Rows(np.zeros((0, len(swaps))), np.full(len(swaps), TRAIN_WORDS.index(train), dtype=np.int8), found)

"""How the kit stands that comes first in each group of a result, and where it does not pass, what would mend it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from fitcheck.engine.legality import Legality
from fitcheck.engine.result import Group, KitTable, Result
from fitcheck.engine.states import PASS
from fitcheck.frame import nearest_first
from fitcheck.reasons.chain import Chain, Leaf, Node
from fitcheck.reasons.missing_part import MissingPart, missing_sizes
from fitcheck.reasons.no_kit import bench_of, missing_of
from fitcheck.reasons.remedies import Remedies, remedies_of
from fitcheck.reasons.standing import Standing, stand

LEVELS = 2  # of the trees that are told beside a verdict
ENOUGH = 10_000  # parts tried for one result: a page must not take longer than its screening
NUMBERS = 500  # parts that the numbers of a kit count for


@dataclass(frozen=True)
class Traced:
    """The upper levels of a figure's tree, and all that it rests on in the end."""

    tree: Node
    leaves: tuple[Leaf, ...]


@dataclass(frozen=True)
class Explained:
    """The best kit of a group, or the one that comes nearest where all are rejected; none where no kit is legal."""

    standing: Standing | None
    figures: tuple[Traced, ...]
    remedies: Remedies | None  # of a kit that does not pass
    missing: tuple[MissingPart, ...] | None  # None where the application has a passing kit
    sought: bool  # False where remedies and missing parts were left out, since so many had been sought before


def explained(result: Result) -> Mapping[Group, Explained]:
    """Every group of a result that has a kit, or whose application has none that passes."""
    return dict(_explained(result))


def traced(chain: Chain, standing: Standing) -> Iterator[Traced]:
    """The figures in question, each quantity told in the first tree that it stands in."""
    told: set[str] = set()
    for name in standing.in_question:
        yield Traced(chain.tree(name, told, LEVELS), chain.leaves(name))


def _explained(result: Result) -> Iterator[tuple[Group, Explained]]:
    passing = {application for (application, _), verdicts in result.verdicts.items() if verdicts[PASS]}
    legality = Legality(result.catalog, result.profile, result.job)
    parts, spent = sum(map(len, result.catalog.families.values())), 0
    for group in result.legal:
        first = _first(result, group)
        needy = first is None or int(first.verdict[0]) != PASS
        work = NUMBERS + (0 if group[0] in passing else parts)
        sought = needy and spent + work <= max(ENOUGH, work)  # what the first one needs is always sought
        spent += work if sought else 0
        missing = sought and group[0] not in passing
        yield group, _one(result, group, first, legality if missing else None, sought)


def _one(result: Result, group: Group, first: KitTable | None, legality: Legality | None, sought: bool) -> Explained:
    """One group; with `legality` the missing part is sought too."""
    if first is None:
        return Explained(None, (), None, missing_of(result, legality, group) if legality else None, sought)
    chain = Chain(bench_of(result, first, 0))
    standing = stand(chain, first)
    remedies = remedies_of(chain.bench, swaps=False) if sought else None
    missing = None
    if legality and remedies:  # of this kit the numbers are known; others are looked at only where none of those helps
        missing = tuple(missing_sizes(chain.bench, remedies.changes)) or missing_of(result, legality, group)
    return Explained(standing, tuple(traced(chain, standing)), remedies, missing, sought)


def _first(result: Result, group: Group) -> KitTable | None:
    """The best kit of a group, else the nearest miss: a table of one row; None where there is neither."""
    best, nearest = result.best.get(group), result.nearest.get(group)
    if best is not None and len(best):
        return best.take(np.array([0]))
    return nearest_first(nearest).take(np.array([0])) if nearest is not None and len(nearest) else None

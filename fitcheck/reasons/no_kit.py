"""Why an application has no kit, train by train: what empties it, what comes nearest, and which part is missing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from fitcheck.catalog.parts import TRAINS, Part
from fitcheck.engine.legality import Legality
from fitcheck.engine.result import Group, KitTable, Result
from fitcheck.engine.states import PASS
from fitcheck.engine.variants import Bench
from fitcheck.frame import Screening, nearest_first
from fitcheck.inputs import Inputs, Progress
from fitcheck.kit_names import find_application
from fitcheck.reasons.missing_part import MissingPart, first_that_pass, missing_interfaces

LEAST_LISTED = 50  # kits among which the nearest misses are sought, whatever the job lists
MOST_MISSES = 3  # kits in which a missing part is sought


@dataclass(frozen=True)
class NoKit:
    """What a screening of one application found, and which parts are missing where nothing passes."""

    application: Part
    result: Screening
    missing: Mapping[Group, tuple[MissingPart, ...]]  # empty where a kit passes, on either train
    let_in: Mapping[str, tuple[int, int]]  # families that the job restricts: parts let in, parts of the catalog
    complete: bool  # whether all that was asked for could be read

    @property
    def passes(self) -> bool:
        """Whether the application has a passing kit after all."""
        return any(verdicts[PASS] for verdicts in self.result.verdicts.values())


def no_kit_of(inputs: Inputs, identifier: str, progress: Progress | None = None) -> NoKit:
    """Screen one application and find out why nothing passes.

    Raises UsageError where the catalog has no such application, or the job leaves it out; InputError where its entry was left
    out for its errors.
    """
    application = find_application(identifier, inputs.catalog, inputs.job)
    best = max(inputs.job.best, LEAST_LISTED)
    job = replace(inputs.job, applications=(identifier,), best=best, row_limit=2 * best)
    result = replace(inputs, job=job).screen(progress)
    legality = Legality(inputs.catalog, inputs.profile, job)
    families = {family for train in legality.trains for family in TRAINS[train][1:]}
    let_in = {
        family: (int(marks.sum()), len(marks))
        for family, marks in legality.permitted.items()
        if family in families and not marks.all()
    }
    passes = any(verdicts[PASS] for verdicts in result.verdicts.values())
    missing = {} if passes else {group: missing_of(result, legality, group) for group in result.legal}
    return NoKit(application, result, missing, let_in, inputs.complete)


def missing_of(result: Result, legality: Legality, group: Group) -> tuple[MissingPart, ...]:
    """The parts, each alone, with which a group without a passing kit would have one, or at least one that is not rejected."""
    if group in result.emptied:
        (row,) = (row for row, part in enumerate(result.catalog.families["application"]) if part.id == group[0])
        return tuple(missing_interfaces(legality, row, group[1], result.emptied[group]))
    return tuple(first_that_pass(_nearest_benches(result, group)))


def _nearest_benches(result: Result, group: Group) -> Iterator[Bench]:
    """The kits that come nearest, each ready to be changed."""
    kits = nearest_first(result.nearest[group])
    for row in range(min(MOST_MISSES, len(kits))):
        yield bench_of(result, kits, row)


def bench_of(result: Result, kits: KitTable, row: int) -> Bench:
    """A listed kit, ready to be changed."""
    train = kits.train[row]
    ids = {family: kits.parts[family][row] for family in TRAINS[train]}
    return Bench(result.catalog, result.profile, result.job, train, ids)

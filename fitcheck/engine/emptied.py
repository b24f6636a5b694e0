"""Why an application has nothing legal on a train: the fits in conflict, what stands there, and what would free it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from fitcheck.engine.conflicts import Alike, find_conflicts
from fitcheck.engine.legality import Legality
from fitcheck.engine.result import Emptied, Freeing
from fitcheck.engine.telling import Telling
from fitcheck.job import Job


def why_empty(legality: Legality, application: int, train: str) -> Emptied:
    """Why nothing of an application is legal on a train; `application` is its row in the catalog."""
    telling = Telling(legality, application, train)
    restricted = _restricted(legality, application, train, telling.restricted)
    if nothing_left := tuple(telling.families()):
        return Emptied((), nothing_left, restricted=restricted)
    found = find_conflicts(Alike(legality, application, train))
    fits = tuple(name for conflict in found.conflicts for name in conflict)
    sentences = tuple(text for conflict in found.conflicts for text in telling.conflict(conflict))
    return Emptied(fits, sentences, found.conflicts, found.freeing, restricted)


def _restricted(legality: Legality, application: int, train: str, families: list[str]) -> tuple[Freeing, ...] | None:
    """What the job's restrictions do: each whose going leaves kits, else a few, none of which may stay if they are to go."""
    if not families:
        return None

    def kits(some: Sequence[str]) -> int:
        return legality.asked(_let_in(legality.job, some)).count(application, train)

    alone = [Freeing((family,), found) for family in families if (found := kits([family]))]
    if alone or not kits(families):
        return tuple(alone)
    needed = list(families)
    for family in families:
        rest = [other for other in needed if other != family]
        needed = rest if kits(rest) else needed
    return (Freeing(tuple(needed), kits(needed)),)


def _let_in(job: Job, families: Iterable[str]) -> Job:
    """The job without its restrictions of those families."""
    only = {family: ids for family, ids in job.only.items() if family not in families}
    leave_out = {family: ids for family, ids in job.leave_out.items() if family not in families}
    return replace(job, only=only, leave_out=leave_out)

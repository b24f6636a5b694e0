"""What would mend a kit: one change of a part or a number, two together, and rule by rule what each alone would take."""

from __future__ import annotations

from dataclasses import dataclass

from fitcheck.engine.states import CAUTION, PASS
from fitcheck.engine.variants import Bench
from fitcheck.reasons.by_rule import ByRule, by_rule
from fitcheck.reasons.intervals import NO_CHANGES, Changes, changes_along
from fitcheck.reasons.numbers import numbers_on
from fitcheck.reasons.scan import scanned
from fitcheck.reasons.shelf import Shelf
from fitcheck.reasons.swaps import Swaps, swaps_of


@dataclass(frozen=True)
class Remedies:
    """What would mend a kit."""

    kit: str
    verdict: int
    headroom: float
    legal: bool
    swaps: Swaps | None  # None where they were not sought
    changes: Changes
    by_rule: tuple[ByRule, ...]  # empty where one change makes the kit pass


def remedies_of(bench: Bench, swaps: bool = True) -> Remedies:
    """What would make a rejected kit or a caution pass, or at least no longer be rejected.

    For the first kit of a screened group swaps need not be sought: a kit that one of them mends would come before it.
    """
    itself = bench.itself
    goals = (PASS, CAUTION)[: int(itself.verdict[0])]
    shelf = Shelf(bench) if swaps else None
    exchanged = swaps_of(shelf) if shelf else None
    every = scanned(bench, list(numbers_on(bench).values()), goals) if goals else []
    changes = changes_along(bench, every) if goals else NO_CHANGES
    alone = any(change.goal == PASS for change in changes.found) or bool(exchanged and exchanged.total and exchanged.goal == PASS)
    return Remedies(
        "+".join(part.id for part in bench.parts.values()),
        int(itself.verdict[0]),
        float(itself.draft.headroom[0]),
        bool(itself.legal[0]),
        exchanged,
        changes,
        () if alone or not goals else by_rule(bench, [scan for scan, _ in every], shelf),
    )

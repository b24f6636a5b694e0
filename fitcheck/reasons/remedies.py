"""What would mend a kit: one change of a part or a number, two together, and rule by rule what each alone would take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fitcheck.engine.states import CAUTION, PASS
from fitcheck.engine.variants import Bench
from fitcheck.reasons.by_rule import ByRule, by_rule, held_fast
from fitcheck.reasons.intervals import NO_CHANGES, Change, Changes, changes_along
from fitcheck.reasons.numbers import numbers_on
from fitcheck.reasons.scan import scanned
from fitcheck.reasons.shelf import Shelf
from fitcheck.reasons.swaps import Swaps, swaps_of
from fitcheck.reasons.together import Mixed, Pairs, mixed_of, pairs_of


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
    pairs: Pairs | None  # None where they were not sought, since one part or setting does it
    mixed: Mixed | None  # None where they were not sought, since one change or two parts do it


def remedies_of(bench: Bench, swaps: bool = True) -> Remedies:
    """What would make a rejected kit or a caution pass, or at least no longer be rejected.

    For the first kit of a screened group other parts need not be sought: a kit that they mend would come before it.
    """
    now = int(bench.itself.verdict[0])
    goals = (PASS, CAUTION)[:now]
    shelf = Shelf(bench) if swaps else None
    exchanged = swaps_of(shelf) if shelf else None
    every = scanned(bench, list(numbers_on(bench).values()), goals) if goals else []
    changes = changes_along(bench, every) if goals else NO_CHANGES
    scans = [scan for scan, _ in every]
    alone = _reached(now, exchanged, changes.found)
    least = held_fast(bench)
    at_hand = _reached(now, exchanged, [change for change in changes.found if change.number.fitter])
    pairs = pairs_of(shelf, range(least, at_hand)) if shelf and at_hand > least else None
    best = min(alone, pairs.goal) if pairs and pairs.total else alone
    return Remedies(
        "+".join(part.id for part in bench.parts.values()),
        now,
        float(bench.itself.draft.headroom[0]),
        bool(bench.itself.legal[0]),
        exchanged,
        changes,
        by_rule(bench, scans, shelf) if alone > PASS else (),
        pairs,
        mixed_of(shelf, scans, range(least, best)) if shelf and best > least else None,
    )


def _reached(now: int, swaps: Swaps | None, changes: Sequence[Change]) -> int:
    """The best verdict that one change reaches."""
    exchanged = [swaps.goal] if swaps and swaps.total else []
    return min([now, *exchanged, *(change.goal for change in changes)])

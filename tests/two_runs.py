"""What a change of a catalog changes, told plainly: two full screenings laid side by side, kit by kit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace

from fitcheck.catalog.parts import Catalog
from fitcheck.engine.result import Result
from fitcheck.engine.screening import screen
from fitcheck.engine.states import VALUE, VERDICT_WORDS
from fitcheck.engine.table import METRICS
from fitcheck.inputs import Inputs
from fitcheck.quantities import to_unit

PASS, REJECT = 0, 2


@dataclass(frozen=True)
class Seen:
    """One kit of a full run."""

    train: str
    parts: tuple[tuple[str, str], ...]
    verdict: int
    wishes: tuple[float, ...]  # the job's preferences, smaller is better
    severe: frozenset[str]  # rules that reject, or else that caution

    @property
    def group(self) -> tuple[str, str]:
        return dict(self.parts)["application"], self.train


@dataclass(frozen=True)
class Difference:
    added: Mapping[tuple[str, str], Counter]
    lost: Mapping[tuple[str, str], Counter]
    flips: Mapping[str, tuple[int, int, frozenset[str]]]
    best: Mapping[tuple[str, str], tuple[str | None, str | None]]
    gained: tuple[str, ...]
    missed: tuple[str, ...]
    bettered: frozenset[tuple[str, str, str]]


def full_run(inputs: Inputs) -> Result:
    return screen(inputs.catalog, inputs.profile, replace(inputs.job, row_limit=1_000_000, best=1_000_000))


def kits_of(result: Result) -> dict[str, Seen]:
    """Every legal kit, in the order of application and rank."""
    table = result.kits
    found = {}
    for row, kit in enumerate(table.kit):
        parts = tuple((family, column[row]) for family, column in table.parts.items() if column[row])
        wishes = []
        for wish in result.job.prefer:
            value = float(f"{float(to_unit(table.metrics[wish.metric][row], METRICS[wish.metric].unit)):.12g}")
            there = table.states[wish.metric][row] == VALUE
            wishes.append((value if wish.direction == "least" else -value) if there else float("inf"))
        verdict = int(table.verdict[row])
        severe = frozenset(reason.rule for reason in table.reasons[row] if reason.severity == VERDICT_WORDS[verdict])
        found[kit] = Seen(table.train[row], parts, verdict, tuple(wishes), severe)
    return found


def two_runs(before: Inputs, after: Inputs, fresh: set[tuple[str, str]]) -> Difference:
    """The difference of two full runs; `fresh` are the new and changed parts."""
    old, new = kits_of(full_run(before)), kits_of(full_run(after))
    flips = {}
    for kit in old.keys() & new.keys():
        was, now = old[kit], new[kit]
        if was.verdict != now.verdict:
            flips[kit] = (was.verdict, now.verdict, max(was, now, key=lambda seen: seen.verdict).severe)
    passing = [{seen.group[0] for seen in kits.values() if seen.verdict == PASS} for kits in (old, new)]
    later = _bettered(new, before.catalog, fresh) - _bettered(old, after.catalog, fresh)
    return Difference(
        _tally(new, old),
        _tally(old, new),
        flips,
        _best(old, new),
        tuple(sorted(passing[1] - passing[0])),
        tuple(sorted(passing[0] - passing[1])),
        frozenset(later),
    )


def _tally(kits: Mapping[str, Seen], other: Mapping[str, Seen]) -> dict[tuple[str, str], Counter]:
    found: dict[tuple[str, str], Counter] = {}
    for kit in kits.keys() - other.keys():
        found.setdefault(kits[kit].group, Counter())[kits[kit].verdict] += 1
    return found


def _best(old: Mapping[str, Seen], new: Mapping[str, Seen]) -> dict[tuple[str, str], tuple[str | None, str | None]]:
    groups = {seen.group for seen in (*old.values(), *new.values())}

    def first(kits: Mapping[str, Seen], group: tuple[str, str]) -> str | None:
        return next((kit for kit, seen in kits.items() if seen.group == group and seen.verdict != REJECT), None)

    pairs = {group: (first(old, group), first(new, group)) for group in groups}
    return {group: pair for group, pair in pairs.items() if pair[0] != pair[1]}


def _bettered(kits: Mapping[str, Seen], other: Catalog, fresh: set[tuple[str, str]]) -> set[tuple[str, str, str]]:
    """(family, old, by) for which every kit has a sibling that is as good, and one that is better."""
    by_parts = {(seen.train, seen.parts): seen for seen in kits.values()}
    found = set()
    for family, by in fresh:
        for part in other.families[family]:
            pairs = []
            for seen in kits.values():
                if (family, part.id) in seen.parts and part.id != by and family != "application":
                    sibling = tuple((name, by if name == family else one) for name, one in seen.parts)
                    pairs.append((seen, by_parts.get((seen.train, sibling))))
            keys = [((seen.verdict, *seen.wishes), other and (other.verdict, *other.wishes)) for seen, other in pairs]
            level = keys and all(b and all(y <= x for x, y in zip(a, b, strict=True)) for a, b in keys)
            if level and any(a != b for a, b in keys):
                found.add((family, part.id, by))
    return found

"""One part exchanged for another of the catalog: which exchanges mend a kit, the best of them, and what they cost elsewhere."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import Part
from fitcheck.engine.listing import Draft
from fitcheck.engine.ranking import preference_key, steps
from fitcheck.engine.result import Reason
from fitcheck.engine.states import CAUTION, PASS, VALUE
from fitcheck.engine.variants import Bench, Glance, Variant
from fitcheck.engine.verdict import BREAKS, applicable, headroom_of
from fitcheck.kit_names import let_in
from fitcheck.profile import Rule

IntArray = npt.NDArray[np.intp]

BEST = 5  # swaps that are told in full
SETUP = ("setup_target", "rod_length", "shim_stack", "pedal_stop")


@dataclass(frozen=True)
class Moved:
    """A figure before and after, in SI; None where there is none."""

    metric: str
    before: float | None
    after: float | None
    rule: str = ""
    room_before: float = np.nan  # headroom of the rule
    room_after: float = np.nan


@dataclass(frozen=True)
class Swap:
    """One part in place of the kit's own, and what becomes of the kit."""

    part: Part
    instead: Part
    verdict: int
    headroom: float
    limiting_rule: str
    fits: tuple[str, ...]  # that the kit did not meet, and now does
    mended: tuple[Moved, ...]  # rules that spoke and are silent
    stays: tuple[Reason, ...]  # what is still said
    new: tuple[Reason, ...]  # what was not said before
    falls: tuple[Moved, ...]  # rules that are kept, but with less room than is enough and a step less than before
    setting: str  # what is set on the kit with it: `lash`, `piston out` or `gap`
    setup: tuple[Moved, ...]
    cost: Moved


@dataclass(frozen=True)
class Swaps:
    """Every one-part swap that mends a kit: counted by family, the best in full."""

    goal: int  # the verdict that they reach: PASS, or CAUTION where none passes
    tried: int  # parts that the job lets in
    legal: int
    by_family: Mapping[str, int]  # how many reach the goal
    best: tuple[Swap, ...]
    others: tuple[Part, ...]  # the best of each family that is not among the best
    kits: frozenset[tuple[str, str]]  # family and id of every part that reaches the goal

    @property
    def total(self) -> int:
        """How many reach the goal."""
        return sum(self.by_family.values())


def swaps_of(bench: Bench, best: int = BEST) -> Swaps:
    """All one-part swaps that pass; where none does, and the kit is rejected, those that are no longer rejected."""
    parts = tuple(_candidates(bench))
    variants = [Variant({part.family: part}) for part in parts]
    seen = bench.glance(variants, [preference.metric for preference in bench.job.prefer])
    goal, chosen = _mending(seen, int(bench.itself.verdict[0]))
    ordered = _in_order(bench, seen, parts, chosen)
    first = [variants[place] for place in ordered[:best]]
    told = _told(bench, first) if first else ()
    shown = {swap.part.family for swap in told}
    firsts = {parts[place].family: parts[place] for place in reversed(ordered)}
    return Swaps(
        goal,
        len(parts),
        int(seen.legal.sum()),
        dict(Counter(parts[place].family for place in sorted(ordered))),
        told,
        tuple(part for family, part in sorted(firsts.items()) if family not in shown),
        frozenset((parts[place].family, parts[place].id) for place in ordered),
    )


def _candidates(bench: Bench) -> Iterator[Part]:
    """Every other part that the job lets in, family by family."""
    for family, own in bench.parts.items():
        if family != "application":
            others = (part for part in bench.catalog.families[family] if part.id != own.id)
            yield from (part for part in others if let_in(bench.job, family, part.id))


def _mending(seen: Glance, now: int) -> tuple[int, IntArray]:
    """The best verdict that is better than the kit's and that any reaches, and which do."""
    for goal in (PASS, CAUTION)[:now]:
        found = np.flatnonzero(seen.verdict == goal)
        if len(found):
            return goal, found
    return PASS, np.zeros(0, dtype=np.intp)


def _in_order(bench: Bench, seen: Glance, parts: Sequence[Part], chosen: IntArray) -> list[int]:
    """As kits are ranked: stepped headroom, the job's preferences, name."""
    profile = bench.profile
    names = np.array([_kit(bench, parts[place]) for place in chosen.tolist()], dtype=np.str_)
    keys = [-steps(seen.headroom, profile.headroom_enough, profile.headroom_step)]
    keys += [preference_key(wish, seen.metrics[wish.metric], seen.states[wish.metric]) for wish in bench.job.prefer]
    order = np.lexsort([names, *(key[chosen] for key in reversed(keys))])
    ranked: list[int] = chosen[order].tolist()
    return ranked


def _kit(bench: Bench, part: Part) -> str:
    """The kit's name with that part; names sort as kits do, since `+` comes before every character of an id."""
    return "+".join(part.id if family == part.family else own.id for family, own in bench.parts.items())


# --- a few of them in full


def _told(bench: Bench, variants: Sequence[Variant]) -> tuple[Swap, ...]:
    trials = bench.tried(variants)
    return tuple(_swap(bench, next(iter(variant.parts.values())), trials.draft, row) for row, variant in enumerate(variants))


def _swap(bench: Bench, part: Part, after: Draft, row: int) -> Swap:
    before = bench.itself.draft
    said, says = before.reasons[0], after.reasons[row]
    known, speaking = ({_saying(reason) for reason in some} for some in (said, says))
    silent = tuple(reason for reason in said if _saying(reason) not in speaking)
    return Swap(
        part,
        bench.parts[part.family],
        int(after.verdict[row]),
        float(after.headroom[row]),
        after.limiting_rule[row],
        bench.itself.unmet[0],
        tuple(_moved(before, after, row, reason.metric, reason.rule) for reason in silent),
        tuple(reason for reason in says if _saying(reason) in known),
        tuple(reason for reason in says if _saying(reason) not in known),
        _falls(bench, after, row),
        setting_word(bench, part),
        tuple(moved for name in SETUP if (moved := _moved(before, after, row, name)).before != moved.after),
        _moved(before, after, row, "cost"),
    )


def setting_word(bench: Bench, part: Part) -> str:
    """What the setting of a kit is, with that part in it."""
    if bench.train == "concentric":
        return "gap"
    slave = part if part.family == "slave" else bench.parts["slave"]
    return "piston out" if slave.at("preload") > 0.0 else "lash"


def _saying(reason: Reason) -> tuple[str, str]:
    """What a reason is about: its rule, and for a field that is not given which one."""
    return reason.rule, reason.reason if reason.kind == "not given" else ""


def _moved(before: Draft, after: Draft, row: int, metric: str, rule: str = "") -> Moved:
    return Moved(metric, _figure(before, 0, metric), _figure(after, row, metric), rule)


def _figure(draft: Draft, row: int, metric: str) -> float | None:
    return float(draft.metrics[metric][row]) if draft.states[metric][row] == VALUE else None


def _falls(bench: Bench, after: Draft, row: int) -> tuple[Moved, ...]:
    """Rules that keep less headroom than is enough, and lose a step or more of it, the narrowest first."""
    profile, found = bench.profile, []
    if bench.itself.legal[0]:
        for rule in applicable(profile, bench.application.id, bench.train):
            old, new = _figure(bench.itself.draft, 0, rule.metric), _figure(after, row, rule.metric)
            if old is None or new is None:
                continue
            rooms = _room(rule, old), _room(rule, new)
            if BREAKS <= rooms[1] < profile.headroom_enough and rooms[0] - rooms[1] >= profile.headroom_step:
                found.append(Moved(rule.metric, old, new, rule.name, *rooms))
    return tuple(sorted(found, key=lambda moved: (round(moved.room_after, 9), moved.rule)))


def _room(rule: Rule, value: float) -> float:
    return float(headroom_of(rule, np.array([value]))[0])

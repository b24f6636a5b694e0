"""One part exchanged for another of the catalog: which exchanges mend a kit, the best of them, and what they cost elsewhere."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import Part
from fitcheck.engine.listing import Draft
from fitcheck.engine.ranking import preference_key, steps
from fitcheck.engine.result import Reason
from fitcheck.engine.states import PASS, VALUE
from fitcheck.engine.variants import Bench, Glance, Variant
from fitcheck.engine.verdict import BREAKS, applicable, headroom_of
from fitcheck.profile import Rule
from fitcheck.reasons.shelf import Shelf

IntArray = npt.NDArray[np.intp]
Reasons = tuple[Reason, ...]

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
    """One part, or two, in place of the kit's own, and what becomes of the kit."""

    parts: tuple[Part, ...]
    instead: tuple[Part, ...]
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

    @property
    def part(self) -> Part:
        """The first of the parts."""
        return self.parts[0]


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


def swaps_of(shelf: Shelf, best: int = BEST) -> Swaps:
    """All one-part swaps that pass; where none does, and the kit is rejected, those that are no longer rejected."""
    bench, alone = shelf.bench, shelf.seen
    parts, variants = [shelf.parts[place] for place in shelf.alone], [shelf.variant(place) for place in shelf.alone]
    goal, chosen = reaching(alone, range(int(bench.itself.verdict[0])))
    ordered = in_order(bench, alone, variants, chosen)
    told = told_of(bench, [variants[place] for place in ordered[:best]])
    shown = {swap.part.family for swap in told}
    firsts = {parts[place].family: parts[place] for place in reversed(ordered)}
    return Swaps(
        goal,
        len(shelf.parts),
        len(parts),
        dict(Counter(parts[place].family for place in sorted(ordered))),
        told,
        tuple(part for family, part in sorted(firsts.items()) if family not in shown),
        frozenset((parts[place].family, parts[place].id) for place in ordered),
    )


def reaching(seen: Glance, goals: Iterable[int]) -> tuple[int, IntArray]:
    """The first of the verdicts that any reaches, and which do; PASS and none where none reaches any."""
    for goal in goals:
        found = np.flatnonzero(seen.verdict == goal)
        if len(found):
            return goal, found
    return PASS, np.zeros(0, dtype=np.intp)


def in_order(bench: Bench, seen: Glance, variants: Sequence[Variant], chosen: IntArray) -> list[int]:
    """As kits are ranked: stepped headroom, the job's preferences, name."""
    profile = bench.profile
    names = np.array([_kit(bench, variants[place]) for place in chosen.tolist()], dtype=np.str_)
    keys = [-steps(seen.headroom, profile.headroom_enough, profile.headroom_step)]
    keys += [preference_key(wish, seen.metrics[wish.metric], seen.states[wish.metric]) for wish in bench.job.prefer]
    order = np.lexsort([names, *(key[chosen] for key in reversed(keys))])
    ranked: list[int] = chosen[order].tolist()
    return ranked


def _kit(bench: Bench, variant: Variant) -> str:
    """The kit's name with other parts; names sort as kits do, since `+` comes before every character of an id."""
    return "+".join(variant.parts.get(family, own).id for family, own in bench.parts.items())


# --- a few of them in full


def told_of(bench: Bench, variants: Sequence[Variant]) -> tuple[Swap, ...]:
    """Each variant with other parts in full."""
    if not variants:
        return ()
    trials = bench.tried(variants)
    return tuple(_swap(bench, variant, trials.draft, row) for row, variant in enumerate(variants))


def _swap(bench: Bench, variant: Variant, after: Draft, row: int) -> Swap:
    before = bench.itself.draft
    silent, stays, new = compared(before.reasons[0], after.reasons[row])
    return Swap(
        tuple(variant.parts.values()),
        tuple(bench.parts[family] for family in variant.parts),
        int(after.verdict[row]),
        float(after.headroom[row]),
        after.limiting_rule[row],
        bench.itself.unmet[0],
        tuple(_moved(before, after, row, reason.metric, reason.rule) for reason in silent),
        stays,
        new,
        _falls(bench, after, row),
        _setting_word(bench, variant),
        tuple(moved for name in SETUP if (moved := _moved(before, after, row, name)).before != moved.after),
        _moved(before, after, row, "cost"),
    )


def _setting_word(bench: Bench, variant: Variant) -> str:
    """What the setting of a kit is, with those parts in it."""
    if bench.train == "concentric":
        return "gap"
    slave = variant.parts.get("slave", bench.parts["slave"])
    return "piston out" if slave.at("preload") > 0.0 else "lash"


def compared(before: Reasons, after: Reasons) -> tuple[Reasons, Reasons, Reasons]:
    """What is no longer said, what still is, and what was not said before."""
    said, says = ({_saying(reason) for reason in some} for some in (before, after))
    silent = tuple(reason for reason in before if _saying(reason) not in says)
    stays = tuple(reason for reason in after if _saying(reason) in said)
    return silent, stays, tuple(reason for reason in after if _saying(reason) not in said)


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

"""What differs between two results, and why: kit by kit, each difference with the recorded causes that can bear on it."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from fitcheck.changes.causes import Cause, Told, causes_between
from fitcheck.changes.result_folder import ResultFolder
from fitcheck.engine.states import VERDICT_WORDS
from fitcheck.engine.table import METRICS

TOLERANCE = 1e-6  # share of the larger of two figures
CHOICE = ("applications", "trains", "only", "leave_out")  # what of a job decides which kits there are
LENGTH = ("row_limit", "supplied")  # and which of them are listed, where not all are: what is supplied weighs in their order
UNKNOWN = "nothing that the results record about it differs"


@dataclass(frozen=True)
class KitChange:
    """One kit that differs; `what` says how, in words and figures of the files."""

    kit: str
    kind: str  # new, gone, flipped, reordered, figures, headroom
    what: str
    causes: tuple[str, ...]


@dataclass(frozen=True)
class Changes:
    """All that differs between two results."""

    causes: tuple[Cause, ...]  # all that differs in what they were made from, whether it bears on a kit or not
    kits: tuple[KitChange, ...]
    missed: tuple[str, ...]  # applications with a passing kit in the old result and none in the new one
    need_pass: bool  # whether the new job needs one
    partial: tuple[str, ...]  # results whose table holds the best kits only: new and gone then mean listed or not
    complete: bool
    seen: int  # kits in both tables together


def changes(old: ResultFolder, new: ResultFolder, tolerance: float = TOLERANCE) -> Changes:
    """Compare two results.

    Kits are new, gone, flipped (another verdict), reordered (the fewest kits of an application whose moving explains the
    new order of those that both results list), or have figures that differ by more than `tolerance` of the larger one;
    where neither verdict nor figures differ, the headroom may. A kit may stand in several of these. As causes of each are
    named the differences that can bear on it and no others; an assumption or another version may bear on any kit.
    """
    causes = tuple(sorted(causes_between(old, new)))
    told = Told(old, new, causes)
    flipped, figures = tuple(_flipped(told)), tuple(_figures(told, tolerance))
    kits = (*_listed(told), *flipped, *_reordered(told), *figures, *_headroom(told, tolerance, {*flipped, *figures}))
    missed = [name for name, number in sorted(old.passing.items()) if number and not new.passing.get(name)]
    partial = tuple(word for word, result in (("old", old), ("new", new)) if not result.every_kit)
    need_pass = bool(new.decided_by["asked"].get("need_pass"))
    complete = old.complete and new.complete
    return Changes(causes, kits, tuple(missed), need_pass, partial, complete, len(old.kits) + len(new.kits))


def _change(kit: str, kind: str, what: str, causes: Iterable[Cause]) -> KitChange:
    """A change with its causes, each once, or the plain word that none is known."""
    return KitChange(kit, kind, what, tuple(str(cause) for cause in dict.fromkeys(causes)) or (UNKNOWN,))


# --- what differs in what came out


def _listed(told: Told) -> Iterator[KitChange]:
    """Kits that only one of the results lists."""
    for kind, here, other in (("new", told.new, told.old), ("gone", told.old, told.new)):
        for kit in sorted(here.kits.keys() - other.kits.keys()):
            row = here.kits[kit]
            causes = [*told.entries(row), *told.fits(row), *told.of_kind("version"), *told.asked(*CHOICE)]
            if not other.every_kit:  # it may have been legal and only stood too far behind to be listed
                causes += [*told.of_kind("entry", "rule", "assumption", "ranking"), *told.asked(*LENGTH)]
            yield _change(kit, kind, f"{row.verdict}, headroom {row.headroom:.12g}", causes)


def _flipped(told: Told) -> Iterator[KitChange]:
    for kit in sorted(told.both):
        was, now = told.old.kits[kit], told.new.kits[kit]
        if was.verdict != now.verdict:
            worse = max(was, now, key=lambda row: VERDICT_WORDS.index(row.verdict))
            what = f"{was.verdict} to {now.verdict}, limited by {worse.limiting_rule or 'no rule'}"
            yield _change(kit, "flipped", what, [*told.figures(was), *told.rules(was, now)])


def _reordered(told: Told) -> Iterator[KitChange]:
    """Kits that leave the longest run of kits that kept their order; what moves another kit of the application moves them too."""
    groups: dict[str, list[str]] = {}
    for kit in told.both:
        groups.setdefault(told.old.kits[kit].application, []).append(kit)
    for _, kits in sorted(groups.items()):
        before = sorted(kits, key=lambda kit: (told.old.kits[kit].rank, kit))
        after = {kit: place for place, kit in enumerate(sorted(kits, key=lambda kit: (told.new.kits[kit].rank, kit)))}
        stayed = set(_longest_rise([after[kit] for kit in before]))
        others = list(dict.fromkeys(cause for kit in kits for cause in _ranked(told, kit))) if len(stayed) < len(kits) else []
        for place, kit in enumerate(before):
            if after[kit] not in stayed:
                what = f"place {place + 1} to {after[kit] + 1} among the kits that both list"
                yield _change(kit, "reordered", what, [*_ranked(told, kit), *others])


def _ranked(told: Told, kit: str) -> list[Cause]:
    """What can move a kit in the order."""
    was, now = told.old.kits[kit], told.new.kits[kit]
    return [*told.figures(was), *told.rules(was, now), *told.of_kind("ranking")]


def _longest_rise(numbers: Sequence[int]) -> list[int]:
    """The longest rising choice of different numbers, in their order."""
    ends: list[int] = []  # the least end of a rise of each length
    at: list[int] = []
    for number in numbers:
        place = bisect_left(ends, number)
        ends[place : place + 1] = [number]
        at.append(place)
    rise, wanted = [], len(ends) - 1
    for number, place in zip(reversed(numbers), reversed(at), strict=True):
        if place == wanted:
            rise.append(number)
            wanted -= 1
    return rise[::-1]


def _figures(told: Told, tolerance: float) -> Iterator[KitChange]:
    columns = {metric.column for metric in METRICS.values()}
    for kit in sorted(told.both):
        was, now = told.old.kits[kit], told.new.kits[kit]
        names = [name for name in was.figures if name in columns]
        moved = [name for name in names if _moved(was.figures[name], now.figures.get(name), tolerance)]
        if moved:
            what = ", ".join(f"{name} {_figure(was.figures[name])} to {_figure(now.figures.get(name))}" for name in moved)
            yield _change(kit, "figures", what, told.figures(was))


def _headroom(told: Told, tolerance: float, said: Iterable[KitChange]) -> Iterator[KitChange]:
    """Kits that stand nearer to a bound, or further, or are limited by another rule, of which nothing else is said."""
    known = {change.kit for change in said}
    for kit in sorted(kit for kit in told.both if kit not in known):
        was, now = told.old.kits[kit], told.new.kits[kit]
        if was.limiting_rule != now.limiting_rule or _moved(was.headroom, now.headroom, tolerance):
            rules = [row.limiting_rule or "no rule" for row in (was, now)]
            by = f"limited by {rules[1]}{'' if rules[0] == rules[1] else f', before by {rules[0]}'}"
            what = f"headroom {_figure(was.headroom)} to {_figure(now.headroom)}, {by}"
            yield _change(kit, "headroom", what, [*told.figures(was), *told.rules(was, now)])


def _moved(old: float | None, new: float | None, tolerance: float) -> bool:
    """Whether two figures differ by more than a share of the larger; a blank differs from every number."""
    if old is None or new is None or math.isinf(old) or math.isinf(new):
        return old != new
    return abs(new - old) > tolerance * max(abs(old), abs(new))


def _figure(value: float | None) -> str:
    return "blank" if value is None else f"{value:.12g}"

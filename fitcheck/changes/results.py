"""What differs between two results, and why: kit by kit, each difference with the recorded causes that can bear on it."""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fitcheck.changes.result_folder import ResultFolder, Row
from fitcheck.engine.states import VERDICT_WORDS
from fitcheck.engine.table import METRICS

TOLERANCE = 1e-6  # share of the larger of two figures
MARGINS = ("release_margin", "wear_reserve", "stroke_reserve", "overtravel")  # whose rules bound the settings that work
SETTINGS = ("metric", "lower", "upper", "severity", "train", "applications")  # what of a rule the settings depend on
CHOICE = ("applications", "trains", "only", "leave_out")  # what of a job decides which kits there are
LENGTH = ("row_limit", "supplied")  # and which of them are listed, where not all are: what is supplied weighs in their order
UNKNOWN = "nothing that the results record about it differs"


@dataclass(frozen=True, order=True)
class Cause:
    """One thing that differs between what the two results were made from."""

    kind: str  # entry, rule, fit, assumption, ranking, job or version
    name: str
    how: str  # new, gone, or changed with what it was and is

    def __str__(self) -> str:
        """On one line."""
        return f"{self.kind} {self.name}: {self.how}"


@dataclass(frozen=True)
class KitChange:
    """One kit that differs; `what` says how, in words and figures of the files."""

    kit: str
    kind: str  # new, gone, flipped, reordered, figures
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
    new order of those that both results list), or have figures that differ by more than `tolerance` of the larger one. A
    kit may stand in several of these. As causes of each are named the differences that can bear on it and no others.
    """
    causes = tuple(sorted(_causes(old, new)))
    told = _Told(old, new, causes)
    kits = (*_listed(told), *_flipped(told), *_reordered(told), *_figures(told, tolerance))
    missed = [name for name, number in sorted(old.passing.items()) if number and not new.passing.get(name)]
    partial = tuple(word for word, result in (("old", old), ("new", new)) if not result.every_kit)
    need_pass = bool(new.decided_by["asked"].get("need_pass"))
    complete = old.complete and new.complete
    return Changes(causes, kits, tuple(missed), need_pass, partial, complete, len(old.kits) + len(new.kits))


# --- what differs in what went in


def _causes(old: ResultFolder, new: ResultFolder) -> Iterator[Cause]:
    if old.version != new.version:
        yield Cause("version", "fitcheck", f"changed from {old.version} to {new.version}")
    was, now = old.decided_by, new.decided_by
    for family in sorted({*was["entries"], *now["entries"]}):
        for name, how in _compared(was["entries"].get(family, {}), now["entries"].get(family, {})):
            yield Cause("entry", f"{family}.{name}", how if how in ("new", "gone") else "changed")
    tables = (("rules", "rule"), ("fits", "fit"), ("assumptions", "assumption"), ("ranking", "ranking"), ("asked", "job"))
    for key, kind in tables:
        yield from (Cause(kind, name, how) for name, how in _compared(was[key], now[key]))


def _compared(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Names that differ, and how."""
    for name in sorted({*old, *new}):
        if name not in old or name not in new:
            yield name, "gone" if name in old else "new"
        elif old[name] != new[name]:
            yield name, f"changed: {_difference(old[name], new[name])}"


def _difference(old: Any, new: Any) -> str:
    """What it was and is; of a table only the keys that differ."""
    if isinstance(old, dict) and isinstance(new, dict):
        keys = [key for key in sorted({*old, *new}) if old.get(key) != new.get(key)]
        return ", ".join(f"{key} from {_shown(old.get(key))} to {_shown(new.get(key))}" for key in keys)
    return f"from {_shown(old)} to {_shown(new)}"


def _shown(value: Any) -> str:
    if isinstance(value, list):
        return "[" + ", ".join(map(_shown, value)) + "]"
    return "nothing" if value is None else f"{value:.12g}" if isinstance(value, float) else str(value)


# --- which of it can bear on a kit


class _Told:
    """The causes by what they can bear on."""

    def __init__(self, old: ResultFolder, new: ResultFolder, causes: Sequence[Cause]) -> None:
        self.old, self.new = old, new
        self.causes = [cause for cause in causes if (cause.kind, cause.name) != ("job", "need_pass")]  # it bears on no kit
        self.both = [kit for kit in old.kits if kit in new.kits]
        self._entries = {cause.name: cause for cause in causes if cause.kind == "entry"}
        self._margins = {name for name in (*old.decided_by["rules"], *new.decided_by["rules"]) if self._bounds_settings(name)}

    def _bounds_settings(self, name: str) -> bool:
        """Whether a rule was changed so that other settings work."""
        rules = [side.decided_by["rules"].get(name, {}) for side in (self.old, self.new)]
        sides = [tuple(str(rule.get(key)) for key in SETTINGS) for rule in rules]
        return sides[0] != sides[1] and any(rule.get("metric") in MARGINS for rule in rules)

    def entries(self, row: Row) -> list[Cause]:
        """Entries of a kit that differ, the old linkage of its vehicle among them."""
        names = [f"{family}.{name}" for family, name in row.parts.items()]
        sides = [side.decided_by["linkages"].get(row.application) for side in (self.old, self.new)]
        names += [f"linkage.{name}" for name in dict.fromkeys(sides) if name]
        return [self._entries[name] for name in names if name in self._entries]

    def of_kind(self, *kinds: str) -> list[Cause]:
        """All of some kinds."""
        return [cause for cause in self.causes if cause.kind in kinds]

    def asked(self, *names: str) -> list[Cause]:
        """What the jobs ask otherwise, of some keys."""
        return [cause for cause in self.of_kind("job") if cause.name in names]

    def figures(self, row: Row) -> list[Cause]:
        """What can move the figures of a kit."""
        rules = [cause for cause in self.of_kind("rule") if cause.name in self._margins]
        return [*self.entries(row), *self.of_kind("assumption", "version"), *self.asked("supplied"), *rules]

    def rules(self, *rows: Row) -> list[Cause]:
        """Rules that differ and that a kit breaks, or is limited by, in one of the results."""
        said = {name for row in rows for name in (*_ruled(row.reasons), row.limiting_rule)}
        return [cause for cause in self.of_kind("rule") if cause.name in said]


def _ruled(reasons: str) -> list[str]:
    """The rules that a cell of reasons names."""
    return re.findall(r"(?:^|; )([^:;]+): ", reasons)


def _change(kit: str, kind: str, what: str, causes: Iterable[Cause]) -> KitChange:
    """A change with its causes, each once, or the plain word that none is known."""
    return KitChange(kit, kind, what, tuple(str(cause) for cause in dict.fromkeys(causes)) or (UNKNOWN,))


# --- what differs in what came out


def _listed(told: _Told) -> Iterator[KitChange]:
    """Kits that only one of the results lists."""
    for kind, here, other in (("new", told.new, told.old), ("gone", told.old, told.new)):
        for kit in sorted(here.kits.keys() - other.kits.keys()):
            row = here.kits[kit]
            causes = [*told.entries(row), *told.of_kind("fit", "version"), *told.asked(*CHOICE)]
            if not other.every_kit:  # it may have been legal and only stood too far behind to be listed
                causes += [*told.of_kind("entry", "rule", "assumption", "ranking"), *told.asked(*LENGTH)]
            yield _change(kit, kind, f"{row.verdict}, headroom {row.headroom:.12g}", causes)


def _flipped(told: _Told) -> Iterator[KitChange]:
    for kit in sorted(told.both):
        was, now = told.old.kits[kit], told.new.kits[kit]
        if was.verdict != now.verdict:
            worse = max(was, now, key=lambda row: VERDICT_WORDS.index(row.verdict))
            what = f"{was.verdict} to {now.verdict}, limited by {worse.limiting_rule or 'no rule'}"
            yield _change(kit, "flipped", what, [*told.figures(was), *told.rules(was, now)])


def _reordered(told: _Told) -> Iterator[KitChange]:
    """Kits that leave the longest run of kits that kept their order."""
    groups: dict[str, list[str]] = {}
    for kit in told.both:
        groups.setdefault(told.old.kits[kit].application, []).append(kit)
    for _, kits in sorted(groups.items()):
        before = sorted(kits, key=lambda kit: (told.old.kits[kit].rank, kit))
        after = {kit: place for place, kit in enumerate(sorted(kits, key=lambda kit: (told.new.kits[kit].rank, kit)))}
        stayed = set(_longest_rise([after[kit] for kit in before]))
        for place, kit in enumerate(before):
            if after[kit] not in stayed:
                was, now = told.old.kits[kit], told.new.kits[kit]
                own = [*told.figures(was), *told.rules(was, now), *told.of_kind("ranking")]
                what = f"place {place + 1} to {after[kit] + 1} among the kits that both list"
                yield _change(kit, "reordered", what, own or told.causes)  # it may be the other kit that changed


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


def _figures(told: _Told, tolerance: float) -> Iterator[KitChange]:
    columns = {metric.column for metric in METRICS.values()}
    for kit in sorted(told.both):
        was, now = told.old.kits[kit], told.new.kits[kit]
        names = [name for name in was.figures if name in columns]
        moved = [name for name in names if _moved(was.figures[name], now.figures.get(name), tolerance)]
        if moved:
            what = ", ".join(f"{name} {_figure(was.figures[name])} to {_figure(now.figures.get(name))}" for name in moved)
            yield _change(kit, "figures", what, told.figures(was))


def _moved(old: float | None, new: float | None, tolerance: float) -> bool:
    """Whether two figures differ by more than a share of the larger; a blank differs from every number."""
    if old is None or new is None or math.isinf(old) or math.isinf(new):
        return old != new
    return abs(new - old) > tolerance * max(abs(old), abs(new))


def _figure(value: float | None) -> str:
    return "blank" if value is None else f"{value:.12g}"

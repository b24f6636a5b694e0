"""Verdicts: what the rules of a profile say about evaluated kits, each rule on the axes of its metric."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from fitcheck.engine.result import Reason
from fitcheck.engine.states import CANNOT, CAUTION, NOT_GIVEN, REJECT, VALUE
from fitcheck.profile import Profile, Rule

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
Shape = tuple[int, ...]
NOBODY: frozenset[str] = frozenset()

BREAKS = -1e-9  # a rule is broken when its headroom is below this
TIE = 1e-9  # headrooms so near each other are equal
_ONE = 1 << 16  # counts one broken rule in the upper half of a number, the rule's place in the lower half


class Values(Protocol):
    """What evaluation gives: for each metric its numbers and states, broadcastable to the kits."""

    @property
    def names(self) -> Collection[str]:
        """Metrics that were evaluated and exist on this train."""

    def number(self, name: str) -> FloatArray:
        """SI values; of no meaning where the state is not VALUE."""

    def state(self, name: str) -> npt.NDArray[np.uint8] | None:
        """States; None where every one is VALUE."""

    def missing_fields(self, name: str) -> Sequence[tuple[str, BoolArray]]:
        """Which optional fields the metric lacks, and where."""

    def causes(self, name: str) -> Sequence[tuple[str, BoolArray]]:
        """Why the metric cannot be computed, and where."""


@dataclass(frozen=True)
class Judgement:
    """Verdicts and headrooms of kits, and how often each rule broke."""

    verdict: npt.NDArray[np.uint8]
    headroom: FloatArray
    verdicts: tuple[int, int, int]  # pass, caution, reject
    broken_by: dict[str, int]
    only_by: dict[str, int]


@dataclass(frozen=True)
class Mark:
    """What one rule, or one value that cannot be computed, says: headroom on the axes of its metric."""

    name: str
    metric: str
    rejects: bool  # whether a negative headroom is a rejection
    headroom: FloatArray  # inf where it says nothing
    rule: Rule | None


def applicable(profile: Profile, application: str, train: str) -> tuple[Rule, ...]:
    """The rules that hold for an application on a train, by name."""
    rules = (rule for rule in profile.rules if rule.train in (None, train))
    return tuple(rule for rule in rules if rule.applications is None or application in rule.applications)


def judge(values: Values, rules: Sequence[Rule], shape: Shape, waived: frozenset[str] = NOBODY) -> Judgement:
    """Verdict, headroom and counts of the kits of that shape; a broken rule among `waived` makes a caution only."""
    least: dict[bool, dict[Shape, FloatArray]] = {True: {}, False: {}}
    broken_by = {rule.name: 0 for rule in rules if rule.metric in values.names}
    rejected: list[tuple[str, BoolArray]] = []
    cells = int(np.prod(shape, dtype=np.int64))
    for mark in marks(values, rules, waived, len(shape)):
        _fold(least[mark.rejects], mark.headroom, np.minimum)
        kept = mark.headroom >= BREAKS  # not-a-number is not kept
        lost = (kept.size - int(np.count_nonzero(kept))) * (cells // kept.size)
        broken_by[mark.name] = broken_by.get(mark.name, 0) + lost
        if mark.rejects and lost:
            rejected.append((mark.name, np.logical_not(kept, out=kept)))
    strict, mild = (_spread(least[rejects], shape, np.minimum, np.inf, np.float64) for rejects in (True, False))
    verdict, headroom = _combine(strict, mild, _not_given(values, rules, shape))
    rejects = int(np.count_nonzero(verdict == REJECT))
    cautions = int(np.count_nonzero(verdict == CAUTION))
    only_by = dict.fromkeys(broken_by, 0) | _only_by(rejected, shape)
    return Judgement(verdict, headroom, (cells - rejects - cautions, cautions, rejects), broken_by, only_by)


def _combine(strict: FloatArray, mild: FloatArray, unknown: BoolArray) -> tuple[npt.NDArray[np.uint8], FloatArray]:
    """From the least headroom of rejecting and of other rules to verdict and headroom."""
    rejected = ~(strict >= BREAKS)
    cautioned = ~(mild >= BREAKS)
    cautioned |= unknown
    verdict = np.maximum(rejected.view(np.uint8) * np.uint8(REJECT), cautioned.view(np.uint8) * np.uint8(CAUTION))
    headroom = np.minimum(strict, mild, out=mild)
    np.copyto(headroom, strict, where=rejected)
    if headroom.size and np.isnan(headroom.min()):
        np.copyto(headroom, -np.inf, where=np.isnan(headroom))
    return verdict, headroom


# --- one rule


def marks(values: Values, rules: Iterable[Rule], waived: frozenset[str], ndim: int) -> Iterator[Mark]:
    """What each rule says, and each value that cannot be computed, in the name of every rule on it or in its own."""
    ruled = set()
    for rule in rules:
        if rule.metric in values.names:
            ruled.add(rule.metric)
            yield from _rule_marks(values, rule, waived, ndim)
    for name in values.names:
        cannot = None if name in ruled else _where(values, name, CANNOT, ndim)
        if cannot is not None:
            yield Mark(name, name, True, np.where(cannot, -np.inf, np.inf), None)


def _rule_marks(values: Values, rule: Rule, waived: frozenset[str], ndim: int) -> Iterator[Mark]:
    state = values.state(rule.metric)
    headroom = headroom_of(rule, _aligned(values.number(rule.metric), ndim))
    rejects = rule.severity == "reject" and rule.name not in waived
    if state is not None:
        headroom = np.where(_aligned(state, ndim) == VALUE, headroom, np.inf)
        cannot = _where(values, rule.metric, CANNOT, ndim)
        if cannot is not None and rejects:
            np.copyto(headroom, -np.inf, where=cannot)
        elif cannot is not None:
            yield Mark(rule.name, rule.metric, True, np.where(cannot, -np.inf, np.inf), rule)
    yield Mark(rule.name, rule.metric, rejects, headroom, rule)


def headroom_of(rule: Rule, number: FloatArray) -> FloatArray:
    """How far a value keeps from the bounds of a rule, in its scale; a new array."""
    sides = [] if rule.lower is None else [number - rule.lower]
    sides += [] if rule.upper is None else [rule.upper - number]
    left = np.minimum(*sides) if len(sides) == 2 else sides[0]
    left /= rule.scale
    return left


def headrooms(values: Values, rules: Sequence[Rule], names: Sequence[str], kits: int) -> FloatArray:
    """Headroom by name, of a rule or of a value that must be computed, for kits on one axis.

    Infinite where nothing is said, not-a-number where a rule lacks its figure.
    """
    found = dict(zip(names, np.full((len(names), kits), np.inf), strict=True))
    for mark in marks(values, rules, NOBODY, 1):
        said = np.where(np.isnan(mark.headroom), -np.inf, mark.headroom)
        found[mark.name] = np.minimum(found.get(mark.name, np.inf), said)
    for rule in rules:
        lacking = _where(values, rule.metric, NOT_GIVEN, 1) if rule.metric in values.names else None
        if lacking is not None:
            found[rule.name] = np.where(lacking, np.nan, found[rule.name])
    return np.stack([np.broadcast_to(found[name], kits) for name in names])


def _where(values: Values, name: str, wanted: int, ndim: int) -> BoolArray | None:
    """Where a metric has that state; None where it never has."""
    state = values.state(name)
    if state is None:
        return None
    here = _aligned(state, ndim) == wanted
    return here if here.any() else None


def _not_given(values: Values, rules: Iterable[Rule], shape: Shape) -> BoolArray:
    """Where a rule lacks the value that it judges, and does not say that this is only to be mentioned."""
    by_shape: dict[Shape, BoolArray] = {}
    for metric in dict.fromkeys(rule.metric for rule in rules if rule.not_given == "caution"):
        here = _where(values, metric, NOT_GIVEN, len(shape)) if metric in values.names else None
        if here is not None:
            _fold(by_shape, here, np.logical_or)
    return _spread(by_shape, shape, np.logical_or, False, np.bool_)


def _only_by(rejected: Sequence[tuple[str, BoolArray]], shape: Shape) -> dict[str, int]:
    """For each rejecting rule, the kits that it alone rejects.

    Rules on fewer axes are added up there, as `_ONE` plus their place in the list, and spread once: where the sum
    holds one rule, its lower half says which.
    """
    codes: dict[Shape, npt.NDArray[np.int32]] = {}
    whole = np.zeros(shape, dtype=np.uint8 if len(rejected) < 256 else np.uint16)
    for place, (_, broken) in enumerate(rejected):
        if broken.shape == shape:
            whole += broken.view(np.uint8)
        else:
            _fold(codes, np.multiply(broken, _ONE + place, dtype=np.int32), np.add)
    code = _spread(codes, shape, np.add, 0, np.int32)
    alone = (code >> 16) + whole == 1
    tallies = np.bincount(code[alone & (whole == 0)] & (_ONE - 1), minlength=len(rejected)).tolist()
    found = {name: 0 for name, _ in rejected}
    for place, (name, broken) in enumerate(rejected):
        found[name] += int(np.count_nonzero(alone & broken)) if broken.shape == shape else tallies[place]
    return found


# --- plain rows, with reasons


@dataclass(frozen=True)
class Explained:
    """Why each of some kits stands where it does."""

    limiting_rule: tuple[str, ...]
    reasons: tuple[tuple[Reason, ...], ...]  # rejections first, the worst first, then by name


def explain(values: Values, rules: Sequence[Rule], judgement: Judgement, waived: frozenset[str] = NOBODY) -> Explained:
    """Limiting rule and every reason of kits that lie on one axis and were judged with the same rules."""
    rows = judgement.verdict.size
    said = sorted(marks(values, rules, waived, 1), key=lambda mark: (mark.name, not mark.rejects))
    reasons: list[list[Reason]] = [[] for _ in range(rows)]
    for mark in said:
        broken = np.flatnonzero(~(np.broadcast_to(mark.headroom, rows) >= BREAKS))
        for row, reason in zip(broken.tolist(), _reasons(values, mark, broken, waived), strict=True):
            reasons[row].append(reason)
    for row, reason in _unknown(values, rules, rows):
        reasons[row].append(reason)
    ordered = tuple(tuple(sorted(some, key=_worst_first)) for some in reasons)
    return Explained(_limiting(values, said, judgement), ordered)


def _worst_first(reason: Reason) -> tuple[bool, float, str]:
    return reason.severity != "reject", round(reason.headroom, 9), reason.rule


def _limiting(values: Values, said: Sequence[Mark], judgement: Judgement) -> tuple[str, ...]:
    """The first by name whose headroom is the kit's; rejecting rules alone where the kit is rejected."""
    verdict, least = judgement.verdict, judgement.headroom
    names = np.full(verdict.size, "", dtype=object)
    for mark in reversed(said):
        headroom = np.where(np.isnan(mark.headroom), -np.inf, mark.headroom)
        state = values.state(mark.metric)
        speaks = headroom < np.inf
        if mark.rule is not None:
            speaks = speaks | (state is None or state == VALUE)  # an infinite headroom is one
        names[(headroom <= least + TIE) & speaks & (mark.rejects | (verdict != REJECT))] = mark.name
    return tuple(names.tolist())


def _at_rows(array: npt.NDArray[Any], rows: npt.NDArray[np.intp]) -> list[Any]:
    picked: list[Any] = (array.reshape(-1)[rows] if array.size > 1 else np.full(len(rows), array.reshape(-1)[0])).tolist()
    return picked


def _reasons(values: Values, mark: Mark, rows: npt.NDArray[np.intp], waived: frozenset[str]) -> Iterator[Reason]:
    """What one mark says of each of some rows that it breaks."""
    if not len(rows):
        return
    state = values.state(mark.metric)
    cannot = [False] * len(rows) if state is None else [each == CANNOT for each in _at_rows(state, rows)]
    numbers, headrooms = _at_rows(values.number(mark.metric), rows), _at_rows(mark.headroom, rows)
    for row, failed, value, headroom in zip(rows.tolist(), cannot, numbers, headrooms, strict=True):
        yield _cannot(values, mark, row) if failed else _broken(mark, value, headroom, waived)


def _broken(mark: Mark, value: float, headroom: float, waived: frozenset[str]) -> Reason:
    rule = mark.rule
    assert rule is not None  # only a value that cannot be computed speaks without a rule
    known = value == value
    low = np.inf if rule.lower is None else value - rule.lower
    high = np.inf if rule.upper is None else rule.upper - value
    bound, limit = ("lower", rule.lower) if rule.upper is None or low < high else ("upper", rule.upper)
    kind = "waived" if rule.name in waived else "broken"
    severity = "reject" if mark.rejects else "caution"
    texts = (rule.reason, rule.remedy, rule.source)
    room = headroom if known else -np.inf
    return Reason(rule.name, rule.metric, kind, severity, value if known else None, bound, limit, room, *texts)


def _cannot(values: Values, mark: Mark, row: int) -> Reason:
    causes = "; ".join(cause for cause, where in values.causes(mark.metric) if where.flat[row if where.size > 1 else 0])
    remedy, source = (mark.rule.remedy, mark.rule.source) if mark.rule else ("", "")
    return Reason(mark.name, mark.metric, "cannot be computed", "reject", None, "", None, -np.inf, causes, remedy, source)


def _unknown(values: Values, rules: Iterable[Rule], rows: int) -> Iterator[tuple[int, Reason]]:
    """One caution for each row and missing field that a rule needs, in the name of the first such rule."""
    seen: set[tuple[int, str]] = set()
    for rule in sorted(rules, key=lambda rule: rule.name):
        if rule.metric not in values.names or rule.not_given != "caution" or values.state(rule.metric) is None:
            continue
        lacks = np.broadcast_to(values.state(rule.metric) == NOT_GIVEN, rows)
        for field, where in values.missing_fields(rule.metric):
            for row in np.flatnonzero(lacks & np.broadcast_to(where, rows)).tolist():
                if (row, field) not in seen:
                    seen.add((row, field))
                    yield row, _not_given_reason(rule, field)


def _not_given_reason(rule: Rule, field: str) -> Reason:
    text = f"{field} is not given, so {rule.metric} is not known"
    remedy = f"give {field} in the catalog"
    return Reason(rule.name, rule.metric, "not given", "caution", None, "", None, np.inf, text, remedy, rule.source)


# --- arrays on fewer axes than the kits


def _aligned(array: npt.NDArray[Any], ndim: int) -> npt.NDArray[Any]:
    """The array with as many axes as the kits have."""
    return array.reshape((1,) * (ndim - array.ndim) + array.shape)


def _fold(by_shape: dict[Shape, npt.NDArray[Any]], array: npt.NDArray[Any], combine: np.ufunc) -> None:
    """Combine with what already lies on the same axes, in place; the first array of a shape is kept and changed later."""
    if array.shape in by_shape:
        combine(by_shape[array.shape], array, out=by_shape[array.shape])
    else:
        by_shape[array.shape] = array


def _spread(
    by_shape: dict[Shape, npt.NDArray[Any]], shape: Shape, combine: np.ufunc, nothing: Any, dtype: npt.DTypeLike
) -> npt.NDArray[Any]:
    """Combine all into one array of the full shape: each goes first into the smallest other that spans its axes."""
    spread = by_shape.pop(shape, None)
    if spread is None:
        spread = np.full(shape, nothing, dtype=dtype)
    left = sorted(by_shape, key=lambda some: (int(np.prod(some)), some))
    for place, small in enumerate(left):
        wider = next((other for other in left[place + 1 :] if all(a in (1, b) for a, b in zip(small, other, strict=True))), None)
        target = spread if wider is None else by_shape[wider]
        combine(target, by_shape[small], out=target)
    return spread

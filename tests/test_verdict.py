"""Verdicts, headroom and counts of rules, held against the definitions applied kit by kit and rule by rule.

The plain way below loops over kits and rules and follows only the definitions: headroom of a rule is the distance to its
bound over its scale; a rule is broken below -1e-9; a value that cannot be computed breaks every rule on it.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.engine.states import ABSENT, CANNOT, CAUTION, NOT_GIVEN, PASS, REJECT, VALUE
from fitcheck.engine.verdict import Judgement, applicable, explain, headroom_of, judge
from fitcheck.profile import Assumptions, Profile, Rule

Room = tuple[float, str, bool]  # headroom, who says so, whether it rejects when broken
METRIC_NAMES = tuple("abcdefg")


class Given:
    """Made-up values of metrics, on any axes."""

    def __init__(self, numbers: dict[str, Any], states: dict[str, Any] | None = None) -> None:
        self.numbers = {name: np.asarray(number, dtype=float) for name, number in numbers.items()}
        self.states = {name: np.asarray(state, dtype=np.uint8) for name, state in (states or {}).items()}
        self.lacks: dict[str, list[tuple[str, Any]]] = {}
        self.why: dict[str, list[tuple[str, Any]]] = {}

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self.numbers)

    def number(self, name: str) -> Any:
        return self.numbers[name]

    def state(self, name: str) -> Any:
        return self.states.get(name)

    def missing_fields(self, name: str) -> list[tuple[str, Any]]:
        return self.lacks.get(name, [])

    def causes(self, name: str) -> list[tuple[str, Any]]:
        return self.why.get(name, [])


def rule(name: str, metric: str, lower: float | None = None, upper: float | None = None, **more: Any) -> Rule:
    values = {"severity": "reject", "scale": 1.0, "reason": f"why {name}", "remedy": f"mend {name}", "source": "a book", **more}
    return Rule(name, metric, lower, upper, **values)


# --- the plain way


def plain(values: Given, rules: list[Rule], shape: tuple[int, ...], waived: frozenset[str]) -> dict[str, Any]:
    """Verdict, headroom and limiting rule of each kit, and the counts, by nothing but loops."""
    verdicts, headrooms, limits = [], [], []
    broken_by = {r.name: 0 for r in rules if r.metric in values.names}
    only_by = dict(broken_by)
    for place in np.ndindex(shape):
        here = {name: at(values, name, place) for name in values.names}
        rooms = list(plain_rooms(here, rules, waived))
        unknown = any(here.get(r.metric, (0, VALUE))[1] == NOT_GIVEN and r.not_given == "caution" for r in rules)
        rejecting = {name for room, name, rejects in rooms if rejects and room < -1e-9}
        for name in {name for room, name, _ in rooms if room < -1e-9}:
            broken_by[name] = broken_by.get(name, 0) + 1
            only_by[name] = only_by.get(name, 0) + (rejecting == {name})
        sought = [(room, name) for room, name, rejects in rooms if rejects or not rejecting]
        headrooms.append(min((room for room, _ in sought), default=math.inf))
        limits.append(min((name for room, name in sought if room <= headrooms[-1] + 1e-9), default=""))
        mild = unknown or any(room < -1e-9 for room, _, _ in rooms)
        verdicts.append(REJECT if rejecting else CAUTION if mild else PASS)
    return {"verdict": verdicts, "headroom": headrooms, "limits": limits, "broken_by": broken_by, "only_by": only_by}


def at(values: Given, name: str, place: tuple[int, ...]) -> tuple[float, int]:
    def one(array: Any) -> Any:
        places = place[len(place) - array.ndim :]
        return array[tuple(0 if size == 1 else i for size, i in zip(array.shape, places, strict=True))]

    state = values.states.get(name)
    return float(one(values.numbers[name])), VALUE if state is None else int(one(state))


def plain_rooms(here: dict[str, tuple[float, int]], rules: list[Rule], waived: frozenset[str]) -> Iterator[Room]:
    for r in rules:
        value, state = here.get(r.metric, (0.0, ABSENT))
        if state == CANNOT:
            yield -math.inf, r.name, True
        elif state == VALUE:
            rooms = [(value - r.lower) / r.scale] if r.lower is not None else []
            rooms += [(r.upper - value) / r.scale] if r.upper is not None else []
            room = -math.inf if math.isnan(value) else min(rooms)
            yield room, r.name, r.severity == "reject" and r.name not in waived
    for name, (_, state) in here.items():
        if state == CANNOT and name not in {r.metric for r in rules}:
            yield -math.inf, name, True


def random_case(seed: int) -> tuple[Given, list[Rule], tuple[int, ...], frozenset[str]]:
    """Kits on up to four axes, metrics on some of them with states of every kind, rules of every kind."""
    dice = random.Random(seed)
    shape = tuple(dice.randint(1, 3) for _ in range(dice.randint(1, 4)))
    numbers, states = {}, {}
    for name in METRIC_NAMES:
        own = tuple(size if dice.random() < 0.6 else 1 for size in shape)
        own = own if dice.random() < 0.9 else ()
        choices = [-1.0, -1e-9, -2e-9, 0.0, 0.5, 1.0, 2.0, math.inf, math.nan] if dice.random() < 0.3 else [-0.2, 0.5, 1.0, 2.0]
        numbers[name] = np.array([dice.choice(choices) for _ in range(math.prod(own))]).reshape(own)
        if dice.random() < 0.4:
            kinds = dice.choice(([VALUE], [VALUE, ABSENT], [VALUE, NOT_GIVEN], [VALUE] * 9 + [CANNOT], [0, 0, 0, 1, 2, 3]))
            states[name] = np.array([dice.choice(kinds) for _ in range(math.prod(own))]).reshape(own)
            numbers[name] = np.where(states[name] == VALUE, numbers[name], math.nan)
    rules = [random_rule(dice, f"rule-{number}") for number in range(dice.randint(0, 9))]
    waived = frozenset(r.name for r in rules if dice.random() < 0.15)
    return Given(numbers, states), rules, shape, waived


def random_rule(dice: random.Random, name: str) -> Rule:
    lower, upper = dice.choice(((0.0, None), (None, 1.0), (-0.5, 1.5), (0.25, None)))
    more: dict[str, Any] = {"severity": dice.choice(("reject", "reject", "caution")), "scale": dice.choice((1.0, 0.5, 4.0))}
    return rule(name, dice.choice((*METRIC_NAMES, "elsewhere")), lower, upper, not_given=dice.choice(("caution", "said")), **more)


@pytest.mark.parametrize("first", range(0, 400, 100))
def test_tiles_are_judged_as_kit_by_kit_and_rule_by_rule(first: int) -> None:
    met = set()
    for seed in range(first, first + 100):
        values, rules, shape, waived = random_case(seed)
        found, expected = judge(values, rules, shape, waived), plain(values, rules, shape, waived)
        assert found.verdict.shape == found.headroom.shape == shape
        assert found.verdict.ravel().tolist() == expected["verdict"], seed
        assert found.headroom.ravel().tolist() == pytest.approx(expected["headroom"], rel=1e-12, abs=1e-12), seed
        assert found.verdicts == tuple(expected["verdict"].count(code) for code in (PASS, CAUTION, REJECT))
        assert (found.broken_by, found.only_by) == (expected["broken_by"], expected["only_by"]), seed
        met |= set(expected["verdict"])
    assert met == {PASS, CAUTION, REJECT}


@pytest.mark.parametrize("first", range(0, 200, 100))
def test_kits_one_by_one_name_their_limiting_rule_and_every_reason(first: int) -> None:
    for seed in range(first, first + 100):
        values, rules, shape, waived = random_case(seed)
        rows = flat(values, shape)
        judgement = judge(rows, rules, (math.prod(shape),), waived)
        found, expected = explain(rows, rules, judgement, waived), plain(values, rules, shape, waived)
        assert list(found.limiting_rule) == expected["limits"], seed
        for row, reasons in enumerate(found.reasons):
            rejecting = any(reason.severity == "reject" for reason in reasons)
            assert (judgement.verdict[row] == REJECT) == rejecting
            assert [reason.severity for reason in reasons] == sorted((reason.severity for reason in reasons), reverse=True)
        broken = [reason.rule for reasons in found.reasons for reason in reasons if reason.kind != "not given"]
        assert {name: broken.count(name) for name in expected["broken_by"]} == expected["broken_by"]


def flat(values: Given, shape: tuple[int, ...]) -> Given:
    """The same kits as plain rows; a field is missing, or a cause known, wherever the state says so."""
    numbers = {name: np.broadcast_to(number, shape).ravel() for name, number in values.numbers.items()}
    rows = Given(numbers, {name: np.broadcast_to(state, shape).ravel() for name, state in values.states.items()})
    rows.lacks = {name: [(f"part.{name}", state == NOT_GIVEN)] for name, state in rows.states.items()}
    rows.why = {name: [(f"{name} has no root", state == CANNOT)] for name, state in rows.states.items()}
    return rows


# --- single sentences


def one(value: float, *rules: Rule, state: int = VALUE, waived: frozenset[str] = frozenset()) -> tuple[Judgement, Any]:
    values = Given({"a": [value]}, {"a": [state]} if state else {})
    values.lacks, values.why = {"a": [("slave.cavity", np.array([True]))]}, {"a": [("the stroke ends", np.array([True]))]}
    found = judge(values, rules, (1,), waived)
    return found, explain(values, rules, found, waived)


def test_a_bound_met_within_a_hair_is_kept() -> None:
    assert one(0.5 - 1e-10, rule("low", "a", lower=0.5))[0].verdict.tolist() == [PASS]
    assert one(0.5 - 2e-9, rule("low", "a", lower=0.5))[0].verdict.tolist() == [REJECT]
    assert one(0.5 - 2e-9, rule("low", "a", lower=0.5, scale=10.0))[0].verdict.tolist() == [PASS]


def test_both_bounds_count_and_the_nearer_is_told() -> None:
    both = rule("both", "a", lower=0.0, upper=1.0, scale=0.5)
    assert headroom_of(both, np.array([0.25, 0.9, 1.5, -1.0])) == pytest.approx([0.5, 0.2, -1.0, -2.0])
    assert [(r.bound, r.limit, r.value) for r in one(1.5, both)[1].reasons[0]] == [("upper", 1.0, 1.5)]
    assert [(r.bound, r.limit, r.value) for r in one(-1.0, both)[1].reasons[0]] == [("lower", 0.0, -1.0)]


def test_not_a_number_never_passes() -> None:
    judgement, told = one(math.nan, rule("low", "a", lower=0.0))
    assert (judgement.verdict.tolist(), judgement.headroom.tolist()) == ([REJECT], [-math.inf])
    assert (told.reasons[0][0].value, told.reasons[0][0].headroom) == (None, -math.inf)


def test_infinity_is_a_value() -> None:
    assert one(math.inf, rule("high", "a", upper=1.0))[0].headroom.tolist() == [-math.inf]
    judgement, told = one(math.inf, rule("low", "a", lower=1.0))
    assert (judgement.verdict.tolist(), judgement.headroom.tolist(), told.reasons) == ([PASS], [math.inf], ((),))


def test_what_cannot_be_computed_rejects_in_the_name_of_every_rule_on_it_cautions_too() -> None:
    rules = (rule("hard", "a", lower=0.0), rule("soft", "a", upper=1.0, severity="caution"))
    judgement, told = one(math.nan, *rules, state=CANNOT)
    assert (judgement.verdict.tolist(), judgement.headroom.tolist()) == ([REJECT], [-math.inf])
    assert (judgement.broken_by, judgement.only_by) == ({"hard": 1, "soft": 1}, {"hard": 0, "soft": 0})
    assert [(r.rule, r.kind, r.severity, r.reason) for r in told.reasons[0]] == [
        ("hard", "cannot be computed", "reject", "the stroke ends"),
        ("soft", "cannot be computed", "reject", "the stroke ends"),
    ]


def test_what_cannot_be_computed_without_a_rule_rejects_in_its_own_name() -> None:
    judgement, told = one(math.nan, state=CANNOT)
    assert (judgement.verdict.tolist(), judgement.only_by) == ([REJECT], {"a": 1})
    assert told.limiting_rule == ("a",)
    assert [(r.rule, r.remedy, r.source) for r in told.reasons[0]] == [("a", "", "")]


def test_a_missing_field_is_one_caution_however_many_rules_need_it_and_gives_no_headroom() -> None:
    rules = (rule("first", "a", lower=0.0), rule("second", "a", upper=1.0), rule("zero", "a", lower=0.0, not_given="said"))
    judgement, told = one(math.nan, *rules, state=NOT_GIVEN)
    assert (judgement.verdict.tolist(), judgement.headroom.tolist(), told.limiting_rule) == ([CAUTION], [math.inf], ("",))
    assert [(r.rule, r.kind, r.severity) for r in told.reasons[0]] == [("first", "not given", "caution")]
    assert "slave.cavity" in told.reasons[0][0].reason
    said, told = one(math.nan, rules[2], state=NOT_GIVEN)
    assert (said.verdict.tolist(), told.reasons) == ([PASS], ((),))


def test_a_waived_rule_makes_a_caution_and_counts_as_one() -> None:
    rules = (rule("hard", "a", lower=1.0), rule("slack", "a", lower=-9.0))
    judgement, told = one(0.0, *rules, waived=frozenset({"hard"}))
    assert (judgement.verdict.tolist(), judgement.headroom.tolist()) == ([CAUTION], [-1.0])
    assert (judgement.broken_by["hard"], judgement.only_by["hard"], told.limiting_rule) == (1, 0, ("hard",))
    assert [(r.kind, r.severity) for r in told.reasons[0]] == [("waived", "caution")]


def test_a_rejected_kit_is_limited_by_a_rejecting_rule_though_a_caution_is_further_off() -> None:
    rules = (rule("far", "a", lower=5.0, severity="caution"), rule("near", "a", lower=1.0))
    judgement, told = one(0.0, *rules)
    assert (judgement.headroom.tolist(), told.limiting_rule) == ([-1.0], ("near",))
    assert [r.rule for r in told.reasons[0]] == ["near", "far"]


def test_equal_headroom_is_limited_by_the_first_name() -> None:
    rules = (rule("b", "a", lower=1.0 + 5e-10), rule("c", "a", lower=1.0 + 1e-9), rule("aa", "a", lower=1.0 + 2e-10))
    assert one(1.5, *rules)[1].limiting_rule == ("aa",)


def test_a_rule_holds_where_it_says() -> None:
    rules = (
        rule("all", "a", lower=0.0),
        rule("vans", "a", lower=0.0, applications=("van",)),
        rule("shaft", "a", lower=0.0, train="concentric"),
    )
    profile = Profile("test", 1.0, 0.25, (), Assumptions(0.0, 1e5, 0.1, 0.0, 1, 1e3, 10.0), (), rules)
    assert [r.name for r in applicable(profile, "van", "external")] == ["all", "vans"]
    assert [r.name for r in applicable(profile, "bus", "concentric")] == ["all", "shaft"]


@given(st.integers(0, 10_000), st.floats(0.0, 3.0))
def test_a_wider_bound_rejects_no_kit_that_it_let_through(seed: int, wider: float) -> None:
    values, rules, shape, waived = random_case(seed)
    looser = [
        replace(r, lower=None if r.lower is None else r.lower - wider, upper=None if r.upper is None else r.upper + wider)
        for r in rules
    ]
    before, after = (judge(values, some, shape, waived) for some in (rules, looser))
    assert (after.verdict <= before.verdict).all()


@given(st.integers(0, 10_000))
def test_the_order_of_rules_changes_nothing(seed: int) -> None:
    values, rules, shape, waived = random_case(seed)
    before, after = (judge(values, some, shape, waived) for some in (rules, rules[::-1]))
    assert (before.verdict == after.verdict).all()
    assert np.array_equal(before.headroom, after.headroom)
    assert (before.broken_by, before.only_by) == (after.broken_by, after.only_by)


def test_very_many_rules_are_counted_without_running_over() -> None:
    shape = (3, 2)
    values = Given({"a": np.zeros(shape), "b": np.zeros((1, 2))})
    rules = [rule(f"rule-{i:03}", metric, lower=1.0) for i, metric in product(range(300), ("a", "b"))]
    rules = [replace(r, name=f"{r.name}-{r.metric}") for r in rules]
    found = judge(values, rules, shape)
    assert set(found.broken_by.values()) == {6}
    assert set(found.only_by.values()) == {0}

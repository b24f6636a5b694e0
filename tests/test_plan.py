"""The plan of metrics is a closed world: whatever does not fit together is said when it is built, with its place."""

from __future__ import annotations

import inspect
import itertools
from collections.abc import Callable
from typing import Any

import pytest

from fitcheck.engine.plan import Plan, PlanError, Step, build_plan
from fitcheck.engine.table import METRICS
from fitcheck.engine.trains import REASONS, functions, may_fail, plan_for
from fitcheck.errors import FitcheckError


def area(bore: float) -> float:
    """Area of a bore.

    Source: circle, elementary.
    """
    return bore**2


def volume(area: float, stroke: float) -> float:
    """Swept volume."""
    return area * stroke


def share(volume: float, whole: float) -> float:
    return volume / whole


GOOD: dict[str, Callable[..., Any]] = {"area": area, "volume": volume, "share": share}
GIVENS = ("bore", "stroke", "whole")


def line_of(function: Callable[..., Any]) -> int:
    return inspect.getsourcelines(function)[1]


# What does not fit together.


@pytest.mark.parametrize(("asked", "near"), [("boer", "bore"), ("volum", "volume"), ("strokes", "stroke")])
def test_an_unknown_name_is_said_with_its_place_and_what_is_near(asked: str, near: str) -> None:
    made: dict[str, Any] = {}
    exec(f"def flow({asked}, whole): return {asked}", made)
    with pytest.raises(PlanError) as error:
        build_plan(GOOD | {"flow": made["flow"]}, GIVENS)
    assert f"asks for `{asked}`, which nothing gives" in str(error.value)
    assert near in str(error.value).partition("there is ")[2].split(", ")


def test_an_unknown_name_is_said_with_file_and_line() -> None:
    with pytest.raises(PlanError, match=rf"{__name__}\.share \(line {line_of(share)}\) asks for `whole`"):
        build_plan(GOOD, ("bore", "stroke"))


def test_an_unknown_name_with_nothing_near_it_says_so() -> None:
    def odd(zzzzzz: float) -> float:
        return zzzzzz

    with pytest.raises(PlanError, match="`zzzzzz`, which nothing gives; there is nothing near it"):
        build_plan(GOOD | {"odd": odd}, GIVENS)


def test_a_clash_of_a_quantity_and_a_given_is_said() -> None:
    with pytest.raises(PlanError, match=rf"{__name__}\.area \(line {line_of(area)}\) and a given are both named `area`"):
        build_plan(GOOD, (*GIVENS, "area"))


@pytest.mark.parametrize("length", [1, 2, 3, 5])
def test_a_circle_is_said_from_end_to_end(length: int) -> None:
    """By construction: each of a ring of quantities asks for the next."""
    ring: dict[str, Any] = {}
    exec("\n".join(f"def q{n}(q{(n + 1) % length}): pass" for n in range(length)), ring)
    ring = {name: function for name, function in ring.items() if name.startswith("q")}
    with pytest.raises(PlanError) as error:
        build_plan(ring, ())
    names = str(error.value).partition(": ")[2].split(" <- ")
    assert names[0] == names[-1]
    assert sorted(names[1:]) == sorted(ring)


def test_a_circle_that_leads_off_a_straight_way_does_not_blame_the_way() -> None:
    def start(first: float) -> float:
        return first

    def first(second: float) -> float:
        return second

    def second(first: float) -> float:
        return first

    with pytest.raises(PlanError, match=r"in a circle: first <- second <- first$|in a circle: second <- first <- second$"):
        build_plan({"a_start": start, "first": first, "second": second}, ())


def test_a_given_that_nothing_uses_is_said_unless_it_may_idle() -> None:
    with pytest.raises(PlanError, match="`colour` is given and nothing uses it"):
        build_plan(GOOD, (*GIVENS, "colour"))
    assert build_plan(GOOD, (*GIVENS, "colour"), unused_fine=("colour",)).givens == {*GIVENS, "colour"}


def test_a_function_without_code_is_still_named() -> None:
    """A class is a function of its arguments, but has no line of code to point at."""

    class Odd:
        def __init__(self, nobody_knows_this: float) -> None:
            self.number = nobody_knows_this

    with pytest.raises(PlanError, match=r"Odd.* asks for `nobody_knows_this`"):
        build_plan({"odd": Odd}, ())


def test_a_fault_of_a_plan_is_a_fault_of_ours() -> None:
    assert issubclass(PlanError, FitcheckError)


# The plan itself.


def test_each_step_finds_its_inputs_whatever_the_order_of_the_functions() -> None:
    orders = itertools.product(itertools.permutations(GOOD.items()), (GIVENS, GIVENS[::-1]))
    plans = [build_plan(dict(order), givens) for order, givens in orders]
    assert all(plan == plans[0] for plan in plans)
    assert len({str(plan) for plan in plans}) == 1
    found = set(GIVENS)
    for step in plans[0].steps:
        assert found.issuperset(step.inputs)
        found.add(step.name)


def test_a_plan_is_a_value_that_can_be_printed_and_compared() -> None:
    plan = build_plan(GOOD, GIVENS)
    assert str(plan) == "area <- bore\nvolume <- area, stroke\nshare <- volume, whole"
    assert plan == Plan((Step("area", area, ("bore",)), *plan.steps[1:]), frozenset(GIVENS))
    assert hash(plan) == hash(build_plan(GOOD, GIVENS))
    with pytest.raises(AttributeError):
        plan.steps = ()  # type: ignore[misc]


def test_a_step_knows_where_its_equation_is_from() -> None:
    plan = build_plan(GOOD, GIVENS)
    assert (plan.step("area").sentence, plan.step("area").source) == ("Area of a bore.", "circle, elementary.")
    assert plan.step("volume").source == ""


def test_a_step_tells_its_first_sentence_to_the_end() -> None:
    found = {name: Step(name, function, ()).sentence for name, function in functions("external", "bottomed", "curve").items()}
    assert "\n" not in "".join(found.values())
    assert found["return_time"].endswith("not a number where there is no bite.")
    assert all(sentence.endswith(".") for sentence in found.values())


def test_what_a_name_rests_on_and_only_the_steps_that_are_needed() -> None:
    plan = build_plan(GOOD, GIVENS)
    assert plan.ancestors("volume") == {"volume", "area", "bore", "stroke"}
    assert plan.ancestors("bore") == {"bore"}
    assert [step.name for step in plan.for_names({"volume"})] == ["area", "volume"]
    assert plan.for_names(()) == ()
    assert plan.for_names(["share", "area"]) == plan.steps


# The plans of the trains.

KINDS = [("external", rest, cover) for rest in ("contact", "bottomed") for cover in ("curve", "diaphragm")]
KINDS += [("concentric", "contact", cover) for cover in ("curve", "diaphragm")]


def train_plan(kind: tuple[str, str, str]) -> Plan:
    found = functions(*kind)
    asked = {name for function in found.values() for name in inspect.signature(function).parameters}
    return plan_for(*kind, frozenset(asked - set(found)))


@pytest.mark.parametrize("kind", KINDS, ids="-".join)
def test_the_plan_of_a_train_is_in_order_and_says_where_each_equation_is_from(kind: tuple[str, str, str]) -> None:
    plan = train_plan(kind)
    found = set(plan.givens)
    for step in plan.steps:
        assert found.issuperset(step.inputs), step.name
        assert step.source, step.name
        found.add(step.name)
    assert len(str(plan).splitlines()) == len(plan.steps)


def test_what_may_fail_rests_on_something_that_may() -> None:
    """A bite that is not there takes all that is counted from it along; travel and stroke can always be computed."""
    failing = may_fail()
    for plan in map(train_plan, KINDS):
        for step in plan.steps:
            if step.name in METRICS:
                assert not plan.ancestors(step.name) & REASONS.keys() or step.name in failing, step.name
    assert {"bite_height", "bite_band", "effort_slope", "return_time", "rod_angle"} <= failing
    assert not failing & {"total_ratio", "overtravel", "release_margin", "setup_window", "stroke_reserve"}

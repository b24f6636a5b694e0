"""Equations that are printed say what the code does: those written by hand are computed as they stand, with random numbers."""

from __future__ import annotations

import inspect
import math
import re
from collections.abc import Callable
from itertools import product
from random import Random
from typing import Any

import numpy as np
import pytest

from fitcheck.engine import trains
from fitcheck.engine.equations import derived, right_side, written
from fitcheck.physics import clutch, demand, diaphragm, foot, fork, pad_points, pedal, setup, torque

WORDS = {"max": max, "min": min, "abs": abs, "sin": math.sin, "cos": math.cos, "arcsin": math.asin, "ceil": math.ceil}
NAMES = {"pi": math.pi, "none": math.nan, "infinite": math.inf}


def computed(equation: str, numbers: dict[str, float]) -> float:
    """The value of an equation as a reader would compute it: first what it says after a comma, then the rest."""
    equation = re.sub(r"; within master_stroke|, within master_stroke", "", equation)
    right, *more = re.split(r", (?:with )?(?=[a-zA-Z]+ = )", equation.replace("^", "**"))
    known: dict[str, Any] = {**WORDS, **NAMES, **numbers}
    known |= {end: number for name, number in numbers.items() for end in ends(name) if end not in numbers}
    for text in reversed(more):
        name, _, value = text.partition(" = ")
        known[name] = eval(value, {}, known)  # the equations of our own docstrings
    return float(eval(right, {}, known))


def ends(name: str) -> list[str]:
    steps = name.split("_")
    return ["_".join(steps[place:]) for place in range(len(steps) - 1, 0, -1)]


PLAIN = [
    torque.mean_radius, torque.slope_torque, demand.stopped_supply, demand.pedal_supply, demand.compliance,
    pad_points.stop_position, pad_points.release_point, pad_points.stopped_travel, pad_points.with_stop,
    fork.window_clearance, fork.fork_angle_full,
    setup.rod_setting_high, setup.rod_setting_low, pedal.blocked_pressure, pedal.adjustments, clutch.release_travel,
    clutch.lever_check, diaphragm.diaphragm_ratio, setup.rod_target, pedal.master_rod_travel,
]  # fmt: skip


@pytest.mark.parametrize("function", PLAIN, ids=lambda function: function.__name__)
def test_an_equation_gives_what_its_function_gives(function: Callable[..., Any]) -> None:
    rng = Random(function.__name__)
    names = tuple(inspect.signature(function).parameters)
    met = 0
    for _ in range(200):
        numbers = {name: rng.choice((0.0, rng.uniform(0.1, 2.0), rng.uniform(-1.0, 2.0))) for name in names}
        numbers |= {name: rng.choice((-1.0, 1.0)) for name in names if name.endswith("_push")}
        with np.errstate(all="ignore"):
            found = float(np.asarray(function(**{name: np.asarray([number]) for name, number in numbers.items()})).reshape(-1)[0])
        try:
            expected = computed(right_side(function), numbers)
        except (ZeroDivisionError, ValueError):  # the function says inf or not-a-number there
            continue
        if not math.isnan(found):
            assert found == pytest.approx(expected, rel=1e-9, abs=1e-12), numbers
            met += 1
    assert met > 20


def test_the_foot_and_the_volume_balance_do_as_their_equations_say() -> None:
    rng = Random(3)
    for _ in range(50):
        load, travel = rng.uniform(0.0, 2.0), rng.uniform(0.0, 2.0)
        for function in (foot.foot, demand.hydraulics, demand.hydraulics_bled):
            numbers = {name: rng.uniform(0.1, 2.0) for name in inspect.signature(function).parameters}
            made = function(**numbers)
            found = made.force(load) if function is foot.foot else made.volume(travel, load)
            assert float(found) == pytest.approx(computed(right_side(function), {**numbers, "F": load, "x": travel}), rel=1e-9)


def test_a_tube_and_a_hose_dilate_as_their_equation_says() -> None:
    """The equation of the whole line is Lame's in another form: both must agree."""
    from fitcheck.physics.line import hose_expansion, tube_dilation

    rng = Random(5)
    for _ in range(50):
        length, bore, wall, modulus, n, expansion, at = (rng.uniform(0.1, 2.0) for _ in range(7))
        n, r = 0.25 * n, 0.5 * bore
        tube = length * math.pi * r**2 * (2 + 2 * n + (5 - 4 * n) * r**2 / (wall * (2 * r + wall))) / modulus
        assert float(tube_dilation(length, bore, wall, modulus, n)) == pytest.approx(tube, rel=1e-12)
        assert float(hose_expansion(length, expansion, at)) == pytest.approx(length * expansion / at, rel=1e-12)


def test_plain_arithmetic_is_read_from_the_code_itself() -> None:
    assert derived(clutch.release_travel) == (
        "cover_ratio * (disc_cushion_travel + disc_faces * disc_running_clearance) + pressure_plate_lift_loss"
    )
    assert derived(clutch.wear_ratio) == "0 if pressure_plate_wear_compensated else cover_ratio"
    assert derived(demand.pedal_supply) == ""  # it calls another function
    assert written(clutch.release_travel) == ""


def test_what_is_written_is_written_only_where_the_code_does_not_say_it_short() -> None:
    """An equation by hand may drift from its code: where the code gives a short one, that is taken."""
    kinds = product((("external", "contact"), ("external", "bottomed"), ("concentric", "contact")), ("curve", "diaphragm"))
    functions = {function for kind, spring in kinds for function in trains.functions(*kind, spring).values()}
    both = {function.__name__ for function in functions if written(function) and 0 < len(derived(function)) <= 140}
    assert both <= {"with_stop", "pedal_stop"}  # comparisons that read better in words

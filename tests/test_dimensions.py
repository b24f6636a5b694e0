"""Every quantity has the dimension that is said of it.

Functions of plain arrays run once on pint quantities. What pint cannot run (searches along the fingers' way, curves) is
named below; like everything else it must scale by its dimension when all lengths grow tenfold and all forces sevenfold.
"""

from __future__ import annotations

import inspect
from functools import cache
from typing import Any

import numpy as np
import pint
import pytest
from dimension_tables import BETWEEN, GIVENS, PLAIN_NUMBERS, SI, UNITS_OF_GIVENS

from fitcheck.engine.table import METRICS
from fitcheck.engine.trains import MODULES, functions, plan_for
from fitcheck.physics import torque
from fitcheck.physics.springs import Spring, diaphragm_load, load_curve
from fitcheck.physics.way import Spot
from fitcheck.quantities import UNITS

UNIT = pint.UnitRegistry()

# Records rather than numbers: what is in them shows in every quantity that reads them.
RECORDS = {"cold_line", "foot", "full", "full_bled", "full_worn", "full_worn_bled", "hydraulics", "hydraulics_bled"}
RECORDS |= {"kinked_spring", "kinked_spring_worn", "kinks", "letting_back_foot", "pedal", "spring", "spring_worn"}
RECORDS |= {"way", "way_bled", "way_worn", "way_worn_bled"}
# Plain arrays, and still nothing for pint: a logarithm of a viscosity in mm2/s, counters, bare zeros.
NOT_FOR_PINT = {"cold_kinematic_viscosity", "no_extension", "no_lash", "shim_choice"}

VARIANTS = [
    (train, rest, spring)
    for train, rest in (("external", "contact"), ("external", "bottomed"), ("concentric", "contact"))
    for spring in ("curve", "diaphragm")
]


def unit_of(name: str) -> str:
    """The SI unit that the tables state for a given or a quantity."""
    if name in METRICS:
        return SI[METRICS[name].dimension]
    return BETWEEN[name] if name in BETWEEN else UNITS_OF_GIVENS[name]


def factor_of(unit: str, length: float, force: float) -> float:
    """By how much a number of that unit grows with all lengths and forces; time and temperature stay."""
    powers = UNIT.Unit(unit or "dimensionless").dimensionality
    mass = powers.get("[mass]", 0)  # a mass is force times time squared over length
    return float(length ** (powers.get("[length]", 0) - mass) * force**mass)


def as_given(name: str, value: object, factor: float) -> object:
    number = np.asarray(value, float) * factor
    if name in PLAIN_NUMBERS:
        return float(number)
    return number[..., None]  # one kit on the last axis, points and pieces before it


def springs(given: dict[str, np.ndarray], kind: str, length: float, force: float) -> tuple[Spring, Spring]:
    """What the fingers push against, new and worn, of the same invented kit."""
    if kind == "curve":
        travel = np.array([0.0, 0.002, 0.009, 0.013]) * length
        new, worn = (load_curve(travel, np.array(load) * force, 1) for load in ([0, 900, 1300, 1200], [0, 1000, 1500, 1300]))
        return new, worn
    ring = ("outer_radius", "inner_radius", "thickness", "cone_height", "modulus", "poisson", "load_radius", "pivot_radius")
    new, worn = (
        diaphragm_load(
            ring={name: given[f"diaphragm_{name}"] for name in ring},
            set_deflection=given["diaphragm_set_deflection"],
            cover_ratio=np.array([2.85]),  # (77 - 20) / (97 - 77)
            lift_loss=given["pressure_plate_lift_loss"],
            wear=wear,
            cushion_travel=given["disc_cushion_travel"],
            cushion_share=given["disc_cushion_share"],
            cushion_clamp=given["disc_cushion_clamp"],
        )
        for wear in (np.zeros(1), given["disc_wear_allowance"])
    )
    return new, worn


@cache
def run(variant: tuple[str, str, str], length: float = 1.0, force: float = 1.0) -> dict[str, Any]:
    """Every quantity of a variant of the invented kit, with all lengths and forces grown."""
    _, rest, spring = variant
    found: dict[str, Any] = {
        name: as_given(name, value, factor_of(unit, length, force))
        for unit, names in GIVENS.items()
        for name, value in names.items()
    }
    if rest == "bottomed":
        found["slave_preload"] = np.zeros(1)
    else:
        found["fork_return_force"] = np.zeros(1)
    found["spring"], found["spring_worn"] = springs(found, spring, length, force)
    for name in set(functions(*variant)) & set(found):
        del found[name]
    gravity = torque.GRAVITY
    torque.GRAVITY = gravity * length
    try:
        for step in plan_for(*variant, frozenset(found)).steps:
            found[step.name] = step.function(**{name: found[name] for name in step.inputs})
            if step.name == "cold_kinematic_viscosity":  # its line is drawn in mm2/s: it has no scale but its own
                found[step.name] = np.full(1, 2e-4) * factor_of("m^2/s", length, force)
    finally:
        torque.GRAVITY = gravity
    return found


def pint_runs(function: object) -> bool:
    """Whether all that a function takes are plain arrays."""
    return not set(inspect.signature(function).parameters) & RECORDS


# Each function once, on the first train that has it.
PINT_CASES = {
    function: (name, variant)
    for variant in reversed(VARIANTS)
    for name, function in functions(*variant).items()
    if name not in RECORDS and function.__name__ not in NOT_FOR_PINT and pint_runs(function)
}


def test_every_quantity_of_the_physics_is_in_some_train() -> None:
    used = {function for variant in VARIANTS for function in functions(*variant).values()}
    idle = [f"{module.__name__}.{name}" for module in MODULES for name in module.__all__ if getattr(module, name) not in used]
    assert not idle


def test_the_tables_name_every_quantity_and_nothing_else() -> None:
    known = {name for variant in VARIANTS for name in functions(*variant)}
    asked = {name for variant in VARIANTS for f in functions(*variant).values() for name in inspect.signature(f).parameters}
    assert known - set(METRICS) - RECORDS == set(BETWEEN)
    assert (known | asked) - set(METRICS) - set(BETWEEN) - RECORDS <= set(UNITS_OF_GIVENS)
    assert set(UNITS_OF_GIVENS) <= asked
    assert {f.__name__ for variant in VARIANTS for f in functions(*variant).values()} >= NOT_FOR_PINT


def test_metrics_have_dimensions_that_units_are_known_for() -> None:
    assert {metric.dimension for metric in METRICS.values()} <= set(UNITS)


@pytest.mark.parametrize(
    ("name", "variant"), PINT_CASES.values(), ids=lambda part: part if isinstance(part, str) else "-".join(part)
)
def test_dimension_by_pint(name: str, variant: tuple[str, str, str], monkeypatch: pytest.MonkeyPatch) -> None:
    function, numbers = functions(*variant)[name], run(variant)
    monkeypatch.setattr(torque, "GRAVITY", UNIT.Quantity(torque.GRAVITY, "m/s^2"))
    given = {key: UNIT.Quantity(numbers[key], unit_of(key)) for key in inspect.signature(function).parameters}
    result = UNIT.Quantity(function(**given))
    expected = UNIT.Quantity(1.0, unit_of(name))
    assert result.dimensionality == expected.dimensionality
    # The number too: a prefix or a degree that slipped in would change it.
    plain = np.asarray(numbers[name], float)
    np.testing.assert_allclose(result.to(expected.units).magnitude, plain, rtol=1e-12, equal_nan=True)


@pytest.mark.parametrize("variant", VARIANTS, ids="-".join)
@pytest.mark.parametrize(("length", "force"), [(10.0, 1.0), (1.0, 7.0)])
def test_every_quantity_scales_by_its_dimension(variant: tuple[str, str, str], length: float, force: float) -> None:
    before, after = run(variant), run(variant, length, force)
    for name in functions(*variant):
        if name in RECORDS and not isinstance(before[name], Spot):
            continue
        if isinstance(before[name], Spot):
            pairs = [(getattr(before[name], part), getattr(after[name], part), unit) for part, unit in SPOT.items()]
        else:
            pairs = [(before[name], after[name], unit_of(name))]
        for old, new, unit in pairs:
            expected = np.asarray(old) * factor_of(unit, length, force)
            tiny = 1e-12 * factor_of(unit, length, force)
            np.testing.assert_allclose(new, expected, rtol=1e-8, atol=tiny, equal_nan=True, err_msg=name)


SPOT = {"travel": "m", "load": "N", "pressure": "Pa"}


@pytest.mark.parametrize("variant", VARIANTS, ids="-".join)
def test_the_invented_kit_says_something_about_every_metric(variant: tuple[str, str, str]) -> None:
    """Nothing is learned from a quantity that is not a number on every train."""
    silent = {name for name in functions(*variant) if name in METRICS and np.all(np.isnan(np.asarray(run(variant)[name])))}
    assert silent <= {"pedal_stop"}


# The one-line functions of plain arrays, held to what their docstrings promise of arrays and of not-a-number.
PLAIN = ("bearing", "bite", "chain", "clutch", "diaphragm", "fluid", "fork", "line", "pedal", "pocket", "torque")
PLAIN_CASES = {
    f"{module.__name__.rpartition('.')[2]}.{name}": getattr(module, name)
    for module in MODULES
    if module.__name__.rpartition(".")[2] in PLAIN
    for name in module.__all__
}
# A choice reads only the side chosen: a push cover does not look at wear, and without lash there is nothing to divide.
NAN_IS_NOT_READ = {("bearing.sleeve_engagement", "wear_travel")}
NAN_IS_NOT_READ |= {("pedal.adjustments", "fork_ratio"), ("pedal.adjustments", "wear_travel")}
NAN_MAY_HIDE = {"disc_uniform_pressure", "pressure_plate_wear_compensated", "pressure_plate_push", "disc_cushion_travel"}


def samples(function: object) -> dict[str, np.ndarray]:
    """The numbers of the invented kit that a function asks for, each of them as it came out on the first train that has it."""
    found: dict[str, np.ndarray] = {}
    for name in inspect.signature(function).parameters:
        variant = next(v for v in VARIANTS if name in functions(*v) or (name in UNITS_OF_GIVENS and name in run(v)))
        found[name] = np.asarray(run(variant)[name], float)
    return found


@pytest.mark.parametrize("name", PLAIN_CASES)
def test_arrays_give_what_each_number_gives(name: str) -> None:
    """By keyword, on two axes of different lengths, cell by cell: no axis is collapsed and no cell looks at another."""
    function, given = PLAIN_CASES[name], samples(PLAIN_CASES[name])
    spread = {}
    for place, (key, number) in enumerate(given.items()):
        factors = np.array([1.0, 1.01]).reshape(2, 1) if place % 2 else np.array([1.0, 0.99, 1.02])
        flag = key in NAN_MAY_HIDE or key in ("slave_push", "disc_cushion_share", "disc_cushion_clamp")
        number = number[..., None] if number.ndim > 1 else number
        spread[key] = number * (factors**0 if flag else factors)
    result = np.broadcast_to(function(**spread), (2, 3))
    for cell in np.ndindex(2, 3):
        alone = {
            key: np.broadcast_to(number, (*number.shape[: max(0, number.ndim - 2)], 2, 3))[(..., *cell)]
            for key, number in spread.items()
        }
        np.testing.assert_array_equal(result[cell], function(**alone))


@pytest.mark.parametrize("name", PLAIN_CASES)
def test_not_a_number_never_turns_into_a_number(name: str) -> None:
    function, given = PLAIN_CASES[name], samples(PLAIN_CASES[name])
    for key, number in given.items():
        if key not in NAN_MAY_HIDE and (name, key) not in NAN_IS_NOT_READ:
            assert np.all(np.isnan(function(**{**given, key: number * np.nan}))), key

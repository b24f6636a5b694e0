"""The trains: which families each has, which functions give its quantities, and what is said where one cannot be computed.

Both trains and both ways of resting share one set of equations; a train only names what differs.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import product
from types import ModuleType
from typing import Any

from fitcheck.engine.plan import Plan, arguments, build_plan
from fitcheck.engine.table import METRICS
from fitcheck.physics import (
    back,
    bearing,
    bite,
    chain,
    clutch,
    demand,
    diaphragm,
    effort,
    feel,
    fingers,
    fluid,
    foot,
    forces,
    fork,
    line,
    pad_points,
    pedal,
    pocket,
    release,
    setup,
    springs,
    torque,
    window,
)

MODULES: tuple[ModuleType, ...] = (
    back,
    bearing,
    bite,
    chain,
    clutch,
    demand,
    diaphragm,
    effort,
    feel,
    fingers,
    fluid,
    foot,
    forces,
    fork,
    line,
    pad_points,
    pedal,
    pocket,
    release,
    setup,
    springs,
    torque,
    window,
)

# A quantity that different trains get from different functions.
EXTERNAL: dict[str, str] = {
    "piston_area": "external_piston_area",
    "air_pocket": "external_air_pocket",
    "setting_reach_low": "rod_setting_low",
    "setting_reach_high": "rod_setting_high",
    "setup_target": "rod_target",
}
CONCENTRIC: dict[str, str] = {
    "piston_area": "concentric_piston_area",
    "air_pocket": "concentric_air_pocket",
    "setting_reach_low": "shim_setting_low",
    "setting_reach_high": "shim_setting_high",
    "rod_target": "rod_target",
    "shim_choice": "shim_choice",
    "shim_stack": "shim_stack",
    "setup_target": "shim_target",
    "gap_without_shims": "gap_without_shims",
}
CONTACT: dict[str, str] = {
    "lash": "no_lash",
    "rest_extension": "setting",
    "travel": "stopped_travel",
    "supply": "stopped_supply",
    "with_stop": "with_stop",
    "setting_bound_low": "contact_low",
    "setting_bound_high": "contact_high",
}
BOTTOMED: dict[str, str] = {
    "lash": "setting",
    "rest_extension": "no_extension",
    "travel": "whole_travel",
    "supply": "whole_supply",
    "setting_bound_low": "bottomed_low",
    "setting_bound_high": "bottomed_high",
}
DIAPHRAGM: dict[str, str] = {
    "cover_ratio": "diaphragm_ratio",
    "clamp_load": "diaphragm_clamp_load",
    "worn_clamp_load": "diaphragm_worn_clamp_load",
}
_VARIANTS = frozenset(name for variant in (EXTERNAL, CONCENTRIC, CONTACT, BOTTOMED, DIAPHRAGM) for name in variant.values())

# What is said where a quantity comes out as not a number although all that it needs is there.
REASONS: dict[str, str] = {
    "release_point": "the master's stroke ends before the clutch is released",
    "compliance_loss": "release takes no fluid",
    "bite_travel": "full clamp does not hold the vehicle on the slope of the bite test",
    "bite_point": "the master's stroke ends before the bite",
    "engine_travel": "full clamp does not carry the engine's torque",
    "bite_band": "the master's stroke ends before the clamp that carries the engine's torque",
    "effort_drop": "the largest force at the pad does not push the foot",
    "effort_vs_linkage": "the old linkage's force cannot be computed",
    "effort_slope": "the force just past the bite cannot be computed",
    "fork_angle_rest": "at rest the bearing lies further off square than the fork is long",
    "fork_angle_full": "at full pedal the bearing lies further off square than the fork is long",
    "fork_angle_worn": "at rest with a worn disc the bearing lies further off square than the fork is long",
    "rod_angle": "the rod would have to be shorter than it swings sideways",
    "return_time": "the time to come back cannot be computed",
}


# Quantities that people are told beside the metrics.
EXTRAS = ("with_stop", "shim_choice", "full_travel", "release_travel", "bite_travel")

# The larger (for effort_return the smaller) of new and worn where the worn load curve is known, new only elsewhere.
NEW_AND_WORN = (
    "release_margin_worn",
    "effort_peak",
    "effort_hold",
    "effort_return",
    "peak_pressure",
    "pressure_use",
    "bearing_load_use",
    "thrust_use",
)


def functions(train: str, rest: str, spring: str) -> dict[str, Callable[..., Any]]:
    """The functions by the quantity that they give, on a train whose slave rests so, under a cover with that spring."""
    every = {name: getattr(module, name) for module in MODULES for name in module.__all__}
    found = {name: function for name, function in every.items() if name not in _VARIANTS}
    variant = {**(EXTERNAL if train == "external" else CONCENTRIC), **(CONTACT if rest == "contact" else BOTTOMED)}
    if spring == "diaphragm":
        variant |= DIAPHRAGM
        del found["lever_check"]
    if train == "concentric":
        del found["fork_give"]
    found.update({quantity: every[name] for quantity, name in variant.items()})
    return _needed(found, train, rest)


def _needed(found: dict[str, Callable[..., Any]], train: str, rest: str) -> dict[str, Callable[..., Any]]:
    """Only what the metrics of that train, and the extras, rest on."""
    waiting = [name for name, metric in METRICS.items() if metric.exists(train, rest)] + list(EXTRAS)
    needed: dict[str, Callable[..., Any]] = {}
    while waiting:
        name = waiting.pop()
        if name in found and name not in needed:
            needed[name] = found[name]
            waiting.extend(arguments(found[name]))
    return needed


@cache
def plan_for(train: str, rest: str, spring: str, givens: frozenset[str]) -> Plan:
    """The plan of a train, once and for all kits of its kind."""
    return build_plan(functions(train, rest, spring), givens, unused_fine=givens)


@cache
def may_fail() -> frozenset[str]:
    """Metrics that cannot be computed for some kits, because of themselves or of what they rest on."""
    found: set[str] = set()
    for train, rest, spring in product(("external", "concentric"), ("contact", "bottomed"), ("curve", "diaphragm")):
        inputs = {name: set(arguments(function)) for name, function in functions(train, rest, spring).items()}
        failing = inputs.keys() & REASONS.keys()
        while more := {name for name, needed in inputs.items() if needed & failing} - failing:
            failing |= more
        found |= failing
    return frozenset(METRICS.keys() & found)

"""Sentences about setting, geometry, clamp, trapped air and units that every kit must obey, asked of the real engine.

Each sentence is derived here from lengths along the train, levers, levels of a liquid or dimensions; none rests on a number
that this program computed.
"""

from __future__ import annotations

import json
import math
from itertools import combinations_with_replacement
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from strategies import DEG, HAIR, MM, Kit, between, bounds, kits, measure, numbers, rises, set_to, three

from fitcheck.data import folder
from fitcheck.engine.table import METRICS
from fitcheck.physics.pocket import trapped

# --- setting and geometry


@given(kits(loads="any"))
def test_the_slaves_stroke_is_what_it_uses_and_what_is_left(kit: Kit) -> None:
    found = measure([kit], ["stroke_reserve", "overtravel", "setup_target"])
    x = found["overtravel"][0] + kit["pressure_plate"]["max_travel"]
    give = kit.load(x) / kit["fork"]["stiffness"] if "fork" in kit.parts else 0.0
    used = found["setup_target"][0] + kit.fork_ratio * (x + give)
    assert used + found["stroke_reserve"][0] == pytest.approx(kit[kit.actuator]["stroke"], abs=HAIR)


@given(kits(train="external", rest="contact"), numbers(0, 8), numbers(2, 20), three)
def test_a_deeper_wear_allowance_never_widens_a_contact_window(
    kit: Kit, middle: float, slack: float, shares: list[float]
) -> None:
    """Wear pushes the slave home, so room for it is taken from the setting's low end; a held setting loses it as reserve."""
    wear = between(0.5 * MM, 3 * MM, shares)
    lever = 0.0 if kit["pressure_plate"].get("wear_compensated") else kit.fork_ratio * kit.lever
    loose = set_to(kit, middle * MM, slack * MM)
    found = measure([loose.but("disc", wear_allowance=each) for each in wear], ["setup_low", "setup_high"], bounds())
    assert found["setup_low"] == pytest.approx(np.maximum((middle - slack) * MM, lever * np.array(wear)), abs=HAIR)
    assert found["setup_high"] == pytest.approx(found["setup_high"][0], abs=HAIR)
    held = measure([kit.but("disc", wear_allowance=each) for each in wear], ["setup_target", "wear_reserve"])
    assert held["setup_target"] - held["wear_reserve"] == pytest.approx(lever * np.array(wear), abs=HAIR)


@given(kits(rest="bottomed"), numbers(0, 3))
def test_one_turn_of_the_rod_moves_the_bite_by_what_is_told(kit: Kit, lash: float) -> None:
    """Backing a pushing rod off by its pitch adds lash: the bite comes lower; a pulling rod grows longer by that."""
    pitch = kit["slave"]["rod_pitch"]
    found = measure([set_to(kit, lash * MM + turn * pitch) for turn in (0, 1)], ["bite_point", "rod_turn", "rod_length"])
    assert np.diff(found["bite_point"])[0] == pytest.approx(found["rod_turn"][0], rel=1e-9)
    assert np.diff(found["rod_length"])[0] == pytest.approx(-pitch if kit["slave"]["action"] == "push" else pitch, rel=1e-9)


@given(kits(rest="contact"), three)
def test_a_train_in_contact_does_not_feel_its_setting(kit: Kit, shares: list[float]) -> None:
    """The piston's place at rest changes stroke and wear reserve only, one for the other."""
    some = [set_to(kit, setting) for setting in between(2 * MM, 12 * MM, shares)]
    same = ["release_margin", "overtravel", "effort_peak", "effort_hold", "pedal_work", "release_point", "air_allowance"]
    found = measure(some, [*same, "stroke_reserve", "wear_reserve"])
    for name in same:
        assert len(set(found.state(name).tolist())) == 1
        assert found.number(name) == pytest.approx(found.number(name)[0], rel=1e-12, nan_ok=True)
    assert np.diff(found["stroke_reserve"] + found["wear_reserve"]) == pytest.approx(0.0, abs=HAIR)
    assert rises(found["wear_reserve"])


@given(kits(train="external"))
def test_the_bearings_travel_is_the_forks_arm_times_the_change_of_the_sine(kit: Kit) -> None:
    found = measure([kit], ["fork_angle_rest", "fork_angle_full", "fork_angle_worn", "overtravel", "setup_target"])
    rest, full, worn = (kit["fork"]["arm"] * math.sin(found[f"fork_angle_{name}"][0]) for name in ("rest", "full", "worn"))
    lash = found["setup_target"][0] / kit.fork_ratio if kit.rest == "bottomed" else 0.0
    assert full - rest == pytest.approx(found["overtravel"][0] + kit["pressure_plate"]["max_travel"] + lash, abs=HAIR)
    wear = 0.0 if kit["pressure_plate"].get("wear_compensated") else kit.lever * kit["disc"]["wear_allowance"]
    assert rest - worn == pytest.approx(wear, abs=HAIR)


@given(kits(train="external"), numbers(0, 9), numbers(0, 9))
def test_a_window_that_is_wider_on_both_sides_gives_the_fork_just_that_much_room(kit: Kit, wider: float, more: float) -> None:
    app, room = kit["application"], wider * MM
    both = kit.but("application", window_rest=app["window_rest"] + room, window_release=app["window_release"] + room)
    one = kit.but("application", window_rest=app["window_rest"] + room, window_release=app["window_release"] + room + more * MM)
    found = measure([kit, both, one], ["window_clearance"])["window_clearance"]
    assert found[1] - found[0] == pytest.approx(room, abs=HAIR)
    assert found[2] >= found[1]


@given(kits(train="concentric"), st.lists(st.sampled_from((0.2, 0.25, 0.3, 0.5, 1.0, 2.0)), max_size=4, unique=True))
def test_no_stack_of_the_shims_on_hand_comes_nearer_to_the_middle_of_the_window(kit: Kit, shims: list[float]) -> None:
    """Brute force over every stack; each shim may repeat."""
    gap = measure([kit], ["setup_target"])["setup_target"][0]  # without shims
    shimmed = kit.but("concentric", shims=tuple(sorted(thick * MM for thick in shims)))
    found = measure([shimmed], ["setup_low", "setup_high", "setup_target", "shim_stack"], bounds())
    assert found["setup_target"][0] == pytest.approx(gap - found["shim_stack"][0], abs=HAIR)
    middle = max(0.0, (found["setup_low"][0] + found["setup_high"][0]) / 2)
    stacks = {sum(some) * MM for n in range(kit.assumed.shim_count + 1) for some in combinations_with_replacement(shims, n)}
    nearest = min(abs(gap - stack - middle) for stack in stacks | {0.0})
    assert abs(found["setup_target"][0] - middle) <= nearest + 1.001e-6


# --- clamp and torque


@given(kits(rest="contact"), numbers(0.2, 0.5), st.sampled_from((2.0, 4.0, 6.0)), numbers(10, 80))
def test_torque_is_proportional_to_friction_and_faces_and_each_resting_newton_takes_its_lever_of_clamp(
    kit: Kit, friction: float, faces: float, preload: float
) -> None:
    other = kit.but("disc", friction=friction, faces=faces, radius_rule="uniform wear")
    first = kit.but("disc", radius_rule="uniform wear")
    lighter = first.but(kit.actuator, preload=preload)
    found = measure([first, other, lighter], ["torque_capacity", "resting_load"])
    torque, share = found["torque_capacity"], friction * faces / (kit["disc"]["friction"] * kit["disc"]["faces"])
    assert torque[1] == pytest.approx(share * torque[0], rel=1e-9, abs=1e-9)
    disc = kit["disc"]
    radius = (disc["outer_diameter"] + disc["inner_diameter"]) / 4
    taken_off = disc["faces"] * disc["friction"] * radius * kit.lever * np.diff(found["resting_load"][[0, 2]])[0]
    assert torque[0] - torque[2] == pytest.approx(taken_off, rel=1e-6, abs=1e-6)


@given(kits())
def test_even_pressure_carries_no_less_torque_than_even_wear_and_both_act_between_the_radii(kit: Kit) -> None:
    """`4 (a^2 + a b + b^2) >= 3 (a + b)^2`."""
    some = [kit.but("disc", radius_rule=rule) for rule in ("uniform wear", "uniform pressure")]
    torque = measure(some, ["torque_capacity"])["torque_capacity"]
    assume(torque[0] > 0)
    assert (
        torque[0] <= torque[1] * (1 + HAIR) < torque[0] * 2 / (1 + kit["disc"]["inner_diameter"] / kit["disc"]["outer_diameter"])
    )


# --- air left behind


@st.composite
def cylinders(draw: st.DrawFn) -> dict[str, Any]:
    """A bore or an annulus with a bleed port somewhere."""
    outer, length = draw(numbers(15, 80)) * MM, draw(numbers(10, 50)) * MM
    inner = draw(st.one_of(st.just(0.0), numbers(0.3, 0.9))) * outer
    return {"outer_diameter": outer, "inner_diameter": inner, "length": length, "bleed_offset": draw(numbers()) * length}


def pocket(cylinder: dict[str, Any], clock: float, tilt: float) -> float:
    return float(trapped(**{k: np.array(v) for k, v in cylinder.items()}, port_clock=np.array(clock), tilt=np.array(tilt)))


tilts = numbers(0.05, 40).map(lambda degrees: degrees * DEG)


@given(cylinders(), st.lists(tilts, min_size=3, max_size=3).map(sorted), st.sampled_from((-1, 1)))
def test_a_port_at_the_high_end_and_on_top_keeps_no_air_and_elsewhere_on_top_more_with_tilt(
    cylinder: dict[str, Any], rising: list[float], sign: int
) -> None:
    whole = math.pi / 4 * (cylinder["outer_diameter"] ** 2 - cylinder["inner_diameter"] ** 2) * cylinder["length"]
    high = {**cylinder, "bleed_offset": 0.0 if sign > 0 else cylinder["length"]}
    assert pocket(high, 0.0, sign * rising[0]) == pytest.approx(0.0, abs=1e-9 * whole)
    kept = [pocket(cylinder, 0.0, sign * tilt) for tilt in rising]
    assert rises(np.array(kept), 1e-9 * whole)


@given(cylinders(), tilts, st.lists(numbers(0, 180), min_size=3, max_size=3).map(sorted))
def test_a_pocket_fits_the_cavity_grows_as_the_port_turns_down_and_knows_no_front_and_rear(
    cylinder: dict[str, Any], tilt: float, clocks: list[float]
) -> None:
    whole = math.pi / 4 * (cylinder["outer_diameter"] ** 2 - cylinder["inner_diameter"] ** 2) * cylinder["length"]
    kept = np.array([pocket(cylinder, clock * DEG, tilt) for clock in clocks])
    assert rises(kept, 1e-9 * whole)
    assert ((-1e-9 * whole <= kept) & (kept <= whole * (1 + 1e-9))).all()
    mirrored = {**cylinder, "bleed_offset": cylinder["length"] - cylinder["bleed_offset"]}
    assert pocket(mirrored, clocks[0] * DEG, -tilt) == pytest.approx(kept[0], abs=1e-9 * whole)


# --- units


def dimensions(family: str) -> dict[str, str]:
    """Every field of a family, those of nested tables too, with its dimension; one name has one dimension."""
    found: dict[str, set[str]] = {}

    def walk(node: Any) -> None:
        for key, spec in node.items() if isinstance(node, dict) else ():
            if isinstance(spec, dict) and "x-dimension" in spec:
                found.setdefault(key, set()).add(spec["x-dimension"])
            walk(spec)

    walk(json.loads((folder("schemas") / f"{family}.schema.json").read_text(encoding="utf-8")))
    assert all(len(some) == 1 for some in found.values())
    return {key: min(some) for key, some in found.items()}


def factors(a: float, b: float) -> dict[str, float]:
    """What each dimension is multiplied by when length is by a^2, force and mass by b, time by a: gravity stays the same."""
    exponents = {
        "length": (2, 0), "area": (4, 0), "volume": (6, 0), "force": (0, 1), "mass": (0, 1), "pressure": (-4, 1),
        "energy": (2, 1), "torque": (2, 1), "stiffness": (-2, 1), "time": (1, 0), "speed": (-1, 0), "density": (-6, 1),
        "kinematic_viscosity": (3, 0), "line_expansion": (4, 0),
    }  # fmt: skip
    return {name: a**i * b**j for name, (i, j) in exponents.items()}


def rescaled(value: Any, factor: float, by_key: dict[str, float]) -> Any:
    if isinstance(value, dict):
        return {key: rescaled(inner, by_key.get(key, 1.0), by_key) for key, inner in value.items()}
    if isinstance(value, tuple):
        return tuple(rescaled(inner, factor, by_key) for inner in value)
    return value * factor if isinstance(value, float) else value


@given(kits(), st.sampled_from((0.5, 2.0, 4.0)), st.sampled_from((0.25, 2.0, 8.0)), numbers(0, 1))
def test_in_other_units_every_metric_is_the_same_but_for_its_dimension(kit: Kit, a: float, b: float, margin: float) -> None:
    """All lengths times a^2, all forces and masses times b, all times times a; a fluid whose viscosity is even.

    Walther's line alone knows its unit, mm2/s, so it is left flat.
    """
    kit = kit.but("fluid", viscosity={"temperature": (233.0, 373.0), "kinematic": (4e-4, 4e-4)})
    kit = kit.assuming(wear_between_adjustments=margin * MM)
    by, assumed = factors(a, b), kit.assumed
    parts = {family: rescaled(fields, 1.0, by_key(family, by)) for family, fields in kit.parts.items()}
    other = Kit(kit.train, parts, assumed).assuming(
        air=assumed.air * by["volume"],
        ambient_pressure=assumed.ambient_pressure * by["pressure"],
        wear_between_adjustments=assumed.wear_between_adjustments * by["length"],
        foot_limit=assumed.foot_limit * b,
    )
    rules = [bounds(*(share * margin * MM * size for share in (1, 2, 1, -0.5))) for size in (1.0, by["length"])]
    first, second = measure([kit], None, rules[0]), measure([other], None, rules[1])
    for name, metric in METRICS.items():
        if not metric.exists(kit.train, kit.rest):
            continue
        assert first.state(name) == second.state(name), name
        expected = first.number(name) * by.get(metric.dimension, 1.0)
        assert second.number(name) == pytest.approx(expected, rel=1e-8, abs=1e-12 * by.get(metric.dimension, 1.0), nan_ok=True), (
            name
        )


def by_key(family: str, by: dict[str, float]) -> dict[str, float]:
    return {key: by.get(dimension, 1.0) for key, dimension in dimensions(family).items()}

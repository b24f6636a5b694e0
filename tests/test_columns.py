"""Catalog entries as columns: every field of every family, padding that changes nothing, defaults, and shims."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fitcheck.catalog.parts import FAMILIES, Catalog, Part
from fitcheck.engine.columns import Context, family_columns, shim_columns
from fitcheck.errors import Place
from fitcheck.job import Job
from fitcheck.physics import bite, cold, fluid, line
from fitcheck.physics.curves import follow
from fitcheck.physics.setup import shim_choice
from fitcheck.profile import Assumptions, Profile

# The numbers of each family, written out from the trade's own list of fields: what a train computes with.
FIELDS = {
    "application": "engine_torque max_speed vehicle_mass wheel_radius first_gear final_drive tilt wheelbase bell_depth"
    " flywheel_stand retainer_diameter retainer_length slave_tilt slave_clock window_rest window_release slave_seat_to_fork"
    " fork_return_force line_run cold_temperature line_temperature bulkhead_stiffness thrust_limit hours_slave hours_gearbox",
    "pedal": "ratio travel free_play efficiency return_travel return_force stop_low stop_high",
    "master": "bore stroke cutoff_stroke spring_force efficiency pressure_rating reservoir_room",
    "line": "piece_length piece_inner_diameter piece_wall piece_modulus piece_poisson piece_expansion piece_at_pressure"
    " length pressure_rating",
    "fluid": "bulk_modulus density expansion viscosity_temperature viscosity_kinematic dry_boil wet_boil",
    "slave": "bore stroke preload efficiency pressure_rating rod_min rod_max rod_pitch dead_volume cavity_length"
    " cavity_bleed_offset cavity_clock push",
    "fork": "ratio arm stiffness efficiency ear_plane",
    "bearing": "height bore face_diameter load_rating speed_rating guide_rear",
    "concentric": "outer_diameter inner_diameter stroke height bore face_diameter preload efficiency load_rating speed_rating"
    " pressure_rating dead_volume cavity_length cavity_bleed_offset cavity_clock",
    "pressure_plate": "lift_loss max_travel finger_height disc_max_diameter speed_rating wear_compensated push clamp_load"
    " lever_ratio worn_clamp_load diaphragm_outer_radius diaphragm_inner_radius diaphragm_thickness diaphragm_cone_height"
    " diaphragm_modulus diaphragm_poisson diaphragm_load_radius diaphragm_pivot_radius diaphragm_tip_radius"
    " diaphragm_set_deflection",
    "disc": "outer_diameter inner_diameter faces friction cushion_travel cushion_share cushion_clamp running_clearance"
    " wear_allowance uniform_pressure",
    "linkage": "ratio efficiency stiffness free_play",
}
# What a family cannot be read without, whatever the test is about.
NEEDED: dict[str, dict[str, Any]] = {
    "application": {"tilt": 0.05},
    "pedal": {"return_force": {"travel": (0.0,), "force": (20.0,)}},
    "line": {"pieces": ({"kind": "adapter", "pressure_rating": 1e7},)},
    "fluid": {"viscosity": {"temperature": (300.0, 400.0), "kinematic": (1e-5, 1e-6)}},
    "slave": {"action": "push"},
    "concentric": {"action": "push", "shims": ()},
    "pressure_plate": {"action": "push"},
}


def part(family: str, **values: Any) -> Part:
    return Part(family, "p", NEEDED.get(family, {}) | values, {"": Place("made up")})


def numbers(family: str, name: str, *parts: Part) -> np.ndarray:
    return family_columns(family, parts)[f"{family}_{name}"].numbers


TUBE = {"kind": "tube", "length": 1.2, "inner_diameter": 0.0032, "wall": 0.0007, "modulus": 206e9, "poisson": 0.3}
HOSE = {"kind": "hose", "length": 0.4, "inner_diameter": 0.003, "expansion": 1.4e-6, "at_pressure": 1e7}
TUBE, HOSE = TUBE | {"pressure_rating": 2e7}, HOSE | {"pressure_rating": 1.5e7}
ADAPTER = {"kind": "adapter", "pressure_rating": 3e7}


# Every field.


def test_every_family_has_all_its_columns_and_no_other() -> None:
    assert set(FIELDS) == set(FAMILIES)
    for family, fields in FIELDS.items():
        expected = {f"{family}_{field}" for field in f"{fields} cost mass".split()}
        assert set(family_columns(family, [part(family)])) == expected, family


@pytest.mark.parametrize("family", FAMILIES)
def test_each_number_comes_back_from_the_column_that_bears_its_name(family: str) -> None:
    """A different number in each field, flat or inside its table, so that no two can be mistaken for each other."""
    plain = [name for name in family_columns(family, []) if family_columns(family, [part(family)])[name].counts is None]
    derived = {"slave_push", "pressure_plate_push", "pressure_plate_wear_compensated", "disc_uniform_pressure"}
    derived |= {"line_length", "line_pressure_rating", "pedal_stop_low", "pedal_stop_high"}
    wanted = {name: 1.5 + place for place, name in enumerate(name for name in plain if name not in derived)}
    values: dict[str, Any] = {}
    for name, number in wanted.items():
        key = name.removeprefix(f"{family}_")
        table = next((table for table in ("cavity", "diaphragm") if key.startswith(f"{table}_")), None)
        if table:
            values.setdefault(table, {})[key.removeprefix(f"{table}_")] = number
        else:
            values[key] = number
    found = family_columns(family, [part(family, **values)])
    assert {name: float(found[name].numbers[0]) for name in wanted} == wanted
    for name in wanted:
        assert found[name].field.split(".")[0] == family


def test_a_column_is_named_as_a_person_would_look_for_its_field() -> None:
    columns = family_columns("slave", [part("slave")]) | family_columns("pedal", [part("pedal")])
    assert columns["slave_cavity_length"].field == "slave.cavity"
    assert columns["slave_rod_pitch"].field == "slave.rod_pitch"
    assert columns["pedal_return_travel"].field == "pedal.return_force"


def test_a_family_without_parts_has_columns_without_rows() -> None:
    for family in FAMILIES:
        assert all(column.numbers.shape[-1] == 0 for column in family_columns(family, []).values())


# What is not given, and what the trade takes for granted.


def test_what_is_not_given_is_not_a_number() -> None:
    found = family_columns("slave", [part("slave"), part("slave", rod_pitch=0.00125, cavity={"length": 0.02})])
    assert found["slave_rod_pitch"].numbers == pytest.approx([math.nan, 0.00125], nan_ok=True)
    assert found["slave_cavity_length"].numbers == pytest.approx([math.nan, 0.02], nan_ok=True)
    assert np.all(np.isnan(found["slave_cavity_bleed_offset"].numbers))
    assert np.isnan(numbers("application", "thrust_limit", part("application"))[0])


def test_fields_with_a_default_are_never_missing() -> None:
    """A port up, a rigid bulkhead, a slave that lies as the gearbox does, a straight cushion, uniform wear, no stop at all."""
    assert numbers("application", "slave_clock", part("application"))[0] == 0.0
    assert numbers("application", "bulkhead_stiffness", part("application"))[0] == math.inf
    for family in ("slave", "concentric"):
        assert numbers(family, "cavity_clock", part(family))[0] == 0.0
        assert numbers(family, "cavity_clock", part(family, cavity={"clock": 0.3}))[0] == 0.3
    both = part("application", tilt=0.1), part("application", tilt=0.1, slave_tilt=-0.2)
    assert list(numbers("application", "slave_tilt", *both)) == [0.1, -0.2]
    assert numbers("disc", "cushion_share", part("disc"))[:, 0] == pytest.approx([0.0, 1.0])
    assert numbers("disc", "cushion_clamp", part("disc"))[:, 0] == pytest.approx([1.0, 0.0])
    rules = [part("disc", radius_rule="uniform pressure"), part("disc", radius_rule="uniform wear"), part("disc")]
    assert list(numbers("disc", "uniform_pressure", *rules)) == [1.0, 0.0, 0.0]
    low, high = (float(numbers("pedal", f"stop_{end}", part("pedal"))[0]) for end in ("low", "high"))
    assert not any(low <= pad <= high for pad in (0.0, 0.1, math.inf))


def test_words_and_flags_become_numbers() -> None:
    actions = [part("slave", action="push"), part("slave", action="pull")]
    assert list(numbers("slave", "push", *actions)) == [1.0, -1.0]
    covers = [part("pressure_plate"), part("pressure_plate", action="pull", wear_compensated=True)]
    assert list(numbers("pressure_plate", "push", *covers)) == [1.0, -1.0]
    assert list(numbers("pressure_plate", "wear_compensated", *covers)) == [0.0, 1.0]
    ranged = part("pedal", stop_range=(0.1, 0.16))
    assert [float(numbers("pedal", f"stop_{end}", ranged)[0]) for end in ("low", "high")] == [0.1, 0.16]


# Padding.


def test_a_line_is_the_sum_of_its_lengths_and_as_strong_as_its_weakest_piece() -> None:
    lines = part("line", pieces=(TUBE, HOSE, ADAPTER)), part("line", pieces=(TUBE,))
    assert numbers("line", "length", *lines) == pytest.approx([1.6, 1.2])
    assert list(numbers("line", "pressure_rating", *lines)) == [1.5e7, 2e7]


def line_answers(columns: dict[str, Any], row: int) -> list[float]:
    pieces = {name: column.numbers[:, row : row + 1] for name, column in columns.items() if name.startswith("line_piece_")}
    bores = {name: pieces[name] for name in ("line_piece_length", "line_piece_inner_diameter")}
    flows = [cold.return_flow(np.full(1, 1e6), *bores.values(), viscosity * np.ones(1), 1060.0) for viscosity in (0.5, 0.002)]
    return [float(found[0]) for found in (line.line_dilation(**pieces), line.line_volume(**bores), *flows)]


def test_pieces_that_pad_a_short_line_change_nothing() -> None:
    """A line answers alike alone and beside one of eight pieces; so does one with an adapter in any place."""
    long = part("line", pieces=(TUBE, ADAPTER, HOSE, ADAPTER, TUBE, HOSE, HOSE, TUBE))
    for pieces in ((TUBE,), (HOSE,), (HOSE, TUBE), (ADAPTER, TUBE, HOSE)):
        alone = line_answers(family_columns("line", [part("line", pieces=pieces)]), 0)
        beside = line_answers(family_columns("line", [long, part("line", pieces=pieces)]), 1)
        assert beside == pytest.approx(alone, rel=1e-14)
        without = tuple(piece for piece in pieces if piece is not ADAPTER)
        assert line_answers(family_columns("line", [part("line", pieces=without)]), 0) == pytest.approx(alone, rel=1e-14)


def test_a_hose_gives_by_its_expansion_alone() -> None:
    """0.4 m of 1.4e-6 m3/m at 1e7 Pa: 5.6e-14 m3/Pa, as though it had no wall that stretches."""
    assert line_answers(family_columns("line", [part("line", pieces=(HOSE,))]), 0)[0] == pytest.approx(5.6e-14, rel=1e-12)


def test_points_that_pad_a_short_curve_change_nothing() -> None:
    short, long = (0.0, 0.06), (0.0, 0.02, 0.05, 0.09, 0.15)
    parts = [part("pedal", return_force={"travel": t, "force": tuple(9 - 40 * x for x in t)}) for t in (short, long)]
    points, force = (numbers("pedal", f"return_{kind}", *parts) for kind in ("travel", "force"))
    for pad in (0.0, 0.03, 0.06, 0.2):
        expected = [np.interp(pad, t, 9 - 40 * np.array(t)) for t in (short, long)]
        assert follow(points, force, np.full(2, pad)) == pytest.approx(expected)
    discs = [part("disc"), part("disc", cushion_curve={"travel": (0, 0.2, 0.6, 1), "clamp": (1, 0.5, 0.2, 0)})]
    curve = {f"disc_{name}": numbers("disc", name, *discs) for name in ("cushion_share", "cushion_clamp")}
    for left in (1.0, 0.35, 0.0):
        expected = [1 - left, np.interp(-left, (-1, -0.5, -0.2, 0), (0, 0.2, 0.6, 1))]
        assert bite.share_at_clamp(clamp_share=np.full(2, left), **curve) == pytest.approx(expected)


def test_points_that_pad_a_viscosity_change_nothing() -> None:
    two = {"temperature": (300.0, 400.0), "kinematic": (1e-5, 1e-6)}
    three = {"temperature": (233.0, 313.0, 373.0), "kinematic": (1e-3, 1e-5, 2e-6)}
    both = [part("fluid", viscosity=points) for points in (two, three)]

    def at(warmth: float, parts: list[Part]) -> np.ndarray:
        points = (numbers("fluid", f"viscosity_{kind}", *parts) for kind in ("temperature", "kinematic"))
        return fluid.viscosity_line(np.full(len(parts), warmth), *points)

    for warmth in (240.0, 350.0, 420.0):
        assert at(warmth, both) == pytest.approx([float(at(warmth, [single])[0]) for single in both], rel=1e-14)


def test_a_pick_carries_no_more_entries_than_its_parts_need() -> None:
    columns = family_columns("line", [part("line", pieces=pieces) for pieces in ((TUBE,), (TUBE, HOSE, ADAPTER), (TUBE, HOSE))])
    lengths = columns["line_piece_length"]
    assert [lengths.pick(np.array(rows)).shape for rows in ([0], [0, 2], [1, 0, 1])] == [(1, 1), (2, 2), (3, 3)]
    assert lengths.pick(np.array([2, 0])) == pytest.approx(np.array([[1.2, 1.2], [0.4, 0.0]]))
    assert columns["line_length"].pick(np.array([2, 2])) == pytest.approx([1.6, 1.6])


# Shims.


def nearest(wish: float, thicknesses: tuple[float, ...], count: int) -> tuple[float, ...]:
    """Every stack tried: the nearest, and of those as near within a micrometre fewer shims, then thinner."""
    stacks: list[tuple[float, ...]] = [()]
    for _ in range(count):
        stacks += [(*stack, more) for stack in stacks for more in thicknesses if len(stack) < count]
    least = min(abs(sum(stack) - wish) for stack in stacks)
    near = [stack for stack in stacks if abs(sum(stack) - wish) <= least + 1e-6]
    return tuple(sorted(min(near, key=lambda stack: (len(stack), sum(stack)))))


ON_HAND = [((5e-4,), 1), ((5e-4, 1e-3), 2), ((3e-4, 5e-4, 8e-4), 3), ((1e-3, 4e-4), 0), ((), 2)]


@pytest.mark.parametrize(("hand", "count"), ON_HAND)
def test_the_stack_nearest_to_the_wish_by_trying_all(hand: tuple[float, ...], count: int) -> None:
    columns, made_of = shim_columns([part("concentric", shims=hand)], count)
    totals, borders = columns["shim_totals"].numbers, columns["shim_borders"].numbers
    middles = (totals[1:, 0] + totals[:-1, 0]) / 2
    wishes = [-1e-3, 9e-3, *np.linspace(0, 4e-3, 161), *(m + off for m in middles for off in (-6e-7, -4e-7, 0, 4e-7, 6e-7))]
    for wish in wishes:
        number = int(shim_choice(np.zeros(1), np.full(1, wish), borders)[0])
        expected = nearest(wish, hand, count)
        assert made_of[0][number] == pytest.approx(expected), wish
        assert totals[number, 0] == pytest.approx(sum(expected), abs=1e-12)


def test_ties_go_to_fewer_shims_and_then_to_the_thinner_stack() -> None:
    """Shims of 1.0 and 0.4, at most two. Half-way from 0.8 (two) to 1.0 (one): one. From 0 to 0.4: none, not one.

    From 1.4 to 2.0, both of two: the thinner.
    """
    columns, made_of = shim_columns([part("concentric", shims=(0.001, 0.0004))], 2)
    borders = columns["shim_borders"].numbers

    def stack(wish: float) -> tuple[float, ...]:
        return made_of[0][int(shim_choice(np.zeros(1), np.full(1, wish * 1e-3), borders)[0])]

    assert stack(0.9) == pytest.approx((0.001,))
    assert stack(0.8994) == pytest.approx((0.0004, 0.0004))
    assert stack(0.2) == ()
    assert stack(0.2006) == pytest.approx((0.0004,))
    assert stack(1.7) == pytest.approx((0.0004, 0.001))


def test_one_without_shims_beside_one_with_many_never_takes_any() -> None:
    columns, made_of = shim_columns([part("concentric", shims=()), part("concentric", shims=(0.0005, 0.001))], 2)
    chosen = shim_choice(np.zeros(2), np.full(2, 0.005), columns["shim_borders"].numbers)
    assert list(chosen) == [0.0, 4.0]
    assert made_of[0] == [()]
    assert list(columns["shim_totals"].numbers[:, 0]) == [0.0] * 5


# The context.


def test_the_context_knows_bent_pedals_and_what_is_supplied() -> None:
    bent = part("pedal", return_force={"travel": (0.0, 0.1), "force": (20.0, -5.0)})
    catalog = Catalog({"pedal": (part("pedal"), bent)})
    profile = Profile("made up", 1.0, 0.25, (), Assumptions(0.0, 101325.0, 0.2, 0.0, 2, 1000.0, 60.0), (), ())
    for supplied, expected in (((), [f for f in FAMILIES if f not in ("application", "linkage")]), (("disc",), ["disc"])):
        context = Context(catalog, profile, Job("made up", Path(), (), "default", supplied=supplied))
        assert list(context.supplied) == expected
        assert list(context.bent_pedals) == [False, True]
        assert set(context.columns) == set(FAMILIES)
        assert context.shims_of == []

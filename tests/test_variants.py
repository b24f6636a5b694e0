"""Kits made from one: as it is it equals the kit judged alone, and a row does not feel its neighbours."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from fitcheck.engine.result import KitTable
from fitcheck.engine.single import one_kit
from fitcheck.engine.states import NOT_GIVEN, REJECT, VALUE
from fitcheck.engine.variants import Bench, Variant
from fitcheck.engine.verdict import BREAKS
from fitcheck.inputs import Inputs, read_job
from fitcheck.kit_names import find_kit, only_these

DEMO = Path(__file__).parent.parent / "catalogs" / "demo" / "job.toml"
EXTERNAL = "winch-truck+lever-62+steep-19+metric-copper+violet+base-22+heavy-17+roller-48+eagle+heavy-280-woven"
KEEPS = "orchard-tractor+stirrup-62+vell-17+inch-braid+violet+strap-22+tractor-fork+dome-38+finch+tractor-200-rigid"
CONCENTRIC = "hay-lorry+lever-62+vell-21+metric-copper+straw+ring-42-a+crane+lorry-240"


@cache
def inputs() -> Inputs:
    return read_job(DEMO)


def bench(kit: str) -> Bench:
    read = inputs()
    return Bench(read.catalog, read.profile, read.job, *find_kit(kit, read.catalog, read.job))


@pytest.mark.parametrize("kit", [EXTERNAL, CONCENTRIC])
def test_the_kit_itself_is_what_it_is_alone(kit: str) -> None:
    read = inputs()
    train, ids = find_kit(kit, read.catalog, read.job)
    alone = one_kit(only_these(read.catalog, ids), read.profile, read.job, train)
    assert isinstance(alone, KitTable)
    draft = bench(kit).itself.draft
    assert (draft.verdict[0], draft.limiting_rule[0]) == (alone.verdict[0], alone.limiting_rule[0])
    assert draft.reasons[0] == alone.reasons[0]
    for name, numbers in alone.metrics.items():
        np.testing.assert_array_equal(draft.metrics[name], numbers)


def test_a_variant_does_not_feel_its_neighbours() -> None:
    kit = bench(EXTERNAL)
    master, vehicle, cover = kit.parts["master"], kit.application, kit.parts["pressure_plate"]
    several = [
        Variant(),
        Variant({"master": master.having("bore", 0.0254)}),
        Variant({"application": vehicle.having("engine_torque", 100.0)}),
        Variant({"pressure_plate": cover.having("lift_loss", 0.001), "master": master.having("stroke", 0.05)}),
        Variant(setting=0.02),
    ]
    together = kit.tried(several)
    for row, variant in enumerate(several):
        alone = kit.tried([variant]).draft
        assert together.draft.reasons[row] == alone.reasons[0]
        for name, numbers in alone.metrics.items():
            np.testing.assert_array_equal(together.draft.metrics[name][row : row + 1], numbers)
    np.testing.assert_array_equal(kit.verdicts(several), together.verdict)
    assert together.draft.metrics["torque_factor"][2] > together.draft.metrics["torque_factor"][0]


@pytest.mark.parametrize("kit", [EXTERNAL, CONCENTRIC])
def test_covers_side_by_side_are_what_each_is_alone(kit: str) -> None:
    """Springs of either kind, worn or not, and curves of unequal length stand in one tile."""
    read = bench(kit)
    covers = [cover for cover in read.catalog.families["pressure_plate"] if cover.values["action"] == "push"]
    curve = next(cover for cover in covers if "release_load" in cover.values)
    travel, load = curve.at("release_load.travel"), curve.at("release_load.load")
    longer = {"travel": (*travel, travel[-1] + 1e-3, travel[-1] + 2e-3), "load": (*load, load[-1] + 50.0, load[-1] - 20.0)}
    shorter = {"travel": (0.0, travel[-1]), "load": (0.0, load[-1])}
    covers += [curve.having("release_load", points) for points in (longer, shorter)]
    own = read.parts["pressure_plate"]
    interfaces = {key: own.values[key] for key in ("flywheel_pattern", "finger_circle", "fingers", "disc_max_diameter")}
    several = [Variant({"pressure_plate": replace(cover, values={**cover.values, **interfaces})}) for cover in covers]
    together, glance = read.tried(several), read.glance(several, ["return_time", "lever_check"])
    assert sum(together.legal) > 10
    for row, variant in enumerate(several):
        alone = read.tried([variant]).draft
        assert [reason.rule for reason in together.draft.reasons[row]] == [reason.rule for reason in alone.reasons[0]]
        assert (together.verdict[row], together.draft.remarks[row]) == (alone.verdict[0], alone.remarks[0])
        for name, numbers in alone.metrics.items():
            assert together.draft.states[name][row] == alone.states[name][0]
            np.testing.assert_array_equal(together.draft.metrics[name][row], numbers[0])
    np.testing.assert_array_equal(glance.verdict, together.verdict)
    np.testing.assert_array_equal(glance.headroom, together.draft.headroom)
    for name, numbers in glance.metrics.items():
        here = together.draft.states[name] == VALUE
        np.testing.assert_array_equal(glance.states[name], together.draft.states[name])
        np.testing.assert_array_equal(numbers[here], together.draft.metrics[name][here])


@pytest.mark.parametrize("kit", [EXTERNAL, CONCENTRIC, KEEPS])
def test_a_glance_knows_of_each_rule_whether_it_speaks(kit: str) -> None:
    """Held against the reasons and states of the same kits told in full."""
    read = bench(kit)
    several = [Variant({part.family: part}) for family in read.parts for part in read.catalog.families[family]]
    glance, together = read.glance(several), read.tried(several)
    assert np.isnan(glance.rooms[:, ~glance.legal]).all()
    assert {reason.kind for reasons in together.draft.reasons for reason in reasons} >= {"broken"}
    for row in np.flatnonzero(glance.legal).tolist():
        rooms = dict(zip(read.ruled, glance.rooms[:, row].tolist(), strict=True))
        speaking = {reason.rule: reason.headroom for reason in together.draft.reasons[row] if reason.kind != "not given"}
        assert {name: room for name, room in rooms.items() if room < BREAKS} == speaking
        for rule in read.rules:
            assert np.isnan(rooms[rule.name]) == (together.draft.states[rule.metric][row] == NOT_GIVEN)


def test_what_is_not_legal_can_be_judged_as_if_it_were() -> None:
    kit = bench(EXTERNAL)
    wrong = Variant({"disc": kit.parts["disc"].having("spline", "2x2x2")})
    glance = kit.glance([wrong, Variant()], fitting=False)
    assert glance.legal.tolist() == [False, True]
    np.testing.assert_array_equal(glance.rooms[:, 0], glance.rooms[:, 1])


def test_a_setting_is_kept_whatever_the_target_is() -> None:
    kit = bench(EXTERNAL)
    draft = kit.tried([Variant(setting=0.02), Variant()]).draft
    assert draft.metrics["setup_target"][0] == 0.02
    assert draft.metrics["setup_target"][1] == kit.itself.draft.metrics["setup_target"][0]
    assert draft.metrics["rod_length"][0] != draft.metrics["rod_length"][1]


def test_what_does_not_meet_is_told_and_never_evaluated() -> None:
    kit = bench(EXTERNAL)
    wrong = Variant({"disc": kit.parts["disc"].having("spline", "2x2x2"), "slave": kit.parts["slave"].having("seal", "NBR")})
    trials = kit.tried([wrong, Variant()])
    assert trials.legal.tolist() == [False, True]
    assert {"spline", "seal-slave"} <= set(trials.unmet[0])
    assert trials.unmet[1] == ()
    assert trials.verdict[0] == REJECT
    assert not any(states[0] == VALUE for states in trials.draft.states.values())


def test_every_part_that_stays_in_the_vehicle_is_held_against_it() -> None:
    """The tractor keeps pedal and fork: one fit of two families."""
    kit = bench(KEEPS)
    assert set(kit.application.values["fitted"]) == {"pedal", "fork"}
    for family in kit.application.values["fitted"]:
        others = [part for part in kit.catalog.families[family] if part.id != kit.parts[family].id]
        trials = kit.tried([Variant({family: part}) for part in others])
        assert not trials.legal.any()
        assert all("fitted" in unmet for unmet in trials.unmet)


def test_a_number_of_a_part_is_found_and_changed_by_its_dotted_key() -> None:
    line = bench(EXTERNAL).parts["line"]
    (hose,) = (row for row, piece in enumerate(line.values["pieces"]) if piece["kind"] == "hose")
    key = f"pieces.{hose}.expansion"
    changed = line.having(key, 1e-9)
    assert changed.at(key) == 1e-9
    assert line.at(key) != 1e-9
    assert dict(changed.numbers()) == {**dict(line.numbers()), key: 1e-9}
    assert line.at("pieces.99.length") is None
    assert line.at("name.0") is None

"""What a frozen kit is judged by, before and after, and what takes its place when its parts no longer meet."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
import tomli
import tomli_w
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.bundles.judged_by import judged_by, profile_change
from fitcheck.bundles.neighbour import nearest_legal
from fitcheck.catalog.parts import TRAINS
from fitcheck.engine.result import Emptied
from fitcheck.engine.single import one_kit
from fitcheck.engine.states import VERDICT_WORDS
from fitcheck.inputs import Inputs, read_job
from fitcheck.kit_names import only_these
from tests.chosen_kits import HAY, PLOUGH, RING, judged, name_of, problems, raw_of, stands, waive, write


def add(folder: Path, text: str) -> None:
    path = folder / "profile.toml"
    path.write_text(path.read_text(encoding="utf-8") + text, encoding="utf-8")


def told(folder: Path, kit: str = HAY) -> str:
    (finding,) = [finding for finding in judged(folder, kit).findings if finding.problem == "changed-profile"]
    assert (finding.severity, finding.place.key.split(".")[0]) == ("caution", "judged_by")
    return finding.found


def test_an_assumption_that_changed_is_told_with_the_figures_it_moved(own: Path) -> None:
    path = own / "profile.toml"
    path.write_text(path.read_text(encoding="utf-8").replace('slope = "20 %"', 'slope = "10 %"'), encoding="utf-8")
    assert problems(judged(own)) == ["changed-profile"]
    moved = {move.metric for move in stands(own).moves}
    assert {"bite_point", "bite_height", "bite_band"} <= moved  # all of them looked at on the slope
    assert not moved & {"effort_peak", "release_margin", "torque_factor"}
    assert "assumption slope: 11.309932474 deg -> 5.71059313" in told(own)  # arc tangent of 0.2 and of 0.1
    assert "What came of it: verdict and headroom stay; " in told(own)
    assert "bite_height 58.9642 % -> " in told(own)


def test_a_bound_that_moved_is_told_with_the_verdict_it_turned(own: Path) -> None:
    add(own, '\n[rules.effort-limit]\nupper = "60 N"\n')
    said = told(own)
    assert "rule effort-limit: effort_peak at most 250 N -> effort_peak at most 60 N. What" in said
    assert "verdict pass -> reject" in said
    assert "limiting rule effort-drop -> effort-limit; no figure moved" in said


def test_rules_that_came_and_went_are_told(own: Path) -> None:
    new = "metric = 'jump'\nupper = '9 mm'\nseverity = 'caution'\nscale = '1 mm'\nreason = 'r'\nremedy = 'm'\nsource = 's'"
    add(own, f"\n[rules.effort-drop]\noff = true\n[rules.small-jump]\n{new}\n")
    said = told(own)
    assert "rule effort-drop is gone (effort_drop at most 45 %, caution, scale 15 %)" in said
    assert "rule small-jump is new (jump at most 9 mm, caution, scale 1 mm)" in said
    assert "limiting rule effort-drop -> " in said


def test_what_else_a_rule_asks_is_told_too(own: Path) -> None:
    other = {"effort-limit": "waivable = false", "speed": "severity = 'caution'", "crank-thrust": "not_given = 'caution'"}
    add(own, "".join(f"\n[rules.{name}]\n{line}\n" for name, line in other.items()))
    said = told(own)
    assert "rule effort-limit: now also not to be waived; " in said
    assert "rule speed: reject -> caution. " in said
    assert "rule crank-thrust: no longer only said where not given; " in said
    assert "verdict and headroom stay; no figure moved" in said


def test_a_kit_that_is_not_legal_any_more_says_whether_entries_changed_too(own: Path) -> None:
    add(own, "\n[fits.spline]\nequal = ['disc.spline', 'application.flywheel_pattern']\n")
    assert told(own).endswith("What came of it: the kit is no longer legal")
    spoiled(own, disc=("lorry-240", "spline", "another"))
    assert told(own).endswith("What came of it: the kit is no longer legal; entries changed too")


def test_fits_that_changed_are_told(own: Path) -> None:
    add(own, "\n[fits.seal-slave]\nallowed = [['EPDM', 'glycol']]\n")
    assert told(own).startswith("the profile judges otherwise: the fits are not what they were. ")
    assert problems(judged(own, RING)) == []


def test_words_units_and_rules_of_other_vehicles_are_no_change(own: Path) -> None:
    add(own, "\n[rules.effort-limit]\nupper = '0.25 kN'\nreason = 'As before.'\nremedy = 'Lighter.'\n")
    bus = "metric = 'jump'\nupper = '9 mm'\nseverity = 'caution'\nscale = '1 mm'\nreason = 'r'\nremedy = 'm'\nsource = 's'"
    add(own, f"[rules.bus-only]\napplications = ['winch-truck']\n{bus}\n[rules.concentric-only]\ntrain = 'concentric'\n{bus}\n")
    assert judged(own).findings == ()
    assert problems(judged(own, RING)) == ["changed-profile"]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("effort_peak at most 250 N", "effort_peak at most 90 N"),
        ("\n[judged_by.rules]", '\nair_of_mine = "3 mL"\n\n[judged_by.rules]'),
        ('[judged_by]\ndigest = "', f'[judged_by]\ndigest = "{64 * "0"}"  # was "'),
    ],
)
def test_what_was_kept_of_a_profile_cannot_be_edited_unseen(own: Path, old: str, new: str) -> None:
    path = own / "bundles" / f"{name_of(HAY)}.toml"
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1
    path.write_text(text.replace(old, new), encoding="utf-8")
    found = judged(own)
    assert problems(found) == (["edited-bundle"] if "digest" in old else ["changed-profile", "edited-bundle"])
    assert problems(judged(own, RING)) == []


def test_waivers_are_set_aside_to_tell_what_a_profile_did(own: Path) -> None:
    waive(own, PLOUGH, "port-clearance")
    add(own, "\n[rules.port-clearance]\nlower = '0.4 mm'\n")
    said = told(own, PLOUGH)
    assert "headroom -0.08276 -> -0.2828, waivers aside" in said
    assert "verdict" not in said.partition("What came of it: ")[2]


def test_a_bundle_that_does_not_hold_what_it_was_judged_by_says_so(own: Path) -> None:
    path = own / "bundles" / f"{name_of(HAY)}.toml"
    values = tomli.loads(path.read_text(encoding="utf-8"))
    del values["judged_by"]
    path.write_text(tomli_w.dumps(values), encoding="utf-8")
    (finding,) = judged(own).findings
    assert (finding.problem, finding.found) == ("no-digest", "no digest of profile, so that a change there goes unseen")


@given(st.data())
def test_any_change_of_a_rule_that_counts_is_noticed(inputs: Inputs, data: st.DataObject) -> None:
    profile = inputs.profile
    then = judged_by(profile, "hay-lorry", "external")
    assert profile_change(then, then) is None
    rule = data.draw(st.sampled_from([rule for rule in profile.rules if rule.name in then.rules]))
    changes: dict[str, object] = {
        "severity": "caution" if rule.severity == "reject" else "reject",
        "waivable": not rule.waivable,
        "scale": rule.scale * 1.001,
        "not_given": "caution" if rule.not_given == "said" else "said",
        "lower": None if rule.lower is not None and rule.upper is not None else (rule.lower or 0.0) - 0.001,
        "train": "concentric",
    }
    key = data.draw(st.sampled_from(sorted(changes)))
    other = replace(rule, **{key: changes[key]})
    rules = tuple(other if each is rule else each for each in profile.rules)
    change = profile_change(then, judged_by(replace(profile, rules=rules), "hay-lorry", "external"))
    assert change is not None
    assert [(each.kind, each.name, each.now is None) for each in change.altered] == [("rule", rule.name, key == "train")]
    assert not change.fits


# What takes the place of a kit that is not legal.


def spoiled(folder: Path, **parts: tuple[str, str, object]) -> None:
    raw = raw_of(folder)
    for family, (name, key, value) in parts.items():
        raw[family][name][key] = value
    write(folder, raw)


def test_the_nearest_legal_kit_is_named(own: Path) -> None:
    """The plough's disc fits the winch's cover and shaft as little as anything: only a copy of the own disc does."""
    raw = raw_of(own)
    raw["disc"]["spare"] = dict(raw["disc"]["lorry-240"])
    raw["disc"]["lorry-240"]["spline"] = "another"
    write(own, raw)
    found = stands(own)
    near = found.neighbour
    assert near is not None
    assert (near.family, near.old, near.new, near.kit) == ("disc", "lorry-240", "spare", HAY.replace("lorry-240", "spare"))
    inputs = read_job(own / "job.toml")
    parts = dict(found.bundle.parts) | {"disc": "spare"}
    table = one_kit(only_these(inputs.catalog, parts), inputs.profile, inputs.job, "external")
    assert VERDICT_WORDS[near.verdict] == VERDICT_WORDS[int(table.verdict[0])] == "pass"
    (finding,) = [finding for finding in judged(own).findings if finding.problem == "unmet-fit"]
    assert finding.mend.endswith("the nearest legal kit has disc spare in place of lorry-240 (its verdict: pass)")


def test_a_part_that_is_superseded_comes_last(own: Path) -> None:
    raw = raw_of(own)
    for name in ("a-spare", "b-spare"):
        raw["disc"][name] = dict(raw["disc"]["lorry-240"])
    raw["disc"]["a-spare"]["superseded_by"] = "b-spare"
    raw["disc"]["lorry-240"]["spline"] = "another"
    write(own, raw)
    assert stands(own).neighbour.new == "b-spare"


def test_where_one_part_does_not_help_nothing_is_proposed(own: Path) -> None:
    spoiled(own, disc=("lorry-240", "spline", "another"), fork=("lorry-15", "pivot", "another"))
    found = judged(own)
    assert found.standing.neighbour is None
    assert not any("nearest" in finding.mend for finding in found.findings)


def test_nothing_is_proposed_from_a_catalog_of_which_some_is_left_out(own: Path) -> None:
    raw = raw_of(own)
    raw["disc"]["spare"] = dict(raw["disc"]["lorry-240"])
    raw["disc"]["lorry-240"]["spline"] = "another"
    raw["disc"]["heavy-265"] = {"name": "broken"}
    write(own, raw)
    assert stands(own).neighbour is None


@pytest.mark.parametrize("kit", [HAY, RING])
def test_the_nearest_is_the_best_of_all_single_exchanges(kit: str, inputs: Inputs) -> None:
    """One exchange after the other, each kit by itself, on the demo's whole catalog with the disc taken out of the way."""
    train = "external" if kit == HAY else "concentric"
    parts = dict(zip(TRAINS[train], kit.split("+"), strict=True)) | {"disc": "heavy-265"}
    assert isinstance(one_kit(only_these(inputs.catalog, parts), inputs.profile, inputs.job, train), Emptied)
    legal = {}
    for family in TRAINS[train][1:]:
        for part in inputs.catalog.families[family]:
            other = parts | {family: part.id}
            table = one_kit(only_these(inputs.catalog, other), inputs.profile, inputs.job, train)
            if not isinstance(table, Emptied):
                legal["+".join(other.values())] = int(table.verdict[0])
    near = nearest_legal(parts, train, inputs.catalog, inputs.profile, inputs.job)
    assert legal
    assert near is not None
    assert near.verdict == min(legal.values()) == legal[near.kit]

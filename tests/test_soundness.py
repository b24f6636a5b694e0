"""Doubts beyond any schema: samples that bring them about, and catalogs that do not."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck import cli, load_catalog, load_profile
from fitcheck.catalog.parts import Catalog
from fitcheck.engine.legality import TRAINS
from fitcheck.errors import Finding, Place
from fitcheck.gates.check import check_paths
from fitcheck.inputs import DIMENSIONS, read_job
from fitcheck.profile import Rule
from fitcheck.soundness.alone import lonely_doubts
from fitcheck.soundness.family import family_doubts
from fitcheck.soundness.judged import judged_doubts
from fitcheck.soundness.rules import kit_doubts, rule_doubts
from tests.made_result import result

HERE = Path(__file__).resolve().parent
DEMO = HERE.parent / "catalogs" / "demo"
DOUBTED = sorted(path.name for path in (HERE / "doubted").iterdir())
COMMON = {"no-source", "not-given", "weak-evidence"}  # said of nearly every sample: asked for by samples of their own alone
WHOLE = load_catalog(HERE / "accepted" / "every-family.toml")


@pytest.mark.parametrize("name", DOUBTED)
def test_doubted_sample(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file dropped into `doubted` is a test: it says at its head what is told of which line, and no more is told."""
    monkeypatch.chdir(HERE / "doubted")
    marks = re.findall(r"^# line (\d+): (.*)$", Path(name).read_text("utf-8"), re.MULTILINE)
    assert marks
    report = check_paths([Path(name)], DIMENSIONS)
    assert report.complete
    assert {finding.severity for finding in report.findings} == {"caution"}
    told = [finding for finding in report.findings if finding.place.file == name]
    for line, words in marks:
        assert any(finding.place.line == int(line) and words in str(finding) for finding in told), (words, told)
    rest = [finding for finding in told if finding.problem not in COMMON]
    assert {finding.place.line for finding in rest} <= {int(line) for line, _ in marks}


def test_there_are_enough_samples_of_doubts() -> None:
    assert len(DOUBTED) >= 20


def test_a_missing_optional_field_is_said_once_per_part() -> None:
    report = check_paths([HERE / "accepted" / "every-family.toml"], DIMENSIONS)
    for problem in COMMON:
        owners = [finding.place.key for finding in report.findings if finding.problem == problem]
        assert len(owners) == len(set(owners))


def test_the_traps_of_the_demo_are_found() -> None:
    """The demo has parts that are wrong on purpose; its own remarks say so."""
    report = check_paths([DEMO], DIMENSIONS)
    found = {(finding.problem, finding.place.key) for finding in report.findings if finding.problem not in COMMON}
    assert ("lever-check", "pressure_plate.jay.lever_ratio") in found
    assert ("fits-nothing", "bearing.tight-48.bore") in found
    assert not [finding for finding in report.findings if finding.severity == "error"]


# A family.


def masters(*bores: float):
    (master,) = WHOLE.families["master"]
    return [
        replace(
            master,
            id=f"m-{at}",
            values=master.values | {"bore": bore, "stroke": 0.03 + at / 1e3},
            places={"": Place("masters.toml", at + 1, 1, f"master.m-{at}")},
            texts={},
        )
        for at, bore in enumerate(bores)
    ]


def odd(*bores: float) -> list[str]:
    return [finding.expected for finding in family_doubts(masters(*bores)) if finding.problem == "odd-one-out"]


def test_the_odd_one_out() -> None:
    """25.4 mm to the inch: NIST SP 811 (2008), appendix B."""
    plain = (0.0159, 0.0175, 0.0191, 0.0206, 0.0254)
    assert odd(*plain) == []
    assert odd(*plain, 0.1905) == ["one like the bore of 5 others, 15.9 mm to 25.4 mm: a decimal point?"]
    assert odd(*plain, 0.0191 * 25.4)[0].endswith("inches for millimetres?")
    assert odd(*plain, 0.0191 / 1000)[0].endswith("a unit?")
    assert odd(*plain, 0.05) == []
    assert odd(*plain, 0.270) == [
        "one like the bore of 5 others, 15.9 mm to 25.4 mm: a decimal point?"
    ]  # the greatest, once mended
    assert odd(*plain, 0.00148)[0].endswith("a decimal point?")  # the least
    assert odd(*plain, 0.105) == odd(*plain, 0.00395) == []  # four times beyond, and by no slip that people make
    assert odd(*plain[:3], 0.1905) == []  # too few to tell which is odd
    assert len(odd(*np.linspace(0.015, 0.025, 30), 0.19, 0.2)) == 2
    assert odd(*plain, *(10 * bore for bore in plain)) == []  # two kinds of part, none of them odd


@given(st.lists(st.floats(0.01, 0.02), min_size=5, max_size=30))
def test_none_is_odd_among_its_likes(bores: list[float]) -> None:
    assert odd(*bores) == []


def test_parts_that_supersede_each_other_are_no_duplicates() -> None:
    first, second = masters(0.019, 0.019)
    second = replace(second, values=first.values)
    assert [finding.problem for finding in family_doubts([first, second])] == ["duplicate"]
    named = replace(first, values={**first.values, "superseded_by": second.id})
    assert list(family_doubts([named, second])) == []


@given(st.lists(st.sampled_from([0.019, 0.01902, 0.0195, 0.025]), min_size=2, max_size=8))
def test_duplicates_are_those_that_comparing_all_pairs_finds(bores: list[float]) -> None:
    parts = [replace(part, values=part.values | {"stroke": 0.03}) for part in masters(*bores)]
    bore = {part.id: part.values["bore"] for part in parts}
    told = {finding.place.key.partition(".")[2]: finding for finding in family_doubts(parts)}
    lesser = {
        one: [two for two in bore if two < one and abs(bore[one] - bore[two]) <= 0.003 * max(bore[one], bore[two])]
        for one in bore
    }
    assert set(told) == {one for one, twins in lesser.items() if twins}
    for one, finding in told.items():
        same = [two for two in lesser[one] if bore[two] == bore[one]]
        assert finding.problem == ("duplicate" if same else "near-duplicate")
        assert re.search(r"master\.(\S+) has", finding.expected)[1] in (same or lesser[one])


def test_a_twin_is_the_same_finding_whichever_of_its_likes_is_taken_away() -> None:
    parts = [replace(part, values=part.values | {"stroke": 0.03}) for part in masters(0.019, 0.019, 0.019)]
    first, second = ({finding.place.key: finding.found for finding in family_doubts(some)} for some in (parts, parts[1:]))
    last = parts[2].place.key
    assert set(first) == {parts[1].place.key, last}
    assert second == {last: first[last]}


# Interfaces.


def test_a_part_that_is_in_no_legal_kit_by_one_interface_is_told(monkeypatch) -> None:
    """Against legality itself: in the demo every part so told is in no legal kit."""
    inputs = read_job(DEMO / "job.toml")
    lonely = {tuple(finding.place.key.split(".")[:2]) for finding in lonely_doubts(inputs.catalog, inputs.profile)}
    assert lonely
    for family, identifier in lonely:
        only = {"only": {family: (identifier,)}} if family != "application" else {"applications": (identifier,)}
        one = replace(inputs, job=replace(inputs.job, **only))
        trains = [train for train, families in TRAINS.items() if family in families]
        assert sum(kits for (_, train), kits in one.count().items() if train in trains) == 0


def test_fits_that_no_one_part_meets_together_are_named() -> None:
    """A slave that needs a return spring, and whose mount is only on a vehicle without one; each fit alone is met."""
    inputs = read_job(DEMO / "job.toml")
    told = {finding.place.key: finding.found for finding in lonely_doubts(inputs.catalog, inputs.profile)}
    assert told["slave.strap-spring-21"].endswith("which meet no one part at the fits rest-and-return-spring and slave-mount")
    assert "fork.pivot" in told["fork.tractor-fork-new.pivot"]  # the only vehicle with that pivot keeps its own fork


def test_files_alone_hold_nothing_against_families_that_are_elsewhere() -> None:
    profile = load_profile()
    for family, parts in WHOLE.families.items():
        alone = replace(WHOLE, families={family: parts})
        assert list(lonely_doubts(alone, profile)) == []


def test_what_may_be_among_entries_that_are_left_out_is_held_against_no_part() -> None:
    """A part whose only vehicle is refused has not lost its partner, and nothing has once a file cannot be read."""
    inputs = read_job(DEMO / "job.toml")
    refused = Finding(Place("a.toml", 3, 1, "application.hay-lorry.spline"), "wrong-kind", "the number 7", "text", "write text")
    partly = replace(inputs.catalog, complete=False, findings=(refused,))

    def told(catalog: Catalog) -> set[str]:
        return {finding.place.key for finding in lonely_doubts(catalog, inputs.profile)}

    alone = told(inputs.catalog)
    assert len({key.partition(".")[0] for key in alone}) > 1
    assert told(partly) == {key for key in alone if key.startswith("application.")}  # others may fit the vehicle that is left out
    unread = Finding(Place("a.toml", 3, 1, ""), "broken-line", "x", "y", "z")
    assert told(replace(partly, findings=(unread,))) == told(replace(partly, findings=())) == set()


# Rules.


def test_rules_are_tried_on_every_legal_kit(tmp_path: Path) -> None:
    found = result(tmp_path)
    legal = dict(found.legal)
    all_broken = {group: {rule.name: kits for rule in found.profile.rules} for group, kits in legal.items()}
    none = replace(found, broken_by={})
    assert {doubt.problem for doubt in kit_doubts([none], found.profile)} == {"never-decides"}
    every = replace(found, broken_by=all_broken)
    told = list(kit_doubts([every], found.profile))
    assert "never-met" in {doubt.problem for doubt in told}
    assert all(doubt.severity == "caution" for doubt in told)
    assert list(kit_doubts([none, every], found.profile)) == []  # each rule decides between the two
    assert list(kit_doubts([replace(none, legal=dict.fromkeys(legal, 0))], found.profile)) == []  # no kit, nothing known


def test_a_rule_that_alone_asks_for_a_figure_decides(tmp_path: Path) -> None:
    """Of two rules on one figure the milder is idle only where the stricter one cautions a kit without the figure too."""
    strict = result(tmp_path).profile.rules[0]
    strict = replace(strict, name="strict", lower=2.0, upper=None, not_given="said")
    mild = replace(strict, name="mild", lower=1.0, not_given="caution")

    def idle(*rules: Rule) -> set[str]:
        profile = replace(load_profile(), rules=rules)
        return {finding.found.split()[0] for finding in rule_doubts(profile, replace(WHOLE, families={}))}

    assert idle(strict, mild) == set()
    assert idle(strict, replace(mild, not_given="said")) == idle(replace(strict, not_given="caution"), mild) == {strict.metric}


def test_the_shipped_profile_has_no_rule_against_another() -> None:
    nothing = replace(WHOLE, families={})
    assert list(rule_doubts(load_profile(), nothing)) == []


def test_a_rule_for_a_train_that_cannot_be_built(tmp_path: Path) -> None:
    profile = load_profile()
    external = replace(WHOLE, families={**WHOLE.families, "concentric": ()})
    told = {finding.place.key for finding in rule_doubts(profile, external) if "concentric train" in finding.found}
    assert told == {f"rules.{rule.name}" for rule in profile.rules if rule.train == "concentric"}
    assert told


def test_a_rule_on_a_figure_that_no_part_gives() -> None:
    told = [finding.found for finding in rule_doubts(load_profile(), WHOLE)]
    assert "a rule on warm_creep, and no fluid that gives expansion" in told


def test_lever_check_by_hand() -> None:
    """Equilibrium of a lever, by hand: 4 times 900 N and a bit over 4500 N is 0.8 at 1 mm + 4 x 0.8 mm = 4.2 mm.

    Between (2 mm, 900 N) and (9 mm, 1300 N) a straight line gives 1025.714 N at 4.2 mm; 4 x 1025.714 / 4500 = 0.9117.
    """
    profile = load_profile()
    assert not [doubt for doubt in judged_doubts(WHOLE, profile) if doubt.problem == "lever-check"]
    (cover,) = WHOLE.families["pressure_plate"]
    heavy = replace(cover, values={**cover.values, "clamp_load": 9000.0})
    wrong = replace(WHOLE, families={**WHOLE.families, "pressure_plate": (heavy,)})
    (doubt,) = [doubt for doubt in judged_doubts(wrong, profile) if doubt.problem == "lever-check"]
    assert doubt.expected == "0.7 to 1.3; it is 0.46 with soft, the nearest of 1 discs that it takes"


def test_kits_are_judged_where_asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "job.toml").write_text(
        f'catalogs = ["{(DEMO / "catalog").as_posix()}"]\napplications = ["hay-lorry"]\ntrains = ["external"]\n[only]\n'
        'pedal = ["lever-62"]\nmaster = ["vell-19"]\nline = ["inch-braid"]\nfluid = ["amber"]\nslave = ["ridge-22"]\n'
        'fork = ["lorry-17"]\npressure_plate = ["crane"]\ndisc = ["lorry-250"]\n',
        encoding="utf-8",
    )
    path = str(tmp_path / "job.toml")
    assert cli.run(["check", path]) == 0
    assert "never-decides" not in capsys.readouterr().out
    assert cli.run(["check", path, "--kits", "--format", "json"]) == 0
    assert '"never-decides"' in capsys.readouterr().out


def test_a_doubt_stays_the_same_doubt_when_other_parts_come(tmp_path: Path) -> None:
    text = (HERE / "doubted" / "decimal-point.toml").read_text("utf-8")
    known = []
    for number, name in ((1, "few"), (2, "more")):
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
        known.append(
            {
                mark
                for one, mark in check_paths([tmp_path / f"{name}.toml"], DIMENSIONS).fingerprints.items()
                if one.problem == "odd-one-out"
            }
        )
        text += re.search(r"(?ms)^\[master.m-2\].*?(?=^\[)", text)[0].replace("m-2", f"m-new-{number}").replace("19.05", "16.1")
    assert known[0] == known[1]
    assert len(known[0]) == 1


def test_ports_are_those_of_the_profile_beside_the_catalog(tmp_path: Path) -> None:
    """What screening would leave out is a fault already when files are checked."""
    (tmp_path / "own.toml").write_text('extends = "default"\n', encoding="utf-8")
    catalog = HERE / "accepted" / "every-family.toml"
    assert not check_paths([catalog], DIMENSIONS).failing
    told = check_paths([catalog, tmp_path / "own.toml"], DIMENSIONS).failing
    assert {finding.problem for finding in told} == {"unknown-port"}
    assert {finding.place.key.split(".")[0] for finding in told} == {"line", "slave", "concentric"}

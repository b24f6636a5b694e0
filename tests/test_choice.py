"""The choice of train: what the full screening ranks first, by what, and what speaks for each side."""

from __future__ import annotations

import html
from dataclasses import replace

import numpy as np
import pytest
from compared import CASES, CONCENTRIC, EXTERNAL, VEHICLES, demo, golden, random_inputs, read_the_same, screened, table_of

from fitcheck.compare.trains import ASPECTS, choice, choose, speaking
from fitcheck.engine.table import METRICS
from fitcheck.errors import UsageError
from fitcheck.job import Preference
from fitcheck.report.choice import FACT_PRAISE, FACTS, LABELS, PRAISE, TOPICS, answer, choice_views, trains_lines
from fitcheck.report.html import page

pytestmark = pytest.mark.no_cover  # the rooms that are gated are covered without


@pytest.mark.parametrize("application", VEHICLES)
def test_the_kits_shown_are_the_best_of_the_full_screening(application: str) -> None:
    result, found = choose(demo(), application)
    assert repr(found) == repr(choice(screened(), application))
    for side in found.sides:
        group = (application, side.train)
        assert (side.legal, side.verdicts) == (screened().legal[group], screened().verdicts[group])
        best = screened().best[group]
        assert side.stands == bool(len(best))
        if len(best):
            assert side.kit is not None
            assert side.kit.kit[0] == best.kit[0]
    ranks = {side.train: int(screened().best[application, side.train].rank[0]) for side in found.sides if side.stands}
    assert found.first == min(ranks, key=ranks.__getitem__, default="")
    assert "\n".join(trains_lines(result, found))


@pytest.mark.parametrize("seed", range(CASES))
def test_the_first_train_is_that_of_the_first_kit(seed: int) -> None:
    inputs, _ = random_inputs(seed)
    (application,) = inputs.job.applications
    result, found = choose(inputs, application)
    standing = [row for row in range(len(result.kits)) if result.kits.verdict[row] != 2]
    assert found.first == (result.kits.train[standing[0]] if standing else "")
    for side in found.sides:
        assert side.asked == (side.train in inputs.job.trains)
        assert (side.kit is None) == (side.legal == 0)
        ranked = [result.kits.kit[row] for row in standing if result.kits.train[row] == side.train]
        assert side.stands == bool(ranked)
        assert not ranked or side.kit is not None
        assert not ranked or side.kit.kit[0] == ranked[0]
    assert (found.decided != "") == all(side.stands for side in found.sides)
    assert "\n".join(trains_lines(result, found))


def test_what_speaks_for_a_train_is_held_against_its_figures() -> None:
    _, found = choose(demo(), "hay-lorry")
    external, concentric = (table_of(demo(), kit) for kit in (EXTERNAL, CONCENTRIC))
    for points in found.points.values():
        for point in points:
            one, other = external.metrics[point.metric][0], concentric.metrics[point.metric][0]
            if not point.way or not point.speaks:
                assert (
                    point.way == ""
                    or read_the_same(point.metric, external, concentric)
                    or abs(one) == abs(other)
                    or np.isnan(one + other)
                )
                continue
            smaller = "external" if (abs(one) < abs(other) if point.way == "nearest 0" else one < other) else "concentric"
            assert (point.speaks == smaller) == (point.way != "most")
    assert [str(wish) for wish, _ in found.wishes] == list(map(str, demo().job.prefer))


def test_what_the_job_prefers_turns_what_speaks_for_a_train() -> None:
    heavy = replace(demo(), job=replace(demo().job, prefer=(Preference("most", "effort_peak"),)))
    result, found = choose(heavy, "hay-lorry")
    point = next(point for point in found.points["effort"] if point.metric == "effort_peak")
    assert point.way == "most"
    assert point.speaks == next(point for _, point in found.wishes).speaks
    assert "most effort_peak (" in " ".join(line.strip() for line in trains_lines(result, found))


def test_nothing_speaks_for_a_train_that_does_not_stand() -> None:
    for application in ("winch-truck", "fire-pump", "cable-shunter"):
        _, found = choose(demo(), application)
        assert not any(list(speaking(found, side.train)) for side in found.sides)


def test_a_train_without_a_kit_says_why() -> None:
    result, found = choose(demo(), "fire-pump")
    assert (found.first, found.decided) == ("external", "")
    text = "\n".join(trains_lines(result, found))
    assert "with a concentric cylinder no kit is legal" in text
    assert "the application takes no concentric" in text.lower()
    result, found = choose(demo(), "winch-truck")
    assert (found.first, found.decided) == ("", "")
    assert all(side.kit is not None for side in found.sides)
    text = "\n".join(trains_lines(result, found))
    assert "without this rule" in text
    assert "nearest: reject" in text


def test_a_train_that_is_not_asked_for_is_told_so() -> None:
    one = replace(demo(), job=replace(demo().job, trains=("concentric",)))
    result, found = choose(one, "hay-lorry")
    assert [side.asked for side in found.sides] == [False, True]
    assert answer(result, found) == "The concentric cylinder comes first: the job does not ask for the other train."
    assert "External slave: the job does not ask for it." in list(trains_lines(result, found))


@pytest.mark.parametrize(
    ("prefer", "changes", "words"),
    [
        ((), {}, "only the kit's name decides"),
        ((Preference("least", "service_hours"),), {}, "preference least service_hours decides, "),
        ((), {"headroom_step": 0.001}, "headroom counts for more"),
    ],
)
def test_the_answer_names_what_decides(prefer: tuple[Preference, ...], changes: dict[str, float], words: str) -> None:
    asked = replace(demo(), job=replace(demo().job, prefer=prefer), profile=replace(demo().profile, **changes))
    result, found = choose(asked, "hay-lorry")
    assert words in answer(result, found)


def test_a_pass_comes_before_a_caution_by_its_verdict() -> None:
    rule = next(rule for rule in demo().profile.rules if rule.name == "compliance")
    strict = replace(rule, name="never", train="concentric", upper=-1.0)
    asked = replace(demo(), profile=replace(demo().profile, rules=(*demo().profile.rules, strict)))
    result, found = choose(asked, "hay-lorry")
    assert (found.first, found.decided) == ("external", "verdict")
    assert "its best kit passes, the other's stands with cautions" in answer(result, found)
    assert "none passes: " in "\n".join(trains_lines(result, found))


def test_an_external_slave_with_lash_can_have_its_bite_moved() -> None:
    """Common practice, no source: the rod of a slave that does not rest on the fingers sets the bite."""
    result, found = choose(demo(), "orchard-tractor")
    assert [fact.codes for fact in found.facts["afterwards"]] == [("lash", "")]
    assert "a turn at the pad" in "\n".join(trains_lines(result, found))


def test_everything_told_of_a_train_has_words() -> None:
    assert TOPICS.keys() == ASPECTS.keys()
    told = {name for rows in ASPECTS.values() for name, _ in rows}
    assert told <= METRICS.keys()
    assert LABELS.keys() == told | FACTS.keys()
    assert PRAISE.keys() == {(name, way) for rows in ASPECTS.values() for name, way in rows if way}
    assert FACT_PRAISE.keys() | {"setting"} == FACTS.keys()


@pytest.mark.parametrize(
    ("application", "said"),
    [("hay-lory", "Did you mean hay-lorry?"), ("x", "There are: "), ("post-van", "leaves the application post-van out")],
)
def test_a_wrong_application_gets_the_nearest(application: str, said: str) -> None:
    some = replace(demo(), job=replace(demo().job, leave_out={"application": ("post-van",)}))
    with pytest.raises(UsageError, match=said):
        choose(some, application)


def test_the_lines_of_trains_are_those_that_were_agreed() -> None:
    golden("compare-trains.txt", list(trains_lines(*choose(demo(), "hay-lorry"))))


@pytest.mark.parametrize("application", VEHICLES)
def test_the_table_stays_within_120_columns(application: str) -> None:
    lines = list(trains_lines(screened(), choice(screened(), application)))
    table = (
        lines[len(lines) - lines[::-1].index("In the order in which kits rank") - 1 :]
        if "In the order in which kits rank" in lines
        else []
    )
    assert all(len(line) <= 120 for line in table)


def test_the_page_tells_the_choice_of_train_where_both_stand() -> None:
    _, both = choose(demo(), "hay-lorry")
    views = choice_views(screened())
    assert sorted(views) == ["hay-lorry", "post-van", "snow-plough", "valley-bus"]
    assert views["hay-lorry"].answer == answer(screened(), both)
    text = page(screened())
    assert text.count("<summary>What speaks for each</summary>") == len(views)
    section = text[text.index('id="choice-hay-lorry"') :].partition("</details>")[0]
    for told in (views["hay-lorry"].answer, *(line for _, some in views["hay-lorry"].praise for line in some)):
        assert html.escape(told, quote=False).replace("'", "&#39;") in section
    assert 'id="choice-winch-truck"' not in text

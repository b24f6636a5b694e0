"""Figures that moved since a kit was frozen: which weigh most, and how many of them a person is shown."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from math import inf, nan
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck import cli
from fitcheck.bundles.findings import figure
from fitcheck.bundles.findings import moved as moved_words
from fitcheck.bundles.moves import Move, moves_of
from fitcheck.bundles.standing import Standing
from fitcheck.engine.states import VALUE
from fitcheck.quantities import Quantity
from tests.chosen_kits import DAY, HAY, name_of, raw_of, stands, write


@pytest.fixture
def bored(own: Path) -> Path:
    """One bore changed, which moves nearly every figure and turns no rule."""
    raw = raw_of(own)
    raw["master"]["ovrel-19"]["bore"] = "19.4 mm"
    write(own, raw)
    return own


def told(folder: Path, capsys: pytest.CaptureFixture[str], *more: str) -> str:
    bundle = folder / "bundles" / f"{name_of(HAY)}.toml"
    assert cli.run(["judge", str(bundle), "--on", DAY.isoformat(), *more]) == 0
    return capsys.readouterr().out


def test_a_handful_is_shown_and_the_rest_counted(bored: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = told(bored, capsys)
    shown = re.findall(r"^  moved: (\w+) ", out, re.M)
    assert len(shown) == 5
    (rest, every) = re.findall(
        r"^  And (\d+) more figures moved \(.*by headroom up to 1.*\): --most (\d+) shows them\.$", out, re.M
    )[0]
    whole = re.findall(r"^  moved: (\w+) ", told(bored, capsys, "--most", every), re.M)
    assert whole[:5] == shown
    assert len(whole) == len(set(whole)) == int(every) == int(rest) + 5
    assert "more figure" not in told(bored, capsys, "--most", every)
    assert f"And {int(every) - 1} more figures moved" in told(bored, capsys, "--most", "1")
    assert "And 1 more figure moved" in told(bored, capsys, "--most", str(int(every) - 1))


def test_what_a_fitter_sets_is_told_once_and_machines_get_all(bored: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = told(bored, capsys, "--most", "99")
    (bundle,) = json.loads(told(bored, capsys, "--format", "json", "--most", "1"))["details"]["bundles"]
    moves = [(move.metric, move.setup) for move in stands(bored).moves]
    assert [(each["metric"], each["setup"]) for each in bundle["moves"]] == moves
    assert {name for name, setup in moves if setup} == {"setup_target", "setup_high", "setup_window", "rod_length"}
    for name, setup in moves:
        assert out.count(f"  moved: {name} ") == (0 if setup else 1)
        assert out.count(f"setup.{name}: found ") == (1 if setup else 0)
    suite = ElementTree.fromstring(told(bored, capsys, "--format", "junit")).find("testsuite")
    assert suite.findtext("system-out").count("  moved: ") == 5


def test_the_rule_that_lost_most_of_its_comfort_leads(bored: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By hand: 180 N are allowed, a step is 40 N, so that (180 - 156.563)/40 = 0.586 and (180 - 162.632)/40 = 0.434."""
    first = told(bored, capsys).partition("  moved: ")[2].splitlines()[0]
    assert first == "effort_peak 156.563 N -> 162.632 N, headroom of effort-comfort 0.58 -> 0.43"
    (changed,) = [line for line in told(bored, capsys).splitlines() if "changed: " in line and "found master" in line]
    assert "changed: effort_peak 156.563 N -> 162.632 N, " in changed


def moved(found: Standing, **figures: float | None) -> list[Move]:
    """What is told where the kit once had other figures, SI; None where it had none."""
    held = {
        name: Quantity(float(found.table.metrics[name][0])) for name, state in found.table.states.items() if state[0] == VALUE
    }
    then = {name: value for name, value in held.items() if figures.get(name, 0) is not None}
    then |= {name: Quantity(value) for name, value in figures.items() if value is not None}
    return list(moves_of(replace(found.bundle, setup={}, figures=then), found.profile, found.table))


def test_what_turned_comes_first_then_what_is_judged_then_the_rest_by_share(room: Path) -> None:
    found = stands(room)
    now = {
        name: float(found.table.metrics[name][0]) for name in ("bite_point", "release_volume", "release_margin", "total_ratio")
    }
    order = moved(
        found,
        release_volume=now["release_volume"] * 1.5,  # no rule on it: by share
        total_ratio=None,  # no rule on it, and it was not there at all
        bite_point=now["bite_point"] * 0.9,
        release_margin=now["release_margin"] + 1.0,  # far above what is enough, then and now
        effort_drop=0.3,  # kept, then and now
        effort_peak=190.0,  # more than the 180 N that the workshop speaks up above
        jump=None,  # judged, and was not there
    )
    assert [move.metric for move in order] == [
        "jump", "effort_peak", "effort_drop", "release_margin", "total_ratio", "release_volume", "bite_point"
    ]  # fmt: skip
    assert [move.turned for move in order] == [True, True, False, False, False, False, False]
    assert [move.rule for move in order[1:]] == ["effort-comfort", "effort-drop", "enough-release", "", "", ""]
    assert order[1].headrooms == pytest.approx(((180 - 190.0) / 40, (180 - 156.563) / 40), abs=1e-4)


def test_a_figure_that_is_no_number_is_one_that_was_lost(room: Path) -> None:
    found = stands(room)
    figures = dict(found.table.metrics) | {name: np.array([nan]) for name in ("effort_peak", "total_ratio")}
    order = moves_of(replace(found.bundle, setup={}), found.profile, replace(found.table, metrics=figures))
    told = [(move.metric, move.turned, move.headrooms) for move in order if move.metric in ("effort_peak", "total_ratio")]
    assert told == [("effort_peak", True, None), ("total_ratio", False, None)]
    assert {moved_words(move).partition(" -> ")[2] for move in order if move.metric == "effort_peak"} == {"cannot be computed"}


@given(
    st.dictionaries(st.sampled_from(["release_margin", "effort_peak", "total_ratio", "overtravel"]), st.floats(allow_nan=False))
)
def test_any_figures_have_an_order(room: Path, figures: dict[str, float]) -> None:
    order = moved(stands(room), **figures)
    assert {move.metric for move in order} <= set(figures)
    groups = [(not move.turned, not move.rule) for move in order]
    assert groups == sorted(groups)


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (1.73e-18, 6, "0 mm"),  # what is left of a difference
        (-1.73e-18, 6, "0 mm"),
        (1.23456789e-3, 6, "1.23457 mm"),
        (0.3e-3 - 1e-12, 12, "0.299999999 mm"),  # so near a bound that more digits are asked for
        (inf, 6, "infinite"),
        (-inf, 12, "minus infinite"),
    ],
)
def test_a_figure_is_written_as_anybody_reads_it(value: float, digits: int, text: str) -> None:
    assert figure("overtravel", value, digits=digits) == text


@pytest.mark.parametrize("headroom", ["1e308", "-1e300", "inf", "-inf", "0"])
def test_any_headroom_that_a_bundle_may_hold_is_told_in_a_few_letters(
    headroom: str, own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = own / "bundles" / f"{name_of(HAY)}.toml"
    text = path.read_text(encoding="utf-8").replace('verdict = "pass"', 'verdict = "caution"')
    path.write_text(re.sub(r'^headroom = ".*"', f'headroom = "{headroom}"', text, flags=re.M), encoding="utf-8")
    first = told(own, capsys).splitlines()[0]
    assert re.search(r"; when frozen, waivers aside: caution, headroom \S+( infinite)?$", first)
    assert len(first.rpartition("headroom ")[2]) < 16

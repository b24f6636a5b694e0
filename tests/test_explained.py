"""The page explains the first kit of each group: in the words of `reasons`, escaped, the same bytes each time."""

from __future__ import annotations

import html
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
import tomli
import tomli_w
from click.testing import CliRunner
from compared import demo, screened

from fitcheck.cli import program
from fitcheck.engine.result import Group
from fitcheck.engine.states import CAUTION, PASS, REJECT
from fitcheck.engine.variants import Bench
from fitcheck.frame import Screening
from fitcheck.inputs import read_job
from fitcheck.kit_names import find_kit
from fitcheck.reasons import explained as module
from fitcheck.reasons.explained import Explained, explained
from fitcheck.reasons.shelf import Shelf
from fitcheck.reasons.swaps import swaps_of
from fitcheck.reasons.together import pairs_of
from fitcheck.report.chain import Branch
from fitcheck.report.explained import ExplainedView, HowItStands, explained_views
from fitcheck.report.html import page
from fitcheck.report.outline import Item
from fitcheck.report.remedies import CLOSING, NO_EXCHANGE
from tests.made_result import HOSTILE
from tests.test_demo import workshop
from tests.test_report import Seen

pytestmark = pytest.mark.no_cover  # the rooms that are gated are covered without

# Few kits of one vehicle and train: none passes; with the two better pedals some are cautions, without them all are rejected.
FEW = {
    "applications": ["snow-plough"],
    "trains": ["external"],
    "only": {
        "pedal": ["worn-lever", "lever-62", "lever-55"],
        "master": ["steep-22"],
        "line": ["metric-copper"],
        "fluid": ["straw"],
        "slave": ["base-25"],
        "fork": ["heavy-19"],
        "disc": ["heavy-265"],
    },
}
WORN = {**FEW, "only": {**FEW["only"], "pedal": ["worn-lever"]}}  # type: ignore[dict-item]
NOTHING = {"applications": ["cable-shunter"]}
MISSED = {"applications": ["winch-truck"], "trains": ["concentric"]}
CASES = {"caution": FEW, "reject": WORN, "nothing": NOTHING, "missed": MISSED}


def job_in(folder: Path, asked: dict[str, object]) -> Path:
    """The demo with a job of its own."""
    path = workshop(folder).with_name("ours.toml")
    job = tomli.loads(path.with_name("job.toml").read_text(encoding="utf-8"))
    path.write_text(tomli_w.dumps({**job, **asked}), encoding="utf-8")
    return path


@cache
def told() -> dict[Group, Explained]:
    return dict(explained(screened()))


@pytest.fixture(scope="module")
def jobs(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    return {name: job_in(tmp_path_factory.mktemp(name), asked) for name, asked in CASES.items()}


@cache
def screening(path: Path) -> Screening:
    return read_job(path).screen()


def views(path: Path) -> dict[Group, ExplainedView]:
    return explained_views(screening(path), explained(screening(path)))


def flat(text: str) -> str:
    """On one line, without the gaps that only set it."""
    return " ".join(text.split())


def text_of(found: Screening, given: dict[Group, Explained] | None = None) -> str:
    return flat(Seen(page(found, given)).text[""])


def command(path: Path, asked: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """What `reasons` says, typed in the folder of the job, so that both name files alike."""
    monkeypatch.chdir(path.parent)
    return flat(CliRunner().invoke(program, ["reasons", path.name, asked]).output)


def outline_texts(items: tuple[Item, ...]) -> Iterator[str]:
    for item in items:
        yield item.text
        yield from outline_texts(item.below)


def branch_texts(one: Branch) -> Iterator[str]:
    yield f"{one.name} {one.value}".rstrip() + (f" = {one.equation}" if one.equation else "")
    yield from one.whys
    for each in one.items:
        if isinstance(each, Branch):
            yield from branch_texts(each)
        else:
            yield f"{each.name} {each.value}".rstrip() + (f": {each.origin}" if each.origin else "")
    yield from filter(None, [one.again])


def kit_texts(stands: HowItStands) -> Iterator[str]:
    """Every text that the command tells too."""
    yield stands.kit
    yield from (text for rule in stands.rules for text in rule)
    for figure in stands.figures:
        yield from branch_texts(figure.tree)
        yield from (f"from {text}" for text in figure.owners)
    yield from outline_texts(stands.footing)
    yield from (text for text in outline_texts(stands.mend) if text != NO_EXCHANGE)
    yield stands.closing


# What is there.


def test_every_group_of_the_demo_is_explained() -> None:
    assert set(told()) == set(screened().legal)
    for group, one in told().items():
        best = screened().best.get(group)
        verdicts = screened().verdicts[group]
        if best is not None and len(best):
            assert one.standing is not None
            assert one.standing.kit == best.kit[0]
            assert (one.remedies is None) == (int(best.verdict[0]) == PASS)
        else:
            assert (one.standing is None) == (screened().legal[group] == 0)
        passes = any(screened().verdicts[group[0], train][PASS] for train in ("external", "concentric"))
        assert (one.missing is None) == passes, verdicts


def test_a_passing_kit_shows_its_tree_and_no_remedy() -> None:
    view = explained_views(screened(), told())["hay-lorry", "concentric"]
    assert view.best
    assert view.stands is not None
    assert view.stands.title == "limited by release-point"
    assert [figure.name for figure in view.stands.figures] == ["release_point_share"]
    assert not view.stands.mend
    text = text_of(screened(), told())
    assert "Concentric cylinder: how it stands, limited by release-point" in text
    assert "release_point_share 84.9 % = release_point / travel" in text
    assert "Pad position at release over pedal travel. (definition)" in text
    assert "pedal_free_play 7 mm: lever-62, catalog/pedals.toml:23, invented" in text
    assert "concentric ring-42-a (catalog/concentrics.toml:6-23, invented): outer_diameter 56 mm" in text


def test_a_caution_shows_what_would_mend_it(jobs: dict[str, Path]) -> None:
    found = screening(jobs["caution"])
    (group,) = found.legal
    assert found.verdicts[group][PASS] == 0 < found.verdicts[group][CAUTION]
    text = text_of(found)
    assert "External slave: how it stands, broken: release-point" in text
    assert "External slave: what would mend it" in text
    assert NO_EXCHANGE in text
    assert "The kit passes with" in text
    assert CLOSING in text


def test_a_miss_shows_its_trees_its_remedies_and_the_missing_part(jobs: dict[str, Path]) -> None:
    found = screening(jobs["missed"])
    assert found.verdicts["winch-truck", "concentric"][REJECT] == found.legal["winch-truck", "concentric"] > 0
    text = text_of(found)
    assert "The nearest miss: how it stands, broken: torque-factor" in text
    assert "The nearest miss: what would mend it" in text
    assert "A part that would do, each alone, in winch-truck+" in text
    assert "a disc with a friction of at least 0.42: the kit would at least no longer be rejected" in text


def test_where_nothing_is_legal_the_missing_part_is_told(jobs: dict[str, Path]) -> None:
    text = text_of(screening(jobs["nothing"]))
    assert text.count("A part that would do, each alone, in cable-shunter+") == 2
    assert "a disc of spline 7x27x33: the kit would pass" in text
    assert "how it stands" not in text


def test_no_exchange_of_one_part_or_two_mends_the_first_kit_of_a_group(jobs: dict[str, Path]) -> None:
    """As the page says without having looked: such a kit was screened too, and would have come first."""
    for found in (screened(), *map(screening, jobs.values())):
        for one in explained(found).values():
            if one.standing is not None and one.remedies is not None:
                assert one.remedies.swaps is None
                kit = find_kit(one.standing.kit, found.catalog, found.job)
                shelf = Shelf(Bench(found.catalog, found.profile, found.job, *kit))
                assert not swaps_of(shelf).total
                assert not pairs_of(shelf, range(one.remedies.verdict)).total


# In the words of the command.


@pytest.mark.parametrize("case", ["caution", "reject", "missed"])
def test_what_the_page_says_of_a_kit_the_command_says_too(
    case: str, jobs: dict[str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    on_page = text_of(screening(jobs[case]))
    for view in views(jobs[case]).values():
        assert view.stands is not None
        said = command(jobs[case], view.stands.kit, monkeypatch)
        texts = [flat(text) for text in kit_texts(view.stands)]
        assert len(texts) > 10
        assert [text for text in texts if text not in said] == []
        assert [text for text in texts if text.removeprefix("from ") not in on_page and " = " not in text] == []


@pytest.mark.parametrize("case", ["missed", "nothing"])
def test_the_missing_part_is_that_of_the_command(case: str, jobs: dict[str, Path], monkeypatch: pytest.MonkeyPatch) -> None:
    for (application, _), view in views(jobs[case]).items():
        said = command(jobs[case], application, monkeypatch)
        texts = [flat(text) for text in outline_texts(view.missing)]
        assert texts
        assert [text for text in texts if text not in said] == []


# What must not happen.


def test_hostile_words_and_file_names_stay_text(tmp_path: Path) -> None:
    path = job_in(tmp_path, WORN).rename(tmp_path / "<b>ours & theirs.toml")
    (tmp_path / "catalog" / "pedals.toml").rename(tmp_path / "catalog" / "<img src=x>.toml")
    profile = tmp_path / "profile.toml"
    rules = tomli.loads(profile.read_text(encoding="utf-8"))
    rules["rules"]["hurt"] = {
        "metric": "release_point_share", "upper": "10 %", "scale": "10 %", "severity": "reject",
        "reason": HOSTILE["markup"], "remedy": HOSTILE["quotes"], "source": "hearsay </details><svg>",
    }  # fmt: skip
    profile.write_text(tomli_w.dumps(rules), encoding="utf-8")
    made = page(read_job(path).screen())
    seen = Seen(made)
    assert not seen.open
    assert sum(tag == "script" for tag, _ in seen.tags) == 1
    assert not any(tag == "img" for tag, _ in seen.tags)
    for text in ("catalog/<img src=x>.toml:", "fitcheck reasons <b>ours & theirs.toml ", "(source: hearsay </details><svg>, "):
        assert text in seen.text[""]
    assert f"{HOSTILE['markup']}. Remedy: " in flat(seen.text[""]).replace("Say", "say")
    assert tmp_path.as_posix() not in made


def test_the_page_is_whole_and_the_same_each_time(jobs: dict[str, Path]) -> None:
    for path in jobs.values():
        made = page(screening(path))
        seen = Seen(made)
        assert not seen.open
        assert made == page(read_job(path).screen())
        ids = [attrs["id"] for _, attrs in seen.tags if "id" in attrs]
        assert len(ids) == len(set(ids))


def test_the_page_does_not_more_than_double() -> None:
    assert len(page(screened(), told())) < 2 * len(page(screened(), {}))


def test_what_was_not_sought_is_said(jobs: dict[str, Path], monkeypatch: pytest.MonkeyPatch) -> None:
    """The first that needs it is always helped; of what comes after, the page says what to type."""
    monkeypatch.setattr(module, "ENOUGH", 0)
    found = screening(jobs["nothing"])
    first, second = explained(found).values()
    assert first.sought
    assert first.missing
    assert not second.sought
    assert second.missing is None
    assert html.unescape(page(found, explained(found))).count("type: fitcheck reasons ours.toml cable-shunter") == 1
    both = replace(demo(), job=replace(demo().job, applications=("winch-truck",))).screen()
    later = list(explained_views(both, explained(both)).values())[1]
    assert later.stands is not None
    (item,) = later.stands.mend
    assert item.text.endswith(f"fitcheck reasons job.toml {later.stands.kit}")
    assert not later.missing

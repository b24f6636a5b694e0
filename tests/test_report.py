"""What leaves the program: CSV, JSON, the page, lines for a terminal. What goes in is made by hand, with hostile names."""

from __future__ import annotations

import base64
import csv
import dataclasses
import hashlib
import io
import json
import math
import re
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

import fitcheck
from fitcheck.catalog.parts import FAMILIES
from fitcheck.engine.states import VALUE, VERDICT_WORDS
from fitcheck.engine.table import METRICS
from fitcheck.errors import Finding, OutputError, Place
from fitcheck.frame import Screening, nearest_first, to_frame
from fitcheck.report import words
from fitcheck.report.csv import number, write_kits
from fitcheck.report.files import write_result, write_whole
from fitcheck.report.html import page
from fitcheck.report.summary import summary, summary_text
from fitcheck.report.text import count_lines, finding_lines, screen_lines
from tests.made_result import HOSTILE, RELEASE, reason, result, table

GOLDEN = Path(__file__).parent / "golden"


def csv_text(found) -> str:
    stream = io.StringIO(newline="")
    write_kits(found.kits, stream)
    return stream.getvalue()


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))  # the standard library's reader, RFC 4180


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("kits.csv", csv_text(result())),
        ("summary.json", summary_text(result(complete=False))),
        ("screen.txt", "\n".join(screen_lines(result(), [Path("hill-result/kits.csv")])) + "\n"),
        ("findings.txt", "\n".join(finding_lines(result(complete=False).findings)) + "\n"),
        ("count.txt", "\n".join(count_lines(result().legal)) + "\n"),
    ],
)
def test_outputs_are_those_that_were_agreed(name: str, text: str) -> None:
    assert text == (GOLDEN / name).read_bytes().decode("utf-8")


# CSV.


def test_columns_stand_in_the_agreed_order() -> None:
    header = csv_text(result()).partition("\n")[0].split(",")
    families = [family for family in FAMILIES if family != "linkage"]
    assert header[:17] == [*families, "kit", "train", "verdict", "limiting_rule", "headroom", "reasons"]
    assert header[17 : 17 + len(METRICS)] == [metric.column for metric in METRICS.values()]
    assert header[17 + len(METRICS) :] == ["shims", "unbeaten", "rank", "missing", "remarks"]


@pytest.mark.parametrize(
    ("name", "column"),
    [
        ("release_margin", "release_margin_mm"),
        ("peak_pressure", "peak_pressure_bar"),
        ("effort_peak", "effort_peak_N"),
        ("release_volume", "release_volume_mL"),
        ("release_point_share", "release_point_share_pct"),
        ("effort_slope", "effort_slope_N_per_mm"),
        ("torque_capacity", "torque_capacity_Nm"),
        ("pedal_work", "pedal_work_J"),
        ("boil_reserve", "boil_reserve_K"),
        ("return_time", "return_time_s"),
        ("service_hours", "service_hours_h"),
        ("mass", "mass_kg"),
        ("rod_angle", "rod_angle_deg"),
        ("total_ratio", "total_ratio"),
        ("cost", "cost"),
    ],
)
def test_a_column_is_the_metric_and_the_unit_shown(name: str, column: str) -> None:
    assert METRICS[name].column == column


def test_figures_are_in_the_unit_shown_with_twelve_digits() -> None:
    """1 bar is 1e5 Pa and 1 h is 3600 s (the SI brochure, 9th edition, table 8)."""
    row = rows_of(csv_text(result()))[0]
    assert row["peak_pressure_bar"] == "24.3"
    assert row["release_point_share_pct"] == "61"
    assert row["total_ratio"] == "7.12345678901"
    assert row["return_time_s"] == "inf"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (math.nan, ""),
        (math.inf, "inf"),
        (-math.inf, "-inf"),
        (-0.0, "0"),
        (1 / 3, "0.333333333333"),
        (1e-7, "1e-07"),
        (123456789012.4, "123456789012"),
    ],
)
def test_numbers_in_files(value: float, text: str) -> None:
    assert number(value) == text


def test_a_figure_without_a_value_is_blank_whatever_its_array_holds() -> None:
    made = table("valley", "concentric", 0, (1.0,))
    assert not math.isnan(made.metrics["rod_length"][0])
    text = csv_text(dataclasses.replace(result(), kits=made))
    row = rows_of(text)[0]
    assert [row[name] for name in ("rod_length_mm", "air_pocket_mL", "service_hours_h")] == ["", "", ""]
    assert row["missing"] == "air_pocket: not given; rod_length: does not exist"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_text_cell_can_be_taken_for_a_formula(start: str) -> None:
    """First characters as in CWE-1236 and OWASP ASVS 4.0.3, 1.2.10 and 5.3.10 (from memory)."""
    bad = dataclasses.replace(reason(), rule=f"{start}cmd|'/c calc'!A0")
    made = dataclasses.replace(table("valley", "external", 2, (-1.5,), (bad,)), limiting_rule=(f"{start}1",))
    row = rows_of(csv_text(dataclasses.replace(result(), kits=made)))[0]
    assert row["reasons"][:2] == row["limiting_rule"][:2] == f"'{start}"
    assert row["headroom"] == "-1.5", "a number stays a number"


def test_rows_end_in_one_line_feed_and_odd_text_comes_back_whole() -> None:
    odd = dataclasses.replace(reason(), rule="odd", reason=f"{HOSTILE['lines']}, {HOSTILE['quotes']}, {HOSTILE['hebrew']}")
    made = table("valley", "external", 2, (-1.0,), (odd,))
    text = csv_text(dataclasses.replace(result(), kits=made))
    assert "\r\n" not in text
    assert text.endswith("\n")
    assert rows_of(text)[0]["reasons"] == f"odd: {odd.reason}"


def test_a_result_without_kits_still_has_its_header() -> None:
    none = result().kits.take(np.array([], dtype=np.int64))
    text = csv_text(dataclasses.replace(result(), kits=none))
    assert text.count("\n") == 1


# pandas.


def test_the_frame_has_the_columns_and_figures_of_the_csv() -> None:
    import pandas

    found = result()
    frame = to_frame(found)
    read = pandas.read_csv(io.StringIO(csv_text(found)), keep_default_na=False, na_values=[""])
    assert list(frame.columns) == list(read.columns)
    for metric in METRICS.values():
        np.testing.assert_allclose(frame[metric.column].astype(float), read[metric.column].astype(float), rtol=1e-11)
    assert list(frame["verdict"]) == ["reject", "reject", "pass", "pass", "caution"]
    assert frame["unbeaten"].dtype == bool
    assert frame["rank"].dtype.kind == "i"


def test_a_screening_hands_itself_to_a_notebook() -> None:
    found = result()
    assert Screening(**vars(found)).to_frame().equals(to_frame(found))


# JSON.


def test_the_summary_is_strict_json_and_adds_up() -> None:
    """Strict: RFC 8259 knows neither NaN nor Infinity."""

    def refuse(word: str) -> None:
        raise ValueError(word)

    read = json.loads(summary_text(result()), parse_constant=refuse)
    groups = [group for trains in read["applications"].values() for group in trains.values()]
    assert read["totals"]["legal"] == sum(group["legal"] for group in groups) == 2**53 + 5
    assert sum(read["totals"][word] for word in VERDICT_WORDS) == read["totals"]["legal"]
    assert read["applications"]["orchard"]["external"]["rules"]["enough-release"] == {"broken_by": 2, "only_by": 2}
    emptied = read["applications"]["quarry"]["external"]["emptied_by"]
    assert (emptied["fits"], emptied["conflicts"]) == (["spline"], [["spline"]])
    assert emptied["without"] == [{"fits": ["spline"], "legal": 1200}]


def test_the_summary_says_when_something_was_left_out() -> None:
    assert summary(result())["complete"] is True
    left = summary(result(complete=False))
    assert left["complete"] is False
    assert [finding["problem"] for finding in left["findings"]] == ["unknown-unit", "unused"]


def test_the_summary_tells_nothing_of_the_folders_of_its_machine(tmp_path: Path) -> None:
    found = result(tmp_path)
    place = Place(str(tmp_path / "catalog/parts.toml"), 1, 1)
    moved = dataclasses.replace(
        found,
        digests={(tmp_path / name).as_posix(): digest for name, digest in found.digests.items()} | {"default": "33"},
        findings=(Finding(place, "a", "b", "c", "d"),),
    )
    text = summary_text(moved)
    assert tmp_path.as_posix() not in text
    assert tmp_path.as_posix() not in page(moved, {})
    assert set(json.loads(text)["inputs"]) == {"default", "hill.toml", "catalog/parts.toml"}


def test_a_run_is_known_by_its_inputs_and_its_version() -> None:
    found = result()
    other = dataclasses.replace(found, digests={**found.digests, "hill.toml": "12" * 32})
    newer = dataclasses.replace(found, version="0.2.0")
    assert len({summary(one)["run"] for one in (found, other, newer)}) == 3


# The page. The parts of these kits stand in no catalog, so that nothing of them can be explained.


class Seen(HTMLParser):
    """Every start tag with its attributes, and the text of style, script and everything else."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.text: dict[str, str] = {}
        self.feed(text)

    def handle_starttag(self, tag, attrs) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "br"):
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag) -> None:
        assert self.open.pop() == tag, f"</{tag}> closes another element"

    def handle_data(self, data) -> None:
        room = self.open[-1] if self.open else ""
        room = room if room in ("style", "script") else ""
        self.text[room] = self.text.get(room, "") + data


SEEN = Seen(page(result(complete=False), {}))


def test_every_element_is_closed_and_every_id_stands_once() -> None:
    assert not SEEN.open
    ids = [attrs["id"] for _, attrs in SEEN.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    named = {attrs["aria-labelledby"] for _, attrs in SEEN.tags if "aria-labelledby" in attrs}
    linked = {str(attrs["href"])[1:] for tag, attrs in SEEN.tags if tag == "a"}
    assert named | linked <= set(ids)


def test_the_page_needs_no_network_and_runs_only_its_own_script() -> None:
    """Hashes as in Content Security Policy Level 3 (W3C), section 8.3: base64 of the SHA-256 of the element's text."""
    policy = next(attrs["content"] for _, attrs in SEEN.tags if attrs.get("http-equiv") == "Content-Security-Policy")
    for kind in ("script", "style"):
        digest = base64.b64encode(hashlib.sha256(SEEN.text[kind].encode()).digest()).decode()
        assert f"{kind}-src 'sha256-{digest}'" in policy
    assert "default-src 'none'" in policy
    assert not any(name in ("src", "srcset", "style") or name.startswith("on") for _, attrs in SEEN.tags for name in attrs)
    assert all(str(attrs["href"]).startswith("#") for _, attrs in SEEN.tags if "href" in attrs)
    assert not re.search(r"https?://|@import|url\(", SEEN.text["style"] + SEEN.text["script"])


def test_names_stay_text() -> None:
    assert sum(tag == "script" for tag, _ in SEEN.tags) == 1
    assert HOSTILE["markup"] in SEEN.text[""]
    assert "<b>drag</b>" in SEEN.text[""]
    assert "\x1b" not in SEEN.text[""]
    assert "\u202e" not in SEEN.text[""]


@pytest.mark.parametrize("line", words.CAUTIONS)
def test_the_page_carries_every_caution(line: str) -> None:
    assert line in SEEN.text[""]


def test_a_script_that_writes_markup_would_be_seen() -> None:
    assert not re.search(r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|eval\(", SEEN.text["script"])


def text_of(found) -> str:
    return " ".join(Seen(page(found, {})).text[""].split())


def test_the_page_tells_verdict_limit_headroom_set_up_and_reason() -> None:
    text = text_of(result())
    assert "2 kits pass; the best is a kit with an external slave." in text
    assert "lash 5.95 mm (4.10 to 7.80 mm), rod 146.2 mm, resets infinite" in text
    assert "gap 5.95 mm (4.10 to 7.80 mm), shims 0.5+0.5 mm" in text
    assert "light-foot: =the pedal is heavy (effort_peak 201 N, at most 180 N)" in text
    assert re.search("light-foot: effort_peak 201 N, at most 180 N *needs its pedal stop", text)
    assert "light-foot: =the pedal is heavy. Remedy: Fit a smaller master." in text


def test_the_page_says_why_nothing_passes_and_what_would_mend_it() -> None:
    text = text_of(result())
    assert "Why no kit with an external slave passes Of 2 legal kits none passes." in text
    assert "(release_margin 0.4999 mm, at least 0.5 mm) Remedy: Fit a larger master." in text
    assert "No kit is legal. What empties it: No disc meets the shaft." in text
    assert "Without the fit spline there would be 1 200 legal kits." in text
    assert "spline: The disc does not slide on the shaft. Choose a disc with its spline." in text
    assert text.count("Why no kit passes") == 1, "the same answer for both trains is given once"


def test_the_page_says_when_something_was_left_out() -> None:
    assert "Incomplete." in text_of(result(complete=False))
    assert "Incomplete." not in text_of(result())


def test_the_page_says_when_the_csv_does_not_hold_everything() -> None:
    text = text_of(dataclasses.replace(result(), complete_rows=False))
    assert "more legal kits than the job's row limit of 20\u202f000" in page(
        dataclasses.replace(result(), complete_rows=False), {}
    )
    assert "holds every legal kit" not in text


def test_a_part_that_every_listed_kit_has_is_said_once() -> None:
    text = text_of(result())
    assert "The same in every row: master say \"so\", it's 'fine'; really," in text
    assert text.count("fluid =cmd") == 1


# Words.


@pytest.mark.parametrize(
    ("value", "text"), [(0.999, "0.99"), (-1e-10, "0.00"), (-0.004, "-0.01"), (1.0, "1.00"), (math.inf, "infinite")]
)
def test_headroom_never_reads_better_than_it_is(value: float, text: str) -> None:
    assert words.headroom(value) == text


def test_a_value_just_outside_its_limit_is_not_rounded_onto_it() -> None:
    assert words.found_and_asked(reason(value=4.9999e-4)) == "release_margin 0.49999 mm, at least 0.5 mm"
    assert words.found_and_asked(reason(value=3e-4)) == "release_margin 0.30 mm, at least 0.5 mm"


def test_bounds_in_words() -> None:
    assert words.bound(RELEASE) == "at least 0.5 mm"
    assert words.bound(dataclasses.replace(RELEASE, upper=2e-3)) == "0.5 mm to 2 mm"
    assert words.bound(dataclasses.replace(RELEASE, lower=None, upper=2e-3)) == "at most 2 mm"


def test_text_for_a_terminal_cannot_drive_it() -> None:
    assert words.plain("a\x1b[2J\nb\u202ec") == "a\\u001b[2J\\nb\\u202ec"
    joined = "\u0645\u06cc\u200c\u0634\u0648\u062f"  # Persian needs its zero-width non-joiner
    assert words.plain(joined) == joined


@pytest.mark.parametrize("name", METRICS)
def test_every_metric_can_be_said(name: str) -> None:
    made = table("valley", "external", 0, (1.0,))
    made.states[name][:] = VALUE
    assert re.fullmatch(r"-?[0-9.]+( [\w%/ ]+)?|infinite", words.cell(made, 0, name))


# Files.


def test_a_result_folder_holds_three_whole_files_and_the_same_bytes_twice(tmp_path: Path) -> None:
    found = result()
    first = {path.name: path.read_bytes() for path in write_result(found, tmp_path / "deep" / "out", {})}
    second = {path.name: path.read_bytes() for path in write_result(found, tmp_path / "deep" / "out", {})}
    assert first == second
    assert sorted(path.name for path in (tmp_path / "deep" / "out").iterdir()) == ["kits.csv", "report.html", "summary.json"]


def test_a_writer_that_fails_leaves_the_old_files_and_no_half_one(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("old", encoding="utf-8")

    def full(stream) -> None:
        stream.write("half")
        raise OSError(28, "No space left on device")

    with pytest.raises(OutputError, match="No space left on device"):
        write_whole(tmp_path, {"a.txt": lambda stream: stream.write("new"), "b.txt": full})
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]
    assert (tmp_path / "a.txt").read_text(encoding="utf-8") == "old"


def test_a_folder_that_is_a_file_is_said(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("", encoding="utf-8")
    with pytest.raises(OutputError, match="cannot write to"):
        write_result(result(), tmp_path / "taken", {})


def test_the_version_is_that_of_the_package() -> None:
    assert summary(result())["version"] == fitcheck.__version__


def test_the_nearest_miss_has_least_in_its_way() -> None:
    one, two = reason(), dataclasses.replace(reason(), rule="other")
    kits = dataclasses.replace(table("valley", "external", 2, (-1.0, -2.0, -1.5)), reasons=((one, two), (one,), (one,)))
    assert nearest_first(kits).headroom.tolist() == [-1.5, -2.0, -1.0]

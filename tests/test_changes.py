"""What differs between two result folders: each difference with its cause, and nothing damaged believed."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck import cli
from fitcheck.changes.result_folder import ResultFolder, read_result
from fitcheck.changes.results import UNKNOWN, Changes, _longest_rise, changes
from fitcheck.errors import InputError
from fitcheck.report.changes import changes_lines

ROOT = Path(__file__).resolve().parent.parent
GOLDEN = Path(__file__).parent / "golden"
JOB = """
catalogs = ["catalog"]
profile = "rules.toml"
applications = ["hay-lorry"]
trains = ["external"]
prefer = ["least effort_peak"]
need_pass = false
[only]
pedal = ["lever-62"]
line = ["inch-braid"]
fluid = ["amber"]
slave = ["ridge-22"]
fork = ["lorry-17"]
pressure_plate = ["crane", "heron"]
disc = ["lorry-240"]
"""


def demo(folder: Path) -> Path:
    """The demo's catalog with a small job, in which a part, a rule, an assumption and a wish are easy to change."""
    shutil.copytree(ROOT / "catalogs" / "demo" / "catalog", folder / "catalog")
    shutil.copy(ROOT / "catalogs" / "demo" / "profile.toml", folder)
    (folder / "rules.toml").write_text('extends = "profile.toml"\n', encoding="utf-8")
    (folder / "small.toml").write_text(JOB, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def first(tmp_path_factory) -> Path:
    """A demo screened once."""
    folder = demo(tmp_path_factory.mktemp("first"))
    assert cli.run(["screen", str(folder / "small.toml")]) == 0
    return folder


def screened(first: Path, folder: Path, file: str, edit: Callable[[str], str]) -> Changes:
    """The differences after one file of the demo is edited."""
    path = demo(folder) / file
    old = path.read_text(encoding="utf-8")
    path.write_text(edit(old), encoding="utf-8")
    assert path.read_text(encoding="utf-8") != old
    assert cli.run(["screen", str(folder / "small.toml")]) == 0
    return changes(read_result(first / "small-result"), read_result(folder / "small-result"))


def causes_of(found: Changes, kind: str) -> set[str]:
    return {cause for kit in found.kits if kit.kind == kind for cause in kit.causes}


def test_a_result_differs_in_nothing_from_itself(first: Path) -> None:
    found = changes(read_result(first / "small-result"), read_result(first / "small-result"))
    assert (found.causes, found.kits, found.missed, found.complete) == ((), (), (), True)


def test_an_entry_that_changed_is_the_cause_of_its_own_kits_only(first: Path, tmp_path: Path) -> None:
    def shorter(text: str) -> str:
        head, name, rest = text.partition("[slave.ridge-22]")
        return head + name + rest.replace("42 mm", "18 mm", 1)

    found = screened(first, tmp_path, "catalog/slaves.toml", shorter)
    assert [str(cause) for cause in found.causes] == ["entry slave.ridge-22: changed"]
    assert causes_of(found, "figures") == causes_of(found, "flipped") == {"entry slave.ridge-22: changed"}
    assert all("ridge-22" in kit.kit for kit in found.kits)


def test_an_entry_that_went_takes_its_kits_along(first: Path, tmp_path: Path) -> None:
    found = screened(first, tmp_path, "small.toml", lambda text: text.replace('"crane", ', ""))
    gone = [kit for kit in found.kits if kit.kind == "gone"]
    assert gone
    assert all("+crane+" in kit.kit for kit in gone)
    assert {kit.kind for kit in found.kits} == {"gone"}
    told = "job only: changed: pressure_plate from [crane, heron] to [heron]"
    assert causes_of(found, "gone") == {told}


def test_what_a_job_asks_is_a_cause_only_where_it_decides_which_kits_there_are(first: Path, tmp_path: Path) -> None:
    def otherwise(text: str) -> str:
        less = text.replace('"crane", ', "").replace("need_pass = false", "need_pass = true")
        return f'row_limit = 5000\nsupplied = ["master"]\n{less}'

    found = screened(first, tmp_path, "small.toml", otherwise)
    assert {cause.name for cause in found.causes} == {"need_pass", "only", "row_limit", "supplied"}
    assert causes_of(found, "gone") == {"job only: changed: pressure_plate from [crane, heron] to [heron]"}
    assert {cause.partition(":")[0] for cause in causes_of(found, "figures")} == {"job supplied"}


def test_a_rule_that_changed_is_the_cause_of_a_flip_and_moves_no_figure(first: Path, tmp_path: Path) -> None:
    rule = '[rules.effort-hold]\nupper = "1 N"\nseverity = "reject"\n'
    found = screened(first, tmp_path, "rules.toml", lambda text: text + rule)
    assert {cause.kind for cause in found.causes} == {"rule"}
    assert causes_of(found, "flipped") == {str(found.causes[0])}
    assert str(found.causes[0]).startswith("rule effort-hold: changed: ")
    assert not causes_of(found, "figures")
    assert found.missed == ("hay-lorry",)


def test_a_bound_that_nobody_breaks_moves_the_headroom_alone(first: Path, tmp_path: Path) -> None:
    found = screened(first, tmp_path, "rules.toml", lambda text: text + '[rules.effort-hold]\nscale = "1000 N"\n')
    assert {kit.kind for kit in found.kits} <= {"headroom", "reordered"}
    assert causes_of(found, "headroom") == {str(found.causes[0])}
    assert any("limited by effort-hold" in kit.what for kit in found.kits)


def test_an_assumption_that_changed_is_the_cause_of_figures(first: Path, tmp_path: Path) -> None:
    found = screened(first, tmp_path, "rules.toml", lambda text: text + '[assumptions]\nwarming = "61 K"\n')
    assert causes_of(found, "figures") == {"assumption warming: changed: from 60 K to 61 K"}


def test_another_wish_is_the_cause_of_another_order(first: Path, tmp_path: Path) -> None:
    found = screened(first, tmp_path, "small.toml", lambda text: text.replace("least effort_peak", "most effort_peak"))
    assert causes_of(found, "reordered") == {"ranking prefer: changed: from [least effort_peak] to [most effort_peak]"}
    assert {kit.kind for kit in found.kits} == {"reordered"}


def edited(first: Path, folder: Path, edit: Callable[[dict], object]) -> Path:
    shutil.copytree(first / "small-result", folder / "made")
    path = folder / "made" / "summary.json"
    value = json.loads(path.read_text(encoding="utf-8"))
    edit(value)
    path.write_text(json.dumps(value), encoding="utf-8")
    return folder / "made"


def test_another_version_is_a_cause(first: Path, tmp_path: Path) -> None:
    other = edited(first, tmp_path, lambda value: value.update(version="0.0.9"))
    found = changes(read_result(other), read_result(first / "small-result"))
    assert [cause.kind for cause in found.causes] == ["version"]


def decided(result: ResultFolder, **tables: dict) -> ResultFolder:
    """The same result, made from something else: tables of what decided, with what differs in each of their items."""
    now = dict(result.decided_by)
    for table, items in tables.items():
        now[table] = {**now[table], **{name: {**now[table].get(name, {}), **item} for name, item in items.items()}}
    return replace(result, decided_by=now)


def flipped(result: ResultFolder, rule: str = "effort-hold") -> ResultFolder:
    """The first kit is rejected by a rule, and last of all."""
    kit, row = next(iter(result.kits.items()))
    worse = replace(row, verdict="reject", limiting_rule=rule, reasons=f"{rule}: too much", rank=10_000)
    return replace(result, kits={**result.kits, kit: worse})


ENTRY = {"entries": {"slave": {"ridge-22": "0" * 64}}}


@pytest.mark.parametrize("words", [{"remedy": "Other words"}, {"source": "from memory"}, {"reason": "x"}, {"waivable": False}])
def test_words_that_ask_nothing_are_told_and_are_no_cause(first: Path, words: dict) -> None:
    old = read_result(first / "small-result")
    found = changes(old, decided(flipped(old), rules={"effort-hold": words}, fits={"spline": words}, **ENTRY))
    assert {cause.kind for cause in found.causes} == {"entry", "fit", "rule"}
    assert {cause for kit in found.kits for cause in kit.causes} == {"entry slave.ridge-22: changed"}


def test_fits_and_rules_of_the_other_train_are_no_cause(first: Path) -> None:
    old = read_result(first / "small-result")
    less = replace(old, kits=dict(list(old.kits.items())[1:]))
    other = decided(less, fits={"concentric-face": {"allowed": []}, "bearing-face": {"allowed": []}})
    (gone,) = changes(old, other).kits
    assert [cause.partition(":")[0] for cause in gone.causes] == ["fit bearing-face"]
    moved = {"metric": "release_margin", "train": "concentric", "applications": None}
    (kit, row), *_ = old.kits.items()
    figures = replace(old, kits={**old.kits, kit: replace(row, figures={**row.figures, "effort_peak_N": 1.0})})
    for name, rule in {"far": moved, "near": {**moved, "train": None}, "else": {**moved, "applications": ["bus"]}}.items():
        (one,) = changes(old, decided(figures, rules={name: rule})).kits
        assert one.causes == (("rule near: new",) if name == "near" else (UNKNOWN,))


def test_another_place_has_the_causes_of_the_kits_around_it(first: Path) -> None:
    old = read_result(first / "small-result")
    kits = {kit: row for kit, row in old.kits.items() if "crane" in kit or "heron" in kit}
    assert {row.parts["pressure_plate"] for row in kits.values()} == {"crane", "heron"}
    ranks = {kit: row.rank + 10_000 * ("heron" in kit) for kit, row in kits.items()}
    new = replace(old, kits={kit: replace(row, rank=ranks[kit]) for kit, row in kits.items()})
    warmer = {**old.decided_by["assumptions"], "warming": 61.0}
    new = replace(new, decided_by={**decided(new, entries={"pressure_plate": {"heron": "0"}}).decided_by, "assumptions": warmer})
    moved = changes(old, new).kits
    assert moved
    assert {kit.kind for kit in moved} == {"reordered"}
    told = {"assumption warming: changed: from 60 K to 61 K", "entry pressure_plate.heron: changed"}
    assert all(set(kit.causes) == told for kit in moved)


def test_bounds_are_told_in_the_unit_of_what_they_bound(first: Path) -> None:
    old = read_result(first / "small-result")
    found = changes(old, decided(old, rules={"enough-release": {"lower": 0.001}}, fits={"bearing-on-retainer": {"upper": 0.002}}))
    assert [str(cause) for cause in found.causes] == [
        "fit bearing-on-retainer: changed: upper from 1 mm to 2 mm",
        "rule enough-release: changed: lower from 0.5 mm to 1 mm",
    ]


def test_a_difference_below_the_tolerance_is_none(first: Path, tmp_path: Path) -> None:
    found = screened(first, tmp_path, "rules.toml", lambda text: text + '[assumptions]\nwarming = "61 K"\n')
    new = read_result(tmp_path / "small-result")
    assert any(kit.kind == "figures" for kit in found.kits)
    loose = changes(read_result(first / "small-result"), new, tolerance=0.02)
    assert not any(kit.kind == "figures" for kit in loose.kits)  # 61 K is 1.7 % above 60 K, and what warms rises in proportion


# Damage.


def spoil(name: str, change: Callable[[bytes], bytes]) -> Callable[[Path], object]:
    return lambda folder: (folder / name).write_bytes(change((folder / name).read_bytes()))


def without_key(key: str) -> Callable[[bytes], bytes]:
    def change(data: bytes) -> bytes:
        value = json.loads(data)
        del value[key]
        return json.dumps(value).encode()

    return change


@pytest.mark.parametrize(
    ("damage", "problem"),
    [
        (lambda folder: shutil.rmtree(folder), "unreadable"),
        (lambda folder: (folder / "kits.csv").unlink(), "unreadable"),
        (lambda folder: (folder / "summary.json").unlink(), "unreadable"),
        (spoil("kits.csv", lambda data: data[: len(data) // 2]), "damaged"),
        (spoil("kits.csv", lambda data: data.rpartition(b"\n")[0].rpartition(b"\n")[0] + b"\n"), "damaged"),
        (spoil("kits.csv", lambda data: data.replace(b"pass", b"fail", 1)), "damaged"),
        (spoil("kits.csv", lambda data: b""), "damaged"),
        (spoil("kits.csv", lambda data: b"\xff\xfe\x00"), "damaged"),
        (spoil("summary.json", lambda data: data[:100]), "damaged"),
        (spoil("summary.json", lambda data: b"\xff"), "damaged"),
        (spoil("summary.json", lambda data: b"[]"), "damaged"),
        (spoil("summary.json", lambda data: b"[" * 100_000), "damaged"),
        (spoil("summary.json", lambda data: data.replace(b"true", b"NaN", 1)), "damaged"),
        (spoil("summary.json", lambda data: data.replace(b'"format": 2', b'"format": 1')), "wrong-format"),
        *((spoil("summary.json", without_key(key)), "damaged") for key in ("decided_by", "kits_csv", "applications", "version")),
        (spoil("summary.json", lambda data: data.replace(b'"rules": {', b'"rules": 3, "x": {')), "damaged"),
        (spoil("summary.json", lambda data: data.replace(b'"metric": "', b'"metric": [], "x": "', 1)), "damaged"),
        (spoil("summary.json", lambda data: data.replace(b'"hay-lorry": "rods-hay-lorry"', b'"hay-lorry": []', 1)), "damaged"),
        (spoil("summary.json", lambda data: data.replace(b'"fields": [', b'"fields": [], "x": [', 1)), "damaged"),
        (spoil("summary.json", lambda data: data.replace(b'"train": null', b'"train": "lunar"', 1)), "damaged"),
        (spoil("summary.json", lambda data: data.replace(b'"fields": [', b'"fields": [3, ', 1)), "damaged"),
        (spoil("summary.json", lambda data: data.replace(b'"complete": true', b'"complete": 1')), "damaged"),
    ],
)
def test_a_damaged_folder_is_said_and_not_compared(first: Path, tmp_path: Path, damage, problem: str, capsys) -> None:
    shutil.copytree(first / "small-result", tmp_path / "spoilt")
    damage(tmp_path / "spoilt")
    with pytest.raises(InputError) as caught:
        read_result(tmp_path / "spoilt")
    assert [finding.problem for finding in caught.value.findings] == [problem]
    assert cli.run(["changes", str(first / "small-result"), str(tmp_path / "spoilt")]) == 3
    assert capsys.readouterr().out == ""


# Order, text, codes.


@given(st.permutations(range(7)))
def test_the_kits_that_stay_are_as_many_as_can(numbers: list[int]) -> None:
    rise = _longest_rise(numbers)
    assert rise == sorted(rise)
    places = [numbers.index(number) for number in rise]
    assert places == sorted(places)
    longest = [1] * len(numbers)  # the plain way, by all earlier ends
    for at, number in enumerate(numbers):
        longest[at] = 1 + max((longest[before] for before in range(at) if numbers[before] < number), default=0)
    assert len(rise) == max(longest)


def test_the_lines_are_those_that_were_agreed(first: Path, tmp_path: Path) -> None:
    rule = '[rules.effort-hold]\nupper = "1 N"\nseverity = "reject"\n'
    found = screened(first, tmp_path, "rules.toml", lambda text: text + rule)
    text = "\n".join(changes_lines(found, 1)) + "\n"
    assert text == (GOLDEN / "changes.txt").read_bytes().decode("utf-8")


def test_the_code_tells_what_was_found(first: Path, tmp_path: Path, capsys) -> None:
    old = str(first / "small-result")
    assert cli.run(["changes", old, old]) == 0
    assert cli.run(["changes", old]) == 2
    assert cli.run(["changes", old, old, "--tolerance", "-1"]) == 2
    assert cli.run(["changes", old, old, "--tolerance", "nan"]) == 2
    incomplete = edited(first, tmp_path, lambda value: value.update(complete=False))
    assert cli.run(["changes", old, str(incomplete)]) == 3
    assert "Incomplete" in capsys.readouterr().out


def test_a_lost_last_passing_kit_fails_where_the_job_needs_one(first: Path, tmp_path: Path) -> None:
    def lost(value: dict) -> None:
        value["decided_by"]["asked"]["need_pass"] = True
        value["applications"]["hay-lorry"]["external"]["pass"] = 0

    assert cli.run(["changes", str(first / "small-result"), str(edited(first, tmp_path, lost))]) == 1


def test_what_no_record_explains_is_called_that(first: Path) -> None:
    new = read_result(first / "small-result")
    kit, row = next(iter(new.kits.items()))
    other = replace(new, kits={**new.kits, kit: replace(row, verdict="reject")})
    found = changes(other, new)
    assert [one.causes for one in found.kits] == [(UNKNOWN,)]

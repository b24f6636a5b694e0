"""Kits side by side: just what differs, from either side, and never a score; and the exit codes of the command."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from compared import (
    CASES,
    CONCENTRIC,
    DEMO_KITS,
    EXTERNAL,
    HEAVIER,
    ILLEGAL,
    ROOT,
    WINCH,
    comparisons,
    demo,
    golden,
    random_inputs,
    read_the_same,
    table_of,
)

from fitcheck.catalog.parts import FAMILIES
from fitcheck.compare.differences import Better, Cell, all_same, best_of, better
from fitcheck.compare.kits import GROUPS, Comparison, compare_kits
from fitcheck.engine.states import ABSENT, NOT_GIVEN, VALUE
from fitcheck.engine.table import METRICS
from fitcheck.errors import UsageError
from fitcheck.job import Preference
from fitcheck.report.compare import kits_lines


@pytest.mark.parametrize("case", range(CASES + 4))
def test_a_kit_beside_itself_shows_nothing(case: int) -> None:
    inputs, kits = comparisons()[case]
    for kit in kits:
        for times in (2, 3):
            found = compare_kits(inputs, [kit] * times)
            assert found.one_kit
            assert (found.parts, found.standing, found.headroom, found.reasons, found.remarks, found.order) == ((),) * 6
            assert not any(found.words.values())
            assert not any(found.figures.values())
            assert "One and the same kit: nothing differs." in list(kits_lines(found))


def mirrored(found: Comparison) -> Comparison:
    """The same with its two columns exchanged."""

    def turned(better: Better) -> Better:
        return replace(better, places=tuple(sorted(1 - place for place in better.places)))

    return replace(
        found,
        kits=found.kits[::-1],
        parts=tuple(replace(row, texts=row.texts[::-1]) for row in found.parts),
        standing=tuple(replace(row, texts=row.texts[::-1]) for row in found.standing),
        headroom=found.headroom[::-1],
        headroom_better=turned(found.headroom_better),
        words={group: tuple(replace(row, texts=row.texts[::-1]) for row in rows) for group, rows in found.words.items()},
        figures={
            group: tuple(replace(row, cells=row.cells[::-1], better=turned(row.better)) for row in rows)
            for group, rows in found.figures.items()
        },
        reasons=tuple(replace(row, reasons=row.reasons[::-1]) for row in found.reasons),
        remarks=tuple(replace(row, texts=row.texts[::-1]) for row in found.remarks),
        order=tuple(replace(pair, first=1 - pair.first, second=1 - pair.second) for pair in found.order),
    )


@pytest.mark.parametrize("case", range(CASES + 4))
def test_swapping_the_kits_swaps_the_columns(case: int) -> None:
    inputs, kits = comparisons()[case]
    one, other = compare_kits(inputs, kits[:2]), compare_kits(inputs, kits[1::-1])
    assert repr(other) == repr(mirrored(one))  # by what they say: not-a-number equals nothing


@pytest.mark.parametrize("case", range(CASES + 4))
def test_every_metric_that_differs_is_shown_and_no_other(case: int) -> None:
    inputs, kits = comparisons()[case]
    found = compare_kits(inputs, kits)
    tables = [table_of(inputs, kit) for kit in kits if kit != ILLEGAL]
    differing = {
        name
        for name in METRICS
        if not all(read_the_same(name, tables[0], table) for table in tables)
        or any(not read_the_same(name, one, other) for one in tables for other in tables)
    }
    rows = [row for group in found.figures.values() for row in group]
    assert {row.metric for row in rows} == differing
    assert len(rows) == len(differing)
    for row in rows:
        cells = [one for one in row.cells if one is not None]
        for one, table in zip(cells, tables, strict=True):
            assert (one.state, one.value) == pytest.approx(
                (table.states[row.metric][0], table.metrics[row.metric][0]), nan_ok=True
            )
        assert [one is None for one in row.cells] == [kit == ILLEGAL for kit in kits]
        assert f"  {row.metric} " in "\n".join(kits_lines(found))


@pytest.mark.parametrize("case", range(CASES + 4))
def test_what_else_differs_is_shown_and_no_other(case: int) -> None:
    inputs, kits = comparisons()[case]
    found = compare_kits(inputs, kits)
    tables = [table_of(inputs, kit) for kit in kits if kit != ILLEGAL]
    rules = [{reason.rule for reason in table.reasons[0]} for table in tables]
    assert {row.any.rule for row in found.reasons} >= set().union(*rules) - set.intersection(*rules)
    assert all(None in row.reasons for row in found.reasons)
    remarks = [set(table.remarks[0]) for table in tables]
    assert {row.name for row in found.remarks} == set().union(*remarks) - set.intersection(*remarks)
    ids = [kit.split("+") for kit in kits]
    named = {name for row in found.parts for name in row.texts if name}
    if len({len(some) for some in ids}) == 1:
        assert named == {name for place in zip(*ids, strict=True) if len(set(place)) > 1 for name in place}
    verdicts = {int(table.verdict[0]) for table in tables}
    assert ("verdict" in [row.name for row in found.standing]) == (len(verdicts) > 1 or ILLEGAL in kits)
    assert [row.name for row in found.words["service"]] == ["leak"] * (len({table.train[0] for table in tables}) > 1)


@pytest.mark.parametrize("seed", range(CASES))
def test_kits_stand_in_the_order_of_the_full_screening(seed: int) -> None:
    inputs, kits = random_inputs(seed)
    ranks = {kit: rank for rank, kit in enumerate(inputs.screen().kits.kit)}
    found = compare_kits(inputs, kits)
    order = [found.order[0].first, *(pair.second for pair in found.order)]
    assert [kits[place] for place in order] == sorted(kits, key=ranks.__getitem__)
    for pair in found.order:
        assert pair.by in ("verdict", "headroom", "name", *map(str, inputs.job.prefer))


def test_every_metric_and_family_has_its_place() -> None:
    assert sorted(name for names in GROUPS.values() for name in names) == sorted(METRICS)
    found = compare_kits(demo(), [EXTERNAL, WINCH])
    assert [row.name for row in found.parts] == [family for family in FAMILIES if family not in ("linkage",)]
    none = next(row for row in found.parts if row.name == "concentric")
    assert none.texts == ("", "ring-48-a")


def test_a_kit_that_is_not_legal_is_told_with_what_does_not_meet() -> None:
    found = compare_kits(demo(), [EXTERNAL, ILLEGAL])
    assert found.legal == 1
    assert found.kits[1].unmet is not None
    assert found.kits[1].unmet.fits == ("spline",)
    assert not any(found.figures.values())
    text = "\n".join(kits_lines(found))
    assert "has the spline" in text
    assert "not legal" in text


def test_kits_of_two_applications_are_held_side_by_side_without_an_order() -> None:
    found = compare_kits(demo(), [CONCENTRIC, WINCH])
    assert found.applications == ("hay-lorry", "winch-truck")
    assert found.order == ()
    assert any("different applications" in line for line in kits_lines(found))


def test_the_same_kit_twice_among_others_is_said() -> None:
    found = compare_kits(demo(), [EXTERNAL, CONCENTRIC, EXTERNAL])
    assert found.doubles == ((0, 2),)
    assert len(found.order) == 1
    assert "A and C are the same kit." in list(kits_lines(found))


@pytest.mark.parametrize("kits", [[EXTERNAL], [EXTERNAL] * 5, []])
def test_two_to_four_kits_are_compared(kits: list[str]) -> None:
    with pytest.raises(UsageError, match="Two to four kits"):
        compare_kits(demo(), kits)


# --- differences and what is better


def value(number: float) -> Cell:
    return Cell(VALUE, number)


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        (value(0.01234), value(0.01234 + 4e-7), True),  # 12.34 mm both
        (value(0.01234), value(0.01235), False),
        (value(0.012345), value(0.012345 * (1 + 1e-10)), True),  # on the edge of rounding, and nearer than 1e-9
        (value(0.0), value(-1e-9), True),  # nothing, and minus nothing
        (value(math.inf), value(math.inf), True),
        (value(math.inf), value(-math.inf), False),
        (value(math.inf), value(1.0), False),
        (Cell(ABSENT, math.nan), Cell(ABSENT, math.nan), True),
        (Cell(ABSENT, math.nan), Cell(NOT_GIVEN, math.nan), False),
        (Cell(NOT_GIVEN, math.nan), value(0.01), False),
    ],
)
def test_figures_differ_where_a_reader_sees_a_difference(one: Cell, other: Cell, alike: bool) -> None:
    assert all_same("setup_window", [one, other]) == all_same("setup_window", [other, one]) == alike


@pytest.mark.parametrize(
    ("direction", "numbers", "best"),
    [
        ("least", (3.0, 1.0, 2.0), (1,)),
        ("most", (3.0, 1.0, 2.0), (0,)),
        ("nearest 0", (0.3, -0.1, 0.2), (1,)),
        ("nearest 0", (0.1, -0.1), ()),
        ("least", (1.0, 1.000001, 2.0), (0, 1)),  # as they are read
        ("least", (1.0, 1.0), ()),
        ("most", (math.inf, 1.0), (0,)),
    ],
)
def test_the_best_figures_are_those_that_read_best(direction: str, numbers: tuple[float, ...], best: tuple[int, ...]) -> None:
    assert best_of("setup_window", [value(number) for number in numbers], direction) == best


def test_a_figure_that_is_not_there_is_never_better() -> None:
    assert best_of("setup_window", [value(1.0), Cell(NOT_GIVEN, math.nan)], "least") == ()
    assert best_of("setup_window", [Cell(NOT_GIVEN, math.nan)] * 2, "least") == ()


def judged_better(metric: str, *numbers: float, prefer: tuple[Preference, ...] = ()) -> Better:
    tables = [table_of(demo(), EXTERNAL)] * len(numbers)
    job = replace(demo().job, prefer=prefer)
    return better(metric, [value(number) for number in numbers], tables, job, demo().profile)


def test_better_is_what_the_job_prefers_or_a_rule_asks_for() -> None:
    """The shipped rule on torque_factor asks for at least 1.2 in steps of 0.3: from 1.5 on there is enough."""
    most = Preference("most", "torque_factor")
    least = Preference("least", "torque_factor")
    assert judged_better("torque_factor", 1.3, 1.4) == Better((1,), rule="torque-factor")
    assert judged_better("torque_factor", 1.6, 1.8) == Better()
    assert judged_better("torque_factor", 1.3, 1.6, 1.8) == Better((1, 2), rule="torque-factor")
    assert judged_better("torque_factor", 1.6, 1.8, prefer=(most,)) == Better((1,), preference="most torque_factor")
    assert judged_better("torque_factor", 1.3, 1.8, prefer=(least,)) == Better((0,), preference="least torque_factor")
    assert judged_better("bite_height", 0.10, 0.45) == Better((1,), rule="bite-height")
    assert judged_better("bite_height", 0.30, 0.45) == Better()
    assert judged_better("total_ratio", 10.0, 12.0) == Better()  # nobody says which way is better
    assert judged_better("resting_load", 300.0, 100.0) == Better((1,), rule="resting-load-most")


# --- lines and codes


def test_the_lines_of_kits_are_those_that_were_agreed() -> None:
    golden("compare-kits.txt", list(kits_lines(compare_kits(demo(), [EXTERNAL, HEAVIER, CONCENTRIC, ILLEGAL]))))


def test_the_table_stays_within_120_columns() -> None:
    lines = list(kits_lines(compare_kits(demo(), DEMO_KITS[:4])))
    table = lines[lines.index("") : len(lines) - lines[::-1].index("")]
    assert max(map(len, table)) <= 120


JOB = """
catalogs = ["catalog"]
profile = "profile.toml"
applications = ["hay-lorry", "winch-truck", "cable-shunter"]
prefer = ["least effort_peak"]
need_pass = true
"""


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        ([EXTERNAL, CONCENTRIC], 0, "A  hay-lorry"),
        ([EXTERNAL, EXTERNAL], 0, "nothing differs"),
        ([HEAVIER, WINCH], 0, "different applications"),  # kits need not pass
        ([EXTERNAL, ILLEGAL], 1, "not legal"),
        (["hay-lorry"], 0, "comes first"),
        (["winch-truck"], 1, "Neither comes first"),  # the job needs a passing kit
        (["cable-shunter"], 3, "no kit is legal"),  # nothing was judged
        ([EXTERNAL], 2, "one kit is named"),
        ([EXTERNAL] * 5, 2, "5 are named"),
        ([EXTERNAL, "hay-lorry"], 2, "stands by itself"),
        ([EXTERNAL, EXTERNAL.replace("ovrel-19", "ovrel-91")], 2, "Did you mean"),
        (["winch-trucks"], 2, "Did you mean winch-truck?"),
        (["post-van"], 2, "leaves the application post-van out"),
        ([], 2, "KIT KIT"),
    ],
)
def test_the_real_program_ends_with(tmp_path: Path, arguments: list[str], code: int, said: str) -> None:
    job = tmp_path / "job.toml"
    demo_folder = (ROOT / "catalogs" / "demo").as_posix()
    job.write_text(
        JOB.replace('"catalog"', f'"{demo_folder}/catalog"').replace("profile.toml", f"{demo_folder}/profile.toml"), "utf-8"
    )
    command = [sys.executable, "-m", "fitcheck", "compare", str(job), *arguments]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}
    done = subprocess.run(command, env=environment, capture_output=True, encoding="utf-8", timeout=300, check=False)
    assert done.returncode == code, done.stdout + done.stderr
    assert said in (done.stderr if code == 2 else done.stdout)
    assert (code == 2) or done.stdout.endswith("not an approval.\n")
    assert "Traceback" not in done.stderr

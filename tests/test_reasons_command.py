"""What the command says and ends with, told by the real program in a process of its own."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from fitcheck.catalog.parts import TRAINS
from fitcheck.report.words import AID

ROOT = Path(__file__).resolve().parent.parent
REJECTED = "winch-truck+lever-62+steep-19+metric-copper+violet+base-22+heavy-17+roller-48+eagle+heavy-280-woven"
PASSING = "hay-lorry+lever-62+vell-21+metric-copper+straw+ring-42-a+crane+lorry-240"
NOT_LEGAL = "hay-lorry+lever-62+vell-21+metric-copper+moss+ring-42-a+crane+lorry-240"


def typed(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}
    command = [sys.executable, "-m", "fitcheck", "reasons", *words]
    ended = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)
    assert "Traceback" not in ended.stderr
    return ended


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("reasons") / "demo"
    shutil.copytree(ROOT / "catalogs" / "demo", folder)
    return folder


@pytest.mark.parametrize(
    ("kit", "metric", "code"),
    [
        (PASSING, (), 0),
        (PASSING, ("release_margin",), 0),
        (PASSING, ("way",), 0),
        (REJECTED, (), 1),
        (REJECTED, ("torque_factor",), 1),
        (NOT_LEGAL, (), 1),
        (PASSING, ("release_margn",), 2),
        ("winch-truck", (), 0),  # none passes, but the job does not ask for a passing kit
        ("winch-truck", ("torque_factor",), 2),
        ("winch-trick", (), 2),
        (PASSING + "-x", (), 2),
    ],
)
def test_it_ends_with(demo: Path, kit: str, metric: tuple[str, ...], code: int) -> None:
    ended = typed(demo, "job.toml", kit, *metric)
    assert ended.returncode == code, ended.stdout + ended.stderr
    assert (ended.stdout == "") == (code == 2)
    assert code == 2 or ended.stdout.endswith(f"\n{AID}\n")
    assert code != 2 or re.search("[Dd]id you mean|name a kit", ended.stderr)


def test_a_catalog_of_which_something_is_left_out_is_incomplete(demo: Path) -> None:
    broken = demo.parent / "broken"
    shutil.copytree(demo, broken)
    (broken / "catalog" / "more.toml").write_text('[master.half]\nname = "Half"\n', "utf-8")
    ended = typed(broken, "job.toml", PASSING, "total_ratio")
    assert ended.returncode == 3
    assert "master.half" in ended.stderr
    assert "total_ratio" in ended.stdout
    assert "Incomplete: " in ended.stdout
    assert typed(broken, "nowhere.toml", PASSING).returncode == 3


@pytest.mark.parametrize(("family", "asked"), [("master", PASSING), ("application", PASSING.partition("+")[0])])
def test_a_part_left_out_for_its_errors_is_no_wrong_name(family: str, asked: str, demo: Path, tmp_path: Path) -> None:
    ids = dict(zip(TRAINS["concentric"], PASSING.split("+"), strict=True))
    shutil.copytree(demo, tmp_path / "demo")
    head = f"[{family}.{ids[family]}]\n"
    for path in (tmp_path / "demo" / "catalog").glob(f"{family}s.toml"):
        path.write_text(path.read_text("utf-8").replace(head, f'{head}nonsense = "1"\n'), "utf-8")
    ended = typed(tmp_path / "demo", "job.toml", asked)
    assert (ended.returncode, ended.stdout) == (3, "")
    assert f"found {family} {ids[family]} left out for its errors" in ended.stderr
    assert "There is no" not in ended.stderr


def test_the_whole_answer_holds_all_its_parts_in_order(demo: Path) -> None:
    text = typed(demo, "job.toml", REJECTED).stdout
    heads = (
        "  reject, headroom -0.38, limited by torque-factor",
        "Rules that are broken, or lack their figure:",
        "  broken torque-factor (rejects): torque_factor 1.09, at least 1.2, headroom -0.38, may be waived",
        "  not given torque-factor-worn (only said): torque_factor_worn not given (pressure_plate.worn_clamp_load), at least",
        "The verdict rests on torque_factor, ",
        "  invented entries: application winch-truck (catalog/applications.toml:236)",
        "How the figures in question come about:",
        "  torque_factor 1.09 = torque_capacity / application_engine_torque",
        "What moves release_margin (0.82 mm) most:",
        "What moves setup_window (12.36 mm) most:",
        "Rules that are kept, the nearest to its bound first:",
        "  kept enough-release (rejects): release_margin 0.82 mm, at least 0.5 mm, headroom 0.31",
        AID,
    )
    places = [text.find(f"\n{head}") for head in heads]
    assert -1 not in places
    assert places == sorted(places)


def test_the_answer_that_the_readme_shows_is_the_answer(tmp_path: Path) -> None:
    words, answer = re.findall(
        r"^\$ fitcheck reasons (.+)\n((?:.*\n)*?)```", (ROOT / "README.md").read_text("utf-8"), re.MULTILINE
    )[0]
    shutil.copytree(ROOT / "catalogs" / "demo", tmp_path / "fitcheck-demo")
    assert typed(tmp_path, *words.split()).stdout == answer


def test_a_kit_that_is_not_legal_is_told_what_does_not_meet(demo: Path) -> None:
    text = typed(demo, "job.toml", NOT_LEGAL).stdout
    assert "  not legal: " in text
    assert "  seal-master: " in text
    assert "Remedy: " in text
    assert "could the parts be put together" in text
    assert "What moves" not in text


def test_the_same_question_gets_the_same_bytes(demo: Path) -> None:
    assert len({typed(demo, "job.toml", PASSING).stdout for _ in range(2)}) == 1


def test_a_page_of_a_hundred_and_twenty_columns_holds_all_but_a_few_lines(demo: Path) -> None:
    lines = typed(demo, "job.toml", REJECTED).stdout.splitlines()
    assert sum(len(line) > 120 for line in lines) < len(lines) / 20


def test_nothing_is_loaded_that_only_results_need() -> None:
    code = (
        "import sys; from fitcheck.cli import run; "
        f"run(['reasons', 'catalogs/demo/job.toml', '{PASSING}']); "
        "print(*(name for name in ('pandas', 'jinja2') if name in sys.modules), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stderr.split() == []

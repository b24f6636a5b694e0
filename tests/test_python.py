"""The names that a notebook needs answer what the commands answer."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

import fitcheck
from fitcheck import cli
from fitcheck.engine.states import PASS, REJECT
from fitcheck.errors import UsageError
from tests.chosen_kits import DEMO

JOB = DEMO / "job.toml"
README = (Path(__file__).resolve().parent.parent / "README.md").read_text(encoding="utf-8")
PASSING = "hay-lorry+lever-62+vell-21+metric-copper+straw+ring-42-a+crane+lorry-240"
REJECTED = "winch-truck+lever-62+steep-19+metric-copper+violet+base-22+heavy-17+roller-48+eagle+heavy-280-woven"


def test_every_name_is_there_and_says_what_it_does() -> None:
    for name in fitcheck.__all__:
        assert getattr(fitcheck, name)
        assert name.startswith("_") or (getattr(fitcheck, name).__doc__ and re.search(rf"fitcheck\.{name}\b|`{name}`", README))


def test_a_kit_is_explained() -> None:
    assert not fitcheck.explain_kit(JOB, PASSING).rejected
    found = fitcheck.explain_kit(str(JOB), REJECTED)
    assert found.rejected
    assert (found.rules[0].name, found.rules[0].kind) == ("torque-factor", "broken")


def test_what_mends_a_kit_is_found() -> None:
    assert fitcheck.mend_kit(JOB, PASSING).verdict == PASS
    found = fitcheck.mend_kit(JOB, REJECTED)
    assert found.verdict == REJECT
    assert "disc friction" in [change.number.name for change in found.changes.found]
    assert found.by_rule[0].reason.rule == "torque-factor"
    assert found.pairs is not None
    assert (found.pairs.total, found.mixed) == (0, None)


def test_an_application_without_a_legal_kit_is_explained() -> None:
    found = fitcheck.explain_no_kit(JOB, "cable-shunter")
    assert not found.passes
    assert all(found.missing.values())


def test_kits_and_trains_are_compared() -> None:
    assert [kit.kit for kit in fitcheck.compare_kits(JOB, PASSING, REJECTED).kits] == [PASSING, REJECTED]
    assert fitcheck.compare_trains(JOB, "cable-shunter").first == ""


def test_a_name_that_is_not_there_gets_the_nearest() -> None:
    with pytest.raises(UsageError, match="hay-lorry"):
        fitcheck.explain_kit(JOB, PASSING.replace("hay-lorry", "hay-lory"))
    with pytest.raises(UsageError, match="Did you mean winch-truck"):
        fitcheck.explain_no_kit(JOB, "winch-truk")


def test_what_could_not_be_read_is_said(tmp_path: Path) -> None:
    shutil.copytree(DEMO, tmp_path / "demo")
    (tmp_path / "demo" / "catalog" / "more.toml").write_text('[master.half]\nname = "Half"\n', encoding="utf-8")
    with pytest.warns(UserWarning, match="is not in this answer:\n.*more.toml"):
        assert not fitcheck.explain_kit(tmp_path / "demo" / "job.toml", PASSING).rejected


def test_a_comparison_says_what_could_not_be_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copytree(DEMO, tmp_path / "demo")
    (tmp_path / "demo" / "catalog" / "more.toml").write_text('[master.half]\nname = "Half"\n', encoding="utf-8")
    assert cli.run(["compare", str(tmp_path / "demo" / "job.toml"), PASSING, PASSING.replace("straw", "amber")]) == 3
    assert capsys.readouterr().out.startswith("Incomplete: ")

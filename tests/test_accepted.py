"""Accepted findings: only new ones fail, stale ones are told, a swap of one fault for another is seen."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
import tomli

from fitcheck import cli
from fitcheck.errors import InputError
from fitcheck.gates.accepted import accept, load_accepted, with_accepted
from fitcheck.gates.check import check_paths
from fitcheck.inputs import DIMENSIONS

HERE = Path(__file__).resolve().parent
GOOD = (HERE / "accepted" / "windows.toml").read_text("utf-8").replace("\r", "").removeprefix("\ufeff")
BAD = '[master.old]\nname = "Old"\nbore = "19,05 mm"\n[linkage.rods]\nname = "Rods"\nratio = 0\n'


@pytest.fixture
def old(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Path:
    """A folder with an old catalog whose faults have all been accepted."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "catalog").mkdir()
    (tmp_path / "catalog" / "old.toml").write_text(BAD, encoding="utf-8")
    assert cli.run(["check", "catalog"]) == 1
    assert cli.run(["check", "catalog", "--accepted", "known.toml", "--accept", "older than the check"]) == 0
    heard = capsys.readouterr()
    assert "findings accepted." in heard.out
    assert "Written: known.toml" in heard.err
    return tmp_path


def checked(*more: str) -> int:
    return cli.run(["check", "catalog", "--accepted", "known.toml", *more])


def test_the_file_is_what_its_schema_says_and_always_the_same(old: Path) -> None:
    written = (old / "known.toml").read_text("utf-8")
    values = tomli.loads(written)
    jsonschema.validate(
        values,
        json.loads((HERE.parent / "schemas" / "accepted.schema.json").read_text("utf-8")) | {"$defs": {}},
        registry=_shipped(),
    )
    assert {row["reason"] for row in values["accepted"]} == {"older than the check"}
    assert checked("--accept", "another reason") == 0
    assert (old / "known.toml").read_text("utf-8") == written


def _shipped():
    from referencing import Registry, Resource

    texts = {path.name: json.loads(path.read_text("utf-8")) for path in (HERE.parent / "schemas").glob("*.json")}
    return Registry().with_resources((name, Resource.from_contents(text)) for name, text in texts.items())


def test_only_new_findings_fail(old: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (old / "catalog" / "old.toml").write_text("\n# moved\n" + BAD, encoding="utf-8")
    assert checked() == 0
    assert "error:" not in capsys.readouterr().out
    (old / "catalog" / "new.toml").write_text('[fork.new]\nname = "New"\n', encoding="utf-8")
    assert checked() == 1
    out = capsys.readouterr().out
    assert "fork.new.arm" in out
    assert "master.old" not in out


def test_a_swap_of_one_fault_for_another_is_seen(old: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (old / "catalog" / "old.toml").write_text(BAD.replace("19,05", "19,50"), encoding="utf-8")
    assert checked() == 1
    lines = [line for line in capsys.readouterr().out.splitlines() if "found" in line]
    assert [line.split(": ")[1] for line in lines] == ["error", "caution"]
    assert "19,50 mm" in lines[0]
    assert '(error: master.old.bore: found "19,05 mm")' in lines[1]
    assert lines[1].startswith("known.toml:")


def test_a_mended_fault_is_stale_and_goes_with_the_next_writing(old: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (old / "catalog" / "old.toml").write_text(BAD.replace("19,05", "19.05"), encoding="utf-8")
    assert checked() == 0
    assert "which is not there any more" in capsys.readouterr().out
    assert checked("--accept", "again") == 0
    assert checked() == 0
    assert "any more" not in capsys.readouterr().out.split("Written")[-1].splitlines()[-1]
    assert not [row for row in tomli.loads((old / "known.toml").read_text("utf-8"))["accepted"] if row["reason"] == "again"]


def test_every_format_tells_what_is_accepted(old: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert checked("--format", "json") == 0
    read = json.loads(capsys.readouterr().out)
    assert {one["accepted"] for one in read["findings"]} == {"older than the check"}
    assert checked("--format", "sarif") == 0
    (run,) = json.loads(capsys.readouterr().out)["runs"]
    assert all(one["suppressions"][0]["justification"] == "older than the check" for one in run["results"])
    assert checked("--format", "junit") == 0
    out = capsys.readouterr().out
    assert 'failures="0"' in out
    assert "accepted: older than the check" in out


def test_what_cannot_be_read_is_never_accepted(old: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["check", "catalog", "nowhere.toml", "--accepted", "known.toml"]) == 3
    assert cli.run(["check", "nowhere.toml", "--accepted", "known.toml"]) == 3
    assert "not there any more" not in capsys.readouterr().out
    assert cli.run(["check", "nowhere.toml", "--accepted", "more.toml", "--accept", "why not"]) == 3


def test_nothing_is_forgotten_by_a_run_that_could_not_read_all(old: Path) -> None:
    written = (old / "known.toml").read_text("utf-8")
    assert cli.run(["check", "nowhere.toml", "--accepted", "known.toml", "--accept", "why not"]) == 3
    for row in tomli.loads(written)["accepted"]:
        assert row in tomli.loads((old / "known.toml").read_text("utf-8"))["accepted"]


def test_cautions_are_accepted_where_they_fail(old: Path) -> None:
    fluid = (HERE / "accepted" / "every-family.toml").read_text("utf-8").replace('wet_boil = "', 'wet_boil = "9')
    (old / "catalog" / "fluid.toml").write_text(fluid, encoding="utf-8")
    assert checked() == 0
    assert checked("--fail-at", "caution") == 1
    assert checked("--fail-at", "caution", "--accept", "known") == 0
    assert checked("--fail-at", "caution") == 0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "at least one entry"),
        ("accepted = 3\n", "a list"),
        ('[[accepted]]\nfingerprint = "x"\nreason = "y"\n', "32 digits"),
        ('[[accepted]]\nfingerprint = "' + "0" * 32 + '"\n', "add reason"),
        ('[[accepted]]\nfingerprint = "' + "0" * 32 + '"\nreason = ""\n', "at least one character"),
        (('[[accepted]]\nfingerprint = "' + "0" * 32 + '"\nreason = "y"\n') * 2, "take one of the two away"),
        ("[[accepted]\n", "close the header"),
        ("accepted = []\nmore = 1\n", "a key of accepted"),
    ],
)
def test_an_unsound_file_accepts_nothing(old: Path, text: str, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    (old / "known.toml").write_text(text, encoding="utf-8")
    assert checked() == 3
    heard = capsys.readouterr()
    assert said in heard.err
    assert "known.toml:" in heard.err
    with pytest.raises(InputError):
        load_accepted(Path("known.toml"))
    if "accepted" in text:
        assert cli.run(["check", "known.toml"]) in (1, 3)
        assert said in capsys.readouterr().out


def test_usage(old: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["check", "catalog", "--accept", "no file named"]) == 2
    assert cli.run(["check", "catalog", "--accepted", "nowhere.toml"]) == 3
    assert cli.run(["check", "catalog", "known.toml"]) == 1
    assert cli.run(["check", "known.toml"]) == 0


@pytest.mark.parametrize("reason", ["", "  ", "a\abell", "two\nlines", "half a letter \udcff"])
def test_a_reason_that_the_file_could_not_hold_is_refused_before_anything_is_written(reason: str, old: Path) -> None:
    before = Path("known.toml").read_bytes()
    (old / "catalog" / "new.toml").write_text(BAD.replace("old", "new").replace("rods", "more"), encoding="utf-8")
    assert checked("--accept", reason) == 2
    assert Path("known.toml").read_bytes() == before


def test_an_empty_list_accepts_nothing(old: Path) -> None:
    (old / "known.toml").write_text("accepted = []\n", encoding="utf-8")
    assert checked() == 1


def test_the_same_from_python(old: Path) -> None:
    gate = check_paths([Path("catalog")], DIMENSIONS)
    known = load_accepted(Path("known.toml"))
    assert not with_accepted(gate, known).failing
    assert accept(gate, "x", known) == (old / "known.toml").read_text("utf-8")

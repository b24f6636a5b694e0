"""The effective profile: what counts, where it comes from, and chains that cannot be followed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import tomli

from fitcheck import cli, load_profile
from fitcheck.data import folder
from fitcheck.effective import effective
from fitcheck.errors import InputError
from fitcheck.inputs import DIMENSIONS
from fitcheck.report.rules import rules_lines

ACCEPTED = Path(__file__).resolve().parent / "accepted"
SHIPPED = Path(str(folder("catalogs"))) / "default.toml"


@pytest.fixture
def chain(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two profiles over the shipped one: bounds changed twice, a rule taken away, a rule added."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "valley.toml").write_text(
        'extends = "default"\n[assumptions]\nair = "1 mL"\nwarming = "50 K"\n[rules.jump]\nupper = "0.2 mm"\n'
        "[rules.release-point]\noff = true\n",
        encoding="utf-8",
    )
    (tmp_path / "own.toml").write_text(
        'extends = "valley.toml"\n\n[assumptions]\nair = "0.5 mL"\n\n[rules.quiet]\nmetric = "effort_peak"\nupper = "99 N"\n'
        'severity = "caution"\nscale = "10 N"\nreason = "a \\"quiet\\" foot\\u202e, \\u0440"\nremedy = "rest"\nsource = "none"\n',
        encoding="utf-8",
    )
    return tmp_path


def test_each_value_names_the_file_and_line_that_it_stands_on(chain: Path) -> None:
    found = effective("own.toml", DIMENSIONS)
    assert found.chain == ("own.toml", "valley.toml", "default")
    files = {"own.toml": chain / "own.toml", "valley.toml": chain / "valley.toml", "default": SHIPPED}
    lines = {name: path.read_text("utf-8").splitlines() for name, path in files.items()}
    for given in found.values:
        assert lines[given.place.file][given.place.line - 1].lstrip().startswith(f"{given.path[-1]} "), given
    places = {".".join(given.path): (given.place.file, given.place.line) for given in found.values}
    assert places["assumptions.air"] == ("own.toml", 4)
    assert places["assumptions.warming"] == ("valley.toml", 4)
    assert places["rules.jump.upper"] == ("valley.toml", 6)
    assert places["rules.jump.metric"][0] == "default"
    assert places["rules.quiet.upper"] == ("own.toml", 8)
    assert [(given.path, given.place.line) for given in found.off] == [(("rules", "release-point"), 8)]


def test_what_is_printed_is_a_profile_of_the_same_rules(chain: Path) -> None:
    text = "\n".join(rules_lines(effective("own.toml", DIMENSIONS)))
    assert text.startswith("# own.toml extends valley.toml extends default\n# rules.release-point is off  # valley.toml:8\n")
    assert "extends" not in tomli.loads(text)
    (chain / "whole.toml").write_text(text, encoding="utf-8")
    whole, own = load_profile("whole.toml"), load_profile("own.toml")
    assert (whole.assumptions, whole.ports) == (own.assumptions, own.ports)
    for ours, theirs in ((whole.rules, own.rules), (whole.fits, own.fits)):
        assert [{**vars(one), "place": None} for one in ours] == [{**vars(one), "place": None} for one in theirs]


def test_the_command_prints_text_or_json(chain: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["rules", "own.toml"]) == 0
    out = capsys.readouterr().out
    assert 'air = "0.5 mL"  # own.toml:4' in out.splitlines()
    assert "\u202e" not in out
    assert cli.run(["rules", "own.toml", "--format", "json"]) == 0
    read = json.loads(capsys.readouterr().out)
    assert read["chain"] == ["own.toml", "valley.toml", "default"]
    assert {"key": "assumptions.air", "value": "0.5 mL", "file": "own.toml", "line": 4} in read["values"]
    assert cli.run(["rules", "default"]) == 0


def test_a_line_end_in_a_file_name_ends_no_remark(chain: Path, capsys: pytest.CaptureFixture[str]) -> None:
    name = "two\nlines.toml"
    (chain / "own.toml").rename(chain / name)
    assert cli.run(["rules", name]) == 0
    out = capsys.readouterr().out
    assert "# two\\nlines.toml extends valley.toml extends default" in out
    assert 'air = "0.5 mL"  # two\\nlines.toml:4' in out
    assert tomli.loads(out)["assumptions"]["air"] == "0.5 mL"


def test_a_chain_that_cannot_be_followed_is_told_whole(chain: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (chain / "valley.toml").write_text('extends = "own.toml"\n', encoding="utf-8")
    assert cli.run(["rules", "own.toml"]) == 3
    assert "valley.toml:1:11: error: extends: found own.toml extends valley.toml extends own.toml" in capsys.readouterr().err
    (chain / "valley.toml").write_text('extends = "hill.toml"\n', encoding="utf-8")
    assert cli.run(["rules", "own.toml"]) == 3
    assert "hill.toml, which is no file (own.toml extends valley.toml extends hill.toml)" in capsys.readouterr().err
    assert cli.run(["rules", "nowhere.toml"]) == 3


@pytest.mark.parametrize("name", ["../beside.toml", "sub/../../beside.toml", "link.toml", "/beside.toml"])
def test_a_path_that_leaves_the_folder_of_the_profile_is_refused(name: str, chain: Path) -> None:
    inner = chain / "inner"
    (inner / "sub").mkdir(parents=True)
    (chain / "beside.toml").write_text('extends = "default"\n', encoding="utf-8")
    (inner / "link.toml").symlink_to(chain / "beside.toml")
    (inner / "own.toml").write_text(f'extends = "{name}"\n', encoding="utf-8")
    with pytest.raises(InputError, match="leaves the folder of the profile"):
        load_profile("inner/own.toml")


@pytest.mark.parametrize("name", ["\\u0000.toml", "x" * 300 + ".toml"], ids=["zero byte", "too long"])
def test_a_parent_that_no_file_can_be_is_told_with_the_chain(name: str, chain: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (chain / "own.toml").write_text(f'extends = "{name}"\n', encoding="utf-8")
    assert cli.run(["rules", "own.toml"]) == 3
    assert "which is no file (own.toml extends " in capsys.readouterr().err
    assert cli.run(["check", "own.toml"]) == 1
    assert "which is no file (own.toml extends " in capsys.readouterr().out


def test_a_profile_without_a_name_is_told(chain: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["rules", ""]) == 3
    assert "found a folder" in capsys.readouterr().err


def test_a_parent_below_is_followed(chain: Path) -> None:
    (chain / "sub").mkdir()
    (chain / "sub" / "deep.toml").write_text('extends = "default"\n', encoding="utf-8")
    (chain / "own.toml").write_text('extends = "sub/deep.toml"\n', encoding="utf-8")
    assert load_profile("own.toml").chain == ("own.toml", "sub/deep.toml", "default")

"""Which files are judged: those that are named, and the bundles of a folder, whatever else it holds."""

from __future__ import annotations

import json
import re
from pathlib import Path

import jsonschema
import pytest

from fitcheck import cli
from fitcheck.bundles.judging import judge_files
from tests.chosen_kits import DAY, HAY, PLOUGH, RING, ROOT, WINCH, name_of

SCHEMA = json.loads((ROOT / "schemas" / "judgement.schema.json").read_text("utf-8"))


@pytest.fixture
def mixed(own: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """One folder with a bundle that passes, a catalog, a job, a profile and a file of accepted findings, deep and shallow."""
    for kit in (RING, WINCH, PLOUGH):
        (own / "bundles" / f"{name_of(kit)}.toml").unlink()
    (own / "deep" / "er").mkdir(parents=True)
    (own / "deep" / "er" / "known.toml").write_text("accepted = []\n", encoding="utf-8")
    monkeypatch.chdir(own)
    return own


def judge(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str]:
    code = cli.run(["judge", *words, "--on", DAY.isoformat()])
    return code, capsys.readouterr().out


def test_what_stands_beside_the_bundles_of_a_folder_is_passed_over_in_one_line(
    mixed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out = judge(capsys, ".")
    assert code == 0
    assert out.splitlines()[-4:] == [
        "Passed over, being no bundles: 1 of accepted findings, 1 catalog, 1 job, 1 profile.",
        "Judged on 2029-06-30: 1 bundle: 1 pass, 0 caution, 0 reject.",
        "A screening aid computed from catalog figures; not an approval.",
        "Checked 1 file (1 bundle): 0 errors, 0 cautions.",
    ]
    assert "Passed over" not in judge(capsys, "bundles")[1]
    code, out = judge(capsys, ".", "--format", "json")
    details = json.loads(out)["details"]
    jsonschema.Draft202012Validator(SCHEMA).validate(details)
    assert details["passed_over"] == {
        "deep/er/known.toml": "accepted", "job.toml": "job", "parts.toml": "catalog", "profile.toml": "profile"
    }  # fmt: skip


@pytest.mark.parametrize("words", [["job.toml"], [".", "job.toml"], ["job.toml", "."], ["bundles", "deep/../job.toml", "."]])
def test_another_kind_of_file_that_is_named_itself_is_told(
    words: list[str], mixed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out = judge(capsys, *words)
    assert code == 3
    assert out.count("found a job; expected a bundle") == 1
    assert "1 job, 1 profile" not in out


@pytest.mark.parametrize("words", [["deep"], ["bundles", "deep"], ["deep", "bundles"]])
def test_a_folder_without_any_bundle_is_never_fine(words: list[str], mixed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out = judge(capsys, *words)
    assert code == 3
    assert "deep:1:1: error: found a folder without a bundle; expected a folder with bundles; check the path" in out
    assert ("Nothing was checked." in out) == (words == ["deep"])
    assert not judge_files([mixed / word for word in words], DAY).complete


# What may have been a bundle once, by what is left of it.
DOUBTFUL = {
    "empty": "",
    "remarks only": "# a kit\n",
    "only a name": 'name = "Valley 19"\n',
    "a bundle's keys beside a part": 'train = "external"\n[master.valley-19]\nbore = "19 mm"\n',
    "not to be read to the end": 'catalogs = ["catalog"]\nprofile = "profile.toml"\nprefer = [\nparts = {\n',
    "a broken catalog": '[master.valley-19]\nbore = "19 mm\n',
}


@pytest.mark.parametrize("name", DOUBTFUL)
def test_what_is_not_plainly_another_kind_is_not_passed_over(name: str, mixed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (mixed / "bundles" / "odd.toml").write_text(DOUBTFUL[name], encoding="utf-8")
    code, out = judge(capsys, "bundles")
    assert code == 3
    assert "bundles/odd.toml: not judged" in out
    assert "bundles/odd.toml:" in out.partition("not judged")[2]
    assert "Passed over" not in out


def test_a_bundle_of_which_lines_cannot_be_read_is_told_by_them(mixed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (mixed / "bundles" / "odd.toml").write_text(DOUBTFUL["a broken catalog"], encoding="utf-8")
    _, out = judge(capsys, "bundles")
    assert "bundles/odd.toml:2:" in out


def test_a_bundle_is_judged_once_however_many_ways_lead_to_it(mixed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (mixed / "again").symlink_to(mixed / "bundles")
    file = f"bundles/{name_of(HAY)}.toml"
    for words in ([".", "bundles", file], [file, "again", str(mixed)], ["again"]):
        code, out = judge(capsys, *words)
        assert code == 0, out
        assert "1 bundle: 1 pass" in out


@pytest.mark.parametrize(
    ("old", "new", "key"), [("../parts.toml", "../nowhere", "catalogs[0]"), ("../profile", "../none", "profile")]
)
def test_a_bundle_that_names_a_file_that_is_not_there_is_told_at_that_line(
    old: str, new: str, key: str, mixed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """And by nothing that follows from it, such as ten parts that are not in a catalog that is not there."""
    path = mixed / "bundles" / f"{name_of(HAY)}.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace(old, new), encoding="utf-8")
    line = next(number for number, words in enumerate(text.splitlines(), 1) if old in words)
    code, out = judge(capsys, "bundles")
    assert code == 3
    (told,) = [words for words in out.splitlines() if ": error: " in words]
    assert told.startswith(f"  bundles/{path.name}:{line}:")
    assert f'error: {key}: found "{new}' in told
    assert "which is neither a file nor a folder" in told


def test_a_kit_judged_by_half_a_catalog_says_so_beside_its_verdict(mixed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = mixed / "parts.toml"
    path.write_text(path.read_text(encoding="utf-8") + '\n[disc.other]\nname = "not closed\n', encoding="utf-8")
    code, out = judge(capsys, "bundles")
    assert code == 3
    assert re.match(r"bundles/\S+: pass, headroom .*; not all of its catalogs could be read$", out.splitlines()[0])


@pytest.mark.parametrize("name", ["x" * 300, "x/" * 900, "parts.toml/x", "a\\u0000b", ""])
@pytest.mark.parametrize("key", ["catalog", "profile", "extends"])
def test_a_name_that_no_file_can_have_spoils_its_own_bundle_alone(
    key: str, name: str, mixed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = mixed / "bundles" / f"{name_of(HAY)}.toml"
    text = path.read_text(encoding="utf-8")
    names = {"catalog": "../parts.toml", "profile": "../profile.toml", "extends": "../profile.toml"}
    odd = f'extends = "{name}"\n' if key == "extends" else text.replace(names[key], name)
    (mixed / "bundles" / "odd.toml").write_text(odd, encoding="utf-8")
    if key == "extends":
        (mixed / "bundles" / "kit.toml").write_text(text.replace(names[key], "odd.toml"), encoding="utf-8")
    assert cli.run(["check", "bundles"]) in (1, 3)
    out = capsys.readouterr().out
    assert "bundles/odd.toml:" in out
    code, out = judge(capsys, "bundles")
    assert code == 3
    assert "2 bundles: 1 pass, 0 caution, 0 reject, 1 not judged" in out


def test_a_folder_is_no_profile(mixed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = mixed / "bundles" / f"{name_of(HAY)}.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("../profile.toml", ".."), encoding="utf-8")
    (mixed / "job.toml").write_text('catalogs = ["parts.toml"]\nprofile = "deep"\n', encoding="utf-8")
    told = 'error: profile: found "{}", which is a folder; expected a path relative to this file'
    assert told.format("..") in judge(capsys, "bundles")[1]
    assert cli.run(["check", "job.toml"]) == 1
    assert told.format("deep") in capsys.readouterr().out

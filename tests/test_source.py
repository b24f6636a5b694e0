"""Reading one TOML file: values and places against the standard library, and what can be saved of a broken file."""

import hashlib
import json
import re
import tomllib

import pytest
import tomli
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.catalog.grammar import Grammar
from fitcheck.catalog.positions import Positions, _lines_without, dotted
from fitcheck.catalog.source import LARGEST, read_source
from fitcheck.data import folder as shipped
from fitcheck.errors import Place


@pytest.fixture(scope="session")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("source")


@pytest.fixture
def read(folder):
    """A function that writes text or bytes to a file and reads it as `shown.toml`."""
    path = folder / "file.toml"

    def reader(content, **options):
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_source(path, "shown.toml", **options)

    return reader


def parses(text):
    try:
        tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        return False
    return True


# Random documents ------------------------------------------------------------

KEYS = st.sampled_from(["a", "b", "c-1", "2", "1979-05-27", "true", '"é \\" ü"', "'lit.eral'", '""', '"\\u00e9"'])
DOTTED = st.lists(KEYS, min_size=1, max_size=3).map(" . ".join) | st.lists(KEYS, min_size=1, max_size=3).map(".".join)
SCALARS = st.sampled_from(
    [
        "1",
        "-2.5e3",
        "0xff",
        "true",
        '"ü # no comment"',
        "'a\\b'",
        '"""\n[looks.like]\na = 1\n"""',
        "'''\nx = [\n'''",
        '"""ab\\\n  cd"""',
        "1979-05-27",
        "1979-05-27 07:32:00.5",
        "07:32:00",
        "+inf",
        "nan",
        '"\\U0001F600\\t"',
    ]
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=3).map(lambda items: "[ " + ", ".join(items) + "]")
        | st.lists(inner, min_size=1, max_size=3).map(lambda items: "[ # é, ]\n  " + ",\n\t".join(items) + ",\n]")
        | st.lists(st.tuples(DOTTED, inner.filter(lambda text: "\n" not in text)), max_size=3).map(
            lambda pairs: "{ " + ", ".join(f"{key} = {value}" for key, value in pairs) + " }"
        )
    ),
    max_leaves=6,
)
LINES = st.one_of(
    st.builds("{} = {} # ä\n".format, DOTTED, VALUES),
    st.builds("  {}={}\n".format, DOTTED, VALUES),
    st.builds("[{}]\n".format, DOTTED),
    st.builds(" [[ {} ]] # [x]\n".format, DOTTED),
    st.sampled_from(["\n", "# [comment]\n"]),
)


@st.composite
def documents(draw):
    """A valid document: each line that would spoil it is left out."""
    text = ""
    for line in draw(st.lists(LINES, max_size=14)):
        if parses(text + line):
            text += line
    if draw(st.booleans()):
        text = text.replace("\n", "\r\n")
    return text.rstrip("\r\n") if draw(st.booleans()) else text


def all_paths(value, path=()):
    """Every key path of parsed values."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, part in inner:
        yield (*path, key)
        yield from all_paths(part, (*path, key))


def says(text, path, spot):
    """Whether the text at a place is the key; for an item of a list, anything but a blank."""
    line, column = spot
    rest = text.split("\n")[line - 1][column - 1 :]
    if isinstance(path[-1], int):
        return bool(rest.strip()) and not rest[0].isspace()
    match = re.match(r"""[A-Za-z0-9_-]+|"(?:[^"\\]|\\.)*"|'[^']*'""", rest)
    return match is not None and next(iter(tomllib.loads(f"{match[0]} = 0"))) == path[-1]


@given(documents())
def test_places_of_random_documents(text):
    positions = Positions(text)
    assert positions.sound
    assert positions.paths() == set(all_paths(tomllib.loads(text)))
    for path in positions.paths():
        assert says(text, path, positions.find(path)), (path, positions.find(path))


@given(documents(), st.randoms(use_true_random=False))
def test_places_do_not_depend_on_what_was_asked_before(text, rng):
    paths = sorted(Positions(text).paths(), key=repr)
    rng.shuffle(paths)
    asked = Positions(text)
    for path in paths:
        assert asked.find(path) == Positions(text).find(path), path


def test_a_table_through_which_dotted_keys_lead_stands_at_the_first_of_them():
    text = '[disc.soft]\n"bo" = 1\nsome.bo = 2\nsome."x" = 3\n'
    positions = Positions(text)
    assert positions.find(("disc", "soft", "bo")) == (2, 1)
    assert positions.find(("disc", "soft", "some")) == (3, 1)


def test_a_table_is_searched_a_few_times_however_many_of_its_keys_are_asked_for(monkeypatch):
    searched = []
    monkeypatch.setattr("fitcheck.catalog.positions._lines_without", lambda key: searched.append(key) or _lines_without(key))
    positions = Positions("[fluid]\n" + "".join(f"f-{number} = 1\n" for number in range(1000)))
    assert [positions.find(("fluid", f"f-{number}"))[0] for number in range(1000)] == list(range(2, 1002))
    assert len(searched) < 10


NEWER = st.sampled_from(
    [
        "{ a = 1, }",
        "{ a = [1],\n b = 2 }",
        '{ a = "}",\n b = "{" }',
        '"\\e"',
        '"\\x41"',
        "07:32",
        "1979-05-27 07:32",
        "[{ a = 1 , }]",
    ]
)


@given(documents(), st.lists(st.builds("{} = {} # ü\n".format, DOTTED, NEWER) | LINES, max_size=3), documents())
def test_newer_syntax_is_found_wherever_the_grammar_of_the_whole_text_finds_it(before, lines, after):
    """The grammar is that of TOML 1.0 by tree-sitter; the parser takes TOML 1.1 as well."""
    text = f"{before}\n{''.join(lines)}{after}"
    try:
        tomli.loads(text)
    except tomli.TOMLDecodeError:
        return
    assert Positions(text).sound == Grammar(text).sound


@given(text=documents())
def test_values_are_those_of_the_standard_library(folder, text):
    path = folder / "random.toml"
    path.write_bytes(text.encode())
    source = read_source(path, "shown.toml", dates=True)
    assert repr(source.values) == repr(tomllib.loads(text))
    assert all(finding.problem in ("not-finite", "empty") for finding in source.findings)


def test_a_second_byte_order_mark_is_no_toml(read):
    """TOML 1.0 knows none at all; the first is taken away as editors put it there, and a quick parser passes over another."""
    text = '[fork.forged]\nname = "Forged"\n'
    assert not read("\ufeff" + text).findings
    assert read("\ufeff\ufeff" + text).findings


# Places ------------------------------------------------------------

PLACES = """\
# Ä
[master.valley-19]
bore = "3/4 in"
"größe" = { "é" = "ü", stroke = "36 mm" }
[line.braided]
shims = [ "ü", # ß
  "1 mm" ]
[[line.braided.pieces]]
kind = "tube"
[[line.braided.pieces]]
  kind = "hose"
[line.braided.cavity]
"""


@pytest.mark.parametrize(
    ("path", "key", "value"),
    [
        ((), (1, 1), (1, 1)),
        (("master",), (2, 2), (2, 2)),
        (("master", "valley-19"), (2, 9), (2, 1)),
        (("master", "valley-19", "bore"), (3, 1), (3, 8)),
        (("master", "valley-19", "größe", "stroke"), (4, 24), (4, 33)),
        (("line", "braided", "shims", 0), (6, 11), (6, 11)),
        (("line", "braided", "shims", 1), (7, 3), (7, 3)),
        (("line", "braided", "pieces"), (8, 16), (8, 1)),
        (("line", "braided", "pieces", 1), (10, 16), (10, 1)),
        (("line", "braided", "pieces", 1, "kind"), (11, 3), (11, 10)),
        (("line", "braided", "pieces", 1, "length"), (10, 16), (10, 1)),  # missing: its nearest ancestor
        (("line", "braided", "cavity", "clock"), (12, 15), (12, 1)),
        (("slave", "none", "bore"), (1, 1), (1, 1)),
    ],
)
def test_places(read, path, key, value):
    for content in (PLACES, "\ufeff" + PLACES, PLACES.replace("\n", "\r\n")):
        source = read(content)
        assert (source.complete, source.findings) == (True, ())
        assert source.locate(path) == Place("shown.toml", *key, dotted(path))
        assert source.locate(path, of="value") == Place("shown.toml", *value, dotted(path))


@pytest.mark.parametrize("equals", ["=", " = ", "\t=\t\t", "  ="])
def test_each_value_of_a_plain_line_has_its_own_place(equals):
    """Asked for one by one, as findings are: on a line that is found by its key, and not by reading the table."""
    line = f'stops{equals}["1 mm", {{ least = "2 mm" }}]'
    text = f'[pedal.a]\nstop = "4 mm"\n{line}\n'
    for path, word in (((1, "least"), '"2 mm"'), ((1,), "{ least"), ((0,), '"1 mm"'), ((), '["1')):
        place = Positions(text).find(("pedal", "a", "stops", *path), "value")
        assert place == (3, line.index(word) + 1)
    assert Positions(text).find(("pedal", "a", "stop"), "value") == (2, 8)


def test_dotted_path():
    assert dotted(("line", "x", "pieces", 0, "inner.diameter")) == 'line.x.pieces[0]."inner.diameter"'
    assert dotted(("master", 'a "q\\')) == 'master."a \\"q\\\\"'  # as TOML 1.0 writes a key between quotes
    assert dotted(()) == ""


# Broken files ------------------------------------------------------------

# Lines put into one entry; which of them are to be named, counted from 1; the problem; some words of how to mend it.
BROKEN = [
    ("w =", [1], "broken-line", "a value after the ="),
    ("w = = 3", [1], "broken-line", "one = only"),
    ('w = "abc', [1], "broken-line", "close the quotes"),
    ("w = 'abc\"", [1], "broken-line", "close the quotes"),
    ('w = """abc\nd', [1], "broken-line", "same three quotes"),
    ("w = [1, 2", [1], "broken-line", "close every bracket"),
    ("w = [\n 1,\n 2", [1], "broken-line", "close every bracket"),
    ("w = [1 2]", [1], "broken-line", "a comma between"),
    ("w = [\n [1, 2],\n [3 4],\n]", [3], "broken-line", ""),
    ("w = {b = 1 c = 2}", [1], "broken-line", "a comma between"),
    ("w = {b = 1", [1], "broken-line", "close every bracket"),
    ("w = {b = 1, b = 2}", [1], "defined-twice", "keep one"),
    ("w = Valley 19", [1], "broken-line", "between quotes"),
    ("w = 3/4 in", [1], "broken-line", "between quotes"),
    ("w = 12,7", [1], "broken-line", "a point"),
    ("w = 007", [1], "broken-line", "leading zeros"),
    ("w = True", [1], "broken-line", "small letters"),
    ("w = 2027-13-45", [1], "broken-line", ""),
    ('w: "3"', [1], "broken-line", "= between key and value"),
    ('w "3"', [1], "broken-line", "key = value"),
    ("just words", [1], "broken-line", "key = value"),
    ("words\nmore words", [1, 2], "broken-line", "key = value"),
    ("two words = 1", [1], "broken-line", "without blanks"),
    ("w = “x”", [1], "broken-line", "straight quotes"),
    ('w = "\\q"', [1], "broken-line", "backslash twice"),
    ('w = "\x01"', [1], "broken-line", "unprintable"),
    ("w = 1 v = 2", [1], "broken-line", ""),
    ("w =\nv = 2\nu = =", [1, 3], "broken-line", ""),
    ('t = """\n[master.c]\nw = 1\n"""\nw =', [5], "broken-line", "a value after the ="),
    ("w = 1\nw = 2", [1, 2], "defined-twice", "keep one of lines"),
    ("w = 1\nw = 2\nw = 3", [1, 2, 3], "defined-twice", "keep one of lines"),
    ("w.v = 1\nw = 2", [1, 2], "defined-twice", "keep one of lines"),
    ("w = 1\nw.v = 2", [1, 2], "defined-twice", "keep one of lines"),
    ("w = 1\n[master.broken.w]\nv = 1", [1, 2], "defined-twice", "keep one of lines"),
    ("[master.broken.w]\nv = 1\n[master.broken.w]\nv = 2", [1, 3], "defined-twice", "keep one of lines"),
    ("[[master.broken.w]]\nv = 1\n[[master.broken.w]]\nv = 2\nv = 3", [4, 5], "defined-twice", "keep one of lines"),
    ("[master.broken.w\nv = 1", [1], "broken-line", "close the header"),
    ("[master.broken.w] v = 1", [1], "broken-line", "close the header"),
    ("[[master.broken.w]\nv = 1", [1], "broken-line", "close the header"),
    ("w = {b = 1,\n c = 2}", [1], "newer-toml", "TOML 1.0"),
    ("w = {b = 1,}", [1], "newer-toml", "TOML 1.0"),
    ('w = "\\e"', [1], "newer-toml", "TOML 1.0"),
    ("w = 07:32", [1], "newer-toml", "TOML 1.0"),
    ("w = {b = 1,}\nv =", [1, 2], None, ""),
    ("w = " + "[" * 2000 + "]" * 2000, [1], "too-deep", "less nesting"),
    (".".join("w" * 2000) + " = 1", [1], "too-deep", "less nesting"),
    ("w = " + "1" * 5000, [1], "number-too-long", "shorter"),
]
BEFORE = '# Ä\n[master.a]\nbore = "3/4 in"\n[master.a.cavity]\nlength = "1 mm"\n'
AFTER = '[master.broken.cavity]\nlength = "2 mm"\n[[line.z.pieces]]\nkind = "tube"\n[[line.z.pieces]]\nkind = "hose"\n[line.z]\n'


@pytest.mark.parametrize("joint", ["\n", "\r\n"])
@pytest.mark.parametrize(("text", "lines", "problem", "mend"), BROKEN)
def test_broken_entry_is_named_and_the_rest_is_kept(read, joint, text, lines, problem, mend):
    head = f"{BEFORE}[master.broken]\nfirst = 1\n"
    source = read(f"{head}{text}\nlast = 9\n{AFTER}".replace("\n", joint))
    assert source.values == tomllib.loads(BEFORE + AFTER.split("\n", 2)[2])
    assert not source.complete
    assert sorted({finding.place.line - head.count("\n") for finding in source.findings}) == lines
    for finding in source.findings:
        assert problem is None or finding.problem == problem
        assert mend in finding.mend
        assert finding.place.key.startswith("master.broken")
        assert all((finding.found, finding.expected))
    assert source.locate(("line", "z", "pieces", 1, "kind")).line == head.count("\n") + text.count("\n") + 8
    assert source.digest == hashlib.sha256(f"{head}{text}\nlast = 9\n{AFTER}".replace("\n", joint).encode()).hexdigest()


@pytest.mark.parametrize(
    ("text", "kept", "lines"),
    [
        ("[master.a\nb = 1\n[master.a.c]\nd = 1\n[slave.b]\nx = 1", {"slave": {"b": {"x": 1}}}, [1]),
        ("[master.a]\nb = 1\n[slave.c]\n[master.a]\nb = 2\n[pedal.q]\n", {"slave": {"c": {}}, "pedal": {"q": {}}}, [1, 4]),
        ("master = 3\n[master.a]\nb = 1\n[slave.c]\n", {"slave": {"c": {}}}, [1, 2]),
        ("[master.a]\n[[master]]\nb = 1\n[slave.c]\n", {"slave": {"c": {}}}, [1, 2]),
        ("top = =\nx = 2\n[a.b]\nc = 1", {"a": {"b": {"c": 1}}}, [1]),
        ("é = 1\n[a.b]\nc = 1", {"a": {"b": {"c": 1}}}, [1]),
        ("[a.é]\nb = 1\n[c.d]\n", {"c": {"d": {}}}, [1]),
        ("[]\nb = 1\n[c.d]\n", {"c": {"d": {}}}, [1]),
        ("a = 1\n['\nb = 1\n", {"a": 1}, [2]),
        ("['", {}, [1]),
        ('[a.b]\nt = """open\n[a.c]\nt = """shut"""\n', {"a": {"c": {"t": "shut"}}}, [2]),
        ("[a.b]\nx = 1\r[a.c]\ny = 1\n", {}, [2]),
        ("= 1", {}, [1]),
    ],
)
def test_broken_file(read, text, kept, lines):
    source = read(text)
    assert source.values == kept
    assert sorted({finding.place.line for finding in source.findings}) == lines
    assert not source.complete


@given(seed=st.lists(st.tuples(st.booleans(), st.sampled_from(BROKEN[:28])), min_size=1, max_size=6), crlf=st.booleans())
def test_planted_breaks_are_all_found_and_nothing_else(folder, seed, crlf):
    text, kept, planted = "", {}, []
    for number, (broken, (bad, lines, _, _)) in enumerate(seed):
        text += f'[master.m{number}]\nname = "ü"\n'
        if broken:
            planted += [text.count("\n") + line for line in lines]
            text += bad + "\n"
        else:
            kept[f"m{number}"] = {"name": "ü", "cavity": {"length": 1}}
        text += f"[master.m{number}.cavity]\nlength = 1\n"
    path = folder / "planted.toml"
    path.write_bytes(text.replace("\n", "\r\n" if crlf else "\n").encode())
    source = read_source(path, "shown.toml")
    assert source.values.get("master", {}) == kept
    assert [finding.place.line for finding in source.findings] == planted
    assert source.complete == (not planted)


@given(content=st.one_of(st.binary(max_size=200), st.text("[]{}=\"'\n\r#.,ab1 \\\t", max_size=120).map(str.encode)))
def test_anything_is_read_or_refused_with_a_finding(folder, content):
    path = folder / "anything.toml"
    path.write_bytes(content)
    source = read_source(path, "shown.toml")
    lines = content.count(b"\n") + 1
    assert source.complete == (not source.findings)
    assert source.values or source.findings
    assert all(1 <= finding.place.line <= lines for finding in source.findings)
    text = content.removeprefix(b"\xef\xbb\xbf").decode(errors="replace")
    if source.complete:
        assert source.values == tomllib.loads(text)
    elif (
        text == text.encode().decode() and parses(text) and tomllib.loads(text)
    ):  # nothing that is sound may be refused as broken
        assert {finding.problem for finding in source.findings} <= {
            "not-finite",
            "date",
            "number-too-long",
            "too-deep",
            "not-utf-8",
        }


@given(lines=st.lists(LINES, max_size=10))
def test_a_document_that_contradicts_itself_keeps_only_sound_entries(folder, lines):
    text = "".join(lines)
    path = folder / "clash.toml"
    path.write_bytes(text.encode())
    source = read_source(path, "shown.toml", dates=True)
    assert repr(tomllib.loads(source.text)) == repr(source.values)
    broken = [finding for finding in source.findings if finding.problem not in ("not-finite", "empty")]
    assert bool(broken) == (not parses(text))
    assert source.text.count("\n") == text.count("\n")
    assert all(now in ("", before) for now, before in zip(source.text.split("\n"), text.split("\n"), strict=True))


# Values that TOML knows and no entry can have ------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "problem", "path"),
    [
        ("nan", "not-finite", ()),
        ("-inf", "not-finite", ()),
        ("1e999", "not-finite", ()),
        ('[1, "é", nan]', "not-finite", (2,)),
        ("{ a = { b = inf } }", "not-finite", ("a", "b")),
        ("1979-05-27", "date", ()),
        ("1979-05-27T07:32:00Z", "date", ()),
        ("07:32:00", "date", ()),
        ("9223372036854775808", "number-too-long", ()),
        ("-0xffffffffffffffffffff", "broken-line", None),
        ("[" * 60 + "]" * 60, "too-deep", (0,) * 30),
    ],
)
def test_refused_value(read, value, problem, path):
    source = read(f"[master.a]\nbore = {value}\n[master.b]\nbore = 1\n")
    (finding,) = source.findings
    assert finding.problem == problem
    assert finding.place.line == 2
    assert source.refused == (() if path is None else (("master", "a", "bore", *path),))
    assert source.values["master"]["b"] == {"bore": 1}
    assert not source.complete
    if path is not None:
        assert finding.place == source.locate(source.refused[0], of="value")


def test_dates_may_be_allowed(read):
    source = read("[[waivers]]\nuntil = 2027-03-31\n", dates=True)
    assert (source.complete, source.findings, source.refused) == (True, (), ())
    assert source.values["waivers"][0]["until"].isoformat() == "2027-03-31"


# Files that are not text of this kind ------------------------------------------------------------


def test_bytes_that_are_not_utf_8(read):
    source = read(b'[a.b]\nc = "\xc3\xa4\xe9"\nd = =\n[a.c]\nd = 1\n# \xff\n[a.d]\n')
    assert source.values == {"a": {"d": {}}}
    found = [(finding.place.line, finding.place.column, finding.problem) for finding in source.findings]
    assert found == [(2, 7, "not-utf-8"), (3, 5, "broken-line"), (6, 3, "not-utf-8")]
    assert "0xe9" in source.findings[0].found


@pytest.mark.parametrize("content", ["[a.b]\n".encode("utf-16"), b"[a.b]\n\0"])
def test_other_encodings(read, content):
    source = read(content)
    assert [finding.problem for finding in source.findings] == ["not-utf-8"]
    assert (source.values, source.complete, source.digest) == ({}, False, hashlib.sha256(content).hexdigest())


@pytest.mark.parametrize("content", ["", "\n\n", "# only words\n", "\ufeff"])
def test_empty_file(read, content):
    source = read(content)
    assert [finding.problem for finding in source.findings] == ["empty"]
    assert not source.complete


def test_files_that_cannot_be_read(folder):
    large = folder / "large.toml"
    with large.open("wb") as file:
        file.truncate(LARGEST + 1)
    loop = folder / "loop.toml"
    loop.symlink_to(loop)
    for path, problem, found in [
        (folder, "unreadable", "a folder"),
        (folder / "none.toml", "unreadable", "no such file"),
        (folder / "none\0.toml", "unreadable", "null"),
        (loop, "unreadable", "symbolic links"),
        (large, "too-large", "more than"),
    ]:
        source = read_source(path, "shown.toml")
        (finding,) = source.findings
        assert (finding.problem, finding.place) == (problem, Place("shown.toml"))
        assert found in finding.found
        assert (source.values, source.complete, source.digest) == ({}, False, "")


def test_findings_can_be_sorted_and_written(read):
    source = read("[a.b]\nx = nan\ny = inf\n[a.c]\nz =\n")
    assert list(source.findings) == sorted(source.findings)
    assert json.dumps([str(finding) for finding in source.findings])


def test_shipped_folders_are_found():
    assert {name: shipped(name).is_dir() for name in ("schemas", "catalogs", "none")} == {
        "schemas": True,
        "catalogs": True,
        "none": False,
    }

"""The program as a person meets it: what it prints, where, and with which code it ends."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest
import tomli

import fitcheck
from fitcheck import cli, demo, inputs
from fitcheck.catalog.parts import TRAINS
from fitcheck.commands.shell import Patience
from fitcheck.engine.unfinished import Unfinished
from fitcheck.errors import InputError, OutputError, UsageError
from fitcheck.report import files, html, words
from tests.made_result import result

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "catalogs" / "demo"
JOB = f"""
catalogs = ["{(DEMO / "catalog").as_posix()}"]
applications = ["hay-lorry"]
prefer = ["least effort_peak"]
need_pass = false
[only]
pedal = ["lever-62"]
master = ["vell-18", "vell-19"]
line = ["inch-braid"]
fluid = ["amber"]
slave = ["ridge-22"]
fork = ["lorry-17"]
pressure_plate = ["heron", "crane", "stork"]
disc = ["lorry-250"]
"""


class Made:
    """Inputs that answer with a result made by hand, so that no test of the program waits for the engine."""

    def __init__(self, folder: Path, complete: bool = True, need_pass: bool = False) -> None:
        self.found = result(folder, complete)
        self.catalog, self.profile, self.job = self.found.catalog, self.found.profile, self.found.job
        object.__setattr__(self.job, "need_pass", need_pass)
        self.slips = ()

    findings, complete = inputs.Inputs.findings, inputs.Inputs.complete

    def unfinished(self, folder: Path) -> Unfinished:
        return Unfinished(folder, "made by hand")

    def screen(self, progress=None, unfinished=None):
        return self.found

    def count(self):
        return dict(self.found.legal)


@pytest.fixture
def made(monkeypatch, tmp_path):
    def prepare(**options) -> Made:
        ready = Made(tmp_path, **options)
        monkeypatch.setattr(inputs, "read_job", lambda path: ready)
        monkeypatch.setattr(html, "explained", lambda found: {})  # its kits have parts that stand in no catalog
        return ready

    return prepare


def started(*arguments: str, environment: dict[str, str] | None = None, **options) -> subprocess.CompletedProcess[str]:
    """The real program in a process of its own."""
    known = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8", **(environment or {})}
    command = [sys.executable, "-m", "fitcheck", *arguments]
    options = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **options}
    return subprocess.run(command, env=known, text=True, encoding="utf-8", timeout=300, **options)


# Help and wrong words.


@pytest.mark.parametrize("command", [(), *((name,) for name in cli.program.commands)])
def test_help_leads_with_examples(command: tuple[str, ...], capsys) -> None:
    assert cli.run([*command, "--help"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Examples:\n  fitcheck ")
    assert out.index("Examples:") < out.index("Usage:")


def test_every_example_of_the_help_is_a_command_that_exists() -> None:
    for command in (cli.program, *cli.program.commands.values()):
        for example in command.examples:
            assert example.split()[:2] in [["fitcheck", name] for name in cli.program.commands]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["chekc", "x"], 'There is no command "chekc". Did you mean "check"?'),
        (["scren", "x"], 'Did you mean "screen"?'),
        (["qqq"], "There are: demo, check, count, screen, reasons, compare, bundle, judge, impact, changes, rules."),
        (["check", "x", "--fromat", "json"], "Did you mean '--format'?"),
        (["check", "x", "--format", "jsn"], 'Did you mean "json"?'),
        (["check", "x", "--format", "zzz"], "There are: text, json, sarif, junit."),
        (["check"], "Missing argument 'PATH...'"),
        (["screen", "a.toml", "b.toml"], "unexpected extra argument"),
    ],
)
def test_a_wrong_word_gets_the_nearest_right_one(arguments: list[str], said: str, capsys) -> None:
    assert cli.run(arguments) == 2
    heard = capsys.readouterr()
    assert said in heard.err
    assert heard.out == ""


def test_the_version_is_told(capsys) -> None:
    assert cli.run(["--version"]) == 0
    assert fitcheck.__version__ in capsys.readouterr().out


# Codes.


@pytest.mark.parametrize(
    ("complete", "seen", "missing", "code"),
    [(True, 5, False, 0), (True, 5, True, 1), (False, 5, False, 3), (False, 5, True, 3), (True, 0, False, 3), (True, 0, True, 3)],
)
def test_nothing_seen_and_incomplete_win_over_a_fault(complete: bool, seen: int, missing: bool, code: int) -> None:
    assert cli.outcome((), complete, seen, missing) == code


def test_an_error_is_a_fault_and_a_caution_is_not() -> None:
    error, caution = result(complete=False).findings
    assert cli.outcome((error,), True, 1, False) == 1
    assert cli.outcome((caution,), True, 1, False) == 0


@pytest.mark.parametrize(
    ("fault", "code", "said"),
    [
        (OutputError("cannot write to there: no space"), 4, "cannot write to there: no space"),
        (OSError(28, "No space left on device"), 4, "No space left on device"),
        (MemoryError(), 4, "out of memory"),
        (ZeroDivisionError("oh"), 4, "a fault of fitcheck itself: ZeroDivisionError: oh"),
        (RecursionError("deep"), 4, "RecursionError"),
        (UsageError("no such kit; did you mean a+b?"), 2, "did you mean a+b?"),
        (InputError(result(complete=False).findings), 3, "expected a length; write mm"),
        (KeyboardInterrupt(), 130, "stopped"),
        (cli.Stopped(), 143, "stopped"),
        (BrokenPipeError(), 141, ""),
    ],
)
def test_whatever_happens_becomes_a_code_and_one_message(fault: BaseException, code: int, said: str, monkeypatch, capsys) -> None:
    def fail(path) -> None:
        raise fault

    monkeypatch.setattr(inputs, "read_job", fail)
    assert cli.run(["count", "job.toml"]) == code
    heard = capsys.readouterr()
    assert said in heard.err
    assert "Traceback" not in heard.err
    assert heard.out == ""


# Screen and count, on a result made by hand.


@pytest.mark.parametrize(
    ("options", "code"),
    [({}, 0), ({"need_pass": True}, 1), ({"complete": False}, 3), ({"complete": False, "need_pass": True}, 3)],
)
@pytest.mark.parametrize("command", ["screen", "count"])
def test_codes_of_screen_and_count(options: dict[str, bool], code: int, command: str, made, capsys) -> None:
    ready = made(**options)
    if command == "count":  # what the catalog says of itself
        object.__setattr__(ready.catalog, "complete", options.get("complete", True))
    assert cli.run([command, "hill.toml"]) == code


def test_screen_writes_beside_the_job_unless_told_otherwise(made, tmp_path, capsys) -> None:
    made()
    cli.run(["screen", "hill.toml"])
    assert sorted(path.name for path in (tmp_path / "hill-result").iterdir()) == ["kits.csv", "report.html", "summary.json"]
    cli.run(["screen", "hill.toml", "--out", str(tmp_path / "else")])
    assert (tmp_path / "else" / "kits.csv").read_bytes() == (tmp_path / "hill-result" / "kits.csv").read_bytes()
    assert words.AID in capsys.readouterr().out


def test_findings_go_to_stderr_and_results_to_stdout(made, capsys) -> None:
    made(complete=False)
    cli.run(["screen", "hill.toml"])
    heard = capsys.readouterr()
    assert "write mm" in heard.err
    assert "write mm" not in heard.out
    assert "\x1b" not in heard.out + heard.err


def test_a_result_that_cannot_be_written_is_4_whatever_it_says(made, tmp_path, capsys) -> None:
    made(complete=False, need_pass=True)
    (tmp_path / "taken").write_text("", encoding="utf-8")
    assert cli.run(["screen", "hill.toml", "--out", str(tmp_path / "taken")]) == 4
    assert "cannot write to" in capsys.readouterr().err


def test_a_run_that_is_stopped_while_it_writes_leaves_nothing_half(made, monkeypatch, tmp_path, capsys) -> None:
    made()

    def stopped(kits, stream) -> None:
        stream.write("half")
        raise KeyboardInterrupt

    monkeypatch.setattr(files, "write_kits", stopped)
    assert cli.run(["screen", "hill.toml"]) == 130
    assert list((tmp_path / "hill-result").iterdir()) == []


# Names that lead nowhere: less would be screened, or judged, than was asked.

SLIPS = {
    "applications": ('applications = ["hay-lorry"]', 'applications = ["hay-lorry", "hay-lory"]', "did you mean hay-lorry?"),
    "only": ('master = ["vell-18", "vell-19"]', 'master = ["vell-18", "vel-19"]', "did you mean vell-19"),
    "leave_out": ("[only]", '[leave_out]\ndisc = ["lory-250"]\n[only]', "did you mean lorry-250"),
    "profile": ("need_pass", 'profile = "own.toml"\nneed_pass', "did you mean hay-lorry?"),
}


@pytest.mark.parametrize("where", SLIPS)
@pytest.mark.parametrize("command", ["count", "screen"])
def test_a_name_that_leads_nowhere_is_told_and_3(command: str, where: str, tmp_path, capsys) -> None:
    old, new, mend = SLIPS[where]
    assert old in JOB
    (tmp_path / "hay.toml").write_text(JOB.replace(old, new), encoding="utf-8")
    own = 'extends = "default"\n[rules.enough-release]\napplications = ["hay-lory"]\n'
    (tmp_path / "own.toml").write_text(own, encoding="utf-8")
    assert cli.run([command, str(tmp_path / "hay.toml")]) == 3
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith((tmp_path / ("own.toml" if where == "profile" else "hay.toml")).as_posix())
    assert mend in line
    if command == "screen":
        summary = json.loads((tmp_path / "hay-result" / "summary.json").read_text(encoding="utf-8"))
        assert (summary["complete"], len(summary["findings"])) == (False, 1)


@pytest.mark.parametrize("command", ["count", "screen"])
def test_a_job_that_is_not_there_is_told_once(command: str, tmp_path, capsys) -> None:
    assert cli.run([command, str(tmp_path / "nowhere.toml")]) == 3
    (line,) = capsys.readouterr().err.splitlines()
    assert "no such file" in line


# Check, on the shipped demo and on files that break.


def test_check_says_what_it_read(capsys) -> None:
    assert cli.run(["check", str(DEMO)]) == 0
    assert re.search(r"Checked \d+ files \(2 bundles, \d+ catalogs, 1 job, 1 profile\): 0 errors", capsys.readouterr().out)


def test_check_as_json_holds_the_same(capsys) -> None:
    assert cli.run(["check", str(DEMO), "--format", "json"]) == 0
    read = json.loads(capsys.readouterr().out)
    assert (read["format"], read["exit"], read["complete"]) == (2, 0, True)
    assert read["read"].keys() == read["inputs"].keys()


def test_a_fault_is_1_with_its_place_on_stdout(tmp_path, capsys) -> None:
    path = tmp_path / "own.toml"
    path.write_text('[disc.own]\nname = "Own"\nouter_diameter = "250"\n', encoding="utf-8")
    assert cli.run(["check", str(path)]) == 1
    out = capsys.readouterr().out
    assert f"{path.as_posix()}:3:" in out
    assert cli.run(["check", str(path), "--format", "json"]) == 1
    finding = next(one for one in json.loads(capsys.readouterr().out)["findings"] if one["key"].endswith("outer_diameter"))
    assert finding["line"] == 3
    assert all(finding[key] for key in ("file", "column", "problem", "found", "expected", "mend", "severity"))


def test_all_faults_of_all_files_are_told_at_once(tmp_path, capsys) -> None:
    texts = {
        "a.toml": '[fluid.one]\nbas = "glycol"\n[fluid.one]\nbase = "glycol"\n',
        "inner/b.toml": '[master.two]\nbore = "19,05 mm"\nstroke = "36"\n[wheel.three]\n',
        "job.toml": 'catalogs = ["nowhere"]\nprefer = ["least effort_peek"]\n',
        "profile.toml": '[rules.four]\nmetric = "effort_peek"\n',
    }
    (tmp_path / "inner").mkdir()
    for name, text in texts.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    cli.run(["check", str(tmp_path)])
    out = capsys.readouterr().out
    told = {name: {int(line) for line in re.findall(rf"{re.escape((tmp_path / name).as_posix())}:(\d+):", out)} for name in texts}
    assert told["a.toml"] >= {1, 3}
    assert told["inner/b.toml"] >= {2, 3, 4}
    assert told["job.toml"] == {1, 2}
    assert 2 in told["profile.toml"]


@pytest.mark.parametrize("what", ["nowhere.toml", "empty"])
def test_nothing_checked_is_never_fine(what: str, tmp_path, capsys) -> None:
    (tmp_path / "empty").mkdir()
    assert cli.run(["check", str(tmp_path / what)]) == 3
    assert "Nothing was checked." in capsys.readouterr().out


@pytest.mark.parametrize("name", ["x" * 5000, "x" * 300 + "/y.toml"])
def test_a_path_that_nothing_can_have_hides_no_other_file(name: str, tmp_path, capsys) -> None:
    (tmp_path / "a.toml").write_text("[master.a]\n", "utf-8")
    assert cli.run(["check", name, str(tmp_path / "a.toml")]) == 3
    out = capsys.readouterr().out
    assert "no name" in out
    assert "expected a file that can be read" in out


# The demo's files.


def test_the_demo_is_copied_once_and_changes_of_yours_are_kept(tmp_path) -> None:
    first = demo.copy_demo(tmp_path / "demo")
    assert set(first.written) >= {"job.toml", "profile.toml"}
    assert not first.reused + first.kept
    changed = tmp_path / "demo" / "profile.toml"
    changed.write_text("# mine\n", encoding="utf-8")
    again = demo.copy_demo(tmp_path / "demo")
    assert (again.written, again.kept) == ((), ("profile.toml",))
    assert set(again.reused) == set(first.written) - {"profile.toml"}
    assert changed.read_text(encoding="utf-8") == "# mine\n"


def test_a_demo_that_cannot_be_written_is_said(tmp_path, capsys) -> None:
    (tmp_path / "taken").write_text("", encoding="utf-8")
    assert cli.run(["demo", str(tmp_path / "taken")]) == 4
    assert "cannot write the demo to" in capsys.readouterr().err


def test_the_demo_tells_twenty_lines_and_only_commands_that_exist(made, tmp_path, capsys) -> None:
    made()
    assert cli.run(["demo", str(tmp_path / "a demo")]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert 10 <= len(lines) <= 24
    said = "\n".join(lines)
    assert "Best for Valley lorry, external slave: pass, headroom 1.50, limited by enough-release\n" in said
    assert "Best for Valley lorry, concentric cylinder: caution, headroom -0.50" in said
    assert "Nothing passes for orchard; nothing is legal for quarry." in said
    assert "Remedy: Fit a larger master." in " ".join(said.split())
    assert words.AID in said
    after = lines[lines.index("Go on with:") + 1 :]
    assert [re.search(r"fitcheck (\w+) ", line)[1] for line in after] == ["check", "screen", "reasons", "compare"]
    assert "job.toml' orchard " in after[2]
    assert all("a demo" in line for line in after)


# The real program in a process of its own.


@pytest.fixture(scope="module")
def screened(tmp_path_factory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    folder = tmp_path_factory.mktemp("screened")
    (folder / "hay.toml").write_text(JOB, encoding="utf-8")
    return folder, started("screen", str(folder / "hay.toml"))


def test_the_whole_way_from_a_job_to_a_result(screened) -> None:
    folder, ended = screened
    assert (ended.returncode, ended.stderr) == (0, "")
    out = folder / "hay-result"
    summary = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    rows = (out / "kits.csv").read_text(encoding="utf-8").splitlines()
    assert summary["totals"]["legal"] == len(rows) - 1 > 0
    assert "hay-lorry+lever-62+" in rows[1]
    assert "Hay lorry" in (out / "report.html").read_text(encoding="utf-8")


def test_the_same_from_python(screened, tmp_path) -> None:
    folder, _ = screened
    found = fitcheck.screen(folder / "hay.toml")
    frame = found.to_frame()
    rows = (folder / "hay-result" / "kits.csv").read_text(encoding="utf-8").splitlines()
    assert list(frame.columns) == rows[0].split(",")
    assert len(frame) == len(rows) - 1
    assert fitcheck.load_catalog(DEMO / "catalog").complete
    assert fitcheck.load_profile("default").rules
    assert fitcheck.load_job(folder / "hay.toml").name == "hay"


def test_the_count_is_that_of_the_screening(screened) -> None:
    folder, _ = screened
    ended = started("count", str(folder / "hay.toml"))
    legal = json.loads((folder / "hay-result" / "summary.json").read_text(encoding="utf-8"))["totals"]["legal"]
    assert ended.returncode == 0
    assert ended.stdout.splitlines()[-1].split() == ["all", str(legal)]


def test_nothing_heavy_is_loaded_before_it_is_needed(tmp_path) -> None:
    """A wrong word must not wait for number crunching to load; a gate must not load what reports and notebooks need."""

    def loaded(*arguments: str) -> set[str]:
        code = f"import sys, fitcheck.cli as c; c.run({list(arguments)}); print(*sys.modules, file=sys.stderr)"
        ended = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
        return set(ended.stderr.split())

    assert not {"numpy", "pandas", "pint", "rich", "jinja2", "jsonschema"} & loaded("--help")
    frozen = tomli.loads((DEMO / "bundles" / "hay-lorry.toml").read_text("utf-8"))
    kit = "+".join(frozen["parts"][family] for family in TRAINS[frozen["train"]])
    for command in (
        ("check", str(DEMO)),
        ("judge", str(DEMO / "bundles")),
        ("bundle", str(DEMO / "job.toml"), kit, "--to", str(tmp_path / "kit.toml")),
    ):
        assert not {"pandas", "pint", "rich", "jinja2", "jsonschema", "tomli", "tree_sitter"} & loaded(*command), command
    assert (tmp_path / "kit.toml").exists()


@pytest.mark.parametrize("colour", [{}, {"NO_COLOR": "1"}, {"FORCE_COLOR": "1"}])
def test_no_colour_and_no_progress_where_there_is_no_terminal(colour: dict[str, str]) -> None:
    ended = started("check", str(DEMO), environment=colour)
    assert ended.returncode == 0
    assert "\x1b" not in ended.stdout + ended.stderr


def test_a_narrow_encoding_shows_escapes_and_does_not_fail(tmp_path) -> None:
    path = tmp_path / "own.toml"
    path.write_text('[disc."Сухий"]\nname = "Брід"\n', encoding="utf-8")
    ended = started("check", str(path), environment={"PYTHONIOENCODING": "latin-1"})
    assert ended.returncode == 1
    assert "\\u0421" in ended.stdout


def test_results_that_cannot_be_written_to_stdout_are_4() -> None:
    with Path(os.devnull).open() as only_to_read:
        ended = started("check", str(DEMO), stdout=only_to_read)
    assert ended.returncode == 4
    assert ended.stderr.count("\n") == 1


def test_a_reader_that_went_away_is_141_in_silence() -> None:
    reader, writer = os.pipe()
    os.close(reader)
    ended = started("--help", stdout=writer)
    os.close(writer)
    assert (ended.returncode, ended.stderr) == (141, "")


@pytest.mark.parametrize(("sent", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_a_signal_ends_the_program_with_its_own_code(sent: signal.Signals, code: int) -> None:
    """128 and the number of the signal, as shells report it (POSIX.1-2017, XCU 2.8.2)."""
    script = (
        "import signal, sys, time, fitcheck.cli as cli, fitcheck.inputs as inputs\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"  # a shell's job in the background starts deaf to it
        "def wait(path):\n    print('ready', file=sys.stderr, flush=True)\n    time.sleep(600)\n"
        "inputs.read_job = wait\ncli.main(['count', 'job.toml'])\n"
    )
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    with subprocess.Popen([sys.executable, "-c", script], cwd=ROOT, text=True, **pipes) as running:
        assert running.stderr.readline() == "ready\n"
        running.send_signal(sent)
        out, err = running.communicate(timeout=300)
    assert (running.returncode, out, err) == (code, "", "fitcheck: stopped\n")


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        ([(0.0, 0), (9.9, 1000), (10.0, 1000), (20.0, 5000)], "takes about 28 hours"),  # 100 a second of 10 000 000
        ([(0.0, 9_000_000), (10.0, 9_001_000)], "takes about 3 hours"),  # an earlier run tells nothing about the pace
        ([(0.0, 0), (10.0, 1)], "takes about 3 years"),
        ([(0.0, 0), (10.0, 50)], "takes about 23 days"),
        ([(0.0, 0), (9.9, 1)], ""),  # the pace is not known yet
        ([(0.0, 0), (10.0, 100_000)], ""),  # a quarter of an hour is nothing to speak of
        ([(0.0, 10_000_000)], ""),
    ],
)
def test_a_wait_of_hours_is_said_once(steps: list[tuple[float, int]], said: str) -> None:
    told: list[str] = []
    moments = iter([seconds for seconds, _ in steps])
    patience = Patience(told.append, lambda: next(moments))
    for _, done in steps:
        patience(done, 10_000_000)
    assert len(told) == bool(said)
    assert all(said in line and line.startswith("10 000 000 legal kits: ") for line in told)

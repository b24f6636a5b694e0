"""What did the person ask for? Options become one call, and its outcome an exit code; nothing else happens here."""

from __future__ import annotations

import gc
import io
import os
import shlex
import signal
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from shutil import which
from typing import TYPE_CHECKING, Any, NoReturn

import click

from fitcheck.commands.bundles import bundle, judge
from fitcheck.commands.changes import changes, impact
from fitcheck.commands.compare import compare
from fitcheck.commands.gates import gate_options, known, tell
from fitcheck.commands.reasons import reasons
from fitcheck.commands.shell import Program, WithExamples, Word, outcome, progress_bar, say, say_findings, show
from fitcheck.errors import Exit, InputError, OutputError, UsageError
from fitcheck.version import VERSION

if TYPE_CHECKING:
    from fitcheck.gates.gate import Level
    from fitcheck.inputs import Inputs

INTERRUPTED, PIPE_CLOSED, TERMINATED = 130, 141, 143

EXIT_CODES = """Exit codes: 0 finished, nothing wrong; 1 finished, something is (a fault in a file, a rejected bundle, an
application without a passing kit where the job needs one); 2 wrong usage; 3 incomplete (something could not be read, or
there was nothing to check); 4 could not finish; 130, 141, 143 stopped. Results go to stdout, everything else to stderr."""


class Stopped(BaseException):
    """Somebody asked the program to end."""


def command(short: str, *examples: str) -> Callable[[Callable[..., int]], click.Command]:
    """A command of the program, with a few words for the list of commands and its examples."""
    return program.command(cls=WithExamples, short_help=short, examples=examples)


@click.group(
    cls=Program,
    examples=(
        "fitcheck demo                          an invented catalog, screened: start here",
        "fitcheck check catalog profile.toml    are the files in order?",
        "fitcheck count job.toml                how many kits are legal?",
        "fitcheck screen job.toml               judge and rank every legal kit",
        "fitcheck reasons job.toml KIT          why is this kit judged so, and what would mend it?",
        "fitcheck compare job.toml KIT KIT      what differs between these kits?",
        "fitcheck judge bundles                 are the kits that were frozen still good?",
    ),
    epilog=EXIT_CODES,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(VERSION, prog_name="fitcheck")
def program() -> None:
    """Which hydraulic clutch release kits fit a vehicle, what they do, and which are best: with reasons.

    A screening aid computed from catalog figures; not an approval. Follow the makers' instructions and local law.
    """


@command("look at an invented example", "fitcheck demo", "fitcheck demo try-it")
@click.argument("folder", type=click.Path(path_type=Path), default=Path("fitcheck-demo"))
def demo(folder: Path) -> int:
    """Copy the invented demo to FOLDER (fitcheck-demo), screen it and say what to type next.

    Twice is fine: unchanged demo files are used again, changed ones are kept.
    """
    from fitcheck.demo import copy_demo
    from fitcheck.inputs import read_job
    from fitcheck.report.text import demo_lines

    copied = copy_demo(folder)
    inputs = read_job(copied.job)
    result, written, code = _screened(inputs, _result_folder(inputs, None))
    show(demo_lines(result, copied, written, called()))
    return code


@command("look for faults in files", "fitcheck check catalog", "fitcheck check catalog profile.toml job.toml --format sarif")
@click.argument("paths", metavar="PATH...", nargs=-1, required=True, type=click.Path(path_type=Path))
@gate_options
@click.option("--kits", is_flag=True, help="Judge all legal kits of the jobs too: rules that never decide or are never met.")
@click.option("--accepted", type=click.Path(path_type=Path), help="File of known findings: only others fail.")
@click.option("--accept", metavar="REASON", help="Write all that fails into the file of --accepted, with this reason.")
def check(
    paths: tuple[Path, ...], form: str, fail_at: Level, most: int | None, kits: bool, accepted: Path | None, accept: str | None
) -> int:
    """Are these files well-formed and consistent? PATH is a catalog, profile or job, or a folder of them."""
    from fitcheck.gates.check import check_paths
    from fitcheck.inputs import DIMENSIONS

    if not kits:
        gc.disable()  # all that is read is told, and stays until then
    gate = replace(check_paths(paths, DIMENSIONS, kits), level=fail_at)
    return tell(known(gate, accepted, accept), form, most)


@command("count the legal kits", "fitcheck count job.toml")
@click.argument("job", type=click.Path(path_type=Path))
def count(job: Path) -> int:
    """How many legal kits JOB has, by application and train, before anything is evaluated."""
    from fitcheck.inputs import read_job
    from fitcheck.report.text import count_lines

    inputs = read_job(job)
    counts = inputs.count()
    say_findings(inputs.findings)
    show(count_lines(counts))
    legal: dict[str, int] = {}
    for (application, _), number in counts.items():
        legal[application] = legal.get(application, 0) + number
    missing = inputs.job.need_pass and not all(legal.values())
    return outcome(inputs.findings, inputs.complete, sum(legal.values()), missing)


@command("judge and rank every legal kit", "fitcheck screen job.toml", "fitcheck screen job.toml --out results/spring")
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the result; left out: NAME-result beside the job.")
def screen(job: Path, out: Path | None) -> int:
    """Judge and rank every legal kit of JOB: kits.csv, report.html and summary.json.

    The files are written beside their places and renamed when whole. A run that was stopped goes on where it was, as long
    as its inputs are the same.
    """
    from fitcheck.inputs import read_job
    from fitcheck.report.text import screen_lines

    inputs = read_job(job)
    result, written, code = _screened(inputs, _result_folder(inputs, out))
    show(screen_lines(result, written))
    return code


program.add_command(reasons)
program.add_command(compare)
program.add_command(bundle)
program.add_command(judge)
program.add_command(impact)
program.add_command(changes)


@command("show the effective profile", "fitcheck rules profile.toml", "fitcheck rules default --format json")
@click.argument("profile")
@click.option("--format", "form", type=Word(("text", "json")), default="text", show_default=True, help="How it is written.")
def rules(profile: str, form: str) -> int:
    """The effective PROFILE after all that it extends, each value with the file and line that it comes from.

    PROFILE is a file, or default for the shipped one. The text can itself be used as a profile.
    """
    from fitcheck.effective import effective
    from fitcheck.inputs import DIMENSIONS
    from fitcheck.report.rules import rules_json, rules_lines

    found = effective(profile, DIMENSIONS)
    say_findings(found.findings)
    show(rules_lines(found) if form == "text" else [rules_json(found).rstrip()])
    return Exit.FINE


def _result_folder(inputs: Inputs, out: Path | None) -> Path:
    """Where the result goes unless the person says otherwise."""
    return out if out is not None else inputs.job.path.parent / f"{inputs.job.name}-result"


def _screened(inputs: Inputs, folder: Path) -> tuple[Any, tuple[Path, ...], int]:
    """Screen and write; findings go to stderr."""
    from fitcheck.report.files import write_result
    from fitcheck.report.words import plain

    unfinished = inputs.unfinished(folder)
    if unfinished.said:
        say(plain(unfinished.said))
    with progress_bar() as progress:
        result = inputs.screen(progress, unfinished)
    say_findings(result.findings)
    written = write_result(result, folder)
    unfinished.remove()
    passing = {application: 0 for application, _ in result.legal}
    for (application, _), counts in result.verdicts.items():
        passing[application] = passing.get(application, 0) + counts[0]
    missing = inputs.job.need_pass and not all(passing.values())
    return result, written, outcome(result.findings, result.complete, sum(result.legal.values()), missing)


def called() -> str:
    """What to type to reach this very program again from here."""
    script = Path(sys.executable).with_name("fitcheck.exe" if os.name == "nt" else "fitcheck")
    if script.exists():
        found = which("fitcheck")
        return "fitcheck" if found and Path(found).resolve() == script.resolve() else _near(script)
    return f"{_near(Path(sys.executable))} -m fitcheck"


def _near(path: Path) -> str:
    """The path as seen from here, where that is the shorter way."""
    inside = path.is_relative_to(Path.cwd())
    return shlex.quote(str(path.relative_to(Path.cwd()) if inside else path))


def main(arguments: Sequence[str] | None = None) -> NoReturn:
    """The program: runs, and ends with an exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a narrow terminal shows an escape instead of failing
    signal.signal(signal.SIGTERM, _stop)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # nothing here multiplies matrices: threads for it would only be started
    gc.set_threshold(100_000, 50, 50)  # a catalog is a million small things that stay; looking through them again finds nothing
    code = run(sys.argv[1:] if arguments is None else list(arguments))
    try:
        _flush()
    except (OSError, OutputError):
        # Or the interpreter would try once more on its way out, fail, and end with a code of its own.
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    sys.exit(code)


def _flush() -> None:
    """Everything shown has reached its reader, or an error says that it has not."""
    if sys.stdout is None:
        raise OutputError("there is no standard output to write to")
    sys.stdout.flush()


def _stop(*_: object) -> NoReturn:
    raise Stopped


def run(arguments: list[str]) -> int:
    """Run one command and turn whatever happens into an exit code and at most one clear message."""
    try:
        code = _invoke(arguments)
        _flush()
        return code
    except BrokenPipeError:
        return PIPE_CLOSED
    except KeyboardInterrupt:
        return _told(INTERRUPTED, "stopped")
    except Stopped:
        return _told(TERMINATED, "stopped")
    except InputError as error:
        say_findings(error.findings)
        return Exit.INCOMPLETE
    except UsageError as error:
        return _told(Exit.USAGE, str(error))
    except OutputError as error:
        return _told(Exit.COULD_NOT, str(error))
    except OSError as error:
        return _told(Exit.COULD_NOT, f"could not finish: {error}")
    except MemoryError:
        return _told(Exit.COULD_NOT, "could not finish: out of memory; screen fewer applications or parts at a time")
    except Exception as error:  # our own fault: one line, since a trace of our lines helps nobody who screens kits
        return _told(Exit.COULD_NOT, f"could not finish, and that is a fault of fitcheck itself: {type(error).__name__}: {error}")


def _told(code: int, message: str) -> int:
    with suppress(OSError):
        say(f"fitcheck: {message}")
    return code


def _invoke(arguments: list[str]) -> int:
    """What click's own `main` does, but for its habit of turning every stop into a 1."""
    try:
        with program.make_context("fitcheck", arguments) as context:
            return int(program.invoke(context) or 0)
    except click.exceptions.Exit as end:
        return end.exit_code
    except click.ClickException as error:
        error.show()
        return error.exit_code

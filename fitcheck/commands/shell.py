"""How the program speaks: help that leads with examples, wrong words answered with the right ones, lines, exit codes."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from difflib import get_close_matches
from time import monotonic
from typing import TYPE_CHECKING, Any

import click

from fitcheck.errors import Exit, Finding
from fitcheck.quantities import quoted

if TYPE_CHECKING:
    from fitcheck.inputs import Progress

PACE = 10.0  # s after which the pace of a screening is known well enough
LONG = 3600.0  # s that a person may wait for without being told
YEAR = 365.25 * 86400.0  # s
_UNITS = (("years", YEAR), ("days", 86400.0), ("hours", 3600.0))


class WithExamples(click.Command):
    """A command whose help leads with examples."""

    def __init__(self, *arguments: Any, examples: Sequence[str] = (), **options: Any) -> None:
        """Keep the examples beside what click knows."""
        super().__init__(*arguments, **options)
        self.examples = examples

    def format_help(self, context: click.Context, formatter: click.HelpFormatter) -> None:
        """Examples, then what click writes."""
        with formatter.section("Examples"):
            formatter.write("".join(f"{'':{formatter.current_indent}}{line}\n" for line in self.examples))
        formatter.write_paragraph()
        super().format_help(context, formatter)


class Program(WithExamples, click.Group):
    """The commands by the order in which they are met; a wrong one gets the nearest right one."""

    def list_commands(self, context: click.Context) -> list[str]:
        """In the order in which they were added."""
        return list(self.commands)

    def resolve_command(self, context: click.Context, args: list[str]) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command, or say which one was probably meant."""
        if args[0] not in self.commands and not args[0].startswith("-"):
            context.fail(f"There is no command {quoted(args[0])}. {nearest(args[0], self.commands)}")
        return super().resolve_command(context, args)


class Word(click.Choice[str]):
    """One of a few words; a wrong one gets the nearest right one."""

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """The word itself, or a failure that helps."""
        words = [str(choice) for choice in self.choices]
        if value not in words:
            self.fail(f"There is no {quoted(value)} here. {nearest(value, words)}", param, ctx)
        return value


def nearest(wrong: str, right: Iterable[str]) -> str:
    """Which word was probably meant, or all that there are."""
    known = list(right)
    close = get_close_matches(wrong.lower(), known, n=1, cutoff=0.5)
    return f"Did you mean {quoted(close[0])}?" if close else f"There are: {', '.join(known)}."


def outcome(findings: Iterable[Finding], complete: bool, seen: int, missing: bool) -> int:
    """The exit code: incomplete, or nothing seen at all, wins over a fault, and a fault over nothing."""
    if not complete or not seen:
        return Exit.INCOMPLETE
    return Exit.FAILED if missing or any(finding.severity == "error" for finding in findings) else Exit.FINE


def show(lines: Iterable[str]) -> None:
    """Results, on stdout."""
    click.echo("\n".join(lines))


def say(line: str) -> None:
    """Everything else, on stderr."""
    click.echo(line, err=True)


def say_findings(findings: Iterable[Finding]) -> None:
    """One line a finding."""
    from fitcheck.report.words import plain

    for finding in sorted(findings):
        say(plain(str(finding)))


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """A bar on stderr, where that is a terminal; it goes away when done. A wait of hours is said wherever stderr leads."""
    if not sys.stderr.isatty():
        yield Patience(say)
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("Judging kits"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=None)
        patience = Patience(lambda line: bar.console.print(line, markup=False, highlight=False))

        def show_progress(done: int, total: int) -> None:
            patience(done, total)
            bar.update(task, completed=done, total=total)

        yield show_progress


class Patience:
    """Says once, as soon as the pace is known, that a screening takes longer than somebody would wait for."""

    def __init__(self, tell: Callable[[str], None], clock: Callable[[], float] = monotonic) -> None:
        """`tell` is given the line."""
        self._tell = tell
        self._clock = clock
        self._start: tuple[float, int] | None = None
        self._told = False

    def __call__(self, done: int, total: int) -> None:
        """So many kits are judged of so many; what an earlier run had judged tells nothing about the pace of this one."""
        now = self._clock()
        start, before = self._start = self._start or (now, done)
        passed = now - start
        if self._told or passed < PACE:
            return
        self._told = True
        left = passed * (total - done) / (done - before) if done > before else 0.0
        if left > LONG:
            from fitcheck.report.words import counted

            kits = counted(total, "legal kit")
            self._tell(
                f"{kits}: at this pace, judging them takes {_duration(left)}. "
                "To have fewer, name applications, trains, only or leave_out in the job."
            )


def _duration(seconds: float) -> str:
    """The largest unit of which there are two or more, in whole numbers; centuries are all the same."""
    if seconds > 100 * YEAR:
        return "centuries"
    name, size = next((each for each in _UNITS if seconds >= 2 * each[1]), ("minutes", 60.0))
    return f"about {seconds / size:.0f} {name}"

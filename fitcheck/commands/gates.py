"""What the gates have in common: the options that each of them has, accepted findings, and how they tell what they found."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fitcheck.commands.shell import Word, outcome, say, show
from fitcheck.errors import UsageError

if TYPE_CHECKING:
    from fitcheck.gates.gate import Gate

FORMS = ("text", "json", "sarif", "junit")


def gate_options(command: Callable[..., int]) -> Callable[..., int]:
    """The options of every gate: `form`, `fail_at` and `most`."""
    told = "Findings written of each kind of problem (10 as text, else 200)."
    for option in (
        click.option("--most", type=click.IntRange(1), help=told),
        click.option(
            "--fail-at", type=Word(("error", "caution")), default="error", show_default=True, help="What gives exit code 1."
        ),
        click.option("--format", "form", type=Word(FORMS), default="text", show_default=True, help="How findings are written."),
    ):
        command = option(command)
    return command


def tell(gate: Gate, form: str, most: int | None) -> int:
    """Write what a gate has to say, in one of the formats; the exit code."""
    from fitcheck.report.findings import FORMATS, MOST

    code = outcome((), gate.complete, len(gate.read), bool(gate.failing))
    show([FORMATS[form](gate, code, most or MOST[form]).rstrip("\n")])
    return code


def known(gate: Gate, path: Path | None, reason: str | None) -> Gate:
    """The gate with the findings that a file accepts; with a reason, that file is written first."""
    if path is None:
        if reason is not None:
            raise UsageError("--accept writes into the file that --accepted names; name one")
        return gate
    from fitcheck.gates.accepted import accept, load_accepted, with_accepted

    if reason is not None:
        from fitcheck.report.files import write_whole
        from fitcheck.report.words import plain

        if not reason.strip() or plain(reason) != reason or any("\ud800" <= letter <= "\udfff" for letter in reason):
            raise UsageError("--accept takes a reason: one line of text that says why these findings are accepted")
        text = accept(gate, reason, load_accepted(path) if path.exists() else None)
        write_whole(path.parent, {path.name: lambda stream: stream.write(text)})
        say(f"Written: {plain(str(path))}")
    return with_accepted(gate, load_accepted(path))

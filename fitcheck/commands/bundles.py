"""Commands about chosen kits: freezing one, and judging frozen ones."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fitcheck.commands.gates import gate_options, tell
from fitcheck.commands.shell import WithExamples, outcome, say_findings, show
from fitcheck.quantities import quoted

if TYPE_CHECKING:
    from fitcheck.gates.gate import Level


def day(text: str) -> date:
    """A day of the calendar, or a failure that shows how one is written."""
    try:
        found = date.fromisoformat(text)
        if found.isoformat() != text:  # the other ways of the standard to write a day: files take none of them either
            raise ValueError
        return found
    except ValueError:
        raise click.BadParameter(f"{quoted(text)} is no day. Write one such as 2027-03-31.") from None


@click.command(
    cls=WithExamples,
    short_help="freeze a chosen kit",
    examples=("fitcheck bundle job.toml my-car+long+valley-19+braided+amber+slim+light+soft --to bundles/my-car.toml",),
)
@click.argument("job", type=click.Path(path_type=Path))
@click.argument("kit")
@click.option("--to", required=True, metavar="FILE", type=click.Path(path_type=Path), help="The bundle file to write.")
def bundle(job: Path, kit: str, to: Path) -> int:
    """Freeze KIT of JOB in a file: its parts, what their entries say today, and the figures that they give.

    KIT is the name that stands in kits.csv. Waivers that an earlier bundle of the same kit holds are kept.
    """
    from fitcheck.bundles.freezing import freeze
    from fitcheck.inputs import read_job
    from fitcheck.report.files import write_whole
    from fitcheck.report.judgement import freeze_lines

    inputs = read_job(job)
    say_findings(inputs.findings)
    freezing = freeze(inputs, kit, to)
    written = write_whole(to.parent, {to.name: lambda stream: stream.write(freezing.text)}) if freezing.text else ()
    show(freeze_lines(freezing, to if written else None, inputs.catalog.complete))
    return outcome((), inputs.catalog.complete, 1, freezing.rejected)  # names that lead nowhere concern other kits


@click.command(
    cls=WithExamples,
    short_help="judge frozen kits anew",
    examples=("fitcheck judge bundles/my-car.toml", "fitcheck judge bundles --on 2027-03-31 --format sarif"),
)
@click.argument("bundles", metavar="BUNDLE.toml...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--on", metavar="DATE", type=day, help="The day on which waivers are judged; left out: today.")
@gate_options
def judge(bundles: tuple[Path, ...], on: date | None, form: str, fail_at: Level, most: int | None) -> int:
    """Are these frozen kits still good? Each is judged by its own profile and catalogs. A folder stands for its bundles; files
    of another kind in it are passed over.

    A rejected kit is an error; a caution is one too with --fail-at caution. What may be broken for a while is said in the
    bundle itself, as a waiver with an owner and a last day. Of the figures of a kit that moved the weightiest are told, those
    that rules judge first: 5 of them, or as many as --most says.
    """
    from fitcheck.bundles.judging import judge_files
    from fitcheck.report.judgement import judge_gate

    return tell(judge_gate(judge_files(bundles, date.today() if on is None else on), fail_at, most), form, most)

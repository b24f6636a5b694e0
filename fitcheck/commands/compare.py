"""Kits side by side, and which train suits a vehicle."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fitcheck.commands.shell import WithExamples, outcome, progress_bar, say_findings, show
from fitcheck.errors import UsageError

if TYPE_CHECKING:
    from fitcheck.inputs import Inputs


@click.command(
    cls=WithExamples,
    short_help="hold kits, or the two trains, side by side",
    examples=(
        "fitcheck compare job.toml my-car+long+valley-19+... my-car+long+valley-21+...",
        "fitcheck compare job.toml my-car    external slave or concentric cylinder?",
    ),
)
@click.argument("job", type=click.Path(path_type=Path))
@click.argument("names", metavar="KIT KIT... | APPLICATION", nargs=-1, required=True)
def compare(job: Path, names: tuple[str, ...]) -> int:
    """What differs between two to four kits of JOB; or, for one APPLICATION, its best external kit beside its best concentric.

    KIT is the name that stands in kits.csv. Kits need not pass. A train is chosen by the order in which kits are ranked,
    with all that speaks for either side; there is no score. Nothing is written.
    """
    from fitcheck.inputs import read_job

    inputs = read_job(job)
    say_findings(inputs.findings)
    if len(names) == 1 and "+" not in names[0]:
        return _trains(inputs, names[0])
    alone = [name for name in names if "+" not in name]
    if alone and alone[0] in [part.id for part in inputs.catalog.families.get("application", ())]:
        raise UsageError(f"An application stands by itself: fitcheck compare JOB {alone[0]} holds its two trains side by side.")
    return _kits(inputs, names)


def _kits(inputs: Inputs, names: tuple[str, ...]) -> int:
    from fitcheck.compare.kits import compare_kits
    from fitcheck.report.compare import kits_lines
    from fitcheck.report.words import unless_complete

    found = compare_kits(inputs, names)
    show((*unless_complete(inputs.complete), *kits_lines(found)))
    return outcome((), inputs.catalog.complete, len(found.kits), found.legal < len(found.kits))


def _trains(inputs: Inputs, application: str) -> int:
    from fitcheck.compare.trains import choose
    from fitcheck.report.choice import trains_lines
    from fitcheck.report.words import unless_complete

    with progress_bar() as progress:
        result, found = choose(inputs, application, progress)
    show((*unless_complete(result.complete), *trains_lines(result, found)))
    missing = inputs.job.need_pass and not any(side.passes for side in found.sides)
    return outcome((), result.complete, sum(result.legal.values()), missing)

"""Commands about what changes: a catalog before and after, and two results."""

from __future__ import annotations

from pathlib import Path

import click

from fitcheck.commands.shell import WithExamples, outcome, progress_bar, say, say_findings, show
from fitcheck.errors import UsageError


@click.command(
    cls=WithExamples,
    short_help="tell what a changed catalog changes",
    examples=("fitcheck impact job.toml new-slaves.toml", "fitcheck impact job.toml --without old-slave"),
)
@click.argument("job", type=click.Path(path_type=Path))
@click.argument("new", metavar="NEW...", nargs=-1, type=click.Path(path_type=Path))
@click.option("--without", metavar="ID", multiple=True, help="An entry to take away: its id, or FAMILY.ID; may be repeated.")
def impact(job: Path, new: tuple[Path, ...], without: tuple[str, ...]) -> int:
    """What entries in NEW change for the kits of JOB: entries are new, or replace those of the same family and id.

    Kits that come, go and flip, best kits, vehicles that get their first passing kit or lose their last, and old parts that
    a new one betters on every count. Nothing is written, so that it may be stopped at any time.
    """
    from fitcheck.changes.impact import impact as impact_of
    from fitcheck.changes.overlay import read_change
    from fitcheck.report.impact import impact_lines

    change = read_change(job, new, without)
    say_findings(change.findings)
    with progress_bar() as progress:
        found = impact_of(change, progress)
    legal = sum((*change.before.count().values(), *change.after.count().values()))
    if not legal:
        say("The job has no legal kit, before or after: nothing was compared.")
    show(impact_lines(found, change.complete))
    return outcome(change.unmended, change.complete, legal, change.after.job.need_pass and bool(found.missed))


@click.command(
    cls=WithExamples,
    short_help="compare two results",
    examples=("fitcheck changes spring-result autumn-result", "fitcheck changes old new --tolerance 0.001"),
)
@click.argument("old", type=click.Path(path_type=Path))
@click.argument("new", type=click.Path(path_type=Path))
@click.option(
    "--tolerance", type=click.FloatRange(0, 1), default=1e-6, show_default=True, help="Share by which a figure may differ."
)
@click.option("--most", type=click.IntRange(0), default=20, show_default=True, help="Kits shown of each kind; 0 shows all.")
def changes(old: Path, new: Path, tolerance: float, most: int) -> int:
    """What differs between two result folders, kit by kit, and why: entry, rule, fit, assumption, job or program version."""
    from fitcheck.changes.result_folder import read_result
    from fitcheck.changes.results import changes as changes_of
    from fitcheck.report.changes import changes_lines

    if tolerance != tolerance:
        raise UsageError("--tolerance must be a number from 0 to 1")
    found = changes_of(read_result(old), read_result(new), tolerance)
    show(changes_lines(found, most))
    return outcome((), found.complete, found.seen, found.need_pass and bool(found.missed))

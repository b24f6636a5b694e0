"""The command that answers why."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fitcheck.commands.shell import WithExamples, outcome, progress_bar, say_findings, show
from fitcheck.errors import UsageError
from fitcheck.quantities import quoted

if TYPE_CHECKING:
    from fitcheck.inputs import Inputs
    from fitcheck.reasons.chain import Chain
    from fitcheck.reasons.standing import Standing

KIT = "my-car+long+valley-19+braided+amber+slim+light+soft"


@click.command(
    cls=WithExamples,
    short_help="tell why a kit is judged so, or why a vehicle has none",
    examples=(
        f"fitcheck reasons job.toml {KIT}",
        f"fitcheck reasons job.toml {KIT} release_margin",
        "fitcheck reasons job.toml my-car    why has it no kit?",
    ),
)
@click.argument("job", type=click.Path(path_type=Path))
@click.argument("kit", metavar="KIT | APPLICATION")
@click.argument("metric", required=False)
def reasons(job: Path, kit: str, metric: str | None) -> int:
    """How the verdict on KIT of JOB came about, down to the lines of the catalog, and what change, or what two, would mend it.

    KIT is the name that stands in kits.csv. With a METRIC, the whole tree of that figure: it is named as in kits.csv without
    its unit, or as a tree names it. With an APPLICATION in place of a kit: why it has none that passes, and what is missing.
    """
    from fitcheck.inputs import read_job

    inputs = read_job(job)
    say_findings(inputs.findings)
    if "+" in kit:
        return _kit(inputs, kit, metric)
    if metric is not None:
        raise UsageError(f"A figure is one of a kit: name a kit, such as {KIT}, in place of {quoted(kit)}.")
    return _application(inputs, kit)


def _kit(inputs: Inputs, kit: str, metric: str | None) -> int:
    from fitcheck.engine.variants import Bench
    from fitcheck.kit_names import find_kit
    from fitcheck.reasons.chain import Chain
    from fitcheck.reasons.standing import stand
    from fitcheck.report.outline import fitted
    from fitcheck.report.words import AID, plain, unless_complete

    chain = Chain(Bench(inputs.catalog, inputs.profile, inputs.job, *find_kit(kit, inputs.catalog, inputs.job)))
    if metric is not None:
        _known(metric, chain)
    standing = stand(chain)
    lines = _whole(chain, standing) if metric is None else _one(chain, standing, metric)
    show(map(plain, fitted((*lines, *unless_complete(inputs.complete), AID))))
    return outcome((), inputs.catalog.complete, 1, standing.rejected)


def _application(inputs: Inputs, application: str) -> int:
    from fitcheck.reasons.no_kit import no_kit_of
    from fitcheck.report.no_kit import no_kit_lines

    with progress_bar() as progress:
        found = no_kit_of(inputs, application, progress)
    show(no_kit_lines(found))
    missing = inputs.job.need_pass and not found.passes
    return outcome((), found.complete, sum(found.result.legal.values()), missing)


def _known(metric: str, chain: Chain) -> None:
    """Raise UsageError, with the nearest right names, where the kit has no such quantity."""
    from difflib import get_close_matches

    if metric not in chain.names:
        close = get_close_matches(metric.lower(), chain.names, 3, 0.5)
        meant = f"Did you mean {' or '.join(close)}?" if close else "The figures are the columns of kits.csv without their units."
        raise UsageError(f"There is no figure {quoted(metric)}. {meant}")


def _whole(chain: Chain, standing: Standing) -> Iterator[str]:
    """Verdict, broken rules, what would mend them, the short trees behind them, what moves the kit most, the other rules."""
    from fitcheck.engine.states import PASS
    from fitcheck.reasons.explained import traced
    from fitcheck.reasons.remedies import remedies_of
    from fitcheck.reasons.sensitivity import sensitivity
    from fitcheck.reasons.standing import BROKEN, NEEDED, UNKNOWN
    from fitcheck.report.chain import footing_lines, kept_lines, rule_lines, short_lines, verdict_lines
    from fitcheck.report.remedies import remedy_lines
    from fitcheck.report.sensitivity import sensitivity_lines

    yield from verdict_lines(standing)
    yield from _headed("Rules that are broken, or lack their figure:", rule_lines(standing.rules, (BROKEN, UNKNOWN, NEEDED)))
    yield from _headed("", footing_lines(standing.footing))
    remedies = remedies_of(chain.bench)
    if remedies.verdict != PASS:
        yield from _headed("What would mend it:", (f"  {line}" for line in remedy_lines(remedies, chain.bench.profile)))
    told: set[tuple[str, str, str]] = set()
    trees = (short_lines(figure.tree, figure.leaves, told) for figure in traced(chain, standing))
    yield from _headed("How the figures in question come about:", (f"  {line}" for lines in trees for line in lines))
    if standing.table is not None:  # what is not legal is not evaluated anew
        yield from _headed("", sensitivity_lines(sensitivity(chain)))
    yield from _headed("Rules that are kept, the nearest to its bound first:", kept_lines(standing.rules))
    yield ""


def _one(chain: Chain, standing: Standing, metric: str) -> Iterator[str]:
    """The kit, the rules on the figure, and its whole tree."""
    from fitcheck.report.chain import rule_lines, tree_lines, verdict_lines

    yield from verdict_lines(standing)
    yield from _headed(f"Rules on {metric}:", rule_lines(rule for rule in standing.rules if rule.metric == metric))
    yield from _headed("", tree_lines(chain.tree(metric), set()))
    yield ""


def _headed(title: str, lines: Iterator[str]) -> Iterator[str]:
    """A paragraph with a blank line and its title before it; nothing where it has no lines."""
    told = list(lines)
    if told:
        yield from ("", *((title,) if title else ()), *told)

"""The command that answers why."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from fitcheck.errors import UsageError
from fitcheck.shell import WithExamples, outcome, say_findings, show

if TYPE_CHECKING:
    from fitcheck.inputs import Inputs
    from fitcheck.reasons.chain import Chain
    from fitcheck.reasons.standing import Standing

LEVELS = 2  # of the trees that are told beside a verdict
KIT = "my-car+long+valley-19+braided+amber+slim+light+soft"


@click.command(
    cls=WithExamples,
    short_help="why is a kit judged so?",
    examples=(f"fitcheck reasons job.toml {KIT}", f"fitcheck reasons job.toml {KIT} release_margin"),
)
@click.argument("job", type=click.Path(path_type=Path))
@click.argument("kit")
@click.argument("metric", required=False)
def reasons(job: Path, kit: str, metric: str | None) -> int:
    """How the verdict on KIT of JOB came about, rule by rule, down to the lines of the catalog; or the whole tree of one METRIC.

    KIT is the name that stands in kits.csv. METRIC is a figure of kits.csv without its unit, or any quantity that a tree names.
    """
    from fitcheck.engine.variants import Bench
    from fitcheck.inputs import read_job
    from fitcheck.kit_names import find_kit
    from fitcheck.reasons.chain import Chain
    from fitcheck.reasons.standing import stand
    from fitcheck.report.words import AID, plain

    inputs = read_job(job)
    say_findings(inputs.findings)
    if inputs.catalog.part("application", kit):
        _without_kit(inputs, kit)
    chain = Chain(Bench(inputs.catalog, inputs.profile, inputs.job, *find_kit(kit, inputs.catalog, inputs.job)))
    if metric is not None:
        _known(metric, chain)
    standing = stand(chain)
    lines = _whole(chain, standing) if metric is None else _one(chain, standing, metric)
    show(map(plain, (*lines, AID)))
    return outcome((), inputs.catalog.complete, 1, standing.rejected)


def _without_kit(inputs: Inputs, application: str) -> NoReturn:
    """What is said of an application in place of a kit."""
    raise UsageError(f"{application} is an application, not a kit. Its kits stand in the result of: fitcheck screen JOB.")


def _known(metric: str, chain: Chain) -> None:
    """Raise UsageError, with the nearest right names, where the kit has no such quantity."""
    from difflib import get_close_matches

    if metric not in chain.names:
        close = get_close_matches(metric.lower(), chain.names, 3, 0.5)
        meant = f"Did you mean {' or '.join(close)}?" if close else "The figures are the columns of kits.csv without their units."
        raise UsageError(f"There is no figure {metric!r}. {meant}")


def _whole(chain: Chain, standing: Standing) -> Iterator[str]:
    """Verdict, broken rules, the short trees behind them, what moves the kit most, what it all rests on, and the other rules."""
    from fitcheck.reasons.sensitivity import sensitivity
    from fitcheck.reasons.standing import BROKEN, KEPT, NEEDED, NOWHERE, UNKNOWN
    from fitcheck.report.chain import footing_lines, rule_lines, short_lines, verdict_lines
    from fitcheck.report.sensitivity import sensitivity_lines

    yield from verdict_lines(standing)
    yield from _headed("Rules that are broken, or lack their figure:", rule_lines(standing.rules, (BROKEN, UNKNOWN, NEEDED)))
    yield from _headed("", footing_lines(standing.footing))
    told: set[str] = set()
    leaves: set[tuple[str, str, str]] = set()
    trees = (short_lines(chain.tree(name, told, LEVELS), chain.leaves(name), leaves) for name in standing.in_question)
    yield from _headed("How the figures in question come about:", (f"  {line}" for lines in trees for line in lines))
    if standing.table is not None:  # what is not legal is not evaluated anew
        yield from _headed("", sensitivity_lines(sensitivity(chain)))
    yield from _headed("Rules that are kept, the nearest to its bound first:", rule_lines(standing.rules, (KEPT, NOWHERE)))
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

"""`report.html`: one file that needs no network, no script and no other file, fit to be sent and printed."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

from fitcheck.engine.result import Group, Result
from fitcheck.engine.states import VERDICT_WORDS
from fitcheck.engine.table import METRICS
from fitcheck.profile import ASSUMPTION_UNITS
from fitcheck.quantities import to_unit
from fitcheck.reasons.explained import Explained, explained
from fitcheck.report import view, words
from fitcheck.report.choice import SOURCE, choice_views
from fitcheck.report.explained import explained_views
from fitcheck.report.summary import findings, inputs, run_digest, totals

if TYPE_CHECKING:
    from jinja2 import Environment

ASSUMED = (
    ("air", "air left in the line after a good bleed"),
    ("ambient_pressure", "ambient pressure"),
    ("slope", "slope of the bite test"),
    ("wear_between_adjustments", "wear of the disc between two resets of the rod"),
    ("shim_count", "shims allowed in one stack"),
    ("foot_limit", "force of the whole foot against a stuck release"),
    ("warming", "warming of the fluid at rest"),
)

ALSO_ASSUMED = (
    "Figures of the catalog are taken at their nominal values.",
    "Finger travel counts from free fingers: the small give of fork and cover under a resting load is left out.",
    "Air is taken on the unsafe side each time: none where more travel harms, what bleeding leaves where less travel harms.",
    "All figures hold at the target setting. Efforts, pressures and loads are the worse of new and fully worn where "
    "the worn load of the cover is known, and say so where it is not.",
)


def page(result: Result, told: Mapping[Group, Explained] | None = None) -> str:
    """The whole page; what is to be explained of each group is found out unless it is given."""
    style, script = _asset("report.css"), _asset("report.js")
    applications = view.applications(result)
    return (
        _environment()
        .get_template("report.html.j2")
        .render(
            style=style,
            script=script,
            policy=policy(style, script),
            result=result,
            run=run_digest(result),
            totals=totals(result),
            inputs=inputs(result),
            findings=findings(result),
            title=view.title(applications),
            applications=applications,
            choices=choice_views(result),
            explained=explained_views(result, explained(result) if told is None else told),
            choice_source=SOURCE,
            assumptions=assumptions(result),
            also_assumed=ALSO_ASSUMED,
            rules=result.profile.rules,
            ranked_metrics=tuple(METRICS[name] for name in view.RANKED_METRICS),
            verdicts=VERDICT_WORDS,
            rule_use=rule_use(result),
            words=words,
        )
    )


def policy(style: str, script: str) -> str:
    """A content security policy under which only the page's own style and script run, and nothing is fetched."""
    return (
        f"default-src 'none'; script-src '{_hash(script)}'; style-src '{_hash(style)}'; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def assumptions(result: Result) -> tuple[tuple[str, str], ...]:
    """The profile's assumptions in words, with their figures."""
    values = result.profile.assumptions
    return tuple((meaning, _assumed(float(getattr(values, name)), ASSUMPTION_UNITS[name])) for name, meaning in ASSUMED)


def _assumed(value: float, unit: str) -> str:
    return f"{float(to_unit(value, unit)):.6g}" + (f" {unit}" if unit else "")


def rule_use(result: Result) -> Mapping[str, tuple[int, int]]:
    """How many legal kits break each rule, and how many it alone rejects, over all groups."""
    return {
        rule.name: (
            sum(counts.get(rule.name, 0) for counts in result.broken_by.values()),
            sum(counts.get(rule.name, 0) for counts in result.only_by.values()),
        )
        for rule in result.profile.rules
    }


def _count(number: int) -> str:
    return words.count(number, "\N{NARROW NO-BREAK SPACE}")


def _asset(name: str) -> str:
    """A template file with the same line ends everywhere: the policy hashes exact bytes."""
    return (files("fitcheck.report") / "templates" / name).read_text(encoding="utf-8").replace("\r\n", "\n")


@cache
def _environment() -> Environment:
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    environment = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        loader=FunctionLoader(_asset),
        finalize=lambda value: words.plain(value) if type(value) is str else value,  # text from files; ours is marked safe
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update({"count": _count, "sentence": words.sentence})
    return environment

"""How a kit stands: every rule with value, bound and headroom, and what the verdict rests on that nobody has measured."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from fitcheck.catalog.parts import Part
from fitcheck.engine.result import Emptied, KitTable
from fitcheck.engine.single import one_kit
from fitcheck.engine.states import ABSENT, CANNOT, NOT_GIVEN, REJECT, VALUE
from fitcheck.engine.verdict import BREAKS, applicable, headroom_of
from fitcheck.kit_names import only_these
from fitcheck.profile import Fit, Rule
from fitcheck.reasons.chain import Chain, Leaf

WEAK = ("memory", "practice", "invented")  # evidence that nobody can look up or measure again
WEAK_WORDS = ("no source", "from memory")
BROKEN, UNKNOWN, NEEDED, KEPT, NOWHERE = "broken", "cannot be computed", "not given", "kept", "does not exist"
_ORDER = (BROKEN, UNKNOWN, NEEDED, KEPT, NOWHERE)


@dataclass(frozen=True)
class RuleLine:
    """What one rule says of the kit; of a value that cannot be computed and that no rule names, there is no rule."""

    name: str
    metric: str
    kind: str  # one of the words above
    value: float | None  # SI
    headroom: float  # in the rule's scale; nan where there is no value
    rejects: bool
    rule: Rule | None
    why: tuple[str, ...] = ()  # missing fields, or why it cannot be computed

    @property
    def counts_as_lacking(self) -> bool:
        """Whether it cautions because a field is not given."""
        return self.kind == NEEDED and self.rule is not None and self.rule.not_given == "caution"


@dataclass(frozen=True)
class Footing:
    """What a verdict rests on that is remembered, assumed or made up, each with the metrics that it reaches."""

    metrics: tuple[str, ...]  # those of the limiting rule, of the broken ones and of those that lack their figure
    entries: tuple[tuple[Part, str], ...]  # with their evidence; empty where the entry gives none
    assumptions: tuple[Leaf, ...]
    rules: tuple[Rule, ...]  # whose own number has no source


@dataclass(frozen=True)
class Standing:
    """The verdict of a kit with everything that a person may ask about it at once."""

    kit: str
    table: KitTable | None  # of one row; None where the kit is not legal
    unmet: Emptied | None  # why the kit is not legal; None where it is
    fits: tuple[Fit, ...]  # those that do not meet
    rules: tuple[RuleLine, ...]  # broken ones first, then by headroom
    footing: Footing

    @property
    def rejected(self) -> bool:
        """Whether the kit cannot be used as it is."""
        return self.table is None or int(self.table.verdict[0]) == REJECT

    @property
    def in_question(self) -> tuple[str, ...]:
        """The metrics of broken rules, or of the limiting rule where none is broken, each once."""
        return self.footing.metrics


def stand(chain: Chain, known: KitTable | None = None) -> Standing:
    """Judge the kit of a chain; `known` is its row where it was judged before."""
    bench = chain.bench
    ids = {family: part.id for family, part in bench.parts.items()}
    found = known or one_kit(only_these(bench.catalog, ids), bench.profile, bench.job, bench.train)
    table, unmet = (None, found) if isinstance(found, Emptied) else (found, None)
    lines = tuple(sorted(_lines(chain), key=_worst_first))
    fits = tuple(fit for fit in bench.profile.fits if unmet and fit.name in unmet.fits)
    return Standing(
        "+".join(ids.values()), table, unmet, fits, lines, _footing(chain, lines, table.limiting_rule[0] if table else "")
    )


# --- every rule


def _lines(chain: Chain) -> Iterator[RuleLine]:
    """All rules that hold for the kit, and values that cannot be computed without a rule on them."""
    bench = chain.bench
    rules = applicable(bench.profile, bench.application.id, bench.train)
    yield from (_line(chain, rule) for rule in rules)
    ruled = {rule.metric for rule in rules}
    for name in bench.values.names:
        if name not in ruled and chain.state(name) == CANNOT:
            yield RuleLine(name, name, UNKNOWN, None, -np.inf, True, None, chain.lacking(name))


def _line(chain: Chain, rule: Rule) -> RuleLine:
    state, rejects = chain.state(rule.metric), rule.severity == "reject"
    if state != VALUE:
        kind = {ABSENT: NOWHERE, NOT_GIVEN: NEEDED, CANNOT: UNKNOWN}[state]
        strict = state == CANNOT  # what cannot be computed rejects, whatever the rule would do
        return RuleLine(rule.name, rule.metric, kind, None, np.nan, strict, rule, chain.lacking(rule.metric))
    number = np.asarray(chain.values.number(rule.metric), float).reshape(-1)[:1]
    headroom = float(headroom_of(rule, number)[0])
    kind = KEPT if headroom >= BREAKS else BROKEN
    return RuleLine(rule.name, rule.metric, kind, float(number[0]), headroom, rejects, rule)


def _worst_first(line: RuleLine) -> tuple[int, bool, float, str]:
    order = _ORDER.index(line.kind)
    strict = order < _ORDER.index(NEEDED) and not line.rejects
    return min(order, 1) if order < 2 else order, strict, 0.0 if np.isnan(line.headroom) else line.headroom, line.name


# --- what the verdict rests on


def _footing(chain: Chain, lines: Iterable[RuleLine], limiting: str) -> Footing:
    asked = [line for line in lines if line.kind in (BROKEN, UNKNOWN) or line.counts_as_lacking]
    asked += [line for line in lines if line.name == limiting and line not in asked]
    metrics = tuple(dict.fromkeys(line.metric for line in asked))
    leaves = {leaf.id: leaf for metric in metrics for leaf in chain.leaves(metric)}.values()
    rules = {rule.name: rule for rule in (*_own(asked), *_asking(chain, leaves)) if weak_source(rule.source)}
    return Footing(
        metrics,
        tuple(_entries(chain, leaves)),
        tuple(leaf for leaf in leaves if leaf.kind == "assumption"),
        tuple(rules[name] for name in sorted(rules)),
    )


def weak_source(source: str) -> bool:
    """Whether a source says itself that there is none to look up."""
    return not source or any(word in source for word in WEAK_WORDS)


def _own(lines: Iterable[RuleLine]) -> Iterator[Rule]:
    yield from (line.rule for line in lines if line.rule is not None)


def _asking(chain: Chain, leaves: Iterable[Leaf]) -> Iterator[Rule]:
    """The rules whose bounds went into a number."""
    names = {leaf.owner for leaf in leaves if leaf.kind == "rule"}
    yield from (rule for rule in chain.bench.profile.rules if rule.name in names)


def _entries(chain: Chain, leaves: Iterable[Leaf]) -> Iterator[tuple[Part, str]]:
    """The parts that the numbers rest on and whose evidence is weak, or is not told."""
    owners = dict.fromkeys(leaf.owner for leaf in leaves if leaf.kind == "field")
    linkage = chain.values.givens.linkage
    for part in (*chain.bench.parts.values(), *([] if linkage is None else [linkage])):
        evidence = str(part.values.get("evidence", ""))
        if f"{part.family} {part.id}" in owners and (not evidence or evidence in WEAK):
            yield part, evidence

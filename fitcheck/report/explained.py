"""How the first kit of each group stands and what would mend it, ready to be set on a page; the words are those of `reasons`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial

from fitcheck.engine.result import Group, Result
from fitcheck.engine.states import PASS
from fitcheck.reasons.explained import Explained
from fitcheck.reasons.standing import BROKEN, KEPT, NEEDED, UNKNOWN, RuleLine, Standing
from fitcheck.report import words
from fitcheck.report.chain import Branch, Seen, Told, footing_outline, rule_texts, short_form
from fitcheck.report.no_kit import missing_outline
from fitcheck.report.outline import Item
from fitcheck.report.remedies import CLOSING, remedy_outline
from fitcheck.report.summary import beside

UNSOUGHT = "What would mend it was not sought for this page, where many need it. To know it, type: fitcheck reasons {} {}"
WHOLE = "fitcheck reasons {} {} {}"


@dataclass(frozen=True)
class Grown:
    """The tree of a figure, and by part what else it rests on."""

    name: str
    tree: Branch
    owners: tuple[str, ...]


@dataclass(frozen=True)
class HowItStands:
    """A kit with the rules that are not kept, or the one that limits it, and how their figures come about."""

    which: str  # of the kits
    kit: str
    title: str
    rules: tuple[tuple[str, str], ...]
    figures: tuple[Grown, ...]
    footing: tuple[Item, ...]
    whole: str  # what to type for more
    mend: tuple[Item, ...]  # empty for a kit that passes
    closing: str


@dataclass(frozen=True)
class ExplainedView:
    """What a page says of one group beyond its figures."""

    best: bool  # whether the kit is the best of those that stand; else it is the nearest miss
    stands: HowItStands | None
    missing: tuple[Item, ...]


def explained_views(result: Result, found: Mapping[Group, Explained]) -> dict[Group, ExplainedView]:
    """By group, what was explained of it."""
    return {group: _view(result, group, one) for group, one in found.items()}


def _view(result: Result, group: Group, one: Explained) -> ExplainedView:
    stands = None if one.standing is None else _stands(result, group[1], one, one.standing)
    missing = missing_outline(one.missing) if one.missing is not None else ()
    if one.standing is None and not one.sought and not _passes(result, group[0]):
        missing = (Item(UNSOUGHT.format(result.job.path.name, group[0])),)
    return ExplainedView(one.standing is not None and not one.standing.rejected, stands, missing)


def _passes(result: Result, application: str) -> bool:
    return any(verdicts[PASS] for (name, _), verdicts in result.verdicts.items() if name == application)


def _stands(result: Result, train: str, one: Explained, standing: Standing) -> HowItStands:
    seen = partial(beside, result.job)
    asked = list(_asked(standing))
    mend, closing = _mend(result, one, standing)
    return HowItStands(
        which="the nearest miss" if standing.rejected else words.TRAIN_WORDS[train],
        kit=standing.kit,
        title=_title(asked),
        rules=tuple(rule_texts(line, seen) for line in asked),
        figures=tuple(_grown(one, seen)),
        footing=footing_outline(standing.footing, seen),
        whole=WHOLE.format(result.job.path.name, standing.kit, next(iter(standing.in_question), "release_margin")),
        mend=mend,
        closing=closing,
    )


def _asked(standing: Standing) -> Iterator[RuleLine]:
    """The rules that are not kept, and the one that limits the kit."""
    limiting = standing.table.limiting_rule[0] if standing.table else ""
    yield from (line for line in standing.rules if line.kind in (BROKEN, UNKNOWN, NEEDED) or line.name == limiting)


def _title(asked: list[RuleLine]) -> str:
    """What decides, in a few words."""
    kinds: dict[str, list[str]] = {}
    for line in asked:
        kinds.setdefault("limited by" if line.kind == KEPT else f"{line.kind}:", []).append(line.name)
    return "; ".join(f"{kind} {', '.join(names)}" for kind, names in kinds.items()) or "no rule holds for it"


def _grown(one: Explained, seen: Seen) -> Iterator[Grown]:
    told: Told = set()
    for figure in one.figures:
        yield Grown(figure.tree.name, *short_form(figure.tree, figure.leaves, told, seen))


def _mend(result: Result, one: Explained, standing: Standing) -> tuple[tuple[Item, ...], str]:
    """What would mend the kit, and what to know of that."""
    if one.remedies is not None:
        return remedy_outline(one.remedies, result.profile), CLOSING
    passes = standing.table is not None and int(standing.table.verdict[0]) == PASS
    return (() if passes else (Item(UNSOUGHT.format(result.job.path.name, standing.kit)),)), ""

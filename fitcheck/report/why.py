"""Why a vehicle has no passing kit: the fit or the rules that empty it, and the kits that come nearest, with their remedies."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from fitcheck.engine.result import Group, KitTable, Reason, Result
from fitcheck.engine.states import PASS, VERDICT_WORDS
from fitcheck.frame import nearest_first
from fitcheck.profile import Rule
from fitcheck.report import words

MOST_MISSES = 3  # shown of each train
NONE = (0, 0, 0)  # verdicts of a group without legal kits


@dataclass(frozen=True)
class Miss:
    """A kit that nearly passes, and what stands in its way."""

    kit: str
    headroom: str
    verdict: str
    reasons: tuple[Reason, ...]


@dataclass(frozen=True)
class Why:
    """Why a train of an application has no passing kit."""

    title: str
    lead: str
    sentences: tuple[str, ...]
    rules: tuple[tuple[str, str, str, str], ...]  # rule, severity, broken by, only by
    misses: tuple[Miss, ...]


def whys(result: Result, groups: Iterable[Group]) -> tuple[Why, ...]:
    """One answer for each train without a passing kit; the same answer is given once."""
    found = [_why(result, group) for group in groups if not result.verdicts.get(group, NONE)[PASS]]
    if len(found) == 2 and not found[0].rules and replace(found[0], title="") == replace(found[1], title=""):
        return (replace(found[0], title="Why no kit passes"),)
    return tuple(found)


def _why(result: Result, group: Group) -> Why:
    """Which fit or rule empties a train, and its nearest misses."""
    rules = {rule.name: rule for rule in result.profile.rules}
    emptied = result.emptied.get(group)
    nearest = result.nearest.get(group)
    legal = result.legal[group]
    cautions = result.verdicts.get(group, NONE)[1]
    some = f"; {words.count(cautions)} with cautions only" if cautions else ""
    return Why(
        title=f"Why no kit with {words.train_word(group[1])} passes",
        lead=f"Of {words.counted(legal, 'legal kit')} none passes{some}." if legal else "No kit is legal. What empties it:",
        sentences=_emptied_sentences(result, group) if emptied else (),
        rules=_rule_rows(result, group, rules),
        misses=tuple(_misses(nearest)) if nearest is not None else (),
    )


def _emptied_sentences(result: Result, group: Group) -> tuple[str, ...]:
    """The sentences of the engine, then reason and remedy of each fit that no part meets."""
    fits = {fit.name: fit for fit in result.profile.fits}
    emptied = result.emptied[group]
    advice = [fits[name] for name in emptied.fits if name in fits]
    return (
        *(words.sentence(words.quoted(text)) for text in emptied.sentences),
        *(f"{fit.name}: {words.sentence(fit.reason)} {words.sentence(fit.remedy)}" for fit in advice),
    )


def _rule_rows(result: Result, group: Group, rules: dict[str, Rule]) -> tuple[tuple[str, str, str, str], ...]:
    """What each rule does here, the one that alone rejects most first."""
    broken, alone = result.broken_by.get(group, {}), result.only_by.get(group, {})
    cautions = {name for name, rule in rules.items() if rule.severity == "caution"}
    names = sorted(filter(broken.get, broken), key=lambda name: (-alone.get(name, 0), name in cautions, -broken[name], name))
    return tuple(
        (
            name,
            {"reject": "rejects", "caution": "cautions"}[rules[name].severity] if name in rules else "cannot be computed",
            words.count(broken[name]),
            words.count(alone.get(name, 0)),
        )
        for name in names
    )


def _misses(kits: KitTable) -> Iterable[Miss]:
    table = nearest_first(kits)
    for row in range(min(len(table), MOST_MISSES)):
        yield Miss(
            table.kit[row],
            words.headroom(float(table.headroom[row])),
            VERDICT_WORDS[int(table.verdict[row])],
            table.reasons[row],
        )

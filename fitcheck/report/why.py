"""Why a vehicle has no passing kit: the fit or the rules that empty it, and the kits that come nearest, with their remedies."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from fitcheck.engine.result import Freeing, Group, KitTable, Reason, Result
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
    reasons: tuple[tuple[Reason, bool], ...]  # with whether to tell it in full: what decides, the first time


@dataclass(frozen=True)
class Why:
    """Why a train of an application has no passing kit."""

    trains: tuple[str, ...]
    title: str
    lead: str
    sentences: tuple[str, ...]
    rules: tuple[tuple[str, str, str, str], ...]  # rule, severity, broken by, only by
    misses: tuple[Miss, ...]


def whys(result: Result, groups: Iterable[Group]) -> tuple[Why, ...]:
    """One answer for each train without a passing kit; the same answer is given once."""
    found = [_why(result, group) for group in groups if not result.verdicts.get(group, NONE)[PASS]]
    said = {replace(one, title="", trains=()) for one in found}
    if len(found) == 2 and len(said) == 1 and not found[0].rules:
        return (replace(found[0], title="Why no kit passes", trains=found[0].trains + found[1].trains),)
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
        trains=(group[1],),
        title=f"Why no kit with {words.train_word(group[1])} passes",
        lead=f"Of {words.counted(legal, 'legal kit')} none passes{some}." if legal else "No kit is legal. What empties it:",
        sentences=_emptied_sentences(result, group) if emptied else (),
        rules=_rule_rows(result, group, rules),
        misses=tuple(_misses(nearest)) if nearest is not None else (),
    )


def _emptied_sentences(result: Result, group: Group) -> tuple[str, ...]:
    """The sentences of the engine, what would free the vehicle, then reason and remedy of each fit in conflict."""
    fits = {fit.name: fit for fit in result.profile.fits}
    emptied = result.emptied[group]
    advice = [fits[name] for name in emptied.fits if name in fits]
    return (
        *map(words.sentence, emptied.sentences),
        *map(_freeing_sentence, emptied.freeing),
        *_restriction_sentences(emptied.restricted),
        *(f"{fit.name}: {words.sentence(fit.reason)} {words.sentence(fit.remedy)}" for fit in advice),
    )


def _freeing_sentence(some: Freeing) -> str:
    fits = "the fit" if len(some.names) == 1 else "the fits"
    return f"Without {fits} {words.listed(some.names)} there would be {words.counted(some.kits, 'legal kit')}."


def _restriction_sentences(restricted: tuple[Freeing, ...] | None) -> Iterator[str]:
    """What the job itself leaves out, where it leaves out something."""
    if restricted == ():
        yield "Parts that the job leaves out would not change that."
    for some in restricted or ():
        families = words.listed([words.family_word(name) for name in some.names])
        yield f"With every {families} that the job leaves out there would be {words.counted(some.kits, 'legal kit')}."


def rule_sentence(row: tuple[str, str, str, str]) -> str:
    """What a rule does to the legal kits of a train, and what would be won without it."""
    name, does, broken, alone = row
    if does == "cannot be computed":
        return f"{name} {does} for {broken}."
    won = f"; without this rule {alone} would not be rejected" if alone != "0" else ""
    return f"{name} {does} {broken}{won}."


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
    told: set[str] = set()
    for row in range(min(len(table), MOST_MISSES)):
        yield Miss(
            table.kit[row],
            words.headroom(float(table.headroom[row])),
            VERDICT_WORDS[int(table.verdict[row])],
            tuple(_weighed(table.reasons[row], VERDICT_WORDS[int(table.verdict[row])], told)),
        )


def _weighed(reasons: Iterable[Reason], verdict: str, told: set[str]) -> Iterator[tuple[Reason, bool]]:
    """What gives the kit its verdict is told in full, unless it was `told` of a kit before; the rest in short."""
    for reason in reasons:
        yield reason, reason.severity == verdict and reason.rule not in told
        told.add(reason.rule)

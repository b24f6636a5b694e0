"""Lines on what would mend a kit: another part, or one number within an interval, in words that a part can be ordered by."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from fitcheck.engine.result import Reason
from fitcheck.engine.states import CAUTION, PASS
from fitcheck.profile import Profile, Rule
from fitcheck.reasons.by_rule import ByRule, Least
from fitcheck.reasons.remedies import Remedies
from fitcheck.reasons.scan import GRID
from fitcheck.reasons.swaps import Swaps
from fitcheck.reasons.together import Mixed, Pairs, PartAndNumber
from fitcheck.report import words
from fitcheck.report.exchange import exchange_text, swap_item, swap_text
from fitcheck.report.interval import change_item, details, from_now, now_text, phrase
from fitcheck.report.outline import Item, indented, items

REACHED = {PASS: "passes", CAUTION: "is at least no longer rejected"}
MOST = 3  # rules, and other numbers, that are named of one change
NO_EXCHANGE = "None mends this kit, and no two do: a kit with them would stand here in its place."
BY_RULE = "One rule at a time: the least change after which it is just kept, and what that does to the others"
CLOSING = (
    "Each of these was tried with all else as it is. At an end of an interval some rule is only just kept, and tolerances are"
    " not in it: order towards the value of most headroom. " + words.AID
)


def remedy_lines(remedies: Remedies, profile: Profile) -> Iterator[str]:
    """What would mend a kit, for a terminal."""
    if remedies.verdict == PASS:
        yield "The kit passes: there is nothing to mend."
        return
    yield from indented(remedy_outline(remedies, profile))
    yield CLOSING


def remedy_outline(remedies: Remedies, profile: Profile) -> tuple[Item, ...]:
    """What would mend a kit that does not pass: another part, one number, two changes together, and rule by rule."""
    rules = {rule.name: rule for rule in profile.rules}
    told = (
        ("One part exchanged for another of the catalog", _exchanges(remedies, rules)),
        ("One number changed, all else as it is", _change_items(remedies)),
        ("Two changes together", _together(remedies, rules)),
        (BY_RULE, map(_rule_item, remedies.by_rule)),
    )
    return tuple(Item(title, below) for title, some in told if (below := tuple(some)))


# --- another part


def _exchanges(remedies: Remedies, rules: Mapping[str, Rule]) -> Iterator[Item]:
    """What other parts do for the kit; of the first kit of a screened group none is sought, since it would be in its place."""
    if remedies.swaps is None:
        yield Item(NO_EXCHANGE)
    else:
        yield from _swap_items(remedies.swaps, rules, remedies.verdict)


def _swap_items(swaps: Swaps, rules: Mapping[str, Rule], verdict: int) -> Iterator[Item]:
    if not swaps.tried:
        yield Item("The job lets in no other part.")
        return
    looked = f"Of {words.counted(swaps.tried, 'other part')} that the job lets in {words.count(swaps.legal)} would be legal"
    if not swaps.total:
        yield Item(f"{looked}; with none of them does the kit pass{_nor_caution(verdict)}.")
        return
    none_passes = "" if swaps.goal == PASS else "with none of them does it pass; "
    families = " or ".join(words.counted(count, words.family_word(family)) for family, count in swaps.by_family.items())
    yield Item(f"{looked}; {none_passes}with {families} the kit {REACHED[swaps.goal]}{_which(swaps.best, swaps.total)}")
    yield from (swap_item(swap, rules) for swap in swaps.best)
    if swaps.others:
        told = ", ".join(f"{words.family_word(part.family)} {part.id}" for part in swaps.others)
        yield Item(f"Best of the other families: {told}.")


def _nor_caution(verdict: int) -> str:
    return "" if verdict == CAUTION else ", or is it no longer rejected"


def _which(best: Sequence[object], total: int) -> str:
    """Whether all are told, or only the best."""
    return ":" if len(best) == total else f". The best {len(best)}:"


# --- one number


def _change_items(remedies: Remedies) -> Iterator[Item]:
    changes = remedies.changes
    for goal in (PASS, CAUTION):
        some = [change for change in changes.found if change.goal == goal]
        if some:
            yield Item(f"The kit {REACHED[goal]} with", tuple(map(change_item, some)))
    yield from _named([number.name for number in changes.narrow], "Over less than can be written down it does with: {}.")
    idle = f"Changing one of these alone does not mend it ({GRID} values of each, or more, were tried): {{}}."
    yield from _named([number.name for number in changes.idle], idle)
    yield from _named(map(words.family_word, changes.staying), "What stays in the vehicle was not sought in other sizes: {}.")


def _named(names: Iterable[str], sentence: str) -> Iterator[Item]:
    told = ", ".join(names)
    if told:
        yield Item(sentence.format(told))


# --- two changes together


def _together(remedies: Remedies, rules: Mapping[str, Rule]) -> Iterator[Item]:
    if remedies.pairs is not None:
        yield from _pair_items(remedies.pairs, rules)
    if remedies.mixed is not None:
        yield from _mixed_items(remedies.mixed)


def _pair_items(pairs: Pairs, rules: Mapping[str, Rule]) -> Iterator[Item]:
    """What was tried, and the best."""
    if not pairs.fitting:
        yield Item("No two other parts that the job lets in fit in together.")
        return
    tried = "each was tried" if pairs.tried == pairs.fitting else f"the {words.count(pairs.tried)} likeliest were tried"
    looked = f"Of {words.counted(pairs.fitting, 'pair')} of other parts that fit in together {tried}"
    if not pairs.total:
        yield Item(f"{looked}; {_in_vain(pairs.sought)}.")
        return
    yield Item(f"{looked}; with {words.count(pairs.total)} the kit {REACHED[pairs.goal]}{_which(pairs.best, pairs.total)}")
    yield from (swap_item(swap, rules) for swap in pairs.best)


def _mixed_items(mixed: Mixed) -> Iterator[Item]:
    """The best, or that there is none."""
    if not mixed.tried:
        return
    tried = f"One part exchanged and one number changed, {words.count(mixed.tried)} of these tried at the likeliest values"
    if not mixed.total:
        yield Item(f"{tried}; {_in_vain(mixed.sought)}.")
    elif not mixed.best:
        yield Item(f"{tried}; with {words.count(mixed.total)} the kit {REACHED[mixed.goal]}, over less than can be written down.")
    else:
        yield Item(f"{tried}; with {words.count(mixed.total)} the kit {REACHED[mixed.goal]}{_which(mixed.best, mixed.total)}")
        yield from map(_mixed_item, mixed.best)


def _in_vain(sought: Sequence[int]) -> str:
    """What did not come about."""
    if PASS not in sought:
        return "with all of them the kit stays rejected"
    return f"with none of them does the kit pass{', or is it no longer rejected' if CAUTION in sought else ''}"


def _mixed_item(one: PartAndNumber) -> Item:
    return Item(f"{exchange_text(one.part, one.instead)}, and {from_now(one.change)}", items([details(one.change)]))


# --- one rule at a time


def _rule_item(one: ByRule) -> Item:
    """A rule with the number and the part that mend it; at most a line each."""
    head = f"{one.reason.rule} ({one.reason.severity}s)"
    if one.fixed:
        stays = "rejected" if one.reason.severity == "reject" else "a caution"
        return Item(head, items([f"Its figure is the vehicle's: no part and no setting changes it, and the kit stays {stays}."]))
    return Item(head, items([_number_text(one), *_part_texts(one)]))


def _number_text(one: ByRule) -> str:
    others = [number.name for number in one.numbers if one.least is None or number.name != one.least.number.name]
    if one.least is None:
        return f"over less than can be written down: {', '.join(others)}" if others else "no number that was tried mends it"
    also = f"; other numbers that do: {words.few(others, MOST, ', ')}" if others else ""
    return f"{_least_text(one.least)}: {_effects([*one.least.mended], one.least.new)}{also}"


def _least_text(least: Least) -> str:
    unit = f" {least.number.unit}" if least.number.unit else ""
    return f"{phrase(least.number, f'{least.value:f}{unit}')}{now_text(least.number, least.present, [least.value])}"


def _part_texts(one: ByRule) -> Iterator[str]:
    if one.swap is not None:
        others = [moved.rule for moved in one.swap.mended if moved.rule != one.reason.rule and moved.after is not None]
        more = f"; parts that do: {words.count(one.swaps)}" if one.swaps > 1 else ""
        yield f"{swap_text(one.swap)}: {_effects(others, one.swap.new)}{more}"
    elif one.sought:
        yield "no other part that fits in alone mends it"


def _effects(mended: Iterable[str], new: Iterable[Reason]) -> str:
    """What becomes of the other rules."""
    told = [f"mends too: {text}"] if (text := words.few(mended, MOST, ", ")) else []
    for severity, what in (("reject", "new rejections"), ("caution", "new cautions")):
        names = dict.fromkeys(reason.rule for reason in new if reason.severity == severity)
        told += [f"{what}: {words.few(names, MOST, ', ')}"] if names else []
    return "; ".join(told) or "the other rules stay as they are"

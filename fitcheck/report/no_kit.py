"""Why an application has no kit, as lines: what empties each train, which kits come nearest, and which part is missing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from math import isfinite

from fitcheck.engine.interfaces import field_value
from fitcheck.engine.result import KitTable, Reason
from fitcheck.engine.states import PASS, VERDICT_WORDS
from fitcheck.engine.telling import number_in_words
from fitcheck.fits_file import known_fields
from fitcheck.reasons.demands import Demand
from fitcheck.reasons.intervals import Change
from fitcheck.reasons.missing_part import MissingPart
from fitcheck.reasons.no_kit import NoKit
from fitcheck.report import words
from fitcheck.report.interval import change_text
from fitcheck.report.outline import Item, fitted, indented, items
from fitcheck.report.why import Why, rule_sentence, whys

MOST_RULES = 6  # told of each train; the rest is counted
NONE_FOUND = "No missing part was found: one part of another size, or with other interfaces, betters none of the nearest kits."
NOT_SPECIFIED = ("cost", "mass")  # of the part that a missing one is like


def no_kit_lines(found: NoKit) -> Iterator[str]:
    """The kits that pass after all, then for each train without one why, with the part that is missing; what to ask next."""
    yield from fitted(_lines(found))
    yield words.AID


def _lines(found: NoKit) -> Iterator[str]:
    yield f"{words.plain(words.part_name(found.application, found.application.id))} ({words.plain(found.application.id)})"
    for (_, train), verdicts in found.result.verdicts.items():
        if verdicts[PASS]:
            yield from _passing_lines(found, train, verdicts[PASS])
    for why in whys(found.result, found.result.legal):
        yield from map(words.plain, _why_lines(found, why))
    for family, (some, every) in sorted(found.let_in.items()):
        yield f"The job lets in {some} of {words.counted(every, words.family_word(family))}; the others were not looked at."
    if not found.complete:
        yield "Incomplete: something that was asked for could not be read; kits may be missing for that alone."


def _passing_lines(found: NoKit, train: str, passing: int) -> Iterator[str]:
    best = found.result.best[found.application.id, train]
    with_train = f"with {words.train_word(train)}"
    yield f"{words.counted(passing, 'kit')} {with_train} {'passes' if passing == 1 else 'pass'}; the best: {_headline(best, 0)}"
    yield f"  {words.plain(best.kit[0])}"


def _headline(kits: KitTable, row: int) -> str:
    return f"{VERDICT_WORDS[int(kits.verdict[row])]}, headroom {words.headroom(float(kits.headroom[row]))}"


def _why_lines(found: NoKit, why: Why) -> Iterator[str]:
    yield f"{why.title}:"
    yield f"  {why.lead}"
    yield from (f"  {text}" for text in why.sentences)
    yield from (f"  {rule_sentence(row)}" for row in why.rules[:MOST_RULES])
    if len(why.rules) > MOST_RULES:
        yield f"  {words.counted(len(why.rules) - MOST_RULES, 'more rule')} broken by some."
    if why.misses:
        yield "  Nearest misses:"
    for place, miss in enumerate(why.misses, 1):
        yield f"  {place}. {miss.verdict}, headroom {miss.headroom}"
        yield f"     {miss.kit}"
        yield from (f"     {_reason(reason, full)}" for reason, full in miss.reasons)
    for train in why.trains:
        missing = found.missing.get((found.application.id, train))
        if missing is not None:
            yield from (f"  {line}" for line in _missing_lines(missing))


def _reason(reason: Reason, full: bool) -> str:
    """What decides in full with its remedy; the rest, and what was told of a kit before, in short."""
    if not full:
        return f"{reason.severity}: {words.short_reason(reason)}"
    remedy = f". Remedy: {words.sentence(reason.remedy)}" if reason.remedy else ""
    return f"{reason.severity}: {words.reason_line(reason)}{remedy}"


# --- the missing part


def _missing_lines(missing: Sequence[MissingPart]) -> Iterator[str]:
    for head in missing_outline(missing):
        yield head.text
        for one in head.below:
            yield f"- {one.text}"
            yield from indented(one.below, "  ")


def missing_outline(missing: Sequence[MissingPart]) -> tuple[Item, ...]:
    """Kit by kit each part that would do, with its interfaces and what it is like elsewhere; a text where there is none."""
    kits = groupby(missing, key=lambda one: "+".join(part.id for part in one.kit.values()))
    told = tuple(Item(f"A part that would do, each alone, in {kit}:", tuple(map(_part_item, some))) for kit, some in kits)
    return told or (Item(NONE_FOUND),)


def _part_item(one: MissingPart) -> Item:
    met = [text for demand in one.asked if demand not in one.differs and (text := demand_text(demand))]
    interfaces = [f"interfaces: {'; '.join(met)}"] if met else []
    rest = f": {figures}" if (figures := ", ".join(_figures(one))) else ""
    like = f"the rest as {one.kit[one.family].id}, in whose place it goes{rest}"
    return Item(f"{_what(one)}: {_becomes(one)}", items([*interfaces, like]))


def _what(one: MissingPart) -> str:
    if one.change:
        inches = f" (sold too as {words.listed(one.change.inches, 'or')} in)" if one.change.inches else ""
        return f"{change_text(one.change)}{inches}"
    asked = words.listed([f"{demand_text(demand)}{_tried(one, demand)}" for demand in one.differs])
    return f"{words.article(words.family_word(one.family))} of {asked}"


def _tried(one: MissingPart, demand: Demand) -> str:
    """The number with which the part was tried, where more than one would meet the demand."""
    value = field_value(one.part, demand.field)
    return f" (tried: {number_in_words(demand.field, value)})" if isinstance(value, float) else ""


def _becomes(one: MissingPart) -> str:
    still = f" ({', '.join(one.still)})" if one.still else ""
    if one.verdict == PASS:
        return f"the kit would pass, headroom {words.headroom(one.headroom)}{f' at {_best(one.change)}' if one.change else ''}"
    if one.change:
        return f"the kit would at least no longer be rejected; still a caution{still}"
    return f"the kit would be legal; the best of those tried with it is a {words.verdict(one.verdict)}{still}"


def _best(change: Change) -> str:
    return f"{change.best:f} {change.number.unit}".rstrip()


def demand_text(demand: Demand) -> str:
    """What a field must be: `outlet M10x1 bubble-flare`, `outer diameter at most 240 mm`; blank where nothing is asked."""
    name = demand.field.partition(".")[2].replace("_", " ")
    if demand.words is not None:
        return f"{name} {words.listed([str(word) for word in demand.words], 'or')}"
    low, high = (number_in_words(demand.field, end) if isfinite(end) else "" for end in (demand.low, demand.high))
    if demand.ranges:
        return f"{name} that takes {low}" if low == high else f"{name} that takes {low} to {high}"
    if low and high:
        return f"{name} {low} to {high}"
    return f"{name} at least {low}" if low else f"{name} at most {high}" if high else ""


def _figures(one: MissingPart) -> Iterator[str]:
    """The other figures of the part that the missing one is like."""
    worded = {demand.field for demand in one.asked if demand.words is not None or demand in one.differs}
    told = worded | {f"{one.family}.{key}" for key in NOT_SPECIFIED}
    for key, value in one.kit[one.family].values.items():
        field = f"{one.family}.{key}"
        if field not in told and isinstance(value, float) and one.part.values.get(key) == value and field in known_fields():
            yield f"{key.replace('_', ' ')} {number_in_words(field, value)}"

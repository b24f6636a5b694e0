"""Lines on what would mend a kit: another part, or one number within an interval, in words that a part can be ordered by."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from fitcheck.catalog.parts import Part
from fitcheck.engine.states import CAUTION, PASS
from fitcheck.engine.table import METRICS
from fitcheck.profile import Profile, Rule
from fitcheck.quantities import to_unit
from fitcheck.reasons.intervals import Change
from fitcheck.reasons.remedies import Remedies
from fitcheck.reasons.scan import GRID
from fitcheck.reasons.swaps import Moved, Swap, Swaps
from fitcheck.report import words
from fitcheck.report.outline import Item, indented, items

REACHED = {PASS: "passes", CAUTION: "is at least no longer rejected"}
SETUP_WORDS = {"rod_length": "rod", "shim_stack": "shims", "pedal_stop": "pedal stop"}
MOST_FALLS, MOST_LIMITS = 3, 2  # told of a swap, and of an end
NO_EXCHANGE = "None mends this kit: a kit with that part would stand here in its place."
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
    """What would mend a kit that does not pass: another part, and one number."""
    rules = {rule.name: rule for rule in profile.rules}
    return (
        Item("One part exchanged for another of the catalog", tuple(_exchanges(remedies, rules))),
        Item("One number changed, all else as it is", tuple(_change_items(remedies))),
    )


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
    yield Item(f"{looked}; {none_passes}with {families} the kit {REACHED[swaps.goal]}{_how_many(swaps)}")
    yield from (_swap(swap, rules) for swap in swaps.best)
    if swaps.others:
        told = ", ".join(f"{words.family_word(part.family)} {part.id}" for part in swaps.others)
        yield Item(f"Best of the other families: {told}.")


def _nor_caution(verdict: int) -> str:
    return "" if verdict == CAUTION else ", or is it no longer rejected"


def _how_many(swaps: Swaps) -> str:
    return ":" if len(swaps.best) == swaps.total else f". The best {len(swaps.best)}:"


def _swap(swap: Swap, rules: Mapping[str, Rule]) -> Item:
    limited = f", limited by {swap.limiting_rule}" if swap.limiting_rule else ""
    supply = "".join(map(_supply, swap.parts))
    becomes = f"{words.verdict(swap.verdict)}, headroom {words.headroom(swap.headroom)}{limited}{supply}"
    return Item(f"{swap_text(swap)}: {becomes}", items(_effects(swap, rules)))


def swap_text(swap: Swap) -> str:
    """Which part stands in the place of which."""
    both = zip(swap.parts, swap.instead, strict=True)
    return " and ".join(
        f"{words.family_word(part.family)} {part.id} ({words.plain(words.part_name(part, part.id))}) instead of {own.id}"
        for part, own in both
    )


def _supply(part: Part) -> str:
    """Whether it can still be had, where the catalog says something of that."""
    values = part.values
    told = [f"superseded by {values['superseded_by']}"] if "superseded_by" in values else []
    told += [f"available: {words.plain(str(values['available']))}"] if "available" in values else []
    return "".join(f"; {text}" for text in told)


def _effects(swap: Swap, rules: Mapping[str, Rule]) -> Iterator[str]:
    if swap.fits:
        yield f"meets: {', '.join(swap.fits)}"
    yield from (f"mends {moved.rule}: {_from_to(moved)}{_asked(moved, rules)}" for moved in swap.mended)
    yield from (f"new: {words.plain(words.short_reason(reason))}" for reason in swap.new)
    if swap.stays:
        yield f"still said: {'; '.join(words.plain(words.short_reason(reason)) for reason in swap.stays)}"
    if swap.falls:
        yield f"less room: {_few(map(_fall, swap.falls), MOST_FALLS, '; ')}"
    yield from _sums(swap)


def _sums(swap: Swap) -> Iterator[str]:
    """Set-up and cost, where they change; of a kit that was not legal what they are now."""
    setup = [f"{SETUP_WORDS.get(moved.metric, swap.setting)} {_become(moved, swap)}" for moved in swap.setup if _differs(moved)]
    if setup:
        yield f"set-up: {'; '.join(setup)}"
    if swap.cost.after is None or (swap.cost.before is None and not swap.fits):
        yield "cost: not given for every part"
    elif _differs(swap.cost):
        yield f"cost: {_become(swap.cost, swap)}"


def _become(moved: Moved, swap: Swap) -> str:
    return _one(moved.metric, moved.after) if swap.fits else _from_to(moved, named=False)


def _few(texts: Iterable[str], most: int, between: str) -> str:
    """The first of some texts, and how many more there are."""
    every = list(texts)
    more = [f"{len(every[most:])} more"] if every[most:] else []
    return between.join([*every[:most], *more])


def _fall(moved: Moved) -> str:
    rooms = f"{words.headroom(moved.room_before)} to {words.headroom(moved.room_after)}"
    return f"{moved.rule} ({_from_to(moved)}; headroom {rooms})"


def _differs(moved: Moved) -> bool:
    return _one(moved.metric, moved.before) != _one(moved.metric, moved.after)


def _from_to(moved: Moved, named: bool = True) -> str:
    both = f"{_one(moved.metric, moved.before)} -> {_one(moved.metric, moved.after)}"
    return f"{moved.metric} {both}" if named else both


def _one(metric: str, value: float | None) -> str:
    row = METRICS.get(metric)
    return "none" if value is None or row is None else words.figure(row, value)


def _asked(moved: Moved, rules: Mapping[str, Rule]) -> str:
    rule = rules.get(moved.rule)
    return f", {words.bound(rule)}" if rule is not None else ""


# --- one number


def _change_items(remedies: Remedies) -> Iterator[Item]:
    changes = remedies.changes
    for goal in (PASS, CAUTION):
        some = [change for change in changes.found if change.goal == goal]
        if some:
            yield Item(f"The kit {REACHED[goal]} with", tuple(map(_change, some)))
    yield from _named([number.name for number in changes.narrow], "Over less than can be written down it does with: {}.")
    idle = f"Changing one of these alone does not mend it ({GRID} values of each, or more, were tried): {{}}."
    yield from _named([number.name for number in changes.idle], idle)
    yield from _named(map(words.family_word, changes.staying), "What stays in the vehicle was not sought in other sizes: {}.")


def _named(names: Iterable[str], sentence: str) -> Iterator[Item]:
    told = ", ".join(names)
    if told:
        yield Item(sentence.format(told))


def _change(change: Change) -> Item:
    told = [f"limits: {', '.join(_limits(change))}"] if change.below or change.above else []
    if change.best is not None:
        told.append(_best(change))
    if change.inches:
        told.append(f"sixteenths of an inch: {', '.join(change.inches)} in")
    if change.others:
        told.append(f"{words.counted(change.others, 'other interval')} further away")
    if change.note:
        told.append(words.plain(change.note))
    return Item(f"{change_text(change)}{_present(change)}", items(["; ".join(told)]))


def change_text(change: Change) -> str:
    """The change in the trade's words: `a stop at 121 to 128 mm`, `a hose with an expansion of at most 0.30 cc/ft`."""
    return (
        change.number.phrase.format(range_text(change))
        .replace("at at most", "at no more than")
        .replace("at at least", "at no less than")
    )


def range_text(change: Change) -> str:
    """The interval with its unit."""
    low, high = (None if end is None else f"{end:f}" for end in (change.ends.low, change.ends.high))
    unit = f" {change.number.unit}" if change.number.unit else ""
    if low is None and high is None:
        return "any size that was tried"
    if low is None:
        return f"at most {high}{unit}"
    if high is None:
        return f"at least {low}{unit}"
    return f"{low}{unit}" if low == high else f"{low} to {high}{unit}"


def _present(change: Change) -> str:
    """What it is now, with enough digits to be told from the ends."""
    if change.present != change.present:
        return ""
    value, unit = float(to_unit(change.present, change.number.unit)), change.number.unit
    ends = [f"{end:f}" for end in (change.ends.low, change.ends.high) if end is not None]
    texts = (_short(value, digits) for digits in range(max(0, change.number.decimals), 9))
    text = next((text for text in texts if float(text) not in map(float, ends)), _short(value, 9))
    return f" (now {text}{f' {unit}' if unit else ''})"


def _short(value: float, digits: int) -> str:
    text = words.number(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def _limits(change: Change) -> Iterator[str]:
    """The rules that speak beyond either end."""
    if change.below:
        yield f"{_few(change.below, MOST_LIMITS, ' and ')} below"
    if change.above:
        yield f"{_few(change.above, MOST_LIMITS, ' and ')} above"


def _best(change: Change) -> str:
    unit = f" {change.number.unit}" if change.number.unit else ""
    shims = f", shims {change.shims} mm" if change.shims else ""
    at = f"at {change.best:f}{unit}"
    if change.goal == PASS:
        return f"most headroom, {words.headroom(change.headroom)}, {at}{shims}"
    return f"{at} still a caution: {', '.join(change.cautions)}{shims}"

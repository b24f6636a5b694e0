"""The words of parts exchanged: which stands in the place of which, what it mends, and what it costs elsewhere."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from fitcheck.catalog.parts import Part
from fitcheck.engine.table import METRICS
from fitcheck.profile import Rule
from fitcheck.reasons.swaps import Moved, Swap
from fitcheck.report import words
from fitcheck.report.outline import Item, items

SETUP_WORDS = {"rod_length": "rod", "shim_stack": "shims", "pedal_stop": "pedal stop"}
MOST_FALLS = 3


def swap_item(swap: Swap, rules: Mapping[str, Rule]) -> Item:
    """What becomes of the kit, and under it which rules are mended, which speak, and what else changes."""
    limited = f", limited by {swap.limiting_rule}" if swap.limiting_rule else ""
    supply = "".join(map(_supply, swap.parts))
    becomes = f"{words.verdict(swap.verdict)}, headroom {words.headroom(swap.headroom)}{limited}{supply}"
    return Item(f"{swap_text(swap)}: {becomes}", items(_effects(swap, rules)))


def swap_text(swap: Swap) -> str:
    """Which part stands in the place of which."""
    return " and ".join(map(exchange_text, swap.parts, swap.instead))


def exchange_text(part: Part, own: Part) -> str:
    """`disc a-200 (A 200) instead of b-200`."""
    return f"{words.family_word(part.family)} {part.id} ({words.plain(words.part_name(part, part.id))}) instead of {own.id}"


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
        yield f"less room: {words.few(map(_fall, swap.falls), MOST_FALLS, '; ')}"
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

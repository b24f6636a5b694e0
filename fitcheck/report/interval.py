"""The words of one number changed: the interval that mends a kit, by what it is limited, and where the most headroom lies."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from fitcheck.engine.states import PASS
from fitcheck.quantities import to_unit
from fitcheck.reasons.intervals import Change
from fitcheck.reasons.numbers import Number
from fitcheck.report import words
from fitcheck.report.outline import Item, items

MOST_LIMITS = 2


def change_item(change: Change) -> Item:
    """The change, and under it what limits it and where it is best."""
    return Item(from_now(change), items([details(change)]))


def from_now(change: Change) -> str:
    """The change, and what the number is now."""
    ends = (end for end in (change.ends.low, change.ends.high) if end is not None)
    return f"{change_text(change)}{now_text(change.number, change.present, ends)}"


def details(change: Change) -> str:
    """What limits an interval, and where in it the kit is best."""
    told = [f"limits: {', '.join(_limits(change))}"] if change.below or change.above else []
    if change.best is not None:
        told.append(_best(change))
    if change.inches:
        told.append(f"sixteenths of an inch: {', '.join(change.inches)} in")
    if change.others:
        told.append(f"{words.counted(change.others, 'other interval')} further away")
    if change.note:
        told.append(words.plain(change.note))
    return "; ".join(told)


def change_text(change: Change) -> str:
    """The change in the trade's words: `a stop at 121 to 128 mm`, `a hose with an expansion of at most 0.30 cc/ft`."""
    return phrase(change.number, range_text(change))


def phrase(number: Number, text: str) -> str:
    """The number's words with a value or an interval."""
    return number.phrase.format(text).replace("at at most", "at no more than").replace("at at least", "at no less than")


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


def now_text(number: Number, present: float, ends: Iterable[Decimal]) -> str:
    """What it is now, with enough digits to be told from the ends."""
    if present != present:
        return ""
    value, floats = float(to_unit(present, number.unit)), [float(f"{end:f}") for end in ends]
    texts = (_short(value, digits) for digits in range(max(0, number.decimals), 9))
    text = next((text for text in texts if float(text) not in floats), _short(value, 9))
    return f" (now {text}{f' {number.unit}' if number.unit else ''})"


def _short(value: float, digits: int) -> str:
    text = words.number(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def _limits(change: Change) -> Iterator[str]:
    """The rules that speak beyond either end."""
    if change.below:
        yield f"{words.few(change.below, MOST_LIMITS, ' and ')} below"
    if change.above:
        yield f"{words.few(change.above, MOST_LIMITS, ' and ')} above"


def _best(change: Change) -> str:
    unit = f" {change.number.unit}" if change.number.unit else ""
    shims = f", shims {change.shims} mm" if change.shims else ""
    at = f"at {change.best:f}{unit}"
    if change.goal == PASS:
        return f"most headroom, {words.headroom(change.headroom)}, {at}{shims}"
    return f"{at} still a caution: {', '.join(change.cautions)}{shims}"

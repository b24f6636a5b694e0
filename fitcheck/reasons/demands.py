"""What the other parts of a kit demand at the interfaces of one of them, and a part made to meet them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product
from math import inf, isclose, isfinite
from typing import Any

from fitcheck.catalog.checks import checks
from fitcheck.catalog.parts import TRAINS, Part
from fitcheck.engine.interfaces import CLOSE, family_of, field_value
from fitcheck.engine.interfaces import DERIVED as FOLLOWING
from fitcheck.profile import Fit, Profile

Kit = Mapping[str, Part]  # by family


@dataclass(frozen=True)
class Demand:
    """What one field of a part must be to meet the rest of a kit.

    Of words one of `words`, the one that the part has first; of numbers one from `low` to `high`, in SI, or, where the field
    is a range itself, one that holds all from `low` to `high`.
    """

    field: str
    own: Any  # what the part has, None where it is not given
    words: tuple[Any, ...] | None = None
    low: float = -inf
    high: float = inf
    ranges: bool = False

    @property
    def possible(self) -> bool:
        """Whether anything would do."""
        return bool(self.words) if self.words is not None else self.low <= self.high

    @property
    def met(self) -> bool:
        """Whether the part's own value does."""
        if self.words is not None:
            return all(word in self.words for word in _words(self.own))
        if self.own is None:
            return False
        pairs = zip(_words(self.own), _words(self.nearest), strict=True)
        return all(isclose(own, near, rel_tol=CLOSE) for own, near in pairs)

    @property
    def nearest(self) -> Any:
        """What would do and is nearest to the part's own value."""
        if self.words is not None:
            return self.words[0]
        if self.ranges:
            low, high = (self.low, self.high) if self.own is None else self.own
            return min(low, self.low), max(high, self.high)
        own = self.own if self.own is not None else self.low if isfinite(self.low) else self.high
        return min(max(own, self.low), self.high)

    def both(self, other: Demand) -> Demand:
        """What meets this and another demand on the same field."""
        if self.words is not None and other.words is not None:
            return replace(self, words=tuple(word for word in self.words if word in other.words))
        if self.words is not None or other.words is not None:
            return replace(self, words=())
        closest = (min, max) if self.ranges else (max, min)
        return replace(self, low=closest[0](self.low, other.low), high=closest[1](self.high, other.high))


def demands(profile: Profile, kit: Kit, family: str) -> tuple[Demand, ...]:
    """What the fits of a profile ask of a family's fields, the other parts of the kit given; by field, as fits name them."""
    found: dict[str, Demand] = {}
    for fit in profile.fits:
        families = {family_of(field) for field in fit.fields}
        if family in families and families <= kit.keys() and fit.kind != "fitted":
            for one in _BY_KIND[fit.kind](fit, kit, family):
                found[one.field] = found[one.field].both(one) if one.field in found else one
    return tuple(found.values())


def inner_families(train: str) -> tuple[str, ...]:
    """The families of a train in which a part may be missing."""
    return tuple(family for family in TRAINS[train] if family != "application")


# --- what each kind of fit demands


def _sides(fit: Fit, kit: Kit, family: str) -> Iterator[tuple[str, Any, Any, bool]]:
    """Own field, own value and the other's value where one of two fields is of the family; last, whether it is the first."""
    for own, other in (fit.fields, fit.fields[::-1]):
        if family_of(own) == family != family_of(other):
            yield own, field_value(kit[family], own), field_value(kit[family_of(other)], other), own == fit.fields[0]


def _equal(fit: Fit, kit: Kit, family: str) -> Iterator[Demand]:
    for field, own, wanted, _ in _sides(fit, kit, family):
        yield Demand(field, own, () if wanted in (None, "none") else (wanted,))


def _allowed(fit: Fit, kit: Kit, family: str) -> Iterator[Demand]:
    """The words that stand in a row with whatever the other fields say."""
    said = [_words(field_value(kit[family_of(field)], field)) for field in fit.fields]
    rows = set(fit.allowed)
    for place, field in enumerate(fit.fields):
        own, before, after = field_value(kit[family_of(field)], field), said[:place], said[place + 1 :]
        if family_of(field) != family or (own == () and (None,) not in said):
            continue  # of a line without a hose no liner is asked
        choices = dict.fromkeys(row[place] for row in fit.allowed)
        held = [word for word in choices if rows.issuperset(product(*before, (word,), *after))]
        yield Demand(field, own, tuple(sorted(held, key=lambda word: word not in _words(own))))


def _at_most(fit: Fit, kit: Kit, family: str) -> Iterator[Demand]:
    for field, own, other, first in _sides(fit, kit, family):
        yield _between(field, own, other, *((-inf, 0.0) if first else (0.0, inf)))


def _band(fit: Fit, kit: Kit, family: str) -> Iterator[Demand]:
    lower, upper = -inf if fit.lower is None else fit.lower, inf if fit.upper is None else fit.upper
    for field, own, other, first in _sides(fit, kit, family):
        yield _between(field, own, other, *((lower, upper) if first else (-upper, -lower)))


def _between(field: str, own: Any, other: float | None, lower: float, upper: float) -> Demand:
    """A number that may differ so far from another; nothing would do where the other is not given."""
    return Demand(field, own, ()) if other is None else Demand(field, own, None, other + lower, other + upper)


def _inside(fit: Fit, kit: Kit, family: str) -> Iterator[Demand]:
    for field, own, other, first in _sides(fit, kit, family):
        if other is None:
            yield Demand(field, own, ())
        else:
            low, high = other if first else (other, other)
            yield Demand(field, own, None, low, high, ranges=not first)


_BY_KIND: Mapping[str, Callable[[Fit, Kit, str], Iterator[Demand]]] = {
    "equal": _equal,
    "allowed": _allowed,
    "at_most": _at_most,
    "band": _band,
    "inside": _inside,
}


def _words(value: Any) -> tuple[Any, ...]:
    return value if isinstance(value, tuple) else (value,)


# --- a part that meets them


def meeting(part: Part, asked: Iterable[Demand]) -> Part | None:
    """The part with the fields changed that do not meet what is asked, as little as will do; None where nothing would.

    What comes out could stand in a catalog: its fields do not contradict each other.
    """
    made: Part | None = part
    for demand in asked:
        if not demand.possible:
            return None
        if not demand.met:
            made = _changed(made, demand.field, demand.nearest) if made else None
    return made if made and (made is part or not faulty(made)) else None


def faulty(part: Part) -> bool:
    """Whether the fields of a part contradict each other."""
    return any(fault.severity == "error" for fault in checks(part.family, part.values))


def _changed(part: Part, field: str, value: Any) -> Part | None:
    """The part with another value of a field; of a field that follows from others only where one of them decides it."""
    if field in _DERIVED:
        return _DERIVED[field](part, value)
    return None if field in FOLLOWING else part.having(field.partition(".")[2], value)


def _with_liner(line: Part, value: Any) -> Part:
    pieces = [{**piece, "liner": value} if piece["kind"] == "hose" else piece for piece in line.values["pieces"]]
    return line.having("pieces", tuple(pieces))


def _with_length(line: Part, value: Any) -> Part | None:
    """Longer or shorter by the longest of the pieces that have a length."""
    lengths = [piece.get("length", 0.0) for piece in line.values["pieces"]]
    row = lengths.index(max(lengths))
    other = lengths[row] + value - field_value(line, "line.length")
    return line.having(f"pieces.{row}.length", other) if lengths[row] and other > 0 else None


_DERIVED: Mapping[str, Callable[[Part, Any], Part | None]] = {
    "line.inlet": lambda line, value: line.having("pieces.0.inlet", value),
    "line.outlet": lambda line, value: line.having(f"pieces.{len(line.values['pieces']) - 1}.outlet", value),
    "line.liner": _with_liner,
    "line.length": _with_length,
    "slave.rest": lambda slave, value: slave.having("preload", 0.0) if value == "bottomed" else None,
}

"""What stands at the interface of a fit, in words: the values that do not meet, and the parts that have them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import reduce
from typing import Any

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import TRAINS, Part
from fitcheck.engine.interfaces import Interface, family_of, field_value
from fitcheck.engine.legality import Legality, Rows
from fitcheck.fits_file import known_fields
from fitcheck.profile import Fit
from fitcheck.quantities import UNITS, quoted, to_unit

MOST_WORDS = 8  # so many values of a family are named; the rest is counted
MOST_PARTS = 4  # so many parts are named; the rest is counted
Standing = Mapping[str, Rows]  # family -> rows of the parts that are held against each other


class Telling:
    """What one application's fits say on a train, with the parts that the job lets in."""

    def __init__(self, legality: Legality, application: int, train: str) -> None:
        """Know the parts in play and which families the job restricts."""
        self.catalog = legality.catalog
        self._fits = {fit.name: fit for fit in legality.profile.fits}
        families = set(TRAINS[train])
        self._interfaces = [one for one in legality.interfaces if set(one.families) <= families]
        self._rows: Standing = {
            family: np.array([application]) if family == "application" else np.flatnonzero(legality.permitted[family])
            for family in TRAINS[train]
        }
        self.restricted = [family for family in TRAINS[train][1:] if not legality.permitted[family].all()]

    def conflict(self, names: Sequence[str]) -> Iterator[str]:
        """Sentences about a conflict: of one fit, what nothing meets; of several, what each leaves the others."""
        if len(names) == 1:
            yield self._alone(self._fits[names[0]])
            return
        yield f"{listed(names)} can each be met, but not {'together' if len(names) == 2 else 'all together'}"
        narrowed = self._narrowed(names)
        for fit in sorted((self._fits[name] for name in names), key=self._between):
            yield self._beside(fit, narrowed)

    def families(self) -> Iterator[str]:
        """Sentences about families of which there is no part."""
        for family, rows in self._rows.items():
            if not self.catalog.families.get(family):
                yield f"the catalog has no {plain_word(family)}"
            elif not len(rows):
                yield f"the job leaves out every {plain_word(family)} of the catalog"

    # --- a fit that nothing meets

    def _alone(self, fit: Fit) -> str:
        families = list(dict.fromkeys(map(family_of, fit.fields)))
        if fit.kind == "fitted":
            return self._fitted()
        if fit.kind == "equal" and "application" in families and len(families) == 2:
            return self._no_equal(fit)
        return f"nothing meets at {quoted(fit.name)}: {'; '.join(self._has(field, self._rows) for field in fit.fields)}"

    def _no_equal(self, fit: Fit) -> str:
        own, other = sorted(fit.fields, key=lambda field: family_of(field) != "application")
        family, wanted = family_of(other), values_in_words(own, self._parts("application", self._rows))
        name, field = plain_word(own.partition(".")[2]), plain_word(other.partition(".")[2])
        if wanted == quoted("none"):
            return f"the application takes no {plain_word(family)}: its {name} is {wanted}"
        stand = f"{plain_word(family)}s have {'' if field == name else field + ' '}"
        stand += values_in_words(other, self._parts(family, self._rows))
        let_in = " that the job lets in" if family in self.restricted else ""
        return f"no {plain_word(family)}{let_in} has the {name} {wanted} of the application; {stand}"

    def _fitted(self) -> str:
        """Which part stays in the vehicle but is not there."""
        (application,) = self._parts("application", self._rows)
        gone = [
            f"{plain_word(family)} {quoted(name)}"
            for family, name in application.values.get("fitted", {}).items()
            if family in self._rows and name not in [part.id for part in self._parts(family, self._rows)]
        ]
        return f"the application has {' and '.join(gone)} fitted, which neither catalog nor job offers"

    # --- fits that can be met, but not together

    def _narrowed(self, names: Sequence[str]) -> Standing:
        """The parts left once those fits of a conflict are met that hold one family against the application."""
        rows = dict(self._rows)
        for family in rows:
            held = [self._met(one, family) for one in self._interfaces if one.fit.name in names and self._single(one, family)]
            rows[family] = rows[family][reduce(np.logical_and, held)] if held else rows[family]
        return rows

    def _between(self, fit: Fit) -> bool:
        """Whether a fit holds two families of parts against each other: told after those that narrow one alone."""
        return not any(self._single(one, name) for one in self._interfaces if one.fit is fit for name in one.families)

    def _single(self, one: Interface, family: str) -> bool:
        return family != "application" and set(one.families) | {"application"} == {"application", family}

    def _met(self, one: Interface, family: str) -> npt.NDArray[np.bool_]:
        index = {**self._rows, "application": self._rows["application"][0]}
        return np.broadcast_to(one.holds(index), self._rows[family].shape)

    def _beside(self, fit: Fit, narrowed: Standing) -> str:
        """What a fit of a conflict leaves of a family, or what stands at both its sides once the others have narrowed them."""
        told = []
        for one in (one for one in self._interfaces if one.fit is fit):
            family = next((name for name in one.families if self._single(one, name)), None)
            told.append(self._leaves(one, family) if family else self._sides(one, narrowed))
        return f"{quoted(fit.name)}: {'; '.join(told)}"

    def _leaves(self, one: Interface, family: str) -> str:
        rows = self._rows[family][self._met(one, family)]
        left = named([part.id for part in self._parts(family, {family: rows})])
        return f"{self._has_own(one.fit)}of {len(self._rows[family])} {plain_word(family)}s it leaves {left}"

    def _has_own(self, fit: Fit) -> str:
        own = [self._has(field, self._rows) for field in fit.fields if field.startswith("application.") and fit.kind != "fitted"]
        return f"{'; '.join(own)}, and " if own else ""

    def _sides(self, one: Interface, narrowed: Standing) -> str:
        """Who has what at each side, and which parts meet nothing there."""
        sides = "; ".join(self._has(field, narrowed) for field in one.fit.fields)
        lonely = [told for family in dict.fromkeys(one.families) if (told := self._lonely(one, family, narrowed))]
        return "; ".join([sides, *lonely])

    def _lonely(self, one: Interface, family: str, narrowed: Standing) -> str:
        """The parts of a family that meet nothing of the other side, unless all or none do."""
        others = [name for name in dict.fromkeys(one.families) if name != family]
        if family == "application" or len(others) != 1:
            return ""
        index = {family: narrowed[family][:, None], others[0]: narrowed[others[0]][None, :]}
        alone = ~one.holds(index).any(axis=1)
        if not alone.any() or alone.all():
            return ""
        parts = self._parts(family, {family: narrowed[family][alone]})
        return f"no {plain_word(others[0])} of these takes {named([part.id for part in parts])}"

    def _parts(self, family: str, standing: Standing) -> list[Part]:
        return [self.catalog.families[family][row] for row in standing[family].tolist()]

    def _has(self, field: str, standing: Standing) -> str:
        family = family_of(field)
        left = "the " if len(standing[family]) < len(self._rows[family]) else ""
        who = "the application has" if family == "application" else f"{left}{plain_word(family)}s{' left' if left else ''} have"
        return f"{who} {plain_word(field.partition('.')[2])} {values_in_words(field, self._parts(family, standing))}"


def named(ids: Sequence[str]) -> str:
    """A few parts by their ids, the rest counted."""
    more = len(ids) - MOST_PARTS
    return f"{', '.join(map(quoted, ids[:MOST_PARTS]))} and {more} more" if more > 0 else listed(ids)


def listed(words: Sequence[str], last: str = "and") -> str:
    """`"a", "b" and "c"`."""
    *others, end = map(quoted, words)
    return f"{', '.join(others)} {last} {end}" if others else end


def plain_word(word: str) -> str:
    """A name of the files as a reader says it."""
    return word.replace("_", " ")


def values_in_words(field: str, parts: Iterable[Part]) -> str:
    """The distinct values of a field: words one by one, numbers as the range that they span."""
    values = [field_value(part, field) for part in parts]
    given = [value for value in values if value is not None]
    if not given:
        return "not given"
    if isinstance(given[0], bool | str) or (isinstance(given[0], tuple) and not _spans(field)):
        return _few(sorted({_word(value) for value in given}))
    if _spans(field):
        return _few(sorted({f"{number_in_words(field, low)} to {number_in_words(field, high)}" for low, high in given}))
    low, high = number_in_words(field, min(given)), number_in_words(field, max(given))
    return low if low == high else f"from {low} to {high}"


def _spans(field: str) -> bool:
    return known_fields().get(field, "").startswith("range ")


def _word(value: Any) -> str:
    if isinstance(value, tuple):
        return " and ".join(map(_word, value)) or "none of them"
    return quoted(str(value))


def _few(words: Sequence[str]) -> str:
    more = f" and {len(words) - MOST_WORDS} more" if len(words) > MOST_WORDS else ""
    return ", ".join(words[:MOST_WORDS]) + more


def number_in_words(field: str, value: float) -> str:
    """A number with the first unit of its dimension; a number in a field for words stays as it is."""
    unit = UNITS.get(known_fields().get(field, "").removeprefix("range "), ("",))[0]
    return f"{to_unit(float(value), unit):.6g} {unit}".strip()

"""What stands at an interface, and whether the values that a fit names meet."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import FAMILIES, Catalog, Part
from fitcheck.errors import Finding, InputError, Place
from fitcheck.profile import Fit, Profile
from fitcheck.quantities import quoted

BoolArray = npt.NDArray[np.bool_]
Index = Mapping[str, Any]  # family -> positions in its parts, shaped to broadcast against each other

CLOSE = 1e-9  # share of the larger number that two lengths may miss each other by and still meet


def _liners(values: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(sorted({piece["liner"] for piece in values["pieces"] if piece["kind"] == "hose"}))


def _length(values: Mapping[str, Any]) -> float:
    return float(sum(piece["length"] for piece in values["pieces"] if piece["kind"] != "adapter"))


# Words and numbers that no file states outright but a fit may name.
DERIVED: dict[str, Callable[[Mapping[str, Any]], object]] = {
    "line.inlet": lambda values: values["pieces"][0]["inlet"],
    "line.outlet": lambda values: values["pieces"][-1]["outlet"],
    "line.length": _length,
    "line.liner": _liners,
    "slave.rest": lambda values: "contact" if values["preload"] > 0 else "bottomed",
    "application.return_spring": lambda values: "yes" if values["fork_return_force"] > 0 else "no",
    "pressure_plate.spring": lambda values: "diaphragm" if "diaphragm" in values else "curve",
    "disc.cushion": lambda values: "yes" if values["cushion_travel"] > 0 else "none",
}


def field_value(part: Part, field: str) -> Any:
    """The value of `family.field` on a part, derived ones included; None where the catalog does not give it."""
    return _getter(field)(part.values)


def _getter(field: str) -> Callable[[Mapping[str, Any]], Any]:
    """What gives the value of a field."""
    key = field.partition(".")[2]
    return DERIVED.get(field) or (lambda values: values.get(key))


def family_of(field: str) -> str:
    """The family that a field belongs to."""
    return field.partition(".")[0]


@dataclass(frozen=True)
class Interface:
    """One fit on one catalog: for each of its fields a column over the parts of that field's family."""

    fit: Fit
    families: tuple[str, ...]  # one a field
    columns: tuple[npt.NDArray[Any], ...]
    meet: Callable[..., BoolArray]

    def holds(self, index: Index) -> BoolArray:
        """Whether the fit is met, for the parts at those positions, broadcast against each other."""
        pairs = zip(self.families, self.columns, strict=True)
        return self.meet(*(column[index[family]] for family, column in pairs))


def interfaces(catalog: Catalog, profile: Profile) -> tuple[Interface, ...]:
    """Every fit of the profile, made ready for the parts of the catalog.

    Raises InputError where a fit cannot be asked of any catalog: an unknown family, a word where a number is needed,
    or more families than legality can take apart.
    """
    faults = [fault for fit in profile.fits if (fault := _fault(fit, profile))]
    if faults:
        raise InputError(tuple(faults))
    return tuple(ready for fit in profile.fits for ready in _READY[fit.kind](fit, catalog))


def _fault(fit: Fit, profile: Profile) -> Finding | None:
    families = {family_of(field) for field in fit.fields}
    unknown = sorted(families - set(FAMILIES) | families & {"linkage"})
    if unknown:
        return _finding(fit, profile, "unknown-family", ", ".join(unknown), "families of a train")
    free = sorted(families - {"application", "pressure_plate"}, key=FAMILIES.index)
    if len(free) > 2:
        expected = "at most two families beside application and pressure_plate"
        return _finding(fit, profile, "too-many-families", ", ".join(free), expected)
    return None


def _finding(fit: Fit, profile: Profile, problem: str, found: str, expected: str) -> Finding:
    place = fit.place or Place(profile.name, key=f"fits.{fit.name}")
    return Finding(place, problem, found, expected, f'write the fit "{fit.name}" with other fields, or as several fits')


def _ready(fit: Fit, columns: Iterable[npt.NDArray[Any]], meet: Callable[..., BoolArray]) -> tuple[Interface, ...]:
    return (Interface(fit, tuple(family_of(field) for field in fit.fields), tuple(columns), meet),)


def _values(catalog: Catalog, field: str) -> list[Any]:
    get = _getter(field)
    return [get(part.values) for part in catalog.families.get(family_of(field), ())]


# --- words


def _word(value: Any) -> Hashable:
    """A value as it is compared: a number to nine digits, so that 3/4 in and 19.05 mm are the same word."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return float(f"{value:.9g}")
    return value if isinstance(value, Hashable) else repr(value)


def _equal(fit: Fit, catalog: Catalog) -> tuple[Interface, ...]:
    book: dict[Hashable, int] = {None: -1, "none": -1}  # neither of them equals anything
    columns = []
    for field in fit.fields:
        codes = [book.setdefault(_word(value), len(book)) for value in _values(catalog, field)]
        columns.append(np.array(codes, dtype=np.int64))
    return _ready(fit, columns, lambda first, second: (first == second) & (first >= 0))


def _allowed(fit: Fit, catalog: Catalog) -> tuple[Interface, ...]:
    """Distinct values are numbered, their combinations looked up once; every word of a tuple must be allowed."""
    rows = set(fit.allowed)
    books: list[dict[tuple[Hashable, ...], int]] = []
    columns = []
    for field in fit.fields:
        words = [value if isinstance(value, tuple) else (_word(value),) for value in _values(catalog, field)]
        book = {word: code for code, word in enumerate(dict.fromkeys(words))}
        books.append(book)
        columns.append(np.array([book[word] for word in words], dtype=np.int64))
    met = [_given(words) and all(row in rows for row in product(*words)) for words in product(*books)]
    table = np.array(met, dtype=np.bool_).reshape([len(book) for book in books])
    return _ready(fit, columns, lambda *codes: table[codes])


def _given(words: Iterable[tuple[Hashable, ...]]) -> bool:
    """What is not given meets nothing, not even a line of which no liner is asked."""
    return not any(None in word for word in words)


# --- numbers


def _numbers(fit: Fit, catalog: Catalog, field: str, width: int) -> npt.NDArray[np.float64]:
    """One number a part (or `width` of them); not-a-number, which meets nothing, where the catalog gives none."""
    parts = catalog.families.get(family_of(field), ())
    column = np.full((len(parts), width), np.nan)
    for row, part in enumerate(parts):
        value = field_value(part, field)
        try:
            column[row] = np.nan if value is None else value
        except (TypeError, ValueError):
            raise InputError((_no_number(fit, part, field, width),)) from None
    return column


def _no_number(fit: Fit, part: Part, field: str, width: int) -> Finding:
    key = field.partition(".")[2]
    wanted = "a number" if width == 1 else "a range of two numbers"
    found, expected = quoted(str(part.values.get(key))), f'{wanted} for the fit "{fit.name}"'
    return Finding(part.placed(key), "not-a-number", found, expected, "name other fields in the fit")


def _slack(first: npt.NDArray[np.float64], second: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    return CLOSE * np.maximum(np.abs(first), np.abs(second))


def _at_most(fit: Fit, catalog: Catalog) -> tuple[Interface, ...]:
    columns = [_numbers(fit, catalog, field, 1)[:, 0] for field in fit.fields]
    return _ready(fit, columns, lambda first, second: first - second <= _slack(first, second))


def _band(fit: Fit, catalog: Catalog) -> tuple[Interface, ...]:
    lower = -np.inf if fit.lower is None else fit.lower
    upper = np.inf if fit.upper is None else fit.upper

    def meet(first: npt.NDArray[np.float64], second: npt.NDArray[np.float64]) -> BoolArray:
        slack = _slack(first, second)
        return (first - second >= lower - slack) & (first - second <= upper + slack)

    return _ready(fit, [_numbers(fit, catalog, field, 1)[:, 0] for field in fit.fields], meet)


def _inside(fit: Fit, catalog: Catalog) -> tuple[Interface, ...]:
    number, span = fit.fields
    columns = (_numbers(fit, catalog, number, 1)[:, 0], _numbers(fit, catalog, span, 2))

    def meet(value: npt.NDArray[np.float64], ends: npt.NDArray[np.float64]) -> BoolArray:
        low, high = ends[..., 0], ends[..., 1]
        return (low - value <= _slack(low, value)) & (value - high <= _slack(high, value))

    return _ready(fit, columns, meet)


# --- parts that stay in the vehicle


def _fitted(fit: Fit, catalog: Catalog) -> tuple[Interface, ...]:
    """One interface a family that any application has fitted: there its part is the only one that meets."""
    stays = [part.values.get("fitted", {}) for part in catalog.families.get("application", ())]
    ready = []
    for family in sorted({family for fitted in stays for family in fitted}):
        parts = catalog.families.get(family, ())
        book = {part.id: code for code, part in enumerate(parts)}  # an id may stand twice, on a part and on variants of it
        named = [-1 if family not in fitted else book.get(fitted[family], len(parts)) for fitted in stays]
        columns = (np.array(named, dtype=np.int64), np.array([book[part.id] for part in parts], dtype=np.int64))
        ready.append(Interface(fit, ("application", family), columns, lambda fixed, part: (fixed < 0) | (fixed == part)))
    return tuple(ready)


_READY: dict[str, Callable[[Fit, Catalog], tuple[Interface, ...]]] = {
    "equal": _equal,
    "allowed": _allowed,
    "at_most": _at_most,
    "band": _band,
    "inside": _inside,
    "fitted": _fitted,
}

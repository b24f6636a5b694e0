"""Parsed values to SI, led by the schema: which values are quantities, of which dimension, and within which bounds."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property
from math import inf
from typing import Any, Literal, NamedTuple

from fitcheck.catalog.schema import Fault, Path, chosen, document, dotted, nearest
from fitcheck.catalog.words import shown
from fitcheck.quantities import UNITS, QuantityError, from_unit, parse

SLACK = 1e-12  # a bound written in another unit is met to the last digits only

_BAD = object()  # in place of a value that could not be converted
_PLAIN = (str, int, float)  # types of single values; a flag is none of them, though it equals a number


@dataclass
class Converted:
    """What became of a table: its values in SI, the half-widths of tolerances, the ports it names, and what went wrong."""

    values: dict[str, Any] = field(default_factory=dict)
    tolerances: dict[str, float] = field(default_factory=dict)
    ports: list[tuple[Path, str]] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


def to_si(name: str, value: Mapping[str, Any], spoiled: Collection[Path] = ()) -> Converted:
    """The values of a table by its schema; those at `spoiled` paths, and what could not be converted, are left out."""
    result = Converted()
    walked = _Walk(result, spoiled).value(_shape(name), value, ())
    result.values = walked if isinstance(walked, dict) else {}
    return result


class _Measure(NamedTuple):
    """What a schema says of a number: its dimension, and its bounds in SI."""

    dimension: str
    above: float
    least: float
    below: float
    most: float

    def keeps(self, number: float) -> bool:
        """Whether a number is within all bounds; not-a-number is within none."""
        slack = SLACK * abs(number)
        return self.above < number < self.below and self.least - slack <= number <= self.most + slack


class _Shape:
    """A schema whose parts are looked up once."""

    def __init__(self, schema: Mapping[str, Any]) -> None:
        self.schema = schema
        self.mere = schema.keys().isdisjoint(("x-dimension", "x-port", "x-unit-of"))  # a text means no more than it says
        self.seen: dict[object, float] = {}  # what was said without a tolerance and within bounds: most is said many times
        self.port = "x-port" in schema
        self.unit_of: str | None = schema.get("x-unit-of")  # the dimension whose unit this key holds
        self.unit_key: str | None = schema.get("x-unit")  # the key beside this one that holds the unit of its numbers

    @cached_property
    def keys(self) -> dict[str, _Shape]:
        """The keys of a table."""
        return {key: _Shape(part) for key, part in self.schema.get("properties", {}).items()}

    @cached_property
    def others(self) -> _Shape | None:
        """All other keys of a table, where it may have any."""
        part = self.schema.get("additionalProperties")
        return _Shape(part) if isinstance(part, dict) else None

    @cached_property
    def item(self) -> _Shape:
        """Each member of a list."""
        own = {key: self.schema[key] for key in self.schema if key.startswith("x-")}
        return _Shape(self.schema.get("items", {}) | own)

    @cached_property
    def kinds(self) -> dict[object, _Shape]:
        """The shapes of a table by the word that it has under `kind`."""
        words = [branch["if"]["properties"]["kind"]["const"] for branch in self.schema.get("allOf", ())]
        return {word: _Shape(chosen(dict(self.schema), {"kind": word})) for word in words}

    @cached_property
    def measure(self) -> _Measure | None:
        """Of a number: what it measures."""
        get = self.schema.get
        if "x-dimension" not in self.schema:
            return None
        bounds = get("x-above", -inf), get("x-at-least", -inf), get("x-below", inf), get("x-at-most", inf)
        return _Measure(self.schema["x-dimension"], *bounds)

    def of_kind(self, value: object) -> _Shape:
        """The shape for a value of several kinds."""
        kind = value.get("kind") if self.kinds and isinstance(value, dict) else None
        return self.kinds.get(kind, self) if isinstance(kind, str) else self


@cache
def _shape(name: str) -> _Shape:
    return _Shape(document(name))


@dataclass
class _Walk:
    """One walk over a table, schema and values side by side."""

    result: Converted
    spoiled: Collection[Path]

    def value(self, shape: _Shape, value: object, path: Path, unit: object = "") -> object:
        """One value in SI, or `_BAD`; `unit` is that of bare numbers."""
        if path in self.spoiled:
            return _BAD
        if isinstance(value, dict):
            return self.table(shape, value, path)
        if isinstance(value, list):
            if not self.spoiled and (numbers := _sound_numbers(shape.item.measure, value, unit)):
                return numbers
            items = [self.value(shape.item.of_kind(below), below, (*path, at), unit) for at, below in enumerate(value)]
            return _BAD if _BAD in items else tuple(items)  # one bad member spoils a list, for its length means something
        if shape.measure:
            return self.quantity(shape, shape.measure, value, path, unit)
        if shape.port and isinstance(value, str):
            self.result.ports.append((path, value))
        return value

    def table(self, shape: _Shape, value: Mapping[str, Any], path: Path) -> object:
        """A table, its keys for units used up; keys that the schema does not know are left out."""
        converted: dict[str, object] = {}
        keys, others, sound = shape.keys, shape.others, not self.spoiled
        for key, below in value.items():
            part = keys.get(key, others)
            if part is None:
                continue
            if sound and type(below) in _PLAIN and (part.mere or below in part.seen):
                converted[key] = below if part.mere else part.seen[below]
                continue
            if part.unit_of:
                self.unit(part.unit_of, below, (*path, key))
                continue
            unit = value.get(part.unit_key) if part.unit_key and isinstance(below, list) else ""
            found = self.value(part, below, (*path, key), unit)
            if found is not _BAD:
                converted[key] = found
        return converted

    def unit(self, dimension: str, unit: object, path: Path) -> None:
        """The unit of a list of numbers."""
        if isinstance(unit, str) and path not in self.spoiled and unit not in UNITS[dimension]:
            wanted = f"a unit of {dimension.replace('_', ' ')}"
            self.result.faults.append(Fault(path, "unknown-unit", shown(unit), wanted, nearest(unit, UNITS[dimension])))

    def quantity(self, shape: _Shape, measure: _Measure, value: object, path: Path, unit: object) -> object:
        """One number in SI, within its bounds."""
        try:
            number, tolerance, broken = _of_text(measure, value) if isinstance(value, str) else _of_number(measure, value, unit)
        except QuantityError as error:
            self.result.faults.append(Fault(path, error.problem, error.found, error.expected, error.mend))
            return _BAD
        if broken:
            self.result.faults.append(_out_of_bounds(shape.schema, value, broken, path))
        if tolerance is not None:
            self.result.tolerances[dotted(path)] = tolerance
        elif type(value) in _PLAIN and not unit and number is not None and not broken:
            shape.seen[value] = number
        return _BAD if number is None or broken == "value" else number


class _Measured(NamedTuple):
    """Value and tolerance in SI and which of them breaks the bounds; no value where that is said elsewhere."""

    value: float | None = None
    tolerance: float | None = None
    broken: Literal["value", "tolerance"] | None = None


def _of_number(measure: _Measure, value: object, unit: object) -> _Measured:
    """What a number in a unit says; nothing where it is no number, or its unit is none of the dimension."""
    known = isinstance(unit, str) and unit in UNITS[measure.dimension]
    if not known or isinstance(value, bool) or not isinstance(value, int | float):
        return _Measured()
    try:
        number = from_unit(float(value), str(unit))
    except OverflowError:
        raise QuantityError(shown(value), "a number below 1e300", "write a smaller number", "out-of-range") from None
    return _Measured(number, None, None if measure.keeps(number) else "value")


def _sound_numbers(measure: _Measure | None, values: list[Any], unit: object) -> tuple[float, ...] | None:
    """A list of numbers in SI at one go; None where there is anything to say about one of them."""
    if (
        measure is None
        or not isinstance(unit, str)
        or unit not in UNITS[measure.dimension]
        or {*map(type, values)} - {int, float}
    ):
        return None
    try:
        numbers = tuple([from_unit(float(value), unit) for value in values])
    except OverflowError:
        return None
    return numbers if all(map(measure.keeps, numbers)) else None


def _of_text(measure: _Measure, text: str) -> _Measured:
    """What a text says."""
    number, tolerance = parse(text, measure.dimension)
    if not measure.keeps(number):
        return _Measured(number, tolerance, "value")
    whole = tolerance is None or (measure.keeps(number - tolerance) and measure.keeps(number + tolerance))
    return _Measured(number, tolerance, None if whole else "tolerance")


def _out_of_bounds(schema: Mapping[str, Any], value: object, broken: str, path: Path) -> Fault:
    """A fault where the value breaks its bounds, a caution where only its tolerance does."""
    wanted = _bounds_in_words(schema)
    if broken == "value":
        return Fault(path, "out-of-bounds", shown(value), wanted, f"write a value that is {wanted}")
    found = f"{shown(value)}, whose tolerance reaches beyond"
    return Fault(path, "tolerance-out-of-bounds", found, wanted, "check the half-width after +/-", severity="caution")


def within(schema: Mapping[str, Any], number: float) -> bool:
    """Whether a number keeps all bounds of its schema, which says what it measures; not-a-number keeps none."""
    measure = _Shape(schema).measure
    return measure is not None and measure.keeps(number)


def _bounds_in_words(schema: Mapping[str, Any]) -> str:
    """The bounds for a reader: `above 0 and at most 1`."""
    written = schema.get("x-expected", {}).get("bounds")
    words = [
        f"{key[2:].replace('-', ' ')} {schema[key]}" for key in ("x-above", "x-at-least", "x-below", "x-at-most") if key in schema
    ]
    return written or " and ".join(words) or "finite"

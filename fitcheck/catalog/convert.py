"""Parsed values to SI, led by the schema: which values are quantities, of which dimension, and within which bounds."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from math import inf
from typing import Any, Literal, NamedTuple

from fitcheck.catalog.schema import Fault, Path, chosen, document, dotted, nearest
from fitcheck.catalog.words import shown
from fitcheck.quantities import UNITS, QuantityError, from_unit, parse

SLACK = 1e-12  # a bound written in another unit is met to the last digits only

_BAD = object()  # in place of a value that could not be converted


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
    walked = _Walk(result, spoiled).value(document(name), value, ())
    result.values = walked if isinstance(walked, dict) else {}
    return result


@dataclass
class _Walk:
    """One walk over a table, schema and values side by side."""

    result: Converted
    spoiled: Collection[Path]

    def value(self, schema: Mapping[str, Any], value: object, path: Path) -> object:
        """One value in SI, or `_BAD`."""
        if path in self.spoiled:
            return _BAD
        if isinstance(value, dict):
            return self.table(schema, value, path)
        if isinstance(value, list):
            return self.row(schema, value, path)
        if "x-dimension" in schema:
            return self.quantity(schema, value, path)
        if "x-port" in schema and isinstance(value, str):
            self.result.ports.append((path, value))
        return value

    def table(self, schema: Mapping[str, Any], value: Mapping[str, Any], path: Path) -> object:
        """A table, its keys for units used up; keys that the schema does not know are left out."""
        converted = {}
        for key, below in value.items():
            part = schema.get("properties", {}).get(key, schema.get("additionalProperties"))
            if not isinstance(part, dict):
                continue
            if "x-unit-of" in part:
                self.unit(part["x-unit-of"], below, (*path, key))
                continue
            if "x-unit" in part and isinstance(below, list):
                part = part | {"x-in": value.get(part["x-unit"])}
            converted[key] = self.value(part, below, (*path, key))
        return {key: below for key, below in converted.items() if below is not _BAD}

    def row(self, schema: Mapping[str, Any], value: list[Any], path: Path) -> object:
        """A list; one bad member spoils it, for its length means something."""
        item = schema.get("items", {}) | {key: schema[key] for key in schema if key.startswith("x-")}
        items = [self.value(chosen(item, below), below, (*path, at)) for at, below in enumerate(value)]
        return _BAD if any(below is _BAD for below in items) else tuple(items)

    def unit(self, dimension: str, unit: object, path: Path) -> None:
        """The unit of a list of numbers."""
        if isinstance(unit, str) and path not in self.spoiled and unit not in UNITS[dimension]:
            wanted = f"a unit of {dimension.replace('_', ' ')}"
            self.result.faults.append(Fault(path, "unknown-unit", shown(unit), wanted, nearest(unit, UNITS[dimension])))

    def quantity(self, schema: Mapping[str, Any], value: object, path: Path) -> object:
        """One number in SI, within its bounds."""
        try:
            number, tolerance, broken = _measured(_measure(schema), value)
        except QuantityError as error:
            self.result.faults.append(Fault(path, error.problem, error.found, error.expected, error.mend))
            return _BAD
        if broken:
            self.result.faults.append(_out_of_bounds(schema, value, broken, path))
        if tolerance is not None:
            self.result.tolerances[dotted(path)] = tolerance
        return _BAD if number is None or broken == "value" else number


class _Measure(NamedTuple):
    """What a schema says of a number: its dimension, the unit of one that is written without, and its bounds in SI."""

    dimension: str
    unit: object
    above: float
    least: float
    below: float
    most: float

    def keeps(self, number: float) -> bool:
        """Whether a number is within all bounds; not-a-number is within none."""
        slack = SLACK * abs(number)
        return self.above < number < self.below and self.least - slack <= number <= self.most + slack


class _Measured(NamedTuple):
    """Value and tolerance in SI and which of them breaks the bounds; no value where that is said elsewhere."""

    value: float | None = None
    tolerance: float | None = None
    broken: Literal["value", "tolerance"] | None = None


def _measure(schema: Mapping[str, Any]) -> _Measure:
    get = schema.get
    return _Measure(
        schema["x-dimension"],
        get("x-in", ""),
        get("x-above", -inf),
        get("x-at-least", -inf),
        get("x-below", inf),
        get("x-at-most", inf),
    )


def _measured(measure: _Measure, value: object) -> _Measured:
    """A value by its measure; QuantityError where it is no quantity."""
    if isinstance(value, str):
        return _of_text(measure, value)
    if isinstance(value, bool) or not isinstance(value, int | float) or measure.unit not in UNITS[measure.dimension]:
        return _Measured()
    try:
        number = from_unit(float(value), str(measure.unit))
    except OverflowError:
        raise QuantityError(shown(value), "a number below 1e300", "write a smaller number", "out-of-range") from None
    return _Measured(number, None, None if measure.keeps(number) else "value")


@lru_cache(2**16)
def _of_text(measure: _Measure, text: str) -> _Measured:
    """What a text says; a catalog says most things many times."""
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
    """Whether a number keeps all bounds of its schema; not-a-number keeps none."""
    return _measure(schema).keeps(number)


def _bounds_in_words(schema: Mapping[str, Any]) -> str:
    """The bounds for a reader: `above 0 and at most 1`."""
    written = schema.get("x-expected", {}).get("bounds")
    words = [
        f"{key[2:].replace('-', ' ')} {schema[key]}" for key in ("x-above", "x-at-least", "x-below", "x-at-most") if key in schema
    ]
    return written or " and ".join(words) or "finite"

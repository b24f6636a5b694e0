"""Parsed values to SI, led by the schema: which values are quantities, of which dimension, and within which bounds."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

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
            number, tolerance = _number(schema, value)
        except QuantityError as error:
            self.result.faults.append(Fault(path, error.problem, error.found, error.expected, error.mend))
            return _BAD
        if number is None:
            return _BAD
        broken = list(_out_of_bounds(schema, value, number, tolerance, path))
        self.result.faults += broken
        if tolerance is not None:
            self.result.tolerances[dotted(path)] = tolerance
        return _BAD if any(fault.severity == "error" for fault in broken) else number


def _number(schema: Mapping[str, Any], value: object) -> tuple[float | None, float | None]:
    """Value and tolerance in SI; no value where something else is at fault and said elsewhere."""
    if isinstance(value, str):
        quantity = parse(value, schema["x-dimension"])
        return quantity.value, quantity.tolerance
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None, None
    unit = schema.get("x-in", "")
    if unit not in UNITS[schema["x-dimension"]]:
        return None, None
    try:
        return from_unit(float(value), unit), None
    except OverflowError:
        raise QuantityError(shown(value), "a number below 1e300", "write a smaller number", "out-of-range") from None


def _out_of_bounds(
    schema: Mapping[str, Any], value: object, number: float, tolerance: float | None, path: Path
) -> Iterator[Fault]:
    """A fault where the value breaks its bounds, a caution where only its tolerance does."""
    if not within(schema, number):
        wanted = _bounds_in_words(schema)
        yield Fault(path, "out-of-bounds", shown(value), wanted, f"write a value that is {wanted}")
    elif tolerance is not None and not (within(schema, number - tolerance) and within(schema, number + tolerance)):
        wanted = _bounds_in_words(schema)
        found = f"{shown(value)}, whose tolerance reaches beyond"
        yield Fault(path, "tolerance-out-of-bounds", found, wanted, "check the half-width after +/-", severity="caution")


def within(schema: Mapping[str, Any], number: float) -> bool:
    """Whether a number keeps all bounds of its schema; not-a-number keeps none."""
    slack = SLACK * abs(number)
    return bool(
        number > schema.get("x-above", float("-inf"))
        and number < schema.get("x-below", float("inf"))
        and number >= schema.get("x-at-least", float("-inf")) - slack
        and number <= schema.get("x-at-most", float("inf")) + slack
    )


def _bounds_in_words(schema: Mapping[str, Any]) -> str:
    """The bounds for a reader: `above 0 and at most 1`."""
    written = schema.get("x-expected", {}).get("bounds")
    words = [
        f"{key[2:].replace('-', ' ')} {schema[key]}" for key in ("x-above", "x-at-least", "x-below", "x-at-most") if key in schema
    ]
    return written or " and ".join(words) or "finite"

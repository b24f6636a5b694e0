"""One fit of a profile: the fields it names, and how they are held against each other."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from fitcheck.catalog.parts import FAMILIES
from fitcheck.catalog.schema import Fault, document, nearest
from fitcheck.errors import Finding
from fitcheck.profile import Fit
from fitcheck.quantities import quoted
from fitcheck.rules_file import Origin, missing, number

# The key that says what kind of fit a table is. `at_most` comes last: beside `difference` it is a bound.
KINDS = {
    "equal": "equal",
    "fields": "allowed",
    "difference": "band",
    "inside": "inside",
    "fitted": "fitted",
    "at_most": "at_most",
}

_NEEDED = ("reason", "remedy", "source")

# Words and numbers that follow from an entry without standing in it.
_DERIVED = {
    "line.inlet": "word",
    "line.outlet": "word",
    "line.liner": "word",
    "line.length": "length",
    "slave.rest": "word",
    "application.return_spring": "word",
    "pressure_plate.spring": "word",
    "disc.cushion": "word",
}

_WANTED = {
    "equal": ("word", "word"),
    "at_most": ("number", "number"),
    "band": ("number", "number"),
    "inside": ("number", "range"),
}


@cache
def known_fields() -> Mapping[str, str]:
    """Every field that a fit may name, with what it holds: `word`, a dimension, or `range` and a dimension."""
    known = dict(_DERIVED)
    for family in FAMILIES:
        for key, schema in document(family)["properties"].items():
            holds = _holds(schema)
            if holds:
                known[f"{family}.{key}"] = holds
    return known


def read_fit(name: str, table: Mapping[str, Any], origin: Origin, findings: list[Finding]) -> Fit | None:
    """The fit in SI, or None and the findings that say why not."""
    key = next((key for key in KINDS if key in table), "")
    faults = missing(("fits", name), table, _NEEDED)
    faults += _several(name, table) if key else [_no_kind(name)]
    if key and key != "fitted":
        faults += _fields(name, key, table[key])
    bounds: dict[str, float | None] = {}
    if not faults and key == "difference":
        bounds = _band(name, table, faults)
    if not faults and key == "fields":
        faults += _rows(name, table)
    findings += map(origin.finding, faults)
    if faults:
        return None
    names = ("application.fitted",) if key == "fitted" else tuple(table[key])
    allowed = tuple(map(tuple, table.get("allowed", ())))
    sentences = {item: table[item] for item in _NEEDED}
    return Fit(name, KINDS[key], names, allowed=allowed, place=origin.place("fits", name), **bounds, **sentences)  # type: ignore[arg-type]


def _holds(schema: Mapping[str, Any]) -> str | None:
    """What a field holds as far as fits can use it."""
    dimension = schema.get("x-dimension")
    if schema.get("type") == "array":
        return f"range {dimension}" if schema.get("maxItems") == 2 else None
    if dimension:
        return dimension if "object" not in schema["type"] else None
    return "word" if "enum" in schema or schema.get("type") == "string" else None


def _no_kind(name: str) -> Fault:
    wanted = "one of equal, fields with allowed, at_most, difference, inside, fitted"
    return Fault(("fits", name), "no-kind", "a fit that holds nothing against anything", wanted, "add one of them", of="key")


def _several(name: str, table: Mapping[str, Any]) -> list[Fault]:
    """Keys that do not go together."""
    key = next(key for key in KINDS if key in table)
    company = {"fields": {"allowed"}, "difference": {"at_least", "at_most"}}.get(key, set())
    strange = sorted(set(table) - {key, *company, *_NEEDED})
    faults = [
        Fault(
            ("fits", name, other),
            "either-or",
            f"{other} beside {key}",
            "one kind of fit in a table",
            f"take {other} or {key} away",
            of="key",
        )
        for other in strange
    ]
    if key == "fields" and "allowed" not in table:
        faults.append(
            Fault(
                ("fits", name),
                "missing-key",
                "fields without allowed",
                "the rows of words that go together",
                "add allowed",
                of="key",
            )
        )
    if key == "at_most" and not isinstance(table[key], list):
        faults.append(
            Fault(
                ("fits", name),
                "missing-key",
                "at_most without difference",
                "difference = [a, b] beside it",
                "add difference",
                of="key",
            )
        )
    return faults


def _fields(name: str, key: str, names: object) -> list[Fault]:
    """Unknown fields, and fields that hold the wrong kind of value."""
    faults = []
    wanted = _WANTED.get(KINDS[key], ())
    for at, field in enumerate(names if isinstance(names, list) else ()):
        path = ("fits", name, key, at)
        holds = known_fields().get(field)
        kind = wanted[at] if at < len(wanted) else "word"
        if holds is None:
            faults.append(Fault(path, "unknown-field", f"the field {quoted(field)}", "a field of a family", _near(field)))
        elif kind != _sort(holds):
            faults.append(
                Fault(
                    path,
                    "wrong-field",
                    f"{field}, which holds a {_sort(holds)}",
                    f"a field that holds a {kind}",
                    "name another field",
                )
            )
    if (
        not faults
        and isinstance(names, list)
        and wanted
        and len({known_fields()[field].removeprefix("range ") for field in names}) > 1
    ):
        found = " and ".join(f"{field} ({known_fields()[field].removeprefix('range ')})" for field in names)
        faults.append(Fault(("fits", name, key), "wrong-field", found, "two fields of one dimension", "name another field"))
    return faults


def _sort(holds: str) -> str:
    return "range" if holds.startswith("range ") else "word" if holds == "word" else "number"


def _near(field: str) -> str:
    """The nearest fields, of its own family where that is known."""
    family = field.partition(".")[0]
    own = [known.partition(".")[2] for known in known_fields() if known.startswith(f"{family}.")]
    return nearest(field.partition(".")[2], own) if own else nearest(family, FAMILIES)


def _band(name: str, table: Mapping[str, Any], faults: list[Fault]) -> dict[str, float | None]:
    """The ends of a band, one at least, in SI."""
    dimension = known_fields()[table["difference"][0]]
    lower = number(("fits", name, "at_least"), table.get("at_least"), dimension, faults)
    upper = number(("fits", name, "at_most"), table.get("at_most"), dimension, faults)
    if "at_least" not in table and "at_most" not in table:
        faults.append(
            Fault(("fits", name), "no-bound", "a difference without bounds", "at_least or at_most, or both", "add one", of="key")
        )
    if lower is not None and upper is not None and not lower <= upper:
        faults.append(
            Fault(("fits", name, "at_least"), "order", "at_least above at_most", "at_least below at_most", "check both")
        )
    return {"lower": lower, "upper": upper}


def _rows(name: str, table: Mapping[str, Any]) -> list[Fault]:
    """Each row holds one word for each field."""
    count = len(table["fields"])
    return [
        Fault(
            ("fits", name, "allowed", at),
            "wrong-count",
            f"a row of {len(row)} words",
            f"{count}, one for each field",
            "complete the row",
        )
        for at, row in enumerate(table["allowed"])
        if len(row) != count
    ]

"""The sentences for what a schema refuses, made from keyword, path and schema: found, expected, how to mend it."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from typing import Any

from fitcheck.catalog.schema import Fault, Path, accepts, dotted, errors, nearest, node
from fitcheck.quantities import UNITS, describe, quoted

Words = Callable[[str, Any, Any], Iterator[Fault]]  # schema name, whole value, one error of the validator

_KINDS = {
    "string": "text",
    "number": "a number",
    "integer": "a whole number",
    "boolean": "true or false",
    "array": "a list",
    "object": "a table",
}


def faults(name: str, value: Mapping[str, Any], refused: Collection[Path] = ()) -> list[Fault]:
    """All that a schema holds against a parsed table, each once; nothing more is said of values `refused` already."""
    if not refused and accepts(name, value):
        return []
    found = (fault for error in errors(name, value) for fault in _WORDS.get(error.validator, _other)(name, value, error))
    kept = [fault for fault in dict.fromkeys(found) if fault.path not in refused]
    kinds = {
        fault.path for fault in kept if fault.problem == "wrong-kind"
    }  # what is of the wrong kind has no size, and no letters
    kept = [fault for fault in kept if fault.path not in kinds or fault.problem == "wrong-kind"]
    return kept if kept or refused else [_UNEXPLAINED]


def shown(value: object) -> str:
    """A value as its reader wrote it, cut short."""
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return f"a table of {', '.join(sorted(map(str, value))[:5])}" if value else "an empty table"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    return f"the number {str(value)[:40]}"


def expectation(schema: Mapping[str, Any]) -> str:
    """What a schema asks for, in words."""
    if "x-dimension" in schema and schema.get("type") not in ("array", "integer"):
        table = " or a curve" if "object" in schema["type"] else ""
        return describe(schema["x-dimension"]) + table
    if "enum" in schema:
        return " or ".join(map(shown, schema["enum"]))
    kinds = schema.get("type", "another value")
    return " or ".join(_KINDS.get(kind, kind) for kind in ([kinds] if isinstance(kinds, str) else kinds))


def _path(error: Any) -> Path:
    return tuple(error.absolute_path)


def _required(name: str, value: Any, error: Any) -> Iterator[Fault]:
    for key in error.validator_value:
        if key not in error.instance:
            schema = node(name, (*_path(error), key), value)
            wanted = f"{key} ({schema.get('description', 'a key')}): {expectation(schema)}"
            yield Fault((*_path(error), key), "missing-key", f"no {key}", wanted, f"add {key}", of="key")


def _unknown(name: str, value: Any, error: Any) -> Iterator[Fault]:
    schema = node(name, _path(error), value)
    refused = schema.get("x-refused", {})
    for key in error.instance:
        if key not in schema.get("properties", {}):
            close = next((reason for word, reason in refused.items() if word in key), None)
            mend = f"{close}: leave the part out" if close else nearest(key, schema.get("properties", {}))
            yield Fault(
                (*_path(error), key),
                "unknown-key",
                f"the key {quoted(key)}",
                f"a key of {schema.get('title', dotted(_path(error)))}",
                mend,
                of="key",
            )


def _type(name: str, value: Any, error: Any) -> Iterator[Fault]:
    schema = node(name, _path(error), value)
    mend = f"write {expectation(schema)}"
    unit = next((unit for unit in UNITS[schema.get("x-dimension", "ratio")] if unit), "")
    if unit and isinstance(error.instance, int | float) and not isinstance(error.instance, bool):
        mend = f'write it between quotes with its unit, as in "{str(error.instance)[:20]} {unit}" if {unit} is meant'
    yield Fault(_path(error), "wrong-kind", shown(error.instance), expectation(schema), mend)


def _enum(name: str, value: Any, error: Any) -> Iterator[Fault]:
    near = nearest(str(error.instance), map(str, error.validator_value))
    mend = near if near.endswith("?") else "write one of these words"
    yield Fault(_path(error), "unknown-word", shown(error.instance), expectation(error.schema), mend)


def _const(name: str, value: Any, error: Any) -> Iterator[Fault]:
    wanted = shown(error.validator_value)
    yield Fault(_path(error), "unknown-word", shown(error.instance), wanted, f"write {wanted} or leave the key out")


def _text(name: str, value: Any, error: Any) -> Iterator[Fault]:
    """Letters that may not stand there, or too many of them; a key is refused by the same keywords as a value."""
    key = "propertyNames" in error.absolute_schema_path
    path = (*_path(error), error.instance) if key else _path(error)
    length = {"maxLength": f"at most {error.validator_value} characters", "minLength": "at least one character"}
    wanted = error.schema.get("x-expected", {}).get(error.validator) or length.get(
        error.validator, "text without control characters"
    )
    yield Fault(
        path,
        "wrong-text",
        shown(error.instance),
        wanted,
        "change the name" if key else "change the text",
        of="key" if key else "value",
    )


def _count(name: str, value: Any, error: Any) -> Iterator[Fault]:
    count = error.validator_value
    wanted, mend = {
        "minItems": (f"a list of at least {count}", "add what is missing, or leave the key out where it may be left out"),
        "maxItems": (f"a list of at most {count}", "leave out what is too much"),
        "uniqueItems": ("each of them once", "leave out the repetition"),
        "minProperties": (f"at least {count} key", "name something, or leave the key out"),
    }[error.validator]
    yield Fault(_path(error), "wrong-count", shown(error.instance), wanted, mend)


def _bound(name: str, value: Any, error: Any) -> Iterator[Fault]:
    bound = error.validator_value
    wanted = {
        "minimum": f"at least {bound}",
        "maximum": f"at most {bound}",
        "exclusiveMinimum": f"more than {bound}",
        "multipleOf": "an even number" if bound == 2 else f"a multiple of {bound}",
    }[error.validator]
    yield Fault(_path(error), "out-of-bounds", shown(error.instance), wanted, f"write {wanted}")


def _either(name: str, value: Any, error: Any) -> Iterator[Fault]:
    keys = [branch["required"][0] for branch in error.validator_value]
    given = [key for key in keys if key in error.instance]
    found = f"both {' and '.join(given)}" if given else f"neither {' nor '.join(keys)}"
    path = (*_path(error), given[-1]) if given else _path(error)
    words = error.schema
    yield Fault(path, "either-or", found, words["x-expected"]["oneOf"], words["x-mend"]["oneOf"], of="key")


def _together(name: str, value: Any, error: Any) -> Iterator[Fault]:
    for key, others in error.validator_value.items():
        for other in others:
            if key in error.instance and other not in error.instance:
                yield Fault(
                    (*_path(error), key),
                    "incomplete",
                    f"{key} without {other}",
                    f"{key} together with {other}",
                    f"add {other}",
                    of="key",
                )


def _other(name: str, value: Any, error: Any) -> Iterator[Fault]:
    yield Fault(
        _path(error),
        "refused",
        shown(error.instance),
        expectation(node(name, _path(error), value)),
        "compare it with an entry that is accepted",
    )


# The validators disagree: refused all the same, and said.
_UNEXPLAINED = Fault(
    (), "refused", "a table that its schema refuses", "one that it accepts", "compare it with one that is accepted"
)

_WORDS: dict[str, Words] = {
    "required": _required,
    "additionalProperties": _unknown,
    "type": _type,
    "enum": _enum,
    "const": _const,
    **dict.fromkeys(("pattern", "not", "maxLength", "minLength"), _text),
    **dict.fromkeys(("minItems", "maxItems", "uniqueItems", "minProperties"), _count),
    **dict.fromkeys(("minimum", "maximum", "exclusiveMinimum", "multipleOf"), _bound),
    "oneOf": _either,
    "dependentRequired": _together,
}

"""The shipped JSON Schemas: how they are read, and which entries they refuse.

A fast validator filters, one entry at a time; the slow one, which explains better, sees only what was refused. Neither can
fetch anything: references are written out when a schema is loaded, and retrieving is refused.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from typing import Any, Literal

import jsonschema_rs

from fitcheck.catalog.source import Source
from fitcheck.data import folder
from fitcheck.errors import Finding

Path = tuple[str | int, ...]  # keys and positions from an entry, or a whole file, to one of its values

_FEW = 30  # names that a reader takes in at a glance


@dataclass(frozen=True)
class Fault:
    """What is wrong with one value; it becomes a finding once the place is known."""

    path: Path
    problem: str
    found: str
    expected: str
    mend: str
    of: Literal["key", "value"] = "value"
    severity: Literal["error", "caution"] = "error"

    def finding(self, source: Source, *base: str) -> Finding:
        """The fault with its place in a file; `base` leads from the file to the entry."""
        place = source.locate((*base, *self.path), of=self.of)
        return Finding(place, self.problem, self.found, self.expected, self.mend, self.severity)


def dotted(path: Path) -> str:
    """A path as tolerances and places name it: `pieces.0.length`."""
    return ".".join(map(str, path))


def nearest(word: str, words: Iterable[str]) -> str:
    """A hint at the right word: `did you mean stroke?`, or the known ones where none is close."""
    choice = list(words)
    close = get_close_matches(word.casefold(), choice, n=3, cutoff=0.6)
    if close:
        return f"did you mean {' or '.join(close)}?"
    if len(choice) <= _FEW:
        return f"known are {', '.join(choice)}"
    return f"the nearest of {len(choice)} are {', '.join(get_close_matches(word.casefold(), choice, n=3, cutoff=0.0))}"


@cache
def document(name: str) -> dict[str, Any]:
    """The schema of a family, of `job` or of `profile`, every reference written out: nothing is left to fetch."""
    schema, common = (
        json.loads(folder("schemas").joinpath(f"{title}.schema.json").read_text("utf-8")) for title in (name, "common")
    )
    whole: dict[str, Any] = _written_out(schema, common["$defs"] | schema.pop("$defs", {}))
    return whole


def node(name: str, path: Path, value: object) -> dict[str, Any]:
    """The part of a schema that speaks of `path` in `value`; empty where nothing does."""
    here = document(name)
    for step in path:
        properties = here.get("properties", {})
        below = here.get("items") if isinstance(step, int) else properties.get(step, here.get("additionalProperties"))
        value = _inside(value, step)
        here = chosen(below, value) if isinstance(below, dict) else {}
    return here


def chosen(schema: dict[str, Any], value: object) -> dict[str, Any]:
    """A schema with the branch that the `kind` of the value takes, where there are branches."""
    for branch in schema.get("allOf", ()):
        if _inside(value, "kind") == branch["if"]["properties"]["kind"]["const"]:
            return {**schema, **branch["then"]}
    return schema


def _written_out(schema: Any, definitions: Mapping[str, Any]) -> Any:
    """A schema with what it refers to in place of each reference; none refers to itself."""
    if isinstance(schema, list):
        return [_written_out(item, definitions) for item in schema]
    if not isinstance(schema, dict):
        return schema
    target = definitions[schema["$ref"].rpartition("/")[2]] if "$ref" in schema else {}
    merged = target | {key: value for key, value in schema.items() if key != "$ref"}
    return {key: _written_out(value, definitions) for key, value in merged.items()}


def accepts(name: str, value: Mapping[str, Any]) -> bool:
    """Whether the fast validator has nothing against a parsed table."""
    return bool(_filter(name).is_valid(value))


def errors(name: str, value: Mapping[str, Any]) -> list[Any]:
    """All that the slow validator has against a parsed table, in the order of the schema."""
    return list(_explainer(name)(value))


def _inside(value: object, step: str | int) -> object:
    """The value one step down, or None."""
    if isinstance(value, dict):
        return value.get(step)
    return value[step] if isinstance(value, list) and isinstance(step, int) and step < len(value) else None


@cache
def _filter(name: str) -> Any:
    """The fast validator."""
    return jsonschema_rs.Draft202012Validator(document(name), retriever=_refuse)


@cache
def _explainer(name: str) -> Callable[[object], Iterator[Any]]:
    """The slow validator, loaded only when something was refused."""
    from jsonschema import Draft202012Validator
    from referencing import Registry

    iterator: Callable[[object], Iterator[Any]] = Draft202012Validator(document(name), registry=Registry()).iter_errors
    return iterator


def _refuse(uri: str) -> Any:
    """A schema never reaches outside itself."""
    raise ValueError(f"schemas are not fetched: {uri}")

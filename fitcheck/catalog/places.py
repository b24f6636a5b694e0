"""Where the values of an entry stand, looked up when somebody asks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cached_property
from typing import Any

from fitcheck.catalog.schema import Path, dotted
from fitcheck.catalog.source import Source
from fitcheck.errors import Place


class Places(Mapping[str, Place]):
    """Dotted key to place. Nearly no place is ever asked for, and finding one takes a parse of its own."""

    def __init__(self, source: Source, base: Path, values: Mapping[str, Any]) -> None:
        """Keep what is needed to look a place up."""
        self._source = source
        self._base = base
        self._values = values

    @cached_property
    def _paths(self) -> dict[str, Path]:
        """The path of each dotted key."""
        return {dotted(path): path for path in _paths(self._values, ())}

    def __reduce__(self) -> tuple[type[Places], tuple[Source, Path, Mapping[str, Any]]]:
        """Travel to another process without the syntax tree, which cannot."""
        return Places, (replace(self._source, positions=None), self._base, self._values)

    def __getitem__(self, key: str) -> Place:
        """The place of a key's value."""
        return self._source.locate((*self._base, *self._paths[key]), of="value")

    def __iter__(self) -> Iterator[str]:
        """The keys in the order of the file."""
        return iter(self._paths)

    def __len__(self) -> int:
        """How many keys and list members there are."""
        return len(self._paths)


def _paths(value: object, path: Path) -> Iterator[Path]:
    if path:
        yield path
    if isinstance(value, dict | list):
        for step, below in value.items() if isinstance(value, dict) else enumerate(value):
            yield from _paths(below, (*path, step))

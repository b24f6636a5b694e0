"""Where the values of an entry stand, looked up when somebody asks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from fitcheck.catalog.schema import Path, dotted
from fitcheck.catalog.source import Source
from fitcheck.errors import Place


class Places(Mapping[str, Place]):
    """Dotted key to place, and "" to that of the header. Nearly no place is ever asked for."""

    def __init__(self, source: Source, base: Path, values: Mapping[str, Any]) -> None:
        """Keep what is needed to look a place up."""
        self._source = source
        self._base = base
        self._values = values

    def __getitem__(self, key: str) -> Place:
        """The place of a key's value, or of the entry's name."""
        path = _path(self._values, key) if key else ()
        return self._source.locate((*self._base, *path), of="value" if key else "key")

    def __iter__(self) -> Iterator[str]:
        """The keys in the order of the file."""
        yield from ("", *map(dotted, _paths(self._values, ())))

    def __len__(self) -> int:
        """How many keys and list members there are."""
        return sum(1 for _ in self)


def _path(values: object, key: str) -> Path:
    """The path that a dotted key stands for."""
    path: Path = ()
    for step in key.split("."):
        if isinstance(values, dict) and step in values:
            path, values = (*path, step), values[step]
        elif isinstance(values, list) and step.isdecimal() and int(step) < len(values):
            path, values = (*path, int(step)), values[int(step)]
        else:
            raise KeyError(key)
    return path


def _paths(value: object, path: Path) -> Iterator[Path]:
    if path:
        yield path
    if isinstance(value, dict | list):
        for step, below in value.items() if isinstance(value, dict) else enumerate(value):
            yield from _paths(below, (*path, step))

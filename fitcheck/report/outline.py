"""Texts under texts: told by indentation on a terminal, as lists on a page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass


@dataclass(frozen=True)
class Item:
    """A text, and what is told under it."""

    text: str
    below: tuple[Item, ...] = ()


def items(texts: Iterable[str]) -> tuple[Item, ...]:
    """Texts with nothing under them."""
    return tuple(map(Item, texts))


def indented(outline: Iterable[Item], indent: str = "") -> Iterator[str]:
    """The outline as lines, each level two spaces further in."""
    for item in outline:
        yield f"{indent}{item.text}"
        yield from indented(item.below, f"{indent}  ")

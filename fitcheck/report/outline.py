"""Texts under texts: told by indentation on a terminal, as lists on a page; and lines that a terminal of 120 columns holds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from textwrap import wrap

WIDTH = 118
UNBROKEN = "\N{NO-BREAK SPACE}"  # between words that stay on one line; a plain space once they do


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


def wrapped(text: str, indent: str = "") -> list[str]:
    """A text over as many lines as it takes, never broken within a name; what follows stands two spaces further in."""
    after = indent if indent.endswith("| ") else f"{indent}  "
    lines = wrap(text, WIDTH, initial_indent=indent, subsequent_indent=after, break_long_words=False, break_on_hyphens=False)
    return [line.replace(UNBROKEN, " ") for line in lines]


def fitted(lines: Iterable[str]) -> Iterator[str]:
    """The lines, each that is too long over as many as it takes."""
    for line in lines:
        text = line.lstrip(" ")
        yield from wrapped(text, line[: len(line) - len(text)]) or [""]

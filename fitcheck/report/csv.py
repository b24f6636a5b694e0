"""`kits.csv`: one row a kit, quoted as RFC 4180 says, the same bytes for the same input."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from typing import TextIO, TypeVar

from fitcheck.engine.result import KitTable
from fitcheck.frame import columns

T = TypeVar("T")
RISKY_STARTS = ("=", "+", "-", "@", "\t", "\r")  # a spreadsheet may run a text cell that starts so (CWE-1236)
NEEDS_QUOTES = re.compile('[,"\r\n]')


def write_kits(kits: KitTable, stream: TextIO) -> None:
    """Write header and rows; the stream must have been opened with `newline=""` and UTF-8."""
    table = columns(kits)
    stream.write(",".join(table) + "\n")
    rows = zip(*(_cells(column) for column in table.values()), strict=True)
    stream.writelines(",".join(row) + "\n" for row in rows)


def _cells(column: Sequence[object]) -> Iterable[str]:
    """A column as text. Numbers are left alone by the guard, or `-1.5` would become text."""
    first = column[0] if column else ""
    if isinstance(first, bool):
        return ("true" if value else "false" for value in column)
    if isinstance(first, float):
        return _by_value(column, number)  # type: ignore[arg-type]
    if isinstance(first, int):
        return map(str, column)
    return _by_value(column, text)  # type: ignore[arg-type]


def number(value: float) -> str:
    """12 significant digits, `inf` where infinite, blank where there is no number; never `-0`."""
    return "" if value != value else format(value + 0.0, ".12g")


def text(words: str) -> str:
    """A text cell that no spreadsheet runs, in quotes where it holds a comma, a quote or a line end."""
    safe = f"'{words}" if words.startswith(RISKY_STARTS) else words
    return '"' + safe.replace('"', '""') + '"' if NEEDS_QUOTES.search(safe) else safe


def _by_value(column: Sequence[T], write: Callable[[T], str]) -> Iterable[str]:
    """Each distinct value is written once: kits share most of their figures."""
    written = {value: write(value) for value in set(column)}
    return map(written.__getitem__, column)

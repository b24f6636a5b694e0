"""One TOML 1.0 file: its values, where each stands, and everything that could not be read.

Values come from the parser, places from a run over the text; what can be saved of a file that does not parse is saved.
"""

from __future__ import annotations

import hashlib
import stat
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date, time
from math import isfinite
from pathlib import Path as FilePath
from typing import Any, Literal

import rtoml

from fitcheck.catalog.positions import Path, Positions, dotted
from fitcheck.errors import Finding, Place

LARGEST = 32 * 1024 * 1024  # bytes
DEEPEST = 32  # levels of tables and lists; no schema needs ten

_MARK = b"\xef\xbb\xbf"  # a byte-order mark, which some editors put first


@dataclass(frozen=True)
class Source:
    """One file as read. `refused` holds the paths of values that no entry may have: leave the entry out."""

    file: str
    values: dict[str, Any] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    digest: str = ""  # SHA-256 of the bytes; empty when they could not be read
    complete: bool = True
    refused: tuple[Path, ...] = ()
    text: str = field(default="", repr=False)  # what the values were read from: broken entries are blank lines
    positions: Positions = field(default_factory=lambda: Positions(""), repr=False, compare=False)

    def locate(self, path: Path, of: Literal["key", "value"] = "key") -> Place:
        """Where a key or its value stands; a key that is missing is shown at its nearest ancestor."""
        line, column = self.positions.find(path, of)
        return Place(self.file, line, column, dotted(path))


def read_source(path: FilePath, shown: str, dates: bool = False) -> Source:
    """Read one file, named in findings as `shown`: what is wrong is said and left out, nothing is raised.

    Dates and times are refused unless `dates` allows them.
    """
    try:
        data = _bytes(path)
    except (OSError, ValueError) as trouble:  # ValueError: a name that no file can have
        return Source(shown, findings=(_unreadable(trouble, shown),), complete=False)
    digest = hashlib.sha256(data).hexdigest()
    refusal = _unfit(data, shown)
    if refusal:
        return Source(shown, findings=(refusal,), digest=digest if len(data) <= LARGEST else "", complete=False)
    text, spoiled = _decoded(data.removeprefix(_MARK).replace(b"\r\n", b"\n"), shown)
    findings: list[Finding] = []
    values, positions = _parsed("" if spoiled else text)
    if not values:
        from fitcheck.catalog.recovery import salvage  # with parsers that explain, which sound files do without

        text, findings = salvage(text, shown, spoiled)
        values, positions = _parsed(text)
    return _weighed(Source(shown, values, tuple(findings), digest, not findings, (), text, positions), dates)


def _parsed(text: str) -> tuple[dict[str, Any], Positions]:
    """The values of a text that is TOML 1.0, and their places; nothing of any other."""
    try:
        values = _values(text)
    except (ValueError, RecursionError):
        return {}, Positions("")
    positions = Positions(text)
    return (values if positions.sound else {}), positions


def _values(text: str) -> dict[str, Any]:
    """What a quick parser reads, or the one that knows why not: it alone tells where a text breaks, so it has the last word."""
    if not text.startswith("\N{ZERO WIDTH NO-BREAK SPACE}"):  # a second mark, which the quick one would pass over
        with suppress(rtoml.TomlParsingError):
            return rtoml.loads(text)
    import tomli

    return tomli.loads(text)


def _bytes(path: FilePath) -> bytes:
    """The bytes of an ordinary file, one more than allowed at most."""
    if not stat.S_ISREG(path.stat().st_mode):
        raise IsADirectoryError if path.is_dir() else OSError("not an ordinary file")
    with path.open("rb") as file:
        return file.read(LARGEST + 1)


def _unreadable(trouble: Exception, shown: str) -> Finding:
    """The finding for a file that cannot be opened."""
    words: dict[type[Exception], str] = {
        FileNotFoundError: "no such file",
        IsADirectoryError: "a folder",
        PermissionError: "a file that may not be read",
    }
    found = words.get(type(trouble)) or getattr(trouble, "strerror", None) or str(trouble)
    return Finding(Place(shown), "unreadable", found, "a file that can be read", "check its name and who may read it")


def _unfit(data: bytes, shown: str) -> Finding | None:
    """The finding for a file that cannot be text of this kind at all."""
    if len(data) > LARGEST:
        found, expected = f"more than {LARGEST} bytes", f"at most {LARGEST} bytes"
        return Finding(Place(shown), "too-large", found, expected, "split the file: entries may stand in any number of files")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in data:
        return Finding(
            Place(shown), "not-utf-8", "zero bytes or a mark of UTF-16", "text in UTF-8", "save the file as UTF-8 text"
        )
    return None


def _decoded(data: bytes, shown: str) -> tuple[str, dict[int, Finding]]:
    """The text, and a finding for each line (from 1) that is not UTF-8."""
    try:
        return data.decode(), {}
    except UnicodeDecodeError:
        spoiled = {}
        for number, line in enumerate(data.split(b"\n"), 1):
            try:
                line.decode()
            except UnicodeDecodeError as trouble:
                place = Place(shown, number, len(line[: trouble.start].decode()) + 1)
                found = f"the byte 0x{line[trouble.start]:02x}"
                spoiled[number] = Finding(place, "not-utf-8", found, "text in UTF-8", "save the file as UTF-8 text")
        return data.decode(errors="replace"), spoiled


def _weighed(source: Source, dates: bool) -> Source:
    """The source with findings for values that TOML knows and no entry can have; an empty file is said to be empty."""
    findings, refused = [*source.findings], set()
    for path, step, value in _leaves(source.values):
        if fault := _value_fault(value, dates):
            refused.add((*path, step))
            findings.append(Finding(source.locate((*path, step), "value"), *fault))
    if not source.values and not findings:
        findings.append(
            Finding(Place(source.file), "empty", "nothing", "at least one entry", "write an entry or leave the file away")
        )
    places = tuple(sorted(refused, key=dotted))
    return replace(source, findings=tuple(sorted(findings)), complete=not findings, refused=places)


def _leaves(values: dict[str, Any]) -> Iterator[tuple[Path, str | int, Any]]:
    """Every value that holds no other and may be none, with where it is and its key there; what is too deep as it is."""
    stack: list[tuple[Path, Any]] = [((), values)]
    while stack:
        path, table = stack.pop()
        for step, value in table.items() if isinstance(table, dict) else enumerate(table):
            kind = type(value)
            if kind is str or (kind is float and isfinite(value)):
                continue
            if isinstance(value, dict | list) and len(path) < DEEPEST:
                stack.append(((*path, step), value))
            else:
                yield path, step, value


def _value_fault(value: Any, dates: bool) -> tuple[str, str, str, str] | None:
    """Problem, found, expected and mend of a value that no entry can have."""
    if isinstance(value, dict | list):
        return "too-deep", f"more than {DEEPEST} levels", "a few levels of nesting", "write the value with less nesting"
    if isinstance(value, float) and not isfinite(value):
        return "not-finite", str(value), "a finite number", "write the number, or leave the key out where it is not known"
    if isinstance(value, int) and abs(value) >= 2**63:
        return "number-too-long", "a number of more than 18 digits", "a number of at most 18 digits", "write a shorter number"
    if isinstance(value, date | time) and not dates:
        return "date", value.isoformat(), "no date or time", "write it between quotes if it is text"
    return None

"""Where in a sound TOML file a key stands, found by running over its statements; most are plain and passed over in one go."""

from __future__ import annotations

import re
import sys
from bisect import bisect
from collections.abc import Iterator
from functools import cached_property, lru_cache
from itertools import accumulate
from typing import TYPE_CHECKING, Literal

import rtoml

from fitcheck.quantities import quoted

if TYPE_CHECKING:
    from fitcheck.catalog.grammar import Spot

_FEW = 3  # keys of one table that are looked for one by one; of a table that is asked for more, all are noted at once

Path = tuple[str | int, ...]
Offsets = tuple[int, int]  # where a key and its value begin
Stretch = tuple[int, int, bool]  # from where to where, and whether every line of it is a plain pair

_STRING = r'"(?!"")[^"\\\n]*+"'
_LIST = rf"""\[(?:[^"'\[\]{{}}:\n#]++|{_STRING})*+\]"""
_TABLE = rf"""\{{(?:[^"'\[\]{{}}:,\n#]++|,(?![ \t]*\}})|{_STRING}|{_LIST})*+\}}"""
_ROW = rf"""\[(?:[^"'\[\]{{}}:\n#]++|{_STRING}|{_LIST}|{_TABLE})*+\]"""
_END = r"[ \t]*+(?:\#[^\n]*+)?+\n"
# A line whose value ends on it, without escapes, times and quotes in keys: the same in every version of TOML.
_PLAIN = rf"""(?:[^"'\[{{\n=#]*+=[ \t]*+(?:{_STRING}|{_ROW}|{_TABLE}|[^"'\[{{:\n#]*+))?+{_END}"""
# The same of a list that goes on over lines.
_ROWS = rf"""[^"'\[{{\n=#]*+=[ \t]*+\[(?:[^"'\[\]{{}}:#]++|{_STRING}|{_LIST}|{_TABLE})*+\]{_END}"""

_PLAIN_LINES = re.compile(rf"(?:{_PLAIN})*+")
_PLAIN_ROWS = re.compile(_ROWS)
_KEY = re.compile(r"""[ \t]*("(?:[^"\\]|\\.)*"|'[^']*'|[A-Za-z0-9_-]+)[ \t]*(\.|=[ \t]*|\]\]?)""")
_SCALAR = re.compile(r'''"""(?:[^\\]|\\.)*?"{3,5}|\'{3}.*?\'{3,5}|"(?:[^"\\]|\\.)*"|'[^']*'|[^,\]}\n#]+''', re.DOTALL)
_LINE = re.compile(r"[^\n]*\n")
_BARE = re.compile("[A-Za-z0-9_-]+")
_GAP = re.compile(r"(?:[ \t\n,]|#[^\n]*)*")


class Positions:
    """The places of all keys and values of one text that the parser takes."""

    def __init__(self, text: str) -> None:
        """Find the headers; the keys of a table are found when somebody asks for one: of a large catalog few ever do."""
        self._text = text.replace("\r\n", "\n") + "\n"
        self._index: dict[Path, Offsets] = {}
        self._tables: dict[Path, list[Stretch]] = {}  # where the keys of each table stand
        self._asked: dict[Path, int] = {}  # how often keys were looked for in each table
        self._odd: list[str] = []  # statements that are not plain
        self._find_headers()

    @property
    def sound(self) -> bool:
        """Whether the text is TOML 1.0, and not only of a later version; what is plain is the same in all."""
        if not self._odd:
            return True
        from fitcheck.catalog.grammar import Grammar  # loaded by the few texts that need it

        return Grammar("\n".join(self._odd)).sound

    def find(self, path: Path, of: Literal["key", "value"] = "key") -> Spot:
        """The place of a key or its value; for one that is not there, its nearest ancestor's; for none, the top of the file."""
        if path not in self._index:
            for length, step in enumerate(path):
                if path[:length] in self._tables:
                    self._gather(path[:length], str(step))
        while path not in self._index:
            if not path:
                return 1, 1
            path = path[:-1]
        return self._spot(self._index[path][0 if of == "key" else 1])

    def paths(self) -> set[Path]:
        """All the paths that have a place."""
        for prefix in list(self._tables):
            self._asked[prefix] = _FEW
            self._gather(prefix, "")
        return set(self._index)

    def _spot(self, offset: int) -> Spot:
        """Line and column of a place in the text."""
        line = bisect(self._lines, offset)
        return line, offset - self._lines[line - 1] + 1

    @cached_property
    def _lines(self) -> list[int]:
        """Where each line begins."""
        return list(accumulate(map(len, _LINE.findall(self._text)), initial=0))

    def _find_headers(self) -> None:
        """Note the headers, the stretches between them, and what is not plain."""
        counts: dict[Path, int] = {}
        path: Path = ()
        start = at = 0
        plain = False  # the first line has no line end before it, by which a key would be found
        while (at := _after(_GAP, self._text, _after(_PLAIN_LINES, self._text, at))) < len(self._text):
            if rows := _PLAIN_ROWS.match(self._text, at):
                at, plain = rows.end(), False
                continue
            begin = at
            if self._text[at] == "[":
                self._note_table(path, (start, at, plain))
                path, start = _note_header(self._text, at, self._index, counts)
                at, plain = start, True
            else:
                at = _note_pair(self._text, at, (), {})
                plain = False
            if self._text[begin] != "[" or '"' in self._text[begin:at]:
                self._odd.append(self._text[begin:at])
        self._note_table(path, (start, at, plain))

    def _note_table(self, path: Path, stretch: Stretch) -> None:
        """Note where the keys of a table stand, if it has any."""
        if self._text.find("=", *stretch[:2]) >= 0:
            self._tables.setdefault(path, []).append(stretch)

    def _gather(self, prefix: Path, key: str) -> None:
        """Note what stands in a table under a key; of a table that was asked for many keys, what stands under all of them.

        Only what was looked for is kept of lines that had to be read: earlier lines may lead through the same table.
        """
        self._asked[prefix] = asked = self._asked.get(prefix, 0) + 1
        many = asked > _FEW
        for stretch in self._tables.pop(prefix) if many else self._tables[prefix]:
            for found in self._pairs(prefix, stretch, "" if many else key):
                for path, spots in found.items() if many or (*prefix, key) in found else ():
                    self._index.setdefault(path, spots)

    def _pairs(self, prefix: Path, stretch: Stretch, key: str) -> Iterator[dict[Path, Offsets]]:
        """What stands in the pairs whose line begins with a key, pair by pair; in all of them, if none is given."""
        at, stop, plain = stretch
        spots: dict[Path, Offsets]
        if plain and key:
            for line in _lines_with(key).finditer(self._text, at, stop):
                spots = {(*prefix, key): (line.start(1), line.start(2))} if line[2] else {}
                if not line[2]:
                    _note_pair(self._text, line.start(1), prefix, spots)
                yield spots
            return
        others = _lines_without(key)
        while (at := _after(_GAP, self._text, _after(others, self._text, at, stop), stop)) < stop:
            spots = {}
            at = _note_pair(self._text, at, prefix, spots)
            yield spots


@lru_cache
def _lines_with(key: str) -> re.Pattern[str]:
    """Lines that begin with a key, group 1; group 2 begins a plain value. The line end in front makes them quick to find."""
    return re.compile(rf"\n[ \t]*({re.escape(key)})(?:[ \t]*=[ \t]*([^\[{{ \t]))?")


@lru_cache
def _lines_without(key: str) -> re.Pattern[str]:
    """Plain lines that do not begin with a key."""
    return re.compile(rf"(?:(?![ \t]*{re.escape(key)})(?:{_PLAIN}|{_ROWS}))*+")


def _after(pattern: re.Pattern[str], text: str, at: int, stop: int = sys.maxsize) -> int:
    """Where a pattern ends that begins at a place."""
    found = pattern.match(text, at, stop)
    if found is None:
        raise ValueError(f"no sound TOML at {at}")
    return found.end()


def _note_header(text: str, at: int, index: dict[Path, Offsets], counts: dict[Path, int]) -> tuple[Path, int]:
    """Note the keys of a header; the path of the table that it opens, and where it ends.

    The newest element of an array of tables is the one that later headers step into.
    """
    many = text.startswith("[[", at)
    (*parents, (name, spot)), end = _keys(text, at + 1 + many)
    path: Path = ()
    for parent, place in parents:
        path = (*path, parent)
        index.setdefault(path, (place, place))
        path = (*path, counts[path] - 1) if path in counts else path
    path = (*path, name)
    if many:
        index.setdefault(path, (spot, at))
        counts[path] = counts.get(path, 0) + 1
        path = (*path, counts[path] - 1)
    index[path] = (spot, at)
    return path, end


def _note_pair(text: str, at: int, path: Path, index: dict[Path, Offsets]) -> int:
    """Note a pair and everything inside its value; where it ends."""
    path, at = _note_keys(text, at, path, index)
    open_ones: list[tuple[Path, int]] = []  # brackets around: the path of each, and the next number in an array, -1 in a table
    while True:
        if text[at] in "[{":
            open_ones.append((path, 0 if text[at] == "[" else -1))
            at += 1
        else:
            at = _after(_SCALAR, text, at)
        at = _after(_GAP, text, at)
        while open_ones and text[at] in "]}":
            open_ones.pop()
            at = _after(_GAP, text, at + 1)
        if not open_ones:
            return at
        path, number = open_ones[-1]
        if number < 0:
            path, at = _note_keys(text, at, path, index)
        else:
            open_ones[-1] = (path, number + 1)
            path = (*path, number)
            index.setdefault(path, (at, at))


def _note_keys(text: str, at: int, path: Path, index: dict[Path, Offsets]) -> tuple[Path, int]:
    """Note the keys of a pair; its path, and where its value begins."""
    parts, at = _keys(text, at)
    for name, spot in parts[:-1]:
        path = (*path, name)
        index.setdefault(path, (spot, spot))
    name, spot = parts[-1]
    path = (*path, name)
    index[path] = (spot, at)
    return path, at


def _keys(text: str, at: int) -> tuple[list[tuple[str, int]], int]:
    """The parts of a dotted key with their places, and where the value, or what follows a header, begins."""
    parts = []
    end = "."
    while end == "." and (found := _KEY.match(text, at)):
        name, end = found.groups()
        parts.append((name if name[0] not in "\"'" else next(iter(rtoml.loads(f"{name} = 0"))), found.start(1)))
        at = found.end()
    return parts, at


def dotted(path: Path) -> str:
    """A path as people write it: `line.braided.pieces[0].length`."""
    parts = [f"[{part}]" if isinstance(part, int) else f".{part if _BARE.fullmatch(part) else _quoted(part)}" for part in path]
    return "".join(parts).removeprefix(".")


def _quoted(key: str) -> str:
    """A key between quotes; those within it, and the sign that escapes them, are escaped."""
    return quoted(key.replace("\\", "\\\\").replace('"', '\\"'))

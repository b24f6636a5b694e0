"""What can still be read of a file that is not TOML 1.0, and each line that is broken.

The unit of recovery is the entry, `[family.id]` with all its sub-tables: a broken one is blanked, line for line, so that the
places of the others stay. Inside a broken entry each statement is tried on its own, which names every broken line.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, NamedTuple

import tomli

from fitcheck.catalog.grammar import Grammar
from fitcheck.catalog.positions import Path, dotted
from fitcheck.errors import Finding, Place
from fitcheck.quantities import quoted

_KEY = r"""(?:[A-Za-z0-9_-]+|"(?:[^"\\]|\\.)*"|'[^']*')"""
_DOTTED = rf"[ \t]*{_KEY}(?:[ \t]*\.[ \t]*{_KEY})*[ \t]*"
_ASSIGNMENT = re.compile(rf"{_DOTTED}=")
_HEADER = re.compile(r"""[ \t]*\[{1,2}[ \t]*["'A-Za-z_][^,{}\[\]=#]*(?:\](?![ \t]*,)|\r?$|#)""")

_LONGEST = 100  # lines of one value that are tried again and again for its end

_ADVICE = tuple(
    (re.compile(pattern), mend)
    for pattern, mend in (
        (r"[\x00-\x08\x0b-\x1f\x7f]", "take out the unprintable character"),
        (r"[\u2018-\u201f]", "use the straight quotes of the keyboard"),
        (r"^[ \t]*\[", "close the header, [family.id], with nothing but a comment after it"),
        (r"^[ \t]*[\w\"'.-]+[ \t]*:", "write = between key and value"),
        (r"^[ \t]*[\w.-]+[ \t]+[\w.-]+[ \t]*=", "write the key without blanks, with _ between its words"),
        (r"=[ \t]*(?:#.*)?$", "write a value after the ="),
        (r"=[ \t]*=", "write one = only"),
        (r"=[ \t]*(?:True|False|TRUE|FALSE)\b", "write true or false in small letters"),
        (r"\"[^\"]*\\[^\"]*\"", "write a backslash twice, or put the text between single quotes"),
        (r"=[ \t]*(?:\"\"\"|''')", "close the text with the same three quotes"),
        (r"=[ \t]*(?:\"[^\"]*|'[^']*)$", "close the quotes on the same line"),
        (r"=[ \t]*[\[{]", "close every bracket, and put a comma between the items"),
        (
            r"=[ \t]*[^\s\"'\[{]",
            'put words and quantities between quotes, as in "3/4 in"; a number has a point and no leading zeros',
        ),
        (r"", "write key = value, one to a line"),
    )
)


@dataclass(frozen=True)
class _Block:
    """A header with the lines under it; `keys` are what its header says or, where `sound` is false, seems to say."""

    keys: tuple[str, ...]
    sound: bool
    many: bool  # [[...]]: one more element of an array of tables
    lines: range  # counted from 0


# What may stand before what on one path, by TOML 1.0; a table may be opened once, after headers have only passed through it.
_ALLOWED = {
    ("way", "way"),
    ("way", "table"),
    ("way", "dotted"),
    ("table", "way"),
    ("tables", "way"),
    ("tables", "tables"),
    ("dotted", "way"),
    ("dotted", "dotted"),
}


class _Use(NamedTuple):
    """One use of a path: on which line, and what it makes of the path."""

    line: int
    kind: str  # value, table, tables (an array of them), way (a header passes through) or dotted (a dotted key does)


def salvage(text: str, file: str, spoiled: Mapping[int, Finding]) -> tuple[str, list[Finding]]:
    """The text with every broken entry blanked, and a finding for each broken line.

    `spoiled` holds the findings of lines (counted from 1) that are known to be broken.
    """
    lines = text.split("\n")
    entries = _entries(lines, Grammar(text))
    findings = list(spoiled.values())
    for entry in entries.values():
        numbers = [number for block in entry for number in block.lines]
        marked = {number + 1 for number in numbers} & spoiled.keys()
        sound = _is_sound("\n".join(lines[number] for number in numbers))
        if not sound:
            findings += [fault for fault in _faults(entry, lines, file) if fault.place.line not in marked]
        if marked or not sound:
            _blank(lines, numbers)
    findings += _clashes(entries, lines, file)
    return "\n".join(lines), findings


def _is_sound(text: str) -> bool:
    """Whether a piece of text is TOML 1.0 by itself."""
    return _trouble(text) is None and Grammar(text).sound


def _trouble(text: str) -> Exception | None:
    """The parser's complaint about a piece of text."""
    try:
        tomli.loads(text)
    except (ValueError, RecursionError) as trouble:  # a syntax error is a ValueError, and so is a number of thousands of digits
        return trouble
    return None


def _blank(lines: list[str], numbers: Iterable[int]) -> None:
    """Empty some lines; the lines after them keep their numbers."""
    for number in numbers:
        lines[number] = ""


def _entries(lines: Sequence[str], grammar: Grammar) -> dict[tuple[str, ...], list[_Block]]:
    """The blocks of the file, gathered by entry: the first two keys of their headers."""
    starts = [number for number in _open_lines(lines, grammar) if _HEADER.match(lines[number])]
    entries: dict[tuple[str, ...], list[_Block]] = {}
    if starts[:1] != [0]:
        entries[()] = [_Block((), True, False, range(starts[0] if starts else len(lines)))]
    for start, stop in pairwise([*starts, len(lines)]):
        block = _block(lines[start], range(start, stop))
        entries.setdefault(block.keys[:2] or ("", str(start)), []).append(block)  # a header without keys stands for itself
    return entries


def _open_lines(lines: Sequence[str], grammar: Grammar) -> list[int]:
    """The lines that do not continue a value; a text that seems to end where another begins never was closed."""
    continued: set[int] = set()
    for span in grammar.continued_lines():
        if not _ASSIGNMENT.match(lines[span[-1] - 1]):
            continued.update(span)
    return [number for number in range(len(lines)) if number + 1 not in continued]


def _block(header: str, lines: range) -> _Block:
    """The block under a header line; of a broken header, the words that look like keys."""
    many = header.lstrip().startswith("[[")
    if _trouble(header) is not None:
        return _Block(tuple(re.findall(r"[\w-]+", header.partition("#")[0])), False, many, lines)
    return _Block(_nested_keys(tomli.loads(header)), True, many, lines)


def _nested_keys(table: Any) -> tuple[str, ...]:
    """The keys of tables that hold one another."""
    keys: list[str] = []
    while table and isinstance(table, dict | list):
        if isinstance(table, dict):
            keys.append(next(iter(table)))
        table = table[0] if isinstance(table, list) else table[keys[-1]]
    return tuple(keys)


def _statements(block: _Block, lines: Sequence[str]) -> list[range]:
    """The lines of a block cut before each assignment, and before each line that follows a finished statement."""
    text = [lines[number] for number in block.lines]
    cuts = [0]
    for number in _open_lines(text, Grammar("\n".join(text))):
        if number and (_ASSIGNMENT.match(text[number]) or (text[number].strip() and _is_finished(text, cuts[-1], number))):
            cuts.append(number)
    return [range(block.lines.start + start, block.lines.start + stop) for start, stop in pairwise([*cuts, len(text)])]


def _is_finished(text: Sequence[str], start: int, stop: int) -> bool:
    """Whether nothing more can belong to the statement on some lines; a long one is taken to go on."""
    return not _ASSIGNMENT.match(text[start]) or (stop - start <= _LONGEST and _trouble("\n".join(text[start:stop])) is None)


def _faults(entry: Sequence[_Block], lines: Sequence[str], file: str) -> list[Finding]:
    """A finding for each broken line of an entry, and for each line that says a thing again."""
    key = dotted(entry[0].keys[:2])
    newer = _newer([number for block in entry for number in block.lines], lines, Place(file, key=key))
    statements = [statement for block in entry for statement in _statements(block, lines)]
    findings = newer or [fault for statement in statements for fault in _statement_faults(statement, lines, file, key)]
    return findings + _doubled(entry, lines, file) or [_unexplained(entry, lines, file)]


def _newer(numbers: Sequence[int], lines: Sequence[str], place: Place) -> list[Finding]:
    """The findings for lines that the parser takes and TOML 1.0 does not know."""
    text = "\n".join(lines[number] for number in numbers)
    if _trouble(text) is not None:
        return []
    mend = "write it as TOML 1.0: an inline table on one line without a comma at its end, times with seconds, no \\e or \\x"
    places = [Place(place.file, numbers[line - 1] + 1, column, place.key) for line, column in Grammar(text).faults()]
    return [Finding(place, "newer-toml", quoted(lines[place.line - 1].strip()), "TOML 1.0", mend) for place in places]


def _unexplained(entry: Sequence[_Block], lines: Sequence[str], file: str) -> Finding:
    """The finding for an entry whose statements are sound one by one but not together."""
    numbers = [number for block in entry for number in block.lines]
    trouble = _trouble("\n".join(lines[number] for number in numbers))
    number = numbers[trouble.lineno - 1 if isinstance(trouble, tomli.TOMLDecodeError) else 0]
    place = Place(file, number + 1, key=dotted(entry[0].keys[:2]))
    mend = "take out this line or the earlier one that it contradicts"
    return Finding(place, "broken-line", quoted(lines[number].strip()), "an entry of TOML 1.0", mend)


def _statement_faults(statement: range, lines: Sequence[str], file: str, key: str) -> list[Finding]:
    """What is wrong with one statement taken alone."""
    text = [lines[number] for number in statement]
    first = Place(file, statement.start + 1, len(text[0]) - len(text[0].lstrip()) + 1, key)
    trouble = _trouble("\n".join(text))
    return _newer(statement, lines, first) if trouble is None else [_syntax_finding(trouble, first, text)]


def _syntax_finding(trouble: Exception, first: Place, text: Sequence[str]) -> Finding:
    """The finding for what the parser says of the lines of one statement."""
    if isinstance(trouble, RecursionError):
        return Finding(first, "too-deep", quoted(text[0].strip()), "a few levels of nesting", "write the value with less nesting")
    if not isinstance(trouble, tomli.TOMLDecodeError):
        return Finding(
            first, "number-too-long", quoted(text[0].strip()), "a number of at most 18 digits", "write a shorter number"
        )
    rest = "\n".join([text[trouble.lineno - 1][trouble.colno - 1 :], *text[trouble.lineno :]])
    place = Place(first.file, first.line + trouble.lineno - 1, trouble.colno, first.key)
    if trouble.lineno > 1 and not rest.strip():  # it ran to the end of the statement: what is missing belongs where it began
        place = first
    shown = text[place.line - first.line].rstrip()[:1000]  # enough for advice, and soon searched
    if trouble.msg.startswith("Duplicate"):
        return Finding(place, "defined-twice", quoted(shown.strip()), "each key once in a table", "keep one of the two")
    mend = next(mend for pattern, mend in _ADVICE if pattern.search(shown))
    return Finding(place, "broken-line", quoted(shown.strip()), "a line of TOML 1.0", mend)


def _doubled(blocks: Iterable[_Block], lines: Sequence[str], file: str) -> list[Finding]:
    """Findings at both lines, each line once, for each path that is defined again."""
    uses: dict[Path, _Use] = {}
    counts: dict[Path, int] = {}
    findings: list[Finding] = []
    named: set[Place] = set()
    for block in blocks:
        for number, path, kind, own in _definitions(block, lines, counts):
            again = _again(path, own, _Use(number + 1, kind), uses, lines, file)
            findings += [finding for finding in again if finding.place not in named]
            named.update(finding.place for finding in again)
            if again and kind != "value":
                break  # everything under a header that stands twice would be said again
    return findings


def _definitions(block: _Block, lines: Sequence[str], counts: dict[Path, int]) -> Iterator[tuple[int, Path, str, int]]:
    """Line, path, kind and length of the header's part of everything that a block defines, as far as its header can be read."""
    if not block.sound:
        return
    prefix: Path = ()
    for key in block.keys:
        prefix = (*prefix, counts[prefix] - 1, key) if prefix in counts else (*prefix, key)
    if block.keys:
        yield block.lines.start, prefix, "tables" if block.many else "table", len(prefix)
    if block.many:
        counts[prefix] = counts.get(prefix, 0) + 1
        prefix = (*prefix, counts[prefix] - 1)
    for statement in _statements(block, lines):
        match = _ASSIGNMENT.match(lines[statement.start])
        if match and _trouble(match[0] + "0") is None:
            yield statement.start, prefix + _nested_keys(tomli.loads(match[0] + "0")), "value", len(prefix)


def _again(path: Path, own: int, use: _Use, uses: dict[Path, _Use], lines: Sequence[str], file: str) -> list[Finding]:
    """Note the use of a path, whose first `own` keys are its header's; the two findings if an earlier use forbids it."""
    for length in range(1, len(path) + 1):
        kind = use.kind if length == len(path) else "dotted" if length > own else "way"
        part = path[:length]
        earlier = uses.setdefault(part, _Use(use.line, kind))
        if earlier.line != use.line and (earlier.kind, kind) not in _ALLOWED:
            return _both(part, earlier.line, use.line, lines, file)
        if (earlier.kind, kind) == ("way", "table"):
            uses[part] = use
    return []


def _both(path: Path, earlier: int, later: int, lines: Sequence[str], file: str) -> list[Finding]:
    """The findings at both lines that define one path."""
    key = dotted(path)
    mend = f"keep one of lines {earlier} and {later}"
    return [
        Finding(Place(file, line, 1, key), "defined-twice", quoted(lines[line - 1].strip()), f"{key} once in this file", mend)
        for line in (earlier, later)
    ]


def _clashes(entries: Mapping[tuple[str, ...], Sequence[_Block]], lines: list[str], file: str) -> list[Finding]:
    """Findings for entries that are sound one by one but not together; what clashes is blanked."""
    trouble = _trouble("\n".join(lines))
    if trouble is None:
        return []
    blocks = sorted((block for entry in entries.values() for block in entry), key=lambda block: block.lines.start)
    findings = _doubled((block for block in blocks if any(lines[number] for number in block.lines)), lines, file)
    named = {finding.place.line - 1 for finding in findings}
    for entry in entries.values():
        if any(number in named for block in entry for number in block.lines):
            _blank(lines, (number for block in entry for number in block.lines))
    trouble = _trouble("\n".join(lines))
    if trouble is not None:
        _blank(lines, range(len(lines)))
        findings.append(
            Finding(Place(file), "broken-file", str(trouble), "a file of TOML 1.0", "mend this first and check again")
        )
    return findings

"""A result folder read back: nothing in it is believed before it is checked, and what is damaged is said."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

from fitcheck.catalog.parts import TRAINS
from fitcheck.engine.states import VERDICT_WORDS
from fitcheck.engine.table import METRICS
from fitcheck.errors import Finding, InputError, Place
from fitcheck.quantities import quoted

FORMAT = 2  # of summary.json: raised whenever a key is added that reading back needs, changes its meaning or goes away
KITS, SUMMARY = "kits.csv", "summary.json"
LARGEST = 2**31  # bytes
NEEDED = ("application", "kit", "train", "verdict", "limiting_rule", "headroom", "reasons", "rank")


@dataclass(frozen=True)
class Row:
    """One kit as kits.csv holds it; figures by column, None where blank."""

    kit: str
    application: str
    parts: Mapping[str, str]  # family -> id
    verdict: str
    limiting_rule: str
    headroom: float
    reasons: str
    rank: int
    figures: Mapping[str, float | None]


@dataclass(frozen=True)
class ResultFolder:
    """A whole result."""

    folder: Path
    version: str
    complete: bool  # whether everything that the job asked for was screened
    every_kit: bool  # whether kits.csv holds every legal kit
    passing: Mapping[str, int]  # passing kits by application, listed or not
    decided_by: Mapping[str, Any]  # entries, rules, fits, assumptions and what was asked
    kits: Mapping[str, Row]


def read_result(folder: Path) -> ResultFolder:
    """Read `summary.json` and `kits.csv` of a folder.

    Raises
    ------
    InputError
        One of them is missing, damaged, not of the other, or written by another version of the program.
    """
    path = folder / SUMMARY
    summary = _json(path)
    try:
        if summary["format"] != FORMAT:
            found = f"format {summary['format']!r:.40}"
            _refuse(path, "wrong-format", found, f"format {FORMAT}", "screen its job again with this version of fitcheck")
        kits = _kits(folder / KITS, summary["kits_csv"])
        applications = _typed(summary["applications"], dict)
        passing = {name: sum(_typed(one["pass"], int) for one in trains.values()) for name, trains in applications.items()}
        complete, every_kit = (_typed(summary[key], bool) for key in ("complete", "kits_csv_holds_every_legal_kit"))
        version, decided_by = _typed(summary["version"], str), _decided(summary["decided_by"])
        return ResultFolder(folder, version, complete, every_kit, passing, decided_by, kits)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        what = f"no {error}" if isinstance(error, KeyError) else str(error)
        _refuse(path, "damaged", what[:80], "what a screening writes", "screen its job again")


def _refuse(path: Path, problem: str, found: str, expected: str, mend: str, line: int = 1) -> NoReturn:
    raise InputError((Finding(Place(path.as_posix(), line), problem, found, expected, mend),))


def _bytes(path: Path) -> bytes:
    try:
        if not path.is_file():
            _refuse(path, "unreadable", "no such file", "a folder that `screen` has written", "check the path")
        if path.stat().st_size > LARGEST:
            _refuse(path, "too-large", f"more than {LARGEST} bytes", "a result of this program", "check the path")
        return path.read_bytes()
    except (OSError, ValueError) as error:
        found = getattr(error, "strerror", None) or str(error)
        _refuse(path, "unreadable", found, "a file that can be read", "check its name and who may read it")


def _json(path: Path) -> dict[str, Any]:
    try:
        value = json.loads(_bytes(path).decode("utf-8"), parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        _refuse(path, "damaged", f"no JSON that can be read ({error})"[:120], "what a screening writes", "screen its job again")
    if not isinstance(value, dict):
        _refuse(path, "damaged", "JSON that is no object", "what a screening writes", "screen its job again")
    return value


def _no_constant(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number of JSON")


def _typed(value: Any, kind: type) -> Any:
    if type(value) is not kind:
        raise TypeError(f"{value!r:.40} where a {kind.__name__} is expected")
    return value


def _decided(value: Any) -> Mapping[str, Any]:
    """Every kind of cause is there, each a table by name."""
    tables = ("entries", "linkages", "rules", "fits", "assumptions", "asked", "ranking")
    for key in tables:
        _typed(_typed(value, dict)[key], dict)
    for entries in value["entries"].values():
        for digest in _typed(entries, dict).values():
            _typed(digest, str)
    _names(list(value["linkages"].values()))
    for rule in value["rules"].values():
        _rule(_typed(rule, dict))
    for fit in value["fits"].values():
        _names(_typed(fit, dict)["fields"])
        if not fit["fields"]:
            raise ValueError("a fit of no fields")
    return value  # type: ignore[no-any-return]


def _rule(rule: Mapping[str, Any]) -> None:
    """What a rule is about and whom it is for is there, and can be told."""
    _typed(rule["metric"], str)
    if rule["train"] is not None and rule["train"] not in TRAINS:
        raise ValueError(f"{rule['train']!r:.40} where a train is expected")
    if rule["applications"] is not None:
        _names(rule["applications"])


def _names(value: Any) -> None:
    for name in _typed(value, list):
        _typed(name, str)


# --- kits.csv


def _kits(path: Path, told: Mapping[str, Any]) -> dict[str, Row]:
    """The rows by kit; the summary says which bytes belong to it."""
    data = _bytes(path)
    if hashlib.sha256(data).hexdigest() != told["sha256"]:
        found = "other bytes than were written together with summary.json"
        _refuse(path, "damaged", found, "the file as it was written", "screen its job again, and edit only copies")
    rows = list(csv.reader(io.StringIO(data.decode("utf-8"), newline=""), strict=True))
    if not rows or not set(NEEDED) <= set(rows[0]) or len(rows) - 1 != told["rows"]:
        _refuse(path, "damaged", "no table of kits", f"columns {', '.join(NEEDED)}", "screen its job again")
    figures = {metric.column for metric in METRICS.values()}
    kits: dict[str, Row] = {}
    for line, cells in enumerate(rows[1:], start=2):
        try:
            row = _row(dict(zip(rows[0], cells, strict=True)), figures)
        except ValueError as error:
            _refuse(path, "damaged", str(error)[:80], "a kit", "screen its job again", line)
        if row.kit in kits:
            _refuse(path, "damaged", f"{row.kit} twice"[:120], "each kit once", "screen its job again", line)
        kits[row.kit] = row
    return kits


def _row(cells: Mapping[str, str], figures: set[str]) -> Row:
    if cells["verdict"] not in VERDICT_WORDS:
        raise ValueError(f"the verdict {quoted(cells['verdict'])}")
    families = list(cells)[: list(cells).index("kit")]
    number: Callable[[str], float | None] = lambda text: float(text) if text else None  # noqa: E731
    return Row(
        cells["kit"],
        cells["application"],
        {family: cells[family] for family in families if cells[family]},
        cells["verdict"],
        cells["limiting_rule"],
        float(cells["headroom"]),
        cells["reasons"],
        int(cells["rank"]),
        {column: number(text) for column, text in cells.items() if column in figures},
    )

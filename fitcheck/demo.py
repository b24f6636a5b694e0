"""The invented demo: its files in a folder of the person's own, and what in its result is worth telling first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources.abc import Traversable
from pathlib import Path

import numpy as np

from fitcheck.data import folder as shipped
from fitcheck.engine.result import KitTable, Result
from fitcheck.engine.states import REJECT
from fitcheck.errors import OutputError
from fitcheck.frame import nearest_first

JOB_FILE = "job.toml"


@dataclass(frozen=True)
class Copied:
    """The demo's files by what became of them, as paths from their folder."""

    folder: Path
    written: tuple[str, ...]
    reused: tuple[str, ...]  # there already, unchanged
    kept: tuple[str, ...]  # there already, changed by somebody: never overwritten

    @property
    def job(self) -> Path:
        """The job to screen."""
        return self.folder / JOB_FILE


def copy_demo(target: Path) -> Copied:
    """Copy the demo into a folder; files that stand there already are never overwritten.

    Raises
    ------
    OutputError
        The folder or a file in it cannot be written.
    """
    outcome: dict[str, list[str]] = {"written": [], "reused": [], "kept": []}
    try:
        for name, source in _files(shipped("catalogs") / "demo"):
            outcome[_copy(source.read_bytes(), target / name)].append(name)
    except OSError as error:
        raise OutputError(f"cannot write the demo to {target}: {error.strerror or error}") from error
    return Copied(target, tuple(outcome["written"]), tuple(outcome["reused"]), tuple(outcome["kept"]))


def _files(room: Traversable, before: str = "") -> Iterator[tuple[str, Traversable]]:
    """The TOML files of a folder and its folders, by name; nothing that a run may have left there."""
    for entry in sorted(room.iterdir(), key=lambda entry: entry.name):
        if entry.is_dir():
            yield from _files(entry, f"{before}{entry.name}/")
        elif entry.name.endswith(".toml"):
            yield before + entry.name, entry


def _copy(content: bytes, target: Path) -> str:
    """Write one file beside its place and rename it, unless one stands there."""
    if target.exists():
        return "reused" if target.read_bytes() == content else "kept"
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(f".{target.name}.part")
    part.write_bytes(content)
    part.replace(target)
    return "written"


def shown_application(result: Result) -> str:
    """The vehicle to tell of: the first with kits of both trains that are not rejected, else with one, else the first."""
    names = list(dict.fromkeys(application for application, _ in result.legal))
    standing = Counter(application for (application, _), table in result.best.items() if len(table))
    return max(names, key=lambda name: standing[name], default="")


def interesting_rejection(result: Result) -> KitTable | None:
    """The rejected kit with the least in its way, of a vehicle that has nothing better where there is one: a table of one row."""
    for table in (*result.nearest.values(), result.kits):
        rejected = np.flatnonzero(table.verdict == REJECT).tolist()
        told = [row for row in rejected if any(reason.remedy for reason in table.reasons[row])]
        if told:
            return nearest_first(table.take(np.array(told))).take(np.array([0]))
    return None

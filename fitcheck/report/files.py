"""Writing a result folder: each file is written beside its place and renamed when all are whole."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterable, Mapping
from hashlib import sha256
from io import StringIO
from pathlib import Path
from typing import TextIO

from fitcheck.engine.result import Group, Result
from fitcheck.errors import OutputError
from fitcheck.reasons.explained import Explained
from fitcheck.report.csv import write_kits
from fitcheck.report.html import page
from fitcheck.report.summary import summary_text

Writer = Callable[[TextIO], object]


def write_result(result: Result, folder: Path, told: Mapping[Group, Explained] | None = None) -> tuple[Path, ...]:
    """Write `kits.csv`, `report.html` and `summary.json` (last: where it stands, the others are whole).

    A result is always written anew: nothing of an earlier one is taken over, whether it was whole or not. What the page
    explains of each group is found out unless it is given.

    Raises
    ------
    OutputError
        The folder cannot be made or a file cannot be written; what stood there before still stands.
    """
    digest = sha256()
    writers: dict[str, Writer] = {
        "kits.csv": lambda stream: _write_kits(result, stream, digest.update),
        "report.html": lambda stream: stream.write(page(result, told)),
        "summary.json": lambda stream: stream.write(summary_text(result, digest.hexdigest())),
    }
    return write_whole(folder, writers)


def _write_kits(result: Result, stream: TextIO, take: Callable[[bytes], object]) -> None:
    """Write the table and hand its bytes to a digest, by which the summary knows the table that belongs to it."""
    text = StringIO(newline="")
    write_kits(result.kits, text)
    take(text.getvalue().encode("utf-8", "backslashreplace"))
    stream.write(text.getvalue())


def write_whole(folder: Path, writers: dict[str, Writer]) -> tuple[Path, ...]:
    """Write all files beside their places, then rename each; a failure or a stop leaves no half file behind."""
    beside = {name: folder / f".{name}.{os.getpid()}.part" for name in writers}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, writer in writers.items():
            with beside[name].open("w", encoding="utf-8", errors="backslashreplace", newline="") as stream:
                writer(stream)
        for name, part in beside.items():
            part.replace(folder / name)
    except OSError as error:
        raise OutputError(f"cannot write to {folder}: {error.strerror or error}") from error
    finally:
        _remove(beside.values())
    return tuple(folder / name for name in writers)


def _remove(parts: Iterable[Path]) -> None:
    for part in parts:
        with contextlib.suppress(OSError):  # the folder itself may not be there; the first trouble is told already
            part.unlink(missing_ok=True)

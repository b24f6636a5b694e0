"""Which files a person means, and what kind of file each is."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fitcheck.catalog.parts import FAMILIES
from fitcheck.catalog.source import Source, read_source
from fitcheck.errors import Finding, Place

NOTHING = "nothing-to-read"  # the problem of a finding where there was nothing to check


@dataclass(frozen=True)
class Files:
    """TOML files read from the paths that somebody named, each once, in the order of their names."""

    sources: tuple[Source, ...]
    findings: tuple[Finding, ...]
    complete: bool


def read_files(paths: Sequence[Path]) -> Files:
    """Read every file named, and every `*.toml` in the folders named; links that lead in circles are followed once."""
    findings: list[Finding] = []
    found = _once(file for path in paths for file in _files(path, findings))
    sources = [read_file(path) for path in found]
    return Files(tuple(sources), tuple(findings), all(map(fully_read, sources)) and not findings and bool(sources))


def read_file(path: Path) -> Source:
    """One file; in a bundle alone there may be dates."""
    source = read_source(path, path.as_posix())
    return read_source(path, path.as_posix(), dates=True) if kind_of(source.values) == "bundle" else source


def fully_read(source: Source) -> bool:
    """Whether every line of a file could be read; a value that no field can hold was read, and refused."""
    return len(source.findings) == len(source.refused)


def kind_of(values: Mapping[str, Any]) -> str:
    """What a file is by its top-level keys: `accepted`, `bundle`, `job`, `profile` or `catalog`, which it is if nothing tells."""
    keys = values.keys()
    if "accepted" in keys:
        return "accepted"
    if keys & {"parts", "waivers", "digests", "setup", "frozen", "figures", "train"} and not keys & set(FAMILIES):
        return "bundle"
    if keys & {"catalogs", "trains", "only", "leave_out", "supplied", "prefer", "best", "row_limit", "need_pass", "applications"}:
        return "job"
    return (
        "profile"
        if keys & {"extends", "rules", "fits", "assumptions", "ports", "headroom_enough", "headroom_step"}
        else "catalog"
    )


def _files(path: Path, findings: list[Finding]) -> Iterator[Path]:
    """The files that a path stands for; a folder without any is a finding."""
    try:
        folder = path.is_dir()
    except OSError:  # a name that nothing can have: told by who reads it
        folder = False
    if not folder:
        yield path
        return
    found = sorted(_below(path, findings), key=lambda file: file.as_posix())
    if not found:
        findings.append(nothing(path.as_posix(), "a folder without a .toml file", "a folder with catalog files"))
    yield from found


def _below(path: Path, findings: list[Finding]) -> Iterator[Path]:
    """Every `*.toml` under a folder, in small letters or not; a folder that is reached twice, by a link, is entered once."""
    seen: set[str] = set()

    def unreadable(error: OSError) -> None:
        findings.append(
            nothing(
                Path(error.filename).as_posix(), f"a folder that cannot be opened ({error.strerror})", "a folder that can be read"
            )
        )

    for folder, inner, names in os.walk(path, onerror=unreadable, followlinks=True):
        real = os.path.realpath(folder)
        if real in seen:
            inner.clear()
            continue
        seen.add(real)
        inner.sort()
        yield from (Path(folder, name) for name in names if name.lower().endswith(".toml"))


def _once(paths: Iterator[Path]) -> Iterator[Path]:
    """Each file once, however many paths lead to it."""
    seen: set[str] = set()
    for path in paths:
        try:
            real = os.path.realpath(path)
        except ValueError:  # a name that no file can have: told by who reads it
            real = str(path)
        if real not in seen:
            seen.add(real)
            yield path


def nothing(file: str, found: str, expected: str) -> Finding:
    """The finding where there was nothing to check, which is never fine."""
    return Finding(Place(file), NOTHING, found, expected, "check the path")

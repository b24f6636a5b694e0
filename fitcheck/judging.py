"""Bundle files to judgements: each is read, its parts are looked up, and the kit is judged by its own profile."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path

from fitcheck.bundle import Standing, standing
from fitcheck.bundle_file import Bundle, bundle_of
from fitcheck.bundle_findings import findings_of
from fitcheck.catalog.files import Files, kind_of, read_files
from fitcheck.catalog.load import catalog_in
from fitcheck.catalog.parts import Catalog
from fitcheck.catalog.schema import nearest
from fitcheck.catalog.source import Source
from fitcheck.errors import Finding, InputError, Place
from fitcheck.inputs import DIMENSIONS
from fitcheck.profile import Profile
from fitcheck.profile_file import load_profile


@dataclass(frozen=True)
class Judged:
    """One bundle file: how the kit stands, None where it could not be judged, and all that was found."""

    file: str
    standing: Standing | None
    findings: tuple[Finding, ...]
    digests: Mapping[str, str]  # file as named -> SHA-256 of its bytes, of all that was read for it

    @property
    def complete(self) -> bool:
        """Whether the kit could be judged by all that the bundle names."""
        return self.standing is not None and self.standing.catalog.complete


@dataclass(frozen=True)
class Judgements:
    """Several bundles on one day; `findings` are about what could not be read as a bundle at all."""

    on: date
    bundles: tuple[Judged, ...]
    unread: tuple[Finding, ...] = ()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings of all bundles, each once."""
        return tuple(sorted({*self.unread, *(finding for judged in self.bundles for finding in judged.findings)}))

    @property
    def read(self) -> dict[str, str]:
        """The bundle files by name, and what they are."""
        return {judged.file: "bundle" for judged in self.bundles if judged.digests}

    @property
    def digests(self) -> dict[str, str]:
        """SHA-256 of the bytes of every file read."""
        return {file: digest for judged in self.bundles for file, digest in judged.digests.items()}

    @property
    def complete(self) -> bool:
        """Whether everything asked for was judged."""
        return bool(self.bundles) and not self.unread and all(judged.complete for judged in self.bundles)


def judge_files(paths: Sequence[Path], on: date) -> Judgements:
    """Judge the bundles in files and folders, each by its own profile and catalogs; nothing is raised for one that cannot be."""
    files = read_files(paths)
    read = _Reader()
    return Judgements(on, tuple(_judged(source, read, on) for source in files.sources), files.findings)


class _Reader:
    """What several bundles share is read once."""

    def __init__(self) -> None:
        self.files = cache(lambda paths: read_files(paths))
        self.profile = cache(lambda name, beside: load_profile(name, beside, DIMENSIONS))

    def catalog(self, bundle: Bundle, profile: Profile) -> Catalog:
        """The parts of a bundle."""
        files: Files = self.files(tuple(map(tidy, bundle.catalogs)))
        return catalog_in(files, profile.ports, {family: (identifier,) for family, identifier in bundle.parts.items()})


def tidy(path: Path) -> Path:
    """The path without detours such as `bundles/../catalog`, where that leads to the same place."""
    short = Path(os.path.normpath(path))
    return short if short.exists() and path.exists() and short.samefile(path) else path


def _judged(source: Source, read: _Reader, on: date) -> Judged:
    own = {source.file: source.digest} if source.digest else {}
    try:
        bundle = _bundle(source)
        profile = read.profile(bundle.profile, bundle.path.parent)
        catalog = read.catalog(bundle, profile)
        said = {*bundle.findings, *profile.findings, *catalog.findings, *_lost(bundle, catalog, read)}
        whole = all(catalog.part(*named) for named in bundle.parts.items())
        found = standing(bundle, profile, catalog, on) if whole else None
    except InputError as error:
        return Judged(source.file, None, error.findings, own)
    told = findings_of(found) if found else ()
    return Judged(source.file, found, tuple(sorted({*said, *told})), {**own, **profile.digests, **catalog.digests})


def _bundle(source: Source) -> Bundle:
    """The bundle in a file; another kind of file is no bundle."""
    kind = kind_of(source.values)
    if source.values and kind != "bundle":
        expected = "a bundle: a file with the parts of a kit"
        finding = Finding(Place(source.file), "unknown-kind", f"a {kind}", expected, "name a file that fitcheck bundle wrote")
        raise InputError((finding,))
    return bundle_of(source, DIMENSIONS)


def _lost(bundle: Bundle, catalog: Catalog, read: _Reader) -> list[Finding]:
    """The parts that the catalog has not, or not in a state to be used."""
    found = []
    for family, identifier in bundle.parts.items():
        if catalog.part(family, identifier) is None:
            known = _ids(read.files(tuple(map(tidy, bundle.catalogs))), family)
            broken = identifier in known
            what = f"{family} {identifier}, {'whose entry is left out' if broken else 'which the catalog has not'}"
            mend = "mend its own faults" if broken else nearest(identifier, known) if known else "check the bundle's catalogs"
            found.append(Finding(bundle.place("parts", family), "unknown-part", what, "a part of the catalog", mend))
    return found


def _ids(files: Files, family: str) -> list[str]:
    tables = [source.values.get(family) for source in files.sources if kind_of(source.values) == "catalog"]
    return sorted({identifier for table in tables if isinstance(table, dict) for identifier in table})

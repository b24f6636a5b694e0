"""Bundle files to judgements: each is read, its parts are looked up, and the kit is judged by its own profile."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from fitcheck.bundle_file import Bundle, Waiver, bundle_of, waiver_findings
from fitcheck.bundles.findings import findings_of
from fitcheck.bundles.neighbour import nearest_legal
from fitcheck.bundles.parts import Reader, lost_files, lost_parts
from fitcheck.bundles.standing import Standing, job_of, standing
from fitcheck.catalog.files import fully_read, kind_of, nothing, read_files
from fitcheck.catalog.parts import FAMILIES, Catalog
from fitcheck.catalog.source import Source
from fitcheck.errors import Finding, InputError, Place
from fitcheck.inputs import DIMENSIONS
from fitcheck.profile import Profile


@dataclass(frozen=True)
class Judged:
    """One bundle file: how the kit stands, None where it could not be judged, and all that was found."""

    file: str
    standing: Standing | None
    findings: tuple[Finding, ...]
    digests: Mapping[str, str]  # file as named -> SHA-256 of its bytes, of all that was read for it
    kind: str  # what kind of file it is; only a bundle can be judged
    waivers: tuple[Waiver, ...]  # what may be broken for a while; how each stands is known where the kit could be judged

    @property
    def complete(self) -> bool:
        """Whether the kit could be judged by all that the bundle names."""
        return self.standing is not None and self.standing.catalog.complete


@dataclass(frozen=True)
class Judgements:
    """Several bundles on one day; `unread` is about what could not be read at all."""

    on: date
    bundles: tuple[Judged, ...]
    unread: tuple[Finding, ...] = ()
    passed_over: Mapping[str, str] = field(default_factory=dict)  # file of another kind in a folder that was named -> its kind

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings of all bundles, each once."""
        return tuple(sorted({*self.unread, *(finding for judged in self.bundles for finding in judged.findings)}))

    @property
    def read(self) -> dict[str, str]:
        """The files by name, and what they are."""
        return {judged.file: judged.kind for judged in self.bundles if judged.digests}

    @property
    def digests(self) -> dict[str, str]:
        """SHA-256 of the bytes of every file read."""
        return {file: digest for judged in self.bundles for file, digest in judged.digests.items()}

    @property
    def complete(self) -> bool:
        """Whether everything asked for was judged."""
        return bool(self.bundles) and not self.unread and all(judged.complete for judged in self.bundles)


def judge_files(paths: Sequence[Path], on: date) -> Judgements:
    """Judge the bundles in files and folders, each by its own profile and catalogs; nothing is raised for one that cannot be.

    Files of another kind that stand in a folder beside its bundles are passed over; one that is named itself is told.
    """
    named: dict[str, Source] = {}
    beside: dict[str, Source] = {}
    unread: list[Finding] = []
    for path in paths:
        files = read_files([path])
        unread += files.findings
        others = [source for source in files.sources if path.is_dir() and _plainly_other(source)]
        if others and len(others) == len(files.sources):
            unread.append(nothing(path.as_posix(), "a folder without a bundle", "a folder with bundles"))
        for source in files.sources:
            (beside if source in others else named).setdefault(os.path.realpath(source.file), source)
    read = Reader(DIMENSIONS)
    passed_over = {source.file: kind_of(source.values) for real, source in beside.items() if real not in named}
    return Judgements(on, tuple(_judged(source, read, on) for source in named.values()), tuple(unread), passed_over)


def _plainly_other(source: Source) -> bool:
    """Whether a file is of another kind beyond doubt: read to its last line, with keys of that kind and none of a bundle."""
    values = source.values
    apart = {key: value for key, value in values.items() if key not in FAMILIES}  # which may hide what a bundle has beside them
    told = kind_of(values) != "catalog" or len(apart) < len(values)  # a catalog is also what nothing tells
    return fully_read(source) and told and "bundle" not in (kind_of(values), kind_of(apart))


def _judged(source: Source, read: Reader, on: date) -> Judged:
    digests = {source.file: source.digest} if source.digest else {}
    kind = kind_of(source.values)
    waivers: tuple[Waiver, ...] = ()
    try:
        bundle = _bundle(source)
        waivers = bundle.waivers
        if absent := lost_files(source):
            raise InputError(tuple(absent))
        profile = read.profile(bundle)
        digests |= profile.digests
        catalog = read.catalog(bundle, profile)
        lost = lost_parts(bundle, catalog, read.files(bundle))
        found = None if lost else _stands(bundle, profile, catalog, read, on)
    except InputError as error:
        return Judged(source.file, None, error.findings, digests, kind, waivers)
    said = {*bundle.findings, *profile.findings, *catalog.findings, *lost, *waiver_findings(source, profile)}
    told = findings_of(found) if found else ()
    return Judged(source.file, found, tuple(sorted({*said, *told})), {**digests, **catalog.digests}, kind, waivers)


def _stands(bundle: Bundle, profile: Profile, catalog: Catalog, read: Reader, on: date) -> Standing:
    """How the kit stands; beside one that is not legal any more, the nearest that is, if all parts are known."""
    found = standing(bundle, profile, catalog, on)
    whole = read.whole(bundle, profile) if found.unmet else None
    if whole is None or not whole.complete:
        return found
    return replace(found, neighbour=nearest_legal(bundle.parts, bundle.train, whole, profile, job_of(bundle)))


def _bundle(source: Source) -> Bundle:
    """The bundle in a file; another kind of file is no bundle."""
    kind = kind_of(source.values)
    if source.values and kind != "bundle":
        expected = "a bundle: a file with the parts of a kit"
        finding = Finding(Place(source.file), "unknown-kind", f"a {kind}", expected, "name a file that fitcheck bundle wrote")
        raise InputError((finding, *source.findings))
    return bundle_of(source, DIMENSIONS)

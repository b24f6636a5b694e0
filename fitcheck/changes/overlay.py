"""A catalog before and after a change: new files laid over it by family and id, and entries taken away."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from fitcheck.catalog.files import Files, kind_of, nothing, read_files
from fitcheck.catalog.load import catalog_in
from fitcheck.catalog.parts import FAMILIES, Catalog
from fitcheck.catalog.schema import nearest
from fitcheck.catalog.source import Source
from fitcheck.errors import Finding, Place, UsageError
from fitcheck.inputs import DIMENSIONS, Inputs
from fitcheck.job import Job
from fitcheck.job_file import load_job, names_missing
from fitcheck.profile import Profile
from fitcheck.profile_file import applications_missing, load_profile

Key = tuple[str, str]  # family, id


@dataclass(frozen=True)
class Entry:
    """What becomes of one entry."""

    family: str
    id: str
    how: str  # new, changed, removed, unchanged, or left out: it still stands in a file but cannot be used


@dataclass(frozen=True)
class Change:
    """The same job on both catalogs; `inputs` of the two differ in nothing else."""

    before: Inputs
    after: Inputs
    entries: tuple[Entry, ...]
    findings: tuple[Finding, ...]
    complete: bool

    @property
    def unmended(self) -> tuple[Finding, ...]:
        """The findings that the change does not take away."""
        mended = {*self.before.findings} - {*self.after.findings}
        return tuple(finding for finding in self.findings if finding not in mended)


def read_change(path: Path, new: Sequence[Path], gone: Sequence[str]) -> Change:
    """Read a job and its catalog as it is, and once more with `new` files laid over it and the entries `gone` taken away.

    A new file that the job reads already is looked at as if it were new: before is then the catalog without it.

    Raises
    ------
    InputError
        The job or its profile cannot be used; the findings say why.
    UsageError
        Nothing is to be changed, or an entry that should go is not there.
    """
    if not new and not gone:
        raise UsageError("nothing to compare: name files with new entries, or entries to leave out with --without ID")
    job = load_job(path, DIMENSIONS)
    profile = load_profile(job.profile, path.parent, DIMENSIONS)
    files, laid = read_files(job.catalogs), read_files(new) if new else Files((), (), True)
    base, said = _parted(files, laid)
    wanted, faults = _catalogs_only(laid)
    removed = {_named(word, _keys(base.sources)) for word in gone}
    _contradiction(removed, _keys(wanted))
    over = Files((*_less(base.sources, removed | set(_keys(wanted))), *wanted), (*base.findings, *laid.findings), base.complete)
    old, late = catalog_in(base, profile.ports), catalog_in(over, profile.ports)
    slips = tuple(slip for slip in _slips(job, profile, late) if slip in _slips(job, profile, old))  # the rest is the change
    before, after = Inputs(job, profile, old), Inputs(job, profile, late, slips)
    findings = {*before.findings, *after.findings, *said, *faults}
    complete = after.complete and laid.complete and not any(fault.severity == "error" for fault in faults)
    entries = entries_between(old, late, _keys(wanted), _keys(over.sources))
    return Change(before, after, entries, tuple(sorted(findings)), complete)


def _slips(job: Job, profile: Profile, catalog: Catalog) -> tuple[Finding, ...]:
    """Names in job and profile that lead nowhere, without the hints that hang on what else there is."""
    found = (*names_missing(job, catalog), *applications_missing(profile, catalog))
    return tuple(slip._replace(mend="check the name") for slip in found)


def _parted(files: Files, laid: Files) -> tuple[Files, list[Finding]]:
    """The job's files without those that are to be looked at as new."""
    real = {os.path.realpath(source.file) for source in laid.sources}
    known = [source for source in files.sources if os.path.realpath(source.file) in real]
    said = [
        Finding(
            Place(source.file),
            "already-read",
            "a file that the job reads already",
            "a file beside the catalog",
            "what is told is the difference between the catalog without this file and with it",
            "caution",
        )
        for source in known
    ]
    return replace(files, sources=tuple(source for source in files.sources if source not in known)), said


def _catalogs_only(laid: Files) -> tuple[tuple[Source, ...], list[Finding]]:
    """The new files that hold entries; any other kind of file was named by mistake."""
    kinds = [(source, kind_of(source.values)) for source in laid.sources]
    mend = "name files with entries such as [master.valley-19]"
    faults = [
        Finding(Place(source.file), "not-a-catalog", f"a {kind}", "a file of parts", mend)
        for source, kind in kinds
        if kind != "catalog"
    ]
    wanted = tuple(source for source, kind in kinds if kind == "catalog")
    faults += [
        nothing(source.file, "no entry", "a table for each part, such as [master.valley-19]")._replace(severity="error")
        for source in wanted
        if not source.findings and not any(True for _ in _tables(source))
    ]
    return wanted, faults


def _tables(source: Source) -> Iterator[Key]:
    for family, tables in source.values.items():
        if family in FAMILIES and isinstance(tables, dict):
            yield from ((family, identifier) for identifier in tables)


def _keys(sources: Sequence[Source]) -> list[Key]:
    return list(dict.fromkeys(key for source in sources for key in _tables(source)))


def _named(word: str, known: Sequence[Key]) -> Key:
    """The entry that a word names: its id, or `family.id` where several families have that id."""
    found = [key for key in known if word in (key[1], ".".join(key))]
    if len(found) == 1:
        return found[0]
    if found:
        raise UsageError(f"--without {word}: which one? {', '.join('.'.join(key) for key in found)}")
    names = [identifier for _, identifier in known] + [".".join(key) for key in known]
    raise UsageError(f"--without {word}: the catalog has no such entry; {nearest(word, names)}")


def _contradiction(removed: set[Key], new: Sequence[Key]) -> None:
    both = sorted(removed.intersection(new))
    if both:
        raise UsageError(f"--without {'.'.join(both[0])}: a new file holds that entry; leave one of the two away")


def _less(sources: Sequence[Source], gone: set[Key]) -> Iterator[Source]:
    """The same files without some entries, and without what reading said of their values."""
    for source in sources:
        values: dict[str, Any] = dict(source.values)
        for family in {family for family, _ in _tables(source)}:
            values[family] = {name: table for name, table in values[family].items() if (family, name) not in gone}
        refused = tuple(path for path in source.refused if path[:2] not in gone)
        silent = {source.locate(path, of="value") for path in source.refused if path[:2] in gone}
        findings = tuple(finding for finding in source.findings if finding.place not in silent)
        yield replace(source, values=values, refused=refused, findings=findings, complete=not findings)


def entries_between(old: Catalog, new: Catalog, laid: Sequence[Key], standing: Collection[Key] = ()) -> tuple[Entry, ...]:
    """All that differs, and what a new file says again; an entry lost because of another one, though it stands, is told too."""
    before, after, there = _digests(old), _digests(new), {*laid, *standing}
    hows = {key: _how(before.get(key), after.get(key), key in there) for key in {*before, *after, *laid}}
    told = [Entry(*key, how) for key, how in hows.items() if how != "unchanged" or key in laid]
    return tuple(sorted(told, key=lambda entry: (FAMILIES.index(entry.family), entry.id)))


def _how(before: str | None, after: str | None, there: bool) -> str:
    if after is None:
        return "left out" if there else "removed"
    if before is None:
        return "new"
    return "unchanged" if before == after else "changed"


def _digests(catalog: Catalog) -> Mapping[Key, str]:
    return {(part.family, part.id): part.digest for parts in catalog.families.values() for part in parts}

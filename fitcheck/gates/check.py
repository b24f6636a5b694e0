"""Are these files well-formed and consistent? Catalogs, profiles, jobs and bundles, each by its own measure, all at once."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from fitcheck.bundle_file import bundle_findings, bundle_of, waiver_findings
from fitcheck.bundles.parts import Reader, lost_files, part_findings
from fitcheck.catalog.files import NOTHING, kind_of, read_files
from fitcheck.catalog.load import catalog_of, load_catalog
from fitcheck.catalog.source import Source
from fitcheck.errors import Finding, InputError
from fitcheck.gates.accepted import accepted_findings
from fitcheck.gates.gate import Gate
from fitcheck.job_file import job_findings, load_job, names_missing
from fitcheck.profile import Profile
from fitcheck.profile_file import DEFAULT, load_profile
from fitcheck.soundness.alone import lonely_doubts
from fitcheck.soundness.catalog import catalog_doubts
from fitcheck.soundness.judged import judged_doubts
from fitcheck.soundness.rules import kit_doubts, rule_doubts

if TYPE_CHECKING:
    from fitcheck.engine.result import Result


def check_paths(paths: Sequence[Path], dimensions: Mapping[str, str], kits: bool = False) -> Gate:
    """Check files and folders, each by itself and all together; with `kits`, rules are tried on all legal kits of the jobs.

    `dimensions` maps each metric that some train has to its dimension.
    """
    files = read_files(paths)
    readable = [source for source in files.sources if source.values]
    kinds = {source.file: kind_of(source.values) for source in readable}
    findings = {*files.findings, *(finding for source in files.sources for finding in source.findings)}
    read = Reader(dimensions)
    for source in readable:
        findings.update(_CHECKS[kinds[source.file]](source, read))
    profiles = [profile for source in readable if kinds[source.file] == "profile" for profile in _loaded(source, dimensions)]
    findings |= _doubts([source for source in readable if kinds[source.file] == "catalog"], profiles, dimensions)
    if kits:
        findings |= _tried([Path(source.file) for source in readable if kinds[source.file] == "job"])
    digests = {source.file: source.digest for source in files.sources if source.digest}
    complete = files.complete and all(finding.problem != NOTHING for finding in findings)
    return Gate(tuple(sorted(_as_read(findings, digests))), kinds, digests, complete)


def _as_read(findings: set[Finding], read: Iterable[str]) -> set[Finding]:
    """The findings with each file by the name under which it was read, even where a bundle or profile calls it by another."""
    names = {os.path.realpath(file): file for file in read}
    found_in = {finding.place.file for finding in findings}
    known = {file: names.get(os.path.realpath(file), file) for file in found_in}
    if all(file == name for file, name in known.items()):
        return findings
    return {finding._replace(place=finding.place._replace(file=known[finding.place.file])) for finding in findings}


def _loaded(source: Source, dimensions: Mapping[str, str]) -> list[Profile]:
    """The profile of a file, where it can be used; why not is told elsewhere."""
    try:
        return [load_profile(f"./{Path(source.file).name}", Path(source.file).parent, dimensions)]
    except InputError:
        return []


def _doubts(sources: Sequence[Source], profiles: Sequence[Profile], dimensions: Mapping[str, str]) -> set[Finding]:
    """The catalog, with the ports of the profiles beside it, and all doubts about both; without a profile by the shipped one."""
    ports = {port: None for profile in profiles for port in profile.ports}
    catalog = catalog_of(sources, tuple(ports) or None, whole=False)
    judges = profiles or [load_profile(DEFAULT, None, dimensions)]
    found = {*catalog.findings, *catalog_doubts(catalog)}
    for profile in judges:
        found.update(judged_doubts(catalog, profile))
        found.update(lonely_doubts(catalog, profile))
    for profile in profiles:
        found.update(rule_doubts(profile, catalog))
    return found


def _tried(jobs: Sequence[Path]) -> set[Finding]:
    """Rules that never decide, or are never met, on the legal kits of all jobs that judge by the same profile."""
    from fitcheck.inputs import read_job  # the engine is loaded by who needs it, not by who only checks files

    found: set[Finding] = set()
    judged: dict[tuple[tuple[str, str], ...], list[Result]] = {}
    for path in jobs:
        try:
            inputs = read_job(path)
        except InputError as error:
            found.update(error.findings)
        else:
            judged.setdefault(tuple(inputs.profile.digests.items()), []).append(inputs.screen())
    return found.union(*(kit_doubts(results, results[0].profile) for results in judged.values()))


def _job(source: Source, read: Reader) -> tuple[Finding, ...]:
    """The job itself, whether the files it names are there, its profile, and the parts it names in its catalogs."""
    found = (*job_findings(source, read.dimensions), *lost_files(source))
    if any(finding.severity == "error" for finding in found):
        return found
    return (*found, *_unusable(source, read), *_ids(source, read.dimensions))


def _unusable(source: Source, read: Reader) -> tuple[Finding, ...]:
    """Why the profile that a job names cannot be used, whether it is among the files that are checked or not."""
    try:
        read.named_profile(source.values.get("profile", DEFAULT), Path(source.file).parent)
    except InputError as error:
        return error.findings
    return ()


def _ids(source: Source, dimensions: Mapping[str, str]) -> tuple[Finding, ...]:
    """Parts that a sound job names and its catalogs have not; the catalogs are read for a job that names any."""
    job = load_job(Path(source.file), dimensions)
    named = job.only or job.leave_out or job.applications != ("all",)
    return names_missing(job, load_catalog(job.catalogs)) if named else ()


def _profile(source: Source, read: Reader) -> tuple[Finding, ...]:
    """The profile as it is once merged with what it extends."""
    try:
        return load_profile(f"./{Path(source.file).name}", Path(source.file).parent, read.dimensions).findings
    except InputError as error:
        return error.findings


def _catalog(source: Source, read: Reader) -> tuple[Finding, ...]:
    """Checked together with all other catalog files."""
    return ()


def _accepted(source: Source, read: Reader) -> tuple[Finding, ...]:
    """A file of accepted findings by itself; `--accepted` holds it against what is found."""
    return accepted_findings(source)


def _bundle(source: Source, read: Reader) -> tuple[Finding, ...]:
    """The bundle itself, whether the files it names are there, its waivers against its profile, its parts in its catalogs."""
    lost = lost_files(source)
    found = [*bundle_findings(source, read.dimensions), *lost]
    name = source.values.get("profile")
    try:
        profile = read.named_profile(name if name and isinstance(name, str) else DEFAULT, Path(source.file).parent)
    except InputError as error:
        return tuple(found if lost else [*found, *error.findings])
    sound = not any(finding.severity == "error" for finding in found)
    parts = part_findings(bundle_of(source, read.dimensions), profile, read) if sound else []
    return (*found, *waiver_findings(source, profile), *parts)


_CHECKS = {"catalog": _catalog, "profile": _profile, "job": _job, "bundle": _bundle, "accepted": _accepted}

"""Are these files well-formed and consistent? Catalogs, profiles, jobs and bundles, each by its own measure, all at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from fitcheck.bundle_file import bundle_findings, waiver_findings
from fitcheck.catalog.files import NOTHING, kind_of, read_files
from fitcheck.catalog.load import catalog_of
from fitcheck.catalog.schema import Fault
from fitcheck.catalog.schema import Path as Keys
from fitcheck.catalog.source import Source
from fitcheck.errors import Finding, InputError
from fitcheck.job_file import job_findings
from fitcheck.profile_file import DEFAULT, load_profile


@dataclass(frozen=True)
class CheckReport:
    """What was read, as what, and all that was found; `complete` is False where something could not be checked."""

    findings: tuple[Finding, ...]
    read: Mapping[str, str]  # file as named -> catalog, profile, job or bundle
    digests: Mapping[str, str]  # file as named -> SHA-256 of its bytes
    complete: bool


def check_paths(paths: Sequence[Path], dimensions: Mapping[str, str]) -> CheckReport:
    """Check files and folders; `dimensions` maps each metric that some train has to its dimension."""
    files = read_files(paths)
    readable = [source for source in files.sources if source.values]
    kinds = {source.file: kind_of(source.values) for source in readable}
    catalog = catalog_of([source for source in readable if kinds[source.file] == "catalog"], whole=False)
    findings = {*files.findings, *catalog.findings, *(finding for source in files.sources for finding in source.findings)}
    for source in readable:
        findings.update(_CHECKS[kinds[source.file]](source, dimensions))
    digests = {source.file: source.digest for source in files.sources if source.digest}
    complete = files.complete and all(finding.problem != NOTHING for finding in findings)
    return CheckReport(tuple(sorted(findings)), kinds, digests, complete)


def _job(source: Source, dimensions: Mapping[str, str]) -> tuple[Finding, ...]:
    """The job itself, and whether the files it names are there."""
    return (*job_findings(source, dimensions), *_lost(source))


def _lost(source: Source) -> list[Finding]:
    """The files that a job or a bundle names and that are not there."""
    beside = Path(source.file).parent
    named: list[tuple[Keys, str]] = [(("catalogs", at), name) for at, name in enumerate(_names(source.values.get("catalogs")))]
    named += [(("profile",), name) for name in _names([source.values.get("profile")]) if name != DEFAULT]
    return [
        Fault(
            path, "no-file", f"{name}, which is neither a file nor a folder", "a path relative to this file", "check the path"
        ).finding(source)
        for path, name in named
        if not (beside / name).exists()
    ]


def _names(values: object) -> list[str]:
    return [value for value in values if isinstance(value, str)] if isinstance(values, list) else []


def _profile(source: Source, dimensions: Mapping[str, str]) -> tuple[Finding, ...]:
    """The profile as it is once merged with what it extends."""
    try:
        return load_profile(f"./{Path(source.file).name}", Path(source.file).parent, dimensions).findings
    except InputError as error:
        return error.findings


def _catalog(source: Source, dimensions: Mapping[str, str]) -> tuple[Finding, ...]:
    """Checked together with all other catalog files."""
    return ()


def _bundle(source: Source, dimensions: Mapping[str, str]) -> tuple[Finding, ...]:
    """The bundle itself, whether the files it names are there, and its waivers against the rules of its profile."""
    lost = _lost(source)
    found = (*bundle_findings(source, dimensions), *lost)
    name = source.values.get("profile", DEFAULT)
    try:
        profile = load_profile(name if isinstance(name, str) else DEFAULT, Path(source.file).parent, dimensions)
    except InputError as error:
        return found if lost else (*found, *error.findings)
    return (*found, *waiver_findings(source, profile))


_CHECKS = {"catalog": _catalog, "profile": _profile, "job": _job, "bundle": _bundle}

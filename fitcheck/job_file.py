"""Job files: read, check, and hold their names against a catalog."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from fitcheck.catalog.parts import Catalog
from fitcheck.catalog.schema import Fault, nearest
from fitcheck.catalog.schema import Path as Keys
from fitcheck.catalog.source import Source, read_source
from fitcheck.catalog.words import faults
from fitcheck.errors import Finding, InputError
from fitcheck.job import Job, Preference
from fitcheck.profile_file import DEFAULT
from fitcheck.quantities import quoted


def load_job(path: Path, dimensions: Mapping[str, str]) -> Job:
    """The job in a file; `dimensions` maps each metric that some train has to its dimension.

    Raises InputError, with every fault, where any of it could be misread.
    """
    source = read_source(path, path.as_posix())
    if source.findings and not source.values:  # what a job lacks is no news where there is none
        raise InputError(source.findings)
    findings = job_findings(source, dimensions)
    if any(finding.severity == "error" for finding in findings):
        raise InputError(findings)
    values = source.values
    plain: dict[str, Any] = {key: values[key] for key in ("profile", "best", "row_limit", "need_pass") if key in values}
    plain |= _tuples({key: values[key] for key in ("applications", "trains", "supplied") if key in values})
    return Job(
        name=path.stem,
        path=path,
        catalogs=tuple(path.parent / name for name in values["catalogs"]),
        only=_tuples(values.get("only", {})),
        leave_out=_tuples(values.get("leave_out", {})),
        prefer=tuple(Preference(*wish.split(" ")) for wish in values.get("prefer", ())),
        findings=findings,
        digests={source.file: source.digest},
        **{"profile": DEFAULT, **plain},
    )


def job_findings(source: Source, dimensions: Mapping[str, str]) -> tuple[Finding, ...]:
    """All that is wrong with a job file by itself."""
    found = faults("job", source.values, source.refused)
    spoiled = {*source.refused, *(fault.path for fault in found)}
    found += [fault for fault in _own(source.values, dimensions) if fault.path not in spoiled]
    return tuple(sorted({*source.findings, *(fault.finding(source) for fault in found)}))


def names_missing(job: Job, catalog: Catalog) -> tuple[Finding, ...]:
    """Ids that the job names and the catalog has not: nothing would be screened for them, so it is said."""
    source = read_source(job.path, job.path.as_posix())
    named: list[tuple[str, Keys, tuple[str, ...]]] = [("application", ("applications",), job.applications)]
    named += [(family, (key, family), ids) for key in ("only", "leave_out") for family, ids in getattr(job, key).items()]
    return tuple(
        Fault(
            (*path, at),
            "unknown-part",
            f"no {family} with the id {identifier}",
            f"an id of the family {family}",
            _hint(family, catalog, identifier),
        ).finding(source)
        for family, path, ids in named
        for at, identifier in enumerate(ids)
        if identifier != "all" and catalog.part(family, identifier) is None
    )


def _hint(family: str, catalog: Catalog, identifier: str) -> str:
    ids = [part.id for part in catalog.families.get(family, ())]
    return nearest(identifier, ids) if ids else f"the catalog has no {family} that could be used"


def _own(values: Mapping[str, Any], dimensions: Mapping[str, str]) -> Iterator[Fault]:
    """What the schema cannot say: metrics that exist, each once, and `all` alone."""
    applications = values.get("applications")
    if isinstance(applications, list) and "all" in applications and len(applications) > 1:
        yield Fault(("applications",), "all-and-more", "all beside ids", "all alone, or ids", "take all or the ids away")
    wishes = values.get("prefer")
    yield from _wishes([wish for wish in wishes if isinstance(wish, str)] if isinstance(wishes, list) else [], dimensions)


def _wishes(wishes: Sequence[str], dimensions: Mapping[str, str]) -> Iterator[Fault]:
    seen: set[str] = set()
    for at, wish in enumerate(wishes):
        metric = wish.partition(" ")[2]
        if metric not in dimensions:
            yield Fault(("prefer", at), "unknown-metric", f"the metric {quoted(metric)}", "a metric", nearest(metric, dimensions))
        elif metric in seen:
            yield Fault(("prefer", at), "wrong-count", f"{metric} a second time", "each metric once", "take the later one away")
        seen.add(metric)


def _tuples(values: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    return {key: tuple(value) for key, value in values.items()}

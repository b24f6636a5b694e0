"""From files to a catalog: every entry checked, in SI, or left out with a finding that says why."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from fitcheck.catalog.checks import checks
from fitcheck.catalog.convert import to_si
from fitcheck.catalog.files import Files, kind_of, nothing, read_files
from fitcheck.catalog.parts import FAMILIES, Catalog, Part
from fitcheck.catalog.places import Places
from fitcheck.catalog.schema import Fault, nearest
from fitcheck.catalog.schema import Path as Keys
from fitcheck.catalog.source import Source
from fitcheck.catalog.words import faults, shown
from fitcheck.errors import Finding, Place
from fitcheck.quantities import quoted

Ids = Mapping[str, Collection[str]]  # by family

_ID = re.compile(r"[a-z0-9][a-z0-9-]{0,47}")


@dataclass
class _Entry:
    """One table of a catalog file on its way to a part; `part` is None once it is refused."""

    family: str
    id: str
    source: Source
    refused: Collection[Keys] = ()  # paths to values that no entry may have
    findings: list[Finding] = field(default_factory=list)
    part: Part | None = None

    @property
    def place(self) -> Place:
        """Where its header stands."""
        return self.source.locate((self.family, self.id), of="key")


def load_catalog(paths: Sequence[Path], ports: Sequence[str] | None = None) -> Catalog:
    """The catalog of files and folders; with the ports of a profile, parts that name another port are left out."""
    return catalog_in(read_files(paths), ports)


def catalog_in(files: Files, ports: Sequence[str] | None = None, only: Ids | None = None) -> Catalog:
    """The catalog in files already read; with `only`, those entries and the linkages that they name.

    Other entries are then neither checked nor told of, but an id must still be the only one of its kind.
    """
    others = [source for source in files.sources if kind_of(source.values) != "catalog"]
    sources = [source for source in files.sources if source not in others]
    catalog = catalog_of(sources, ports, only=only and {**only, "linkage": set(_linkages(sources, only))})
    findings = (*files.findings, *(_not_a_catalog(source) for source in others), *catalog.findings)
    complete = files.complete and catalog.complete and bool(catalog.digests)
    return replace(catalog, findings=tuple(sorted(findings)), complete=complete)


def _linkages(sources: Sequence[Source], only: Ids) -> Iterator[str]:
    """The linkages that the wanted applications name."""
    for source in sources:
        tables = source.values.get("application")
        for identifier, entry in tables.items() if isinstance(tables, dict) else ():
            linkage = entry.get("linkage") if isinstance(entry, dict) else None
            if identifier in only.get("application", ()) and isinstance(linkage, str):
                yield linkage


def catalog_of(
    sources: Sequence[Source], ports: Sequence[str] | None = None, whole: bool = True, only: Ids | None = None
) -> Catalog:
    """The catalog of files already read; where it is not `whole`, a family of which nothing is there may lie elsewhere."""
    findings = [finding for source in sources for finding in _told(source, only)]
    everything = [entry for source in sources for entry in _entries(source, findings)]
    _refuse_doubles(everything)
    entries = [entry for entry in everything if only is None or entry.id in only.get(entry.family, ())]
    for entry in entries:
        _check(entry, ports)
    _refuse_dangling(entries, everything, whole, all(source.complete for source in sources))
    kept = [entry.part for entry in entries if entry.part is not None]
    findings += [finding for entry in entries for finding in entry.findings]
    families: dict[str, list[Part]] = {family: [] for family in FAMILIES}
    for part in sorted(kept, key=lambda part: part.id):
        families[part.family].append(part)
    complete = len(kept) == len(entries) and all(finding.severity != "error" for finding in findings) and bool(entries)
    if sources and not everything and not findings:
        findings.append(nothing(sources[0].file, "no entry", "a table for each part, such as [master.valley-19]"))
    theirs = {family: tuple(parts) for family, parts in families.items()}
    return Catalog(theirs, tuple(sorted(set(findings))), {source.file: source.digest for source in sources}, complete)


def _told(source: Source, only: Ids | None) -> Iterator[Finding]:
    """What was said while a file was read, but for values of entries that are passed over."""
    others = [path for path in source.refused if only is not None and path[1:2] and path[1] not in only.get(str(path[0]), ())]
    passed_over = {source.locate(path, of="value").key for path in others}
    return (finding for finding in source.findings if finding.place.key not in passed_over)


def _entries(source: Source, findings: list[Finding]) -> Iterator[_Entry]:
    """The tables of a catalog file; what is no table of a known family is a finding."""
    refused = defaultdict(set)
    for path in source.refused:
        refused[path[:2]].add(path[2:])
    for family, tables in source.values.items():
        if family not in FAMILIES:
            findings.append(_unknown_family(family).finding(source))
        elif not isinstance(tables, dict):
            expected = f"tables such as [{family}.my-id]"
            findings.append(
                Fault((family,), "no-table", shown(tables), expected, "give the entry an id", of="key").finding(source)
            )
        else:
            yield from (_Entry(family, identifier, source, refused.get((family, identifier), ())) for identifier in tables)


def _unknown_family(family: str) -> Fault:
    return Fault(
        (family,), "unknown-family", f"the family {quoted(family)}", "a family of parts", nearest(family, FAMILIES), of="key"
    )


def _refuse_doubles(entries: list[_Entry]) -> None:
    """An id that stands in two files is nobody's: both are left out, and each names the other's place."""
    same = defaultdict(list)
    for entry in entries:
        same[entry.family, entry.id].append(entry)
    for entry in (entry for group in same.values() if len(group) > 1 for entry in group):
        others = ", ".join(str(other.place) for other in same[entry.family, entry.id] if other is not entry)
        found = f"the id {entry.id} again at {others}"
        mend = "rename one or take it away; until then neither is used"
        entry.findings.append(Finding(entry.place, "double-id", found, f"each id once in the family {entry.family}", mend))


def _check(entry: _Entry, ports: Sequence[str] | None) -> None:
    """Turn an entry into a part, or into findings."""
    raw = entry.source.values[entry.family][entry.id]
    if not isinstance(raw, dict):
        found = Fault(
            (),
            "no-table",
            shown(raw),
            f"a table [{entry.family}.my-id]",
            "give the entry an id: its keys stand under it",
            of="key",
        )
        _add(entry, [found])
        return
    faulty = faults(entry.family, raw, entry.refused)
    converted = to_si(entry.family, raw, {*entry.refused, *(fault.path for fault in faulty)})
    faulty += converted.faults
    if not _ID.fullmatch(entry.id):
        faulty.append(_bad_id(entry.id))
    faulty += checks(entry.family, converted.values)
    faulty += [_unknown_port(path, port, ports) for path, port in converted.ports if ports is not None and port not in ports]
    _add(entry, faulty)
    if not entry.refused and not any(finding.severity == "error" for finding in entry.findings):
        entry.part = _part(entry, raw, _shaped(entry.family, converted.values), converted.tolerances)


def _add(entry: _Entry, faulty: list[Fault]) -> None:
    """Faults of the entry as findings."""
    entry.findings += [fault.finding(entry.source, entry.family, entry.id) for fault in faulty]


def _bad_id(identifier: str) -> Fault:
    wanted = "an id of at most 48 small letters a-z, digits and -, beginning with a letter or digit"
    return Fault(
        (), "bad-id", f"the id {quoted(identifier)}", wanted, "rename the entry; its name may hold what its id cannot", of="key"
    )


def _unknown_port(path: tuple[str | int, ...], port: str, ports: Sequence[str]) -> Fault:
    return Fault(
        path,
        "unknown-port",
        f"the port {quoted(port)}",
        "a port of the profile's list",
        f"{nearest(port, ports)}, or add it to the profile's ports",
    )


def _shaped(family: str, values: dict[str, Any]) -> dict[str, Any]:
    """A constant return force is a curve of one point."""
    if family == "pedal" and isinstance(values["return_force"], float):
        return values | {"return_force": {"travel": (0.0,), "force": (values["return_force"],)}}
    return values


def _part(entry: _Entry, raw: Mapping[str, Any], values: Mapping[str, Any], tolerances: Mapping[str, float]) -> Part:
    places = Places(entry.source, (entry.family, entry.id), raw)
    return Part(entry.family, entry.id, values, places, tolerances, raw)


def _refuse_dangling(entries: list[_Entry], everything: list[_Entry], whole: bool, sound: bool) -> None:
    """Parts that an entry names must be in the catalog; one that is left out, or may be in what could not be read, cautions."""
    ids: dict[str, dict[str, None]] = {family: {} for family in FAMILIES}
    for entry in everything:
        ids[entry.family][entry.id] = None
    left_out = {(entry.family, entry.id) for entry in entries if entry.part is None}
    for entry in entries:
        for path, family, identifier in _references(entry) if entry.part else ():
            if identifier not in ids[family]:
                mend = nearest(identifier, ids[family]) if ids[family] else f"add the entry [{family}.{identifier}]"
                fault = Fault(
                    path, "unknown-part", f"no {family} with the id {identifier}", f"an id of the family {family}", mend
                )
            elif (family, identifier) in left_out:
                fault = Fault(
                    path,
                    "part-left-out",
                    f"the {family} {identifier}, which is left out",
                    "a part that is used",
                    "mend its own faults",
                )
                fault = replace(fault, severity="caution")
            else:
                continue
            _add(entry, [fault if sound and (whole or ids[family]) else replace(fault, severity="caution")])
        if any(finding.severity == "error" for finding in entry.findings):
            entry.part = None


def _references(entry: _Entry) -> Iterator[tuple[tuple[str, ...], str, str]]:
    """Path, family and id of each part that an entry names."""
    values = entry.part.values if entry.part else {}
    if "linkage" in values:
        yield ("linkage",), "linkage", values["linkage"]
    if "superseded_by" in values:
        yield ("superseded_by",), entry.family, values["superseded_by"]
    for family, identifier in values.get("fitted", {}).items():
        yield ("fitted", family), family, identifier


def _not_a_catalog(source: Source) -> Finding:
    kind = kind_of(source.values)
    mend = "name it elsewhere or keep it apart from the catalog; it is passed over"
    return Finding(Place(source.file), "not-a-catalog", f"a {kind} among the catalog files", "a file of parts", mend, "caution")

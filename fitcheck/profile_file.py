"""Profiles: read the file and the profiles that it extends, merge them, check the whole, give it in SI."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from fitcheck.catalog.convert import Converted, to_si
from fitcheck.catalog.parts import Catalog
from fitcheck.catalog.schema import Fault, nearest
from fitcheck.catalog.schema import Path as Keys
from fitcheck.catalog.source import Source, read_source
from fitcheck.catalog.words import faults
from fitcheck.data import folder
from fitcheck.errors import Finding, InputError, Place
from fitcheck.fits_file import KINDS, read_fit
from fitcheck.profile import Assumptions, Profile, Written
from fitcheck.quantities import quoted
from fitcheck.rules_file import read_rule

DEFAULT = "default"
_DEEPEST = 16  # profiles in a chain


@dataclass(frozen=True)
class Layered:
    """Profiles laid over each other, the parent lowest: the values that count, and the file that each comes from."""

    values: Mapping[str, Any]
    origins: Mapping[Keys, Source]
    sources: tuple[Source, ...]  # from the profile itself to its last parent

    def finding(self, fault: Fault) -> Finding:
        """A fault at its place, in the file that gave the value or, for what is missing, its table."""
        path = fault.path
        while path and path not in self.origins:
            path = path[:-1]
        return fault.finding(self.origins.get(path, self.sources[0]))

    def place(self, *path: str) -> Place:
        """Where a value that counts, or the first key of a table, stands."""
        return self.finding(Fault(path, "", "", "", "", of="key")).place


def load_profile(name: str, beside: Path | None, dimensions: Mapping[str, str]) -> Profile:
    """The effective profile; `dimensions` maps each metric that some train has to its dimension.

    `name` is `default`, the shipped one, or a path relative to `beside` (a folder, or a file in it).
    Raises InputError, with every fault, where a rule or a number could not be relied on.
    """
    layered = layers(name, beside)
    converted = to_si("profile", layered.values)
    findings = [layered.finding(fault) for fault in (*converted.faults, *_missing(layered.values))]
    fits, rules = [], []
    for key, fit in sorted(layered.values.get("fits", {}).items()):
        fits.append(read_fit(key, fit, layered, findings))
    for key, rule in sorted(layered.values.get("rules", {}).items()):
        rules.append(read_rule(key, rule, dimensions, layered, findings))
    findings += [finding for source in layered.sources for finding in source.findings]
    if any(finding.severity == "error" for finding in findings):
        raise InputError(tuple(sorted(set(findings))))
    return Profile(
        name=Path(name).stem,
        headroom_enough=converted.values["headroom_enough"],
        headroom_step=converted.values["headroom_step"],
        ports=converted.values["ports"],
        assumptions=_assumptions(converted),
        fits=tuple(fit for fit in fits if fit),
        rules=tuple(rule for rule in rules if rule),
        chain=tuple(source.file for source in layered.sources),
        findings=tuple(sorted(set(findings))),
        digests={source.file: source.digest for source in layered.sources},
        written={
            key: Written(text, layered.place("assumptions", key)) for key, text in layered.values.get("assumptions", {}).items()
        },
    )


def layers(name: str, beside: Path | None) -> Layered:
    """Read a profile and its parents and lay them over each other; InputError where one cannot be read or is malformed."""
    sources = _chain(name, beside)
    findings = [finding for source in sources for finding in source.findings]
    findings += [fault.finding(source) for source in sources for fault in faults("profile", source.values, source.refused)]
    _stop(findings)
    merged: dict[str, Any] = {}
    origins: dict[Keys, Source] = {}
    for source in reversed(sources):
        findings += _lay(merged, origins, source)
    _stop(findings)
    return Layered(merged, origins, tuple(sources))


def applications_missing(profile: Profile, catalog: Catalog) -> tuple[Finding, ...]:
    """Applications that a rule is limited to and the catalog has not: the rule then judges less than it seems to."""
    known = [part.id for part in catalog.families.get("application", ())]
    wanted = "an application of the catalog"
    return tuple(
        Finding(rule.place or Place(""), "unknown-part", f"a rule for {name}", wanted, nearest(name, known), "caution")
        for rule in profile.rules
        for name in rule.applications or ()
        if name not in known
    )


def _stop(findings: Sequence[Finding]) -> None:
    if any(finding.severity == "error" for finding in findings):
        raise InputError(tuple(sorted(set(findings))))


def _chain(name: str, beside: Path | None) -> list[Source]:
    """The profile and its parents, nearest first."""
    chain: list[Source] = []
    at = Place("")
    known: list[str] = []
    while name or not chain:  # a profile without a name is the folder, which is told like any that cannot be read
        path, said = _located(name, beside)
        known.append(said)
        if said in known[:-1] or len(known) > _DEEPEST:
            raise InputError((_endless(known, at),))
        if len(known) > 1 and name != DEFAULT and not _stays(name, beside):
            raise InputError((_outside(name, known, at),))
        source = _read(path, said, known, at)
        chain.append(source)
        parent = source.values.get("extends", "")
        name = parent if isinstance(parent, str) else ""
        beside = path.parent
        at = source.locate(("extends",), of="value") if name else at
    return chain


def _located(name: str, beside: Path | None) -> tuple[Path, str]:
    """The file of a profile, and its name for a reader."""
    if name == DEFAULT:
        return Path(str(folder("catalogs").joinpath("default.toml"))), DEFAULT
    base = Path() if beside is None else beside if beside.is_dir() else beside.parent
    parts: list[str] = []
    for part in (base / name).parts:  # `a/../b` is `b`, so that a circle is seen
        if part == ".." and parts and parts[-1] not in ("..", "/"):
            parts.pop()
        else:
            parts.append(part)
    return base / name, Path(*parts).as_posix()


def _stays(name: str, beside: Path | None) -> bool:
    """Whether a parent lies in the folder of the profile that extends it, or below; links count as where they lead."""
    if "\0" in name:  # leads nowhere, which is told where it is read
        return True
    home = os.path.realpath(beside or Path())
    return not Path(name).is_absolute() and Path(os.path.realpath(Path(home, name))).is_relative_to(home)


def _outside(name: str, known: Sequence[str], at: Place) -> Finding:
    """A path that leaves the folder of the profile: what is judged by must travel with the profile."""
    found = f"{quoted(name)}, which leaves the folder of the profile ({' extends '.join(known)})"
    mend = f"keep the profiles of a chain in one folder, or extend {DEFAULT}"
    return Finding(at, "outside", found, "a profile in the same folder or below", mend)


def _read(path: Path, said: str, known: Sequence[str], at: Place) -> Source:
    """One file of the chain; one that is not there is told at the place that names it."""
    if len(known) > 1 and not _is_file(path):
        found = f"{said}, which is no file ({' extends '.join(known)})"
        mend = f"name {DEFAULT}, or a file relative to this one"
        raise InputError((Finding(at, "no-file", found, "a profile to extend", mend),))
    source = read_source(path, said)
    if not source.values:
        raise InputError(source.findings)
    return source


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except OSError:  # a name that no file can have
        return False


def _endless(known: Sequence[str], at: Place) -> Finding:
    """Profiles that extend each other in a circle, or without end."""
    found = " extends ".join(known)
    return Finding(
        at, "endless-chain", found, f"a chain of at most {_DEEPEST} profiles without a circle", "take one extends away"
    )


def _lay(merged: dict[str, Any], origins: dict[Keys, Source], source: Source) -> list[Finding]:
    """Lay one profile over what lies below: tables key by key, rules and fits by name, lists and numbers whole."""
    findings = []
    for key, value in source.values.items():
        if key in ("rules", "fits"):
            for name, table in value.items():
                findings += _lay_named(merged.setdefault(key, {}), origins, source, (key, name), table)
        elif isinstance(value, dict):
            merged[key] = merged.get(key, {}) | value
            origins.update({(key, inner): source for inner in value})
        else:
            merged[key] = value
        origins[key,] = source
    return findings


def _lay_named(
    tables: dict[str, Any], origins: dict[Keys, Source], source: Source, path: Keys, table: Mapping[str, Any]
) -> list[Finding]:
    """Lay a rule or fit over one of the same name; `off` takes that one away."""
    name = str(path[-1])
    if table.get("off"):
        if tables.pop(name, None) is not None and len(table) == 1:
            return []
        found = (
            f"off, and nothing inherited of the name {name}"
            if len(table) == 1
            else f"off beside {', '.join(sorted(set(table) - {'off'}))}"
        )
        return [
            Fault(
                (*path, "off"), "nothing-off", found, "off alone, for an inherited entry", "take the table away, or mend its name"
            ).finding(source)
        ]
    below = tables.get(name, {})
    if path[0] == "fits" and _kind(table) not in (None, _kind(below)):
        below = {key: value for key, value in below.items() if key in ("reason", "remedy", "source")}
    tables[name] = below | {key: value for key, value in table.items() if key != "off"}
    origins.update({(*path, key): source for key in table})
    origins[path] = source
    return []


def _kind(table: Mapping[str, Any]) -> str | None:
    """What kind of fit a table makes, or None where it only changes one."""
    return next((key for key in KINDS if key in table and not (key == "at_most" and not isinstance(table[key], list))), None)


def _missing(values: Mapping[str, Any]) -> list[Fault]:
    """What a profile must hold once it is merged."""
    wanted: list[Keys] = [("headroom_enough",), ("headroom_step",), ("ports",)]
    wanted += [("assumptions", item.name) for item in fields(Assumptions)]
    given = values.get("assumptions", {})
    return [
        Fault(
            path,
            "missing-key",
            f"no {path[-1]}",
            f"{path[-1]}, here or in a profile that is extended",
            f'add it, or extends = "{DEFAULT}"',
            of="key",
        )
        for path in wanted
        if path[-1] not in (values if len(path) == 1 else given)
    ]


def _assumptions(converted: Converted) -> Assumptions:
    given = dict(converted.values["assumptions"])
    return Assumptions(**given | {"shim_count": int(given["shim_count"])})

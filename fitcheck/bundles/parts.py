"""What bundles name, looked up: their profiles and the entries of their parts, each file read once for all of them."""

from __future__ import annotations

import os
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from fitcheck.bundle_file import Bundle
from fitcheck.catalog.files import Files, kind_of, read_files
from fitcheck.catalog.load import catalog_in
from fitcheck.catalog.parts import Catalog, Part
from fitcheck.catalog.schema import Fault, nearest
from fitcheck.catalog.schema import Path as Keys
from fitcheck.catalog.source import Source
from fitcheck.errors import Finding
from fitcheck.profile import Profile
from fitcheck.profile_file import DEFAULT, load_profile
from fitcheck.quantities import quoted


class Reader:
    """What several bundles share is read once."""

    def __init__(self, dimensions: Mapping[str, str]) -> None:
        """`dimensions` maps each metric that some train has to its dimension."""
        self.dimensions = dimensions
        self._files = cache(read_files)
        self._profile = cache(lambda name, beside: load_profile(name, beside, dimensions))
        self._whole = cache(lambda paths, ports: catalog_in(self._files(paths), ports))

    def profile(self, bundle: Bundle) -> Profile:
        """The profile that a bundle names; InputError where it cannot be used."""
        return self.named_profile(bundle.profile, bundle.path.parent)

    def named_profile(self, name: str, beside: Path) -> Profile:
        """The profile of that name; InputError where it cannot be used."""
        found: Profile = self._profile(name, beside)
        return found

    def files(self, bundle: Bundle) -> Files:
        """The catalog files that a bundle names."""
        return self._files(_paths(bundle))

    def catalog(self, bundle: Bundle, profile: Profile) -> Catalog:
        """The parts of a bundle, and nothing else."""
        return catalog_in(self.files(bundle), profile.ports, {family: (name,) for family, name in bundle.parts.items()})

    def whole(self, bundle: Bundle, profile: Profile) -> Catalog:
        """Every part of the catalogs that a bundle names."""
        return self._whole(_paths(bundle), profile.ports)


def parts_of(catalog: Catalog) -> dict[str, Part]:
    """The only part of each family that has one."""
    return {family: parts[0] for family, parts in catalog.families.items() if parts}


def part_findings(bundle: Bundle, profile: Profile, read: Reader) -> list[Finding]:
    """What keeps the parts of a bundle from being used, and which of them are superseded."""
    catalog = read.catalog(bundle, profile)
    faults = [finding for finding in catalog.findings if finding.severity == "error"]
    return [*faults, *lost_parts(bundle, catalog, read.files(bundle)), *superseded_parts(bundle, catalog)]


def lost_files(source: Source) -> list[Finding]:
    """The files that a job or a bundle names and that are not there."""
    beside = Path(source.file).parent
    named: list[tuple[Keys, str]] = [(("catalogs", at), name) for at, name in enumerate(_names(source.values.get("catalogs")))]
    named += [(("profile",), name) for name in _names([source.values.get("profile")]) if name != DEFAULT]
    lost = [(path, name, what) for path, name in named if (what := _lost(beside / name, path == ("profile",)))]
    wanted, mend = "a path relative to this file", "check the path"
    return [Fault(path, "no-file", f"{quoted(name)}, {what}", wanted, mend).finding(source) for path, name, what in lost]


def _lost(path: Path, file: bool) -> str:
    """Why a path leads nowhere, or, where a file is asked for, not to one; nothing where it does."""
    try:
        there = path.exists()
    except OSError:  # a name that nothing can have
        there = False
    if not there:
        return "which is neither a file nor a folder"
    return "which is a folder" if file and path.is_dir() else ""


def _names(values: object) -> list[str]:
    return [value for value in values if isinstance(value, str)] if isinstance(values, list) else []


def lost_parts(bundle: Bundle, catalog: Catalog, files: Files) -> list[Finding]:
    """The parts that the catalog has not, or not in a state to be used."""
    found = []
    for family, identifier in bundle.parts.items():
        if catalog.part(family, identifier) is None:
            known = _ids(files, family)
            broken = identifier in known
            what = f"{family} {identifier}, {'whose entry is left out' if broken else 'which the catalog has not'}"
            mend = "mend its own faults" if broken else nearest(identifier, known) if known else "check the bundle's catalogs"
            found.append(Finding(bundle.place("parts", family), "unknown-part", what, "a part of the catalog", mend))
    return found


def superseded_parts(bundle: Bundle, catalog: Catalog) -> list[Finding]:
    """The parts of a kit that another one has taken the place of."""
    found = []
    for family, part in parts_of(catalog).items():
        successor = part.values.get("superseded_by")
        if successor and family in bundle.parts:
            what = f"{family} {part.id}, superseded by {successor}"
            mend = f"see whether a kit with {successor} is as good"
            found.append(Finding(bundle.place("parts", family), "superseded-part", what, "a current part", mend, "caution"))
    return found


def _paths(bundle: Bundle) -> tuple[Path, ...]:
    return tuple(map(tidy, bundle.catalogs))


def tidy(path: Path) -> Path:
    """The path without detours such as `bundles/../catalog`, where that leads to the same place."""
    short = Path(os.path.normpath(path))
    return short if short.exists() and path.exists() and short.samefile(path) else path


def _ids(files: Files, family: str) -> list[str]:
    tables = [source.values.get(family) for source in files.sources if kind_of(source.values) == "catalog"]
    return sorted({identifier for table in tables if isinstance(table, dict) for identifier in table})

"""The effective profile: every value that counts, with the file and line that it comes from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from fitcheck.catalog.schema import Path as Keys
from fitcheck.errors import Finding, Place
from fitcheck.profile_file import Layered, layers, load_profile


@dataclass(frozen=True)
class Given:
    """One value of the effective profile, as it was written, under its path."""

    path: tuple[str, ...]
    value: Any
    place: Place


@dataclass(frozen=True)
class Effective:
    """A profile once it is laid over its parents; `off` holds the inherited fits and rules that were taken away."""

    chain: tuple[str, ...]  # from the profile itself to its last parent
    digests: Mapping[str, str]
    values: tuple[Given, ...]
    off: tuple[Given, ...]
    findings: tuple[Finding, ...]


def effective(name: str, dimensions: Mapping[str, str]) -> Effective:
    """The effective profile of a file, or of `default`; InputError, with the chain, where it cannot be relied on."""
    profile = load_profile(name, None, dimensions)
    layered = layers(name, None)
    values = tuple(Given(path, value, layered.place(*path)) for path, value in _leaves(layered.values))
    return Effective(profile.chain, profile.digests, values, tuple(_off(layered)), profile.findings)


def _leaves(values: Mapping[str, Any]) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Numbers and lists first, then the assumptions, then fits and rules by name, their keys in the order of the file."""
    tables = ("assumptions", "fits", "rules")
    yield from (((key,), value) for key, value in sorted(values.items()) if key not in (*tables, "extends"))
    yield from ((("assumptions", key), value) for key, value in sorted(values.get("assumptions", {}).items()))
    for table in ("fits", "rules"):
        for name, keys in sorted(values.get(table, {}).items()):
            yield from (((table, name, key), value) for key, value in keys.items())


def _off(layered: Layered) -> Iterator[Given]:
    """Where a profile of the chain takes away what it inherits, and no profile above it brings it back."""
    for source in layered.sources:
        for table in ("fits", "rules"):
            for name, keys in sorted(source.values.get(table, {}).items()):
                path: Keys = (table, name, "off")
                if keys.get("off") and name not in layered.values.get(table, {}):
                    yield Given((table, name), True, source.locate(path, of="key"))

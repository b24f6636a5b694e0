"""The effective profile for people, as a profile that could be used in its place, and for machines."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import groupby
from typing import Any

from fitcheck.effective import Effective, Given
from fitcheck.report.summary import FORMAT, finding_values, json_text
from fitcheck.report.words import plain
from fitcheck.version import VERSION


def rules_lines(profile: Effective) -> Iterator[str]:
    """TOML, each value followed by the file and line that it comes from."""
    yield f"# {plain(' extends '.join(profile.chain))}"
    for given in profile.off:
        yield f"# {'.'.join(given.path)} is off  # {_where(given)}"
    for table, group in groupby(profile.values, key=lambda given: given.path[:-1]):
        if table:
            yield f"\n[{'.'.join(table)}]"
        yield from (f"{given.path[-1]} = {written(given.value)}  # {_where(given)}" for given in group)


def rules_json(profile: Effective) -> str:
    """The same as JSON, with sorted keys."""
    return json_text(
        {
            "format": FORMAT,
            "version": VERSION,
            "chain": list(profile.chain),
            "inputs": dict(profile.digests),
            "values": [_value(given) for given in profile.values],
            "off": [_value(given) for given in profile.off],
            "findings": finding_values(profile.findings),
        }
    )


def written(value: Any) -> str:
    """A value as TOML on one line; what a profile may hold is written by both TOML and JSON in the same way."""
    return plain(json.dumps(value, ensure_ascii=False))


def _where(given: Given) -> str:
    return f"{plain(given.place.file)}:{given.place.line}"


def _value(given: Given) -> dict[str, Any]:
    return {"key": ".".join(given.path), "value": given.value, "file": given.place.file, "line": given.place.line}

"""Findings that are known and accepted, each with a reason, so that an old catalog can adopt the check: only new ones fail."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import tomli_w

from fitcheck.catalog.schema import Fault
from fitcheck.catalog.source import Source, read_source
from fitcheck.catalog.words import faults
from fitcheck.errors import Finding, InputError
from fitcheck.gates.gate import Gate

KIND = "accepted"
_LONGEST = 300  # letters of what is said about a finding
_HEAD = """\
# Findings that are known and accepted: fitcheck check ... --accepted THIS-FILE fails on others only.
# A finding is known by its content, not by its line. Give each its own reason; take away what is mended.

"""


@dataclass(frozen=True)
class Accepted:
    """A file of accepted findings: for each fingerprint why it is accepted, what it was about, and where that stands."""

    source: Source
    reasons: Mapping[str, str]
    about: Mapping[str, str]
    rows: Mapping[str, int]


def load_accepted(path: Path) -> Accepted:
    """Read a file of accepted findings; InputError where any of it cannot be relied on."""
    source = read_source(path, path.as_posix())
    found = accepted_findings(source)
    if found or not source.values:
        raise InputError(found or source.findings)
    rows = source.values["accepted"]
    by_mark = {row["fingerprint"]: row for row in rows}
    return Accepted(
        source,
        {mark: row["reason"] for mark, row in by_mark.items()},
        {mark: row.get("about", "") for mark, row in by_mark.items()},
        {row["fingerprint"]: number for number, row in enumerate(rows)},
    )


def accepted_findings(source: Source) -> tuple[Finding, ...]:
    """All that is wrong with a file of accepted findings."""
    found = [fault.finding(source) for fault in faults(KIND, source.values, source.refused)] if source.values else []
    rows = [] if found else [row["fingerprint"] for row in source.values.get("accepted", ())]
    for number, mark in enumerate(rows):
        if mark in rows[:number]:
            again = Fault(("accepted", number, "fingerprint"), "twice", mark, "each finding once", "take one of the two away")
            found.append(again.finding(source))
    return tuple(sorted({*found, *source.findings}))


def with_accepted(gate: Gate, accepted: Accepted) -> Gate:
    """The gate with what is accepted; what is accepted and no longer there is a caution, unless not all could be read."""
    there = set(gate.fingerprints.values())
    gone = [mark for mark in accepted.reasons if mark not in there] if gate.complete else []
    stale = [_stale(accepted, mark) for mark in gone]
    return replace(
        gate,
        findings=tuple(sorted({*gate.findings, *stale})),
        read={**gate.read, accepted.source.file: KIND},
        digests={**gate.digests, accepted.source.file: accepted.source.digest},
        accepted=accepted.reasons,
    )


def _stale(accepted: Accepted, mark: str) -> Finding:
    about = accepted.about[mark]
    found = f"the accepted finding {mark}, which is not there any more{f' ({about})' if about else ''}"
    path = ("accepted", accepted.rows[mark], "fingerprint")
    return Fault(
        path, "stale", found, "a finding of this run", "take it away, or see what came in its place", severity="caution"
    ).finding(accepted.source)


def accept(gate: Gate, reason: str, known: Accepted | None) -> str:
    """The text of a file that accepts every finding that fails.

    What was accepted before keeps its reason; what is no longer there goes, unless not all could be read.
    """
    earlier = {row["fingerprint"]: row for row in known.source.values[KIND]} if known else {}
    rows = {
        mark: earlier.get(mark) or {"fingerprint": mark, "reason": reason, "about": _about(finding)}
        for finding, mark in gate.fingerprints.items()
        if gate.fails(finding) or mark in earlier
    }
    kept = earlier if not gate.complete else {}
    return _HEAD + tomli_w.dumps({KIND: list((rows | kept).values())})


def _about(finding: Finding) -> str:
    """What a finding says, without a place: the same file for the same findings, wherever they stand."""
    key = f"{finding.place.key}: " if finding.place.key else ""
    words = f"{finding.severity}: {key}found {finding.found}"
    return "".join(letter if letter.isprintable() else "?" for letter in words)[:_LONGEST]

"""Findings in SARIF 2.1.0, the Static Analysis Results Interchange Format of OASIS."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from fitcheck.errors import Finding, Place
from fitcheck.gates.fingerprint import SCHEME
from fitcheck.gates.gate import Gate, Result
from fitcheck.profile_file import DEFAULT
from fitcheck.report.words import INCOMPLETE, plain
from fitcheck.version import VERSION

_LEVELS = {"error": "error", "caution": "warning"}

# What relative addresses count from (3.14.14); where that is on a machine is nobody's business, so it is described only.
_STARTED, _SHIPPED = "%SRCROOT%", "FITCHECK_CATALOGS"
_BASES = {
    _STARTED: {"description": {"text": "the folder in which fitcheck was started"}},
    _SHIPPED: {"description": {"text": "the folder catalogs of the installed fitcheck, which holds the profile it ships"}},
}


def sarif(gate: Gate, code: int, most: int) -> str:
    """A log of one run, in ASCII so that it survives any terminal."""
    return json.dumps({"version": "2.1.0", "runs": [_run(gate, code, most)]}, indent=2, sort_keys=True, allow_nan=False) + "\n"


def _run(gate: Gate, code: int, most: int) -> dict[str, Any]:
    kept, left_out = gate.shown_results(most)
    problems = sorted({result.first.problem for result in kept})
    rules = [{"id": problem, "shortDescription": {"text": problem.replace("-", " ")}} for problem in problems]
    return {
        "tool": {"driver": {"name": "fitcheck", "version": VERSION, "rules": rules}},
        "columnKind": "unicodeCodePoints",
        "originalUriBaseIds": _BASES,
        "invocations": [_invocation(gate, code, left_out)],
        "artifacts": [_artifact(gate, file) for file in sorted({*gate.read, *gate.digests})],
        "results": [_result(gate, result, problems) for result in kept],
        "properties": {"left_out": left_out, "details": dict(gate.details)},
    }


def _invocation(gate: Gate, code: int, left_out: Mapping[str, int]) -> dict[str, Any]:
    """How the run went; what is left out, and what could not be read, is said where readers of logs look for it."""
    notes = [("note", f"{count} more of {problem} are left out") for problem, count in left_out.items()]
    if not gate.read:
        notes.append(("error", "nothing was checked"))
    elif not gate.complete:
        notes.append(("error", INCOMPLETE))
    return {
        "executionSuccessful": gate.complete and bool(gate.read),
        "exitCode": code,
        "toolExecutionNotifications": [{"level": level, "message": {"text": text}} for level, text in notes],
    }


def _artifact(gate: Gate, file: str) -> dict[str, Any]:
    digest = gate.digests.get(file)
    return {"location": _location(file)} | ({"hashes": {"sha-256": digest}} if digest else {})


def _result(gate: Gate, result: Result, problems: list[str]) -> dict[str, Any]:
    """One problem of one entry: at its first place, with the other places beside it and what is found at each."""
    first, *others = result.findings
    written = {
        "ruleId": first.problem,
        "ruleIndex": problems.index(first.problem),
        "level": _LEVELS[first.severity],
        "message": {"text": _escaped(_message(result))},
        "locations": [_spot(first.place)],
        "partialFingerprints": {SCHEME: result.fingerprint},
        "properties": {"fingerprints": [gate.fingerprints[finding] for finding in result.findings]},
    }
    if others:
        written["relatedLocations"] = [_spot(one.place) | {"message": {"text": _escaped(_line(one))}} for one in others]
    return written if result.reason is None else written | {"suppressions": [_suppression(result.reason)]}


def _suppression(reason: str) -> dict[str, str]:
    return {"kind": "external", "status": "accepted", "justification": plain(reason)}


def _message(result: Result) -> str:
    """What is found; of several findings all, a line each, below their keys."""
    if len(result.findings) == 1:
        return _line(result.first)
    return "\n".join((plain(result.headline), *map(_line, result.findings)))


def _line(finding: Finding) -> str:
    """What is found, where in the data, on one line; its place in the file is told apart from it."""
    key = f"{finding.place.key}: " if finding.place.key else ""
    return plain(f"{key}found {finding.found}; expected {finding.expected}; {finding.mend}")


def _escaped(text: str) -> str:
    """Plain text: `[words](target)` would be taken for a link, and is broken up as the format asks."""
    return text.replace("[", "\\[") if "](" in text else text


def _spot(place: Place) -> dict[str, Any]:
    spot: dict[str, Any] = {}
    if place.file:
        region = {"startLine": place.line, "startColumn": place.column}
        spot["physicalLocation"] = {"artifactLocation": _location(place.file), "region": region}
    if place.key:
        spot["logicalLocations"] = [{"fullyQualifiedName": plain(place.key)}]
    return spot


def _location(file: str) -> dict[str, str]:
    """A file as a URI (RFC 3986), a relative one by what it counts from; the shipped profile is no file of the user's."""
    if file == DEFAULT:
        return {"uri": f"{DEFAULT}.toml", "uriBaseId": _SHIPPED}
    path = quote(file, errors="surrogateescape")
    if file.startswith("/"):
        return {"uri": f"file://{path}"}
    if file[1:3] == ":/":  # a drive
        return {"uri": f"file:///{file[:2]}{quote(file[2:], errors='surrogateescape')}"}
    return {"uri": path, "uriBaseId": _STARTED}

"""The findings of a gate, for people and for machines: one table of formats that every gate shares."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping

from fitcheck.gates.fingerprint import SCHEME
from fitcheck.gates.gate import Gate
from fitcheck.report.junit import junit
from fitcheck.report.sarif import sarif
from fitcheck.report.summary import FORMAT, finding_values, json_text
from fitcheck.report.words import INCOMPLETE, counted, files_of, plain
from fitcheck.version import VERSION

# Findings (in SARIF and JUnit results) of one kind of problem that are written unless somebody asks for more; the rest is
# counted.
MOST = {"text": 10, "json": 200, "sarif": 200, "junit": 200}


def text(gate: Gate, code: int, most: int) -> str:
    """One line a finding, then what was read and what came of it: never a clean bill for nothing."""
    return "\n".join(_lines(gate, most)) + "\n"


def _lines(gate: Gate, most: int) -> Iterator[str]:
    kept, left_out = gate.shown_apart(most)
    yield from (plain(str(finding)) for finding in kept)
    yield from (f"And {count} more of {problem}: --most {most + count} shows them." for problem, count in left_out.items())
    yield from map(plain, gate.lines)
    files = files_of(Counter(gate.read.values()))
    grades = Counter(finding.severity for finding in gate.fresh)
    told = f"{counted(grades['error'], 'error')}, {counted(grades['caution'], 'caution')}"
    accepted = len(gate.ordered) - len(gate.fresh)
    known = f", {counted(accepted, 'finding')} accepted" if accepted else ""
    yield f"Checked {counted(len(gate.read), 'file')}{f' ({files})' if files else ''}: {told}{known}."
    if not gate.read:
        yield "Nothing was checked."
    elif not gate.complete:
        yield INCOMPLETE


def values(gate: Gate, code: int, most: int) -> str:
    """The same as JSON, as `schemas/findings.schema.json` describes it."""
    kept, left_out = gate.shown(most)
    common = {finding: result.fingerprint for result in gate.results for finding in result.findings}
    marks = [
        {"fingerprint": gate.fingerprints[one], "result": common[one], "accepted": gate.reason(one), "fails": gate.fails(one)}
        for one in kept
    ]
    return json_text(
        {
            "format": FORMAT,
            "version": VERSION,
            "exit": code,
            "complete": gate.complete,
            "read": dict(gate.read),
            "inputs": dict(gate.digests),
            "fingerprints": SCHEME,
            "findings": [value | mark for value, mark in zip(finding_values(kept), marks, strict=True)],
            "left_out": left_out,
            "details": dict(gate.details),
        }
    )


# What a gate says, the exit code, how many findings of a kind at most -> text for stdout.
FORMATS: Mapping[str, Callable[[Gate, int, int], str]] = {"text": text, "json": values, "sarif": sarif, "junit": junit}

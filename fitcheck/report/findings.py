"""What `check` found, for people and for machines."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from fitcheck.check import CheckReport
from fitcheck.report.summary import FORMAT, finding_values, json_text
from fitcheck.report.words import counted, plain
from fitcheck.version import VERSION


def check_lines(report: CheckReport) -> Iterator[str]:
    """One line a finding, then what was read and what came of it: never a clean bill for nothing."""
    yield from (plain(str(finding)) for finding in sorted(report.findings))
    kinds = Counter(report.read.values())
    files = ", ".join(f"{number} {kind}" for kind, number in sorted(kinds.items()))
    grades = Counter(finding.severity for finding in report.findings)
    told = f"{counted(grades['error'], 'error')}, {counted(grades['caution'], 'caution')}"
    yield f"Checked {counted(len(report.read), 'file')}{f' ({files})' if files else ''}: {told}."
    if not report.read:
        yield "Nothing was checked."
    elif not report.complete:
        yield "Incomplete: something that was asked for could not be read."


def check_json(report: CheckReport, code: int) -> str:
    """The same as JSON, with sorted keys."""
    return json_text(
        {
            "format": FORMAT,
            "version": VERSION,
            "exit": code,
            "complete": report.complete,
            "read": dict(report.read),
            "inputs": dict(report.digests),
            "findings": finding_values(report.findings),
        }
    )

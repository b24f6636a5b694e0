"""`summary.json`: what was counted, what rules do, what was read, for machines; the same bytes for the same input."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from fitcheck.changes.result_folder import FORMAT as SUMMARY_FORMAT
from fitcheck.engine.result import Emptied, Group, KitTable, Result
from fitcheck.engine.states import VERDICT_WORDS
from fitcheck.errors import Finding
from fitcheck.job import Job
from fitcheck.profile import Fit, Rule
from fitcheck.report.csv import number
from fitcheck.report.words import CAUTIONS

FORMAT = 2  # of findings as JSON: raised whenever a key changes its meaning or goes away


def summary_text(result: Result, kits_csv: str = "") -> str:
    """The summary as JSON text with sorted keys and a last line end; `kits_csv` is the digest of the table beside it."""
    return json_text(summary(result, kits_csv))


def json_text(value: object) -> str:
    """JSON for people and machines: sorted, indented, never a not-a-number."""
    return json.dumps(value, sort_keys=True, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def summary(result: Result, kits_csv: str = "") -> dict[str, Any]:
    """Everything that `summary.json` holds, as plain values."""
    return {
        "format": SUMMARY_FORMAT,
        "version": result.version,
        "job": result.job.name,
        "profile": result.profile.name,
        "run": run_digest(result),
        "inputs": inputs(result),
        "complete": result.complete,
        "kits_csv": {"rows": len(result.kits), "sha256": kits_csv},
        "kits_csv_holds_every_legal_kit": result.complete_rows,
        "decided_by": decided_by(result),
        "totals": totals(result),
        "applications": _applications(result),
        "findings": finding_values(findings(result)),
        "cautions": list(CAUTIONS),
    }


def run_digest(result: Result) -> str:
    """One digest that knows a run: of the program's version and of every file that went in."""
    known = json.dumps([result.version, sorted(inputs(result).items())])
    return hashlib.sha256(known.encode()).hexdigest()


def inputs(result: Result) -> dict[str, str]:
    """The digest of each file that went in, named as seen from the job: a result tells nothing of the folders of its machine."""
    return {beside(result.job, file): digest for file, digest in sorted(result.digests.items())}


def findings(result: Result) -> tuple[Finding, ...]:
    """The findings in the order of files and lines, their files named as seen from the job."""
    return tuple(
        sorted(one._replace(place=one.place._replace(file=beside(result.job, one.place.file))) for one in result.findings)
    )


def beside(job: Job, file: str) -> str:
    """A file as it is named from the folder of the job; a shipped profile by its name."""
    if not file.endswith(".toml"):  # the name of a shipped profile
        return file
    try:
        return Path(os.path.relpath(file, job.path.parent)).as_posix()
    except ValueError:  # on another drive there is no way from one to the other
        return file


def decided_by(result: Result) -> dict[str, dict[str, Any]]:
    """All that decides about a result, item by item and in SI, so that two results can be told apart by their causes."""
    job, profile, families = result.job, result.profile, result.catalog.families
    applications = families.get("application", ())
    return {
        "entries": {family: {part.id: part.digest for part in parts} for family, parts in families.items() if parts},
        "linkages": {part.id: part.values["linkage"] for part in applications if "linkage" in part.values},
        "assumptions": asdict(profile.assumptions),
        "rules": {rule.name: _plain(rule) for rule in profile.rules},
        "fits": {fit.name: _plain(fit) for fit in profile.fits},
        "ranking": {
            "headroom_enough": profile.headroom_enough,
            "headroom_step": profile.headroom_step,
            "prefer": [str(wish) for wish in job.prefer],
        },
        "asked": {
            key: getattr(job, key)
            for key in ("applications", "trains", "only", "leave_out", "supplied", "row_limit", "need_pass")
        },
    }


def _plain(item: Rule | Fit) -> dict[str, Any]:
    """What a rule or fit says, wherever it stands."""
    return {key: value for key, value in asdict(item).items() if key not in ("name", "place")}


def totals(result: Result) -> dict[str, int]:
    """Legal kits and verdicts over all applications and trains."""
    sums = {word: sum(counts[code] for counts in result.verdicts.values()) for code, word in enumerate(VERDICT_WORDS)}
    return {"legal": sum(result.legal.values()), **sums}


def _applications(result: Result) -> dict[str, dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for group in result.legal:
        found.setdefault(group[0], {})[group[1]] = _group(result, group)
    return found


def _group(result: Result, group: Group) -> dict[str, Any]:
    counts = result.verdicts.get(group, (0, 0, 0))
    value: dict[str, Any] = {"legal": result.legal[group], **dict(zip(VERDICT_WORDS, counts, strict=True))}
    value["rules"] = _rules(result.broken_by.get(group, {}), result.only_by.get(group, {}))
    value["best"] = _kits(result.best.get(group), 1)
    value["nearest_misses"] = _kits(result.nearest.get(group), 5)
    value["emptied_by"] = _emptied(result.emptied.get(group))
    return value


def _emptied(emptied: Emptied | None) -> dict[str, Any] | None:
    """Minimal conflicts of fits, and how many legal kits there would be without some."""
    if emptied is None:
        return None
    return {
        "fits": list(emptied.fits),
        "sentences": list(emptied.sentences),
        "conflicts": [list(conflict) for conflict in emptied.conflicts],
        "without": [{"fits": list(some.names), "legal": some.kits} for some in emptied.freeing],
    }


def _rules(broken_by: Mapping[str, int], only_by: Mapping[str, int]) -> dict[str, dict[str, int]]:
    names = sorted({*broken_by, *only_by})
    return {name: {"broken_by": broken_by.get(name, 0), "only_by": only_by.get(name, 0)} for name in names}


def _kits(table: KitTable | None, most: int) -> list[dict[str, Any]]:
    """Name, verdict, headroom (as text, since JSON knows no infinity) and limiting rule of the first kits."""
    if table is None:
        return []
    return [
        {
            "kit": table.kit[row],
            "verdict": VERDICT_WORDS[int(table.verdict[row])],
            "headroom": number(float(table.headroom[row])),
            "limiting_rule": table.limiting_rule[row],
        }
        for row in range(min(most, len(table)))
    ]


def finding_values(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Findings as plain values, in the order of files and lines."""
    return [
        {
            "file": finding.place.file,
            "line": finding.place.line,
            "column": finding.place.column,
            "key": finding.place.key,
            "severity": finding.severity,
            "problem": finding.problem,
            "found": finding.found,
            "expected": finding.expected,
            "mend": finding.mend,
        }
        for finding in sorted(findings)
    ]

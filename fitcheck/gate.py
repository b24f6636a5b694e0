"""What a gate has to say, whatever it guards: findings, which of them are accepted, and what they were found in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal

from fitcheck.errors import Finding
from fitcheck.fingerprint import fingerprints

Level = Literal["error", "caution"]


@dataclass(frozen=True)
class Gate:
    """What was read, as what, and all that was found; `complete` is False where something could not be checked."""

    findings: tuple[Finding, ...]
    read: Mapping[str, str]  # file as named -> catalog, profile, job, bundle or accepted
    digests: Mapping[str, str]  # file as named -> SHA-256 of its bytes
    complete: bool
    level: Level = "error"  # what fails
    accepted: Mapping[str, str] = field(default_factory=dict)  # fingerprint of a known finding -> why it is accepted
    lines: tuple[str, ...] = ()  # what the command says beside its findings, for people
    details: Mapping[str, Any] = field(default_factory=dict)  # the same for machines

    @cached_property
    def fingerprints(self) -> dict[Finding, str]:
        """The fingerprint of each finding, in the order of files and lines."""
        return fingerprints(self.findings)

    def reason(self, finding: Finding) -> str | None:
        """Why a finding is accepted; None where it is not."""
        return self.accepted.get(self.fingerprints[finding])

    @cached_property
    def fresh(self) -> tuple[Finding, ...]:
        """The findings that nobody has accepted."""
        return tuple(finding for finding in self.fingerprints if self.reason(finding) is None)

    def fails(self, finding: Finding) -> bool:
        """Whether a finding is at or above the failing level, and not accepted."""
        return (self.level == "caution" or finding.severity == "error") and self.reason(finding) is None

    @property
    def failing(self) -> tuple[Finding, ...]:
        """The findings for which the gate stays shut."""
        return tuple(filter(self.fails, self.fresh))

    def shown(self, most: int) -> tuple[tuple[Finding, ...], dict[str, int]]:
        """At most so many findings of each kind of problem, those not accepted first, and how many of each are left out."""
        seen: Counter[str] = Counter()
        kept = set()
        for finding in (*self.fresh, *(one for one in self.fingerprints if self.reason(one) is not None)):
            seen[finding.problem] += 1
            if seen[finding.problem] <= most:
                kept.add(finding)
        return tuple(sorted(kept)), {problem: count - most for problem, count in sorted(seen.items()) if count > most}

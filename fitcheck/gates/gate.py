"""What a gate has to say, whatever it guards: findings, which of them are accepted, and what they were found in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal, TypeVar

from fitcheck.errors import Finding
from fitcheck.gates.fingerprint import common_fingerprint, entry_of, fingerprints

Level = Literal["error", "caution"]
Item = TypeVar("Item")


@dataclass(frozen=True)
class Result:
    """All findings of one problem about one entry, for readers that count by entry: a key more is no second result."""

    entry: str  # the part, rule, fit or waiver that they are about; the file where no key tells
    findings: tuple[Finding, ...]  # by file and line
    fingerprint: str  # that of the only finding, or one made of all of theirs
    reason: str | None  # why all of them are accepted; None where they are not

    @property
    def first(self) -> Finding:
        """The finding that stands for all."""
        return self.findings[0]

    @property
    def headline(self) -> str:
        """What stands above several findings: how often the problem is found in the entry, and at which keys."""
        keys = ", ".join(dict.fromkeys(finding.place.key or str(finding.place) for finding in self.findings))
        return f"{self.first.problem} {len(self.findings)} times in {self.entry}: {keys}"


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
    in_lines: frozenset[Finding] = frozenset()  # findings that these lines tell already
    details: Mapping[str, Any] = field(default_factory=dict)  # the same for machines

    @cached_property
    def ordered(self) -> tuple[Finding, ...]:
        """Each finding once, in the order of files and lines."""
        return tuple(dict.fromkeys(sorted(self.findings)))

    @cached_property
    def fingerprints(self) -> dict[Finding, str]:
        """The fingerprint of each finding, in the same order; made when somebody asks."""
        return fingerprints(self.ordered)

    def reason(self, finding: Finding) -> str | None:
        """Why a finding is accepted; None where it is not."""
        return self.accepted.get(self.fingerprints[finding]) if self.accepted else None

    @cached_property
    def fresh(self) -> tuple[Finding, ...]:
        """The findings that nobody has accepted."""
        return tuple(finding for finding in self.ordered if self.reason(finding) is None)

    @cached_property
    def results(self) -> tuple[Result, ...]:
        """The findings by problem and entry; of an entry, those that are accepted for one reason stand by themselves."""
        groups: dict[tuple[str, str, str, str | None], list[Finding]] = {}
        for finding in self.fingerprints:
            groups.setdefault((finding.problem, finding.severity, entry_of(finding), self.reason(finding)), []).append(finding)
        return tuple(
            Result(entry, tuple(found), common_fingerprint([self.fingerprints[one] for one in found]), reason)
            for (_, _, entry, reason), found in groups.items()
        )

    def fails(self, finding: Finding) -> bool:
        """Whether a finding is at or above the failing level, and not accepted."""
        return (self.level == "caution" or finding.severity == "error") and self.reason(finding) is None

    @property
    def failing(self) -> tuple[Finding, ...]:
        """The findings for which the gate stays shut."""
        return tuple(filter(self.fails, self.fresh))

    def shown(self, most: int) -> tuple[tuple[Finding, ...], dict[str, int]]:
        """At most so many findings of each kind of problem, and how many of each are left out."""
        return _first(self.ordered, most, lambda one: one.problem, self._last)

    def shown_apart(self, most: int) -> tuple[tuple[Finding, ...], dict[str, int]]:
        """The same of findings that are neither accepted nor told by the lines already."""
        apart = [finding for finding in self.fresh if finding not in self.in_lines]
        return _first(apart, most, lambda one: one.problem, self._last)

    def shown_results(self, most: int) -> tuple[tuple[Result, ...], dict[str, int]]:
        """The same of results."""
        return _first(self.results, most, lambda one: one.first.problem, lambda one: self._last(one.first))

    def _last(self, finding: Finding) -> tuple[bool, bool]:
        """What is left out before others: what is accepted, and of the rest what is only a caution."""
        return self.reason(finding) is not None, finding.severity == "caution"


def _first(
    items: Iterable[Item], most: int, problem: Callable[[Item], str], last: Callable[[Item], tuple[bool, bool]]
) -> tuple[tuple[Item, ...], dict[str, int]]:
    """In their order, at most so many items of each problem; those that come last are left out first."""
    every = list(items)
    seen: Counter[str] = Counter()
    kept = set()
    for number in sorted(range(len(every)), key=lambda number: last(every[number])):
        seen[problem(every[number])] += 1
        if seen[problem(every[number])] <= most:
            kept.add(number)
    left_out = {name: count - most for name, count in sorted(seen.items()) if count > most}
    return tuple(item for number, item in enumerate(every) if number in kept), left_out

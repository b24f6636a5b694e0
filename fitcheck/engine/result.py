"""What a screening found, as plain data that reports only print."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import Catalog
from fitcheck.errors import Finding
from fitcheck.job import Job
from fitcheck.profile import Profile

Group = tuple[str, str]  # (application id, train)


@dataclass(frozen=True)
class Reason:
    """A broken rule of a kit, a value that cannot be computed, or a missing field; numbers in SI, None where there is none."""

    rule: str  # the rule's name, or the metric's where no rule names it
    metric: str
    kind: str  # "broken", "waived", "cannot be computed", "not given"
    severity: str  # "reject" or "caution"
    value: float | None
    bound: str  # "lower", "upper" or ""
    limit: float | None
    headroom: float
    reason: str
    remedy: str
    source: str


@dataclass(frozen=True)
class KitTable:
    """Evaluated kits, one row each, columns as arrays of equal length; metrics in SI with their states beside them."""

    train: tuple[str, ...]
    parts: Mapping[str, tuple[str, ...]]  # family -> part id a row, "" where the train has no such family
    kit: tuple[str, ...]
    verdict: npt.NDArray[np.uint8]  # PASS, CAUTION, REJECT
    limiting_rule: tuple[str, ...]
    headroom: npt.NDArray[np.float64]
    rank: npt.NDArray[np.int64]  # 1 is the best kit of its application
    unbeaten: npt.NDArray[np.bool_]
    metrics: Mapping[str, npt.NDArray[np.float64]]  # every metric of the table, SI
    states: Mapping[str, npt.NDArray[np.uint8]]  # VALUE, ABSENT, NOT_GIVEN, CANNOT
    shims: tuple[str, ...]  # `0.5+0.5` in mm, "" where none
    reasons: tuple[tuple[Reason, ...], ...]
    remarks: tuple[tuple[str, ...], ...]  # "with stop", "new only: effort_peak", ...
    missing: tuple[str, ...]  # `air_pocket: not given; rod_length: does not exist`

    def __len__(self) -> int:
        """How many kits."""
        return len(self.kit)

    def take(self, rows: npt.NDArray[np.int64]) -> KitTable:
        """The same table with only those rows, in that order."""
        pick = rows.tolist()

        def some(column: tuple[object, ...]) -> tuple[object, ...]:
            return tuple(column[i] for i in pick)

        return KitTable(
            some(self.train),  # type: ignore[arg-type]
            {family: some(column) for family, column in self.parts.items()},  # type: ignore[misc]
            some(self.kit),  # type: ignore[arg-type]
            self.verdict[rows],
            some(self.limiting_rule),  # type: ignore[arg-type]
            self.headroom[rows],
            self.rank[rows],
            self.unbeaten[rows],
            {name: column[rows] for name, column in self.metrics.items()},
            {name: column[rows] for name, column in self.states.items()},
            some(self.shims),  # type: ignore[arg-type]
            some(self.reasons),  # type: ignore[arg-type]
            some(self.remarks),  # type: ignore[arg-type]
            some(self.missing),  # type: ignore[arg-type]
        )


@dataclass(frozen=True)
class Freeing:
    """What would have to go so that there are legal kits, and how many there would be."""

    names: tuple[str, ...]  # fits of a profile, or families of which a job leaves parts out
    kits: int


@dataclass(frozen=True)
class Emptied:
    """Why a train of an application has nothing legal.

    A conflict is a set of fits that leave nothing, and would leave something without any one of them; no fit is in two.
    With no fit at all, `sentences` name the families of which there is no part. `restricted` is None where the job leaves
    no part out; else whose going would leave kits, of its restrictions: each alone, or some together; none where none would.
    """

    fits: tuple[str, ...]  # all fits of the conflicts
    sentences: tuple[str, ...]
    conflicts: tuple[tuple[str, ...], ...] = ()
    freeing: tuple[
        Freeing, ...
    ] = ()  # the smallest sets of fits without which there would be kits; none where that is dear to tell
    restricted: tuple[Freeing, ...] | None = None


@dataclass(frozen=True)
class Result:
    """Everything a screening found."""

    job: Job
    profile: Profile
    catalog: Catalog
    legal: Mapping[Group, int]
    verdicts: Mapping[Group, tuple[int, int, int]]  # pass, caution, reject
    broken_by: Mapping[Group, Mapping[str, int]]
    only_by: Mapping[Group, Mapping[str, int]]
    emptied: Mapping[Group, Emptied]  # only for groups with no legal kit
    kits: KitTable  # what kits.csv holds, in order of application and rank
    best: Mapping[Group, KitTable]  # the job's `best` kits that are not rejected
    nearest: Mapping[Group, KitTable]  # nearest misses, for groups without a pass
    complete_rows: bool  # True when kits.csv holds every legal kit
    findings: tuple[Finding, ...]
    digests: Mapping[str, str]
    version: str
    complete: bool

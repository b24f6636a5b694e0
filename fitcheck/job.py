"""What to screen, how to rank it and what to write."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from fitcheck.errors import Finding


@dataclass(frozen=True)
class Preference:
    """`least` or `most` of a metric; decides between kits of equal verdict and equal stepped headroom."""

    direction: Literal["least", "most"]
    metric: str

    def __str__(self) -> str:
        """As it is written in a job."""
        return f"{self.direction} {self.metric}"


@dataclass(frozen=True)
class Job:
    """A checked job file. Empty `only`, `leave_out` and `supplied` mean: no restriction, and every family but application."""

    name: str
    path: Path
    catalogs: tuple[Path, ...]
    profile: str  # `default`, or a path relative to the job file
    applications: tuple[str, ...] = ("all",)
    trains: tuple[str, ...] = ("external", "concentric")
    only: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    leave_out: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    supplied: tuple[str, ...] = ()
    prefer: tuple[Preference, ...] = ()
    best: int = 50
    row_limit: int = 20000
    need_pass: bool = True
    findings: tuple[Finding, ...] = ()
    digests: Mapping[str, str] = field(default_factory=dict)

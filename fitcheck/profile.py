"""The rules of the game: assumptions, fits and rules of a profile, as plain values in SI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from fitcheck.errors import Finding, Place


@dataclass(frozen=True)
class Assumptions:
    """What a profile takes for granted, in SI (air in m3, pressure in Pa, slope in rad, force in N, warming in K)."""

    air: float
    ambient_pressure: float
    slope: float
    wear_between_adjustments: float
    shim_count: int
    foot_limit: float
    warming: float


# The unit in which each assumption is told.
ASSUMPTION_UNITS = {
    "air": "mL",
    "ambient_pressure": "bar",
    "slope": "deg",
    "wear_between_adjustments": "mm",
    "shim_count": "",
    "foot_limit": "N",
    "warming": "K",
}


@dataclass(frozen=True)
class Written:
    """What a file says for a value of the effective profile, and where."""

    text: Any
    place: Place


@dataclass(frozen=True)
class Fit:
    """One interface that must meet; `kind` says how its `fields` (`family.field`) are held against each other.

    equal: both the same word, `none` never; allowed: the words of all fields stand together in a row of `allowed`;
    at_most: first <= second; band: lower <= first - second <= upper; inside: the first lies in the range that is the second;
    fitted: parts that the application names under `fitted` are the only legal ones of their family.
    """

    name: str
    kind: Literal["equal", "allowed", "at_most", "band", "inside", "fitted"]
    fields: tuple[str, ...]
    reason: str
    remedy: str
    source: str
    allowed: tuple[tuple[str, ...], ...] = ()
    lower: float | None = None
    upper: float | None = None
    place: Place | None = None


@dataclass(frozen=True)
class Rule:
    """One bound on one metric, in SI. `scale` is the change of the metric that is worth a headroom of 1."""

    name: str
    metric: str
    lower: float | None
    upper: float | None
    severity: Literal["reject", "caution"]
    scale: float
    reason: str
    remedy: str
    source: str
    waivable: bool = True
    train: Literal["external", "concentric"] | None = None
    applications: tuple[str, ...] | None = None
    not_given: Literal["caution", "said"] = "caution"
    place: Place | None = None


@dataclass(frozen=True)
class Profile:
    """The effective profile after `extends`, rules and fits sorted by name."""

    name: str
    headroom_enough: float
    headroom_step: float
    ports: tuple[str, ...]
    assumptions: Assumptions
    fits: tuple[Fit, ...]
    rules: tuple[Rule, ...]
    chain: tuple[str, ...] = ()  # files from the profile itself to its last parent, as written
    findings: tuple[Finding, ...] = ()
    digests: Mapping[str, str] = field(default_factory=dict)
    written: Mapping[str, Written] = field(default_factory=dict)  # by the key of an assumption

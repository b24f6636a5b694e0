"""One rule of a profile: its bounds in the dimension of its metric."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol

from fitcheck.catalog.schema import Fault, nearest
from fitcheck.catalog.words import shown
from fitcheck.errors import Finding, Place
from fitcheck.profile import Rule
from fitcheck.quantities import UNITS, QuantityError, describe, parse, quoted

_NEEDED = ("metric", "severity", "scale", "reason", "remedy", "source")


class Origin(Protocol):
    """Where the values of a merged profile come from."""

    def finding(self, fault: Fault) -> Finding:
        """The fault at its place."""

    def place(self, *path: str) -> Place:
        """The place of a value."""


def read_rule(
    name: str, table: Mapping[str, Any], dimensions: Mapping[str, str], origin: Origin, findings: list[Finding]
) -> Rule | None:
    """The rule in SI, or None and the findings that say why not."""
    faults = missing(("rules", name), table, _NEEDED)
    metric = table.get("metric", "")
    if metric and metric not in dimensions:
        found = f"the metric {quoted(metric)}, which no train has"
        faults.append(Fault(("rules", name, "metric"), "unknown-metric", found, "a metric", nearest(metric, dimensions)))
    bounds: dict[str, float | None] = {"lower": None, "upper": None, "scale": None}
    for key in bounds if metric in dimensions else ():
        bounds[key] = number(("rules", name, key), table.get(key), dimensions[metric], faults)
    faults += _inconsistent(name, table, bounds)
    findings += map(origin.finding, faults)
    if faults or bounds["scale"] is None:
        return None
    applications = table.get("applications")
    return Rule(
        name=name,
        place=origin.place("rules", name),
        lower=bounds["lower"],
        upper=bounds["upper"],
        scale=bounds["scale"],
        applications=None if applications is None else tuple(applications),
        waivable=table.get("waivable", True),
        train=table.get("train"),
        not_given=table.get("not_given", "caution"),
        **{key: table[key] for key in _NEEDED if key != "scale"},
    )


def missing(path: tuple[str, str], table: Mapping[str, Any], needed: tuple[str, ...]) -> list[Fault]:
    """A fault for each key that is needed and not there."""
    kind = path[0].removesuffix("s")
    return [
        Fault((*path, key), "missing-key", f"no {key}", f"{key} in the {kind} {path[1]}", f"add {key}", of="key")
        for key in needed
        if key not in table
    ]


def number(path: tuple[str, ...], value: object, dimension: str, faults: list[Fault]) -> float | None:
    """A bound in SI; a plain number only where the dimension has no unit."""
    if isinstance(value, str):
        try:
            return parse(value, dimension).value
        except QuantityError as error:
            faults.append(Fault(path, error.problem, error.found, error.expected, error.mend))
    elif isinstance(value, int | float) and "" in UNITS[dimension]:
        return float(value)
    elif value is not None:
        mend = f'write it between quotes with its unit, as in "{value} {UNITS[dimension][0]}" if {UNITS[dimension][0]} is meant'
        faults.append(Fault(path, "wrong-kind", shown(value), describe(dimension), mend))
    return None


def _inconsistent(name: str, table: Mapping[str, Any], bounds: Mapping[str, float | None]) -> list[Fault]:
    """No bound at all, bounds that exclude each other, a scale that is no scale."""
    path = ("rules", name)
    lower, upper, scale = bounds["lower"], bounds["upper"], bounds["scale"]
    faults = []
    if "lower" not in table and "upper" not in table:
        faults.append(
            Fault(path, "no-bound", "neither lower nor upper", "a lower or an upper bound, or both", "add a bound", of="key")
        )
    if lower is not None and upper is not None and not lower <= upper:
        faults.append(Fault((*path, "lower"), "order", "lower above upper", "lower at most upper", "check both bounds"))
    if scale is not None and not scale > 0:
        faults.append(
            Fault(
                (*path, "scale"),
                "out-of-bounds",
                shown(table["scale"]),
                "above 0",
                "write the change of the metric that is worth a headroom of 1",
            )
        )
    return faults

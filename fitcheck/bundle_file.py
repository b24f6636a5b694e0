"""Bundle files: a chosen kit, frozen, with the rules that may be broken for a while. Read, check, and give as plain values."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from math import inf
from pathlib import Path
from typing import Any

from fitcheck.catalog.parts import TRAINS
from fitcheck.catalog.schema import Fault, nearest
from fitcheck.catalog.schema import Path as Keys
from fitcheck.catalog.source import Source
from fitcheck.catalog.words import faults, shown
from fitcheck.errors import Finding, InputError, Place
from fitcheck.profile import Profile
from fitcheck.profile_file import DEFAULT
from fitcheck.quantities import UNITS, Quantity, QuantityError, parse, quoted

INFINITE = {"infinite": inf, "minus infinite": -inf}  # how a figure without end is written
SHIMS = "shims"  # beside the set-up figures, what the stack is made of


@dataclass(frozen=True)
class Waiver:
    """One rule that may be broken through the day `until`."""

    rule: str
    reason: str
    owner: str
    until: date
    place: Place


@dataclass(frozen=True)
class Frozen:
    """How the kit was judged when it was frozen, waivers aside."""

    verdict: str
    headroom: float
    limiting_rule: str
    version: str


@dataclass(frozen=True)
class JudgedBy:
    """What counted of the profile when the kit was frozen; `digest` is made of all the rest, fits are kept as one digest."""

    digest: str
    fits: str
    assumptions: Mapping[str, str]  # name -> value with its unit
    rules: Mapping[str, str]  # name -> what it asked, in words


@dataclass(frozen=True)
class Bundle:
    """A checked bundle file; figures in SI, with the half-width within which they count as unmoved where one is written."""

    path: Path
    catalogs: tuple[Path, ...]
    profile: str  # `default`, or a path relative to the bundle
    train: str
    parts: Mapping[str, str]  # family -> id, in the order of the train
    supplied: tuple[str, ...] = ()
    digests: Mapping[str, str] = field(default_factory=dict)
    value_digests: Mapping[str, str] = field(default_factory=dict)
    frozen: Frozen | None = None
    judged_by: JudgedBy | None = None
    setup: Mapping[str, Quantity] = field(default_factory=dict)
    shims: str | None = None
    figures: Mapping[str, Quantity] = field(default_factory=dict)
    waivers: tuple[Waiver, ...] = ()
    findings: tuple[Finding, ...] = ()
    source: Source = field(default_factory=lambda: Source(""), repr=False, compare=False)

    @property
    def kit(self) -> str:
        """The kit's name."""
        return "+".join(self.parts.values())

    def place(self, *path: str | int) -> Place:
        """Where a value stands in the file."""
        return self.source.locate(path, of="value")


def bundle_of(source: Source, dimensions: Mapping[str, str]) -> Bundle:
    """The bundle in a file that was read with its dates; `dimensions` maps each metric that some train has to its dimension.

    Raises InputError, with every fault, where any of it could be misread.
    """
    if source.findings and not source.values:
        raise InputError(source.findings)
    findings = bundle_findings(source, dimensions)
    if any(finding.severity == "error" for finding in findings):
        raise InputError(findings)
    values, path = source.values, Path(source.file)
    frozen, judged_by = values.get("frozen"), values.get("judged_by")
    return Bundle(
        path=path,
        catalogs=tuple(path.parent / name for name in values["catalogs"]),
        profile=values.get("profile", DEFAULT),
        train=values["train"],
        parts={family: values["parts"][family] for family in TRAINS[values["train"]]},
        supplied=tuple(values.get("supplied", ())),
        digests=values.get("digests", {}),
        value_digests=values.get("value_digests", {}),
        frozen=_frozen(frozen) if frozen else None,
        judged_by=JudgedBy(**judged_by) if judged_by else None,
        setup=_figures(values.get("setup", {}), dimensions),
        shims=values.get("setup", {}).get(SHIMS),
        figures=_figures(values.get("figures", {}), dimensions),
        waivers=tuple(_waiver(source, at, waiver) for at, waiver in enumerate(values.get("waivers", ()))),
        findings=findings,
        source=source,
    )


def bundle_findings(source: Source, dimensions: Mapping[str, str]) -> tuple[Finding, ...]:
    """All that is wrong with a bundle file by itself."""
    if any(finding.problem == "too-deep" for finding in source.findings):
        return source.findings
    misplaced = list(_misplaced_dates(source.values, ()))
    refused = {*source.refused, *(fault.path for fault in misplaced)}
    found = faults("bundle", _dates_as_text(source.values), refused)
    spoiled = {*refused, *(fault.path for fault in found)}
    found += misplaced
    found += [fault for fault in _own(source.values, dimensions) if fault.path not in spoiled]
    return tuple(sorted({*source.findings, *(fault.finding(source) for fault in found)}))


def waiver_findings(source: Source, profile: Profile) -> tuple[Finding, ...]:
    """Waivers that mean nothing under a profile: of a rule that it has not, or that cannot be waived."""
    rules = {rule.name: rule for rule in profile.rules}
    told = []
    waivers = source.values.get("waivers", ())
    for at, waiver in enumerate(waivers if isinstance(waivers, list) else ()):
        name = waiver.get("rule") if isinstance(waiver, dict) else None
        path: Keys = ("waivers", at, "rule")
        if not isinstance(name, str):
            continue
        if name not in rules:
            found, expected = f"a waiver of {quoted(name)}, which is no rule of the profile", "a rule of the profile"
            told.append(Fault(path, "unknown-rule", found, expected, nearest(name, rules)))
        elif not rules[name].waivable:
            found, mend = f"a waiver of {name}, which cannot be waived", "take the waiver away and mend the kit"
            told.append(Fault(path, "not-waivable", found, "a rule that can be waived", mend))
    return tuple(fault.finding(source) for fault in told)


# --- dates


def _dates_as_text(value: Any) -> Any:
    """The same with every date as text: a schema knows no dates."""
    if isinstance(value, dict):
        return {key: _dates_as_text(below) for key, below in value.items()}
    if isinstance(value, list):
        return [_dates_as_text(below) for below in value]
    return value.isoformat() if isinstance(value, date | time) else value


def _misplaced_dates(value: object, path: Keys) -> Iterator[Fault]:
    """Dates elsewhere than as the last day of a waiver."""
    if isinstance(value, dict | list):
        for step, below in value.items() if isinstance(value, dict) else enumerate(value):
            yield from _misplaced_dates(below, (*path, step))
    elif isinstance(value, date | time) and not (path[0] == "waivers" and path[-1] == "until"):
        yield Fault(path, "date", value.isoformat(), "no date or time", "write it between quotes if it is text")


def _day(value: object) -> date | None:
    """The last day of a waiver, written as a date or as text."""
    if isinstance(value, str):
        try:
            return date.fromisoformat(value)
        except ValueError:
            return None
    return value if isinstance(value, date) and not isinstance(value, datetime) else None


# --- what the schema cannot say


def _own(values: Mapping[str, Any], dimensions: Mapping[str, str]) -> Iterator[Fault]:
    """A part for each family of the train and no other, days that are in the calendar, figures in the unit of their metric."""
    yield from _families(values)
    for key in ("setup", "figures"):
        table = values.get(key)
        for name, text in table.items() if isinstance(table, dict) else ():
            if name != SHIMS or key == "figures":
                yield from _figure_faults((key, name), text, dimensions)
    waivers = values.get("waivers")
    for at, waiver in enumerate(waivers if isinstance(waivers, list) else ()):
        if isinstance(waiver, dict) and "until" in waiver and _day(waiver["until"]) is None:
            found = shown(_dates_as_text(waiver["until"]))
            yield Fault(("waivers", at, "until"), "no-day", found, "a day such as 2027-03-31", "write a day of the calendar")


def _families(values: Mapping[str, Any]) -> Iterator[Fault]:
    parts, train = values.get("parts"), values.get("train")
    if not isinstance(parts, dict) or not isinstance(train, str) or train not in TRAINS:
        return
    for family in TRAINS[train]:
        if family not in parts:
            wanted = f"one id for each family of the {train} train"
            yield Fault(("parts", family), "missing-key", f"no {family}", wanted, f"add {family}", of="key")
    for key, known in (("parts", TRAINS[train]), ("digests", (*TRAINS[train], "linkage"))):
        table = values.get(key)
        for family in table if isinstance(table, dict) else ():
            if family not in known:
                found = f"{quoted(family)}, which the {train} train has not"
                yield Fault(
                    (key, family), "wrong-family", found, "families of the train", "take it away, or mend the train", "key"
                )


def _figure_faults(path: Keys, value: object, dimensions: Mapping[str, str]) -> Iterator[Fault]:
    name = str(path[-1])
    if name not in dimensions:
        yield Fault(path, "unknown-metric", f"the metric {quoted(name)}", "a metric", nearest(name, dimensions), of="key")
        return
    try:
        _figure(value, dimensions[name])
    except QuantityError as error:
        yield Fault(path, error.problem, error.found, error.expected, error.mend)


# --- values


def _figure(value: object, dimension: str) -> Quantity:
    """A figure in SI; a number without a unit only where the dimension has none."""
    if isinstance(value, str) and value in INFINITE:
        return Quantity(INFINITE[value])
    if isinstance(value, int | float) and not isinstance(value, bool) and "" in UNITS[dimension]:
        return Quantity(float(value))
    return parse(value if isinstance(value, str) else str(value), dimension)


def _figures(table: Mapping[str, Any], dimensions: Mapping[str, str]) -> dict[str, Quantity]:
    return {name: _figure(value, dimensions[name]) for name, value in table.items() if name != SHIMS}


def _frozen(table: Mapping[str, Any]) -> Frozen:
    return Frozen(table["verdict"], float(table["headroom"]), table.get("limiting_rule", ""), table.get("version", ""))


def _waiver(source: Source, at: int, table: Mapping[str, Any]) -> Waiver:
    until = _day(table["until"])
    assert until is not None  # or it would be a fault
    return Waiver(table["rule"], table["reason"], table["owner"], until, source.locate(("waivers", at, "rule"), of="value"))

"""What differs between what two results were made from, and which of it can bear on a kit."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fitcheck.catalog.parts import TRAINS
from fitcheck.changes.result_folder import ResultFolder, Row
from fitcheck.engine.table import METRICS
from fitcheck.fits_file import known_fields
from fitcheck.profile import ASSUMPTION_UNITS
from fitcheck.quantities import UNITS, to_unit

MARGINS = ("release_margin", "wear_reserve", "stroke_reserve", "overtravel")  # whose rules bound the settings that work
SETTINGS = ("metric", "lower", "upper", "severity", "train", "applications")  # what of a rule the settings depend on
SAID = {"reason", "remedy", "source", "waivable"}  # what of a rule or fit decides nothing: a screening waives no rule
TABLES = {"rule": "rules", "fit": "fits", "assumption": "assumptions", "ranking": "ranking", "job": "asked"}


@dataclass(frozen=True, order=True)
class Cause:
    """One thing that differs between what the two results were made from."""

    kind: str  # entry, rule, fit, assumption, ranking, job or version
    name: str
    how: str  # new, gone, or changed with what it was and is

    def __str__(self) -> str:
        """On one line."""
        return f"{self.kind} {self.name}: {self.how}"


def causes_between(old: ResultFolder, new: ResultFolder) -> Iterator[Cause]:
    """All that differs in what went in, whether it bears on a kit or not."""
    if old.version != new.version:
        yield Cause("version", "fitcheck", f"changed from {old.version} to {new.version}")
    was, now = old.decided_by, new.decided_by
    for family in sorted({*was["entries"], *now["entries"]}):
        then, today = was["entries"].get(family, {}), now["entries"].get(family, {})
        yield from (Cause("entry", f"{family}.{name}", _how(then, today, name)) for name in _differing(then, today))
    for kind, table in TABLES.items():
        for name in _differing(was[table], now[table]):
            how = _how(was[table], now[table], name)
            told = f": {_difference(kind, name, was[table][name], now[table][name])}" if how == "changed" else ""
            yield Cause(kind, name, how + told)


def _differing(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[str]:
    return [name for name in sorted({*old, *new}) if name not in old or name not in new or old[name] != new[name]]


def _how(old: Mapping[str, Any], new: Mapping[str, Any], name: str) -> str:
    return "changed" if name in old and name in new else "gone" if name in old else "new"


def _difference(kind: str, name: str, old: Any, new: Any) -> str:
    """What it was and is; of a table only the keys that differ."""
    if isinstance(old, dict) and isinstance(new, dict):
        return ", ".join(
            f"{key} from {_shown(old.get(key), _unit(kind, key, old))} to {_shown(new.get(key), _unit(kind, key, new))}"
            for key in _differing(old, new)
        )
    unit = ASSUMPTION_UNITS.get(name, "") if kind == "assumption" else ""
    return f"from {_shown(old, unit)} to {_shown(new, unit)}"


def _unit(kind: str, key: str, table: Mapping[str, Any]) -> str:
    """The unit in which a number of a rule or fit is told."""
    if kind == "rule" and key in ("lower", "upper", "scale") and table.get("metric") in METRICS:
        return METRICS[table["metric"]].unit
    if kind == "fit" and key in ("lower", "upper"):
        return UNITS.get(known_fields().get(table["fields"][0], ""), ("",))[0]
    return ""


def _shown(value: Any, unit: str = "") -> str:
    if isinstance(value, list):
        return "[" + ", ".join(map(_shown, value)) + "]"
    if isinstance(value, float):
        return f"{float(to_unit(value, unit)) if unit else value:.12g} {unit}".rstrip()
    return "nothing" if value is None else str(value)


class Told:
    """The causes by what they can bear on."""

    def __init__(self, old: ResultFolder, new: ResultFolder, causes: Sequence[Cause]) -> None:
        """Leave aside what bears on no kit."""
        self.old, self.new = old, new
        self.causes = [cause for cause in causes if not self._bears_on_none(cause)]
        self.both = [kit for kit in old.kits if kit in new.kits]
        self._entries = {cause.name: cause for cause in causes if cause.kind == "entry"}
        self._margins = [cause for cause in self.of_kind("rule") if self._bounds_settings(cause.name)]

    def _sides(self, cause: Cause) -> list[Mapping[str, Any]]:
        """A rule or fit as it was and is, as far as it was and is there."""
        tables = [side.decided_by[TABLES[cause.kind]] for side in (self.old, self.new)]
        return [table[cause.name] for table in tables if cause.name in table]

    def _bears_on_none(self, cause: Cause) -> bool:
        """Whether a job only needs a passing kit or not, or a rule or fit says other words and asks the same."""
        if cause.kind not in ("rule", "fit"):
            return (cause.kind, cause.name) == ("job", "need_pass")
        sides = self._sides(cause)
        return len(sides) == 2 and set(_differing(*sides)) <= SAID

    def _bounds_settings(self, name: str) -> bool:
        """Whether a rule was changed so that other settings work."""
        rules = [side.decided_by["rules"].get(name, {}) for side in (self.old, self.new)]
        sides = [tuple(str(rule.get(key)) for key in SETTINGS) for rule in rules]
        return sides[0] != sides[1] and any(rule.get("metric") in MARGINS for rule in rules)

    def entries(self, row: Row) -> list[Cause]:
        """Entries of a kit that differ, the old linkage of its vehicle among them."""
        names = [f"{family}.{name}" for family, name in row.parts.items()]
        sides = [side.decided_by["linkages"].get(row.application) for side in (self.old, self.new)]
        names += [f"linkage.{name}" for name in dict.fromkeys(sides) if name]
        return [self._entries[name] for name in names if name in self._entries]

    def of_kind(self, *kinds: str) -> list[Cause]:
        """All of some kinds."""
        return [cause for cause in self.causes if cause.kind in kinds]

    def asked(self, *names: str) -> list[Cause]:
        """What the jobs ask otherwise, of some keys."""
        return [cause for cause in self.of_kind("job") if cause.name in names]

    def figures(self, row: Row) -> list[Cause]:
        """What can move the figures of a kit."""
        rules = [cause for cause in self._margins if any(_judges(rule, row) for rule in self._sides(cause))]
        return [*self.entries(row), *self.of_kind("assumption", "version"), *self.asked("supplied"), *rules]

    def fits(self, row: Row) -> list[Cause]:
        """Fits that differ and hold parts of a kit's train against each other."""
        return [cause for cause in self.of_kind("fit") if any(_holds(fit, row) for fit in self._sides(cause))]

    def rules(self, *rows: Row) -> list[Cause]:
        """Rules that differ and that a kit breaks, or is limited by, in one of the results."""
        said = {name for row in rows for name in (*_ruled(row.reasons), row.limiting_rule)}
        return [cause for cause in self.of_kind("rule") if cause.name in said]


def _judges(rule: Mapping[str, Any], row: Row) -> bool:
    """Whether a rule is one for the train and the vehicle of a kit."""
    train, applications = rule.get("train"), rule.get("applications")
    return (train is None or set(TRAINS[train]) == set(row.parts)) and (applications is None or row.application in applications)


def _holds(fit: Mapping[str, Any], row: Row) -> bool:
    """Whether a fit is about families that a kit has."""
    return {field.partition(".")[0] for field in fit["fields"]} <= set(row.parts)


def _ruled(reasons: str) -> list[str]:
    """The rules that a cell of reasons names."""
    return re.findall(r"(?:^|; )([^:;]+): ", reasons)

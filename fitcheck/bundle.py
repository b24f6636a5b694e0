"""A chosen kit, frozen earlier: is it still legal, what do the rules say today, and what has changed since?"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from typing import Any

import numpy as np

from fitcheck.bundle_file import Bundle, Waiver
from fitcheck.catalog.parts import Catalog, Part
from fitcheck.engine.result import Emptied, KitTable
from fitcheck.engine.single import one_kit
from fitcheck.engine.states import REJECT, VALUE
from fitcheck.engine.table import METRICS, Metric
from fitcheck.job import Job
from fitcheck.profile import Profile
from fitcheck.quantities import Quantity, from_unit

# What is said of a part, not what it is: a change of these moves no figure.
REMARKS = frozenset({"name", "notes", "source", "evidence", "available", "superseded_by"})
UNMOVED = 1e-6  # share of a figure by which it may differ and still be the same


@dataclass(frozen=True)
class Waived:
    """What became of a waiver."""

    waiver: Waiver
    used: bool  # the kit, judged without waivers, breaks its rule
    expired: bool
    known: bool  # the profile has its rule
    waivable: bool

    @property
    def in_force(self) -> bool:
        """Whether the rule may be broken on that day."""
        return self.known and self.waivable and not self.expired


@dataclass(frozen=True)
class Change:
    """An entry that is not what it was; `same_values` is None where the bundle keeps too little to tell."""

    family: str
    part: Part
    same_values: bool | None


@dataclass(frozen=True)
class Move:
    """A figure that is not what it was, in SI; None where there was or is none."""

    metric: str
    then: float | None
    now: float | None
    state: int  # of the figure now
    setup: bool  # whether a fitter sets it


@dataclass(frozen=True)
class Standing:
    """How a bundle stands on a day."""

    bundle: Bundle
    profile: Profile
    catalog: Catalog  # of the parts of the kit alone
    on: date
    table: KitTable | None  # one row; None where the kit is not legal
    unmet: Emptied | None  # the fits that do not meet; None where the kit is legal
    waivers: tuple[Waived, ...]
    changes: tuple[Change, ...]
    moves: tuple[Move, ...]
    not_frozen: tuple[str, ...]  # families whose digest the bundle does not hold

    @property
    def verdict(self) -> int:
        """The verdict; a kit that is not legal is rejected."""
        return REJECT if self.table is None else int(self.table.verdict[0])

    @property
    def shims(self) -> str:
        """What the stack is made of, as a bundle writes it."""
        return shims_text(self.table) if self.table else ""

    @property
    def shims_moved(self) -> bool:
        """Whether another stack is to be fitted than the frozen one."""
        return self.table is not None and self.bundle.shims not in (None, self.shims)


def shims_text(table: KitTable) -> str:
    """The stack of the only kit of a table in mm; `none` where no shim is needed or there are none at all."""
    return table.shims[0] or "none"


def standing(bundle: Bundle, profile: Profile, catalog: Catalog, on: date) -> Standing:
    """Judge a bundle anew; the catalog holds its parts alone, all of them."""
    rules = {rule.name: rule for rule in profile.rules}
    found = [
        Waived(each, False, on > each.until, each.rule in rules, each.rule in rules and rules[each.rule].waivable)
        for each in bundle.waivers
    ]
    waived = frozenset(each.waiver.rule for each in found if each.in_force)
    job = Job(bundle.path.stem, bundle.path, bundle.catalogs, bundle.profile, supplied=bundle.supplied)
    result = one_kit(catalog, profile, job, bundle.train, waived)
    table, unmet = (None, result) if isinstance(result, Emptied) else (result, None)
    broken = {reason.rule for reason in table.reasons[0] if reason.kind != "not given"} if table else set()
    used = tuple(Waived(each.waiver, each.waiver.rule in broken, each.expired, each.known, each.waivable) for each in found)
    parts = parts_of(catalog)
    changes = tuple(_changes(bundle, parts))
    missing = tuple(family for family in parts if family not in bundle.digests)
    moves = tuple(_moves(bundle, table)) if table else ()
    return Standing(bundle, profile, catalog, on, table, unmet, used, changes, moves, missing)


def parts_of(catalog: Catalog) -> dict[str, Part]:
    """The only part of each family that has one."""
    return {family: parts[0] for family, parts in catalog.families.items() if parts}


# --- entries


def value_digest(part: Part) -> str:
    """SHA-256 of what an entry says of its part, in SI: the same for 3/4 in and 19.05 mm, whatever its name and remarks."""
    values = {key: value for key, value in part.values.items() if key not in REMARKS}
    plain = _plain({"values": values, "tolerances": part.tolerances})
    return sha256(json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()).hexdigest()


def _plain(value: Any) -> Any:
    """Numbers to twelve digits, so that the last bit of a conversion is no change."""
    if isinstance(value, Mapping):
        return {key: _plain(below) for key, below in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(below) for below in value]
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    return f"{value + 0.0:.12g}"


def _changes(bundle: Bundle, parts: Mapping[str, Part]) -> Iterator[Change]:
    for family, part in parts.items():
        if bundle.digests.get(family, part.digest) != part.digest:
            then = bundle.value_digests.get(family)
            yield Change(family, part, None if then is None else then == value_digest(part))


# --- figures


def _moves(bundle: Bundle, table: KitTable) -> Iterator[Move]:
    """Set-up figures, then all others; a figure that the bundle never held is one that moved only where it holds the rest."""
    for name, then in bundle.setup.items():
        yield from _move(name, then, table, True)
    for name in METRICS if bundle.figures else ():
        if name not in bundle.setup:
            yield from _move(name, bundle.figures.get(name), table, False)


def _move(name: str, then: Quantity | None, table: KitTable, setup: bool) -> Iterator[Move]:
    state = int(table.states[name][0])
    now = float(table.metrics[name][0]) if state == VALUE else None
    if not _same(METRICS[name], then, now):
        yield Move(name, None if then is None else then.value, now, state, setup)


def _same(metric: Metric, then: Quantity | None, now: float | None) -> bool:
    """Whether a figure is still what it was: within the tolerance written beside it, or far below what anybody reads."""
    if then is None or now is None:
        return then is None and now is None
    if np.isinf(then.value) or np.isinf(now):
        return then.value == now
    digit = from_unit(10.0 ** -(metric.decimals + 3), metric.unit) - from_unit(0.0, metric.unit)
    slack = max(digit, UNMOVED * max(abs(then.value), abs(now))) if then.tolerance is None else then.tolerance + digit
    return abs(now - then.value) <= slack

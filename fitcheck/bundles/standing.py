"""A chosen kit, frozen earlier: is it still legal, what do the rules say today, and what has changed since?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date

from fitcheck.bundle_file import Bundle, Waiver
from fitcheck.bundles.judged_by import ProfileChange, digest_of, judged_by, profile_change
from fitcheck.bundles.moves import Move, moves_of
from fitcheck.bundles.neighbour import Neighbour
from fitcheck.bundles.parts import parts_of
from fitcheck.catalog.parts import Catalog, Part
from fitcheck.engine.result import Emptied, KitTable
from fitcheck.engine.single import one_kit
from fitcheck.engine.states import REJECT
from fitcheck.job import Job
from fitcheck.profile import Profile

# What is said of a part, not what it is: a change of these moves no figure.
REMARKS = frozenset({"name", "notes", "source", "evidence", "available", "superseded_by"})


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
    moves: tuple[Move, ...]  # the weightiest first
    not_frozen: tuple[str, ...]  # families whose digest the bundle does not hold, and `profile` where it holds none of that
    profile_change: ProfileChange | None  # how the kit is judged otherwise than when it was frozen
    aside: KitTable | None  # the kit judged with its waivers set aside, as it was when it was frozen
    neighbour: Neighbour | None = None  # the nearest legal kit, where this one is not and the whole catalog could be read

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
    waivers = waivers_on(bundle, profile, on)
    waived = frozenset(each.waiver.rule for each in waivers if each.in_force)
    result = one_kit(catalog, profile, job_of(bundle), bundle.train, waived)
    table, unmet = (None, result) if isinstance(result, Emptied) else (result, None)
    aside = one_kit(catalog, profile, job_of(bundle), bundle.train) if table and waived else table
    broken = {reason.rule for reason in table.reasons[0] if reason.kind != "not given"} if table else set()
    parts = parts_of(catalog)
    missing = [family for family in parts if family not in bundle.digests] + ([] if bundle.judged_by else ["profile"])
    now = judged_by(profile, bundle.parts["application"], bundle.train)
    return Standing(
        bundle,
        profile,
        catalog,
        on,
        table,
        unmet,
        tuple(replace(each, used=each.waiver.rule in broken) for each in waivers),
        tuple(_changes(bundle, parts)),
        moves_of(bundle, profile, table) if table else (),
        tuple(missing),
        profile_change(bundle.judged_by, now),
        None if isinstance(aside, Emptied) else aside,
    )


def waivers_on(bundle: Bundle, profile: Profile, on: date) -> list[Waived]:
    """The waivers of a bundle on a day, before anything is judged."""
    waivable = {rule.name: rule.waivable for rule in profile.rules}
    return [
        Waived(each, False, on > each.until, each.rule in waivable, waivable.get(each.rule, False)) for each in bundle.waivers
    ]


def job_of(bundle: Bundle) -> Job:
    """A job that says what the bundle supplies."""
    return Job(bundle.path.stem, bundle.path, bundle.catalogs, bundle.profile, supplied=bundle.supplied)


# --- entries


def value_digest(part: Part) -> str:
    """SHA-256 of what an entry says of its part, in SI: the same for 3/4 in and 19.05 mm, whatever its name and remarks."""
    values = {key: value for key, value in part.values.items() if key not in REMARKS}
    return digest_of({"values": values, "tolerances": part.tolerances})


def _changes(bundle: Bundle, parts: Mapping[str, Part]) -> Iterator[Change]:
    for family, part in parts.items():
        if bundle.digests.get(family, part.digest) != part.digest:
            then = bundle.value_digests.get(family)
            yield Change(family, part, None if then is None else then == value_digest(part))

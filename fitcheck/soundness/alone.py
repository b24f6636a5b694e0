"""Parts that can fit nothing in the catalog, and which interface of theirs stands alone."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import FAMILIES, Catalog, Part
from fitcheck.engine.interfaces import BoolArray, Interface, family_of, interfaces
from fitcheck.engine.legality import TRAINS
from fitcheck.engine.telling import values_in_words
from fitcheck.errors import Finding, InputError
from fitcheck.profile import Fit, Profile
from fitcheck.soundness.doubts import about, listed

Fits = tuple[Fit, ...]
Met = Mapping[str, BoolArray]  # family -> for each of its parts, whether there is something with which the fits are met
Asked = tuple[Fits, Met]


def lonely_doubts(catalog: Catalog, profile: Profile) -> Iterator[Finding]:
    """Parts that no train can take, because one interface meets nothing; a fit that can be asked of no catalog is told too."""
    try:
        ready = [one for one in interfaces(catalog, profile) if all(map(catalog.families.get, one.families))]
    except InputError as error:
        yield from error.findings
        return
    met = [(tuple(dict.fromkeys(one.fit for one in group)), _met(group, catalog)) for group in _groups(ready)]
    short = _short(catalog)
    for family, parts in catalog.families.items():
        theirs = [_asked(met, families, family, short) for families in _trains(catalog) if family in families]
        alone = [np.logical_or.reduce([~by[family] for _, by in asked]) for asked in theirs if asked]  # in each of the trains
        for row in np.flatnonzero(np.logical_and.reduce(alone)) if theirs and all(theirs) else ():
            blocked = [min((fits for fits, by in asked if not by[family][row]), key=len) for asked in theirs]
            yield _told(parts[row], list(dict.fromkeys(blocked)), catalog)


def _groups(ready: Sequence[Interface]) -> Iterator[list[Interface]]:
    """Each interface by itself, and all those between the same two families together: one partner must meet them all."""
    pairs: defaultdict[frozenset[str], list[Interface]] = defaultdict(list)
    for one in ready:
        yield [one]
        pairs[frozenset(one.families)].append(one)
    yield from (group for families, group in pairs.items() if len(families) == 2 and len(group) > 1)


def _trains(catalog: Catalog) -> list[tuple[str, ...]]:
    """The trains of which every family is there; of none, for files that are checked alone, all of them."""
    whole = [families for families in TRAINS.values() if all(map(catalog.families.get, families))]
    return whole or list(TRAINS.values())


def _short(catalog: Catalog) -> set[str]:
    """The families of which entries are left out: what a part does not meet may be among those."""
    if catalog.complete:
        return set()
    named = {finding.place.key.partition(".")[0] for finding in catalog.findings if finding.severity == "error"}
    return named if named and named <= set(FAMILIES) else set(FAMILIES)


def _asked(met: list[Asked], families: tuple[str, ...], family: str, short: set[str]) -> list[Asked]:
    """The fits of a train that are asked of a family, against families of which everything is there."""
    return [(fits, by) for fits, by in met if family in by and set(by) <= set(families) and not short & (set(by) - {family})]


def _met(group: Sequence[Interface], catalog: Catalog) -> Met:
    """For each part whether there is anything that it meets; parts with the same values are asked once."""
    families = list(dict.fromkeys(family for one in group for family in one.families))
    firsts, kinds = {}, {}
    for family in families:
        firsts[family], kinds[family] = _alike(group, family)
    index = {
        family: np.expand_dims(firsts[family], [at for at in range(len(families)) if at != axis])
        for axis, family in enumerate(families)
    }
    holds = np.ones([len(firsts[family]) for family in families], np.bool_)
    for one in group:
        holds &= one.holds(index)
    met = {}
    for axis, family in enumerate(families):
        any_other: BoolArray = np.asarray(np.moveaxis(holds, axis, 0).reshape(holds.shape[axis], -1).any(axis=1))
        met[family] = any_other[kinds[family]]
    return met


def _alike(group: Sequence[Interface], family: str) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """One part of each set of equal values at these interfaces, and for each part which set it is in."""
    pairs = [pair for one in group for pair in zip(one.families, one.columns, strict=True)]
    columns = [column.reshape(len(column), -1).astype(float) for owner, column in pairs if owner == family]
    _, firsts, kinds = np.unique(np.concatenate(columns, axis=1), axis=0, return_index=True, return_inverse=True)
    return firsts, kinds.reshape(-1)


def _told(part: Part, blocked: list[Fits], catalog: Catalog) -> Finding:
    """Which interface stands alone, and what stands on the other side of it."""
    words = listed([_interface(part, fits) for fits in blocked])
    there = listed(list(dict.fromkeys(_other_side(part, fit, catalog) for fits in blocked for fit in fits)))
    key = next((field.partition(".")[2] for fit in blocked[0] for field in fit.fields if family_of(field) == part.family), "")
    mend = "check these words and figures, add what they meet, or take the part away"
    return about(part, key, "fits-nothing", words, f"something in the catalog that it meets; there is only {there}", mend)


def _interface(part: Part, fits: Fits) -> str:
    if all(fit.kind == "fitted" for fit in fits):
        return "a part that no application has room for, for each keeps another"
    fields = dict.fromkeys(field for fit in fits for field in fit.fields if family_of(field) == part.family)
    own = listed([f"{field} {values_in_words(field, [part])}" for field in fields])
    names = listed([fit.name for fit in fits])
    return (
        f"{own}, which meets nothing at the fit {names}"
        if len(fits) == 1
        else f"{own}, which meet no one part at the fits {names}"
    )


def _other_side(part: Part, fit: Fit, catalog: Catalog) -> str:
    if fit.kind == "fitted":
        return "an application that keeps another"
    others = [field for field in fit.fields if family_of(field) != part.family]
    return listed([f"{field} {values_in_words(field, catalog.families[family_of(field)])}" for field in others] or ["itself"])

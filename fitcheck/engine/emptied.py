"""Why an application has nothing legal on a train: the fits that empty it, with the values that do not meet."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Any

from fitcheck.catalog.parts import Catalog, Part
from fitcheck.engine.interfaces import family_of, field_value
from fitcheck.engine.legality import TRAINS, Legality
from fitcheck.engine.result import Emptied, Group
from fitcheck.fits_file import known_fields
from fitcheck.job import Job
from fitcheck.profile import Fit, Profile
from fitcheck.quantities import UNITS, to_unit

MOST_WORDS = 8  # so many values of a family are named; the rest is counted


def why_empty(catalog: Catalog, profile: Profile, job: Job, group: Group) -> Emptied:
    """The fits that leave nothing of a group: alone, else those without which there would be kits, one or two at a time."""
    application, train = group
    asked = replace(job, applications=(application,), trains=(train,))
    fits = [fit for fit in profile.fits if {family_of(field) for field in fit.fields} <= set(TRAINS[train])]

    def kits(some: Iterable[Fit]) -> int:
        legality = Legality(catalog, replace(profile, fits=tuple(some)), asked)
        return sum(legality.count(*each) for each in legality.groups())

    if not kits(()):
        return Emptied((), tuple(_nothing_left(catalog, asked, train)))
    alone = [fit for fit in fits if not kits([fit])]
    if alone:
        return Emptied(_names(alone), tuple(_sentence(fit, catalog, asked) for fit in alone))
    return _together(fits, kits, lambda fit: _sentence(fit, catalog, asked))


def _together(fits: Sequence[Fit], kits: Callable[[Iterable[Fit]], int], sentence: Callable[[Fit], str]) -> Emptied:
    """Each fit alone can be met: the smallest sets without which there are kits, else a set that cannot be met together."""
    for size in (1, 2):
        sets = list(combinations(fits, size))
        saving = [(some, found) for some in sets if (found := kits(fit for fit in fits if fit not in some))]
        if saving:
            involved = list(dict.fromkeys(fit for some, _ in saving for fit in some))
            told = [f"without {_listed(_names(some), 'and')} there would be {_kits(found)}" for some, found in saving]
            return Emptied(_names(involved), (*told, *map(sentence, involved)))
    clash = list(fits)
    for fit in fits:
        if not kits(other for other in clash if other is not fit):
            clash.remove(fit)
    told = [f"{_listed(_names(clash), 'and')} can each be met, but not together, and others do not meet either"]
    return Emptied(_names(clash), (*told, *map(sentence, clash)))


def _kits(count: int) -> str:
    return "1 legal kit" if count == 1 else f"{count} legal kits"


def _names(fits: Iterable[Fit]) -> tuple[str, ...]:
    return tuple(fit.name for fit in fits)


def _listed(words: Sequence[str], last: str) -> str:
    """`a`, `b` and `c`."""
    quoted = [f"`{word}`" for word in words]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} {last} {quoted[-1]}"


def _nothing_left(catalog: Catalog, job: Job, train: str) -> list[str]:
    """Families of which there is no part at all, or none that the job lets in."""
    told = []
    for family in TRAINS[train]:
        if not catalog.families.get(family):
            told.append(f"the catalog has no {_plain(family)}")
        elif not _in_play(catalog, job, family):
            told.append(f"the job leaves out every {_plain(family)} of the catalog")
    return told


def _in_play(catalog: Catalog, job: Job, family: str) -> list[Part]:
    parts = catalog.families.get(family, ())
    if family == "application":
        parts = tuple(part for part in parts if part.id in job.applications)
    only, without = job.only.get(family), job.leave_out.get(family, ())
    return [part for part in parts if (only is None or part.id in only) and part.id not in without]


# --- sentences


def _sentence(fit: Fit, catalog: Catalog, job: Job) -> str:
    """What stands at the interface of a fit that leaves nothing."""
    parts = {family_of(field): _in_play(catalog, job, family_of(field)) for field in fit.fields}
    if fit.kind == "fitted":
        return _fitted(parts["application"][0], catalog, job)
    families = list(dict.fromkeys(map(family_of, fit.fields)))
    if fit.kind == "equal" and "application" in families and len(families) == 2:
        return _no_equal(fit, parts)
    told = [f"{_subject(family_of(field), field)} {values_in_words(field, parts[family_of(field)])}" for field in fit.fields]
    return f"nothing meets at `{fit.name}`: {'; '.join(told)}"


def _no_equal(fit: Fit, parts: dict[str, list[Part]]) -> str:
    own, other = sorted(fit.fields, key=lambda field: family_of(field) != "application")
    family, wanted = family_of(other), values_in_words(own, parts["application"])
    name, field = _plain(own.partition(".")[2]), _plain(other.partition(".")[2])
    if wanted == "`none`":
        return f"the application takes no {_plain(family)}: its {name} is `none`"
    stand = f"{_plain(family)}s have {'' if field == name else field + ' '}{values_in_words(other, parts[family])}"
    return f"no {_plain(family)} has the {name} {wanted} of the application; {stand}"


def _fitted(application: Part, catalog: Catalog, job: Job) -> str:
    """Which part stays in the vehicle but is not there."""
    gone = [
        f"{_plain(family)} `{name}`"
        for family, name in application.values.get("fitted", {}).items()
        if name not in [part.id for part in _in_play(catalog, job, family)]
    ]
    return f"the application has {' and '.join(gone)} fitted, which neither catalog nor job offers"


def _subject(family: str, field: str) -> str:
    who = "the application has" if family == "application" else f"{_plain(family)}s have"
    return f"{who} {_plain(field.partition('.')[2])}"


def _plain(word: str) -> str:
    return word.replace("_", " ")


def values_in_words(field: str, parts: Iterable[Part]) -> str:
    """The distinct values of a field: words one by one, numbers as the range that they span."""
    values = [field_value(part, field) for part in parts]
    given = [value for value in values if value is not None]
    if not given:
        return "not given"
    if isinstance(given[0], bool | str) or (isinstance(given[0], tuple) and not _spans(field)):
        return _few(sorted({_word(value) for value in given}))
    if _spans(field):
        return _few(sorted({f"{_number(field, low)} to {_number(field, high)}" for low, high in given}))
    low, high = _number(field, min(given)), _number(field, max(given))
    return low if low == high else f"from {low} to {high}"


def _spans(field: str) -> bool:
    return known_fields().get(field, "").startswith("range ")


def _word(value: Any) -> str:
    if isinstance(value, tuple):
        return " and ".join(f"`{word}`" for word in value) or "none of them"
    return f"`{value}`"


def _few(words: Sequence[str]) -> str:
    more = f" and {len(words) - MOST_WORDS} more" if len(words) > MOST_WORDS else ""
    return ", ".join(words[:MOST_WORDS]) + more


def _number(field: str, value: float) -> str:
    """A number with the first unit of its dimension; a number in a field for words stays as it is."""
    unit = UNITS.get(known_fields().get(field, "").removeprefix("range "), ("",))[0]
    return f"{to_unit(float(value), unit):.6g} {unit}".strip()

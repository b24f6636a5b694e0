"""Which kit does a name mean? Part ids joined by `+`; a wrong one gets the nearest right ones."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches

from fitcheck.catalog.parts import TRAINS, Catalog, Part
from fitcheck.errors import Finding, InputError, Place, UsageError
from fitcheck.job import Job
from fitcheck.quantities import quoted

MOST = 3  # names that are offered in place of a wrong one


def find_kit(name: str, catalog: Catalog, job: Job) -> tuple[str, dict[str, str]]:
    """The train and, by family, the part ids of a kit that the job lets in; whether it is legal is another question.

    Raises UsageError where there is no such kit; the message names the nearest. Raises InputError where an entry of it was
    left out for its errors.
    """
    ids = name.split("+")
    trains = [train for train, families in TRAINS.items() if len(families) == len(ids)]
    if not trains:
        raise UsageError(f"There is no kit {quoted(name, 400)}: {_misshapen(ids, catalog)}. A kit is {_shapes()}.")
    train = trains[0]
    parts = dict(zip(TRAINS[train], ids, strict=True))
    unknown = [family for family, identifier in parts.items() if catalog.part(family, identifier) is None]
    if unknown:
        refuse_left_out(catalog, {family: parts[family] for family in unknown})
        raise UsageError(_not_known(parts, unknown, catalog))
    outside = [f"{family} {identifier}" for family, identifier in parts.items() if not let_in(job, family, identifier)]
    if train not in job.trains:
        outside.insert(0, f"the {train} train")
    if outside:
        raise UsageError(f"The job leaves this kit out: {', '.join(outside)}.")
    return train, parts


def find_application(identifier: str, catalog: Catalog, job: Job) -> Part:
    """The application of that id that the job lets in.

    Raises UsageError where there is none; the message names the nearest. Raises InputError where its entry was left out for its
    errors.
    """
    part = catalog.part("application", identifier)
    if part is not None and let_in(job, "application", identifier):
        return part
    if part is not None:
        raise UsageError(f"The job leaves the application {identifier} out.")
    refuse_left_out(catalog, {"application": identifier})
    every = [each.id for each in catalog.families.get("application", ()) if let_in(job, "application", each.id)]
    close = get_close_matches(identifier.casefold(), every, MOST, 0.4)
    meant = f"Did you mean {' or '.join(close)}?" if close else f"There are: {', '.join(every) or 'none'}."
    raise UsageError(f"There is no application {quoted(identifier, 400)}. {meant}")


def refuse_left_out(catalog: Catalog, parts: Mapping[str, str]) -> None:
    """Raise InputError where one of those parts has an entry that could not be taken into the catalog."""
    entries = {f"{family}.{identifier}": f"{family} {identifier}" for family, identifier in parts.items()}
    faults = [(".".join(each.place.key.split(".")[:2]), each.place) for each in catalog.findings if each.severity == "error"]
    places = {key: place for key, place in reversed(faults) if key in entries}
    if places:
        raise InputError(tuple(_left_out(entries[key], place) for key, place in sorted(places.items())))


def _left_out(part: str, place: Place) -> Finding:
    return Finding(place, "left-out-part", f"{part} left out for its errors", "each part to be readable", "mend its entry first")


def only_these(catalog: Catalog, parts: Mapping[str, str]) -> Catalog:
    """A catalog of those parts alone, and the linkage of their application."""
    found = {family: tuple(part for part in some if part.id == parts.get(family)) for family, some in catalog.families.items()}
    linkages = [part.values.get("linkage") for part in found["application"]]
    found["linkage"] = tuple(part for part in catalog.families.get("linkage", ()) if part.id in linkages)
    return Catalog(found, catalog.findings, catalog.digests, catalog.complete)


def _shapes() -> str:
    return ", or ".join(f"{len(families)} ids joined by + ({'+'.join(families)})" for families in TRAINS.values())


def _misshapen(ids: Sequence[str], catalog: Catalog) -> str:
    """What a name of the wrong length lacks or has too much, held against the train that it comes nearest to."""
    lacking, too_much = min(
        (_held_against(ids, families, catalog) for families in TRAINS.values()), key=lambda some: sum(map(len, some))
    )
    told = [f"no {' and no '.join(lacking)}"] if lacking else []
    told += [f"{', '.join(map(quoted, too_much))} too much"] if too_much else []
    return f"it has {'; '.join(told) or f'{len(ids)} parts'}"


def _held_against(ids: Sequence[str], families: Sequence[str], catalog: Catalog) -> tuple[list[str], list[str]]:
    """Families of which no id is named, and ids of no family."""
    left, lacking = list(ids), []
    for family in families:
        found = next((identifier for identifier in left if catalog.part(family, identifier)), None)
        if found is None:
            lacking.append(family)
        else:
            left.remove(found)
    return lacking, left


def let_in(job: Job, family: str, identifier: str) -> bool:
    """Whether a job lets a part of that family into its kits."""
    if family == "application" and "all" not in job.applications and identifier not in job.applications:
        return False
    return identifier in job.only.get(family, (identifier,)) and identifier not in job.leave_out.get(family, ())


def _not_known(parts: Mapping[str, str], unknown: Sequence[str], catalog: Catalog) -> str:
    """What is wrong with a name, and the names nearest to it."""
    told = ", ".join(f"no {family} {quoted(parts[family])}" for family in unknown)
    offers = list(_nearest(parts, unknown, catalog))
    meant = f" Did you mean {' or '.join(offers)}?" if offers else ""
    return f"There is no such kit: the catalog has {told}.{meant}"


def _nearest(parts: Mapping[str, str], unknown: Sequence[str], catalog: Catalog) -> Iterator[str]:
    """The name with each unknown id replaced by one near it: of the first family several, of the others the nearest."""
    close = {
        family: get_close_matches(parts[family].casefold(), [part.id for part in catalog.families.get(family, ())], MOST, 0.4)
        for family in unknown
    }
    if all(close.values()):
        for identifier in close[unknown[0]]:
            replaced = {family: ids[0] for family, ids in close.items()} | {unknown[0]: identifier}
            yield "+".join({**parts, **replaced}.values())

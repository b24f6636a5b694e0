"""How many legal kits there are, before anything is evaluated."""

from __future__ import annotations

from fitcheck.catalog.parts import Catalog
from fitcheck.engine.legality import Legality
from fitcheck.engine.result import Group
from fitcheck.job import Job
from fitcheck.profile import Profile


def count(catalog: Catalog, profile: Profile, job: Job) -> dict[Group, int]:
    """The exact number of legal kits of every application and train that the job asks for, those with none included."""
    legality = Legality(catalog, profile, job)
    applications = catalog.families.get("application", ())
    return {(applications[row].id, train): legality.count(row, train) for row, train in legality.groups()}

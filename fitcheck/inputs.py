"""Everything that a job names, read and checked: what every question to the engine starts from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fitcheck.catalog.load import load_catalog
from fitcheck.catalog.parts import Catalog
from fitcheck.engine.result import Group
from fitcheck.engine.table import METRICS
from fitcheck.errors import Finding
from fitcheck.frame import Screening
from fitcheck.job import Job
from fitcheck.job_file import load_job, names_missing
from fitcheck.profile import Profile
from fitcheck.profile_file import applications_missing, load_profile

if TYPE_CHECKING:
    from fitcheck.engine.unfinished import Unfinished

DIMENSIONS = {name: metric.dimension for name, metric in METRICS.items()}
Progress = Callable[[int, int], None]  # legal kits judged so far, legal kits in all


@dataclass(frozen=True)
class Inputs:
    """A job with the profile and the catalog that it names."""

    job: Job
    profile: Profile
    catalog: Catalog
    slips: tuple[Finding, ...] = ()  # ids in job and profile that the catalog has not: less is screened or judged than asked

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All that was found while reading."""
        return (*self.job.findings, *self.profile.findings, *self.catalog.findings, *self.slips)

    @property
    def complete(self) -> bool:
        """Whether all that was asked for could be read and found."""
        return self.catalog.complete and not self.slips

    def screen(self, progress: Progress | None = None, unfinished: Unfinished | None = None) -> Screening:
        """Every legal kit evaluated, judged and ranked; `unfinished` keeps what is known when the run is stopped."""
        from fitcheck.engine.screening import screen  # the engine is loaded by who needs it, not by who only checks files

        result = screen(self.catalog, self.profile, self.job, progress=progress, unfinished=unfinished, slips=self.slips)
        return Screening(**vars(result))

    def unfinished(self, folder: Path) -> Unfinished:
        """What an earlier screening of the same inputs that was stopped has left in the folder of its result."""
        from fitcheck.engine.unfinished import Unfinished, key_of

        return Unfinished(folder, key_of(self.catalog, self.profile, self.job))

    def count(self) -> dict[Group, int]:
        """The number of legal kits of each application and train; nothing is evaluated."""
        from fitcheck.engine.counting import count

        return count(self.catalog, self.profile, self.job)


def read_job(job: Job | Path | str) -> Inputs:
    """Read a job file, or take a job as it is, and what it names.

    Raises
    ------
    InputError
        The job or its profile cannot be used; the findings say why.
    """
    ready = job if isinstance(job, Job) else load_job(Path(job), DIMENSIONS)
    profile = load_profile(ready.profile, ready.path.parent, DIMENSIONS)
    catalog = load_catalog(ready.catalogs, profile.ports)
    return Inputs(ready, profile, catalog, (*names_missing(ready, catalog), *applications_missing(profile, catalog)))

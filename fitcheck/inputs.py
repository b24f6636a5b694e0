"""Everything that a job names, read and checked: what every question to the engine starts from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from fitcheck.catalog.load import load_catalog
from fitcheck.catalog.parts import Catalog
from fitcheck.engine.result import Group
from fitcheck.engine.table import METRICS
from fitcheck.frame import Screening
from fitcheck.job import Job
from fitcheck.job_file import load_job
from fitcheck.profile import Profile
from fitcheck.profile_file import load_profile

DIMENSIONS = {name: metric.dimension for name, metric in METRICS.items()}
Progress = Callable[[int, int], None]  # legal kits judged so far, legal kits in all


@dataclass(frozen=True)
class Inputs:
    """A job with the profile and the catalog that it names."""

    job: Job
    profile: Profile
    catalog: Catalog

    def screen(self, progress: Progress | None = None) -> Screening:
        """Every legal kit evaluated, judged and ranked."""
        from fitcheck.engine.screening import screen  # the engine is loaded by who needs it, not by who only checks files

        return Screening(**vars(screen(self.catalog, self.profile, self.job, progress=progress)))

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
    return Inputs(ready, profile, load_catalog(ready.catalogs, profile.ports))

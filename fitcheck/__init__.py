"""Which hydraulic clutch release kits fit a vehicle, what they do, and which are best: the few names that a notebook needs.

>>> import fitcheck
>>> found = fitcheck.screen("job.toml")      # doctest: +SKIP
>>> found.to_frame().query("verdict == 'pass'")      # doctest: +SKIP

A screening aid computed from catalog figures; not an approval. Nothing heavy is imported until a function is called.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from fitcheck.version import VERSION

if TYPE_CHECKING:
    from fitcheck.bundles.judging import Judgements
    from fitcheck.catalog.parts import Catalog
    from fitcheck.frame import Screening
    from fitcheck.job import Job
    from fitcheck.profile import Profile

__version__ = VERSION
__all__ = ["__version__", "judge", "load_catalog", "load_job", "load_profile", "screen"]


def load_catalog(*paths: Path | str) -> Catalog:
    """The parts of catalog files or folders, with the findings about them; bad entries are left out and said."""
    from fitcheck.catalog.load import load_catalog

    return load_catalog([Path(path) for path in paths])


def load_profile(name: str = "default", beside: Path | str | None = None) -> Profile:
    """The effective profile of that name: a shipped one, or a file whose path counts from `beside`.

    Raises
    ------
    InputError
        The profile cannot be used; `findings` say why.
    """
    from fitcheck.inputs import DIMENSIONS
    from fitcheck.profile_file import load_profile

    return load_profile(name, None if beside is None else Path(beside), DIMENSIONS)


def load_job(path: Path | str) -> Job:
    """A job file, checked; change it with `dataclasses.replace` before you screen it, if you like.

    Raises
    ------
    InputError
        The file cannot be used; `findings` say why.
    """
    from fitcheck.inputs import DIMENSIONS
    from fitcheck.job_file import load_job

    return load_job(Path(path), DIMENSIONS)


def screen(job: Job | Path | str, progress: Callable[[int, int], None] | None = None) -> Screening:
    """Every legal kit of a job evaluated, judged and ranked; `to_frame()` of the result is a pandas DataFrame.

    Look at `complete` and `findings` first: what could not be read is not in the result.

    Raises
    ------
    InputError
        The job or its profile cannot be used; `findings` say why.
    """
    from fitcheck.inputs import read_job

    return read_job(job).screen(progress)


def judge(*bundles: Path | str, on: date | None = None) -> Judgements:
    """Frozen kits judged anew, each by its own profile and catalogs, with waivers as they stand on a day (today).

    Look at `complete` and `findings` first: a bundle that could not be read has no standing.
    """
    from fitcheck.bundles.judging import judge_files

    return judge_files([Path(path) for path in bundles], date.today() if on is None else on)

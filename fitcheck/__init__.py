"""Which hydraulic clutch release kits fit a vehicle, what they do, and which are best: the few names that a notebook needs.

>>> import fitcheck
>>> found = fitcheck.screen("job.toml")      # doctest: +SKIP
>>> found.to_frame().query("verdict == 'pass'")      # doctest: +SKIP
>>> fitcheck.mend_kit("job.toml", found.kits.kit[-1]).changes.found      # doctest: +SKIP

A screening aid computed from catalog figures; not an approval. Nothing heavy is imported until a function is called.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING
from warnings import warn

from fitcheck.version import VERSION

if TYPE_CHECKING:
    from fitcheck.bundles.judging import Judgements
    from fitcheck.catalog.parts import Catalog
    from fitcheck.compare.kits import Comparison
    from fitcheck.compare.trains import Choice
    from fitcheck.engine.variants import Bench
    from fitcheck.frame import Screening
    from fitcheck.inputs import Inputs
    from fitcheck.job import Job
    from fitcheck.profile import Profile
    from fitcheck.reasons.no_kit import NoKit
    from fitcheck.reasons.remedies import Remedies
    from fitcheck.reasons.standing import Standing

__version__ = VERSION
__all__ = [
    "__version__",
    "compare_kits",
    "compare_trains",
    "explain_kit",
    "explain_no_kit",
    "judge",
    "load_catalog",
    "load_job",
    "load_profile",
    "mend_kit",
    "screen",
]


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


def explain_kit(job: Job | Path | str, kit: str) -> Standing:
    """The verdict on a kit of a job: every rule with value, bound and headroom, and what of that nobody has measured.

    Raises
    ------
    UsageError
        The job has no such kit; the message names the nearest.
    """
    from fitcheck.reasons.chain import Chain
    from fitcheck.reasons.standing import stand

    return stand(Chain(_bench(job, kit)))


def mend_kit(job: Job | Path | str, kit: str) -> Remedies:
    """What would mend a kit of a job: each other part, and the interval of each number, with which it would pass.

    Where no part and no setting alone makes it pass, two parts together are in `pairs`, a part with a number in `mixed`. Where
    no one change does, `by_rule` has for each broken rule the least change of a number, and the part, after which it is kept.

    Raises
    ------
    UsageError
        The job has no such kit; the message names the nearest.
    """
    from fitcheck.reasons.remedies import remedies_of

    return remedies_of(_bench(job, kit))


def explain_no_kit(job: Job | Path | str, application: str) -> NoKit:
    """Why an application of a job has no passing kit: what empties it, the nearest misses, and the part that is missing.

    Raises
    ------
    UsageError
        The job has no such application; the message names the nearest.
    """
    from fitcheck.reasons.no_kit import no_kit_of

    return no_kit_of(_read(job), application)


def compare_kits(job: Job | Path | str, *kits: str) -> Comparison:
    """What differs between two to four kits of a job, and in which order they rank.

    Raises
    ------
    UsageError
        There are too few or too many of them, or one does not exist; the message names the nearest.
    """
    from fitcheck.compare.kits import compare_kits

    return compare_kits(_read(job), kits)


def compare_trains(job: Job | Path | str, application: str) -> Choice:
    """The best external kit of an application beside its best concentric one, with what speaks for each.

    Raises
    ------
    UsageError
        The job has no such application; the message names the nearest.
    """
    from fitcheck.compare.trains import choose

    return choose(_read(job), application)[1]


def _bench(job: Job | Path | str, kit: str) -> Bench:
    from fitcheck.engine.variants import Bench
    from fitcheck.kit_names import find_kit

    inputs = _read(job)
    return Bench(inputs.catalog, inputs.profile, inputs.job, *find_kit(kit, inputs.catalog, inputs.job))


def _read(job: Job | Path | str) -> Inputs:
    """What a job names; these answers have no place for what could not be read, so a warning says it."""
    from fitcheck.inputs import read_job

    inputs = read_job(job)
    if not inputs.complete:
        left_out = "\n".join(str(finding) for finding in sorted(inputs.findings) if finding.severity == "error")
        warn(f"What could not be read is not in this answer:\n{left_out}", stacklevel=3)
    return inputs

"""The order of the house between some kits of one application, and by which of its criteria each comes before the next."""

from __future__ import annotations

from collections.abc import Sequence

from fitcheck.engine.ranking import preference_key, steps
from fitcheck.engine.result import KitTable
from fitcheck.job import Job
from fitcheck.profile import Profile

VERDICT, HEADROOM, NAME = "verdict", "headroom", "name"  # criteria beside the job's preferences


def keys(table: KitTable, job: Job, profile: Profile) -> tuple[tuple[str, float | str], ...]:
    """Each criterion in turn with the kit's key: the smaller comes first. The table has one row."""
    stepped = float(steps(table.headroom, profile.headroom_enough, profile.headroom_step)[0])
    wishes = ((str(wish), preference_key(wish, table.metrics[wish.metric], table.states[wish.metric])) for wish in job.prefer)
    preferred = ((name, float(key[0])) for name, key in wishes)
    return (VERDICT, float(table.verdict[0])), (HEADROOM, -stepped), *preferred, (NAME, table.kit[0])


def ordered(tables: Sequence[KitTable], job: Job, profile: Profile) -> tuple[int, ...]:
    """Their places, the first kit's first."""
    found = [tuple(key for _, key in keys(table, job, profile)) for table in tables]
    return tuple(sorted(range(len(tables)), key=found.__getitem__))


def decided_by(one: KitTable, other: KitTable, job: Job, profile: Profile) -> str:
    """The first criterion that tells two kits apart; the name, where it is one kit."""
    pairs = zip(keys(one, job, profile), keys(other, job, profile), strict=True)
    return next((name for (name, first), (_, second) in pairs if first != second), NAME)

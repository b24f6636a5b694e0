"""Which train suits a vehicle? The best external kit beside the best concentric one, with what speaks for each: no score.

What comes first is the order of the house alone: verdict, stepped headroom, the job's preferences in turn. What speaks for
a train beside that is told figure by figure; which way a figure is better stands in `ASPECTS` (common practice, no source)
and yields to what the job prefers.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitcheck.compare.differences import Cell, all_same, best_of, cell, setting_of
from fitcheck.compare.order import decided_by, ordered
from fitcheck.engine.ranking import steps
from fitcheck.engine.result import Emptied, KitTable, Result
from fitcheck.engine.states import PASS, REJECT, VALUE
from fitcheck.frame import nearest_first
from fitcheck.inputs import Inputs, Progress
from fitcheck.job import Job
from fitcheck.kit_names import find_application

TRAINS = ("external", "concentric")

# What is held side by side: topic, then metric and which way it speaks for a train ("" where a figure only informs).
ASPECTS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "installation": (("setup_window_fingers", "most"), ("setup_window", "")),
    "effort": (("effort_peak", "least"), ("effort_hold", "least"), ("effort_vs_linkage", "least")),
    "feel": (("effort_slope", "most"), ("dead_band", "least"), ("bite_band", "most"), ("bite_height", "")),
    "afterwards": (),
    "air": (("air_reserve", "most"), ("air_pocket", "least"), ("bleed_lift", "nearest 0"), ("compliance_loss", "least")),
    "wear": (("wear_reserve", ""), ("adjustments", "least")),
    "service": (("service_hours", "least"),),
    "box": (("cost", "least"), ("mass", "least")),
}


@dataclass(frozen=True)
class Side:
    """One train of the application: its kit that stands first, or what is in the way."""

    train: str
    asked: bool  # whether the job asks for this train
    legal: int
    verdicts: tuple[int, int, int]  # pass, caution, reject
    kit: KitTable | None  # one row; the best kit, where all are rejected the nearest miss
    emptied: Emptied | None  # where nothing is legal

    @property
    def stands(self) -> bool:
        """Whether there is a kit that is not rejected."""
        return self.kit is not None and int(self.kit.verdict[0]) != REJECT

    @property
    def passes(self) -> bool:
        """Whether a kit passes."""
        return bool(self.verdicts[PASS])


@dataclass(frozen=True)
class Point:
    """A figure of both trains; `speaks` names the train that it speaks for, "" where it speaks for none."""

    metric: str
    way: str  # least, most or nearest 0: which way it speaks; "" where it only informs
    cells: tuple[Cell | None, Cell | None]
    speaks: str


@dataclass(frozen=True)
class Fact:
    """What the kind of a train brings with it, as a code that reports put into words, and the train that it speaks for."""

    name: str  # setting, bite, wear, leak
    codes: tuple[str, str]  # "" where there is no kit
    speaks: str


@dataclass(frozen=True)
class Choice:
    """Both trains of one application side by side."""

    application: str
    sides: tuple[Side, Side]  # external, concentric
    first: str  # the train that comes first by the order of the house; "" where none stands
    decided: str  # the criterion that decides; "" where the other train has no kit that stands
    levels: (
        tuple[float, float] | None
    )  # headroom as it counts: no more than enough, rounded down to a step; of two kits that stand
    wishes: tuple[tuple[str, Point], ...]  # the job's preferences in order
    points: Mapping[str, tuple[Point, ...]]  # by topic of `ASPECTS`
    facts: Mapping[str, tuple[Fact, ...]]  # by topic

    @property
    def told(self) -> tuple[Side, ...]:
        """The sides that have a kit to tell of."""
        return tuple(side for side in self.sides if side.kit is not None)

    @property
    def both_stand(self) -> bool:
        """Whether each train has a kit that is not rejected."""
        return all(side.stands for side in self.sides)


def choose(inputs: Inputs, application: str, progress: Progress | None = None) -> tuple[Result, Choice]:
    """Screen one application alone and hold its trains side by side.

    Raises
    ------
    UsageError
        There is no such application in the job; the message names the nearest.
    """
    find_application(application, inputs.catalog, inputs.job)
    alone = replace(inputs, job=replace(inputs.job, applications=(application,)))
    result = alone.screen(progress)
    return result, choice(result, application)


def choice(result: Result, application: str) -> Choice:
    """The trains of an application that was screened."""
    external, concentric = (_side(result, application, train) for train in TRAINS)
    sides = (external, concentric)
    first, decided = _first(result, sides)
    return Choice(
        application,
        sides,
        first,
        decided,
        _levels(result, sides),
        tuple((str(wish), _point(result.job, sides, wish.metric, wish.direction)) for wish in result.job.prefer),
        {topic: tuple(_point(result.job, sides, *row) for row in rows) for topic, rows in ASPECTS.items()},
        {topic: tuple(facts) for topic, facts in _facts(sides).items()},
    )


# --- one side


def _side(result: Result, application: str, train: str) -> Side:
    group = (application, train)
    verdicts = result.verdicts.get(group, (0, 0, 0))
    legal = result.legal.get(group, 0)
    kit = _standing(result.best.get(group), result.nearest.get(group))
    return Side(train, group in result.legal, legal, verdicts, kit, result.emptied.get(group))


def _standing(best: KitTable | None, nearest: KitTable | None) -> KitTable | None:
    """The first kit that is not rejected, or else the nearest miss."""
    for table in (best, nearest_first(nearest) if nearest is not None else None):
        if table is not None and len(table):
            return table.take(np.array([0]))
    return None


# --- which comes first


def _first(result: Result, sides: Sequence[Side]) -> tuple[str, str]:
    """The train that comes first, and what decides; nothing decides where the other has no kit that stands."""
    tables = [(side.train, side.kit) for side in sides if side.kit is not None and side.stands]
    if len(tables) < 2:
        return (tables[0][0] if tables else ""), ""
    (_, one), (_, other) = tables
    place = ordered([one, other], result.job, result.profile)[0]
    return tables[place][0], decided_by(one, other, result.job, result.profile)


def _levels(result: Result, sides: Sequence[Side]) -> tuple[float, float] | None:
    """The headroom of both as it counts in the order, where both stand."""
    profile = result.profile
    tables = [side.kit for side in sides if side.kit is not None and side.stands]
    if len(tables) < 2:
        return None
    one, other = (steps(table.headroom, profile.headroom_enough, profile.headroom_step) for table in tables)
    return float(one[0]) * profile.headroom_step, float(other[0]) * profile.headroom_step


# --- what speaks for each


def _point(job: Job, sides: Sequence[Side], metric: str, usual: str) -> Point:
    """A figure of both sides; it speaks for one where both stand and have it, and it reads differently."""
    wished = next((wish.direction for wish in job.prefer if wish.metric == metric), usual)
    one, other = (None if side.kit is None else cell(side.kit, metric) for side in sides)
    speaks = ""
    stand = all(side.stands for side in sides)
    if wished and stand and one is not None and other is not None and one.state == other.state == VALUE:
        best = () if all_same(metric, (one, other)) else best_of(metric, (one, other), wished)
        speaks = TRAINS[best[0]] if best else ""
    return Point(metric, wished, (one, other), speaks)


def _facts(sides: Sequence[Side]) -> Mapping[str, list[Fact]]:
    """What follows from the kind of the trains; it speaks for one only where both stand."""
    kinds = [setting_of(side.kit) if side.kit is not None else "" for side in sides]
    both = all(side.stands for side in sides)
    lash = kinds[0] == "lash"
    return {
        "installation": [Fact("setting", (kinds[0], kinds[1]), "")],
        "afterwards": [Fact("bite", (kinds[0], kinds[1]), TRAINS[0] if both and lash else "")],
        "wear": [Fact("wear", (kinds[0], kinds[1]), TRAINS[1] if both and lash else "")],
        "service": [Fact("leak", (kinds[0], kinds[1]), TRAINS[0] if both else "")],
    }


def speaking(found: Choice, train: str) -> Iterator[Point | Fact]:
    """All that speaks for a train, topic by topic."""
    for topic, points in found.points.items():
        every: tuple[Point | Fact, ...] = (*points, *found.facts.get(topic, ()))
        yield from (one for one in every if one.speaks == train)

"""When do two figures differ for a reader, and which of some figures is the better one? Never a score."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fitcheck.engine.result import KitTable
from fitcheck.engine.states import ABSENT, VALUE
from fitcheck.engine.table import METRICS
from fitcheck.engine.verdict import TIE, applicable, headroom_of
from fitcheck.job import Job
from fitcheck.profile import Profile, Rule
from fitcheck.quantities import to_unit

NOISE = 1e-9  # shares by which numbers may differ and still be the same
SETTINGS = ("gap", "lash", "piston out")  # what is set on a concentric, a bottomed external and a contact external train


@dataclass(frozen=True)
class Cell:
    """One figure of one kit: its state, and in SI its number where it has a value."""

    state: int
    value: float


@dataclass(frozen=True)
class Better:
    """Which of some figures are better than the others, by their places, and who says so: nobody, where there are none."""

    places: tuple[int, ...] = ()
    preference: str = ""  # such as `least effort_peak`, where the job says what better means
    rule: str = ""  # where a rule does


NOBODY = Better()


def cell(table: KitTable, name: str, row: int = 0) -> Cell:
    """A figure of a kit."""
    return Cell(int(table.states[name][row]), float(table.metrics[name][row]))


def same(metric: str, one: Cell, other: Cell) -> bool:
    """Whether two figures read the same: the same state and, rounded as they are shown, the same number."""
    if one.state != other.state or one.state != VALUE:
        return one.state == other.state
    if math.isclose(one.value, other.value, rel_tol=NOISE, abs_tol=0.0):
        return True
    return _shown(metric, one.value) == _shown(metric, other.value)


def _shown(metric: str, value: float) -> float:
    """The number as it is read, in the unit shown; minus nothing is nothing."""
    declared = METRICS[metric]
    return float(f"{float(to_unit(value, declared.unit)):.{declared.decimals}f}")


def all_same(metric: str, cells: Sequence[Cell]) -> bool:
    """Whether no two of them differ."""
    return all(same(metric, one, other) for place, one in enumerate(cells) for other in cells[place + 1 :])


def headroom_shown(value: float) -> float:
    """Headroom as it is read: in hundredths, rounded towards the worse side."""
    return value if math.isinf(value) else math.floor(value * 100 + 1e-7) / 100


def setting_of(table: KitTable, row: int = 0) -> str:
    """What the fitter sets on this kit."""
    if table.train[row] == "concentric":
        return SETTINGS[0]
    return SETTINGS[2] if table.states["adjustments"][row] == ABSENT else SETTINGS[1]


# --- which is better


def best_of(metric: str, cells: Sequence[Cell], direction: str) -> tuple[int, ...]:
    """Places of the figures that are best in that direction (least, most, or nearest to nothing); none where all are alike."""
    known = [place for place, one in enumerate(cells) if one.state == VALUE]
    key = {"least": lambda value: value, "most": lambda value: -value, "nearest 0": abs}[direction]
    best = min(known, key=lambda place: key(cells[place].value), default=None)
    if best is None:
        return ()
    leading = tuple(place for place in known if key(_shown(metric, cells[place].value)) == key(_shown(metric, cells[best].value)))
    return leading if len(leading) < len(known) else ()


def better(metric: str, cells: Sequence[Cell], tables: Sequence[KitTable], job: Job, profile: Profile) -> Better:
    """The better figures, as the job's preferences or else the rules on that metric have it."""
    for wish in job.prefer:
        if wish.metric == metric:
            return Better(best_of(metric, cells, wish.direction), preference=str(wish))
    rules = [rule for rule in _common_rules(tables, profile) if rule.metric == metric]
    return _by_rules(cells, rules, profile.headroom_enough) if rules else NOBODY


def _common_rules(tables: Sequence[KitTable], profile: Profile) -> list[Rule]:
    """The rules that hold for all of these kits."""
    held = [applicable(profile, table.parts["application"][0], table.train[0]) for table in tables]
    return [rule for rule in profile.rules if all(rule in some for some in held)]


def _by_rules(cells: Sequence[Cell], rules: Sequence[Rule], enough: float) -> Better:
    """Whose least headroom is greatest; headroom beyond what is enough makes nobody better."""
    known = [place for place, one in enumerate(cells) if one.state == VALUE]
    if len(known) < 2:
        return NOBODY
    values = np.array([cells[place].value for place in known])
    rooms = np.array([headroom_of(rule, values) for rule in rules])
    least = np.minimum(rooms.min(axis=0), enough)
    leading = tuple(place for place, room in zip(known, least.tolist(), strict=True) if room >= least.max() - TIE)
    if len(leading) == len(known):
        return NOBODY
    return Better(leading, rule=rules[int(rooms[:, int(least.argmin())].argmin())].name)

"""What the page shows of each application, as words and figures ready to be set: no number is computed here."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fitcheck.catalog.parts import Catalog, Part
from fitcheck.engine.result import Group, KitTable, Result
from fitcheck.engine.states import ABSENT, VALUE, VERDICT_WORDS
from fitcheck.engine.table import METRICS, Metric
from fitcheck.frame import KIT_FAMILIES
from fitcheck.quantities import to_unit
from fitcheck.report import words
from fitcheck.report.why import NONE, Why, whys

TRAINS = ("external", "concentric")
MOST_ROWS = 400  # of one application on the page; kits.csv holds the rest

# What a vehicle's head says of it: field, dimension's unit, decimals.
FACTS = (
    ("engine_torque", "engine torque", "N m", 0),
    ("max_speed", "greatest speed", "rpm", 0),
    ("vehicle_mass", "mass", "kg", 0),
    ("first_gear", "first gear", "", 2),
    ("final_drive", "final drive", "", 2),
    ("tilt", "gearbox slope", "deg", 1),
)

# The rows of the side by side table, in the order in which a fitter and a driver ask.
COMPARED = (
    ("Set-up", ("setup_target", "setup_low", "setup_high", "setup_window_fingers", "rod_length", "adjustments", "pedal_stop")),
    ("Release", ("release_margin", "release_margin_worn", "overtravel", "release_point_share", "bite_height", "stroke_reserve")),
    ("At the foot", ("effort_peak", "effort_hold", "effort_return", "effort_vs_linkage")),
    ("Loads", ("peak_pressure", "pressure_use", "bearing_load_use", "torque_factor", "torque_factor_worn")),
    ("Bleeding and cold", ("air_allowance", "air_pocket", "bleed_lift", "return_time")),
    ("The box", ("service_hours", "mass", "cost")),
)
RANKED_METRICS = ("release_margin", "effort_peak", "peak_pressure", "bite_height")


@dataclass(frozen=True)
class Figure:
    """A figure for reading, with the number that sorts it (`None` sorts last)."""

    text: str
    sort: float | None = None


@dataclass(frozen=True)
class Ranked:
    """One row of a ranked table."""

    rank: int
    train: str
    verdict: str
    limiting: str
    headroom: Figure
    meter: int  # width of the headroom bar, 0 to 40
    parts: tuple[tuple[str, str], ...]  # family word, name
    setup: tuple[str, ...]
    figures: tuple[Figure, ...]
    reasons: tuple[str, ...]
    remarks: tuple[str, ...]
    unbeaten: bool


@dataclass(frozen=True)
class Counted:
    """Legal kits and verdicts of one train."""

    train: str
    legal: str
    verdicts: tuple[str, ...]


@dataclass(frozen=True)
class Champion:
    """The best kit of one train beside the other's."""

    train: str
    kit: str
    verdict: str
    headroom: str
    limiting: str
    setup: tuple[str, ...]
    parts: dict[str, str]
    figures: dict[str, str]
    remarks: tuple[str, ...]
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class ApplicationView:
    """All that the page says of one application."""

    id: str
    name: str
    facts: tuple[tuple[str, str], ...]
    groups: tuple[Group, ...]
    outcome: str
    outcome_class: str
    counted: tuple[Counted, ...]
    champions: tuple[Champion | None, ...]  # external, concentric
    without: dict[str, str]  # what to say of a train that has no champion
    families: tuple[str, ...]
    compared: tuple[tuple[str, tuple[Metric, ...]], ...]
    common: tuple[tuple[str, str], ...]
    ranked: tuple[Ranked, ...]
    left_off: int
    said: tuple[tuple[str, str, str], ...]  # rules that listed kits break: name, reason, remedy
    why: tuple[Why, ...]


def title(views: Sequence[ApplicationView]) -> str:
    """What the page is about."""
    return f"Release kits for {views[0].name if len(views) == 1 else words.counted(len(views), 'vehicle')}"


def applications(result: Result) -> tuple[ApplicationView, ...]:
    """One view an application, in the order of the result."""
    names = dict.fromkeys(application for application, _ in result.legal)
    return tuple(_application(result, name) for name in names)


def _application(result: Result, application: str) -> ApplicationView:
    trains = tuple(train for train in TRAINS if (application, train) in result.legal)
    part = result.catalog.part("application", application)
    tables = _tables(result, application, trains)
    champions = tuple(_champion(result, result.best.get((application, train))) for train in trains)
    common, differing = _split_families(tables)
    rows = sorted((row for table in tables for row in _ranked(result, table, differing)), key=lambda row: row.rank)
    outcome, outcome_class = _outcome(result, application, trains)
    return ApplicationView(
        id=application,
        name=words.part_name(part, application),
        facts=_facts(part),
        groups=tuple((application, train) for train in trains),
        outcome=outcome,
        outcome_class=outcome_class,
        counted=tuple(_counted(result, (application, train)) for train in trains),
        champions=champions,
        without={word: _without(result, (application, train)) for train, word in words.TRAIN_WORDS.items()},
        families=tuple(family for family in KIT_FAMILIES[1:] if any(family in c.parts for c in champions if c)),
        compared=_compared(champions),
        common=tuple((words.family_word(family), _name(result.catalog, family, part)) for family, part in common),
        ranked=tuple(rows[:MOST_ROWS]),
        left_off=max(0, len(rows) - MOST_ROWS),
        said=_said(tables),
        why=whys(result, [(application, train) for train in trains]),
    )


def _facts(part: Part | None) -> tuple[tuple[str, str], ...]:
    """The few figures of the vehicle that a reader knows it by."""
    values = part.values if part else {}
    return tuple(
        (label, words.number(float(to_unit(values[field], unit)), decimals) + (f" {unit}" if unit else ""))
        for field, label, unit, decimals in FACTS
        if field in values
    )


def _outcome(result: Result, application: str, trains: Sequence[str]) -> tuple[str, str]:
    """One sentence on how it ended, and the class that colours it."""
    counts = [result.verdicts.get((application, train), NONE) for train in trains]
    passing, cautions = sum(c[0] for c in counts), sum(c[1] for c in counts)
    if passing:
        leading = _leading(result, application, trains)
        return f"{words.counted(passing, 'kit')} {_verb(passing, 'passes', 'pass')}; the best is a kit with {leading}.", "pass"
    if cautions:
        return f"No kit passes; {words.counted(cautions, 'kit')} {_verb(cautions, 'stands', 'stand')} with cautions.", "caution"
    if any(result.legal.get((application, train), 0) for train in trains):
        return "No kit passes: every legal kit is rejected.", "reject"
    return "No kit is legal: no choice of parts fits together.", "reject"


def _verb(number: int, one: str, many: str) -> str:
    return one if number == 1 else many


def _leading(result: Result, application: str, trains: Sequence[str]) -> str:
    """The train whose first kit ranks first."""
    tables = _tables(result, application, trains)
    return words.train_word(min(tables, key=lambda table: int(table.rank[0])).train[0]) if tables else ""


def _tables(result: Result, application: str, trains: Sequence[str]) -> list[KitTable]:
    """The listed kits of each train that has any."""
    found = (result.best.get((application, train)) for train in trains)
    return [table for table in found if table is not None and len(table)]


def _counted(result: Result, group: Group) -> Counted:
    counts = result.verdicts.get(group, NONE)
    return Counted(words.TRAIN_WORDS[group[1]], words.count(result.legal[group]), tuple(words.count(number) for number in counts))


def _without(result: Result, group: Group) -> str:
    """Why a train has no kit to show."""
    if group not in result.legal:
        return "not asked for"
    return "all rejected" if result.legal[group] else "no legal kit"


def _champion(result: Result, table: KitTable | None) -> Champion | None:
    """The first kit of a train, or nothing where all are rejected."""
    if table is None or not len(table):
        return None
    names = [name for _, group in COMPARED for name in group]
    return Champion(
        train=words.TRAIN_WORDS[table.train[0]],
        kit=table.kit[0],
        verdict=VERDICT_WORDS[int(table.verdict[0])],
        headroom=words.headroom(float(table.headroom[0])),
        limiting=table.limiting_rule[0],
        setup=setup_texts(table, 0),
        parts={family: _name(result.catalog, family, column[0]) for family, column in table.parts.items() if column[0]},
        figures={name: words.cell(table, 0, name) for name in names},
        remarks=tuple(map(words.remark, table.remarks[0])),
        reasons=tuple(words.reason_line(reason) for reason in table.reasons[0]),
    )


def _compared(champions: Iterable[Champion | None]) -> tuple[tuple[str, tuple[Metric, ...]], ...]:
    """The figures that at least one of the champions has."""
    known = [champion.figures for champion in champions if champion]
    dash = "\N{EN DASH}"
    groups = ((title, [name for name in names if any(figures[name] != dash for figures in known)]) for title, names in COMPARED)
    return tuple((title, tuple(METRICS[name] for name in names)) for title, names in groups if names)


def _name(catalog: Catalog, family: str, identifier: str) -> str:
    return words.part_name(catalog.part(family, identifier), identifier)


def _split_families(tables: Sequence[KitTable]) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
    """Families whose part is the same in every listed kit (said once), and those that tell the kits apart."""
    common, differing = [], []
    for family in KIT_FAMILIES[1:]:
        found = {part for table in tables for part in table.parts.get(family, ("",) * len(table))}
        if len(found) == 1 and found != {""}:
            common.append((family, found.pop()))
        elif len(found) > 1:
            differing.append(family)
    return tuple(common), tuple(differing)


def _ranked(result: Result, table: KitTable, families: Sequence[str]) -> Iterable[Ranked]:
    enough = result.profile.headroom_enough
    for row in range(min(len(table), MOST_ROWS + 1)):
        head = float(table.headroom[row])
        yield Ranked(
            rank=int(table.rank[row]),
            train=table.train[row],
            verdict=VERDICT_WORDS[int(table.verdict[row])],
            limiting=table.limiting_rule[row],
            headroom=Figure(words.headroom(head), _sortable(head)),
            meter=round(40 * min(1.0, max(0.0, head / enough))),
            parts=tuple(
                (words.family_word(family), _name(result.catalog, family, table.parts[family][row]))
                for family in families
                if table.parts[family][row]
            ),
            setup=setup_texts(table, row),
            figures=tuple(_figure(table, row, name) for name in RANKED_METRICS),
            reasons=tuple(words.short_reason(reason) for reason in table.reasons[row]),
            remarks=tuple(map(words.remark, table.remarks[row])),
            unbeaten=bool(table.unbeaten[row]),
        )


def _said(tables: Iterable[KitTable]) -> tuple[tuple[str, str, str], ...]:
    """What the rules say that the listed kits break, each once."""
    reasons = (reason for table in tables for some in table.reasons for reason in some if reason.kind == "broken")
    return tuple(sorted({(reason.rule, reason.reason, reason.remedy) for reason in reasons}))


def _figure(table: KitTable, row: int, name: str) -> Figure:
    known = int(table.states[name][row]) == VALUE
    return Figure(words.cell(table, row, name), _sortable(float(table.metrics[name][row])) if known else None)


def _sortable(value: float) -> float:
    """A number that HTML and its script can read back."""
    return value if math.isfinite(value) else math.copysign(1e300, value)


def setup_texts(table: KitTable, row: int) -> tuple[str, ...]:
    """What the fitter sets: the target and its window, then rod, shims, resets and pedal stop where there are any."""
    bottomed = int(table.states["adjustments"][row]) != ABSENT
    concentric = table.train[row] == "concentric"
    what = "gap" if concentric else ("lash" if bottomed else "piston out")
    known = int(table.states["setup_target"][row]) == VALUE
    target, low, high = (words.cell(table, row, f"setup_{name}") for name in ("target", "low", "high"))
    parts = [f"{what} {target} ({low.removesuffix(' mm')} to {high})"] if known else []
    if concentric and known:
        parts.append(f"shims {table.shims[row]} mm" if table.shims[row] else "no shim")
    parts += [f"{label} {words.cell(table, row, name)}" for label, name in _EXTRAS if int(table.states[name][row]) == VALUE]
    return tuple(parts)


_EXTRAS = (("rod", "rod_length"), ("resets", "adjustments"), ("pedal stop at", "pedal_stop"))

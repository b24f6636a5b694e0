"""Which train suits a vehicle, as words: the answer first, then both sides, then what speaks for each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from fitcheck.compare.order import HEADROOM, NAME, VERDICT
from fitcheck.compare.trains import Choice, Fact, Point, Side, choice, speaking
from fitcheck.engine.result import KitTable, Result
from fitcheck.engine.states import ABSENT, VALUE, VERDICT_WORDS
from fitcheck.engine.table import METRICS
from fitcheck.report import words
from fitcheck.report.compare import figure, table_standing
from fitcheck.report.outline import UNBROKEN, fitted, wrapped
from fitcheck.report.text import aligned
from fitcheck.report.view import setup_texts
from fitcheck.report.why import rule_sentence, whys
from fitcheck.report.words import TRAIN_WORDS, plain

TOPICS = {
    "installation": "How forgiving the installation is",
    "effort": "Effort",
    "feel": "Feel",
    "afterwards": "Once it is together",
    "air": "Air and bleeding",
    "wear": "Wear",
    "service": "In the workshop",
    "box": "The box",
}

# What each figure is called here, beside the other train's.
LABELS = {
    "setup_window_fingers": "set-up window, at the fingers",
    "setup_window": "set-up window, where it is set",
    "effort_peak": "largest force at the pad",
    "effort_hold": "force to hold the pedal down",
    "effort_vs_linkage": "against the old linkage",
    "effort_slope": "rise of the force past the bite",
    "dead_band": "force lost between press and return",
    "bite_band": "pad travel over which it bites",
    "bite_height": "height of the bite",
    "air_reserve": "air it bears beyond its pocket",
    "air_pocket": "air kept past the bleed port",
    "bleed_lift": "raise the rear by, to bleed level",
    "compliance_loss": "fluid lost to give and air",
    "wear_reserve": "stroke left when worn",
    "adjustments": "resets over the disc's life",
    "service_hours": "labour to replace it",
    "cost": "cost",
    "mass": "mass",
    "setting": "what is set",
    "bite": "moving the bite",
    "wear": "as the disc wears",
    "leak": "a leak drips",
}

# What follows from the kind of a train, by what is set on it.
FACTS = {
    "setting": {"lash": "rod, to a lash", "piston out": "rod, to a piston position", "gap": "shims, to a gap"},
    "bite": {"lash": "with the rod", "piston out": "the rod does not move it", "gap": "fixed once the gearbox is in"},
    "wear": {"lash": "the rod must be reset", "piston out": "takes up wear by itself", "gap": "takes up wear by itself"},
    "leak": {
        "lash": "in the open, by the bellhousing",
        "piston out": "in the open, by the bellhousing",
        "gap": "inside, beside the disc",
    },
}
# How a figure that speaks for a train is put, by the way in which it is better.
PRAISE = {
    ("setup_window_fingers", "most"): "wider set-up window at the fingers",
    ("effort_peak", "least"): "less force at the peak",
    ("effort_hold", "least"): "less force to hold the pedal",
    ("effort_vs_linkage", "least"): "lighter against the old linkage",
    ("effort_slope", "most"): "the bite is easier to feel",
    ("dead_band", "least"): "less friction between press and return",
    ("bite_band", "most"): "bites over more pedal",
    ("air_reserve", "most"): "bears more air",
    ("air_pocket", "least"): "keeps less air past its port",
    ("bleed_lift", "nearest 0"): "less lift to bleed it level",
    ("compliance_loss", "least"): "less fluid lost to give and air",
    ("adjustments", "least"): "fewer resets",
    ("service_hours", "least"): "sooner replaced",
    ("cost", "least"): "costs less",
    ("mass", "least"): "weighs less",
}
FACT_PRAISE = {
    "bite": "the rod can move the bite",
    "wear": "takes up wear by itself",
    "leak": "leaks in the open, not beside the disc",
}
SOURCE = "Which way a figure speaks, and what follows from the kind of train, is common practice, no source. There is no score."
NO_KIT = "no kit"
MOST_RULES = 2  # named of those that empty a train


def trains_lines(result: Result, found: Choice) -> Iterator[str]:
    """The answer, each train with its kit, the short lists, then the table."""
    yield f"{_vehicle(result, found)}: external slave or concentric cylinder?"
    yield from wrapped(answer(result, found))
    yield ""
    for side in found.sides:
        yield from fitted(side_lines(result, found.application, side))
    yield from _lists(found)
    if found.told:
        yield ""
        yield from _table(found)
        yield ""
        yield from wrapped(SOURCE)
    yield words.AID


def _vehicle(result: Result, found: Choice) -> str:
    name = words.part_name(result.catalog.part("application", found.application), found.application)
    return plain(name if name == found.application else f"{name} ({found.application})")


def heading(side: Side) -> str:
    """The head of a train's column."""
    return TRAIN_WORDS[side.train] if side.stands or side.kit is None else f"{TRAIN_WORDS[side.train]}, rejected"


@dataclass(frozen=True)
class ChoiceView:
    """The choice of train of one vehicle, ready to be set on a page."""

    answer: str
    heads: tuple[str, str]
    praise: tuple[tuple[str, tuple[str, ...]], ...]  # train in words, what speaks for it
    topics: tuple[tuple[str, tuple[Row, ...]], ...]


def choice_views(result: Result) -> dict[str, ChoiceView]:
    """By application, those of which each train has a kit that stands."""
    found = (choice(result, application) for application in dict.fromkeys(application for application, _ in result.legal))
    return {one.application: _view(result, one) for one in found if one.both_stand}


def _view(result: Result, found: Choice) -> ChoiceView:
    external, concentric = (heading(side) for side in found.sides)
    return ChoiceView(
        answer(result, found),
        (external, concentric),
        tuple((TRAIN_WORDS[side.train], tuple(praise(found, side.train))) for side in found.sides),
        tuple((title, tuple(rows)) for title, rows in choice_rows(found)),
    )


# --- the answer


def answer(result: Result, found: Choice) -> str:
    """Which train comes first, and by what, in one sentence."""
    if not found.first:
        told = (f"with {words.train_word(side.train)} {_missing(side)}" for side in found.sides if side.asked)
        return f"Neither comes first: {'; '.join(told)}."
    first = f"The {TRAIN_WORDS[found.first]} comes first"
    other = next(side for side in found.sides if side.train != found.first)
    if not other.asked:
        return f"{first}: the job does not ask for the other train."
    if not found.decided:
        return f"{first}: with {words.train_word(other.train)} {_missing(other)}."
    return f"{first}: {_decided(result, found)}."


def _missing(side: Side) -> str:
    """Why a train has no kit that stands."""
    return "every legal kit is rejected" if side.legal else "no kit is legal"


def _decided(result: Result, found: Choice) -> str:
    """Where the two kits part in the order of the house."""
    one, other = sorted(found.sides, key=lambda side: side.train != found.first)
    assert one.kit is not None  # where something decides, both stand
    assert other.kit is not None
    assert found.levels is not None
    if found.decided == VERDICT:  # of two kits that stand, a pass and a caution
        return "its best kit passes, the other's stands with cautions"
    same = "both pass" if one.passes else "both stand with cautions"
    own, others = found.levels if found.first == "external" else found.levels[::-1]
    step = f"{result.profile.headroom_step:g}"
    if found.decided == HEADROOM:
        return f"{same}, and its headroom counts for more, {own:g} against {others:g} in steps of {step}"
    level = f"{same} and their headroom counts the same, {own:g} in steps of {step}"
    if found.decided == NAME:
        return f"{level}; every preference is equal too, so that only the kit's name decides"
    point = next(point for wish, point in found.wishes if wish == found.decided)
    return f"{level}; then the job's preference {found.decided} decides, {_against(point, found.first)}"


def _against(point: Point, first: str) -> str:
    """Both figures of a preference, with as many digits as tell them apart."""
    one, other = point.cells if first == "external" else point.cells[::-1]
    pairs = ((figure(point.metric, one, more), figure(point.metric, other, more)) for more in range(10))
    mine, others = next((pair for pair in pairs if pair[0] != pair[1]), (figure(point.metric, one),) * 2)
    return f"{mine} against {others}".replace(" ", UNBROKEN)


# --- each side


def side_lines(result: Result, application: str, side: Side) -> Iterator[str]:
    """What a train has: its kits counted, its best or nearest one, and why none passes where none does."""
    name = words.sentence(TRAIN_WORDS[side.train]).rstrip(".")
    if not side.asked:
        yield f"{name}: the job does not ask for it."
        return
    counts = ", ".join(f"{words.count(number)} {word}" for word, number in zip(VERDICT_WORDS, side.verdicts, strict=True))
    yield f"{name}: {words.counted(side.legal, 'legal kit')}{': ' + counts if side.legal else ''}."
    yield from (f"  {line}" for line in why_none(result, application, side))
    if side.kit is not None:
        yield f"  {'best' if side.stands else 'nearest'}: {table_standing(side.kit)}"
        yield f"  {side.kit.kit[0]}"
        yield from (f"  {plain(line)}" for line in to_know(side))


def to_know(side: Side) -> Iterator[str]:
    """How the kit is set, and what is against it; where it is rejected, what rejects it and what would mend that."""
    if side.kit is None:
        return
    yield f"set-up: {', '.join(setup_texts(side.kit, 0))}"
    for reason in side.kit.reasons[0]:
        if side.stands:
            yield f"{reason.severity}: {words.reason_line(reason)}"
        elif reason.severity == "reject":
            yield f"reject: {words.reason_line(reason)}." + (f" Remedy: {words.sentence(reason.remedy)}" if reason.remedy else "")
    yield from map(words.remark, side.kit.remarks[0])


def why_none(result: Result, application: str, side: Side) -> Iterator[str]:
    """One line where no kit passes: the fit that empties the train, or the rules that do."""
    if side.emptied is not None:
        told = "; ".join(side.emptied.sentences)
        yield f"none is legal: {plain(words.sentence(told))}"
    elif side.asked and not side.passes:
        (why,) = whys(result, [(application, side.train)])
        yield f"none passes: {' '.join(map(rule_sentence, why.rules[:MOST_RULES]))}"


# --- what speaks for each


def praise(found: Choice, train: str) -> Iterator[str]:
    """All that speaks for a train, each with both figures; nothing where not both trains have a kit that stands."""
    for one in speaking(found, train):
        if isinstance(one, Fact):
            yield FACT_PRAISE[one.name]
        else:
            put = PRAISE.get((one.metric, one.way), f"{one.way} {one.metric}")
            yield f"{put} ({_against(one, train)})"


def _lists(found: Choice) -> Iterator[str]:
    if found.both_stand:
        for side in found.sides:
            told = "; ".join(praise(found, side.train)) or "nothing of what follows"
            yield from wrapped(f"For the {TRAIN_WORDS[side.train]}: {told}.")


def _table(found: Choice) -> Iterator[str]:
    """Figure beside figure; a train without a kit has no column."""
    columns = [place for place, side in enumerate(found.sides) if side.kit is not None]
    table = [["", *(heading(found.sides[place]) for place in columns), "speaks for" if found.both_stand else ""]]
    for title, rows in choice_rows(found):
        table.append([title, *("" for _ in columns), ""])
        table += [[f"  {row.label}", *(row.cells[place] for place in columns), row.speaks] for row in rows]
    yield from aligned(table, "<" * len(table[0]))


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    label: str
    cells: tuple[str, str]  # external, concentric
    speaks: str  # the train that it speaks for, or ""


def choice_rows(found: Choice) -> Iterator[tuple[str, Sequence[Row]]]:
    """Every topic with its rows; figures that neither train has are left out."""
    yield "In the order in which kits rank", list(_order_rows(found))
    for topic, points in found.points.items():
        facts = [_fact_row(fact, found) for fact in found.facts.get(topic, ())]
        yield TOPICS[topic], [*facts, *(_figure_row(LABELS[point.metric], point) for point in points if _known(point))]


def _order_rows(found: Choice) -> Iterator[Row]:
    """Verdict, headroom and the job's preferences: what makes a train come first."""
    tables = [side.kit for side in found.sides]
    verdicts, rooms = (_each(tables, look) for look in (_verdict, _headroom))
    yield Row("verdict", verdicts, found.first if found.decided == VERDICT else "")
    yield Row("headroom", rooms, "")
    if found.levels is not None:
        external, concentric = found.levels
        ahead = "" if external == concentric else "external" if external > concentric else "concentric"
        yield Row("headroom, as it counts", (f"{external:g}", f"{concentric:g}"), ahead)
    yield from (_figure_row(wish, point) for wish, point in found.wishes)


def _each(tables: Sequence[KitTable | None], look: Callable[[KitTable], str]) -> tuple[str, str]:
    external, concentric = (NO_KIT if table is None else look(table) for table in tables)
    return external, concentric


def _verdict(table: KitTable) -> str:
    return VERDICT_WORDS[int(table.verdict[0])]


def _headroom(table: KitTable) -> str:
    return words.headroom(float(table.headroom[0]))


def _known(point: Point) -> bool:
    """Whether either train knows of such a figure."""
    return any(one is not None and one.state != ABSENT for one in point.cells)


def _figure_row(label: str, point: Point) -> Row:
    external, concentric = (NO_KIT if one is None else figure(point.metric, one) for one in point.cells)
    return Row(label, (external, concentric), point.speaks)


def _fact_row(fact: Fact, found: Choice) -> Row:
    external, concentric = (FACTS[fact.name][code] if code else NO_KIT for code in fact.codes)
    return Row(LABELS[fact.name], (_turn(fact, found) or external, concentric), fact.speaks)


def _turn(fact: Fact, found: Choice) -> str:
    """How far a turn of the rod moves the bite, where that is known."""
    kit = found.sides[0].kit
    if fact.name != "bite" or kit is None or int(kit.states["rod_turn"][0]) != VALUE:
        return ""
    return f"by rod, {words.figure(METRICS['rod_turn'], float(kit.metrics['rod_turn'][0]))} a turn at the pad"

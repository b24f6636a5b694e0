"""Two to four kits side by side: only what differs. They need not pass, nor be legal, nor be of one application."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import TypeVar

from fitcheck.catalog.parts import FAMILIES
from fitcheck.compare.differences import (
    NOBODY,
    Better,
    Cell,
    all_same,
    better,
    cell,
    headroom_shown,
    setting_of,
)
from fitcheck.compare.order import decided_by, ordered
from fitcheck.engine.result import Emptied, KitTable, Reason
from fitcheck.engine.single import one_kit
from fitcheck.engine.states import VERDICT_WORDS
from fitcheck.engine.table import METRICS
from fitcheck.errors import UsageError
from fitcheck.inputs import Inputs
from fitcheck.kit_names import find_kit, only_these

FEWEST, MOST = 2, 4
T = TypeVar("T")

# Every metric stands in one of these groups; those of no other describe what the kit does.
SETUP = ("setup_target", "setup_low", "setup_high", "setup_window", "setup_window_fingers", "rod_length", "rod_turn",
         "shim_stack", "pedal_stop")  # fmt: skip
SERVICE = ("service_hours", "bleed_lift", "air_pocket", "air_reserve", "reservoir_rise", "reservoir_spare", "wear_reserve",
           "adjustments")  # fmt: skip
BOX = ("cost", "mass")
DOES = tuple(name for name in METRICS if name not in (*SETUP, *SERVICE, *BOX))
GROUPS = {"setup": SETUP, "does": DOES, "service": SERVICE, "box": BOX}


@dataclass(frozen=True)
class Contender:
    """One of the kits: what is known of it in a table of one row, or why it is not legal."""

    kit: str
    train: str
    parts: Mapping[str, str]  # id by family
    table: KitTable | None
    unmet: Emptied | None


@dataclass(frozen=True)
class FigureRow:
    """A metric by which kits differ; no cell where a kit is not legal."""

    metric: str
    cells: tuple[Cell | None, ...]
    better: Better


@dataclass(frozen=True)
class Words:
    """Something told in words by which kits differ; None where a kit is not legal, "" where it has no such thing."""

    name: str
    texts: tuple[str | None, ...]


@dataclass(frozen=True)
class ReasonRow:
    """A reason that some of the kits have and others have not."""

    reasons: tuple[Reason | None, ...]

    @property
    def any(self) -> Reason:
        """Of one that has it."""
        return next(reason for reason in self.reasons if reason)


@dataclass(frozen=True)
class Before:
    """Two kits that follow each other in the order of the house, by their places, and the criterion that decides."""

    first: int
    second: int
    by: str


@dataclass(frozen=True)
class Comparison:
    """What differs between kits, each row with one cell a kit in the order in which they were named."""

    kits: tuple[Contender, ...]
    parts: tuple[Words, ...]  # "" where a train has no such family
    standing: tuple[Words, ...]  # verdict, limiting rule
    headroom: tuple[float | None, ...]  # empty where it does not differ
    headroom_better: Better
    words: Mapping[str, tuple[Words, ...]]  # by group: what is set, shims, what a leak does
    figures: Mapping[str, tuple[FigureRow, ...]]  # by group
    reasons: tuple[ReasonRow, ...]
    remarks: tuple[Words, ...]  # the remark itself where a kit has it
    order: tuple[Before, ...]  # of kits of one application, without those that are not legal and doubles

    @property
    def one_kit(self) -> bool:
        """Whether all are one and the same."""
        return len({kit.kit for kit in self.kits}) == 1

    @property
    def doubles(self) -> tuple[tuple[int, int], ...]:
        """Pairs of places at which the same kit stands."""
        names = [kit.kit for kit in self.kits]
        return tuple((names.index(name), place) for place, name in enumerate(names) if names.index(name) < place)

    @property
    def applications(self) -> tuple[str, ...]:
        """The applications of the kits, each once."""
        return tuple(dict.fromkeys(kit.parts["application"] for kit in self.kits))

    @property
    def legal(self) -> int:
        """How many of them are legal."""
        return sum(kit.table is not None for kit in self.kits)


def compare_kits(inputs: Inputs, names: Sequence[str]) -> Comparison:
    """Evaluate each kit by itself and keep what differs.

    Raises
    ------
    UsageError
        There are too few or too many of them, or one does not exist; the message names the nearest.
    """
    if not FEWEST <= len(names) <= MOST:
        raise UsageError(f"Two to four kits are compared, or the trains of one application; here {_named(names)}.")
    return comparison(inputs, [_contender(inputs, name) for name in names])


def _named(names: Sequence[str]) -> str:
    return "one kit is named" if len(names) == 1 else f"{len(names)} are named"


def _contender(inputs: Inputs, name: str) -> Contender:
    train, parts = find_kit(name, inputs.catalog, inputs.job)
    found = one_kit(only_these(inputs.catalog, parts), inputs.profile, inputs.job, train)
    if isinstance(found, Emptied):
        return Contender(name, train, parts, None, found)
    return Contender(name, train, parts, found, None)


def comparison(inputs: Inputs, kits: Sequence[Contender]) -> Comparison:
    """What differs between kits that are evaluated already."""
    rooms = _seen(kits, lambda table: float(table.headroom[0]))
    shown = {headroom_shown(room) for room in rooms if room is not None}
    return Comparison(
        tuple(kits),
        tuple(_differing([_part_row(kits, family) for family in FAMILIES])),
        tuple(
            _differing([_words(kits, "verdict", _verdict), _words(kits, "limiting_rule", lambda table: table.limiting_rule[0])])
        ),
        rooms if len(shown) > 1 else (),
        _roomier(rooms, inputs.profile.headroom_enough) if len(shown) > 1 else NOBODY,
        {"setup": tuple(_setup_words(kits)), "service": tuple(_differing([_words(kits, "leak", lambda table: table.train[0])]))},
        {group: tuple(_figures(inputs, kits, metrics)) for group, metrics in GROUPS.items()},
        tuple(_reasons(kits)),
        tuple(_remarks(kits)),
        tuple(_order(inputs, kits)),
    )


def _verdict(table: KitTable) -> str:
    return VERDICT_WORDS[int(table.verdict[0])]


def _seen(kits: Sequence[Contender], look: Callable[[KitTable], T]) -> tuple[T | None, ...]:
    """What is seen in each kit's table; None where there is none."""
    return tuple(None if kit.table is None else look(kit.table) for kit in kits)


def _words(kits: Sequence[Contender], name: str, look: Callable[[KitTable], str]) -> Words:
    return Words(name, _seen(kits, look))


def _part_row(kits: Sequence[Contender], family: str) -> Words:
    return Words(family, tuple(kit.parts.get(family, "") for kit in kits))


def _differing(rows: Sequence[Words]) -> Iterator[Words]:
    """Rows whose texts are not all the same; a kit that is not legal differs from those that are by its verdict alone."""
    for row in rows:
        known = {text for text in row.texts if text is not None}
        if len(known) > 1 or (row.name == "verdict" and known and None in row.texts):
            yield row


def _setup_words(kits: Sequence[Contender]) -> Iterator[Words]:
    """What is set, and the shims to fit, where these differ."""
    yield from _differing([_words(kits, "setting", setting_of), _words(kits, "shims", _shims)])


def _shims(table: KitTable) -> str:
    if table.train[0] != "concentric":
        return ""
    return table.shims[0] or "none"


def _roomier(rooms: Sequence[float | None], enough: float) -> Better:
    """Whose headroom is greatest as it is read; beyond what is enough nobody's is better."""
    shown = [None if room is None else headroom_shown(min(room, enough)) for room in rooms]
    known = [room for room in shown if room is not None]
    leading = tuple(place for place, room in enumerate(shown) if room == max(known))
    return Better(leading, rule="headroom") if len(leading) < len(known) else NOBODY


def _figures(inputs: Inputs, kits: Sequence[Contender], metrics: Sequence[str]) -> Iterator[FigureRow]:
    tables = [kit.table for kit in kits if kit.table is not None]
    places = [place for place, kit in enumerate(kits) if kit.table is not None]
    for name in metrics:
        cells = [cell(table, name) for table in tables]
        if not all_same(name, cells):
            found = better(name, cells, tables, inputs.job, inputs.profile)
            moved = Better(tuple(places[place] for place in found.places), found.preference, found.rule)
            yield FigureRow(name, _seen(kits, partial(cell, name=name)), moved if moved.places else NOBODY)


def _reasons(kits: Sequence[Contender]) -> Iterator[ReasonRow]:
    """Reasons that some have and others have not, those that reject first, then by rule."""
    by_kit = _seen(kits, lambda table: {_known_by(reason): reason for reason in table.reasons[0]})
    every = {key: reason for found in by_kit if found for key, reason in found.items()}
    for key in sorted(every, key=lambda key: (every[key].severity != "reject", key)):
        row = tuple(None if found is None else found.get(key) for found in by_kit)
        if any(found is not None and key not in found for found in by_kit):
            yield ReasonRow(row)


def _known_by(reason: Reason) -> tuple[str, str, str, str]:
    return reason.rule, reason.kind, reason.severity, reason.reason


def _remarks(kits: Sequence[Contender]) -> Iterator[Words]:
    every = sorted({remark for kit in kits if kit.table for remark in kit.table.remarks[0]})
    yield from _differing([_words(kits, text, partial(_has_remark, text)) for text in every])


def _has_remark(text: str, table: KitTable) -> str:
    return text if text in table.remarks[0] else ""


def _order(inputs: Inputs, kits: Sequence[Contender]) -> Iterator[Before]:
    """The legal kits in the order in which a screening ranks them, a pair for each that follows another."""
    if len({kit.parts["application"] for kit in kits}) > 1:
        return
    tables = {kit.kit: (place, kit.table) for place, kit in reversed([*enumerate(kits)]) if kit.table is not None}
    known = list(tables.values())
    ranked = [known[at] for at in ordered([table for _, table in known], inputs.job, inputs.profile)]
    for (first, one), (second, other) in pairwise(ranked):
        yield Before(first, second, decided_by(one, other, inputs.job, inputs.profile))

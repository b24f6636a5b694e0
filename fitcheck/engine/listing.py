"""Kits that leave the program: each evaluated once more on its own, with all metrics, reasons and words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import FAMILIES, Catalog, Part
from fitcheck.engine.columns import Context
from fitcheck.engine.evaluate import Tile, Values, evaluate
from fitcheck.engine.interfaces import field_value
from fitcheck.engine.legality import TRAINS
from fitcheck.engine.ranking import TRAIN_WORDS, IntArray, Names, Rows, preference_key, steps, unbeaten
from fitcheck.engine.result import KitTable, Reason
from fitcheck.engine.states import ABSENT, STATE_WORDS, VALUE
from fitcheck.engine.table import METRICS
from fitcheck.engine.verdict import NOBODY, applicable, explain, judge
from fitcheck.quantities import to_unit

KIT_FAMILIES = tuple(family for family in FAMILIES if family != "linkage")
FloatArray = npt.NDArray[np.float64]


class Draft:
    """Columns of a table of kits while they are filled; at first no metric exists."""

    def __init__(self, size: int) -> None:
        """Room for so many kits."""
        self.verdict = np.zeros(size, dtype=np.uint8)
        self.headroom = np.zeros(size)
        self.limiting_rule = [""] * size
        self.shims = [""] * size
        self.reasons: list[tuple[Reason, ...]] = [()] * size
        self.remarks: list[tuple[str, ...]] = [()] * size
        self.metrics = {name: np.full(size, np.nan) for name in METRICS}
        self.states = {name: np.full(size, ABSENT, dtype=np.uint8) for name in METRICS}

    def place(self, other: Draft, places: IntArray) -> None:
        """Write another draft's kits at those places."""
        self.verdict[places], self.headroom[places] = other.verdict, other.headroom
        for name in METRICS:
            self.metrics[name][places], self.states[name][places] = other.metrics[name], other.states[name]
        for row, place in enumerate(places.tolist()):
            self.limiting_rule[place], self.shims[place] = other.limiting_rule[row], other.shims[row]
            self.reasons[place], self.remarks[place] = other.reasons[row], other.remarks[row]


def table_of(
    context: Context, rows: Rows, listed: npt.NDArray[np.bool_], names: Names, waived: frozenset[str] = NOBODY
) -> tuple[KitTable, IntArray]:
    """Kits of one application in order, with the places in `rows` that they come from.

    Ranks and marks count among the `listed` ones, which must be the best of the application; the others have rank 0.
    A broken rule among `waived` makes a caution only.
    """
    draft = drafted(context, rows, waived)
    keys = _keys(context, draft)
    order = np.lexsort([*reversed([*keys, *names.keys(rows.train, rows.parts)])])
    marks = np.zeros(len(rows), dtype=np.bool_)
    marks[listed] = unbeaten(draft.verdict[listed], [key[listed] for key in keys[2:]])
    rank = np.zeros(len(rows), dtype=np.int64)
    rank[order[listed[order]]] = np.arange(1, listed.sum() + 1)
    return _table(context.catalog, rows, draft, rank, marks).take(order), order


def drafted(
    context: Context,
    rows: Rows,
    waived: frozenset[str] = NOBODY,
    held: Mapping[str, FloatArray] | None = None,
    abreast: bool = False,
) -> Draft:
    """Kits of one application with all that is known of each, in the order in which they are given.

    `held` has a number for each kit: that of a quantity which is not to be computed, or not-a-number. `abreast`: covers of
    one kind are evaluated together.
    """
    draft = Draft(len(rows))
    for tile, places in plain_tiles(context, rows, abreast):
        kept = {name: numbers[places] for name, numbers in held.items()} if held else None
        _fill(context, tile, places, draft, waived, kept)
    return draft


def _keys(context: Context, draft: Draft) -> list[FloatArray]:
    """What kits are sorted by, before their names."""
    profile = context.profile
    preferred = [preference_key(wish, draft.metrics[wish.metric], draft.states[wish.metric]) for wish in context.job.prefer]
    level = -steps(draft.headroom, profile.headroom_enough, profile.headroom_step)
    return [draft.verdict.astype(np.float64), level, *preferred]


def plain_tiles(context: Context, rows: Rows, abreast: bool = False) -> Iterator[tuple[Tile, IntArray]]:
    """Kits that share cover, train, rest and kind of pedal, all families on one axis, with their places in `rows`.

    `abreast`: covers of one kind stand in one tile, which is sooner done where there are many.
    """
    slaves = context.catalog.families.get("slave", ())
    contact = np.array([field_value(part, "slave.rest") == "contact" for part in slaves], dtype=np.bool_)
    for code, train in enumerate(TRAIN_WORDS):
        families = TRAINS[train]
        of_train = np.flatnonzero(rows.train == code)
        covers = rows.parts[of_train, families.index("pressure_plate")]
        kinds = _like(context.parts["pressure_plate"])[covers] if abreast else covers
        of_slave = rows.parts[of_train, families.index("slave")] if "slave" in families else None
        rests = np.ones(len(of_train), np.bool_) if of_slave is None else contact[of_slave]
        bent = context.bent_pedals[rows.parts[of_train, families.index("pedal")]]
        for like, rest, kind in sorted(set(zip(kinds.tolist(), rests.tolist(), bent.tolist(), strict=True))):
            places = of_train[(kinds == like) & (rests == rest) & (bent == kind)]
            parts = {family: rows.parts[places, place].astype(np.intp) for place, family in enumerate(families)}
            application = int(parts.pop("application")[0])
            cover = int(parts["pressure_plate"][0])
            if not abreast:
                del parts["pressure_plate"]
            word = "contact" if rest else "bottomed"
            yield Tile(application, cover, train, word, parts, dict.fromkeys(parts, 0), 1), places


def _like(covers: Sequence[Part]) -> IntArray:
    """A number for each cover, equal where equations and what is said beside them are."""
    keys = [
        ("diaphragm" in part.values, "worn_release_load" in part.values, bool(part.values.get("wear_compensated")))
        for part in covers
    ]
    return np.array([keys.index(key) for key in keys], dtype=np.intp)


def _fill(
    context: Context,
    tile: Tile,
    places: IntArray,
    draft: Draft,
    waived: frozenset[str],
    held: Mapping[str, FloatArray] | None,
) -> None:
    values = evaluate(context, tile, held=held)
    rules = applicable(context.profile, context.parts["application"][tile.application].id, tile.train)
    judgement = judge(values, rules, (len(places),), waived)
    why = explain(values, rules, judgement, waived)
    draft.verdict[places], draft.headroom[places] = judgement.verdict, judgement.headroom
    for name in values.names:
        state = values.state(name)
        known = True if state is None else state == VALUE
        draft.states[name][places] = VALUE if state is None else state
        draft.metrics[name][places] = np.where(known, values.number(name), np.nan)
    columns = (why.limiting_rule, why.reasons, _remarks(values, len(places)), _shims(context, tile, values))
    for place, limiting, reasons, remarks, shims in zip(places.tolist(), *columns, strict=True):
        draft.limiting_rule[place], draft.reasons[place] = limiting, reasons
        draft.remarks[place], draft.shims[place] = remarks, shims


def _remarks(values: Values, size: int) -> list[tuple[str, ...]]:
    """What is said beside the values of each kit."""
    said = [(text, np.broadcast_to(where, size).tolist()) for text, where in values.remarks]
    return [tuple(text for text, where in said if where[row]) for row in range(size)]


def _shims(context: Context, tile: Tile, values: Values) -> list[str]:
    """The stack of shims of each kit, thicknesses in mm; blank where there is none."""
    if "concentric" not in tile.rows:
        return [""] * tile.shape[0]
    choices = np.broadcast_to(values.number("shim_choice"), tile.shape)
    stacks = [context.shims_of[part] for part in tile.rows["concentric"].tolist()]
    return [
        "" if np.isnan(choice) else "+".join(f"{to_unit(shim, 'mm'):.12g}" for shim in stack[int(choice)])
        for choice, stack in zip(choices.tolist(), stacks, strict=True)
    ]


def _table(catalog: Catalog, rows: Rows, draft: Draft, rank: npt.NDArray[np.int64], marks: npt.NDArray[np.bool_]) -> KitTable:
    train = tuple(TRAIN_WORDS[code] for code in rows.train.tolist())
    parts = dict(_part_columns(catalog, rows))
    kits = zip(train, *parts.values(), strict=True)
    return KitTable(
        train,
        parts,
        tuple("+".join(identifier for identifier in ids if identifier) for _, *ids in kits),
        draft.verdict,
        tuple(draft.limiting_rule),
        draft.headroom,
        rank,
        marks,
        draft.metrics,
        draft.states,
        tuple(draft.shims),
        tuple(draft.reasons),
        tuple(draft.remarks),
        missing_texts(draft.states),
    )


def _part_columns(catalog: Catalog, rows: Rows) -> Iterator[tuple[str, tuple[str, ...]]]:
    """For each family the part ids, blank where the train has no such family."""
    for family in KIT_FAMILIES:
        ids = np.array([part.id for part in catalog.families.get(family, ())], dtype=object)
        column = np.full(len(rows), "", dtype=object)
        for code, train in enumerate(TRAIN_WORDS):
            if family in TRAINS[train] and (rows.train == code).any():
                here = rows.train == code
                column[here] = ids[rows.parts[here, TRAINS[train].index(family)]]
        yield family, tuple(column.tolist())


def missing_texts(states: Mapping[str, npt.NDArray[np.uint8]]) -> tuple[str, ...]:
    """Which metrics have no value and why, `air_pocket: not given; rod_length: does not exist`, kit by kit."""
    written: dict[bytes, str] = {}

    def text(row: npt.NDArray[np.uint8]) -> str:
        pattern = row.tobytes()
        if pattern not in written:
            pairs = zip(states, row.tolist(), strict=True)
            written[pattern] = "; ".join(f"{name}: {STATE_WORDS[state]}" for name, state in pairs if state != VALUE)
        return written[pattern]

    return tuple(text(row) for row in np.stack(list(states.values()), axis=1))


def joined(tables: Sequence[KitTable]) -> KitTable:
    """Tables one under the other; an empty one where there is none."""
    if not tables:
        no_kits = Rows(np.zeros((0, 0)), np.zeros(0, np.int8), np.zeros((0, 0), np.int32))
        draft = Draft(0)
        return _table(Catalog({}), no_kits, draft, np.zeros(0, np.int64), np.zeros(0, np.bool_))

    def texts(name: str) -> tuple[object, ...]:
        return tuple(item for table in tables for item in getattr(table, name))

    def arrays(name: str) -> npt.NDArray[np.generic]:
        return np.concatenate([getattr(table, name) for table in tables])

    return KitTable(
        texts("train"),  # type: ignore[arg-type]
        {family: tuple(item for table in tables for item in table.parts[family]) for family in KIT_FAMILIES},
        texts("kit"),  # type: ignore[arg-type]
        arrays("verdict"),  # type: ignore[arg-type]
        texts("limiting_rule"),  # type: ignore[arg-type]
        arrays("headroom"),  # type: ignore[arg-type]
        arrays("rank"),  # type: ignore[arg-type]
        arrays("unbeaten"),  # type: ignore[arg-type]
        {name: np.concatenate([table.metrics[name] for table in tables]) for name in METRICS},
        {name: np.concatenate([table.states[name] for table in tables]) for name in METRICS},
        texts("shims"),  # type: ignore[arg-type]
        texts("reasons"),  # type: ignore[arg-type]
        texts("remarks"),  # type: ignore[arg-type]
        texts("missing"),  # type: ignore[arg-type]
    )

"""Kits made from one by exchanging parts or numbers: each held against the fits, evaluated and judged as a row of its own."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, reduce

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import TRAINS, Catalog, Part
from fitcheck.engine.columns import Context
from fitcheck.engine.evaluate import Tile, Values, evaluate
from fitcheck.engine.interfaces import interfaces
from fitcheck.engine.listing import Draft, drafted, plain_tiles
from fitcheck.engine.ranking import LONGEST, TRAIN_WORDS, IntArray, Rows
from fitcheck.engine.states import ABSENT, REJECT, VALUE
from fitcheck.engine.trains import may_fail
from fitcheck.engine.verdict import applicable, headrooms, judge
from fitcheck.job import Job
from fitcheck.profile import Profile, Rule

BoolArray = npt.NDArray[np.bool_]
FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Variant:
    """What differs from the kit itself: nothing, other parts (of a catalog, or with other numbers), or a setting of one's own."""

    parts: Mapping[str, Part] = field(default_factory=dict)
    setting: float = np.nan  # m, kept in place of the set-up target (lash, or piston out); external trains only


@dataclass(frozen=True)
class Trials:
    """What became of some variants, in their order. Those that are not legal are not evaluated and count as rejected."""

    legal: BoolArray
    unmet: tuple[tuple[str, ...], ...]  # the fits that each does not meet
    draft: Draft  # metrics, states, reasons and so on, by variant

    @property
    def verdict(self) -> npt.NDArray[np.uint8]:
        """Verdicts."""
        return self.draft.verdict


@dataclass(frozen=True)
class Glance:
    """What is needed to sort many variants, in their order."""

    legal: BoolArray
    verdict: npt.NDArray[np.uint8]
    headroom: FloatArray
    rooms: (
        FloatArray  # a row of headrooms for each of the bench's `ruled`: infinite if it says nothing, not-a-number if not known
    )
    metrics: dict[str, FloatArray]  # of no meaning where the state is not VALUE
    states: dict[str, npt.NDArray[np.uint8]]


class Bench:
    """One kit, and whatever may be made of it, under a profile; what a job supplies counts, its restrictions do not."""

    def __init__(self, catalog: Catalog, profile: Profile, job: Job, train: str, ids: Mapping[str, str]) -> None:
        """Take the kit's parts out of the catalog, which has them all."""
        self.catalog, self.profile, self.job, self.train = catalog, profile, job, train
        self.parts = {family: _known(catalog, family, ids[family]) for family in TRAINS[train]}

    @property
    def application(self) -> Part:
        """The vehicle."""
        return self.parts["application"]

    @cached_property
    def itself(self) -> Trials:
        """The kit as it is, in one row."""
        return self.tried([Variant()])

    @cached_property
    def values(self) -> Values:
        """Every quantity of the kit as it is, each an array of one cell; the kit need not be legal."""
        context, rows = self._rows([Variant()])
        ((tile, _),) = plain_tiles(context, rows)
        return evaluate(context, tile)

    @cached_property
    def rules(self) -> tuple[Rule, ...]:
        """The rules that hold for the kit."""
        return applicable(self.profile, self.application.id, self.train)

    @cached_property
    def ruled(self) -> tuple[str, ...]:
        """Whatever may speak against a kit: the rules, and the figures without a rule that must be computed all the same."""
        return (*(rule.name for rule in self.rules), *sorted(may_fail() - {rule.metric for rule in self.rules}))

    def tried(self, variants: Sequence[Variant]) -> Trials:
        """Each variant with all that is known of it."""
        legal, missed = self._held_against_fits(variants)
        unmet = [tuple(name for name, where in missed.items() if where[row]) for row in range(len(variants))]
        draft = Draft(len(variants))
        draft.verdict[:], draft.headroom[:] = REJECT, -np.inf
        for context, rows, places, held in self._parted(variants, legal):
            draft.place(drafted(context, rows, held=held, abreast=True), places)
        return Trials(legal, tuple(unmet), draft)

    def verdicts(self, variants: Sequence[Variant]) -> npt.NDArray[np.uint8]:
        """Their verdicts alone, sooner than all that `tried` finds out; what is not legal is rejected."""
        return self.glance(variants).verdict

    def glance(self, variants: Sequence[Variant], metrics: Collection[str] = (), fitting: bool = True) -> Glance:
        """Verdict, headrooms and some metrics of each, sooner than all that `tried` finds out; what is not legal is rejected.

        Without `fitting` what is not legal is judged as if it were.
        """
        legal, size = self._held_against_fits(variants)[0], len(variants)
        unknown = np.full((len(self.ruled), size), np.nan)
        seen = Glance(legal, np.full(size, REJECT, dtype=np.uint8), np.full(size, -np.inf), unknown, {}, {})
        for metric in metrics:
            seen.metrics[metric] = np.full(size, np.nan)
            seen.states[metric] = np.full(size, ABSENT, dtype=np.uint8)
        for context, rows, places, held in self._parted(variants, legal if fitting else np.ones_like(legal)):
            for tile, some in plain_tiles(context, rows, abreast=True):
                self._look(context, tile, {name: numbers[some] for name, numbers in held.items()}, seen, places[some])
        return seen

    def _look(self, context: Context, tile: Tile, held: Mapping[str, FloatArray], seen: Glance, places: IntArray) -> None:
        values = evaluate(context, tile, {rule.metric for rule in self.rules} | may_fail() | seen.metrics.keys(), held)
        judgement = judge(values, self.rules, tile.shape)
        seen.verdict[places], seen.headroom[places] = judgement.verdict, judgement.headroom
        seen.rooms[:, places] = headrooms(values, self.rules, self.ruled, len(places))
        for metric in seen.metrics.keys() & set(values.names):
            state = values.state(metric)
            seen.metrics[metric][places] = values.number(metric)
            seen.states[metric][places] = VALUE if state is None else state

    def _held_against_fits(self, variants: Sequence[Variant]) -> tuple[BoolArray, dict[str, BoolArray]]:
        """Which variants are legal, and by fit which do not meet it; a fit may be asked of several families."""
        catalog, places = self._catalog(variants)
        missed: dict[str, BoolArray] = {}
        for fit in interfaces(catalog, self.profile):
            if set(fit.families) <= set(TRAINS[self.train]):
                here = ~np.broadcast_to(fit.holds(places), len(variants))
                missed[fit.fit.name] = missed.get(fit.fit.name, False) | here
        return ~reduce(np.logical_or, missed.values(), np.zeros(len(variants), dtype=np.bool_)), missed

    def _parted(
        self, variants: Sequence[Variant], legal: BoolArray
    ) -> Iterator[tuple[Context, Rows, IntArray, Mapping[str, FloatArray]]]:
        """The legal variants by their vehicle: what evaluates them, as which rows, where they stand, and their settings."""
        vehicles = np.array([id(variant.parts.get("application")) for variant in variants])
        for vehicle in dict.fromkeys(vehicles[legal].tolist()):
            places = np.flatnonzero(legal & (vehicles == vehicle))
            some = [variants[place] for place in places.tolist()]
            settings = np.array([variant.setting for variant in some])
            yield *self._rows(some), places, {} if np.isnan(settings).all() else {"setup_target": settings}

    def _rows(self, variants: Sequence[Variant]) -> tuple[Context, Rows]:
        catalog, places = self._catalog(variants)
        parts = np.full((len(variants), LONGEST), -1, dtype=np.int32)
        for column, rows in enumerate(places.values()):
            parts[:, column] = rows
        train = np.full(len(variants), TRAIN_WORDS.index(self.train), dtype=np.int8)
        return Context(catalog, self.profile, self.job), Rows(np.zeros((0, len(variants))), train, parts)

    def _catalog(self, variants: Sequence[Variant]) -> tuple[Catalog, dict[str, IntArray]]:
        """A catalog of all parts in question, each once, and where each variant's parts stand in it."""
        families, places = {}, {}
        for family, own in self.parts.items():
            chosen = [variant.parts.get(family, own) for variant in variants]
            distinct = {id(part): part for part in chosen}
            order = {name: row for row, name in enumerate(distinct)}
            families[family] = tuple(distinct.values())
            places[family] = np.array([order[id(part)] for part in chosen], dtype=np.intp)
        return Catalog({**families, "linkage": self.catalog.families.get("linkage", ())}), places


def _known(catalog: Catalog, family: str, identifier: str) -> Part:
    part = catalog.part(family, identifier)
    if part is None:
        raise ValueError(f"the catalog has no {family} {identifier}")
    return part

"""The part that is missing: what one part of a kit would have to be so that the kit passes, or is legal at all.

Every part that is told was made up, put into the kit and judged with it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import groupby, islice
from random import Random

from fitcheck.catalog.parts import Part
from fitcheck.engine.interfaces import family_of
from fitcheck.engine.legality import Block, Legality
from fitcheck.engine.result import Emptied
from fitcheck.engine.states import PASS
from fitcheck.engine.variants import Bench, Variant
from fitcheck.profile import Profile
from fitcheck.reasons.demands import Demand, Kit, demands, inner_families, meeting
from fitcheck.reasons.intervals import Change, Changes, changes_of, value_of
from fitcheck.reasons.numbers import Number, numbers_on, staying

COVERS, BLOCKS, KITS = 16, 6, 4  # covers looked at, blocks of each, kits of each block: enough to find a good one among many
SEED = 7


@dataclass(frozen=True)
class MissingPart:
    """A part that the catalog has not, and what becomes of the kit with it."""

    kit: Kit  # with the part that the missing one is like
    part: Part  # made up: that part with what differs
    asked: tuple[Demand, ...]  # at its interfaces, by the rest of the kit
    change: Change | None  # the one number that differs; None where interfaces do
    verdict: int  # of the kit with the part
    headroom: float
    still: tuple[str, ...]  # rules that speak there

    @property
    def family(self) -> str:
        """The family of the part."""
        return self.part.family

    @property
    def differs(self) -> tuple[Demand, ...]:
        """The demands that the part it is like does not meet."""
        return tuple(demand for demand in self.asked if not demand.met)


def missing_sizes(bench: Bench, known: Changes | None = None) -> list[MissingPart]:
    """For each family of a kit that is not good enough the sizes, one number at a time, with which it would be.

    `known` is what each number of the kit can do for it, where that was found out before.
    """
    kept = staying(bench)
    found = known or changes_of(bench, [each for each in numbers_on(bench).values() if _orderable(each[0], kept)])
    fitting = (change for change in found.found if _orderable(change.number, kept))
    sized = [_sized(bench, change, change.best) for change in fitting if change.best is not None]
    return sorted(sized, key=lambda one: (one.verdict, -one.headroom))


def _orderable(number: Number, kept: Collection[str]) -> bool:
    """Whether the number is one of a part that can be ordered for the kit."""
    return number.family not in kept and not number.fitter


def _sized(bench: Bench, change: Change, best: Decimal) -> MissingPart:
    family, number = change.number.family, change.number
    part = number.apply(bench, value_of(number, best)).parts[family]
    asked = demands(bench.profile, bench.parts, family)
    return MissingPart(bench.parts, part, asked, change, change.goal, change.headroom, change.cautions)


def first_that_pass(benches: Iterator[Bench]) -> list[MissingPart]:
    """The sizes that make the first of some kits pass for which there are any; else those that save it from being rejected."""
    second_best: list[MissingPart] = []
    for bench in benches:
        found = missing_sizes(bench)
        if passing := [one for one in found if one.verdict == PASS]:
            return passing
        second_best = second_best or found
    return second_best


# --- where nothing is legal


def missing_interfaces(legality: Legality, application: int, train: str, emptied: Emptied) -> list[MissingPart]:
    """For each family of which one other part would make kits legal, the best such part that was found."""
    best: dict[str, MissingPart] = {}
    for one in _found(legality, application, train, emptied):
        if one.family not in best or (one.verdict, -one.headroom) < (best[one.family].verdict, -best[one.family].headroom):
            best[one.family] = one
    return [best[family] for family in inner_families(train) if family in best]


def _found(legality: Legality, application: int, train: str, emptied: Emptied) -> Iterator[MissingPart]:
    for freeing in emptied.freeing:
        families = _concerned(legality.profile, freeing.names, train)
        rest = {fit.name for fit in legality.profile.fits} - set(freeing.names)
        kits = list(_some_kits(legality.under(rest), application, train)) if families else []
        if not kits:
            continue
        bench = Bench(legality.catalog, legality.profile, legality.job, train, {name: part.id for name, part in kits[0].items()})
        for family in families:
            if family not in staying(bench):
                yield from _best_of(bench, kits, family)


def _concerned(profile: Profile, names: Sequence[str], train: str) -> list[str]:
    """The families that every one of those fits names."""
    named = [{family_of(field) for field in fit.fields} for fit in profile.fits if fit.name in names]
    return [family for family in inner_families(train) if all(family in some for some in named)]


def _best_of(bench: Bench, kits: Sequence[Kit], family: str) -> Iterator[MissingPart]:
    """Of kits that lack but one part, each with that part made up, the one that is judged best; none where none is legal."""
    asked = [demands(bench.profile, kit, family) for kit in kits]
    made = [meeting(kit[family], some) for kit, some in zip(kits, asked, strict=True)]
    variants = [Variant({**kit, family: part}) for kit, part in zip(kits, made, strict=True) if part]
    if not variants:
        return
    seen = bench.glance(variants)
    legal = [row for row, held in enumerate(seen.legal.tolist()) if held]
    if not legal:
        return
    best = min(legal, key=lambda row: (seen.verdict[row], -seen.headroom[row]))
    place = [row for row, part in enumerate(made) if part][best]
    told = bench.tried([variants[best]]).draft
    still = tuple(dict.fromkeys(reason.rule for reason in told.reasons[0]))
    part = variants[best].parts[family]
    yield MissingPart(kits[place], part, asked[place], None, int(told.verdict[0]), float(told.headroom[0]), still)


def _some_kits(legality: Legality, application: int, train: str) -> Iterator[dict[str, Part]]:
    """Legal kits from covers spread over all that have any, a few of each block; the same ones every time."""
    covers = [space.cover for space in legality.spaces(application, train)]
    chosen = [covers[place] for place in sorted({len(covers) * step // COVERS for step in range(COVERS)})] if covers else []
    ids = tuple(legality.catalog.families["pressure_plate"][cover].id for cover in chosen)
    some = legality.asked(replace(legality.job, only={**legality.job.only, "pressure_plate": ids}))
    dice = Random(SEED)
    for _, blocks in groupby(some.blocks(application, train), key=lambda block: block.cover):
        for block in islice(blocks, BLOCKS):
            for _ in range(min(KITS, block.size)):
                yield _picked(legality, block, dice)


def _picked(legality: Legality, block: Block, dice: Random) -> dict[str, Part]:
    rows: Mapping[str, int] = {
        "application": block.application,
        "pressure_plate": block.cover,
        **{family: int(dice.choice(some.tolist())) for family, some in block.rows.items()},
    }
    return {family: legality.catalog.families[family][rows[family]] for family in ("application", *inner_families(block.train))}

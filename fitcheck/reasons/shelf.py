"""Every other part that the job lets in, in place of the kit's own: which fit in alone, and which two fit in together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property, reduce
from itertools import combinations

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import Catalog, Part
from fitcheck.engine.interfaces import Interface, interfaces
from fitcheck.engine.variants import Bench, Glance, Variant
from fitcheck.kit_names import let_in

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.intp]


class Shelf:
    """The parts that can be had for a kit, family by family; each has its place among them."""

    def __init__(self, bench: Bench) -> None:
        """Take them from the catalog, and make the fits ready for them: of each family the kit's own part first."""
        self.bench = bench
        others = {family: tuple(_others(bench, family)) for family in bench.parts if family != "application"}
        self.parts = tuple(part for some in others.values() for part in some)
        ends = np.cumsum([0, *map(len, others.values())]).tolist()
        self._places = {family: np.arange(*ends[at : at + 2]) for at, family in enumerate(others)}
        families = {family: (own, *others.get(family, ())) for family, own in bench.parts.items()}
        ready = interfaces(Catalog({**bench.catalog.families, **families}), bench.profile)
        self._fits = [fit for fit in ready if set(fit.families) <= bench.parts.keys()]

    def variant(self, *places: int) -> Variant:
        """The kit with the parts at those places."""
        return Variant({self.parts[place].family: self.parts[place] for place in places})

    @cached_property
    def alone(self) -> IntArray:
        """The places of all parts that fit in alone."""
        return np.concatenate([self._fitting(family) for family in self._places])

    @cached_property
    def seen(self) -> Glance:
        """What becomes of the kit with each of those, in the same order."""
        return self.look([self.variant(place) for place in self.alone.tolist()])

    def look(self, variants: Sequence[Variant]) -> Glance:
        """What is needed to put some variants in order."""
        return self.bench.glance(variants, [preference.metric for preference in self.bench.job.prefer])

    @cached_property
    def pairs(self) -> list[tuple[IntArray, IntArray]]:
        """For every two families the places of the parts that fit in together, whether or not each does alone."""
        found = (self._together(first, second) for first, second in combinations(self._places, 2))
        return [pairs for pairs in found if len(pairs[0])]

    def _together(self, first: str, second: str) -> tuple[IntArray, IntArray]:
        rows, columns = self._fitting(first, second)[:, None], self._fitting(second, first)[None, :]
        common = (fit for fit in self._fits if {first, second} <= set(fit.families))
        met = np.broadcast_to(self._met(common, {first: rows, second: columns}), (rows.size, columns.size))
        here, there = np.nonzero(met)
        return rows[here, 0], columns[0, there]

    def _fitting(self, family: str, beside: str = "") -> IntArray:
        """Parts that fit in, whatever stands in the other family."""
        places = self._places[family]
        asked = (fit for fit in self._fits if beside not in fit.families)
        return places[np.broadcast_to(self._met(asked, {family: places}), len(places))]

    def _met(self, fits: Iterable[Interface], places: Mapping[str, IntArray]) -> BoolArray:
        """Whether all those fits are met with the parts at those places, broadcast against each other."""
        index = {family: some - self._places[family][0] + 1 if some.size else some for family, some in places.items()}
        own = dict.fromkeys(("application", *self._places), 0)
        return reduce(np.logical_and, (fit.holds({**own, **index}) for fit in fits), np.array(True))


def _others(bench: Bench, family: str) -> Iterator[Part]:
    """Every other part of a family that the job lets in."""
    parts = (part for part in bench.catalog.families[family] if part.id != bench.parts[family].id)
    return (part for part in parts if let_in(bench.job, family, part.id))

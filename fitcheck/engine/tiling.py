"""Blocks of legal kits cut into tiles: families on a few axes, at most so many kits at a time.

Evaluating a tile costs some milliseconds however few kits it has, so small blocks that differ only in their hydraulics are
joined on one axis; in a large block each group of families has its own, on which it is evaluated once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby, product
from math import prod

import numpy as np
import numpy.typing as npt

from fitcheck.engine.evaluate import Tile
from fitcheck.engine.legality import Block

Rows = npt.NDArray[np.intp]

# Families that mostly enter metrics together share an axis. The long axes come last: arrays are worked along the last axis,
# and short stretches of it cost far more for each kit. Measured, not derived.
AXES: dict[str, int] = {
    "disc": 0,
    "bearing": 1,
    "pedal": 2,
    "master": 3,
    "slave": 4,
    "fork": 4,
    "concentric": 4,
    "line": 5,
    "fluid": 5,
}
JOINED = ("master", "slave", "fork", "concentric", "line", "fluid")  # the families in which joined blocks may differ
SMALL = 1 << 15  # kits up to which joining pays


def tiles(blocks: Iterable[Block], cells: int, bent: npt.NDArray[np.bool_]) -> Iterator[Tile]:
    """The kits of all blocks, each in exactly one tile of at most `cells` kits.

    `bent` tells the pedals whose own force changes over the travel: they take longer and get tiles of their own.
    """
    for _, group in groupby(blocks, key=lambda block: (block.application, block.cover, block.train, block.rest)):
        parted = [part for block in group for part in _by_pedal(block, bent)]
        parted.sort(key=_shared)
        for _, alike in groupby(parted, key=_shared):
            same = list(alike)
            if len(same) > 1 and sum(block.size for block in same) <= min(SMALL, cells):
                yield _joined(same)
            else:
                for block in same:
                    yield from _cut(block, cells)


def _by_pedal(block: Block, bent: npt.NDArray[np.bool_]) -> Iterator[Block]:
    pedals = block.rows["pedal"]
    for kind in (False, True):
        chosen = pedals[bent[pedals] == kind]
        if len(chosen):
            yield Block(block.application, block.cover, block.train, block.rest, {**block.rows, "pedal": chosen})


def _shared(block: Block) -> tuple[tuple[int, ...], ...]:
    """The parts of the families in which joined blocks must not differ."""
    return tuple(tuple(rows.tolist()) for family, rows in block.rows.items() if family not in JOINED)


def _joined(blocks: Sequence[Block]) -> Tile:
    """One tile of blocks that differ in their hydraulics only: these on the last axis, kit by kit."""
    first = blocks[0]
    families = [family for family in first.rows if family in JOINED]
    pieces = [_pairs(block.rows, families, 0, prod(len(block.rows[family]) for family in families)) for block in blocks]
    alone = [family for family in first.rows if family not in JOINED]
    rows = {family: first.rows[family] for family in alone}
    rows |= {family: np.concatenate([piece[family] for piece in pieces]) for family in families}
    axis = {family: place for place, family in enumerate(alone)} | dict.fromkeys(families, len(alone))
    return Tile(first.application, first.cover, first.train, first.rest, rows, axis, len(alone) + 1)


def _cut(block: Block, cells: int) -> Iterator[Tile]:
    by_axis: dict[int, list[str]] = {}
    for family in block.rows:
        by_axis.setdefault(AXES[family], []).append(family)
    together = [by_axis[axis] for axis in sorted(by_axis)]
    axis = {family: place for place, families in enumerate(together) for family in families}
    sizes = [prod(len(block.rows[family]) for family in families) for families in together]
    cuts = [range(0, size, span) for size, span in zip(sizes, spans(sizes, cells), strict=True)]
    for starts in product(*cuts):
        rows: dict[str, Rows] = {}
        for families, start, cut, size in zip(together, starts, cuts, sizes, strict=True):
            rows |= _pairs(block.rows, families, start, min(start + cut.step, size))
        yield Tile(block.application, block.cover, block.train, block.rest, rows, axis, len(together))


def spans(sizes: Sequence[int], cells: int) -> list[int]:
    """Lengths of the axes of a tile: the longest axis is halved until there are few enough kits."""
    lengths = list(sizes)
    while prod(lengths) > cells and max(lengths) > 1:
        longest = lengths.index(max(lengths))
        lengths[longest] = -(-lengths[longest] // 2)
    return lengths


def _pairs(parts: Mapping[str, Rows], families: Sequence[str], start: int, stop: int) -> dict[str, Rows]:
    """Families on one axis: a stretch of the product of their parts."""
    places = np.unravel_index(np.arange(start, stop), [len(parts[family]) for family in families])
    return {family: parts[family][place] for family, place in zip(families, places, strict=True)}

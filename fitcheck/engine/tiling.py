"""Blocks of legal kits cut into tiles: families on a few axes, at most so many kits at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from math import prod

import numpy as np
import numpy.typing as npt

from fitcheck.engine.evaluate import Tile
from fitcheck.engine.legality import Block

# Families that mostly enter metrics together share an axis; measured, not derived.
AXES: dict[str, int] = {
    "master": 0,
    "slave": 1,
    "fork": 1,
    "concentric": 1,
    "pedal": 2,
    "line": 3,
    "fluid": 3,
    "bearing": 4,
    "disc": 5,
}


def tiles(block: Block, cells: int) -> Iterator[Tile]:
    """The kits of a block, each in exactly one tile of at most `cells` kits."""
    by_axis: dict[int, list[str]] = {}
    for family in block.rows:
        by_axis.setdefault(AXES[family], []).append(family)
    together = [by_axis[axis] for axis in sorted(by_axis)]
    axis = {family: place for place, families in enumerate(together) for family in families}
    sizes = [prod(len(block.rows[family]) for family in families) for families in together]
    cuts = [range(0, size, span) for size, span in zip(sizes, spans(sizes, cells), strict=True)]
    for starts in product(*cuts):
        rows: dict[str, npt.NDArray[np.intp]] = {}
        for families, start, cut, size in zip(together, starts, cuts, sizes, strict=True):
            rows |= _pairs(block, families, start, min(start + cut.step, size))
        yield Tile(block.application, block.cover, block.train, block.rest, rows, axis, len(together))


def spans(sizes: Sequence[int], cells: int) -> list[int]:
    """Lengths of the axes of a tile: the longest axis is halved until there are few enough kits."""
    lengths = list(sizes)
    while prod(lengths) > cells and max(lengths) > 1:
        longest = lengths.index(max(lengths))
        lengths[longest] = -(-lengths[longest] // 2)
    return lengths


def _pairs(block: Block, families: Sequence[str], start: int, stop: int) -> dict[str, npt.NDArray[np.intp]]:
    """Families on one axis: a stretch of the product of their parts."""
    places = np.unravel_index(np.arange(start, stop), [len(block.rows[family]) for family in families])
    return {family: block.rows[family][place] for family, place in zip(families, places, strict=True)}

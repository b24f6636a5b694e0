"""All doubts about the parts of a catalog, whoever judges them."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.catalog.parts import Catalog
from fitcheck.errors import Finding
from fitcheck.soundness.family import family_doubts
from fitcheck.soundness.own import own_doubts
from fitcheck.soundness.successors import successor_faults


def catalog_doubts(catalog: Catalog) -> Iterator[Finding]:
    """Each part by itself, among its family, and along its successors."""
    for parts in catalog.families.values():
        yield from successor_faults(parts)
        yield from family_doubts(parts)
        for part in parts:
            yield from own_doubts(part)

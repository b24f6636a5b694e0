"""Parts that supersede each other: where the chain of successors leads."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from fitcheck.catalog.parts import Part
from fitcheck.errors import Finding
from fitcheck.soundness.doubts import about

_KEY = "superseded_by"


def successor_faults(parts: Sequence[Part]) -> Iterator[Finding]:
    """A circle of successors is an error, a successor that is itself superseded a caution."""
    successors = {part.id: part.values[_KEY] for part in parts if _KEY in part.values}
    for part in parts:
        if part.id in successors:
            yield from _told(part, _followed(part.id, successors))


def _followed(first: str, successors: Mapping[str, str]) -> list[str]:
    """The part and its successors, up to the last or to the first that comes again."""
    chain = [first]
    while chain[-1] in successors and chain[-1] not in chain[:-1]:
        chain.append(successors[chain[-1]])
    return chain


def _told(part: Part, chain: Sequence[str]) -> Iterator[Finding]:
    """What is wrong with one chain; a part whose chain runs into a circle further on is told there."""
    found = " superseded by ".join(chain)
    if chain[-1] == part.id:
        mend = "take one superseded_by of the circle away"
        yield about(part, _KEY, "successor-circle", found, "a part that is still to be had at the end", mend, severity="error")
    elif len(chain) > 2 and chain[-1] not in chain[:-1]:
        yield about(part, _KEY, "successor-chain", found, "the successor to use", f"name {chain[-1]}, the last of the chain")

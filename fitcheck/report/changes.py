"""What differs between two results, as lines: what went in, then what came out, kind by kind."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.changes.results import Changes, KitChange
from fitcheck.report import words
from fitcheck.report.words import plain

KINDS = {
    "new": "New kits",
    "gone": "Gone",
    "flipped": "Flipped",
    "reordered": "Reordered",
    "figures": "Other figures",
    "headroom": "Other headroom alone",
}


def changes_lines(found: Changes, most: int) -> Iterator[str]:
    """Every cause, then at most `most` kits of each kind (0: all), each with its own causes."""
    yield f"What went in: {words.counted(len(found.causes), 'difference')}."
    yield from (f"  {plain(str(cause))}" for cause in found.causes)
    for kind, title in KINDS.items():
        kits = [kit for kit in found.kits if kit.kind == kind]
        yield f"{title}: {words.counted(len(kits), 'kit') if kits else 'none'}."
        shown = kits[:most] if most else kits
        for kit in shown:
            yield from _kit(kit)
        if len(kits) > len(shown):
            yield f"  and {words.count(len(kits) - len(shown))} more (--most 0 shows all)"
    for name in found.missed:
        yield f"No kit passes any more for {plain(name)}."
    for side in found.partial:
        yield f"The {side} kits.csv holds the best kits only: a kit that is not listed there may be legal all the same."
    if not found.complete:
        yield "Incomplete: a result was made from files of which something could not be read."
    if not found.seen:
        yield "Neither result lists a kit: nothing was compared."
    yield words.AID


def _kit(kit: KitChange) -> Iterator[str]:
    yield f"  {plain(kit.kit)}: {plain(kit.what)}"
    yield from (f"    cause: {plain(cause)}" for cause in kit.causes)

"""What a change of the catalog changes, as lines for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fitcheck.changes.impact import GroupImpact, Impact, Standing
from fitcheck.engine.result import Group
from fitcheck.engine.states import VERDICT_WORDS
from fitcheck.report import words
from fitcheck.report.words import plain


def impact_lines(found: Impact, complete: bool = True) -> Iterator[str]:
    """The entries, then vehicle by vehicle what comes, goes and flips, then vehicles won and lost and parts outdone."""
    yield "Entries: " + (", ".join(f"{entry.family}.{plain(entry.id)} {entry.how}" for entry in found.entries) or "none") + "."
    for group, one in found.groups.items():
        yield from _group(group, one)
    if not found.groups:
        yield "No legal kit is added, lost or changed."
    for flip in found.flips:
        rules = f", by {', '.join(flip.rules)}" if flip.rules else ""
        yield f"Flipped: {flip.kit}: {VERDICT_WORDS[flip.before]} to {VERDICT_WORDS[flip.after]}{rules}"
    total = sum(sum(one.flips.values()) for one in found.groups.values())
    if total > len(found.flips):
        yield f"Flipped: {words.count(total - len(found.flips))} more, counted above."
    yield from (f"First passing kit: {name} has one now." for name in found.gained)
    yield from (f"Last passing kit: {name} has none any more." for name in found.missed)
    for pair in found.bettered:
        yield f"Bettered on every count: {pair.family}.{pair.old} by {pair.family}.{pair.by}"
    yield _judged(found)
    if not complete:
        yield words.INCOMPLETE
    yield words.AID


def _group(group: Group, one: GroupImpact) -> Iterator[str]:
    """One application and train."""
    said = [f"{word} {_counts(counts)}" for word, counts in (("added", one.added), ("lost", one.lost)) if any(counts)]
    if one.kept:
        flipped = sum(one.flips.values())
        how_many = words.count(flipped) if flipped else "none"
        said.append(f"{words.counted(one.kept, 'kit')} with a changed entry, {how_many} flipped")
    yield f"{group[0]}, {words.TRAIN_WORDS[group[1]]}: {'; '.join(said)}."
    for (before, after), number in one.flips.items():
        rules = [f"{rule} {words.count(n)}" for (b, a, rule), n in one.flipped_by.items() if (b, a) == (before, after)]
        by = f" (by {', '.join(rules)})" if rules else ""
        yield f"  {VERDICT_WORDS[before]} to {VERDICT_WORDS[after]}: {words.counted(number, 'kit')}{by}"
    yield from _best(one.best_before, one.best_after)


def _best(before: Standing | None, after: Standing | None) -> Iterator[str]:
    if before != after:
        yield f"  best kit was {_standing(before)}"
        yield f"  best kit is  {_standing(after)}"


def _standing(best: Standing | None) -> str:
    if best is None:
        return "none: every one is rejected, or none is legal"
    verdict, headroom = VERDICT_WORDS[best.verdict], words.headroom(best.headroom)
    return f"{best.kit} ({verdict}, headroom {headroom}, limited by {best.limiting_rule})"


def _counts(counts: Sequence[int]) -> str:
    """Kits in all and by verdict."""
    by = ", ".join(f"{words.count(number)} {word}" for number, word in zip(counts, VERDICT_WORDS, strict=True) if number)
    return f"{words.counted(sum(counts), 'kit')} ({by})"


def _judged(found: Impact) -> str:
    beside = f"; {words.counted(found.beside, 'other kit')} to know which are best" if found.beside else ""
    return f"Judged: {words.counted(found.judged, 'kit')} that hold one of these entries, before and after{beside}."

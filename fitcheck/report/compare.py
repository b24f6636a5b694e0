"""Kits side by side, as lines: only what differs, in a table that a page of 120 columns holds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fitcheck.compare.differences import Better, Cell
from fitcheck.compare.kits import Comparison, Contender, FigureRow, ReasonRow
from fitcheck.compare.kits import Words as WordRow
from fitcheck.compare.order import HEADROOM, NAME, VERDICT
from fitcheck.engine.result import KitTable, Reason
from fitcheck.engine.states import STATE_WORDS, VALUE, VERDICT_WORDS
from fitcheck.engine.table import METRICS
from fitcheck.report import words
from fitcheck.report.outline import fitted
from fitcheck.report.text import aligned
from fitcheck.report.words import plain

LETTERS = "ABCD"
TITLES = {"setup": "Set-up", "does": "What it does", "service": "In the workshop", "box": "The box"}
NOT_LEGAL, NOT_HERE = "not legal", "has none"
LEAKS = {"external": "in the open", "concentric": "beside the disc"}
LABELS = {"setting": "what is set", "limiting_rule": "limiting rule", "leak": "a leak drips", **words.FAMILY_WORDS}
FOOT = (
    "Where a leak drips is common practice, no source.",
    "Better is what the job prefers, or what a rule asks for, up to the headroom that is enough; elsewhere nothing is said.",
)


def kits_lines(found: Comparison) -> Iterator[str]:
    """Which letter is which kit, then a table of what differs, group by group, and the order in which the kits rank."""
    yield from fitted(_legend(found))
    rows = list(_kit_rows(found))
    if found.one_kit:
        yield "One and the same kit: nothing differs."
    elif rows:
        yield ""
        head = ["", *LETTERS[: len(found.kits)], "better"]
        yield from aligned([head, *rows], "<" * len(head))
        yield ""
        yield from fitted(_foot(found))
    yield words.AID


def _legend(found: Comparison) -> Iterator[str]:
    for letter, kit in zip(LETTERS, found.kits, strict=False):
        yield f"{letter}  {kit.kit}"
        yield f"   {_standing(kit)}"
        yield from (f"   {plain(words.sentence(text))}" for text in (kit.unmet.sentences if kit.unmet else ()))
    yield from (f"{LETTERS[first]} and {LETTERS[second]} are the same kit." for first, second in found.doubles)
    if len(found.applications) > 1:
        yield "These kits are for different applications: figures compare, but each is judged by the rules of its own."


def _standing(kit: Contender) -> str:
    if kit.table is None:
        return f"{words.TRAIN_WORDS[kit.train]}; not legal: its interfaces do not meet, so nothing is computed"
    return f"{words.TRAIN_WORDS[kit.train]}; {table_standing(kit.table)}"


def table_standing(table: KitTable) -> str:
    """Verdict, headroom and limiting rule of the one kit of a table."""
    told = f"{VERDICT_WORDS[int(table.verdict[0])]}, headroom {words.headroom(float(table.headroom[0]))}"
    return f"{told}, limited by {table.limiting_rule[0]}" if table.limiting_rule[0] else told


def _kit_rows(found: Comparison) -> Iterator[tuple[str, ...]]:
    """Every group that has something to tell, under its title."""
    groups = [("Verdict", [*_word_rows(found.standing), *_headroom_row(found)])]
    groups.append(("Parts", list(_word_rows(found.parts))))
    for group, title in TITLES.items():
        figures = [_figure_row(row) for row in found.figures[group]]
        groups.append((title, [*_word_rows(found.words.get(group, ())), *figures]))
    groups.append(("Reasons", list(_reason_rows(found))))
    for title, rows in groups:
        if rows:
            yield (title, *("" for _ in found.kits), "")
            yield from rows


def _word_rows(rows: Sequence[WordRow]) -> Iterator[tuple[str, ...]]:
    for row in rows:
        yield f"  {LABELS.get(row.name, row.name)}", *(_word(row.name, text) for text in row.texts), ""


def _word(name: str, text: str | None) -> str:
    if text is None:
        return NOT_LEGAL
    if name == "shims" and text not in ("", "none"):
        return f"{text} mm"
    return LEAKS[text] if name == "leak" else text or NOT_HERE


def _headroom_row(found: Comparison) -> Iterator[tuple[str, ...]]:
    if found.headroom:
        shown = (NOT_LEGAL if room is None else words.headroom(room) for room in found.headroom)
        yield "  headroom", *shown, _letters(found.headroom_better.places)


def _figure_row(row: FigureRow) -> tuple[str, ...]:
    return f"  {row.metric}", *(figure(row.metric, one) for one in row.cells), _better(row.better)


def figure(metric: str, found: Cell | None, more: int = 0) -> str:
    """A figure with its unit, or in words why there is none."""
    if found is None:
        return NOT_LEGAL
    return words.figure(METRICS[metric], found.value, more) if found.state == VALUE else STATE_WORDS[found.state]


def _letters(places: Sequence[int]) -> str:
    return ", ".join(LETTERS[place] for place in places)


def _better(found: Better) -> str:
    """Whose figure is better, and who says so."""
    if not found.places:
        return ""
    return f"{_letters(found.places)}: {found.preference or f'rule {found.rule}'}"


def _reason_rows(found: Comparison) -> Iterator[tuple[str, ...]]:
    """What each kit has against it, where the others have not."""
    for row in found.reasons:
        pairs = zip(row.reasons, found.kits, strict=True)
        yield f"  {row.any.rule}", *(NOT_LEGAL if kit.table is None else _said(reason) for reason, kit in pairs), ""


def _said(reason: Reason | None) -> str:
    if reason is None:
        return "kept"
    return f"{reason.severity}{'' if reason.kind == 'broken' else ': ' + reason.kind}"


def _foot(found: Comparison) -> Iterator[str]:
    """The order of the kits with what decides it, what the broken rules say, and how to read the last column."""
    for pair in found.order:
        yield f"{LETTERS[pair.first]} ranks before {LETTERS[pair.second]}: {_CRITERIA.get(pair.by, pair.by)} decides."
    yield from (_told(row) for row in found.reasons)
    for row in found.remarks:
        yield f"Only {_letters([place for place, text in enumerate(row.texts) if text])}: {plain(words.remark(row.name))}"
    leaks = any(row.name == "leak" for row in found.words["service"])
    yield from FOOT[0 if leaks else 1 :]


def _told(row: ReasonRow) -> str:
    """What a rule says, and the figures of each kit that breaks it."""
    have = [(letter, reason) for letter, reason in zip(LETTERS, row.reasons, strict=False) if reason]
    figures = [f"{letter} {asked}" for letter, reason in have if (asked := words.found_and_asked(reason))]
    beside = f" ({'; '.join(figures)})" if figures else ""
    return plain(f"{', '.join(letter for letter, _ in have)}: {row.any.rule}: {row.any.reason.rstrip('.')}{beside}")


_CRITERIA = {VERDICT: "the verdict", HEADROOM: "headroom, in steps,", NAME: "only the name"}

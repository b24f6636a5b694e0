"""Lines for a terminal: what was found, where it was written, what to type next. Plain text, no colour."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from fitcheck.catalog.parts import FAMILIES
from fitcheck.demo import Copied, interesting_rejection, shown_application
from fitcheck.engine.result import Group, Result
from fitcheck.engine.states import VERDICT_WORDS
from fitcheck.errors import Finding
from fitcheck.report import words
from fitcheck.report.outline import fitted
from fitcheck.report.summary import totals
from fitcheck.report.view import setup_texts


def finding_lines(findings: Iterable[Finding]) -> Iterator[str]:
    """One line a finding, in the order of files and lines."""
    return (words.plain(str(finding)) for finding in sorted(findings))


def count_lines(counts: Mapping[Group, int]) -> Iterator[str]:
    """Legal kits by application and train, and their sum, in plain digits that another program can read."""
    rows = [(application, train, str(number)) for (application, train), number in counts.items()]
    yield from aligned([("application", "train", "legal"), *rows, ("all", "", str(sum(counts.values())))], "<<>")


def screen_lines(result: Result, written: Sequence[Path]) -> Iterator[str]:
    """Verdicts by application and train, what is empty, and the files written."""
    head = ("application", "train", "legal", *VERDICT_WORDS, "best headroom", "limiting rule")
    rows = [_screen_row(result, group) for group in result.legal]
    sums = totals(result)
    total = ("all", "", *(str(sums[name]) for name in ("legal", *VERDICT_WORDS)), "", "")
    yield from aligned([head, *rows, total], "<<>>>>><")
    yield ""
    if not result.complete_rows:
        yield f"kits.csv holds the best {words.count(len(result.kits))} kits; all were judged and counted."
    yield from (f"Written: {words.plain(str(path))}" for path in written)
    yield from _why_lines(result)
    if not result.complete:
        yield words.INCOMPLETE
    yield words.AID


def _why_lines(result: Result) -> Iterator[str]:
    """What is empty, and what to type to know why."""
    yield from fitted(_empty_lines(result))
    for application in list(_empty(result))[:1]:
        yield f"Why, and which part is missing: fitcheck reasons {_typed(result.job.path)} {words.plain(application)}"


def _typed(path: Path) -> str:
    return shlex.quote(words.plain(str(path)))


def _screen_row(result: Result, group: Group) -> tuple[str, ...]:
    best = result.best.get(group)
    first = (words.headroom(float(best.headroom[0])), best.limiting_rule[0]) if best is not None and len(best) else ("", "")
    counts = result.verdicts.get(group, (0, 0, 0))
    return (*group, str(result.legal[group]), *map(str, counts), *first)


def aligned(rows: Sequence[Sequence[str]], sides: str) -> Iterator[str]:
    """Rows of equal columns, each as wide as its widest cell."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(sides))]
    for row in rows:
        yield "  ".join(f"{text:{side}{width}}" for text, side, width in zip(row, sides, widths, strict=True)).rstrip()


def demo_lines(result: Result, copied: Copied, written: Sequence[Path], program: str) -> Iterator[str]:
    """What the demo found, in some twenty lines, and the commands to go on with."""
    yield from fitted(_demo_lines(result, copied, written, program))
    yield "Go on with:"
    folder, job, application = _typed(copied.folder), _typed(copied.job), shown_application(result)
    yield f"  {program} check {folder}    (after changing a part: are the files in order?)"
    yield f"  {program} screen {job}    (judge them all again)"
    for empty in list(_empty(result))[:1]:
        yield f"  {program} reasons {job} {empty}    (why does it have no kit?)"
    yield f"  {program} compare {job} {application}    (which train suits it?)"


def _demo_lines(result: Result, copied: Copied, written: Sequence[Path], program: str) -> Iterator[str]:
    yield _copied_line(copied)
    yield f"Parts read: {_parts(result)}."
    yield _verdict_line(result)
    yield from _empty_lines(result)
    yield from _best_lines(result)
    yield from _rejection_lines(result)
    yield f"Report: {words.plain(str(next(path for path in written if path.suffix == '.html')))}"
    yield words.AID


def _copied_line(copied: Copied) -> str:
    said = [f"{len(names)} {word}" for names, word in ((copied.written, "written"), (copied.reused, "unchanged")) if names]
    kept = f", {len(copied.kept)} kept as you changed them ({', '.join(copied.kept)})" if copied.kept else ""
    return f"Demo files in {words.plain(str(copied.folder))}: {', '.join(said) or 'none new'}{kept}. All of it is invented."


def _parts(result: Result) -> str:
    families = ((family, len(result.catalog.families.get(family, ()))) for family in FAMILIES)
    return ", ".join(words.counted(size, words.family_word(family)) for family, size in families if size)


def _verdict_line(result: Result) -> str:
    sums = totals(result)
    told = ", ".join(f"{words.count(sums[word])} {word}" for word in VERDICT_WORDS)
    return f"Legal kits: {words.count(sums['legal'])}. Verdicts: {told}."


def _empty(result: Result) -> dict[str, str]:
    """Applications without a passing kit, and what nothing does for them: those with legal kits come first."""
    legal: dict[str, int] = {}
    passing: dict[str, int] = {}
    for group, number in result.legal.items():
        legal[group[0]] = legal.get(group[0], 0) + number
        passing[group[0]] = passing.get(group[0], 0) + result.verdicts.get(group, (0, 0, 0))[0]
    found = {name: "passes" if number else "is legal" for name, number in legal.items() if not passing[name]}
    return dict(sorted(found.items(), key=lambda item: item[1], reverse=True))


def _empty_lines(result: Result) -> Iterator[str]:
    """Applications for which nothing passes or is legal, in one sentence."""
    said: dict[str, list[str]] = {}
    for name, word in _empty(result).items():
        said.setdefault(word, []).append(words.plain(name))
    if said:
        yield words.sentence("; ".join(f"nothing {word} for {', '.join(names)}" for word, names in said.items()))


def _best_lines(result: Result) -> Iterator[str]:
    application = shown_application(result)
    part = result.catalog.part("application", application)
    for (name, train), table in result.best.items():
        if name == application and len(table):
            told = f"{VERDICT_WORDS[int(table.verdict[0])]}, headroom {words.headroom(float(table.headroom[0]))}"
            title = f"Best for {words.plain(words.part_name(part, application))}, {words.TRAIN_WORDS[train]}"
            yield f"{title}: {told}, limited by {table.limiting_rule[0]}"
            yield f"  {table.kit[0]}"
            yield f"  set-up: {', '.join(setup_texts(table, 0))}"


def _rejection_lines(result: Result) -> Iterator[str]:
    found = interesting_rejection(result)
    if found is not None:
        reason = next(reason for reason in found.reasons[0] if reason.remedy)
        yield f"Rejected, but near: headroom {words.headroom(float(found.headroom[0]))}"
        yield f"  {found.kit[0]}"
        yield f"  {words.plain(words.reason_line(reason))}. Remedy: {words.plain(words.sentence(reason.remedy))}"

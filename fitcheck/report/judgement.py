"""Frozen kits judged anew, and kits just frozen, for people and for machines. Waivers are shown wherever a kit is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

from fitcheck.bundle_file import Waiver
from fitcheck.bundles.findings import moved
from fitcheck.bundles.freezing import SETUP, Freezing
from fitcheck.bundles.judged_by import FITS
from fitcheck.bundles.judging import Judged, Judgements
from fitcheck.bundles.moves import Move
from fitcheck.bundles.neighbour import Neighbour
from fitcheck.bundles.standing import Change, Standing, Waived
from fitcheck.engine.result import KitTable, Reason
from fitcheck.engine.states import VALUE, VERDICT_WORDS
from fitcheck.engine.table import METRICS
from fitcheck.gates.gate import Gate, Level
from fitcheck.quantities import to_unit
from fitcheck.report.csv import number
from fitcheck.report.summary import finding_values
from fitcheck.report.view import setup_texts
from fitcheck.report.words import AID, CAUTIONS, INCOMPLETE, counted, files_of, headroom, plain, reason_line, sentence

BY_THE_KIT = ("rules.", "fits.")  # findings whose reasons are told with the kit
MOST_MOVED = 5  # figures of a kit that moved and are told unless somebody asks for more


def judge_gate(judgements: Judgements, level: Level, most: int | None = None) -> Gate:
    """The judgement as a gate; its lines tell the findings of each bundle below it, and at most so many figures that moved."""
    return Gate(
        judgements.findings,
        judgements.read,
        judgements.digests,
        judgements.complete,
        level,
        lines=tuple(_judge_lines(judgements, most or MOST_MOVED)),
        in_lines=frozenset(finding for judged in judgements.bundles for finding in judged.findings),
        details={
            "on": judgements.on.isoformat(),
            "bundles": [_bundle_values(judged) for judged in judgements.bundles],
            "passed_over": dict(judgements.passed_over),
            "cautions": list(CAUTIONS),
        },
    )


# --- for people


def _judge_lines(judgements: Judgements, most: int) -> Iterator[str]:
    """Each bundle with its verdict and what is to be known of it, then how many of each: never a clean bill for nothing."""
    for judged in judgements.bundles:
        yield from _bundle_lines(judged, most)
    if judgements.passed_over:
        kinds = Counter(judgements.passed_over.values())
        yield f"Passed over, being no bundles: {files_of(kinds)}."
    grades = Counter(_verdict_word(judged) for judged in judgements.bundles)
    told = ", ".join(f"{grades[word]} {word}" for word in (*VERDICT_WORDS, NOT_JUDGED) if word in VERDICT_WORDS or grades[word])
    yield f"Judged on {judgements.on.isoformat()}: {counted(len(judgements.bundles), 'bundle')}: {told}."
    yield AID


NOT_JUDGED = "not judged"


def _verdict_word(judged: Judged) -> str:
    return VERDICT_WORDS[judged.standing.verdict] if judged.standing else NOT_JUDGED


def _bundle_lines(judged: Judged, most: int) -> Iterator[str]:
    standing = judged.standing
    aside = "" if judged.complete or not standing else "; not all of its catalogs could be read"
    yield f"{judged.file}: {_headline(standing) if standing else NOT_JUDGED}{aside}"
    if standing:
        yield f"  {standing.bundle.kit}"
        yield from _kit_lines(standing.table) if standing.table else ()
        yield from (f"  waiver: {_waiver_line(waived, standing)}" for waived in standing.waivers)
        yield from (f"  changed: {_change_line(change)}" for change in standing.changes)
        yield from (f"  profile: {altered}" for altered in _altered(standing))
        yield from _moved_lines(standing, most)
    else:
        yield from (f"  waiver: {_waiver_text(waiver)} Not judged." for waiver in judged.waivers)
    for finding in judged.findings:
        if not (standing and standing.table and finding.place.key.startswith(BY_THE_KIT)):
            yield f"  {finding}"


def _headline(standing: Standing) -> str:
    """The verdict, and what it was when the kit was frozen where that was another."""
    frozen = standing.bundle.frozen
    now = verdict_text(standing.table) if standing.table else "reject, since its interfaces do not meet"
    if frozen is None or frozen.verdict == VERDICT_WORDS[standing.verdict]:
        return now
    return f"{now}; when frozen, waivers aside: {frozen.verdict}, headroom {headroom(frozen.headroom)}"


def verdict_text(table: KitTable) -> str:
    """The verdict of a kit, its headroom, and the rule that limits it."""
    told = f"{VERDICT_WORDS[int(table.verdict[0])]}, headroom {headroom(float(table.headroom[0]))}"
    return f"{told}, limited by {table.limiting_rule[0]}" if table.limiting_rule[0] else told


def _kit_lines(table: KitTable) -> Iterator[str]:
    """What the fitter sets, and every reason with its remedy."""
    yield f"  set-up: {', '.join(setup_texts(table, 0))}"
    for reason in table.reasons[0]:
        grade = "waived" if reason.kind == "waived" else reason.severity
        remedy = f". Remedy: {sentence(reason.remedy)}" if reason.remedy else ""
        yield f"  {grade}: {reason_line(reason)}{remedy}"


def _waiver_line(waived: Waived, standing: Standing) -> str:
    return f"{_waiver_text(waived.waiver)} {_state(waived, standing.table is not None)}."


def _waiver_text(waiver: Waiver) -> str:
    return f"{waiver.rule}, through {waiver.until.isoformat()}, {waiver.owner}: {sentence(waiver.reason)}"


def _state(waived: Waived, legal: bool) -> str:
    if not waived.known:
        return "No such rule"
    if not waived.waivable:
        return "This rule cannot be waived"
    use = ("used" if waived.used else "not needed") if legal else "of no help to a kit that is not legal"
    return f"{'Ended' if waived.expired else 'In force'}, {use}"


def _altered(standing: Standing) -> Iterator[str]:
    """What the profile asks otherwise, item by item."""
    change = standing.profile_change
    if change:
        yield from map(str, change.altered)
        yield from [FITS] if change.fits else []


def _moved_lines(standing: Standing, most: int) -> Iterator[str]:
    """The weightiest figures that moved, and how many more did; what a fitter sets has findings of its own."""
    moves = [move for move in standing.moves if not move.setup]
    for move in moves[:most]:
        by = f", headroom of {move.rule} {' -> '.join(map(headroom, move.headrooms))}" if move.headrooms else ""
        yield f"  moved: {moved(move)}{by}"
    if len(moves) > most:
        order = f"judged ones first, by headroom up to {standing.profile.headroom_enough:g}, the others by share"
        yield f"  And {counted(len(moves) - most, 'more figure')} moved ({order}): --most {len(moves)} shows them."


def _change_line(change: Change) -> str:
    words = {
        True: "another text, the same values",
        False: "other values",
        None: "not as it was, in text or values",
    }
    return f"{change.family}.{change.part.id} at {change.part.place}: {words[change.same_values]}"


def freeze_lines(freezing: Freezing, written: Path | None, complete: bool = True) -> Iterator[str]:
    """What was frozen and how it is judged, waivers aside; what is said of a kit that is not legal."""
    yield freezing.kit
    if freezing.table:
        yield f"  {verdict_text(freezing.table)}"
        yield from map(plain, _kit_lines(freezing.table))
    for text in freezing.unmet.sentences if freezing.unmet else ():
        yield f"  not legal: {plain(text)}"
    yield from (f"  waiver kept: {plain(_waiver_text(waiver))}" for waiver in freezing.waivers)
    yield f"Written: {plain(str(written))}" if written else "Nothing was written: only legal kits can be frozen."
    if not complete:
        yield INCOMPLETE
    yield AID


# --- for machines


def _bundle_values(judged: Judged) -> dict[str, Any]:
    values: dict[str, Any] = {"file": judged.file, "complete": judged.complete, "verdict": None}
    values |= {"findings": finding_values(judged.findings), "inputs": dict(judged.digests)}
    values["waivers"] = [_waiver_values(waiver, None) for waiver in judged.waivers]
    return values | (_standing_values(judged.standing) if judged.standing else {})


def _standing_values(standing: Standing) -> dict[str, Any]:
    bundle, table, frozen = standing.bundle, standing.table, standing.bundle.frozen
    return {
        "kit": bundle.kit,
        "train": bundle.train,
        "parts": dict(bundle.parts),
        "verdict": VERDICT_WORDS[standing.verdict],
        "headroom": number(float(table.headroom[0])) if table else "",
        "limiting_rule": table.limiting_rule[0] if table else "",
        "legal": table is not None,
        "fits_that_do_not_meet": list(standing.unmet.fits) if standing.unmet else [],
        "frozen": {"verdict": frozen.verdict, "headroom": number(frozen.headroom), "version": frozen.version} if frozen else None,
        "setup": _setup_values(table) if table else {},
        "reasons": [_reason_values(reason) for reason in table.reasons[0]] if table else [],
        "waivers": [_waiver_values(waived.waiver, waived) for waived in standing.waivers],
        "changes": [_change_values(change) for change in standing.changes],
        "moves": [_move_values(move) for move in standing.moves],
        "profile": _profile_values(standing),
        "nearest_legal": _neighbour_values(standing.neighbour),
    }


def _shown(metric: str, value: float | None) -> str:
    return "" if value is None else number(float(to_unit(value, METRICS[metric].unit)))


def _setup_values(table: KitTable) -> dict[str, str]:
    known = [name for name in SETUP if int(table.states[name][0]) == VALUE]
    figures = {METRICS[name].column: _shown(name, float(table.metrics[name][0])) for name in known}
    return figures | ({"shims": table.shims[0]} if table.train[0] == "concentric" else {})


def _reason_values(reason: Reason) -> dict[str, str]:
    return {
        "rule": reason.rule,
        "metric": reason.metric,
        "unit": METRICS[reason.metric].unit,
        "kind": reason.kind,
        "severity": reason.severity,
        "value": _shown(reason.metric, reason.value),
        "bound": reason.bound,
        "limit": _shown(reason.metric, reason.limit),
        "headroom": number(reason.headroom),
        "reason": reason.reason,
        "remedy": reason.remedy,
        "source": reason.source,
    }


def _profile_values(standing: Standing) -> dict[str, Any] | None:
    """What the profile asks otherwise than when the kit was frozen; null where the bundle does not hold what it asked then."""
    if not standing.bundle.judged_by:
        return None
    change = standing.profile_change
    altered = [asdict(each) for each in change.altered] if change else []
    return {"changed": change is not None, "altered": altered, "fits_changed": change is not None and change.fits}


def _neighbour_values(near: Neighbour | None) -> dict[str, str] | None:
    return asdict(near) | {"verdict": VERDICT_WORDS[near.verdict]} if near else None


def _waiver_values(waiver: Waiver, waived: Waived | None) -> dict[str, Any]:
    """A waiver and how it stands; null where the kit could not be judged."""
    return {
        "rule": waiver.rule,
        "reason": waiver.reason,
        "owner": waiver.owner,
        "until": waiver.until.isoformat(),
        "in_force": waived and waived.in_force,
        "expired": waived and waived.expired,
        "used": waived and waived.used,
        "known": waived and waived.known,
        "waivable": waived and waived.waivable,
    }


def _change_values(change: Change) -> dict[str, Any]:
    place = change.part.place
    return {
        "family": change.family,
        "id": change.part.id,
        "file": place.file,
        "line": place.line,
        "same_values": change.same_values,
    }


def _move_values(move: Move) -> dict[str, Any]:
    return {
        "metric": move.metric,
        "unit": METRICS[move.metric].unit,
        "then": _shown(move.metric, move.then),
        "now": _shown(move.metric, move.now),
        "setup": move.setup,
        "rule": move.rule,
        "headroom_then": number(move.headrooms[0]) if move.headrooms else "",
        "headroom_now": number(move.headrooms[1]) if move.headrooms else "",
    }

"""How a bundle stands, as findings: one for each rule, fit, waiver, entry and set-up figure that is not as it should be."""

from __future__ import annotations

from collections.abc import Iterator
from math import isinf
from typing import Literal

from fitcheck.bundle_file import Waiver, waiver_findings
from fitcheck.bundles.judged_by import digest_of_judged, text_of
from fitcheck.bundles.moves import Move
from fitcheck.bundles.parts import parts_of, superseded_parts
from fitcheck.bundles.standing import Change, Standing, Waived
from fitcheck.engine.result import Reason
from fitcheck.engine.states import ABSENT, STATE_WORDS, VALUE, VERDICT_WORDS
from fitcheck.engine.table import METRICS
from fitcheck.engine.verdict import applicable
from fitcheck.errors import Finding, Place
from fitcheck.quantities import to_unit

FREEZE = "look at it, and freeze the kit anew"
MOST_MOVES = 3  # figures that are named beside a changed entry; a list of all stands elsewhere


def findings_of(standing: Standing) -> tuple[Finding, ...]:
    """Everything that speaks against the kit, or should be known of it, in the order of the bundle's lines."""
    found = [*_unmet(standing), *_rules(standing), *waiver_findings(standing.bundle.source, standing.profile)]
    for waived in standing.waivers:
        found += _waiver(standing, waived)
    for change in standing.changes:
        found += _change(standing, change)
    found += [*_profile(standing), *superseded_parts(standing.bundle, standing.catalog)]
    return tuple(sorted({*found, *_not_frozen(standing), *_moved(standing)}))


def figure(metric: str, value: float | None, state: int = ABSENT, digits: int = 6) -> str:
    """A figure with its unit, as exact as anybody needs to compare it by eye, or why there is none."""
    if value is None:
        return STATE_WORDS[state]
    unit, decimals = METRICS[metric].unit, METRICS[metric].decimals
    if isinf(value):
        return text_of(value, unit)
    return f"{round(float(to_unit(value, unit)), decimals + digits) + 0.0:.{digits}g} {unit}".rstrip()  # 1e-15 mm is none


def moved(move: Move) -> str:
    """What a figure was and is."""
    return f"{move.metric} {figure(move.metric, move.then)} -> {figure(move.metric, move.now, move.state)}"


def _kit_place(standing: Standing, key: str) -> Place:
    """The parts of the kit, in the name of what judges them."""
    return standing.bundle.place("parts")._replace(key=key)


def _unmet(standing: Standing) -> Iterator[Finding]:
    """A kit that is not legal: every fit that does not meet."""
    fits = {fit.name: fit for fit in standing.profile.fits}
    for name, sentence in zip(standing.unmet.fits, standing.unmet.sentences, strict=True) if standing.unmet else ():
        found = _not_fitted(standing) if fits[name].kind == "fitted" else sentence
        wanted = f"parts that meet at {name}: {fits[name].reason.rstrip('.')}"
        mend = "; ".join([fits[name].remedy.rstrip("."), *_instead(standing)])
        yield Finding(_kit_place(standing, f"fits.{name}"), "unmet-fit", found, wanted, mend)


def _instead(standing: Standing) -> Iterator[str]:
    """The nearest legal kit."""
    near = standing.neighbour
    if near:
        verdict = VERDICT_WORDS[near.verdict]
        yield f"the nearest legal kit has {near.family} {near.new} in place of {near.old} (its verdict: {verdict})"


def _not_fitted(standing: Standing) -> str:
    """Which parts the vehicle has and keeps, and the kit has not."""
    parts = standing.bundle.parts
    kept = parts_of(standing.catalog)["application"].values.get("fitted", {})
    others = [f"the {family} {own}, not {parts[family]}" for family, own in kept.items() if parts.get(family, own) != own]
    return f"the application keeps {' and '.join(others)}"


def _rules(standing: Standing) -> Iterator[Finding]:
    for reason in standing.table.reasons[0] if standing.table else ():
        severity: Literal["error", "caution"] = "error" if reason.severity == "reject" else "caution"
        place = _kit_place(standing, f"rules.{reason.rule}")
        problem = {"broken": "broken-rule", "waived": "waived-rule"}.get(reason.kind, reason.kind.replace(" ", "-"))
        waived = [each.waiver for each in standing.waivers if each.in_force and each.waiver.rule == reason.rule]
        aside = "".join(f", {waiver_text(waiver)}" for waiver in waived) if reason.kind == "waived" else ""
        yield Finding(place, problem, f"{_found(reason)}{aside}", _asked(reason), reason.remedy.rstrip("."), severity)


def waiver_text(waiver: Waiver) -> str:
    """Who lets the rule be broken, how long and why."""
    return f"waived through {waiver.until.isoformat()} by {waiver.owner}: {waiver.reason.rstrip('.')}"


def _found(reason: Reason) -> str:
    if reason.kind == "not given":
        return reason.reason
    if reason.value is None:
        return f"{reason.metric} that cannot be computed: {reason.reason}"
    near = reason.limit is not None and figure(reason.metric, reason.value) == figure(reason.metric, reason.limit)
    return f"{reason.metric} {figure(reason.metric, reason.value, digits=12 if near else 6)}"


def _asked(reason: Reason) -> str:
    if reason.limit is None:
        return f"a value of {reason.metric}"
    bound = {"lower": "at least", "upper": "at most"}[reason.bound]
    return f"{bound} {figure(reason.metric, reason.limit)}: {reason.reason.rstrip('.')}"


def _waiver(standing: Standing, waived: Waived) -> Iterator[Finding]:
    """A waiver whose time is over, or that nothing needs."""
    waiver = waived.waiver
    of = f"a waiver of {waiver.rule} by {waiver.owner}"
    if waived.expired:
        found = f"{of} that ended with {waiver.until.isoformat()}"
        mend = "mend the kit, or let its owner decide anew"
        yield Finding(waiver.place, "expired-waiver", found, f"one that holds on {standing.on.isoformat()}", mend, "caution")
    if waived.known and not waived.used and standing.table:
        found = f"{of} that nothing needs: {_idle(standing, waiver.rule)}"
        yield Finding(waiver.place, "unused-waiver", found, "waivers of broken rules", "take the waiver away", "caution")


def _idle(standing: Standing, name: str) -> str:
    """Why a waiver of a rule lets nothing pass."""
    rules = {
        rule.name: rule for rule in applicable(standing.profile, standing.bundle.parts["application"], standing.bundle.train)
    }
    if name not in rules or standing.table is None:
        return "the rule is for other trains or vehicles"
    state = int(standing.table.states[rules[name].metric][0])
    return (
        "the kit keeps the rule"
        if state == VALUE
        else f"{rules[name].metric} {STATE_WORDS[state]}, and no waiver makes up for it"
    )


def _change(standing: Standing, change: Change) -> Iterator[Finding]:
    """An entry whose values changed; of one that only reads differently it is told elsewhere, since it asks for nothing."""
    if change.same_values:
        return
    place = standing.bundle.place("parts", change.family) if change.family != "linkage" else standing.bundle.place("parts")
    found = f"{change.family}.{change.part.id} ({change.part.place}) changed: {_effect(standing)}"
    yield Finding(place, "changed-entry", found, "the entry as it was frozen", FREEZE, "caution")


def _effect(standing: Standing) -> str:
    """What a change did to the numbers."""
    if standing.table is None:
        return "the kit is no longer legal"
    if not standing.moves:
        held = standing.bundle.figures or standing.bundle.setup
        return "no figure moved" if held else "the bundle holds no figures to compare"
    told = ", ".join(moved(move) for move in standing.moves[:MOST_MOVES])
    more = len(standing.moves) - MOST_MOVES
    return told + (f" and {more} more" if more > 0 else "")


def _profile(standing: Standing) -> Iterator[Finding]:
    """A profile that judges otherwise than when the kit was frozen, and what came of it; and what was kept of it, if edited."""
    place = standing.bundle.place("judged_by")
    then = standing.bundle.judged_by
    if then and then.digest != digest_of_judged(then):
        found = "rules, assumptions or a digest edited since the kit was frozen"
        yield Finding(place, "edited-bundle", found, "what the kit was judged by, as it was frozen", FREEZE, "caution")
    if standing.profile_change:
        found = f"the profile judges otherwise: {standing.profile_change}. What came of it: {_outcome(standing)}"
        yield Finding(place, "changed-profile", found, "the profile by which the kit was frozen", FREEZE, "caution")


def _outcome(standing: Standing) -> str:
    """The verdict, headroom, limiting rule and figures, where they are not what they were; what changed beside is told too."""
    then, table = standing.bundle.frozen, standing.aside
    figures = "entries changed too" if standing.changes else _effect(standing)
    if table is None:
        return f"the kit is no longer legal{f'; {figures}' if standing.changes else ''}"
    now = (VERDICT_WORDS[int(table.verdict[0])], f"{float(table.headroom[0]):.4g}", table.limiting_rule[0])
    was = (then.verdict, f"{then.headroom:.4g}", then.limiting_rule) if then else now
    words = ("verdict", "headroom", "limiting rule")
    told = [f"{word} {old or 'none'} -> {new or 'none'}" for word, old, new in zip(words, was, now, strict=True) if old != new]
    waived = ", waivers aside" if told and standing.waivers else ""
    return f"{', '.join(told) or 'verdict and headroom stay'}{waived}; {figures}"


def _not_frozen(standing: Standing) -> Iterator[Finding]:
    """Entries, or a profile, of which nobody can tell whether they changed."""
    if standing.not_frozen:
        found = f"no digest of {', '.join(standing.not_frozen)}, so that a change there goes unseen"
        place = standing.bundle.place("digests")
        yield Finding(place, "no-digest", found, "a digest of each entry and of the profile", "freeze the kit anew", "caution")


def _moved(standing: Standing) -> Iterator[Finding]:
    """Set-up figures that moved; where no entry changed, whatever else moved, for then rules or program did it."""
    for move in (move for move in standing.moves if move.setup):
        place = standing.bundle.place("setup", move.metric)
        found, expected = f"{move.metric} {figure(move.metric, move.now, move.state)}", figure(move.metric, move.then)
        mend = "tell those who fit it, and freeze the kit anew"
        yield Finding(place, "moved-setup", found, f"{expected}, as frozen", mend, "caution")
    if standing.shims_moved:
        place = standing.bundle.place("setup", "shims")
        found, expected = f"shims {standing.shims}", f"{standing.bundle.shims}, as frozen"
        yield Finding(place, "moved-setup", found, expected, "tell those who fit it, and freeze the kit anew", "caution")
    others = [move for move in standing.moves if not move.setup]
    if others and not standing.changes and not standing.profile_change:
        found = f"figures that moved though no entry and no rule changed: {_effect(standing)}"
        expected = "the figures as they were frozen"
        then, old = standing.bundle.frozen, "profile" in standing.not_frozen
        by = f"version {then.version or 'unknown'} of the program" if then else "another version of the program"
        mend = f"it was frozen by {by}{', perhaps with other assumptions' if old else ''}: {FREEZE}"
        yield Finding(standing.bundle.place("figures"), "moved-figures", found, expected, mend, "caution")

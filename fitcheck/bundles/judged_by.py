"""What a kit is judged by: the part of a profile that counts for it, kept in its bundle and held against the profile of today."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from hashlib import sha256
from typing import Any

from fitcheck.bundle_file import INFINITE, JudgedBy
from fitcheck.catalog.parts import TRAINS
from fitcheck.engine.table import METRICS
from fitcheck.engine.verdict import applicable
from fitcheck.profile import ASSUMPTION_UNITS, Fit, Profile, Rule
from fitcheck.quantities import to_unit

FITS = "the fits are not what they were"
_REMARKS = frozenset({"reason", "remedy", "source", "place"})  # what is said of a fit, not what it asks


@dataclass(frozen=True)
class Altered:
    """One rule or assumption that is not what it was; `then` or `now` is None where there was or is none."""

    kind: str  # rule or assumption
    name: str
    then: str | None
    now: str | None

    def __str__(self) -> str:
        """What became of it, in a few words."""
        if self.then is None:
            return f"{self.kind} {self.name} is new ({self.now})"
        if self.now is None:
            return f"{self.kind} {self.name} is gone ({self.then})"
        was, now = self.then.split(", "), self.now.split(", ")
        gone, new = (", ".join(word for word in one if word not in other) for one, other in ((was, now), (now, was)))
        if gone and new:
            return f"{self.kind} {self.name}: {gone} -> {new}"
        return f"{self.kind} {self.name}: {f'now also {new}' if new else f'no longer {gone}'}"


@dataclass(frozen=True)
class ProfileChange:
    """A profile that judges otherwise than it did when the kit was frozen; where no rule or assumption did it, the fits did."""

    altered: tuple[Altered, ...]
    fits: bool  # whether the fits are not what they were

    def __str__(self) -> str:
        """All that is not what it was."""
        return "; ".join([*map(str, self.altered), *([FITS] if self.fits else [])])


def judged_by(profile: Profile, application: str, train: str) -> JudgedBy:
    """The values of a profile that count for a kit: its assumptions, and the fits and rules for that application and train."""
    fits = digest_of({fit.name: _asked(fit) for fit in profile.fits if _families(fit) <= set(TRAINS[train])})
    assumptions = {name: text_of(value, ASSUMPTION_UNITS[name]) for name, value in sorted(asdict(profile.assumptions).items())}
    rules = {rule.name: _rule_text(rule) for rule in applicable(profile, application, train)}
    judged = JudgedBy("", fits, assumptions, rules)
    return replace(judged, digest=digest_of_judged(judged))


def digest_of_judged(judged: JudgedBy) -> str:
    """The digest that belongs to what is kept of a profile."""
    return digest_of({"fits": judged.fits, "assumptions": judged.assumptions, "rules": judged.rules})


def profile_change(then: JudgedBy | None, now: JudgedBy) -> ProfileChange | None:
    """What changed between two of them; None where nothing that counts did, or where it was not kept."""
    if then is None or replace(then, digest="") == replace(now, digest=""):
        return None
    pairs = (("assumption", then.assumptions, now.assumptions), ("rule", then.rules, now.rules))
    altered = tuple(
        Altered(kind, name, was.get(name), known.get(name))
        for kind, was, known in pairs
        for name in sorted({*was, *known})
        if was.get(name) != known.get(name)
    )
    return ProfileChange(altered, then.fits != now.fits)


def digest_of(value: Mapping[str, Any]) -> str:
    """SHA-256 of plain values as canonical JSON, numbers to twelve digits, so that the last bit of a conversion is no change."""
    text = json.dumps(plain(value), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def plain(value: Any) -> Any:
    """The same with every number as text of twelve digits."""
    if isinstance(value, Mapping):
        return {key: plain(below) for key, below in value.items()}
    if isinstance(value, list | tuple):
        return [plain(below) for below in value]
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    return f"{value + 0.0:.12g}"


def text_of(value: float, unit: str, digits: int = 12) -> str:
    """An SI value in a unit, as a bundle writes it."""
    endless = {number: text for text, number in INFINITE.items()}
    if value in endless:
        return endless[value]
    return f"{float(to_unit(value, unit)) + 0.0:.{digits}g} {unit}".rstrip()


def _families(fit: Fit) -> set[str]:
    return {field.partition(".")[0] for field in fit.fields}


def _asked(fit: Fit) -> dict[str, Any]:
    return {key: value for key, value in asdict(fit).items() if key not in _REMARKS}


def _rule_text(rule: Rule) -> str:
    """All that a rule asks, in words that are the same for the same values, whatever unit they were written in."""
    unit = METRICS[rule.metric].unit
    low = "" if rule.lower is None else f" at least {text_of(rule.lower, unit)}"
    high = "" if rule.upper is None else f" at most {text_of(rule.upper, unit)}"
    aside = ("" if rule.waivable else ", not to be waived") + (", only said where not given" if rule.not_given == "said" else "")
    return f"{rule.metric}{low}{' and' if low and high else ''}{high}, {rule.severity}, scale {text_of(rule.scale, unit)}{aside}"

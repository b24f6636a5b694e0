"""Verdict and legality for the oracle, by brute force: every rule and every fit of one kit, one after the other."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

HAIR = 1e-9
SLACK = 1e-9  # a length that is a sum of pieces may miss an equal one by a rounding error


@dataclass(frozen=True)
class Judgement:
    """What the rules say of one kit."""

    verdict: str
    headroom: float
    limiting: str
    broken: tuple[str, ...]  # names of rules, or of metrics that cannot be computed and that no rule names
    missing: tuple[str, ...]  # fields that a rule would have needed


def _in_force(rules: Iterable[Any], train: str, application: str) -> list[Any]:
    return [
        rule for rule in rules if rule.train in (None, train) and (rule.applications is None or application in rule.applications)
    ]


def margins_of(rules: Iterable[Any], train: str, application: str) -> dict[str, float]:
    """What the rejecting rules ask of the set-up window: m, u, v, r."""
    mine = [rule for rule in _in_force(rules, train, application) if rule.severity == "reject"]

    def lower(metric: str) -> float:
        return max((rule.lower for rule in mine if rule.metric == metric and rule.lower is not None), default=0.0)

    over = [rule.upper for rule in mine if rule.metric == "overtravel" and rule.upper is not None]
    return {
        "m": lower("release_margin"),
        "u": lower("wear_reserve"),
        "v": lower("stroke_reserve"),
        "r": -min(over, default=0.0) + 0.0,
    }


def headroom_of(rule: Any, value: float) -> float:
    """Headroom of one rule; not a number never passes."""
    if math.isnan(value):
        return -math.inf
    rooms = [math.inf]
    if rule.lower is not None:
        rooms.append((value - rule.lower) / rule.scale)
    if rule.upper is not None:
        rooms.append((rule.upper - value) / rule.scale)
    return min(rooms)


def judge(metrics: Mapping[str, Any], rules: Iterable[Any], train: str, application: str) -> Judgement:
    """Verdict, headroom, limiting rule, what is broken, what is missing."""
    rooms: list[tuple[float, str, bool]] = []  # headroom, name, whether it rejects when broken
    missing: set[str] = set()
    mine = _in_force(rules, train, application)
    for rule in mine:
        state, value, reason = metrics[rule.metric]
        if state == "value":
            rooms.append((headroom_of(rule, value), rule.name, rule.severity == "reject"))
        elif state == "cannot":
            rooms.append((-math.inf, rule.name, True))
        elif state == "not given" and rule.not_given != "said":
            missing |= set(reason)
    ruled = {rule.metric for rule in mine}
    entries = {name: entry for name, entry in metrics.items() if isinstance(entry, tuple) and len(entry) == 3}
    rooms += [(-math.inf, name, True) for name, entry in entries.items() if entry[0] == "cannot" and name not in ruled]
    return _sum_up(rooms, missing)


def _sum_up(rooms: list[tuple[float, str, bool]], missing: set[str]) -> Judgement:
    broken = [(name, rejects) for room, name, rejects in rooms if room < -HAIR]
    rejected = any(rejects for _, rejects in broken)
    sought = [(room, name) for room, name, rejects in rooms if rejects or not rejected]
    headroom = min((room for room, _ in sought), default=math.inf)
    limiting = min((name for room, name in sought if room <= headroom + HAIR), default="")
    verdict = "reject" if rejected else "caution" if broken or missing else "pass"
    return Judgement(verdict, headroom, limiting, tuple(sorted(name for name, _ in broken)), tuple(sorted(missing)))


def _values(part: Any) -> Mapping[str, Any]:
    values: Mapping[str, Any] = part if isinstance(part, Mapping) else part.values
    return values


def _id(part: Any) -> str:
    return str(part["id"] if isinstance(part, Mapping) else part.id)


def _field(parts: Mapping[str, Any], name: str) -> Any:
    """A field of the catalog, or a word derived from one; None where the catalog leaves it out."""
    family, field = name.split(".")
    values = _values(parts[family])
    pieces = values.get("pieces", ())
    derived: dict[str, Callable[[], Any]] = {
        "line.inlet": lambda: pieces[0]["inlet"],
        "line.outlet": lambda: pieces[-1]["outlet"],
        "line.length": lambda: math.fsum(p.get("length", 0.0) for p in pieces),
        "line.liner": lambda: tuple(sorted({p["liner"] for p in pieces if p["kind"] == "hose"})),
        "slave.rest": lambda: "contact" if values["preload"] > 0 else "bottomed",
        "application.return_spring": lambda: "yes" if values["fork_return_force"] > 0 else "no",
        "pressure_plate.spring": lambda: "diaphragm" if "diaphragm" in values else "curve",
        "disc.cushion": lambda: "yes" if values["cushion_travel"] > 0 else "none",
    }
    return derived[name]() if name in derived else values.get(field)


def _one_of(words: list[Any], allowed: Iterable[tuple[Any, ...]]) -> bool:
    """Whether every choice of one member from each (a plain word has one) stands together in a row."""
    for i, word in enumerate(words):
        if isinstance(word, tuple):
            return all(_one_of([*words[:i], member, *words[i + 1 :]], allowed) for member in word)
    return tuple(words) in [tuple(row) for row in allowed]


def _met(fit: Any, parts: Mapping[str, Any]) -> bool:
    if fit.kind == "fitted":
        fitted = _values(parts["application"]).get("fitted", {})
        return all(_id(parts[family]) == wanted for family, wanted in fitted.items() if family in parts)
    found = [_field(parts, name) for name in fit.fields]
    if any(value is None for value in found):
        return False
    if fit.kind == "allowed":
        return _one_of(found, fit.allowed)
    a, b = found
    if fit.kind == "equal":
        return bool(a == b and a != "none")
    if fit.kind == "at_most":
        return bool(a <= b + SLACK)
    if fit.kind == "inside":
        return bool(b[0] - SLACK <= a <= b[1] + SLACK)
    low = -math.inf if fit.lower is None else fit.lower
    high = math.inf if fit.upper is None else fit.upper
    return bool(low - SLACK <= a - b <= high + SLACK)


def legal(train: str, parts: Mapping[str, Any], fits: Iterable[Any], application: Any = None) -> list[str]:
    """Names of the fits that a kit does not meet. Parts are catalog parts, or plain mappings with their `id` inside."""
    here = dict(parts) if application is None or isinstance(application, str) else {**parts, "application": application}
    dropped = ("slave", "fork", "bearing") if train == "concentric" else ("concentric",)
    here = {family: part for family, part in here.items() if family not in dropped}
    applying = [fit for fit in fits if all(name.split(".")[0] in here for name in fit.fields)]
    return sorted(fit.name for fit in applying if not _met(fit, here))

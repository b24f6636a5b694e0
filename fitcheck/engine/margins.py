"""What the set-up window takes from the rules: the bounds that rejecting rules put on the ends of travel and stroke."""

from __future__ import annotations

from collections.abc import Iterable

from fitcheck.profile import Rule

# What the plan is given, and the metric whose bound it is; of `overtravel` it is less the bound.
_LOWER = {"release_bound": "release_margin", "wear_bound": "wear_reserve", "stroke_bound": "stroke_reserve"}
_UPPER = {"travel_reserve": "overtravel"}


def margin_rules(rules: Iterable[Rule], application: str, train: str) -> dict[str, Rule | None]:
    """The strictest rules on release_margin, wear_reserve and stroke_reserve (from below) and on overtravel (from above).

    Only rejecting rules count, waived ones too, so that set-up figures do not move when a waiver ends.
    """
    rejecting = [
        rule
        for rule in rules
        if rule.severity == "reject"
        and rule.train in (None, train)
        and (rule.applications is None or application in rule.applications)
    ]
    lower = {
        name: max((rule for rule in rejecting if rule.metric == metric and rule.lower is not None), key=_least, default=None)
        for name, metric in _LOWER.items()
    }
    upper = {
        name: min((rule for rule in rejecting if rule.metric == metric and rule.upper is not None), key=_most, default=None)
        for name, metric in _UPPER.items()
    }
    return lower | upper


def _least(rule: Rule) -> float:
    assert rule.lower is not None  # others were left out
    return rule.lower


def _most(rule: Rule) -> float:
    assert rule.upper is not None  # others were left out
    return rule.upper


def margins_of(rules: Iterable[Rule], application: str, train: str) -> dict[str, float]:
    """The bounds of those rules, that on overtravel with its sign turned; 0 where there is no such rule."""
    asking = margin_rules(rules, application, train)
    lower = {name: 0.0 if (rule := asking[name]) is None else _least(rule) for name in _LOWER}
    upper = {name: 0.0 if (rule := asking[name]) is None else -_most(rule) for name in _UPPER}
    return lower | upper

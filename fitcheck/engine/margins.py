"""What the set-up window takes from the rules: the bounds that rejecting rules put on the ends of travel and stroke."""

from __future__ import annotations

from collections.abc import Iterable

from fitcheck.profile import Rule


def margins_of(rules: Iterable[Rule], application: str, train: str) -> dict[str, float]:
    """Greatest lower bounds on release_margin, wear_reserve and stroke_reserve, and less the least upper bound on overtravel.

    Only rejecting rules count, waived ones too, so that set-up figures do not move when a waiver ends; 0 where there is none.
    """
    rejecting = [
        rule
        for rule in rules
        if rule.severity == "reject"
        and rule.train in (None, train)
        and (rule.applications is None or application in rule.applications)
    ]

    def greatest(metric: str) -> float:
        return max((rule.lower for rule in rejecting if rule.metric == metric and rule.lower is not None), default=0.0)

    uppers = [rule.upper for rule in rejecting if rule.metric == "overtravel" and rule.upper is not None]
    return {
        "release_bound": greatest("release_margin"),
        "wear_bound": greatest("wear_reserve"),
        "stroke_bound": greatest("stroke_reserve"),
        "travel_reserve": -min(uppers) if uppers else 0.0,
    }

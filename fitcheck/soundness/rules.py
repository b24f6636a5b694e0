"""Rules that never decide, contradict each other or can never be met: told from the profile, the catalog, and its legal kits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import permutations

from fitcheck.catalog.parts import Catalog
from fitcheck.engine.legality import TRAINS
from fitcheck.engine.result import Result
from fitcheck.engine.table import METRICS
from fitcheck.engine.verdict import applicable
from fitcheck.errors import Finding, Place
from fitcheck.profile import Profile, Rule
from fitcheck.profile_file import applications_missing
from fitcheck.quantities import to_unit
from fitcheck.soundness.doubts import listed

# The one field that a metric cannot do without; where no part gives it, its rules cannot decide.
_NEEDS = {
    "bleed_lift": ("application", "wheelbase"),
    "thrust_use": ("application", "thrust_limit"),
    "effort_vs_linkage": ("application", "linkage"),
    "reservoir_spare": ("master", "reservoir_room"),
    "warm_creep": ("fluid", "expansion"),
    "rod_turn": ("slave", "rod_pitch"),
    "sleeve_engagement": ("bearing", "guide_rear"),
}


def rule_doubts(profile: Profile, catalog: Catalog) -> Iterator[Finding]:
    """What rules say against each other, and rules that this catalog gives nothing to decide."""
    for one, other in permutations(profile.rules, 2):
        if one.metric == other.metric and _meet(one, other):
            yield from _against(one, other)
    for rule in profile.rules:
        yield from _nothing_to_judge(rule, catalog)
    if catalog.families.get("application"):
        yield from applications_missing(profile, catalog)


def kit_doubts(results: Sequence[Result], profile: Profile) -> Iterator[Finding]:
    """Rules that no legal kit of any result breaks, and rules that every one breaks; without a kit nothing is known."""
    for rule in profile.rules:
        judged = [(result, group) for result in results for group in result.legal if rule in applicable(profile, *group)]
        legal = sum(result.legal[group] for result, group in judged)
        broken = sum(result.broken_by.get(group, {}).get(rule.name, 0) for result, group in judged)
        if not legal:
            continue
        if broken == legal:
            wanted = f"a rule that something meets; each of the {legal} legal kits breaks it"
            yield _told(rule, "never-met", _bounds(rule), wanted, "check its bounds, or what the catalog lacks")
        if not broken:
            wanted = f"a rule that tells kits apart; none of {legal} legal kits breaks it"
            yield _told(rule, "never-decides", _bounds(rule), wanted, "keep it as a guard, or tighten or drop it")


def _meet(one: Rule, other: Rule) -> bool:
    """Whether there are kits that both rules judge."""
    trains = one.train is None or other.train is None or one.train == other.train
    both = one.applications is None or other.applications is None or bool({*one.applications} & {*other.applications})
    return trains and both


def _against(one: Rule, other: Rule) -> Iterator[Finding]:
    """The first rule asks for more than the second lets through, or for nothing that the second does not ask for."""
    if one.lower is not None and other.upper is not None and one.lower > other.upper:
        strict = one.severity == other.severity == "reject"
        found = f"{_bounds(one)} beside {other.name}, {_bounds(other)}"
        mend = "change one of the bounds, or limit the rules to a train or to applications"
        yield _told(one, "contradiction", found, "rules that can be kept together", mend, strict)
    elif _covers(other, one) and not (_covers(one, other) and one.name < other.name):
        found = f"{_bounds(one)} beside {other.name}, {_bounds(other)}, which is as strict or stricter"
        yield _told(one, "never-decides", found, "a rule that decides something", "tighten it, or take one of the two away")


def _covers(strict: Rule, mild: Rule) -> bool:
    """Whether a kit that breaks the mild rule always breaks the strict one too, which weighs as much or more."""
    asked = mild.not_given == "said" or strict.not_given == "caution"  # or a kit without the figure is the mild one's alone
    wide = strict.train in (None, mild.train) and (
        strict.applications is None or (mild.applications is not None and {*mild.applications} <= {*strict.applications})
    )
    lower = mild.lower is None or (strict.lower is not None and strict.lower >= mild.lower)
    upper = mild.upper is None or (strict.upper is not None and strict.upper <= mild.upper)
    return asked and wide and lower and upper and (strict.severity == "reject" or mild.severity == "caution")


def _nothing_to_judge(rule: Rule, catalog: Catalog) -> Iterator[Finding]:
    """Rules for a train that the catalog cannot build, or on a figure that it cannot give; an empty family may lie elsewhere."""
    lacking = [family for family in TRAINS[rule.train] if not catalog.families.get(family)] if rule.train else []
    whole = all(catalog.families.get(family) for train in TRAINS.values() for family in train if family not in _ENDS)
    if lacking and any(all(map(catalog.families.get, families)) for families in TRAINS.values()):
        found = f"a rule for the {rule.train} train, and no {listed(lacking, 'or')} in the catalog"
        yield _told(rule, "never-decides", found, "a rule that decides something", "add the parts, or take the rule away")
    family, field = _NEEDS.get(rule.metric, ("", ""))
    parts = catalog.families.get(family, ())
    if parts and whole and not any(field in part.values for part in parts):
        found = f"a rule on {rule.metric}, and no {family} that gives {field}"
        yield _told(rule, "never-decides", found, "a rule that decides something", f"add {field} to the parts, or drop the rule")


_ENDS = ("slave", "fork", "bearing", "concentric")  # a catalog without these is one of the other train alone


def _bounds(rule: Rule) -> str:
    """What a rule asks for, in the unit of its metric."""
    unit = METRICS[rule.metric].unit
    given = [(word, bound) for word, bound in (("at least", rule.lower), ("at most", rule.upper)) if bound is not None]
    asked = " and ".join(f"{word} {f'{to_unit(bound, unit):.6g} {unit}'.rstrip()}" for word, bound in given)
    return f"{rule.metric} {asked}"


def _told(rule: Rule, problem: str, found: str, expected: str, mend: str, error: bool = False) -> Finding:
    place = rule.place or Place("", key=f"rules.{rule.name}")
    return Finding(place, problem, found, expected, mend, "error" if error else "caution")

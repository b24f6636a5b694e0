"""The oracle's verdicts and legality on small cases decided by hand."""

from __future__ import annotations

import math
from random import Random
from typing import Any

import oracle
from oracle_kits import random_kit

from fitcheck.profile import Fit, Rule


def rule(name: str, metric: str, lower: float | None, upper: float | None, severity: Any = "reject", **more: Any) -> Rule:
    """A rule with a scale of 1."""
    return Rule(name, metric, lower, upper, severity, more.pop("scale", 1.0), "r", "m", "invented", **more)


def test_verdicts() -> None:
    """Each of the four states, each severity, ties by name; nothing that is not a number passes."""
    metrics = {
        "a": ("value", 2.0, ""), "b": ("value", math.inf, ""), "c": ("absent", math.nan, ""),
        "d": ("not given", math.nan, {"f.x"}), "e": ("cannot", math.nan, "why"), "x_full": 3.0, "shims": (1.0, 2.0, 3.0),
    }  # fmt: skip
    fine = {k: v for k, v in metrics.items() if k != "e"}
    ok = oracle.judge(
        fine, [rule("two", "a", 1.0, None), rule("one", "a", None, 3.0), rule("nil", "c", 9.0, None)], "external", "v"
    )
    assert (ok.verdict, ok.headroom, ok.limiting, ok.broken, ok.missing) == ("pass", 1.0, "one", (), ())
    assert oracle.judge(fine, [rule("p", "d", 1.0, None)], "external", "v").missing == ("f.x",)
    assert oracle.judge(fine, [rule("p", "d", 1.0, None)], "external", "v").verdict == "caution"
    assert oracle.judge(fine, [rule("p", "d", 1.0, None, not_given="said")], "external", "v").verdict == "pass"
    assert oracle.judge(fine, [rule("p", "b", None, 5.0, "caution")], "external", "v").headroom == -math.inf
    mixed = [rule("low", "a", 9.0, None, "caution"), rule("high", "a", None, 1.5, scale=2.0)]
    both = oracle.judge(fine, mixed, "external", "v")
    assert (both.verdict, both.headroom, both.limiting, both.broken) == ("reject", -0.25, "high", ("high", "low"))
    own = oracle.judge(metrics, [], "external", "v")
    assert (own.verdict, own.limiting, own.headroom) == ("reject", "e", -math.inf)
    named = oracle.judge(metrics, [rule("says", "e", 0.0, None, "caution")], "external", "v")
    assert (named.verdict, named.limiting, named.broken) == ("reject", "says", ("says",))
    assert oracle.judge({"a": ("value", math.nan, "")}, [rule("p", "a", 0.0, None)], "external", "v").verdict == "reject"
    assert oracle.judge(fine, [rule("hair", "a", 2.0 + 5e-10, None)], "external", "v").verdict == "pass"
    elsewhere = [rule("p", "a", 9.0, None, train="concentric"), rule("q", "a", 9.0, None, applications=("w",))]
    assert oracle.judge(fine, elsewhere, "external", "v").verdict == "pass"


def test_margins() -> None:
    """Greatest lower and least upper bounds of rejecting rules in force."""
    rules = [
        rule("a", "release_margin", 0.3, None), rule("b", "release_margin", 0.5, None),
        rule("c", "release_margin", 9.0, None, "caution"), rule("d", "overtravel", None, -0.2),
        rule("e", "overtravel", None, 0.0), rule("f", "wear_reserve", 1.0, None, train="concentric"),
    ]  # fmt: skip
    assert oracle.margins_of(rules, "external", "v") == {"m": 0.5, "u": 0.0, "v": 0.0, "r": 0.2}
    assert oracle.margins_of(rules, "concentric", "v")["u"] == 1.0


def fit(name: str, kind: Any, *fields: str, **more: Any) -> Fit:
    """A fit with invented words around it."""
    return Fit(name, kind, fields, "r", "m", "invented", **more)


def test_legality() -> None:
    """Every kind of fit, met and not met; a word `none` fits nothing; fits of families of the other train are left out."""
    parts, _, _ = random_kit(Random(5), "external", rest="bottomed", spring="curve")
    ids = {family: {**part, "id": f"my-{family.replace('_', '-')}"} for family, part in parts.items()}
    ids["application"] |= {"fitted": {"pedal": "my-pedal", "concentric": "any"}, "fork_return_force": 20.0, "line_run": 0.1}
    ids["disc"]["outer_diameter"] = 0.2
    fits = [
        fit("spline", "equal", "disc.spline", "application.spline"),
        fit("mount", "equal", "concentric.concentric_mount", "disc.spline"),
        fit("seal", "allowed", "master.seal", "fluid.base", allowed=(("EPDM", "glycol"),)),
        fit("liner", "allowed", "line.liner", "fluid.base", allowed=(("EPDM", "glycol"),)),
        fit("disc", "at_most", "disc.outer_diameter", "pressure_plate.disc_max_diameter"),
        fit("band", "band", "bearing.bore", "application.retainer_diameter", lower=0.0, upper=0.6e-3),
        fit("face", "inside", "bearing.face_diameter", "pressure_plate.finger_circle"),
        fit("rest", "allowed", "slave.rest", "application.return_spring", allowed=(("contact", "no"), ("bottomed", "yes"))),
        fit("run", "at_most", "application.line_run", "line.length"), fit("fitted", "fitted", "application.fitted"),
        fit("cushion", "allowed", "pressure_plate.spring", "disc.cushion", allowed=(("diaphragm", "yes"), ("curve", "yes"))),
        fit("port", "equal", "line.inlet", "master.outlet"),
    ]  # fmt: skip
    ids["disc"]["cushion_travel"] = 1e-3
    assert oracle.legal("external", ids, fits, "v") == []
    ids["disc"] |= {"spline": "none", "cushion_travel": 0.0, "outer_diameter": 0.3}
    ids["application"] |= {"spline": "none", "fork_return_force": 0.0, "fitted": {"pedal": "other"}, "line_run": 99.0}
    ids["fluid"]["base"] = "mineral"
    ids["bearing"] |= {"bore": 0.05, "face_diameter": 0.06}
    ids["line"] = {"id": "l", "pieces": ({"kind": "hose", "length": 1.0, "liner": "NBR", "inlet": "none", "outlet": "none"},)}
    ids["master"]["outlet"] = "none"
    assert oracle.legal("external", ids, fits, "v") == sorted(f.name for f in fits if f.name != "mount")

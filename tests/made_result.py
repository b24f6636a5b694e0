"""A small result made by hand, with names that try to break every output; its figures are invented and stand for nothing."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from fitcheck.catalog.parts import Catalog, Part
from fitcheck.engine.result import Emptied, Freeing, KitTable, Reason, Result
from fitcheck.engine.states import ABSENT, CANNOT, CAUTION, NOT_GIVEN, PASS, REJECT, VALUE
from fitcheck.engine.table import METRICS
from fitcheck.errors import Finding, Place
from fitcheck.job import Job, Preference
from fitcheck.profile import Assumptions, Fit, Profile, Rule

HOSTILE = {
    "markup": '<script>alert("x")</script>',
    "formula": "=cmd|'/c calc'!A0",
    "quotes": "say \"so\", it's 'fine'; really",
    "lines": "one\ntwo\rthree",
    "hebrew": "\u05e7\u05dc\u05d0\u05e5\u05f3 \u202e evil",
    "escape": "red \x1b[31m alarm",
}

EXTERNAL = {"pedal": "long", "master": "quotes", "line": "lines", "fluid": "formula", "slave": "markup", "fork": "hebrew",
            "bearing": "escape", "pressure_plate": "light", "disc": "soft"}  # fmt: skip
CONCENTRIC = {"pedal": "long", "master": "quotes", "line": "lines", "fluid": "formula", "concentric": "slim",
              "pressure_plate": "light", "disc": "soft"}  # fmt: skip

RELEASE = Rule(
    "enough-release", "release_margin", 5e-4, None, "reject", 1e-3,
    "the clutch does not come free: <b>drag</b>", "fit a larger master", "common practice, no source",
)  # fmt: skip
EFFORT = Rule(
    "light-foot", "effort_peak", None, 180.0, "caution", 40.0, "=the pedal is heavy", "fit a smaller master",
    "from memory, comfort advice", train="external",
)  # fmt: skip
LEVER = Rule(
    "lever-data", "lever_check", 0.7, 1.3, "caution", 0.3, "the cover's data do not agree", "ask for its curve",
    "common practice, no source", applications=("valley",),
)  # fmt: skip


def reason(rule: Rule = RELEASE, value: float | None = 4.999e-4, kind: str = "broken", headroom: float = -0.0001) -> Reason:
    bound = "lower" if rule.lower is not None else "upper"
    limit = rule.lower if rule.lower is not None else rule.upper
    return Reason(
        rule.name, rule.metric, kind, rule.severity, value, bound, limit, headroom, rule.reason, rule.remedy, rule.source
    )


def table(
    application: str,
    train: str,
    verdict: int,
    headrooms: tuple[float, ...],
    reasons: tuple[Reason, ...] = (),
    first_rank: int = 1,
) -> KitTable:
    """Kits that differ in their pedal only, one a headroom."""
    families = EXTERNAL if train == "external" else CONCENTRIC
    size = len(headrooms)
    pedals = [f"pedal-{i}" if i else "long" for i in range(size)]
    parts = {"application": (application,) * size} | {family: (part,) * size for family, part in families.items()}
    parts["pedal"] = tuple(pedals)
    kits = [
        "+".join([application, *(pedal if family == "pedal" else part for family, part in families.items())]) for pedal in pedals
    ]
    every = ("slave", "fork", "bearing", "concentric")
    return KitTable(
        train=(train,) * size,
        parts=dict.fromkeys(every, ("",) * size) | parts,
        kit=tuple(kits),
        verdict=np.full(size, verdict, np.uint8),
        limiting_rule=("enough-release",) * size,
        headroom=np.array(headrooms),
        rank=np.arange(first_rank, first_rank + size),
        unbeaten=np.array([i == 0 and verdict == PASS for i in range(size)]),
        metrics={name: np.full(size, 0.001 * (i + 1) / 3) for i, name in enumerate(METRICS)} | figures(size),
        states=states(train, size),
        shims=("0.5+0.5" if train == "concentric" else "",) * size,
        reasons=(reasons,) * size,
        remarks=(("with stop",) if train == "concentric" else (),) * size,
        missing=("air_pocket: not given; rod_length: does not exist" if train == "concentric" else "",) * size,
    )


def figures(size: int) -> dict[str, np.ndarray]:
    """A few figures of the size that the trade knows, so that a page can be looked at."""
    known = {
        "release_margin": 0.0012, "release_margin_worn": 0.0011, "effort_peak": 132.0, "effort_hold": 121.0,
        "peak_pressure": 24.3e5, "bite_height": 0.42, "setup_low": 0.0041, "setup_high": 0.0078,
        "setup_target": 0.00595, "setup_window_fingers": 0.0021,
        "rod_length": 0.1462, "adjustments": np.inf, "total_ratio": 7.123456789012345, "release_point_share": 0.61,
        "torque_factor": 1.62, "return_time": np.inf, "overtravel": -0.0011, "cost": 412.5, "effort_vs_linkage": -0.31,
    }  # fmt: skip
    return {name: np.full(size, value) for name, value in known.items()}


def states(train: str, size: int) -> dict[str, np.ndarray]:
    rest = "contact" if train == "concentric" else "bottomed"
    found = {name: np.full(size, VALUE if metric.exists(train, rest) else ABSENT, np.uint8) for name, metric in METRICS.items()}
    found["pedal_stop"][:] = ABSENT
    found["air_pocket"][:] = NOT_GIVEN
    found["service_hours"][:] = CANNOT
    return found


def catalog() -> Catalog:
    place = Place("catalog/parts.toml", 3, 1)
    parts = [
        (
            "application",
            "valley",
            "Valley lorry",
            {"engine_torque": 210.0, "max_speed": 471.2388980384689, "vehicle_mass": 2600.0, "tilt": 0.05},
        ),
        ("application", "orchard", HOSTILE["markup"], {"engine_torque": 95.0}),
        ("application", "quarry", HOSTILE["hebrew"], {}),
        ("pedal", "long", "Long pedal", {}),
        ("master", "quotes", HOSTILE["quotes"], {}),
        ("line", "lines", HOSTILE["lines"], {}),
        ("fluid", "formula", HOSTILE["formula"], {}),
        ("slave", "markup", HOSTILE["markup"], {}),
        ("fork", "hebrew", HOSTILE["hebrew"], {}),
        ("bearing", "escape", HOSTILE["escape"], {}),
        ("concentric", "slim", "Slim 50", {}),
    ]
    families: dict[str, list[Part]] = {}
    for family, identifier, name, values in parts:
        families.setdefault(family, []).append(Part(family, identifier, {"name": name, **values}, {"": place}))
    return Catalog({family: tuple(sorted(members, key=lambda part: part.id)) for family, members in families.items()})


def profile() -> Profile:
    fits = (
        Fit(
            "spline",
            "equal",
            ("disc.spline", "application.spline"),
            "the disc does not slide on the shaft",
            "choose a disc with its spline",
            "geometry",
        ),
    )
    assumed = Assumptions(3e-7, 101325.0, 0.20943951023931956, 5e-4, 3, 1000.0, 60.0)
    return Profile("hill", 1.0, 0.25, (), assumed, fits, (RELEASE, LEVER, EFFORT))


def job(folder: Path = Path()) -> Job:
    return Job("hill", folder / "hill.toml", (folder / "catalog",), "default", prefer=(Preference("least", "effort_peak"),))


def result(folder: Path = Path(), complete: bool = True) -> Result:
    """Three vehicles: one that passes on both trains, one where nothing passes, one where nothing is legal."""
    passing = table("valley", "external", PASS, (1.5, 0.25), first_rank=1)
    caution = table("valley", "concentric", CAUTION, (-0.5,), (reason(EFFORT, 201.0, headroom=-0.5),), first_rank=3)
    misses = table(
        "orchard", "external", REJECT, (-0.0001, -np.inf), (reason(), reason(LEVER, None, "cannot be computed", -np.inf))
    )
    findings = (
        Finding(
            Place("catalog/parts.toml", 12, 7, "master.quotes.bore"), "unknown-unit", HOSTILE["markup"], "a length", "write mm"
        ),
        Finding(Place("profile.toml", 2, 1), "unused", "a fit that meets nothing", "a fit in use", "leave it out", "caution"),
    )
    groups = [(name, train) for name in ("orchard", "quarry", "valley") for train in ("concentric", "external")]
    return Result(
        job=job(folder),
        profile=profile(),
        catalog=catalog(),
        legal=dict.fromkeys(groups, 0)
        | {("valley", "external"): 2, ("valley", "concentric"): 2**53 + 1, ("orchard", "external"): 2},
        verdicts=dict.fromkeys(groups, (0, 0, 0))
        | {("valley", "external"): (2, 0, 0), ("valley", "concentric"): (0, 1, 2**53), ("orchard", "external"): (0, 0, 2)},
        broken_by={
            ("orchard", "external"): {"enough-release": 2, "lever-data": 1},
            ("valley", "concentric"): {"enough-release": 2**53},
        },
        only_by={("orchard", "external"): {"enough-release": 2}, ("valley", "concentric"): {"enough-release": 2**53}},
        emptied={
            group: Emptied(("spline",), ("no disc meets the shaft",), (("spline",),), (Freeing(("spline",), 1200),))
            for group in groups
            if group[0] == "quarry" or group == ("orchard", "concentric")
        },
        kits=joined(misses, passing, caution),
        best={("valley", "external"): passing, ("valley", "concentric"): caution},
        nearest={("orchard", "external"): misses, ("valley", "concentric"): caution},
        complete_rows=True,
        findings=findings if not complete else findings[1:],
        digests={"hill.toml": "11" * 32, "catalog/parts.toml": "22" * 32},
        version="0.1.0",
        complete=complete,
    )


def joined(*tables: KitTable) -> KitTable:
    """The tables one after another."""
    families = dict.fromkeys(family for one in tables for family in one.parts)
    return KitTable(
        train=sum((one.train for one in tables), ()),
        parts={family: sum((one.parts.get(family, ("",) * len(one)) for one in tables), ()) for family in families},
        kit=sum((one.kit for one in tables), ()),
        verdict=np.concatenate([one.verdict for one in tables]),
        limiting_rule=sum((one.limiting_rule for one in tables), ()),
        headroom=np.concatenate([one.headroom for one in tables]),
        rank=np.concatenate([one.rank for one in tables]),
        unbeaten=np.concatenate([one.unbeaten for one in tables]),
        metrics={name: np.concatenate([one.metrics[name] for one in tables]) for name in METRICS},
        states={name: np.concatenate([one.states[name] for one in tables]) for name in METRICS},
        shims=sum((one.shims for one in tables), ()),
        reasons=sum((one.reasons for one in tables), ()),
        remarks=sum((one.remarks for one in tables), ()),
        missing=sum((one.missing for one in tables), ()),
    )

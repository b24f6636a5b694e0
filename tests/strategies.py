"""Kits of realistic size drawn by hypothesis, a way to hold their setting, and the real engine asked about them. All invented.

A kit here is one part of each family of its train. `measure` evaluates several kits together, so that a property can hold
a kit against the same kit with one thing changed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, groupby
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
from hypothesis import reject
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy

from fitcheck.catalog.parts import FAMILIES, Catalog, Part
from fitcheck.engine.columns import Context
from fitcheck.engine.evaluate import Tile, Values, evaluate
from fitcheck.engine.states import VALUE
from fitcheck.errors import Place
from fitcheck.job import Job
from fitcheck.profile import Assumptions, Profile, Rule

MM, ML, BAR, DEG = 1e-3, 1e-6, 1e5, math.pi / 180
Fields = dict[str, Any]
TRAINS = ("external", "concentric")


@dataclass(frozen=True)
class Kit:
    """One part of each family of a train, in SI."""

    train: str
    parts: Mapping[str, Fields]
    assumed: Assumptions

    def __getitem__(self, family: str) -> Fields:
        return self.parts[family]

    def but(self, family: str, **fields: Any) -> Kit:
        """The same kit with some fields of one part changed; a field that is None is left out."""
        part = {name: value for name, value in {**self.parts[family], **fields}.items() if value is not None}
        return replace(self, parts={**self.parts, family: part})

    def assuming(self, **changes: Any) -> Kit:
        """The same kit under other assumptions."""
        return replace(self, assumed=replace(self.assumed, **changes))

    @property
    def actuator(self) -> str:
        return "slave" if self.train == "external" else "concentric"

    @property
    def rest(self) -> str:
        return "contact" if self[self.actuator]["preload"] > 0 else "bottomed"

    @property
    def lever(self) -> float:
        """Finger travel over plate lift."""
        spring = self["pressure_plate"].get("diaphragm")
        return lever_of(spring) if spring else float(self["pressure_plate"]["lever_ratio"])

    @property
    def fork_ratio(self) -> float:
        return float(self["fork"]["ratio"]) if "fork" in self.parts else 1.0

    @property
    def piston_area(self) -> float:
        part = self[self.actuator]
        if self.train == "external":
            return circle(part["bore"])
        return circle(part["outer_diameter"]) - circle(part["inner_diameter"])

    @property
    def release_travel(self) -> float:
        disc = self["disc"]
        lift = disc["cushion_travel"] + disc["faces"] * disc["running_clearance"]
        return float(self.lever * lift + self["pressure_plate"]["lift_loss"])

    def load(self, x: float) -> float:
        """Load at the fingers of a new cover with a load curve."""
        curve = self["pressure_plate"]["release_load"]
        return float(np.interp(x, curve["travel"], curve["load"]))


def circle(diameter: float) -> float:
    return math.pi / 4 * diameter**2


def lever_of(spring: Fields) -> float:
    return float(abs(spring["pivot_radius"] - spring["tip_radius"]) / abs(spring["load_radius"] - spring["pivot_radius"]))


def set_to(kit: Kit, setting: float, slack: float = 0.0) -> Kit:
    """The kit with a rod (or a gap, without shims) that gives just this setting; a rod may be longer or shorter by `slack`."""
    app, tips = kit["application"], kit["application"]["flywheel_stand"] + kit["pressure_plate"]["finger_height"]
    if kit.train == "concentric":
        gap = setting + kit["concentric"]["height"] + tips
        return kit.but("concentric", shims=()).but("application", bell_depth=gap)
    push = 1 if kit["slave"]["action"] == "push" else -1
    sigma = 1 if kit["pressure_plate"]["action"] == "push" else -1
    ears = app["bell_depth"] - tips - kit["bearing"]["height"]
    square = kit.fork_ratio * sigma * (ears - kit["fork"]["ear_plane"])
    rod = app["slave_seat_to_fork"] + push * (square - setting)
    return kit.but("slave", rod_min=rod - slack, rod_max=rod + slack)


# --- parts

Maker = Callable[[Random], Any]
Recipe = Mapping[str, Any]  # field -> value, or what makes one


def made(dice: Random, recipe: Recipe, **optional: Maker) -> Fields:
    """A part by its recipe; optional fields are given in two of three parts."""
    part = {name: value(dice) if callable(value) else value for name, value in recipe.items()}
    return part | {name: make(dice) for name, make in optional.items() if dice.random() < 2 / 3}


def anywhere(low: float, high: float, unit: float = 1.0) -> Maker:
    return lambda dice: dice.uniform(low * unit, high * unit)


def nothing_or(low: float, high: float, unit: float = 1.0) -> Maker:
    return lambda dice: dice.choice((0.0, dice.uniform(low * unit, high * unit)))


def one_of(*values: Any) -> Maker:
    return lambda dice: dice.choice(values)


def even_force(dice: Random) -> Fields:
    return {"travel": (0.0,), "force": (dice.uniform(0, 40),)}


def any_force(dice: Random) -> Fields:
    """The same all the way, or a spring, or a helper that pushes the pedal on past its middle."""
    bent = {"travel": (0.0, 60 * MM, 150 * MM), "force": (dice.uniform(5, 40), dice.uniform(5, 50), dice.uniform(-60, 50))}
    return dice.choice((even_force(dice), bent))


EFFICIENCY = anywhere(0.75, 1.0)
PEDAL = {
    "ratio": anywhere(4.5, 7.0),
    "travel": anywhere(115, 170, MM),
    "free_play": nothing_or(1, 12, MM),
    "efficiency": EFFICIENCY,
}
MASTER = {
    "bore": anywhere(15.8, 22.3, MM), "stroke": anywhere(24, 38, MM), "cutoff_stroke": nothing_or(0.5, 2, MM),
    "spring_force": nothing_or(10, 60), "efficiency": EFFICIENCY, "pressure_rating": anywhere(40, 120, BAR),
    "seal": one_of("EPDM", "EPDM", "NBR"), "cost": anywhere(20, 200),
}  # fmt: skip
TUBE = {
    "kind": "tube", "length": anywhere(0.3, 1.5), "inner_diameter": anywhere(2.5, 4.9, MM), "wall": anywhere(0.6, 1.0, MM),
    "modulus": anywhere(100e9, 210e9), "poisson": anywhere(0.28, 0.35), "pressure_rating": anywhere(100, 200, BAR),
}  # fmt: skip
HOSE = {
    "kind": "hose", "length": anywhere(0.15, 0.9), "inner_diameter": anywhere(3.0, 4.8, MM), "expansion": anywhere(0.6, 3.0, ML),
    "at_pressure": anywhere(69, 104, BAR), "liner": "EPDM", "pressure_rating": anywhere(60, 150, BAR),
}  # fmt: skip
FLUID = {
    "base": "glycol", "bulk_modulus": anywhere(1.2e9, 2.2e9), "density": anywhere(850, 1080), "dry_boil": 503.0,
    "viscosity": lambda dice: {"temperature": (233.15, 373.15), "kinematic": (dice.uniform(300e-6, 1800e-6), 2e-6)},
    "wet_boil": anywhere(410, 455), "cost": anywhere(5, 20),
}  # fmt: skip
CUSHION = one_of(
    {"travel": (0.0, 1.0), "clamp": (1.0, 0.0)},
    {"travel": (0.0, 0.4, 1.0), "clamp": (1.0, 0.3, 0.0)},
    {"travel": (0.0, 0.3, 0.6, 1.0), "clamp": (1.0, 0.7, 0.7, 0.0)},
)
DISC = {
    "outer_diameter": anywhere(190, 245, MM), "inner_diameter": anywhere(120, 160, MM), "faces": one_of(2.0, 2.0, 4.0),
    "friction": anywhere(0.24, 0.42), "running_clearance": nothing_or(0.12, 0.35, MM), "wear_allowance": anywhere(1, 2.4, MM),
    "cushion_travel": anywhere(0.5, 1.1, MM), "cushion_curve": CUSHION, "cost": anywhere(50, 200),
}  # fmt: skip
APPLICATION = {
    "engine_torque": anywhere(90, 260), "max_speed": anywhere(370, 780), "vehicle_mass": anywhere(700, 2600),
    "wheel_radius": anywhere(0.27, 0.38), "first_gear": anywhere(2.9, 4.2), "final_drive": anywhere(3.3, 5.1),
    "tilt": nothing_or(-6, 8, DEG), "bell_depth": anywhere(60, 120, MM), "flywheel_stand": anywhere(-15, 25, MM),
    "retainer_diameter": anywhere(30, 34, MM), "window_rest": anywhere(8, 25, MM), "window_release": anywhere(8, 30, MM),
    "slave_seat_to_fork": anywhere(80, 130, MM), "line_run": anywhere(0.4, 2.0), "cold_temperature": anywhere(233.15, 245),
    "line_temperature": anywhere(330, 420),
}  # fmt: skip
COVER = {
    "action": one_of("push", "push", "pull"), "lift_loss": nothing_or(0.3, 1.8, MM), "finger_height": anywhere(30, 60, MM),
    "speed_rating": anywhere(600, 950), "cost": anywhere(100, 300),
}  # fmt: skip
CAVITY = {"length": anywhere(15, 45, MM), "bleed_offset": anywhere(0, 15, MM), "clock": anywhere(-75, 75, DEG)}
ACTUATOR = {
    "stroke": anywhere(15, 45, MM), "efficiency": EFFICIENCY, "pressure_rating": anywhere(40, 100, BAR),
    "dead_volume": nothing_or(1, 8, ML), "cavity": lambda dice: made(dice, CAVITY), "cost": anywhere(30, 300),
}  # fmt: skip
BEARING = {
    "height": anywhere(15, 35, MM), "bore": anywhere(34.1, 34.6, MM), "face_diameter": 45 * MM,
    "load_rating": anywhere(1500, 4000), "speed_rating": anywhere(600, 950), "cost": anywhere(30, 90),
}  # fmt: skip
FORK = {
    "ratio": anywhere(1.4, 2.3), "arm": anywhere(60, 130, MM), "stiffness": anywhere(0.25e6, 4e6), "efficiency": EFFICIENCY,
    "ear_plane": anywhere(0, 40, MM), "cost": anywhere(30, 60),
}  # fmt: skip


def assumptions(dice: Random) -> Assumptions:
    return Assumptions(
        air=dice.choice((0.0, dice.uniform(0.05, 0.8) * ML)),
        ambient_pressure=dice.uniform(0.65e5, 1.03e5),
        slope=dice.uniform(3, 20) * DEG,
        wear_between_adjustments=0.0,  # or the window would not hold every setting
        shim_count=dice.randint(0, 4),
        foot_limit=dice.uniform(500, 1200),
        warming=dice.uniform(20, 80),
    )


def common_parts(dice: Random, rest: str, even: bool, rigid: bool) -> dict[str, Fields]:
    """The parts that both trains have, but the cover."""
    app = made(
        dice, APPLICATION, wheelbase=anywhere(2.1, 3.4), retainer_length=anywhere(40, 90, MM), thrust_limit=anywhere(900, 2500)
    )
    app["fork_return_force"] = dice.uniform(15, 90) if rest == "bottomed" else 0.0
    if not rigid and dice.random() < 0.6:
        app["bulkhead_stiffness"] = dice.uniform(0.6e6, 5e6)
    return {
        "application": app,
        "pedal": made(dice, {**PEDAL, "return_force": even_force if even else any_force, "cost": 40.0}),
        "master": made(dice, MASTER, reservoir_room=anywhere(2, 25, ML)),
        "line": {"pieces": (made(dice, TUBE), made(dice, HOSE)), "cost": 30.0},
        "fluid": made(dice, FLUID, expansion=anywhere(5e-4, 1.1e-3)),
        "disc": made(dice, DISC),
    }


def diaphragm(dice: Random) -> Fields:
    """A coned ring with fingers, about flat when set."""
    outer, thickness = dice.uniform(96, 108) * MM, dice.uniform(2.0, 2.6) * MM
    inner, cone = outer * dice.uniform(0.74, 0.8), thickness * dice.uniform(1.4, 2.1)
    flat = cone * (outer - inner - 3 * MM) / (outer - inner)
    return {
        "outer_radius": outer, "inner_radius": inner, "thickness": thickness, "cone_height": cone, "modulus": 206e9,
        "poisson": 0.3, "load_radius": outer - 2 * MM, "pivot_radius": inner + 1 * MM, "tip_radius": 22 * MM,
        "set_deflection": flat * dice.uniform(0.95, 1.25),
    }  # fmt: skip


def cover(dice: Random, disc: Fields, spring: Fields | None, curves: Sequence[Fields]) -> Fields:
    """A pressure plate with a diaphragm, or with a load curve and perhaps that of a worn disc."""
    made_so = made(dice, COVER, **({"wear_compensated": one_of(True)} if dice.random() < 0.3 else {}))
    lever = lever_of(spring) if spring else dice.uniform(2.6, 4.2)
    reach = lever * (disc["cushion_travel"] + disc["faces"] * disc["running_clearance"]) + made_so["lift_loss"]
    made_so["max_travel"] = reach + dice.uniform(1, 4.5) * MM
    if spring:
        return {**made_so, "diaphragm": spring}
    given = {"lever_ratio": lever, "clamp_load": dice.uniform(3000, 9000), "release_load": curves[0]}
    worn = {"worn_clamp_load": dice.uniform(3000, 9000), "worn_release_load": curves[1]} if len(curves) > 1 else {}
    return made_so | given | worn


def actuators(dice: Random, kit: Kit, rest: str) -> dict[str, Fields]:
    """What turns the master's fluid into finger travel, sized to bring the fingers about where they should go."""
    pedal, master = kit["pedal"], kit["master"]
    rod = min((pedal["travel"] - pedal["free_play"]) / pedal["ratio"], master["stroke"]) - master["cutoff_stroke"]
    fingers = kit.release_travel + dice.uniform(0.5, 2.5) * MM
    area = dice.uniform(0.7, 1.05) * circle(master["bore"]) * rod / fingers
    common = {**made(dice, ACTUATOR), "preload": dice.uniform(15, 110) if rest == "contact" else 0.0}
    if kit.train == "concentric":
        inner = dice.uniform(34, 42) * MM
        sizes = {"outer_diameter": math.sqrt(inner**2 + 4 * area / math.pi), "inner_diameter": inner, "shims": ()}
        return {"concentric": {**common, **made(dice, BEARING), **sizes}}
    fork = made(dice, FORK)
    bore = math.sqrt(4 * area / fork["ratio"] / math.pi)
    slave = {**common, "bore": bore, "action": dice.choice(("push", "pull")), "rod_pitch": dice.uniform(0.8, 1.5) * MM}
    return {"slave": slave, "fork": fork, "bearing": made(dice, BEARING)}


# --- strategies


def numbers(low: float = 0.0, high: float = 1.0) -> SearchStrategy[float]:
    return st.floats(low, high)


three = st.lists(numbers(), min_size=3, max_size=3).map(sorted)


def between(low: float, high: float, shares: Sequence[float]) -> list[float]:
    return [low + share * (high - low) for share in shares]


@st.composite
def load_curves(draw: DrawFn, rising: bool) -> Fields:
    """A load curve of a cover: rising all the way, or up and down, now and then steeply; it ends anywhere."""
    widths = [width * MM for width in draw(st.lists(st.one_of(numbers(0.02, 0.3), numbers(0.3, 5)), min_size=1, max_size=4))]
    shares = draw(st.lists(numbers(0.05, 1), min_size=len(widths) + 1, max_size=len(widths) + 1))
    top = draw(numbers(600, 2200))
    travel = (0.0, *accumulate(widths))
    return {"travel": (*travel, travel[-1] + 20 * MM), "load": (0.0, *(top * x for x in (sorted(shares) if rising else shares)))}


@st.composite
def kits(
    draw: DrawFn, train: str | None = None, rest: str | None = None, loads: str = "all", even: bool = False, rigid: bool = False
) -> Kit:
    """A kit held at some setting: a train, a way to rest, loads of its cover, an even pedal, a bulkhead that does not give.

    `loads` are `rising` load curves, `any` ones, `coned` diaphragms, or `all` of them. Hypothesis draws what kind of kit it is
    and its load curves; the many figures come from dice seeded by all that it drew, so that no two cases share them.
    """
    train = train or ("external" if rest == "bottomed" else draw(st.sampled_from(TRAINS)))
    rest = "contact" if train == "concentric" else rest or draw(st.sampled_from(("contact", "bottomed")))
    curves = draw(st.lists(load_curves(loads == "rising"), min_size=1, max_size=2))
    coned = loads == "coned" or (loads == "all" and draw(st.integers(0, 2)) == 2)
    dice = Random(repr((train, rest, curves, coned, draw(st.integers(0, 2**32)))))
    parts = common_parts(dice, rest, even, rigid)
    parts["pressure_plate"] = cover(dice, parts["disc"], diaphragm(dice) if coned else None, curves)
    kit = Kit(train, parts, assumptions(dice))
    kit = replace(kit, parts={**kit.parts, **actuators(dice, kit, rest)})
    return set_to(kit, dice.uniform(0, 3) * MM if rest == "bottomed" else dice.uniform(2, 12) * MM)


# --- asking the engine


def bounds(release: float = 0.0, wear: float = 0.0, stroke: float = 0.0, past: float = 0.0) -> tuple[Rule, ...]:
    """Rejecting rules that the set-up window is cut by; `past` is how far the fingers may go past the cover's limit."""
    lower = {"release_margin": release, "wear_reserve": wear, "stroke_reserve": stroke}
    rules = [Rule(metric, metric, bound, None, "reject", MM, "", "", "") for metric, bound in lower.items()]
    return (*rules, Rule("overtravel", "overtravel", None, past, "reject", MM, "", "", ""))


# Bounds so wide that the window holds every setting that the rod reaches, and no pedal stop is needed: the setting is held.
HELD = bounds(-1.0, -1.0, -1.0, 1.0)


class Figures:
    """Figures of several kits."""

    def __init__(self, pieces: Sequence[tuple[Values, int]]) -> None:
        """Take what the engine gave, tile by tile."""
        self._pieces = pieces

    def number(self, name: str) -> Any:
        """Numbers of a metric, of no meaning where its state is not VALUE."""
        return np.concatenate([np.broadcast_to(values.number(name), size) for values, size in self._pieces])

    def state(self, name: str) -> Any:
        """States of a metric."""
        states = [(values.state(name), size) for values, size in self._pieces]
        return np.concatenate([np.broadcast_to(VALUE if state is None else state, size) for state, size in states])

    def __getitem__(self, name: str) -> Any:
        """Numbers of a metric; a case in which a kit has none is none for the property."""
        return self.number(name) if (self.state(name) == VALUE).all() else reject()


def measure(some: Sequence[Kit], names: Sequence[str] | None, rules: Sequence[Rule] = HELD) -> Figures:
    """Figures of kits of one train and way to rest; kits that follow each other under one cover are evaluated together."""
    pieces = []
    for _, group in groupby(some, lambda kit: (id(kit["application"]), id(kit["pressure_plate"]), kit.assumed)):
        together = list(group)
        pieces.append((evaluated(together, rules, names), len(together)))
    return Figures(pieces)


def evaluated(together: Sequence[Kit], rules: Sequence[Rule], names: Sequence[str] | None = None) -> Values:
    """What the engine gives for kits that share application, cover and assumptions, as plain rows."""
    first = together[0]
    families: dict[str, tuple[Part, ...]] = dict.fromkeys(FAMILIES, ())
    for family, fields in first.parts.items():
        fixed = family in ("application", "pressure_plate")
        families[family] = tuple(part(family, f"p{i}", kit[family]) for i, kit in enumerate(together)) if not fixed else ()
        families[family] = families[family] or (part(family, "p", fields),)
    profile = Profile("test", 1.0, 0.25, (), first.assumed, (), tuple(rules))
    rows = {family: np.arange(len(together)) for family in first.parts if family not in ("application", "pressure_plate")}
    tile = Tile(0, 0, first.train, first.rest, rows, dict.fromkeys(rows, 0), 1)
    return evaluate(Context(Catalog(families), profile, Job("test", Path("job.toml"), (), "default")), tile, names)


def part(family: str, identifier: str, fields: Fields) -> Part:
    return Part(family, identifier, fields, {"": Place("invented.toml")})


HAIR = 1e-12  # m, m3 or a share: what rounding may take from an order


def rises(figures: Any, hair: float = HAIR) -> bool:
    """Whether no figure is less than the one before it."""
    return bool((np.diff(figures) >= -hair * np.maximum(1.0, np.abs(figures[1:]))).all())

"""Random catalogs, tiles and profiles around the random kits of the oracle, seeded. All numbers and words are invented."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from math import inf, prod
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import oracle
from oracle_kits import random_kit, random_margins

from fitcheck import load_profile
from fitcheck.catalog.parts import FAMILIES, Catalog, Part
from fitcheck.engine.evaluate import Tile
from fitcheck.engine.table import METRICS
from fitcheck.errors import Place
from fitcheck.job import Job
from fitcheck.profile import Assumptions, Fit, Profile, Rule
from fitcheck.quantities import from_unit

Values = dict[str, Any]
MM = 1e-3
TRAINS = ("external", "concentric")
DEFAULT = load_profile("default")
MARGINS = {"m": "release_margin", "u": "wear_reserve", "v": "stroke_reserve", "r": "overtravel"}


def scale_of(metric: str) -> float:
    """What counts as one step of a metric: the finest scale that a shipped rule on it has, or else one of the unit shown."""
    ruled = [rule.scale for rule in DEFAULT.rules if rule.metric == metric]
    return min(ruled, default=float(from_unit(1.0, METRICS[metric].unit)))


SCALES = {name: scale_of(name) for name in METRICS}


# --- one kit, or several in a tile


@dataclass(frozen=True)
class Scene:
    """Parts by family with what is taken for granted; the first part of each family makes the kit that was drawn."""

    train: str
    families: Mapping[str, Sequence[Values]]
    linkage: Values | None
    assumed: Assumptions
    margins: Mapping[str, float]

    @property
    def rest(self) -> str:
        """How the slaves of the scene rest: all alike."""
        bottomed = self.train == "external" and self.families["slave"][0]["preload"] == 0.0
        return "bottomed" if bottomed else "contact"

    def profile(self) -> Profile:
        """No fits, and rules that ask of the set-up window what the margins say."""
        bounds = {letter: (None, -ask) if letter == "r" else (ask, None) for letter, ask in self.margins.items()}
        rules = tuple(rule(letter, MARGINS[letter], *bounds[letter]) for letter in sorted(bounds))
        return Profile("random", 1.0, 0.25, (), self.assumed, (), rules)

    def catalog(self) -> Catalog:
        """All parts; the application names the old linkage if there is one."""
        linked = {} if self.linkage is None else {"linkage": "linkage-0"}
        families = {**self.families, "application": [{**app, **linked} for app in self.families["application"]]}
        return catalog_of({**families, "linkage": [] if self.linkage is None else [self.linkage]})

    def kit(self, rows: Mapping[str, int]) -> dict[str, Values]:
        """The parts of one kit; families that are not named give their first."""
        return {family: parts[rows.get(family, 0)] for family, parts in self.families.items()}


JOB = Job("random", Path("job.toml"), (), "default")


def rule(name: str, metric: str, lower: float | None, upper: float | None, **more: Any) -> Rule:
    """A rejecting rule with invented words, unless told otherwise."""
    made = Rule(name, metric, lower, upper, "reject", SCALES[metric], "reason", "remedy", "invented")
    return replace(made, **more)


def catalog_of(families: Mapping[str, Sequence[Values]]) -> Catalog:
    """Parts numbered in their families."""
    return Catalog(
        {
            family: tuple(
                Part(family, f"{family.replace('_', '-')}-{number}", values, {"": Place("random.toml")})
                for number, values in enumerate(families.get(family, ()))
            )
            for family in FAMILIES
        }
    )


def random_scene(rng: Random, spring: str) -> Scene:
    """One kit of either train."""
    train = rng.choice(TRAINS)
    parts, linkage, assumed = random_kit(rng, train, spring=spring)
    return Scene(train, {family: [part] for family, part in parts.items()}, linkage, assumed, random_margins(rng))


def whole(scene: Scene) -> Tile:
    """The one kit of a scene as a tile."""
    rows = {family: np.array([0]) for family in scene.families if family not in ("application", "pressure_plate")}
    return Tile(0, 0, scene.train, scene.rest, rows, dict.fromkeys(rows, 0), 1)


def random_tile(rng: Random, spring: str, kits: int) -> tuple[Scene, Tile]:
    """At most so many kits on one to five axes: families are dealt to axes, those on one axis are paired."""
    scene = random_scene(rng, spring)
    free = [family for family in scene.families if family not in ("application", "pressure_plate")]
    rng.shuffle(free)
    ndim = rng.choice((1, 2, 3, 3, 4, 5))
    axis = {family: place if place < ndim else rng.randrange(ndim) for place, family in enumerate(free)}
    sizes = [rng.choice((2, 3, 5)) for _ in range(ndim)]
    while prod(sizes) > kits:
        sizes[sizes.index(max(sizes))] -= 1
    families = {family: list(parts) for family, parts in scene.families.items()}
    rows = {}
    for family in free:
        size = sizes[axis[family]]
        families[family] += [_another(rng, scene, family) for _ in range(size - 1)]
        order = rng.sample(range(size), size)
        rows[family] = np.array([rng.randrange(size) if rng.random() < 0.2 else number for number in order])
    return replace(scene, families=families), Tile(0, 0, scene.train, scene.rest, rows, axis, ndim)


def _another(rng: Random, scene: Scene, family: str) -> Values:
    """A part much like the first of its family, or where no measure hangs on it one from elsewhere."""
    if family in ("pedal", "line", "fluid", "master") and rng.random() < 0.4:
        return random_kit(rng, scene.train, spring="curve")[0][family]
    return varied(rng, scene.families[family][0])


# --- parts much like others

OPTIONAL = (
    "cost", "mass", "stop_range", "reservoir_room", "expansion", "rod_pitch", "cavity", "guide_rear", "cushion_curve",
    "radius_rule", "wheelbase", "retainer_length", "slave_tilt", "slave_clock", "bulkhead_stiffness", "thrust_limit",
    "hours_slave", "hours_gearbox", "wear_compensated",
)  # fmt: skip
UNTOUCHED = ("cushion_curve", "temperature", "stop_range", "finger_circle", "shims", "cold_temperature", "line_temperature")


def varied(rng: Random, part: Values, spread: float = 0.04) -> Values:
    """A copy with every number moved a little and some optional fields left out."""
    kept = {key: value for key, value in part.items() if key not in OPTIONAL or rng.random() > 0.15}
    if "worn_clamp_load" in kept and rng.random() < 0.2:
        del kept["worn_clamp_load"], kept["worn_release_load"]
    moved = {key: value if key in UNTOUCHED else _moved(rng, key, value, spread) for key, value in kept.items()}
    if "rod_min" in kept:
        moved["rod_max"] = moved["rod_min"] + kept["rod_max"] - kept["rod_min"]
    return moved


def _moved(rng: Random, key: str, value: Any, spread: float) -> Any:
    spread = spread / 4 if key == "diaphragm" else spread
    factor = 1 + rng.uniform(-spread, spread)
    if isinstance(value, float):
        return min(1.0, value * factor) if key.endswith("efficiency") else value * factor
    if key == "pieces":
        return tuple(_moved(rng, "piece", piece, spread) for piece in value)
    if key == "cavity":  # the port stays inside
        return {name: number * factor for name, number in value.items()}
    if isinstance(value, dict):
        return {name: value[name] if name in UNTOUCHED else _moved(rng, name, value[name], spread) for name in value}
    if isinstance(value, tuple):
        return tuple(number * factor for number in value)
    return value


# --- small catalogs to screen


@dataclass(frozen=True)
class Case:
    """A catalog with a profile and a job, and its legal kits found by trying every combination."""

    catalog: Catalog
    profile: Profile
    job: Job
    legal: Mapping[tuple[str, str], tuple[dict[str, Part], ...]] = field(default_factory=dict)  # (application, train) -> kits


MOST_KITS = 12  # the oracle is slow
WORDS = {
    "spline": ("10-tooth", "23-tooth"), "flywheel_pattern": ("ring-six", "ring-nine"), "pivot": ("ball", "pin"),
    "slave_mount": ("two-bolt", "clamp"), "concentric_mount": ("three-bolt", "two-bolt"), "ears": ("clip", "pins"),
    "master_mount": ("firewall-two", "firewall-four"), "pedal_box": ("hanging", "floor"), "action": ("push", "pull"),
    "slave_action": ("push", "pull"), "face": ("flat", "radiused"), "fingers": ("curved", "flat"), "seal": ("EPDM", "NBR"),
    "base": ("glycol", "mineral", "silicone"), "inlet": ("3/8-24 double-flare", "M10x1 bubble-flare"),
    "outlet": ("3/8-24 double-flare", "M10x1 bubble-flare"), "liner": ("EPDM", "PTFE", "NBR"),
}  # fmt: skip
NONE_FITS = ("slave_mount", "concentric_mount", "master_mount", "spline", "ears")


def random_case(rng: Random) -> Case:
    """Random parts, fits and rules; few legal kits, and not often none."""
    while True:
        families, linkage, assumed = _random_families(rng)
        catalog, fits = _random_words(rng, families, linkage), _random_fits(rng)
        job = replace(JOB, trains=rng.choice((TRAINS, TRAINS, TRAINS, TRAINS[:1], TRAINS[1:])), supplied=_random_supplied(rng))
        legal = {group: kits for group, kits in _legal_kits(catalog, fits).items() if group[1] in job.trains}
        if any(legal.values()) or rng.random() < 0.2:
            break
    job, legal = _few(rng, job, legal)
    rules = _random_rules(rng, assumed, catalog, legal)
    return Case(catalog, Profile("random", 1.0, 0.25, (), assumed, fits, rules), job, legal)


def _random_words(rng: Random, families: dict[str, list[Values]], linkage: Values | None) -> Catalog:
    """Some other words at the interfaces; the first part of a family mostly keeps its own."""
    for family, parts in families.items():
        families[family] = [part if n == 0 and rng.random() < 0.8 else _reworded(rng, part) for n, part in enumerate(parts)]
    _tie(rng, families)
    _say_fitted(rng, families["application"], linkage)
    return catalog_of({**families, "linkage": [] if linkage is None else [linkage]})


def _random_families(rng: Random) -> tuple[dict[str, list[Values]], Values | None, Assumptions]:
    """Parts of a kit of one train, often of one of the other train too, and more parts like them."""
    spring = "diaphragm" if rng.random() < 0.12 else "curve"
    first = rng.choice(TRAINS)
    parts, linkage, assumed = random_kit(rng, first, spring=spring)
    if "slave" in parts and parts["slave"]["preload"] == 0.0 and rng.random() < 0.9:
        parts["application"]["fork_return_force"] = rng.uniform(15.0, 90.0)
    families = {family: [part] for family, part in parts.items()}
    if rng.random() < 0.6:
        other = random_kit(rng, TRAINS[1 - TRAINS.index(first)], spring="curve")[0]
        _move_in(other, parts)
        for family in sorted(other.keys() - {"application", "pressure_plate", "disc"}):
            families.setdefault(family, []).append(other[family])
    for family in rng.sample(sorted(families), rng.randint(2, 5)):
        families[family] += [varied(rng, families[family][0], 0.02) for _ in range(rng.choice((1, 1, 2)))]
    return families, linkage, assumed


def _move_in(other: dict[str, Values], parts: Mapping[str, Values]) -> None:
    """Bring the parts of another kit to the place where this vehicle has room for them."""
    app, old = parts["application"], other["application"]
    tips = app["bell_depth"] - app["flywheel_stand"] - parts["pressure_plate"]["finger_height"]
    further = tips - (old["bell_depth"] - old["flywheel_stand"] - other["pressure_plate"]["finger_height"])
    wider = app["retainer_diameter"] - old["retainer_diameter"]
    if "concentric" in other:
        other["concentric"]["height"] += further
        other["concentric"]["bore"] += wider
        return
    other["fork"]["ear_plane"] += further
    other["bearing"]["bore"] += wider
    for end in ("rod_min", "rod_max"):
        other["slave"][end] += app["slave_seat_to_fork"] - old["slave_seat_to_fork"]


def _reworded(rng: Random, part: Values) -> Values:
    """Now and then another word at an interface, or one that fits nothing."""
    other: Values = {key: rng.choice(WORDS[key]) for key in part if key in WORDS and rng.random() < 0.07}
    other |= {key: "none" for key in part if key in NONE_FITS and rng.random() < 0.015}
    if "pieces" in part:
        other["pieces"] = tuple(_reworded(rng, piece) for piece in part["pieces"])
    return {**part, **other}


def _tie(rng: Random, families: Mapping[str, Sequence[Values]]) -> None:
    """Lengths that a fit compares: far apart, just equal (one of them a sum), or just too far; and words that fit nothing."""
    lengths = [piece.get("length", 0.0) for piece in families["line"][0]["pieces"]]
    for app in families["application"]:
        app["line_run"] = sum(reversed(lengths)) * rng.choice((0.6, 0.8, 1.0, 1.05))
    if rng.random() < 0.3:
        families["pressure_plate"][0]["disc_max_diameter"] = families["disc"][0]["outer_diameter"]
    for family in ("bearing", "concentric"):
        for part in families.get(family, ()):
            part["bore"] += rng.choice((0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 8.0)) * MM
    if rng.random() < 0.1:
        families["application"][-1]["master_mount"] = families["master"][-1]["master_mount"] = "none"


def _say_fitted(rng: Random, applications: Sequence[Values], linkage: Values | None) -> None:
    for app in applications:
        if linkage is not None and rng.random() < 0.8:
            app["linkage"] = "linkage-0"
        if rng.random() < 0.2:
            family = rng.choice(("pedal", "master", "fork", "concentric", "pressure_plate"))
            app["fitted"] = {family: f"{family.replace('_', '-')}-{rng.choice((0, 0, 1))}"}


def _random_fits(rng: Random) -> tuple[Fit, ...]:
    """Most of the shipped fits, and some odd ones: optional fields, and three families at once."""
    needed = ("diaphragm-cushion", "fitted")
    fits = [fit for fit in DEFAULT.fits if fit.name in needed or rng.random() > 0.2]
    odd = (
        Fit("odd-optional", "at_most", ("bearing.guide_rear", "application.retainer_length"), "r", "m", "invented"),
        Fit("odd-band", "band", ("disc.outer_diameter", "fork.arm"), "r", "m", "invented", lower=0.1, upper=0.16),
        Fit("odd-stroke", "at_most", ("master.bore", "master.stroke"), "r", "m", "invented"),
        Fit("odd-pitch", "equal", ("slave.rod_pitch", "slave.rod_pitch"), "r", "m", "invented"),
    )
    return tuple(sorted((*fits, *(fit for fit in odd if rng.random() < 0.07)), key=lambda fit: fit.name))


def _random_supplied(rng: Random) -> tuple[str, ...]:
    families = [family for family in FAMILIES if family != "linkage"]
    return tuple(rng.sample(families, rng.randint(1, 6))) if rng.random() < 0.4 else ()


def _legal_kits(catalog: Catalog, fits: Iterable[Fit]) -> dict[tuple[str, str], tuple[dict[str, Part], ...]]:
    """Every combination of parts, tried one after the other."""
    found: dict[tuple[str, str], list[dict[str, Part]]] = {}
    for train in TRAINS:
        without = ("linkage", "concentric") if train == "external" else ("linkage", "slave", "fork", "bearing")
        families = [family for family in FAMILIES if family not in without]
        for app in catalog.families["application"]:
            found[app.id, train] = []
        for parts in product(*(catalog.families[family] for family in families)):
            kit = dict(zip(families, parts, strict=True))
            if not oracle.legal(train, kit, fits):
                found[kit["application"].id, train].append(kit)
    return {group: tuple(kits) for group, kits in found.items()}


def _few(rng: Random, job: Job, legal: Mapping[tuple[str, str], tuple[dict[str, Part], ...]]) -> tuple[Job, dict[Any, Any]]:
    """Leave parts out by the job until few kits are left."""
    left = dict(legal)
    out: dict[str, tuple[str, ...]] = {}
    while sum(map(len, left.values())) > MOST_KITS:
        used = sorted({(family, part.id) for kits in left.values() for kit in kits for family, part in kit.items()})
        choice = [(family, name) for family, name in used if family != "application" and sum(f == family for f, _ in used) > 1]
        if not choice:
            choice = [pair for pair in used if pair[0] != "application"]
        family, name = rng.choice(choice)
        out[family] = (*out.get(family, ()), name)
        left = {group: tuple(kit for kit in kits if family not in kit or kit[family].id != name) for group, kits in left.items()}
    return replace(job, leave_out=out), left


def _random_rules(rng: Random, assumed: Assumptions, catalog: Catalog, legal: Mapping[Any, Any]) -> tuple[Rule, ...]:
    """Bounds near what one of the kits has; some rules hold for a train or for some applications only, some come twice."""
    kits = [(train, kit) for (_, train), some in legal.items() for kit in some]
    pilot = _pilot(rng, assumed, kits)
    ids = [part.id for part in catalog.families["application"]]
    metrics = rng.sample(sorted(METRICS), rng.randint(1, 9)) + [name for name in MARGINS.values() if rng.random() < 0.5]
    rules = [_random_rule(rng, metric, pilot.get(metric, ("absent", 0.0, ""))[1], ids) for metric in metrics]
    rules += [replace(twin, severity=rng.choice(("reject", "caution"))) for twin in rules if rng.random() < 0.1]
    names = rng.sample(range(100), len(rules))
    named = [replace(rule, name=f"r{name:02d}-{rule.metric}") for name, rule in zip(names, rules, strict=True)]
    return tuple(sorted(named, key=lambda rule: rule.name))


def _pilot(rng: Random, assumed: Assumptions, kits: Sequence[tuple[str, dict[str, Part]]]) -> Mapping[str, Any]:
    if not kits:
        return {}
    train, kit = rng.choice(kits)
    parts = {family: part.values for family, part in kit.items()}
    return oracle.evaluate(train, parts, None, assumed, dict.fromkeys("muvr", 0.0))


def _random_rule(rng: Random, metric: str, near: float, applications: Sequence[str]) -> Rule:
    step = SCALES[metric]
    middle = near if abs(near) < inf else 0.0  # also where it is not a number
    lower, upper = middle - rng.gauss(2.0, 2.0) * step, middle + rng.gauss(2.0, 2.0) * step
    if metric in MARGINS.values():
        lower, upper = rng.uniform(-0.2, 1.0) * MM, rng.uniform(-0.5, 0.3) * MM
    sides = rng.choice(((lower, None), (None, upper), (min(lower, upper), max(lower, upper))))
    return rule(
        metric,
        metric,
        *sides,
        severity=rng.choice(("reject", "caution", "caution")),
        scale=step * rng.choice((1.0, rng.uniform(0.2, 5.0))),
        train=rng.choice((None, None, None, *TRAINS)),
        applications=rng.choice((None, None, None, tuple(rng.sample(applications, 1)), ("application-9",))),
        not_given=rng.choice(("caution", "caution", "said")),
    )

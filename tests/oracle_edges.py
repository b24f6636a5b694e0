"""Random kits pushed to the edge of what a catalog may say: nothing, next to nothing, far too much. All numbers are invented."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from random import Random
from typing import Any

from oracle_covers import MM, Values
from random_catalogs import Scene

Parts = Mapping[str, Values]
Change = Callable[[Random, Parts], Any]


def actuator(parts: Parts) -> Values:
    return parts["slave"] if "slave" in parts else parts["concentric"]


def put(family: str, field: str, *choices: Any) -> Change:
    """One of some values in a field of a family, where the train has it."""
    return lambda rng, parts: parts.get(family, {}).update({field: rng.choice(choices)})


def times(family: str, field: str, of: str, *choices: float) -> Change:
    """A field as some multiple of another field of the family."""
    return lambda rng, parts: parts[family].update({field: parts[family][of] * rng.choice(choices)})


def pieces(only: str, **fields: float) -> Change:
    """Fields of all pieces of a kind."""

    def change(_: Random, parts: Parts) -> None:
        row = parts["line"]["pieces"]
        parts["line"]["pieces"] = tuple({**piece, **fields} if piece["kind"] == only else piece for piece in row)

    return change


def one_piece(_: Random, parts: Parts) -> None:
    parts["line"]["pieces"] = tuple(piece for piece in parts["line"]["pieces"] if piece["kind"] == "tube")[:1]


def stroke_just_enough(_: Random, parts: Parts) -> None:
    pedal = parts["pedal"]
    parts["master"]["stroke"] = max(pedal["travel"] - pedal["free_play"], 1 * MM) / pedal["ratio"]


def strong_or_weak_return(rng: Random, parts: Parts) -> None:
    """Another spring at the slave, or at the fork where the slave has none."""
    slave = actuator(parts)
    if slave["preload"] > 0:
        slave["preload"] = rng.choice((1e-9, 1500.0))
    else:
        parts["application"]["fork_return_force"] = rng.choice((0.0, 1e-9, 4000.0))


def step_in_the_pedals_spring(rng: Random, parts: Parts) -> None:
    start = rng.uniform(0, 1.2) * parts["pedal"]["travel"]
    force = tuple(rng.uniform(-80, 80) for _ in range(4))
    parts["pedal"]["return_force"] = {"travel": (0.0, start, start + 1e-6, start + 0.1), "force": force}


def step_in_the_load(rng: Random, parts: Parts) -> None:
    """A drop or a rise within a micrometre."""
    curve = parts["pressure_plate"].get("release_load")
    if curve:
        travel, load, at = list(curve["travel"]), list(curve["load"]), rng.randrange(1, len(curve["travel"]))
        travel.insert(at, travel[at] - 1e-3 * MM)
        load.insert(at, load[at] * rng.choice((0.0, 0.3, 2.0)))
        parts["pressure_plate"]["release_load"] = {"travel": tuple(travel), "load": tuple(load)}


def no_load_at_all(_: Random, parts: Parts) -> None:
    curve = parts["pressure_plate"].get("release_load")
    if curve:
        parts["pressure_plate"]["release_load"] = {**curve, "load": (0.0,) * len(curve["load"])}


def smooth(_: Random, parts: Parts) -> None:
    for family in parts.keys() & {"pedal", "master", "fork", "slave", "concentric"}:
        parts[family]["efficiency"] = 1.0


def no_cushion(_: Random, parts: Parts) -> None:
    if "release_load" in parts["pressure_plate"]:
        parts["disc"]["cushion_travel"] = 0.0


EDGES: tuple[Change, ...] = (
    one_piece, stroke_just_enough, strong_or_weak_return, step_in_the_pedals_spring, step_in_the_load, no_load_at_all, smooth,
    no_cushion, pieces("hose", expansion=1e-15), pieces("hose", expansion=1e-4), pieces("tube", length=1e-4),
    put("slave", "dead_volume", 0.0), put("concentric", "dead_volume", 0.0), put("fluid", "bulk_modulus", 1e7, 1e15),
    times("fluid", "wet_boil", "wet_boil", 0.7), put("pedal", "free_play", 0.0), put("pedal", "ratio", 0.2, 0.9),
    times("pedal", "free_play", "travel", 1.0, 1.2, 0.999999), put("pedal", "stop_range", (1e-6, 1.0), (0.12, 0.12)),
    put("master", "cutoff_stroke", 0.0), times("master", "cutoff_stroke", "stroke", 0.9, 0.999, 1 - 1e-9),
    put("master", "bore", 4 * MM, 100 * MM), put("fork", "ratio", 0.1, 0.9), put("fork", "stiffness", 1e4, 1e12),
    put("fork", "arm", 1 * MM, 10 * MM), put("pressure_plate", "action", "pull"), put("pressure_plate", "lift_loss", 0.0),
    times("pressure_plate", "max_travel", "max_travel", 0.2), put("disc", "running_clearance", 0.0),
    put("disc", "wear_allowance", 1e-9, 0.02), put("application", "tilt", math.pi / 4, -math.pi / 4, 9.99e-7),
    put("application", "bulkhead_stiffness", 1e3, 1e15), put("concentric", "shims", (), (1e-3, 1e-3), (0.02,)),
    put("fluid", "viscosity", {"temperature": (233.0, 373.0), "kinematic": (4e-6, 0.8e-6)}),
)  # fmt: skip


def pushed(rng: Random, scene: Scene) -> Scene:
    """The same kit with a few of its figures at an edge, and other assumptions and margins now and then."""
    parts = {family: dict(some[0]) for family, some in scene.families.items()}
    for change in rng.sample(EDGES, rng.randint(1, 8)):
        change(rng, parts)
    margins = dict(scene.margins)
    if rng.random() < 0.4:
        margins = {letter: rng.uniform(-1, 1) * rng.choice((3 * MM, 30 * MM)) for letter in margins}
    assumed = replace(
        scene.assumed,
        air=rng.choice((scene.assumed.air, 0.0, 5e-6)),
        slope=rng.choice((scene.assumed.slope,) * 6 + (0.0, 1.4)),
        wear_between_adjustments=rng.choice((scene.assumed.wear_between_adjustments, 0.0, 0.01)),
    )
    return replace(scene, families={family: [part] for family, part in parts.items()}, margins=margins, assumed=assumed)

"""Random discs and pressure plates, with load curves from plain to steeply falling. All numbers are invented."""

from __future__ import annotations

import math
from random import Random
from typing import Any

MM = 1e-3
Values = dict[str, Any]


def maybe(rng: Random, part: Values, chance: float, **values: Any) -> None:
    """Give optional fields or leave them out; the draws are made either way."""
    if rng.random() < chance:
        part.update(values)


def random_disc(rng: Random, spring: str) -> Values:
    """A disc; one for a diaphragm always has some cushion."""
    outer = rng.uniform(190, 245) * MM
    cushion = rng.uniform(0.5, 1.1) * MM
    disc: Values = {
        "outer_diameter": outer, "inner_diameter": outer * rng.uniform(0.6, 0.72), "faces": rng.choice((2, 2, 2, 4)),
        "friction": rng.uniform(0.24, 0.42), "running_clearance": rng.choice((0.0, rng.uniform(0.12, 0.35) * MM)),
        "wear_allowance": rng.uniform(1.0, 2.4) * MM, "spline": "10-tooth",
        "cushion_travel": 0.0 if spring == "curve" and rng.random() < 0.15 else cushion,
    }  # fmt: skip
    maybe(rng, disc, 0.4, radius_rule=rng.choice(("uniform wear", "uniform pressure")))
    middle = rng.uniform(0.2, 0.8)
    level = rng.uniform(0.05, 0.95)
    curves = (
        {"travel": (0.0, middle, 1.0), "clamp": (1.0, level, 0.0)},
        {"travel": (0.0, 0.3, 0.6, 1.0), "clamp": (1.0, 0.6, 0.2, 0.0)},
        {"travel": (0.0, middle, 0.5 + middle / 2, 1.0), "clamp": (1.0, level, level, 0.0)},
    )
    maybe(rng, disc, 0.6, cushion_curve=rng.choice(curves))
    return disc


def random_cover(rng: Random, spring: str, disc: Values) -> Values:
    """A push or pull cover with a catalog curve or a diaphragm."""
    pull = rng.random() < 0.25
    lift_loss = rng.choice((0.0, rng.uniform(0.3, 1.8) * MM))
    cover: Values = {
        "action": "pull" if pull else "push", "lift_loss": lift_loss, "finger_circle": (30 * MM, 55 * MM), "fingers": "curved",
        "finger_height": rng.uniform(30, 60) * MM, "disc_max_diameter": 0.25, "flywheel_pattern": "ring-six",
        "speed_rating": rng.uniform(6000, 9000) * math.pi / 30,
    }  # fmt: skip
    lever = rng.uniform(2.6, 4.2)
    if spring == "diaphragm":
        cover["diaphragm"], lever = _diaphragm(rng, pull)
    else:
        cover["lever_ratio"] = lever
    lift = disc["cushion_travel"] + disc["faces"] * disc["running_clearance"]
    cover["max_travel"] = lever * lift + lift_loss + rng.uniform(1.0, 4.5) * MM
    if spring == "curve":
        cover |= _catalog_spring(rng, cover, disc)
    maybe(rng, cover, 0.2, wear_compensated=True)
    return cover


def _diaphragm(rng: Random, pull: bool) -> tuple[Values, float]:
    """A coned ring with fingers; now and then so steep that its load comes down to nothing."""
    outer = rng.uniform(96, 108) * MM
    inner = outer * rng.uniform(0.74, 0.8)
    thickness = rng.uniform(2.0, 2.6) * MM
    ratio = rng.choice((rng.uniform(1.4, 1.9), rng.uniform(1.4, 2.1), rng.uniform(2.1, 3.2)))
    near, far = inner + rng.uniform(0.5, 2.5) * MM, outer - rng.uniform(1.5, 4) * MM
    load, pivot = (near, far) if pull else (far, near)
    tip = rng.uniform(18, 26) * MM
    flat = ratio * thickness * (far - near) / (outer - inner)
    spring = {
        "outer_radius": outer, "inner_radius": inner, "thickness": thickness, "cone_height": ratio * thickness,
        "modulus": 206e9, "poisson": 0.3, "load_radius": load, "pivot_radius": pivot, "tip_radius": tip,
        "set_deflection": flat * rng.uniform(0.95, 1.25),
    }  # fmt: skip
    return spring, abs(pivot - tip) / abs(load - pivot)


def _load_curve(rng: Random, top: float, travel: float) -> Values:
    """A plain, a sagging, or a steeply falling curve up to a travel (or past it)."""
    kind = rng.randrange(5)
    knee = rng.uniform(0.25, 0.5) * travel
    end = travel * rng.choice((1.0, rng.uniform(1.0, 1.5)))
    if kind == 0:
        xs, ys = [0.0, knee, end], [0.0, top, top * rng.uniform(0.6, 1.1)]
    elif kind == 1:
        xs, ys = [0.0, 0.4 * knee, knee, 0.7 * travel, end], [0.0, 0.7 * top, top, 0.75 * top, 0.85 * top]
    elif kind == 2:
        drop = knee + rng.uniform(0.03, 0.5) * MM
        xs, ys = [0.0, knee, drop, end], [0.0, top, top * rng.uniform(0.0, 0.6), top * rng.uniform(0.2, 0.8)]
    elif kind == 3:
        fall = rng.uniform(0.05, 0.4) * MM
        second = knee + fall + rng.uniform(0.3, 1.5) * MM
        xs = [0.0, knee, knee + fall, second, second + fall, max(end, second + 2 * fall)]
        ys = [0.0, top, 0.5 * top, 1.02 * top, rng.uniform(0.02, 0.4) * top, rng.uniform(0.3, 0.7) * top]
    else:
        xs = [0.0, *sorted(rng.uniform(0.05, 0.98) * travel for _ in range(rng.randint(1, 6))), end]
        ys = [0.0, *(top * rng.uniform(0.3, 1.0) for _ in xs[1:])]
    return {"travel": tuple(xs), "load": tuple(ys)}


def _catalog_spring(rng: Random, cover: Values, disc: Values) -> Values:
    top = rng.uniform(800, 2200)
    given: Values = {
        "clamp_load": rng.uniform(2.6, 4.6) * top,
        "release_load": _load_curve(rng, top, cover["max_travel"]),
    }
    if rng.random() < 0.25:  # a corner exactly where the lift starts
        start = max(cover["lift_loss"], 0.2 * MM)
        given["release_load"] = {"travel": (0.0, start, 2 * cover["max_travel"]), "load": (0.0, 0.6 * top, top)}
    worn = {
        "worn_clamp_load": given["clamp_load"] * rng.uniform(0.7, 1.2),
        "worn_release_load": _load_curve(rng, top * rng.uniform(0.9, 1.25), cover["max_travel"]),
    }
    maybe(rng, given, 0.6, **worn)
    return given

"""Random kits of realistic magnitude, seeded, with every odd thing that a kit can have. All numbers are invented."""

from __future__ import annotations

import math
from random import Random

from oracle_covers import MM, Values, maybe, random_cover, random_disc

from fitcheck.profile import Assumptions

ML, BAR, DEG = 1e-6, 1e5, math.pi / 180
BORES = (15.875, 17.4625, 17.78, 19.05, 20.6375, 22.225)  # 5/8 to 7/8 in


def random_kit(
    rng: Random, train: str, *, rest: str | None = None, spring: str | None = None
) -> tuple[dict[str, Values], Values | None, Assumptions]:
    """Parts, old linkage and assumptions; `rest` contact or bottomed (external), `spring` diaphragm or curve, None for either."""
    rest = "contact" if train == "concentric" else rest or rng.choice(("contact", "bottomed"))
    spring = spring or rng.choice(("diaphragm", "curve", "curve"))
    assumed = _assumptions(rng)
    parts: dict[str, Values] = {"application": _application(rng, rest), "pedal": _pedal(rng), "master": _master(rng)}
    parts["line"], parts["fluid"] = _line(rng), _fluid(rng)
    parts["disc"] = random_disc(rng, spring)
    parts["pressure_plate"] = random_cover(rng, spring, parts["disc"])
    if train == "external":
        parts |= _external(rng, rest, parts)
    else:
        parts["concentric"] = _concentric(rng, parts, assumed)
    for family, part in parts.items():
        if family != "application":
            maybe(rng, part, 0.85, cost=round(rng.uniform(10, 300), 2))
            maybe(rng, part, 0.85, mass=rng.uniform(0.1, 9.0))
    return parts, _linkage(rng) if rng.random() < 0.7 else None, assumed


def random_margins(rng: Random) -> dict[str, float]:
    """What rejecting rules may ask of a set-up window."""
    return {
        "m": rng.choice((0.0, rng.uniform(0.2, 1.0) * MM)),
        "u": rng.choice((0.0, rng.uniform(0.3, 1.5) * MM)),
        "v": rng.choice((0.0, rng.uniform(0.3, 1.5) * MM)),
        "r": rng.choice((0.0, rng.uniform(0.1, 0.6) * MM)),
    }


def _assumptions(rng: Random) -> Assumptions:
    return Assumptions(
        air=rng.choice((0.0, rng.uniform(0.05, 0.8) * ML, 0.3 * ML)),
        ambient_pressure=rng.choice((101325.0, rng.uniform(0.65e5, 1.03e5))),
        slope=rng.choice((12.0 * DEG, rng.uniform(3, 22) * DEG)),
        wear_between_adjustments=rng.choice((0.0, rng.uniform(0.1, 0.8) * MM)),
        shim_count=rng.randint(0, 4),
        foot_limit=rng.uniform(500, 1200),
        warming=rng.uniform(20, 80),
    )


def _application(rng: Random, rest: str) -> Values:
    app: Values = {
        "engine_torque": rng.uniform(90, 260), "max_speed": rng.uniform(3500, 7500) * math.pi / 30,
        "vehicle_mass": rng.uniform(700, 2600), "wheel_radius": rng.uniform(0.27, 0.38),
        "first_gear": rng.uniform(2.9, 4.2), "final_drive": rng.uniform(3.3, 5.1),
        "tilt": rng.choice((0.0, rng.uniform(-6, 8) * DEG, rng.uniform(1, 5) * DEG)),
        "bell_depth": 0.0, "flywheel_stand": rng.uniform(-15, 25) * MM, "retainer_diameter": rng.uniform(30, 38) * MM,
        "spline": "10-tooth", "flywheel_pattern": "ring-six", "pivot": "ball", "slave_mount": "two-bolt",
        "slave_action": "push", "concentric_mount": "three-bolt", "master_mount": "firewall-two", "pedal_box": "hanging",
        "window_rest": rng.uniform(8, 25) * MM, "window_release": rng.uniform(8, 30) * MM,
        "slave_seat_to_fork": rng.uniform(55, 130) * MM,
        "fork_return_force": 0.0 if rest == "contact" else rng.choice((0.0, rng.uniform(15, 90), rng.uniform(30, 60))),
        "line_run": rng.uniform(0.6, 2.5), "cold_temperature": rng.choice((rng.uniform(233, 263), rng.uniform(265, 300))),
        "line_temperature": rng.uniform(330, 420),
    }  # fmt: skip
    maybe(rng, app, 0.7, wheelbase=rng.uniform(2.1, 3.4))
    maybe(rng, app, 0.7, retainer_length=rng.uniform(40, 90) * MM)
    maybe(rng, app, 0.4, slave_tilt=rng.choice((0.0, rng.uniform(-12, 12) * DEG)))
    maybe(rng, app, 0.4, slave_clock=rng.uniform(-60, 60) * DEG)
    maybe(rng, app, 0.6, bulkhead_stiffness=rng.uniform(0.6e6, 5e6))
    maybe(rng, app, 0.6, thrust_limit=rng.uniform(900, 2500))
    maybe(rng, app, 0.6, hours_slave=rng.uniform(0.5, 4) * 3600)
    maybe(rng, app, 0.6, hours_gearbox=rng.uniform(4, 14) * 3600)
    return app


def _pedal(rng: Random) -> Values:
    travel = rng.uniform(115, 170) * MM
    pedal: Values = {
        "ratio": rng.uniform(4.5, 7.0), "travel": travel, "free_play": rng.choice((0.0, rng.uniform(1, 12) * MM)),
        "efficiency": rng.uniform(0.75, 1.0), "return_force": _return_force(rng, travel), "pedal_box": "hanging",
    }  # fmt: skip
    low = rng.uniform(0.5, 0.9) * travel
    maybe(rng, pedal, 0.75, stop_range=(low, low + rng.uniform(5, 60) * MM))
    return pedal


def _return_force(rng: Random, travel: float) -> Values:
    """A constant, a rising spring, an over-centre helper, or any curve; it may reach past the travel."""
    kind = rng.randrange(4)
    if kind == 0:
        return {"travel": (0.0,), "force": (rng.uniform(0, 40),)}
    if kind == 1:
        return {"travel": (0.0, travel), "force": (rng.uniform(5, 20), rng.uniform(20, 50))}
    if kind == 2:
        knee = rng.uniform(0.2, 0.6) * travel
        return {"travel": (0.0, knee, travel), "force": (rng.uniform(10, 40), rng.uniform(10, 50), rng.uniform(-60, 0))}
    xs = sorted(rng.uniform(0, 1.1) * travel for _ in range(rng.randint(2, 5)))
    return {"travel": tuple(xs), "force": tuple(rng.uniform(-40, 60) for _ in xs)}


def _master(rng: Random) -> Values:
    stroke = rng.uniform(24, 38) * MM
    master: Values = {
        "bore": rng.choice(BORES) * MM, "stroke": stroke, "cutoff_stroke": rng.choice((0.0, rng.uniform(0.5, 2.0) * MM)),
        "spring_force": rng.choice((0.0, rng.uniform(10, 60))), "efficiency": rng.uniform(0.8, 1.0),
        "pressure_rating": rng.uniform(40, 120) * BAR, "outlet": "3/8-24 double-flare", "seal": "EPDM",
        "master_mount": "firewall-two",
    }  # fmt: skip
    maybe(rng, master, 0.6, reservoir_room=rng.uniform(2, 25) * ML)
    return master


def _line(rng: Random) -> Values:
    port = "3/8-24 double-flare"
    pieces: list[Values] = [_tube(rng) for _ in range(rng.randint(1, 2))]
    if rng.random() < 0.7:
        pieces.append(_hose(rng))
    if rng.random() < 0.3:
        pieces.append({"kind": "adapter", "pressure_rating": rng.uniform(35, 200) * BAR})
    rng.shuffle(pieces)
    return {"pieces": tuple({**piece, "inlet": port, "outlet": port} for piece in pieces)}


def _tube(rng: Random) -> Values:
    return {
        "kind": "tube", "length": rng.uniform(0.3, 1.5), "inner_diameter": rng.choice((3.35, 2.5, 4.9)) * MM,
        "wall": rng.uniform(0.6, 1.0) * MM, "modulus": rng.choice((206e9, 110e9)), "poisson": 0.3, "pressure_rating": 200 * BAR,
    }  # fmt: skip


def _hose(rng: Random) -> Values:
    return {
        "kind": "hose", "length": rng.uniform(0.15, 0.9), "inner_diameter": rng.choice((3.2, 3.0, 4.8)) * MM,
        "expansion": rng.uniform(0.6, 3.0) * ML, "at_pressure": rng.choice((69.0, 103.4)) * BAR, "liner": "EPDM",
        "pressure_rating": rng.uniform(60, 150) * BAR,
    }  # fmt: skip


def _fluid(rng: Random) -> Values:
    """From a stiff cold fluid to a thin one whose flow turns turbulent."""
    warm, thin = rng.choice(((373.15, 2.0), (373.15, 1.5), (323.15, 6.0))), rng.random() < 0.4
    temperature: tuple[float, ...] = (233.15, warm[0])
    kinematic: tuple[float, ...] = (rng.uniform(10, 60) if thin else rng.uniform(400, 1800), warm[1])
    if rng.random() < 0.3:
        temperature, kinematic = (233.15, 293.15, warm[0]), (kinematic[0], min(14.0, 0.6 * kinematic[0]), warm[1])
    fluid: Values = {
        "base": "glycol", "class": "DOT 4", "bulk_modulus": rng.uniform(1.2e9, 2.2e9), "density": rng.uniform(850, 1080),
        "viscosity": {"temperature": temperature, "kinematic": tuple(k * 1e-6 for k in kinematic)},
        "dry_boil": 503.0, "wet_boil": rng.uniform(410, 455),
    }  # fmt: skip
    maybe(rng, fluid, 0.7, expansion=rng.uniform(5e-4, 1.1e-3))
    return fluid


def _release(parts: dict[str, Values], lever: float) -> float:
    disc, cover = parts["disc"], parts["pressure_plate"]
    return float(lever * (disc["cushion_travel"] + disc["faces"] * disc["running_clearance"]) + cover["lift_loss"])


def _lever(cover: Values) -> float:
    if "diaphragm" not in cover:
        return float(cover["lever_ratio"])
    spring = cover["diaphragm"]
    return float(abs(spring["pivot_radius"] - spring["tip_radius"]) / abs(spring["load_radius"] - spring["pivot_radius"]))


def _wanted_area(rng: Random, parts: dict[str, Values]) -> float:
    """Piston area times fork ratio that would bring the fingers about where they should go; sometimes far off."""
    pedal, master = parts["pedal"], parts["master"]
    rod = min((pedal["travel"] - pedal["free_play"]) / pedal["ratio"], master["stroke"]) - master["cutoff_stroke"]
    volume = math.pi / 4 * master["bore"] ** 2 * rod
    finger = _release(parts, _lever(parts["pressure_plate"])) + rng.uniform(0.5, 2.5) * MM
    aim = rng.choice((rng.uniform(0.7, 1.0), rng.uniform(0.8, 0.92), rng.uniform(0.5, 1.5)))
    return float(aim * volume / max(finger, 3 * MM))


def _cavity(rng: Random, part: Values, clock: bool) -> None:
    length = rng.uniform(15, 45) * MM
    cavity: Values = {
        "length": length,
        "bleed_offset": rng.choice((0.0, length, rng.uniform(0, 1) * length, rng.uniform(0, 8) * MM)),
    }
    cavity["bleed_offset"] = min(cavity["bleed_offset"], length)
    if clock:
        cavity["clock"] = rng.uniform(-75, 75) * DEG
    maybe(rng, part, 0.7, cavity=cavity)


def _external(rng: Random, rest: str, parts: dict[str, Values]) -> dict[str, Values]:
    app, cover = parts["application"], parts["pressure_plate"]
    ratio = rng.uniform(1.4, 2.3)
    area = _wanted_area(rng, parts) / ratio
    lever = _lever(cover)
    back = ratio * lever * parts["disc"]["wear_allowance"]
    goes = ratio * (_release(parts, lever) + 3 * MM)
    pushes = rng.random() < 0.75
    app["slave_action"] = "push" if pushes == (cover["action"] == "push") else "pull"
    slave: Values = {
        "bore": math.sqrt(4 * area / math.pi), "stroke": goes + (back if rest == "contact" else 0) + rng.uniform(-3, 12) * MM,
        "preload": rng.uniform(15, 90) if rest == "contact" else 0.0, "efficiency": rng.uniform(0.85, 1.0),
        "pressure_rating": rng.uniform(40, 100) * BAR, "inlet": "3/8-24 double-flare", "seal": "EPDM",
        "action": "push" if pushes else "pull", "slave_mount": "two-bolt",
        "dead_volume": rng.choice((0.0, rng.uniform(1, 8) * ML)),
    }  # fmt: skip
    maybe(rng, slave, 0.7, rod_pitch=rng.choice((1.0, 1.25)) * MM)
    _cavity(rng, slave, rng.random() < 0.6)
    fork: Values = {
        "ratio": ratio, "arm": rng.choice((rng.uniform(60, 130), rng.uniform(60, 130), rng.uniform(4, 15))) * MM,
        "stiffness": 0.25e6 * 16 ** rng.random(), "efficiency": rng.uniform(0.85, 1.0), "ears": "clip", "pivot": "ball",
        "ear_plane": rng.uniform(20, 50) * MM,
    }  # fmt: skip
    bearing: Values = {
        "height": rng.uniform(15, 35) * MM, "bore": app["retainer_diameter"] + rng.uniform(0.05, 0.6) * MM,
        "face_diameter": 45 * MM, "face": "flat", "load_rating": rng.uniform(1500, 4000),
        "speed_rating": rng.uniform(5500, 9000) * math.pi / 30, "ears": "clip", "action": cover["action"],
    }  # fmt: skip
    maybe(rng, bearing, 0.7, guide_rear=rng.uniform(5, 25) * MM)
    sigma = 1 if cover["action"] == "push" else -1
    zeta = rng.uniform(-9, 5) * MM
    tips = fork["ear_plane"] + sigma * zeta + bearing["height"]
    app["bell_depth"] = tips + app["flywheel_stand"] + cover["finger_height"]
    target = rng.uniform(0, 3) * MM if rest == "bottomed" else (slave["stroke"] - goes + back) / 2
    rod = app["slave_seat_to_fork"] + (1 if pushes else -1) * (ratio * zeta - target)
    slack = rng.uniform(1, 12) * MM
    wrong = rng.uniform(-30, 30) * MM if rng.random() < 0.08 else 0.0  # a rod of another kit: the fingers may not move at all
    slave["rod_min"] = rod - slack + wrong + rng.choice((0.0, rng.uniform(-6, 6) * MM))
    slave["rod_max"] = slave["rod_min"] + 2 * slack
    return {"slave": slave, "fork": fork, "bearing": bearing}


def _concentric(rng: Random, parts: dict[str, Values], assumed: Assumptions) -> Values:
    app, cover = parts["application"], parts["pressure_plate"]
    inner = rng.uniform(34, 42) * MM
    back = _lever(cover) * parts["disc"]["wear_allowance"]
    goes = _release(parts, _lever(cover)) + 2 * MM
    grid = (0.2, 0.25, 0.3, 0.5, 1.0, 1.5, 2.0)
    part: Values = {
        "outer_diameter": math.sqrt(inner**2 + 4 * _wanted_area(rng, parts) / math.pi), "inner_diameter": inner,
        "stroke": back + goes + rng.uniform(-2, 8) * MM, "height": rng.uniform(30, 50) * MM,
        "bore": app["retainer_diameter"] + rng.uniform(0.1, 2) * MM, "face_diameter": 45 * MM, "face": "flat",
        "action": cover["action"], "preload": rng.uniform(10, 140), "efficiency": rng.uniform(0.85, 1.0),
        "load_rating": rng.uniform(1500, 4000), "speed_rating": rng.uniform(5500, 9000) * math.pi / 30,
        "pressure_rating": rng.uniform(40, 100) * BAR, "inlet": "3/8-24 double-flare", "seal": "EPDM",
        "concentric_mount": "three-bolt", "shims": tuple(sorted(t * MM for t in rng.sample(grid, rng.randint(0, 4)))),
        "dead_volume": rng.choice((0.0, rng.uniform(1, 8) * ML)),
    }  # fmt: skip
    _cavity(rng, part, rng.random() < 0.4)
    thick = max(part["shims"], default=0.0) * assumed.shim_count
    gap = (part["stroke"] - goes + back) / 2 + rng.uniform(-1, 1) * MM + rng.uniform(0, 1) * thick
    app["bell_depth"] = gap + part["height"] + app["flywheel_stand"] + cover["finger_height"]
    return part


def _linkage(rng: Random) -> Values:
    return {
        "ratio": rng.uniform(8, 15), "efficiency": rng.uniform(0.5, 0.95), "stiffness": rng.uniform(0.2e6, 2e6),
        "free_play": rng.choice((0.0, rng.uniform(2, 25) * MM)),
    }  # fmt: skip

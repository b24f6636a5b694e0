"""A slow oracle: all metrics of one kit in plain floats, written apart from the program that it checks. SI throughout.

`evaluate` gives the metrics, `oracle_verdict` the verdict and what is legal. Derivation: volume balance of the line, balance of
levers, and the published laws named in `oracle_parts`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from typing import Any

from oracle_bite import ABSENT, Bite, Entry, Metrics, attempt, torque_of, value
from oracle_kit import Assumed, CannotError, Kit, Press, Settled, Values
from oracle_math import Path, Piece, greatest, integrate, least
from oracle_parts import Load, pocket
from oracle_verdict import judge, legal, margins_of

__all__ = ["evaluate", "judge", "legal", "margins_of"]

TINY_PRESSURE = 1e-3  # Pa; less is a rounding error at the kink where preload is overcome


def _given(values: Values, names: Sequence[str], family: str, compute: Callable[[], float]) -> Entry:
    """A value, or the optional fields it lacks."""
    lacking = {f"{family}.{name}" for name in names if name not in values}
    return ("not given", math.nan, lacking) if lacking else attempt(compute)


def evaluate(
    train: str,
    parts: Mapping[str, Values],
    linkage: Values | None,
    assumptions: Assumed,
    margins: Mapping[str, float],
    supplied: Sequence[str] = (),
) -> dict[str, Any]:
    """All metrics of one kit, as (state, value, reason), and a few extra entries."""
    kit = Kit(train, parts, assumptions, margins)
    now = Settled(kit)
    bite = Bite(kit, now)
    out: dict[str, Any] = {}
    for group in (_travels, _strokes, _efforts, _pressures, _clamping, _fluid, _bearing, _fork):
        out.update(group(kit, now))
    out.update(bite.metrics())
    out.update(_air(kit, now))
    out.update(_sums(kit, supplied))
    out["effort_vs_linkage"] = _against(kit, now, linkage)
    x_bite = attempt(bite.x_bite)[1]
    new_only = set() if kit.worn_known else {name for name in WORN if out[name][0] == "value"}
    return out | {
        "x_full": now.airy.x_full, "x_rel": kit.x_rel, "x_bite": x_bite, "with_stop": now.with_stop,
        "shims": now.shims, "new_only": new_only,
    }  # fmt: skip


WORN = (
    "effort_peak", "effort_hold", "effort_return", "peak_pressure", "pressure_use", "bearing_load_use", "thrust_use",
    "release_margin_worn",
)  # fmt: skip


def _travels(kit: Kit, now: Settled) -> Metrics:
    airy = now.airy
    yield "total_ratio", value(kit.r_p * kit.a_s / kit.a_m * kit.r_f)
    yield "supply_volume", value(kit.supply)
    yield "release_volume", value(airy.path.highest(kit.x_rel)[0])
    yield "release_point", attempt(lambda: kit.pad(airy.path, kit.x_rel))
    yield "release_point_share", attempt(lambda: kit.pad(airy.path, kit.x_rel) / kit.travel)
    yield "release_margin", value(airy.x_full - kit.x_rel)
    yield "release_margin_worn", value((now.airy_worn or airy).x_full - kit.x_rel)
    yield "overtravel", value(now.tight.x_full - kit.max_travel)
    yield "pedal_stop", ABSENT if now.pedal_stop is None else value(now.pedal_stop)
    end = max(airy.x_full, kit.x_rel)
    yield "jump", value(max((min(b, end) - a for a, b in airy.path.stretches if a < end), default=0.0))
    yield "compliance_loss", attempt(lambda: _compliance_loss(kit, now))


def _compliance_loss(kit: Kit, now: Settled) -> float:
    """Share lost at release, or at the top before a jump over it."""
    volume, place = now.airy.path.highest(kit.x_rel)
    if volume <= 0:
        raise CannotError("no release volume")
    return kit.loss(kit.pressure(kit.new(place)), kit.assumed.air) / volume


def _strokes(kit: Kit, now: Settled) -> Metrics:
    slave_travel = kit.r_f * (now.tight.x_full + now.tight.full_load / kit.k_f)
    worn_back = kit.r_f * kit.back
    yield "master_reserve", value(kit.m_stroke - kit.rod(kit.travel))
    yield "stroke_reserve", value(kit.stroke - now.x_s0 - now.lash - slave_travel)
    yield "free_stroke_reserve", value(kit.stroke - now.x_s0 - kit.supply / kit.a_s)
    yield "wear_reserve", value(now.x_s0 - worn_back) if kit.contact else ABSENT
    yield "adjustments", ABSENT if kit.contact else value(_adjustments(worn_back, now.lash))
    yield "setup_low", value(now.low)
    yield "setup_high", value(now.high)
    yield "setup_window", value(now.high - now.low)
    yield "setup_window_fingers", value((now.high - now.low) / kit.r_f)
    yield "setup_target", value(now.target)
    yield "shim_stack", ABSENT if kit.external else value(sum(now.shims))


def _adjustments(worn_back: float, lash: float) -> float:
    return math.inf if lash <= 0 else float(max(0, math.ceil(worn_back / lash - 1e-9) - 1))


def _either(now: Settled, choose: Callable[..., float], read: Callable[[Press], float], tight: bool) -> float:
    """The larger (or smaller) of new and fully worn, where the worn curve is known."""
    presses = (now.tight, now.tight_worn) if tight else (now.airy, now.airy_worn)
    return float(choose([read(press) for press in presses if press]))


def _efforts(kit: Kit, now: Settled) -> Metrics:
    airy = now.airy
    yield "effort_peak", value(_either(now, max, Press.peak, tight=True))
    yield "effort_hold", value(_either(now, max, lambda press: press.effort(press.x_full), tight=False))
    yield "effort_drop", attempt(lambda: _drop(airy))
    yield "effort_return", value(_either(now, min, lambda press: least(press.effort_back, press.points())[1], tight=False))
    yield "dead_band", value(airy.effort(airy.x_full) - airy.effort_back(airy.x_full))
    yield "pedal_work", value(_work(kit, airy))


def _drop(press: Press) -> float:
    peak = press.peak()
    if peak <= 0:
        raise CannotError("no effort")
    return (peak - press.least_after_peak()) / peak


def _work(kit: Kit, press: Press) -> float:
    """Work of one press: the pedal's own force, the master's spring, and pressure times volume without stretches jumped over."""
    path = press.path
    xs = path.points(0.0, press.x_full)
    fluid = kit.pressure(kit.new(0.0)) * path.value(0.0)
    for a, b in pairwise(xs):
        if not any(top <= a and b <= landing for top, landing in path.stretches):
            slope = path.slope  # the pieces join at break points, so the slope inside is that of one piece
            fluid += integrate(lambda x, slope=slope: kit.pressure(kit.new(x)) * slope(x), a, b)  # type: ignore[misc]
    own = kit.foot.area(0.0, press.end)
    return float(own + kit.m_spring * kit.rod(press.end) / kit.eta_p + fluid / (kit.eta_m * kit.eta_p))


def _rating(kit: Kit) -> float:
    """The lowest pressure rating in the train."""
    return float(min(part["pressure_rating"] for part in (kit.master, kit.act, *kit.pieces)))


def _pressures(kit: Kit, now: Settled) -> Metrics:
    peak = _either(now, max, lambda press: kit.pressure(press.peak_load()), tight=True)
    held = min(kit.foot(s) for s in kit.foot.knots(0.0, kit.travel))
    blocked = ((kit.assumed.foot_limit - held) * kit.r_p * kit.eta_p - kit.m_spring) * kit.eta_m / kit.a_m
    yield "peak_pressure", value(peak)
    yield "pressure_use", value(peak / _rating(kit))
    yield "blocked_use", value(blocked / _rating(kit))


def _clamping(kit: Kit, now: Settled) -> Metrics:
    engine = kit.app["engine_torque"]
    capacity = torque_of(kit.disc, kit.clamp(worn=False))
    yield "resting_load", value(kit.resting_load())
    yield "torque_capacity", value(capacity)
    yield "torque_factor", value(capacity / engine)
    if kit.worn_known:
        worn = torque_of(kit.disc, kit.clamp(worn=True))
        yield "torque_capacity_worn", value(worn)
        yield "torque_factor_worn", value(worn / engine)
    else:
        unknown: Entry = ("not given", math.nan, {"pressure_plate.worn_clamp_load"})
        yield from (("torque_capacity_worn", unknown), ("torque_factor_worn", unknown))
    lifted = kit.lift_loss + kit.r_d * kit.disc["cushion_travel"]
    checkable = not kit.spring and kit.disc["cushion_travel"] > 0
    yield "lever_check", value(kit.r_d * kit.new(lifted) / kit.cover["clamp_load"]) if checkable else ABSENT


def _fluid(kit: Kit, now: Settled) -> Metrics:
    app, fluid = kit.app, kit.fluid
    rise = kit.a_s * kit.r_f * kit.back

    def creep() -> float:
        return float(max(0.0, kit.v_f * fluid["expansion"] * kit.assumed.warming / kit.a_s - now.lash) / kit.r_f)

    yield "port_clearance", value(kit.free_play / kit.r_p)
    yield "warm_creep", _given(fluid, ["expansion"], "fluid", creep)
    yield "boil_reserve", value(fluid["wet_boil"] - app["line_temperature"])
    yield "reservoir_rise", value(rise) if kit.contact else ABSENT
    spare = _given(kit.master, ["reservoir_room"], "master", lambda: kit.master["reservoir_room"] - rise)
    yield "reservoir_spare", spare if kit.contact else ABSENT
    yield "line_spare", value(sum(p.get("length", 0.0) for p in kit.pieces) - app["line_run"])
    hours = "hours_slave" if kit.external else "hours_gearbox"
    yield "service_hours", _given(app, [hours], "application", lambda: app[hours])
    yield "bleed_lift", _given(app, ["wheelbase"], "application", lambda: app["wheelbase"] * math.sin(app["tilt"]))


def _air(kit: Kit, now: Settled) -> Metrics:
    allowance = _allowance(kit, now)
    found = _given(kit.act, ["cavity"], kit.act_family, lambda: _pocket(kit))
    yield "air_allowance", value(allowance)
    yield "air_pocket", found
    yield "air_reserve", value(allowance - found[1]) if found[0] == "value" else found


def _allowance(kit: Kit, now: Settled) -> float:
    """The least air, over the way to release, that would leave too little volume; no bound where there is no pressure."""
    path = now.tight.path
    if kit.x_rel <= 0:
        return math.inf

    def bound(x: float) -> float:
        p = kit.pressure(kit.new(x))
        return math.inf if p < TINY_PRESSURE else (kit.supply - path.value(x)) * (kit.p_0 + p) / p

    xs = path.points(0.0, kit.x_rel)
    found = [bound(x) for x in xs]
    for a, b in pairwise(xs):
        if math.isinf(bound((a + b) / 2)):
            continue
        starved = any(math.isinf(bound(x)) and path.value(x) > kit.supply for x in (a, b))
        found.append(-math.inf if starved else least(bound, [a, b])[1])
    return min(found)


def _pocket(kit: Kit) -> float:
    act, app = kit.act, kit.app
    cavity = act["cavity"]
    clock = cavity.get("clock", 0.0)
    if kit.external:
        tilt = app.get("slave_tilt", app["tilt"])
        return pocket(act["bore"], 0.0, cavity["length"], cavity["bleed_offset"], clock + app.get("slave_clock", 0.0), tilt)
    outer, inner = act["outer_diameter"], act["inner_diameter"]
    return pocket(outer, inner, cavity["length"], cavity["bleed_offset"], clock, app["tilt"])


def _bearing(kit: Kit, now: Settled) -> Metrics:
    app, bearing = kit.app, kit.carrier
    peak = _either(now, max, Press.peak_load, tight=True)
    held = _either(now, max, lambda press: press.full_load, tight=False)
    yield "bearing_load_use", value(peak / bearing["load_rating"])
    yield "thrust_use", _given(app, ["thrust_limit"], "application", lambda: held / app["thrust_limit"])
    yield "speed_use", value(app["max_speed"] / min(bearing["speed_rating"], kit.cover["speed_rating"]))
    yield "retainer_clearance", value(bearing["bore"] - app["retainer_diameter"])
    yield "sleeve_engagement", _sleeve(kit, now) if kit.external else ABSENT


def _sleeve(kit: Kit, now: Settled) -> Entry:
    app, bearing = kit.app, kit.carrier
    far = now.ears + (now.tight.x_full if kit.cover["action"] == "push" else kit.back)
    lacking = {"application.retainer_length"} - {f"application.{k}" for k in app}
    lacking |= {"bearing.guide_rear"} - {f"bearing.{k}" for k in bearing}
    if lacking:
        return ("not given", math.nan, lacking)
    return value(app["retainer_length"] + bearing["guide_rear"] - far)


def _fork(kit: Kit, now: Settled) -> Metrics:
    names = ("rod_length", "rod_turn", "fork_angle_rest", "fork_angle_full", "fork_angle_worn", "rod_angle", "window_clearance")
    if not kit.external:
        yield from ((name, ABSENT) for name in names)
        return
    rest = now.zeta - now.lash / kit.r_f
    offsets = {"rest": rest, "full": now.zeta + now.tight.x_full, "worn": rest - kit.back}
    yield "rod_length", value(now.rod_length())
    turn = _given(kit.act, ["rod_pitch"], "slave", lambda: kit.act["rod_pitch"] * kit.r_p * kit.a_s / kit.a_m)
    yield "rod_turn", ABSENT if kit.contact else turn
    for name, offset in offsets.items():
        yield f"fork_angle_{name}", attempt(lambda offset=offset: _angle(kit, offset))  # type: ignore[misc]
    yield "rod_angle", attempt(lambda: _rod_angle(kit, now, list(offsets.values())))
    yield "window_clearance", value(_window_clearance(kit, now))


def _angle(kit: Kit, offset: float) -> float:
    arm = kit.parts["fork"]["arm"]
    if abs(offset) > arm:
        raise CannotError("arm")
    return math.asin(offset / arm)


def _rod_angle(kit: Kit, now: Settled, offsets: Sequence[float]) -> float:
    worst = max(abs(_angle(kit, offset)) for offset in offsets)
    side, length = kit.r_f * kit.parts["fork"]["arm"] * (1 - math.cos(worst)), now.rod_length()
    if length <= 0 or side > length:
        raise CannotError("rod")
    return math.asin(side / length)


def _window_clearance(kit: Kit, now: Settled) -> float:
    rest = kit.r_f * now.zeta - now.lash
    full = kit.r_f * (now.zeta + now.tight.x_full + now.tight.full_load / kit.k_f)
    tips = [rest, full, rest - kit.r_f * kit.back, full - kit.r_f * kit.back]
    return float(min(min(kit.app["window_release"] - e, kit.app["window_rest"] + e) for e in tips))


def _sums(kit: Kit, supplied: Sequence[str]) -> Metrics:
    wanted = [f for f in kit.parts if (f in supplied if supplied else f != "application")]
    for name in ("cost", "mass"):
        lacking = {f"{family}.{name}" for family in wanted if name not in kit.parts[family]}
        total = math.fsum(kit.parts[family].get(name, 0.0) for family in wanted)
        yield name, ("not given", math.nan, lacking) if lacking else value(total)


def _against(kit: Kit, now: Settled, linkage: Values | None) -> Entry:
    """The largest force against that of the old linkage, both new."""
    if linkage is None:
        return ("not given", math.nan, {"application.linkage"})
    old = _linkage_peak(kit, linkage, kit.new)
    return value(now.tight.peak() / old - 1) if old > 0 else ("cannot", math.nan, "no effort")


def _linkage_peak(kit: Kit, linkage: Values, load: Load) -> float:
    ratio, soft = linkage["ratio"], linkage["stiffness"]

    def drawn(x: float) -> float:
        return float(x + load(x) / soft)

    pieces = [Piece(p.start, p.end, drawn, lambda x, p=p: 1 + p.slope(x) / soft) for p in load.pieces]  # type: ignore[misc]
    path = Path(drawn, pieces, 1.0)
    idle = min(linkage["free_play"], kit.travel)
    x_full = path.first((kit.travel - idle) / ratio)

    def effort(x: float) -> float:
        pad = min(linkage["free_play"] + ratio * path.highest(x)[0], kit.travel)
        return float(load(x) / (ratio * linkage["efficiency"])) + kit.foot(pad)

    corners = [path.first((s - idle) / ratio) for s in kit.foot.x if idle < s < kit.travel]
    before = max(kit.foot(s) for s in kit.foot.knots(0.0, idle))
    return max(before, greatest(effort, path.points(0.0, x_full, corners))[1])

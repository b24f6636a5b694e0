"""The oracle against kits worked by hand, worked examples of books, and plain scanning."""

from __future__ import annotations

import math
from itertools import pairwise
from random import Random
from types import SimpleNamespace
from typing import Any

import oracle
import pytest
from oracle_bite import Bite
from oracle_kit import Kit, Press, Settled
from oracle_kits import random_kit, random_margins

MM, ML = 1e-3, 1e-6
NO_MARGINS = {"m": 0.0, "u": 0.0, "v": 0.0, "r": 0.0}


def hand_parts() -> dict[str, Any]:
    """A concentric kit without give: master 300 mm2, piston 600 mm2, pedal 6 to 1."""
    return {
        "application": {
            "engine_torque": 102.0, "max_speed": 600.0, "vehicle_mass": 1000.0, "wheel_radius": 0.3, "first_gear": 4.0,
            "final_drive": 5.0, "tilt": 0.05, "bell_depth": 98 * MM, "flywheel_stand": 10 * MM, "retainer_diameter": 34 * MM,
            "line_run": 0.9, "cold_temperature": 250.0, "line_temperature": 370.0, "fork_return_force": 0.0,
        },
        "pedal": {
            "ratio": 6.0, "travel": 130 * MM, "free_play": 4 * MM, "efficiency": 0.8,
            "return_force": {"travel": (0.0,), "force": (10.0,)},
        },
        "master": {
            "bore": math.sqrt(1200 / math.pi) * MM, "stroke": 30 * MM, "cutoff_stroke": 1 * MM, "spring_force": 160 / 3,
            "efficiency": 0.9, "pressure_rating": 4e6, "reservoir_room": 5 * ML,
        },
        "line": {"pieces": (
            {"kind": "tube", "length": 1.0, "inner_diameter": 3 * MM, "wall": 1 * MM, "modulus": 1e40, "poisson": 0.3,
             "pressure_rating": 1e8},
        )},
        "fluid": {
            "bulk_modulus": 1e40, "density": 1000.0, "wet_boil": 430.0,
            "viscosity": {"temperature": (250.0, 300.0), "kinematic": (500e-6, 20e-6)},
        },
        "concentric": {
            "outer_diameter": math.sqrt(1600 + 2400 / math.pi) * MM, "inner_diameter": 40 * MM, "stroke": 20 * MM,
            "height": 40 * MM, "bore": 36 * MM, "preload": 0.0, "efficiency": 0.9, "load_rating": 2160.0, "speed_rating": 1000.0,
            "pressure_rating": 5e6, "shims": (0.5 * MM, 1.0 * MM), "dead_volume": 0.0,
        },
        "pressure_plate": {
            "action": "push", "lift_loss": 1.5 * MM, "max_travel": 11 * MM, "finger_height": 40 * MM, "speed_rating": 800.0,
            "clamp_load": 4000.0, "lever_ratio": 3.0,
            "release_load": {"travel": (0.0, 5 * MM, 10 * MM), "load": (0.0, 1080.0, 864.0)},
        },
        "disc": {
            "outer_diameter": 200 * MM, "inner_diameter": 140 * MM, "faces": 2, "friction": 0.3, "cushion_travel": 0.8 * MM,
            "running_clearance": 0.35 * MM, "wear_allowance": 1.5 * MM,
        },
    }  # fmt: skip


def hand_assumptions(**changes: Any) -> Any:
    """No air; a slope whose torque at the clutch is 51 N m: m g sin(slope) 0.3/20."""
    slope = math.asin(51 * 20 / (1000 * 9.80665 * 0.3))
    values = {"air": 0.0, "ambient_pressure": 101325.0, "slope": slope, "wear_between_adjustments": 0.5 * MM, "shim_count": 3,
              "foot_limit": 1000.0, "warming": 60.0}  # fmt: skip
    return SimpleNamespace(**(values | changes))


def numbers(out: dict[str, Any], expected: dict[str, float], rel: float = 1e-12) -> None:
    """Compare metrics in SI; all must be values."""
    for name, number in expected.items():
        state, value, _ = out[name]
        assert state == "value", name
        assert value == pytest.approx(number, rel=rel, abs=1e-15), name


def test_concentric_kit_by_hand() -> None:
    """Rod 126/6 = 21 mm, 20 past the port, 6 mL, 10 mm; release at 3 (0.8 + 0.7) + 1.5 = 6 mm; 20 bar at 5, 16 at 10."""
    out = oracle.evaluate("concentric", hand_parts(), None, hand_assumptions(), NO_MARGINS)
    numbers(out, {
        "total_ratio": 12, "supply_volume": 6e-6, "release_volume": 3.6e-6,
        "release_point": 82e-3,  # 4 + 6 (1 + 12)
        "release_point_share": 82 / 130, "release_margin": 4e-3, "overtravel": -1e-3, "master_reserve": 9e-3, "jump": 0,
        # window: 3 x 1.5 = 4.5 to 20 - 10 = 10, cut to the gaps 8 - 3 to 8; middle 6.5 by one shim of 0.5 and one of 1.0
        "setup_low": 5e-3, "setup_high": 8e-3, "setup_window": 3e-3, "setup_window_fingers": 3e-3, "setup_target": 6.5e-3,
        "shim_stack": 1.5e-3, "wear_reserve": 2e-3, "stroke_reserve": 3.5e-3, "free_stroke_reserve": 3.5e-3,
        # pad: (2e6 x 3e-4/0.9 + 53.333)/4.8 + 10; (1.6e6 ...); back (1.296e6 x 2.7e-4 + 53.333) 0.8/6 + 10, at rest 7.111 + 10
        "effort_peak": 160, "effort_hold": 1100 / 9 + 10, "effort_drop": (150 - 1100 / 9) / 160,
        "effort_return": 64 / 9 + 10, "dead_band": 1100 / 9 - (349.92 + 160 / 3) * 0.8 / 6,
        # 10 x 0.13 + 53.333 x 0.021/0.8 + (2.7 + 4.86)/0.9/(0.9 x 0.8)
        "pedal_work": 1.3 + 1.4 + 8.4 / 0.72,
        "peak_pressure": 2e6, "pressure_use": 0.5, "bearing_load_use": 0.5, "speed_use": 0.75,
        "blocked_use": (990 * 4.8 - 160 / 3) * 0.9 / 3e-4 / 4e6,
        # 2 x 0.3 x 4000 x 0.085; 51 N m is a quarter: 0.6 mm lift, 1.5 + 1.8 = 3.3 mm; 102 N m is a half: 2.7 mm
        "resting_load": 0, "torque_capacity": 204, "torque_factor": 2, "bite_point": 49.6e-3, "bite_height": 80.4 / 130,
        "bite_band": 7.2e-3, "effort_slope": 3e-4 / (0.9 * 4.8) * 4e8 / 12,
        # 6e-4 x 128 x 0.5/(pi 0.003^4 x 1500) (ln(5/3.3)/216000 + ln(1080/864)/43200): laminar, Re about 5
        "return_time": 0.0384 / (math.pi * 81e-12 * 1500) * (math.log(5 / 3.3) / 216000 + math.log(1.25) / 43200),
        "port_clearance": 4e-3 / 6, "boil_reserve": 60, "reservoir_rise": 2.7e-6, "reservoir_spare": 2.3e-6, "line_spare": 0.1,
        "retainer_clearance": 2e-3, "lever_check": 3 * (1080 + (3.9 - 5) / 5 * 1080) / 4000, "compliance_loss": 0,
        # least at 6 mm, where 1036.8 N make 19.2 bar: 2.4 mL (p_0 + p)/p; (6 - 0.6 x)(1 + p_0/p) falls on the way there
        "air_allowance": 2.4e-6 * (101325 + 1.92e6) / 1.92e6,
    })  # fmt: skip
    assert out["shims"] == (0.5 * MM, 1.0 * MM)
    assert out["new_only"] == {"effort_peak", "effort_hold", "effort_return", "peak_pressure", "pressure_use", "bearing_load_use",
                               "release_margin_worn"}  # fmt: skip
    assert out["pedal_stop"][0] == out["rod_length"][0] == out["adjustments"][0] == "absent"
    assert out["torque_capacity_worn"] == ("not given", pytest.approx(math.nan, nan_ok=True), {"pressure_plate.worn_clamp_load"})
    assert out["air_reserve"][2] == {"concentric.cavity"}
    assert out["effort_vs_linkage"][2] == {"application.linkage"}
    assert {"pedal.cost", "disc.cost"} <= out["cost"][2]
    assert "application.cost" not in out["cost"][2]


def test_stop_by_hand() -> None:
    """The same kit with 9 mm of finger travel allowed: a stop at 4 + 6 (1 + 18) = 118 mm is in range and shortens the travel."""
    parts = hand_parts()
    parts["pressure_plate"]["max_travel"] = 9 * MM
    out = oracle.evaluate("concentric", parts, None, hand_assumptions(), NO_MARGINS)
    numbers(out, {"pedal_stop": 118e-3, "overtravel": 1e-3})
    parts["pedal"]["stop_range"] = (110 * MM, 125 * MM)
    out = oracle.evaluate("concentric", parts, None, hand_assumptions(), NO_MARGINS)
    assert out["with_stop"]
    numbers(
        out, {"pedal_stop": 118e-3, "overtravel": 0, "supply_volume": 5.4e-6, "bite_height": 68.4 / 118, "master_reserve": 11e-3}
    )
    out = oracle.evaluate("concentric", parts, None, hand_assumptions(), NO_MARGINS | {"r": 2.0 * MM})
    assert not out["with_stop"]  # 4 + 6 (1 + 14) = 94 mm is out of range
    numbers(out, {"pedal_stop": 94e-3, "supply_volume": 6e-6})


def external_parts() -> dict[str, Any]:
    """The hand kit with a slave of 300 mm2 that rests bottomed, a fork of 2 to 1, 1 mm off square."""
    parts = hand_parts()
    del parts["concentric"]
    parts["application"] |= {"slave_seat_to_fork": 80 * MM, "window_rest": 15 * MM, "window_release": 20 * MM}
    parts["pressure_plate"]["max_travel"] = 9 * MM
    parts["slave"] = {
        "bore": math.sqrt(1200 / math.pi) * MM, "stroke": 30 * MM, "preload": 0.0, "efficiency": 1.0, "pressure_rating": 5e6,
        "action": "push", "rod_min": 50 * MM, "rod_max": 100 * MM, "rod_pitch": 1 * MM, "dead_volume": 0.0,
    }  # fmt: skip
    parts["fork"] = {"ratio": 2.0, "arm": 100 * MM, "stiffness": 1e40, "efficiency": 1.0, "ear_plane": 27 * MM}
    parts["bearing"] = {"height": 20 * MM, "bore": 35 * MM, "load_rating": 2160.0, "speed_rating": 1000.0, "guide_rear": 5 * MM}
    return parts


def test_bottomed_kit_by_hand() -> None:
    """6 mL; 0.6 mL a millimetre of fingers, 0.3 a millimetre of lash; release needs 3.6 mL, the limit of 9 mm needs 5.4 mL."""
    out = oracle.evaluate("external", external_parts(), None, hand_assumptions(), NO_MARGINS)
    numbers(out, {
        "setup_high": 8e-3,  # (6 - 3.6)/0.3
        "setup_low": 3e-3,  # wear between adjustments 2 x 3 x 0.5; the limit would ask for (6 - 5.4)/0.3 = 2
        "setup_target": 5.5e-3, "setup_window_fingers": 2.5e-3,
        "release_margin": 1.25e-3,  # (6 - 1.65)/0.6 - 6
        "overtravel": -1.75e-3, "adjustments": 1,  # 9/5.5 is 2 settings, less 1
        "stroke_reserve": 10e-3,  # 30 - 5.5 - 14.5
        "rod_length": 76.5e-3,  # 80 + 2 x 1 - 5.5
        "rod_turn": 6e-3, "release_point": 115e-3,  # 4 + 6 (1 + 17.5)
        "fork_angle_rest": math.asin(-0.0175), "fork_angle_full": math.asin(0.0825), "fork_angle_worn": math.asin(-0.0625),
        "rod_angle": math.asin(200 * (1 - math.cos(math.asin(0.0825))) / 76.5),
        "window_clearance": 2.5e-3,  # tips at -3.5, 16.5, -12.5 and 7.5 between -15 and 20
    })  # fmt: skip
    assert out["wear_reserve"][0] == out["reservoir_rise"][0] == out["shim_stack"][0] == "absent"
    assert out["sleeve_engagement"][2] == {"application.retainer_length"}


def test_a_fork_arm_too_short_cannot_be_computed() -> None:
    """8.25 mm off square on an arm of 8 mm."""
    parts = external_parts()
    parts["fork"]["arm"] = 8 * MM
    out = oracle.evaluate("external", parts, None, hand_assumptions(), NO_MARGINS)
    assert [out[f"fork_angle_{name}"][0] for name in ("rest", "full", "worn")] == ["value", "cannot", "value"]
    assert out["rod_angle"][::2] == ("cannot", "arm")


def test_jump_by_hand() -> None:
    """0.3 mL per 10 bar of hose: 3.0 mL at 4 mm (20 bar), 2.58 mL at 4.2 mm (2 bar), then 0.6 + 0.3 x 1.8/7.8 mL a millimetre."""
    parts = hand_parts()
    hose = {
        "kind": "hose",
        "length": 1.0,
        "inner_diameter": 3 * MM,
        "expansion": 3e-6,
        "at_pressure": 1e7,
        "pressure_rating": 1e8,
    }
    parts["line"] = {"pieces": (hose,)}
    curve = {"travel": (0.0, 4 * MM, 4.2 * MM, 12 * MM), "load": (0.0, 1080.0, 108.0, 1080.0)}
    parts["pressure_plate"] |= {"release_load": curve, "max_travel": 12 * MM}
    out = oracle.evaluate("concentric", parts, None, hand_assumptions(), NO_MARGINS)
    beyond = 0.42e-6 / (0.6e-3 + 3e-13 * 1.8e6 / 7.8e-3)
    x_full = 4.2e-3 + 3.42e-6 / (0.6e-3 + 3e-13 * 1.8e6 / 7.8e-3)
    numbers(out, {"jump": 0.2e-3 + beyond, "release_margin": x_full - 6e-3, "peak_pressure": 2e6})
    # with release inside the stretch: its volume is that of the top, its loss too, and the fall of effort sees the valley
    parts["pressure_plate"]["lift_loss"] = 0.1e-3
    out = oracle.evaluate("concentric", parts, None, hand_assumptions(), NO_MARGINS)
    numbers(out, {"release_volume": 3e-6, "compliance_loss": 0.2, "release_point": (4 + 6 * 11) * MM})
    low = (2e5 * 3e-4 / 0.9 + 160 / 3) / 4.8 + 10
    numbers(out, {"effort_drop": (160 - low) / 160})


def test_brake_master_and_slave() -> None:
    """OpenStax, College Physics, example 11.6: 500 N on 0.500 cm make 2.5e7 Pa, and 1.25e4 N on 2.50 cm."""
    parts = external_parts()
    parts["master"] |= {"bore": 5 * MM, "efficiency": 1.0, "spring_force": 0.0}
    parts["slave"]["bore"] = 25 * MM
    parts["fork"]["ratio"] = 1.0
    parts["pedal"] |= {"ratio": 5.0, "efficiency": 1.0}
    kit = Kit("external", parts, hand_assumptions(), NO_MARGINS)
    pressure = kit.pressure(1.25e4)
    assert pressure == pytest.approx(2.5e7, rel=0.02)
    assert Press(kit, kit.new, 0.0, 0.0).static(pressure) == pytest.approx(100.0)


def test_air_and_compression() -> None:
    """Boyle's law at 1, 2 and 5 MPa gauge; OpenStax, College Physics, example 5.6: 5.00e7 Pa on 2.2e9 Pa is 2.3 %."""
    kit = Kit("concentric", hand_parts(), hand_assumptions(), NO_MARGINS)
    for p, left in ((1e6, 0.092003), (2e6, 0.048220), (5e6, 0.019862)):
        assert 1 - kit.loss(p, 1.0) == pytest.approx(left, abs=6e-7)
    parts = hand_parts()
    parts["fluid"]["bulk_modulus"] = 2.2e9
    kit = Kit("concentric", parts, hand_assumptions(), NO_MARGINS)
    assert kit.loss(5e7, 0.0) / kit.v_f == pytest.approx(0.023, abs=5e-4)


def test_slope_torque() -> None:
    """Statics: 1500 kg on 12 % (atan) pull with 1752.623 N at standard gravity; on 20 % with 2884.863 N."""
    parts = hand_parts()
    parts["application"] |= {"vehicle_mass": 1500.0, "wheel_radius": 1.0, "first_gear": 1.0, "final_drive": 1.0}
    for percent, force in ((12, 1752.623), (20, 2884.863)):
        kit = Kit("concentric", parts, hand_assumptions(slope=math.atan(percent / 100)), NO_MARGINS)
        bite = Bite(kit, Settled(kit))
        assert bite.slope_torque == pytest.approx(force, abs=6e-4)


@pytest.mark.parametrize("seed", range(12))
def test_random_kits_by_scanning(seed: int) -> None:
    """Definitions taken at their word on a fine scan: first crossing, jumps, peaks, and work as the area under the effort."""
    rng = Random(seed)
    train = ("external", "concentric")[seed % 2]
    parts, linkage, assumed = random_kit(rng, train)
    out = oracle.evaluate(train, parts, linkage, assumed, random_margins(rng))
    assert all(not math.isnan(entry[1]) for entry in out.values() if isinstance(entry, tuple) and entry[:1] == ("value",))
    kit = Kit(train, parts, assumed, NO_MARGINS)
    press = Settled(kit).airy
    n, end = 4000, 1.2 * max(press.x_full, kit.x_rel, 1 * MM)
    xs = [end * i / n for i in range(n + 1)]
    volumes = [press.path.value(x) for x in xs]
    first = next(x for x, v in zip(xs, volumes, strict=True) if v >= kit.supply)
    assert press.x_full <= first <= press.x_full + end / n * 1.001
    passed = [x for x in xs if x <= press.x_full]
    efforts = [press.effort(x) for x in passed]
    early = max(e for _, e in press.early())
    seen = max(*efforts, early)
    assert seen - 1e-9 <= press.peak() <= seen + 2.0
    pads = [press.pad(x) for x in passed]
    area = sum((b - a) * (e + f) / 2 for (a, e), (b, f) in pairwise(zip(pads, efforts, strict=True)))
    area += kit.foot.area(0.0, press.starts) + kit.m_spring * kit.rod(press.starts) / kit.eta_p
    area += kit.pressure(0.0) * press.path.value(0.0) / (kit.eta_m * kit.eta_p)
    if kit.supply > press.path.value(0.0):
        area += press.effort(press.x_full) * (press.end - pads[-1])
        assert oracle._work(kit, press) == pytest.approx(area, rel=2e-3, abs=0.01)

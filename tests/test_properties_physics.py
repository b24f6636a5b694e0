"""Sentences of physics that every kit must obey, asked of the real engine with kits drawn by hypothesis.

Each sentence is derived here from the balance of volumes, forces or work, or is common knowledge of levers and fluids; none
rests on a number that this program computed. Kits are held at one setting unless the sentence is about the setting.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from oracle_parts import dilation
from raw_kit import almen_laszlo
from strategies import BAR, HAIR, ML, MM, Kit, between, circle, kits, measure, numbers, rises, three

from fitcheck.physics.balance import Hydraulics
from fitcheck.physics.lay import lay_way
from fitcheck.physics.springs import load_curve
from fitcheck.physics.way import reached, taken

# --- fluid: what is sent, what is taken


@given(kits(rigid=True), three)
def test_more_master_bore_never_lessens_finger_travel(kit: Kit, shares: list[float]) -> None:
    """More area sends more fluid per rod travel; the fluid behind it that is squeezed grows too, but by far less."""
    some = [kit.but("master", bore=bore) for bore in between(15 * MM, 23 * MM, shares)]
    assert rises(measure(some, ["release_margin"])["release_margin"])


@given(kits(loads="any"))
def test_the_volume_that_is_sent_is_the_volume_that_is_taken(kit: Kit) -> None:
    """Volume balance at full pedal, in plain floats: swept, dilated, compressed, lost to the bulkhead and to trapped air."""
    found = measure([kit], ["supply_volume", "release_margin", "setup_target"])
    x, sent = found["release_margin"][0] + kit.release_travel, found["supply_volume"][0]
    assume(x > 0)  # at rest the master may send too little to start
    lash = found["setup_target"][0] if kit.rest == "bottomed" else 0.0
    assert volume(kit, x, lash) == pytest.approx(sent, rel=1e-9)


def volume(kit: Kit, x: float, lash: float) -> float:
    """Fluid that a kit with a load curve takes at finger travel `x`."""
    fork, actuator, master = kit.parts.get("fork"), kit[kit.actuator], kit["master"]
    load, loss = kit.load(x), (fork["efficiency"] if fork else 1.0) * actuator["efficiency"]
    back = kit["application"]["fork_return_force"] / actuator["efficiency"]
    pressure = max(0.0, load / (kit.fork_ratio * loss) + back - actuator["preload"]) / kit.piston_area
    lines = sum(circle(piece["inner_diameter"]) * piece["length"] for piece in kit["line"]["pieces"])
    fluid = circle(master["bore"]) * master["stroke"] + lines + actuator["dead_volume"]
    give = sum(dilation(piece) for piece in kit["line"]["pieces"]) + fluid / kit["fluid"]["bulk_modulus"]
    give += circle(master["bore"]) ** 2 / master["efficiency"] / kit["application"].get("bulkhead_stiffness", math.inf)
    trapped_air = kit.assumed.air * pressure / (kit.assumed.ambient_pressure + pressure)
    swept = lash + kit.fork_ratio * (x + (load / fork["stiffness"] if fork else 0.0))
    return float(kit.piston_area * swept + give * pressure + trapped_air)


@given(kits(train="concentric", loads="coned", even=True, rigid=True))
def test_the_load_of_a_diaphragm_jumps_onto_the_fingers_where_the_disc_has_no_cushion(kit: Kit) -> None:
    """While the fluid is put under pressure the fingers stand still: halfway between first touch and lift there is half of it.

    The whole pressure by DIN 2092 (EN 16984): what clamps the disc then hangs on the lever.
    """
    rigid = (
        kit.but("disc", cushion_travel=0.0, running_clearance=0.0).but("pressure_plate", wear_compensated=True).assuming(air=0.0)
    )
    cover, pedal, master, slave = (rigid[family] for family in ("pressure_plate", "pedal", "master", "concentric"))
    clamp = float(almen_laszlo(cover["diaphragm"], cover["diaphragm"]["set_deflection"]))
    whole = (clamp / kit.lever / slave["efficiency"] - slave["preload"]) / kit.piston_area
    assume(whole > 1 * BAR)
    touch = pedal["free_play"]
    touch += pedal["ratio"] * (master["cutoff_stroke"] + kit.piston_area * cover["lift_loss"] / circle(master["bore"]))
    lift = measure([rigid], ["release_point"])["release_point"][0]
    found = measure([rigid.but("pedal", travel=(touch + lift) / 2)], ["peak_pressure", "overtravel"])
    assert found["peak_pressure"][0] == pytest.approx(whole / 2, rel=1e-3)
    assert found["overtravel"][0] + cover["max_travel"] == pytest.approx(cover["lift_loss"], abs=1e-8)


@given(kits())
def test_the_masters_stroke_goes_into_port_fluid_and_reserve(kit: Kit) -> None:
    found, master = measure([kit], ["supply_volume", "master_reserve"]), kit["master"]
    assume(found["master_reserve"][0] > 0 and found["supply_volume"][0] > 0)
    used = found["supply_volume"][0] / circle(master["bore"]) + found["master_reserve"][0] + master["cutoff_stroke"]
    assert used == pytest.approx(master["stroke"], rel=1e-12)


@given(kits(), three)
def test_more_air_never_lengthens_finger_travel_nor_brings_bite_or_release_earlier(kit: Kit, shares: list[float]) -> None:
    """Air is one more thing to squeeze; what is judged on the unsafe side does not know of it at all."""
    some = [kit.assuming(air=air) for air in between(0.0, 2 * ML, shares)]
    unsafe = ["overtravel", "stroke_reserve", "effort_peak", "peak_pressure", "pressure_use", "bearing_load_use"]
    found = measure(some, ["release_margin", "release_volume", *unsafe])
    assert rises(-found["release_margin"])
    assert rises(found["release_volume"])
    for name in unsafe:
        assert len(set(found[name].tolist())) == 1
    assert rises(measure(some, ["bite_point"])["bite_point"])


@given(kits())
def test_with_just_the_allowed_air_the_clutch_is_just_released(kit: Kit) -> None:
    """A hair less air than allowed and it releases, a hair more and it does not."""
    allowance = measure([kit], ["air_allowance"])["air_allowance"][0]
    assume(1e-9 < allowance < math.inf)
    less, more = measure([kit.assuming(air=allowance * (1 + hair)) for hair in (-1e-6, 1e-6)], ["release_margin"])[
        "release_margin"
    ]
    assert less >= 0.0 > more


@given(kits(), three)
def test_a_softer_line_a_softer_fluid_and_a_softer_bulkhead_never_release_earlier(kit: Kit, shares: list[float]) -> None:
    tube, hose = kit["line"]["pieces"]
    lines = [kit.but("line", pieces=(tube, {**hose, "expansion": give})) for give in between(0.1 * ML, 9 * ML, shares)]
    fluids = [kit.but("fluid", bulk_modulus=stiff) for stiff in between(2.5e9, 0.5e9, shares)]
    heads = [kit.but("application", bulkhead_stiffness=stiff) for stiff in between(9e6, 0.4e6, shares)]
    for some in (lines, fluids, heads):
        found = measure(some, ["release_volume", "release_margin"])
        assert rises(found["release_volume"])
        assert rises(-found["release_margin"])


@given(kits(), three)
def test_a_longer_tube_or_hose_never_releases_earlier(kit: Kit, shares: list[float]) -> None:
    """More of it dilates and holds more fluid to squeeze, thick-walled or not."""
    tube, hose = kit["line"]["pieces"]
    tubes = [kit.but("line", pieces=({**tube, "length": length}, hose)) for length in between(0.1, 4.0, shares)]
    hoses = [kit.but("line", pieces=(tube, {**hose, "length": length})) for length in between(0.1, 4.0, shares)]
    for some in (tubes, hoses):
        found = measure(some, ["release_volume", "release_margin"])
        assert rises(found["release_volume"])
        assert rises(-found["release_margin"])


@given(kits())
def test_a_train_that_gives_never_releases_before_a_rigid_one(kit: Kit) -> None:
    """Rigid: free play, port, then `total_ratio` of pad for each finger travel, lash counted at the fingers."""
    found, pedal = measure([kit], ["release_point", "total_ratio", "setup_target"]), kit["pedal"]
    lash = found["setup_target"][0] / kit.fork_ratio if kit.rest == "bottomed" else 0.0
    rigid = pedal["free_play"] + pedal["ratio"] * kit["master"]["cutoff_stroke"]
    rigid += found["total_ratio"][0] * (kit.release_travel + lash)
    assert found["release_point"][0] >= rigid - HAIR


@given(kits(), numbers(0, 10), numbers(0, 2))
def test_free_play_and_port_travel_move_release_and_bite_by_just_as_much(kit: Kit, play: float, port: float) -> None:
    pedal, master = kit["pedal"], kit["master"]
    later = kit.but("pedal", free_play=pedal["free_play"] + play * MM)
    later = later.but("master", cutoff_stroke=master["cutoff_stroke"] + port * MM, stroke=master["stroke"] + 1.0)
    first = kit.but("master", stroke=master["stroke"] + 1.0)
    found = measure([first, later], ["release_point", "bite_point"])
    for name in ("release_point", "bite_point"):
        assert found[name][1] - found[name][0] == pytest.approx(play * MM + pedal["ratio"] * port * MM, abs=HAIR)


# --- the fingers' way


@st.composite
def ways(draw: st.DrawFn, rising: bool) -> Any:
    """A way over a load curve, with the load at which a preload is overcome."""
    drop = st.floats(0, 2000) if rising else st.floats(-2000, 2000)
    steps = draw(st.lists(st.tuples(numbers(0.05, 5), drop), min_size=2, max_size=6))
    travel = np.cumsum([0.0, *(width for width, _ in steps)]) * MM
    load = np.maximum(0.0, np.cumsum([0.0, *(force for _, force in steps)]))
    gain, offset = draw(numbers(700, 3000)), draw(numbers(-3e5, 3e5))
    numbers_of = (draw(numbers(3e-4, 2e-3)), draw(numbers(0, 4e-6)), gain, offset, draw(numbers(1e-14, 1e-12)))
    hydraulics = Hydraulics(*(np.array([x]) for x in numbers_of), draw(numbers(0, 1)) * ML, 1e5)
    return lay_way(load_curve(travel, load, 1), hydraulics, (np.array([-offset / gain]),))


@given(ways(rising=True), numbers(0, 25))
def test_on_a_rising_way_the_volume_of_a_place_leads_back_to_it(way: Any, x: float) -> None:
    place = np.array([x * MM])
    assert reached(way, taken(way, place)).travel == pytest.approx(place, rel=1e-9, abs=1e-12)


@given(ways(rising=False), numbers(0, 1), numbers(0, 1))
def test_fingers_stop_at_the_first_place_that_takes_the_volume(way: Any, share: float, part: float) -> None:
    """There the way takes what is sent, at no place before it does; so the fluid taken up to a place only rises."""
    volume_sent = way.volume[0] + share * 20e-6
    spot = reached(way, volume_sent)
    assert way.hydraulics.volume(spot.travel, spot.load) == pytest.approx(volume_sent, rel=1e-9)
    assert (taken(way, part * spot.travel) <= volume_sent * (1 + 1e-9)).all()


@given(kits(loads="rising"))
def test_fingers_never_jump_where_the_load_rises(kit: Kit) -> None:
    assert measure([kit], ["jump"])["jump"][0] == 0.0


@given(kits(loads="any"))
def test_a_jump_is_never_longer_than_the_way(kit: Kit) -> None:
    found = measure([kit], ["jump", "release_margin"])
    assert 0.0 <= found["jump"][0] <= max(kit.release_travel, kit.release_travel + found["release_margin"][0]) + HAIR


# --- force and pressure


@given(kits(even=True, rigid=True), three)
def test_effort_rises_with_master_bore(kit: Kit, shares: list[float]) -> None:
    """The same pressure on more area, further along the way; the pedal's own force is the same all along."""
    bores = between(15 * MM, 23 * MM, shares)
    found = measure([kit.but("master", bore=bore) for bore in bores], ["effort_peak", "peak_pressure"])
    assert rises(found["effort_peak"], 1e-9)
    own = kit["pedal"]["return_force"]["force"][0]
    rod = (found["effort_peak"] - own) * kit["pedal"]["ratio"] * kit["pedal"]["efficiency"] - kit["master"]["spring_force"]
    if (found["peak_pressure"] > 0).all() and (found["effort_peak"] > own).all():
        assert rod == pytest.approx(found["peak_pressure"] * [circle(b) / kit["master"]["efficiency"] for b in bores], rel=1e-9)


@given(kits(even=True, train="external"), three, st.sampled_from(("fork", "slave")))
def test_friction_in_fork_or_slave_never_lowers_pressure_or_effort(kit: Kit, shares: list[float], family: str) -> None:
    some = [kit.but(family, efficiency=efficiency) for efficiency in between(1.0, 0.6, shares)]
    found = measure(some, ["peak_pressure", "effort_peak", "release_margin"])
    assert rises(found["peak_pressure"], 1e-9)
    assert rises(found["effort_peak"], 1e-9)
    assert rises(-found["release_margin"])


@given(kits(train="external"), three)
def test_more_slave_bore_never_raises_peak_pressure(kit: Kit, shares: list[float]) -> None:
    """Where the wider slave's fingers go further, the fluid it then takes leaves no room for a higher pressure."""
    some = [kit.but("slave", bore=kit["slave"]["bore"] * wider) for wider in between(0.8, 1.4, shares)]
    assert rises(-measure(some, ["peak_pressure"])["peak_pressure"], 1e-9)


@given(kits(even=True), three)
def test_a_pedal_of_higher_ratio_never_needs_more_force_nor_moves_the_fingers_further(kit: Kit, shares: list[float]) -> None:
    some = [kit.but("pedal", ratio=ratio) for ratio in between(4, 8, shares)]
    found = measure(some, ["effort_peak", "release_margin"])
    assert rises(-found["effort_peak"], 1e-9)
    assert rises(-found["release_margin"])


@given(kits())
def test_the_foot_feels_friction_as_a_dead_band_and_nothing_without_it(kit: Kit) -> None:
    families = [family for family in ("pedal", "master", "slave", "fork", "concentric") if family in kit.parts]
    smooth = kit
    for family in families:
        smooth = smooth.but(family, efficiency=1.0)
    rough, none = measure([kit, smooth], ["dead_band"])["dead_band"]
    assert rough >= 0.0
    assert none == pytest.approx(0.0, abs=1e-9)


@given(kits(even=True))
def test_a_pedal_that_never_reaches_its_rod_is_moved_against_its_own_spring_alone(kit: Kit) -> None:
    found = measure(
        [kit.but("pedal", free_play=kit["pedal"]["travel"])], ["effort_peak", "effort_hold", "effort_return", "dead_band"]
    )
    own = kit["pedal"]["return_force"]["force"][0]
    assert [found[name][0] for name in ("effort_peak", "effort_hold", "effort_return", "dead_band")] == [own, own, own, 0.0]


@given(kits(rest="contact", loads="any"))
def test_without_springs_letting_back_is_pressing_times_every_efficiency_twice(kit: Kit) -> None:
    """Friction takes its share on the way in and again on the way out."""
    bare = kit.but("pressure_plate", worn_clamp_load=None, worn_release_load=None).but("master", spring_force=0.0)
    bare = bare.but("pedal", return_force={"travel": (0.0,), "force": (0.0,)}).but(kit.actuator, preload=1e-9)
    found = measure([bare], ["effort_hold", "dead_band"])
    assume(found["effort_hold"][0] > 1.0)
    families = [family for family in ("pedal", "master", "slave", "fork", "concentric") if family in kit.parts]
    twice = math.prod(kit[family]["efficiency"] for family in families) ** 2
    assert found["effort_hold"][0] - found["dead_band"][0] == pytest.approx(twice * found["effort_hold"][0], rel=1e-8)


@given(kits(even=True))
def test_holding_needs_no_more_than_the_peak_and_letting_back_no_more_than_holding_less_the_band(kit: Kit) -> None:
    found = measure([kit], ["effort_peak", "effort_hold", "effort_return", "dead_band"])
    assert found["effort_hold"][0] <= found["effort_peak"][0] + 1e-9
    assert found["effort_return"][0] <= found["effort_hold"][0] - found["dead_band"][0] + 1e-9


@given(kits(loads="any"))
def test_a_worn_cover_only_adds_to_the_peaks(kit: Kit) -> None:
    """The worse of new and worn is never better than new alone."""
    new = kit.but("pressure_plate", worn_clamp_load=None, worn_release_load=None)
    names = ["effort_peak", "effort_hold", "peak_pressure", "pressure_use", "bearing_load_use", "effort_return"]
    found = measure([new, kit], names)
    assert all(rises(found[name]) for name in names[:-1])
    assert rises(-found["effort_return"])


@given(kits(), numbers(400, 900), numbers(1, 600))
def test_blocked_pressure_grows_with_the_foot_by_lever_and_area(kit: Kit, foot: float, more: float) -> None:
    rating = [kit["master"]["pressure_rating"], kit[kit.actuator]["pressure_rating"]]
    rating += [piece["pressure_rating"] for piece in kit["line"]["pieces"]]
    use = measure([kit.assuming(foot_limit=force) for force in (foot, foot + more)], ["blocked_use"])["blocked_use"]
    master, pedal = kit["master"], kit["pedal"]
    gain = pedal["ratio"] * pedal["efficiency"] * master["efficiency"] / circle(master["bore"])
    assert (use[1] - use[0]) * min(rating) == pytest.approx(more * gain, rel=1e-6)


# --- work


@given(kits(even=True), numbers(0.5, 1.0))
def test_friction_in_the_pedal_multiplies_all_work_but_that_of_its_own_spring(kit: Kit, efficiency: float) -> None:
    """Work past the pedal's pivot, over its efficiency."""
    pedal, master = kit["pedal"], kit["master"]
    end = min(pedal["travel"], pedal["free_play"] + pedal["ratio"] * master["stroke"])
    own = pedal["return_force"]["force"][0] * end
    work = measure([kit.but("pedal", efficiency=eta) for eta in (1.0, efficiency)], ["pedal_work"])["pedal_work"]
    assert (work[1] - own) * efficiency == pytest.approx(work[0] - own, rel=1e-9, abs=1e-9)


@given(kits(even=True, loads="rising"))
def test_the_pad_gives_no_less_work_than_springs_and_fingers_take(kit: Kit) -> None:
    """Energy: what goes in is at least what pedal spring, master spring and cover store, less what the slave's spring gives."""
    found = measure([kit], ["pedal_work", "release_margin"])
    x, curve, pedal = found["release_margin"][0] + kit.release_travel, kit["pressure_plate"]["release_load"], kit["pedal"]
    knots = [0.0, *(knot for knot in curve["travel"] if 0 < knot < x), x]
    cover = float(np.trapezoid([kit.load(knot) for knot in knots], knots))
    end = min(pedal["travel"], pedal["free_play"] + pedal["ratio"] * kit["master"]["stroke"])
    rod = max(0.0, (end - pedal["free_play"]) / pedal["ratio"])
    stored = pedal["return_force"]["force"][0] * end + kit["master"]["spring_force"] * rod + cover
    assert found["pedal_work"][0] >= stored - kit[kit.actuator]["preload"] * kit.fork_ratio * x - 1e-9


# --- cold


@given(kits(), numbers(300, 900), numbers(1, 4))
def test_in_laminar_flow_the_way_back_takes_time_in_proportion_to_viscosity(kit: Kit, kinematic: float, thicker: float) -> None:
    """Hagen-Poiseuille: flow is pressure over viscosity; at 300 mm2/s and more no line here nears Re 2300."""
    points = [{"temperature": (233.0, 373.0), "kinematic": (k * 1e-6,) * 2} for k in (kinematic, kinematic * thicker)]
    time = measure([kit.but("fluid", viscosity=point) for point in points], ["return_time"])["return_time"]
    assert time[1] == pytest.approx(time[0] * thicker, rel=1e-9)


@given(kits(), three)
def test_in_laminar_flow_a_warmer_day_never_lengthens_the_way_back(kit: Kit, shares: list[float]) -> None:
    """A fluid whose points fall thins as it warms; at these temperatures no kit's own fluid comes near Re 2300.

    Where the flow turns to turbulence this need not hold: a thinner fluid gets there at a slower flow.
    """
    days = [kit.but("application", cold_temperature=day) for day in between(225.0, 237.0, shares)]
    time = measure(days, ["return_time"])["return_time"]
    assert (time[1:] <= time[:-1] * (1 + 1e-12)).all()

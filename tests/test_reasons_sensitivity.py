"""What moves a figure most: each effect is what the kit so changed really does, and what cannot be is said."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from test_reasons_chain import CONCENTRIC, EXTERNAL, demo, with_part

from fitcheck.engine.variants import Bench
from fitcheck.reasons.chain import Chain
from fitcheck.reasons.sensitivity import FIGURES, MOST, Effect, Sensitivity, sensitivity
from fitcheck.report.sensitivity import sensitivity_lines


@cache
def found(kit: str) -> dict[str, Sensitivity]:
    return {each.metric: each for each in sensitivity(Chain(demo(kit)))}


@pytest.mark.parametrize("kit", [EXTERNAL, CONCENTRIC])
@pytest.mark.parametrize("metric", FIGURES)
def test_an_effect_is_what_the_changed_kit_does(kit: str, metric: str) -> None:
    some = found(kit)[metric]
    assert len(some.effects) == MOST
    for effect in some.effects:
        push = effect.push
        assert push.step == pytest.approx(push.part.tolerances.get(push.key, abs(push.value) / 100))  # as the lines say: by 1 %
        for change, by in ((effect.down, -push.step), (effect.up, push.step)):
            changed = with_part(demo(kit), push.part.having(push.key, push.value + by))
            now = float(np.asarray(changed.values.number(metric)).reshape(-1)[0])
            assert some.value is not None
            assert change == pytest.approx(now - some.value, rel=1e-9, abs=1e-15)
    sizes = [effect.size for effect in some.effects]
    assert sizes == sorted(sizes, reverse=True)


def test_nothing_that_is_left_out_moves_it_more() -> None:
    """All numbers of two parts, tried one by one."""
    kit, some = demo(EXTERNAL), found(EXTERNAL)["setup_window"]
    told = {(effect.push.part.family, effect.push.key) for effect in some.effects}
    least = some.effects[-1].size
    for family in ("slave", "fork"):
        for key, number in kit.parts[family].numbers():
            changed = with_part(kit, kit.parts[family].having(key, number * 1.01))
            if (family, key) not in told and some.value is not None:
                assert abs(float(changed.values.number("setup_window").reshape(-1)[0]) - some.value) <= least


def of(kit: Bench, metric: str, family: str, key: str) -> Effect:
    """The effect of one number, wherever it ranks."""
    some = next(each for each in sensitivity(Chain(kit), (metric,)) if each.metric == metric)
    return next(effect for effect in (*some.effects, *some.lost) if (effect.push.part.family, effect.push.key) == (family, key))


def test_a_number_with_a_tolerance_is_moved_by_it() -> None:
    kit = demo(EXTERNAL)
    tight = with_part(kit, replace(kit.parts["master"], tolerances={"bore": 1e-3}))
    effect = of(tight, "release_margin", "master", "bore")
    assert (effect.push.step, effect.push.by_tolerance) == (1e-3, True)
    lines = list(sensitivity_lines(sensitivity(Chain(tight), ("release_margin",))))
    assert lines[1].startswith("  master steep-19 bore 19.05 mm, by 1 mm (its tolerance) less: -")


def test_where_one_side_is_out_of_bounds_the_other_is_told_alone() -> None:
    kit = demo(EXTERNAL)
    full = with_part(kit, kit.parts["slave"].having("efficiency", 1.0))
    effect = of(full, "effort_peak", "slave", "efficiency")
    assert (effect.up, effect.why_up) == (None, "out of the field's bounds")
    assert effect.down is not None
    assert effect.size == abs(effect.down) > 0.0


def test_a_side_that_is_no_longer_legal_says_which_fit() -> None:
    kit = demo(CONCENTRIC)
    names = {side for each in found(CONCENTRIC).values() for effect in each.effects for side in (effect.why_down, effect.why_up)}
    assert all(not name or "legal" in name or "bounds" in name for name in names)
    bore = kit.parts["disc"].at("outer_diameter")
    snug = with_part(kit, kit.parts["pressure_plate"].having("disc_max_diameter", bore * 1.001))
    effect = of(snug, "torque_capacity", "disc", "outer_diameter")
    assert effect.why_up == "no longer legal: disc-in-cover"
    assert effect.down is not None


def test_a_number_against_its_neighbours_on_a_curve_is_not_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fitcheck.reasons.sensitivity.MOST", 999)
    kit = demo(EXTERNAL)
    curve = kit.parts["pressure_plate"].at("release_load")
    near = {**curve, "travel": (*curve["travel"][:3], curve["travel"][4] * 0.995, *curve["travel"][4:])}
    close = with_part(kit, kit.parts["pressure_plate"].having("release_load", near))
    effect = of(close, "release_margin", "pressure_plate", "release_load.travel.4")
    assert (effect.down, effect.why_down) == (None, "against its other numbers")
    assert effect.up is not None


def test_a_value_that_is_lost_is_said() -> None:
    kit = demo(EXTERNAL)
    strained = kit.parts["disc"].having("friction", kit.parts["disc"].at("friction") * (690.0 / 750.7) * 1.002)
    (some,) = sensitivity(Chain(with_part(kit, strained)), ("bite_band",))
    lost = {(effect.push.part.family, effect.push.key): effect for effect in some.lost}
    assert lost["disc", "friction"].why_down == "cannot be computed"
    assert lost["disc", "friction"].up is not None
    lines = list(sensitivity_lines([some]))
    assert any(line.startswith("  it has no value any more: disc heavy-280-woven friction") for line in lines)


def test_a_figure_without_a_value_is_not_moved() -> None:
    kit = demo(EXTERNAL)
    weak = with_part(kit, kit.parts["disc"].having("friction", 0.01))
    (some,) = sensitivity(Chain(weak), ("bite_band",))
    assert (some.value, some.effects) == (None, ())
    assert list(sensitivity_lines([some])) == ["bite_band has no value that could be moved."]

"""Sentences of order that every screening must obey: rules, verdicts, counts, lists; on the real engine, with drawn catalogs.

They follow from what the words mean: a rule only takes away, a part of another kit changes nothing, a count is a count.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from strategies import MM, TRAINS, Kit, bounds, evaluated, kits, measure, numbers, part, set_to

from fitcheck import load_catalog, load_profile
from fitcheck.catalog.parts import FAMILIES, Catalog
from fitcheck.data import folder
from fitcheck.engine.counting import count
from fitcheck.engine.result import KitTable, Result
from fitcheck.engine.screening import screen
from fitcheck.engine.states import PASS, REJECT
from fitcheck.engine.table import METRICS
from fitcheck.engine.verdict import judge
from fitcheck.job import Job, Preference
from fitcheck.profile import Fit, Profile, Rule
from fitcheck.report.csv import write_kits

DEFAULT = load_profile("default").rules
WINDOW = ("release_margin", "wear_reserve", "stroke_reserve", "overtravel")  # what the set-up window is cut by
PREFER = (Preference("least", "effort_peak"), Preference("most", "setup_window_fingers"), Preference("least", "cost"))
SEALS = Fit("seal", "allowed", ("master.seal", "fluid.base"), "", "", "", allowed=(("EPDM", "glycol"), ("NBR", "mineral")))
ENOUGH, STEP = 4.0, 0.1  # of headroom: so fine that few kits are level
few = settings(max_examples=max(5, settings().max_examples // 5))  # a screening takes longer than a kit


# --- rules of one kit


def verdict(kit: Kit, rules: tuple[Rule, ...], waived: frozenset[str] = frozenset()) -> Any:
    held = [rule for rule in rules if rule.train in (None, kit.train)]
    return judge(evaluated([kit], held), held, (1,), waived)


def wider(rule: Rule, by: float) -> Rule:
    low, high = rule.lower, rule.upper
    return replace(
        rule, lower=None if low is None else low - by * rule.scale, upper=None if high is None else high + by * rule.scale
    )


@st.composite
def loose_kits(draw: st.DrawFn, rest: str | None = None) -> Kit:
    """Kits whose rod may be longer or shorter, so that the engine chooses the setting; without a way to rest, of either train."""
    kit = draw(kits(train="external" if rest else None, rest=rest))
    kit = kit.assuming(wear_between_adjustments=draw(st.sampled_from((0.0, 0.1 * MM))))
    return set_to(kit, draw(numbers(0, 6)) * MM, draw(numbers(2, 20)) * MM)


# few enough at a time that kits pass, are cautioned and are rejected
rulebooks = st.lists(st.sampled_from(DEFAULT), min_size=1, max_size=4, unique_by=lambda rule: rule.name).map(tuple)
outside = st.sampled_from([rule for rule in DEFAULT if rule.metric not in WINDOW])


@given(loose_kits(), rulebooks, outside, numbers(0, 20))
def test_wider_bounds_outside_the_window_never_turn_a_pass_into_a_rejection(
    kit: Kit, rules: tuple[Rule, ...], rule: Rule, by: float
) -> None:
    others = tuple(each for each in rules if each is not rule)
    before, after = verdict(kit, (*others, rule)), verdict(kit, (*others, wider(rule, by)))
    assert after.verdict[0] <= before.verdict[0]
    assert all(after.broken_by[name] <= times for name, times in before.broken_by.items())


limits = st.lists(numbers(-1, 1).map(lambda millimetres: millimetres * MM), min_size=4, max_size=4)


@given(loose_kits("bottomed"), limits, limits, st.sampled_from(("release_margin", "overtravel")), numbers(0, 3))
def test_wider_bounds_inside_the_window_of_a_bottomed_train_never_narrow_it(
    kit: Kit, some: list[float], others: list[float], metric: str, by: float
) -> None:
    check_window(kit, bounds(*some), bounds(*others), metric, by)


@given(loose_kits("contact"), limits, limits, st.sampled_from(("wear_reserve", "stroke_reserve")), numbers(0, 3))
def test_wider_bounds_inside_the_window_of_a_train_in_contact_never_narrow_it(
    kit: Kit, some: list[float], others: list[float], metric: str, by: float
) -> None:
    """Of overtravel this does not hold where a pedal stop is in reach: one that gives way lets the fingers take more stroke."""
    check_window(kit, bounds(*some), bounds(*others), metric, by)


def check_window(kit: Kit, rules: tuple[Rule, ...], more: tuple[Rule, ...], metric: str, by: float) -> None:
    """A wider bound leaves the window no narrower, further rules on the same metrics no wider."""
    widened = tuple(wider(rule, by) if rule.metric == metric else rule for rule in rules)
    names = ["setup_low", "setup_high", "setup_window"]
    most, middle, least = (measure([kit], names, some) for some in (widened, rules, (*rules, *more)))
    for wide, narrow in ((most, middle), (middle, least)):
        assert wide["setup_low"][0] <= narrow["setup_low"][0]
        assert wide["setup_high"][0] >= narrow["setup_high"][0]
        assert wide["setup_window"][0] >= narrow["setup_window"][0]


@given(loose_kits(), rulebooks, outside)
def test_a_rule_more_never_betters_a_verdict_and_a_waiver_never_worsens_one(
    kit: Kit, rules: tuple[Rule, ...], rule: Rule
) -> None:
    others = tuple(each for each in rules if each is not rule)
    fewer, all_of_them = verdict(kit, others), verdict(kit, (*others, rule))
    waived = verdict(kit, (*others, rule), frozenset({rule.name}))
    assert fewer.verdict[0] <= waived.verdict[0] <= all_of_them.verdict[0]
    assert waived.broken_by == all_of_them.broken_by


@given(loose_kits(), rulebooks, numbers(0.01, 100))
def test_the_scale_of_headrooms_changes_no_verdict(kit: Kit, rules: tuple[Rule, ...], factor: float) -> None:
    first, second = (verdict(kit, tuple(replace(r, scale=r.scale * size) for r in rules)) for size in (1.0, factor))
    assume(not -1e-6 < first.headroom[0] < 1e-6)
    assert first.verdict[0] == second.verdict[0]
    assert second.headroom[0] * factor == pytest.approx(first.headroom[0], rel=1e-9)


@st.composite
def crowds(draw: st.DrawFn) -> list[Kit]:
    """Kits of one cover: the first's flow may be turbulent, the second's fingers may jump, the third's line has many pieces."""
    train, rest = draw(st.sampled_from((("external", "contact"), ("external", "bottomed"), ("concentric", "contact"))))
    some = draw(st.lists(kits(train=train, rest=rest), min_size=3, max_size=4))
    crowd = [replace(kit, parts={**kit.parts, **shared(some[0])}, assumed=some[0].assumed) for kit in some]
    thin = {"temperature": (233.0, 373.0), "kinematic": (draw(numbers(4, 40)) * 1e-6, 2e-6)}
    tube, hose = crowd[1]["line"]["pieces"]
    soft = {**hose, "expansion": draw(numbers(1, 30)) * hose["expansion"]}
    many = (*({**tube, "length": draw(numbers(0.02, 0.2))} for _ in range(9)), hose)
    lines = [crowd[place].but("line", pieces=pieces) for place, pieces in ((1, (tube, soft)), (2, many))]
    return [crowd[0].but("fluid", viscosity=thin), *lines, *crowd[3:]]


@given(crowds())
def test_a_kit_has_the_same_numbers_alone_and_in_a_crowd_to_the_last_bit(crowd: list[Kit]) -> None:
    together = measure(crowd, None)
    for place, kit in enumerate(crowd):
        alone = measure([kit], None)
        for name, metric in METRICS.items():
            if metric.exists(kit.train, kit.rest):
                assert together.state(name)[place] == alone.state(name)[0], name
                assert np.array_equal(together.number(name)[place], alone.number(name)[0], equal_nan=True), name


def shared(kit: Kit) -> dict[str, Any]:
    return {family: kit[family] for family in ("application", "pressure_plate")}


# --- small catalogs


@dataclass(frozen=True)
class World:
    catalog: Catalog
    profile: Profile
    job: Job

    def screened(self, **more: Any) -> Result:
        return screen(self.catalog, self.profile, self.job, **more)

    def asking(self, **changes: Any) -> World:
        return replace(self, job=replace(self.job, **changes))

    def without(self, family: str, identifier: str) -> World:
        left = tuple(each for each in self.catalog.families[family] if each.id != identifier)
        return replace(self, catalog=Catalog({**self.catalog.families, family: left}))


@st.composite
def worlds(draw: st.DrawFn) -> World:
    """Both trains of one or two applications, and a second part, `b`, in up to four families; some are of another fluid."""
    both = [draw(kits(train=train)) for train in (*TRAINS, "external")]
    doubled = draw(st.sets(st.sampled_from([family for family in FAMILIES if family != "linkage"]), min_size=3, max_size=4))
    some = {family: [kit[family] for kit in both if family in kit.parts] for family in FAMILIES}
    some["concentric"].append({**both[1]["concentric"], "shims": (0.5 * MM, 1 * MM)})
    some["slave"] = [loosened(fields) for fields in some["slave"]]
    families = {
        family: tuple(part(family, "ab"[place], fields) for place, fields in enumerate(fields[: 2 if family in doubled else 1]))
        for family, fields in some.items()
    }
    profile = Profile("test", ENOUGH, STEP, (), both[0].assumed, (SEALS,), draw(rulebooks))
    return World(Catalog(families), profile, Job("test", Path("job.toml"), (), "default", prefer=PREFER, best=3))


def loosened(slave: dict[str, Any]) -> dict[str, Any]:
    return {**slave, "rod_min": slave["rod_min"] - 4 * MM, "rod_max": slave["rod_max"] + 4 * MM}


def as_text(table: KitTable) -> str:
    stream = io.StringIO()
    write_kits(table, stream)
    return stream.getvalue()


def rows(table: KitTable) -> dict[str, Any]:
    """What stands in the row of each kit, but its rank and whether others beat it; numbers apart, to be compared as such."""
    figures = np.stack([table.headroom, *table.metrics.values()], axis=1)
    return {kit: (table.verdict[i], table.limiting_rule[i], table.missing[i], figures[i]) for i, kit in enumerate(table.kit)}


def contains(all_of_them: dict[str, Any], some: dict[str, Any]) -> bool:
    """Whether the rows of some kits stand the same among all, to the last but some digits of a rounding error."""
    return all(
        row[:-1] == all_of_them[kit][:-1] and np.allclose(row[-1], all_of_them[kit][-1], rtol=1e-12, atol=1e-15, equal_nan=True)
        for kit, row in some.items()
    )


@few
@given(worlds())
def test_verdicts_add_up_to_the_kits_that_are_legal_and_listed(world: World) -> None:
    found = world.screened()
    assert found.legal == count(world.catalog, world.profile, world.job)
    assert {group: sum(verdicts) for group, verdicts in found.verdicts.items()} == found.legal
    assert len(found.kits) == len(set(found.kits.kit)) == sum(found.legal.values())
    for place, verdict_code in enumerate((PASS, 1, REJECT)):
        assert sum(verdicts[place] for verdicts in found.verdicts.values()) == np.count_nonzero(
            found.kits.verdict == verdict_code
        )


@few
@given(worlds())
def test_a_rule_alone_rejects_no_more_than_it_breaks_and_no_kit_is_rejected_alone_twice(world: World) -> None:
    found = world.screened()
    for group, alone in found.only_by.items():
        assert all(times <= found.broken_by[group][rule] for rule, times in alone.items())
        assert sum(alone.values()) <= found.verdicts[group][2]
        broken = sum(found.broken_by[group].values())
        assert broken >= found.verdicts[group][2]


@few
@given(worlds(), st.sampled_from((1, 2, 3, 5, 8)))
def test_tiles_of_any_size_give_the_same_bytes(world: World, cells: int) -> None:
    whole, cut = world.screened(), world.screened(cells=cells)
    assert as_text(whole.kits) == as_text(cut.kits)
    assert (whole.verdicts, whole.broken_by, whole.only_by) == (cut.verdicts, cut.broken_by, cut.only_by)


@few
@given(worlds())
def test_an_unrelated_part_changes_no_number_of_another_kit_and_never_worsens_the_best(world: World) -> None:
    doubled = [family for family in FAMILIES if len(world.catalog.families[family]) > 1]
    found = world.screened()
    for family in doubled[:2]:
        without = world.without(family, "b").screened()
        assert contains(rows(found.kits), rows(without.kits))
        if family != "application":
            assert all(after <= before for after, before in zip(bests(found), bests(without), strict=True))


def bests(found: Result) -> list[Any]:
    """Verdict and stepped headroom of the best kit of each application, at most as good as a kit can be."""
    kits = found.kits
    first = np.flatnonzero(kits.rank == 1)
    return [(kits.verdict[i], -np.floor((min(kits.headroom[i], ENOUGH) + 1e-9) / STEP)) for i in first] or [(REJECT + 1, 0)]


@few
@given(worlds(), st.sampled_from(("master", "pedal", "disc", "fluid")))
def test_kits_with_a_part_and_kits_without_it_are_all_kits(world: World, family: str) -> None:
    every = world.screened()
    with_it, without = world.asking(only={family: ("a",)}).screened(), world.asking(leave_out={family: ("a",)}).screened()
    assert contains(rows(every.kits), rows(with_it.kits) | rows(without.kits))
    assert sorted(with_it.kits.kit + without.kits.kit) == sorted(every.kits.kit)
    for group, verdicts in every.verdicts.items():
        parts = zip(with_it.verdicts[group], without.verdicts[group], strict=True)
        assert tuple(a + b for a, b in parts) == verdicts
        for rule, times in every.broken_by[group].items():
            assert with_it.broken_by[group].get(rule, 0) + without.broken_by[group].get(rule, 0) == times


@few
@given(worlds(), st.integers(1, 20))
def test_a_shorter_list_is_the_head_of_a_longer_one(world: World, limit: int) -> None:
    world = world.without("application", "b")
    whole, short = world.screened(), world.asking(row_limit=limit).screened()
    assert short.kits.kit == whole.kits.kit[:limit]
    assert short.complete_rows == (limit >= len(whole.kits))
    assert short.verdicts == whole.verdicts


@few
@given(worlds())
def test_kits_stand_by_verdict_stepped_headroom_preferences_and_name(world: World) -> None:
    """The order as it is defined, found from the table's own columns; and a kit is unbeaten if no passing one betters it."""
    kits = world.without("application", "b").screened().kits
    wishes = [key(kits, "effort_peak", 1.0), key(kits, "setup_window_fingers", -1e3), key(kits, "cost", 1.0)]
    steps = -np.floor((np.minimum(kits.headroom, ENOUGH) + 1e-9) / STEP)
    keys = list(zip(kits.verdict.tolist(), steps.tolist(), *wishes, kits.kit, strict=True))
    assert keys == sorted(keys)
    passing = [wish for wish, code in zip(zip(*wishes, strict=True), kits.verdict, strict=True) if code == PASS]
    for place, wish in enumerate(zip(*wishes, strict=True)):
        beaten = any(other != wish and all(a <= b for a, b in zip(other, wish, strict=True)) for other in passing)
        assert bool(kits.unbeaten[place]) == (kits.verdict[place] == PASS and not beaten)


def key(kits: KitTable, metric: str, unit: float) -> list[float]:
    """The preferred first, as written with 12 digits; what has no value last."""
    known = kits.states[metric] == 0
    return [float(f"{x * unit:.12g}") if ok else np.inf for x, ok in zip(kits.metrics[metric].tolist(), known, strict=True)]


# --- files


@few
@given(st.randoms(use_true_random=False), st.integers(1, 4))
def test_entries_in_any_order_over_any_files_make_the_same_catalog(
    tmp_path_factory: pytest.TempPathFactory, dice: Random, files: int
) -> None:
    entries = [entry for path in sorted(DEMO.glob("*.toml")) for entry in ENTRY.findall(path.read_text(encoding="utf-8"))]
    dice.shuffle(entries)
    place = tmp_path_factory.mktemp("shuffled")
    names = dice.sample(["a.toml", "z.toml", "m.toml", "0.toml"], files)
    for number, name in enumerate(names):
        (place / name).write_text("\n".join(entries[number::files]), encoding="utf-8")
    one, other = load_catalog(DEMO), load_catalog(*dice.sample([place / name for name in names], files))
    for family, parts in one.families.items():
        assert [(p.id, p.values, p.digest) for p in parts] == [(p.id, p.values, p.digest) for p in other.families[family]]
    assert one.complete
    assert other.complete


DEMO = folder("catalogs") / "demo" / "catalog"
ENTRY = re.compile(r"^\[\w+\.[\w-]+\]\n(?:(?!\[\w+\.[\w-]+\]\n).*\n?)*", re.MULTILINE)

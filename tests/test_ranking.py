"""Order, lists and counts of a screening, held against sorting every kit in plain Python.

Evaluation is replaced by made-up sums over parts, so that ties, missing values and rejections are met often; the plain
way enumerates all kits with nested loops and sorts them by the definition of the ranking.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import product
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.catalog.parts import FAMILIES, Catalog, Part
from fitcheck.engine import listing, screening
from fitcheck.engine.ranking import Names, as_written, leading, preference_key, shares, steps, unbeaten
from fitcheck.engine.result import KitTable, Result
from fitcheck.engine.states import ABSENT, CANNOT, CAUTION, NOT_GIVEN, PASS, REJECT, VALUE
from fitcheck.engine.table import METRICS
from fitcheck.engine.tiling import spans
from fitcheck.errors import Finding, Place
from fitcheck.job import Job, Preference
from fitcheck.profile import Assumptions, Fit, Profile, Rule

EXTERNAL = ("application", "pedal", "master", "line", "fluid", "slave", "fork", "bearing", "pressure_plate", "disc")
CONCENTRIC = ("application", "pedal", "master", "line", "fluid", "concentric", "pressure_plate", "disc")
TEXT = ("", "", "")
ASSUMED = Assumptions(0.3e-6, 101325.0, 0.2, 0.0, 3, 1000.0, 60.0)

# Made-up metrics: which families enter, and what each part adds. The names are real so that units and rounding are too.
SUMS: dict[str, tuple[str, ...]] = {
    "release_margin": (*EXTERNAL[1:], "concentric"),
    "effort_peak": ("pedal", "master", "slave", "concentric"),
    "cost": ("master", "disc"),
    "air_pocket": ("slave", "concentric"),
    "return_time": ("line", "fluid"),
    "rod_turn": ("slave",),
}


@dataclass
class World:
    catalog: Catalog
    profile: Profile
    job: Job
    adds: dict[tuple[str, str], dict[str, float]]  # (family, id) -> metric -> what the part adds
    states: dict[tuple[str, str], dict[str, int]]

    def metric(self, name: str, kit: dict[str, str]) -> tuple[float, int]:
        """Value and state of one kit."""
        parts = [(family, kit[family]) for family in SUMS[name] if family in kit]
        state = max((self.states[part].get(name, VALUE) for part in parts), default=VALUE)
        value = 0.0
        for part in parts:
            value += self.adds[part][name]
        return value, state


class MadeUp:
    """What evaluation would give for a tile, each metric on the axes of its families."""

    def __init__(self, world: World, tile: Any, wanted: Any) -> None:
        self.remarks: list[Any] = [("with stop", np.array(True))]
        self.names = [n for n in SUMS if (wanted is None or n in wanted) and METRICS[n].exists(tile.train, tile.rest)]
        self.numbers, self.states = {"shim_choice": np.zeros((1,) * tile.ndim)}, {}
        for name in self.names:
            self.numbers[name], self.states[name] = self._sum(world, tile, name)

    def _sum(self, world: World, tile: Any, name: str) -> tuple[Any, Any]:
        number, state = np.zeros((1,) * tile.ndim), np.zeros((1,) * tile.ndim, dtype=np.uint8)
        for family in SUMS[name]:
            rows = [tile.cover] if family == "pressure_plate" else tile.rows.get(family)
            if rows is None:
                continue
            parts = [(family, world.catalog.families[family][row].id) for row in rows]
            shape = [1] * tile.ndim
            shape[tile.axis.get(family, 0)] = len(parts)
            number = number + np.array([world.adds[part][name] for part in parts]).reshape(shape)
            state = np.maximum(state, np.array([world.states[part].get(name, 0) for part in parts], np.uint8).reshape(shape))
        return np.where(state == VALUE, number, math.nan), state if state.any() else None

    def number(self, name: str) -> Any:
        return self.numbers[name]

    def state(self, name: str) -> Any:
        return self.states[name]

    def missing_fields(self, name: str) -> list[Any]:
        return [(f"slave.{name}", self.states[name] == NOT_GIVEN)]

    def causes(self, name: str) -> list[Any]:
        return [("it has no root", self.states[name] == CANNOT)]


def random_world(seed: int) -> World:
    dice = random.Random(seed)
    families: dict[str, tuple[Part, ...]] = {}
    for family in FAMILIES:
        size = dice.choice((1, 1, 2, 2, 3)) if family != "linkage" else 0
        ids = sorted(dice.sample(["a", "a-b", "a0", "ab", "b", "b-1", "c"], size))
        families[family] = tuple(Part(family, i, random_values(dice, family), {"": Place("x.toml")}) for i in ids)
    parts = [(family, part.id) for family, some in families.items() for part in some]
    adds = {part: {name: dice.choice((0.0, 0.0, 1e-4, 3e-4, -2e-4)) for name in SUMS} for part in parts}
    states = {part: {n: dice.choice((NOT_GIVEN, CANNOT, ABSENT)) for n in SUMS if dice.random() < 0.06} for part in parts}
    rules = (
        Rule("margin", "release_margin", 2e-4, None, "reject", 4e-4, *TEXT),
        Rule("pocket", "air_pocket", None, 2e-4, dice.choice(("reject", "caution")), 1e-4, *TEXT),
        Rule("effort", "effort_peak", None, 5e-4, "caution", 2e-3, *TEXT),
    )
    fields = (("master.seal", "fluid.seal"), ("fork.seal", "bearing.seal"))
    fits = tuple(Fit(f"fit-{place}", "equal", pair, *TEXT) for place, pair in enumerate(fields))
    first = dice.choice((Preference("least", "effort_peak"), Preference("most", "return_time")))
    prefer = (first, Preference("least", "cost"), Preference("most", "rod_turn"))
    profile = Profile("test", 1.0, 0.25, (), ASSUMED, fits, rules)
    sizes = {"best": dice.choice((1, 5, 50)), "row_limit": dice.choice((7, 60, 9999))}
    job = Job("test", Path("job.toml"), (), "default", prefer=prefer, **sizes)
    return World(Catalog(families), profile, job, adds, states)


def random_values(dice: random.Random, family: str) -> dict[str, Any]:
    return {"seal": dice.choice(("EPDM", "NBR")), **({"preload": dice.choice((0.0, 9.0))} if family == "slave" else {})}


def screened(world: World, monkeypatch: pytest.MonkeyPatch, cells: int = 131_072, **more: Any) -> Result:
    def context(catalog: Catalog, profile: Profile, job: Job) -> Any:
        stacks = [[(0.5e-3, 1e-3)]] * len(catalog.families["concentric"])
        bent = np.arange(len(catalog.families["pedal"])) % 2 == 1
        parts = catalog.families
        return SimpleNamespace(catalog=catalog, profile=profile, job=job, parts=parts, shims_of=stacks, bent_pedals=bent)

    def evaluate(context: Any, tile: Any, wanted: Any = None, held: Any = None) -> MadeUp:
        return MadeUp(world, tile, wanted)

    monkeypatch.setattr(screening, "Context", context)
    monkeypatch.setattr(screening, "evaluate", evaluate)
    monkeypatch.setattr(listing, "evaluate", evaluate)
    return screening.screen(world.catalog, world.profile, world.job, cells=cells, **more)


# --- the plain way


@dataclass
class Kit:
    name: str
    train: str
    verdict: int
    headroom: float
    wishes: tuple[float, ...]
    broken: tuple[tuple[str, bool], ...]

    @property
    def key(self) -> tuple[Any, ...]:
        lost = math.inf if self.headroom == -math.inf else -math.floor((min(self.headroom, 1.0) + 1e-9) / 0.25)
        return self.verdict, lost, self.wishes, self.name


def plain_kits(world: World) -> dict[tuple[str, str], list[Kit]]:
    """Every legal kit of every application and train."""
    found: dict[tuple[str, str], list[Kit]] = {}
    for train, families in (("external", EXTERNAL), ("concentric", CONCENTRIC)):
        for application in world.catalog.families["application"]:
            found[application.id, train] = []
            for parts in product([application], *(world.catalog.families[family] for family in families[1:])):
                kit = dict(zip(families, parts, strict=True))
                seals = {family: part.values["seal"] for family, part in kit.items()}
                if seals["master"] == seals["fluid"] and seals.get("fork") == seals.get("bearing"):
                    found[application.id, train].append(plain_kit(world, train, kit))
    return found


def plain_kit(world: World, train: str, kit: dict[str, Part]) -> Kit:
    ids = {family: part.id for family, part in kit.items()}
    rest = "bottomed" if train == "external" and kit["slave"].values["preload"] == 0 else "contact"
    values = {name: world.metric(name, ids) if METRICS[name].exists(train, rest) else (math.nan, ABSENT) for name in SUMS}
    rooms: list[tuple[str, float, bool]] = []
    for rule in world.profile.rules:
        value, state = values[rule.metric]
        if state == VALUE:
            room = (value - rule.lower if rule.lower is not None else rule.upper - value) / rule.scale  # type: ignore[operator]
            rooms.append((rule.name, room, rule.severity == "reject"))
        elif state == CANNOT:
            rooms.append((rule.name, -math.inf, True))
    ruled = {rule.metric for rule in world.profile.rules}
    rooms += [(name, -math.inf, True) for name, (_, state) in values.items() if state == CANNOT and name not in ruled]
    broken = tuple((name, rejects) for name, room, rejects in rooms if room < -1e-9)
    rejected = any(rejects for _, rejects in broken)
    unknown = any(values[metric][1] == NOT_GIVEN for metric in ruled)
    headroom = min((room for _, room, rejects in rooms if rejects or not rejected), default=math.inf)
    wishes = tuple(plain_wish(wish, *values[wish.metric]) for wish in world.job.prefer)
    verdict = REJECT if rejected else CAUTION if broken or unknown else PASS
    return Kit("+".join(ids.values()), train, verdict, headroom, wishes, broken)


def plain_wish(wish: Preference, value: float, state: int) -> float:
    unit = {"mm": 1e3, "mL": 1e6}.get(METRICS[wish.metric].unit, 1.0)
    written = float(f"{value * unit:.12g}") if state == VALUE else math.inf
    return -written if wish.direction == "most" and state == VALUE else written


def listed(kits: list[Kit]) -> list[tuple[str, int, int]]:
    return [(kit.name, kit.verdict, rank) for rank, kit in enumerate(sorted(kits, key=lambda kit: kit.key), start=1)]


def shown(table: KitTable) -> list[tuple[str, int, int]]:
    return list(zip(table.kit, table.verdict.tolist(), table.rank.tolist(), strict=True))


@pytest.mark.parametrize("seed", range(24))
def test_a_screening_counts_and_ranks_as_sorting_every_kit_does(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    world = random_world(seed)
    found, kits = screened(world, monkeypatch), plain_kits(world)
    for group, some in kits.items():
        assert found.legal[group] == len(some)
        assert found.verdicts[group] == tuple(sum(kit.verdict == code for kit in some) for code in (PASS, CAUTION, REJECT))
        breaks = {name: sum(name in dict(kit.broken) for kit in some) for name in found.broken_by[group]}
        assert found.broken_by[group] == breaks
        alone = {name: sum({n for n, rejects in kit.broken if rejects} == {name} for kit in some) for name in breaks}
        assert found.only_by[group] == alone
    check_lists(world, found, kits)


def check_lists(world: World, found: Result, kits: dict[tuple[str, str], list[Kit]]) -> None:
    """kits.csv holds the best of each application, evenly; the best and the nearest misses of each group stand beside."""
    applications = sorted({application for application, _ in kits})
    ranked = {a: listed([kit for (b, _), some in kits.items() if a == b for kit in some]) for a in applications}
    sizes = plain_shares(world.job.row_limit, [len(ranked[a]) for a in applications])
    expected = [row for a, size in zip(applications, sizes, strict=True) for row in ranked[a][:size]]
    assert shown(found.kits) == expected
    assert found.complete_rows == (sum(map(len, kits.values())) <= world.job.row_limit)
    in_list = {name: rank for name, _, rank in expected}
    for group, some in kits.items():
        if not some:
            assert group in found.emptied
            assert len(found.best[group]) == 0
            continue
        best = [(name, verdict, in_list.get(name, 0)) for name, verdict, _ in listed(some)[: world.job.best]]
        assert shown(found.best[group]) == [row for row in best if row[1] != REJECT]
        assert (group in found.nearest) == (not any(kit.verdict == PASS for kit in some))
        assert shown(found.nearest[group]) == best if group in found.nearest else True


def plain_shares(limit: int, wanted: list[int]) -> list[int]:
    """One row to each application in turn, as long as it has one and there is room."""
    given = [0] * len(wanted)
    while sum(given) < min(limit, sum(wanted)):
        for place, want in enumerate(wanted):
            given[place] += given[place] < want and sum(given) < limit
    return given


@pytest.mark.parametrize("seed", range(6))
def test_tiles_of_any_size_give_the_same_result(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    world = random_world(100 + seed)
    whole = screened(world, monkeypatch)
    for cells in (1, 7, 64):
        found = screened(world, monkeypatch, cells, all_metrics=cells == 7)
        assert (found.verdicts, found.broken_by, found.only_by) == (whole.verdicts, whole.broken_by, whole.only_by)
        assert (list(found.best), list(found.nearest)) == (list(whole.best), list(whole.nearest))
        tables = [(found.kits, whole.kits), *zip(found.best.values(), whole.best.values(), strict=True)]
        for one, other in tables:
            assert (one.kit, one.reasons, one.missing) == (other.kit, other.reasons, other.missing)
            assert one.limiting_rule == other.limiting_rule
            assert one.headroom.tobytes() == other.headroom.tobytes()
            assert all(one.metrics[name].tobytes() == other.metrics[name].tobytes() for name in METRICS)


def test_rows_carry_parts_states_and_words(monkeypatch: pytest.MonkeyPatch) -> None:
    world = random_world(3)
    table = screened(replace_job(world, row_limit=9999), monkeypatch).kits
    for row in range(len(table)):
        ids = {family: table.parts[family][row] for family in FAMILIES[:-1] if table.parts[family][row]}
        assert tuple(ids) == (EXTERNAL if table.train[row] == "external" else CONCENTRIC)
        assert table.kit[row] == "+".join(ids.values())
        assert table.shims[row] == ("0.5+1" if table.train[row] == "concentric" else "")
        assert table.remarks[row] == ("with stop",)
        value, state = world.metric("effort_peak", ids)
        assert table.states["effort_peak"][row] == state
        assert table.metrics["effort_peak"][row] == pytest.approx(math.nan if state else value, nan_ok=True)
        assert "setup_low: does not exist" in table.missing[row]  # nothing gives it here
        words = dict(item.split(": ") for item in table.missing[row].split("; "))
        assert words.get("effort_peak", "") == ("", "does not exist", "not given", "cannot be computed")[state]


def replace_job(world: World, **changes: Any) -> World:
    return replace(world, job=replace(world.job, **changes))


def test_progress_ends_with_all_kits(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[tuple[int, int]] = []
    found = screened(random_world(5), monkeypatch, 16, progress=lambda done, total: told.append((done, total)))
    assert told == sorted(told)
    assert told[-1] == (sum(found.legal.values()),) * 2


def test_nothing_checked_or_a_name_that_leads_nowhere_is_incomplete(monkeypatch: pytest.MonkeyPatch) -> None:
    world = random_world(5)
    assert screened(world, monkeypatch).complete
    nobody = screened(replace_job(world, applications=("nobody",)), monkeypatch)
    assert (len(nobody.kits), dict(nobody.legal), nobody.complete) == (0, {}, False)
    slip = Finding(Place("job.toml"), "unknown-part", "no disc of that name", "a disc", "did you mean another?")
    slipped = screened(world, monkeypatch, slips=(slip,))
    assert (slipped.complete, slipped.findings) == (False, (slip,))


def test_a_stop_from_the_keyboard_passes_through(monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        screened(random_world(5), monkeypatch, progress=stop)


# --- pieces


def test_headroom_is_capped_and_rounded_down_to_steps() -> None:
    headroom = np.array([2.0, 1.0, 0.99, 0.75, 0.75 - 5e-10, 0.7499, 0.0, -1e-10, -0.1, -np.inf, np.inf])
    assert steps(headroom, 1.0, 0.25).tolist() == [4, 4, 3, 3, 3, 2, 0, 0, -1, -np.inf, 4]


@given(st.floats(-1e9, 1e9, allow_subnormal=False))
def test_a_value_is_compared_as_it_is_written(value: float) -> None:
    found = float(as_written(np.array([value]), "mm")[0])
    assert found == pytest.approx(float(f"{value * 1e3:.12g}"), rel=1.1e-11)  # a tie may round either way
    assert float(f"{found:.12g}") == pytest.approx(found, rel=1e-15)


def test_preferred_first_and_missing_last() -> None:
    values = np.array([3.0, 1.0, np.inf, 2.0, -np.inf])
    states = np.array([VALUE, VALUE, VALUE, NOT_GIVEN, VALUE], np.uint8)
    assert np.argsort(preference_key(Preference("least", "cost"), values, states), kind="stable").tolist() == [4, 1, 0, 2, 3]
    assert np.argsort(preference_key(Preference("most", "cost"), values, states), kind="stable").tolist() == [2, 0, 1, 4, 3]


@given(st.lists(st.tuples(st.integers(0, 2), st.integers(0, 4), st.integers(0, 4), st.integers(0, 4)), max_size=40))
def test_an_unbeaten_kit_is_bettered_by_no_passing_kit(rows: list[tuple[int, ...]]) -> None:
    verdict = np.array([row[0] for row in rows], np.uint8)
    keys = [np.array([row[place] for row in rows], float) for place in (1, 2, 3)]

    def betters(one: tuple[int, ...], other: tuple[int, ...]) -> bool:
        return one[0] == PASS and one[1:] != other[1:] and all(a <= b for a, b in zip(one[1:], other[1:], strict=True))

    expected = [row[0] == PASS and not any(betters(other, row) for other in rows) for row in rows]
    assert unbeaten(verdict, keys).tolist() == expected
    assert unbeaten(verdict, []).tolist() == [row[0] == PASS for row in rows]


ids = st.text("abz019-", min_size=1, max_size=4).filter(lambda text: text[0] != "-")


@given(st.lists(ids, min_size=1, max_size=12, unique=True), st.randoms(use_true_random=False))
def test_numbers_of_names_sort_like_the_names(words: list[str], dice: random.Random) -> None:
    chosen = {family: sorted(dice.sample(words, dice.randint(1, len(words)))) for family in FAMILIES}
    families = {family: tuple(Part(family, i, {}, {"": Place("x")}) for i in some) for family, some in chosen.items()}
    train, parts, names = [], [], []
    for _ in range(20):
        code = dice.randint(0, 1)
        order = (EXTERNAL, CONCENTRIC)[code]
        rows = [dice.randrange(len(families[family])) for family in order]
        train.append(code)
        parts.append(rows + [-1] * (10 - len(rows)))
        names.append("+".join(families[family][row].id for family, row in zip(order, rows, strict=True)))
    keys = Names(Catalog(families)).keys(np.array(train, np.int8), np.array(parts, np.int32))
    assert [names[row] for row in np.lexsort(keys[::-1])] == sorted(names)


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3)), max_size=30), st.integers(1, 35))
def test_the_leading_rows_are_those_of_sorting_and_all_equal_to_the_last(rows: list[tuple[int, int]], capacity: int) -> None:
    keys = [np.array([row[place] for row in rows], int) for place in (0, 1)]
    getters: list[Callable[..., Any]] = [key.__getitem__ for key in keys]
    found = leading(getters, np.arange(len(rows)), capacity)
    last = sorted(rows)[:capacity][-1:]
    assert sorted(found.tolist()) == [place for place, row in enumerate(rows) if [row] <= last]


@given(st.integers(0, 60), st.lists(st.integers(0, 20), max_size=6))
def test_rows_are_shared_evenly(limit: int, wanted: list[int]) -> None:
    found = shares(limit, wanted)
    assert sum(found) == min(limit, sum(wanted))
    assert all(given <= want for given, want in zip(found, wanted, strict=True))
    hungry = [given for given, want in zip(found, wanted, strict=True) if given < want]
    assert max(found, default=0) <= min(hungry, default=99) + 1
    assert found == plain_shares(limit, wanted)


@given(st.lists(st.integers(1, 50), min_size=1, max_size=6), st.integers(1, 5000))
def test_a_tile_is_never_larger_than_asked(sizes: list[int], cells: int) -> None:
    found = spans(sizes, cells)
    assert math.prod(found) <= cells
    assert all(1 <= span <= size for span, size in zip(found, sizes, strict=True))
    assert found == sizes or 2 * math.prod(span + 1 for span in found) > cells

"""Two changes together: all that one kit after the other finds, in the order of a screening, and nothing that does not stand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from mending import (
    BUSTARD,
    COLD,
    HEAVY,
    ILLEGAL,
    OLD,
    PLOUGH,
    TRACTOR,
    VAN,
    WINCH,
    alone,
    bench_of,
    by_oracle,
    few,
    held,
    inputs,
    judged,
    outside,
    random_benches,
    write,
    written,
)

from fitcheck.catalog.parts import Part
from fitcheck.engine.states import CAUTION, PASS, REJECT
from fitcheck.engine.variants import Bench, Variant
from fitcheck.kit_names import find_kit, let_in
from fitcheck.reasons import together
from fitcheck.reasons.intervals import value_of
from fitcheck.reasons.numbers import numbers_on
from fitcheck.reasons.remedies import remedies_of
from fitcheck.reasons.scan import scanned
from fitcheck.reasons.shelf import Shelf
from fitcheck.reasons.together import mixed_of, pairs_of

pytestmark = pytest.mark.no_cover

Two = frozenset[tuple[str, str]]

# Kits for which nothing but a part and a number does.
SPRING = "snow-plough+helper-60+steep-19+metric-to-inch+clear+base-24+heavy-17+roller-48+condor+heavy-280"
LASH = "orchard-tractor+stirrup-62+ovrel-19+metric-to-inch+amber+strap-21+tractor-fork+roller-38+jay+tractor-200"
FRICTION = "winch-truck+helper-60+steep-19+metric-to-inch+amber+base-24+heavy-17+roller-48+harrier+heavy-265"


def every_two(bench: Bench) -> Iterator[dict[str, Part]]:
    """All pairs of other parts of two families that the job lets in."""
    others = {
        family: [part for part in bench.catalog.families[family] if part.id != own.id and let_in(bench.job, family, part.id)]
        for family, own in bench.parts.items()
        if family != "application"
    }
    for one, two in combinations(others, 2):
        yield from ({one: first, two: second} for first in others[one] for second in others[two])


def named(parts: Mapping[str, Part]) -> Two:
    return frozenset((family, part.id) for family, part in parts.items())


# --- two parts


@pytest.mark.parametrize("kit", [PLOUGH, OLD, ILLEGAL])
def test_pairs_are_all_that_one_kit_after_the_other_finds(kit: str) -> None:
    """In a small catalog, each kit of two other parts judged from scratch."""
    read = few(kit, 4)
    bench = bench_of(kit, read)
    found: dict[int, set[Two]] = {PASS: set(), CAUTION: set(), REJECT: set()}
    fitting = 0
    for parts in every_two(bench):
        ids = {family: parts.get(family, own).id for family, own in bench.parts.items()}
        table = alone(ids, bench.train, read)
        fitting += table is not None
        found[int(table.verdict[0]) if table else REJECT].add(named(parts))
    pairs = pairs_of(Shelf(bench), (PASS, CAUTION))
    assert (pairs.fitting, pairs.tried) == (fitting, fitting)
    assert pairs.kits == (found[PASS] or found[CAUTION])
    assert pairs.total == len(pairs.kits)
    assert pairs.goal == (PASS if found[PASS] or not found[CAUTION] else CAUTION)


@pytest.mark.parametrize("seeds", [range(start, start + 6) for start in range(0, 18, 6)], ids=str)
def test_pairs_that_mend_random_kits_are_those_of_the_oracle(seeds: range) -> None:
    told = 0
    for bench in random_benches(seeds):
        some = list(every_two(bench))
        verdicts = [by_oracle(bench, parts) for parts in some]
        best = min([each for each in verdicts if each < REJECT], default=PASS)
        pairs = pairs_of(Shelf(bench), (PASS, CAUTION))
        assert pairs.kits == {named(parts) for parts, verdict in zip(some, verdicts, strict=True) if verdict == best}
        told += pairs.total
    assert told


@pytest.mark.parametrize("kit", [PLOUGH, OLD, COLD])
def test_a_pair_told_stands_under_its_name(kit: str) -> None:
    """The kit is named anew, found in the catalog, judged alone, and screened among those that the two parts allow."""
    read, bench = inputs(), bench_of(kit)
    pairs = pairs_of(Shelf(bench), (PASS, CAUTION))
    assert len(pairs.best) == min(pairs.total, together.BEST)
    for swap in pairs.best:
        assert [part.family for part in swap.parts] == [own.family for own in swap.instead]
        assert [own.id for own in swap.instead] == [bench.parts[part.family].id for part in swap.parts]
        new = "+".join(
            {**{family: own.id for family, own in bench.parts.items()}, **{p.family: p.id for p in swap.parts}}.values()
        )
        train, ids = find_kit(new, read.catalog, read.job)
        table = alone(ids, train)
        assert table is not None
        assert (swap.verdict, swap.headroom, swap.limiting_rule) == (table.verdict[0], table.headroom[0], table.limiting_rule[0])
        assert {reason.rule for reason in (*swap.stays, *swap.new)} == {reason.rule for reason in table.reasons[0]}
        only = {family: (identifier,) for family, identifier in ids.items() if family != "application"}
        job = replace(read.job, applications=(ids["application"],), trains=(train,), only=only)
        assert replace(read, job=job).screen().kits.kit == (new,)


def test_pairs_stand_in_the_order_of_a_screening(monkeypatch: pytest.MonkeyPatch) -> None:
    """Screened with the parts of two families free and the kit's own left out."""
    monkeypatch.setattr(together, "BEST", 1000)
    read, bench, compared = inputs(), bench_of(OLD), 0
    pairs = pairs_of(Shelf(bench), (PASS,))
    mine = [({part.family for part in swap.parts}, {part.id for part in swap.parts}) for swap in pairs.best]
    for two in {tuple(sorted(families)) for families, _ in mine}:
        only = {family: (own.id,) for family, own in bench.parts.items() if family not in ("application", *two)}
        left = {family: (bench.parts[family].id,) for family in two}
        job = replace(read.job, applications=("post-van",), trains=("external",), only=only, leave_out=left)
        kits = replace(read, job=job).screen().kits
        passing = [set(kit.split("+")) for kit, verdict in zip(kits.kit, kits.verdict, strict=True) if verdict == PASS]
        here = [ids for families, ids in mine if families == set(two)]
        assert len(passing) == len(here)
        assert all(ids <= kit for ids, kit in zip(here, passing, strict=True))
        compared += len(here) > 1
    assert compared


@pytest.mark.parametrize("kit", [PLOUGH, OLD, COLD, VAN, BUSTARD])
def test_where_there_are_too_many_the_likeliest_are_tried(kit: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A fifth of the pairs are tried: most of those that do are among them, and none that does not."""
    shelf = Shelf(bench_of(kit))
    whole = pairs_of(shelf, (PASS, CAUTION))
    monkeypatch.setattr(together, "TRIED", whole.fitting // 5)
    some = pairs_of(shelf, (PASS, CAUTION))
    assert (some.fitting, some.tried) == (whole.fitting, whole.fitting // 5)
    assert some.goal == whole.goal
    assert some.kits <= whole.kits
    assert some.total > 0.6 * min(whole.total, some.tried)


def test_what_is_short_is_added_up_of_all_rules() -> None:
    own, first, second = np.array([[1.0], [-2.0]]), np.array([[0.5], [3.0]]), np.array([[0.2], [-2.5]])
    roomy, bare = together._short(first, second - own)  # 0.5 + 0.2 - 1 and 3 - 2.5 + 2
    assert bare[0] == pytest.approx(0.3)
    assert roomy[0] == pytest.approx(0.3 + together.ROOM)
    unknown = np.array([[np.nan], [np.inf], [-np.inf]])
    assert together._bounded(unknown)[:, 0].tolist() == [-1.0, together.FAR, -together.FAR]


# --- a part and a number


def mixed(kit: str) -> tuple[Bench, together.Mixed]:
    bench = bench_of(kit)
    scans = [scan for scan, _ in scanned(bench, list(numbers_on(bench).values()), (PASS, CAUTION))]
    return bench, mixed_of(Shelf(bench), scans, range(int(bench.itself.verdict[0])))


@pytest.mark.parametrize(("kit", "goal"), [(BUSTARD, PASS), (SPRING, PASS), (FRICTION, CAUTION)])
def test_a_part_and_a_number_told_mend_the_kit_and_a_step_outside_they_do_not(
    kit: str, goal: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """The part named, the number written into the catalog, and the kit judged alone."""
    bench, found = mixed(kit)
    assert (found.goal, len(found.best)) == (goal, min(found.total, together.BEST))
    assert found.best
    for one in found.best:
        ids = {family: own.id for family, own in bench.parts.items()} | {one.part.family: one.part.id}

        def after(value: object, ids: dict[str, str] = ids, one: together.PartAndNumber = one) -> int:
            read = written(tmp_path_factory.mktemp("mixed"), lambda raw: write(raw, ids, one.change.number, value))  # type: ignore[arg-type]
            return judged("+".join(ids.values()), read)

        assert one.instead.id == bench.parts[one.part.family].id
        assert [after(value) for value in held(one.change)] == [one.change.goal] * len(held(one.change))
        assert all(after(value) > one.change.goal for value in outside(one.change))
        for other in ({}, {one.part.family: one.part}):
            assert (bench.verdicts([Variant(other)]) > goal).all()


def test_a_setting_comes_before_a_size_and_holds_in_the_kit_with_the_part() -> None:
    bench, found = mixed(LASH)
    (first, *others) = found.best
    assert first.change.number.name == "lash"
    assert not any(one.change.number.fitter for one in others)
    new = "+".join(part.id for part in {**bench.parts, first.part.family: first.part}.values())
    mended = bench_of(new)
    inside, beyond = (
        mended.verdicts([Variant(setting=value_of(first.change.number, value)) for value in some])
        for some in (held(first.change), outside(first.change))
    )
    assert (inside == PASS).all()
    assert len(beyond) == 2
    assert (beyond > PASS).all()


# --- when they are sought


def test_two_are_sought_only_where_one_does_not_do() -> None:
    for kit, pairs, mixed_too in ((HEAVY, False, False), (PLOUGH, True, False), (COLD, True, False), (TRACTOR, True, True)):
        remedies = remedies_of(bench_of(kit))
        assert (remedies.pairs is not None, remedies.mixed is not None) == (pairs, mixed_too)
    assert remedies_of(bench_of(TRACTOR), swaps=False).pairs is None


def test_no_verdict_is_sought_that_a_figure_of_the_vehicle_forbids() -> None:
    """Of the winch truck one caution rests on its wheelbase and its tilt: no two parts change the figure."""
    bench = bench_of(WINCH)
    remedies = remedies_of(bench)
    assert [one.reason.rule for one in remedies.by_rule if one.fixed] == ["bleed-lift"]
    assert remedies.pairs is not None
    assert (remedies.pairs.sought, remedies.mixed) == ((CAUTION,), None)
    row = bench.ruled.index("bleed-lift")
    seen = bench.glance([Variant(parts) for parts in every_two(bench)])
    assert len(set(seen.rooms[row, seen.legal].tolist())) == 1

"""The tree of a number: it ends at what the number depends on and at nothing else, and says truly what stands where."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import pytest
from random_catalogs import JOB, random_scene

from fitcheck.catalog.parts import Catalog, Part
from fitcheck.engine.table import METRICS
from fitcheck.engine.variants import Bench
from fitcheck.inputs import Inputs, read_job
from fitcheck.kit_names import find_kit
from fitcheck.profile import Profile
from fitcheck.reasons.chain import Chain, Leaf
from fitcheck.report.chain import tree_lines

DEMO = Path(__file__).parent.parent / "catalogs" / "demo" / "job.toml"
EXTERNAL = "winch-truck+lever-62+steep-19+metric-copper+violet+base-22+heavy-17+roller-48+eagle+heavy-280-woven"
CONCENTRIC = "hay-lorry+lever-62+vell-21+metric-copper+straw+ring-42-a+crane+lorry-240"
SEEDS = range(10)
ASKED = 14  # metrics of each random kit


@cache
def inputs() -> Inputs:
    return read_job(DEMO)


def demo(kit: str) -> Bench:
    read = inputs()
    return Bench(read.catalog, read.profile, read.job, *find_kit(kit, read.catalog, read.job))


@cache
def bench(seed: int) -> Bench:
    """A random kit of either train, under either spring; the last two are of the demo."""
    if seed >= len(SEEDS) - 2:
        return demo((EXTERNAL, CONCENTRIC)[seed % 2])
    scene = random_scene(Random(seed), ("curve", "diaphragm")[seed % 2])
    catalog = scene.catalog()
    return Bench(
        catalog, scene.profile(), JOB, scene.train, {family: parts[0].id for family, parts in catalog.families.items() if parts}
    )


# Nothing but the leaves moves a number.


def others_moved(kit: Bench, leaves: tuple[Leaf, ...]) -> Bench:
    """The same kit with every number of parts, linkage and profile a little off that is no leaf."""
    fields = {(leaf.owner, leaf.key) for leaf in leaves if leaf.kind == "field"}
    families = {family: tuple(moved(part, fields) for part in parts) for family, parts in kit.catalog.families.items()}
    ids = {family: part.id for family, part in kit.parts.items()}
    return Bench(Catalog(families), profile_moved(kit.profile, leaves), kit.job, kit.train, ids)


def moved(part: Part, fields: set[tuple[str, str]]) -> Part:
    for key, number in part.numbers():
        above = {".".join(key.split(".")[:length]) for length in range(1, key.count(".") + 2)}
        if not {(f"{part.family} {part.id}", each) for each in above} & fields:
            part = part.having(key, number * 1.0137 if number or key == "preload" else 1e-5)
    return part


def profile_moved(profile: Profile, leaves: tuple[Leaf, ...]) -> Profile:
    kept = {leaf.key for leaf in leaves if leaf.kind == "assumption"}
    asking = {leaf.owner for leaf in leaves if leaf.kind == "rule"}
    assumed: dict[str, Any] = {
        key: number + 1 if isinstance(number, int) else number * 1.0137
        for key, number in vars(profile.assumptions).items()
        if key not in kept
    }
    rules = tuple(
        rule
        if rule.name in asking
        else replace(rule, lower=rule.lower and rule.lower * 0.99, upper=rule.upper and rule.upper * 1.01)
        for rule in profile.rules
    )
    return replace(profile, assumptions=replace(profile.assumptions, **assumed), rules=rules)


def numbers(chain: Chain) -> list[str]:
    """Quantities that are numbers, not records of several."""
    return sorted(name for name in (*chain.steps, "cost", "mass") if isinstance(chain.values.numbers.get(name), np.ndarray))


def bits(kit: Bench, name: str) -> bytes:
    return np.asarray(kit.values.numbers.get(name, np.nan), float).tobytes()


@pytest.mark.parametrize("seed", SEEDS)
def test_no_number_moves_a_metric_but_the_leaves_of_its_tree(seed: int) -> None:
    kit, chain = bench(seed), Chain(bench(seed))
    names = Random(seed).sample(numbers(chain), ASKED)
    for name in [*names, "release_margin", "effort_peak", "setup_window", "cost"]:
        assert bits(others_moved(kit, chain.leaves(name)), name) == bits(kit, name), name


# Every kind of leaf matters somewhere.

# Numbers that only decide between equations, or that a bound of another part hides in these kits.
DECIDE: set[str] = set()


def test_every_field_that_a_tree_ends_at_moves_something_somewhere() -> None:
    seen: set[str] = set()
    moving: set[str] = set()
    for seed in SEEDS:
        kit, chain = bench(seed), Chain(bench(seed))
        leaves = {leaf.id: leaf for name in METRICS for leaf in chain.leaves(name) if leaf.kind == "field"}
        fields = [leaf for leaf in leaves.values() if leaf.owner.split(" ")[0] in kit.parts]
        seen |= {kind_of(leaf) for leaf in fields}
        moving |= {kind_of(leaf) for leaf in fields if matters(kit, leaf)}
    assert seen - moving == DECIDE


def kind_of(leaf: Leaf) -> str:
    return ".".join([leaf.owner.split(" ")[0], *(step for step in leaf.key.split(".") if not step.isdigit())])


def matters(kit: Bench, leaf: Leaf) -> bool:
    part = kit.parts[leaf.owner.split(" ")[0]]
    numbers = [(key, number) for key, number in part.numbers() if f"{key}.".startswith(f"{leaf.key}.")]
    if not numbers:  # a word or a flag decides
        return True
    for share in (1.02, 0.8, 1.3):
        changed = part
        for key, number in numbers:
            changed = changed.having(key, number * share if number else 1e-4)
        other = with_part(kit, changed)
        if any(bits(other, name) != bits(kit, name) for name in METRICS):
            return True
    return False


def with_part(kit: Bench, part: Part) -> Bench:
    families = {**kit.catalog.families, part.family: (part,)}
    return Bench(Catalog(families), kit.profile, kit.job, kit.train, {family: each.id for family, each in kit.parts.items()})


@pytest.mark.parametrize("seed", SEEDS)
def test_every_quantity_of_a_kit_can_be_shown(seed: int) -> None:
    chain = Chain(bench(seed))
    for name in chain.names:
        lines = list(tree_lines(chain.tree(name, levels=1), set()))
        assert lines[0].startswith(name)

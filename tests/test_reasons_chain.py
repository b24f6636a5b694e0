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
from fitcheck.engine.states import VALUE
from fitcheck.engine.table import METRICS
from fitcheck.engine.variants import Bench
from fitcheck.engine.verdict import applicable
from fitcheck.inputs import Inputs, read_job
from fitcheck.kit_names import find_kit
from fitcheck.profile import Profile
from fitcheck.reasons.chain import Chain, Leaf, Node
from fitcheck.reasons.standing import BROKEN, KEPT, NEEDED, NOWHERE, UNKNOWN, Standing, stand
from fitcheck.report.chain import tree_lines

pytestmark = pytest.mark.no_cover  # the rooms that are gated are covered without

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


def test_every_field_that_a_tree_ends_at_moves_something_somewhere() -> None:
    seen: set[str] = set()
    moving: set[str] = set()
    for seed in SEEDS:
        kit, chain = bench(seed), Chain(bench(seed))
        leaves = {leaf.id: leaf for name in METRICS for leaf in chain.leaves(name) if leaf.kind == "field"}
        fields = [leaf for leaf in leaves.values() if leaf.owner.split(" ")[0] in kit.parts]
        seen |= {kind_of(leaf) for leaf in fields}
        moving |= {kind_of(leaf) for leaf in fields if kind_of(leaf) not in moving and matters(kit, leaf)}
    assert not seen - moving


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


# What a tree says.

TOTAL_RATIO = """\
total_ratio 14.35 = pedal_ratio * (piston_area / master_area) * fork_ratio
    | Pad travel over finger travel of a rigid train. (Pascal's law and the lever)
  pedal_ratio 6.2: lever-62, pedals.toml:21, invented
  piston_area 387.9 mm2 = 0.25 * pi * slave_bore^2
      | Area of an external slave's piston. (geometry of the circle)
    slave_bore 7/8 in (22.23 mm): base-22, slaves.toml:135, invented
  master_area 285 mm2 = 0.25 * pi * master_bore^2
      | Area of the master's piston. (geometry of the circle)
    master_bore 3/4 in (19.05 mm): steep-19, masters.toml:161, invented
  fork_ratio 1.7: heavy-17, forks.toml:132, invented
"""

MEAN_RADIUS = """\
mean_radius 113.8 mm
    = (D + d - D * d / (D + d)) / 3 if uniform_pressure else (D + d) / 4, with D = outer_diameter, d = inner_diameter
    | Radius at which the friction of a face may be thought to act. (Budynas and Nisbett, Shigley's Mechanical
    | Engineering Design, chapter 16, disc clutches)
  disc_outer_diameter 280 mm: heavy-280-woven, discs.toml:224, invented
  disc_inner_diameter 175 mm: heavy-280-woven, discs.toml:225, invented
  disc_uniform_pressure (uniform wear): disc heavy-280-woven radius_rule, left out in the catalog, discs.toml:222
"""


@pytest.mark.parametrize(("name", "text"), [("total_ratio", TOTAL_RATIO), ("mean_radius", MEAN_RADIUS)])
def test_a_small_tree_to_the_letter(name: str, text: str) -> None:
    lines = "\n".join(tree_lines(Chain(demo(EXTERNAL)).tree(name), set()))
    folder = f"{DEMO.parent}/catalog/"
    assert lines.replace(folder, "") + "\n" == text


def test_what_is_met_twice_is_told_once() -> None:
    def nodes(node: Node) -> list[Node]:
        return [node, *(each for below in node.inputs if isinstance(below, Node) for each in nodes(below))]

    for name in ("effort_return", "setup_window"):
        told = [node.name for node in nodes(Chain(demo(EXTERNAL)).tree(name)) if not node.again]
        assert len(told) == len(set(told)) > 10
    chain, seen = Chain(demo(EXTERNAL)), set[str]()
    chain.tree("release_margin", seen)
    assert chain.tree("full", seen).again
    assert chain.tree("full", seen).inputs == ()


def leaf(chain: Chain, metric: str, key: str) -> Leaf:
    return next(leaf for leaf in chain.leaves(metric) if leaf.key == key)


def test_a_leaf_says_where_it_stands_and_what_stands_there() -> None:
    chain = Chain(demo(EXTERNAL))
    expansion = leaf(chain, "release_margin", "pieces.1.expansion")
    assert (expansion.text, expansion.dimension, expansion.evidence) == ("0.32 cc/ft", "line_expansion", "invented")
    assert expansion.place is not None
    assert "expansion" in Path(expansion.place.file).read_text("utf-8").splitlines()[expansion.place.line - 1]
    air = leaf(chain, "release_margin", "air")
    assert (air.kind, air.text, air.place and air.place.file) == ("assumption", "0.3 mL", "default")
    stop = leaf(chain, "setup_window", "stroke_reserve")
    assert (stop.kind, stop.owner, stop.source) == ("rule", "stroke-reserve", "common practice, no source")
    assert leaf(chain, "air_pocket", "tilt").owner == "application winch-truck"  # the slave's own is left out
    assert any(leaf.owner.startswith("linkage ") for leaf in chain.leaves("effort_vs_linkage"))
    assert "rests in contact" in leaf(chain, "lash", "preload").words
    assert leaf(chain, "cost", "supplied").kind == "job"
    assert leaf(Chain(demo(CONCENTRIC)), "total_ratio", "fork_ratio").words == "1: a concentric cylinder has no fork"


def test_a_word_that_counts_as_a_number_says_which() -> None:
    chain = Chain(demo(EXTERNAL))
    pull = chain.bench.parts["pressure_plate"].having("action", "pull")
    told = list(tree_lines(Chain(with_part(chain.bench, pull)).tree("off_square"), set()))
    assert any(line.startswith("  pressure_plate_push pull (-1): ") for line in told)


def test_numbers_as_given_keep_their_digits_and_none_has_an_exponent() -> None:
    kit = demo(EXTERNAL)
    curve = {"travel": (0.0, 0.012345678), "load": (0.0, 23456.7)}
    plate = kit.parts["pressure_plate"].having("release_load", curve).having("clamp_load", 123456.0)
    chain = Chain(with_part(kit, plate))
    told = "\n".join([*tree_lines(chain.tree("kinked_spring"), set()), *tree_lines(chain.tree("clamp"), set())])
    assert "spring release_load.travel 0, 12.345678 mm: " in told
    assert "spring release_load.load 0, 23456.7 N: " in told
    assert "kinked_spring (load up to 23457 N; " in told
    assert "e+" not in told


def test_a_tolerance_comes_with_its_number() -> None:
    kit = demo(EXTERNAL)
    master = replace(kit.parts["master"], tolerances={"bore": 2e-5})
    assert leaf(Chain(with_part(kit, master)), "master_area", "bore").tolerance == 2e-5


def test_every_quantity_of_every_kit_has_a_tree_with_its_unit() -> None:
    for kit in map(bench, SEEDS):
        chain = Chain(kit)
        for name in chain.names:
            tree = chain.tree(name)
            assert tree.equation or tree.state != VALUE, name
            assert list(tree_lines(tree, set()))


# How a kit stands.


@cache
def standing(kit: str) -> Standing:
    return stand(Chain(demo(kit)))


def test_every_rule_is_told_broken_ones_first_then_by_headroom() -> None:
    found = standing(EXTERNAL)
    kit = demo(EXTERNAL)
    assert {line.name for line in found.rules} == {rule.name for rule in applicable(kit.profile, "winch-truck", "external")}
    kinds = [line.kind for line in found.rules]
    assert kinds == sorted(kinds, key=(BROKEN, NEEDED, KEPT, NOWHERE).index)
    broken = [line for line in found.rules if line.kind == BROKEN]
    assert [line.rejects for line in broken] == sorted((line.rejects for line in broken), reverse=True)
    kept = [line.headroom for line in found.rules if line.kind == KEPT]
    assert kept == sorted(kept)
    assert found.table is not None
    needed = [line.rule for line in found.rules if line.kind == NEEDED and line.rule]
    lacking = {rule.name for rule in needed if rule.not_given == "caution"}
    assert {reason.rule for reason in found.table.reasons[0]} == lacking | {line.name for line in broken}
    assert found.rejected


def test_a_verdict_says_what_it_rests_on() -> None:
    found = standing(CONCENTRIC)
    assert not found.rejected
    assert found.footing.metrics == ("release_point_share",)  # the limiting rule's, for none is broken
    assert {part.family for part, _ in found.footing.entries} >= {"master", "concentric", "pressure_plate", "application"}
    assert {evidence for _, evidence in found.footing.entries} == {"invented"}
    assert [leaf.key for leaf in found.footing.assumptions] == ["air", "ambient_pressure"]
    assert "release-point" in [rule.name for rule in found.footing.rules]


TRACTOR = "orchard-tractor+stirrup-62+ovrel-19+metric-to-inch+amber+strap-22+tractor-fork+roller-38+lark+tractor-200"


def test_a_caution_for_want_of_a_field_rests_on_the_figure_that_lacks_it() -> None:
    found = standing(TRACTOR)
    assert found.footing.metrics == ("air_reserve", "release_point_share")
    said = [line.name for line in found.rules if line.kind == NEEDED and not line.counts_as_lacking]
    assert said == ["crank-thrust", "rod-turn"]  # rules that only say so


def test_measured_figures_and_parts_out_of_reach_are_no_doubt() -> None:
    kit = demo(CONCENTRIC)
    master = kit.parts["master"]
    measured = with_part(kit, replace(master, values={**master.values, "evidence": "measured"}))
    assert "master" not in {part.family for part, _ in stand(Chain(measured)).footing.entries}
    untold = {key: value for key, value in master.values.items() if key != "evidence"}
    assert (replace(master, values=untold), "") in stand(Chain(with_part(kit, replace(master, values=untold)))).footing.entries


def test_what_cannot_be_computed_is_told_with_its_cause() -> None:
    kit = demo(EXTERNAL)
    weak = with_part(kit, kit.parts["disc"].having("friction", 0.01))
    lines = {line.metric: line for line in stand(Chain(weak)).rules if line.kind == UNKNOWN}
    assert lines["bite_band"].rejects
    assert "does not hold the vehicle" in " ".join(lines["bite_band"].why)
    tree = Chain(weak).tree("bite_point")
    assert tree.figures == ()
    assert "does not hold the vehicle" in " ".join(tree.lacking)


def test_a_kit_that_is_not_legal_is_told_so_and_still_has_its_numbers() -> None:
    kit = demo(EXTERNAL)
    found = stand(Chain(with_part(kit, kit.parts["disc"].having("spline", "2x2x2"))))
    assert found.table is None
    assert found.rejected
    assert found.unmet is not None
    assert "spline" in found.unmet.fits
    assert any(line.kind == KEPT for line in found.rules)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_quantity_of_a_kit_can_be_shown(seed: int) -> None:
    chain = Chain(bench(seed))
    for name in chain.names:
        lines = list(tree_lines(chain.tree(name, levels=1), set()))
        assert lines[0].startswith(name)

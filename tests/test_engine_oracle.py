"""The engine against the oracle: every metric of random kits alone and in tiles, and the screening of small random catalogs.

The oracle is written apart from the program, one kit at a time in plain floats, and is itself checked against hand
calculations and worked examples of books.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from random import Random
from typing import Any

import numpy as np
import oracle
import pytest
from oracle_edges import pushed
from random_catalogs import JOB, SCALES, Case, Scene, random_case, random_scene, random_tile, whole

from fitcheck.catalog.parts import Part
from fitcheck.engine.columns import Context
from fitcheck.engine.evaluate import Tile, Values, evaluate
from fitcheck.engine.result import KitTable, Result
from fitcheck.engine.screening import screen
from fitcheck.engine.states import ABSENT, STATE_WORDS, VALUE, VERDICT_WORDS
from fitcheck.engine.table import METRICS

STATES = dict(zip(("value", "absent", "not given", "cannot"), STATE_WORDS, strict=True))

# What the engine says where the oracle gives a key.
SLOPE = "full clamp does not hold the vehicle on the slope of the bite test"
BEFORE_BITE = "the master's stroke ends before the bite"
TOO_WEAK = "full clamp does not carry the engine's torque"
CAUSES = {
    "release_point": {"stroke": "the master's stroke ends before the clutch is released"},
    "release_point_share": {"stroke": "the master's stroke ends before the clutch is released"},
    "compliance_loss": {"no release volume": "release takes no fluid"},
    "bite_point": {"slope": SLOPE, "stroke": BEFORE_BITE},
    "bite_height": {"slope": SLOPE, "stroke": BEFORE_BITE},
    "bite_band": {"stroke": "the master's stroke ends before the clamp that carries the engine's torque"},
    "effort_slope": {"slope": SLOPE, "stroke": BEFORE_BITE},
    "return_time": {"slope": SLOPE},
    "effort_drop": {"no effort": "the largest force at the pad does not push the foot"},
    "effort_vs_linkage": {"no effort": "the old linkage's force cannot be computed"},
    "fork_angle_rest": {"arm": "at rest the bearing lies further off square than the fork is long"},
    "fork_angle_full": {"arm": "at full pedal the bearing lies further off square than the fork is long"},
    "fork_angle_worn": {"arm": "at rest with a worn disc the bearing lies further off square than the fork is long"},
    "rod_angle": {"rod": "the rod would have to be shorter than it swings sideways"},
}
ANGLES = ("fork_angle_rest", "fork_angle_full", "fork_angle_worn")


def causes_of(name: str, expected: Mapping[str, Any]) -> set[str]:
    """Every reason for which a metric of the oracle cannot be computed, in the engine's words."""
    inherited: set[str] = set()
    if name == "rod_angle":
        inherited = set().union(*(causes_of(angle, expected) for angle in ANGLES if expected[angle][0] == "cannot"))
    if name == "bite_band":
        inherited = causes_of("bite_point", expected) if expected["bite_point"][0] == "cannot" else set()
        inherited |= {TOO_WEAK} if expected["torque_factor"][1] < 1 else set()
    return inherited or {CAUSES[name][expected[name][2]]}


def near(name: str, number: float, expected: float, tolerance: float) -> bool:
    """Equal to a share of the larger of the value and one step of its metric."""
    if math.isinf(expected):
        return number == expected
    return abs(number - expected) <= tolerance * max(abs(expected), SCALES[name])


def tolerance_of(name: str) -> float:
    """All is exact but a pocket in a bore so nearly level that digits cancel."""
    return {"air_pocket": 1e-8, "air_reserve": 1e-8}.get(name, 1e-9)


# --- cell by cell


def at(array: Any, tile: Tile, cell: tuple[int, ...]) -> Any:
    return np.broadcast_to(array, tile.shape)[cell]


def differences(values: Values, tile: Tile, cell: tuple[int, ...], expected: Mapping[str, Any]) -> Iterator[str]:
    """What the engine says of the metrics of one kit of a tile, where the oracle says something else."""
    for name in METRICS:
        state, number, reason = expected.get(name, ("absent", math.nan, ""))
        code = values.state(name) if name in values.names else np.uint8(ABSENT)
        word = STATE_WORDS[VALUE if code is None else int(at(code, tile, cell))]
        if word != STATES[state]:
            yield f"{name}: {word or 'a value'}, oracle {state} {number!r} {reason}"
        elif state == "value":
            found = float(at(values.number(name), tile, cell))
            if not near(name, found, number, tolerance_of(name)):
                yield f"{name}: {found!r}, oracle {number!r}"
        elif state == "not given":
            yield from unlike(f"{name} lacks", there(values.missing_fields(name), tile, cell), set(reason))
        elif state == "cannot":
            yield from unlike(f"{name} fails", there(values.causes(name), tile, cell), causes_of(name, expected))


def there(said: Iterable[tuple[str, Any]], tile: Tile, cell: tuple[int, ...]) -> set[str]:
    """What is said of that cell."""
    return {text for text, where in said if at(where, tile, cell)}


def unlike(what: str, found: object, expected: object) -> Iterator[str]:
    if found != expected:
        yield f"{what}: {found!r}, oracle {expected!r}"


def remarks(values: Values, tile: Tile, cell: tuple[int, ...], expected: Mapping[str, Any]) -> Iterator[str]:
    """The same of what is said beside the metrics: the stop, the values that hold for a new disc only, the shims."""
    said = there(values.remarks, tile, cell)
    yield from unlike("with stop", "with stop" in said, expected["with_stop"])
    new_only = {name for text in said if text.startswith("new only: ") for name in text.removeprefix("new only: ").split(", ")}
    yield from unlike("new only", new_only, expected["new_only"])
    if tile.train == "concentric":
        part = tile.rows["concentric"][cell[tile.axis["concentric"]]]
        yield from unlike("shims", values.shims[part][int(at(values.number("shim_choice"), tile, cell))], expected["shims"])


def check(scene: Scene, tile: Tile) -> list[str]:
    """Every kit of a tile against the oracle."""
    values = evaluate(Context(scene.catalog(), scene.profile(), JOB), tile)
    found = []
    for cell in np.ndindex(*tile.shape):
        kit = scene.kit({family: int(rows[cell[tile.axis[family]]]) for family, rows in tile.rows.items()})
        expected = oracle.evaluate(scene.train, kit, scene.linkage, scene.assumed, scene.margins)
        told = [*differences(values, tile, cell, expected), *remarks(values, tile, cell, expected)]
        found += [f"{cell}: {text}" for text in told]
    return found


def batches(kits: int, size: int, traced: int) -> list[Any]:
    """Ranges of seeds; those past the first `traced` kits add nothing to coverage, and run much faster without it."""
    ranges = [range(first, min(first + size, kits)) for first in range(0, kits, size)]
    return [pytest.param(each, marks=() if each.start < traced else pytest.mark.no_cover) for each in ranges]


def named(seeds: range) -> str:
    return f"{seeds.start}-{seeds.stop - 1}"


@pytest.mark.parametrize("seeds", batches(1750, 125, traced=375), ids=named)
def test_kits_with_a_load_curve(seeds: range) -> None:
    """Every metric, state, reason and remark of single kits whose covers have a measured load curve."""
    assert not {seed: told for seed in seeds if (told := check_one(seed, "curve"))}


@pytest.mark.parametrize("seeds", batches(300, 60, traced=120), ids=named)
def test_kits_with_a_diaphragm(seeds: range) -> None:
    """The same under covers that are known as a diaphragm."""
    assert not {seed: told for seed in seeds if (told := check_one(seed, "diaphragm"))}


def check_one(seed: int, spring: str) -> list[str]:
    scene = random_scene(Random(f"kit {seed}"), spring)
    return check(scene, whole(scene))


@pytest.mark.parametrize("spring, seeds", [("curve", range(200)), ("diaphragm", range(25))])
def test_kits_at_the_edge_of_what_a_catalog_may_say(spring: str, seeds: range) -> None:
    """The same of kits with no dead volume, a port that shuts at the end of the stroke, a pedal that never moves its rod ..."""
    told = {}
    for seed in seeds:
        rng = Random(f"edge {seed}")
        scene = pushed(rng, random_scene(rng, spring))
        if found := check(scene, whole(scene)):
            told[seed] = found
    assert not told


@pytest.mark.no_cover
@pytest.mark.parametrize("spring, kits, seeds", [("curve", 24, range(28)), ("diaphragm", 10, range(8))])
def test_tiles(spring: str, kits: int, seeds: range) -> None:
    """Kits of one cover evaluated together, with families on axes of different lengths, cell by cell: no axis is swapped."""
    assert not {seed: told for seed in seeds if (told := check(*random_tile(Random(f"tile {seed}"), spring, kits)))}


# --- screening


def table_row(table: KitTable, row: int) -> tuple[str, ...]:
    return table.train[row], *(ids[row] for ids in table.parts.values() if ids[row])


def judged(case: Case) -> Iterator[tuple[str, str, dict[str, Part], Mapping[str, Any], Any]]:
    """Application, train, kit, metrics and judgement of every legal kit, by the oracle."""
    for (application, train), kits in case.legal.items():
        margins = oracle.margins_of(case.profile.rules, train, application)
        for kit in kits:
            parts = {family: part.values for family, part in kit.items()}
            linkage = case.catalog.part("linkage", parts["application"].get("linkage", ""))
            known = linkage.values if linkage else None
            metrics = oracle.evaluate(train, parts, known, case.profile.assumptions, margins, case.job.supplied)
            yield application, train, kit, metrics, oracle.judge(metrics, case.profile.rules, train, application)


def rejecting(case: Case, judgement: Any, metrics: Mapping[str, Any]) -> list[str]:
    """What rejects a kit: broken rules that reject, and all that cannot be computed."""
    rules = {rule.name: rule for rule in case.profile.rules}
    mild = {name for name, rule in rules.items() if rule.severity == "caution" and metrics[rule.metric][0] != "cannot"}
    return [name for name in judgement.broken if name not in mild]


def compare(case: Case, result: Result) -> list[str]:
    """A screening against every combination judged on its own."""
    table, told = result.kits, []
    rows = {table_row(table, row): row for row in range(len(table))}
    verdicts: Counter[tuple[tuple[str, str], str]] = Counter()
    broken_by: dict[tuple[str, str], Counter[str]] = {group: Counter() for group in case.legal}
    only_by: dict[tuple[str, str], Counter[str]] = {group: Counter() for group in case.legal}
    for application, train, kit, metrics, judgement in judged(case):
        name = (train, *(part.id for part in kit.values()))
        row = rows.pop(name, None)
        told += [f"{name}: not found"] if row is None else [f"{name}: {text}" for text in kit_row(table, row, metrics, judgement)]
        verdicts[(application, train), judgement.verdict] += 1
        broken_by[application, train].update(judgement.broken)
        strict = rejecting(case, judgement, metrics)
        only_by[application, train].update(strict if len(strict) == 1 else ())
    told += [f"{name}: is not legal" for name in rows]
    for group, kits in case.legal.items():
        told += unlike(f"{group} legal", result.legal[group], len(kits))
        told += unlike(f"{group} verdicts", result.verdicts[group], tuple(verdicts[group, word] for word in VERDICT_WORDS))
        told += unlike(f"{group} broken by", counted(result.broken_by[group]), dict(broken_by[group]))
        told += unlike(f"{group} only by", counted(result.only_by[group]), dict(only_by[group]))
    return [*told, *unlike("groups", set(result.legal), set(case.legal))]


def counted(tally: Mapping[str, int]) -> dict[str, int]:
    """Without rules that broke nowhere."""
    return {name: count for name, count in tally.items() if count}


def kit_row(table: KitTable, row: int, metrics: Mapping[str, Any], judgement: Any) -> Iterator[str]:
    """What a listed kit says and the oracle does not."""
    yield from unlike("verdict", VERDICT_WORDS[table.verdict[row]], judgement.verdict)
    yield from unlike("limiting rule", table.limiting_rule[row], judgement.limiting)
    headroom = float(table.headroom[row])
    if headroom != judgement.headroom and not math.isclose(headroom, judgement.headroom, rel_tol=1e-6, abs_tol=1e-6):
        yield f"headroom: {headroom!r}, oracle {judgement.headroom!r}"
    reasons = table.reasons[row]
    yield from unlike("broken", sorted({reason.rule for reason in reasons if reason.kind != "not given"}), list(judgement.broken))
    lacking = sorted(reason.reason.partition(" is not given")[0] for reason in reasons if reason.kind == "not given")
    yield from unlike("missing", lacking, list(judgement.missing))
    yield from unlike("shims", len(table.shims[row].split("+")) if table.shims[row] else 0, len(metrics["shims"]))
    for name in METRICS:
        state, number, _ = metrics.get(name, ("absent", math.nan, ""))
        word, found = STATE_WORDS[table.states[name][row]], float(table.metrics[name][row])
        if word != STATES[state] or (state == "value" and not near(name, found, number, tolerance_of(name))):
            yield f"{name}: {word} {found!r}, oracle {state} {number!r}"


@pytest.mark.parametrize("seeds", batches(200, 50, traced=0), ids=named)
def test_screening(seeds: range) -> None:
    """Legal kits, verdicts, headrooms, limiting and broken rules, missing fields and counts, by brute force."""
    told, seen = {}, Counter[str]()
    for seed in seeds:
        rng = Random(f"catalog {seed}")
        case = random_case(rng)
        result = screen(case.catalog, case.profile, case.job, cells=rng.choice((1, 6, 1000)), all_metrics=rng.random() < 0.5)
        if found := compare(case, result):
            told[seed] = found
        seen.update({word: count for three in result.verdicts.values() for word, count in zip(VERDICT_WORDS, three, strict=True)})
    assert not told
    assert all(seen[word] for word in VERDICT_WORDS), seen  # else the catalogs would not tell much

"""What the tests of comparisons share: the demo, kits of it, and small random catalogs with preferences."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path
from random import Random

from random_catalogs import random_case

from fitcheck.engine.result import KitTable, Result
from fitcheck.engine.single import one_kit
from fitcheck.engine.states import VALUE
from fitcheck.engine.table import METRICS
from fitcheck.inputs import Inputs, read_job
from fitcheck.job import Preference
from fitcheck.kit_names import find_kit, only_these
from fitcheck.report import words

ROOT = Path(__file__).resolve().parent.parent
GOLDEN = Path(__file__).parent / "golden"
EXTERNAL = "hay-lorry+helper-60+ovrel-19+metric-braid+straw+crest-22+lorry-15+roller-42+crane+lorry-240"
HEAVIER = EXTERNAL.replace("ovrel-19", "vell-21")
CONCENTRIC = "hay-lorry+lever-62+vell-21+metric-copper+straw+ring-42-a+crane+lorry-240"
ILLEGAL = EXTERNAL.replace("lorry-240", "bus-250")
BOTTOMED = "orchard-tractor+stirrup-62+vell-17+inch-capillary+clear+strap-21+tractor-fork+roller-38+lark+tractor-200"
WINCH = "winch-truck+lever-62+steep-22+metric-copper+violet+ring-48-a+eagle+heavy-280-woven"
DEMO_KITS = (EXTERNAL, HEAVIER, CONCENTRIC, BOTTOMED, WINCH)
VEHICLES = ("cable-shunter", "fire-pump", "hay-lorry", "orchard-tractor", "post-van", "snow-plough", "valley-bus", "winch-truck")
CASES = 24


@cache
def demo() -> Inputs:
    return read_job(ROOT / "catalogs" / "demo" / "job.toml")


@cache
def random_inputs(seed: int) -> tuple[Inputs, tuple[str, ...]]:
    """A small random catalog with its legal kits of one application, and preferences by the roll of a die."""
    rng = Random(f"compare {seed}")
    while True:
        case = random_case(rng)
        application = case.catalog.families["application"][0].id
        kits = [
            "+".join(part.id for part in kit.values())
            for (app, _), some in case.legal.items()
            if app == application
            for kit in some
        ]
        if len(kits) > 1:
            break
    metrics = [name for name in METRICS if name not in ("cost", "mass")]
    prefer = tuple(Preference(rng.choice(("least", "most")), name) for name in rng.sample(metrics, rng.randint(0, 3)))
    inputs = Inputs(replace(case.job, prefer=prefer, applications=(application,)), case.profile, case.catalog)
    return inputs, tuple(rng.sample(kits, min(4, len(kits))))


def table_of(inputs: Inputs, kit: str) -> KitTable:
    train, parts = find_kit(kit, inputs.catalog, inputs.job)
    table = one_kit(only_these(inputs.catalog, parts), inputs.profile, inputs.job, train)
    assert isinstance(table, KitTable)
    return table


def comparisons() -> list[tuple[Inputs, tuple[str, ...]]]:
    of_demo = [
        (demo(), DEMO_KITS[:4]),
        (demo(), (CONCENTRIC, WINCH)),
        (demo(), (HEAVIER, ILLEGAL, CONCENTRIC)),
        (demo(), (ILLEGAL, WINCH)),
    ]
    return of_demo + [random_inputs(seed) for seed in range(CASES)]


def read_the_same(name: str, one: KitTable, other: KitTable) -> bool:
    if words.cell(one, 0, name) == words.cell(other, 0, name):
        return True
    known = one.states[name][0] == other.states[name][0] == VALUE
    return known and math.isclose(one.metrics[name][0], other.metrics[name][0], rel_tol=1e-9)


@cache
def screened() -> Result:
    return demo().screen()


def golden(name: str, lines: list[str]) -> None:
    assert "\n".join(lines) + "\n" == (GOLDEN / name).read_bytes().decode("utf-8")

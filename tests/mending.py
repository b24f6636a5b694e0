"""What tests of remedies share: kits of the demo, a remedy written into its catalog as a person would, and the oracle."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from decimal import Decimal
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import oracle
import tomli
import tomli_w
from oracle_verdict import Judgement
from random_catalogs import random_case

from fitcheck.catalog.parts import Part
from fitcheck.engine.result import KitTable
from fitcheck.engine.single import one_kit
from fitcheck.engine.states import REJECT, VERDICT_WORDS
from fitcheck.engine.variants import Bench
from fitcheck.inputs import Inputs, read_job
from fitcheck.kit_names import find_kit, only_these
from fitcheck.quantities import parse
from fitcheck.reasons.intervals import Change
from fitcheck.reasons.numbers import Number

DEMO = Path(__file__).parent.parent / "catalogs" / "demo"
PLOUGH = "snow-plough+worn-lever+steep-22+metric-copper+straw+base-25+heavy-19+roller-48+harrier+heavy-265"
HEAVY = "snow-plough+lever-62+steep-22+metric-to-inch+amber+base-24+heavy-17+roller-48+harrier+heavy-280"
WINCH = "winch-truck+lever-62+steep-19+metric-copper+violet+base-22+heavy-17+roller-48+eagle+heavy-280-woven"
TRACTOR = "orchard-tractor+stirrup-62+vell-17+inch-braid+violet+strap-22+tractor-fork+dome-38+finch+tractor-200-rigid"
HAY = "hay-lorry+helper-60+ovrel-19+metric-braid+straw+crest-22+lorry-15+roller-42+crane+lorry-240"
RING = "hay-lorry+lever-62+vell-21+metric-copper+straw+ring-42-a+crane+lorry-240"
COLD = "hay-lorry+lever-55+vell-18+inch-capillary+clear+ridge-21+lorry-17+roller-42-long+crane+lorry-250"
SHORT = "hay-lorry+lever-55+stub-19+inch-to-metric+violet+ring-42-a+stork+lorry-240"
VAN = "post-van+short-53+vell-18+inch-to-metric+clear+crest-22+van-17+roller-35+lark+van-200"
PULL = "fire-pump+helper-60+vell-18+inch-to-metric+violet+base-puller-22+pump-15+hook-roller-42+crane+pump-240"
SOFT = "hay-lorry+lever-62+vell-21+metric-copper+clear+crest-22+lorry-17+roller-42+crane+lorry-250-woven"

OLD = "post-van+short-53+vell-18+inch-to-metric-old+clear+crest-22+van-17+roller-35+lark+van-200"
BUSTARD = "snow-plough+lever-62+steep-22+metric-copper+violet+base-22+heavy-19+dome-48+bustard+heavy-280-woven"
ILLEGAL = RING.replace("+straw+", "+moss+")

Raw = dict[str, dict[str, dict[str, Any]]]  # a catalog as it is written: family, id, entry


@cache
def inputs() -> Inputs:
    return read_job(DEMO / "job.toml")


def bench_of(kit: str, read: Inputs | None = None) -> Bench:
    read = read or inputs()
    return Bench(read.catalog, read.profile, read.job, *find_kit(kit, read.catalog, read.job))


# --- a remedy written into the catalog


@cache
def demo_text() -> bytes:
    raw: Raw = {}
    for path in sorted((DEMO / "catalog").glob("*.toml")):
        for family, entries in tomli.loads(path.read_text(encoding="utf-8")).items():
            raw.setdefault(family, {}).update(entries)
    return tomli_w.dumps(raw).encode()


def written(folder: Path, change: Callable[[Raw], None]) -> Inputs:
    """The demo with its catalog in one file, changed, and read like any other."""
    raw = tomli.loads(demo_text().decode())
    change(raw)
    (folder / "catalog").mkdir(parents=True, exist_ok=True)
    (folder / "catalog" / "all.toml").write_bytes(tomli_w.dumps(raw).encode())
    for name in ("job.toml", "profile.toml"):
        shutil.copy(DEMO / name, folder / name)
    return read_job(folder / "job.toml")


def judged(kit: str, read: Inputs) -> int:
    train, ids = find_kit(kit, read.catalog, read.job)
    table = one_kit(only_these(read.catalog, ids), read.profile, read.job, train)
    return int(table.verdict[0]) if isinstance(table, KitTable) else REJECT


def text(number: Number, value: Decimal) -> Any:
    return f"{value:f} {number.unit}" if number.unit else float(value)


# Where a number stands in a catalog, if it is one field of one entry.
FIELDS = {
    "free play": "pedal.free_play", "pedal stop": "pedal.travel", "pedal ratio": "pedal.ratio", "pedal travel": "pedal.travel",
    "master bore": "master.bore", "master stroke": "master.stroke", "reservoir room": "master.reservoir_room",
    "slave bore": "slave.bore", "slave stroke": "slave.stroke", "slave preload": "slave.preload",
    "longest rod": "slave.rod_max", "shortest rod": "slave.rod_min", "fork ratio": "fork.ratio",
    "bearing height": "bearing.height", "concentric outer diameter": "concentric.outer_diameter",
    "concentric stroke": "concentric.stroke", "concentric height": "concentric.height",
    "concentric preload": "concentric.preload", "disc friction": "disc.friction",
}  # fmt: skip


def write(raw: Raw, ids: Mapping[str, str], number: Number, value: Decimal) -> None:
    """What a person would write into the catalog to have that number."""
    said = text(number, value)
    if number.name in FIELDS:
        family, _, field = FIELDS[number.name].partition(".")
        raw[family][ids[family]][field] = said
    elif number.name == "rod":
        raw["slave"][ids["slave"]] |= {"rod_min": said, "rod_max": said}
    elif number.name == "shim":
        raw["concentric"][ids["concentric"]]["shims"].append(said)
    elif number.name == "hose expansion":
        for piece in raw["line"][ids["line"]]["pieces"]:
            piece |= {"expansion": said} if piece["kind"] == "hose" else {}
    elif number.name == "line bore":
        for piece in raw["line"][ids["line"]]["pieces"]:
            if "inner_diameter" in piece and parse(piece["inner_diameter"], "length").value < parse(said, "length").value:
                piece["inner_diameter"] = said
    else:
        assert number.name == "clamp load"
        scale_cover(raw["pressure_plate"][ids["pressure_plate"]], parse(said, "force").value)


def scale_cover(cover: dict[str, Any], clamp: float) -> None:
    share = clamp / parse(cover["clamp_load"], "force").value
    for key in ("clamp_load", "worn_clamp_load"):
        if key in cover:
            cover[key] = f"{parse(cover[key], 'force').value * share!r} N"
    for key in ("release_load", "worn_release_load"):
        if key in cover:
            cover[key]["load"] = [load * share for load in cover[key]["load"]]


def outside(change: Change) -> Iterator[Decimal]:
    """A step beyond each end that the search did not set."""
    low, high, step = change.ends.low, change.ends.high, change.ends.step
    if low is not None and change.below:
        yield low - step
    if high is not None and change.above:
        yield high + step


def held(change: Change) -> list[Decimal]:
    return [value for value in (change.ends.low, change.ends.high, change.best) if value is not None]


# --- the oracle


def by_oracle(bench: Bench, parts: Mapping[str, Part]) -> int:
    """The verdict on the kit with those parts, kit by kit in plain floats."""
    judgement = oracle_on(bench, parts)
    return VERDICT_WORDS.index(judgement.verdict) if judgement else REJECT


def oracle_on(bench: Bench, parts: Mapping[str, Part]) -> Judgement | None:
    """What the oracle says of the kit with those parts; None where it is not legal."""
    kit = {**bench.parts, **parts}
    if oracle.legal(bench.train, kit, bench.profile.fits):
        return None
    linkage = bench.catalog.part("linkage", bench.application.values.get("linkage", ""))
    margins = oracle.margins_of(bench.profile.rules, bench.train, bench.application.id)
    values = {family: part.values for family, part in kit.items()}
    old = linkage.values if linkage else None
    metrics = oracle.evaluate(bench.train, values, old, bench.profile.assumptions, margins, bench.job.supplied)
    judgement: Judgement = oracle.judge(metrics, bench.profile.rules, bench.train, bench.application.id)
    return judgement


def random_benches(seeds: range) -> Iterator[Bench]:
    """Kits of random catalogs that do not pass."""
    for seed in seeds:
        case = random_case(Random(f"remedies {seed}"))
        for (_, train), kits in case.legal.items():
            for kit in kits[:1]:
                bench = Bench(case.catalog, case.profile, case.job, train, {family: part.id for family, part in kit.items()})
                if bench.itself.verdict[0]:
                    yield bench


# --- judged from scratch


def alone(kit: Mapping[str, str], train: str, read: Inputs | None = None) -> KitTable | None:
    """The kit of those part ids judged in a catalog of its own; None where it is not legal."""
    read = read or inputs()
    table = one_kit(only_these(read.catalog, kit), read.profile, read.job, train)
    return table if isinstance(table, KitTable) else None


def few(kit: str, most: int) -> Inputs:
    """The demo with a small catalog: the kit's own parts and of each family the first others."""
    read = inputs()
    own = set(kit.split("+"))
    families = {
        family: tuple(part for place, part in enumerate(sorted(some, key=lambda part: part.id not in own)) if place < most)
        for family, some in read.catalog.families.items()
        if family not in ("application", "linkage")
    }
    return replace(read, catalog=replace(read.catalog, families={**read.catalog.families, **families}))

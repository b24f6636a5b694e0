"""How fast, how large: what gates take beside their targets; kits per second and peak memory for catalogs of growing size.

A command for people, not a test: `python3 ci/start.py bench`, or with sizes of your own: `python3 ci/start.py bench 1e5 3e6`.
The catalogs are the shipped demo, thinned or filled up with seeded variants of its parts until there are about as many
legal kits as asked for; for the gates its files are filled up in the same way. Each size and way of asking runs in a process
of its own, so that memory is told apart.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np

import fitcheck
from fitcheck.catalog.parts import Catalog, Part
from fitcheck.data import folder
from fitcheck.engine.counting import count
from fitcheck.engine.screening import screen
from fitcheck.engine.states import VERDICT_WORDS
from fitcheck.inputs import Inputs, read_job

SIZES = (1e5, 1e6, 1e7)
WAYS = {"all": "every metric", "judged": "metrics of rules and preferences"}
SEED = 20
RUNS = 5  # processes in which one gate is measured
ENTRIES = 10_000  # of the large catalog
ENTRY = re.compile(r"^(?=\[\w+\.[a-z0-9-]+\]$)", re.MULTILINE)
GATE_HEADING = f"{f'whole process, median of {RUNS}':<34}{'wall s':>8} {'':<14} {'CPU s':>8} {'':<14}{'target':>7}"
HEADING = (
    f"{'legal kits':>12} {'parts':>6} {'evaluated':<34}{'seconds':>8} {'kits/s':>12} {'kits/CPU s':>12}"
    f" {'MB before':>9}{'peak MB':>8}  {'/'.join(VERDICT_WORDS)}"
)
VARIED = {  # numbers of a part that a variant changes, each by up to that share
    "pedal": {"ratio": 0.03, "travel": 0.02, "efficiency": 0.02},
    "master": {"bore": 0.02, "stroke": 0.02, "spring_force": 0.1},
    "slave": {"bore": 0.02, "stroke": 0.02, "dead_volume": 0.1},
    "fork": {"ratio": 0.02, "stiffness": 0.05},
    "bearing": {"height": 0.01, "load_rating": 0.05},
    "concentric": {"stroke": 0.02, "height": 0.01, "dead_volume": 0.1},
    "disc": {"cushion_travel": 0.05, "friction": 0.03, "wear_allowance": 0.05},
    "fluid": {"bulk_modulus": 0.03, "wet_boil": 0.01},
    "line": {},
    "pressure_plate": {"lift_loss": 0.05},
}


@dataclass(frozen=True)
class Gate:
    """A command that people and pipelines wait for: `target` is the CPU time that it should stay below.

    In the arguments `{demo}` is the shipped demo, and `{large}` the same with ENTRIES entries in its catalog.
    """

    words: str
    target: float
    arguments: tuple[str, ...]


GATES = (
    Gate("judge one bundle of the demo", 1.0, ("judge", "{demo}/bundles/hay-lorry.toml")),
    Gate(f"check {ENTRIES:,} entries", 3.0, ("check", "{large}/catalog")),
)


def variant(part: Part, number: int, chance: random.Random) -> Part:
    """The same part under another id, a little different."""
    shares = VARIED[part.family]
    changed = {key: part.values[key] * (1 + share * chance.uniform(-1, 1)) for key, share in shares.items() if key in part.values}
    return replace(part, id=f"{part.id}-v{number}", values={**part.values, **changed})


def growing(catalog: Catalog) -> Iterator[Catalog]:
    """Ever larger catalogs: a third of the demo's parts, then one part more in each family in turn."""
    chance = random.Random(SEED)
    supply: dict[str, list[Part]] = {}
    for family in VARIED:
        parts = list(catalog.families[family])
        supply[family] = chance.sample(parts, len(parts))
    size = {family: -(-len(parts) // 3) for family, parts in supply.items()}
    for step in range(10_000):
        chosen = {family: tuple(sorted(supply[family][: size[family]], key=lambda part: part.id)) for family in VARIED}
        yield replace(catalog, families={**catalog.families, **chosen})
        family = list(VARIED)[step % len(VARIED)]
        if size[family] == len(supply[family]):
            supply[family].append(variant(supply[family][size[family] % len(catalog.families[family])], size[family], chance))
        size[family] += 1


def without_diaphragms(catalog: Catalog) -> Catalog:
    """Only covers whose load is a curve by points: the cheaper kind."""
    covers = tuple(part for part in catalog.families["pressure_plate"] if "diaphragm" not in part.values)
    return replace(catalog, families={**catalog.families, "pressure_plate": covers})


def scaled(inputs: Inputs, target: float, curves_only: bool = False) -> Inputs:
    """The demo's inputs with the first catalog that has at least as many legal kits as asked for."""
    for catalog in growing(without_diaphragms(inputs.catalog) if curves_only else inputs.catalog):
        if sum(count(catalog, inputs.profile, inputs.job).values()) >= target:
            return replace(inputs, catalog=catalog)
    raise SystemExit(f"no catalog of {target:g} legal kits was found")


def peak_memory() -> float:
    """Most memory that this process ever held, in MB; 0 where the system does not tell."""
    try:
        import resource
    except ImportError:
        return 0.0
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / 1e6 if sys.platform == "darwin" else most / 1e3


def measure(target: float, way: str, curves_only: bool) -> dict[str, float]:
    """Screen once and tell what it took."""
    inputs = scaled(read_job(Path(str(folder("catalogs"))) / "demo" / "job.toml"), target, curves_only)
    parts = sum(len(inputs.catalog.families[family]) for family in VARIED)
    before = peak_memory()
    start, cpu = time.perf_counter(), time.process_time()
    result = screen(inputs.catalog, inputs.profile, inputs.job, all_metrics=way == "all")
    wall, cpu = time.perf_counter() - start, time.process_time() - cpu
    verdicts = [sum(column) for column in zip(*result.verdicts.values(), strict=True)]
    return {
        "kits": sum(result.legal.values()),
        "parts": parts,
        "wall": wall,
        "cpu": cpu,
        "before": before,
        "peak": peak_memory(),
        **dict(zip(VERDICT_WORDS, verdicts, strict=True)),
    }


def apart(target: float, way: str, curves_only: bool) -> Mapping[str, Any]:
    """Measure in a process of its own, kept to one core where the system can do that."""
    command = [sys.executable, str(Path(__file__).resolve()), "--one", way, str(target), *["--curves-only"][: int(curves_only)]]
    done = subprocess.run(command, stdout=subprocess.PIPE, check=True, text=True)
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def keep_to_one_core() -> None:
    """Stay on one core where the system can be asked for that."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})


def main() -> None:
    """Print the machine and one line for each size and way."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("sizes", nargs="*", type=float, default=SIZES, help="legal kits, about (default: 1e5 1e6 1e7)")
    options.add_argument("--curves-only", action="store_true", help="leave out diaphragm covers, which cost more to evaluate")
    options.add_argument("--one", choices=WAYS, help=argparse.SUPPRESS)
    asked = options.parse_args()
    if asked.one:
        keep_to_one_core()
        print(json.dumps(measure(asked.sizes[0], asked.one, asked.curves_only)))
        return
    print(f"fitcheck {fitcheck.__version__}, Python {platform.python_version()}, numpy {np.__version__}, {platform.machine()}")
    print(f"{os.cpu_count()} cores, one used{load()}")
    print(GATE_HEADING)
    for told in gates():
        print(told, flush=True)
    print(HEADING)
    for size in asked.sizes:
        for way, words in WAYS.items():
            print(line(words, apart(size, way, asked.curves_only)), flush=True)


def write_catalog(demo: Path, folder: Path, entries: int) -> None:
    """Write the demo's catalog files, filled up with seeded variants of its parts to so many entries."""
    chance = random.Random(SEED)
    files = {path.name: ENTRY.split(path.read_text("utf-8")) for path in sorted(demo.glob("*.toml"))}
    supply = [(name, entry) for name, (_, *parts) in files.items() for entry in parts if entry[1:].partition(".")[0] in VARIED]
    for number in range(entries - sum(len(parts) - 1 for parts in files.values())):
        name, entry = supply[number % len(supply)]
        files[name].append(written_variant(entry, number // len(supply), chance))
    for name, parts in files.items():
        (folder / name).write_text("".join(parts), "utf-8")


def written_variant(entry: str, number: int, chance: random.Random) -> str:
    """The text of an entry under another id, a little different."""
    family, _, identifier = entry[1 : entry.index("]")].partition(".")
    text = re.sub(rf"^(\[+{family}\.{identifier})(?=[.\]])", rf"\1-v{number}", entry, flags=re.MULTILINE)
    for key, share in VARIED[family].items():
        factor = 1 + share * chance.uniform(-1, 1)
        figure = re.compile(rf'^({key} = "?)([0-9.]+)(?=[" \n])', re.MULTILINE)
        text = figure.sub(lambda found, factor=factor: f"{found[1]}{float(found[2]) * factor:.4f}", text)  # type: ignore[misc]
    return f"{text.rstrip()}\n\n"


def gates() -> Iterator[str]:
    """A line for each gate: how long whole processes take beside the target."""
    demo = Path(str(folder("catalogs"))) / "demo"
    with tempfile.TemporaryDirectory() as name:
        large = Path(name) / "large"
        shutil.copytree(demo, large)
        write_catalog(demo / "catalog", large / "catalog", ENTRIES)
        for gate in GATES:
            command = [sys.executable, "-m", "fitcheck", *(word.format(demo=demo, large=large) for word in gate.arguments)]
            yield timed(gate, command)


def timed(gate: Gate, command: Sequence[str]) -> str:
    """Median and spread of several processes after one that warms up."""
    walls, cpus = zip(*[once(command) for _ in range(RUNS + 1)][1:], strict=True)
    kept = "kept" if median(cpus) < gate.target else "MISSED"
    return f"{gate.words:<34}{spread(walls)} {spread(cpus)}{gate.target:8g}  {kept}"


def spread(seconds: Sequence[float]) -> str:
    """Median, least and most."""
    return f"{median(seconds):8.2f} ({min(seconds):.2f} to {max(seconds):.2f})"


def once(command: Sequence[str]) -> tuple[float, float]:
    """Wall and CPU seconds of one process; what it writes is thrown away, and it must end well."""
    compiled = {**os.environ, "PYTHONDONTWRITEBYTECODE": ""}  # as for whoever installed it: compiled once, by the first run
    start, before = time.perf_counter(), os.times()
    subprocess.run(command, stdout=subprocess.DEVNULL, check=True, env=compiled)
    after = os.times()
    cpu = after.children_user + after.children_system - before.children_user - before.children_system
    return time.perf_counter() - start, cpu


def load() -> str:
    """How busy the machine is, where the system tells."""
    return f"; load before {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""


def line(words: str, found: Mapping[str, Any]) -> str:
    """One measurement under HEADING."""
    kits, verdicts = found["kits"], "/".join(str(found[word]) for word in VERDICT_WORDS)
    speeds = f"{found['wall']:8.2f} {kits / found['wall']:12,.0f} {kits / found['cpu']:12,.0f}"
    return f"{kits:12,} {found['parts']:6} {words:<34}{speeds} {found['before']:8.0f} {found['peak']:8.0f}  {verdicts}"


if __name__ == "__main__":
    main()

"""Writing a file otherwise is no change: other blanks, remarks, orders, quotes and shapes of the same TOML values."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from random import Random
from typing import Any

import pytest
import tomli
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.bundles.judging import judge_files
from fitcheck.bundles.standing import value_digest
from fitcheck.catalog.load import load_catalog
from fitcheck.gates.check import check_paths
from fitcheck.inputs import DIMENSIONS
from tests.chosen_kits import DAY, HAY, RING, name_of

HERE = Path(__file__).resolve().parent

# Faults of many kinds in one file, and in one more a part that is like another, one that fits nothing and one of a wrong size.
FAULTY = {
    "faulty": """
[master.valley-19]
name = "Valley"
bore = "19,05 mm"
stroke = "36"
efficiency = 1.5
seal = "EPDN"
strok = "3 mm"
[fork.bent]
name = "Bent\\tfork"
ratio = 0
arm = "60 mm"
superseded_by = "lost"
[[line.long.pieces]]
kind = "tube"
length = "-1 m"
[[line.long.pieces]]
kind = "pipe"
[pressure_plate.light]
release_load = { travel = [0, 2, 1], travel_unit = "mm", load = [0, 900, 1300], load_unit = "kilo" }
[master.valley-20]
name = "Caf\\u00e9 \\"x\\""
bore = "20,05 mm"
"""
}


class Writer:
    """Writes the same values each time otherwise; what is written is read back as the same."""

    def __init__(self, seed: int) -> None:
        self.rng = Random(seed)

    def file(self, values: Mapping[str, Any]) -> str:
        """A catalog: tables `[family.id]`, dotted keys or inline tables, in any order."""
        entries = [(family, name) for family, tables in values.items() for name in tables]
        self.rng.shuffle(entries)
        inline = [entry for entry in entries if self.rng.random() < 0.2]
        heads = [f"{self.key(family)}.{self.key(name)} = {self.inline(values[family][name])}" for family, name in inline]
        tables = [self.table(f"{self.key(family)}.{self.key(name)}", values[family][name])
                  for family, name in entries if (family, name) not in inline]  # fmt: skip
        return "".join(self.line(line) for line in [*heads, *(line for table in tables for line in table)])

    def table(self, path: str, values: Mapping[str, Any]) -> Iterator[str]:
        """A table by its header; what lies below it inline, by dotted keys or by headers of its own."""
        yield f"[{self.gap()}{path}{self.gap()}]"
        below = []
        for key, value in self.mixed(values):
            if isinstance(value, dict) and self.rng.random() < 0.4:
                yield from (f"{self.key(key)}.{self.key(inner)} = {self.inline(deep)}" for inner, deep in self.mixed(value))
            elif isinstance(value, dict) and self.rng.random() < 0.4:
                below.append((f"{path}.{self.key(key)}", [value], "[]"))
            elif isinstance(value, list) and value and isinstance(value[0], dict) and self.rng.random() < 0.5:
                below.append((f"{path}.{self.key(key)}", value, "[[]]"))
            else:
                yield f"{self.key(key)}{self.gap()}={self.gap()}{self.inline(value)}"
        for inner, rows, brackets in below:
            for row in rows:
                yield brackets[: len(brackets) // 2] + inner + brackets[len(brackets) // 2 :]
                yield from (f"{self.key(key)} = {self.inline(value)}" for key, value in self.mixed(row))

    def inline(self, value: Any) -> str:
        if isinstance(value, dict):
            return (
                "{" + ", ".join(f"{self.key(key)}{self.gap()}= {self.inline(below)}" for key, below in self.mixed(value)) + " }"
            )
        if isinstance(value, list):
            gap = self.rng.choice(["", " ", "\n  ", "  # a remark\n"])
            return (
                "["
                + ",".join(gap + self.inline(below) for below in value)
                + self.rng.choice(["", gap if value else "", " "])
                + "]"
            )
        return json.dumps(value) if not isinstance(value, str) else self.text(value)

    def text(self, value: str) -> str:
        if "'" not in value and value.isprintable() and self.rng.random() < 0.4:
            return f"'{value}'"
        return json.dumps(value, ensure_ascii=self.rng.random() < 0.5)

    def key(self, key: str) -> str:
        return (
            json.dumps(key, ensure_ascii=False) if self.rng.random() < 0.15 or not key.replace("-", "_").isidentifier() else key
        )

    def mixed(self, values: Mapping[str, Any]) -> list[tuple[str, Any]]:
        pairs = list(values.items())
        self.rng.shuffle(pairs)
        return pairs

    def gap(self) -> str:
        return self.rng.choice(["", " ", "\t", "   "])

    def line(self, line: str) -> str:
        before = self.rng.choice(["", "", "\n", "# a remark = 3\n", "  "])
        return f"{before}{line}{self.rng.choice(['', '', ' ', '  # seen'])}\n"


def rewritten(values: Mapping[str, Any], seed: int) -> str:
    text = Writer(seed).file(values)
    assert tomli.loads(text) == values
    return text.replace("\n", "\r\n") if seed % 3 == 0 else text


CATALOGS = {
    **{name: tomli.loads(text) for name, text in FAULTY.items()},
    **{path.stem: tomli.loads(path.read_bytes().decode("utf-8-sig"))
       for path in [HERE / "accepted" / "every-family.toml", *sorted((HERE / "doubted").glob("[!b]*.toml"))]},
}  # fmt: skip
CATALOGS = {name: values for name, values in CATALOGS.items() if "rules" not in values}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("catalogs")


def checked(folder: Path, text: str) -> set[str]:
    (folder / "catalog.toml").write_bytes(text.encode("utf-8"))
    gate = check_paths([folder / "catalog.toml"], DIMENSIONS)
    assert gate.findings
    return set(gate.fingerprints.values()) | {result.fingerprint for result in gate.results}


def digests(folder: Path) -> dict[tuple[str, str], tuple[str, str]]:
    parts = (part for parts in load_catalog([folder / "catalog.toml"]).families.values() for part in parts)
    return {(part.family, part.id): (part.digest, value_digest(part)) for part in parts}


@given(st.sampled_from(sorted(CATALOGS)), st.integers(0, 10**6))
def test_reformatting_changes_no_fingerprint_and_no_digest(folder: Path, name: str, seed: int) -> None:
    values = CATALOGS[name]
    marks, known = checked(folder, rewritten(values, 1)), digests(folder)
    assert checked(folder, rewritten(values, seed)) == marks
    assert digests(folder) == known


@given(st.integers(0, 10**6))
def test_a_catalog_written_otherwise_leaves_every_bundle_as_it_was(room: Path, seed: int) -> None:
    """The bundles of the folder that all tests share, judged by a copy of its catalog beside it."""
    other = room.parent / "written-otherwise"
    (other / "bundles").mkdir(parents=True, exist_ok=True)
    (other / "profile.toml").write_bytes((room / "profile.toml").read_bytes())
    (other / "parts.toml").write_bytes(rewritten(tomli.loads((room / "parts.toml").read_text("utf-8")), seed).encode("utf-8"))
    for kit in (HAY, RING):
        name = f"{name_of(kit)}.toml"
        (other / "bundles" / name).write_bytes((room / "bundles" / name).read_bytes())
    found = judge_files([other / "bundles"], DAY)
    assert found.complete
    assert found.findings == ()
    assert not any(each.standing.changes or each.standing.moves for each in found.bundles if each.standing)


def test_another_value_is_no_reformatting(folder: Path) -> None:
    """The check of the checks: one value in another text is another digest, of the same value in SI."""
    text = (HERE / "accepted" / "every-family.toml").read_text("utf-8")
    marks, known = checked(folder, text), digests(folder)
    assert 'ear_plane = "20 mm"' in text
    assert checked(folder, text.replace('ear_plane = "20 mm"', 'ear_plane = "2 cm"')) == marks
    changed = {key for key, each in digests(folder).items() if each != known[key]}
    assert changed == {("fork", "forged")}
    assert digests(folder)["fork", "forged"][1] == known["fork", "forged"][1]

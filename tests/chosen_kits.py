"""Four kits of the demo, frozen in a folder of their own: what tests about chosen kits start from, and how they judge them."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import tomli
import tomli_w

from fitcheck.bundles.freezing import freeze
from fitcheck.bundles.judging import Judged, judge_files
from fitcheck.bundles.standing import Standing
from fitcheck.inputs import Inputs, read_job

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "catalogs" / "demo"
DAY = date(2029, 6, 30)
HAY = "hay-lorry+helper-60+ovrel-19+metric-braid+straw+crest-22+lorry-15+roller-42+crane+lorry-240"
RING = "hay-lorry+lever-62+vell-21+metric-copper+straw+ring-42-a+crane+lorry-240"
WINCH = "winch-truck+lever-62+steep-19+metric-copper+violet+base-22+heavy-17+roller-48+eagle+heavy-280-woven"
PLOUGH = "snow-plough+worn-lever+steep-22+metric-copper+straw+base-25+heavy-19+roller-48+harrier+heavy-265"


def made(folder: Path, inputs: Inputs, *kits: str) -> Path:
    """A folder with those kits frozen, their parts in one file."""
    raw: dict[str, dict[str, Any]] = {}
    for path in sorted((DEMO / "catalog").glob("*.toml")):
        for family, tables in tomli.loads(path.read_text(encoding="utf-8")).items():
            raw.setdefault(family, {}).update(tables)
    named = {identifier for kit in kits for identifier in kit.split("+")}
    few = {family: {key: table for key, table in tables.items() if key in named} for family, tables in raw.items()}
    few["linkage"] = raw["linkage"]
    write(folder, few)
    profile = (DEMO / "profile.toml").read_text(encoding="utf-8")
    (folder / "profile.toml").write_text(profile.partition("[rules.bus-work]")[0], encoding="utf-8")  # rules for all of them
    job = {"catalogs": ["parts.toml"], "profile": "profile.toml", "need_pass": False}
    (folder / "job.toml").write_text(tomli_w.dumps(job), encoding="utf-8")
    ready = read_job(folder / "job.toml")
    (folder / "bundles").mkdir()
    for kit in kits:
        frozen(ready, kit, folder / "bundles" / f"{name_of(kit)}.toml")
    return folder


def name_of(kit: str) -> str:
    return f"{kit.partition('+')[0]}-{len(kit.split('+'))}"


def frozen(ready: Inputs, kit: str, target: Path) -> Path:
    target.write_text(freeze(ready, kit, target).text, encoding="utf-8")
    return target


def raw_of(folder: Path) -> dict[str, dict[str, Any]]:
    return tomli.loads((folder / "parts.toml").read_text(encoding="utf-8"))


def write(folder: Path, raw: dict[str, dict[str, Any]]) -> None:
    (folder / "parts.toml").write_text(tomli_w.dumps(raw), encoding="utf-8")


def judged(folder: Path, kit: str = HAY, on: date = DAY) -> Judged:
    (found,) = judge_files([folder / "bundles" / f"{name_of(kit)}.toml"], on).bundles
    return found


def stands(folder: Path, kit: str = HAY, on: date = DAY) -> Standing:
    found = judged(folder, kit, on)
    assert found.standing is not None, found.findings
    return found.standing


def problems(found: Judged) -> list[str]:
    return sorted(finding.problem for finding in found.findings)


def waive(folder: Path, kit: str, *rules: str, until: str = "2029-12-31") -> None:
    """Waivers as a person adds them at the end of a bundle."""
    path = folder / "bundles" / f"{name_of(kit)}.toml"
    added = [f'[[waivers]]\nrule = "{rule}"\nreason = "Until spring"\nowner = "A. Keeper"\nuntil = {until}\n' for rule in rules]
    path.write_text(path.read_text(encoding="utf-8") + "".join(added), encoding="utf-8")

"""Freezing a chosen kit: what it is made of, what its entries say today, and the figures that they give, as a bundle file."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import takewhile
from pathlib import Path
from typing import Any

import tomli_w

from fitcheck.bundle_file import SHIMS, Waiver, bundle_of
from fitcheck.bundles.judged_by import judged_by, text_of
from fitcheck.bundles.parts import parts_of
from fitcheck.bundles.standing import shims_text, value_digest
from fitcheck.catalog.files import kind_of, read_file
from fitcheck.engine.result import Emptied, KitTable
from fitcheck.engine.single import one_kit
from fitcheck.engine.states import VALUE, VERDICT_WORDS
from fitcheck.engine.table import METRICS
from fitcheck.errors import InputError, OutputError
from fitcheck.inputs import DIMENSIONS, Inputs
from fitcheck.kit_names import find_kit, only_these
from fitcheck.profile_file import DEFAULT
from fitcheck.version import VERSION

HEAD = """\
# A chosen kit, frozen: `fitcheck judge` says whether it still stands, `fitcheck bundle` freezes it anew.
# A screening aid computed from catalog figures; not an approval.
"""

# What the fitter sets or must know to set it, in the order in which a sheet says it.
SETUP = ("setup_target", "setup_low", "setup_high", "setup_window", "rod_length", "shim_stack", "adjustments", "pedal_stop")


@dataclass(frozen=True)
class Freezing:
    """A kit as it would be frozen: the text of its file, empty where the kit is not legal."""

    kit: str
    text: str
    table: KitTable | None  # one row; None where the kit is not legal
    unmet: Emptied | None
    waivers: tuple[Waiver, ...]  # of an earlier bundle of the same kit in that file: they are kept
    rejected: bool  # not legal, or rejected by more than what those waivers let pass, whatever the day


def freeze(inputs: Inputs, name: str, target: Path) -> Freezing:
    """Judge a kit of a job, waivers aside, and write down all that a later judgement needs.

    Raises
    ------
    UsageError
        There is no such kit; the message names the nearest.
    OutputError
        Another file stands at the target, which is left alone.
    """
    train, parts = find_kit(name, inputs.catalog, inputs.job)
    head, waivers = _kept(target, name)
    catalog = only_these(inputs.catalog, parts)
    result = one_kit(catalog, inputs.profile, inputs.job, train)
    if isinstance(result, Emptied):
        return Freezing(name, "", None, result, waivers, True)
    entries = parts_of(catalog)
    values: dict[str, Any] = {
        "catalogs": [_from(target, path) for path in inputs.job.catalogs],
        "profile": DEFAULT if inputs.job.profile == DEFAULT else _from(target, inputs.job.path.parent / inputs.job.profile),
        "train": train,
        **({"supplied": list(inputs.job.supplied)} if inputs.job.supplied else {}),
        "parts": parts,
        "frozen": _frozen(result),
        "judged_by": asdict(judged_by(inputs.profile, parts["application"], train)),
        "setup": _setup(result),
        "digests": {family: part.digest for family, part in entries.items()},
        "value_digests": {family: value_digest(part) for family, part in entries.items()},
        "figures": {name: text for name, text in _figures(result).items() if name not in SETUP},
        **({"waivers": list(map(_waiver, waivers))} if waivers else {}),
    }
    text = f"{head}\n{tomli_w.dumps(values)}"
    return Freezing(name, text, result, None, waivers, _rejected(inputs, result, waivers))


def _rejected(inputs: Inputs, table: KitTable, waivers: Sequence[Waiver]) -> bool:
    """Whether a kit breaks more rejecting rules than its waivers let pass, whatever the day."""
    let_pass = {waiver.rule for waiver in waivers} & {rule.name for rule in inputs.profile.rules if rule.waivable}
    rejecting = (reason for reason in table.reasons[0] if reason.severity == "reject")
    return any(reason.kind != "broken" or reason.rule not in let_pass for reason in rejecting)


def _from(target: Path, path: Path) -> str:
    """A path as the bundle names it: relative to its own folder, where there is a way."""
    try:
        return Path(os.path.relpath(path.parent.resolve() / path.name, target.parent.resolve())).as_posix()
    except ValueError:  # on another drive
        return path.resolve().as_posix()


def _kept(target: Path, kit: str) -> tuple[str, tuple[Waiver, ...]]:
    """First remarks and waivers of an earlier bundle of the same kit; any other file there is not ours to overwrite."""
    if not target.exists():
        return HEAD, ()
    source = read_file(target)
    try:
        earlier = bundle_of(source, DIMENSIONS) if kind_of(source.values) == "bundle" else None
    except InputError:
        earlier = None
    if earlier is None or earlier.kit != kit:
        what = "a file that is no sound bundle" if earlier is None else f"the bundle of another kit ({earlier.kit})"
        raise OutputError(f"cannot write to {target}: {what} stands there; name another file, or take it away")
    return "".join(takewhile(lambda line: line.startswith("#"), source.text.splitlines(True))), earlier.waivers


def _frozen(table: KitTable) -> dict[str, str]:
    return {
        "verdict": VERDICT_WORDS[int(table.verdict[0])],
        "headroom": f"{float(table.headroom[0]) + 0.0:.9g}",
        "limiting_rule": table.limiting_rule[0],
        "version": VERSION,
    }


def _setup(table: KitTable) -> Mapping[str, str]:
    figures = _figures(table)
    known = {name: figures[name] for name in SETUP if name in figures}
    return known | ({SHIMS: shims_text(table)} if table.train[0] == "concentric" else {})


def _figures(table: KitTable) -> dict[str, str]:
    """Every figure that has a value, with its unit."""
    return {
        name: text_of(float(table.metrics[name][0]), metric.unit, 9)
        for name, metric in METRICS.items()
        if int(table.states[name][0]) == VALUE
    }


def _waiver(waiver: Waiver) -> dict[str, Any]:
    return {"rule": waiver.rule, "reason": waiver.reason, "owner": waiver.owner, "until": waiver.until}

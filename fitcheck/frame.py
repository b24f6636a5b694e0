"""A result as a table: one column a part, verdict and metric, in the units shown; and as a pandas DataFrame."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fitcheck.catalog.parts import FAMILIES
from fitcheck.engine.result import KitTable, Reason, Result
from fitcheck.engine.states import VALUE, VERDICT_WORDS
from fitcheck.engine.table import METRICS
from fitcheck.quantities import to_unit

if TYPE_CHECKING:
    import pandas

KIT_FAMILIES = tuple(family for family in FAMILIES if family != "linkage")
Column = Sequence[str] | Sequence[float] | Sequence[int] | Sequence[bool]


def columns(kits: KitTable) -> dict[str, Column]:
    """Every column that leaves the program, by name and in order; a number that does not exist is not-a-number."""
    blank = ("",) * len(kits)
    table: dict[str, Column] = {family: kits.parts.get(family, blank) for family in KIT_FAMILIES}
    table |= {"kit": kits.kit, "train": kits.train}
    table |= {"verdict": [VERDICT_WORDS[code] for code in kits.verdict.tolist()]}
    table |= {"limiting_rule": kits.limiting_rule, "headroom": kits.headroom.tolist()}
    table |= {"reasons": [reasons_text(reasons) for reasons in kits.reasons]}
    table |= _metric_columns(kits)
    table |= {"shims": kits.shims, "unbeaten": kits.unbeaten.tolist(), "rank": kits.rank.tolist()}
    table |= {"missing": kits.missing, "remarks": ["; ".join(remarks) for remarks in kits.remarks]}
    return table


def _metric_columns(kits: KitTable) -> Mapping[str, list[float]]:
    """The metrics in the units shown. A value with no state of its own to stand on becomes not-a-number."""
    out = {}
    for name, metric in METRICS.items():
        value = np.asarray(to_unit(kits.metrics[name], metric.unit), dtype=float)
        out[metric.column] = np.where(kits.states[name] == VALUE, value, np.nan).tolist()
    return out


def reasons_text(reasons: Sequence[Reason]) -> str:
    """All reasons of a kit in one cell: `rule: reason; rule: reason`."""
    return "; ".join(f"{reason.rule}: {reason.reason.rstrip('.')}" for reason in reasons)


def nearest_first(kits: KitTable) -> KitTable:
    """The kits by how little stands in their way: fewest reasons that reject, then headroom, then rank."""
    rejecting = np.array([sum(one.severity == "reject" for one in reasons) for reasons in kits.reasons], dtype=int)
    return kits.take(np.lexsort((kits.rank, -kits.headroom, rejecting)).astype(np.int64))


@dataclass(frozen=True)
class Screening(Result):
    """A result that can hand itself to a notebook."""

    def to_frame(self) -> pandas.DataFrame:
        """The listed kits as a DataFrame with the names, units and order of `kits.csv`; blanks are not-a-number."""
        return to_frame(self)


def to_frame(result: Result) -> pandas.DataFrame:
    """The listed kits of a result as a DataFrame; pandas is imported only here, since nothing else needs it."""
    import pandas

    return pandas.DataFrame(columns(result.kits))

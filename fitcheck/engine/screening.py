"""Every legal kit of a job, judged and ranked: tile by tile, in memory that does not grow with the number of kits."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import Catalog
from fitcheck.engine.columns import Context
from fitcheck.engine.emptied import why_empty
from fitcheck.engine.evaluate import Tile, Values, evaluate
from fitcheck.engine.legality import Legality, unknown_names
from fitcheck.engine.listing import joined, table_of
from fitcheck.engine.ranking import Best, Crowd, Names, Rows, shares
from fitcheck.engine.result import Group, KitTable, Result
from fitcheck.engine.states import REJECT
from fitcheck.engine.table import METRICS
from fitcheck.engine.tiling import tiles
from fitcheck.engine.trains import REASONS
from fitcheck.engine.verdict import Judgement, applicable, judge
from fitcheck.job import Job
from fitcheck.profile import Profile
from fitcheck.version import VERSION

MAY_FAIL = METRICS.keys() & REASONS.keys()  # metrics that reject a kit, rule or no rule, where they cannot be computed
Progress = Callable[[int, int], None]
CELLS = 131_072  # kits in a tile: few enough for the caches, many enough that the price of a call does not show


@dataclass
class Tally:
    """What is counted over the tiles of a group, in whole numbers."""

    verdicts: tuple[int, int, int] = (0, 0, 0)
    broken_by: dict[str, int] = field(default_factory=dict)
    only_by: dict[str, int] = field(default_factory=dict)

    def add(self, judgement: Judgement) -> None:
        """Count a tile."""
        passed, cautioned, rejected = (a + b for a, b in zip(self.verdicts, judgement.verdicts, strict=True))
        self.verdicts = (passed, cautioned, rejected)
        for mine, other in ((self.broken_by, judgement.broken_by), (self.only_by, judgement.only_by)):
            for name, count in other.items():
                mine[name] = mine.get(name, 0) + count

    def sorted(self) -> Tally:
        """Rules by name, so that the order of tiles does not show."""
        return Tally(self.verdicts, dict(sorted(self.broken_by.items())), dict(sorted(self.only_by.items())))


@dataclass
class Run:
    """One screening on its way."""

    context: Context
    legality: Legality
    names: Names
    progress: Progress | None
    cells: int
    all_metrics: bool
    total: int
    done: int = 0
    tallies: dict[Group, Tally] = field(default_factory=dict)
    kits: list[KitTable] = field(default_factory=list)
    best: dict[Group, KitTable] = field(default_factory=dict)
    nearest: dict[Group, KitTable] = field(default_factory=dict)

    def application(self, row: int, share: int) -> None:
        """Screen one application; `share` of its kits, the best, are listed."""
        job, name = self.context.job, self.context.parts["application"][row].id
        listed = Best(share, self.names)
        of_train = {train: Best(job.best, self.names) for train in self.legality.trains}
        for train, best in of_train.items():
            self.tallies[name, train] = self._group(row, train, (listed, best)).sorted()
        self._keep(name, listed.rows(), {train: best.rows() for train, best in of_train.items()})

    def _group(self, row: int, train: str, takers: tuple[Best, ...]) -> Tally:
        """Evaluate and judge every legal kit of an application and train, tile by tile."""
        tally, context = Tally(), self.context
        rules = applicable(context.profile, context.parts["application"][row].id, train)
        needed = {rule.metric for rule in rules} | {wish.metric for wish in context.job.prefer} | MAY_FAIL
        wanted = None if self.all_metrics else needed
        for tile in tiles(self.legality.blocks(row, train), self.cells, context.bent_pedals):
            values = evaluate(context, tile, wanted)
            judgement = judge(values, rules, tile.shape)
            tally.add(judgement)
            self._offer(tile, values, judgement, takers)
        return tally

    def _offer(self, tile: Tile, values: Values, judgement: Judgement, takers: tuple[Best, ...]) -> None:
        profile = self.context.profile
        crowd = Crowd(
            tile.train,
            {"application": tile.application, "pressure_plate": tile.cover},
            tile.rows,
            tile.axis,
            tile.shape,
            values,
            judgement,
            self.context.job.prefer,
            profile.headroom_enough,
            profile.headroom_step,
        )
        for best in takers:
            best.offer(crowd)
        self.done += judgement.verdict.size
        if self.progress:
            self.progress(self.done, self.total)

    def _keep(self, name: str, listed: Rows | None, of_train: Mapping[str, Rows | None]) -> None:
        """Turn what was kept of an application into tables; a kit may stand in several."""
        chosen = {word: rows for word, rows in {"": listed, **of_train}.items() if rows is not None}
        if not chosen:
            self.best |= {(name, train): joined([]) for train in self.legality.trains}
            return
        together = Rows.joined(list(chosen.values()))
        _, first, place = np.unique(
            np.column_stack([together.train, together.parts]), axis=0, return_index=True, return_inverse=True
        )
        ends = np.cumsum([len(rows) for rows in chosen.values()])[:-1]
        members = {word: _marked(some, len(first)) for word, some in zip(chosen, np.split(place.ravel(), ends), strict=True)}
        in_list = members.get("", np.zeros(len(first), np.bool_))
        table, order = table_of(self.context, together.take(first), in_list, self.names)
        self.kits.append(table.take(np.flatnonzero(in_list[order])))
        for train in self.legality.trains:
            found = members.get(train, np.zeros(len(first), np.bool_))[order]
            self.best[name, train] = table.take(np.flatnonzero(found & (table.verdict != REJECT)))
            if not self.tallies[name, train].verdicts[0] and found.any():
                self.nearest[name, train] = table.take(np.flatnonzero(found))


def _marked(places: npt.NDArray[np.intp], size: int) -> npt.NDArray[np.bool_]:
    marks = np.zeros(size, dtype=np.bool_)
    marks[places] = True
    return marks


def screen(
    catalog: Catalog,
    profile: Profile,
    job: Job,
    *,
    progress: Progress | None = None,
    cells: int = CELLS,
    all_metrics: bool = False,
) -> Result:
    """Judge and rank every legal kit of a job.

    `progress` is told how many kits are done and how many there are; `cells` bounds a tile and changes nothing else;
    `all_metrics` evaluates in every tile also the metrics that neither a rule nor a preference asks for.
    """
    _keep_memory()
    legality = Legality(catalog, profile, job)
    ids = [part.id for part in catalog.families.get("application", ())]
    legal = {(ids[row], train): legality.count(row, train) for row, train in legality.groups()}
    total = sum(legal.values())
    run = Run(Context(catalog, profile, job), legality, Names(catalog), progress, cells, all_metrics, total)
    rows = list(dict.fromkeys(row for row, _ in legality.groups()))
    each = [sum(legal[ids[row], train] for train in legality.trains) for row in rows]
    for row, share in zip(rows, shares(job.row_limit, each), strict=True):
        run.application(row, share)
    return _result(run, legal)


def _result(run: Run, legal: Mapping[Group, int]) -> Result:
    catalog, profile, job = run.context.catalog, run.context.profile, run.context.job
    slips = unknown_names(catalog, job)
    return Result(
        job,
        profile,
        catalog,
        legal,
        {group: tally.verdicts for group, tally in run.tallies.items()},
        {group: tally.broken_by for group, tally in run.tallies.items()},
        {group: tally.only_by for group, tally in run.tallies.items()},
        {group: why_empty(catalog, profile, job, group) for group, count in legal.items() if not count},
        joined(run.kits),
        run.best,
        run.nearest,
        run.total <= job.row_limit,
        (*job.findings, *profile.findings, *catalog.findings, *slips),
        {**job.digests, **profile.digests, **catalog.digests},
        VERSION,
        catalog.complete and not slips and run.total > 0,
    )


def _keep_memory() -> None:
    """Let the C library keep freed arrays instead of giving each back: with glibc, one large array freed is enough."""
    np.empty(4_000_000)

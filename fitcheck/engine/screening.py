"""Every legal kit of a job, judged and ranked: tile by tile, in memory that does not grow with the number of kits."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import Catalog
from fitcheck.engine.columns import Context
from fitcheck.engine.emptied import why_empty
from fitcheck.engine.evaluate import Tile, Values, evaluate
from fitcheck.engine.legality import Legality
from fitcheck.engine.listing import joined, table_of
from fitcheck.engine.ranking import Best, Crowd, Names, Rows, shares
from fitcheck.engine.result import Emptied, Group, KitTable, Result
from fitcheck.engine.states import REJECT
from fitcheck.engine.tiling import tiles
from fitcheck.engine.trains import may_fail
from fitcheck.engine.unfinished import Known, Tally, Unfinished
from fitcheck.engine.verdict import Judgement, applicable, judge
from fitcheck.errors import Finding
from fitcheck.job import Job
from fitcheck.profile import Profile
from fitcheck.version import VERSION

Progress = Callable[[int, int], None]
CELLS = 131_072  # kits in a tile: few enough for the caches, many enough that the price of a call does not show


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
    unfinished: Unfinished | None
    known: Known
    done: int
    kits: list[KitTable] = field(default_factory=list)
    best: dict[Group, KitTable] = field(default_factory=dict)
    nearest: dict[Group, KitTable] = field(default_factory=dict)

    def application(self, row: int, share: int) -> None:
        """Screen one application; `share` of its kits, the best, are listed."""
        name, trains = self.context.parts["application"][row].id, self.legality.trains
        wanted = {"": share, **dict.fromkeys(trains, self.context.job.best)}
        takers = {word: Best(most, self.names, self.known.kept.get((name, word))) for word, most in wanted.items()}
        for train in trains:
            self._train(row, train, takers)
        kept = self._note(name, takers)
        self._keep(name, kept)

    def _train(self, row: int, train: str, takers: Mapping[str, Best]) -> None:
        """Evaluate and judge every legal kit of an application and train, cover by cover and tile by tile."""
        context, place = self.context, self.legality.trains.index(train)
        name = context.parts["application"][row].id
        tally = self.known.tallies.setdefault((name, train), Tally())
        if self.known.through[:2] > (row, place):
            return
        rules = applicable(context.profile, name, train)
        needed = {rule.metric for rule in rules} | {wish.metric for wish in context.job.prefer} | may_fail()
        wanted = None if self.all_metrics else needed
        for cover, blocks in groupby(self.legality.blocks(row, train), key=lambda block: block.cover):
            if self.known.through >= (row, place, cover):
                continue
            for tile in tiles(blocks, self.cells, context.bent_pedals):
                values = evaluate(context, tile, wanted)
                judgement = judge(values, rules, tile.shape)
                tally.add(judgement)
                self._offer(tile, values, judgement, (takers[""], takers[train]))
            self.known.through = (row, place, cover)
            if self.unfinished and self.unfinished.due():
                self._note(name, takers)
                self.unfinished.save(self.known)

    def _note(self, name: str, takers: Mapping[str, Best]) -> dict[str, Rows]:
        """Note the best of an application so far."""
        kept = {word: rows for word, best in takers.items() if (rows := best.rows()) is not None}
        self.known.kept |= {(name, word): rows for word, rows in kept.items()}
        return kept

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

    def _keep(self, name: str, chosen: Mapping[str, Rows]) -> None:
        """Turn the best of an application into tables; a kit may stand in several."""
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
            if not self.known.tallies[name, train].verdicts[0] and found.any():
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
    unfinished: Unfinished | None = None,
    slips: tuple[Finding, ...] = (),
) -> Result:
    """Judge and rank every legal kit of a job.

    `progress` is told how many kits are done and how many there are; `cells` bounds a tile and changes nothing else;
    `all_metrics` evaluates in every tile also the metrics that neither a rule nor a preference asks for; `unfinished` is
    where a run that is stopped leaves what it knows, and the next one takes it up; `slips` are findings about names that
    lead nowhere: with one of them the result is not complete.
    """
    _keep_memory()
    legality = Legality(catalog, profile, job)
    ids = [part.id for part in catalog.families.get("application", ())]
    legal = {(ids[row], train): legality.count(row, train) for row, train in legality.groups()}
    total = sum(legal.values())
    known = unfinished.known if unfinished else Known()
    context, names = Context(catalog, profile, job), Names(catalog)
    run = Run(context, legality, names, progress, cells, all_metrics, total, unfinished, known, known.done)
    rows = list(dict.fromkeys(row for row, _ in legality.groups()))
    each = [sum(legal[ids[row], train] for train in legality.trains) for row in rows]
    for row, share in zip(rows, shares(job.row_limit, each), strict=True):
        run.application(row, share)
    return _result(run, legal, _why_empty(legality, legal), slips)


def _why_empty(legality: Legality, legal: Mapping[Group, int]) -> dict[Group, Emptied]:
    empty = [where for where, count in zip(legality.groups(), legal.values(), strict=True) if not count]
    ids = [part.id for part in legality.catalog.families.get("application", ())]
    return {(ids[row], train): why_empty(legality, row, train) for row, train in empty}


def _result(run: Run, legal: Mapping[Group, int], emptied: Mapping[Group, Emptied], slips: tuple[Finding, ...]) -> Result:
    catalog, profile, job = run.context.catalog, run.context.profile, run.context.job
    tallies = {group: run.known.tallies[group] for group in legal}
    return Result(
        job,
        profile,
        catalog,
        legal,
        {group: tally.verdicts for group, tally in tallies.items()},
        {group: dict(sorted(tally.broken_by.items())) for group, tally in tallies.items()},
        {group: dict(sorted(tally.only_by.items())) for group, tally in tallies.items()},
        emptied,
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

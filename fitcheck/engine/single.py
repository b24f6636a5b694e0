"""One kit by itself: whether it is legal, and all that is known of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fitcheck.catalog.parts import Catalog
from fitcheck.engine.columns import Context
from fitcheck.engine.emptied import why_empty
from fitcheck.engine.legality import Legality
from fitcheck.engine.listing import table_of
from fitcheck.engine.ranking import LONGEST, TRAIN_WORDS, Names, Rows
from fitcheck.engine.result import Emptied, KitTable
from fitcheck.engine.verdict import NOBODY
from fitcheck.job import Job
from fitcheck.profile import Profile


def one_kit(catalog: Catalog, profile: Profile, job: Job, train: str, waived: frozenset[str] = NOBODY) -> KitTable | Emptied:
    """The only kit that a catalog of one part a family has on a train, as a table of one row, or why it is not legal.

    A broken rule among `waived` makes a caution only. The job says what is supplied; its restrictions do not count.
    """
    (application,) = catalog.families["application"]
    alone = replace(job, applications=(application.id,), trains=(train,), only={}, leave_out={})
    legality = Legality(catalog, profile, alone)
    if not legality.count(0, train):
        return why_empty(legality, 0, train)
    rows = Rows(np.zeros((0, 1)), np.array([TRAIN_WORDS.index(train)], np.int8), np.zeros((1, LONGEST), np.int32))
    table, _ = table_of(Context(catalog, profile, alone), rows, np.ones(1, np.bool_), Names(catalog), waived)
    return table

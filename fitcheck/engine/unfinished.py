"""What a screening knows before it is through, and the file that keeps it, so that one that was stopped can go on."""

from __future__ import annotations

import json
import os
from contextlib import suppress
from dataclasses import astuple, dataclass, field, replace
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from time import monotonic
from typing import Any

import numpy as np

from fitcheck.catalog.parts import Catalog
from fitcheck.engine.ranking import Rows
from fitcheck.engine.result import Group
from fitcheck.engine.verdict import Judgement
from fitcheck.errors import OutputError
from fitcheck.job import Job
from fitcheck.profile import Profile
from fitcheck.version import VERSION

NAME = "unfinished.bin"
FORMAT = 1  # raised whenever what the file holds changes
EVERY = 2.0  # s of work that a stop may cost


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


@dataclass
class Known:
    """What is known of a screening up to and with one cover of one train of one application."""

    through: tuple[int, int, int] = (-1, -1, -1)  # places of that application, train and cover
    tallies: dict[Group, Tally] = field(default_factory=dict)
    kept: dict[Group, Rows] = field(default_factory=dict)  # the best by application and train; train `` is the list

    @property
    def done(self) -> int:
        """How many kits are judged."""
        return sum(sum(tally.verdicts) for tally in self.tallies.values())


class Unfinished:
    """The file of an unfinished result in a folder: read when made, written on the way, removed when the result is whole."""

    def __init__(self, folder: Path, key: str) -> None:
        """Take up what the file knows of the inputs with that key; `said` tells a person about it, if there is a file."""
        self.path, self._key = folder / NAME, key
        self.known, self.said = _taken_up(self.path, key)
        self._saved = monotonic()

    def due(self) -> bool:
        """Whether enough work has been done since the last time."""
        return monotonic() - self._saved >= EVERY

    def save(self, known: Known) -> None:
        """Write the file beside its place and rename it: whenever the program is stopped, a whole file stands there.

        Raises
        ------
        OutputError
            The folder cannot be written, so that the result could not be written either.
        """
        body = _packed(known)
        beside = self.path.with_name(f".{NAME}.{os.getpid()}.part")
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            beside.write_bytes(b"\n".join((self._key.encode(), _digest(self._key, body), body)))
            beside.replace(self.path)
        except OSError as error:
            raise OutputError(f"cannot write to {self.path.parent}: {error.strerror or error}") from error
        finally:
            with suppress(OSError):
                beside.unlink(missing_ok=True)
        self._saved = monotonic()

    def remove(self) -> None:
        """The result is whole; a file that will not go is told apart by its key when it does not belong."""
        with suppress(OSError):
            self.path.unlink(missing_ok=True)


def key_of(catalog: Catalog, profile: Profile, job: Job) -> str:
    """One digest of all that decides about a result: parts, rules, what is asked, the program; not where it stands in files."""
    parts = [(part.family, part.id, part.digest) for family in catalog.families.values() for part in family]
    rules = [replace(rule, place=None) for rule in profile.rules]
    fits = [replace(fit, place=None) for fit in profile.fits]
    judged = (profile.headroom_enough, profile.headroom_step, profile.assumptions, rules, fits)
    asked = (job.applications, job.trains, job.only, job.leave_out, job.supplied, job.prefer, job.best, job.row_limit)
    return sha256(repr((FORMAT, VERSION, np.__version__, parts, judged, asked)).encode()).hexdigest()


def _taken_up(path: Path, key: str) -> tuple[Known, str]:
    """What the file knows, and what to say of it."""
    try:
        content = path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        return Known(), ""
    except OSError as error:
        return Known(), f"{path}: an unfinished result that cannot be read ({error.strerror}); beginning anew"
    found, digest, body = (*content.split(b"\n", 2), b"", b"")[:3]
    if _digest(found.decode(errors="replace"), body) != digest:
        return Known(), f"{path}: an unfinished result that is damaged; beginning anew"
    if found != key.encode():
        return Known(), f"{path}: an unfinished result of other inputs; beginning anew"
    known = _unpacked(body)
    return known, f"{path}: going on with an unfinished result of the same inputs, {known.done} kits already judged"


def _digest(key: str, body: bytes) -> bytes:
    return sha256(key.encode() + body).hexdigest().encode()


def _packed(known: Known) -> bytes:
    """As bytes: plain arrays, and JSON for the rest."""
    tallies = [(*group, *astuple(tally)) for group, tally in known.tallies.items()]
    told = json.dumps({"through": known.through, "tallies": tallies, "kept": list(known.kept)})
    arrays = {f"{name}-{place}": array for place, rows in enumerate(known.kept.values()) for name, array in vars(rows).items()}
    stream = BytesIO()
    np.savez(stream, allow_pickle=False, told=np.array(told), **arrays)
    return stream.getvalue()


def _unpacked(body: bytes) -> Known:
    with np.load(BytesIO(body), allow_pickle=False) as saved:
        told: dict[str, Any] = json.loads(str(saved["told"]))
        names = ("keys", "train", "parts")
        kept = {tuple(group): Rows(*(saved[f"{name}-{at}"] for name in names)) for at, group in enumerate(told["kept"])}
    tallies = {(name, train): Tally(tuple(sums), broken, only) for name, train, sums, broken, only in told["tallies"]}
    return Known(tuple(told["through"]), tallies, kept)

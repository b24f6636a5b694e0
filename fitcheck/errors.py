"""Trouble as a value: findings that say where, what was found, what was expected and how to mend it."""

from __future__ import annotations

from enum import IntEnum
from typing import Literal, NamedTuple


class Exit(IntEnum):
    """Exit codes, the same for every command; the higher of COULD_NOT, INCOMPLETE and FAILED wins."""

    FINE = 0
    FAILED = 1
    USAGE = 2
    INCOMPLETE = 3
    COULD_NOT = 4


class Place(NamedTuple):
    """A spot in a file: lines and columns count from 1 (in characters); `key` is the dotted path of the entry."""

    file: str
    line: int = 1
    column: int = 1
    key: str = ""

    def __str__(self) -> str:
        """`file:line:column`, the form that editors jump to."""
        return f"{self.file}:{self.line}:{self.column}"


class Finding(NamedTuple):
    """One fault or doubt about a file, complete enough to be mended without asking again."""

    place: Place
    problem: str  # a short fixed word for the kind of mistake, such as `unknown-key`
    found: str
    expected: str
    mend: str
    severity: Literal["error", "caution"] = "error"

    def __str__(self) -> str:
        """One line for a person."""
        key = f"{self.place.key}: " if self.place.key else ""
        return f"{self.place}: {self.severity}: {key}found {self.found}; expected {self.expected}; {self.mend}"


class FitcheckError(Exception):
    """Base of every error that fitcheck raises on purpose."""


class InputError(FitcheckError):
    """Files from outside are so wrong that the question cannot be asked; `findings` say why."""

    def __init__(self, findings: tuple[Finding, ...]) -> None:
        """Keep the findings and print them all."""
        super().__init__("\n".join(str(finding) for finding in findings))
        self.findings = findings


class UsageError(FitcheckError):
    """The person asked for something that does not exist; the message names the nearest right word."""


class OutputError(FitcheckError):
    """A result cannot be written; the message says where and why."""

"""A name for a finding that follows what it says, not where it stands: moving a line makes no new finding."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from hashlib import sha256

from fitcheck.catalog.parts import FAMILIES
from fitcheck.errors import Finding

SCHEME = "fitcheck/v1"  # changed whenever the same finding would get another fingerprint

# A place that is named in the words of a finding: its folder and line are left out, its file is kept.
_PLACE = re.compile(r"(?:[^\s,/]+/)*/?([^\s,/]+\.toml)(?::\d+:\d+)?")


# Tables in a list: which of them a finding is about is told by its words, not by how many stand before it.
_LISTED = re.compile(r"^(waivers|accepted)\[\d+\]")

# The first two steps of a key, the second perhaps between quotes.
_ENTRY = re.compile(r'[^.]*(?:\.(?:"(?:[^"\\]|\\.)*"|[^.]*))?')


def fingerprints(findings: Iterable[Finding]) -> dict[Finding, str]:
    """A fingerprint for each finding; of several that say the same, each gets its own, by their order in the files."""
    seen: Counter[str] = Counter()
    found = {}
    for finding in sorted(set(findings)):
        said = _said(finding)
        found[finding] = _digest(f"{said}{seen[said]}")
        seen[said] += 1
    return found


def common_fingerprint(marks: Sequence[str]) -> str:
    """One fingerprint for several findings, in whatever order; that of a single one is its own."""
    return marks[0] if len(marks) == 1 else _digest(" ".join(sorted(marks)))


def entry_of(finding: Finding) -> str:
    """What a finding is about, by the first two steps of its key: a part, a rule, a fit, a waiver; else the file."""
    found = _ENTRY.match(finding.place.key)
    entry = found[0] if found else ""
    return entry if _in_catalog(finding) else f"{finding.place.file} {entry}".rstrip()


def _digest(text: str) -> str:
    return sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:32]


def _said(finding: Finding) -> str:
    """What a finding says: where in the data, what kind of mistake, and what stands there."""
    words = _PLACE.sub(r"\1", _from_near(finding)) if ".toml" in finding.found else finding.found
    key = _LISTED.sub(r"\1", finding.place.key)
    return json.dumps([finding.severity, _owner(finding), key, finding.problem, words])


def _from_near(finding: Finding) -> str:
    """What is found, without the way to the folders that the finding's own file lies in: blanks and commas in it end no place."""
    words, folder = finding.found, finding.place.file.rpartition("/")[0]
    while folder:
        words = re.sub(rf"(?<![^\s,(]){re.escape(folder)}/", "", words)
        folder = folder.rpartition("/")[0]
    return words


def _owner(finding: Finding) -> str:
    """The file's own name where the key does not tell whose it is; an entry of a catalog may move to another file."""
    # Not its path: that is another one from another folder or machine, and once a folder has moved all of it would be new;
    # a path made just long enough to tell two files of one name apart would hang on which files are checked together. SARIF
    # leaves the path, which is in every result, to whoever compares logs. The price: where a fault goes from one file to
    # another of the same name, and says the same, that swap is not seen; a second one of its kind is always new.
    return "" if _in_catalog(finding) else finding.place.file.rpartition("/")[2]


def _in_catalog(finding: Finding) -> bool:
    """Whether a finding is about an entry of a catalog, which has the same name in whatever file it stands."""
    return finding.place.key.partition(".")[0] in FAMILIES

"""A name for a finding that follows what it says, not where it stands: moving a line makes no new finding."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable
from hashlib import sha256

from fitcheck.catalog.parts import FAMILIES
from fitcheck.errors import Finding

SCHEME = "fitcheck/v1"  # changed whenever the same finding would get another fingerprint

# A place that is named in the words of a finding: its folder and line are left out, its file is kept.
_PLACE = re.compile(r"(?:[^\s,/]+/)*/?([^\s,/]+\.toml)(?::\d+:\d+)?")


def fingerprints(findings: Iterable[Finding]) -> dict[Finding, str]:
    """A fingerprint for each finding; of several that say the same, each gets its own, by their order in the files."""
    seen: Counter[str] = Counter()
    found = {}
    for finding in sorted(set(findings)):
        said = _said(finding)
        found[finding] = sha256(f"{said}{seen[said]}".encode("utf-8", "surrogatepass")).hexdigest()[:32]
        seen[said] += 1
    return found


def _said(finding: Finding) -> str:
    """What a finding says: where in the data, what kind of mistake, and what stands there."""
    words = _PLACE.sub(r"\1", finding.found)
    return json.dumps([finding.severity, _owner(finding), finding.place.key, finding.problem, words])


def _owner(finding: Finding) -> str:
    """The file's own name where the key does not tell whose it is; an entry of a catalog may move to another file."""
    return "" if finding.place.key.partition(".")[0] in FAMILIES else finding.place.file.rpartition("/")[2]

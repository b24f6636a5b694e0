"""The states of a value and the verdicts, as small integers for arrays."""

from __future__ import annotations

VALUE, ABSENT, NOT_GIVEN, CANNOT = 0, 1, 2, 3
STATE_WORDS = ("", "does not exist", "not given", "cannot be computed")

PASS, CAUTION, REJECT = 0, 1, 2
VERDICT_WORDS = ("pass", "caution", "reject")

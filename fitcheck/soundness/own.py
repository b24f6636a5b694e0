"""One part against itself: what its own figures imply, what is missing, where they come from."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.catalog.parts import FAMILIES, Part
from fitcheck.errors import Finding
from fitcheck.soundness.doubts import about, listed, shown, spoken

# Pairs of a family of which the first, by what the part is, lies below the second; and why.
_BELOW: dict[str, tuple[tuple[str, str, str], ...]] = {
    "pedal": (
        ("free_play", "travel", "the pedal would never reach the master"),
        ("stop_range.1", "travel", "the pedal ends at its travel; a stop beyond it stops nothing"),
    ),
    "pressure_plate": (
        ("lift_loss", "max_travel", "the fingers would reach their limit before lift starts"),
        ("finger_circle.1", "disc_max_diameter", "the fingers stand inside the cover, the disc fills it"),
    ),
    "bearing": (("bore", "face_diameter", "the face stands round the bore"),),
    "concentric": (("preload", "load_rating", "the bearing carries the preload all the time"),),
}

# Optional fields without which a figure of the part is not known.
_OWN: dict[str, dict[str, str]] = {
    "application": {
        "wheelbase": "bleed_lift",
        "retainer_length": "sleeve_engagement",
        "thrust_limit": "thrust_use",
        "hours_slave": "service_hours",
        "hours_gearbox": "service_hours",
        "linkage": "effort_vs_linkage",
    },
    "master": {"reservoir_room": "reservoir_spare"},
    "fluid": {"expansion": "warm_creep"},
    "slave": {"rod_pitch": "rod_turn", "cavity": "air_pocket"},
    "bearing": {"guide_rear": "sleeve_engagement"},
    "concentric": {"cavity": "air_pocket"},
}
_TOTALS = {"cost": "cost", "mass": "mass"}  # of every part that goes into a kit
_ASKED_FOR = {family: _OWN.get(family, {}) | ({} if family in ("application", "linkage") else _TOTALS) for family in FAMILIES}

WEAK = {"practice": "common practice", "memory": "memory", "invented": "invention"}


def own_doubts(part: Part) -> Iterator[Finding]:
    """All doubts that a part raises by itself."""
    yield from _order(part)
    yield from _hoses(part)
    yield from _missing(part)
    yield from _evidence(part)


def _order(part: Part) -> Iterator[Finding]:
    for low, high, why in _BELOW.get(part.family, ()):
        lower, upper = part.at(low), part.at(high)
        if lower is not None and upper is not None and not _below(low, lower, upper):
            found = f"{low} of {shown(part, low)} with a {high} of {shown(part, high)}"
            yield about(part, low, "implausible", found, f"{low} below {high}: {why}", f"check {low} and {high}")


def _below(low: str, lower: float, upper: float) -> bool:
    """Whether the first lies below the second; a stop may stand at the very end."""
    return lower <= upper * (1 + 1e-9) if low.startswith("stop_range") else lower < upper


def _hoses(part: Part) -> Iterator[Finding]:
    """A hose whose expansion was taken at a pressure is implied to bear that pressure."""
    for at, piece in enumerate(part.values.get("pieces", ())):
        if piece["kind"] == "hose" and piece["pressure_rating"] < piece["at_pressure"] * (1 - 1e-9):
            rating, taken = f"pieces.{at}.pressure_rating", f"pieces.{at}.at_pressure"
            found = f"{spoken(part, rating)} of {shown(part, rating)} with an expansion taken at {shown(part, taken)}"
            wanted = "a rating at or above the pressure that the hose has been under"
            yield about(part, rating, "low-rating", found, wanted, "check both pressures and their units")


def _missing(part: Part) -> Iterator[Finding]:
    """Optional fields that figures ask for, all of a part at once."""
    asked = _ASKED_FOR[part.family]
    lacking = [field for field in asked if field not in part.values]
    if lacking:
        figures = listed(list(dict.fromkeys(asked[field] for field in lacking)))
        found = f"no {listed(lacking, 'or')}"
        mend = "add what is known; until then no rule can judge its kits by these figures"
        yield about(part, "", "not-given", found, f"what is needed for {figures}", mend)


def _evidence(part: Part) -> Iterator[Finding]:
    """Figures without a source, and figures that rest on little."""
    if not part.values.get("source"):
        mend = "add source: the sheet, the measurement or the person that the figures come from"
        yield about(part, "", "no-source", "no source", "a source of the figures", mend)
    word = part.values.get("evidence")
    if word in WEAK:
        found = f"figures that rest on {WEAK[word]}"
        wanted = "evidence published, measured or from the maker"
        yield about(part, "evidence", "weak-evidence", found, wanted, "measure the part, or ask its maker")

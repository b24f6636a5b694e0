"""Parts against what the profile says: hoses measured beyond its pressures, covers whose own figures disagree."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from fitcheck.catalog.parts import Catalog, Part
from fitcheck.errors import Finding
from fitcheck.physics.clutch import lever_check
from fitcheck.profile import Profile, Rule
from fitcheck.soundness.doubts import about, shown, spoken

Array = npt.NDArray[np.float64]


def judged_doubts(catalog: Catalog, profile: Profile) -> Iterator[Finding]:
    """All doubts about parts that hang on the profile's numbers."""
    for part in catalog.families.get("line", ()):
        yield from _hoses(part, profile)
    rules = [rule for rule in profile.rules if rule.metric == "lever_check"]
    discs = [disc for disc in catalog.families.get("disc", ()) if disc.values["cushion_travel"] > 0]
    sizes = np.array([(disc.values["outer_diameter"], disc.values["cushion_travel"]) for disc in discs]).reshape(-1, 2)
    for part in catalog.families.get("pressure_plate", ()):
        if "release_load" in part.values:
            yield from _lever(part, discs, sizes, rules)


def _hoses(line: Part, profile: Profile) -> Iterator[Finding]:
    """The slope of a hose's expansion falls with pressure: taken above what kits may reach, it understates the loss."""
    rating = min(piece["pressure_rating"] for piece in line.values["pieces"])
    uppers = {rule.upper for rule in profile.rules if rule.metric == "peak_pressure" and rule.upper is not None}
    uppers |= {rule.upper * rating for rule in profile.rules if rule.metric == "pressure_use" and rule.upper is not None}
    most = min(uppers, default=None)
    for at, piece in enumerate(line.values["pieces"]):
        if most and piece["kind"] == "hose" and piece["at_pressure"] > most * (1 + 1e-9):
            key = f"pieces.{at}.at_pressure"
            found = f"{spoken(line, key)} of {shown(line, key)}"
            wanted = f"an expansion taken near the pressures of kits; the profile lets none above {shown(line, key, most)}"
            mend = "find the expansion at a lower pressure: the true loss is greater than the one computed"
            yield about(line, key, "far-pressure", found, wanted, mend)


def _lever(cover: Part, discs: Sequence[Part], sizes: Array, rules: Sequence[Rule]) -> Iterator[Finding]:
    """A cover whose lever ratio, load curve and clamp load agree with no disc that it takes."""
    taken = np.flatnonzero(sizes[:, 0] <= cover.values["disc_max_diameter"] * (1 + 1e-9))
    cushions = sizes[taken, 1]
    ratio, curve = cover.values["lever_ratio"], cover.values["release_load"]
    loads = np.interp(cover.values["lift_loss"] + ratio * cushions, curve["travel"], curve["load"])
    checks = lever_check(ratio, loads, cover.values["clamp_load"], cushions)
    for rule in rules if len(taken) else ():
        low, high = rule.lower or 0.0, np.inf if rule.upper is None else rule.upper
        beyond = np.maximum(low - checks, checks - high)
        if np.all(beyond > 0):
            nearest = int(np.argmin(beyond))
            disc = discs[taken[nearest]].id
            band = f"at least {low:g}" if rule.upper is None else f"{low:g} to {high:g}"
            own = " and a ".join(f"{key} of {shown(cover, key)}" for key in ("lever_ratio", "clamp_load"))
            found = f"a {own}, which give a lever_check that is not {band}"
            wanted = f"{band}; it is {checks[nearest]:.2f} with {disc}, the nearest of {len(taken)} discs that it takes"
            mend = "check lever_ratio, clamp_load, lift_loss and the units of release_load against each other"
            yield about(cover, "lever_ratio", "lever-check", found, wanted, mend)

"""Torque and bite for the oracle: where the clutch takes up, how it feels there, how fast cold fluid lets it come back. In SI."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import Any

from oracle_kit import CannotError, Kit, Settled, Values
from oracle_math import Broken, Path, Piece, integrate
from oracle_parts import Flow, bores, viscosity

Entry = tuple[str, float, Any]
Metrics = Iterator[tuple[str, Entry]]
ABSENT: Entry = ("absent", math.nan, "")


def value(number: float) -> Entry:
    return ("value", float(number), "")


def attempt(compute: Callable[[], float]) -> Entry:
    """A value, or why it cannot be computed."""
    try:
        return value(compute())
    except CannotError as why:
        return ("cannot", math.nan, str(why))


def torque_of(disc: Values, clamp: float) -> float:
    """Torque that a disc carries under a clamp; uniform wear unless it says uniform pressure."""
    outer, inner = disc["outer_diameter"] / 2, disc["inner_diameter"] / 2
    if disc.get("radius_rule", "uniform wear") == "uniform wear":
        mean = (outer + inner) / 2
    else:
        mean = 2 / 3 * (outer**3 - inner**3) / (outer**2 - inner**2)
    return float(disc["faces"] * disc["friction"] * clamp * mean)


class Bite:
    """Where the clutch takes up, and what hangs on it."""

    def __init__(self, kit: Kit, now: Settled) -> None:
        """Work out the torques."""
        self.kit, self.path = kit, now.airy.path
        self.x_full = now.airy.x_full
        app = kit.app
        weight = app["vehicle_mass"] * 9.80665
        self.slope_torque = weight * math.sin(kit.assumed.slope) * app["wheel_radius"] / (app["first_gear"] * app["final_drive"])
        self.capacity = torque_of(kit.disc, kit.clamp(worn=False))

    def metrics(self) -> Metrics:
        """All metrics that need the bite."""
        kit = self.kit
        yield "bite_point", attempt(lambda: kit.pad(self.path, self.x_bite()))
        yield "bite_height", attempt(lambda: (kit.travel - kit.pad(self.path, self.x_bite())) / kit.travel)
        yield "bite_band", attempt(self.band)
        yield "effort_slope", attempt(self.slope)
        yield "return_time", attempt(self.return_time)

    def x_bite(self) -> float:
        """The least finger travel at which the clutch lets the vehicle roll."""
        return self.x_carrying(self.slope_torque, "slope")

    def x_carrying(self, torque: float, why: str) -> float:
        """The least finger travel at which the clutch carries at most a torque."""
        if self.capacity < torque or self.capacity <= 0:
            raise CannotError(why)
        share = torque / self.capacity
        kit, curve = self.kit, self.kit.cushion
        if share >= 1:
            return 0.0
        lifted = next(x for x in self._reached(curve, share))
        return float(kit.lift_loss + kit.r_d * kit.disc["cushion_travel"] * lifted)

    @staticmethod
    def _reached(curve: Broken, share: float) -> Iterator[float]:
        """Shares of the cushion's travel at which its clamp has come down to a share."""
        for i in range(len(curve.x) - 1):
            high, low = curve.y[i], curve.y[i + 1]
            if high > share >= low:
                yield curve.x[i] + (high - share) / (high - low) * (curve.x[i + 1] - curve.x[i])

    def band(self) -> float:
        """Pad travel from the clamp that carries the engine's torque to the clamp that holds the slope."""
        kit = self.kit
        low = self.x_carrying(kit.app["engine_torque"], "torque")
        return kit.pad(self.path, self.x_bite()) - kit.pad(self.path, low)

    def slope(self) -> float:
        """Rise of the effort over pad travel just past the bite, where the fingers land."""
        kit, path = self.kit, self.path
        x_bite = self.x_bite()
        position = kit.pad(path, x_bite)
        x = path.landing(x_bite)
        per_load = 1 / (kit.r_f * kit.eta_f * kit.eta_s * kit.a_s)
        ahead = piece_after(path, x)
        pressed = kit.pressure(kit.new(ahead)) > 0
        pressure_rate = per_load * kit.new.slope(x) if pressed else 0.0
        per_pad = kit.a_m / (kit.r_p * path.slope(x))  # dx/dS
        return float(kit.a_m / (kit.eta_m * kit.r_p * kit.eta_p) * pressure_rate * per_pad) + kit.foot.slope(position)

    def return_time(self) -> float:
        """Time in which the fingers drive the cold fluid back from full pedal to the bite."""
        kit, load = self.kit, self.kit.new
        x_bite, pieces = self.x_bite(), bores(kit.pieces)
        if self.x_full <= x_bite:
            return 0.0
        temperature = kit.app["cold_temperature"]
        flow = Flow(pieces, viscosity(kit.fluid["viscosity"], temperature), kit.fluid["density"])
        corners = [x for level in flow.levels() for x in load.crossings(kit.load_at(level))]
        xs = sorted({x_bite, self.x_full, *(x for x in self.path.breaks + corners if x_bite < x < self.x_full)})
        if min(kit.pressure_back(load(x)) for x in xs) <= 0:
            return math.inf

        def per_travel(x: float) -> float:
            return float(kit.a_s * kit.r_f * (1 + load.slope(x) / kit.k_f) / flow.rate(kit.pressure_back(load(x))))

        return sum(integrate(per_travel, a, b) for a, b in pairwise(xs))


def piece_after(path: Path, x: float) -> float:
    """A point past x in the piece that starts at or holds x."""
    piece: Piece = [p for p in path.pieces if p.start <= x][-1]
    return x + 1e-3 if math.isinf(piece.end) else (x + piece.end) / 2

"""One kit for the oracle: constants, the settled setting (stop, window, target, shims) and one press of the pedal. All in SI."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any, Protocol

from oracle_math import Broken, Path, Piece, greatest, least
from oracle_parts import Disc, Load, curve_load, diaphragm_load, dilation

Values = Mapping[str, Any]


class Assumed(Protocol):
    """What a profile takes for granted."""

    @property
    def air(self) -> float: ...
    @property
    def ambient_pressure(self) -> float: ...
    @property
    def slope(self) -> float: ...
    @property
    def wear_between_adjustments(self) -> float: ...
    @property
    def shim_count(self) -> int: ...
    @property
    def foot_limit(self) -> float: ...
    @property
    def warming(self) -> float: ...


class CannotError(Exception):
    """A value cannot be computed for this kit; the text is a short key for why."""


def circle(d: float) -> float:
    """Area of a circle of diameter d."""
    return math.pi / 4 * d * d


class Kit:
    """Everything about a kit that does not need its setting."""

    def __init__(self, train: str, parts: Mapping[str, Values], assumed: Assumed, margins: Mapping[str, float]) -> None:
        """Read the parts and work out the constants of the train."""
        self.train, self.parts, self.assumed, self.margins = train, parts, assumed, margins
        self.external = train == "external"
        self.app, self.pedal, self.master, self.fluid = (parts[f] for f in ("application", "pedal", "master", "fluid"))
        self.cover, self.disc, self.pieces = parts["pressure_plate"], parts["disc"], parts["line"]["pieces"]
        self.act_family = "slave" if self.external else "concentric"
        self.act = parts[self.act_family]
        self.carrier = parts["bearing"] if self.external else self.act
        self.contact = not self.external or self.act["preload"] > 0
        self._train_constants()
        self._fluid_constants()
        self._cover_constants()
        self.travel = self.pedal["travel"]
        self.supply = self.sent(self.travel)

    def _train_constants(self) -> None:
        fork = self.parts["fork"] if self.external else {"ratio": 1.0, "efficiency": 1.0, "stiffness": math.inf}
        self.r_p, self.eta_p, self.free_play = self.pedal["ratio"], self.pedal["efficiency"], self.pedal["free_play"]
        self.foot = Broken(tuple(self.pedal["return_force"]["travel"]), tuple(self.pedal["return_force"]["force"]))
        self.a_m, self.eta_m = circle(self.master["bore"]), self.master["efficiency"]
        self.m_stroke, self.cutoff, self.m_spring = (self.master[k] for k in ("stroke", "cutoff_stroke", "spring_force"))
        if self.external:
            self.a_s = circle(self.act["bore"])
        else:
            self.a_s = circle(self.act["outer_diameter"]) - circle(self.act["inner_diameter"])
        self.r_f, self.eta_f, self.k_f = fork["ratio"], fork["efficiency"], fork["stiffness"]
        self.eta_s, self.preload, self.stroke = self.act["efficiency"], self.act["preload"], self.act["stroke"]
        self.f_r = 0.0 if self.contact else self.app["fork_return_force"]

    def _fluid_constants(self) -> None:
        self.p_0 = self.assumed.ambient_pressure
        line_volume = sum(circle(p["inner_diameter"]) * p["length"] for p in self.pieces if p["kind"] != "adapter")
        self.v_f = self.a_m * self.m_stroke + line_volume + self.act["dead_volume"]
        self.c = sum(dilation(p) for p in self.pieces) + self.v_f / self.fluid["bulk_modulus"]
        if "bulkhead_stiffness" in self.app:
            self.c += self.a_m**2 / (self.eta_m * self.app["bulkhead_stiffness"])

    def _cover_constants(self) -> None:
        cover, disc = self.cover, self.disc
        self.spring = cover.get("diaphragm")
        self.r_d = Disc(self.spring).lever if self.spring else cover["lever_ratio"]
        curve = disc.get("cushion_curve", {"travel": (0.0, 1.0), "clamp": (1.0, 0.0)})
        self.cushion = Broken(tuple(curve["travel"]), tuple(curve["clamp"]))
        self.wear_compensated = cover.get("wear_compensated", False)
        self.worn_known = self.wear_compensated or bool(self.spring) or "worn_release_load" in cover
        self.lift_loss, self.max_travel = cover["lift_loss"], cover["max_travel"]
        self.x_rel = self.r_d * (disc["cushion_travel"] + disc["faces"] * disc["running_clearance"]) + self.lift_loss
        self.back = self.finger_wear(disc["wear_allowance"])
        self.new = self._load(worn=False)
        self.worn = self._load(worn=True) if self.worn_known else None

    def finger_wear(self, wear: float) -> float:
        """How far wear lets the resting fingers go back: `R_d w`, or nothing with wear compensation."""
        return 0.0 if self.wear_compensated else float(self.r_d * wear)

    def _load(self, worn: bool) -> Load:
        worn = worn and not self.wear_compensated
        if self.spring:
            wear = self.disc["wear_allowance"] if worn else 0.0
            return diaphragm_load(self.spring, self.lift_loss, self.disc["cushion_travel"], self.cushion, wear)
        curve = self.cover["worn_release_load" if worn else "release_load"]
        return curve_load(curve["travel"], curve["load"])

    def clamp(self, worn: bool) -> float:
        """Clamp on the disc at rest: what the cover gives less what the resting load takes."""
        worn = worn and not self.wear_compensated
        if self.spring:
            deflection = self.spring["set_deflection"] - (self.disc["wear_allowance"] if worn else 0.0)
            given = Disc(self.spring).load(deflection)
        else:
            given = self.cover["worn_clamp_load" if worn else "clamp_load"]
        return float(given - self.r_d * self.resting_load())

    def resting_load(self) -> float:
        """Load on the fingers at rest."""
        return float(self.r_f * self.preload) if self.contact else 0.0

    def rod(self, pad: float) -> float:
        """Master rod travel at a pad position."""
        return float(max(0.0, (pad - self.free_play) / self.r_p))

    def sent(self, pad: float) -> float:
        """Volume sent at a pad position."""
        return float(self.a_m * max(0.0, min(self.rod(pad), self.m_stroke) - self.cutoff))

    def pressure(self, force: float) -> float:
        """Pressure that carries a load at the fingers while pressing."""
        return float(max(0.0, force / (self.r_f * self.eta_f * self.eta_s) + self.f_r / self.eta_s - self.preload) / self.a_s)

    def pressure_back(self, force: float) -> float:
        """Pressure that a load at the fingers drives while letting back."""
        return float(max(0.0, force * self.eta_f * self.eta_s / self.r_f + self.f_r * self.eta_s - self.preload) / self.a_s)

    def load_at(self, pressure: float) -> float:
        """Finger load at which `pressure_back` starts to exceed a pressure."""
        return float((pressure * self.a_s + self.preload - self.f_r * self.eta_s) * self.r_f / (self.eta_f * self.eta_s))

    def loss(self, p: float, air: float) -> float:
        """Volume that does not move the slave at a pressure."""
        return float(self.c * p + air * p / (self.p_0 + p))

    def demand(self, load: Load, lash: float, air: float) -> Path:
        """Volume demanded over finger travel; it may turn back where the load falls steeply."""

        def volume(x: float) -> float:
            force = load(x)
            return float(self.a_s * (lash + self.r_f * (x + force / self.k_f))) + self.loss(self.pressure(force), air)

        per_load = 1 / (self.r_f * self.eta_f * self.eta_s * self.a_s)
        kink = self.r_f * self.eta_f * self.eta_s * (self.preload - self.f_r / self.eta_s)
        kinks = load.crossings(kink)
        pieces = []
        for piece in load.pieces:
            cuts = [piece.start, *(x for x in kinks if piece.start < x < piece.end), piece.end]
            for a, b in pairwise(cuts):
                pressed = piece.value(Piece(a, b, piece.value, piece.slope).inner()) > kink

                def slope(x: float, piece: Piece = piece, pressed: bool = pressed) -> float:
                    rate = piece.slope(x)
                    p = self.pressure(piece.value(x))
                    soft = (self.c + air * self.p_0 / (self.p_0 + p) ** 2) * per_load * rate if pressed else 0.0
                    return float(self.a_s * self.r_f * (1 + rate / self.k_f) + soft)

                pieces.append(Piece(a, b, volume, slope))
        return Path(volume, pieces, self.a_s * self.r_f)

    def pad(self, path: Path, x: float) -> float:
        """Pad position at which the fingers stand at x."""
        volume = path.highest(x)[0]
        if volume > self.a_m * (self.m_stroke - self.cutoff):
            raise CannotError("stroke")
        return self.pad_of(volume)

    def pad_of(self, volume: float) -> float:
        """Pad position at which the master has sent a volume."""
        return float(self.free_play + self.r_p * (self.cutoff + volume / self.a_m))


class Press:
    """One press of the pedal to the full: a load curve, the air in the line, the lash."""

    def __init__(self, kit: Kit, load: Load, lash: float, air: float) -> None:
        """Find where full pedal leaves the fingers."""
        self.kit, self.load = kit, load
        self.path = kit.demand(load, lash, air)
        self.x_full = self.path.first(kit.supply)
        self.end: float = min(kit.travel, kit.free_play + kit.r_p * kit.m_stroke)  # the pad goes no further
        self.starts: float = min(kit.pad_of(self.path.value(0.0)), self.end)  # the pad position at which the fingers start
        self.full_load = load(self.x_full)

    def pad(self, x: float) -> float:
        """Pad position at a finger travel on the way."""
        return min(self.kit.pad_of(self.path.highest(x)[0]), self.end)

    def static(self, pressure: float) -> float:
        """Force at the pad while pressing, without the pedal's own."""
        kit = self.kit
        return float((pressure * kit.a_m / kit.eta_m + kit.m_spring) / (kit.r_p * kit.eta_p))

    def effort(self, x: float) -> float:
        """Force at the pad while pressing."""
        if self.end <= self.kit.free_play:
            return self.kit.foot(self.end)
        return self.static(self.kit.pressure(self.load(x))) + self.kit.foot(self.pad(x))

    def effort_back(self, x: float) -> float:
        """Force at the pad while letting back."""
        kit = self.kit
        if self.end <= kit.free_play:
            return kit.foot(self.end)
        pressure = kit.pressure_back(self.load(x))
        return float((pressure * kit.a_m * kit.eta_m + kit.m_spring) * kit.eta_p / kit.r_p) + kit.foot(self.pad(x))

    def points(self) -> list[float]:
        """Break points of the efforts over finger travel."""
        kit = self.kit
        corners = [s for s in kit.foot.x if self.starts < s < self.end]
        felt = [self.path.first(kit.a_m * ((s - kit.free_play) / kit.r_p - kit.cutoff)) for s in corners]
        return self.path.points(0.0, self.x_full, [*felt, *self.load.crossings(kit.load_at(0.0))])

    def early(self) -> list[tuple[float, float]]:
        """Pad position and force at all corners before the fingers start: first the pedal alone, then the master too."""
        kit = self.kit
        alone = [(s, kit.foot(s)) for s in kit.foot.knots(0.0, min(kit.free_play, self.end))]
        if self.end <= kit.free_play:
            return alone
        more = self.static(kit.pressure(0.0))
        return alone + [(s, more + kit.foot(s)) for s in kit.foot.knots(kit.free_play, self.starts)]

    def peak(self) -> float:
        """The largest force on the way."""
        return max(max(e for _, e in self.early()), greatest(self.effort, self.points())[1])

    def least_after_peak(self) -> float:
        """The least force from the place of the first largest force on, at every finger travel."""
        early = self.early()
        place, high = greatest(self.effort, self.points())
        top = max(e for _, e in early)
        if top >= high:
            first = [e for _, e in early].index(top)
            later = [e for _, e in early[first:]]
            return min(*later, top, least(self.effort, self.points())[1])
        return least(self.effort, [place, *(x for x in self.points() if x > place)])[1]

    def peak_load(self) -> float:
        """The largest load at the fingers on the way: at the end of a piece, as the load only rises or falls in each."""
        return max(self.load(x) for x in self.path.points(0.0, self.x_full))


class Settled:
    """A kit with its stop, its window of settings, and its setting at the target."""

    def __init__(self, kit: Kit) -> None:
        """First the stop (a contact train), then the window, then the target, then one press of each kind."""
        self.kit = kit
        self.with_stop = False
        self.shims: tuple[float, ...] = ()
        self._axial_chain()
        if kit.contact:
            self._stop()
        self.low, self.high = self._window()
        self.target = max(0.0, (self.low + self.high) / 2)
        if not kit.external:
            self._fit_shims()
        self.x_s0, self.lash = (self.target, 0.0) if kit.contact else (0.0, self.target)
        air = kit.assumed.air
        self.airy, self.tight = Press(kit, kit.new, self.lash, air), Press(kit, kit.new, self.lash, 0.0)
        self.airy_worn = Press(kit, kit.worn, self.lash, air) if kit.worn else None
        self.tight_worn = Press(kit, kit.worn, self.lash, 0.0) if kit.worn else None
        if not self.with_stop:
            self.pedal_stop = self._stop_position(self.tight)

    def _axial_chain(self) -> None:
        kit = self.kit
        self.tips = kit.app["bell_depth"] - kit.app["flywheel_stand"] - kit.cover["finger_height"]
        self.ears = self.tips - kit.carrier["height"]
        if kit.external:
            sigma = 1.0 if kit.cover["action"] == "push" else -1.0
            self.zeta = sigma * (self.ears - kit.parts["fork"]["ear_plane"])

    def _stop_position(self, press: Press) -> float | None:
        """Where a stop must stand; None if none is needed."""
        limit = self.kit.max_travel - self.kit.margins["r"]
        if press.x_full <= limit:
            return None
        return self.kit.pad_of(press.path.highest(max(0.0, limit))[0])

    def _stop(self) -> None:
        kit = self.kit
        press = Press(kit, kit.new, 0.0, 0.0)
        self.pedal_stop = self._stop_position(press)
        least_stop, most = kit.pedal.get("stop_range", (math.inf, -math.inf))
        if self.pedal_stop is not None and least_stop <= self.pedal_stop <= most:
            self.with_stop = True
            kit.travel = self.pedal_stop
            # the volume itself, not worked out again from the stop: a rounding error could throw the fingers over a jump
            kit.supply = press.path.highest(max(0.0, kit.max_travel - kit.margins["r"]))[0]

    def _window(self) -> tuple[float, float]:
        kit, margins = self.kit, self.kit.margins
        if kit.contact:
            press = Press(kit, kit.new, 0.0, 0.0)
            low = kit.r_f * kit.back + margins["u"]
            high = kit.stroke - kit.r_f * (press.x_full + press.full_load / kit.k_f) - margins["v"]
        else:
            tight, airy = kit.demand(kit.new, 0.0, 0.0), kit.demand(kit.new, 0.0, kit.assumed.air)
            kept = (kit.supply - tight.highest(max(0.0, kit.max_travel - margins["r"]))[0]) / kit.a_s
            low = max(kit.r_f * kit.finger_wear(kit.assumed.wear_between_adjustments), kept)
            high = (kit.supply - airy.highest(max(0.0, kit.x_rel + margins["m"]))[0]) / kit.a_s
        reach = self._reach()
        return max(low, reach[0]), min(high, reach[1])

    def _reach(self) -> tuple[float, float]:
        """Least and greatest setting that the rod, or the shims on hand, can give."""
        kit = self.kit
        if kit.external:
            ends = [self._setting(kit.act[name]) for name in ("rod_min", "rod_max")]
            return min(ends), max(ends)
        thickest = max(kit.act["shims"], default=0.0) * kit.assumed.shim_count
        gap = self.tips - kit.act["height"]
        return gap - thickest, gap

    def _setting(self, rod: float) -> float:
        """Setting that a rod length gives."""
        kit = self.kit
        return float(kit.r_f * self.zeta - self._rod_sign() * (rod - kit.app["slave_seat_to_fork"]))

    def _rod_sign(self) -> float:
        return 1.0 if self.kit.act["action"] == "push" else -1.0

    def rod_length(self) -> float:
        """Length of the rod at the target."""
        kit = self.kit
        return float(kit.app["slave_seat_to_fork"] + self._rod_sign() * (kit.r_f * self.zeta - self.target))

    def _fit_shims(self) -> None:
        gap = self.tips - self.kit.act["height"]
        on_hand: Sequence[float] = sorted(set(self.kit.act["shims"]))
        counts = range(self.kit.assumed.shim_count + 1)
        stacks = [s for n in counts for s in itertools.combinations_with_replacement(on_hand, n)]
        off = {stack: abs(gap - sum(stack) - self.target) for stack in stacks}
        near = [stack for stack in stacks if off[stack] <= min(off.values()) + 1e-6]
        self.shims = min(near, key=lambda stack: (len(stack), round(sum(stack), 9), stack))
        self.target = gap - sum(self.shims)

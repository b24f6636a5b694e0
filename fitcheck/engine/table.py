"""The one table of metrics: name, dimension, unit shown, meaning, rounding, and on which trains the metric exists."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Metric:
    """One row of the table. `only` holds letters: C contact, B bottomed, X external, K concentric; empty means every train."""

    name: str
    dimension: str  # a dimension of quantities.UNITS
    unit: str  # the unit shown
    decimals: int  # for reading; files carry 12 significant digits
    meaning: str
    only: str = ""
    blank_where: str = ""  # what a value that does not exist on this kit means; then not-a-number is "does not exist"

    def exists(self, train: str, rest: str) -> bool:
        """Whether the metric exists on a train (`external`, `concentric`) whose slave rests in `contact` or `bottomed`."""
        here = {"external": "X", "concentric": "K"}[train] + {"contact": "C", "bottomed": "B"}[rest]
        return all(letter in here for letter in self.only)

    @property
    def column(self) -> str:
        """The name with the unit shown, as exported columns carry it."""
        suffix = SUFFIXES.get(self.unit, self.unit)
        return f"{self.name}_{suffix}" if suffix else self.name


SUFFIXES = {"": "", "%": "pct", "N/mm": "N_per_mm", "N m": "Nm"}

_ROWS = (
    # name, dimension, unit, decimals, meaning, only, blank_where
    ("total_ratio", "ratio", "", 2, "pad travel over finger travel, rigid"),
    ("supply_volume", "volume", "mL", 2, "fluid that the master sends at full pedal"),
    ("release_volume", "volume", "mL", 2, "fluid that release takes"),
    ("release_point", "length", "mm", 1, "pad position at which the clutch is released"),
    ("release_point_share", "share", "%", 1, "release point over pedal travel"),
    ("release_margin", "length", "mm", 2, "finger travel left over once released"),
    ("release_margin_worn", "length", "mm", 2, "finger travel left over once released, disc fully worn"),
    ("overtravel", "length", "mm", 2, "finger travel past the cover's limit; above 0 the cover is damaged"),
    (
        "pedal_stop",
        "length",
        "mm",
        1,
        "pad position where a stop must stand to keep the fingers within their limit",
        "",
        "no stop needed",
    ),
    ("master_reserve", "length", "mm", 2, "master stroke left at full pedal"),
    ("stroke_reserve", "length", "mm", 2, "slave stroke left at full pedal"),
    ("free_stroke_reserve", "length", "mm", 2, "slave stroke left at full pedal with nothing behind the slave"),
    ("wear_reserve", "length", "mm", 2, "slave stroke left towards home when the disc is fully worn", "C"),
    ("adjustments", "ratio", "", 0, "times the rod must be reset over the disc's life", "B"),
    ("setup_low", "length", "mm", 2, "least setting"),
    ("setup_high", "length", "mm", 2, "greatest setting"),
    ("setup_window", "length", "mm", 2, "width of the settings that work"),
    ("setup_window_fingers", "length", "mm", 2, "width of the settings that work, seen at the fingers"),
    ("setup_target", "length", "mm", 2, "the setting to aim for"),
    ("jump", "length", "mm", 2, "longest stretch that the fingers jump over"),
    ("rod_length", "length", "mm", 1, "length of the slave's push rod", "X"),
    ("rod_turn", "length", "mm", 1, "how far one turn of the rod moves the bite at the pad", "XB"),
    ("shim_stack", "length", "mm", 2, "total thickness of the shims to fit", "K"),
    ("effort_peak", "force", "N", 0, "largest force at the pad"),
    ("effort_hold", "force", "N", 0, "force at the pad at full pedal"),
    ("effort_drop", "share", "%", 1, "fall of the force after its peak"),
    ("effort_slope", "stiffness", "N/mm", 2, "rise of the force just past the bite: what the foot can feel"),
    ("effort_return", "force", "N", 0, "least force that brings the pedal back"),
    ("dead_band", "force", "N", 0, "force at full pedal less the force that lets it return"),
    ("effort_vs_linkage", "share", "%", 0, "largest force against the old linkage's, less 1"),
    ("pedal_work", "energy", "J", 1, "work of one full press"),
    ("peak_pressure", "pressure", "bar", 1, "largest pressure in the train"),
    ("pressure_use", "share", "%", 0, "largest pressure over the lowest rating in the train"),
    ("blocked_use", "share", "%", 0, "pressure of the whole foot against a stuck release, over the lowest rating"),
    ("compliance_loss", "share", "%", 1, "share of the release volume spent on dilation, compression, bulkhead and air"),
    ("air_allowance", "volume", "mL", 2, "air that may stay in the line before the clutch no longer releases"),
    ("air_pocket", "volume", "mL", 2, "air that a tilted slave keeps past its bleed port"),
    ("air_reserve", "volume", "mL", 2, "air allowance less the air pocket"),
    ("bleed_lift", "length", "mm", 0, "raise the rear by this and the bore is level"),
    ("bite_point", "length", "mm", 1, "pad position at which the vehicle starts to roll on the slope"),
    ("bite_height", "share", "%", 1, "height of the bite above full pedal, over travel"),
    ("bite_band", "length", "mm", 1, "pad travel from engine torque to slope torque"),
    ("resting_load", "force", "N", 0, "load on bearing and fingers at rest"),
    ("torque_capacity", "torque", "N m", 0, "torque that the clutch carries"),
    ("torque_factor", "ratio", "", 2, "torque capacity over engine torque"),
    ("torque_capacity_worn", "torque", "N m", 0, "torque that the clutch carries, disc fully worn"),
    ("torque_factor_worn", "ratio", "", 2, "worn torque capacity over engine torque"),
    ("return_time", "time", "s", 2, "time that the fingers take to come back when cold"),
    ("port_clearance", "length", "mm", 2, "free play at the master's rod that keeps the port open"),
    ("warm_creep", "length", "mm", 2, "creep of the fingers by warming, were the port shut"),
    ("boil_reserve", "temperature_difference", "K", 0, "wet boiling point less the hottest place of the line"),
    ("reservoir_rise", "volume", "mL", 1, "fluid that wear pushes back: room to leave at filling", "C"),
    ("reservoir_spare", "volume", "mL", 1, "reservoir room less the rise", "C"),
    ("sleeve_engagement", "length", "mm", 1, "length of the retainer's sleeve inside the bearing at its far end", "X"),
    ("bearing_load_use", "share", "%", 0, "largest load over the bearing's rating"),
    ("thrust_use", "share", "%", 0, "load at full pedal over the crankshaft's thrust limit"),
    ("speed_use", "share", "%", 0, "engine speed over the lower rating of bearing and cover"),
    ("retainer_clearance", "length", "mm", 2, "bearing bore less retainer diameter"),
    ("fork_angle_rest", "angle", "deg", 1, "fork off square at rest", "X"),
    ("fork_angle_full", "angle", "deg", 1, "fork off square at full pedal", "X"),
    ("fork_angle_worn", "angle", "deg", 1, "fork off square at rest, disc fully worn", "X"),
    ("rod_angle", "angle", "deg", 1, "push rod off its line at its worst", "X"),
    ("window_clearance", "length", "mm", 1, "least room of the fork tip in its window", "X"),
    ("line_spare", "length", "mm", 0, "line length less the run it must cover"),
    ("lever_check", "ratio", "", 2, "cover data against itself; near 1 when consistent", "", "a diaphragm, or no cushion"),
    ("service_hours", "time", "h", 1, "labour to replace the actuator"),
    ("cost", "money", "", 2, "sum over the parts supplied"),
    ("mass", "mass", "kg", 2, "sum over the parts supplied"),
)

METRICS: dict[str, Metric] = {row[0]: Metric(*row) for row in _ROWS}

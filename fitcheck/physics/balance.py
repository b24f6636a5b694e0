"""The volume balance: what turns load into pressure, and travel with pressure into fluid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fitcheck.physics.curves import Array

__all__: list[str] = []


@dataclass(frozen=True)
class Hydraulics:
    """What turns load into pressure and travel into fluid; arrays that broadcast."""

    sweep: Array  # [m2] fluid per finger travel, piston area times fork ratio
    give: Array  # [m/N] of the fork at the bearing
    gain: Array  # [1/m2] pressure per finger load
    offset: Array  # [Pa] pressure at no load, may be negative
    compliance: Array  # [m3/Pa] line, fluid, bulkhead
    air: float  # [m3] at ambient pressure
    ambient: float  # [Pa] absolute

    def pressure(self, load: Array) -> Array:
        """Gauge pressure [Pa] that holds a finger load [N]."""
        return np.maximum(0.0, self.gain * load + self.offset)

    def hidden(self, pressure: Array) -> Array:
        """Fluid [m3] lost to dilation, compression, bulkhead and air at a gauge pressure [Pa]."""
        lost = self.compliance * pressure
        if self.air:
            lost = lost + self.air * pressure / (self.ambient + pressure)
        return lost

    def volume(self, x: Array, load: Array) -> Array:
        """Fluid [m3] taken at finger travel `x` [m] without lash."""
        return self.sweep * (x + self.give * load) + self.hidden(self.pressure(load))

    def rise(self, slope: Array, rate: Array, pressure: Array) -> Array:
        """Rise of the fluid taken per finger travel [m2], at a load slope [N/m], pressure rate [Pa/m] and pressure."""
        rise = self.sweep * (1.0 + self.give * slope) + self.compliance * rate
        if self.air:
            rise = rise + self.air * self.ambient * rate / (self.ambient + pressure) ** 2
        return rise

"""Flow in round ducts, hoses and pipes: pressure lost along them, flow at a pressure, the next size of the trade.

Darcy's law, Δp = (f·L/D + ΣK)·ρv²/2. Friction factors, bends and entries are those of the `fluids` library (Clamond's
solution of Colebrook's equation, Rennels' correlations); a rectangular duct counts as the round one of the same
friction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

from heatsim.physics import sea_water
from heatsim.physics.openings import GRAVITY

SMALLEST = 1e-9
"""[m³/s] Below which a flow is none."""


@dataclass(frozen=True)
class Fluid:
    """Density [kg/m³], dynamic viscosity [Pa s] and specific heat [J/(kg K)]."""

    density: float
    viscosity: float
    heat: float

    def head(self, pressure: float) -> float:
        """A pressure as a column of this fluid. [m]"""
        return pressure / (self.density * GRAVITY)


AIR = Fluid(1.204, 1.82e-5, 1006.0)
"""At 20 °C and standard pressure (ASHRAE Handbook, Fundamentals, duct design, from memory)."""


def water(temperature: float, salinity: float = 0.0) -> Fluid:
    """Fresh or sea water."""
    of = float(sea_water.density(temperature, salinity))
    return Fluid(of, float(sea_water.viscosity(temperature, salinity)),
                 float(sea_water.specific_heat(temperature, salinity)))  # fmt: skip


@dataclass(frozen=True)
class Run:
    """One length of one bore: bends of 90° by their radius over the bore, and loss factors of all else."""

    fluid: Fluid
    bore: float
    length: float
    roughness: float
    bends: int = 0
    bend_radius: float = 1.0
    losses: float = 0.0

    def speed(self, flow: float) -> float:
        """Mean velocity. [m/s]"""
        return flow / (pi / 4.0 * self.bore**2)

    def gradient(self, flow: float) -> float:
        """Pressure lost along a metre of it. [Pa/m]"""
        if flow <= SMALLEST:
            return 0.0
        v = self.speed(flow)
        return self._factor(v) / self.bore * self.fluid.density * v**2 / 2.0

    def drop(self, flow: float) -> float:
        """Pressure lost along all of it. [Pa]"""
        if flow <= SMALLEST:
            return 0.0
        v = self.speed(flow)
        return self.gradient(flow) * self.length + self.factors(flow) * self.fluid.density * v**2 / 2.0

    def factors(self, flow: float) -> float:
        """Loss factors of bends and fittings together, over the velocity pressure. [-]"""
        if not self.bends:
            return self.losses
        from fluids import bend_rounded

        f = self._factor(self.speed(max(flow, SMALLEST)))
        return self.losses + self.bends * float(bend_rounded(self.bore, 90.0, fd=f, bend_diameters=self.bend_radius))

    def flow_at(self, pressure: float, extra: float = 0.0) -> float:
        """Flow that a pressure drives through it and through a loss of `extra` Pa/(m³/s)² behind it. [m³/s]"""
        if pressure <= 0.0:
            return 0.0
        from scipy.optimize import brentq

        def over(flow: float) -> float:
            return self.drop(flow) + extra * flow**2 - pressure

        most = 1e-4
        while over(most) < 0.0:
            most *= 2.0
        return float(brentq(over, 0.0, most, xtol=1e-12, rtol=1e-12))

    def _factor(self, speed: float) -> float:
        from fluids import friction_factor

        reynolds = self.fluid.density * speed * self.bore / self.fluid.viscosity
        return float(friction_factor(Re=reynolds, eD=self.roughness / self.bore))


def bore_for(flow: float, speed: float, sizes: Sequence[float]) -> float:
    """The smallest size in which a flow is no faster than `speed`, the largest where none is. [m]"""
    wanted = (4.0 * flow / (pi * speed)) ** 0.5
    return next((size for size in sizes if size >= wanted * (1.0 - 1e-9)), sizes[-1])

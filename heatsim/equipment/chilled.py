"""Central plants: chillers for the boat's largest simultaneous load, air handlers for each zone's own peak.

Air handlers control themselves, so their hourly sum is what the plant meets; their fans' heat, the pump's and what the
pipes pick up come on top. A plant is several of one chiller; its smallest stage sets the water in the loop.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from heatsim.equipment.capacity import chiller
from heatsim.equipment.catalogue import SideBySide
from heatsim.equipment.selection import Bench, Offer, pump_apparent, worth
from heatsim.scenario.terms import Terms

Array = npt.NDArray[np.float64]

PIPE_GAIN = 0.03
"""[-] Of the load that pump and pipes add (assumed)."""
MOST_CHILLERS = 4
SMALLEST_RUN = 300.0
"""[s] A chiller's smallest stage must be able to run on the loop's water alone (common practice, no source: 5 min)."""
LOOP_SWING = 5.0
"""[K] By which the loop may swing in that time (common practice, no source)."""
WATER_HEAT = 4.18e6
"""[J m⁻³ K⁻¹] Of fresh water."""


@dataclass(frozen=True)
class Plant(SideBySide):
    """Chillers side by side: how many of which, the corrected capacity of all, demand, power [W], current [A]."""

    demand: float
    capacity: float
    power: float
    current: float
    smallest_stage: float
    """Of all of them, the least steady capacity over the whole. [-]"""
    loop: float
    """Water that the loop must hold. [m³]"""
    pump: float = 0.0
    """What the sea water pump takes, where its power is not entered. [VA]"""

    @property
    def apparent(self) -> float:
        """Apparent power, the pump's included. [VA]"""
        return self.unit.apparent(self.current) + self.pump


def plant_for(bench: Bench, handlers: Sequence[Offer], terms: Terms, coil: Array | None = None) -> Plant | None:
    """The chillers of least worth that carry all air handlers' largest simultaneous load; None where none do.

    Parameters
    ----------
    handlers : air handlers chosen, one or more a zone
    coil : (case, hour) array, optional
        Load of coils for outdoor air beside them. [W]
    """
    fans = sum(o.count * o.unit.fan_power for o in handlers)
    rooms = bench.needs.total.sum(axis=-1) / (1.0 - terms.duct_gain)
    demand = (1.0 + PIPE_GAIN) * (float((rooms if coil is None else rooms + coil).max()) + fans)
    best: Plant | None = None
    for unit in bench.units:
        if unit.kind != "chiller":
            continue
        capacity, power = (float(v) for v in chiller(unit, bench.conditions(unit, 24.0, 0.01)))
        count = int(np.ceil(terms.margin * demand / max(capacity, 1.0)))
        if not 1 <= count <= MOST_CHILLERS:
            continue
        plant = Plant(
            unit, count, demand, count * capacity, count * power, count * unit.running_current * power
            / unit.compressor_power, unit.smallest_stage / count,
            unit.smallest_stage * capacity * SMALLEST_RUN / (WATER_HEAT * LOOP_SWING),
            count * pump_apparent(unit, terms),
        )  # fmt: skip
        if best is None or _worth(plant, terms) < _worth(best, terms):
            best = plant
    return best


def _worth(plant: Plant, terms: Terms) -> float:
    return worth(terms.objective, plant.cost, plant.weight, plant.power)

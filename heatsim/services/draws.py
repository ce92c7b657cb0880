"""What each unit draws: running and starting current with its phase, its pumps and fans included.

A unit's running power and current are those of the plan, at the sea and air it was chosen for. Apparent power is kept
as active and reactive part, so that currents of one conductor add as they do on board, by phase. Motors draw about
constant power: on a low voltage the current rises as the voltage falls.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import count
from math import hypot, sqrt
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from heatsim.climate.weather import routine_values
from heatsim.equipment.capacity import SEA_HEAT, rated
from heatsim.equipment.catalogue import Unit
from heatsim.equipment.chilled import WATER_HEAT
from heatsim.services.schedule import Assumed
from heatsim.services.units import PLANT, chosen

if TYPE_CHECKING:
    from heatsim.equipment.plan import Plan
    from heatsim.equipment.proof import Proof
    from heatsim.scenario.resolved import Resolved

Array = npt.NDArray[np.float64]

COMMON = "common practice, no source"
PUMP_HEAD, PUMP_EFFICIENCY, PUMP_FACTOR = 60e3, 0.25, 0.7
"""[Pa], [-], [-] Of a small sea water pump, motor included, and its power factor (assumed)."""
LOOP_HEAD, LOOP_EFFICIENCY, LOOP_RISE = 100e3, 0.35, 5.0
"""[Pa], [-], [K] Of the pump of a chilled-water loop (assumed)."""
STARTING_FACTOR = 0.4
"""[-] Power factor of a motor whose rotor stands (common practice, no source: 0.3–0.5)."""
SOFT = 0.35
"""[-] Of the starting current that a soft starter leaves (common practice, no source: 60 to 70 % less)."""
HOUSEHOLD_FACTOR = 0.95
"""[-] Power factor of lights and household (assumed)."""


@dataclass(frozen=True)
class Draw:
    """One load that starts by itself: powers and currents at its rated voltage, its pump included.

    `start` is the current of the motor alone while its rotor stands [A]; `soft` says whether a soft starter would help.
    """

    tag: str
    name: str
    zones: tuple[str, ...]
    active: float
    """[W]"""
    reactive: float
    """[var]"""
    voltage: float
    phases: int
    frequency: float
    start: float
    start_factor: float
    cooling: float
    """[W]"""
    soft: bool
    pump: float = 0.0
    """Of its active power, what its pumps take. [W]"""

    @property
    def apparent(self) -> float:
        """[VA]"""
        return hypot(self.active, self.reactive)

    @property
    def factor(self) -> float:
        """Power factor. [-]"""
        return self.active / self.apparent if self.apparent > 0.0 else 1.0

    @property
    def current(self) -> float:
        """Running current of one conductor. [A]"""
        return self.apparent / self._volts

    @property
    def starting(self) -> tuple[float, float]:
        """Active and reactive power while its rotor stands. [W], [var]"""
        apparent = self.start * self._volts
        return apparent * self.start_factor, apparent * sqrt(1.0 - self.start_factor**2)

    @property
    def step(self) -> float:
        """By how much its starting apparent power is above its running one. [VA]"""
        return max(self.start * self._volts - self.apparent, 0.0)

    @property
    def _volts(self) -> float:
        return self.voltage * (sqrt(3.0) if self.phases == 3 else 1.0)


def reactive_part(active: float, factor: float) -> float:
    """Reactive power of a load by its active power and power factor. [var]"""
    return active * sqrt(max(1.0 / factor**2 - 1.0, 0.0))


def pump_power(flow: float, head: float = PUMP_HEAD, efficiency: float = PUMP_EFFICIENCY) -> float:
    """Electrical input of a pump: hydraulic power over the efficiency of pump and motor together. [W]"""
    return flow * head / efficiency


def sea_flow(unit: Unit) -> float:
    """Sea water of a unit at its rating: as its row says, else by its heat and 5 K. [m³/s]"""
    return rated(unit).water_rate / SEA_HEAT if unit.compressor_power > 0.0 else 0.0


def sea_pump(plan: Plan, unit: Unit) -> float:
    """What a unit's share of the sea water pumps takes, of their power as entered or by its flow. [W]"""
    terms, flow = plan.resolved.terms, sea_flow(unit)
    if terms.sea_pump <= 0.0:
        return pump_power(flow * terms.water_flow)
    layout = chosen(plan)
    fed = [layout.plant] if layout.plant is not None else layout.offers
    return terms.sea_pump * flow / max(sum(one.count * sea_flow(one.unit) for one in fed), 1e-12)


def draws(plan: Plan) -> tuple[Draw, ...]:
    """Every load of the chosen layout, largest start first; air handlers of a plant run together as one.

    Parameters
    ----------
    plan : Plan
        With a chosen layout.
    """
    layout = chosen(plan)
    found: list[Draw] = []
    if layout.plant is not None:
        plant = layout.plant
        one = plant.unit
        loop = pump_power(plant.demand / plant.count / (LOOP_RISE * WATER_HEAT), LOOP_HEAD, LOOP_EFFICIENCY)
        for _ in range(plant.count):
            pumps = sea_pump(plan, one) + loop
            power, amps, cooling = (part / plant.count for part in (plant.power, plant.current, plant.capacity))
            found.append(_draw(one, (PLANT,), power, amps, cooling, pumps))
        fans = [(o.unit, o.power, o.current) for o in layout.offers]
        if layout.treated is not None:
            treated = layout.treated
            fans.append((treated.unit, treated.fan_power, treated.count * treated.unit.running_current))
        found.append(_together(fans, layout.offers[0].unit))
    else:
        for offer in layout.offers:
            for _ in range(offer.count):
                power, amps, cooling = (part / offer.count for part in (offer.power, offer.current, offer.total))
                pumps = sea_pump(plan, offer.unit)
                found.append(_draw(offer.unit, offer.covered, power, amps, cooling, pumps))
    found.sort(key=lambda draw: -draw.step)
    letters = _tags()
    return tuple(replace(draw, tag=next(letters)) for draw in found)


def assumptions(plan: Plan) -> tuple[Assumed, ...]:
    """What `draws` took where nobody said it."""
    by_flow = f"{PUMP_HEAD / 1e3:.0f} kPa at {100 * PUMP_EFFICIENCY:.0f} % with the motor, "
    found = [
        Assumed(
            "sea water pumps",
            ("" if plan.resolved.terms.sea_pump > 0.0 else by_flow) + f"power factor {PUMP_FACTOR:g}",
        ),
        Assumed("power factor of a motor that starts", f"{STARTING_FACTOR:g}", COMMON + ": 0.3–0.5"),
        Assumed("soft starter", f"leaves {100 * SOFT:.0f} % of the starting current", COMMON + ": 60–70 % less"),
    ]
    if chosen(plan).plant is not None:
        value = f"{LOOP_HEAD / 1e3:.0f} kPa at {100 * LOOP_EFFICIENCY:.0f} %, {LOOP_RISE:g} K"
        found.append(Assumed("pump of the chilled-water loop", value))
    return tuple(found)


def household(resolved: Resolved) -> Array:
    """Power of lights and equipment of the rooms at each minute of the clock, (minute,). [W]"""
    minute = np.arange(1440)
    power = np.zeros(1440)
    for zone in resolved.zones:
        if not zone.is_space:
            for gain in zone.gains:
                power += gain.power * routine_values(gain.routine, minute)
    return power


def pumping(plan: Plan, proof: Proof, run: int) -> Array:
    """Power of pumps that the proof leaves out, each while its unit runs, (time,). [W]

    It counts sea water pumps itself where their power is entered, and never the pump of a chilled-water loop.
    """
    data, layout = proof.data, chosen(plan)
    rows = np.flatnonzero(data["unit_run"].values == run)
    on = data["stage"].values[rows] > 0.0
    counted = plan.resolved.terms.sea_pump > 0.0
    if layout.plant is not None:
        whole = sum(draw.pump for draw in draws(plan)) - (plan.resolved.terms.sea_pump if counted else 0.0)
        return np.asarray(np.where(on.any(axis=0), whole, 0.0))
    units = {offer.unit.model: offer.unit for offer in layout.offers}
    each = [0.0 if counted else sea_pump(plan, units[str(model)]) for model in data["model"].values[rows]]
    return np.asarray(np.array(each) @ on)


def settled_runs(plan: Plan, proof: Proof) -> list[int]:
    """Numbers of the chosen layout's settled runs in a proof, one a day."""
    data = proof.data
    return [int(i) for i in np.flatnonzero((data["layout"] == chosen(plan).name) & (data["start"] == "settled"))]


def _draw(unit: Unit, zones: tuple[str, ...], power: float, amps: float, cooling: float, pumps: float) -> Draw:
    volt_amperes = max(unit.apparent(amps), power)
    reactive = sqrt(max(volt_amperes**2 - power**2, 0.0)) + reactive_part(pumps, PUMP_FACTOR)
    hard = unit.start_current > 1.5 * unit.running_current
    return Draw(
        "", unit.model, zones, power + pumps, reactive, unit.voltage, unit.phases, unit.frequency, unit.start_current,
        STARTING_FACTOR if hard else min(power / volt_amperes, 1.0), cooling, hard, pumps,
    )  # fmt: skip


def _together(fans: Sequence[tuple[Unit, float, float]], first: Unit) -> Draw:
    """Air handlers and fresh-air units, their fans all running."""
    active = sum(power for _, power, _ in fans)
    reactive = sum(sqrt(max(unit.apparent(amps) ** 2 - power**2, 0.0)) for unit, power, amps in fans)
    apparent = hypot(active, reactive)
    return Draw(
        "", "all air handlers", (), active, reactive, first.voltage, 1, first.frequency, apparent / first.voltage,
        active / max(apparent, 1e-9), 0.0, False,
    )  # fmt: skip


def _tags() -> Iterator[str]:
    """A, B, … Z, A1, B1, …"""
    for turn in count():
        for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ":
            yield letter + (str(turn) if turn else "")

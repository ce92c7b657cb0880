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
from heatsim.equipment.catalogue import Unit
from heatsim.scenario.courses import QUARTER
from heatsim.scenario.electrics import HOUSEHOLD_FACTOR, PUMP_FACTOR
from heatsim.services.pumps import assumed as pumps_assumed
from heatsim.services.pumps import loop_pump, sea_pumps
from heatsim.services.schedule import Assumed
from heatsim.services.units import PLANT, chosen

if TYPE_CHECKING:
    from heatsim.equipment.plan import Plan
    from heatsim.equipment.proof import Proof
    from heatsim.scenario.resolved import Resolved

Array = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

COMMON = "common practice, no source"
STARTING_FACTOR = 0.4
"""[-] Power factor of a motor whose rotor stands (common practice, no source: 0.3–0.5)."""
SOFT = 0.35
"""[-] Of the starting current that a soft starter leaves (common practice, no source: 60 to 70 % less)."""
HANDLERS = "all air handlers"
"""Name of a plant's air handlers and fresh-air units, which run together."""


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


def draws(plan: Plan) -> tuple[Draw, ...]:
    """Every load of the chosen layout, largest start first; air handlers of a plant run together as one.

    Parameters
    ----------
    plan : Plan
        With a chosen layout.
    """
    layout, pumped = chosen(plan), sea_pumps(plan)
    found: list[Draw] = []
    if layout.plant is not None:
        plant = layout.plant
        one = plant.unit
        pumps = pumped[PLANT,] + loop_pump(plan) / plant.count
        for _ in range(plant.count):
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
                pumps = pumped.get(tuple(offer.covered), 0.0)
                found.append(_draw(offer.unit, offer.covered, power, amps, cooling, pumps))
    found.sort(key=lambda draw: -draw.step)
    letters = _tags()
    return tuple(replace(draw, tag=next(letters)) for draw in found)


def assumptions(plan: Plan) -> tuple[Assumed, ...]:
    """What `draws` took where nobody said it."""
    return (
        *pumps_assumed(plan),
        Assumed("power factor of a motor that starts", f"{STARTING_FACTOR:g}", COMMON + ": 0.3–0.5"),
        Assumed("soft starter", f"leaves {100 * SOFT:.0f} % of the starting current", COMMON + ": 60–70 % less"),
    )


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
    if counted:
        return np.zeros(on.shape[1])
    every = draws(plan)
    each = [np.mean([draw.pump for draw in every if draw.name == str(model)]) for model in data["model"].values[rows]]
    return np.asarray(np.array(each) @ on)


def by_quarters(plan: Plan, proof: Proof, run: int) -> Complex:
    """Active and reactive power aboard over the clock day of a run, in means of a quarter of an hour, (quarter,). [VA]

    Complex: units with their pumps at the phase of all of them together, and the household by its own routines where
    the file does not say what it takes.
    """
    found, data, given = draws(plan), proof.data, plan.resolved.power.other_load
    ratio = sum(draw.reactive for draw in found) / max(sum(draw.active for draw in found), 1e-9)
    units = (data["power"].values[run] + pumping(plan, proof, run)) * complex(1.0, ratio)
    step = float(data.attrs["step"])
    minute = (np.arange(len(units)) * step / 60.0 + float(data["start_minute"].values[run])).astype(int) % 1440
    rest = household(plan.resolved)[minute] if given is None else np.full(len(minute), given)
    whole = units + rest * complex(1.0, reactive_part(1.0, HOUSEHOLD_FACTOR))
    order = np.argsort(minute, kind="stable")
    return np.asarray(whole[order].reshape(1440 // QUARTER, -1).mean(axis=1))


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
        "", HANDLERS, (), active, reactive, first.voltage, 1, first.frequency, apparent / first.voltage,
        active / max(apparent, 1e-9), 0.0, False,
    )  # fmt: skip


def _tags() -> Iterator[str]:
    """A, B, … Z, A1, B1, …"""
    for turn in count():
        for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ":
            yield letter + (str(turn) if turn else "")

"""Outdoor air treated in coils of its own, over the days of a proof: what it takes off rooms and puts on the plant.

Its flow follows its routines and its coils stand at the plant's water all day, so their course over a day is known
beforehand; rooms get air that is cooler and drier than outdoors by so much.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from heatsim.climate.weather import routine_values
from heatsim.equipment.baked import DesignDays
from heatsim.equipment.capacity import Conditions, water_coil
from heatsim.equipment.fresh_air import Treated
from heatsim.equipment.layouts import Layout
from heatsim.physics.coil import WATER_HEAT
from heatsim.physics.moist_air import EVAPORATION, VAPOUR_HEAT
from heatsim.scenario.resolved import OUTDOORS

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

LEAST = 1e-3
"""[-] Of a unit's rated flow below which it stands still."""


@dataclass(frozen=True)
class TreatedAir:
    """Courses over the clock day: `heat` [W] and `vapour` [kg/s] brought to rooms (run, step, zone), negative; of the
    coils (run, step) their heat, fans, enthalpy of the vapour [W], condensate [kg/s], its enthalpy [W], current [A]."""

    heat: Array
    vapour: Array
    coil: Array
    fan: Array
    vapour_heat: Array
    drained: Array
    drained_heat: Array
    current: Array

    def at(self, clock: Indices) -> tuple[Array, Array, Array]:
        """Heat and vapour to rooms and heat to the plant of every run at its step of the clock (run,)."""
        runs = np.arange(len(clock))
        return self.heat[runs, clock], self.vapour[runs, clock], self.coil[runs, clock]


def treated_air(days: DesignDays, layouts: Sequence[Layout], which: Indices) -> TreatedAir:
    """Courses of every run; zero where its layout treats no air apart.

    Parameters
    ----------
    layouts, which : layout and day of each run
    """
    runs, steps, zones = len(layouts), days.steps, len(days.line.zones)
    to_rooms, of_coils = np.zeros((2, runs, steps, zones)), np.zeros((6, runs, steps))
    share = _flows(days)
    for run, (layout, day) in enumerate(zip(layouts, which, strict=True)):
        if layout.treated is not None and share.any():
            to_rooms[:, run], of_coils[:, run] = _courses(days, layout.treated, int(day), share)
    return TreatedAir(*to_rooms, *of_coils)


def _flows(days: DesignDays) -> Array:
    """Outdoor air supplied on purpose to each zone over the clock day, (step, zone). [m³/s]"""
    minute = np.arange(days.steps) * 1440 // days.steps
    flows = np.zeros((days.steps, len(days.line.zones)))
    for flow in days.resolved.flows:
        if flow.kind == "fresh_air" and flow.source == OUTDOORS and flow.target in days.line.zones:
            flows[:, days.line.zones.index(flow.target)] += flow.rate * routine_values(flow.routine, minute)
    return flows


def _courses(days: DesignDays, treated: Treated, day: int, flows: Array) -> tuple[Array, Array]:
    """To rooms (2, step, zone) and of the coils (6, step) on one day."""
    weather = days.weathers[day]
    fine = days.steps // len(weather.time)
    T, w = (np.repeat(part.mean(axis=0), fine) for part in (weather.air, weather.humidity_ratio))
    whole = flows.sum(axis=1)
    part = whole / treated.count / treated.unit.airflow
    met = Conditions(T, w, 0.0, airflow=np.maximum(part, LEAST), pressure=weather.pressure)
    done = water_coil(treated.unit, met, treated.unit.rating.water)
    count = np.where(part > LEAST, float(treated.count), 0.0)
    fan, condensate = count * done.fan_power, count * done.condensate
    by_zone = flows / np.maximum(whole, 1e-9)[:, None]
    to_rooms = -np.stack([(count * done.sensible)[:, None] * by_zone, condensate[:, None] * by_zone])
    vapour = condensate * (EVAPORATION + VAPOUR_HEAT * done.leaving_temperature)
    current = fan / max(treated.unit.fan_power, 1.0) * treated.unit.running_current
    return to_rooms, np.stack(
        [count * done.coil_heat, fan, vapour, condensate, condensate * WATER_HEAT * done.surface, current]
    )

"""What units do over all entering air at the sea of the day, tabulated once and looked up for many units at once.

`capacity.operate` and `capacity.water_coil` solve a unit at its conditions; minute by minute for hundreds of units that
would take hours. Their answers lie here on a grid of temperature, humidity ratio and speed, straight in between. Close
to where a unit trips, its capacity is carried on from the side on which it still runs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.equipment.capacity import Conditions, operate, rated_ratio, water_coil
from heatsim.equipment.catalogue import Unit
from heatsim.physics import moist_air
from heatsim.scenario.terms import Terms

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

TEMPERATURES = np.arange(9.0, 69.1, 1.5)
"""[°C] Entering air; a closed galley or wheelhouse in the sun reaches 55 to 66."""
RATIOS = np.arange(0.002, 0.0371, 0.00125)
"""[kg/kg] Entering air."""
SPEEDS = 6
"""Of a unit that follows the load, from its smallest stage to full."""


class Operating(NamedTuple):
    """What each unit does with its coil in work (unit,): the air it moves and what it takes off it, steadily.

    `sensible` counts the coil alone, `fan` is its fan's heat and power, `thirst` how much vapour the air could take up
    over a wet surface: humidity ratio at its wet bulb less its own.
    """

    sensible: Array
    condensate: Array
    power: Array
    fan: Array
    flow: Array
    surface: Array
    leaving: Array
    thirst: Array
    tripped: npt.NDArray[np.bool_]


class Kind(NamedTuple):
    """One unit at one sea temperature. [°C]"""

    unit: Unit
    sea: float


@dataclass(frozen=True)
class Surfaces:
    """Tables of several kinds, and how much water each one's coil holds.

    `values` (kind, speed, temperature, humidity ratio, column); `smallest` (kind,) the smallest steady stage, 1 for
    on-off. `rated_condensate` [kg/s] and `rated_thirst` [kg/kg] (kind,) are those of the rating point.
    """

    kinds: tuple[Kind, ...]
    values: Array
    smallest: Array
    rated_condensate: Array
    rated_thirst: Array

    def look_up(self, kind: Indices, stage: Array, temperature: Array, humidity_ratio: Array) -> Operating:
        """What units do at a stage with this entering air, all (unit,); beyond the grid's ends as at its ends."""
        smallest = self.smallest[kind]
        span = np.maximum(1.0 - smallest, 1e-9)
        speed, a = _between((np.maximum(stage, smallest) - smallest) / span * (SPEEDS - 1), SPEEDS)
        warm, b = _between((temperature - TEMPERATURES[0]) / (TEMPERATURES[1] - TEMPERATURES[0]), len(TEMPERATURES))
        moist, c = _between((humidity_ratio - RATIOS[0]) / (RATIOS[1] - RATIOS[0]), len(RATIOS))
        width = self.values.shape[1:-1]
        base = ((kind * width[0] + speed) * width[1] + warm) * width[2] + moist
        steps = np.array([0, 1, width[2], width[2] + 1])
        corners = np.concatenate([steps, steps + width[1] * width[2]])
        x, y, z = (np.array([1.0 - part, part]) for part in (a, b, c))
        weights = (x[:, None, None] * y[:, None] * z).reshape(8, -1)
        values = self.values.reshape(-1, self.values.shape[-1])[base[:, None] + corners]
        found = np.einsum("cu,ucv->uv", weights, values)
        running = np.maximum(1.0 - found[:, 8], 1e-9)
        out = found.T
        return Operating(
            out[0] / running, out[1] / running, out[2] / running, out[3], out[4], out[5], out[6] / running, out[7],
            out[8] >= 0.5,
        )  # fmt: skip


def _between(place: Array, points: int) -> tuple[Indices, Array]:
    """The grid point below, and the share of the one above."""
    place = np.minimum(np.maximum(place, 0.0), points - 1)  # np.clip takes four times as long
    below = np.minimum(place.astype(np.int64), points - 2)
    return below, place - below


def surfaces(kinds: Sequence[Kind], terms: Terms, pressure: float = moist_air.STANDARD_PRESSURE) -> Surfaces:
    """Tabulate units at the water, fouling and frequency aboard.

    Parameters
    ----------
    kinds : sequence of Kind
    terms : Terms
        Fouling, water flow and frequency aboard.
    pressure : float
        [Pa]
    """
    smallest = np.array([kind.unit.smallest_stage for kind in kinds])
    aboard = terms.water_flow, terms.fouling, terms.frequency
    values = np.empty((len(kinds), SPEEDS, len(TEMPERATURES), len(RATIOS), 9))
    for i, kind in enumerate(kinds):
        values[i] = _table(kind, *aboard, pressure)
    rated = np.array([_at_rating(kind.unit) for kind in kinds]).reshape(-1, 2).T
    return Surfaces(tuple(kinds), values, smallest, rated[0], rated[1])


@lru_cache(maxsize=128)
def _table(kind: Kind, water_flow: float, fouled: float, frequency: float, pressure: float) -> Array:
    """One unit's columns over the grid; where it trips, zero but for the flag, the fan and the surface."""
    unit = kind.unit
    T, w = np.meshgrid(TEMPERATURES, RATIOS, indexing="ij")
    stages = np.linspace(unit.smallest_stage, 1.0, SPEEDS) if unit.smallest_stage < 1.0 else np.ones(1)
    stage = stages[:, None, None]
    if unit.compressor_power > 0.0:
        met = Conditions(
            T, w, kind.sea, water_flow=water_flow, fouled=fouled, speed=stage * frequency / unit.frequency,
            pressure=pressure,
        )  # fmt: skip
        done = operate(unit, met)
        airflow = np.ones_like(stage)
    else:
        done = water_coil(unit, Conditions(T, w, kind.sea, airflow=stage, pressure=pressure), unit.rating.water)
        airflow = stage
    density = moist_air.dry_air_density(T, w, pressure)
    runs = np.where(done.tripped, 0.0, 1.0)
    shape = done.total.shape
    columns = (
        (done.sensible + done.fan_power) * runs, done.condensate * runs, done.compressor_power * runs, done.fan_power,
        unit.airflow * unit.air_share * airflow * density, done.surface, done.leaving_temperature * runs,
        _thirst(T, w, pressure), 1.0 - runs,
    )  # fmt: skip
    return np.stack([np.broadcast_to(column, shape) for column in columns], axis=-1)


@lru_cache(maxsize=128)
def _at_rating(unit: Unit) -> tuple[float, float]:
    """Condensate [kg/s] and thirst of the entering air [kg/kg] at a unit's rating point."""
    point = unit.rating
    ratio = rated_ratio(unit)
    met = Conditions(point.dry_bulb, ratio, point.water)
    done = operate(unit, met) if unit.compressor_power > 0.0 else water_coil(unit, met, point.water)
    return float(done.condensate), float(_thirst(np.array(point.dry_bulb), np.array(ratio), met.pressure))


def _thirst(temperature: Array, ratio: Array, pressure: float) -> Array:
    """Vapour that air could take up over a wet surface at its wet bulb, none where it is a fog. [kg/kg]"""
    saturated = moist_air.humidity_ratio(temperature, 1.0, pressure)
    wet = moist_air.wet_bulb(temperature, np.minimum(ratio, saturated), pressure)
    return np.maximum(moist_air.humidity_ratio(wet, 1.0, pressure) - ratio, 0.0)

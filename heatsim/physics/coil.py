"""A cooling coil by its apparatus dew point and bypass factor.

Air leaves as a mixture of what passes untouched and what comes to saturation at the coil's apparatus dew point; with a
surface drier than the air's dew point it is only cooled. Source: ASHRAE Fundamentals 2017, ch. 1 (mixing on the
psychrometric chart, from memory); McQuiston, Parker and Spitler, Heating, Ventilating and Air Conditioning, 6th ed.,
section 3-6 (bypass factor, from memory). The bypass factor is exp(−UA/(ṁ c)), so it follows the air flow.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.physics import moist_air
from heatsim.physics.moist_air import DRY_AIR_HEAT, EVAPORATION, VAPOUR_HEAT

Array = npt.NDArray[np.float64]
Scalars = Any  # float or array, broadcast together

WATER_HEAT = 4186.0
"""[J kg⁻¹ K⁻¹] Of condensate (textbook, 15 °C)."""
COLDEST = -20.0
"""[°C] Below this no coil of an air conditioner works."""
ROUNDS, BISECTIONS, FOG_STEPS = 6, 50, 2


class Leaving(NamedTuple):
    """Air behind a coil: temperature [°C] and humidity ratio [kg/kg]."""

    temperature: Array
    humidity_ratio: Array


class Apparatus(NamedTuple):
    """Apparatus dew point [°C] and bypass factor [-]; NaN where no coil can do what is asked."""

    dew_point: float
    bypass: float


def leaving(
    temperature: Scalars, humidity_ratio: Scalars, surface: Scalars, bypass: Scalars,
    pressure: float = moist_air.STANDARD_PRESSURE,
) -> Leaving:  # fmt: skip
    """Air behind a coil.

    Parameters
    ----------
    temperature, humidity_ratio : float or array
        Of the entering air. [°C], [kg/kg]
    surface : float or array
        Apparatus dew point. [°C]
    bypass : float or array
        Bypass factor. [-]

    Returns
    -------
    Leaving
        Where very humid air would come out as fog, the droplets are taken as caught: saturated at the same enthalpy.
    """
    reached = np.minimum(moist_air.humidity_ratio(surface, 1.0, pressure), humidity_ratio)
    mixed = np.asarray(surface + bypass * (temperature - surface))
    ratio = np.asarray(reached + bypass * (humidity_ratio - reached))
    for _ in range(FOG_STEPS):
        saturated = moist_air.humidity_ratio(mixed, 1.0, pressure)
        warmer = moist_air.humidity_ratio(mixed + 0.01, 1.0, pressure)
        fog = np.maximum(ratio - saturated, 0.0)
        rise = fog * EVAPORATION / (DRY_AIR_HEAT + EVAPORATION * (warmer - saturated) / 0.01)
        mixed, ratio = mixed + rise, ratio - rise * DRY_AIR_HEAT / EVAPORATION
    return Leaving(mixed, ratio)


def heat(temperature: Scalars, humidity_ratio: Scalars, behind: Leaving, surface: Scalars) -> tuple[Array, Array]:
    """What a coil takes off each kilogram of dry air: heat in all, and sensible heat of the air. [J/kg]

    The condensate leaves at the apparatus dew point and takes its own enthalpy along, which the coil need not remove.
    """
    condensed = humidity_ratio - behind.humidity_ratio
    whole = (
        moist_air.enthalpy(temperature, humidity_ratio)
        - moist_air.enthalpy(behind.temperature, behind.humidity_ratio)
        - condensed * WATER_HEAT * surface
    )
    sensible = (DRY_AIR_HEAT + VAPOUR_HEAT * humidity_ratio) * (temperature - behind.temperature)
    return np.asarray(whole), np.asarray(sensible)


def apparatus(
    temperature: float, humidity_ratio: float, flow: float, total: float, sensible: float,
    pressure: float = moist_air.STANDARD_PRESSURE,
) -> Apparatus:  # fmt: skip
    """Apparatus dew point and bypass factor of a coil from one rating point.

    Parameters
    ----------
    temperature, humidity_ratio : float
        Of the entering air. [°C], [kg/kg]
    flow : float
        Dry air. [kg/s]
    total, sensible : float
        Heat taken off the air. [W]

    Returns
    -------
    Apparatus
        Where the line from the entering through the leaving state meets saturation; NaN where it does not.
    """
    behind = temperature - sensible / flow / (DRY_AIR_HEAT + VAPOUR_HEAT * humidity_ratio)
    left = float(moist_air.enthalpy(temperature, humidity_ratio)) - total / flow
    surface = behind - 3.0
    for _ in range(ROUNDS):  # the condensate's own enthalpy hangs on the answer, by a hundredth of the whole
        drained = WATER_HEAT * surface
        ratio = (left - DRY_AIR_HEAT * behind - humidity_ratio * drained) / (
            EVAPORATION + VAPOUR_HEAT * behind - drained
        )
        surface = _meets_saturation(temperature, humidity_ratio, behind, ratio, pressure)
        if np.isnan(surface):
            return Apparatus(np.nan, np.nan)
    return Apparatus(surface, (behind - surface) / (temperature - surface))


def _meets_saturation(temperature: float, ratio: float, behind: float, ratio_behind: float, pressure: float) -> float:
    """Where the line through the entering and the leaving state meets saturation. [°C]"""
    saturated = float(moist_air.humidity_ratio(behind, 1.0, pressure))
    if not (behind < temperature and 0.0 < ratio_behind < min(ratio, saturated)):
        return np.nan
    slope = (ratio - ratio_behind) / (temperature - behind)
    courses = np.linspace(behind, COLDEST, 400)
    above = ratio - slope * (temperature - courses) - moist_air.humidity_ratio(courses, 1.0, pressure)
    crossed = np.flatnonzero(above >= 0.0)
    if len(crossed) == 0:
        return np.nan
    low, high = float(courses[crossed[0]]), float(courses[crossed[0] - 1])
    for _ in range(BISECTIONS):
        middle = (low + high) / 2.0
        line = ratio - slope * (temperature - middle)
        low, high = (middle, high) if line >= moist_air.humidity_ratio(middle, 1.0, pressure) else (low, middle)
    return low

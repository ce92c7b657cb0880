"""Moist air: saturation, humidity ratio, dew point, wet bulb, enthalpy and density.

Perfect-gas relations of the handbook (ASHRAE Fundamentals 2017, ch. 1), without the enhancement factor. Temperatures
in °C, pressures in Pa, humidity ratios in kg of vapour per kg of dry air. Valid from −100 to 200 °C.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Scalars = Any  # float or array, broadcast together

ZERO_CELSIUS = 273.15
TRIPLE_POINT = 0.01
"""[°C] Above it saturation is over water, below over ice."""
MOLAR_RATIO = 0.621945
"""[-] Water over dry air (ASHRAE Fundamentals 2017, ch. 1, eq. 20)."""
GAS_CONSTANT = 287.042
"""[J/(kg·K)] Of dry air (ibid., eq. 1)."""
STANDARD_PRESSURE = 101325.0
DRY_AIR_HEAT, VAPOUR_HEAT = 1006.0, 1860.0
"""[J/(kg·K)] Of dry air and of vapour (ibid., eq. 30)."""
EVAPORATION = 2.501e6
"""[J/kg] Latent heat of water at 0 °C, the reference state of moist-air enthalpy (ibid., eq. 30)."""

OVER_ICE = (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019)
OVER_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)
"""Constants C1–C7 and C8–C13 of ibid., eqs. 5 and 6 (Hyland and Wexler 1983), with the unused quartic term 0."""

_NEWTON_STEPS = 60
_SETTLED = 1e-11  # K: far below any sensor, far above round-off of 300 K


def standard_pressure(altitude: Scalars) -> Array:
    """Pressure of the standard atmosphere. [Pa]

    Parameters
    ----------
    altitude : float or array
        Height above sea level, −5000 to 11 000. [m]

    References
    ----------
    .. [1] ASHRAE Fundamentals 2017, ch. 1, eq. 3.
    """
    return np.asarray(STANDARD_PRESSURE * (1.0 - 2.25577e-5 * np.asarray(altitude, dtype=float)) ** 5.2559)


def saturation_pressure(temperature: Scalars) -> Array:
    """Pressure of saturated vapour, over ice below the triple point and over water above it. [Pa]

    Parameters
    ----------
    temperature : float or array
        Temperature. [°C]

    References
    ----------
    .. [1] ASHRAE Fundamentals 2017, ch. 1, eqs. 5 and 6.
    """
    return np.asarray(np.exp(_by_phase(_logarithm, np.asarray(temperature, dtype=float))))


def humidity_ratio_of_vapour(vapour_pressure: Scalars, pressure: Scalars = STANDARD_PRESSURE) -> Array:
    """Humidity ratio by partial pressure of the vapour. [kg/kg]"""
    return np.asarray(MOLAR_RATIO * vapour_pressure / (pressure - vapour_pressure))


def vapour_pressure(humidity_ratio: Scalars, pressure: Scalars = STANDARD_PRESSURE) -> Array:
    """Partial pressure of the vapour by humidity ratio. [Pa]"""
    return np.asarray(pressure * humidity_ratio / (MOLAR_RATIO + humidity_ratio))


def humidity_ratio_from_dew_point(dew_point: Scalars, pressure: Scalars = STANDARD_PRESSURE) -> Array:
    """Humidity ratio of air with the given dew point. [kg/kg]"""
    return humidity_ratio_of_vapour(saturation_pressure(dew_point), pressure)


def humidity_ratio_from_wet_bulb(temperature: Scalars, wet: Scalars, pressure: Scalars = STANDARD_PRESSURE) -> Array:
    """Humidity ratio by dry bulb and thermodynamic wet bulb. [kg/kg]

    References
    ----------
    .. [1] ASHRAE Fundamentals 2017, ch. 1, eqs. 33 (above freezing) and 35 (over ice).
    """
    dry, wet = np.asarray(temperature, dtype=float), np.asarray(wet, dtype=float)
    saturated = humidity_ratio_from_dew_point(wet, pressure)
    above = ((2501.0 - 2.326 * wet) * saturated - 1.006 * (dry - wet)) / (2501.0 + 1.86 * dry - 4.186 * wet)
    ice = ((2830.0 - 0.24 * wet) * saturated - 1.006 * (dry - wet)) / (2830.0 + 1.86 * dry - 2.1 * wet)
    return np.asarray(np.where(wet >= 0.0, above, ice))


def humidity_ratio(temperature: Scalars, relative_humidity: Scalars, pressure: Scalars = STANDARD_PRESSURE) -> Array:
    """Humidity ratio by temperature and relative humidity (0–1). [kg/kg]"""
    return humidity_ratio_of_vapour(relative_humidity * saturation_pressure(temperature), pressure)


def relative_humidity(temperature: Scalars, ratio: Scalars, pressure: Scalars = STANDARD_PRESSURE) -> Array:
    """Relative humidity (0–1) by temperature and humidity ratio; above 1 where the ratio is above saturation."""
    return np.asarray(vapour_pressure(ratio, pressure) / saturation_pressure(temperature))


def dew_point(ratio: Scalars, pressure: Scalars = STANDARD_PRESSURE) -> Array:
    """Dew or frost point: the temperature at which the vapour is saturated. [°C]

    Newton's method on the logarithm of the saturation pressure, which is nearly straight in 1/T. Dry air has none and
    gives −100 °C, the foot of the formula's range.
    """
    target = np.log(np.maximum(vapour_pressure(ratio, pressure), float(saturation_pressure(-100.0))))
    x = np.clip((target - 6.4) / 0.065, -100.0, 200.0)
    for _ in range(_NEWTON_STEPS):
        logarithm, slope = _by_phase(_logarithm, x), _by_phase(_slope, x)
        step = (logarithm - target) / slope
        x = np.clip(x - step, -100.0, 200.0)
        if np.max(np.abs(step), initial=0.0) < _SETTLED:
            break
    return np.asarray(x)


def wet_bulb(temperature: Scalars, ratio: Scalars, pressure: Scalars = STANDARD_PRESSURE) -> Array:
    """Thermodynamic wet-bulb temperature. [°C]

    Found by halving between dew point and dry bulb: 60 halvings of any span end at round-off.

    References
    ----------
    .. [1] ASHRAE Fundamentals 2017, ch. 1, eqs. 33 (above freezing) and 35 (over ice).
    """
    dry, w, p = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in (temperature, ratio, pressure)))
    low, high = np.minimum(dew_point(w, p), dry), np.array(dry, dtype=float)
    for _ in range(_NEWTON_STEPS):
        middle = 0.5 * (low + high)
        too_warm = humidity_ratio_from_wet_bulb(dry, middle, p) > w
        low, high = np.where(too_warm, low, middle), np.where(too_warm, middle, high)
    return np.asarray(0.5 * (low + high))


def enthalpy(temperature: Scalars, ratio: Scalars) -> Array:
    """Enthalpy of moist air per kg of dry air, above dry air and liquid water at 0 °C. [J/kg]

    References
    ----------
    .. [1] ASHRAE Fundamentals 2017, ch. 1, eq. 30.
    """
    return np.asarray(DRY_AIR_HEAT * temperature + ratio * (EVAPORATION + VAPOUR_HEAT * temperature))


def density(temperature: Scalars, ratio: Scalars, pressure: Scalars = STANDARD_PRESSURE) -> Array:
    """Mass of moist air (dry air and vapour) per volume. [kg/m³]

    References
    ----------
    .. [1] ASHRAE Fundamentals 2017, ch. 1, eqs. 26 and 27.
    """
    return np.asarray((1.0 + np.asarray(ratio, dtype=float)) * dry_air_density(temperature, ratio, pressure))


def dry_air_density(temperature: Scalars, ratio: Scalars, pressure: Scalars = STANDARD_PRESSURE) -> Array:
    """Mass of dry air per volume of moist air: what a stream carries heat and moisture by. [kg/m³]

    References
    ----------
    .. [1] ASHRAE Fundamentals 2017, ch. 1, eq. 26.
    """
    kelvin = np.asarray(temperature, dtype=float) + ZERO_CELSIUS
    return np.asarray(pressure / (GAS_CONSTANT * kelvin * (1.0 + np.asarray(ratio, dtype=float) / MOLAR_RATIO)))


def _by_phase(law: Callable[[tuple[float, ...], Array], Array], temperature: Array) -> Array:
    """A law of the saturation pressure over water, and over ice where it is that cold."""
    over_water, ice = law(OVER_WATER, temperature + ZERO_CELSIUS), temperature <= TRIPLE_POINT
    return np.where(ice, law(OVER_ICE, temperature + ZERO_CELSIUS), over_water) if ice.any() else over_water


def _logarithm(constants: tuple[float, ...], kelvin: Array) -> Array:
    """Natural logarithm of the saturation pressure. [-]"""
    c1, c2, c3, c4, c5, c6, c7 = constants
    powers = kelvin * (c3 + kelvin * (c4 + kelvin * (c5 + kelvin * c6)))
    return np.asarray(c1 / kelvin + c2 + powers + c7 * np.log(kelvin))


def _slope(constants: tuple[float, ...], kelvin: Array) -> Array:
    """Slope of the logarithm with temperature. [1/K]"""
    c1, _, c3, c4, c5, c6, c7 = constants
    return np.asarray(-c1 / kelvin**2 + c3 + kelvin * (2 * c4 + kelvin * (3 * c5 + kelvin * 4 * c6)) + c7 / kelvin)

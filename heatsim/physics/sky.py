"""The sky's long-wave radiation, as the temperature of a black sky.

Clear skies by dew point, clouds by their share and height: Martin and Berdahl, Characteristics of infrared sky
radiation in the United States, Solar Energy 33, 1984, 321–336 (from memory). Fitted for dew points from −20 to 30 °C.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from heatsim.physics.films import STEFAN_BOLTZMANN, ZERO_CELSIUS

Array = npt.NDArray[np.float64]
Scalars = Any  # float or array, broadcast together

CLOUD_BASE = 1000.0
"""[m] Fair-weather cumulus over the sea (common practice, no source)."""
CLOUD_SCALE = 8200.0
"""[m] Height over which a cloud's effect falls to 1/e (Martin and Berdahl 1984)."""


def clear_sky_emissivity(dew_point: Scalars, pressure: Scalars = 1.0e5) -> Array:
    """Emissivity of a cloudless sky, mean of day and night.

    Parameters
    ----------
    dew_point : float or array
        At the ground. [°C]
    pressure : float or array
        At the ground. [Pa]

    References
    ----------
    .. [1] Berdahl and Martin, Emissivity of clear skies, Solar Energy 32, 1984, 663–664 (from memory). The course
       over the day, ±0.013, is left out.
    """
    hundredth = np.asarray(dew_point, dtype=float) / 100.0
    return np.asarray(0.711 + 0.56 * hundredth + 0.73 * hundredth**2 + 1.2e-6 * (pressure - 1.0e5))


def cloudy_sky_emissivity(clear: Scalars, cloud_share: Scalars, cloud_base: float = CLOUD_BASE) -> Array:
    """Emissivity of a sky of which a share is covered by opaque cloud.

    References
    ----------
    .. [1] Martin and Berdahl 1984, eq. 3: ε = ε₀ + (1 − ε₀) n exp(−h / 8.2 km) (from memory).
    """
    return np.asarray(clear + (1.0 - clear) * cloud_share * np.exp(-cloud_base / CLOUD_SCALE))


def sky_temperature(air_temperature: Scalars, emissivity: Scalars) -> Array:
    """Temperature of a black sky that radiates as much as air of the given emissivity. [°C]"""
    kelvin = np.asarray(air_temperature, dtype=float) + ZERO_CELSIUS
    return np.asarray(kelvin * np.asarray(emissivity, dtype=float) ** 0.25 - ZERO_CELSIUS)


def sky_temperature_of_radiation(infrared: Scalars) -> Array:
    """Temperature of a black sky by its measured radiation on a horizontal plane [W/m²]. [°C]"""
    return np.asarray((np.asarray(infrared, dtype=float) / STEFAN_BOLTZMANN) ** 0.25 - ZERO_CELSIUS)

"""Where the sun stands and how strong it shines through a cloudless sky, by pvlib, with arrays in and out."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.physics import moist_air

Array = npt.NDArray[np.float64]
Times = npt.NDArray[np.datetime64]


class SunPosition(NamedTuple):
    """Arrays over time: apparent zenith and azimuth [°], solar time of day, 0–24 [h]."""

    zenith: Array
    azimuth: Array
    solar_hour: Array


def sun_position(times: Times, latitude: float, longitude: float) -> SunPosition:
    """Apparent position of the sun, refracted by standard air; within 0.02° of zenith of the exact algorithm.

    Parameters
    ----------
    times : (time,) array of datetime64
        UTC.
    latitude, longitude : float
        North and east positive. [°]
    """
    import pandas as pd
    from pvlib.solarposition import ephemeris

    table = ephemeris(pd.DatetimeIndex(times, tz="UTC"), latitude, longitude)
    return SunPosition(
        table["apparent_zenith"].to_numpy(float), table["azimuth"].to_numpy(float), table["solar_time"].to_numpy(float)
    )


@lru_cache(maxsize=64)
def turbidity(latitude: float, longitude: float) -> tuple[float, ...]:
    """Linke turbidity of the twelve months at a place, from the map that pvlib carries. [-]"""
    import pandas as pd
    from pvlib.clearsky import lookup_linke_turbidity

    middles = pd.DatetimeIndex([f"2025-{month:02d}-15" for month in range(1, 13)], tz="UTC")
    values = lookup_linke_turbidity(middles, latitude, (longitude + 180.0) % 360.0 - 180.0, interp_turbidity=False)
    return tuple(map(float, values))


def extraterrestrial(times: Times) -> Array:
    """Beam outside the atmosphere, by the day of the year. [W/m²]"""
    from pvlib.irradiance import get_extra_radiation

    days = (times.astype("datetime64[D]") - times.astype("datetime64[Y]")).astype(float) + 1.0
    return np.asarray(get_extra_radiation(days, method="spencer"), dtype=float)


def air_mass(zenith: Array, altitude: float) -> Array:
    """Absolute air mass by apparent zenith (Kasten and Young 1989) [-]; NaN below the horizon."""
    from pvlib.atmosphere import get_absolute_airmass, get_relative_airmass

    relative = get_relative_airmass(zenith, model="kastenyoung1989")
    return np.asarray(get_absolute_airmass(relative, float(moist_air.standard_pressure(altitude))), dtype=float)


def clear_sky(sun: SunPosition, times: Times, linke: float, altitude: float) -> tuple[Array, Array]:
    """Beam and sky light of a cloudless sky; zero below the horizon.

    Parameters
    ----------
    sun : SunPosition
    times : (time,) array of datetime64
        UTC.
    linke : float
        Turbidity. [-]
    altitude : float
        [m]

    Returns
    -------
    dni, dhi : (time,) arrays
        [W/m²]
    """
    from pvlib.clearsky import ineichen

    up = sun.zenith < 90.0
    dni, dhi = np.zeros(len(up)), np.zeros(len(up))
    if up.any():
        zenith = sun.zenith[up]
        model = ineichen(
            zenith, air_mass(zenith, altitude), linke, altitude, extraterrestrial(times[up]), perez_enhancement=False
        )
        dni[up], dhi[up] = model["dni"], model["dhi"]
    return np.maximum(dni, 0.0), np.maximum(dhi, 0.0)

"""Design and typical days: 24 hours that close on themselves, from a maximum, a range, a dew point and a clear sky.

Sources: ASHRAE Fundamentals 2017, ch. 14 (course of the dry bulb over the day, in solar time; from memory); Ineichen
and Perez, A new airmass independent formulation for the Linke turbidity coefficient, Solar Energy 73, 2002 (clear sky,
with the monthly turbidity map of pvlib); FAO Irrigation and Drainage Paper 56, 1998, eqs. 35 and 37 (sunshine and
global sun; from memory).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from heatsim.climate import position
from heatsim.climate.weather import DAY, Weather, clock, edges, local_midnight, local_minutes
from heatsim.physics import moist_air, sky
from heatsim.scenario.resolved import Day, Place, Resolved

Array = npt.NDArray[np.float64]
Times = npt.NDArray[np.datetime64]

RANGE_FRACTIONS = np.array([
    0.88, 0.92, 0.95, 0.98, 1.00, 0.98, 0.91, 0.74, 0.55, 0.38, 0.23, 0.13,
    0.05, 0.00, 0.00, 0.06, 0.14, 0.24, 0.39, 0.50, 0.59, 0.68, 0.75, 0.82,
])  # fmt: skip
"""[-] Share of the daily range below the maximum at solar hours 1 to 24 (ASHRAE Fundamentals 2009 and later, ch. 14;
from memory)."""
OVERCAST_SHARE = 1.0 / 3.0
"""[-] Global sun under an unbroken overcast over that of a clear sky: 0.25 ÷ 0.75, FAO 56 eqs. 35 and 37."""


def design_weather(resolved: Resolved, day: Day, step: float = 300.0) -> Weather:
    """The 24 hours from local midnight of one design or typical day.

    Dry bulb runs straight between the hourly values of the published profile, which is read in solar time; the dew
    point holds all day, except that air colder than it is saturated; wind and sea hold all day.

    Parameters
    ----------
    resolved : Resolved
        Gives the place.
    day : Day
        One of `resolved.days`, or any other.
    step : float
        Length of a step; divides the day. [s]

    Returns
    -------
    Weather
        86400 ÷ `step` steps.
    """
    place = resolved.place
    midnight, offset = local_midnight(day.date, clock(place.timezone))
    moments = midnight + (np.arange(round(DAY / step) + 1) * round(step)).astype("timedelta64[s]")
    pressure = float(moist_air.standard_pressure(place.altitude))
    sun = position.sun_position(moments, place.latitude, place.longitude)
    dni, dhi, ghi = day_radiation(place, day, moments, sun)
    air = day.dry_bulb_max - day.daily_range * range_fraction(sun.solar_hour)
    ratio = np.minimum(
        moist_air.humidity_ratio_from_dew_point(day.dew_point, pressure),
        moist_air.humidity_ratio_from_dew_point(air, pressure),
    )
    clear = sky.clear_sky_emissivity(np.minimum(day.dew_point, air), pressure)
    black = sky.sky_temperature(air, sky.cloudy_sky_emissivity(clear, 1.0 - day.clearness))
    steps = len(moments) - 1
    offsets = np.full(steps, offset)
    return Weather(
        kind=day.kind,
        step=step,
        time=moments[:-1],
        local_minute=local_minutes(moments[:-1], offsets),
        utc_offset=offsets,
        pressure=pressure,
        air=edges(air),
        humidity_ratio=edges(ratio),
        sky=edges(black),
        sea=np.full((2, steps), day.sea),
        wind=np.full(steps, day.wind),
        dni=edges(dni),
        dhi=edges(dhi),
        ghi=edges(ghi),
        sun_zenith=edges(sun.zenith),
        sun_azimuth=edges(sun.azimuth),
    )


def range_fraction(solar_hour: Array) -> Array:
    """Share of the daily range by which the air is below its maximum, at solar hours (any day). [-]"""
    hours = np.arange(25.0)
    return np.asarray(np.interp(np.mod(solar_hour, 24.0), hours, np.append(RANGE_FRACTIONS[-1], RANGE_FRACTIONS)))


def day_radiation(place: Place, day: Day, moments: Times, sun: position.SunPosition) -> tuple[Array, Array, Array]:
    """Beam, sky and global sun at moments of one day.

    `clearness` is the share of the time that the beam comes through. Global sun then falls by the straight line of
    FAO 56 to a third under full overcast, and sky light is what remains of it.

    Returns
    -------
    dni, dhi, ghi : (moment,) arrays
        [W/m²]
    """
    linke = day.turbidity
    if linke is None:
        linke = position.turbidity(place.latitude, place.longitude)[day.month - 1]
    beam, diffuse = position.clear_sky(sun, moments, linke, place.altitude)
    height = np.maximum(np.cos(np.radians(sun.zenith)), 0.0)
    dni = day.clearness * beam
    ghi = (diffuse + beam * height) * (OVERCAST_SHARE + (1.0 - OVERCAST_SHARE) * day.clearness)
    return dni, ghi - dni * height, ghi

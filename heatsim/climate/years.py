"""A weather year on the solver's steps: hourly means turned into courses that keep every hour's mean.

The sun has its own place at every step; each hour's beam and sky light are spread over the hour by the sun's height.
Air, humidity and sky run straight between the hours' edges and middles. Days are relabelled 2025.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from heatsim.climate import position
from heatsim.climate.files import HOURS, YEAR, HourlyYear, read_year
from heatsim.climate.weather import Weather, clock, edges, local_minutes, utc_offsets
from heatsim.errors import Fault, Finding, HeatsimError
from heatsim.physics import moist_air, sky
from heatsim.scenario.resolved import Place, Resolved, WeatherYear
from heatsim.tables import marine

Array = npt.NDArray[np.float64]
Times = npt.NDArray[np.datetime64]

HOUR = 3600
FAR = 50.0
"""[km] Between boat and weather station, above which the year is another place's (common practice, no source)."""
BRIGHTEST_BEAM, BRIGHTEST_SKY = 1361.0, 800.0
"""[W/m²] Most that the hour's beam or sky light may reach within it: the solar constant, and common practice."""
LOW_SUN_SHARE = 0.1
"""[-] Weight of sky light just after sunrise over that of a sun overhead, less one (common practice, no source)."""


def year_weather(resolved: Resolved, step: float = 900.0) -> tuple[Weather, ...]:
    """The weather year of a scenario, as the twelve months of the file's standard time.

    Parameters, findings and refusals are those of `whole_year`, of which the months are views.

    Returns
    -------
    tuple of 12 Weather
    """
    weather, standard_offset = whole_year(resolved, step)
    return weather.months(standard_offset)


def whole_year(resolved: Resolved, step: float = 900.0) -> tuple[Weather, float]:
    """The weather year of a scenario in one piece, and the file's standard clock less UTC [h].

    The sun is that of the file's own place. Hours of radiation that lie off the file's hours (see
    `HourlyYear.sun_shift`) are put where they belong.

    Parameters
    ----------
    resolved : Resolved
        Its `weather_year` must not be None.
    step : float
        1800 s or a whole part of it, so that each hour's edges and middle are step edges. [s]

    Returns
    -------
    weather : Weather
        8760 h; `findings` say what was wrong with the file.
    standard_offset : float

    Raises
    ------
    HeatsimError
        If the file lacks air, humidity, wind or sun.
    """
    given = resolved.weather_year
    assert given is not None
    if 1800 % step:
        raise HeatsimError(Fault("the step of a weather year divides half an hour", value=f"{step:g} s"))
    year, findings = read_year(given.path, given.reader)
    _refuse_lost(year, given)
    weather = hourly_weather(year, step, sea_course(given, year), given.shelter)
    offset = utc_offsets(weather.time, clock(resolved.place.timezone))
    whole = replace(
        weather,
        local_minute=local_minutes(weather.time, offset),
        utc_offset=offset,
        findings=(*findings, *_distance(resolved.place, year), *_sea_findings(given, year)),
    )
    return whole, year.utc_offset


def hourly_weather(year: HourlyYear, step: float, sea: tuple[float, ...], shelter: float = 1.0) -> Weather:
    """An hourly year on steps, on the file's own standard time.

    Parameters
    ----------
    year : HourlyYear
    step : float
        [s]
    sea : tuple of 12 floats
        Monthly means. [°C]
    shelter : float
        Wind at the berth over that of the file. [-]
    """
    per_hour = round(HOUR / step)
    count = HOURS * per_hour
    first = np.datetime64(f"{YEAR}-01-01", "s") - np.timedelta64(round(year.utc_offset * HOUR), "s")
    moments = first + (np.arange(count + 1) * round(step)).astype("timedelta64[s]")
    sun = position.sun_position(moments, year.latitude, year.longitude)
    dni, dhi = radiation_course(year, sun.zenith, moments, per_hour)
    height = np.maximum(np.cos(np.radians(edges(sun.zenith))), 0.0)
    air = hourly_course(year.air, per_hour)
    pressure = float(np.mean(year.pressure))
    ratio = np.maximum(hourly_course(moist_air.humidity_ratio_from_dew_point(year.dew_point, pressure), per_hour), 0.0)
    return Weather(
        kind="year",
        step=step,
        time=moments[:-1],
        local_minute=local_minutes(moments[:-1], np.full(count, year.utc_offset)),
        utc_offset=np.full(count, year.utc_offset),
        pressure=pressure,
        air=edges(air),
        humidity_ratio=edges(np.minimum(ratio, moist_air.humidity_ratio_from_dew_point(air, pressure))),
        sky=edges(hourly_course(sky_course(year), per_hour)),
        sea=edges(monthly_course(sea, moments)),
        wind=np.repeat(year.wind * shelter, per_hour),
        dni=dni,
        dhi=dhi,
        ghi=dhi + dni * height,
        sun_zenith=edges(sun.zenith),
        sun_azimuth=edges(sun.azimuth),
    )


def hourly_course(means: Array, per_hour: int) -> Array:
    """Values at step edges, (hour × per_hour + 1,), of a closed course with the given hourly means.

    Straight from the hour's edge, half-way between neighbouring means, to its middle, and on to its other edge; the
    middle is set so that the mean comes out. `per_hour` is even.
    """
    edge = 0.5 * (np.roll(means, 1) + means)
    middle = 2.0 * means - 0.5 * (edge + np.roll(edge, -1))
    half = per_hour // 2
    rise = np.arange(half) / half
    first = edge[:, None] + (middle - edge)[:, None] * rise
    second = middle[:, None] + (np.roll(edge, -1) - middle)[:, None] * rise
    return np.append(np.concatenate([first, second], axis=1).ravel(), edge[0])


def radiation_course(year: HourlyYear, zenith: Array, moments: Times, per_hour: int) -> tuple[Array, Array]:
    """Beam and sky light at the start and end of each step, (2, step), with the hour's mean of each.

    Beam is spread over the hour like that of a clean sky, 0.7^(m^0.678) (Meinel and Meinel, Applied Solar Energy, 1976;
    from memory), sky light by the sun's height; both are zero while the sun is down, and hours without sun lose what
    the file gives them.
    """
    up = zenith < 90.0
    beam_shape, sky_shape = np.zeros(len(zenith)), np.zeros(len(zenith))
    mass = position.air_mass(zenith[up], year.altitude)
    beam_shape[up] = 0.7 ** (mass**0.678)
    sky_shape[up] = LOW_SUN_SHARE + np.cos(np.radians(zenith[up]))
    shift = round(year.sun_shift * 60 / float((moments[1] - moments[0]) / np.timedelta64(1, "s")))
    dni = _spread(year.dni, beam_shape, per_hour, shift, BRIGHTEST_BEAM)
    return dni, _spread(year.dhi, sky_shape, per_hour, shift, BRIGHTEST_SKY)


def _spread(means: Array, shape: Array, per_hour: int, shift: int, most: float) -> Array:
    """Hourly means spread by a shape at step edges; the hours begin `shift` steps late."""
    ends = edges(shape)
    blocks = np.roll(ends, -shift, axis=1).reshape(2, -1, per_hour)
    mean, peak = blocks.mean(axis=(0, 2)), blocks.max(axis=(0, 2))
    lit = mean > 0.0
    scale = np.divide(np.maximum(means, 0.0), mean, out=np.zeros(len(means)), where=lit)
    scale = np.minimum(scale, np.divide(most, peak, out=np.zeros(len(means)), where=lit))
    return np.asarray(ends * np.roll(np.repeat(scale, per_hour), shift))


def sky_course(year: HourlyYear) -> Array:
    """Hourly sky temperature: from the file's infrared where it has any, else from dew point and cloud. [°C]"""
    cloud = np.where(np.isfinite(year.cloud), year.cloud, 0.5)
    clear = sky.clear_sky_emissivity(np.minimum(year.dew_point, year.air), year.pressure)
    estimate = sky.sky_temperature(year.air, sky.cloudy_sky_emissivity(clear, cloud))
    return np.where(np.isfinite(year.infrared), sky.sky_temperature_of_radiation(year.infrared), estimate)


def sea_course(given: WeatherYear, year: HourlyYear) -> tuple[float, ...]:
    """Monthly sea temperature: the user's, else the marine climatology's nearest cell. [°C]"""
    return given.sea or tuple(map(float, marine.nearest(year.latitude, year.longitude).sea))


def monthly_course(months: tuple[float, ...], moments: Times) -> Array:
    """Straight between the middles of the months, closed over the year, at UTC moments."""
    start = np.arange(f"{YEAR}-01", f"{YEAR + 1}-02", dtype="datetime64[M]").astype("datetime64[s]").astype(np.int64)
    middle = 0.5 * (start[:-1] + start[1:])
    seconds = moments.astype("datetime64[s]").astype(np.int64)
    return np.asarray(np.interp(seconds, middle, months, period=float(start[-1] - start[0])))


def _refuse_lost(year: HourlyYear, given: WeatherYear) -> None:
    needed = {"air": "air temperature", "dew_point": "humidity", "wind": "wind", "dni": "beam", "dhi": "sky light"}
    lost = [text for name, text in needed.items() if np.isnan(getattr(year, name)).any()]
    if lost:
        raise HeatsimError(
            Fault(
                "a weather year needs air temperature, humidity, wind, beam and sky light",
                file=given.path,
                path="climate.weather_file",
                value="no usable " + ", ".join(lost),
                remedy="Use another file; cells at sea in some sources carry radiation only.",
            )
        )


def _distance(place: Place, year: HourlyYear) -> tuple[Finding, ...]:
    distance = float(marine.great_circle(place.latitude, place.longitude, year.latitude, year.longitude))
    if distance <= FAR:
        return ()
    message = f"the weather file is of {year.name}, {distance:.0f} km from {place.name}; its sun and air are used"
    return (Finding("weather-far", "climate.weather_file", message, f"{distance:.0f} km", f"{FAR:.0f} km"),)


def _sea_findings(given: WeatherYear, year: HourlyYear) -> tuple[Finding, ...]:
    if given.sea:
        return ()
    cell = marine.nearest(year.latitude, year.longitude)
    if not cell.weak and cell.distance_km <= 4 * FAR:
        return ()
    few = ", where few ships reported" if cell.weak else ""
    message = (
        f"the sea is that of {_degrees(cell.latitude, 'NS')} {_degrees(cell.longitude, 'EW')}, "
        f"{cell.distance_km:.0f} km away{few}"
    )
    return (Finding("sea-weak", "climate.sea", message, f"{cell.distance_km:.0f} km", "", marine.SOURCE),)


def _degrees(angle: float, sides: str) -> str:
    return f"{abs(angle):.0f}°{sides[int(math.copysign(1.0, angle) < 0)]}"

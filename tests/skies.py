"""Weather built from given light, for tests of what becomes of it."""

from __future__ import annotations

import numpy as np

from heatsim.climate.position import sun_position
from heatsim.climate.weather import Weather, edges


def given_light(times, latitude, longitude, dni, dhi, wind=2.0) -> Weather:
    """A stretch of weather whose steps run between the given moments (UTC), with the light at those moments."""
    times = np.asarray(times, dtype="datetime64[s]")
    sun = sun_position(times, latitude, longitude)
    height = np.maximum(np.cos(np.radians(sun.zenith)), 0.0)
    steps = len(times) - 1
    level = np.full((2, steps), 20.0)
    return Weather(
        kind="year",
        step=float((times[1] - times[0]) / np.timedelta64(1, "s")),
        time=times[:-1],
        local_minute=np.zeros(steps, dtype=np.int64),
        utc_offset=np.zeros(steps),
        pressure=101325.0,
        air=level,
        humidity_ratio=level * 0.0,
        sky=level,
        sea=level,
        wind=np.full(steps, wind),
        dni=edges(np.asarray(dni, dtype=float)),
        dhi=edges(np.asarray(dhi, dtype=float)),
        ghi=edges(dhi + dni * height),
        sun_zenith=edges(sun.zenith),
        sun_azimuth=edges(sun.azimuth),
    )


def one_moment(zenith, azimuth, dni, dhi, wind=2.0) -> Weather:
    """One step of steady light from a given place in the sky."""
    both = np.ones((2, 1))
    height = max(float(np.cos(np.radians(zenith))), 0.0)
    return Weather(
        "year", 300.0, np.array(["2025-07-21T10:00"], dtype="datetime64[s]"), np.array([720]), np.zeros(1), 101325.0,
        25.0 * both, 0.01 * both, 15.0 * both, 22.0 * both, np.full(1, wind), dni * both, dhi * both,
        (dhi + dni * height) * both, zenith * both, azimuth * both,
    )  # fmt: skip

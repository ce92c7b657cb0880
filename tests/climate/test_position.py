"""The sun's place against NREL's algorithm, and where days, nights and meridians end."""

import numpy as np
import pytest

from heatsim.climate import position

PLACES = [(25.8, -80.3), (37.5, 24.9), (-33.9, 18.4), (59.3, 18.0), (-17.7, 179.9), (1.3, 103.8), (78.2, 15.6)]


@pytest.mark.parametrize(("latitude", "longitude"), PLACES)
def test_agrees_with_spa_through_pvlib(latitude, longitude):
    """NREL's algorithm (0.0003°) programmed by pvlib: the fast almanac stays within 0.02° of it all year, refraction
    included while the sun is up."""
    import pandas as pd
    from pvlib.solarposition import spa_python

    times = np.datetime64("2025-01-01", "s") + (np.arange(2190) * 4 * 3600 + 900).astype("timedelta64[s]")
    exact = spa_python(pd.DatetimeIndex(times, tz="UTC"), latitude, longitude)
    sun = position.sun_position(times, latitude, longitude)
    up = exact["apparent_zenith"].to_numpy() < 90.0
    np.testing.assert_allclose(sun.zenith[up], exact["apparent_zenith"].to_numpy()[up], atol=0.02)


def test_polar_day_and_night():
    """At 78° N the sun stays up all of 21 June and down all of 21 December (geometry)."""
    hours = np.arange(24).astype("timedelta64[h]")
    june = position.sun_position(np.datetime64("2025-06-21", "s") + hours, 78.2, 15.6)
    december = position.sun_position(np.datetime64("2025-12-21", "s") + hours, 78.2, 15.6)
    assert np.all(june.zenith < 90.0)
    assert np.all(december.zenith > 90.0)


def test_date_line_is_no_edge():
    """The same meridian by two names has the same sun and the same turbidity."""
    times = np.datetime64("2025-03-01", "s") + np.arange(24).astype("timedelta64[h]")
    east, west = position.sun_position(times, -17.0, 180.5), position.sun_position(times, -17.0, -179.5)
    np.testing.assert_allclose(east.zenith, west.zenith, atol=1e-9)
    assert position.turbidity(-17.0, 180.5) == position.turbidity(-17.0, -179.5)


def test_no_sun_no_light():
    times = np.array(["2025-07-21T00:00"], dtype="datetime64[s]")
    dni, dhi = position.clear_sky(position.sun_position(times, 40.0, 0.0), times, 3.0, 0.0)
    assert dni[0] == dhi[0] == 0.0

"""The sun's place against two independent almanacs."""

import numpy as np
import pytest

from heatsim.climate import position

PLACES = [(25.8, -80.3), (37.5, 24.9), (-33.9, 18.4), (59.3, 18.0), (-17.7, 179.9), (1.3, 103.8), (78.2, 15.6)]


def test_reference_moment_nrel_tp_560_34302_table_a5():
    """17 Oct 2003, 12:30:30 UTC−7, 39.742476° N 105.1786° W: zenith 50.11162°, azimuth 194.34024°.

    The table is of 820 hPa, where air refracts 0.003° less than at sea level; the simple almanac is good to 0.02°.
    """
    sun = position.sun_position(np.array(["2003-10-17T19:30:30"], dtype="datetime64[s]"), 39.742476, -105.1786)
    assert sun.zenith[0] == pytest.approx(50.11162, abs=0.02)
    assert sun.azimuth[0] == pytest.approx(194.34024, abs=0.03)


@pytest.mark.parametrize(("latitude", "longitude"), PLACES)
def test_agrees_with_astropy(latitude, longitude):
    """Geometric place of the sun by astropy's built-in ephemeris, every 37 hours of a year, without refraction.

    0.02° is the almanac's own claim (4 s of the sun's way, a 25th of its disc). Azimuth is compared on the sphere.
    """
    import astropy.units as u
    from astropy.coordinates import AltAz, EarthLocation, get_sun
    from astropy.time import Time
    from astropy.utils import iers

    times = np.datetime64("2025-01-01T00:30", "s") + (np.arange(236) * 37 * 3600).astype("timedelta64[s]")
    with iers.conf.set_temp("auto_download", False), iers.conf.set_temp("iers_degraded_accuracy", "ignore"):
        place = EarthLocation(lat=latitude * u.deg, lon=longitude * u.deg)
        frame = AltAz(obstime=Time(times, scale="utc"), location=place)
        true = get_sun(frame.obstime).transform_to(frame)
    elevation, azimuth = np.asarray(true.alt.deg), np.asarray(true.az.deg)
    sun = position.sun_position(times, latitude, longitude)
    high = elevation > 15.0  # above, standard air refracts less than 0.06°, by Bennett's formula to 0.002°
    refraction = 1.0 / np.tan(np.radians(elevation[high] + 7.31 / (elevation[high] + 4.4))) / 60.0
    np.testing.assert_allclose(90.0 - sun.zenith[high] - refraction, elevation[high], atol=0.02)
    apart = (sun.azimuth[high] - azimuth[high] + 180.0) % 360.0 - 180.0
    np.testing.assert_allclose(apart * np.cos(np.radians(elevation[high])), 0.0, atol=0.02)


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


def test_clear_sky_at_noon():
    """40° N, 21 July, noon: ASHRAE's clear-sky model of 1977–1997 has beam 871 and sky light 118 W/m² (from memory).

    At a turbidity of 3, of which 2 is very clean and 4 hazy air; a step of 1 moves the beam by 80 W/m², hence 10 % and
    25 %.
    """
    times = np.array(["2025-07-21T12:00"], dtype="datetime64[s]")
    sun = position.sun_position(times, 40.0, 0.0)
    dni, dhi = position.clear_sky(sun, times, 3.0, 0.0)
    assert dni[0] == pytest.approx(871.0, rel=0.10)
    assert dhi[0] == pytest.approx(118.0, rel=0.25)


def test_no_sun_no_light():
    times = np.array(["2025-07-21T00:00"], dtype="datetime64[s]")
    dni, dhi = position.clear_sky(position.sun_position(times, 40.0, 0.0), times, 3.0, 0.0)
    assert dni[0] == dhi[0] == 0.0

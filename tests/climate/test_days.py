"""Design and typical days: the handbook's daily course, the clock, and days where the sun does odd things."""

import numpy as np
import psychrolib
import pytest
from boxes import plain_box, plain_day, plain_place

from heatsim.climate.days import RANGE_FRACTIONS, design_weather, range_fraction
from heatsim.climate.position import sun_position

psychrolib.SetUnitSystem(psychrolib.SI)


def weather(place=None, **changes):
    day = plain_day(**changes)
    return design_weather(plain_box(place=place, day=day), day)


def test_daily_course_ashrae_fundamentals_2009_ch14():
    """Maximum 35 °C, range 11.7 K: air at solar hours 6, 12, 15 and 24 by the printed fractions (from memory)."""
    w = weather(plain_place(longitude=30.0, timezone="Africa/Cairo"), dry_bulb_max=35.0, daily_range=11.7)
    solar = sun_position(w.time, 37.5, 30.0).solar_hour
    for hour, fraction in ((6, 0.98), (12, 0.13), (15, 0.0), (24, 0.82)):
        step = np.argmin(np.abs((solar - hour + 12.0) % 24.0 - 12.0))
        # steps are 5 min and the course is at most 2 K an hour, hence 0.1 K off the exact hour
        assert w.air[0, step] == pytest.approx(35.0 - 11.7 * fraction, abs=0.1)


def test_daily_mean_is_that_of_the_fractions():
    """Straight lines between hourly values keep the mean of those values (trapezium rule over a closed day)."""
    w = weather(dry_bulb_max=35.0, daily_range=8.0)
    assert w.air.mean() == pytest.approx(35.0 - 8.0 * RANGE_FRACTIONS.mean(), abs=1e-3)
    assert w.air.max() <= 35.0
    assert w.air.min() == pytest.approx(27.0, abs=0.02)  # the coldest moment falls between two steps


def test_fractions_belong_to_solar_hours():
    assert range_fraction(np.array([5.0, 14.0, 15.0, 24.0, 0.0])) == pytest.approx([1.0, 0.0, 0.0, 0.82, 0.82])


def test_day_closes_on_itself():
    w = weather()
    for name in ("air", "humidity_ratio", "sky", "sea"):
        course = getattr(w, name)
        np.testing.assert_array_equal(course[1, :-1], course[0, 1:])
        # the equation of time moves 20 s in a day, at 2 K an hour
        assert course[1, -1] == pytest.approx(course[0, 0], abs=0.02)


def test_dew_point_holds_until_the_air_is_saturated():
    """Dew point 22 °C under 30/20 °C air: held by day, saturated at night (psychrolib)."""
    w = weather(dry_bulb_max=30.0, daily_range=10.0, dew_point=22.0)
    held = psychrolib.GetHumRatioFromTDewPoint(22.0, 101325)
    coldest = psychrolib.GetSatHumRatio(float(w.air.min()), 101325)
    assert w.humidity_ratio.max() == pytest.approx(held, rel=1e-6)
    assert w.humidity_ratio.min() == pytest.approx(coldest, rel=1e-6)


def test_thin_air_on_a_mountain_lake():
    """Lake Titicaca, 3810 m: the standard atmosphere has 632 hPa there (ICAO, 631.9 hPa by its formula)."""
    w = weather(plain_place(latitude=-16.0, longitude=-69.0, altitude=3810.0, timezone="America/La_Paz"))
    assert w.pressure == pytest.approx(63190.0, rel=1e-3)


@pytest.mark.parametrize(
    ("zone", "date", "midnight", "offset"),
    [
        ("Europe/Athens", "2025-07-21", "2025-07-20T21:00", 3.0),  # EU summer time, Directive 2000/84/EC
        ("Europe/Athens", "2025-01-21", "2025-01-20T22:00", 2.0),
        ("America/New_York", "2025-07-21", "2025-07-21T04:00", -4.0),  # US Energy Policy Act of 2005
        ("Australia/Sydney", "2025-01-21", "2025-01-20T13:00", 11.0),  # summer time in the southern summer
        ("Asia/Kolkata", "2025-07-21", "2025-07-20T18:30", 5.5),
        ("Pacific/Kiritimati", "2025-07-21", "2025-07-20T10:00", 14.0),
        ("UTC-4", "2025-07-21", "2025-07-21T04:00", -4.0),
        ("UTC+05:30", "2025-07-21", "2025-07-20T18:30", 5.5),
        ("Europe/Athens", "2024-02-29", "2024-02-28T22:00", 2.0),  # a leap day
        ("Europe/Athens", "2025-03-30", "2025-03-29T21:00", 3.0),  # the clock of noon holds on the day of the change
    ],
)
def test_clock(zone, date, midnight, offset):
    w = weather(plain_place(timezone=zone), date=date, month=int(date[5:7]))
    assert w.time[0] == np.datetime64(midnight)
    assert w.utc_offset[0] == offset
    assert w.local_minute[0] == 0
    np.testing.assert_array_equal(w.local_minute, np.arange(288) * 5)


def test_sun_stands_highest_at_solar_noon_on_the_clock():
    """Athens summer time, 24.9° E: noon at 12:00 + 3 h − 24.9/15 h + 6.4 min (equation of time of 21 July) = 13:27."""
    w = weather()
    minute = w.local_minute[np.argmin(w.sun_zenith[0])]
    assert minute == pytest.approx(13 * 60 + 27, abs=5)


def test_polar_day_and_polar_night():
    """78° N: sun at midnight in June, none at noon in December, and finite numbers in both (geometry)."""
    place = plain_place(latitude=78.2, longitude=15.6, timezone="Arctic/Longyearbyen")
    june, december = weather(place, date="2025-06-21", month=6), weather(place, date="2025-12-21", month=12)
    assert june.dni.min() > 0.0
    assert december.ghi.max() == 0.0
    for w in (june, december):
        assert all(np.isfinite(getattr(w, name)).all() for name in ("air", "dni", "dhi", "ghi", "sky"))


def test_southern_hemisphere_mirrors_the_northern():
    """Half a year later at the mirror latitude the sun climbs as high, and its bearing at noon is the other way round.

    To 0.2°, since the declinations of the two 21sts differ by up to 0.15°.
    """
    north = weather(plain_place(latitude=35.0, longitude=0.0, timezone="UTC"), date="2025-06-21", month=6)
    south = weather(plain_place(latitude=-35.0, longitude=0.0, timezone="UTC"), date="2025-12-21", month=12)
    assert north.sun_zenith.min() == pytest.approx(south.sun_zenith.min(), abs=0.2)
    at_noon = [w.sun_azimuth[0][np.argmin(w.sun_zenith[0])] for w in (north, south)]
    assert abs((at_noon[0] - 180.0 + 180.0) % 360.0 - 180.0) < 10.0  # 5 min about noon at 12° from the zenith is 6°
    assert abs((at_noon[1] + 180.0) % 360.0 - 180.0) < 10.0


def test_clearness_follows_fao_56():
    """FAO 56 eqs. 35 and 37: global sun over that of a clear sky is 1/3 + 2/3 of the sunshine share (from memory)."""
    clear, half, none = (weather(kind="typical", clearness=c) for c in (1.0, 0.5, 0.0))
    assert half.ghi.sum() / clear.ghi.sum() == pytest.approx(2.0 / 3.0, rel=1e-9)
    assert none.ghi.sum() / clear.ghi.sum() == pytest.approx(1.0 / 3.0, rel=1e-9)
    assert half.dni.sum() / clear.dni.sum() == pytest.approx(0.5, rel=1e-9)
    assert np.all(half.dhi >= -1e-9)
    assert np.all(half.dhi <= half.ghi + 1e-9)
    assert half.sky.mean() > clear.sky.mean()


def test_given_turbidity_replaces_the_map():
    assert weather(turbidity=6.0).dni.max() < weather(turbidity=2.0).dni.max()

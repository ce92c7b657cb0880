"""Weather years on steps: hourly means kept, the sun where it belongs, the clock of the place."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pvlib
import pytest
from boxes import plain_box, plain_place

from heatsim.climate.files import HourlyYear, read_year
from heatsim.climate.sun import sun_on_boat
from heatsim.climate.years import hourly_course, hourly_weather, monthly_course, whole_year, year_weather
from heatsim.errors import HeatsimError
from heatsim.physics.films import STEFAN_BOLTZMANN
from heatsim.scenario.resolved import WeatherYear

GREENSBORO = str(Path(pvlib.__file__).parent / "data" / "723170TYA.CSV")
SEA = (10.0, 10.0, 12.0, 15.0, 18.0, 22.0, 25.0, 26.0, 24.0, 20.0, 16.0, 12.0)
PLACE = plain_place(name="Greensboro", latitude=36.1, longitude=-79.95, timezone="America/New_York")


@pytest.fixture(scope="module")
def year():
    return read_year(GREENSBORO, "tmy3")[0]


@pytest.fixture(scope="module")
def weather():
    return whole_year(plain_box(place=PLACE, weather_year=WeatherYear(GREENSBORO, "tmy3", SEA, 0.5)))[0]


def hourly(values, per_hour=4):
    """Exact mean over each hour of what runs straight between the ends of steps."""
    return values.mean(axis=0).reshape(-1, per_hour).mean(axis=1)


def test_air_keeps_every_hour(year, weather):
    np.testing.assert_allclose(hourly(weather.air), year.air, atol=1e-9)


def test_sun_keeps_every_hour_that_has_sun(year, weather):
    """Beam and sky light of each hour, to round-off, wherever the sun is well up; over the year within 0.2 %, which is
    light reported before sunrise and after sunset."""
    high = hourly(np.cos(np.radians(weather.sun_zenith))) > 0.1
    for ours, theirs in ((weather.dni, year.dni), (weather.dhi, year.dhi)):
        np.testing.assert_allclose(hourly(ours)[high], theirs[high], atol=1e-9)
        assert ours.mean() == pytest.approx(theirs.mean(), rel=2e-3)


def test_global_sun_closes_with_the_file(year, weather):
    """Global sun is built from beam, sky light and the sun's height; the file's own closes to some W/m² (rmse 8 when
    written, of which the file's rounding and its year's other sun are most)."""
    error = hourly(weather.ghi) - year.ghi
    assert abs(error.mean()) < 1.0
    assert np.sqrt(np.mean(error**2)) < 10.0


def test_sun_and_light_rise_together(weather):
    assert np.all(weather.dni[weather.sun_zenith >= 90.0] == 0.0)
    assert np.all(weather.dhi[weather.sun_zenith >= 90.0] == 0.0)
    assert weather.dni.max() <= 1361.0


def test_steps_join(weather):
    """Air, humidity, sky and sea run on from step to step; radiation may jump on the hour only."""
    for name in ("air", "humidity_ratio", "sky", "sea"):
        course = getattr(weather, name)
        np.testing.assert_array_equal(course[1, :-1], course[0, 1:])
    jump = np.abs(weather.dni[1, :-1] - weather.dni[0, 1:]) > 1e-9
    assert set(np.flatnonzero(jump) % 4) == {3}


def test_daylight_saving(weather):
    """US rule of 2007: from 9 March 2025, 2:00 standard time, to 2 November, 2:00 summer time; 5 and 4 h behind UTC."""
    change = np.flatnonzero(np.diff(weather.utc_offset)) + 1
    assert [str(t) for t in weather.time[change]] == ["2025-03-09T07:00:00", "2025-11-02T06:00:00"]
    assert weather.utc_offset[change].tolist() == [-4.0, -5.0]
    assert weather.local_minute[change].tolist() == [180, 60]
    assert weather.local_minute[0] == 0


def test_year_is_2025_and_whole(weather):
    assert str(weather.time[0]) == "2025-01-01T05:00:00"
    assert len(weather.time) == 8760 * 4
    assert np.all(np.diff(weather.time) == np.timedelta64(900, "s"))


def test_shelter_scales_the_wind(year, weather):
    np.testing.assert_allclose(weather.wind.reshape(-1, 4)[:, 2], 0.5 * year.wind)


def test_air_is_never_supersaturated(weather):
    """Humidity stays at or below saturation by psychrolib at its own pressure."""
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    for i in range(0, len(weather.time), 1511):
        limit = psychrolib.GetSatHumRatio(float(weather.air[0, i]), weather.pressure)
        assert weather.humidity_ratio[0, i] <= limit * (1.0 + 2e-6)


def test_months_are_the_year(weather):
    box = plain_box(place=PLACE, weather_year=WeatherYear(GREENSBORO, "tmy3", SEA, 0.5))
    months = year_weather(box)
    days = [len(month.time) / 96 for month in months]
    assert days == [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    np.testing.assert_array_equal(np.concatenate([month.air for month in months], axis=1), weather.air)
    whole = sun_on_boat(box, weather.stretch(16000, 20000), [20.0]).incident
    halves = [sun_on_boat(box, weather.stretch(a, b), [20.0]).incident for a, b in ((16000, 18011), (18011, 20000))]
    np.testing.assert_allclose(np.concatenate(halves, axis=2), whole, atol=1e-9)


@pytest.mark.parametrize("per_hour", [2, 4, 12])
def test_hourly_course_keeps_means_and_joins(per_hour):
    means = np.random.default_rng(1).normal(20.0, 5.0, 48)
    course = hourly_course(means, per_hour)
    ends = np.stack([course[:-1], course[1:]])
    np.testing.assert_allclose(hourly(ends, per_hour), means, atol=1e-12)
    assert course[0] == course[-1]


def test_straight_course_stays_straight():
    """A steady rise has its means reproduced by a straight line, except about its ends (closed form)."""
    course = hourly_course(np.arange(24.0), 4)
    np.testing.assert_allclose(course[8:-8], np.arange(97)[8:-8] / 4.0 - 0.5, atol=1e-12)


def test_sea_runs_between_the_middles_of_the_months():
    moments = np.array(["2025-01-16T12:00", "2025-02-15T00:00", "2025-12-31T12:00"], dtype="datetime64[s]")
    course = monthly_course((*range(11), 22.0), moments)
    assert course[0] == pytest.approx(0.0, abs=1e-9)
    assert course[1] == pytest.approx(1.0, abs=1e-9)
    assert course[2] == pytest.approx(11.0, abs=0.5)  # half-way from December's 22 back to January's 0


def test_shifted_hours_of_radiation(year):
    """The same file said to lie half an hour earlier: each value is found half an hour earlier, sums unchanged."""
    early = hourly_weather(replace(year, sun_shift=-30), 900.0, SEA)
    lit = hourly(np.cos(np.radians(early.sun_zenith))) > 0.2
    moved = np.roll(early.dni, 2, axis=1)
    np.testing.assert_allclose(hourly(moved)[lit][:2000], year.dni[lit][:2000], atol=1e-9)


def test_infrared_of_the_file_gives_its_sky(year):
    """Where a file has infrared, its sky radiates that much (Stefan and Boltzmann)."""
    clear = replace(year, infrared=np.full(8760, 350.0))
    sky = hourly_weather(clear, 900.0, SEA).sky
    np.testing.assert_allclose(STEFAN_BOLTZMANN * (sky + 273.15) ** 4, 350.0, rtol=1e-9)


def test_sea_from_the_climatology_when_nobody_says():
    """Miami is on the sea: its year takes the Gulf Stream's 24–29 °C (climatology), and says nothing."""
    path = str(Path(GREENSBORO).with_name("12839.tm2"))
    place = plain_place(name="Miami", latitude=25.8, longitude=-80.27, timezone="America/New_York")
    found, _ = whole_year(plain_box(place=place, weather_year=WeatherYear(path, "tmy2", (), 1.0)))
    assert 23.0 < found.sea.min() < 25.5
    assert 28.0 < found.sea.max() < 30.0
    assert found.findings == ()


def test_inland_sea_and_distant_station_are_reported():
    box = plain_box(weather_year=WeatherYear(GREENSBORO, "tmy3", (), 1.0))
    assert {"weather-far", "sea-weak"} <= {finding.code for finding in whole_year(box)[0].findings}


def test_radiation_only_file_is_refused(shared_data):
    path = str(shared_data / "tmy_35.015_25.755_2005_2020.csv")
    with pytest.raises(HeatsimError, match="air temperature, humidity, wind"):
        year_weather(plain_box(weather_year=WeatherYear(path, "pvgis", SEA, 1.0)))


def test_step_must_divide_half_an_hour():
    with pytest.raises(HeatsimError, match="half an hour"):
        year_weather(plain_box(weather_year=WeatherYear(GREENSBORO, "tmy3", SEA, 1.0)), step=3600.0)


def test_polar_year_has_no_light_in_its_night():
    """An invented flat year at 78° N: beam reported all year reaches the boat only while the sun is up."""
    flat = np.full(8760, 1.0)
    year = HourlyYear(
        "nowhere", 78.2, 15.6, 0.0, 1.0, 0, -5 * flat, -8 * flat, 3 * flat, 101325 * flat, 200 * flat, 50 * flat,
        100 * flat, np.nan * flat, 0.5 * flat,
    )  # fmt: skip
    found = hourly_weather(year, 900.0, SEA)
    december = (found.time >= np.datetime64("2025-12-01")) & (found.time < np.datetime64("2025-12-31"))
    assert found.dni[:, december].max() == 0.0
    june = (found.time >= np.datetime64("2025-06-10")) & (found.time < np.datetime64("2025-06-20"))
    assert found.dni[:, june].mean() == pytest.approx(200.0)
    assert np.isfinite(found.sky).all()

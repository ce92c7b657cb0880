"""Moist air: inverses to round-off, one temperature at saturation, and dry air."""

import numpy as np

from heatsim.physics import moist_air as air


def test_dew_point_inverts_the_formula_to_round_off():
    temperature = np.linspace(-90.0, 95.0, 371)
    back = air.dew_point(air.humidity_ratio_from_dew_point(temperature, 90e3), 90e3)
    np.testing.assert_allclose(back, temperature, atol=1e-9)


def test_saturated_air_has_one_temperature():
    """At saturation wet bulb, dew point and dry bulb are one (definition)."""
    temperature = np.array([1.0, 10.0, 35.0, 60.0])
    saturated = air.humidity_ratio(temperature, 1.0)
    np.testing.assert_allclose(air.wet_bulb(temperature, saturated), temperature, atol=1e-9)
    np.testing.assert_allclose(air.dew_point(saturated), temperature, atol=1e-9)


def test_dry_air_has_no_dew_point_and_no_nan():
    assert air.dew_point(0.0) == -100.0
    assert np.isfinite(air.wet_bulb(30.0, 0.0))


def test_relative_humidity_inverts_the_humidity_ratio():
    humidity = np.linspace(0.01, 1.0, 25)
    back = air.relative_humidity(30.0, air.humidity_ratio(30.0, humidity))
    np.testing.assert_allclose(back, humidity, rtol=1e-12)

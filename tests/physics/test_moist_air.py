"""Moist air against the handbook's tables and examples, and against two general libraries."""

import numpy as np
import psychrolib
import pytest
from CoolProp.HumidAirProp import HAPropsSI

from heatsim.physics import moist_air as air

psychrolib.SetUnitSystem(psychrolib.SI)
STATES = [(40, 0.14), (35, 0.70), (27, 0.50), (24, 0.50), (12, 0.95), (0.5, 0.9), (-20, 0.80)]


# The Handbook claims 300 ppm for its formula against this table; −60 and −20 °C are printed to three figures.
@pytest.mark.parametrize(
    ("temperature", "pressure", "tolerance"),
    [
        (-60, 1.08, 5e-3),
        (-20, 103.24, 3e-4),
        (-5, 401.74, 3e-4),
        (5, 872.6, 3e-4),
        (25, 3169.7, 3e-4),
        (50, 12351.3, 3e-4),
        (100, 101418.0, 3e-4),
        (150, 476101.4, 3e-4),
    ],
)
def test_saturation_pressure_ashrae_fundamentals_2017_ch1_table3(temperature, pressure, tolerance):
    assert air.saturation_pressure(temperature) == pytest.approx(pressure, rel=tolerance)


# Table 2 is of real gas, whose enhancement factor is 0.4–0.5 %; the perfect-gas form leaves it out.
@pytest.mark.parametrize(("temperature", "ratio"), [(5, 0.005425), (25, 0.020173), (50, 0.086863)])
def test_saturated_humidity_ratio_ashrae_fundamentals_2017_ch1_table2(temperature, ratio):
    assert air.humidity_ratio_from_dew_point(temperature) == pytest.approx(ratio, rel=8e-3)


# Printed to the pascal.
@pytest.mark.parametrize(("altitude", "pressure"), [(0, 101325), (500, 95461), (1000, 89875), (4000, 61640)])
def test_standard_pressure_ashrae_fundamentals_2017_ch1_table1(altitude, pressure):
    assert air.standard_pressure(altitude) == pytest.approx(pressure, abs=1.0)


def test_wet_bulb_state_ashrae_fundamentals_2017_ch1_example1():
    """40 °C dry bulb, 20 °C wet bulb: W 6.5 g/kg, h 56.7 kJ/kg, dew point 7 °C, v 0.896, read off a chart."""
    ratio = 0.0065
    assert air.wet_bulb(40.0, ratio) == pytest.approx(20.0, abs=0.15)  # W read to 0.1 g/kg is 0.1 K of wet bulb
    assert air.enthalpy(40.0, ratio) == pytest.approx(56.7e3, abs=400.0)  # the same reading is 260 J/kg
    assert air.dew_point(ratio) == pytest.approx(7.5, abs=0.5)
    assert (1.0 + ratio) / air.density(40.0, ratio) == pytest.approx(0.896, abs=0.001)


def test_cooling_example_ashrae_fundamentals_ch1():
    """30 °C / 50 %, 5 m³/s, to saturation at 10 °C, condensate leaving at 10 °C: 197 kW (from memory)."""
    first = air.humidity_ratio(30.0, 0.5)
    last = air.humidity_ratio(10.0, 1.0)
    flow = 5.0 * air.density(30.0, first) / (1.0 + first)
    heat = flow * (air.enthalpy(30.0, first) - air.enthalpy(10.0, last) - (first - last) * 42.0e3)
    assert heat == pytest.approx(197e3, rel=5e-3)  # the handbook reads a chart to three figures


@pytest.mark.parametrize(("temperature", "humidity"), STATES)
def test_agrees_with_psychrolib(temperature, humidity):
    """The same handbook equations, programmed by others; psychrolib stops its iterations at 0.001 K."""
    ratio = air.humidity_ratio(temperature, humidity)
    assert ratio == pytest.approx(psychrolib.GetHumRatioFromRelHum(temperature, humidity, 101325), rel=1e-6)
    dew = psychrolib.GetTDewPointFromHumRatio(temperature, float(ratio), 101325)
    assert air.dew_point(ratio) == pytest.approx(dew, abs=2e-3)
    wet = psychrolib.GetTWetBulbFromHumRatio(temperature, float(ratio), 101325)
    assert air.wet_bulb(temperature, ratio) == pytest.approx(wet, abs=2e-3)
    assert air.enthalpy(temperature, ratio) == pytest.approx(psychrolib.GetMoistAirEnthalpy(temperature, float(ratio)))
    volume = psychrolib.GetMoistAirVolume(temperature, float(ratio), 101325)
    assert air.density(temperature, ratio) == pytest.approx((1 + float(ratio)) / volume, rel=2e-5)
    assert air.relative_humidity(temperature, ratio) == pytest.approx(humidity, rel=1e-12)


# Real gas holds about 0.5 % more vapour at a given relative humidity, hence 0.7 % and 0.1 K.
@pytest.mark.parametrize(("temperature", "humidity"), STATES)
def test_agrees_with_coolprop_real_gas(temperature, humidity):
    arguments = ("T", temperature + 273.15, "R", humidity, "P", 101325)
    ratio = air.humidity_ratio(temperature, humidity)
    assert ratio == pytest.approx(HAPropsSI("W", *arguments), rel=7e-3)
    assert air.dew_point(ratio) == pytest.approx(HAPropsSI("D", *arguments) - 273.15, abs=0.1)
    assert air.wet_bulb(temperature, ratio) == pytest.approx(HAPropsSI("B", *arguments) - 273.15, abs=0.1)
    assert air.density(temperature, ratio) == pytest.approx((1.0 + ratio) / HAPropsSI("Vda", *arguments), rel=2e-3)


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

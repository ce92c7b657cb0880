"""Moist air: the handbook's tables and worked examples, and two general libraries over all weather a boat meets."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
import psychrolib
import pytest
from CoolProp.HumidAirProp import HAPropsSI
from validation.sheet import Sheet

from heatsim.physics import moist_air as air

psychrolib.SetUnitSystem(psychrolib.SI)  # once: it compiles the library anew
FAMILY = "moist air"
TABLE_3 = "ASHRAE Fundamentals 2017, ch. 1, table 3"
TABLE_2 = "ASHRAE Fundamentals 2017, ch. 1, table 2"
TABLE_1 = "ASHRAE Fundamentals 2017, ch. 1, table 1"
PERFECT = "the table is of real gas, whose enhancement factor of 0.4 to 0.5 % the perfect-gas form leaves out"


@pytest.mark.parametrize(
    ("celsius", "pascal", "within"),
    [
        (-60, 1.08, 5e-3), (-20, 103.24, 3e-4), (-5, 401.74, 3e-4), (5, 872.6, 3e-4), (25, 3169.7, 3e-4),
        (50, 12351.3, 3e-4), (100, 101418.0, 3e-4), (150, 476101.4, 3e-4),
    ],
)  # fmt: skip
def test_saturation_pressure(celsius: float, pascal: float, within: float, sheet: Sheet) -> None:
    sheet.value(
        f"saturation pressure at {celsius} degC", pascal, float(air.saturation_pressure(celsius)),
        within=within * pascal, unit="Pa", source=TABLE_3, confidence="seen",
        because="the handbook claims 300 ppm for its formula; printed to three figures at -60 degC",
    )  # fmt: skip


@pytest.mark.parametrize(("celsius", "ratio"), [(5, 0.005425), (25, 0.020173), (50, 0.086863)])
def test_saturated_humidity_ratio(celsius: float, ratio: float, sheet: Sheet) -> None:
    sheet.value(
        f"saturated humidity ratio at {celsius} degC", 1e3 * ratio, 1e3 * float(air.humidity_ratio(celsius, 1.0)),
        within=8.0 * ratio, because=PERFECT, source=TABLE_2, unit="g/kg", confidence="seen",
    )  # fmt: skip


@pytest.mark.parametrize(("celsius", "enthalpy"), [(5, 18639), (25, 76504), (50, 275353)])
def test_saturated_enthalpy(celsius: float, enthalpy: float, sheet: Sheet) -> None:
    sheet.value(
        f"saturated enthalpy at {celsius} degC", enthalpy / 1e3,
        float(air.enthalpy(celsius, air.humidity_ratio(celsius, 1.0))) / 1e3, within=8e-6 * enthalpy, because=PERFECT,
        source=TABLE_2, unit="kJ/kg", confidence="seen",
    )  # fmt: skip


@pytest.mark.parametrize(("altitude", "pascal"), [(0, 101325), (500, 95461), (1000, 89875), (4000, 61640)])
def test_standard_pressure(altitude: float, pascal: float, sheet: Sheet) -> None:
    sheet.value(
        f"standard pressure at {altitude} m", pascal, float(air.standard_pressure(altitude)), within=1.0,
        because="printed to the pascal", source=TABLE_1, unit="Pa", confidence="seen",
    )  # fmt: skip


def test_state_of_wet_bulb(sheet: Sheet) -> None:
    """40 °C dry, 20 °C wet; the handbook reads a chart to 0.1 g/kg, which is 0.1 K of wet bulb and 0.26 kJ/kg."""
    ratio = 0.0065
    told: dict[str, Any] = {
        "source": "ASHRAE Fundamentals 2017, ch. 1, example 1", "confidence": "seen",
        "because": "read off a chart to 0.1 g/kg, which is 0.1 K of wet bulb, 0.3 kJ/kg and 0.2 K of dew point",
    }  # fmt: skip
    sheet.value(
        "40 degC at 6.5 g/kg: wet bulb", 20.0, float(air.wet_bulb(40.0, ratio)), within=0.15, unit="degC", **told
    )
    sheet.value(
        "40 degC at 6.5 g/kg: enthalpy", 56.7, float(air.enthalpy(40.0, ratio)) / 1e3, within=0.4, unit="kJ/kg", **told
    )
    sheet.value("40 degC at 6.5 g/kg: dew point", 7.5, float(air.dew_point(ratio)), within=0.5, unit="degC", **told)
    volume = float((1.0 + ratio) / air.density(40.0, ratio))
    sheet.value("40 degC at 6.5 g/kg: volume", 0.896, volume, within=0.001, unit="m3/kg", **told)


def _flow(volume: float, celsius: float, ratio: Any) -> float:
    """Dry air in a volume flow. [kg/s]"""
    return volume * float(air.dry_air_density(celsius, ratio))


def test_cooling_of_the_handbook(sheet: Sheet) -> None:
    """30 °C / 50 %, 5 m³/s, to saturation at 10 °C, condensate leaving at 10 °C."""
    first, last = air.humidity_ratio(30.0, 0.5), air.humidity_ratio(10.0, 1.0)
    per_kg = air.enthalpy(30.0, first) - air.enthalpy(10.0, last) - (first - last) * 42.0e3
    sheet.value(
        "cooling of 5 m3/s from 30 degC, 50 % to 10 degC", 197.0, _flow(5.0, 30.0, first) * float(per_kg) / 1e3,
        within=1.0, because="the handbook reads a chart to three figures", unit="kW", confidence="from memory",
        source="ASHRAE Fundamentals, ch. 1, example of moist air cooling",
    )  # fmt: skip


def test_heating_of_the_handbook(sheet: Sheet) -> None:
    """Saturated at 2 °C, 10 m³/s, to 40 °C."""
    ratio = air.humidity_ratio(2.0, 1.0)
    heat = _flow(10.0, 2.0, ratio) * float(air.enthalpy(40.0, ratio) - air.enthalpy(2.0, ratio))
    sheet.span(
        "heating of 10 m3/s from saturation at 2 degC to 40 degC", (490.0, 492.5), heat / 1e3, unit="kW",
        source="ASHRAE Fundamentals, ch. 1, example of moist air heating (491 to 492)", confidence="from memory",
        because="read off a chart to three figures",
    )  # fmt: skip


def test_mixing_of_the_handbook(sheet: Sheet) -> None:
    """2 m³/s at 4 °C with 2 °C wet bulb and 6.25 m³/s at 25 °C, 50 %."""
    cold, warm = psychrolib.GetHumRatioFromTWetBulb(4.0, 2.0, 101325.0), float(air.humidity_ratio(25.0, 0.5))
    one, other = _flow(2.0, 4.0, cold), _flow(6.25, 25.0, warm)
    ratio = (one * cold + other * warm) / (one + other)
    enthalpy = (one * float(air.enthalpy(4.0, cold)) + other * float(air.enthalpy(25.0, warm))) / (one + other)
    low, high = 0.0, 40.0
    while high - low > 1e-9:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if float(air.enthalpy(middle, ratio)) < enthalpy else (low, middle)
    told: dict[str, Any] = {
        "source": "ASHRAE Fundamentals, ch. 1, example of adiabatic mixing", "confidence": "from memory",
        "unit": "degC", "because": "read off a chart, 0.1 K a line",
    }  # fmt: skip
    sheet.value("mixing of 2 and 6.25 m3/s: dry bulb", 19.5, low, within=0.15, **told)
    sheet.value("mixing of 2 and 6.25 m3/s: wet bulb", 14.6, float(air.wet_bulb(low, ratio)), within=0.15, **told)


TEMPERATURES, HUMIDITIES = np.arange(-20.0, 50.1, 5.0), np.array([0.001, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 0.9, 1.0])
Grid = npt.NDArray[np.float64]
GRID = "over -20 to 50 degC and 0 to 100 %"


@cache
def _ours() -> dict[str, Grid]:
    dry, humidity = np.meshgrid(TEMPERATURES, HUMIDITIES, indexing="ij")
    ratio = air.humidity_ratio(dry, humidity)
    return {
        "dry": dry, "humidity": humidity, "humidity ratio": ratio, "dew point": air.dew_point(ratio),
        "wet bulb": air.wet_bulb(dry, ratio), "enthalpy": air.enthalpy(dry, ratio),
        "density": air.density(dry, ratio),
    }  # fmt: skip


def _by_psychrolib(dry: float, humidity: float) -> dict[str, float]:
    ratio = psychrolib.GetHumRatioFromRelHum(dry, humidity, 101325.0)
    return {
        "humidity ratio": ratio, "enthalpy": psychrolib.GetMoistAirEnthalpy(dry, ratio),
        "density": psychrolib.GetMoistAirDensity(dry, ratio, 101325.0),
    }  # fmt: skip


def _by_coolprop(dry: float, humidity: float) -> dict[str, float]:
    given = ("T", dry + 273.15, "R", humidity, "P", 101325.0)
    ratio = HAPropsSI("W", *given)
    return {
        "humidity ratio": ratio, "dew point": HAPropsSI("D", *given) - 273.15,
        "wet bulb": HAPropsSI("B", *given) - 273.15, "density": (1.0 + ratio) / HAPropsSI("Vda", *given),
    }  # fmt: skip


def _farthest(theirs: Grid, ours: Grid, relative: bool) -> float:
    return float(np.max(np.abs(ours - theirs) / (np.abs(theirs) if relative else 1.0)))


REAL = "real gas holds 0.5 % more vapour at one relative humidity"
LIBRARIES = {
    "psychrolib": (_by_psychrolib, {
        "humidity ratio": (1e-6, "the same formulas"), "enthalpy": (1e-6, "the same formulas"),
        "density": (2e-5, "gas constant to four digits"),
    }),
    "CoolProp": (_by_coolprop, {
        "humidity ratio": (7e-3, REAL), "dew point": (0.1, REAL), "wet bulb": (0.1, REAL), "density": (2e-3, REAL),
    }),
}  # fmt: skip


@pytest.mark.parametrize("library", LIBRARIES)
def test_against_a_library(library: str, sheet: Sheet) -> None:
    function, tolerances = LIBRARIES[library]
    ours = _ours()
    states = [function(float(t), float(h)) for t, h in zip(ours["dry"].flat, ours["humidity"].flat, strict=True)]
    for quantity, (within, because) in tolerances.items():
        theirs = np.array([state[quantity] for state in states]).reshape(ours["dry"].shape)
        relative = quantity not in ("dew point", "wet bulb")
        if quantity == "wet bulb":  # just below freezing a bulb of ice and one of water are both solutions
            theirs = np.where((theirs > -1.0) & (theirs < 0.1), ours[quantity], theirs)
        sheet.value(
            f"largest difference from {library}, {quantity}, {GRID}", 0.0, _farthest(theirs, ours[quantity], relative),
            within=within, because=because, source=f"{library}, 135 states at 101 325 Pa", confidence="formula",
            unit="relative" if relative else "K",
        )  # fmt: skip


def test_dew_point_and_wet_bulb_backwards(sheet: Sheet) -> None:
    """The library's humidity ratio at our dew point and at our wet bulb is the one we began with."""
    ours = _ours()
    for what in ("dew point", "wet bulb"):
        apart = []
        columns = (ours[name].flat for name in ("dry", what, "humidity ratio"))
        for dry, value, ratio in zip(*columns, strict=True):
            if what == "dew point":
                theirs = psychrolib.GetHumRatioFromTDewPoint(float(value), 101325.0)
            else:
                theirs = psychrolib.GetHumRatioFromTWetBulb(float(dry), float(value), 101325.0)
            apart.append(abs(theirs - float(ratio)))
        sheet.value(
            f"largest difference from psychrolib, humidity ratio at our {what}, {GRID}", 0.0, 1e3 * max(apart),
            within=1e-3, because="0.002 K of wet bulb in cold air", source="psychrolib, 135 states at 101 325 Pa",
            confidence="formula", unit="g/kg",
        )  # fmt: skip


def test_a_wrong_constant_is_seen() -> None:
    ours = _ours()["humidity ratio"]
    assert _farthest(ours * 0.622 / 0.621945, ours, True) > 8e-5 > 1e-6

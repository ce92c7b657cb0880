"""What a cooling coil does to its air, worked out with psychrolib from apparatus dew point and bypass factor."""

from __future__ import annotations

from typing import Any

import psychrolib
import pytest

from heatsim.equipment.capacity import Conditions, Operation, operate, rated, rated_ratio
from heatsim.equipment.catalogue import Unit, read_catalogue

FAMILY = "cooling coils"

SOURCE = "psychrolib 2.5, ASHRAE Fundamentals 2017 ch. 1 eq. 28-32; the straight line to the apparatus dew point"
PRESSURE = 101325.0
AIR = {"rating, 26.7/19.4 °C": (26.7, 19.4), "dry, 24/15 °C": (24.0, 15.0), "humid, 28/24 °C": (28.0, 24.0)}
"""Entering dry and wet bulb: the catalogue's warm-sea rating, drier and more humid than that."""


@pytest.fixture(scope="module")
def unit() -> Unit:
    return next(one for one in read_catalogue() if one.model == "Cove 12 50 Hz")


def _entering(air: tuple[float, float]) -> tuple[float, float]:
    psychrolib.SetUnitSystem(psychrolib.SI)
    return air[0], psychrolib.GetHumRatioFromTWetBulb(*air, PRESSURE)


def _behind(unit: Unit, T: float, w: float, done: Operation) -> tuple[float, float]:
    """Air behind the coil: temperature and humidity ratio between the entering state and saturation at the surface."""
    by_flow = psychrolib.GetMoistAirVolume(T, w, PRESSURE) / psychrolib.GetMoistAirVolume(
        *_entering(AIR["rating, 26.7/19.4 °C"]), PRESSURE
    )
    surface, bypass = float(done.surface), rated(unit).bypass ** by_flow  # exp(-UA/ṁc) with the same UA
    wet = min(psychrolib.GetSatHumRatio(surface, PRESSURE), w)
    return surface + bypass * (T - surface), wet + bypass * (w - wet)


@pytest.mark.parametrize("name", AIR)
def test_air_behind_a_coil(sheet: Any, unit: Unit, name: str) -> None:
    T, w = _entering(AIR[name])
    done = operate(unit, Conditions(T, w, 29.4))
    behind, ratio = _behind(unit, T, w, done)
    flow = unit.airflow / psychrolib.GetMoistAirVolume(T, w, PRESSURE)
    lost = psychrolib.GetMoistAirEnthalpy(T, w) - psychrolib.GetMoistAirEnthalpy(behind, ratio)
    coil = flow * (lost - (w - ratio) * 4186.0 * float(done.surface))
    sheet.value(
        f"air behind the coil, {name}", behind, done.leaving_temperature, within=0.02, unit="degC", source=SOURCE,
        because="both take the same line; saturation pressures differ by 0.1 %", confidence="formula",
    )  # fmt: skip
    sheet.value(
        f"its humidity ratio, {name}", 1e3 * ratio, 1e3 * done.leaving_humidity_ratio, within=0.03, unit="g/kg",
        source=SOURCE, because="saturation pressures differ by 0.1 %, humidity ratios by as much",
        confidence="formula",
    )  # fmt: skip
    sheet.value(
        f"heat at the coil, {name}", coil, done.coil_heat, within=0.01 * coil, unit="W", source=SOURCE,
        because="1 %: air's density and heats are rounded to four digits, and latent heat is taken at one temperature",
        confidence="formula",
    )  # fmt: skip


def test_entering_air_of_the_rating(sheet: Any, unit: Unit) -> None:
    w = _entering(AIR["rating, 26.7/19.4 °C"])[1]
    sheet.value(
        "humidity ratio of the warm-sea rating's air", 1e3 * w, 1e3 * rated_ratio(unit), within=0.02, unit="g/kg",
        source="psychrolib 2.5, ASHRAE Fundamentals 2017 ch. 1 eq. 33", confidence="formula",
        because="wet-bulb formulas with rounded constants, 0.2 %",
    )  # fmt: skip

"""Corrected capacity: the rating comes back, every correction goes the right way, limits stop the unit."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.equipment.capacity import Conditions, heating, operate, rated, steps
from heatsim.equipment.catalogue import Unit, UnitText, to_unit
from heatsim.physics import coil, moist_air

AIR, SEA = 26.7, 29.4
ROW = {
    "model": "Plain 12", "kind": "self-contained", "total_capacity": "12 kBtu/h", "sensible_capacity": "8.6 kBtu/h",
    "airflow": "400 cfm", "power": "1.15 kW", "fan_power": "100 W", "voltage": "230 V", "rating": "warm sea",
    "heating_capacity": "12 kBtu/h", "heating_power": "1.2 kW", "frequency": "60 Hz",
}  # fmt: skip
HUMID = 0.0112
"""[kg/kg] About 26.7 °C dry and 19.4 °C wet."""


@pytest.fixture(scope="module")
def unit() -> Unit:
    return to_unit(UnitText.model_validate(ROW))


def _at_rating(unit: Unit, **changes: float) -> Conditions:
    ratio = float(moist_air.humidity_ratio_from_dew_point(15.6))
    return Conditions(**{"temperature": AIR, "humidity_ratio": ratio, "sea": SEA, **changes})  # type: ignore[arg-type]


def test_the_rating_comes_back(unit: Unit) -> None:
    """At its own rating a unit gives its nameplate: halving ends at 1e-9 K."""
    first = steps(unit, _at_rating(unit))[0]
    assert first.total == pytest.approx(3516.85, rel=1e-5)
    assert rated(unit).evaporating < 10.0


def test_the_chain_ends_at_the_operation(unit: Unit) -> None:
    there = _at_rating(unit, sea=32.0, airflow=0.8, water_flow=0.7, fouled=0.3, speed=50.0 / 60.0, duct_gain=60.0)
    chain = steps(unit, there)
    assert np.prod([step.factor for step in chain]) * chain[0].total == pytest.approx(float(operate(unit, there).total))
    assert [step.name for step in chain][1:4] == ["entering air", "sea temperature", "air flow"]
    assert all(step.factor < 1.0 for step in chain[2:])


@pytest.mark.parametrize(
    ("name", "value"), [("sea", 34.0), ("speed", 50.0 / 60.0), ("fouled", 0.4), ("water_flow", 0.5), ("airflow", 0.6)]
)
def test_what_lowers_capacity(unit: Unit, name: str, value: float) -> None:
    before, after = (operate(unit, _at_rating(unit, **c)) for c in ({}, {name: value}))
    assert after.coil_heat < before.coil_heat
    if name in ("sea", "fouled", "water_flow"):
        assert after.compressor_power > before.compressor_power
        assert after.condensing > before.condensing
    if name == "speed":
        assert after.compressor_power < before.compressor_power


def test_slopes_of_the_trade(unit: Unit) -> None:
    """Common practice, no source: −0.7 to −1.2 % of capacity and +1.5 to +2.5 % of power a kelvin of warmer water; the
    power of a plain cycle, without motor losses that do not grow, rises by up to 3 %."""
    cold, warm = (operate(unit, _at_rating(unit, sea=s)) for s in (28.0, 32.0))
    assert -1.2 < 25.0 * float(np.log(warm.coil_heat / cold.coil_heat)) < -0.65
    assert 1.5 < 25.0 * float(np.log(warm.compressor_power / cold.compressor_power)) < 3.0


def test_less_air_is_colder_and_drier(unit: Unit) -> None:
    full, slow = (operate(unit, _at_rating(unit, airflow=f)) for f in (1.0, 0.6))
    assert slow.leaving_temperature < full.leaving_temperature
    assert slow.surface < full.surface
    assert slow.sensible / slow.total < full.sensible / full.total


def test_dry_air_gives_no_water(unit: Unit) -> None:
    dry = operate(unit, Conditions(26.7, 0.004, SEA))
    assert float(dry.condensate) == 0.0
    assert float(dry.sensible) == pytest.approx(float(dry.total), rel=1e-3)  # less vapour's own heat


def test_hot_sea_trips(unit: Unit) -> None:
    tripped = operate(unit, _at_rating(unit, sea=38.5))
    assert bool(tripped.tripped)
    assert float(tripped.compressor_power) == 0.0
    assert float(tripped.total) == pytest.approx(-unit.fan_power)
    starved = operate(unit, _at_rating(unit, sea=36.0, water_flow=0.12))
    assert bool(starved.tripped)


def test_a_cold_room_with_a_slow_fan_ices(unit: Unit) -> None:
    """Common practice, no source: a setpoint below 21 °C or a blower turned down ices the coil."""
    assert not bool(operate(unit, _at_rating(unit)).icing)
    assert bool(operate(unit, Conditions(16.0, 0.006, 22.0, airflow=0.35)).icing)


def test_heating_by_the_sea(unit: Unit) -> None:
    """Common practice, no source: full heat from 13–16 °C of water, little below 7, none below 4.4 °C."""
    warm, cool, cold, stopped = (float(heating(unit, t)[0]) for t in (16.0, 10.0, 5.0, 4.3))
    assert warm == pytest.approx(3516.85, rel=1e-3)
    assert warm > cool > cold > 0.0
    assert stopped == 0.0
    assert float(heating(unit, 4.3)[1]) == 0.0


def test_the_first_law(unit: Unit) -> None:
    """Heat to the sea is the coil's and the compressor's work; the coil's is the air's less the condensate's."""
    rng = np.random.default_rng(1)
    T, sea = rng.uniform(20.0, 32.0, 50), rng.uniform(10.0, 36.0, 50)
    w = moist_air.humidity_ratio(T, rng.uniform(0.3, 0.8, 50))
    done = operate(unit, Conditions(T, w, sea, rng.uniform(0.5, 1.2, 50)))
    np.testing.assert_allclose(done.rejected, done.coil_heat + done.compressor_power, rtol=1e-12)
    flow = done.condensate / np.maximum(w - done.leaving_humidity_ratio, 1e-12)
    air = moist_air.enthalpy(T, w) - moist_air.enthalpy(done.leaving_temperature, done.leaving_humidity_ratio)
    wet = done.condensate > 1e-9
    balance = flow * air - done.condensate * coil.WATER_HEAT * done.surface
    np.testing.assert_allclose(balance[wet], done.coil_heat[wet], rtol=1e-9)
    assert np.all(done.rejected / np.maximum(done.coil_heat, 1.0) < 2.0)


def test_a_coil_between_its_states() -> None:
    """All air on the coil's surface: it leaves saturated there; none: as it came."""
    touched, missed = (coil.leaving(27.0, 0.012, 10.0, bypass) for bypass in (0.0, 1.0))
    assert float(touched.temperature) == pytest.approx(10.0)
    assert float(touched.humidity_ratio) == pytest.approx(float(moist_air.humidity_ratio(10.0, 1.0)))
    assert (float(missed.temperature), float(missed.humidity_ratio)) == (27.0, 0.012)


@pytest.mark.parametrize(("surface", "bypass"), [(9.0, 0.1), (11.5, 0.2), (6.0, 0.3)])
def test_apparatus_finds_what_made_the_heat(surface: float, bypass: float) -> None:
    behind = coil.leaving(26.7, HUMID, surface, bypass)
    whole, sensible = coil.heat(26.7, HUMID, behind, surface)
    found = coil.apparatus(26.7, HUMID, 0.2, 0.2 * float(whole), 0.2 * float(sensible))
    assert found.dew_point == pytest.approx(surface, abs=1e-6)
    assert found.bypass == pytest.approx(bypass, abs=1e-6)

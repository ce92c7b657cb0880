"""Tables of units against the units themselves, and their air against psychrolib."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest

from heatsim.equipment.capacity import Conditions, operate, water_coil
from heatsim.equipment.catalogue import Unit, read_catalogue
from heatsim.equipment.surface import Kind, Surfaces, surfaces
from heatsim.physics import moist_air
from heatsim.scenario.terms import NO_TERMS

SEA = 29.0


@pytest.fixture(scope="module")
def units() -> list[Unit]:
    chosen = ("Cove 9 50 Hz", "Cove Variable 12 50 Hz", "Eddy 10", "Reach 24 50 Hz")
    known = {unit.model: unit for unit in read_catalogue()}
    return [known[name] for name in chosen]


@pytest.fixture(scope="module")
def tables(units: list[Unit]) -> Surfaces:
    return surfaces([Kind(unit, SEA) for unit in units], NO_TERMS)


def _rooms(
    seed: int, count: int, warm: tuple[float, float], damp: tuple[float, float]
) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    T = rng.uniform(*warm, count)
    return T, moist_air.humidity_ratio(T, rng.uniform(*damp, count))


def test_tables_agree_with_the_units_in_rooms(units: list[Unit], tables: Surfaces) -> None:
    """At full between 20 and 30 °C, 45 to 75 %: straight lines over 1.5 K and 1.25 g/kg lie within 1 % of the curves,
    4 % in the few cells in which a dry coil turns wet."""
    T, w = _rooms(2, 200, (20.0, 30.0), (0.45, 0.75))
    for i, unit in enumerate(units):
        found = tables.look_up(np.full(200, i), np.ones(200), T, w)
        met = Conditions(T, w, SEA, fouled=NO_TERMS.fouling)
        done = operate(unit, met) if unit.compressor_power > 0.0 else water_coil(unit, met, unit.rating.water)
        coil = found.sensible + found.condensate * (2.501e6 + 1860.0 * found.leaving - 4186.0 * found.surface)
        error = np.abs(coil / done.coil_heat - 1.0)
        assert error.max() < 0.04
        assert np.quantile(error, 0.95) < 0.01
        np.testing.assert_allclose(found.power, done.compressor_power, rtol=0.01)
        np.testing.assert_allclose(found.fan, done.fan_power, rtol=1e-12)


def test_tables_agree_at_lower_speed(units: list[Unit], tables: Surfaces) -> None:
    """Between speeds a seventh apart the coil turns dry within a cell: 3 % of the coil's heat at most."""
    T, w = _rooms(3, 200, (20.0, 30.0), (0.45, 0.75))
    stage = np.random.default_rng(4).uniform(0.4, 1.0, 200)
    found = tables.look_up(np.full(200, 1), stage, T, w)
    done = operate(units[1], Conditions(T, w, SEA, fouled=NO_TERMS.fouling, speed=stage))
    coil = found.sensible + found.condensate * (2.501e6 + 1860.0 * found.leaving - 4186.0 * found.surface)
    np.testing.assert_allclose(coil, done.coil_heat, rtol=0.03)


def test_enthalpy_of_the_air_against_psychrolib(tables: Surfaces) -> None:
    """What the air loses by psychrolib's enthalpies is the coil's heat and the drained condensate's.

    psychrolib and heatsim both use ASHRAE Fundamentals 2017, ch. 1, eq. 30; leaving states come from tables here, so
    that heat and vapour are interpolated apart from each other: 0.5 % of the whole.
    """
    psychrolib.SetUnitSystem(psychrolib.SI)
    T, w = _rooms(6, 60, (21.0, 29.0), (0.5, 0.7))
    found = tables.look_up(np.zeros(60, dtype=int), np.ones(60), T, w)
    coil = found.sensible + found.condensate * (2.501e6 + 1860.0 * found.leaving - 4186.0 * found.surface)
    for i in range(60):
        behind = T[i] - found.sensible[i] / found.flow[i] / (1006.0 + 1860.0 * w[i])
        less = w[i] - found.condensate[i] / found.flow[i]
        lost = psychrolib.GetMoistAirEnthalpy(T[i], w[i]) - psychrolib.GetMoistAirEnthalpy(behind, less)
        drained = found.condensate[i] * 4186.0 * found.surface[i]
        assert found.flow[i] * lost == pytest.approx(coil[i] + drained, rel=5e-3)


def test_thirst_is_adiabatic_saturation_by_psychrolib(tables: Surfaces) -> None:
    """On the grid's own points, where nothing is interpolated; psychrolib's wet bulb is found to 0.001 K."""
    from heatsim.equipment.surface import RATIOS, TEMPERATURES

    psychrolib.SetUnitSystem(psychrolib.SI)
    for T, w in ((TEMPERATURES[10], RATIOS[7]), (TEMPERATURES[12], RATIOS[10]), (TEMPERATURES[16], RATIOS[12])):
        wet = psychrolib.GetTWetBulbFromHumRatio(T, w, 101325.0)
        room = psychrolib.GetSatHumRatio(wet, 101325.0) - w
        found = tables.look_up(np.zeros(1, dtype=int), np.ones(1), np.array([T]), np.array([w]))
        assert float(found.thirst[0]) == pytest.approx(room, abs=2e-6)


def test_hot_sea_trips_and_keeps_the_fan(units: list[Unit]) -> None:
    hot = surfaces([Kind(units[0], 40.0)], NO_TERMS)
    found = hot.look_up(np.zeros(3, dtype=int), np.ones(3), np.array([22.0, 26.0, 35.0]), np.full(3, 0.012))
    assert found.tripped.all()
    assert np.all(found.sensible == 0.0)
    assert np.all(found.power == 0.0)
    assert np.all(found.fan == units[0].fan_power)


def test_warmer_sea_costs_capacity_and_power(units: list[Unit]) -> None:
    cool, warm = (surfaces([Kind(units[0], sea)], NO_TERMS) for sea in (24.0, 32.0))
    T, w = _rooms(8, 40, (20.0, 35.0), (0.4, 0.7))
    kind, full = np.zeros(40, dtype=int), np.ones(40)
    before, after = cool.look_up(kind, full, T, w), warm.look_up(kind, full, T, w)
    assert np.all(after.sensible < before.sensible)
    assert np.all(after.power > before.power)


def test_no_air_makes_nonsense(tables: Surfaces) -> None:
    """Far beyond the grid, below it and beyond saturation every number is finite."""
    T, w = (part.ravel() for part in np.meshgrid(np.linspace(-5.0, 75.0, 33), np.linspace(0.0, 0.05, 26)))
    for kind in range(4):
        found = tables.look_up(np.full(len(T), kind), np.full(len(T), 0.7), T, w)
        assert all(np.all(np.isfinite(part)) for part in found)
        assert np.all(found.condensate >= -1e-12)
        assert np.all(found.thirst >= 0.0)

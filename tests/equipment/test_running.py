"""Units at work in still rooms: one supply state for all zones, steady coils, plants that are too small, current."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import psychrolib
import pytest

from heatsim.equipment.capacity import Conditions, operate
from heatsim.equipment.catalogue import Unit, read_catalogue
from heatsim.equipment.chilled import LOOP_SWING, PIPE_GAIN, WATER_HEAT, Plant
from heatsim.equipment.chillers import Chillers
from heatsim.equipment.layouts import CENTRAL, Layout
from heatsim.equipment.needs import Demand
from heatsim.equipment.running import Flows, Working, fleet
from heatsim.equipment.selection import Choice, Offer
from heatsim.equipment.surface import surfaces
from heatsim.equipment.thermostat import Thermostat
from heatsim.equipment.wet_coil import PartLoad
from heatsim.scenario.terms import NO_TERMS

ZONES = ("a", "b", "c")
SEA = 29.0
RATIO = 0.0105


@pytest.fixture(scope="module")
def known() -> dict[str, Unit]:
    return {unit.model: unit for unit in read_catalogue()}


def _offer(unit: Unit, zones: tuple[str, ...], shares: list[float]) -> Offer:
    return Offer(zones, unit, 1, Demand(1.0, 1.0, np.array(shares)), 1.0, 1.0, 1.0, 1.0, 0.0, 0.0)


def _working(layout: Layout, always: bool = True, duct_gain: float = 0.0) -> Working:
    units = fleet([layout], [SEA], ZONES)
    tables = surfaces(units.kinds, NO_TERMS)
    return Working(units, tables, Thermostat(), PartLoad(), duct_gain, always, 60.0)


def _step(working: Working, air: list[float], setpoint: float, beside: float = 0.0) -> Flows:
    T = np.array([air])
    return working.step(
        T, np.full(T.shape, RATIO), T, np.full(T.shape, setpoint), np.ones(T.shape, dtype=bool), np.array([beside])
    )


def _layout(*offers: Offer) -> Layout:
    return Layout("ours", Choice(offers, 0.0, True, 0.0, 0))


def test_a_fan_alone_mixes_its_zones(known: dict[str, Unit]) -> None:
    """With the compressor off the warmer zone cools and the cooler warms: flow × share × heat × difference from the
    mixture, and the fan's heat comes on top."""
    unit = known["Cove 12 50 Hz"]
    working = _working(_layout(_offer(unit, ("a", "b"), [0.75, 0.25])))
    flows = _step(working, [26.0, 22.0, 24.0], 30.0)
    heat, vapour = working.to_zones(3)
    assert float(flows.running[0]) == 0.0
    assert float(heat.sum()) == pytest.approx(unit.fan_power, rel=1e-12)
    psychrolib.SetUnitSystem(psychrolib.SI)
    mixed = 0.75 * 26.0 + 0.25 * 22.0
    density = psychrolib.GetMoistAirDensity(mixed, RATIO, 101325.0) / (1.0 + RATIO)
    stream = unit.airflow * density * (1006.0 + 1860.0 * RATIO)
    # The flow is read off a grid of 1.5 K and 1.25 g/kg: 0.1 %.
    assert heat[0, 0] == pytest.approx(0.75 * (unit.fan_power + stream * (mixed - 26.0)), rel=1e-3)
    assert heat[0, 1] == pytest.approx(0.25 * (unit.fan_power + stream * (mixed - 22.0)), rel=1e-3)
    assert heat[0, 2] == 0.0
    assert float(np.abs(vapour).max()) < 1e-18


def test_a_fan_that_pauses_moves_nothing(known: dict[str, Unit]) -> None:
    working = _working(_layout(_offer(known["Cove 12 50 Hz"], ("a", "b"), [0.75, 0.25])), always=False)
    _step(working, [26.0, 22.0, 24.0], 30.0)
    heat, vapour = working.to_zones(3)
    assert np.all(heat == 0.0)
    assert np.all(vapour == 0.0)


def test_a_unit_that_runs_on_does_what_it_does_steadily(known: dict[str, Unit]) -> None:
    """After an hour its coil is full and drains what condenses: `operate`, and psychrolib's enthalpies of its air."""
    unit = known["Cove 9 50 Hz"]
    working = _working(_layout(_offer(unit, ("a",), [1.0])), duct_gain=0.05)
    for _ in range(60):
        flows = _step(working, [25.0, 25.0, 25.0], -60.0)
    done = operate(unit, Conditions(25.0, RATIO, SEA, fouled=NO_TERMS.fouling))
    near = {"rel": 0.01}  # of the tables, test_surface.py
    assert float(flows.coil[0]) == pytest.approx(float(done.coil_heat), **near)
    assert float(flows.sensible[0]) == pytest.approx(0.95 * float(done.sensible), **near)
    assert float(flows.moisture[0]) == pytest.approx(float(done.condensate), **near)
    assert float(flows.drained[0]) == pytest.approx(float(flows.moisture[0]), rel=1e-9)
    psychrolib.SetUnitSystem(psychrolib.SI)
    stream = unit.airflow * psychrolib.GetMoistAirDensity(25.0, RATIO, 101325.0) / (1.0 + RATIO)
    behind = 25.0 - float(flows.sensible[0] + flows.fan[0] + flows.duct[0]) / stream / (1006.0 + 1860.0 * RATIO)
    less = RATIO - float(flows.moisture[0]) / stream
    lost = psychrolib.GetMoistAirEnthalpy(25.0, RATIO) - psychrolib.GetMoistAirEnthalpy(behind, less)
    assert stream * lost == pytest.approx(float(flows.coil[0] + flows.drained_heat[0]), rel=2e-3)


def test_capacity_comes_up_over_a_minute(known: dict[str, Unit]) -> None:
    """1 − e^(−t/τ) with τ = 60 s: on the mean of its first minute a unit gives e⁻¹ = 0.37 of its steady cooling."""
    working = _working(_layout(_offer(known["Cove 9 50 Hz"], ("a",), [1.0])))
    first = float(_step(working, [25.0, 25.0, 25.0], -60.0).coil[0])
    for _ in range(30):
        last = float(_step(working, [25.0, 25.0, 25.0], -60.0).coil[0])
    assert first / last == pytest.approx(np.exp(-1.0), rel=1e-9)


def test_a_plant_that_is_too_small_is_shared(known: dict[str, Unit]) -> None:
    """Handlers that ask for more than the plant has all get the same part of it; other coils on it are served first."""
    handler, chiller = known["Eddy 10"], next(unit for unit in known.values() if unit.kind == "chiller")
    plant = Plant(chiller, 1, 1.0, 1500.0, 500.0, 3.0, 1.0, 0.0)
    offers = tuple(_offer(handler, (zone,), [1.0]) for zone in ZONES)
    layout = replace(_layout(*offers), name=CENTRAL, plant=plant)
    working = _working(layout)
    for beside, left in ((0.0, 1500.0), (500.0, 1500.0 - 500.0 * (1.0 + PIPE_GAIN)), (1e4, 0.0)):
        for _ in range(30):
            flows = _step(working, [26.0, 26.0, 26.0], -60.0, beside)
        assert float(flows.coil.sum()) * (1.0 + PIPE_GAIN) == pytest.approx(left, rel=1e-9, abs=1e-9)
        assert np.ptp(flows.coil) < 1e-9
    assert float(working.chill(np.zeros(3)).heat[0]) <= 1500.0


def test_chillers_follow_the_water_in_their_loop(known: dict[str, Unit]) -> None:
    """Half the load of two staged chillers for a day: stages go on and off, the loop closes, and stays near its swing.

    A loop that holds the smallest stage for 300 s within 5 K, as it is sized, turns over no faster than that.
    """
    unit = next(u for u in known.values() if u.kind == "chiller" and u.regulation == "staged")
    capacity, smallest = 20e3, unit.smallest_stage / 2
    loop = smallest * capacity * 300.0 / (WATER_HEAT * LOOP_SWING)
    plant = Plant(unit, 2, 18e3, capacity, 6e3, 30.0, smallest, loop)
    chillers = Chillers([plant, None], 60.0)
    load = 9.3e3
    before = chillers.stored
    done = [chillers.step(np.array([load, 0.0]), np.ones(2, dtype=bool)) for _ in range(1440)]
    heat = 60.0 * sum(float(one.heat[0]) for one in done)
    # First law of the loop, in doubles.
    assert 1440 * 60.0 * load - heat == pytest.approx(float((chillers.stored - before)[0]), abs=1e-3)
    assert heat == pytest.approx(1440 * 60.0 * load, rel=0.01)
    parts = {round(float(one.heat[0]) / capacity, 6) for one in done[60:]}
    assert parts == {0.25, 0.5}
    # Overshoots by what a delayed stage lets through in two minutes at most.
    assert abs(float(chillers.warm[0])) <= 0.5 * LOOP_SWING + 2.0 * 60.0 * load / (WATER_HEAT * loop)
    starts = sum(float(one.started[0]) for one in done)
    assert starts <= 24.0 * 3600.0 / 300.0
    assert all(float(one.heat[1]) == 0.0 for one in done)
    stopped = chillers.step(np.array([0.0, 0.0]), np.zeros(2, dtype=bool))
    assert float(stopped.power[0]) == 0.0


def test_units_side_by_side_start_one_after_the_other(known: dict[str, Unit]) -> None:
    """Two on one zone, a quarter of a kelvin apart: a slowly warming room starts the first alone."""
    unit = known["Cove 9 50 Hz"]
    working = _working(_layout(replace(_offer(unit, ("a",), [1.0]), count=2)))
    courses = np.array([_step(working, [T, 24.0, 24.0], 24.0).started for T in np.linspace(24.0, 25.2, 40)])
    starts = courses.argmax(axis=0)
    assert np.all(courses.sum(axis=0) == 1.0)
    assert starts[0] < starts[1]

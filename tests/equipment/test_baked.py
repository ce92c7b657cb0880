"""What drives a proof: the same days in finer steps, and the same boat closed and off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatsim import resolve
from heatsim.equipment.baked import DesignDays, baked, closed, design_days
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolved import OUTDOORS, Resolved
from heatsim.scenario.starters import demo
from heatsim.solve.base import Band
from heatsim.solve.driving import Driven
from heatsim.solve.forcing import force
from heatsim.solve.stepping import advance


@pytest.fixture(scope="module")
def boat() -> Resolved:
    return resolve(read_text(demo("dunlin-11")))


@pytest.fixture(scope="module")
def days(boat: Resolved) -> DesignDays:
    return design_days(boat, 120.0, 60.0)


def test_fine_steps_are_the_same_day(boat: Resolved, days: DesignDays) -> None:
    """A boat without cooling, by minutes and by quarters of an hour: drivers straight within a quarter are integrated
    exactly either way, so that only round-off of 1440 steps is left."""
    from heatsim.loads.line import solve_days

    line, runs, zones = days.line, len(days.days), len(days.line.zones)
    free = Driven(days.operators, days.heat, days.settled[0], np.arange(runs), np.zeros(runs, dtype=int), days.steps)
    for _ in range(days.steps):
        free.step(np.zeros((runs, zones)))
    solved = solve_days(line, np.array([120.0]))
    u = np.concatenate([stretch.heat_u for stretch in solved], axis=1)
    numbers = np.stack([stretch.number for stretch in solved])
    off = np.zeros((1, 1, 1))
    forcing = force(line.heat_operators, u[0], u[1], numbers)
    done = advance(line.heat_operators, days.settled[0], forcing, numbers, Band(off, off - 50.0, off, off))
    assert float(np.abs(done.end - days.settled[0]).max()) > 1.0, "the day must leave its mark"
    np.testing.assert_allclose(free.state(), done.end, atol=1e-9)


def test_days_are_those_that_size_equipment(days: DesignDays) -> None:
    assert [day.kind for day in days.days] == ["hot", "humid"]
    assert days.at(15.0) == 900
    assert days.at(24.0) == 0


def test_a_closed_boat_has_nobody_aboard_and_nothing_open(boat: Resolved) -> None:
    shut = closed(boat)
    for zone in shut.zones:
        assert all(max(people.routine.values) == 0.0 for people in zone.people)
        assert max(zone.fan_on.values) == 0.0
        assert zone.control is None or max(zone.control.cooling_on.values) == 0.0
    for opening in shut.openings:
        assert OUTDOORS not in (opening.first, opening.second) or max(opening.routine.values) == 0.0
    fresh = [flow for flow in shut.flows if flow.kind != "infiltration"]
    assert fresh
    assert all(max(flow.routine.values) == 0.0 for flow in fresh)
    leaks = [flow for flow in shut.flows if flow.kind == "infiltration"]
    assert leaks == [flow for flow in boat.flows if flow.kind == "infiltration"]


@pytest.mark.parametrize("name", ["dunlin-11", "tern-24", "skua-38"])
def test_a_closed_boat_bakes(name: str) -> None:
    """Every demo boat: by three in the afternoon the worst room is hotter than outdoors, by no more than a car.

    Parked cars rise by 22 K on the mean (McLaren, Null and Quinn, Pediatrics 116, 2005, from memory).
    """
    resolved = resolve(read_text(demo(name)))
    hot = replace(resolved, days=tuple(day for day in resolved.days if day.kind == "hot"))
    line_of = design_days(hot, 120.0, 900.0)
    heat, wet = baked(line_of, [15.0, 5.0])
    zones = len(line_of.line.zones)
    air = [
        Driven(
            line_of.operators, line_of.heat, state, np.zeros(1, dtype=int), np.array([line_of.at(hour)]), 1
        ).reading()
        for state, hour in zip(heat, (15.0, 5.0), strict=True)
    ]
    day, night = (part[0, :zones] for part in air)
    outdoors = float(line_of.weathers[0].air.max())
    glazed = {face.zone for face in hot.faces if face.kind == "glass"}
    rooms = [i for i, zone in enumerate(line_of.line.zones) if zone in glazed]
    assert np.all(day[rooms] > night[rooms])
    assert 0.0 < float(day[rooms].max()) - outdoors < 25.0
    ratio = wet[:, 0] + line_of.origin[0]
    assert np.all((ratio > 0.005) & (ratio < 0.04))

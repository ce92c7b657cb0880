"""Runs of a chunk as batches: cases that share network, class of climate and wind go through the solver together.

What a case gives hangs on the case alone: its network is linearised in its own class, and every run of a batch is
carried by itself. `simulate(boat, shared=True)` gives the same to round-off.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.climate.days import design_weather
from heatsim.climate.weather import Weather
from heatsim.loads.classes import ClimateClass, climate_class, wind_class
from heatsim.loads.line import Line, make_line, one_blas_thread, solve_days
from heatsim.loads.paths import RoomHours, room_hours
from heatsim.scenario.resolved import Day, Place, Resolved

Array = npt.NDArray[np.float64]

MOST_LINES = 6
"""Prepared networks kept: of a boat of 320 nodes and ten regimes each takes 90 MB (measured)."""
MOST_WEATHERS = 2000
WORTH_BATCHING = 2e6
"""Runs × nodes² of a batch up to which the compiled loop, run by run, is the faster, once it is loaded (measured)."""


class Case(NamedTuple):
    """One boat in one place and month, and what tells her network from others'."""

    network: Hashable
    boat: Resolved


class _Group(NamedTuple):
    """What shares a prepared network and its headings."""

    network: Hashable
    climate: ClimateClass
    wind: float
    headings: tuple[float, ...]


@dataclass
class Prepared:
    """What earlier chunks prepared: networks by boat, class and wind, and weathers by place and day."""

    step: float
    lines: dict[tuple[Hashable, ClimateClass, float], Line] = field(default_factory=dict)
    weathers: dict[tuple[Place, Day], Weather] = field(default_factory=dict)

    def weather(self, boat: Resolved, day: Day) -> Weather:
        """The weather of a day at a boat's place."""
        key = replace(boat.place, headings=(), heading_mode="fixed"), day
        if key not in self.weathers:
            if len(self.weathers) >= MOST_WEATHERS:
                self.weathers.clear()
            self.weathers[key] = design_weather(boat, day, self.step)
        return self.weathers[key]

    def line(self, group: _Group, boat: Resolved, weather: Weather) -> Line:
        """The network of a boat in a class and wind, of one weather."""
        key = group[:3]
        if key in self.lines:
            self.lines[key] = self.lines.pop(key)  # the one used last goes last
        else:
            while len(self.lines) >= MOST_LINES:
                del self.lines[next(iter(self.lines))]
            self.lines[key] = make_line(boat, (weather,), group.climate)
        return self.lines[key]


def solve_cases(cases: Sequence[Case], prepared: Prepared) -> list[list[RoomHours]]:
    """Every day of every case.

    Returns
    -------
    list of list of RoomHours
        For each case, one for each of its days; arrays (heading, hour, zone), conditioned zones only.
    """
    found: list[list[RoomHours | None]] = [[None] * len(case.boat.days) for case in cases]
    groups: dict[_Group, list[tuple[int, int, Weather]]] = {}
    for i, case in enumerate(cases):
        weathers = [prepared.weather(case.boat, day) for day in case.boat.days]
        climate = climate_class(weathers)
        for j, weather in enumerate(weathers):
            group = _Group(case.network, climate, wind_class(float(weather.wind[0])), case.boat.place.headings)
            groups.setdefault(group, []).append((i, j, weather))
    with one_blas_thread():
        for group, members in groups.items():
            boat = cases[members[0][0]].boat
            line = prepared.line(group, boat, members[0][2])
            for place, hours in zip(members, _solve(line, group, [weather for _, _, weather in members]), strict=True):
                found[place[0]][place[1]] = hours
    return found  # type: ignore[return-value]


def _solve(line: Line, group: _Group, weathers: list[Weather]) -> list[RoomHours]:
    headings = np.array(group.headings)
    number = line.regimes.numbers[0]
    filled = replace(
        line, weathers=tuple(weathers), regimes=replace(line.regimes, numbers=(number,) * len(weathers))
    )
    nodes = int(np.sum(line.heat.capacity > 0.0))
    compiled = len(weathers) * len(headings) * nodes**2 <= WORTH_BATCHING
    stretches = solve_days(filled, headings, compiled=compiled)
    cooled = [i for i, name in enumerate(line.zones) if _cooled(line.resolved, name)]
    return [RoomHours(*(part[..., cooled] for part in room_hours(filled, stretch))) for stretch in stretches]


def _cooled(boat: Resolved, name: str) -> bool:
    return any(zone.name == name and zone.control is not None for zone in boat.zones)

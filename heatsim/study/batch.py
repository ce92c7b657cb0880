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
from heatsim.climate.weather import Weather, routine_values
from heatsim.loads.classes import ClimateClass, climate_class, wind_class
from heatsim.loads.line import Line, make_line, one_blas_thread, solve_days
from heatsim.loads.paths import RoomHours, room_hours
from heatsim.scenario.resolved import Day, Place, Resolved
from heatsim.solve.control import Patterns
from heatsim.solve.operators import Operators

Array = npt.NDArray[np.float64]

MOST_MEMORY = 0.3e9
"""[B] Of the operators kept; those of a boat of 320 nodes and ten regimes take 67 MB (by their arrays)."""
MOST_WEATHERS = 2000
"""Days of weather kept; 10 kB each at half an hour (by its arrays)."""


class Case(NamedTuple):
    """One boat in one place and month, what tells her network from others', and limits of the rooms' sensible cooling
    on each day, (room,) W, where they are not the boat's own.
    """

    network: Hashable
    boat: Resolved
    limits: tuple[Array, ...] | None = None


class _Group(NamedTuple):
    """What shares a prepared network and its headings."""

    network: Hashable
    climate: ClimateClass
    wind: float
    headings: tuple[float, ...]
    limited: bool


class _Member(NamedTuple):
    """One day of one case."""

    case: int
    day: int
    weather: Weather
    limits: Array | None


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
            line = make_line(boat, (weather,), group.climate)
            line = replace(line, heat_operators=lean(line.heat_operators))
            room = MOST_MEMORY - memory_of(line.heat_operators)
            while self.lines and sum(memory_of(one.heat_operators) for one in self.lines.values()) > room:
                del self.lines[next(iter(self.lines))]
            self.lines[key] = line
        return self.lines[key]


def lean(operators: Operators) -> Operators:
    """Without the matrices that operators were made of, as large again as what is left."""
    nothing = np.zeros((0, 0))
    regimes = tuple(
        replace(op, condensed=replace(op.condensed, A=nothing, B=nothing, G=nothing)) for op in operators.regimes
    )
    system = replace(operators.system, K=nothing[None], B=nothing[None])
    return Operators(system, operators.step, regimes, Patterns(regimes))


def memory_of(operators: Operators) -> int:
    """What prepared operators take. [B]"""
    things = (vars(thing) for op in operators.regimes for thing in (op, op.condensed))
    arrays = [one for thing in things for one in thing.values() if isinstance(one, np.ndarray)]
    owners = [one if one.base is None else one.base for one in arrays]
    return sum({id(owner): owner.nbytes for owner in owners}.values())


def solve_cases(cases: Sequence[Case], prepared: Prepared) -> list[list[RoomHours]]:
    """Every day of every case.

    Returns
    -------
    list of list of RoomHours
        For each case, one for each of its days; arrays (heading, hour, zone), conditioned zones only.
    """
    found: list[list[RoomHours | None]] = [[None] * len(case.boat.days) for case in cases]
    groups: dict[_Group, list[_Member]] = {}
    for i, case in enumerate(cases):
        weathers = [prepared.weather(case.boat, day) for day in case.boat.days]
        climate, limited = climate_class(weathers), case.limits is not None
        for j, weather in enumerate(weathers):
            wind = wind_class(float(weather.wind[0]))
            group = _Group(case.network, climate, wind, case.boat.place.headings, limited)
            limits = None if case.limits is None else case.limits[j]
            groups.setdefault(group, []).append(_Member(i, j, weather, limits))
    with one_blas_thread():
        for group, members in groups.items():
            line = prepared.line(group, cases[members[0].case].boat, members[0].weather)
            for member, hours in zip(members, _solve(line, group, members), strict=True):
                found[member.case][member.day] = hours
    return found  # type: ignore[return-value]


def _solve(line: Line, group: _Group, members: list[_Member]) -> list[RoomHours]:
    headings, weathers = np.array(group.headings), tuple(member.weather for member in members)
    number = line.regimes.numbers[0]
    filled = replace(line, weathers=weathers, regimes=replace(line.regimes, numbers=(number,) * len(members)))
    cooled = [i for i, name in enumerate(line.zones) if _cooled(line.resolved, name)]
    limits = _limits(line, cooled, members) if group.limited else None
    stretches = solve_days(filled, headings, limits, compiled=True)
    for operators in (line.heat_operators, line.moisture_operators):
        operators.patterns.members.clear()  # of no use to other runs
        operators.inverses.clear()  # of many networks they would fill the memory
    return [RoomHours(*(part[..., cooled] for part in room_hours(filled, stretch))) for stretch in stretches]


def _limits(line: Line, cooled: list[int], members: list[_Member]) -> Array:
    """Limits on the clock, nothing while cooling is switched off, (member, step, zone). [W]"""
    minute = members[0].weather.local_minute
    out = np.zeros((len(members), len(minute), len(line.zones)))
    controls = {zone.name: zone.control for zone in line.resolved.zones}
    for room, i in enumerate(cooled):
        control = controls[line.zones[i]]
        assert control is not None
        on = routine_values(control.cooling_on, minute) > 0.0
        for member, values in enumerate(members):
            assert values.limits is not None
            out[member, :, i] = np.where(on, values.limits[room], 0.0)
    return out


def _cooled(boat: Resolved, name: str) -> bool:
    return any(zone.name == name and zone.control is not None for zone in boat.zones)

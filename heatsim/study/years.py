"""Weather years of a chunk: cases with the same weather that are alike outside go side by side."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple, Protocol

import numpy as np
import numpy.typing as npt

from heatsim.climate.weather import Weather, routine_values
from heatsim.climate.years import year_weather
from heatsim.loads.alike import alike_outside, of_networks
from heatsim.loads.classes import climate_class
from heatsim.loads.line import Line, Stretch, make_line, one_blas_thread
from heatsim.loads.paths import RoomHours, room_hours
from heatsim.loads.shared import Outside
from heatsim.loads.year_causes import Months, PeakDays
from heatsim.loads.years import fleets, solve_years
from heatsim.network.base import System
from heatsim.scenario.resolved import Place, Resolved, WeatherYear
from heatsim.solve.operators import Operators, prepare
from heatsim.solve.threads import each
from heatsim.study.batch import MOST_MEMORY, Case, lean, memory_of

Array = npt.NDArray[np.float64]

MOST_LINES = 4
"""Networks kept (assumed), as far as there is memory for them (`batch.MOST_MEMORY`)."""


class Collector(Protocol):
    """What is gathered of a fleet month by month; see `loads.year_causes`."""

    def look(self, stretch: Stretch, rooms: RoomHours) -> None: ...

    def found(self) -> dict[str, Array]: ...


class _Nothing:
    """Gathers nothing."""

    def __init__(self, lines: Sequence[Line], cooled: Sequence[int]) -> None: ...

    def look(self, stretch: Stretch, rooms: RoomHours) -> None: ...

    def found(self) -> dict[str, Array]:
        return {}


COLLECTORS: dict[str, Callable[[Sequence[Line], Sequence[int]], Collector]] = {
    "none": _Nothing, "peak day": PeakDays, "monthly": Months,
}  # fmt: skip
"""By what a study file asks for as `causes`."""


class YearRun(NamedTuple):
    """One run: hours (heading, hour, zone) of its rooms, by the hour the sea [°C] and the local clock [h], and its load
    by cause (heading, room, ...) where that is asked for.
    """

    hours: RoomHours
    sea: Array
    local_hour: Array
    causes: dict[str, Array]


@dataclass
class PreparedYears:
    """What earlier chunks prepared: weather by place and file, operators by what they are made of."""

    step: float
    weathers: dict[tuple[Place, WeatherYear | None], tuple[Weather, ...]] = field(default_factory=dict)
    operators: dict[tuple[bytes, float], Operators] = field(default_factory=dict)
    lines: dict[Hashable, Line] = field(default_factory=dict)
    outside: list[Outside] = field(default_factory=list)

    def weather(self, boat: Resolved) -> tuple[Weather, ...]:
        """The months of a boat's weather year."""
        key = replace(boat.place, headings=(), heading_mode="fixed"), boat.weather_year
        if key not in self.weathers:
            self.weathers.clear()
            self.lines.clear()
            self.operators.clear()
            self.outside.clear()
            self.weathers[key] = year_weather(boat, self.step)
        return self.weathers[key]

    def line(self, boat: Resolved, weathers: tuple[Weather, ...]) -> Line:
        """The line of a boat: her own, or that of one with the same networks."""
        key = of_networks(boat)
        if key not in self.lines:
            self.lines[key] = make_line(boat, weathers, climate_class(weathers), self.ready)
        known = self.lines[key] = self.lines.pop(key)  # the one used last goes last
        while len(self.lines) > 1 and (len(self.lines) > MOST_LINES or self._memory() > MOST_MEMORY):
            gone = self.lines.pop(next(iter(self.lines)))
            left = {id(part) for one in self.lines.values() for part in (one.heat_operators, one.moisture_operators)}
            own = {id(gone.heat_operators), id(gone.moisture_operators)} - left
            self.operators = {name: part for name, part in self.operators.items() if id(part) not in own}
        return known if known.resolved is boat else replace(known, resolved=boat)

    def _memory(self) -> int:
        distinct = {id(line.heat_operators): line.heat_operators for line in self.lines.values()}
        return sum(map(memory_of, distinct.values()))

    def ready(self, system: System, step: float) -> Operators:
        """`operators.prepare`, or what it gave for the same matrices; those of the lines that are kept are."""
        digest = hashlib.blake2b(digest_size=20)
        for part in (system.capacity, system.K, system.B, system.S, system.Y, system.holdable):
            digest.update(np.ascontiguousarray(part).tobytes())
        key = digest.digest(), step
        if key not in self.operators:
            self.operators[key] = lean(prepare(system, step))
        return self.operators[key]


def solve_year_cases(cases: Sequence[Case], prepared: PreparedYears, causes: str = "none") -> list[YearRun]:
    """The weather year of every case; its limits, where there are, are one of rooms (room,) for each month.

    Causes are those of the loads of boats as they are; runs with limits of their own have none.
    """
    found: dict[int, YearRun] = {}
    groups: list[list[tuple[int, Line]]] = []
    held: dict[int, int] = {}
    with one_blas_thread():
        for i, case in enumerate(cases):
            weathers = prepared.weather(case.boat)
            line = prepared.line(case.boat, weathers)
            own = {id(line.heat_operators): memory_of(line.heat_operators)}
            if held and sum((held | own).values()) > MOST_MEMORY:  # solve what has come together so far
                found |= _solved(cases, groups, causes, prepared.outside)
                groups, held = [], {}
            held |= own
            group = next((group for group in groups if _together(cases, group[0], i, line)), None)
            if group is None:
                groups.append([(i, line)])
            else:
                group.append((i, line))
        found |= _solved(cases, groups, causes, prepared.outside)
    return [found[i] for i in range(len(cases))]


def _solved(
    cases: Sequence[Case], groups: list[list[tuple[int, Line]]], causes: str, kept: list[Outside]
) -> dict[int, YearRun]:
    found: dict[int, YearRun] = {}
    for group in groups:
        found |= _solve(cases, group, causes, kept)
    return found


def _together(cases: Sequence[Case], member: tuple[int, Line], i: int, line: Line) -> bool:
    """Whether a case can go with another: the same weather, headings and outside, held against units or not."""
    j, other = member
    one, two = cases[i], cases[j]
    same = line.weathers is other.weathers and one.boat.place.headings == two.boat.place.headings
    return same and (one.limits is None) == (two.limits is None) and alike_outside(line, other)


def _solve(
    cases: Sequence[Case], group: Sequence[tuple[int, Line]], causes: str, kept: list[Outside]
) -> dict[int, YearRun]:
    numbers, lines = [i for i, _ in group], [line for _, line in group]
    first = cases[numbers[0]]
    limits = None if first.limits is None else [_limits(cases[i], line) for i, line in group]
    parts: list[list[RoomHours]] = [[] for _ in lines]
    members, runs, cooled = fleets(lines), len(first.boat.place.headings), _cooled(lines[0])
    collect = COLLECTORS[causes if limits is None else "none"]
    collectors = [collect([lines[i] for i in own], cooled) for own in members]

    def month(own: list[int], stretch: Stretch, collector: Collector) -> RoomHours:
        hours = RoomHours(*(part[..., cooled] for part in room_hours(lines[own[0]], stretch)))
        collector.look(stretch, hours)
        return hours

    for stretches in solve_years(lines, np.array(first.boat.place.headings), limits=limits, kept=kept):
        for own, fleet in zip(members, each(month, members, stretches, collectors), strict=True):
            for place, i in enumerate(own):
                parts[i].append(RoomHours(*(values[place * runs : (place + 1) * runs] for values in fleet)))
    split = {
        i: {name: part[place * runs : (place + 1) * runs] for name, part in found.items()}
        for own, found in zip(members, each(lambda one: one.found(), collectors), strict=True)
        for place, i in enumerate(own)
    }
    sea, clock = _hourly(lines[0].weathers)
    return {
        number: YearRun(_whole(parts[i]), sea, clock, split[i]) for i, number in enumerate(numbers)
    }  # fmt: skip


def _whole(months: Sequence[RoomHours]) -> RoomHours:
    return RoomHours(*(np.concatenate(values, axis=1) for values in zip(*months, strict=True)))


def _cooled(line: Line) -> list[int]:
    controlled = {zone.name for zone in line.resolved.zones if zone.control is not None}
    return [i for i, name in enumerate(line.zones) if name in controlled]


def _limits(case: Case, line: Line) -> list[Array]:
    """Limits on the clock of each month, nothing while cooling is switched off, (step, zone). [W]"""
    assert case.limits is not None
    out = []
    for weather, values in zip(line.weathers, case.limits, strict=True):
        steps = np.zeros((len(weather.local_minute), len(line.zones)))
        for room, i in enumerate(_cooled(line)):
            control = next(zone.control for zone in line.resolved.zones if zone.name == line.zones[i])
            assert control is not None
            on = routine_values(control.cooling_on, weather.local_minute) > 0.0
            steps[:, i] = np.where(on, values[room], 0.0)
        out.append(steps)
    return out


def _hourly(weathers: Sequence[Weather]) -> tuple[Array, Array]:
    """The sea and the local clock at every hour of the year."""
    per_hour = round(3600.0 / weathers[0].step)
    sea = np.concatenate([weather.sea.mean(axis=0) for weather in weathers]).reshape(-1, per_hour).mean(axis=1)
    minute = np.concatenate([weather.local_minute for weather in weathers])[::per_hour]
    return sea, np.floor(minute / 60.0)

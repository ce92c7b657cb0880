"""Weather years of a chunk: cases with the same weather whose matrices are the same are carried as one batch.

Draws of persons, setpoints or appliances change drivers and controls alone; they share operators and the sun.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.climate.weather import Weather, routine_values
from heatsim.climate.years import year_weather
from heatsim.loads.classes import climate_class
from heatsim.loads.line import Line, make_line, one_blas_thread
from heatsim.loads.paths import RoomHours, room_hours
from heatsim.loads.years import Suns, solve_years
from heatsim.network.base import System
from heatsim.scenario.resolved import Place, Resolved, WeatherYear
from heatsim.solve.stepping import Operators, prepare
from heatsim.study.batch import Case

Array = npt.NDArray[np.float64]

MOST_OPERATORS = 8
"""Prepared matrices kept, those of heat and of moisture each counting one."""


class YearRun(NamedTuple):
    """One run: hours (heading, hour, zone) of its rooms, and by the hour the sea [°C] and the local clock [h]."""

    hours: RoomHours
    sea: Array
    local_hour: Array


@dataclass
class PreparedYears:
    """What earlier chunks prepared: weather by place and file, operators by what they are made of."""

    step: float
    weathers: dict[tuple[Place, WeatherYear | None], tuple[Weather, ...]] = field(default_factory=dict)
    operators: dict[tuple[bytes, float], Operators] = field(default_factory=dict)
    suns: Suns = field(default_factory=dict)

    def weather(self, boat: Resolved) -> tuple[Weather, ...]:
        """The months of a boat's weather year."""
        key = replace(boat.place, headings=(), heading_mode="fixed"), boat.weather_year
        if key not in self.weathers:
            self.weathers.clear()
            self.suns.clear()
            self.weathers[key] = year_weather(boat, self.step)
        return self.weathers[key]

    def ready(self, system: System, step: float) -> Operators:
        """`stepping.prepare`, or what it gave for the same matrices."""
        digest = hashlib.blake2b(digest_size=20)
        for part in (system.capacity, system.K, system.B, system.S, system.Y, system.holdable):
            digest.update(np.ascontiguousarray(part).tobytes())
        key = digest.digest(), step
        if key in self.operators:
            self.operators[key] = self.operators.pop(key)  # the ones used last go last
        else:
            while len(self.operators) >= MOST_OPERATORS:
                del self.operators[next(iter(self.operators))]
            self.operators[key] = prepare(system, step)
        return self.operators[key]


def solve_year_cases(cases: Sequence[Case], prepared: PreparedYears) -> list[YearRun]:
    """The weather year of every case; its limits, where there are, are one of rooms (room,) for each month."""
    found: dict[int, YearRun] = {}
    groups: dict[tuple[int, int, tuple[float, ...], bool], list[tuple[int, Line]]] = {}
    with one_blas_thread():
        for i, case in enumerate(cases):
            weathers = prepared.weather(case.boat)
            line = make_line(case.boat, weathers, climate_class(weathers), prepared.ready)
            key = id(line.heat_operators), id(line.moisture_operators), case.boat.place.headings, case.limits is None
            groups.setdefault(key, []).append((i, line))
        for (_, _, headings, free), members in groups.items():
            lines = [line for _, line in members]
            limits = None if free else [_limits(cases[i], line) for i, line in members]
            parts: list[list[RoomHours]] = [[] for _ in lines]
            for stretches in solve_years(lines, np.array(headings), limits=limits, suns=prepared.suns):
                for part, line, stretch in zip(parts, lines, stretches, strict=True):
                    rooms = room_hours(line, stretch)
                    part.append(RoomHours(*(values[..., _cooled(line)] for values in rooms)))
            for (i, line), months in zip(members, parts, strict=True):
                whole = RoomHours(*(np.concatenate(values, axis=1) for values in zip(*months, strict=True)))
                found[i] = YearRun(whole, *_hourly(line.weathers))
    return [found[i] for i in range(len(cases))]


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

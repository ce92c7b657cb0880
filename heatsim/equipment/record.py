"""What a batch of runs does, collected step by step: traces, courses and sums of each run's day that counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from heatsim.equipment.running import Fleet, Flows, Working
from heatsim.equipment.treatment import TreatedAir

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]
Start = Literal["settled", "baked", "full", "coast"]

SETTLED: Final = "settled"
BAKED: Final = "baked"
FULL: Final = "full"
COAST: Final = "coast"
OF_COILS = ("coil", "fan", "vapour_heat", "drained", "drained_heat")
"""Of `treatment.TreatedAir`."""


@dataclass(frozen=True)
class Run:
    """One layout on one day from one kind of start; the day that counts begins with step `counted`."""

    layout: str
    day: str
    start: Start
    first: int
    counted: int


@dataclass(frozen=True)
class Record:
    """What a batch did on each run's day that counts.

    Traces (run, step, zone); courses (run, step) of power [W] and current [A], (unit, step) of stages. Sums over the
    day in J, kg and s: by name in `units` (unit,), heat and vapour brought to rooms (run, zone), what sea water pumps
    take (run,), what the plant takes and the heat it takes from its loop (2, run), starts of chillers (run,), heat in
    the loop at the day's start and end (2, run), and how far it leaves the middle of its swing [K] (run,); by name in
    `fresh` (run,) what coils for outdoor air do. `stored` is water [kg] and its heat [J] on coils at the day's start
    and end, each (2, unit).
    """

    air: Array
    operative: Array
    reading: Array
    humidity_ratio: Array
    coldest_skin: Array
    power: Array
    current: Array
    start_current: Array
    stage: Array
    units: dict[str, Array]
    heat: Array
    vapour: Array
    sea_pump: Array
    plant: Array
    plant_starts: Array
    loop: Array
    warmest: Array
    fresh: dict[str, Array]
    stored: tuple[Array, Array]


class Log:
    """Collects what a batch does, each run from its own first counted step on."""

    def __init__(self, units: Fleet, runs: int, zones: int, day: int, counted: Indices, sea_pump: float = 0.0) -> None:
        self.units, self.day, self.counted, self.of_unit = units, day, counted, counted[units.run]
        self.first = int(counted.min())
        self.together = self.first == int(counted.max())
        self.sea_pump, self.pumped = sea_pump, np.zeros(runs)
        count = len(units.run)
        self.traces = np.empty((5, runs, day, zones))
        self.courses = np.empty((3, runs, day))
        self.stage = np.empty((count, day))
        self.sums = np.zeros((len(Flows._fields), count))
        self.given, self.plant = np.zeros((2, runs, zones)), np.zeros((3, runs))
        self.loop, self.warmest = np.zeros((2, runs)), np.zeros(runs)
        self.stored = np.zeros((2, 2, count))
        self.starting = units.of_kinds([kind.unit.start_current for kind in units.kinds])

    def open(self, k: int, now: Sequence[Array], working: Working) -> None:
        """Note how things are as step `k` begins: the traces of a `Record` in their order, each (run, zone)."""
        if k < self.first:
            return
        runs, at = self._counting(self.counted, k)
        for trace, values in zip(self.traces, now, strict=True):
            trace[runs, at] = values[runs]
        fresh = self.of_unit == k
        if fresh.any():
            self.stored[0][:, fresh] = working.water[fresh], working.water_heat[fresh]

    def close(self, k: int, flows: Flows, heat: Array, vapour: Array, working: Working) -> None:
        """Add what the step brought."""
        loop, plant = working.chillers.stored, working.chill(flows.coil)
        if k < self.first:
            return
        runs, at = self._counting(self.counted, k)
        chosen, place = self._counting(self.of_unit, k)
        self.sums[:, chosen] += np.array(flows)[:, chosen]
        self.given[0][runs] += heat[runs]
        self.given[1][runs] += vapour[runs]
        u = self.units
        opening = self.counted == k
        self.loop[0][opening] = loop[opening]
        for total, values in zip(self.plant, (plant.power, plant.heat, plant.started), strict=True):
            total[runs] += values[runs]
        self.warmest[runs] = np.maximum(self.warmest, np.abs(working.chillers.warm))[runs]
        ending = self.counted + self.day - 1 == k
        self.loop[1][ending] = working.chillers.stored[ending]
        current = np.bincount(u.run, flows.current, len(loop)) + plant.current
        surge = plant.surge.copy()
        np.maximum.at(surge, u.run, flows.started * (self.starting - flows.current))
        rejecting = (np.bincount(u.run, flows.compressor, len(loop)) + plant.power) > 0.0
        pump = self.sea_pump * rejecting
        self.pumped[runs] += pump[runs]
        power = np.bincount(u.run, flows.compressor + flows.fan, len(loop)) + plant.power + pump
        for course, values in zip(self.courses, (power, current, current + surge), strict=True):
            course[runs, at] = values[runs]
        self.stage[chosen, place] = (working.thermostats.stage * flows.running)[chosen]
        done = self.of_unit + self.day - 1 == k
        if done.any():
            self.stored[1][:, done] = working.water[done], working.water_heat[done]

    def _counting(self, counted: Indices, k: int) -> tuple[Indices | slice, Indices | int]:
        """Which of them count at step `k`, and the place of it in their day; a slice costs half of what indices do."""
        if self.together:
            return slice(None), k - self.first
        chosen = np.flatnonzero((k >= counted) & (k < counted + self.day))
        return chosen, k - counted[chosen]

    def record(self, step: float, first: Indices, fresh: TreatedAir) -> Record:
        """All of it, sums in J, kg and s; `first` (run,) is the step of the clock with which each day begins."""
        clock = (first[:, None] + np.arange(self.day)) % self.day
        for course, more in zip(self.courses, (fresh.fan, fresh.current, fresh.current), strict=True):
            course += np.take_along_axis(more, clock, axis=1)
        air, operative, reading, humidity_ratio, coldest_skin = self.traces
        power, current, start_current = self.courses
        return Record(
            air=air,
            operative=operative,
            reading=reading,
            humidity_ratio=humidity_ratio,
            coldest_skin=coldest_skin,
            power=power,
            current=current,
            start_current=start_current,
            stage=self.stage,
            units=dict(zip(Flows._fields, step * self.sums, strict=True)),
            heat=step * self.given[0],
            vapour=step * self.given[1],
            sea_pump=step * self.pumped,
            plant=step * self.plant[:2],
            plant_starts=self.plant[2],
            loop=self.loop,
            warmest=self.warmest,
            fresh={name: step * getattr(fresh, name).sum(axis=1) for name in OF_COILS},
            stored=(self.stored[0], self.stored[1]),
        )

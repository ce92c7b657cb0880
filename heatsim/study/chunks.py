"""One chunk: its cases solved, reduced to results, and laid out as the store takes them."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import numpy.typing as npt

from heatsim.climate.weather import routine_values
from heatsim.equipment.summary import DAMP, FUEL
from heatsim.loads.simulate import YEAR_STEP
from heatsim.network.base import CAUSES
from heatsim.scenario.resolved import Resolved
from heatsim.study.batch import Case, Prepared, solve_cases
from heatsim.study.design import Design, Index
from heatsim.study.memory import keep_freed
from heatsim.study.results import (
    BLOCK,
    CAUSES_OF,
    HELD,
    HOURS,
    KWH,
    OFTEN,
    QUANTILES,
    RESULTS,
    Variable,
    held,
    of_hours,
)  # fmt: skip
from heatsim.study.units import Aboard, Units
from heatsim.study.years import PreparedYears, YearRun, solve_year_cases

Array = npt.NDArray[np.float64]
Chunk = dict[str, npt.NDArray[Any]]
YEAR_HOURS, DAY_HOURS = 8760, 24


def variables(design: Design) -> dict[str, Variable]:
    """What the store of a study holds."""
    found = dict(RESULTS)
    if design.study.units != "none":
        found |= HELD
    if design.study.keep == "hours":
        found |= HOURS
    return found | CAUSES_OF[design.study.causes]


def sizes(design: Design) -> dict[str, int]:
    """Lengths of the dimensions after the study's axes."""
    hours = YEAR_HOURS if design.days == ("year",) else DAY_HOURS
    rooms = len(design.rooms)
    return {
        "day": len(design.days), "room": rooms + 1, "zone": rooms, "quantile": len(QUANTILES),
        "humidity": len(DAMP), "hour": hours, "day_hour": DAY_HOURS, "calendar_month": 12, "cause": len(CAUSES),
    }  # fmt: skip


def layout(design: Design) -> tuple[dict[str, Any], dict[str, Any], dict[str, Any]]:
    """Arrays, coordinates and attributes of a study's store, as `Store.create` takes them."""
    length, names = sizes(design), tuple(axis.name.replace("/", " ") for axis in design.axes)
    arrays = {}
    for name, variable in variables(design).items():
        extra = tuple(length[dim] for dim in variable.dims)
        kind = _kind(design, variable)
        notes = {"units": variable.unit, "long_name": variable.meaning}
        arrays[name] = ((*names, *variable.dims), (*design.shape, *extra), (*design.chunk, *extra), kind, notes)
    coordinates: dict[str, Any] = {
        "day": (("day",), np.array(design.days), {}),
        "room": (("room",), np.array([*design.rooms, BLOCK]), {}),
        "zone": (("zone",), np.array(design.rooms), {}),
        "quantile": (("quantile",), np.array(QUANTILES), {"units": "1"}),
        "humidity": (("humidity",), np.array(DAMP), {"units": "1"}),
        "hour": (("hour",), np.arange(length["hour"]), {"units": "h"}),
        "day_hour": (("day_hour",), np.arange(DAY_HOURS), {"units": "h"}),
        "calendar_month": (("calendar_month",), np.arange(1, 13), {}),
        "cause": (("cause",), np.array(CAUSES), {}),
        "drawn": (("draw", "input"), design.drawn, {"long_name": "drawn values, SI (temperatures in degC)"}),
        "input": (("input",), np.array([one.name for one in design.inputs], dtype=str), {}),
    }
    for axis, name in zip(design.axes, names, strict=True):
        values, unit = axis.coordinate()
        coordinates[name] = ((name,), values, {"units": unit} if unit else {})
    used = {dim for dims, *_ in arrays.values() for dim in dims} | {"drawn", "input"}
    coordinates = {name: one for name, one in coordinates.items() if name in used}
    attributes = {"title": design.study.study, "boat": design.base.name, "made_of": design.resolved_hash()}
    return arrays, coordinates, attributes


def _kind(design: Design, variable: Variable) -> str:
    """Numbers a variable is kept in: the hours of a year in half the digits."""
    return "float32" if "hour" in variable.dims and design.days == ("year",) else "float64"


class Worker:
    """Solves chunks of one study; keeps what it prepared for the next one."""

    def __init__(self, design: Design, units: Units) -> None:
        keep_freed()
        self.design, self.units = design, units
        self.prepared = Prepared(design.study.step)
        self.years = PreparedYears(min(design.study.step, YEAR_STEP))
        self.parts = design.chunks()

    def make_ready(self) -> None:
        """What takes a second before the first chunk of years: the first boat's weather."""
        if self.design.days == ("year",):
            first = self.parts[0][-1]
            _, boat = self.design.case((0,) * (len(self.design.shape) - 1), self.design.headings(first))
            self.years.weather(boat)

    def solve(self, number: int) -> Chunk:
        """All variables of a chunk, each (study axes within the chunk, its own dimensions)."""
        design, part = self.design, self.parts[number]
        headings = design.headings(part[-1])
        index = list(itertools.product(*(range(s.start, s.stop) for s in part[:-1])))
        cases = [Case(*design.case(i, headings)) for i in index]
        shape = tuple(s.stop - s.start for s in part)
        length = sizes(design)
        out: Chunk = {
            name: np.full(
                (len(cases), len(headings), *(length[dim] for dim in variable.dims)), np.nan, _kind(design, variable)
            )
            for name, variable in variables(design).items()
        }
        for i, days in enumerate(self._solved(cases)):
            for j, run in enumerate(days):
                self._put(out, (i, j), run, self.units[design.fitted(index[i])])
        if design.study.units != "none":
            self._hold(out, index, cases)
        return {name: values.reshape(*shape, *values.shape[2:]) for name, values in out.items()}

    def _solved(self, cases: list[Case]) -> list[list[YearRun]]:
        """Every day of every case, or its year, with the sea and the clock by the hour."""
        if self.design.days == ("year",):
            return [[run] for run in solve_year_cases(cases, self.years, self.design.study.causes)]
        clock, found = np.arange(float(DAY_HOURS)), []
        for case, days in zip(cases, solve_cases(cases, self.prepared), strict=True):
            seas = [np.full(DAY_HOURS, day.sea) for day in case.boat.days]
            found.append([YearRun(hours, sea, clock, {}) for hours, sea in zip(days, seas, strict=True)])
        return found

    def _put(self, out: Chunk, place: tuple[int, int], run: YearRun, units: Aboard) -> None:
        i, j = place
        kind, hours = self.design.days[j], run.hours
        for name, values in of_hours(hours, kind, run.local_hour).items():
            out[name][i, :, j] = values
        if kind in OFTEN:
            cooling = (hours.sensible_cooling + hours.latent_cooling).sum(axis=-1)
            energy = units.electric(cooling, run.sea).sum(axis=-1) / KWH
            out["electric_energy"][i, :, j], out["fuel"][i, :, j] = energy, FUEL * energy
        for name, values in run.causes.items():
            out[name][i, :, j] = values
        for name in HOURS:
            if name in out:
                out[name][i, :, j] = np.swapaxes(getattr(hours, name), 1, 2)

    def _hold(self, out: Chunk, index: list[Index], cases: list[Case]) -> None:
        """The same days, or year, with the capacity of the units in that day's, or month's, sea."""
        lost = [self.design.lost(one) for one in index]
        units = [self.units[self.design.fitted(one)] for one in index]
        limited, seas = [], []
        for case, gone, own_units in zip(cases, lost, units, strict=True):
            own = [day.sea for day in case.boat.days]
            if self.design.days == ("year",):
                own = [float(weather.sea.mean()) for weather in self.years.weather(case.boat)]
            limited.append(case._replace(limits=tuple(own_units.limits(sea, gone) for sea in own)))
            seas.append(own)
        for i, (case, gone, runs) in enumerate(zip(cases, lost, self._solved(limited), strict=True)):
            setpoint, counts = _wanted(case.boat)
            for j, run in enumerate(runs):
                warmest = max(seas[i]) if self.design.days == ("year",) else seas[i][j]
                capacity, peak = units[i].capacity(warmest, gone), out["peak"][i, :, j, -1]
                out["capacity"][i, :, j] = capacity
                out["capacity_margin"][i, :, j] = np.where(peak > 0.0, capacity / np.maximum(peak, 1e-9) - 1.0, np.nan)
                clock = run.local_hour.astype(int)
                for name, values in held(run.hours, setpoint[clock], counts[clock]).items():
                    out[name][i, :, j] = values


def _wanted(boat: Resolved) -> tuple[Array, Array]:
    """Setpoint of each room by the hour of the clock, and whether its cooling is switched on, both (hour, room)."""
    minutes = np.arange(24) * 60
    controls = [zone.control for zone in boat.zones if zone.control is not None]
    setpoint = [routine_values(control.cooling_setpoint, minutes) for control in controls]
    on = [routine_values(control.cooling_on, minutes) > 0.0 for control in controls]
    return np.stack(setpoint, axis=1), np.stack(on, axis=1).astype(float)

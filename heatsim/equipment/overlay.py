"""A log laid over the boat as she is fitted: bias, scatter, and the hours that lie farthest apart.

The installed units are run minute by minute over the log's own days. Outdoors are the log's own columns where it has
them, else a design day of the scenario on each of those dates, under a clear sky; sun and routines are always those of
the scenario. The boat is taken as periodic on the first day, which is run once to settle before the log begins.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from heatsim.climate.days import design_weather
from heatsim.climate.weather import DAY, Weather, clock, edges, utc_offsets
from heatsim.equipment.baked import COARSE, controls_of, refined, watched
from heatsim.equipment.layouts import Layout
from heatsim.equipment.logbook import OUTDOOR, SEA, TOTAL, Column, Kind, Log
from heatsim.equipment.plan import Plan
from heatsim.equipment.running import Working, fleet
from heatsim.equipment.shortfall import fitted
from heatsim.equipment.surface import surfaces
from heatsim.equipment.thermostat import Thermostat
from heatsim.equipment.wet_coil import PartLoad
from heatsim.errors import Finding
from heatsim.loads.line import make_line, one_blas_thread
from heatsim.loads.years import solve_year
from heatsim.network.base import system
from heatsim.physics import moist_air
from heatsim.scenario.resolved import Day, Resolved
from heatsim.solve.driving import Driven, course
from heatsim.solve.operators import prepare

if TYPE_CHECKING:
    from heatsim.loads.line import Line, Stretch

Array = npt.NDArray[np.float64]
Times = npt.NDArray[np.datetime64]

STEP = 60
"""[s]"""
BRIDGED = 3.0
"""[h] Gaps of outdoor and sea columns up to which they run straight on (assumed); the design day fills longer ones."""
FARTHEST = 3
"""Hours that are named for each column."""
SHORTEST = 24.0
"""[h] Of a log below which its bias says little: a day is not seen whole (assumed)."""


@dataclass(frozen=True)
class Series:
    """One column beside the simulation, (hour,): means over the readings of each hour, `time` the hour's start in UTC.

    °C, shares or A. `bias` is logged less simulated, `scatter` the root mean square of what is left without it.
    """

    name: str
    kind: Kind
    time: Times
    logged: Array
    simulated: Array
    readings: int

    @property
    def bias(self) -> float:
        """Mean of logged less simulated."""
        return float(np.mean(self.logged - self.simulated))

    @property
    def scatter(self) -> float:
        """Root mean square about the bias."""
        return float(np.std(self.logged - self.simulated))

    @property
    def farthest(self) -> tuple[int, ...]:
        """Numbers of the hours that lie farthest apart, the farthest first."""
        return tuple(int(i) for i in np.argsort(-np.abs(self.logged - self.simulated), kind="stable")[:FARTHEST])


@dataclass(frozen=True)
class Overlay:
    """A log beside the simulation: `driven_by` says by which weather, `offset` (clock less UTC) how to read times [h].

    `traces` are the simulation's own, (minute,) by column, from `begins` (UTC) on.
    """

    log: Log
    series: tuple[Series, ...]
    driven_by: tuple[str, ...]
    offset: float
    begins: np.datetime64
    traces: dict[Column, Array]
    findings: tuple[Finding, ...]


def overlay(made: Plan, log: Log) -> Overlay:
    """Run the installed units of a plan's boat over a log's days and compare.

    Parameters
    ----------
    made : Plan
        Of a boat with installed units.
    log : Log
        Of `logbook.read_log`.

    Raises
    ------
    HeatsimError
        Where nothing is installed.
    """
    layout = fitted(made)
    resolved = made.resolved
    offset = float(utc_offsets(log.time[:1], clock(resolved.place.timezone))[0])
    day = _day(resolved, log, offset)
    with one_blas_thread():
        weather, driven_by = log_weather(resolved, log, day, offset)
        traces = _run(made, layout, weather)
    begins = weather.time[0]
    series = [
        _compared(column, log, values, traces[column], begins)
        for column, values in log.values.items()
        if column in traces
    ]
    return Overlay(log, tuple(series), driven_by, offset, begins, traces, tuple(_findings(log, day, offset)))


def _day(resolved: Resolved, log: Log, offset: float) -> Day:
    """The design day of the log's month, else the first one."""
    month = _month(log, offset)
    return next((day for day in resolved.days if day.month == month), resolved.days[0])


def _month(log: Log, offset: float) -> int:
    local = log.time[len(log.time) // 2] + np.timedelta64(round(3600 * offset), "s")
    return int(local.astype("datetime64[M]").astype(int) % 12) + 1


def log_weather(resolved: Resolved, log: Log, day: Day, offset: float) -> tuple[Weather, tuple[str, ...]]:
    """The whole clock days of a log in steps of 900 s, and by what they are driven, in words.

    The clock keeps the offset it has as the log begins.
    """
    hours, minutes = divmod(round(60 * abs(offset)), 60)
    place = replace(resolved.place, timezone=f"UTC{'-' if offset < 0 else '+'}{hours}:{minutes:02d}")
    boat = replace(resolved, place=place)
    shift = np.timedelta64(round(3600 * offset), "s")
    first, last = ((log.time[i] + shift).astype("datetime64[D]") for i in (0, -1))
    dates = [str(first + k) for k in range(int((last - first).astype(int)) + 1)]
    months = [int(date[5:7]) for date in dates]
    parts = [
        design_weather(boat, replace(day, date=date, month=month), COARSE)
        for date, month in zip(dates, months, strict=True)
    ]
    joined: dict[str, Any] = {
        name: np.concatenate([getattr(part, name) for part in parts], axis=-1)
        for name, value in vars(parts[0]).items()
        if isinstance(value, np.ndarray)
    }
    weather = replace(parts[0], **joined)
    return _overlaid(weather, log, day)


def _overlaid(weather: Weather, log: Log, day: Day) -> tuple[Weather, tuple[str, ...]]:
    """The log's own outdoor and sea columns in place of the design day's, where they have no long gap."""
    design = f"the {day.kind} design day of the scenario ({day.date}) on each date, sky clear"
    told = [f"sun and sky: {design}"]
    changed: dict[str, Any] = {}
    air, ratio = weather.air, weather.humidity_ratio
    for column, label in (
        (Column(OUTDOOR, "temperature"), "outdoor air"), (Column(OUTDOOR, "humidity"), "outdoor humidity"),
        (Column(SEA, "temperature"), "sea"),
    ):  # fmt: skip
        known, values = _course(weather, log, column)
        if not known.any():
            told.append(f"{label}: {'the design day' if column.name != SEA else 'the scenario'}")
            continue
        told.append(f"{label}: the log" + ("" if known.all() else f", {100.0 * known.mean():.0f} % of the time"))
        if column.name == SEA:
            changed["sea"] = np.where(known, values, weather.sea)
        elif column.kind == "temperature":
            air = np.where(known, values, weather.air)
            changed["sky"] = weather.sky + air - weather.air
        else:
            ratio = np.where(known, moist_air.humidity_ratio(air, values, weather.pressure), ratio)
    saturated = moist_air.humidity_ratio(air, 1.0, weather.pressure)
    return replace(weather, air=air, humidity_ratio=np.minimum(ratio, saturated), **changed), tuple(told)


def _course(weather: Weather, log: Log, column: Column) -> tuple[npt.NDArray[np.bool_], Array]:
    """A column at both ends of each step, and where it is known, both (2, step)."""
    values = log.values.get(column)
    count = len(weather.time)
    if values is None:
        return np.zeros((2, count), dtype=bool), np.zeros((2, count))
    known = np.isfinite(values)
    at = _seconds(log.time[known], weather.time[0])
    steps = np.arange(count + 1) * weather.step
    place = np.searchsorted(at, steps)
    after = np.append(at, np.inf)[place] - steps
    before = steps - np.insert(at, 0, -np.inf)[place]
    near = np.minimum(before, after) <= 3600.0 * BRIDGED / 2.0
    return edges(near.astype(float)) > 0.5, edges(np.interp(steps, at, values[known]))


def _seconds(time: Times, begins: np.datetime64) -> Array:
    return np.asarray((time - begins) / np.timedelta64(1, "s"), dtype=float)


def _run(made: Plan, layout: Layout, weather: Weather) -> dict[Column, Array]:
    """Installed units minute by minute over a weather, its first day once before: traces by column, (minute,)."""
    resolved = replace(made.resolved, place=replace(made.resolved.place, headings=(made.heading,)))
    line = make_line(resolved, (weather,))
    (stretch,) = solve_year(line, np.array([made.heading]), compiled=False)
    sea, terms = float(weather.sea.mean()), resolved.terms
    units = fleet([layout], [sea], line.zones)
    tables = surfaces(units.kinds, terms, weather.pressure)
    working = Working(units, tables, Thermostat(), PartLoad(), terms.duct_gain, terms.fan == "continuous", float(STEP))
    daily, per_day = round(DAY / STEP), round(DAY / COARSE)
    days = len(weather.time) // per_day
    heat_operators, wet_operators = (prepare(system(part), float(STEP)) for part in (line.heat, line.moisture))
    rows, eye = watched(line), np.eye(len(line.zones))
    setpoint, allowed = controls_of(resolved, line.zones, daily)
    heat_state, wet_state = stretch.heat_first.copy(), stretch.moisture_first.copy()
    zero = np.zeros(1, dtype=np.int64)
    zones = len(line.zones)
    taken: list[tuple[Array, Array, Array]] = []
    for number, k in enumerate([0, *range(days)]):
        heat_u, wet_u, regime = _cut(line, stretch, slice(k * per_day, (k + 1) * per_day))
        heat = Driven(heat_operators, course(heat_operators, *heat_u, regime, rows), heat_state, zero, zero, daily)
        wet = Driven(wet_operators, course(wet_operators, *wet_u, regime, eye), wet_state, zero, zero, daily)
        for step in range(daily):
            reading, ratio = heat.reading(), wet.reading() + stretch.moisture_origin
            flows = working.step(
                reading[:, :zones], ratio, reading[:, 2 * zones :], setpoint[[step]], allowed[[step]], np.zeros(1)
            )
            q, vapour = working.to_zones(zones)
            heat.step(q)
            wet.step(vapour)
            if number > 0:
                taken.append((reading[0, :zones], ratio[0], flows.current))
        heat_state, wet_state = heat.state(), wet.state()
    return _traces(made, line, weather.pressure, *(np.array(part) for part in zip(*taken, strict=True)))


def _cut(
    line: Line, stretch: Stretch, steps: slice
) -> tuple[tuple[Array, Array], tuple[Array, Array], npt.NDArray[np.int64]]:
    """Drivers of heat and of moisture at both ends of minutes, and regimes, of some coarse steps."""
    parts = round(COARSE / STEP)
    regime = np.repeat(stretch.number[None, steps], parts, axis=1)
    return refined(stretch.heat_u[:, :, steps], parts), refined(stretch.moisture_u[:, :, steps], parts), regime


def _traces(made: Plan, line: Line, pressure: float, air: Array, ratio: Array, current: Array) -> dict[Column, Array]:
    humidity = moist_air.relative_humidity(air, ratio, pressure)
    out: dict[Column, Array] = {}
    for i, name in enumerate(line.zones):
        out[Column(name, "temperature")] = air[:, i]
        out[Column(name, "humidity")] = humidity[:, i]
    served = [one.name for one in made.resolved.terms.installed if set(one.zones) & set(made.needs.zones)]
    for i, name in enumerate(served):
        out[Column(name, "current")] = current[:, i]
    out[Column(TOTAL, "current")] = current.sum(axis=1)
    return out


def _compared(column: Column, log: Log, values: Array, trace: Array, begins: np.datetime64) -> Series:
    """Hourly means of a column's readings and of the simulation at the same minutes."""
    known = np.isfinite(values)
    at = _seconds(log.time[known], begins)
    minute = np.clip(np.round(at / STEP).astype(np.int64), 0, len(trace) - 1)
    hour = np.floor(at / 3600.0).astype(np.int64)
    hours, place = np.unique(hour, return_inverse=True)
    count = np.bincount(place)
    logged, simulated = (np.bincount(place, part) / count for part in (values[known], trace[minute]))
    return Series(
        column.name, column.kind, begins + hours * np.timedelta64(3600, "s"), logged, simulated, int(known.sum())
    )


def _findings(log: Log, day: Day, offset: float) -> list[Finding]:
    found = []
    span = float((log.time[-1] - log.time[0]) / np.timedelta64(1, "h"))
    if span < SHORTEST:
        found.append(
            Finding("log-short", log.file, "shows less than a day: a bias of the night may be none of the afternoon",
                    f"{span:.1f} h", f"{SHORTEST:.0f} h")
        )  # fmt: skip
    month = _month(log, offset)
    if Column(OUTDOOR, "temperature") not in log.values and month != day.month:
        found.append(
            Finding("log-season", log.file, "is of another month than every design day, and has no outdoor column",
                    f"month {month}", f"month {day.month}")
        )  # fmt: skip
    widest = max((float((b - a) / np.timedelta64(1, "h")) for a, b in pairwise(log.time)), default=0.0)
    if widest > BRIDGED:
        found.append(
            Finding("log-gap", log.file, "has a gap; nothing is compared there", f"{widest:.1f} h", f"{BRIDGED:.0f} h")
        )
    return found


def hours_of(series: Sequence[Series], kind: Kind) -> list[Series]:
    """Those of one kind of quantity."""
    return [one for one in series if one.kind == kind]

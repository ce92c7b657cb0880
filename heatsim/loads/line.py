"""One scenario through the line: weathers, regimes, networks and operators, then every day or the year solved.

The heat network goes first; moisture follows through the same stepper. What depends on the answer itself (people's
sensible share, door flows) is taken at the expected temperature, and the day is solved again with the temperature found
until the two agree.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import Any, cast

import numpy as np
import numpy.typing as npt

from heatsim.climate.sun import SunOnBoat, sun_on_boat
from heatsim.climate.weather import Weather, routine_values
from heatsim.loads.classes import ClimateClass, wind_class
from heatsim.network.airflow import AirLink, air_links
from heatsim.network.base import Network, System, system
from heatsim.network.drivers import EXPECTED, Site, columns_of, heat_drivers, inside_drivers, moisture_drivers
from heatsim.network.heat import Nominal, heat_network
from heatsim.network.moisture import moisture_network
from heatsim.network.regimes import Regimes, regimes
from heatsim.physics.moist_air import EVAPORATION, humidity_ratio
from heatsim.scenario.resolved import Resolved
from heatsim.solve.base import Advanced, Band
from heatsim.solve.forcing import Forcing, Own, force
from heatsim.solve.operators import Operators, prepare
from heatsim.solve.periodic import MOST_DAYS, NEAR_ENOUGH, Repeated, repeat_day
from heatsim.solve.stepping import advance, pieces
from heatsim.solve.threads import each

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]
Progress = Callable[[str, float], None]

AGREED = 0.3
"""[K] Expected against found temperature: at 75 W a person and 4 W/K the split is then within 1.5 W."""
MOST_PASSES = 6
"""Days after which the temperature expected of a run stays as it is."""
MANY_RUNS = 96
"""Runs of a day above which the compiled loop, whose import takes 0.6 s, is the faster (measured)."""
LARGE_BOAT = 200
"""Massive nodes above which it does not pay for one boat's days: of 176 runs with 322 nodes it takes a tenth less time
than numpy, 0.07 s (measured)."""
NEAR_ENOUGH_VAPOUR = 1e-7
"""[kg/kg] Distance to the periodic humidity at which a day counts as periodic: 0.001 % of a room's."""
MOISTURE_CLOSE, MOISTURE_SMALL = 1e-10, 1e-12
"""Tolerances of the moisture band in kg/kg and kg/s, 1e-8 of room humidity and of a person's vapour."""


@dataclass(frozen=True)
class Line:
    """A scenario made ready: one network pair and their operators serve all its weathers."""

    resolved: Resolved
    weathers: tuple[Weather, ...]
    regimes: Regimes
    heat: Network
    moisture: Network
    heat_operators: Operators
    moisture_operators: Operators

    @property
    def zones(self) -> tuple[str, ...]:
        """Simulated air spaces in order."""
        return self.heat.zones

    @cached_property
    def links(self) -> tuple[AirLink, ...]:
        """Streams of air into the simulated air spaces."""
        return tuple(air_links(self.resolved, self.regimes, {name: i for i, name in enumerate(self.zones)}))


@dataclass(frozen=True)
class Stretch:
    """Solved steps of one weather: the band held, drivers (2, run, step, driver), what the solver did, and where it
    started.

    Moisture is counted from `moisture_origin` kg/kg, so that a space as humid as outdoors keeps all its digits. Several
    boats behind each other (`loads.years`) share drivers; `heat_own` and `moisture_own` is what each one's are more.
    """

    weather: Weather
    number: Indices
    band: Band
    sun: SunOnBoat
    heat_u: Array
    heat: Advanced
    heat_first: Array
    moisture_u: Array
    moisture: Advanced
    moisture_first: Array
    moisture_origin: float
    days: int
    distance: float
    heat_own: Own | None = None
    moisture_own: Own | None = None


def one_blas_thread() -> AbstractContextManager[Any]:
    """Our matrices are small: two BLAS threads on them wait for each other, several times slower than one."""
    from threadpoolctl import threadpool_limits

    return cast("AbstractContextManager[Any]", threadpool_limits(limits=1, user_api="blas"))


Prepare = Callable[[System, float], Operators]


def make_line(
    resolved: Resolved, weathers: tuple[Weather, ...], shared: ClimateClass | None = None, ready: Prepare = prepare
) -> Line:
    """Assemble networks and operators once for all weathers (which share one step length).

    They are linearised at the mean of the weathers, or at the middle of a class that boats in many places share;
    `ready` makes the operators, or knows them from another boat with the same matrices.
    """
    if shared is None:
        numbered = regimes(resolved, weathers)
        air, sea = (float(np.mean([getattr(w, name).mean() for w in weathers])) for name in ("air", "sea"))
    else:
        steady = resolved.weather_year is None
        winds = [wind_class(float(weather.wind[0])) for weather in weathers] if steady else None
        numbered, air, sea = regimes(resolved, weathers, winds, shared.air_density), shared.outdoor, shared.sea
    nominal = Nominal(air, sea, resolved.weather_year is not None, shared is not None)
    heat, moisture = heat_network(resolved, numbered, nominal), moisture_network(resolved, numbered)
    step = weathers[0].step
    return Line(resolved, weathers, numbered, heat, moisture, ready(system(heat), step), ready(system(moisture), step))


def bands(line: Line, weather: Weather, limit: Array | None = None) -> tuple[Band, Band]:
    """Setpoints and limits of heat and of moisture on the clock, (1, step, zone).

    `limit` (step, zone) stands for those of the zones' sensible cooling. [W]
    """
    return bands_at(line, weather.local_minute, weather.pressure, limit)


def bands_at(line: Line, minute: Indices, pressure: float, limit: Array | None = None) -> tuple[Band, Band]:
    """The same at minutes of the clock day and an air pressure [Pa]."""
    shape = (1, len(minute), len(line.zones))
    cool, warm = np.full(shape, 24.0), np.full(shape, 20.0)
    cool_limit, warm_limit, vapour, vapour_limit = (np.zeros(shape) for _ in range(4))
    zones = {zone.name: zone for zone in line.resolved.zones}
    for i, name in enumerate(line.zones):
        control = zones[name].control
        if control is None:
            continue
        cool[0, :, i], warm[0, :, i] = (
            routine_values(control.cooling_setpoint, minute),
            routine_values(control.heating_setpoint, minute),
        )
        on = routine_values(control.cooling_on, minute) > 0.0
        cool_limit[0, :, i] = np.where(on, control.cooling_limit, 0.0) if limit is None else limit[:, i]
        warm_limit[0, :, i] = np.where(routine_values(control.heating_on, minute) > 0.0, control.heating_limit, 0.0)
        if control.humidity_limit <= 1.0:
            course = control.cooling_setpoint
            ratios = humidity_ratio(np.array(course.values), control.humidity_limit, pressure)
            vapour[0, :, i] = routine_values(replace(course, values=tuple(ratios)), minute)
            vapour_limit[0, :, i] = np.where(on, control.dehumidifying_limit / EVAPORATION, 0.0)
    never = np.full(shape, -1.0)
    return (
        Band(cool, warm, cool_limit, warm_limit),
        Band(vapour, never, vapour_limit, np.zeros(shape), MOISTURE_CLOSE, MOISTURE_SMALL),
    )


def solve_days(line: Line, headings: Array, limits: Array | None = None, compiled: bool | None = None) -> list[Stretch]:
    """Repeat all the line's days until periodic, with every heading, as one batch.

    Parameters
    ----------
    headings : (heading,) array
        True bearings of the bow. [°]
    limits : (weather, step, zone) array, optional
        Of the zones' sensible cooling in place of their own [W]; a line may hold one weather several times for them.
    compiled : bool, optional
        Whether the compiled loop steps; by the number of runs unless said.

    Returns
    -------
    list of Stretch
        One for each weather; its runs are the headings.
    """
    runs = len(headings)
    pairs = [bands(line, weather, None if limits is None else limits[i]) for i, weather in enumerate(line.weathers)]
    sites = [
        first_site(line, weather, number, *pair)
        for weather, number, pair in zip(line.weathers, line.regimes.numbers, pairs, strict=True)
    ]
    once = {id(site.weather): site for site in reversed(sites)}
    found_suns = each(lambda site: sun_on_boat(line.resolved, site.weather, headings), once.values())
    by_weather = dict(zip(once, found_suns, strict=True))
    suns = [by_weather[id(weather)] for weather in line.weathers]
    found_u = each(lambda site: heat_drivers(line.heat, site, by_weather[id(site.weather)]), once.values())
    known_u = dict(zip(once, found_u, strict=True))
    drivers = [_expecting(line, site, known_u[id(site.weather)], site is once[id(site.weather)]) for site in sites]
    u = np.concatenate(drivers, axis=1)
    regime = np.repeat(np.stack(line.regimes.numbers), runs, axis=0)
    band = stacked_bands([pair[0] for pair in pairs], runs)
    start = np.concatenate([np.tile(start_of(line, site), (runs, 1)) for site in sites])
    pays = len(start) >= MANY_RUNS and start.shape[1] <= LARGE_BOAT
    step = _stepper(pays if compiled is None else compiled)
    forcing = force(line.heat_operators, u[0], u[1], regime, by_step=step is advance)
    expected = np.concatenate([np.repeat(site.expected, runs, axis=0) for site in sites])
    hours = None if step is advance else pieces(regime, round(3600.0 / line.weathers[0].step))
    repeated = Repeated(line.heat_operators, start, forcing, regime, band, NEAR_ENOUGH, step=partial(step, cuts=hours))
    while len(repeated.active):
        if repeated.days == MOST_DAYS:
            raise repeated.unsettled()
        done, near = repeated.day()
        off = np.abs(done.reading - expected[repeated.active])[..., _sensitive(line)].max(axis=(1, 2), initial=0.0)
        wrong = (off > AGREED) & (repeated.days < MOST_PASSES)
        stale = repeated.active[wrong]
        expected[stale] = done.reading[wrong]
        repeated.stop(near & ~wrong)
        if len(stale):
            sites = [replace(s, expected=expected[i * runs : (i + 1) * runs]) for i, s in enumerate(sites)]
            _expect(line, sites, u, forcing, stale)
            repeated.last[stale] = np.inf
    periodic = repeated.found()
    sites = [replace(site, expected=expected[i * runs : (i + 1) * runs]) for i, site in enumerate(sites)]
    origins = [float(weather.humidity_ratio.mean()) for weather in line.weathers]
    moist = np.concatenate([from_origin(o, line, site) for o, site in zip(origins, sites, strict=True)], axis=1)
    wet = repeat_day(
        line.moisture_operators,
        np.zeros((len(sites) * runs, len(line.zones))),
        force(line.moisture_operators, moist[0], moist[1], regime),
        regime,
        stacked_bands([below(pair[1], origin) for pair, origin in zip(pairs, origins, strict=True)], runs),
        near_enough=NEAR_ENOUGH_VAPOUR,
        step=partial(step, cuts=hours),
    )
    return [
        Stretch(
            weather, number, pairs[i][0], suns[i], u[:, i * runs : (i + 1) * runs],
            part_of(periodic.advanced, slice(i * runs, (i + 1) * runs)), periodic.first[i * runs : (i + 1) * runs],
            moist[:, i * runs : (i + 1) * runs], part_of(wet.advanced, slice(i * runs, (i + 1) * runs)),
            wet.first[i * runs : (i + 1) * runs], origins[i],
            periodic.days, periodic.distance,
        )
        for i, (weather, number) in enumerate(zip(line.weathers, line.regimes.numbers, strict=True))
    ]  # fmt: skip


def _expecting(line: Line, site: Site, known: Array, own: bool) -> Array:
    """Drivers of a site from those of another with the same weather; only what is expected may differ."""
    if own:
        return known
    u = known.copy()
    columns = columns_of(line.heat, EXPECTED)
    u[..., columns] = inside_drivers(line.heat, site, columns)
    return u


def _stepper(compiled: bool) -> Callable[..., Advanced]:
    """Numpy for a boat's few days, the compiled loop for so many runs that it pays for its import."""
    if not compiled:
        return advance
    from heatsim.solve.compiled import advance_compiled

    return advance_compiled


def _expect(line: Line, sites: list[Site], u: Array, forcing: Forcing, stale: Indices) -> None:
    """Bring drivers and forcing of some runs to their new expected temperatures, in place; few columns change."""
    runs = u.shape[1] // len(sites)
    columns = columns_of(line.heat, EXPECTED)
    if not columns:
        return
    values = np.concatenate([inside_drivers(line.heat, site, columns) for site in sites], axis=1)
    flat = u.reshape(-1, u.shape[-1])  # columns of a table: an eighth of the time that four indices take
    change = values - flat[:, columns].reshape(values.shape)
    change[:, np.setdiff1d(np.arange(u.shape[1]), stale)] = 0.0
    flat[:, columns] += change.reshape(-1, len(columns))
    change = change[:, stale]
    numbers = np.stack(line.regimes.numbers)[stale // runs]
    forcing.rows[stale] += force(line.heat_operators, change[0], change[1], numbers, np.array(columns)).rows


def from_origin(origin: float, line: Line, site: Site) -> Array:
    """Moisture drivers with humidity ratios counted from an origin."""
    u = moisture_drivers(line.moisture, site)
    u[..., [not driver.weights for driver in line.moisture.drivers]] -= origin
    return u


def below(band: Band, origin: float) -> Band:
    return band._replace(cool=band.cool - origin, heat=band.heat - origin)


def part_of(advanced: Advanced, chosen: slice) -> Advanced:
    """Some runs of what was done."""
    parts = ("start", "end", "heat", "slope", "reading", "mode", "entering")
    return replace(advanced, **{name: getattr(advanced, name)[chosen] for name in parts})


def stacked_bands(parts: list[Band], runs: int) -> Band:
    """Bands of several weathers, each for `runs` runs, behind each other."""

    def stacked(name: str) -> Array:
        return np.concatenate([np.repeat(getattr(part, name), runs, axis=0) for part in parts])

    first = parts[0]
    return Band(
        stacked("cool"), stacked("heat"), stacked("cool_limit"), stacked("heat_limit"), first.close, first.small
    )


def first_site(line: Line, weather: Weather, number: Indices, band: Band, vapour_band: Band) -> Site:
    """Expect zones within the band that is held at that hour and at their humidity limit, all else as outdoors."""
    held = line.heat_operators.system.holdable
    outdoors = weather.air.mean(axis=0)[:, None]
    cooled = np.where(band.cool_limit > 0.0, np.minimum(band.cool, outdoors), outdoors)
    expected = np.where(held, np.where(band.heat_limit > 0.0, np.maximum(cooled, band.heat), cooled), outdoors)
    outside = weather.humidity_ratio.mean(axis=0)[:, None]
    vapour = np.where(vapour_band.cool_limit > 0.0, np.minimum(vapour_band.cool, outside), outside)
    return Site(line.resolved, line.regimes, number, weather, expected, vapour, line.links)


def _sensitive(line: Line) -> list[int]:
    """Zones whose drivers depend on their own temperature: with people, or open to outdoors."""
    exposed = {end for opening in line.resolved.openings for end in (opening.first, opening.second)}
    zones = {zone.name: zone for zone in line.resolved.zones}
    return [i for i, name in enumerate(line.zones) if zones[name].people or name in exposed]


def start_of(line: Line, site: Site) -> Array:
    """Massive nodes at the mean of what is expected of each boat, (boat, node)."""
    return np.repeat(site.expected.mean(axis=(1, 2))[:, None], int(np.sum(line.heat.capacity > 0.0)), axis=1)

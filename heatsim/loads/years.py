"""A weather year carried month by month: one boat, or several that share their matrices, at all headings as one batch.

Memory holds one month at a time. The first day is repeated until periodic to have a start.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from heatsim.climate.sun import SunOnBoat, sun_on_boat
from heatsim.climate.weather import Weather
from heatsim.loads.line import (
    NEAR_ENOUGH_VAPOUR,
    Line,
    Progress,
    Stretch,
    bands,
    below,
    first_site,
    from_origin,
    part_of,
    stacked_bands,
    start_of,
)  # fmt: skip
from heatsim.network.drivers import heat_drivers
from heatsim.scenario.resolved import Resolved
from heatsim.solve.base import Band
from heatsim.solve.periodic import NEAR_ENOUGH, repeat_day
from heatsim.solve.stepping import Forcing, Operators, advance, force
from heatsim.solve.threads import each

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]
Suns = dict[int, tuple[Resolved, Array, SunOnBoat]]


def solve_year(
    line: Line, headings: Array, compiled: bool = True, progress: Progress | None = None
) -> Iterator[Stretch]:
    """Carry a boat through the line's weathers one after the other (the months of a year)."""
    for (stretch,) in solve_years([line], headings, compiled, progress=progress):
        yield stretch


def solve_years(
    lines: Sequence[Line], headings: Array, compiled: bool = True, limits: Sequence[Sequence[Array]] | None = None,
    suns: Suns | None = None, progress: Progress | None = None,
) -> Iterator[list[Stretch]]:  # fmt: skip
    """The same for several boats with the same weathers, regimes and matrices, whose drivers and controls may differ.

    Parameters
    ----------
    lines : sequence of Line
    headings : (heading,) array
        True bearings of the bow. [°]
    compiled : bool
        False steps in numpy.
    limits : sequence of sequence of (step, zone) arrays, optional
        For each line and weather, of the zones' sensible cooling in place of their own. [W]
    suns : dict, optional
        The sun on the last boat by weather, kept for the next one that shows it the same faces.

    Yields
    ------
    list of Stretch
        One for each line, weather by weather.
    """
    from heatsim.solve.kernel import advance_compiled

    step = advance_compiled if compiled else advance
    heat_operators, wet_operators = lines[0].heat_operators, lines[0].moisture_operators
    weathers, numbers = lines[0].weathers, lines[0].regimes.numbers
    origin = float(np.mean([weather.humidity_ratio.mean() for weather in weathers]))
    runs, known = len(headings), {} if suns is None else suns
    heat_state: Array | None = None
    wet_state: Array | None = None
    heat_mode = wet_mode = None
    for which, (weather, number) in enumerate(zip(weathers, numbers, strict=True)):
        pairs = [
            bands(line, weather, None if limits is None else limits[i][which]) for i, line in enumerate(lines)
        ]  # fmt: skip
        sites = [first_site(line, weather, number, *pair) for line, pair in zip(lines, pairs, strict=True)]
        shone = [_sun(line.resolved, weather, headings, known) for line in lines]
        u = each(heat_drivers, [line.heat for line in lines], sites, shone)
        moist = [from_origin(origin, line, site) for line, site in zip(lines, sites, strict=True)]
        forcing, wet_forcing = _forced(heat_operators, u, number), _forced(wet_operators, moist, number)
        band = stacked_bands([pair[0] for pair in pairs], runs)
        vapour_band = below(stacked_bands([pair[1] for pair in pairs], 1), origin)
        if heat_state is None or wet_state is None:
            day = round(86400.0 / weather.step)
            starts = [np.tile(start_of(line, site), (runs, 1)) for line, site in zip(lines, sites, strict=True)]
            heat_state = _periodic(heat_operators, np.concatenate(starts), forcing, number, band, day)
            vapour = np.zeros((len(lines), len(lines[0].zones)))
            wet_state = _periodic(wet_operators, vapour, wet_forcing, number, vapour_band, day, NEAR_ENOUGH_VAPOUR)
        heat = step(heat_operators, heat_state, forcing, number, band, heat_mode)
        wet = step(wet_operators, wet_state, wet_forcing, number, vapour_band, wet_mode)
        yield [
            Stretch(
                weather, number, shone[i], u[i], part_of(heat, slice(i * runs, (i + 1) * runs)),
                heat_state[i * runs : (i + 1) * runs], moist[i], part_of(wet, slice(i, i + 1)), wet_state[i : i + 1],
                origin, 0, 0.0,
            )
            for i in range(len(lines))
        ]  # fmt: skip
        heat_state, heat_mode, wet_state, wet_mode = heat.end, heat.mode[:, -1], wet.end, wet.mode[:, -1]
        if progress is not None:
            progress("year", (which + 1) / len(weathers))


def _sun(boat: Resolved, weather: Weather, headings: Array, known: Suns) -> SunOnBoat:
    """The sun on a boat; that on the boat before where she shows it the same faces."""
    last = known.get(id(weather))
    if last is not None and np.array_equal(last[1], headings) and _alike(boat, last[0]):
        return last[2]
    found = sun_on_boat(boat, weather, headings)
    known[id(weather)] = boat, headings, found
    return found


def _alike(boat: Resolved, other: Resolved) -> bool:
    return all(getattr(boat, name) == getattr(other, name) for name in ("faces", "glazings", "awnings", "place"))


def _forced(operators: Operators, u: list[Array], number: Indices) -> Forcing:
    whole = u[0] if len(u) == 1 else np.concatenate(u, axis=1)
    return force(operators, whole[0], whole[1], number)


def _periodic(
    operators: Operators, first: Array, forcing: Forcing, number: Indices, band: Band, day: int,
    near_enough: float = NEAR_ENOUGH,
) -> Array:  # fmt: skip
    """State at the start of the first day, repeated until periodic."""
    cool, warm, cool_limit, warm_limit = (part[:, :day] for part in band[:4])
    cut = Band(cool, warm, cool_limit, warm_limit, band.close, band.small)
    return repeat_day(operators, first, Forcing(forcing.rows[:, :day]), number[:day], cut, near_enough).first

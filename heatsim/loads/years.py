"""A weather year carried month by month: one boat, or several in the same place that are alike outside, side by side.

Boats alike outside share their sun and all drivers that come from it. Those that share their matrices too make a fleet,
which is carried as one batch at all headings: draws of persons, setpoints or appliances change drivers inside alone.
Memory holds one month at a time. The first day is repeated until periodic to have a start.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.climate.weather import Weather
from heatsim.loads.line import (
    NEAR_ENOUGH_VAPOUR,
    Line,
    Progress,
    Stretch,
    bands_at,
    below,
    first_site,
    stacked_bands,
    start_of,
)  # fmt: skip
from heatsim.loads.shared import Columns, Outside, Shared, own_columns
from heatsim.network.base import Network, like_supply
from heatsim.network.drivers import STEADY, Site, filled_by, inside_driver
from heatsim.solve.base import Advanced, Band
from heatsim.solve.forcing import Forcing, Own, force_own
from heatsim.solve.operators import Operators
from heatsim.solve.periodic import NEAR_ENOUGH, repeat_day
from heatsim.solve.stepping import advance, pieces
from heatsim.solve.threads import each

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]
Stepper = Callable[..., Advanced]


def solve_year(
    line: Line, headings: Array, compiled: bool = True, progress: Progress | None = None
) -> Iterator[Stretch]:
    """Carry a boat through the line's weathers one after the other (the months of a year)."""
    for (stretch,) in solve_years([line], headings, compiled, progress=progress):
        yield stretch


def solve_years(
    lines: Sequence[Line], headings: Array, compiled: bool = True, limits: Sequence[Sequence[Array]] | None = None,
    progress: Progress | None = None, kept: list[Outside] | None = None,
) -> Iterator[list[Stretch]]:  # fmt: skip
    """The same for several boats that are `alike.outside`.

    Parameters
    ----------
    lines : sequence of Line
    headings : (heading,) array
        True bearings of the bow. [°]
    compiled : bool
        False steps in numpy.
    limits : sequence of sequence of (step, zone) arrays, optional
        For each line and weather, of the zones' sensible cooling in place of their own. [W]
    kept : list of Outside, optional
        What earlier boats left of what is shared, and where it is left for boats to come.

    Yields
    ------
    list of Stretch
        Weather by weather, one for each of `fleets`: its runs are the headings of its first boat, then of the next.
    """
    from heatsim.solve.compiled import advance_compiled

    first, step = lines[0], advance_compiled if compiled else advance
    own = None if len(lines) == 1 and limits is None else own_columns(lines)
    shared_but, members = own or Columns(), fleets(lines)
    under_way = [
        _Fleet([lines[i] for i in some], own, None if limits is None else [limits[i] for i in some]) for some in members
    ]
    keeps = kept is not None and own is not None and len(members) == 1
    left = [one for one in kept or () if keeps and one.fits(first, headings, shared_but)]
    outside = left[0] if left else Outside(first, headings, shared_but, keeps)
    if kept is not None:
        kept[:] = [outside] if outside.keeps else []
    for which in range(len(first.weathers)):
        shared = outside.of(which)
        if len(under_way) == 1:
            yield [under_way[0].carried(which, shared, step)]
        else:
            yield each(lambda fleet, n=which, given=shared: fleet.one_of_many(n, given, step), under_way)
        if progress is not None:
            progress("year", (which + 1) / len(first.weathers))


def fleets(lines: Sequence[Line]) -> list[list[int]]:
    """Numbers of the lines that share their operators, in order."""
    found: dict[tuple[int, int], list[int]] = {}
    for i, line in enumerate(lines):
        found.setdefault((id(line.heat_operators), id(line.moisture_operators)), []).append(i)
    return list(found.values())


class _Columns(NamedTuple):
    """Drivers that boats fill in their own way: those that enter the same nodes with the same weights together, so that
    their sum will do; the zone that each of these enters like its supply, −1 first, where there is none; and by driver
    the boats that have something else for it than the first.
    """

    alike: list[list[int]]
    zones: list[int]
    odd: dict[int, list[int]]


@dataclass
class _Fleet:
    """Boats with the same matrices under way: what they differ in, and where they are."""

    lines: list[Line]
    own: Columns | None
    """What they fill in their own way; None for one boat by herself."""
    limits: list[Sequence[Array]] | None
    heat_state: Array = field(default_factory=lambda: np.empty((0, 0)))
    wet_state: Array = field(default_factory=lambda: np.empty((0, 0)))
    heat_mode: npt.NDArray[np.int8] | None = None
    wet_mode: npt.NDArray[np.int8] | None = None

    def carried(self, which: int, shared: Shared, step: Stepper) -> Stretch:
        """Through one weather, from where the last one ended."""
        line, number, weather = self.lines[0], shared.site.number, shared.weather
        runs = shared.heat_u.shape[1]
        held, vapour_held = self._bands(which, weather)
        site = _zone_by_zone(first_site(line, weather, number, held, vapour_held))
        own, wet_own = self._own(self._heat_columns, line.heat, site), self._own(self._wet_columns, line.moisture, site)
        forcing = force_own(line.heat_operators, shared.heat(line.heat_operators), own)
        wet_forcing = force_own(line.moisture_operators, shared.moisture(line.moisture_operators), wet_own)
        band = held if runs == 1 else held.each(lambda part: part if len(part) == 1 else part.repeat(runs, axis=0))
        vapour_band = below(vapour_held, shared.origin)
        day = round(86400.0 / weather.step)
        if which == 0:
            first_day = forcing.until(day).whole(number[:day]), wet_forcing.until(day).whole(number[:day])
            each_boat = start_of(line, site)
            begin = np.repeat(np.broadcast_to(each_boat, (len(self.lines), each_boat.shape[1])), runs, axis=0)
            dry = np.zeros((len(self.lines), len(line.zones)))
            self.heat_state = _periodic(line.heat_operators, begin, first_day[0], number, band, NEAR_ENOUGH, step)
            self.wet_state = _periodic(
                line.moisture_operators, dry, first_day[1], number, vapour_band, NEAR_ENOUGH_VAPOUR, step
            )
        heat_first, wet_first = self.heat_state, self.wet_state
        hours = pieces(number, round(3600.0 / weather.step))
        mornings = np.arange(0, len(number), day)
        days = np.union1d(hours, mornings + 1)  # so that the state that a day begins with is told
        heat = step(line.heat_operators, heat_first, forcing, number, band, self.heat_mode, days)
        wet = step(line.moisture_operators, wet_first, wet_forcing, number, vapour_band, self.wet_mode, hours)
        self.heat_state, self.heat_mode = heat.end, heat.mode[:, -1]
        self.wet_state, self.wet_mode = wet.end, wet.mode[:, -1]
        return Stretch(
            weather, number, band, shared.sun, shared.heat_u, heat, heat_first, shared.moisture_u, wet, wet_first,
            shared.origin, 0, 0.0, own, wet_own,
        )  # fmt: skip

    def one_of_many(self, which: int, shared: Shared, step: Stepper) -> Stretch:
        """`carried`, without the inverses of control that many fleets would fill the memory with."""
        done = self.carried(which, shared, step)
        for operators in (self.lines[0].heat_operators, self.lines[0].moisture_operators):
            operators.inverses.clear()
        return done

    @cached_property
    def _on_the_clock(self) -> tuple[Indices, Band, Band]:
        """Minutes of the day that occur, and each boat's bands of heat and of moisture at them."""
        weathers = self.lines[0].weathers
        minutes = np.unique(np.concatenate([weather.local_minute for weather in weathers]))
        pairs = [bands_at(boat, minutes, weathers[0].pressure) for boat in self.lines]
        heat, vapour = (stacked_bands([pair[i] for pair in pairs], 1).each(_once) for i in (0, 1))
        return minutes, heat, vapour

    def _bands(self, which: int, weather: Weather) -> tuple[Band, Band]:
        """Bands of heat and of moisture through a weather, (boat or 1, step, zone)."""
        minutes, heat, vapour = self._on_the_clock
        at = np.searchsorted(minutes, weather.local_minute)
        heat, vapour = (band.each(lambda part: part[:, at]) for band in (heat, vapour))
        if self.limits is not None:
            heat = heat._replace(cool_limit=np.stack([own[which] for own in self.limits]))
        return heat, vapour

    @cached_property
    def _heat_columns(self) -> _Columns:
        return self._columns(self.lines[0].heat, (self.own or Columns()).heat)

    @cached_property
    def _wet_columns(self) -> _Columns:
        return self._columns(self.lines[0].moisture, (self.own or Columns()).moisture)

    def _columns(self, network: Network, own: tuple[int, ...]) -> _Columns:
        filled = [[filled_by(network, boat.resolved, boat.links, column) for column in own] for boat in self.lines]
        odd = {
            column: [boat for boat in range(len(filled)) if filled[boat][i] != filled[0][i]]
            for i, column in enumerate(own)
        }  # fmt: skip
        alike: dict[object, list[int]] = {}
        for column in own:
            alike.setdefault(network.drivers[column].weights or column, []).append(column)
        found = sorted((like_supply(network, some[0]), some) for some in alike.values())
        return _Columns([some for _, some in found], [zone for zone, _ in found], odd)

    def _own(self, found: _Columns, network: Network, site: Site) -> Own | None:
        """What each boat has of drivers that are not shared."""
        if self.own is None:
            return None
        steady = [all(network.drivers[column].kind in STEADY for column in some) for some in found.alike]
        values = np.empty((sum(1 if still else 2 for still in steady), len(self.lines), len(site.number)))
        edges, zones, left = [], [], values
        for some, zone, still in zip(found.alike, found.zones, steady, strict=True):
            more, left = (left[:1], left[1:]) if still else (left[:2], left[2:])
            for which, column in enumerate(some):
                value = inside_driver(network, site, column)
                if found.odd[column]:
                    value = np.broadcast_to(value, (*value.shape[:-2], *values.shape[1:])).copy()
                for boat in found.odd[column]:
                    value[..., boat, :] = inside_driver(network, self._alone(site, boat), column)[..., 0, :]
                if which == 0:
                    more[:] = value
                else:
                    more += value
            edges += [(some[0], 1.0, 1.0)] if still else [(some[0], 1.0, 0.0), (some[0], 0.0, 1.0)]
            zones += [zone] * (1 if still else 2)
        columns, at_start, at_end = np.array(edges).reshape(-1, 3).T
        supplied = np.array([zone for zone in zones if zone >= 0], dtype=np.int64)
        return Own(columns.astype(np.int64), at_start, at_end, values, supplied)

    def _alone(self, site: Site, boat: int) -> Site:
        """One boat's part of the site of all."""
        line, own = self.lines[boat], slice(boat, boat + 1)
        expected, vapour = (part if len(part) == 1 else part[own] for part in (site.expected, site.expected_vapour))
        return replace(site, resolved=line.resolved, links=line.links, expected=expected, expected_vapour=vapour)


def _zone_by_zone(site: Site) -> Site:
    """The same with what is expected (boat, step, zone) laid so that a zone's values are side by side in memory."""

    def laid(values: Array) -> Array:
        return np.moveaxis(np.ascontiguousarray(np.moveaxis(values, -1, 0)), 0, -1)

    return replace(site, expected=laid(site.expected), expected_vapour=laid(site.expected_vapour))


def _once(part: Array) -> Array:
    """What all boats have, held once."""
    return part[:1] if np.all(part == part[:1]) else part


def _periodic(
    operators: Operators, first: Array, forcing: Forcing, number: Indices, band: Band, near_enough: float, step: Stepper
) -> Array:  # fmt: skip
    """State at the start of the first day, whose forcing is given, repeated until periodic."""
    day = forcing.rows.shape[1]
    first_day = band.each(lambda part: part[:, :day])
    return repeat_day(operators, first, forcing, number[:day], first_day, near_enough, step=step).first

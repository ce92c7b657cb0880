"""What boats alike outside share in a weather: the sun, and all drivers but those that hang on a boat's own inside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.climate.sun import SunOnBoat, sun_on_boat
from heatsim.climate.weather import Weather
from heatsim.loads.alike import alike_outside
from heatsim.loads.line import Line, bands, first_site, from_origin
from heatsim.network.base import Network
from heatsim.network.drivers import EXPECTED, INSIDE, Site, columns_of, filled_by, heat_drivers
from heatsim.solve.forcing import Forcing, force
from heatsim.solve.operators import Operators

Array = npt.NDArray[np.float64]

KEPT_MOST = 3e7
"""Numbers of drivers of heat and of what they do (assumed), 0.24 GB, that are kept for the next boats; sun and moisture
take as much again."""


class Columns(NamedTuple):
    """Numbers of the drivers of heat and of moisture that boats fill in their own way."""

    heat: tuple[int, ...] = ()
    moisture: tuple[int, ...] = ()


def own_columns(lines: Sequence[Line]) -> Columns:
    """Of boats behind each other: what hangs on expected temperatures, and what different things inside fill."""

    def of(name: str) -> tuple[int, ...]:
        network: Network = getattr(lines[0], name)
        inside, filled = columns_of(network, INSIDE), [_filled(line, name) for line in lines]
        expected = columns_of(network, EXPECTED)
        return tuple(
            column for i, column in enumerate(inside)
            if column in expected or any(one[i] != filled[0][i] for one in filled[1:])
        )  # fmt: skip

    return Columns(of("heat"), of("moisture"))


def _filled(line: Line, name: str) -> list[object]:
    """What fills the drivers of one network that hang on the inside."""
    network: Network = getattr(line, name)
    return [filled_by(network, line.resolved, line.links, column) for column in columns_of(network, INSIDE)]


@dataclass(frozen=True)
class Shared:
    """Drivers of one weather, (2, heading, step, driver), zero where boats fill them in their own way."""

    site: Site
    sun: SunOnBoat
    heat_u: Array
    moisture_u: Array
    origin: float
    """Humidity ratio that moisture is counted from. [kg/kg]"""
    kept: list[tuple[Operators, Forcing]] | None
    """What they do, by whose operators; None where it is not kept."""

    @property
    def weather(self) -> Weather:
        return self.site.weather

    def heat(self, operators: Operators) -> Forcing:
        """What the drivers of heat do."""
        return self._done(operators, self.heat_u)

    def moisture(self, operators: Operators) -> Forcing:
        """What the drivers of moisture do."""
        return self._done(operators, self.moisture_u)

    def _done(self, operators: Operators, u: Array) -> Forcing:
        known = next((forcing for owner, forcing in self.kept or () if owner is operators), None)
        if known is None:
            known = force(operators, u[0], u[1], self.site.number)
            if self.kept is not None:
                self.kept[:] = [*self.kept[-1:], (operators, known)]  # those of one network's heat and moisture
        return known


@dataclass
class Outside:
    """Shared drivers of all weathers of a boat at some headings, kept for boats to come if asked and there is room."""

    line: Line
    headings: Array
    own: Columns
    asked: bool
    months: dict[int, Shared] = field(default_factory=dict)

    def fits(self, line: Line, headings: Array, own: Columns) -> bool:
        """Whether another boat would have exactly these drivers."""
        mine = self.line
        same = own == self.own and np.array_equal(headings, self.headings) and line.weathers is mine.weathers
        if not same or not alike_outside(line, mine):
            return False
        for name, columns in (("heat", own.heat), ("moisture", own.moisture)):
            inside = columns_of(getattr(line, name), INSIDE)
            pairs = zip(inside, _filled(line, name), _filled(mine, name), strict=True)
            if any(one != other for column, one, other in pairs if column not in columns):
                return False
        return True

    def of(self, which: int) -> Shared:
        """Of one weather."""
        if which in self.months:
            return self.months[which]
        line, number = self.line, self.line.regimes.numbers[which]
        weather = line.weathers[which]
        sun = sun_on_boat(line.resolved, weather, self.headings)
        site = first_site(line, weather, number, *bands(line, weather))
        heat_u, moisture_u = heat_drivers(line.heat, site, sun), from_origin(self._origin, line, site)
        heat_u[..., self.own.heat], moisture_u[..., self.own.moisture] = 0.0, 0.0
        found = Shared(site, sun, heat_u, moisture_u, self._origin, [] if self.keeps else None)
        if self.keeps:
            self.months[which] = found
        return found

    @cached_property
    def _origin(self) -> float:
        return float(np.mean([weather.humidity_ratio.mean() for weather in self.line.weathers]))

    @cached_property
    def keeps(self) -> bool:
        """Whether what is found once is kept."""
        steps = sum(len(weather.local_minute) for weather in self.line.weathers)
        width = 2 * len(self.line.heat.drivers) + len(self.line.heat.nodes)
        return self.asked and len(self.headings) * steps * width <= KEPT_MOST

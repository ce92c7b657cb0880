"""The sun held against the clock: where a wrong time zone or a naive time stamp would show at once.

The hour of the sun's highest stand is found from the positions that loads use, and again from longitude, clock and the
equation of time alone (Spencer's series, Search 2, 1971, no. 5, from memory), which knows nothing of those positions.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np

from heatsim.climate.position import sun_position
from heatsim.climate.weather import clock, local_midnight
from heatsim.scenario.resolved import Day, Place

WITHIN = 3.0
"""[min] Series and positions agree to 1 minute; the step between positions adds one, rounding the rest."""
EDGE = 90.27
"""[°] Apparent zenith of the sun's centre when its upper edge touches the horizon: 16' of radius."""


@dataclass(frozen=True)
class SunCheck:
    """Clock hours of sunrise, noon and sunset, noon by the series, and the sun's highest stand [°]."""

    day: str
    sunrise: float
    noon: float
    sunset: float
    noon_by_series: float
    highest: float

    @property
    def agrees(self) -> bool:
        """Whether both noons are the same."""
        return abs(self.noon - self.noon_by_series) * 60.0 <= WITHIN


def sun_check(place: Place, day: Day) -> SunCheck:
    """The sun's day at a place by its clock.

    Parameters
    ----------
    place : Place
    day : Day
        Its date counts.
    """
    midnight, offset = local_midnight(day.date, clock(place.timezone))
    minutes = np.arange(0, 1441)
    sun = sun_position(midnight + minutes.astype("timedelta64[m]"), place.latitude, place.longitude)
    up = sun.zenith < EDGE
    edges = np.flatnonzero(np.diff(up.astype(int)))
    rise, fall = (float(edges[0]) / 60.0, float(edges[-1]) / 60.0) if len(edges) > 1 else (float("nan"),) * 2
    return SunCheck(
        day.kind, rise, float(np.argmin(sun.zenith)) / 60.0, fall,
        noon_by_series(day.date, place.longitude, offset), 90.0 - float(sun.zenith.min()),
    )  # fmt: skip


def noon_by_series(date: str, longitude: float, offset: float) -> float:
    """Clock hour of true noon from longitude [°], clock less UTC [h] and the equation of time."""
    day = (np.datetime64(date) - np.datetime64(f"{date[:4]}-01-01")).astype(int)
    b = 2.0 * pi * float(day) / 365.0
    equation = 229.18 * (
        0.000075 + 0.001868 * cos(b) - 0.032077 * sin(b) - 0.014615 * cos(2.0 * b) - 0.040849 * sin(2.0 * b)
    )
    return 12.0 - longitude / 15.0 + offset - equation / 60.0

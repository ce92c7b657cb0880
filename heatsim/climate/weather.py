"""Weather on the solver's steps: one day, a year, or a stretch of one, and the clock it is read by."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from functools import cached_property
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, Finding, HeatsimError
from heatsim.physics.moist_air import dry_air_density
from heatsim.scenario.resolved import Routine

Array = npt.NDArray[np.float64]
Times = npt.NDArray[np.datetime64]

DAY = 86400


@dataclass(frozen=True)
class Weather:
    """Outdoor conditions on steps of equal length.

    Arrays of shape (2, step) hold the values at the start and at the end of each step, between which everything runs
    straight; arrays of shape (step,) hold for the whole step. Angles in degrees, azimuth clockwise from north, zenith
    as seen (refracted). A day (`kind` "hot", "humid", "typical") closes on itself; "year" does not.
    """

    kind: str
    step: float
    time: Times
    """(step,) UTC, start of each step."""
    local_minute: npt.NDArray[np.int64]
    """(step,) minute of the clock day at the step's start."""
    utc_offset: Array
    """(step,) clock minus UTC. [h]"""
    pressure: float
    """[Pa]"""
    air: Array
    """(2, step) [°C]"""
    humidity_ratio: Array
    """(2, step) [kg/kg]"""
    sky: Array
    """(2, step) black-body temperature of the sky. [°C]"""
    sea: Array
    """(2, step) [°C]"""
    wind: Array
    """(step,) [m/s]"""
    dni: Array
    """(2, step) beam on a plane square to it. [W/m²]"""
    dhi: Array
    """(2, step) sky light on a horizontal plane. [W/m²]"""
    ghi: Array
    """(2, step) both on a horizontal plane. [W/m²]"""
    sun_zenith: Array
    """(2, step)"""
    sun_azimuth: Array
    """(2, step)"""
    findings: tuple[Finding, ...] = ()

    @cached_property
    def density(self) -> Array:
        """Of the air, (2, step). [kg of dry air/m³]"""
        return dry_air_density(self.air, self.humidity_ratio, self.pressure)

    def stretch(self, first: int, last: int) -> Weather:
        """Steps `first` up to but not including `last`, as views of the same arrays."""
        parts = {f.name: getattr(self, f.name) for f in fields(self)}
        cut: dict[str, Any] = {k: value[..., first:last] for k, value in parts.items() if isinstance(value, np.ndarray)}
        return replace(self, **cut)

    def months(self, standard_offset: float) -> tuple[Weather, ...]:
        """The stretches of each month, in order, by a clock that many hours ahead of UTC all year."""
        month = (self.time + np.timedelta64(round(standard_offset * 3600.0), "s")).astype("datetime64[M]")
        bounds = [0, *(np.flatnonzero(month[1:] != month[:-1]) + 1).tolist(), len(self.time)]
        return tuple(self.stretch(first, last) for first, last in pairwise(bounds))


def routine_values(routine: Routine, minute: npt.NDArray[np.int64]) -> Array:
    """Value of a routine at minutes of the clock day, shape of `minute`."""
    if len(routine.values) == 1:
        return np.full(minute.shape, routine.values[0])
    return np.asarray(routine.values, dtype=float)[np.searchsorted(routine.minutes, minute, side="right") - 1]


def clock(name: str) -> tzinfo:
    """Time zone by its database name ("Europe/Athens") or by its offset ("UTC", "UTC-4", "UTC+05:30").

    Raises
    ------
    HeatsimError
        Where there is no such time zone.
    """
    if name.startswith("UTC"):
        hours, _, minutes = (name[3:] or "+0").partition(":")
        try:
            sign = -1 if hours.startswith("-") else 1
            return timezone(timedelta(hours=int(hours), minutes=sign * int(minutes or 0)))
        except ValueError:
            pass
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise HeatsimError(
            Fault(
                rule="the time zone must be in the time zone database",
                path="place.timezone",
                value=repr(name),
                remedy='Write it like "Europe/Athens" or "UTC-4".',
            )
        ) from None


def utc_offsets(times: Times, zone: tzinfo) -> Array:
    """Clock minus UTC at UTC times, found hour by hour. [h]

    Parameters
    ----------
    times : (time,) array of datetime64
        UTC.
    zone : tzinfo
        The clock.
    """
    hours, index = np.unique(times.astype("datetime64[h]").astype(np.int64), return_inverse=True)
    offsets = [_offset(datetime.fromtimestamp(int(hour) * 3600, tz=UTC).astimezone(zone)) for hour in hours]
    return np.asarray(offsets)[index]


def local_midnight(date: str, zone: tzinfo) -> tuple[np.datetime64, float]:
    """UTC time of the start of a clock day, and clock minus UTC at its noon, which holds for the whole repeated day."""
    noon = datetime.fromisoformat(date).replace(hour=12, tzinfo=zone)
    offset = _offset(noon)
    midnight = np.datetime64(date, "s") - np.timedelta64(round(offset * 3600.0), "s")
    return midnight, offset


def local_minutes(times: Times, offset: Array) -> npt.NDArray[np.int64]:
    """Minute of the clock day, 0 to 1439."""
    seconds = times.astype("datetime64[s]").astype(np.int64) + np.round(np.asarray(offset) * 3600.0).astype(np.int64)
    return np.asarray((seconds % DAY) // 60, dtype=np.int64)


def edges(values: Array) -> Array:
    """Values at the step edges, (edge,), as values at each step's start and end, (2, step)."""
    return np.stack([values[:-1], values[1:]])


def _offset(moment: datetime) -> float:
    shift = moment.utcoffset()
    assert shift is not None
    return shift.total_seconds() / 3600.0

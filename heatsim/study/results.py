"""What is made of each run: peaks, means, percentiles, energy, damp and warm hours, for every room and the block.

Energy, percentiles and hours of damp are those of typical days and weather years; on hot and humid days, which say
nothing about how often, they are left empty. Peaks and temperatures are given for every day.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.equipment.summary import DAMP
from heatsim.loads.paths import RoomHours
from heatsim.loads.peaks import ENTERING_SHARE

Array = npt.NDArray[np.float64]

BLOCK = "block"
QUANTILES = (0.5, 0.9, 0.95, 0.99)
BAND = 26.0, 0.70
"""Air temperature [°C] and relative humidity up to which a room is within the band (EN 16798-1, category II of summer,
from memory; common practice for humidity, no source)."""
KWH = 1000.0
"""[W h] In a kilowatt hour."""
OFTEN = ("typical", "year")
"""Kinds of day whose hours stand for how often."""


class Variable(NamedTuple):
    """Dimensions after the study's own axes, unit, meaning."""

    dims: tuple[str, ...]
    unit: str
    meaning: str


RESULTS = {
    "peak": Variable(("day", "room"), "W", "largest sensible and latent cooling of an hour, recovery left out"),
    "peak_sensible": Variable(("day", "room"), "W", "sensible cooling in that hour"),
    "peak_hour": Variable(("day", "room"), "h", "hour of the local clock at which it begins"),
    "mean": Variable(("day", "room"), "W", "mean cooling"),
    "load_factor": Variable(("day", "room"), "1", "mean over peak"),
    "diversity": Variable(("day",), "1", "peak of the block over the sum of the rooms' peaks"),
    "load_quantile": Variable(("day", "room", "quantile"), "W", "cooling not passed in that share of hours"),
    "heating_peak": Variable(("day", "room"), "W", "largest heating of an hour"),
    "cooling_energy": Variable(("day", "room"), "kWh", "heat taken out, of a day or the year"),
    "heating_energy": Variable(("day", "room"), "kWh", "heat put in, of a day or the year"),
    "damp_hours": Variable(("day", "room", "humidity"), "h", "hours above a relative humidity; of the block the most"),
    "band_hours": Variable(("day", "room"), "h", "hours up to 26 degC and 70 % humidity; of the block all rooms' own"),
    "warmest": Variable(("day", "room"), "degC", "warmest hour's air; of the block the warmest room's"),
    "electric_energy": Variable(("day",), "kWh", "of units and fans for the cooling, of a day or the year"),
    "fuel": Variable(("day",), "L", "of a generator for it"),
    "block_cooling": Variable(("day", "hour"), "W", "of all rooms together, mean of the hour"),
}
"""Of every run."""
HELD = {
    "capacity": Variable(("day",), "W", "of all units together, total, in that day's sea"),
    "capacity_margin": Variable(("day",), "1", "capacity over the block's peak, less one"),
    "float_temperature": Variable(("day", "room"), "degC", "warmest hour's air with that capacity"),
    "degree_hours": Variable(("day", "room"), "K h", "above the setpoint with that capacity; of the block all rooms'"),
}
"""Of every run that is held against units."""
HOURS = {
    "sensible_cooling": Variable(("day", "zone", "hour"), "W", "mean of the hour"),
    "latent_cooling": Variable(("day", "zone", "hour"), "W", "mean of the hour"),
    "heating": Variable(("day", "zone", "hour"), "W", "mean of the hour"),
    "air_temperature": Variable(("day", "zone", "hour"), "degC", "mean of the hour"),
    "relative_humidity": Variable(("day", "zone", "hour"), "1", "mean of the hour"),
}
"""Kept where the study file asks for the hours."""
CAUSES_OF = {
    "none": {},
    "peak day": {
        "peak_day": Variable(("day", "room"), "1", "day of the year with the largest hour, from 0, by standard time"),
        "peak_day_causes": Variable(("day", "room", "day_hour", "cause"), "W", "cooling less heating, sensible"),
    },
    "monthly": {
        "monthly_causes": Variable(("day", "room", "calendar_month", "cause"), "kWh", "cooling less heating, sensible"),
    },
}  # fmt: skip
"""Of weather years, by what the study file asks for."""


SAME = 1e-6
"""Share of a peak, and relative humidity, by which hours that are held alike may differ by round-off."""


def of_hours(hours: RoomHours, kind: str, local_hour: Array) -> dict[str, Array]:
    """Results of one day, or year, of one case at all its headings.

    Parameters
    ----------
    hours : RoomHours
        Arrays (heading, hour, zone).
    kind : str
        Kind of day, or "year".
    local_hour : (hour,) array
        Of the clock.

    Returns
    -------
    dict of arrays
        Of `RESULTS` but the electrical ones, (heading, room, ...), the block last among rooms.
    """
    total = _with_block(hours.sensible_cooling + hours.latent_cooling)
    sensible, heating = _with_block(hours.sensible_cooling), _with_block(hours.heating)
    recovering = hours.entering > ENTERING_SHARE
    counted = np.where(np.concatenate([recovering, recovering.any(axis=-1, keepdims=True)], axis=-1), 0.0, total)
    peak = counted.max(axis=1)
    at = (counted >= peak[:, None] * (1.0 - SAME)).argmax(axis=1)
    mean = total.mean(axis=1)
    often = 1.0 if kind in OFTEN else np.nan
    each = peak[:, :-1].sum(axis=1)
    damp = np.stack([(hours.relative_humidity > limit + SAME).sum(axis=1) for limit in DAMP], axis=-1).astype(float)
    warm = hours.air_temperature.max(axis=1)
    within = (hours.air_temperature <= BAND[0]) & (hours.relative_humidity <= BAND[1])
    within = np.concatenate([within, within.all(axis=-1, keepdims=True)], axis=-1)
    return {
        "peak": peak,
        "peak_sensible": np.take_along_axis(sensible, at[:, None], axis=1)[:, 0],
        "peak_hour": np.where(peak > 0.0, local_hour[at], np.nan),
        "mean": mean,
        "load_factor": np.where(peak > 0.0, mean / np.maximum(peak, 1e-9), 0.0),
        "diversity": np.where(each > 0.0, peak[:, -1] / np.maximum(each, 1e-9), 1.0),
        "load_quantile": often * np.moveaxis(np.quantile(total, QUANTILES, axis=1), 0, -1),
        "heating_peak": heating.max(axis=1),
        "cooling_energy": often * total.sum(axis=1) / KWH,
        "heating_energy": often * heating.sum(axis=1) / KWH,
        "damp_hours": often * _worst_last(damp),
        "band_hours": often * within.sum(axis=1),
        "warmest": _worst_last(warm),
        "block_cooling": total[..., -1],
    }


def held(hours: RoomHours, setpoint: Array, above_setpoint_counts: Array) -> dict[str, Array]:
    """What rooms do with the capacity of real units, (heading, room).

    Parameters
    ----------
    hours : RoomHours
        Of a run with limits.
    setpoint : (hour, zone) array
        [°C]
    above_setpoint_counts : (hour, zone) array
        1 while cooling is switched on.
    """
    above = np.maximum(hours.air_temperature - setpoint, 0.0) * above_setpoint_counts
    return {
        "float_temperature": _worst_last(hours.air_temperature.max(axis=1)),
        "degree_hours": _with_block(above.sum(axis=1)),
    }


def _with_block(values: Array) -> Array:
    """Rooms and, last, their sum."""
    return np.concatenate([values, values.sum(axis=-1, keepdims=True)], axis=-1)


def _worst_last(values: Array) -> Array:
    """Rooms (axis 1) and, last, the worst of them."""
    return np.concatenate([values, values.max(axis=1, keepdims=True)], axis=1)

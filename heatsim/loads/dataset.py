"""Hourly results as an xarray data set with CF attributes; dimensions stay whatever their length."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from heatsim import __version__
from heatsim.climate.weather import Weather
from heatsim.loads.line import Line
from heatsim.loads.paths import Hours
from heatsim.loads.variables import VARIABLES
from heatsim.network.base import CAUSES, HEAT_PATHS, MOISTURE_SOURCES
from heatsim.scenario.resolved import Resolved

if TYPE_CHECKING:
    import xarray as xr

Array = npt.NDArray[np.float64]


def canonical(resolved: Resolved) -> str:
    """The resolved scenario as JSON with sorted keys, defaults' notes left out; its sha256 is the scenario's hash."""
    return json.dumps(replace(resolved, defaults=()), default=vars, sort_keys=True)


def dataset(
    line: Line,
    days: Sequence[str] | None,
    weathers: Sequence[Weather],
    headings: Array,
    hours: Sequence[Hours],
    splits: dict[str, list[Array]],
    notes: dict[str, Any],
) -> xr.Dataset:
    """Put hours of one or more days, or of a year, into a data set.

    Parameters
    ----------
    days : sequence of str or None
        Labels of the `day` dimension; None for a year (no `day` dimension, stretches follow each other in time).
    weathers, hours : sequences
        One for each day, or the stretches of a year.
    splits : dict
        By variable name (`load_by_cause`, `excess_by_cause`), (heading, hour, zone, cause) arrays for each.
    notes : dict
        Further attributes (solver form, steps, wall time).
    """
    import xarray as xr

    data: dict[str, Any] = {}
    for variable in VARIABLES:
        if "cause" in variable.dims:
            if variable.name not in splits:
                continue
            parts = splits[variable.name]
        else:
            parts = [getattr(hour, variable.name) for hour in hours]
        dims, values = _joined(variable.dims, parts, days is not None)
        data[variable.name] = (dims, values, {"units": variable.units, "long_name": variable.long_name})
    times = np.concatenate([_hour_starts(w) for w in (weathers[:1] if days is not None else weathers)])
    offsets = np.concatenate([_hourly(w.utc_offset, w) for w in (weathers[:1] if days is not None else weathers)])
    resolved = line.resolved
    zones = {zone.name: zone for zone in resolved.zones}
    coords: dict[str, Any] = {
        "heading": ("heading", headings, {"units": "degree", "long_name": "true bearing of the bow"}),
        "time": ("time", times, {"long_name": "start of the hour, UTC", "bounds": "time_bounds"}),
        "time_bounds": (("time", "bounds"), np.stack([times, times + np.timedelta64(1, "h")], axis=1)),
        "local_time": ("time", times + (offsets * 3600).astype("timedelta64[s]"), {"long_name": "local clock time"}),
        "utc_offset": ("time", offsets, {"units": "hour", "long_name": "local clock less UTC"}),
        "zone": ("zone", list(line.zones)),
        "deck": ("zone", [zones[name].deck for name in line.zones]),
        "floor_area": ("zone", [zones[name].floor_area for name in line.zones], {"units": "m2"}),
        "volume": ("zone", [zones[name].volume for name in line.zones], {"units": "m3"}),
        "conditioned": ("zone", [zones[name].control is not None for name in line.zones]),
        "path": ("path", list(HEAT_PATHS)),
        "source": ("source", list(MOISTURE_SOURCES)),
        "face": ("face", [face.name for face in resolved.faces]),
        "face_zone": ("face", [face.zone for face in resolved.faces]),
        "face_kind": ("face", [face.kind for face in resolved.faces]),
        "face_area": ("face", [face.area for face in resolved.faces], {"units": "m2"}),
        "face_bearing": ("face", [face.bearing for face in resolved.faces], {"units": "degree"}),
        "face_tilt": ("face", [face.tilt for face in resolved.faces], {"units": "degree"}),
        "outdoor_temperature": _weather(weathers, days, "air", "degC"),
        "outdoor_humidity_ratio": _weather(weathers, days, "humidity_ratio", "kg/kg"),
        "sea_temperature": _weather(weathers, days, "sea", "degC"),
    }
    if splits:
        coords["cause"] = ("cause", list(CAUSES))
    if days is not None:
        coords["day"] = ("day", list(days))
    result = xr.Dataset(data, coords)
    for name in result.data_vars:
        if "time" in result[name].dims:
            result[name].attrs["cell_methods"] = "time: mean"
    text = canonical(resolved)
    result.attrs = {
        "Conventions": "CF-1.11",
        "title": f"heat and moisture loads of {resolved.name}",
        "scenario_hash": hashlib.sha256(text.encode()).hexdigest(),
        "heatsim_version": __version__,
        "resolved_scenario": text,
        "defaults": json.dumps(resolved.defaults, default=vars),
        **notes,
    }
    return result


def _joined(dims: tuple[str, ...], parts: Sequence[Array], by_day: bool) -> tuple[tuple[str, ...], Array]:
    """Stack days in front, or lay the stretches of a year end to end."""
    has_time = "time" in dims
    if by_day:
        front = ("day", "heading") if has_time else ("day",)
        return (*front, *dims), np.stack(parts)
    if has_time:
        return ("heading", *dims), np.concatenate(parts, axis=1)
    return dims, np.maximum.reduce(list(parts))


def _per_hour(weather: Weather) -> int:
    return round(3600.0 / weather.step)


def _hour_starts(weather: Weather) -> npt.NDArray[np.datetime64]:
    return weather.time[:: _per_hour(weather)].astype("datetime64[ns]")


def _hourly(values: Array, weather: Weather) -> Array:
    return np.asarray(values[:: _per_hour(weather)], dtype=float)


def _weather(
    weathers: Sequence[Weather], days: Sequence[str] | None, name: str, units: str
) -> tuple[tuple[str, ...], Array, dict[str, str]]:
    parts = [getattr(w, name).mean(axis=0).reshape(-1, _per_hour(w)).mean(axis=1) for w in weathers]
    if days is not None:
        return ("day", "time"), np.stack(parts), {"units": units}
    return ("time",), np.concatenate(parts), {"units": units}

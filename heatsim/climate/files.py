"""Weather-year files, read through pvlib, put in one form, and looked over for what is wrong with them.

Formats disagree on whether an hour is labelled by its start or its end, and files on what they hold. The sun decides:
beam and sky light must close to global sun at the sun's true height, so the middle of the hours is where they close
best, unless the sun's noon contradicts: global sun of clear days lies evenly about it, and where it does not at the
hours that close, sky light was once made from the other two with the sun in the wrong place. Defects are repaired where
a repair is plain, and every one is reported.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import numpy.typing as npt

from heatsim.climate import position
from heatsim.climate.quality import fill, implausible, lost_columns
from heatsim.errors import Fault, Finding, HeatsimError
from heatsim.physics import moist_air

if TYPE_CHECKING:
    import pandas as pd

Array = npt.NDArray[np.float64]
Times = npt.NDArray[np.datetime64]
Reader = Literal["epw", "tmy3", "tmy2", "pvgis"]

YEAR = 2025
HOURS = 8760

LABEL_AT_END = {"tmy3": 1, "epw": 0, "tmy2": 0, "pvgis": 0}
"""[h] From the start of the hour to the label that pvlib gives it."""
COLUMNS = {
    "epw": {"air": "temp_air", "dew_point": "temp_dew", "humidity": "relative_humidity", "wind": "wind_speed",
            "pressure": "atmospheric_pressure", "dni": "dni", "dhi": "dhi", "ghi": "ghi", "infrared": "ghi_infrared",
            "cloud": "total_sky_cover"},
    "tmy3": {"air": "temp_air", "dew_point": "temp_dew", "humidity": "relative_humidity", "wind": "wind_speed",
             "pressure": "pressure", "dni": "dni", "dhi": "dhi", "ghi": "ghi", "cloud": "TotCld (tenths)"},
    "tmy2": {"air": "DryBulb", "dew_point": "DewPoint", "humidity": "RHum", "wind": "Wspd", "pressure": "Pressure",
             "dni": "DNI", "dhi": "DHI", "ghi": "GHI", "cloud": "TotCld"},
    "pvgis": {"air": "temp_air", "humidity": "relative_humidity", "wind": "wind_speed", "pressure": "pressure",
              "dni": "dni", "dhi": "dhi", "ghi": "ghi", "infrared": "IR(h)"},
}  # fmt: skip
SCALES = {
    "epw": {"humidity": 0.01, "cloud": 0.1},
    "tmy3": {"humidity": 0.01, "cloud": 0.1, "pressure": 100.0},
    "tmy2": {"humidity": 0.01, "cloud": 0.1, "pressure": 100.0, "air": 0.1, "dew_point": 0.1, "wind": 0.1},
    "pvgis": {"humidity": 0.01},
}
"""Factors to °C, Pa, m/s and shares of 1."""
MISSING = {"air": 99.9, "dew_point": 99.9, "humidity": 9.99, "wind": 999.0, "pressure": 999000.0, "dni": 9999.0,
           "dhi": 9999.0, "ghi": 9999.0, "infrared": 9999.0, "cloud": 9.9}  # fmt: skip
"""Codes for "missing" in the formats, after scaling: these or more, or far below zero, count as missing."""
FAR_BELOW_ZERO = -90.0

MIDDLES = (0, 30, 60)
"""[min] From the nominal start of an hour to its middle that a label may mean."""
OPEN_CLOSURE = 30.0
"""[W/m²] Root mean square at which beam, sky light and global sun no longer belong together; sound files show 1–10."""


CLEAR_DAYS = 40
"""Days of the most beam whose global sun is held against the sun's noon."""
OFF_NOON = 20.0
"""[min] By which noon may contradict closure: ten files agree within 10 (in the median of those days), stray by 3 to 7
from day to day, and labels differ by 30."""


@dataclass(frozen=True)
class HourlyYear:
    """One year of hours in one form, (hour,) arrays from 1 January 2025 00:00 of the file's own standard time.

    `sun_shift` is how much later than their nominal hours the hours of the radiation begin [min]. NaN in `infrared` or
    `cloud` means that the file does not say; NaN throughout any other column that it is lost.
    """

    name: str
    latitude: float
    longitude: float
    altitude: float
    utc_offset: float
    sun_shift: int
    air: Array
    dew_point: Array
    wind: Array
    pressure: Array
    dni: Array
    dhi: Array
    ghi: Array
    infrared: Array
    cloud: Array


@dataclass(frozen=True)
class _Table:
    """Rows of a file as they stand: UTC time of each nominal start of an hour, its slot in the year, columns."""

    start: Times
    slot: npt.NDArray[np.int64]
    columns: dict[str, Array]
    name: str
    latitude: float
    longitude: float
    altitude: float
    utc_offset: float


def read_year(path: str | Path, reader: Reader) -> tuple[HourlyYear, tuple[Finding, ...]]:
    """A weather file in one form, and what is wrong with it.

    Parameters
    ----------
    path : str or Path
        The file.
    reader : {"epw", "tmy3", "tmy2", "pvgis"}
        Its format.

    Returns
    -------
    year : HourlyYear
    findings : tuple of Finding
        One for each defect: gaps, missing values, implausible hours, lost columns, a clock that disagrees with the
        sun, radiation that does not close, and what was done about it.

    Raises
    ------
    HeatsimError
        If the file cannot be read in that format or holds no year.
    """
    path = Path(path)
    table = _parsed(path, reader)
    shift, correction, found = _clock_by_sun(table)
    findings = list(found)
    values, gaps = _on_slots(table, correction)
    findings += gaps
    shift, contradicted = _place_by_noon(table, values, shift, correction)
    findings += contradicted
    lost = lost_columns(values)
    findings += lost
    values, bad = implausible(values, table.latitude)
    findings += bad
    values = {name: fill(value) for name, value in values.items()}
    year = HourlyYear(
        name=table.name,
        latitude=table.latitude,
        longitude=table.longitude,
        altitude=table.altitude,
        utc_offset=table.utc_offset - correction,
        sun_shift=shift,
        **_complete(values, table.altitude),
    )
    return year, tuple(_at(finding, path) for finding in findings)


def _complete(values: dict[str, Array], altitude: float) -> dict[str, Array]:
    """The columns of `HourlyYear`: dew point from relative humidity, and pressure from altitude, where they lack."""
    values = dict(values)
    humidity = values.pop("humidity")
    if np.isnan(values["pressure"]).all():
        values["pressure"] = np.full(HOURS, float(moist_air.standard_pressure(altitude)))
    if np.isnan(values["dew_point"]).all() and not np.isnan(humidity).all():
        ratio = moist_air.humidity_ratio(values["air"], np.maximum(humidity, 0.01), values["pressure"])
        known = np.isfinite(ratio)
        values["dew_point"] = np.full(HOURS, np.nan)
        values["dew_point"][known] = moist_air.dew_point(ratio[known], values["pressure"][known])
    return values


def _parsed(path: Path, reader: Reader) -> _Table:
    """The file's rows by pvlib's reader."""
    import pandas as pd

    try:
        frame, facts = _read(path, reader)
        label = pd.DatetimeIndex(frame.index)
        place = facts.get("inputs", facts)
        latitude, longitude = float(place["latitude"]), float(place["longitude"])
        altitude = float(place.get("altitude", place.get("elevation", 0.0)))
        columns = {name: frame[column].to_numpy(dtype=float) for name, column in COLUMNS[reader].items()}
        offset = float(facts.get("TZ", 0.0))
    except HeatsimError:
        raise
    except Exception as error:  # a reader may fail in any way on a file that is not of its format
        raise _unreadable(path, reader, f"{type(error).__name__}: {error}") from error
    for name, value in columns.items():
        scaled = value * SCALES[reader].get(name, 1.0)
        missing = ~np.isfinite(scaled) | (scaled < FAR_BELOW_ZERO) | (scaled >= MISSING[name] - 1e-9)
        columns[name] = np.where(missing, np.nan, scaled)
    local = label.tz_localize(None) - pd.Timedelta(hours=LABEL_AT_END[reader])
    start = (local - pd.Timedelta(hours=offset)).to_numpy().astype("datetime64[s]")
    name = str(facts.get("Name", facts.get("city", facts.get("City", path.stem)))).strip('"')
    slot = _slots(label.tz_localize(None), LABEL_AT_END[reader])
    return _Table(start, slot, columns, name, latitude, longitude, altitude, offset)


def _read(path: Path, reader: Reader) -> tuple[pd.DataFrame, dict[str, Any]]:
    from pvlib import iotools

    if reader == "epw":  # comment lines may hold any encoding, and decide nothing
        text = io.StringIO(path.read_bytes().decode("utf-8", errors="replace"))
        result = iotools.read_epw(text)
    elif reader == "tmy3":
        result = iotools.read_tmy3(path)
    elif reader == "tmy2":
        result = iotools.read_tmy2(path)
    else:
        result = iotools.read_pvgis_tmy(path)
    return result[0], result[-1]


def _slots(label: pd.DatetimeIndex, label_at_end: int) -> npt.NDArray[np.int64]:
    """Hour of the common year by the label's month, day and hour; −1 on 29 February.

    The year counts nothing, since typical months come from different years, some of them leap years.
    """
    first = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])
    month, day, hour = (np.asarray(part, dtype=np.int64) for part in (label.month, label.day, label.hour))
    slot = ((first[month - 1] + day - 1) * 24 + hour - label_at_end) % HOURS
    return np.where((month == 2) & (day == 29), -1, slot)


def _clock_by_sun(table: _Table) -> tuple[int, int, list[Finding]]:
    """Where in its nominal hour the middle of the radiation lies, less half an hour [min]; error of the clock [h].

    The clock is corrected by whole hours where the sun closes at least twice as well there.
    """
    light = {name: table.columns[name] for name in ("ghi", "dhi", "dni")}
    rows = np.flatnonzero((light["ghi"] > 50.0) & (light["dni"] > 50.0) & np.isfinite(light["dhi"]))
    if len(rows) < 100:
        return 0, 0, []
    rows = rows[:: max(1, len(rows) // 700)]
    rest = light["ghi"][rows] - light["dhi"][rows]

    def closure(minutes: int) -> float:
        moments = table.start[rows] + np.timedelta64(60 * minutes, "s")
        zenith = position.sun_position(moments, table.latitude, table.longitude).zenith
        return float(np.sqrt(np.mean((rest - light["dni"][rows] * np.maximum(np.cos(np.radians(zenith)), 0.0)) ** 2)))

    best, middle = min((closure(minutes), minutes) for minutes in MIDDLES)
    findings, hours = [], 0
    if best > OPEN_CLOSURE / 3.0:
        other, elsewhere = min((closure(60 * h + 30), h) for h in range(-13, 14))
        if other < best / 2.0 and elsewhere != 0:
            findings.append(_wrong_clock(table, elsewhere, best, other))
            best, middle, hours = other, 30, elsewhere
    if best > OPEN_CLOSURE:
        findings.append(_open_closure(best))
    return middle - 30, hours, findings


def _place_by_noon(table: _Table, values: dict[str, Array], shift: int, correction: int) -> tuple[int, list[Finding]]:
    """Shift of the hours of radiation where global sun of clear days lies about noon, and what was amended.

    Where closure had put them elsewhere, sky light is made anew from global sun and beam, in place.
    """
    global_sun, beam = (values[name].reshape(-1, 24) for name in ("ghi", "dni"))
    whole = np.flatnonzero(np.isfinite(global_sun).all(axis=1) & np.isfinite(beam).all(axis=1) & (beam.sum(axis=1) > 0))
    if len(whole) < CLEAR_DAYS:
        return shift, []
    clear = whole[np.argsort(-beam[whole].sum(axis=1), kind="stable")[:CLEAR_DAYS]]
    height = _heights(table, correction, (30,)).reshape(-1, 24)
    late = 60.0 * float(np.median(_centre(global_sun[clear]) - _centre(height[clear])))
    middle = min(MIDDLES, key=lambda minutes: abs(30.0 - late - minutes))
    if abs(30.0 - late - (shift + 30)) < OFF_NOON or middle == shift + 30:
        return shift, []
    before = 60.0 * float(
        np.median(_centre(np.nan_to_num(values["dhi"]).reshape(-1, 24)[clear]) - _centre(height[clear]))
    )
    mean = _heights(table, correction, tuple(range(middle - 25, middle + 30, 10)))
    values["dhi"] = np.clip(values["ghi"] - values["dni"] * mean, 0.0, values["ghi"])
    return middle - 30, [_wrong_sky_light(before - late)]


def _heights(table: _Table, correction: int, minutes: tuple[int, ...]) -> Array:
    """Cosine of the sun's zenith at minutes after the start of each of the 8760 hours, the mean of them; never < 0."""
    first = np.datetime64(f"{YEAR}-01-01", "s") - np.timedelta64(round((table.utc_offset - correction) * 3600), "s")
    starts = first + np.arange(HOURS) * np.timedelta64(3600, "s")
    zeniths = [
        position.sun_position(starts + np.timedelta64(60 * m, "s"), table.latitude, table.longitude).zenith
        for m in minutes
    ]
    return np.asarray(np.mean([np.maximum(np.cos(np.radians(zenith)), 0.0) for zenith in zeniths], axis=0))


def _centre(days: Array) -> Array:
    """Hour of the day at which what (day, hour) holds is balanced."""
    return np.asarray((days * np.arange(24.0)).sum(axis=1) / np.maximum(days.sum(axis=1), 1e-9))


def _on_slots(table: _Table, correction: int) -> tuple[dict[str, Array], list[Finding]]:
    """Columns on the 8760 hours of the year, NaN where no row stands; the last of several rows counts."""
    keep = table.slot >= 0
    slot = table.slot[keep]
    values = {}
    for name in MISSING:
        values[name] = np.full(HOURS, np.nan)
        if name in table.columns:
            values[name][slot] = table.columns[name][keep]
    rows = np.bincount(slot, minlength=HOURS)
    gaps, doubles = int(np.sum(rows == 0)), int(np.sum(rows > 1))
    findings = []
    if gaps or doubles:
        findings.append(
            Finding(
                "weather-gap",
                "climate.weather_file",
                f"{gaps} hours of the year are missing and {doubles} stand more than once; the missing ones are "
                "taken from the days around them, of several the last counts",
                f"{gaps + doubles} h",
                "0 h",
            )
        )
    if gaps > HOURS // 10:
        raise HeatsimError(
            Fault("a weather file holds every hour of a year", value=f"{HOURS - gaps} h", remedy="Use a complete file.")
        )
    return values, findings


def _wrong_clock(table: _Table, hours: int, stated: float, better: float) -> Finding:
    offset = table.utc_offset
    return Finding(
        "weather-clock",
        "climate.weather_file",
        f"the sun of this file keeps UTC{offset - hours:+g}, not the UTC{offset:+g} it states (or its longitude is "
        f"wrong): beam and sky light close to {better:.0f} W/m² there and to {stated:.0f} W/m² as stated; the clock "
        "was corrected",
        f"UTC{offset:+g}",
        f"UTC{offset - hours:+g}",
    )


def _wrong_sky_light(early: float) -> Finding:
    return Finding(
        "weather-sky-light",
        "climate.weather_file",
        "sky light of this file was made with the sun in the wrong place: beam and sky light close to global sun only "
        "at hours that noon contradicts; it was made anew from global sun and beam",
        f"balanced {abs(early):.0f} min {'after' if early > 0.0 else 'before'} global sun on clear days",
        f"{OFF_NOON:.0f} min",
    )


def _open_closure(rest: float) -> Finding:
    return Finding(
        "weather-closure",
        "climate.weather_file",
        "beam, sky light and global sun of this file do not belong together at any hour of the day",
        f"{rest:.0f} W/m²",
        f"{OPEN_CLOSURE:.0f} W/m²",
    )


def _unreadable(path: Path, reader: Reader, reason: str) -> HeatsimError:
    return HeatsimError(
        Fault(
            f"the weather file cannot be read as {reader}",
            file=str(path),
            value=reason,
            remedy="Check the file, and `climate.reader`.",
        )
    )


def _at(finding: Finding, path: Path) -> Finding:
    return replace(finding, source=finding.source or path.name)

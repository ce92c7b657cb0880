"""Plausibility of a weather file's columns, and the plain repairs.

Bounds are common practice, no source, except the solar constant. A repair takes the same hour of the days around, so
that the course of the day stays.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from heatsim.errors import Finding

Array = npt.NDArray[np.float64]

BOUNDS = {"air": (-60.0, 55.0), "dew_point": (-70.0, 36.0), "humidity": (0.0, 1.1), "wind": (0.0, 60.0),
          "pressure": (45e3, 110e3), "dni": (-1.0, 1361.0 * 1.035), "dhi": (-1.0, 900.0), "ghi": (-1.0, 1600.0),
          "infrared": (50.0, 700.0), "cloud": (0.0, 1.0)}  # fmt: skip
UNITS = {"air": "°C", "dew_point": "°C", "humidity": "", "wind": "m/s", "pressure": "Pa", "dni": "W/m²",
         "dhi": "W/m²", "ghi": "W/m²", "infrared": "W/m²", "cloud": ""}  # fmt: skip
NAMES = {"air": "air temperature", "dew_point": "dew point", "humidity": "relative humidity", "wind": "wind speed",
         "pressure": "pressure", "dni": "beam", "dhi": "sky light", "ghi": "global sun", "infrared": "infrared sky",
         "cloud": "cloud"}  # fmt: skip
NEEDED = ("air", "wind", "dni", "dhi", "ghi")
"""Columns whose loss is reported; humidity and dew point stand in for each other."""

LEAST_DEPARTURE = {"tropics": 10.0, "elsewhere": 20.0}
"""[K] Air is never suspected within this of the month's median for its hour: thunderstorms cool the tropics by 8 K,
cold fronts the rest by 17 K."""
TROPIC = 23.44
"""[°]"""
DEPARTURE_SPREADS = 7.0
"""Robust standard deviations beyond which air is not believed: a normal year has none beyond 5."""
MOST_MISSING = 0.25
"""Share of missing hours above which a column counts as lost."""


def lost_columns(values: dict[str, Array]) -> list[Finding]:
    """Columns that hold nothing, or one value all year; made NaN in place, and reported where they are needed."""
    lost = []
    for name, value in values.items():
        known = value[np.isfinite(value)]
        constant = len(known) > 0 and np.ptp(known) == 0.0 and name not in ("pressure", "cloud")
        if len(known) < (1.0 - MOST_MISSING) * len(value) or constant:
            held = f"{known[0]:g} {UNITS[name]}".strip() if constant else f"{len(known)} h"
            value[:] = np.nan
            lost.append((name, held))
    names = [name for name, _ in lost]
    humid = ["humidity", "dew_point"]
    report = [pair for pair in lost if pair[0] in NEEDED or (pair[0] == "humidity" and set(humid) <= set(names))]
    return [
        Finding(
            "weather-empty-column",
            "climate.weather_file",
            f"the {NAMES[name]} of this file is missing or the same all year",
            held,
        )
        for name, held in report
    ]


def implausible(values: dict[str, Array], latitude: float) -> tuple[dict[str, Array], list[Finding]]:
    """Values with what cannot be taken out as NaN, and a finding for each column where that happened.

    Air is also held against its month: where it departs from the median of its hour by more than its spread allows,
    neither it nor the hour's humidity is believed.
    """
    values = {name: value.copy() for name, value in values.items()}
    findings = []
    for name, (low, high) in BOUNDS.items():
        outside = (values[name] < low) | (values[name] > high)
        if outside.any():
            worst = values[name][outside][np.argmax(np.abs(values[name][outside]))]
            findings.append(_out_of_bounds(name, int(outside.sum()), float(worst), low, high))
            values[name][outside] = np.nan
    strange = strange_air(values["air"], latitude)
    if strange.any():
        air = values["air"][strange]
        findings.append(_strange(air, np.flatnonzero(strange)))
        for name in ("air", "dew_point", "humidity"):
            values[name][strange] = np.nan
    missing = {name: int(np.isnan(value).sum()) for name, value in values.items() if not np.isnan(value).all()}
    taken = {name: count for name, count in missing.items() if count}
    if taken:
        text = ", ".join(f"{NAMES[name]} {count} h" for name, count in taken.items())
        findings.append(
            Finding(
                "weather-filled",
                "climate.weather_file",
                f"missing values were taken from the same hour of the days around: {text}",
                f"{max(taken.values())} h",
                "0 h",
            )
        )
    return values, findings


def strange_air(air: Array, latitude: float) -> npt.NDArray[np.bool_]:
    """Hours whose air departs from the median of its hour and month beyond belief, (hour,)."""
    least = LEAST_DEPARTURE["tropics" if abs(latitude) < TROPIC else "elsewhere"]
    days = air.reshape(-1, 24)
    month = (np.arange(len(days)) * 12) // len(days)
    departure = np.empty_like(days)
    for m in range(12):
        these = days[month == m]
        if np.isnan(these).all():
            departure[month == m] = 0.0
            continue
        departure[month == m] = these - np.nanmedian(these, axis=0)
    strange = np.zeros(days.shape, dtype=bool)
    for m in range(12):
        own = departure[month == m]
        spread = 1.4826 * np.nanmedian(np.abs(own))
        strange[month == m] = np.abs(own) > max(least, DEPARTURE_SPREADS * spread)
    return strange.ravel()


def fill(value: Array) -> Array:
    """A column with its gaps filled straight between the same hour of the days around; all NaN stays NaN."""
    days = value.reshape(-1, 24).copy()
    if np.isnan(days).all():
        return value
    for hour in np.flatnonzero(np.isnan(days).any(axis=0)):
        column = days[:, hour]
        known = np.flatnonzero(np.isfinite(column))
        if len(known):
            days[:, hour] = np.interp(np.arange(len(column)), known, column[known], period=len(column))
    flat = days.ravel()
    known = np.flatnonzero(np.isfinite(flat))
    return np.asarray(np.interp(np.arange(len(flat)), known, flat[known], period=len(flat)))


def _out_of_bounds(name: str, count: int, worst: float, low: float, high: float) -> Finding:
    return Finding(
        "weather-bounds",
        "climate.weather_file",
        f"the {NAMES[name]} of this file leaves the possible for {count} h; those hours are not used",
        f"{worst:g} {UNITS[name]}".strip(),
        f"{low:g} to {high:g} {UNITS[name]}".strip(),
    )


def _strange(air: Array, hours: npt.NDArray[np.int64]) -> Finding:
    first = np.datetime64("2025-01-01T00", "h") + np.timedelta64(int(hours[0]), "h")
    return Finding(
        "weather-strange-hours",
        "climate.weather_file",
        f"the air departs from its month beyond belief for {len(hours)} h, down to {air.min():.1f} and up to "
        f"{air.max():.1f} °C, the first on {str(first)[5:10]}; those hours are not used",
        f"{len(hours)} h",
        "0 h",
    )

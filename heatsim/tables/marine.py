"""Monthly climate anywhere at sea: air, humidity, wind and sea of the nearest cell of a 2° climatology.

`marine.npz` is made by `derive_marine.py`, which names the source and says what makes a cell weak. The means are of
about 1950 to 1990: summer seas are now some 0.5 K (tropics) to 1.5 K (Mediterranean) warmer (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

SOURCE = "COADS monthly climatology, 2°, NOAA/PMEL, public domain"
EARTH_RADIUS = 6371.0
"""[km] Mean."""
RESOLUTION = 0.1
"""[°C or m/s] Of the stored whole numbers."""


@dataclass(frozen=True)
class MarineCell:
    """Twelve monthly means of one cell, January first; `weak` where few ships made them."""

    latitude: float
    longitude: float
    distance_km: float
    weak: bool
    air: Array
    """(12,) [°C]"""
    dew_point: Array
    """(12,) [°C]"""
    wind: Array
    """(12,) open sea, about 10–20 m up [m/s]"""
    sea: Array
    """(12,) [°C]"""


def nearest(latitude: float, longitude: float) -> MarineCell:
    """The cell with data whose middle is nearest, by great circle.

    Parameters
    ----------
    latitude, longitude : float
        North and east positive; any longitude that means the same meridian will do. [°]
    """
    table = _table()
    north, east = table["row"].astype(float), table["column"].astype(float)
    distance = great_circle(latitude, longitude, north, east)
    i = int(np.argmin(distance))
    months = [_months(table[name][:, i]) for name in ("air", "dew_point", "wind", "sea")]
    return MarineCell(float(north[i]), float(east[i]), float(distance[i]), bool(table["weak"][i]), *months)


def great_circle(latitude: float, longitude: float, north: npt.ArrayLike, east: npt.ArrayLike) -> Array:
    """Distance from one place to others over the sphere (haversine formula). [km]"""
    a, b = np.radians(latitude), np.radians(np.asarray(north, dtype=float))
    across = np.radians(np.asarray(east, dtype=float) - longitude)
    half = np.sin((b - a) / 2.0) ** 2 + np.cos(a) * np.cos(b) * np.sin(across / 2.0) ** 2
    return np.asarray(2.0 * EARTH_RADIUS * np.arcsin(np.sqrt(half)))


def _months(differences: npt.NDArray[np.int16]) -> Array:
    return np.asarray(np.cumsum(differences, dtype=np.int64) * RESOLUTION, dtype=np.float64)


@lru_cache(maxsize=1)
def _table() -> dict[str, npt.NDArray[np.int16]]:
    with np.load(Path(__file__).with_name("marine.npz"), allow_pickle=False) as file:
        return {name: file[name] for name in file.files}

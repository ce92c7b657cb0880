"""Derives `marine.npz` from the COADS monthly climatology; run by hand, never by the program.

Source: Comprehensive Ocean-Atmosphere Data Set climatology on 2° cells, `coads_climatology.cdf` of NOAA/PMEL's sample
data sets, public domain; in Debian's package ferret-datasets under /usr/share/ferret-vis/data. Means of ships' reports,
about 1946 to 1989 (from memory). Run as

    python -m heatsim.tables.derive_marine coads_climatology.cdf heatsim/tables/marine.npz

Each cell keeps air, dew point, wind and sea for twelve months. Cells with fewer than eight months of any of them are
dropped; missing months are filled by the mean and two waves of the year fitted to the others. A cell is flagged weak
where ships were too few to trust it: months were missing, or the year's course is rougher than two waves explain, or
less than half of the cells around it hold data (enclosed waters, where few ships report and the cell mixes shores).
"""

from __future__ import annotations

import sys
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

LEAST_MONTHS = 8
ROUGHNESS = 0.7
"""[K] Root mean square of the sea's months about mean and two waves, above which a cell is weak."""
LEAST_NEIGHBOURS = 4
"""Of the eight cells around."""
RESOLUTION = {"air": 0.1, "dew_point": 0.1, "wind": 0.1, "sea": 0.1}
"""Size of the whole numbers stored: °C, °C, m/s, °C."""


def derive(source: str, target: str) -> int:
    """Write the compact table; returns the number of cells."""
    fields, latitude, longitude = _read(source)
    enough = np.all([np.isfinite(v).sum(axis=0) >= LEAST_MONTHS for v in fields.values()], axis=0)
    filled = {name: _filled(value) for name, value in fields.items()}
    gaps = np.any([~np.isfinite(v).all(axis=0) for v in fields.values()], axis=0)
    rough = np.sqrt(np.mean((filled["sea"] - _waves(filled["sea"])) ** 2, axis=0)) > ROUGHNESS
    weak = gaps | rough | (_neighbours(enough) < LEAST_NEIGHBOURS)
    row, column = np.nonzero(enough)
    stored: dict[str, Any] = {
        name: _differences(np.round(filled[name][:, row, column] / RESOLUTION[name]).astype(np.int16))
        for name in RESOLUTION
    }
    np.savez_compressed(
        target,
        row=latitude[row].astype(np.int8),
        column=((longitude[column] + 180.0) % 360.0 - 180.0).astype(np.int16),
        weak=weak[row, column],
        **stored,
    )
    return len(row)


def _read(source: str) -> tuple[dict[str, Array], Array, Array]:
    """The four quantities as (month, latitude, longitude), NaN where missing."""
    from scipy.io import netcdf_file

    with netcdf_file(source, mmap=False) as file:
        raw = {name: np.array(file.variables[name][:], dtype=float) for name in ("AIRT", "SPEH", "WSPD", "SST", "SLP")}
        latitude = np.array(file.variables["COADSY"][:], dtype=float)
        longitude = np.array(file.variables["COADSX"][:], dtype=float)
    raw = {name: np.where(value < -1e30, np.nan, value) for name, value in raw.items()}
    pressure = np.where(np.isfinite(raw["SLP"]), raw["SLP"], 1013.25)
    dew = _dew_point(raw["SPEH"] / 1000.0, pressure)
    return {"air": raw["AIRT"], "dew_point": dew, "wind": raw["WSPD"], "sea": raw["SST"]}, latitude, longitude


def _dew_point(specific_humidity: Array, pressure: Array) -> Array:
    """Dew point [°C] by specific humidity [kg/kg] and pressure [hPa], to 0.1 K.

    Magnus' formula, Guide to Meteorological Instruments, WMO-No. 8, 2014, annex 4.B (from memory).
    """
    specific = np.maximum(specific_humidity, 5e-5)
    vapour = pressure * specific / (0.622 + 0.378 * specific)
    logarithm = np.log(vapour / 6.112)
    return np.asarray(243.12 * logarithm / (17.62 - logarithm))


def _basis() -> Array:
    """Mean and two waves of the year at the middles of the months, (month, coefficient)."""
    angle = 2.0 * np.pi * (np.arange(12) + 0.5) / 12.0
    return np.stack([np.ones(12), *(f(k * angle) for k in (1, 2) for f in (np.cos, np.sin))], axis=1)


def _waves(values: Array) -> Array:
    """Mean and two waves of the year through each cell's months."""
    basis = _basis()
    coefficients = np.linalg.pinv(basis) @ np.nan_to_num(values).reshape(12, -1)
    return np.asarray((basis @ coefficients).reshape(values.shape))


def _filled(values: Array) -> Array:
    """The months with what is missing taken from mean and two waves fitted to the rest; all NaN stays NaN."""
    basis, flat = _basis(), values.reshape(12, -1).copy()
    partly = np.flatnonzero((np.isfinite(flat).sum(axis=0) >= LEAST_MONTHS) & ~np.isfinite(flat).all(axis=0))
    for cell in partly:
        known = np.isfinite(flat[:, cell])
        coefficients = np.linalg.lstsq(basis[known], flat[known, cell], rcond=None)[0]
        flat[~known, cell] = basis[~known] @ coefficients
    return flat.reshape(values.shape)


def _neighbours(wet: npt.NDArray[np.bool_]) -> npt.NDArray[np.int64]:
    """How many of the eight cells around each hold data; round in longitude, nothing beyond the poles."""
    padded = np.pad(wet.astype(np.int64), ((1, 1), (0, 0)))
    total = sum(np.roll(padded, (i, j), axis=(0, 1)) for i in (-1, 0, 1) for j in (-1, 0, 1))
    return np.asarray((total - padded)[1:-1])


def _differences(months: npt.NDArray[np.int16]) -> npt.NDArray[np.int16]:
    """Each month less the one before, which packs smaller."""
    return np.diff(months, axis=0, prepend=np.int16(0)).astype(np.int16)


if __name__ == "__main__":
    derive(sys.argv[1], sys.argv[2])

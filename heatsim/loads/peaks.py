"""Peaks: of every zone and of the block, with the hour, the mean, the load factor and the diversity."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

Array = npt.NDArray[np.float64]

ENTERING_SHARE = 0.01
"""An hour of which more than this is spent reaching a changed setpoint is left out of peaks and listed apart."""


def recovering(loads: xr.Dataset) -> xr.DataArray:
    """Hours in which a zone reaches a changed setpoint, (..., zone): no unit is sized by them."""
    return loads["entering"] > ENTERING_SHARE


def peaks(loads: xr.Dataset) -> pd.DataFrame:
    """Peak cooling of every conditioned zone and of the block, for each day.

    Parameters
    ----------
    loads : Dataset
        From `simulate`.

    Returns
    -------
    DataFrame
        One row for each day and zone, the block last: `sensible`, `latent`, `total` at the hour of the largest total
        [W], `heading` [°], `hour` (local time), `w_per_m2`, `mean` [W] at that heading, `load_factor`, and for the
        block `sum_of_peaks` [W] and `diversity` at the same heading and day, and `envelope` [W]: the sum of zone peaks,
        each at its own worst heading. Hours spent reaching a changed setpoint are left out; the largest of them is
        `recovery`.
    """
    import pandas as pd

    rows: list[dict[str, Any]] = []
    by_day = "day" in loads.dims
    for day in loads["day"].values if by_day else ["year"]:
        part = loads.sel(day=day) if by_day else loads
        rows += _day_rows(part.sel(zone=part["conditioned"].values), str(day))
    return pd.DataFrame(rows).set_index(["day", "zone"])


def _day_rows(part: xr.Dataset, day: str) -> list[dict[str, Any]]:
    sensible, latent = (
        part[name].transpose("heading", "time", "zone").values for name in ("sensible_cooling", "latent_cooling")
    )
    total = sensible + latent
    apart = recovering(part).transpose("heading", "time", "zone").values
    counted = np.where(apart, 0.0, total)
    area = part["floor_area"].values
    local, headings = part["local_time"].values, part["heading"].values
    rows = []
    for i, zone in enumerate(part["zone"].values):
        rows.append(
            _row(
                day,
                str(zone),
                counted[..., i],
                sensible[..., i],
                latent[..., i],
                total[..., i],
                local,
                headings,
                area[i],
            )
            | {"recovery": float(np.where(apart[..., i], total[..., i], 0.0).max())}
        )
    block = _row(
        day, "block", np.where(apart.any(axis=-1), 0.0, total.sum(axis=-1)), sensible.sum(axis=-1),
        latent.sum(axis=-1), total.sum(axis=-1), local, headings, area.sum(),
    )  # fmt: skip
    at = int(np.flatnonzero(headings == block["heading"])[0])
    sum_of_peaks = float(counted[at].max(axis=0).sum())
    block |= {
        "sum_of_peaks": sum_of_peaks,
        "diversity": block["total"] / sum_of_peaks if sum_of_peaks > 0.0 else 1.0,
        "envelope": float(counted.max(axis=(0, 1)).sum()),
        "recovery": float(np.where(apart.any(axis=-1), total.sum(axis=-1), 0.0).max()),
    }
    return [*rows, block]


def _row(
    day: str, zone: str, counted: Array, sensible: Array, latent: Array, total: Array, local: Any, headings: Array,
    area: float,
) -> dict[str, Any]:  # fmt: skip
    """Peak of one zone or the block; arrays are (heading, hour)."""
    at, hour = np.unravel_index(int(np.argmax(counted)), counted.shape)
    mean = float(total[at].mean())
    peak = float(total[at, hour])
    return {
        "day": day,
        "zone": zone,
        "sensible": float(sensible[at, hour]),
        "latent": float(latent[at, hour]),
        "total": peak,
        "heading": float(headings[at]),
        "hour": local[hour],
        "w_per_m2": peak / float(area) if area > 0.0 else float("nan"),
        "mean": mean,
        "load_factor": mean / peak if peak > 0.0 else 0.0,
    }


def load_duration(loads: xr.Dataset) -> xr.DataArray:
    """Block load of every hour of a year, largest first (heading, rank). [W]

    Raises
    ------
    ValueError
        For days: hours of design days have no frequency.
    """
    if "day" in loads.dims:
        raise ValueError("a load-duration curve needs a weather year: hours of design days have no frequency")
    cooled = loads.sel(zone=loads["conditioned"].values)
    total = (cooled["sensible_cooling"] + cooled["latent_cooling"]).sum("zone").transpose("heading", "time")
    import xarray as xr

    ordered = -np.sort(-total.values, axis=1)
    return xr.DataArray(ordered, dims=("heading", "rank"), coords={"heading": loads["heading"]}, attrs={"units": "W"})

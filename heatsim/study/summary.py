"""What a study answers, as tables: by place and month, what each remedy brings, how sure the peaks are, and why.

Peaks and float temperatures are those of the hot and humid days at the worst heading; energy is that of typical days,
weighted by the days of each month, or of the year.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from heatsim.study.results import BLOCK, HELD, OFTEN, RESULTS

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

Array = npt.NDArray[np.float64]

LEVELS = (0.50, 0.90, 0.99)
"""[-] Of the peaks that draws give."""
STUDIED = ("remedy", "draw", "heading", "region", "month")
"""Axes that the tables know what to do with."""


def design_days(data: xr.Dataset) -> xr.Dataset:
    """The days whose peaks size equipment; all there are where there is none."""
    often = np.isin(data["day"].values, OFTEN)
    return data if often.all() else data.isel(day=np.flatnonzero(~often))


def often_days(data: xr.Dataset) -> xr.Dataset | None:
    """The typical day or the year, None where the study has none."""
    often = np.flatnonzero(np.isin(data["day"].values, OFTEN))
    return data.isel(day=often[0]) if len(often) else None


def worst_peak(data: xr.Dataset) -> xr.DataArray:
    """Peak of each room and the block over design days and headings. [W]"""
    return design_days(data)["peak"].max(["day", "heading"])


def energy(data: xr.Dataset, name: str = "electric_energy") -> xr.DataArray | None:
    """Electrical energy of a typical day by heading's mean, or of the year. [kWh]"""
    part = often_days(data)
    return None if part is None else part[name].mean("heading")


def as_she_is(data: xr.Dataset) -> xr.Dataset:
    """The boat without remedies."""
    return data.isel(remedy=0)


def other_axes(data: xr.Dataset) -> list[str]:
    """Axes of the study besides remedy, draw, heading, region and month."""
    return [str(dim) for dim in data["peak"].dims if dim not in (*STUDIED, "day", "room")]


def by_place(data: xr.Dataset) -> pd.DataFrame:
    """The block by region and month for the boat as she is: the worst over draws and other axes.

    Returns
    -------
    DataFrame
        Indexed by whichever of region and month are axes; `peak` [W], `per_day` [kWh electrical of a typical day],
        `fuel` [L a week], `margin` [-] and `float_temperature` [°C] where runs were held against units, `damp_hours`
        above 65 %.
    """
    import pandas as pd

    part = as_she_is(data)
    keep = [dim for dim in ("region", "month") if dim in part.dims]
    drop = ["draw", *other_axes(data)]
    columns = {"peak": worst_peak(part).sel(room=BLOCK).max(drop)}
    days = often_days(part)
    if days is not None and str(days["day"].values) == "typical":
        columns["per_day"] = days["electric_energy"].mean("heading").max(drop)
        columns["fuel"] = 7.0 * days["fuel"].mean("heading").max(drop)
        columns["damp_hours"] = days["damp_hours"].sel(room=BLOCK).isel(humidity=1).max(["heading", *drop])
    if "capacity_margin" in part:
        held = design_days(part)
        columns["margin"] = held["capacity_margin"].min(["day", "heading", *drop])
        columns["float_temperature"] = held["float_temperature"].sel(room=BLOCK).max(["day", "heading", *drop])
    if not keep:
        return pd.DataFrame({name: [float(values)] for name, values in columns.items()})
    frame = pd.DataFrame({name: values.transpose(*keep).to_series() for name, values in columns.items()})
    if len(keep) == 1:
        return frame
    return frame.reindex(pd.MultiIndex.from_product([part[dim].values for dim in keep], names=keep))


def remedies(data: xr.Dataset, prices: Mapping[str, float | None], ways: Sequence[str] = ()) -> pd.DataFrame:
    """What each remedy brings against the boat as she is, largest first; `ways` of using her are none.

    Returns
    -------
    DataFrame
        Indexed by remedy: `peak` [W] taken off the block's largest peak, `mean_peak` [W] off its mean over places and
        months, `float_temperature` [K] lower at the most where runs were held against units, `season` [kWh electrical
        saved over the months studied, mean over places], `price`, `watts_per_price`.
    """
    import pandas as pd

    block = worst_peak(data).sel(room=BLOCK)
    rest = [str(dim) for dim in block.dims if dim != "remedy"]
    season = _season(data)
    rows = []
    for i, name in enumerate(data["remedy"].values[1:].astype(str), 1):
        saved = float(block.isel(remedy=0).max() - block.isel(remedy=i).max())
        each = block.isel(remedy=0) - block.isel(remedy=i)
        row: dict[str, object] = {"remedy": name, "peak": saved, "mean_peak": float(each.mean(rest))}
        if "float_temperature" in data:
            warm = design_days(data)["float_temperature"].sel(room=BLOCK)
            row["float_temperature"] = float(warm.isel(remedy=0).max() - warm.isel(remedy=i).max())
        if season is not None:
            row["season"] = float(season.isel(remedy=0) - season.isel(remedy=i))
        price = sum(np.nan if (part := prices.get(one)) is None else part for one in name.split(" + "))
        rows.append(row | {"price": price, "watts_per_price": saved / price if price > 0.0 else np.nan})
    if not rows:
        return pd.DataFrame()
    return pd.DataFrame(rows).set_index("remedy").sort_values("peak", ascending=False)


def _season(data: xr.Dataset) -> xr.DataArray | None:
    """Electrical energy over the months studied, mean over all but the remedies. [kWh]"""
    found = energy(data)
    if found is None:
        return None
    if "month" in found.dims:
        days = np.array([monthrange(2025, int(month))[1] for month in found["month"].values])
        found = (found * found["month"].copy(data=days)).sum("month")
    return found.mean([dim for dim in found.dims if dim != "remedy"])


def ways(data: xr.Dataset, names: Sequence[str]) -> pd.DataFrame:
    """The boat as she is used and otherwise, on typical days or over the year; means over places and months.

    Returns
    -------
    DataFrame
        Indexed by way, as she is first: `energy` [kWh electrical], `damp_hours` above 65 % in the dampest room,
        `band_hours` with every room within the band, `warmest` [°C] of all; empty where there is no typical day.
    """
    import pandas as pd

    part = often_days(data)
    if part is None:
        return pd.DataFrame()
    rows = []
    for name in (str(data["remedy"].values[0]), *names):
        one = part.sel(remedy=name)
        rows.append(
            {
                "way": name, "energy": float(one["electric_energy"].mean()),
                "damp_hours": float(one["damp_hours"].sel(room=BLOCK).isel(humidity=1).mean()),
                "band_hours": float(one["band_hours"].sel(room=BLOCK).mean()),
                "warmest": float(one["warmest"].sel(room=BLOCK).max()),
            }
        )  # fmt: skip
    return pd.DataFrame(rows).set_index("way")


def certainty(data: xr.Dataset) -> pd.DataFrame:
    """How large the peaks are with what certainty, over the draws: rooms and block by `LEVELS`, the boat as she is. [W]

    The worst over places, months and other axes, of each draw.
    """
    import pandas as pd

    peak = worst_peak(as_she_is(data))
    each = peak.max([dim for dim in peak.dims if dim not in ("draw", "room")]).transpose("draw", "room").values
    values = np.quantile(each, LEVELS, axis=0)
    columns = [f"p{round(100 * level)}" for level in LEVELS]
    return pd.DataFrame(values.T, index=pd.Index(peak["room"].values, name="room"), columns=columns)


def convergence(data: xr.Dataset, level: float = 0.90) -> tuple[Array, Array]:
    """The block's peak of one certainty over the first so many draws: numbers of draws, and values [W]."""
    peak = worst_peak(as_she_is(data)).sel(room=BLOCK)
    each = peak.max([dim for dim in peak.dims if dim != "draw"]).values
    counts = np.unique(np.geomspace(2, len(each), 40).astype(int)) if len(each) > 2 else np.array([len(each)])
    return counts.astype(float), np.array([np.quantile(each[:n], level) for n in counts])


def sensitivity(data: xr.Dataset, room: str = BLOCK) -> pd.DataFrame:
    """Which input moves the peak: rank correlation over the draws, and what the input's middle four fifths move it by.

    Returns
    -------
    DataFrame
        Indexed by input, largest first: `correlation` (Spearman) and its `p_value`; `low` and `high`: mean peak of the
        tenth of draws with the lowest and the highest values, less the mean of all [W].
    """
    import pandas as pd
    from scipy.stats import spearmanr

    peak = worst_peak(as_she_is(data)).sel(room=room)
    each = np.asarray(peak.max([dim for dim in peak.dims if dim != "draw"]).values, dtype=float)
    drawn = np.asarray(data["drawn"].values, dtype=float)
    tenth = max(1, len(each) // 10)
    rows = []
    for i, name in enumerate(data["input"].values):
        order = np.argsort(drawn[:, i], kind="stable")
        told = np.ptp(drawn[:, i]) > 0.0 and np.ptp(each) > 0.0  # what never changes moves nothing
        found = spearmanr(drawn[:, i], each) if told else None
        rows.append(
            {
                "input": name, "correlation": float(found.statistic) if found else 0.0,
                "p_value": float(found.pvalue) if found else 1.0,
                "low": float(each[order[:tenth]].mean() - each.mean()),
                "high": float(each[order[-tenth:]].mean() - each.mean()),
            }
        )  # fmt: skip
    frame = pd.DataFrame(rows, columns=["input", "correlation", "p_value", "low", "high"]).set_index("input")
    return frame.reindex(frame["correlation"].abs().sort_values(ascending=False).index)


def long_table(data: xr.Dataset) -> pd.DataFrame:
    """One row a run, day and room, one column a result: for spreadsheets and databases."""
    dims = [*(str(dim) for dim in data["peak"].dims)]
    known = [name for name in (*RESULTS, *HELD) if name in data]  # in this order, whatever the disk's
    part = data[[name for name in known if set(data[name].dims) <= set(dims)]]
    for quantity in ("quantile", "humidity"):
        for name in known:
            values = data[name]
            if set(values.dims) - set(dims) == {quantity}:
                for level in data[quantity].values:
                    label = f"{name}_{round(100 * float(level))}"
                    part = part.assign({label: values.sel({quantity: level}, drop=True)})
    frame: pd.DataFrame = part.to_dataframe(dim_order=dims).reset_index()
    return frame

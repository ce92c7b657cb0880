"""What `heatsim study` does: its size first, the run or what is left of it, then tables, files and pictures."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from contextlib import suppress
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError
from heatsim.loads.alike import of_networks
from heatsim.loads.simulate import YEAR_STEP
from heatsim.report.amounts import POWER, UnitSystem, difference, show, temperature, units
from heatsim.report.output import json_value, refuse, staged
from heatsim.report.running import CAUTION
from heatsim.report.tables import plain_table
from heatsim.study import summary
from heatsim.study.chunks import sizes, variables
from heatsim.study.design import Design
from heatsim.study.results import BAND
from heatsim.study.run import read_design, run_design
from heatsim.study.store import STORE
from heatsim.study.ways import READY

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from rich.console import Console

    from heatsim.report.pictures import Drawing
    from heatsim.study.run import Progress

FILE, LONG = "study.json", "results.csv"
SECONDS, YEAR_SECONDS = 1.7e-9, 2.3e-10
"""[s] For each run, day, step, massive node and driver; of years, which share drivers (charter-regions: 82 s of a
processor, 78 by this; 256 years of a boat of 12 rooms: 49 s, 48 by this)."""
PREPARED = 0.9
"""[s] For each network of a boat of 320 nodes (256 years of 256 networks of 12 rooms: 143 s, 131 by this)."""
PROGRAMS, NODE = 0.35, 1.6e-3
YEAR_PROGRAMS, YEAR_NODE = 0.1, 5e-3
"""[GB] For each process, and for each massive node as guessed: charter-regions takes 0.85 GB a process (326 nodes),
years of 12 rooms 1.0 GB (192), of a boat of 320 nodes and 40 regimes 2 GB (measured)."""
MEGABYTE = 1e6
ROWS_AT_ONCE = 20_000
"""Rows of the long table written at once: some 10 MB as text."""


def run_the_study(
    file: Path,
    out: Path,
    units_system: UnitSystem | None,
    *,
    workers: int | None,
    scheduler: str | None,
    parquet: bool,
    pictures: bool,
    progress: Progress | None,
    console: Console | None,
    emit: Callable[[dict[str, Any]], None] | None,
) -> None:
    """Run or go on with a study, print what it answers, write it beside the store in `out`."""
    design = read_design(file, out)
    system: UnitSystem = units_system or "si"
    if parquet:
        _needs_parquet()
    if out.exists() and not (out / STORE).exists():
        refuse(out, [FILE, LONG, STORE], force=False)
    if console is not None:
        console.print(size(design))
    data = run_design(design, out, workers=workers, scheduler=scheduler, progress=progress)
    answer = as_json(design, data)
    if console is not None:
        with suppress(BrokenPipeError, SystemExit):  # a closed pipe ends the tables, not the run
            print_study(console, design, data, system)
    if emit is not None:
        emit(answer)
    drawings = _drawings(design, data, system) if pictures else []
    with staged(out, force=True) as work:
        (work / FILE).write_text(json.dumps(answer, indent=1, allow_nan=False), encoding="utf-8")
        frame = summary.long_table(data)
        _write_long(work / LONG, frame)
        if parquet:
            frame.to_parquet(work / "results.parquet", index=False)
        for drawing in drawings:
            (work / drawing.file).write_bytes(drawing.png())
    if console is not None and not console.quiet:
        console.print(f"written to {out}: " + ", ".join(sorted(path.name for path in out.iterdir())))


def _write_long(path: Path, frame: pd.DataFrame) -> None:
    """`frame.to_csv(index=False, float_format="%.6g")`, byte for byte, in half its time (3 million cells)."""

    def written(values: npt.NDArray[Any]) -> list[Any]:
        if values.dtype.kind != "f":
            return list(values.tolist())
        texts = ("%.6g\n" * len(values) % tuple(values.tolist())).splitlines()
        return ["" if text == "nan" else text for text in texts]

    with open(path, "w", encoding="utf-8", newline="") as file:
        lines = csv.writer(file, lineterminator="\n")
        lines.writerow(frame.columns)
        for first in range(0, len(frame), ROWS_AT_ONCE):
            part = frame.iloc[first : first + ROWS_AT_ONCE]
            lines.writerows(zip(*(written(part[name].to_numpy()) for name in part), strict=True))


def size(design: Design) -> str:
    """How large a study is, before it runs."""
    axes = " × ".join(f"{len(axis.values)} {axis.name}" for axis in design.axes if len(axis.values) > 1) or "1 run"
    length = sizes(design)
    kept = sum(
        design.runs * np.prod([length[dim] for dim in variable.dims]) * 8.0 for variable in variables(design).values()
    )
    seconds, memory = _seconds(design), _gigabytes(design)
    time = f"{seconds:.0f} s" if seconds < 120.0 else f"{seconds / 60.0:.0f} min"
    chunks = len(design.chunks())
    return (
        f"{design.study.study}: {design.base.name}, {axes} = {design.runs:,} runs of {', '.join(design.days)}, "
        f"in {chunks} chunks; about {time} of one processor, {memory:.1f} GB of memory a process, "
        f"at most {kept / MEGABYTE:,.0f} MB on disk"
    )


def _massive(design: Design) -> float:
    """A guess of how many nodes a boat's network has."""
    return 3.2 * len(design.base.faces)


def _gigabytes(design: Design) -> float:
    """A guess of what each process needs, from the size of the boat. [GB]"""
    years = design.days == ("year",)
    return (YEAR_PROGRAMS + YEAR_NODE * _massive(design)) if years else PROGRAMS + NODE * _massive(design)


def _seconds(design: Design) -> float:
    """A guess of the processor's time from the size of the boat. [s]"""
    faces, rooms = len(design.base.faces), len(design.base.zones)
    nodes, drivers = _massive(design), 2.0 * faces
    years = design.days == ("year",)
    steps = 365.0 * 86400.0 / min(design.study.step, YEAR_STEP) if years else 86400.0 / design.study.step
    each = YEAR_SECONDS if years else SECONDS
    boats = len(design.remedies) * (len(design.drawn) if _draws_networks(design) else 1)
    prepared = PREPARED * boats * (nodes / 320.0) ** 2
    return float(each * design.runs * len(design.days) * steps * nodes * drivers + prepared + 1e-3 * rooms)


def _draws_networks(design: Design) -> bool:
    """Whether the second draw has another network than the first."""
    if len(design.drawn) < 2:
        return False
    rest, headings = (0,) * (len(design.shape) - 3), design.headings(slice(0, 1))
    return of_networks(design.case((0, 0, *rest), headings)[1]) != of_networks(design.case((0, 1, *rest), headings)[1])


def print_study(console: Console, design: Design, data: xr.Dataset, system: UnitSystem) -> None:
    """The tables of a study that has something to say."""
    if any(axis.name in ("region", "month") for axis in design.axes):
        for table in place_tables(data, system):
            console.print(table)
    if len(design.remedies) > 1 + len(design.ways):
        console.print(remedy_table(design, data, system))
    if design.ways and (table := way_table(design, data, system)) is not None:
        console.print(table)
    for remedy in design.study.remedies:
        if remedy.change is not None:
            console.print(f"{remedy.name}: {READY[remedy.change][1]}", style="dim")
    if len(design.drawn) > 1:
        console.print(certainty_table(data, system))
        console.print(sensitivity_table(data, system))
    console.print(_how(design, data))
    console.print(CAUTION, style="dim")


def place_tables(data: xr.Dataset, system: UnitSystem) -> list[Any]:
    """Peak of the block by region and month, and energy beside it where there are typical days."""
    frame = summary.by_place(data)
    unit = units(POWER, system)[0]
    tables = [_grid(frame["peak"], lambda v: show(v, POWER, system)[0], f"Peak of the block, {unit}")]
    if "per_day" in frame:
        tables.append(_grid(frame["per_day"], lambda v: f"{v:.1f}", "Electricity for cooling on a typical day, kWh"))
    if "margin" in frame:
        tables.append(_grid(frame["margin"], lambda v: f"{100 * v:+.0f} %", "Capacity in that sea over the peak"))
    return tables


def _grid(values: pd.Series, written: Callable[[float], str], title: str) -> Any:
    """Regions down, months across; one column where only one of them is an axis."""
    if values.index.nlevels == 1:
        cells = [written(value) if isfinite(value) else "–" for value in map(float, values)]
        rows = [(str(name), cell) for name, cell in zip(values.index, cells, strict=True)]
        return plain_table(title, (str(values.index.name), ""), rows, ("",))
    wide = values.unstack("month")[sorted(set(values.index.get_level_values("month")))]
    wide = wide.reindex(list(dict.fromkeys(values.index.get_level_values("region"))))
    months = [str(month) for month in wide.columns]
    lines = [
        (str(name), *(written(float(v)) if isfinite(v) else "–" for v in row))
        for name, row in zip(wide.index, wide.values, strict=True)
    ]
    return plain_table(title, ("region", *months), lines, months)


def remedy_table(design: Design, data: xr.Dataset, system: UnitSystem) -> Any:
    """What each remedy takes off, largest first."""
    prices = {remedy.name: remedy.price for remedy in design.study.remedies}
    frame = summary.remedies(data, prices, design.ways)
    power = units(POWER, system)
    heads = ["remedy"] + [f"{what}, {unit}" for what in ("off the\npeak", "off the mean\nof peaks") for unit in power]
    if "float_temperature" in frame:
        heads.append("cooler at\nfull capacity")
    one_day = "typical" in data["day"].values and "month" not in data.dims
    saved = "kWh saved on\na typical day" if one_day else "kWh saved in\nthe months studied"
    heads += [saved, "price", "W for each\nof price"]
    rows = []
    for name, row in frame.iterrows():
        cells = [str(name), *show(row["peak"], POWER, system), *show(row["mean_peak"], POWER, system)]
        if "float_temperature" in frame:
            cells.append(difference(row["float_temperature"], system))
        cells += [f"{row[key]:,.{digits}f}" if key in row and isfinite(row[key]) else "–" for key, digits in
                  (("season", 1 if one_day else 0), ("price", 0), ("watts_per_price", 2))]  # fmt: skip
        rows.append(tuple(cells))
    return plain_table("What each remedy brings", heads, rows, heads[1:])


def way_table(design: Design, data: xr.Dataset, system: UnitSystem) -> Any:
    """Ways of using the boat side by side, None where no day says how often."""
    frame = summary.ways(data, design.ways)
    if frame.empty:
        return None
    span = "year" if design.days == ("year",) else "day"
    heads = ["way", f"kWh\na {span}", f"damp hours\na {span}", f"hours in the band\na {span}", "warmest air"]
    rows = [
        (str(name), f"{row['energy']:,.1f}", f"{row['damp_hours']:,.1f}", f"{row['band_hours']:,.1f}",
         temperature(row["warmest"], system))
        for name, row in frame.iterrows()
    ]  # fmt: skip
    band = f"up to {temperature(BAND[0], system)} and {100 * BAND[1]:.0f} % humidity"
    title = f"Ways of using her (band: {band} in every room; damp: above 65 % in one)"
    return plain_table(title, heads, rows, heads[1:])


def certainty_table(data: xr.Dataset, system: UnitSystem) -> Any:
    """Peaks with their certainty, for every room and the block."""
    frame = summary.certainty(data)
    heads = ["room"] + [f"{level.upper()}, {unit}" for level in frame.columns for unit in units(POWER, system)]
    rows = [(str(room), *(cell for value in row for cell in show(float(value), POWER, system)))
            for room, row in zip(frame.index, frame.values, strict=True)]  # fmt: skip
    title = f"Peaks over {data.sizes['draw']} draws, instead of a margin: so many in a hundred stay below"
    return plain_table(title, heads, rows, heads[1:])


def sensitivity_table(data: xr.Dataset, system: UnitSystem, most: int = 12) -> Any:
    """Which input moves the block's peak, strongest first."""
    frame = summary.sensitivity(data).head(most)
    power = units(POWER, system)
    heads = ["input", "rank\ncorrelation"] + [f"{end} tenth\n{u}" for end in ("lowest", "highest") for u in power]
    rows = [(str(name), f"{row['correlation']:+.2f}", *_signed(row["low"], system), *_signed(row["high"], system))
            for name, row in frame.iterrows()]  # fmt: skip
    return plain_table("What moves the block's peak", heads, rows, heads[1:])


def _signed(value: float, system: UnitSystem) -> list[str]:
    return [("+" if value > 0.0 else "") + text for text in show(value, POWER, system)]


def _how(design: Design, data: xr.Dataset) -> str:
    """What the tables rest on, in one line."""
    others = summary.other_axes(data)
    more = f"; the worst over {', '.join(others)}" if others else ""
    over = "the year" if design.days == ("year",) else f"the design days ({', '.join(design.days)})"
    return f"Peaks: the worst heading of {over}{more}; boat as she is unless said."


def as_json(design: Design, data: xr.Dataset) -> dict[str, Any]:
    """The tables as plain values, SI."""
    value: dict[str, Any] = {
        "title": design.study.study,
        "boat": design.base.name,
        "runs": design.runs,
        "axes": {axis.name: list(axis.values) for axis in design.axes},
        "by_place": _records(summary.by_place(data)),
        "caution": CAUTION,
    }
    if len(design.remedies) > 1:
        prices = {one.name: one.price for one in design.study.remedies}
        value["remedies"] = _records(summary.remedies(data, prices, design.ways))
    if design.ways:
        value["ways"] = _records(summary.ways(data, design.ways))
    if len(design.drawn) > 1:
        value["certainty"] = _records(summary.certainty(data))
        value["sensitivity"] = _records(summary.sensitivity(data))
    return value


def _records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    named = frame.index.names != [None]
    rows = (frame.reset_index() if named else frame).to_dict("records")
    found: list[dict[str, Any]] = json_value(rows)
    return found


def _drawings(design: Design, data: xr.Dataset, system: UnitSystem) -> list[Drawing]:
    from heatsim.report.study_pictures import study_drawings

    return study_drawings(design, data, system)


def _needs_parquet() -> None:
    try:
        import pyarrow  # type: ignore[import-untyped]  # noqa: F401
    except ImportError:
        raise HeatsimError(
            Fault("Parquet files need a package that is not installed", path="--parquet",
                  remedy="Install it: python -m pip install 'heatsim[parquet]'")
        ) from None  # fmt: skip

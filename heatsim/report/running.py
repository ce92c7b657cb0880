"""What `heatsim loads` does with a run: table first, then data set, hourly table, summary and pictures."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from heatsim.errors import Finding
from heatsim.report.amounts import UnitSystem
from heatsim.report.output import refuse, staged
from heatsim.report.pictures import (
    LATENT,
    block_by_heading,
    label_of,
    load_drawings,
    picture_names,
    prepare_drawing,
    rose_drawing,
)
from heatsim.report.worker import Worker, result_or_here
from heatsim.scenario.resolved import HOUR_BY_HOUR

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from rich.console import Console

    from heatsim.scenario.resolved import Resolved

Array = npt.NDArray[np.float64]

FILES = ("loads.nc", "hourly.csv", "summary.json")
"""What every run with an output folder writes."""

CAUTION = (
    "These are estimates from the description given. They support and do not replace a qualified designer, "
    "electrician, refrigeration engineer and local codes. Never site a self-contained unit or its return air in an "
    "engine, generator or petrol space; fit a carbon monoxide alarm in every sleeping space."
)


def run_loads(
    file: Path,
    out: Path | None,
    changes: Sequence[str],
    units: UnitSystem | None,
    *,
    force: bool,
    pictures: bool,
    progress: Callable[[str, float], None] | None,
    console: Console | None,
    emit: Callable[[dict[str, Any]], None] | None,
) -> None:
    """Simulate a scenario file, print the zone table, write the results into `out`.

    `units` None takes those of the file's `report` part.
    """
    from heatsim.loads.peaks import peaks
    from heatsim.loads.simulate import simulate
    from heatsim.scenario.reading import read
    from heatsim.scenario.resolve import resolve

    scenario = read(file, changes)
    system: UnitSystem = units or scenario.report.units
    if scenario.basis != HOUR_BY_HOUR:
        from heatsim.report.standard import run_ship_standard

        steady = run_ship_standard(resolve(scenario), out, system, force=force, console=console)
        if emit is not None:
            emit(steady)
        return
    if out is not None:
        refuse(out, FILES, force)
    resolved = resolve(scenario)
    pictures = pictures and out is not None
    if out is not None and pictures:
        refuse(out, _pictures_of(resolved), force)
    with Worker(pictures and resolved.weather_year is None) as worker:
        turned = worker.submit(all_round, resolved) if pictures and _turns(resolved) else None
        worker.submit(prepare_drawing)
        loads = simulate(resolved, progress=progress)
        loads.attrs["overrides"] = json.dumps(list(changes))
        peak = peaks(loads)
        drawings = load_drawings(loads, peak, system) if pictures else []
        begun = [worker.submit(drawing.png) for drawing in drawings]
        if console is not None:
            with suppress(BrokenPipeError, SystemExit):  # a closed pipe ends the table, not the run
                _print(console, loads, peak, system)
        summary = summarise(loads, peak)
        if emit is not None:
            emit(summary)
        if out is None:
            return
        with staged(out, force) as work:
            write_netcdf(loads, work / FILES[0])
            hourly_table(loads).to_csv(work / FILES[1], index=False, float_format="%.6g")
            (work / FILES[2]).write_text(json.dumps(summary, indent=1), encoding="utf-8")
            for drawing, future in reversed(list(zip(drawings, begun, strict=True))):  # the worker begins at the front
                (work / drawing.file).write_bytes(result_or_here(future, drawing.png))
            if pictures and "day" in loads.dims:
                by_heading = block_by_heading(loads) if turned is None else result_or_here(turned, all_round, resolved)
                if len(by_heading[0]) > 3:
                    rose = rose_drawing(loads, *by_heading, system)
                    (work / rose.file).write_bytes(rose.png())
    if console is not None and not console.quiet:
        console.print(f"written to {out}: " + ", ".join(sorted(p.name for p in out.iterdir() if p.is_file())))


def _pictures_of(resolved: Resolved) -> list[str]:
    """Names of the first day's pictures or the year's, so that nobody waits for a run that ends in a refusal."""
    if resolved.weather_year is not None:
        return ["duration.png"]
    zones = picture_names([zone.name for zone in resolved.zones if zone.control is not None])
    return ["block.png", "headings.png", *zones.values()]


def _turns(resolved: Resolved) -> bool:
    """Whether the rose needs a run of its own: for days, when the run itself has few headings."""
    return resolved.weather_year is None and len(resolved.place.headings) <= 3


def all_round(resolved: Resolved) -> tuple[Array, Array]:
    """Headings every 15° and the first day's block peak at each."""
    from heatsim.loads.simulate import simulate

    place = replace(resolved.place, headings=tuple(float(h) for h in range(0, 360, 15)))
    turned = replace(resolved, place=place, days=resolved.days[:1])
    return block_by_heading(simulate(turned, step=900.0, causes=False))


def _print(console: Console, loads: xr.Dataset, peak: pd.DataFrame, system: UnitSystem) -> None:
    from heatsim.report.amounts import POWER, phrase
    from heatsim.report.tables import findings_table, outdoor_line, remarks, zone_table

    for day in dict.fromkeys(day for day, _ in peak.index):
        block = peak.loc[(day, "block")]
        console.print(zone_table(peak, loads, day, system))
        console.print(outdoor_line(loads, day, system))
        console.print(
            f"block load {phrase(block['total'], POWER, system)} against a sum of zone peaks of "
            f"{phrase(block['sum_of_peaks'], POWER, system)} at the same heading: diversity {block['diversity']:.2f}"
            + (f"; over all headings {phrase(block['envelope'], POWER, system)}" if loads.sizes["heading"] > 1 else "")
        )
        if "load_by_cause" in loads:
            console.print("at that hour: " + _biggest_causes(loads, peak, day, system))
        for remark in remarks(peak, loads, day, system):
            console.print(remark)
        console.print()
    found = [Finding(**item) for item in json.loads(loads.attrs["findings"])]
    if found:
        console.print(findings_table(found))
    console.print(CAUTION, style="dim")


def _biggest_causes(loads: xr.Dataset, peak: pd.DataFrame, day: str, system: UnitSystem) -> str:
    from heatsim.report.amounts import POWER, phrase

    part = at_peak(loads, peak, day)
    causes = part["load_by_cause"].sum("zone").to_series()
    causes[LATENT] = float(part["latent_cooling"].sum())
    ranked = causes[causes.abs() > 0.01 * causes.abs().max()].sort_values(ascending=False)
    return ", ".join(f"{label_of(str(name))} {phrase(value, POWER, system)}" for name, value in ranked.items())


def at_peak(loads: xr.Dataset, peak: pd.DataFrame, day: str) -> xr.Dataset:
    """Loads by cause and latent at the block's worst heading and peak hour, conditioned zones only."""
    block: Any = peak.loc[(day, "block")]
    loads = loads[["load_by_cause", "latent_cooling"]]
    part = loads.sel(day=day) if "day" in loads.dims else loads
    part = part.sel(heading=block["heading"])
    part = part.isel(time=int((part["local_time"].values == block["hour"]).argmax()))
    return part.sel(zone=part["conditioned"].values)


def summarise(loads: xr.Dataset, peak: pd.DataFrame) -> dict[str, Any]:
    """Peaks, causes at the block's peak hour, residuals and what the run took, as plain JSON values."""
    days: dict[str, Any] = {}
    for day in dict.fromkeys(day for day, _ in peak.index):
        frame = peak.loc[day]
        zones = {
            str(zone): {
                key: (str(value) if key == "hour" else None if value != value else float(value))
                for key, value in row.items()
                if not (zone != "block" and key in ("sum_of_peaks", "diversity", "envelope"))
            }
            for zone, row in frame.iterrows()
        }
        days[str(day)] = {"zones": zones}
        if "load_by_cause" in loads:
            causes = at_peak(loads, peak, day)["load_by_cause"].sum("zone").to_series()
            days[str(day)]["block_load_by_cause_W"] = {str(k): float(v) for k, v in causes.items()}
    keep = (
        "title", "scenario_hash", "heatsim_version", "solver_form", "regimes", "massive_nodes", "step_seconds",
        "days_to_periodic", "distance_to_periodic_K", "cause_origin_degC", "wall_seconds", "overrides",
    )  # fmt: skip
    return {
        "run": {key: _plain(loads.attrs[key]) for key in keep if key in loads.attrs},
        "days": days,
        "energy_residual": float(loads["energy_residual"].max()),
        "moisture_residual": float(loads["moisture_residual"].max()),
        "findings": json.loads(loads.attrs["findings"]),
        "defaults": json.loads(loads.attrs["defaults"]),
        "caution": CAUTION,
    }


def write_netcdf(loads: xr.Dataset, path: Path) -> None:
    """Write the data set as classic netCDF with 64-bit offsets (ten times as quick as by HDF5 for so many small parts).

    Times and their bounds stand in the same unit, and there is no fill value where nothing may be missing.
    """
    encoding: dict[Any, dict[str, Any]] = {
        name: {"_FillValue": None} for name, values in loads.variables.items() if values.dtype.kind in "fM"
    }
    for name in ("time", "time_bounds", "local_time"):
        encoding[name] |= {"units": "hours since 1970-01-01", "dtype": "float64"}
    loads.to_netcdf(path, engine="scipy", encoding=encoding)


def _plain(value: Any) -> Any:
    return value.item() if hasattr(value, "item") else value


def hourly_table(loads: xr.Dataset) -> pd.DataFrame:
    """One row for each day, heading, hour and zone, with units in the headers."""
    names = {
        "air_temperature": "air_temperature_degC",
        "operative_temperature": "operative_temperature_degC",
        "relative_humidity": "relative_humidity_1",
        "sensible_cooling": "sensible_cooling_W",
        "latent_cooling": "latent_cooling_W",
        "heating": "heating_W",
    }
    frame = loads[list(names)].to_dataframe().rename(columns=names).reset_index()
    first = [name for name in ("day", "heading", "time", "local_time", "zone") if name in frame]
    return frame[[*first, *names.values()]]

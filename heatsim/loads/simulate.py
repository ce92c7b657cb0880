"""`simulate`: a resolved scenario in, a data set of hourly loads out."""

from __future__ import annotations

import json
import time
from collections.abc import Sequence
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import numpy.typing as npt

from heatsim.loads.causes import origin, recorded, split_by_cause, split_days
from heatsim.loads.classes import climate_class
from heatsim.loads.dataset import dataset
from heatsim.loads.line import Line, Progress, Stretch, make_line, one_blas_thread, solve_days
from heatsim.loads.paths import Hours, hours
from heatsim.loads.years import solve_year
from heatsim.network.base import CAUSES
from heatsim.scenario.resolved import Resolved
from heatsim.solve.base import Mode
from heatsim.solve.stepping import follow

if TYPE_CHECKING:
    import xarray as xr

Array = npt.NDArray[np.float64]

DAY_STEP, YEAR_STEP = 300.0, 900.0
"""[s] Internal steps; docs/theory.md gives the error of each."""


def simulate(
    resolved: Resolved,
    *,
    step: float | None = None,
    causes: bool | None = None,
    compiled: bool = True,
    solver: Literal["exact", "reference"] = "exact",
    shared: bool = False,
    progress: Progress | None = None,
) -> xr.Dataset:
    """Hourly heat and moisture loads of every zone of a boat.

    Parameters
    ----------
    resolved : Resolved
    step : float, optional
        Internal step; 300 for days, 900 for a year unless given. [s]
    causes : bool, optional
        Split the load by cause; by default for days, not for a year.
    compiled : bool
        For a year, use the compiled stepping (False: numpy).
    solver : {"exact", "reference"}
        `reference` carries days of the same network by scipy's BDF with control by events, from the same start; it
        takes minutes, and returns `sensible_cooling` and `heating` alone.
    shared : bool
        Linearise where a study does (`loads.classes`) instead of at the mean of the boat's own weather.
    progress : callable, optional
        Called with a label and the share done.

    Returns
    -------
    Dataset
        Variables of `loads.variables`; dimensions `day` (absent for a year), `heading`, `time`, `zone`, `path`,
        `cause`, `source`, `face`.

    Raises
    ------
    ValueError
        Where a year is asked of the reference.
    """
    began = time.perf_counter()
    headings = np.asarray(resolved.place.headings, dtype=float)
    with one_blas_thread():
        if solver == "reference":
            if resolved.weather_year is not None:
                raise ValueError("the reference solver carries days, not a weather year")
            return _by_reference(resolved, headings, step or DAY_STEP)
        if resolved.weather_year is not None:
            return _year(resolved, headings, step or YEAR_STEP, bool(causes), compiled, shared, progress, began)
        return _days(resolved, headings, step or DAY_STEP, causes is not False, shared, progress, began)


def _days(
    resolved: Resolved, headings: Array, step: float, causes: bool, shared: bool, progress: Progress | None,
    began: float,
) -> xr.Dataset:  # fmt: skip
    from heatsim.climate.days import design_weather

    weathers = tuple(design_weather(resolved, day, step) for day in resolved.days)
    line = make_line(resolved, weathers, climate_class(weathers) if shared else None)
    stretches = solve_days(line, headings)
    if progress is not None:
        progress("days", 0.5)
    splits: dict[str, list[Array]] = {}
    if causes:
        reached = any(np.any(stretch.heat.mode >= Mode.LIMIT_COOL) for stretch in stretches)
        free = solve_days(_unlimited(line), headings) if reached else stretches
        splits["load_by_cause"] = [_hourly(part.load, s) for part, s in zip(split_days(line, free), free, strict=True)]
        if _limited(line):
            parts = zip(split_days(line, stretches), stretches, strict=True)
            splits["excess_by_cause"] = [_excess(line, s, part.reading) for part, s in parts]
    if progress is not None:
        progress("days", 1.0)
    return dataset(
        line, _labels(resolved), weathers, headings, [hours(line, s) for s in stretches], splits,
        _notes(line, stretches, origin(line), began),
    )  # fmt: skip


def _by_reference(resolved: Resolved, headings: Array, step: float) -> xr.Dataset:
    """Days of the same network from the engine's periodic start, by scipy's solver."""
    from heatsim.climate.days import design_weather
    from heatsim.loads.unlinearised import same_network_day

    line = make_line(resolved, tuple(design_weather(resolved, day, step) for day in resolved.days))
    data = _days(resolved, headings, step, causes=False, shared=False, progress=None, began=time.perf_counter())
    heat = np.empty((len(line.weathers), len(headings), len(line.weathers[0].time), len(line.zones)))
    for day, stretch in enumerate(solve_days(line, headings)):
        for run in range(len(headings)):
            one = replace(stretch, heat_first=stretch.heat_first[[run]], heat_u=stretch.heat_u[:, [run]])
            heat[day, run] = same_network_day(line, one).heat
    by_hour = heat.reshape(*heat.shape[:2], 24, -1, heat.shape[3])
    found = {"sensible_cooling": np.maximum(-by_hour, 0.0), "heating": np.maximum(by_hour, 0.0)}
    dims = ("day", "heading", "time", "zone")
    parts = {name: data[name].transpose(*dims).copy(data=values.mean(axis=3)) for name, values in found.items()}
    return data[list(parts)].assign(parts)


def _year(
    resolved: Resolved,
    headings: Array,
    step: float,
    causes: bool,
    compiled: bool,
    shared: bool,
    progress: Progress | None,
    began: float,
) -> xr.Dataset:
    from heatsim.climate.years import year_weather
    from heatsim.solve.compiled import follow_compiled

    weathers = tuple(year_weather(resolved, step))
    line = make_line(resolved, weathers, climate_class(weathers) if shared else None)
    parts: list[Hours] = []
    loads: list[Array] = []
    last: Stretch | None = None
    carried: Array | None = None
    free = solve_year(_unlimited(line), headings, compiled) if causes and _limited(line) else None
    for stretch in solve_year(line, headings, compiled, progress):
        parts.append(hours(line, stretch))
        if causes:
            whole = next(free) if free is not None else stretch
            if carried is None:
                carried = np.zeros((len(CAUSES), *whole.heat_first.shape))
            follower = follow_compiled if compiled else follow
            split = split_by_cause(line, recorded(whole), carried, follower=follower)
            carried = split.end
            loads.append(_hourly(split.load, stretch))
        last = stretch
    assert last is not None
    splits = {"load_by_cause": loads} if causes else {}
    return dataset(line, None, weathers, headings, parts, splits, _notes(line, [last], origin(line), began))


def _hourly(values: Array, stretch: Stretch) -> Array:
    """Means over hours of (heading, step, zone, cause)."""
    per_hour = round(3600.0 / stretch.weather.step)
    runs, steps, zones, causes = values.shape
    return np.asarray(values.reshape(runs, steps // per_hour, per_hour, zones, causes).mean(axis=2))


def _excess(line: Line, stretch: Stretch, reading: Array) -> Array:
    """Hourly temperature above the cooling setpoint by cause; zones that hold nothing count as zero. [K]"""
    above = reading.copy()
    above[..., CAUSES.index("setpoints")] -= stretch.band.cool - origin(line)
    above[:, :, ~line.heat_operators.system.holdable] = 0.0
    return _hourly(above, stretch)


def _limited(line: Line) -> bool:
    """Whether any zone's equipment has a limit."""
    controls = [zone.control for zone in line.resolved.zones if zone.control is not None]
    return any(np.isfinite(control.cooling_limit) or np.isfinite(control.heating_limit) for control in controls)


def _unlimited(line: Line) -> Line:
    """The same boat with unlimited plant."""
    zones = tuple(
        replace(z, control=replace(z.control, cooling_limit=np.inf, heating_limit=np.inf)) if z.control else z
        for z in line.resolved.zones
    )
    return replace(line, resolved=replace(line.resolved, zones=zones))


def simulate_many(boats: Sequence[Resolved], **options: Any) -> xr.Dataset:
    """Simulate several boats of the same shape (zones, faces, days), with one axis `run` in front.

    Parameters
    ----------
    boats : sequence of Resolved
    options
        As for `simulate`.

    Raises
    ------
    ValueError
        When the boats differ in zones, faces, days or headings.
    """
    import xarray as xr

    return xr.concat(
        [simulate(boat, **options) for boat in boats], "run", join="exact", combine_attrs="drop_conflicts",
        coords="minimal", compat="override", data_vars="all",
    )  # fmt: skip


def _labels(resolved: Resolved) -> list[str]:
    kinds = [day.kind for day in resolved.days]
    return [k if kinds.count(k) == 1 else f"{k} {d.date}" for k, d in zip(kinds, resolved.days, strict=True)]


def _notes(line: Line, stretches: Sequence[Stretch], base: float, began: float) -> dict[str, object]:
    forms = sorted({op.form.value for op in line.heat_operators.regimes})
    return {
        "solver_form": "; ".join(forms),
        "regimes": len(line.heat_operators.regimes),
        "massive_nodes": int(np.sum(line.heat.capacity > 0.0)),
        "step_seconds": line.heat_operators.step,
        "days_to_periodic": max(s.days for s in stretches),
        "distance_to_periodic_K": max(s.distance for s in stretches),
        "cause_origin_degC": base,
        "findings": json.dumps([asdict(f) for f in dict.fromkeys(f for w in line.weathers for f in w.findings)]),
        "wall_seconds": time.perf_counter() - began,
    }

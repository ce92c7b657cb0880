"""A log beside the simulation: the table on the screen, the lines of plan.json, and the picture."""

from __future__ import annotations

from collections.abc import Sequence
from typing import IO, TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.equipment.overlay import Overlay, Series
from heatsim.report.amounts import UnitSystem, difference, temperature
from heatsim.report.pictures import INK, PAPER, QUIET, Drawing, plain
from heatsim.report.tables import findings_table, plain_table

if TYPE_CHECKING:
    from rich.console import Console

Array = npt.NDArray[np.float64]

PICTURE = "log.png"
MOST_PANELS = 9
CLOSE, GAP = 90, np.nan
"""[min] Between hours that a line joins."""
CAUTION = (
    "A log beside a simulation does not prove the cause of a difference: sensors hang in sun and supply air, routines "
    "and weather differ from the file."
)
LABELS = {"temperature": "air", "humidity": "relative humidity", "current": "current"}
CLOCK_HOUR = np.timedelta64(3600, "s")


class Panel(NamedTuple):
    """One column: title, unit, hours of the log and of the simulation from local midnight [h], their values."""

    title: str
    unit: str
    logged_at: Array
    logged: Array
    simulated_at: Array
    simulated: Array


def print_overlay(console: Console, found: Overlay, system: UnitSystem) -> None:
    """By what it was driven, bias and scatter of every column, its farthest hours, findings, caution."""
    console.print()
    rows = []
    for one in found.series:
        apart = "; ".join(
            f"{_when(found, one, i)} {_value(one, one.logged[i], system)} for {_value(one, one.simulated[i], system)}"
            for i in one.farthest
        )
        rows.append([
            f"{one.name}, {LABELS[one.kind]}", str(len(one.time)), _apart(one, one.bias, system, signed=True),
            _apart(one, one.scatter, system), apart,
        ])  # fmt: skip
    heads = ["column", "hours", "bias", "scatter", "farthest apart, logged for simulated, boat's clock"]
    console.print(plain_table("The log beside the installed boat: logged less simulated", heads, rows, heads[1:4]))
    console.print("driven by: " + "; ".join(found.driven_by))
    console.print(
        f"times on the boat's clock, UTC{found.offset:+g} throughout; scatter is the root mean square of hourly means "
        "about the bias"
    )
    if found.findings:
        console.print(findings_table(found.findings))
    console.print(CAUTION, style="dim")


def as_json(found: Overlay) -> dict[str, Any]:
    """Plain values in SI: °C and K, shares, A; times in UTC."""
    return {
        "file": found.log.file,
        "driven_by": list(found.driven_by),
        "clock_less_utc_h": found.offset,
        "columns": [
            {
                "name": one.name, "kind": one.kind, "readings": one.readings, "hours": len(one.time),
                "bias": one.bias, "scatter": one.scatter,
                "farthest": [
                    {"hour": str(one.time[i]) + "Z", "logged": one.logged[i], "simulated": one.simulated[i]}
                    for i in one.farthest
                ],
            }
            for one in found.series
        ],
        "findings": [vars(finding) for finding in found.findings],
        "caution": CAUTION,
    }  # fmt: skip


def _when(found: Overlay, one: Series, i: int) -> str:
    local = one.time[i] + np.timedelta64(round(3600.0 * found.offset), "s")
    return str(local.astype("datetime64[m]")).replace("T", " ")[5:]


def _value(one: Series, value: float, system: UnitSystem) -> str:
    if one.kind == "temperature":
        return temperature(value, system)
    return f"{100.0 * value:.0f} %" if one.kind == "humidity" else f"{value:.1f} A"


def _apart(one: Series, value: float, system: UnitSystem, signed: bool = False) -> str:
    sign = "+" if signed and value >= 0.0 else ""
    if one.kind == "temperature":
        return sign + difference(value, system)
    return sign + (f"{100.0 * value:.0f} % (of 100)" if one.kind == "humidity" else f"{value:.1f} A")


def log_drawing(found: Overlay, name: str, system: UnitSystem) -> Drawing:
    """The picture of a log, one panel a column, as a drawing that another process may make."""
    order = ("temperature", "humidity", "current")
    chosen = sorted(found.series, key=lambda one: order.index(one.kind))[:MOST_PANELS]
    shift = np.timedelta64(round(3600.0 * found.offset), "s")
    midnight = found.begins + shift
    panels = []
    for one in chosen:
        trace = found.traces[next(column for column in found.traces if column == (one.name, one.kind))]
        hourly = trace.reshape(-1, 60).mean(axis=1)
        at = (one.time + shift - midnight) / CLOCK_HOUR + 0.5
        logged_at, logged = _broken(np.asarray(at, dtype=float), one.logged)
        shown = [_scaled(one.kind, values, system) for values in (logged, hourly)]
        panels.append(
            Panel(plain(f"{one.name}, {LABELS[one.kind]}"), _unit(one.kind, system), logged_at, shown[0],
                  np.arange(len(hourly), dtype=np.float64) + 0.5, shown[1])
        )  # fmt: skip
    first = str(midnight.astype("datetime64[D]"))
    return Drawing(PICTURE, beside, (tuple(panels), first, plain(name)), (system,))


def _broken(at: Array, values: Array) -> tuple[Array, Array]:
    """A course with a gap put in wherever hours are missing."""
    gaps = np.flatnonzero(np.diff(at) > CLOSE / 60.0) + 1
    return np.insert(at, gaps, GAP), np.insert(values, gaps, GAP)


def _scaled(kind: str, values: Array, system: UnitSystem) -> Array:
    if kind == "humidity":
        return 100.0 * values
    return np.asarray(values * 1.8 + 32.0) if kind == "temperature" and system == "us" else values


def _unit(kind: str, system: UnitSystem) -> str:
    return {"humidity": "%", "current": "A", "temperature": "°F" if system == "us" else "°C"}[kind]


def beside(panels: Sequence[Panel], first: str, name: str, stream: IO[bytes], system: UnitSystem) -> None:
    """Panels below one another: the log as dots on a line, the simulation dashed, both by hourly means."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    height = 1.1 + 1.75 * len(panels)
    figure = Figure(figsize=(9.0, height), facecolor=PAPER)
    FigureCanvasAgg(figure)
    grid = figure.subplots(len(panels), 1, sharex=True, squeeze=False)[:, 0]
    figure.subplots_adjust(left=0.085, right=0.975, top=1.0 - 0.75 / height, bottom=0.5 / height, hspace=0.42)
    for axes, panel in zip(grid, panels, strict=True):
        axes.set_facecolor(PAPER)
        axes.plot(panel.simulated_at, panel.simulated, color=QUIET, linestyle="--", linewidth=1.6, label="simulated")
        axes.plot(panel.logged_at, panel.logged, color=INK, marker=".", markersize=4, linewidth=1.0, label="logged")
        axes.set_title(panel.title, loc="left", fontsize=9, color=INK)
        axes.set_ylabel(panel.unit, color=INK, fontsize=9)
        axes.tick_params(colors=INK, labelsize=8)
        axes.margins(y=0.15)
        for side in axes.spines.values():
            side.set_color(QUIET)
    last = float(panels[0].simulated_at[-1]) + 0.5
    every = 6.0 if last <= 72.0 else 24.0
    grid[-1].set_xticks(np.arange(0.0, last + 0.1, every))
    grid[-1].set_xlim(0.0, last)
    grid[-1].set_xlabel(f"hours on the boat's clock since the midnight of {first}", color=INK, fontsize=9)
    grid[0].legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=2, fontsize=8, frameon=False, labelcolor=INK)
    figure.text(0.085, 1.0 - 0.3 / height, f"{name}: the log beside the boat as fitted", color=INK, fontsize=11)
    figure.savefig(stream, format="png", dpi=130, pil_kwargs={"compress_level": 3})

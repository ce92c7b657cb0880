"""Pictures of a plan: layouts beside one another, and what the chosen units do in colder and warmer sea.

Readable without colour: what a unit gives is an outline, what is asked of it is filled; the rest is told by line style
and by words.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, isfinite
from typing import IO, TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.equipment.layouts import Layout
from heatsim.equipment.plan import Plan, against_sea, plant_against_sea
from heatsim.report.amounts import POWER, UnitSystem, phrase, temperature
from heatsim.report.pictures import BACKED, INK, PAPER, QUIET, Drawing, plain, power_scale

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = npt.NDArray[np.float64]

PICTURES = ("layouts.png", "capacity.png")
FILLED, GROUND = "#7fa99b", "#eef1ec"
COLDEST, WARMEST = 10.0, 40.0
"""[°C] Sea temperatures shown."""
MOST_PANELS = 24


class Bar(NamedTuple):
    """One zone's part of a unit: zone number, the unit's letter, load and capacity [W], drift [K]."""

    zone: int
    letter: str
    load: float
    capacity: float
    drift: float


class Column(NamedTuple):
    """One layout: name, remark, whether chosen, its bars, running and largest starting apparent power. [VA]"""

    name: str
    remark: str
    chosen: bool
    bars: tuple[Bar, ...]
    running: float
    starting: float


class Panel(NamedTuple):
    """One unit in the sea: title, total and sensible capacity by sea temperature (NaN tripped), loads [W].

    `trip` is the warmest sea in which it runs, `carries` that in which it carries its load; NaN beyond what is shown.
    """

    title: str
    total: Array
    sensible: Array | None
    load: float
    sensible_load: float
    trip: float
    carries: float


def plan_drawings(made: Plan, system: UnitSystem) -> list[Drawing]:
    """The pictures of a plan; that of the sea only where something was chosen."""
    name, n = plain(made.resolved.name), made.needs
    columns = tuple(_column(made, layout, system) for layout in made.layouts if layout.possible)
    missing = tuple(layout.name for layout in made.layouts if not layout.possible)
    shore = made.resolved.terms.shore
    drawings = []
    if columns:
        given = (tuple(plain(zone) for zone in n.zones), columns, missing, shore, name)
        drawings.append(Drawing(PICTURES[0], side_by_side, given, (system,)))
    if made.chosen is not None:
        sea = np.arange(COLDEST, WARMEST + 0.125, 0.25)
        panels = _panels(made, made.chosen, sea)
        drawings.append(Drawing(PICTURES[1], in_the_sea, (sea, panels, n.sea, name), (system,)))
    return drawings


def _column(made: Plan, layout: Layout, system: UnitSystem) -> Column:
    bars = []
    for i, offer in enumerate(layout.duties):
        letter = chr(ord("A") + i % 26) + ("" if i < 26 else str(i // 26))
        for zone, share in zip(offer.zones, offer.demand.shares, strict=True):
            number, part = made.needs.zones.index(zone), float(share)
            drift = layout.drifts.get(zone, 0.0)
            bars.append(Bar(number, letter, part * offer.demand.total, part * offer.total, drift))
    running = layout.running_apparent
    remark = f"{sum(offer.count for offer in layout.offers)} units"
    if layout.plant is not None:
        short: UnitSystem = "us" if system == "us" else "si"
        of, for_ = (phrase(value, POWER, short) for value in (layout.plant.capacity, layout.plant.demand))
        remark = f"chillers {of} for {for_}"
    return Column(layout.name, remark, layout is made.chosen, tuple(bars), running, layout.start_apparent)


def _panels(made: Plan, chosen: Layout, sea: Array) -> tuple[Panel, ...]:
    if chosen.plant is not None:
        plant = chosen.plant
        total = plant_against_sea(made, plant, sea)
        title = f"{plant.count} × {plant.unit.model}"
        able = total >= plant.demand
        return (
            Panel(plain(title), _open(total), None, plant.demand, 0.0, _warmest(total > 0.0, sea), _warmest(able, sea)),
        )
    panels = []
    for offer in chosen.duties:
        total, sensible = against_sea(made, offer, sea)
        count = f"{offer.count} × " if offer.count > 1 else ""
        title = plain(f"{shortened(', '.join(offer.zones), 34)}\n{count}{offer.unit.model}")
        able = (total >= offer.demand.total) & (sensible >= offer.demand.sensible)
        panels.append(
            Panel(
                title, _open(total), _open(sensible), offer.demand.total, offer.demand.sensible,
                _warmest(total > 0.0, sea), _warmest(able, sea),
            )
        )  # fmt: skip
    panels.sort(key=lambda panel: -panel.load)
    return tuple(panels[:MOST_PANELS])


def _open(capacity: Array) -> Array:
    return np.where(capacity > 0.0, capacity, np.nan)


def _warmest(able: npt.NDArray[np.bool_], sea: Array) -> float:
    """The warmest sea of those shown up to which it is able; NaN where it is in all, −infinity where in none. [°C]"""
    if able.all():
        return float("nan")
    return float(sea[able].max()) if able.any() else float("-inf")


def shortened(text: str, most: int) -> str:
    """Text of so many characters at most."""
    return text if len(text) <= most else text[: most - 1].rstrip(", ") + "…"


def side_by_side(
    zones: Sequence[str], columns: Sequence[Column], missing: Sequence[str], shore: float, name: str,
    stream: IO[bytes], system: UnitSystem,
) -> None:  # fmt: skip
    """Every layout a column: capacity against load zone by zone, the unit's letter and the drift; power below.

    Parameters
    ----------
    zones : names, from above
    columns : layouts there is a choice for
    missing : names of those there is none for
    shore : float
        Continuous apparent power from the shore, infinite where unknown. [VA]
    """
    from matplotlib.figure import Figure

    factor, unit = power_scale(system)
    rows, wide = len(zones), 2.2 + 2.9 * max(len(columns), 2)
    top, body, foot = 1.15, 0.3 * rows + 0.3, 1.2 + 0.42 * len(columns)
    high = top + body + foot
    figure = Figure(figsize=(wide, high), facecolor=PAPER)
    longest = max(bar.capacity for column in columns for bar in column.bars) * factor
    left, each = 1.9 / wide, (1.0 - 2.0 / wide) / max(len(columns), 2)
    for i, column in enumerate(columns):
        axes = figure.add_axes((left + i * each, foot / high, each * 0.94, body / high))
        _bars(axes, column, zones if i == 0 else ["" for _ in zones], factor, longest)
        axes.set_xlabel(unit, color=INK, fontsize=9)
    x, y = 0.15 / wide, 1.0 - 0.28 / high
    figure.text(x, y, f"{name}: layouts side by side", color=INK, fontsize=12, fontweight="bold", va="center")
    key = (
        "filled: load at its largest   outline: what the unit gives there   letter: its unit   K: drift of other rooms"
    )
    figure.text(x, y - 0.26 / high, key, color=INK, fontsize=8.5, va="center")
    axes = figure.add_axes((left, 0.62 / high, 1.0 - left - 1.5 / wide, 0.42 * len(columns) / high))
    _power(axes, columns, shore)
    if missing:
        figure.text(
            x, 0.12 / high, f"no choice within the terms: {', '.join(missing)}", color=INK, fontsize=8.5, va="center"
        )
    figure.savefig(stream, format="png", dpi=130)


def _bars(axes: Axes, column: Column, zones: Sequence[str], factor: float, longest: float) -> None:
    plain_frame(axes)
    ends = np.zeros(len(zones))
    letters: list[list[str]] = [[] for _ in zones]
    for bar in column.bars:
        y, start = bar.zone, ends[bar.zone]
        axes.barh(
            y, bar.load * factor, left=start, height=0.44, facecolor=FILLED, edgecolor=INK, hatch="///", linewidth=0.4
        )
        axes.barh(y, bar.capacity * factor, left=start, height=0.74, facecolor="none", edgecolor=INK, linewidth=1.1)
        ends[bar.zone] = max(start + bar.capacity * factor, start + bar.load * factor)
        drift = f" {bar.drift:+.1f} K" if abs(bar.drift) >= 0.05 else ""
        letters[bar.zone].append(bar.letter + drift)
    for y, words in enumerate(letters):
        text = " ".join(words) or "no unit"
        axes.text(ends[y] + 0.02 * longest, y, text, va="center", color=INK, fontsize=8.5)
    axes.set_ylim(len(zones) - 0.4, -0.6)
    axes.set_xlim(0.0, 1.32 * longest)
    axes.set_yticks(range(len(zones)), list(zones), fontsize=9, color=INK)
    axes.tick_params(axis="y", length=0)
    title = f"{column.name} – chosen" if column.chosen else column.name
    axes.text(0.0, 1.01, column.remark, transform=axes.transAxes, color=INK, fontsize=8.5, va="bottom")
    axes.set_title(
        title, loc="left", pad=17, color=INK, fontsize=10.5, fontweight="bold" if column.chosen else "normal"
    )


def _power(axes: Axes, columns: Sequence[Column], shore: float) -> None:
    plain_frame(axes)
    for i, column in enumerate(columns):
        axes.barh(i, column.starting / 1e3, height=0.66, facecolor="none", edgecolor=INK, linewidth=1.1)
        axes.barh(i, column.running / 1e3, height=0.38, facecolor=FILLED, edgecolor=INK, hatch="///", linewidth=0.4)
        text = f"{column.running / 1e3:.1f}, starting {column.starting / 1e3:.1f}"
        axes.text(1.012, i, text, transform=axes.get_yaxis_transform(), va="center", color=INK, fontsize=8.5)
    most = max(column.starting for column in columns) / 1e3
    if isfinite(shore):
        axes.axvline(shore / 1e3, color=INK, linewidth=1.6, linestyle=(0, (5, 3)))
        axes.text(shore / 1e3, -0.66, f"shore {shore / 1e3:.1f}", color=INK, fontsize=8.5, va="bottom", ha="center")
        most = max(most, shore / 1e3)
    axes.set_ylim(len(columns) - 0.4, -0.6)
    axes.set_xlim(0.0, 1.06 * most)
    axes.set_yticks(range(len(columns)), [column.name for column in columns], fontsize=9, color=INK)
    axes.tick_params(axis="y", length=0)
    axes.set_xlabel(
        "kVA: filled with all units running, outline when the largest starts while the rest run",
        color=INK,
        fontsize=9,
    )


def in_the_sea(
    sea: Array, panels: Sequence[Panel], today: float, name: str, stream: IO[bytes], system: UnitSystem
) -> None:
    """Capacity of the chosen units against sea temperature, crossing their loads; where they trip.

    Parameters
    ----------
    sea : (sea,) array
        [°C]
    today : float
        Warmest sea of the design days. [°C]
    """
    from matplotlib.figure import Figure

    factor, unit = power_scale(system)
    across = min(4, len(panels))
    down = ceil(len(panels) / across)
    wide, high = 0.7 + 2.9 * max(across, 2), 0.95 + 2.05 * down
    figure = Figure(figsize=(wide, high), facecolor=PAPER)
    for i, panel in enumerate(panels):
        row, place = divmod(i, across)
        width, height = (1.0 - 0.6 / wide) / across, 2.05 / high
        axes = figure.add_axes(
            (
                0.55 / wide + place * width,
                1.0 - 0.98 / high - (row + 1) * height + 0.55 / high,
                width * 0.86,
                height * 0.6,
            )
        )
        _panel(axes, sea, panel, today, factor, system)
        if place == 0:
            axes.set_ylabel(unit, color=INK, fontsize=8.5)
    x, y = 0.12 / wide, 1.0 - 0.25 / high
    figure.text(
        x,
        y,
        f"{name}: the chosen units in colder and warmer sea",
        color=INK,
        fontsize=12,
        fontweight="bold",
        va="center",
    )
    key = "thick: total   broken: sensible   level: their loads   dotted: this design's sea   ×: trips on hot sea"
    figure.text(x, y - 0.26 / high, key, color=INK, fontsize=8.5, va="center")
    figure.text(
        0.5,
        0.14 / high,
        f"sea temperature, {'°F' if system == 'us' else '°C'}",
        color=INK,
        fontsize=9,
        ha="center",
        va="center",
    )
    figure.savefig(stream, format="png", dpi=130)


def _panel(axes: Axes, sea: Array, panel: Panel, today: float, factor: float, system: UnitSystem) -> None:
    plain_frame(axes)

    def at(temperature: Any) -> Any:
        return degrees(temperature, system)

    axes.plot(at(sea), panel.total * factor, color=INK, linewidth=2.2)
    axes.axhline(panel.load * factor, color=INK, linewidth=0.9)
    if panel.sensible is not None:
        axes.plot(at(sea), panel.sensible * factor, color=INK, linewidth=1.4, linestyle=(0, (5, 2)))
        axes.axhline(panel.sensible_load * factor, color=INK, linewidth=0.8, linestyle=(0, (5, 2)))
    axes.axvline(at(today), color=INK, linewidth=1.1, linestyle=":")
    curves = [panel.total] if panel.sensible is None else [panel.total, panel.sensible]
    words = []
    if panel.carries == panel.carries:
        words.append(
            f"carries its load to {_degrees(panel.carries, system)}" if isfinite(panel.carries) else "too small"
        )
    if isfinite(panel.trip):
        axes.axvspan(
            at(panel.trip), at(WARMEST), facecolor=QUIET, alpha=0.25, hatch="....", edgecolor=QUIET, linewidth=0.0
        )
        for curve in curves:
            last = int(np.flatnonzero(np.isfinite(curve))[-1])
            axes.plot(at(float(sea[last])), curve[last] * factor, "x", color=INK, markersize=7, markeredgewidth=1.8)
        words.append(f"trips above {_degrees(panel.trip, system)}")
    most = max(1.0, panel.load, *(float(np.nan_to_num(curve).max()) for curve in curves)) * factor
    lowest = (panel.load if panel.sensible is None else min(panel.load, panel.sensible_load)) * factor
    height = 0.05 if lowest > 0.25 * most else lowest / (1.12 * most) + 0.05
    axes.text(0.03, height, "\n".join(words), transform=axes.transAxes, fontsize=7.5, color=INK, bbox=BACKED)
    axes.set_ylim(0.0, 1.12 * most)
    axes.set_xlim(at(COLDEST), at(WARMEST))
    axes.set_title(panel.title, loc="left", fontsize=8.5, color=INK)
    axes.tick_params(labelsize=8)


def _degrees(value: float, system: UnitSystem) -> str:
    return temperature(value, "us" if system == "us" else "si")


def plain_frame(axes: Axes) -> None:
    """Axes as all pictures of a plan have them: ground, two spines, quiet grid."""
    axes.set_facecolor(GROUND)
    for side, spine in axes.spines.items():
        spine.set_visible(side in ("left", "bottom"))
        spine.set_color(QUIET)
    axes.tick_params(colors=INK, labelsize=8.5)
    axes.grid(axis="x", color=PAPER, linewidth=0.9)
    axes.set_axisbelow(True)


def degrees(temperature: Any, system: UnitSystem) -> Any:
    """Temperatures [°C] in the degrees of a system."""
    return temperature * 1.8 + 32.0 if system == "us" else temperature


def sample(figure: Figure, x: float, down: float, width: float, dashes: Any, size: tuple[float, float]) -> None:
    """A short piece of line for a key, so many inches from the left and from the top of a figure of this size."""
    from matplotlib.lines import Line2D

    y = 1.0 - down / size[1]
    ends = [x / size[0], (x + 0.42) / size[0]]
    figure.add_artist(Line2D(ends, [y, y], color=INK, linewidth=width, linestyle=dashes))

"""Pictures of a study: places and months in numbers, the rose of headings, load duration; the others beside.

Readable without colour: every cell of the map holds its number, lines are told apart by their dashes and named where
they end.
"""

from __future__ import annotations

from calendar import month_abbr, monthrange
from collections.abc import Sequence
from typing import IO, TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.report.amounts import POWER, UnitSystem, phrase
from heatsim.report.certainty_pictures import certainty_drawings
from heatsim.report.pictures import BACKED, INK, PAPER, QUIET, Drawing, plain, power_scale
from heatsim.report.plan_pictures import plain_frame, shortened
from heatsim.report.remedy_picture import remedy_drawings
from heatsim.study import summary
from heatsim.study.design import Design
from heatsim.study.results import BLOCK
from heatsim.tables.loader import rows

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes

Array = npt.NDArray[np.float64]

STEPS = ("#f3f1e8", "#f2d58a", "#e0a04e", "#c0603d", "#7d3f4a", "#3d2b3d")
"""Of the map, from least to most, each darker than the one before."""
HALF = 0.179
"""Relative luminance of a cell on which black and white stand out alike, 4.6 to 1: √(1.05 · 0.05) − 0.05."""
HERE = "her own place"
MOST_ROWS = 48
FEWEST_HEADINGS = 3
MOST_ROSES = 6
NAMED_CURVES = 6
DASHES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (7, 2, 1, 2)), (0, (1, 1)), (0, (9, 4)))
MARKS = "osD^vP"


class Grid(NamedTuple):
    """One map: what it shows, its cells (row, column), digits after the point, and cells to be outlined."""

    title: str
    cells: Array
    digits: int
    outlined: npt.NDArray[np.bool_]


def study_drawings(design: Design, data: xr.Dataset, system: UnitSystem) -> list[Drawing]:
    """The pictures of what a study varies; none of what it does not."""
    return [
        *_regions(design, data, system),
        *_headings(design, data, system),
        *_duration(design, data, system),
        *remedy_drawings(design, data, system),
        *certainty_drawings(design, data, system),
    ]


def _titled(design: Design) -> str:
    return plain(shortened(design.study.study, 60))


def _regions(design: Design, data: xr.Dataset, system: UnitSystem) -> list[Drawing]:
    keep = [dim for dim in ("region", "month") if data.sizes.get(dim, 1) > 1]
    if not keep:
        return []
    frame = summary.by_place(data)
    places = list(data["region"].values.astype(str)) if "region" in data.dims else [HERE]
    months = [int(month) for month in data["month"].values] if "month" in data.dims else []
    shape = len(places), max(1, len(months))

    def cells(name: str) -> Array:
        values = np.asarray(frame[name].values, dtype=float)
        return values.reshape(shape)

    peak = cells("peak")
    order = np.argsort(-np.nan_to_num(peak).max(axis=1), kind="stable")[:MOST_ROWS]
    short = cells("margin")[order] < 0.0 if "margin" in frame else np.zeros((len(order), shape[1]), dtype=bool)
    factor, unit = power_scale(system)
    grids = [Grid(f"peak at the worst heading, {unit}", peak[order] * factor, 1, short)]
    if "per_day" in frame:
        per_day = cells("per_day")[order]
        digits = 0 if np.nanmax(per_day) >= 100.0 else 1
        grids.append(Grid("electricity on a typical day, kWh", per_day, digits, np.zeros_like(short)))
    labels = [plain(_named(places[i])) for i in order]
    heads = [month_abbr[month] for month in months] or [""]
    note = "most at the top" + ("   outlined: the units cannot carry it in that sea" if short.any() else "")
    return [Drawing("regions.png", places_and_months, (labels, heads, tuple(grids), _titled(design), note))]


def _named(region: str) -> str:
    """A region with its full name."""
    name = next((row["name"] for row in rows("regions") if row["region"] == region), "")
    return f"{shortened(name, 40)}  {region}" if name else region


def places_and_months(
    labels: Sequence[str], heads: Sequence[str], grids: Sequence[Grid], title: str, note: str, stream: IO[bytes]
) -> None:
    """Maps of numbers side by side, places down and months across, darker where there is more.

    Parameters
    ----------
    labels, heads : names of rows and columns
    grids : maps with cells (row, column)
    """
    from matplotlib.figure import Figure

    left, cell, row = 0.35 + 0.072 * max(len(label) for label in labels), 0.46, 0.25
    gap, top, foot = 0.3, 1.15, 0.2
    each = max(cell * len(heads), 2.6)
    wide, high = max(left + (each + gap) * len(grids), 5.5), top + row * len(labels) + foot
    figure = Figure(figsize=(wide, high), facecolor=PAPER)
    for i, grid in enumerate(grids):
        axes = figure.add_axes(
            ((left + i * (each + gap)) / wide, foot / high, cell * len(heads) / wide, row * len(labels) / high)
        )
        _map(axes, labels if i == 0 else ["" for _ in labels], heads, grid)
    figure.text(0.15 / wide, 1.0 - 0.27 / high, title, color=INK, fontsize=12, fontweight="bold", va="center")
    words = f"the block of rooms, boat as she is   {note}"
    figure.text(0.15 / wide, 1.0 - 0.51 / high, words, color=INK, fontsize=8.5, va="center")
    figure.savefig(stream, format="png", dpi=130)


def _map(axes: Axes, labels: Sequence[str], heads: Sequence[str], grid: Grid) -> None:
    from matplotlib.colors import LinearSegmentedColormap
    from matplotlib.patches import Rectangle

    shades = LinearSegmentedColormap.from_list("loads", STEPS)
    most = float(np.nanmax(grid.cells, initial=0.0)) or 1.0
    axes.imshow(grid.cells, cmap=shades, vmin=0.0, vmax=most, aspect="auto", interpolation="nearest")
    for (y, x), value in np.ndenumerate(grid.cells):
        if not np.isfinite(value):
            axes.text(x, y, "–", ha="center", va="center", color=INK, fontsize=8)
            continue
        text, colour = f"{value:.{grid.digits}f}", "black" if _luminance(shades(value / most)) > HALF else "white"
        axes.text(x, y, text, ha="center", va="center", color=colour, fontsize=8)
        if grid.outlined[y, x]:
            axes.add_patch(Rectangle((x - 0.42, y - 0.38), 0.84, 0.76, fill=False, edgecolor=colour, linewidth=1.1))
    axes.set_xticks(range(len(heads)), list(heads), fontsize=8.5, color=INK)
    axes.set_yticks(range(len(labels)), list(labels), fontsize=8.5, color=INK)
    axes.tick_params(length=0, top=False, bottom=False, labeltop=True, labelbottom=False)
    for spine in axes.spines.values():
        spine.set_visible(False)
    axes.set_title(grid.title, loc="left", fontsize=9.5, color=INK, pad=8)


def _luminance(colour: Sequence[float]) -> float:
    """Relative luminance of red, green and blue, 0 to 1 (IEC 61966-2-1, as WCAG 2.1 has it)."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in colour[:3]]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _headings(design: Design, data: xr.Dataset, system: UnitSystem) -> list[Drawing]:
    if data.sizes["heading"] < FEWEST_HEADINGS:
        return []
    block = summary.design_days(data)["peak"].sel(room=BLOCK).max("day")
    others = [str(dim) for dim in block.dims if dim not in ("remedy", "heading", "region", "month")]
    block = block.max(others)
    places = [str(dim) for dim in ("region", "month") if dim in block.dims]
    words = []
    if places:
        worst = block.isel(remedy=0).max("heading").argmax(places)
        at = {dim: int(worst[dim]) for dim in places}
        words = [month_abbr[int(data[d].values[i])] if d == "month" else str(data[d].values[i]) for d, i in at.items()]
        block = block.isel(at)
    alone = [i for i, combined in enumerate(design.remedies) if len(combined) <= 1][:MOST_ROSES]
    values = block.transpose("remedy", "heading").values[alone]
    names = tuple(plain(shortened(str(data["remedy"].values[i]), 34)) for i in alone)
    where = f"in {' in '.join(words[::-1])}, where it is largest" if words else "where she lies"
    bearings = np.array([float(one) for one in design.headings(slice(None))])
    return [Drawing("headings.png", roses, (bearings, values, names, _titled(design), where), (system,))]


def roses(
    bearings: Array, values: Array, names: Sequence[str], title: str, where: str, stream: IO[bytes], system: UnitSystem
) -> None:
    """Peak of the block by bearing of the bow, one outline a remedy.

    Parameters
    ----------
    bearings : (heading,) array
        [°]
    values : (remedy, heading) array
        The first is the boat as she is. [W]
    """
    from matplotlib.figure import Figure

    factor, unit = power_scale(system)
    short: UnitSystem = "us" if system == "us" else "si"
    foot, round_ = 0.62 + 0.22 * len(names), 5.0
    wide, high = 6.6, foot + round_ + 1.2
    figure = Figure(figsize=(wide, high), facecolor=PAPER)
    axes: Any = figure.add_axes((0.12, foot / high, round_ / wide, round_ / high), projection="polar")
    axes.set_facecolor(PAPER)
    axes.set_theta_zero_location("N")
    axes.set_theta_direction(-1)
    order = np.argsort(bearings)
    round_all = np.diff(np.append(bearings[order], bearings[order][0] + 360.0)).max() <= 120.0
    along = np.append(order, order[0]) if round_all else order
    for i, (line, name) in enumerate(zip(values * factor, names, strict=True)):
        angle = np.radians(bearings[along])
        style = {"color": INK, "linestyle": DASHES[i], "linewidth": 2.2 if i == 0 else 1.4}
        if i == 0 and round_all:
            axes.fill(angle, line[along], facecolor="#e08e45", alpha=0.25, linewidth=0.0)
        axes.plot(angle, line[along], marker=MARKS[i], markersize=4.5, **style)
        low, most = phrase(float(values[i].min()), POWER, short), phrase(float(values[i].max()), POWER, short)
        y = (0.24 + 0.22 * (len(names) - i - 1)) / high
        figure.add_artist(_sample(0.07, y, i))
        figure.text(0.16, y, f"{name}: {low} to {most}", color=INK, fontsize=9, va="center")
    largest = float(values.max()) * factor
    at = int(values[0].argmax())
    axes.annotate(
        f"most: bow {bearings[at]:.0f}°", (np.radians(bearings[at]), values[0, at] * factor),
        xytext=(np.radians(bearings[at]), largest * 0.55), ha="center", va="center", color=INK, fontsize=9, bbox=BACKED,
        arrowprops={"arrowstyle": "-", "color": INK, "linewidth": 0.8}, zorder=5,
    )  # fmt: skip
    axes.set_ylim(0.0, largest * 1.08)
    axes.set_xticks(np.radians(np.arange(0, 360, 45)), ["N", "NE", "E", "SE", "S", "SW", "W", "NW"])
    axes.set_rlabel_position(22.5)
    axes.tick_params(colors=INK, labelsize=9)
    for label in axes.get_yticklabels():
        label.set_bbox(BACKED)
    axes.grid(color=QUIET, alpha=0.45)
    axes.spines["polar"].set_color(QUIET)
    figure.text(0.03, 1.0 - 0.27 / high, title, color=INK, fontsize=12, fontweight="bold", va="center")
    for down, line in ((0.53, f"peak of the block by bearing of the bow, {unit}"), (0.73, where)):
        figure.text(0.03, 1.0 - down / high, line, color=INK, fontsize=9, va="center")
    figure.savefig(stream, format="png", dpi=130)


def _sample(x: float, y: float, number: int) -> Any:
    from matplotlib.lines import Line2D

    return Line2D([x, x + 0.07], [y, y], color=INK, linestyle=DASHES[number], linewidth=2.2 if number == 0 else 1.4,
                  marker=MARKS[number], markersize=4.5)  # fmt: skip


def _duration(design: Design, data: xr.Dataset, system: UnitSystem) -> list[Drawing]:
    curves = load_duration(data)
    if not curves:
        return []
    labels = {name: plain(name or design.base.name) for name in curves}
    given = tuple((labels[name], hours, load) for name, (hours, load) in curves.items())
    whole = "month" not in data.dims and data["day"].values[0] != "year"
    about = "her month's typical day" if whole else "weather years" if data["day"].values[0] == "year" else ""
    months = data.sizes.get("month", 0)
    about = about or f"typical days of {months} months, each for as many days as its month has"
    return [Drawing("duration.png", durations, (given, _titled(design), about), (system,))]


def load_duration(data: xr.Dataset) -> dict[str, tuple[Array, Array]]:
    """Hours for which the block's load is at least so much, for each region: the boat as she is, all headings alike.

    Returns
    -------
    dict of (hours, load)
        Hours passed [h], rising, and the load [W], falling; by region, or under "" where there is one place. Empty
        where the study has neither typical days nor weather years.
    """
    often = summary.often_days(summary.as_she_is(data))
    if often is None:
        return {}
    load = often["block_cooling"].astype(float)
    each = load * 0.0 + 1.0
    if "month" in load.dims and str(often["day"].values) == "typical":
        each = each * load["month"].copy(data=[float(monthrange(2025, int(m))[1]) for m in data["month"].values])
    found = {}
    for name in data["region"].values.astype(str) if "region" in load.dims else [""]:
        values, hours = ((one.sel(region=name) if name else one).values.ravel() for one in (load, each))
        order = np.argsort(-values, kind="stable")
        total = hours.sum() / _alike(load)
        found[name] = total * np.cumsum(hours[order]) / hours.sum(), values[order]
    return found


def _alike(load: xr.DataArray) -> float:
    """How many runs stand for the same hours: headings, draws, other axes."""
    return float(np.prod([size for dim, size in load.sizes.items() if dim not in ("region", "month", "hour")]))


def durations(
    curves: Sequence[tuple[str, Array, Array]], title: str, about: str, stream: IO[bytes], system: UnitSystem
) -> None:
    """Load duration of several regions: the hardest, the easiest and some between named, the others thin.

    Parameters
    ----------
    curves : (name, hours (n,) [h], load (n,) [W]), hours rising
    """
    from matplotlib.figure import Figure
    from scipy.integrate import trapezoid

    factor, unit = power_scale(system)
    figure = Figure(figsize=(9.0, 5.0), facecolor=PAPER)
    axes = figure.add_axes((0.085, 0.12, 0.72, 0.72))
    plain_frame(axes)
    ranked = sorted(curves, key=lambda curve: -float(trapezoid(curve[2], curve[1])))
    chosen = {ranked[i][0] for i in np.linspace(0, len(ranked) - 1, min(NAMED_CURVES, len(ranked))).round().astype(int)}
    dashes = iter(DASHES)
    ends: list[tuple[float, str, Any]] = []
    for name, hours, load in ranked:
        x, y = np.append(0.0, hours), np.append(load[:1], load) * factor
        if name in chosen:
            dash = next(dashes)
            axes.plot(x, y, color=INK, linestyle=dash, linewidth=1.7, zorder=3)
            ends.append((float(load[0]) * factor, name, dash))
        else:
            axes.plot(x, y, color=QUIET, linewidth=0.6, zorder=2)
    _key(axes, ends, len(ranked) > len(ends))
    axes.set_xlim(0.0, float(max(hours[-1] for _, hours, _ in curves)))
    axes.set_ylim(0.0, None)
    axes.grid(axis="y", color=PAPER, linewidth=0.9)
    axes.set_xlabel("hours for which the block's load is at least so much", color=INK, fontsize=9)
    axes.set_ylabel(unit, color=INK, fontsize=9)
    figure.text(0.02, 0.955, title, color=INK, fontsize=12, fontweight="bold", va="center")
    figure.text(0.02, 0.905, f"{about}; boat as she is, all headings alike", color=INK, fontsize=8.5, va="center")
    figure.savefig(stream, format="png", dpi=130)


def _key(axes: Axes, ends: Sequence[tuple[float, str, Any]], others: bool) -> None:
    """Names beside the axes in the order of the curves, with a piece of each line."""
    for i, (_, name, dash) in enumerate(ends):
        y = 0.96 - 0.075 * i
        style: dict[str, Any] = {"transform": axes.transAxes, "clip_on": False, "color": INK}
        axes.plot([1.02, 1.09], [y, y], linestyle=dash, linewidth=1.7, **style)
        axes.text(1.105, y, shortened(name, 16), transform=axes.transAxes, va="center", color=INK, fontsize=9)
    if others:
        y = 0.96 - 0.075 * len(ends)
        axes.plot([1.02, 1.09], [y, y], transform=axes.transAxes, clip_on=False, color=QUIET, linewidth=0.6)
        axes.text(1.105, y, "the others", transform=axes.transAxes, va="center", color=INK, fontsize=9)

"""Pictures of loads: the day stacked by cause, zone by zone and for the block, the rose of headings, load duration.

Readable without colour: every layer has its own hatch and is named where it is thickest or in a legend in stacking
order; colours are ordered by lightness.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import IO, TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from heatsim.network.base import CAUSES
from heatsim.report.amounts import POWER, UnitSystem, phrase

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.axes import Axes

Array = npt.NDArray[np.float64]

INK, PAPER, QUIET = "#1d2b33", "#fbfaf6", "#8b979c"
FRAME, POLAR_FRAME = (0.085, 0.12, 0.69, 0.79), (0.12, 0.08, 0.76, 0.76)
"""Axes within the picture, as shares of it; fixed, since finding them by drawing takes longer than the picture."""
BACKED = {"boxstyle": "square,pad=0.1", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.85}
"""Paper behind a label, so that neither a layer nor a line strikes it out."""
LATENT = "latent"
STYLE: dict[str, tuple[str, str, str]] = {
    "sun_through_glass": ("#f2c14e", "", "sun through glass"),
    "sun_on_deck": ("#e08e45", "//", "sun on deck"),
    "sun_on_hull_and_house": ("#c8663f", "\\\\", "sun on hull and house"),
    "sky": ("#d9d4c7", "..", "sky"),
    "outdoor_temperature": ("#9a4f50", "", "air outside the skin"),
    "outdoor_air": ("#7fa99b", "xx", "outdoor air let in"),
    LATENT: ("#3f7d8c", "", "moisture (latent)"),
    "sea": ("#2f5d8a", "--", "sea"),
    "engine_space": ("#5b4a63", "++", "engine space"),
    "adjoining": ("#8a7f8d", "||", "adjoining spaces"),
    "people": ("#b9c98d", "oo", "people"),
    "lights": ("#e9e2a6", "", "lights"),
    "equipment": ("#6f8f4e", "**", "equipment"),
    "setpoints": ("#b0b0b0", "", "setpoint differences"),
    "plant": ("#c9c2d4", "", "plant"),
    "start": ("#cccccc", "", "start"),
}
CLEAR_FROM = 9
"""[h] From which a label over the peak stands clear of the name of the line above, at the left."""


def _axes(width: float = 9.0, height: float = 4.6, polar: bool = False) -> tuple[Any, Any]:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), facecolor=PAPER)
    FigureCanvasAgg(figure)
    axes = figure.add_axes(POLAR_FRAME if polar else FRAME, projection="polar" if polar else None)
    axes.set_facecolor(PAPER)
    for spine in axes.spines.values():
        spine.set_color(QUIET)
    axes.tick_params(colors=INK)
    return figure, axes


def _save(figure: Any, stream: IO[bytes], dpi: int = 130) -> None:
    figure.savefig(stream, format="png", dpi=dpi, pil_kwargs={"compress_level": 3})  # half the time, a tenth more bytes


def power_scale(system: UnitSystem) -> tuple[float, str]:
    """Factor on watts and name of the unit on axes of power."""
    return (POWER.us_factor / 1000.0, "thousand Btu/h") if system == "us" else (POWER.si_factor, "kW")


def stacked_day(
    causes: Array, latent: Array, hours: Array, title: str, stream: IO[bytes], system: UnitSystem,
    sum_of_peaks: float | None = None, note: str = "", dpi: int = 130,
    recovering: npt.NDArray[np.bool_] | None = None,
) -> None:  # fmt: skip
    """One day's load stacked by cause, heating and relief below zero.

    Parameters
    ----------
    causes : (hour, cause) array
        Sensible load by cause. [W]
    latent : (hour,) array
        [W]
    hours : (hour,) array
        Local clock hours at which the hours start.
    recovering : (hour,) array of bool, optional
        Hours spent reaching a changed setpoint: named, and no peak.
    """
    from matplotlib.collections import PolyCollection

    figure, axes = _axes()
    factor, unit = power_scale(system)
    layers = dict(zip(CAUSES, causes.T * factor, strict=True)) | {LATENT: latent * factor}
    largest = max(float(np.abs(values).max()) for values in layers.values())
    shown = [name for name in STYLE if np.abs(layers[name]).max() > 0.004 * largest]
    edges = np.append(hours, hours[-1] + 1.0)
    along = np.repeat(edges, 2)[1:-1]
    top, bottom = np.zeros(len(hours)), np.zeros(len(hours))
    total = np.sum([layers[name] for name in layers], axis=0)
    for name in shown:
        colour, hatch, _ = STYLE[name]
        value = layers[name]
        base = np.where(value >= 0.0, top, bottom)
        outline = np.append(np.repeat(base, 2), np.repeat(base + value, 2)[::-1])
        layer = PolyCollection(
            [np.column_stack([np.append(along, along[::-1]), outline])], facecolor=colour, hatch=hatch, edgecolor=INK,
            linewidth=0.25,
        )  # fmt: skip
        axes.add_collection(layer, autolim=False)  # the limits are set below
        top, bottom = top + np.maximum(value, 0.0), bottom + np.minimum(value, 0.0)
    axes.step(edges, np.append(total, total[-1]), where="post", color=PAPER, linewidth=4.4)
    axes.step(edges, np.append(total, total[-1]), where="post", color=INK, linewidth=2.2)
    apart = np.zeros(len(hours), dtype=bool) if recovering is None or recovering.all() else recovering
    peak = int(np.argmax(np.where(apart, -np.inf, total)))
    _name_recovery(axes, hours, np.maximum(top, total), apart)
    axes.plot(hours[peak] + 0.5, total[peak], marker="v", markersize=9, color=INK, clip_on=False)
    over = max(total[peak], top[max(peak - 1, 0) : peak + 2].max())
    level = None if sum_of_peaks is None else sum_of_peaks * factor
    if level is not None and over < level < 1.2 * over and hours[peak] >= CLEAR_FROM:
        over = level  # above the line, which would run through the label
    axes.annotate(
        f"peak {phrase(total[peak] / factor, POWER, system)}\n{_clock(hours[peak])}–{_clock(hours[peak] + 1)}",
        (hours[peak] + 0.5, over), xytext=(0, 7 if over == level else 12),
        textcoords="offset points", ha="left" if peak < 2 else "right" if peak > len(hours) - 3 else "center",
        color=INK, fontsize=9, bbox=BACKED, zorder=5,
    )  # fmt: skip
    short: UnitSystem = "si" if system == "both" else system  # both would run into the peak's label
    if sum_of_peaks is not None and level is not None:
        axes.axhline(level, color=INK, linewidth=1.2, linestyle=(0, (6, 3)))
        axes.text(
            edges[0] + 0.2, level, f"sum of zone peaks {phrase(sum_of_peaks, POWER, short)}", va="bottom", color=INK,
            fontsize=9,
        )  # fmt: skip
    _finish_day(axes, edges, unit, title, note)
    low, high = min(0.0, float(bottom.min()) * 1.05), max(float(top.max()), (sum_of_peaks or 0.0) * factor)
    axes.set_ylim(low, high + 0.19 * (high - low))
    _key(axes, shown)
    _save(figure, stream, dpi)


def _name_recovery(axes: Axes, hours: Array, top: Array, apart: npt.NDArray[np.bool_]) -> None:
    """Say beside the first of such hours that follow each other what they are."""
    for i in np.flatnonzero(apart & ~np.append(False, apart[:-1])):
        axes.text(
            hours[i] + 0.5, top[i], "recovery, not sized for ", rotation=90, ha="center", va="top", color=INK,
            fontsize=7.5, bbox=BACKED, zorder=4,
        )  # fmt: skip


def _key(axes: Axes, shown: list[str]) -> None:
    """Names of the layers beside the axes in stacking order; drawn by hand, a legend takes as long as the rest."""
    from matplotlib.patches import Rectangle

    step = min(0.066, 0.98 / (len(shown) + 1))
    bottom = 0.5 - step * (len(shown) + 1) / 2.0
    for i, name in enumerate(shown):
        colour, hatch, label = STYLE[name]
        y = bottom + i * step
        axes.add_patch(
            Rectangle(
                (1.02, y), 0.045, step * 0.72, transform=axes.transAxes, clip_on=False, facecolor=colour, hatch=hatch,
                edgecolor=INK, linewidth=0.4,
            )
        )  # fmt: skip
        axes.text(1.075, y + step * 0.36, label, transform=axes.transAxes, va="center", fontsize=8.5, color=INK)
    y = bottom + len(shown) * step + step * 0.36
    axes.plot([1.02, 1.065], [y, y], transform=axes.transAxes, clip_on=False, color=INK, linewidth=2.2)
    axes.text(1.075, y, "load", transform=axes.transAxes, va="center", fontsize=8.5, color=INK)


def _clock(hour: float) -> str:
    return f"{int(hour) % 24:02d}:00"


def _finish_day(axes: Axes, edges: Array, unit: str, title: str, note: str) -> None:
    from matplotlib.ticker import MaxNLocator

    axes.axhline(0.0, color=INK, linewidth=0.8)
    axes.set_xlim(edges[0], edges[-1])
    ticks = np.arange(np.ceil(edges[0] / 3.0) * 3.0, edges[-1] + 0.1, 3.0)
    axes.set_xticks(ticks, [f"{int(tick) % 24:02d}" for tick in ticks])
    axes.set_xlabel("local time, h" + (f"     {note}" if note else ""), color=INK)
    axes.yaxis.set_major_locator(MaxNLocator(8, steps=[1, 2, 5, 10]))  # few digits, so that labels keep their place
    axes.set_ylabel(unit, color=INK)
    axes.set_title(title, loc="left", y=1.02, color=INK, fontweight="bold", fontsize=12)
    axes.grid(axis="y", color=QUIET, alpha=0.35, linewidth=0.6)
    axes.set_axisbelow(True)


def rose(headings: Array, block: Array, title: str, stream: IO[bytes], system: UnitSystem) -> None:
    """Block peak by heading, north up, as spokes with a joined outline.

    Parameters
    ----------
    headings : (heading,) array
        True bearing of the bow. [°]
    block : (heading,) array
        Block peak. [W]
    """
    figure, axes = _axes(6.2, 6.2, polar=True)
    factor, unit = power_scale(system)
    axes.set_theta_zero_location("N")
    axes.set_theta_direction(-1)
    angle, value = np.radians(headings), block * factor
    axes.fill(
        np.append(angle, angle[0]),
        np.append(value, value[0]),
        facecolor="#e08e45",
        alpha=0.35,
        hatch="//",
        edgecolor=INK,
    )
    axes.plot(np.append(angle, angle[0]), np.append(value, value[0]), color=INK, linewidth=1.8)
    worst, best = int(np.argmax(value)), int(np.argmin(value))
    for at, word, marker in ((worst, "most", "v"), (best, "least", "o")):
        axes.plot(angle[at], value[at], marker=marker, color=INK, markersize=8)
        amount = phrase(block[at], POWER, system).replace(" (", "\n(")
        axes.annotate(
            f"{word}: bow {headings[at]:.0f}°\n{amount}", (angle[at], value[at]),
            xytext=(angle[at], float(value.max()) * 0.6), ha="center", va="center", color=INK, fontsize=9,
            bbox=BACKED, arrowprops={"arrowstyle": "-", "color": INK, "linewidth": 0.8}, zorder=5,
        )  # fmt: skip
    axes.set_ylim(0.0, float(value.max()) * 1.1)
    axes.set_xticks(np.radians(np.arange(0, 360, 45)), ["N", "NE", "E", "SE", "S", "SW", "W", "NW"])
    axes.set_rlabel_position(157)
    axes.grid(color=QUIET, alpha=0.4)
    axes.set_title(f"{title}\nblock peak by bearing of the bow, {unit}", loc="left", color=INK, fontsize=11)
    _save(figure, stream)


def duration(ordered: Array, title: str, stream: IO[bytes], system: UnitSystem) -> None:
    """Load duration of a year: hours for which the block load is at least so much.

    Parameters
    ----------
    ordered : (hour,) array
        Largest first. [W]
    """
    figure, axes = _axes()
    factor, unit = power_scale(system)
    value = ordered * factor
    axes.fill_between(
        np.arange(len(value)), value, color="#7fa99b", alpha=0.6, hatch="//", edgecolor=INK, linewidth=0.2
    )
    axes.plot(value, color=INK, linewidth=1.8)
    for share in (0.01, 0.05, 0.5):
        at = int(share * len(value))
        axes.plot(at, value[at], "o", color=INK)
        axes.annotate(
            f"{at} h above {phrase(ordered[at], POWER, system)}", (at, value[at]), xytext=(8, 8),
            textcoords="offset points", color=INK, fontsize=9,
        )  # fmt: skip
    axes.set_xlim(0, len(value))
    axes.set_ylim(0.0, None)
    axes.set_xlabel("hours of the year", color=INK)
    axes.set_ylabel(unit, color=INK)
    axes.set_title(title, loc="left", y=1.02, color=INK, fontweight="bold", fontsize=12)
    axes.grid(color=QUIET, alpha=0.35, linewidth=0.6)
    _save(figure, stream)


@dataclass(frozen=True)
class Drawing:
    """A picture still to be drawn: its file, and the function that draws it with what that is given (plain values)."""

    file: str
    draw: Callable[..., None]
    before: tuple[Any, ...]
    after: tuple[Any, ...] = ()

    def png(self) -> bytes:
        """The picture; a sign of a name that the font has not is drawn as a box, and nobody is warned of it."""
        import warnings

        stream = BytesIO()
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", "Glyph .* missing from font")
            self.draw(*self.before, stream, *self.after)
        return stream.getvalue()


def load_drawings(loads: xr.Dataset, peak: pd.DataFrame, system: UnitSystem) -> list[Drawing]:
    """The pictures of a run but for the rose: the block of each day and the zones of the first, or load duration."""
    from heatsim.loads.peaks import load_duration, recovering

    name = _boat(loads)
    if "day" not in loads.dims:
        ordered = load_duration(loads).values[0]
        return [Drawing("duration.png", duration, (ordered, f"{name}: load duration of the year"), (system,))]
    drawings: list[Drawing] = []
    for day in loads["day"].values:
        part = loads.sel(day=day)
        block = peak.loc[(day, "block")]
        part = part.sel(heading=block["heading"])
        first = day == loads["day"].values[0]
        file = "block.png" if first else f"block-{day}.png".replace(" ", "-")
        hours = _clock_hours(part)
        cooled = part.sel(zone=part["conditioned"].values)
        causes = cooled["load_by_cause"].transpose("zone", "time", "cause").values
        latent = cooled["latent_cooling"].transpose("zone", "time").values
        apart = recovering(cooled).transpose("zone", "time").values
        title, note = f"{name}: block, {day} day", f"bow {block['heading']:.0f}°"
        drawings.append(
            Drawing(
                file, stacked_day, (causes.sum(axis=0), latent.sum(axis=0), hours, title),
                (system, float(block["sum_of_peaks"]), note, 130, apart.any(axis=0)),
            )
        )  # fmt: skip
        if not first:
            continue
        for i, (zone, file) in enumerate(picture_names([str(zone) for zone in cooled["zone"].values]).items()):
            title = f"{name}: {zone}, {day} day"
            drawings.append(
                Drawing(file, stacked_day, (causes[i], latent[i], hours, title), (system, None, "", 100, apart[i]))
            )  # fmt: skip
    return drawings


def prepare_drawing() -> None:
    """Load what drawing needs, in a process that has nothing else to do yet."""
    import matplotlib.backends.backend_agg
    import matplotlib.figure  # noqa: F401


def rose_drawing(loads: xr.Dataset, headings: Array, by_heading: Array, system: UnitSystem) -> Drawing:
    """The rose of the first day from block peaks by heading."""
    title = f"{_boat(loads)}, {loads['day'].values[0]} day"
    return Drawing("headings.png", rose, (headings, by_heading, title), (system,))


def block_by_heading(loads: xr.Dataset) -> tuple[Array, Array]:
    """Headings [°] and the first day's block peak at each. [W]"""
    from heatsim.loads.peaks import recovering

    cooled = loads.isel(day=0).sel(zone=loads["conditioned"].values)
    total = (cooled["sensible_cooling"] + cooled["latent_cooling"]).sum("zone")
    block = total.where(~recovering(cooled).any("zone"), 0.0).max("time")
    return np.asarray(loads["heading"].values, dtype=float), np.asarray(block.values, dtype=float)


def _boat(loads: xr.Dataset) -> str:
    return plain(str(loads.attrs["title"]).removeprefix("heat and moisture loads of "))


def label_of(cause: str) -> str:
    """A cause as pictures and text name it."""
    return STYLE[cause][2] if cause in STYLE else cause.replace("_", " ")


def plain(text: str) -> str:
    """Text as it stands: no dollar sign starts a formula."""
    return text.replace("$", r"\$")


def picture_names(zones: Sequence[str]) -> dict[str, str]:
    """A file name for each zone, of letters, digits and hyphens; names that would meet are numbered."""
    names: dict[str, str] = {}
    for zone in zones:
        letters = "".join(c if c.isalnum() and c.isascii() else "-" for c in zone.lower()).strip("-")
        name, number = f"zone-{letters}.png" if letters else "zone.png", 1
        while name in names.values():
            number += 1
            name = f"zone-{letters}-{number}.png" if letters else f"zone-{number}.png"
        names[zone] = name
    return names


def _clock_hours(part: xr.Dataset) -> Array:
    local = part["local_time"].values
    return np.asarray((local - local[0].astype("datetime64[D]")) / np.timedelta64(1, "h"), dtype=float)

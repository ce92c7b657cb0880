"""The stacked day as a drawing of lines: one for the page and print, a small one for every zone, and its numbers.

Readable without colour: every cause has its own hatch, is named in a key in stacking order, and stands with its value
in the table that the pointer or the arrow keys fill. All coordinates are in units of the drawing, 10 to a millimetre
at the size it is printed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10
from typing import Any

import numpy as np
import numpy.typing as npt
from markupsafe import Markup, escape

from heatsim.handover.load_sheets import BLOCK
from heatsim.handover.results import Results
from heatsim.loads.peaks import recovering
from heatsim.network.base import CAUSES
from heatsim.report.amounts import POWER, UnitSystem, phrase
from heatsim.report.pictures import LATENT, STYLE, label_of

Array = npt.NDArray[np.float64]

WIDE, HIGH = 1860.0, 820.0
"""A drawing across the page, 186 mm at its widest."""
SMALL_WIDE, SMALL_HIGH = 600.0, 340.0
LEFT, RIGHT, TOP, FOOT = 110.0, 110.0, 70.0, 90.0
LEAST = 0.004
"""Of the largest cause, below which one is not drawn."""
INK, QUIET, PAPER = "#1d2b33", "#8b979c", "#fbfaf6"
HATCHES = {
    "": "",
    "//": "M-2 12L12 -2M-2 26L26 -2M10 26L26 10",
    "\\\\": "M-2 12L12 26M-2 -2L26 26M12 -2L26 12",
    "..": "M5 6h2M17 18h2",
    "xx": "M0 0L24 24M0 24L24 0",
    "--": "M0 6H24M0 18H24",
    "++": "M0 12H24M12 0V24",
    "||": "M6 0V24M18 0V24",
    "oo": "M8 12a4 4 0 1 0 8 0a4 4 0 1 0 -8 0",
    "**": "M12 5V19M5 12H19M7 7L17 17M7 17L17 7",
}
"""Strokes within a tile of 24 by 24 for each hatch of the pictures."""


@dataclass(frozen=True)
class DayLoad:
    """One day of a zone or of the block: loads by cause [W] on hours that begin at `hours` of the local clock [h]."""

    name: str
    day: str
    bow: float
    hours: Array
    layers: dict[str, Array]
    sum_of_peaks: float | None = None
    recovering: npt.NDArray[np.bool_] | None = None
    """Hours spent reaching a changed setpoint, which are no peak."""

    @property
    def peak(self) -> int:
        """The hour of the peak among those that count; among all where none does."""
        apart = self.recovering
        counted = self.total if apart is None or apart.all() else np.where(apart, -np.inf, self.total)
        return int(np.argmax(counted))

    @property
    def total(self) -> Array:
        """All causes together. [W]"""
        return np.asarray(np.sum(list(self.layers.values()), axis=0))

    @property
    def title(self) -> str:
        """What it shows."""
        return f"{self.name}, {self.day} day"


def day_loads(found: Results) -> tuple[DayLoad, ...]:
    """The block of each day, then every cooled zone, from the day that sizes; each at the heading of its own peak."""
    first = found.sizing_day
    shown = [_of(found, day, None) for day in sorted(found.days, key=lambda day: day != first)]
    frame = found.peak.loc[first]
    return (*shown, *(_of(found, first, str(zone)) for zone in frame.index if zone != BLOCK))


def _of(found: Results, day: str, zone: str | None) -> DayLoad:
    row: Any = found.peak.loc[(day, zone or BLOCK)]
    part = found.loads[["load_by_cause", "latent_cooling"]].sel(day=day, heading=row["heading"])
    part = part.sel(zone=part["conditioned"].values) if zone is None else part.sel(zone=[zone])
    causes = part["load_by_cause"].transpose("zone", "time", "cause").values.sum(axis=0)
    latent = part["latent_cooling"].transpose("zone", "time").values.sum(axis=0)
    local = part["local_time"].values
    hours = (local - local[0].astype("datetime64[D]")) / np.timedelta64(1, "h")
    layers = dict(zip(CAUSES, causes.T, strict=True)) | {LATENT: latent}
    most = max(float(np.abs(values).max()) for values in layers.values())
    kept = {name: layers[name] for name in STYLE if name in layers and np.abs(layers[name]).max() > LEAST * most}
    sums = float(row["sum_of_peaks"]) if zone is None else None
    whole = found.loads.sel(day=day, heading=row["heading"]).sel(zone=part["zone"].values)
    apart = np.asarray(recovering(whole).transpose("time", "zone").values.any(axis=1))
    return DayLoad(zone or BLOCK, day, float(row["heading"]), np.asarray(hours, dtype=float), kept, sums, apart)


def patterns(names: Iterable[str]) -> Markup:
    """Definitions of the hatched fills of causes, once a page."""
    tiles = []
    for name in names:
        colour, hatch, _ = STYLE[name]
        strokes = f'<path d="{HATCHES[hatch]}" stroke="{INK}" stroke-width="1.6" fill="none"/>' if hatch else ""
        tiles.append(
            f'<pattern id="{_fill_id(name)}" width="24" height="24" patternUnits="userSpaceOnUse">'
            f'<rect width="24" height="24" fill="{colour}"/>{strokes}</pattern>'
        )
    return Markup(f'<svg class="defs" width="0" height="0" aria-hidden="true"><defs>{"".join(tiles)}</defs></svg>')


def _fill_id(name: str) -> str:
    return "fill-" + name.replace("_", "-")


def swatch(name: str) -> Markup:
    """A sample of a cause's fill for a key."""
    return Markup(
        '<svg class="swatch" viewBox="0 0 48 30" aria-hidden="true"><rect x="1" y="1" width="46" height="28" '
        f'fill="url(#{_fill_id(name)})" stroke="{INK}" stroke-width="1"/></svg>'
    )


LOAD_KEY = Markup(
    '<svg class="swatch" viewBox="0 0 48 30" aria-hidden="true"><path d="M2 22H24V9H46" fill="none" '
    f'stroke="{INK}" stroke-width="5"/></svg>'
)
"""A sample of the line of all causes together."""


def scale(system: UnitSystem) -> tuple[float, str]:
    """Factor and unit of the left-hand axis."""
    return (POWER.us_factor / 1000.0, "thousand Btu/h") if system == "us" else (POWER.si_factor, "kW")


def drawing(one: DayLoad, system: UnitSystem) -> Markup:
    """The day across the page: layers, total, peak and, for the block, the sum of peaks."""
    factor, unit = scale(system)
    frame = _Frame(one, factor, (LEFT, TOP, WIDE - RIGHT, HIGH - FOOT))
    parts = [frame.grid(), frame.layers(), frame.line(8.0), frame.clock_axis(one)]
    parts.append(_words(LEFT, TOP - 34, f"{one.title}, bow {one.bow:.0f}°", size=30, weight="600"))
    parts.append(_words(LEFT - 12, TOP - 34, unit, anchor="end", size=24))
    if system == "both":
        parts.append(frame.far_axis(POWER.us_factor / 1000.0))
        parts.append(_words(WIDE - RIGHT + 12, TOP - 34, "kBtu/h", size=24))
    if one.sum_of_peaks is not None:
        parts.append(frame.level(one.sum_of_peaks, f"sum of zone peaks {phrase(one.sum_of_peaks, POWER, system)}"))
    peak = one.peak
    parts.append(frame.peak(peak, f"{phrase(float(one.total[peak]), POWER, system)} at {_hour(one.hours[peak])}"))
    parts.append('<rect class="hour" hidden="" fill="none" stroke-width="5"/>')
    return _svg(WIDE, HIGH, f"Load of {one.title}, stacked by cause over the hours of the local clock", parts, frame)


def small_drawing(one: DayLoad, system: UnitSystem) -> Markup:
    """The same day, small: layers, total, its peak in words."""
    frame = _Frame(one, scale(system)[0], (70.0, 78.0, SMALL_WIDE - 14.0, SMALL_HIGH - 46.0), few=True)
    peak = one.peak
    total = phrase(float(one.total[peak]), POWER, system)
    parts = [
        frame.grid(24), frame.layers(), frame.line(6.0), frame.clock_axis(one, 24),
        _words(0, 28, _shortened(one.name, 34), size=28, weight="600"),
        _words(0, 60, f"{total} at {_hour(one.hours[peak])}" if one.total[peak] > 0.5 else "no load", size=25),
    ]  # fmt: skip
    return _svg(SMALL_WIDE, SMALL_HIGH, f"Load of {one.title}, stacked by cause; peak {total}", parts, frame)


def numbers(loads: Sequence[DayLoad], system: UnitSystem) -> dict[str, Any]:
    """What the page's script shows: whole watts by cause and hour, and how to write them."""
    written = {"si": [["kW", 1e-3, 2]], "us": [["Btu/h", POWER.us_factor, -2]]}
    units = written["si"] + written["us"] if system == "both" else written[system]
    return {
        "units": units,
        "days": [
            {
                "title": one.title, "hours": [_hour(hour) for hour in one.hours],
                "layers": [[label_of(name), [round(float(v)) for v in values]] for name, values in one.layers.items()],
                "total": [round(float(v)) for v in one.total],
            }
            for one in loads
        ],
    }  # fmt: skip


def _hour(hour: float) -> str:
    return f"{int(hour) % 24:02d}:00"


def _shortened(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def _svg(wide: float, high: float, label: str, parts: Iterable[str], frame: _Frame) -> Markup:
    left, top, right, bottom = frame.box
    return Markup(
        f'<svg viewBox="0 0 {wide:g} {high:g}" role="img" aria-label="{escape(label)}" data-box="{left:g} {top:g} '
        f'{right:g} {bottom:g}">{"".join(parts)}</svg>'
    )


def _words(x: float, y: float, text: str, *, anchor: str = "start", size: float = 26, weight: str = "400") -> str:
    return (
        f'<text x="{x:.0f}" y="{y:.0f}" text-anchor="{anchor}" font-size="{size:g}" font-weight="{weight}" '
        f'fill="{INK}">{escape(text)}</text>'
    )


class _Frame:
    """Where a day's hours and loads stand in a drawing."""

    def __init__(self, one: DayLoad, factor: float, box: tuple[float, float, float, float], few: bool = False) -> None:
        self.one, self.factor, self.box = one, factor, box
        up, down = np.zeros(len(one.hours)), np.zeros(len(one.hours))
        self.between: dict[str, tuple[Array, Array]] = {}
        for name, values in one.layers.items():
            amount = values * factor
            base = np.where(amount >= 0.0, up, down)
            self.between[name] = (base, base + amount)
            up, down = up + np.maximum(amount, 0.0), down + np.minimum(amount, 0.0)
        most = max(float(up.max()), (one.sum_of_peaks or 0.0) * factor, 1e-3)
        self.least, self.most = min(0.0, float(down.min())), most * (1.0 if few else 1.1)
        self.step = _step(self.most - self.least, 3 if few else 7)
        self.least *= 1.2
        self.top = float(up.max())

    def x(self, hour: float) -> float:
        left, _, right, _ = self.box
        start = float(self.one.hours[0])
        return left + (right - left) * (hour - start) / len(self.one.hours)

    def y(self, value: float) -> float:
        _, top, _, bottom = self.box
        return bottom - (bottom - top) * (value - self.least) / (self.most - self.least)

    def ticks(self) -> list[float]:
        return [
            self.step * i for i in range(ceil(self.least / self.step - 1e-9), floor(self.most / self.step + 1e-9) + 1)
        ]

    def grid(self, size: float = 24) -> str:
        left, _, right, _ = self.box
        out = []
        for tick in self.ticks():
            y = self.y(tick)
            zero = abs(tick) < 1e-12
            out.append(f'<path d="M{left:g} {y:.1f}H{right:g}" stroke="{INK if zero else QUIET}" '
                       f'stroke-width="{2.5 if zero else 1}" stroke-opacity="{1 if zero else 0.5}"/>')  # fmt: skip
            out.append(_words(left - 12, y + size / 3.0, f"{tick:g}", anchor="end", size=size))
        return "".join(out)

    def far_axis(self, factor: float) -> str:
        """The same loads in another unit at the right."""
        _, _, right, _ = self.box
        ratio = factor / self.factor
        step = _step((self.most - self.least) * ratio, 7)
        first, last = ceil(self.least * ratio / step - 1e-9), floor(self.most * ratio / step + 1e-9)
        return "".join(
            f'<path d="M{right:g} {self.y(step * i / ratio):.1f}h8" stroke="{INK}" stroke-width="1.5"/>'
            + _words(right + 14, self.y(step * i / ratio) + 8, f"{step * i:g}", size=24)
            for i in range(first, last + 1)
        )

    def layers(self) -> str:
        edges = [self.x(float(hour)) for hour in (*self.one.hours, self.one.hours[-1] + 1.0)]
        out = []
        for name, (low, high) in self.between.items():
            there = _steps(edges, [self.y(v) for v in high])
            back = _steps(edges, [self.y(v) for v in low])[::-1]
            path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in [*there, *back]) + "Z"
            out.append(f'<path d="{path}" fill="url(#{_fill_id(name)})" stroke="{INK}" stroke-width="0.8"/>')
        return "".join(out)

    def line(self, width: float) -> str:
        edges = [self.x(float(hour)) for hour in (*self.one.hours, self.one.hours[-1] + 1.0)]
        points = _steps(edges, [self.y(v * self.factor) for v in self.one.total])
        path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
        return (
            f'<path d="{path}" fill="none" stroke="{PAPER}" stroke-width="{2.1 * width:g}"/>'
            f'<path d="{path}" fill="none" stroke="{INK}" stroke-width="{width:g}"/>'
        )

    def clock_axis(self, one: DayLoad, size: float = 24) -> str:
        _, _, _, bottom = self.box
        start, end = float(one.hours[0]), float(one.hours[-1]) + 1.0
        each = 3 if size > 20 and self.box[2] - self.box[0] > 900 else 6
        out = []
        for hour in range(ceil(start / each) * each, floor(end) + 1, each):
            x = self.x(hour)
            out.append(f'<path d="M{x:.1f} {bottom:g}v8" stroke="{INK}" stroke-width="1.5"/>')
            out.append(_words(x, bottom + 12 + size, f"{hour % 24:02d}", anchor="middle", size=size))
        if each == 3:
            middle = 0.5 * (self.box[0] + self.box[2])
            out.append(_words(middle, bottom + 20 + 2.4 * size, "local time, h", anchor="middle", size=size))
        return "".join(out)

    def level(self, watts: float, text: str) -> str:
        left, _, right, _ = self.box
        y = self.y(watts * self.factor)
        return (
            f'<path d="M{left:g} {y:.1f}H{right:g}" stroke="{INK}" stroke-width="3" stroke-dasharray="18 10"/>'
            + _words(left + 12, y - 10, text, size=25)
        )  # fmt: skip

    def peak(self, at: int, text: str) -> str:
        """A mark over the peak, and its amount on the paper's ground where nothing crosses it."""
        x = self.x(float(self.one.hours[at]) + 0.5)
        y = self.y(float(self.one.total[at]) * self.factor)
        high = min(self.y(self.top), y) - 16
        sums = self.one.sum_of_peaks
        if sums is not None and abs(self.y(sums * self.factor) - high) < 50:
            high = min(high, self.y(sums * self.factor)) - 16
        left, _, right, _ = self.box
        half = 7.0 * len(text)
        middle = min(max(x, left + half), right - half)
        return (
            f'<path d="M{x:.1f} {y:.1f}l-13 -24h26z" fill="{INK}" stroke="{PAPER}" stroke-width="3"/>'
            f'<rect x="{middle - half:.0f}" y="{high - 30:.0f}" width="{2 * half:.0f}" height="38" fill="{PAPER}"/>'
            + _words(middle, high, text, anchor="middle", size=27, weight="600")
        )  # fmt: skip


def _steps(edges: Sequence[float], values: Sequence[float]) -> list[tuple[float, float]]:
    return [point for i, y in enumerate(values) for point in ((edges[i], y), (edges[i + 1], y))]


def _step(span: float, most: int) -> float:
    """A round distance between ticks so that a span has at most so many."""
    rough = max(span, 1e-9) / most
    power = 10.0 ** floor(log10(rough))
    return next(power * nice for nice in (1.0, 2.0, 5.0, 10.0) if power * nice >= rough * (1.0 - 1e-9))

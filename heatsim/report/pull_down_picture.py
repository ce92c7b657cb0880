"""The picture of a pull-down: a baked boat brought to its setpoints by units of several sizes, curves and times.

Readable without colour: sizes are told apart by line style; the table below names them and their hours.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, isfinite
from typing import IO, TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.equipment.plan import Plan
from heatsim.equipment.summary import DAMP
from heatsim.report.amounts import POWER, UnitSystem, phrase
from heatsim.report.pictures import INK, PAPER, QUIET, Drawing, plain
from heatsim.report.plan_pictures import degrees, plain_frame, sample, shortened

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = npt.NDArray[np.float64]

PICTURE = "pulldown.png"
SIZES: dict[str, tuple[float, Any]] = {
    "smaller": (1.4, (0, (1, 1.2))),
    "chosen": (2.6, "-"),
    "larger": (1.5, (0, (5, 2))),
    "twice": (1.3, (0, (6, 1.5, 1, 1.5))),
}
"""Line width and dashes of candidates; others take these in turn."""
SMOOTHED = 10
"""[min] Over which pull-down curves are averaged."""
FALLING = 10
"""[min] Before that is done."""


class Candidate(NamedTuple):
    """A size on one day: name, models, capacity [W], curves by minute of the worst room's air, of the mean air [°C] and
    its humidity, and hours to setpoint of that room and of the mean air, of the mean air to 60 %, of all rooms."""

    name: str
    models: str
    capacity: float
    room: Array
    mean: Array
    humidity: Array
    reached: tuple[float, float, float, float]


class Day(NamedTuple):
    """Pull-down on one day: its name, the room that the chosen size brings to its setpoint last, setpoints of it and of
    the mean air as it ends [°C], and every size."""

    name: str
    room: str
    setpoints: tuple[float, float]
    sizes: tuple[Candidate, ...]


def pull_down_drawing(made: Plan, pulled: xr.Dataset, system: UnitSystem) -> Drawing:
    """The picture of what `candidates.pull_down` or `candidates.compared` found."""
    volumes = {zone.name: zone.volume for zone in made.resolved.zones}
    days = tuple(_pulled(pulled.isel(day=day), volumes) for day in range(pulled.sizes["day"]))
    begins = float(pulled["start_minute"].values[0]) / 60.0
    return Drawing(PICTURE, pulled_down, (days, begins, plain(made.resolved.name)), (system,))


def _pulled(part: xr.Dataset, volumes: dict[str, float]) -> Day:
    names = [str(name) for name in part["candidate"].values]
    chosen = names.index("chosen") if "chosen" in names else 0
    times = np.nan_to_num(part["pull_down"].values[chosen], nan=np.inf)
    slowest = np.flatnonzero(times == times.max())
    room = int(slowest[part["air_temperature"].values[chosen][:, slowest].mean(axis=0).argmax()])
    found = tuple(
        Candidate(
            name, str(part["models"].values[i]), float(part["capacity"].values[i]),
            part["air_temperature"].values[i, :, room], part["boat_air_temperature"].values[i],
            part["boat_relative_humidity"].values[i],
            (float(part["pull_down"].values[i, room]), float(part["boat_pull_down"].values[i]),
             float(part["boat_pull_down_humidity"].values[i]), float(part["all_pull_down"].values[i])),
        )
        for i, name in enumerate(names)
    )  # fmt: skip
    goals = part["setpoint"].values[-1]
    mean = float(np.average(goals, weights=[volumes[str(zone)] for zone in part["zone"].values]))
    return Day(str(part["day"].values), plain(str(part["zone"].values[room])), (float(goals[room]), mean), found)


def pulled_down(days: Sequence[Day], begins: float, name: str, stream: IO[bytes], system: UnitSystem) -> None:
    """Pull-down of a baked boat by candidates of several sizes: the slowest room, the mean, its humidity; times below.

    Parameters
    ----------
    begins : float
        Clock at which all is switched on. [h]
    """
    from matplotlib.figure import Figure

    tall, foot = (1.25, 1.25, 1.0), 0.62 + 0.42 * len(days[0].sizes)
    each, gap, top = 5.0, 0.52, 0.62
    wide, high = 0.35 + each * max(len(days), 2), top + sum(tall) + gap * len(tall) + foot
    figure = Figure(figsize=(wide, high), facecolor=PAPER)
    times = [one.reached[mark] for day in days for one in day.sizes for mark in (0, 1)]
    shown = float(min(24, max(4, ceil(1.25 * max(filter(isfinite, times), default=20.0)))))
    degree = "°F" if system == "us" else "°C"
    y = high - top
    for row in range(len(tall)):
        y -= gap + tall[row]
        axes: Axes | None = None
        for column, day in enumerate(days):
            place = ((0.6 + column * each) / wide, (y + 0.28) / high, (each - 0.5) / wide, tall[row] / high)
            axes = figure.add_axes(place, sharey=axes)
            plain_frame(axes)
            _curves(axes, day, row, shown, system)
            if column == 0:
                axes.set_ylabel("%" if row == 2 else degree, color=INK, fontsize=8.5)
            if row == 2:
                axes.set_xlabel(f"hours after {int(begins):02d}:00", color=INK, fontsize=8.5)
    title = f"{name}: a baked boat pulled down by several sizes"
    figure.text(0.15 / wide, 1.0 - 0.25 / high, title, color=INK, fontsize=12, fontweight="bold", va="center")
    key = (
        f"lines: by the minute at first, then means of {SMOOTHED} min   level: setpoint, {100.0 * DAMP[0]:.0f} %   "
        f"marks: first minute within half a dead band of the setpoint, then at {100.0 * DAMP[0]:.0f} %"
    )
    figure.text(0.15 / wide, 1.0 - 0.5 / high, key, color=INK, fontsize=8.5, va="center")
    _times(figure, days, foot - 0.34, (wide, high), system)
    figure.savefig(stream, format="png", dpi=120, pil_kwargs={"compress_level": 3})


def _curves(axes: Axes, day: Day, row: int, shown: float, system: UnitSystem) -> None:
    """All sizes on one day: the slowest room's air, the mean air or its humidity."""
    title = (
        f"air of {shortened(day.room, 30)}, the chosen size's slowest room",
        "mean air of all rooms",
        "mean humidity of all rooms",
    )
    axes.set_title(f"{day.name} day: {title[row]}", loc="left", fontsize=9, color=INK, pad=4)
    level = 100.0 * DAMP[0] if row == 2 else degrees(day.setpoints[row], system)
    axes.axhline(level, color=QUIET, linewidth=1.0, zorder=1)
    for i, one in enumerate(day.sizes):
        curve = 100.0 * one.humidity if row == 2 else degrees((one.room, one.mean)[row], system)
        width, dashes = _style(one.name, i)
        hours, line = _line(curve, shown)
        axes.plot(hours, line, color=INK, linewidth=width, linestyle=dashes)
        if (reached := one.reached[row]) <= shown:
            axes.plot(
                reached, np.interp(reached, hours, line), "o" if row == 2 else "v", color=INK, markersize=6.5,
                markerfacecolor=PAPER, markeredgewidth=1.3, zorder=5,
            )  # fmt: skip
    axes.set_xlim(0.0, shown)


def _line(curve: Array, shown: float) -> tuple[Array, Array]:
    """Hours and values of a curve by the minute at first, as means over a while from then on."""
    means = curve.reshape(-1, SMOOTHED).mean(axis=1)
    middle = (np.arange(len(means)) + 0.5) * SMOOTHED / 60.0
    later = (middle > FALLING / 60.0) & (middle <= shown)
    return np.append(np.arange(FALLING) / 60.0, middle[later]), np.append(curve[:FALLING], means[later])


def _style(name: str, place: int) -> tuple[float, Any]:
    return SIZES.get(name) or list(SIZES.values())[place % len(SIZES)]


def _times(
    figure: Figure, days: Sequence[Day], top: float, size: tuple[float, float], system: UnitSystem
) -> None:  # fmt: skip
    """A table below: each size's line, capacity, hours by day and models."""
    wide, high = size
    columns = (0.15, 0.7, 1.5, 3.3, 5.05, 6.75, 8.5)
    heads = ("", "size", "capacity", "room above, h", "mean air, h", "mean to 60 %, h", "all rooms, h")
    for x, head in zip(columns, heads, strict=True):
        figure.text(x / wide, top / high, head, color=INK, fontsize=8.5, fontweight="bold", va="center")
    for i, one in enumerate(days[0].sizes):
        y = top - 0.26 - 0.42 * i
        width, dashes = _style(one.name, i)
        sample(figure, columns[0], high - y, width, dashes, size)
        words = [one.name, phrase(one.capacity, POWER, system)]
        for mark in range(4):
            times = [day.sizes[i].reached[mark] for day in days]
            some = any(map(isfinite, times))
            each = (
                [f"{hours:.1f}" if isfinite(hours) else "not reached" for hours in times] if some else ["not in a day"]
            )
            words.append(" / ".join(each))
        for x, word in zip(columns[1:], words, strict=True):
            figure.text(x / wide, y / high, word, color=INK, fontsize=8.5, va="center")
        models = plain(shortened(one.models, 150))
        figure.text(columns[1] / wide, (y - 0.17) / high, models, color=QUIET, fontsize=7.5, va="center")

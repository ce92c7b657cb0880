"""Pictures of a proof: every room over its design days with what comfort asks for, and how fast sizes pull down.

Readable without colour: days and sizes are told apart by line style, what is asked for is a filled band, people are a
black bar, and hours with everything switched off lie on lighter ground.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, isfinite
from typing import IO, TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.climate.weather import routine_values
from heatsim.equipment.plan import Plan
from heatsim.equipment.proof import EVENING, Proof
from heatsim.equipment.summary import DAMP, WARM
from heatsim.report.amounts import UnitSystem, temperature
from heatsim.report.pictures import INK, PAPER, QUIET, Drawing, plain
from heatsim.report.plan_pictures import FILLED, degrees, plain_frame, sample, shortened
from heatsim.report.pull_down_picture import PICTURE as PULL_DOWN
from heatsim.report.pull_down_picture import pull_down_drawing

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = npt.NDArray[np.float64]

PROOF_PICTURES = ("proof.png", PULL_DOWN)
STYLES: tuple[tuple[float, Any], ...] = ((1.5, "-"), (1.3, (0, (4, 1.5))), (1.0, (0, (1, 1))))
"""Line width and dashes of the first, the second and any further day."""
MEANT = 30
"""[min] Over which traces are averaged, so that single starts and stops become a band."""
MORNING = 34.0
"""[h] To which coasting is shown, ten in the next morning."""
HOT = 32.0
"""[°C] Beyond which a coasting room is not followed unless a settled one is as hot."""
DOZEN = 12
"""Rooms up to which two stand in a row; above, three."""


class Trace(NamedTuple):
    """A room on one day: whether it coasts, the clock at its first minute [h], air [°C] and humidity by minute, and the
    hours until it coasts to 27 °C operative or the most above setpoint [K]."""

    day: str
    coasts: bool
    begins: float
    temperature: Array
    humidity: Array
    figure: float


class Room(NamedTuple):
    """A room: name, by minute of the clock its setpoint [°C] and whether at least half of those who ever are there are,
    and its traces."""

    name: str
    setpoint: Array
    occupied: npt.NDArray[np.bool_]
    traces: tuple[Trace, ...]


def proof_drawings(made: Plan, proof: Proof, pulled: xr.Dataset | None, system: UnitSystem) -> list[Drawing]:
    """The pictures of a proof of the chosen layout: rooms, and pull-down where candidates were compared."""
    assert made.chosen is not None
    name = plain(made.resolved.name)
    rooms = _rooms(made, proof, made.chosen.name)
    band = float(proof.data.attrs["dead_band"])
    drawings = [Drawing(PROOF_PICTURES[0], rooms_over_the_day, (rooms, band, name), (system,))]
    if pulled is not None:
        drawings.append(pull_down_drawing(made, pulled, system))
    return drawings


def _rooms(made: Plan, proof: Proof, layout: str) -> tuple[Room, ...]:
    zones = {zone.name: zone for zone in made.resolved.zones}
    settled, coast = proof.of(layout, "settled"), proof.of(layout, "coast")
    minute = np.arange(1440)
    step = float(proof.data.attrs["step"]) / 60.0
    rooms = []
    for z, zone in enumerate(map(str, settled["zone"].values)):
        control = zones[zone].control
        assert control is not None
        people = sum((one.count * routine_values(one.routine, minute) for one in zones[zone].people), np.zeros(1440))
        occupied = (people > 0.0) & (people >= 0.5 * people.max())
        traces = []
        for part, coasts, figure in ((settled, False, "above_setpoint"), (coast, True, "coast_down")):
            air, damp = (part[v].values[..., z] for v in ("air_temperature", "relative_humidity"))
            for i, day in enumerate(part["day"].values):
                begins = float(part["start_minute"].values[i]) / 60.0
                warm, moist = (_by_minute(values[i], step) for values in (air, damp))
                traces.append(Trace(str(day), coasts, begins, warm, moist, float(part[figure].values[i, z])))
        rooms.append(Room(plain(zone), routine_values(control.cooling_setpoint, minute), occupied, tuple(traces)))
    return tuple(rooms)


def _by_minute(values: Array, step: float) -> Array:
    """A day of steps [min] as one of minutes."""
    return np.interp(np.arange(1440), np.arange(len(values)) * step, values)


def rooms_over_the_day(rooms: Sequence[Room], band: float, name: str, stream: IO[bytes], system: UnitSystem) -> None:
    """Air and humidity of every room over the settled days and the coasting night after them.

    Parameters
    ----------
    band : float
        Dead band of the thermostats. [K]
    """
    from matplotlib.figure import Figure

    across = 1 if len(rooms) == 1 else 2 if len(rooms) <= DOZEN else 3
    down = ceil(len(rooms) / across)
    each, cell, top, foot = (4.6 if across < 3 else 4.1), 2.62, 0.9, 0.28
    wide, high = 0.3 + each * max(across, 2), top + cell * down + foot
    figure = Figure(figsize=(wide, high), facecolor=PAPER)
    limits, damp_limits = _limits(rooms)
    for i, room in enumerate(rooms):
        row, place = divmod(i, across)
        left, bottom = 0.55 + place * each, high - top - (row + 1) * cell
        width = each - 0.45
        warm = figure.add_axes((left / wide, (bottom + 1.16) / high, width / wide, 1.2 / high))
        moist = figure.add_axes((left / wide, (bottom + 0.28) / high, width / wide, 0.8 / high))
        _air(warm, room, band, limits, system)
        _humidity(moist, room, damp_limits)
        if place == 0:
            warm.set_ylabel("°F" if system == "us" else "°C", color=INK, fontsize=8.5)
            moist.set_ylabel("% rel. hum.", color=INK, fontsize=8.5)
    days = list(dict.fromkeys(trace.day for room in rooms for trace in room.traces))
    x = 0.15 / wide
    title = f"{name}: the chosen units, minute by minute"
    figure.text(x, 1.0 - 0.25 / high, title, color=INK, fontsize=12, fontweight="bold", va="center")
    _day_key(figure, days, 0.15, 0.52, (wide, high))
    figure.text(0.5, 0.16 / high, "local time, h", color=INK, fontsize=9, ha="center", va="center")
    figure.savefig(stream, format="png", dpi=110, pil_kwargs={"compress_level": 3})


def _limits(rooms: Sequence[Room]) -> tuple[tuple[float, float], tuple[float, float]]:
    """Temperatures [°C] and humidities [%] shown: all of the settled days, and a coasting room until it is hot."""
    settled = [trace for room in rooms for trace in room.traces if not trace.coasts]
    coasting = [trace.temperature for room in rooms for trace in room.traces if trace.coasts]
    air, damp = (np.concatenate(values) for values in zip(*((t.temperature, t.humidity) for t in settled), strict=True))
    hot = min(HOT, float(np.max(coasting, initial=0.0)))
    lowest, highest = float(air.min()), max(hot, float(air.max()))
    return (lowest - 0.2 * (highest - lowest), highest + 0.5), (
        min(40.0, 100.0 * float(damp.min()) - 3.0), max(76.0, 100.0 * float(damp.max()) + 3.0),
    )  # fmt: skip


def _day_key(figure: Figure, days: Sequence[str], x: float, down: float, size: tuple[float, float]) -> None:
    """What lines, bands and bars mean, in two rows below the title."""
    wide, high = size
    at = x
    for day, (width, dashes) in zip(days, _styles(len(days)), strict=True):
        sample(figure, at, down, width, dashes, size)
        figure.text((at + 0.5) / wide, 1.0 - down / high, f"{day} day", color=INK, fontsize=8.5, va="center")
        at += 1.35
    words = f"means of {MEANT} min, pale: lowest to highest minute   filled: setpoint and dead band"
    figure.text(at / wide, 1.0 - down / high, words, color=INK, fontsize=8.5, va="center")
    words = (
        "black bar: people there, at least half of them   thin: everything switched off in the evening   "
        f"levels: {', '.join(f'{100 * one:.0f}' for one in DAMP)} %"
    )
    figure.text(x / wide, 1.0 - (down + 0.22) / high, words, color=INK, fontsize=8.5, va="center")


def _styles(count: int) -> list[tuple[float, Any]]:
    return [STYLES[min(i, len(STYLES) - 1)] for i in range(count)]


def _air(axes: Axes, room: Room, band: float, limits: tuple[float, float], system: UnitSystem) -> None:
    _frame(axes)
    axes.set_ylim(*(degrees(value, system) for value in limits))
    clock = np.arange(1441) / 60.0
    goal = np.append(room.setpoint, room.setpoint[0])
    axes.fill_between(
        clock, degrees(goal - band / 2.0, system), degrees(goal + band / 2.0, system), facecolor=FILLED, alpha=0.55,
        linewidth=0.0, zorder=1,
    )  # fmt: skip
    _traces(axes, room, lambda trace: degrees(trace.temperature, system))
    there = np.append(room.occupied, room.occupied[0])
    axes.fill_between(
        clock, 0.0, 0.05, where=there.tolist(), transform=axes.get_xaxis_transform(), facecolor=INK, linewidth=0.0,
        zorder=4,
    )  # fmt: skip
    axes.set_title(shortened(room.name, 30), loc="left", fontsize=9.5, color=INK, fontweight="bold", pad=4)
    above = [trace.figure for trace in room.traces if not trace.coasts]
    if above:
        words = " / ".join(f"{kelvin:.1f}" for kelvin in above)
        axes.set_title(f"worst hour {words} K above", loc="right", fontsize=7.5, color=INK, pad=4)
    coasting = [trace for trace in room.traces if trace.coasts]
    if coasting:
        words = " / ".join(f"{one.figure:.1f}" if isfinite(one.figure) else "–" for one in coasting)
        short: UnitSystem = "us" if system == "us" else "si"
        text = f"{temperature(WARM, short)} after {words} h"
        night = round((MORNING - EVENING) * 60.0)
        hottest = max(float(one.temperature[:night].max()) for one in coasting)
        if hottest > limits[1]:
            text += f"\nto {temperature(hottest, short)} by {MORNING - 24.0:.0f}:00"
        axes.text(
            EVENING + 0.3, 0.08, text, va="bottom", transform=axes.get_xaxis_transform(), fontsize=7.5, color=INK,
            linespacing=1.1, zorder=6,
        )  # fmt: skip
    axes.set_xticklabels([])


def _humidity(axes: Axes, room: Room, limits: tuple[float, float]) -> None:
    _frame(axes)
    axes.set_ylim(*limits)
    for level, width in zip(DAMP, (0.7, 1.1, 1.6), strict=True):
        axes.axhline(100.0 * level, color=QUIET, linewidth=width, zorder=1)
    _traces(axes, room, lambda trace: 100.0 * trace.humidity)
    axes.set_yticks([40.0, 100.0 * DAMP[0], 100.0 * DAMP[-1], *([90.0] if limits[1] > 85.0 else [])])
    axes.set_ylim(*limits)


def _frame(axes: Axes) -> None:
    """A clock from midnight to the next morning, its end on dotted ground."""
    plain_frame(axes)
    axes.axvspan(EVENING, MORNING, facecolor=PAPER, linewidth=0.0, zorder=0)
    axes.axvline(EVENING, color=QUIET, linewidth=0.9, zorder=1)
    axes.set_xlim(0.0, MORNING)
    axes.set_xticks(np.arange(0.0, MORNING, 6.0), [f"{int(hour) % 24:02d}" for hour in np.arange(0.0, MORNING, 6.0)])
    axes.tick_params(labelsize=7.5, length=2.5)


def _traces(axes: Axes, room: Room, of: Any) -> None:
    """Means over a while with their lowest and highest minute, coasting ones thin."""
    days = list(dict.fromkeys(trace.day for trace in room.traces))
    style = dict(zip(days, _styles(len(days)), strict=True))
    for trace in room.traces:
        parts = np.asarray(of(trace)).reshape(-1, MEANT)
        clock = trace.begins + (np.arange(len(parts)) + 0.5) * MEANT / 60.0
        shown = clock < MORNING
        width, dashes = style[trace.day]
        if not trace.coasts:
            low, high = parts.min(axis=1), parts.max(axis=1)
            axes.fill_between(clock, low, high, facecolor=INK, alpha=0.13, linewidth=0.0, zorder=2)
        axes.plot(
            clock[shown], parts.mean(axis=1)[shown], color=INK, linewidth=0.6 * width if trace.coasts else width,
            linestyle=dashes, zorder=3,
        )  # fmt: skip

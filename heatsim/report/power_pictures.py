"""Pictures of the power aboard: what runs and starts over the day against what carries it, and the bank overnight.

Readable without colour: days are told apart by line style, limits are lines with their name on them, the part of the
bank that is kept is a filled band.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from textwrap import wrap
from typing import IO, TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.equipment.plan import Plan
from heatsim.equipment.proof import Proof
from heatsim.report.pictures import INK, PAPER, QUIET, Drawing, plain
from heatsim.report.plan_pictures import FILLED, plain_frame
from heatsim.scenario.courses import QUARTER
from heatsim.scenario.electrics import HOUSEHOLD_FACTOR, carries
from heatsim.services.draws import by_quarters, draws, household, reactive_part, settled_runs
from heatsim.services.electrical import clock
from heatsim.services.generator import POWER_FACTOR, STARTS, highest_start
from heatsim.services.shore_verdict import shore_verdict
from heatsim.services.silent_night import nights

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Array = npt.NDArray[np.float64]

STRIP, OVERNIGHT = "electrical.png", "battery-night.png"
STYLES: tuple[tuple[float, Any], ...] = ((1.6, "-"), (1.3, (0, (4, 1.5))), (1.0, (0, (1, 1))))
"""Line width and dashes of the first, the second and any further day."""
STRIP_HIGH, NIGHT_HIGH = 3.7, 4.0
"""[in] Of the pictures, which are printed across the page."""
VERDICT_WIDE, VERDICT_LINE = 132, 0.17
"""[characters], [in] Of the sentences below the picture."""
APART = 0.045
"""[-] Of the height that names of limits keep from each other."""


class Course(NamedTuple):
    """A day: its kind and, from midnight, what runs aboard [kVA] in means of a quarter of an hour."""

    day: str
    running: Array


class Night(NamedTuple):
    """A night: its day, hours after its beginning and what is left of the bank then, load [kW], and how it ends."""

    day: str
    begins: float
    hours: Array
    left: Array
    load: Array
    stopped: float | None


def power_drawings(plan: Plan, proof: Proof) -> list[Drawing]:
    """The electrical strip, and the bank overnight where there is one."""
    name = plain(plan.resolved.name)
    told = shore_verdict(plan, proof)
    drawings = [Drawing(STRIP, electrical_strip, (_courses(plan, proof), _limits(plan), name, told))]
    found = nights(plan, proof)
    if found is not None:
        bank, _, each, _ = found
        shown = [
            Night(
                one.day, one.night.begins, np.arange(float(len(one.night.charge))) * (one.night.step / 3600.0),
                one.night.charge, one.night.load / 1e3, one.night.stopped,
            )
            for one in each
        ]  # fmt: skip
        drawings.append(Drawing(OVERNIGHT, charge_overnight, (shown, 1.0 - bank.usable, name)))
    return drawings


def _courses(plan: Plan, proof: Proof) -> list[Course]:
    return [
        Course(str(proof.data["day"].values[run]), np.abs(by_quarters(plan, proof, run)) / 1e3)
        for run in settled_runs(plan, proof)
    ]


def _limits(plan: Plan) -> list[tuple[str, float, bool]]:
    """Levels [kVA] with their names: what carries the load, and (True) what starts ask for."""
    power, found = plan.resolved.power, list(draws(plan))
    levels: list[tuple[str, float, bool]] = []
    for socket in [power.shore, *power.others]:
        if socket is not None:
            levels.append((f"80 % of {socket.name}", carries(socket) / 1e3, False))
    if power.generator is not None:
        kva = power.generator.power / POWER_FACTOR / 1e3
        levels.append(("generator", kva, False))
        levels.append((f"generator at {power.generator.least_share:.0%}", kva * power.generator.least_share, False))
    if power.battery is not None and power.battery.inverter is not None:
        levels.append(("inverter", power.battery.inverter / 1e3, False))
    mean = float(household(plan.resolved).mean()) if power.other_load is None else power.other_load
    base = complex(mean, reactive_part(mean, HOUSEHOLD_FACTOR))
    for name, worst, soft in STARTS[:3]:
        levels.append((f"start: {name}", highest_start(found, base, worst, soft) / 1e3, True))
    return levels


def electrical_strip(
    courses: Sequence[Course], limits: Sequence[tuple[str, float, bool]], name: str, told: str, stream: IO[bytes]
) -> None:
    """Running apparent power over the clock day against sockets, generator and inverter, and the peaks of starts.

    Parameters
    ----------
    courses : of each day
    limits : name, level [kVA] and whether it is that of a start
    told : str
        How they stand to the shore socket, below the picture.
    """
    from matplotlib.figure import Figure

    lines = wrap(plain(told), VERDICT_WIDE)
    high = STRIP_HIGH + VERDICT_LINE * len(lines)
    figure = Figure(figsize=(9.0, high), facecolor=PAPER)
    foot = (0.5 + VERDICT_LINE * len(lines)) / high
    axes = figure.add_axes((0.075, foot, 0.58, 1.0 - foot - 0.75 / high))
    plain_frame(axes)
    hours = np.arange(24 * 60 // QUARTER + 1) * QUARTER / 60.0
    for course, (width, dashes) in zip(courses, [*STYLES, *[STYLES[-1]] * len(courses)], strict=False):
        axes.step(hours, np.append(course.running, course.running[-1]), where="post", color=INK, linewidth=width,
                  linestyle=dashes, label=f"running, {course.day} day")  # fmt: skip
    most = max([float(course.running.max()) for course in courses] + [level for _, level, starts in limits if starts])
    top = 1.15 * most
    for _, level, starts in limits:
        if level <= top:
            axes.axhline(level, color=QUIET if starts else INK, linewidth=0.9, linestyle=":" if starts else "-.")
    axes.set(xlim=(0.0, 24.0), ylim=(0.0, top))
    axes.set_xticks(range(0, 25, 3), [f"{hour:02d}:00" for hour in range(0, 25, 3)])
    axes.set_ylabel("kVA", color=INK, fontsize=9)
    axes.legend(frameon=False, fontsize=8.5, loc="lower right", labelcolor=INK)
    _names(axes, limits, top)
    figure.text(0.075, 1.0 - 0.34 / high, f"{name}: what runs and starts, and what carries it", color=INK, fontsize=11)
    note = "running in means of a quarter of an hour, household and pumps included"
    figure.text(0.075, 1.0 - 0.55 / high, note, color=INK, fontsize=8)
    for i, line in enumerate(reversed(lines)):
        figure.text(0.075, (0.1 + VERDICT_LINE * i) / high, line, color=INK, fontsize=8.5)
    figure.savefig(stream, format="png", dpi=130)


def _names(axes: Axes, limits: Sequence[tuple[str, float, bool]], top: float) -> None:
    """Names of levels on the right, moved apart where they would lie over each other; those above the picture first."""
    above = [(name, level) for name, level, _ in limits if level > top]
    inside = sorted(((name, level) for name, level, _ in limits if level <= top), key=lambda one: one[1])
    places = spaced([level / top for _, level in inside])
    for (name, level), place in zip(inside, places, strict=True):
        axes.annotate(
            f"{name}: {level:.1f}", (1.0, level / top), (1.04, place), "axes fraction", "axes fraction", color=INK,
            fontsize=8, va="center", arrowprops={"arrowstyle": "-", "color": QUIET, "linewidth": 0.6},
        )  # fmt: skip
    for i, (name, level) in enumerate(above):
        place = max(1.02, places[-1] + APART if places else 0.0) + APART * i
        axes.text(1.04, place, f"{name}: {level:.0f}, above", transform=axes.transAxes, color=INK, fontsize=8,
                  va="center")  # fmt: skip


def spaced(heights: Sequence[float]) -> list[float]:
    """Heights from below moved up just so far that each keeps its distance from the one before. [-]"""
    places: list[float] = []
    for height in heights:
        places.append(max(height, places[-1] + APART if places else 0.0))
    return places


def charge_overnight(each: Sequence[Night], kept: float, name: str, stream: IO[bytes]) -> None:
    """What is left of the bank over the night of each day, the load below it.

    Parameters
    ----------
    each : nights
    kept : float
        Share of the bank that is not used. [-]
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9.0, NIGHT_HIGH), facecolor=PAPER)
    upper, lower = figure.add_axes((0.085, 0.43, 0.89, 0.44)), figure.add_axes((0.085, 0.1, 0.89, 0.22))
    for axes in (upper, lower):
        plain_frame(axes)
        axes.set_xlim(0.0, float(each[0].hours[-1]))
        ticks = range(0, ceil(each[0].hours[-1]) + 1)
        axes.set_xticks(list(ticks), [clock(each[0].begins + hour) for hour in ticks])
    upper.axhspan(0.0, 100.0 * kept, color=FILLED, alpha=0.6, linewidth=0)
    upper.text(0.01, 100.0 * kept - 2.0, " kept: to start, for pumps and lights, and to spare the bank", color=INK,
               fontsize=8, va="top", transform=upper.get_yaxis_transform())  # fmt: skip
    for night, (width, dashes) in zip(each, [*STYLES, *[STYLES[-1]] * len(each)], strict=False):
        label = f"{night.day} day"
        if night.stopped is not None:
            label += f": stopped at {clock(night.begins + night.stopped)}, reserve kept"
        upper.plot(night.hours, 100.0 * night.left, color=INK, linewidth=width, linestyle=dashes, label=label)
        per = round(QUARTER / 60.0 / float(night.hours[1]))
        means = night.load[: len(night.load) // per * per].reshape(-1, per).mean(axis=1)
        lower.step(night.hours[::per][: len(means) + 1], np.append(means, means[-1]), where="post", color=INK,
                   linewidth=width, linestyle=dashes)  # fmt: skip
    upper.set_ylim(0.0, 102.0)
    upper.set_ylabel("% of the bank", color=INK, fontsize=9)
    upper.legend(frameon=False, fontsize=8.5, loc="upper right", labelcolor=INK)
    lower.set_ylim(bottom=0.0)
    lower.set_ylabel("load, kW", color=INK, fontsize=9)
    figure.text(0.085, 0.93, f"{name}: the bank through a silent night", color=INK, fontsize=11)
    figure.savefig(stream, format="png", dpi=130)

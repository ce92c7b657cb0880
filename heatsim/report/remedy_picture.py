"""The picture of remedies: from the boat as she is to what is left, one after the other where the study ran that.

Each step is the difference of two runs. Remedies that were only tried alone stand side by side instead: what they bring
cannot be added up.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from typing import IO, TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.report.amounts import POWER, UnitSystem, difference, phrase
from heatsim.report.pictures import INK, PAPER, Drawing, plain, power_scale
from heatsim.report.plan_pictures import FILLED, plain_frame, shortened
from heatsim.study import summary
from heatsim.study.design import Design
from heatsim.study.results import BLOCK

if TYPE_CHECKING:
    import xarray as xr

Array = npt.NDArray[np.float64]

LEFT, TOGETHER = "what is left", "all together"
"""Names of the last bar."""
MOST_BARS = 16
LEAST_KELVIN = 0.05
"""[K] Below which a change of the warmest room is not told."""


class Step(NamedTuple):
    """One bar: its name, the peak it begins and ends at [W], K of the warmest room (NaN unknown), price (NaN unknown),
    and whether it is a whole (of peak, not a change).
    """

    name: str
    first: float
    last: float
    kelvin: float
    price: float
    whole: bool


def remedy_drawings(design: Design, data: xr.Dataset, system: UnitSystem) -> list[Drawing]:
    """The picture of what remedies bring; none where there are none."""
    if data.sizes["remedy"] < 2:
        return []
    prices = {one.name: one.price for one in design.study.remedies}
    tried = [tuple(one.name for one in combined) for combined in design.remedies]
    block = summary.worst_peak(data).sel(room=BLOCK)
    peaks = block.max([str(dim) for dim in block.dims if dim != "remedy"]).values
    warm = np.full(len(peaks), np.nan)
    if "float_temperature" in data:
        rooms = summary.design_days(data)["float_temperature"].sel(room=BLOCK)
        warm = rooms.max([str(dim) for dim in rooms.dims if dim != "remedy"]).values
    steps = steps_of(tried, peaks, warm, prices)
    in_turn = design.study.combine == "every"
    title = plain(shortened(design.study.study, 60))
    return [Drawing("waterfall.png", waterfall, (steps, in_turn, title), (system,))]


def steps_of(
    tried: list[tuple[str, ...]], peaks: Array, warm: Array, prices: Mapping[str, float | None]
) -> tuple[Step, ...]:
    """From the boat as she is to what is left.

    Where every combination was run, at each step the remedy is taken that takes off most beside those taken already;
    otherwise each is shown alone from the top, and all of them together where that was run.

    Parameters
    ----------
    tried : names of the remedies of each run, nothing first
    peaks, warm : (remedy,) arrays
        Largest peak of the block [W] and warmest room at full capacity. [°C, NaN unknown]
    """
    singles = [one[0] for one in tried if len(one) == 1]
    at = {frozenset(one): i for i, one in enumerate(tried)}
    steps = [Step("as she is", 0.0, float(peaks[0]), np.nan, np.nan, True)]

    def change(name: str, old: int, new: int, top: float) -> Step:
        price = prices.get(name)
        last = top - float(peaks[old] - peaks[new])
        return Step(name, top, last, float(warm[old] - warm[new]), np.nan if price is None else price, False)

    in_turn = len(tried) == 2 ** len(singles)
    if in_turn:
        taken: frozenset[str] = frozenset()
        while len(taken) < len(singles):
            here = at[taken]
            best = min((name for name in singles if name not in taken), key=lambda name: peaks[at[taken | {name}]])
            taken |= {best}
            steps.append(change(best, here, at[taken], float(peaks[here])))
        steps.append(Step(LEFT, 0.0, float(peaks[at[taken]]), float(warm[0] - warm[at[taken]]), np.nan, True))
        return tuple(steps)
    ranked = sorted(singles, key=lambda name: float(peaks[at[frozenset({name})]]))
    steps += [change(name, 0, at[frozenset({name})], float(peaks[0])) for name in ranked]
    together = at.get(frozenset(singles))
    if together is not None and len(singles) > 1:
        steps.append(Step(TOGETHER, 0.0, float(peaks[together]), float(warm[0] - warm[together]), np.nan, True))
    return tuple(steps[:MOST_BARS])


def waterfall(steps: tuple[Step, ...], in_turn: bool, title: str, stream: IO[bytes], system: UnitSystem) -> None:
    """Bars from above: the boat as she is, what each remedy takes off, what is left."""
    from matplotlib.figure import Figure

    factor, unit = power_scale(system)
    row, top, foot = 0.42, 0.95, 0.58
    left = 0.4 + 0.078 * max(len(step.name) for step in steps)
    wide, high = left + (8.4 if system == "both" else 7.2), top + row * len(steps) + foot
    figure = Figure(figsize=(wide, high), facecolor=PAPER)
    axes = figure.add_axes((left / wide, foot / high, 4.1 / wide, row * len(steps) / high))
    plain_frame(axes)
    most = max(max(step.first, step.last) for step in steps) * factor
    short: UnitSystem = "us" if system == "us" else "si"
    for i, step in enumerate(steps):
        start, width = step.first * factor, (step.last - step.first) * factor
        style: dict[str, Any] = {"facecolor": FILLED} if step.whole else {"facecolor": PAPER, "hatch": "////"}
        axes.barh(i, width, left=start, height=0.62, edgecolor=INK, linewidth=0.9, **style)
        if i + 1 < len(steps):
            level = step.last if in_turn or step.whole else step.first
            axes.plot([level * factor] * 2, [i - 0.31, i + 1.31], color=INK, linewidth=0.7, linestyle=":", zorder=1)
        axes.text(1.025, i, _words(step, system, short), transform=axes.get_yaxis_transform(), va="center", color=INK,
                  fontsize=9)  # fmt: skip
    axes.set_yticks(range(len(steps)), [plain(step.name) for step in steps], fontsize=9, color=INK)
    axes.tick_params(axis="y", length=0)
    axes.set_ylim(len(steps) - 0.45, -0.55)
    axes.set_xlim(0.0, 1.04 * most)
    axes.set_xlabel(f"largest load of an hour of the block, {unit}", color=INK, fontsize=9)
    figure.text(0.15 / wide, 1.0 - 0.27 / high, title, color=INK, fontsize=12, fontweight="bold", va="center")
    order = (
        "remedies one after the other, at each step the one that takes off most of what is left"
        if in_turn else "remedies each by itself: what they take off cannot be added up"
    )  # fmt: skip
    figure.text(0.15 / wide, 1.0 - 0.53 / high, order, color=INK, fontsize=8.5, va="center")
    figure.savefig(stream, format="png", dpi=130)


def _words(step: Step, system: UnitSystem, short: UnitSystem) -> str:
    """What a bar says in numbers: power, kelvins, price."""
    change = step.last - step.first
    parts = [phrase(step.last, POWER, system) if step.whole else _signed(change, system)]
    cooler = abs(step.kelvin)
    if cooler >= LEAST_KELVIN:
        parts.append(f"{difference(cooler, short)} {'cooler' if step.kelvin >= 0.0 else 'warmer'}")
    if isfinite(step.price):
        parts.append(f"price {step.price:,.0f}")
    return "   ".join(parts)


def _signed(value: float, system: UnitSystem) -> str:
    return f"{'−' if value < 0.0 else '+'}{phrase(abs(value), POWER, system)}"

"""Pictures of draws: how sure the block's peak is and how many draws that takes, and which input moves it.

Readable without colour: curves are told apart by dashes and named; of an input's two bars the filled and hatched one is
the tenth of draws in which it is highest.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import IO, TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.report.amounts import POWER, UnitSystem, phrase
from heatsim.report.pictures import BACKED, INK, PAPER, Drawing, plain, power_scale
from heatsim.report.plan_pictures import FILLED, plain_frame, shortened
from heatsim.scenario.quantities import text
from heatsim.study import summary
from heatsim.study.certainty import stated_peaks
from heatsim.study.design import Design
from heatsim.study.draws import Input
from heatsim.study.results import BLOCK

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes

Array = npt.NDArray[np.float64]

FEWEST_DRAWS = 8
"""Below which neither a curve nor a ranking says anything."""
MOST_INPUTS = 14
MOST_CURVES = 4
MOST_STATED = 60
"""Runs that are worth making for the mark of the boat as her file states her; more take as long as the study."""
CHANCE = 0.05
"""Probability that chance alone gives such a rank correlation, from which an input is drawn pale."""
CLOSE = 0.01
"""[-] Band about the last value in the panel of convergence: a hundredth, finer than units are sold."""
LABEL = 1.05
"""[-] Of a mark's power, to which its label reaches at least."""
DASHES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (7, 2, 1, 2)))


class Pull(NamedTuple):
    """One input of the tornado: its name and range in words, rank correlation, whether chance may have made it, and
    what its lowest and highest tenth move the mean peak by. [W]
    """

    name: str
    spread: str
    correlation: float
    chance: bool
    low: float
    high: float


def certainty_drawings(design: Design, data: xr.Dataset, system: UnitSystem) -> list[Drawing]:
    """The pictures of draws; none where there are too few to say anything."""
    if data.sizes["draw"] < FEWEST_DRAWS:
        return []
    title = plain(shortened(design.study.study, 60))
    block = summary.worst_peak(data).sel(room=BLOCK)
    values = block.max([str(dim) for dim in block.dims if dim not in ("remedy", "draw")])
    curves = np.sort(values.transpose("remedy", "draw").values[:MOST_CURVES], axis=1)
    names = tuple(plain(shortened(str(name), 30)) for name in data["remedy"].values[: len(curves)])
    stated, margin = stated_peak(design), design.base.terms.margin
    given = (curves, names, stated, margin, *summary.convergence(data), title)
    drawings = [Drawing("certainty.png", certainty, given, (system,))]
    ranked = summary.sensitivity(data).head(MOST_INPUTS)
    pulls = tuple(_pull(design, str(name), row) for name, row in ranked.iterrows())
    drawings.append(Drawing("tornado.png", tornado, (pulls, data.sizes["draw"], title), (system,)))
    return drawings


def stated_peak(design: Design) -> float:
    """The block's largest peak with every input as the file states it or by default; NaN where that takes long. [W]"""
    found = stated_peaks(design, MOST_STATED)
    return float("nan") if found is None else float(found[-1])


def certainty(
    curves: Array, names: Sequence[str], stated: float, margin: float, counts: Array, course: Array, title: str,
    stream: IO[bytes], system: UnitSystem,
) -> None:  # fmt: skip
    """Share of draws whose peak stays below a size, with the stated margin beside; below, its P90 over draws.

    Parameters
    ----------
    curves : (remedy, draw) array
        Rising; the first is the boat as she is. [W]
    stated : float
        Peak with nothing drawn, NaN where unknown. [W]
    margin : float
        Factor on it that the boat's file declares.
    counts, course : (n,) arrays
        Numbers of draws, and P90 over the first so many. [W]
    """
    from matplotlib.figure import Figure

    factor, unit = power_scale(system)
    wide, high = 9.0, 6.6
    figure = Figure(figsize=(wide, high), facecolor=PAPER)
    axes = figure.add_axes((0.085, 0.4, 0.88, 0.46))
    plain_frame(axes)
    axes.grid(axis="y", color=PAPER, linewidth=0.9)
    for i, values in enumerate(curves):
        share = 100.0 * (np.arange(len(values)) + 1.0) / len(values)
        axes.step(
            values * factor, share, where="post", color=INK, linewidth=2.2 if i == 0 else 1.2, linestyle=DASHES[i],
            label=names[i],
        )  # fmt: skip
    levels = [(level, float(np.quantile(curves[0], level))) for level in summary.LEVELS]
    for level, value in levels:
        x, y = value * factor, 100.0 * level
        axes.plot([x, x], [0.0, y], color=INK, linewidth=0.8, linestyle=":")
        axes.plot(x, y, "o", color=INK, markersize=6, clip_on=False, zorder=4)
        axes.annotate(
            f"P{round(y)}  {phrase(value, POWER, system)}", (x, y), xytext=(-8, 5), textcoords="offset points",
            ha="right", color=INK, fontsize=9, bbox=BACKED, va="bottom" if level < 0.95 else "center", zorder=5,
        )  # fmt: skip
    reach = [float(curves.min()), float(curves.max())]
    reach += _stated(axes, curves[0], stated, margin, factor, system)
    room = 0.04 * (max(reach) - min(reach))
    axes.set_xlim((min(reach) - 4.0 * room) * factor, (max(reach) + room) * factor)
    axes.set_ylim(0.0, 104.0)
    axes.set_ylabel("% of draws that stay below", color=INK, fontsize=9)
    axes.set_xlabel(f"largest load of an hour of the block, {unit}", color=INK, fontsize=9)
    if len(names) > 1:
        axes.legend(loc="upper left", fontsize=8.5, frameon=False, labelcolor=INK)
    _course(figure.add_axes((0.085, 0.09, 0.88, 0.18)), counts, course, factor, unit)
    figure.text(0.02, 0.965, title, color=INK, fontsize=12, fontweight="bold", va="center")
    words = f"how sure the peak is: {curves.shape[1]} draws of what nobody knows exactly, all at once"
    figure.text(0.02, 0.92, words, color=INK, fontsize=8.5, va="center")
    figure.savefig(stream, format="png", dpi=130)


def _stated(axes: Axes, drawn: Array, stated: float, margin: float, factor: float, system: UnitSystem) -> list[float]:
    """Marks of the boat as stated and with her margin, labelled; what they reach to. [W]"""
    if not isfinite(stated):
        return []
    marks: list[tuple[float, str, Any]] = [(stated, "as stated", (0, (5, 3)))]
    if margin > 1.0:
        marks.append((stated * margin, f"with {100.0 * (margin - 1.0):.3g} % margin", (0, (9, 2, 2, 2))))
    for i, (value, words, dashes) in enumerate(marks):
        below = 100.0 * float((drawn <= value).mean())
        axes.axvline(value * factor, color=INK, linewidth=1.3, linestyle=dashes)
        axes.text(
            value * factor, 6.0 + 17.0 * i, f" {words}\n {phrase(value, POWER, system)}\n {below:.0f} % stay below",
            color=INK, fontsize=8.5, va="bottom", bbox=BACKED, zorder=6, linespacing=1.15,
        )  # fmt: skip
    return [reach for value, *_ in marks for reach in (value, LABEL * value)]


def _course(axes: Axes, counts: Array, course: Array, factor: float, unit: str) -> None:
    plain_frame(axes)
    axes.grid(axis="y", color=PAPER, linewidth=0.9)
    last = float(course[-1]) * factor
    axes.axhspan(last * (1.0 - CLOSE), last * (1.0 + CLOSE), facecolor=FILLED, alpha=0.55, linewidth=0.0)
    axes.plot(counts, course * factor, color=INK, linewidth=1.6, marker=".", markersize=4)
    axes.set_xscale("log", base=2)
    ticks = [2**n for n in range(1, 20) if 2**n <= counts[-1]]
    axes.set_xticks(ticks, [str(tick) for tick in ticks])
    axes.minorticks_off()
    axes.set_xlim(counts[0], counts[-1] * 1.05)
    spread = max(float(np.abs(course * factor - last).max()), 2.5 * CLOSE * last)
    axes.set_ylim(last - 1.15 * spread, last + 1.15 * spread)
    axes.set_ylabel(f"P90, {unit}", color=INK, fontsize=9)
    axes.set_xlabel(f"draws counted   filled: within {100.0 * CLOSE:.0f} % of the last", color=INK, fontsize=9)


def _pull(design: Design, name: str, row: Any) -> Pull:
    number = next(i for i, one in enumerate(design.inputs) if one.name == name)
    spread = _spread(design.inputs[number], design.drawn[:, number])
    return Pull(name, spread, row["correlation"], not row["p_value"] < CHANCE, row["low"], row["high"])


def _spread(one: Input, drawn: Array) -> str:
    """The middle four fifths of what was drawn, in words."""
    if one.choices:
        return f"{one.choices[0]} … {one.choices[-1]}"
    low, high = np.quantile(drawn, (0.1, 0.9))
    if not one.kind:
        return f"{low:.3g} … {high:.3g}"
    ends = [text(float(value), one.kind, 3) for value in (low, high)]
    unit = ends[1].partition(" ")[2]
    return f"{ends[0].removesuffix(unit).strip()} … {ends[1]}"


def tornado(pulls: Sequence[Pull], draws: int, title: str, stream: IO[bytes], system: UnitSystem) -> None:
    """What moves the block's peak: of each input the tenth of draws with its lowest and with its highest values.

    Parameters
    ----------
    pulls : inputs, the strongest rank correlation first
    draws : int
        How many draws there are.
    """
    from matplotlib.figure import Figure

    factor, unit = power_scale(system)
    row, top, foot = 0.44, 1.25, 0.62
    wide, high = 9.4, top + row * len(pulls) + foot
    figure = Figure(figsize=(wide, high), facecolor=PAPER)
    left = 3.15
    axes = figure.add_axes((left / wide, foot / high, (wide - left - 1.15) / wide, row * len(pulls) / high))
    plain_frame(axes)
    axes.spines["left"].set_visible(False)
    axes.axvline(0.0, color=INK, linewidth=1.0, zorder=3)
    most = max(max(abs(pull.low), abs(pull.high)) for pull in pulls) * factor or 1.0
    for i, pull in enumerate(pulls):
        style: dict[str, Any] = {"height": 0.3, "edgecolor": INK, "alpha": 0.35 if pull.chance else None}
        axes.barh(i - 0.17, pull.low * factor, facecolor=PAPER, linewidth=1.0, **style)
        axes.barh(i + 0.17, pull.high * factor, facecolor=FILLED, hatch="///", linewidth=0.6, **style)
        words = f"{pull.correlation:+.2f}" + (" ?" if pull.chance else "")
        axes.text(1.03, i, words, transform=axes.get_yaxis_transform(), va="center", color=INK, fontsize=9)
        label: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "ha": "right", "va": "center", "color": INK}
        axes.text(-0.02, i - 0.19, plain(shortened(pull.name.partition(" (")[0], 40)), fontsize=8.5, **label)
        axes.text(-0.02, i + 0.21, plain(shortened(pull.spread, 46)), fontsize=7.5, **label)
    axes.set_ylim(len(pulls) - 0.4, -0.6)
    axes.set_xlim(-1.08 * most, 1.08 * most)
    axes.set_yticks([])
    axes.set_xlabel(f"{unit} above or below the mean of all draws", color=INK, fontsize=9)
    above = 1.0 + 0.12 / (row * len(pulls))
    axes.text(1.03, above, "rank\ncorrelation", transform=axes.transAxes, color=INK, fontsize=8)
    figure.text(0.15 / wide, 1.0 - 0.27 / high, title, color=INK, fontsize=12, fontweight="bold", va="center")
    words = (
        f"what moves the block's peak, {draws} draws   open: tenth of draws with the lowest (or first) values   "
        "filled: with the highest (or last)"
    )
    figure.text(0.15 / wide, 1.0 - 0.53 / high, words, color=INK, fontsize=8.5, va="center")
    words = "pale, ?: chance alone may have made it   small: range that holds the middle four fifths"
    figure.text(0.15 / wide, 1.0 - 0.75 / high, words, color=INK, fontsize=8.5, va="center")
    figure.savefig(stream, format="png", dpi=130)

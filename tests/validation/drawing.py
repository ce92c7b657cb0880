"""A picture for each family: ours against published, every row on its own scale.

A grey band reaches from the lowest to the highest value that agrees; the black dot is ours, an open diamond where it
lies outside, an arrow where it is far off. Rows that are only reported have no fill in their band.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

from .page import digits, published, scale
from .sheet import Row

EDGE = 2.0
UNITS = {"1": "", "degC": "°C"}
ROW_HEIGHT, MARGIN = 0.21, 1.0
"""[in]"""


def draw(rows: Sequence[Row], path: Path) -> None:
    """Draw the rows of one family."""
    import matplotlib as mpl

    mpl.use("Agg")
    import matplotlib.pyplot as plt
    from PIL import Image

    height = ROW_HEIGHT * len(rows) + MARGIN
    figure = plt.figure(figsize=(11.0, height), dpi=100)
    axes = figure.add_axes((0.43, 0.55 / height, 0.32, 1.0 - MARGIN / height))
    for y, row in enumerate(rows):
        half = scale(row)
        middle = (row.low + row.high) / 2.0
        at = (row.ours - middle) / half
        axes.barh(y, 2.0, left=-1.0, height=0.66, facecolor="0.85" if row.judged else "white", edgecolor="0.55", lw=0.6)
        far = abs(at) > EDGE
        shown = min(max(at, -EDGE), EDGE)
        marker = (">" if at > 0 else "<") if far else ("o" if row.inside else "D")
        axes.plot(
            shown, y, marker, ms=4.5, mfc="black" if row.inside else "white", mec="black", clip_on=False, zorder=3
        )
        axes.text(-EDGE - 0.25, y, _short(row.quantity), ha="right", va="center", fontsize=7)
        text = f"{published(row)}  |  {digits(row.ours, half)}  {UNITS.get(row.unit, row.unit)}"
        axes.text(EDGE + 0.25, y, text, ha="left", va="center", fontsize=7)
    axes.set(xlim=(-EDGE, EDGE), ylim=(len(rows) - 0.4, -0.6), yticks=[], xticks=(-1, 0, 1))
    axes.set_xticklabels(("lowest that\nagrees", "published", "highest that\nagrees"), fontsize=7)
    axes.axvline(0.0, color="0.3", lw=0.6, ls=":")
    for side in ("left", "right", "top"):
        axes.spines[side].set_visible(False)
    top = 1.0 - 0.2 / height
    figure.text(0.015, top, rows[0].family, ha="left", va="top", fontsize=11, fontweight="bold")
    figure.text(
        0.985,
        top,
        "● agrees   ◇ outside   ▷ far outside        published  |  ours        "
        "white bars are only reported, ± 10 % where no tolerance is given",
        ha="right",
        va="top",
        fontsize=8,
    )
    canvas = io.BytesIO()
    figure.savefig(canvas, format="png")
    plt.close(figure)
    Image.open(canvas).convert("L").quantize(16).save(path, optimize=True)  # a third of the size, to the eye the same


def _short(text: str) -> str:
    return text if len(text) <= 82 else text[:80] + " …"

"""A margin that is computed: how far the peaks of rooms reach, with what certainty, when every default is uncertain.

Instead of a blind percentage on the loads, every default that has a range is drawn from it (`draws`), the boat runs
with each draw on her design days at her worst heading, and a room's loads are raised to the peak that so many draws in
a hundred stay below.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from heatsim.equipment.needs import DESIGN_DAYS, Certainty
from heatsim.equipment.plan import Plan, loads_of, plan
from heatsim.errors import Fault, HeatsimError
from heatsim.loads.peaks import peaks
from heatsim.scenario import overrides
from heatsim.scenario import tree as trees
from heatsim.scenario.resolved import Resolved
from heatsim.study.batch import Case, Prepared, solve_cases
from heatsim.study.chunks import Worker
from heatsim.study.design import Design
from heatsim.study.file import DrawsText, Study
from heatsim.study.results import BLOCK, of_hours
from heatsim.study.units import units_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import xarray as xr

Array = npt.NDArray[np.float64]

DRAWS, SEED = 64, 1
"""Draws behind a margin: the peak that nine in ten stay below is then known within 2 % (docs/studies.md)."""


def sure_plan(file: Path, changes: Sequence[str], resolved: Resolved, loads: xr.Dataset | None = None) -> Plan:
    """`plan`, its loads raised to the certainty that the boat's terms ask for, if they do.

    Parameters
    ----------
    file : Path
        The scenario file `resolved` was made from, with `changes`, as for `read`: its defaults are what is drawn.
    loads : Dataset, optional
        Of `simulate` on this boat; simulated here unless given.

    Raises
    ------
    HeatsimError
        Where a margin for weather or load is declared too: it would count twice.
    """
    level = resolved.terms.certainty
    if level is None:
        return plan(resolved, loads)
    doubled = [name for name, share in resolved.terms.margins if share > 0.0 and name in ("weather", "load")]
    if doubled:
        raise HeatsimError(
            Fault(
                "stands instead of margins for weather and load, which would count twice", str(file),
                path="equipment.margin", value=f"p{round(100 * level)}", remedy=f"Leave out margins.{doubled[0]}",
            )
        )  # fmt: skip
    plain = loads_of(resolved) if loads is None else loads
    found = certainty(file, changes, level, plain)
    return replace(plan(resolved, found.raised(plain)), certainty=found)


def stated_peaks(design: Design, most: int | None = None) -> Array | None:
    """Largest peak of each room and, last, the block with every input as the boat's file states it or by default. [W]

    Over design days, or all there are where there is none; None for weather years, or where it would take more runs
    than `most`.
    """
    study = design.study.model_copy(update={"draws": None, "remedies": [], "leave_out": [], "set": {}})
    plainly = Design(study, design.tree, design.folder)
    if plainly.days == ("year",) or (most is not None and plainly.runs > most):
        return None
    headings = plainly.headings(slice(None))
    cases = [Case(*plainly.case(tuple(map(int, index)), headings)) for index in np.ndindex(*plainly.shape[:-1])]
    sizing = [i for i, kind in enumerate(plainly.days) if kind in DESIGN_DAYS] or list(range(len(plainly.days)))
    hours = np.arange(24.0)
    solved = solve_cases(cases, Prepared(study.step))
    each = [of_hours(days[i], plainly.days[i], hours)["peak"].max(axis=0) for days in solved for i in sizing]
    return np.asarray(np.max(each, axis=0))


def certainty(
    file: Path, changes: Sequence[str], level: float, loads: xr.Dataset,
    progress: Callable[[str, float], None] | None = None,
) -> Certainty:  # fmt: skip
    """Draw a boat's defaults and compare peaks.

    Parameters
    ----------
    file : Path
        The scenario file.
    changes : sequence of str
        As for `read`.
    level : float
        Share of draws that stay below. [-]
    loads : Dataset
        Of the boat as she stands, from `simulate`.
    progress : callable, optional
    """
    boat, _ = overrides.apply(trees.load(file), changes)
    days = [day for day in DESIGN_DAYS if any(str(name).split()[0] == day for name in loads["day"].values)]
    heading = float(peaks(loads)["heading"].xs(BLOCK, level="zone").iloc[0])
    place = {key: value for key, value in boat.value.get("place", {}).items() if key not in ("swing", "course")}
    boat.value["place"] = place | {"heading": f"{heading:g} deg"}
    draws = DrawsText(count=DRAWS, seed=SEED, defaults=True)
    study = Study(format=1, study="margin", boat=str(file), days=days or None, draws=draws)  # type: ignore[arg-type]
    design = Design(study, boat, file.resolve().parent)
    worker = Worker(design, units_of(design))
    found = []
    for number in range(len(worker.parts)):
        found.append(worker.solve(number)["peak"][0, :, 0])
        if progress is not None:
            progress("margin", (number + 1) / len(worker.parts))
    drawn = np.concatenate(found).max(axis=1)  # the worse of the design days
    stated = stated_peaks(design)
    assert stated is not None
    high = np.where(stated > 0.0, np.quantile(drawn, level, axis=0) / np.maximum(stated, 1e-9), 1.0)
    factors = dict(zip((*design.rooms, BLOCK), map(float, high), strict=True))
    return Certainty(level, DRAWS, len(design.inputs), factors)

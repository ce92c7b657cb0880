"""Everything a pack shows, worked out once: loads, plan, proof from every start, schedules, what to find out next.

The process beside takes what does not wait for the plan: the rose of headings, the remedies, the range of every
default; the pictures come after.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from heatsim.equipment.plan import Plan
from heatsim.equipment.proof import Proof
from heatsim.equipment.remedies import Remedy, remedies
from heatsim.equipment.shortfall import Shortfall, shortfall
from heatsim.handover.study_sheets import FinishedStudy, finished_study
from heatsim.loads.check import Check, check
from heatsim.report.amounts import UnitSystem
from heatsim.report.pictures import Drawing, block_by_heading, prepare_drawing, rose_drawing
from heatsim.report.plan_pictures import plan_drawings
from heatsim.report.planning import plannable
from heatsim.report.power_pictures import power_drawings
from heatsim.report.proof_page import proved
from heatsim.report.proof_pictures import proof_drawings
from heatsim.report.running import all_round
from heatsim.report.service_pictures import service_drawings
from heatsim.report.worker import Worker, result_or_here
from heatsim.scenario.model import Scenario
from heatsim.scenario.resolved import Resolved
from heatsim.services import Schedule, all_schedules
from heatsim.services.shore_verdict import shore_verdict

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

Array = npt.NDArray[np.float64]
Progress = Callable[[str, float], None]

FEW = 3
"""Headings of a run up to which the rose needs a run of its own."""
MOST_RANGED = 60
"""Zones and spaces up to which the boat is simulated at both ends of every default's range: beyond it takes minutes."""
STAGES = ("read", "loads", "plan", "proof", "services", "levers", "report", "files")
"""What a pack goes through, in order."""


@dataclass
class Clock:
    """Seconds spent in every stage, and a word to whoever waits."""

    progress: Progress | None = None
    seconds: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Time what is done inside."""
        if self.progress is not None:
            self.progress(name, STAGES.index(name) / len(STAGES))
        began = time.perf_counter()
        try:
            yield
        finally:
            self.seconds[name] = self.seconds.get(name, 0.0) + time.perf_counter() - began


class Pictures:
    """Pictures that are drawn beside from the moment they can be."""

    def __init__(self, worker: Worker) -> None:
        self._worker = worker
        self._begun: list[tuple[Drawing, Future[bytes]]] = []

    def begin(self, drawings: Iterable[Drawing]) -> None:
        """Have them drawn."""
        self._begun += [(drawing, self._worker.submit(drawing.png)) for drawing in drawings]

    def drawn(self) -> dict[str, bytes]:
        """All of them by file name; what the process beside has not begun is drawn here, the last ones first."""
        found = {drawing.file: result_or_here(future, drawing.png) for drawing, future in reversed(self._begun)}
        return {drawing.file: found[drawing.file] for drawing, _ in self._begun}


@dataclass(frozen=True)
class Results:
    """What a pack is made of. `proof`, `pulled` are None and `schedules` empty where no layout is possible.

    `system` is that of the report's units; `peak` is that of `loads.peaks`; `lacking` is of the units fitted already,
    None where there are none; `shore` says how the day's power stands to the socket, empty where there is none;
    `headings` [°] and `by_heading` [W] are the block's peak on the first day all round.
    """

    system: UnitSystem
    scenario: Scenario
    resolved: Resolved
    loads: xr.Dataset
    peak: pd.DataFrame
    made: Plan
    proof: Proof | None
    pulled: xr.Dataset | None
    schedules: tuple[Schedule, ...]
    checked: Check
    remedies: tuple[Remedy, ...]
    lacking: Shortfall | None
    headings: Array
    by_heading: Array
    study: FinishedStudy | None = None
    shore: str = ""

    @property
    def days(self) -> tuple[str, ...]:
        """Names of the days in the order of the scenario."""
        return tuple(str(day) for day in self.loads["day"].values)

    @property
    def sizing_day(self) -> str:
        """The design day of the largest block load; any day where there is no design day."""
        design = [day for day in self.days if not day.startswith("typical")] or list(self.days)
        return max(design, key=lambda day: float(self.peak.loc[(day, "block"), "total"]))  # type: ignore[arg-type]


def gather(
    file: Path, overrides: Sequence[str], units: UnitSystem | None, worker: Worker, pictures: Pictures, clock: Clock
) -> Results:
    """Work a scenario file through.

    Parameters
    ----------
    file : Path
    overrides : sequence of str
        As for `read`.
    units : {"si", "us", "both"} or None
        None takes those of the file's report part.
    worker : Worker
        Does its part beside, if it runs.
    pictures : Pictures
        Those that follow from the plan, its proof and its services are begun here.
    clock : Clock

    Raises
    ------
    HeatsimError
        For a faulty file, and for one no plan can be made of.
    """
    from heatsim.loads.peaks import peaks
    from heatsim.loads.simulate import simulate
    from heatsim.scenario.reading import read
    from heatsim.scenario.resolve import resolve
    from heatsim.study.certainty import sure_plan

    with clock.stage("read"):
        scenario = read(file, overrides)
        plannable(scenario, file)
        told = scenario.report.study
        study = None if told is None else finished_study(Path(told), scenario.yacht.name)
        resolved = resolve(scenario)
    system: UnitSystem = units or scenario.report.units
    rose = worker.submit(all_round, resolved) if len(resolved.place.headings) <= FEW else None
    ranged = len(resolved.zones) <= MOST_RANGED
    examined = worker.submit(examine, file, list(overrides), ranged)
    with clock.stage("loads"):
        loads = simulate(resolved)
        loads.attrs["overrides"] = json.dumps(list(overrides))
        peak = peaks(loads)
        heading = float(peak.loc[(peak.index[0][0], "block"), "heading"])
    helped = worker.submit(remedies, resolved, heading)
    worker.submit(prepare_drawing)
    with clock.stage("plan"):
        made = sure_plan(file, overrides, resolved, loads)
        lacking = shortfall(made, with_remedies=False) if resolved.terms.installed else None
        pictures.begin(plan_drawings(made, system))
    with clock.stage("proof"):
        run = proved(made)
        pictures.begin([] if run is None else proof_drawings(made, *run, system))
    with clock.stage("services"):
        schedules = () if run is None else all_schedules(made, run[0])
        pictures.begin([] if run is None else [*service_drawings(made, system), *power_drawings(made, run[0])])
    with clock.stage("levers"):
        round_her = block_by_heading(loads) if rose is None else result_or_here(rose, all_round, resolved)
        checked = result_or_here(examined, examine, file, list(overrides), ranged)
        levers = result_or_here(helped, remedies, resolved, heading)
        pictures.begin([rose_drawing(loads, *round_her, system)])
    proof, pulled = (None, None) if run is None else run
    return Results(
        system, scenario, resolved, loads, peak, made, proof, pulled, schedules, checked, tuple(levers), lacking,
        *round_her, study, "" if run is None else shore_verdict(made, run[0]),
    )  # fmt: skip


def examine(file: Path, overrides: Sequence[str], ranged: bool) -> Check:
    """The file checked, with the range of every default if wanted."""
    return check(file, overrides, leverage=ranged)

"""The proof: a plan's units run minute by minute on the hot and the humid day, with thermostats, starts and wet coils.

Each layout runs four times a day: settled (a day to settle, then the day that counts), baked (a closed boat in the
sun, everything switched on at a given hour), at full capacity all day, which shows at what temperature each zone
floats, and coasting: everything switched off late in the evening. All runs of a boat go through the same operators as
one batch. Sea water pumps run, where their power is given, while anything gives heat to the water.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from heatsim.equipment.baked import DesignDays, baked, controls, design_days
from heatsim.equipment.layouts import Layout
from heatsim.equipment.record import BAKED, COAST, FULL, SETTLED, Log, Record, Run, Start
from heatsim.equipment.running import Fleet, Working, fleet
from heatsim.equipment.summary import cautions, summary
from heatsim.equipment.surface import surfaces
from heatsim.equipment.thermostat import Thermostat
from heatsim.equipment.treatment import treated_air
from heatsim.equipment.wet_coil import PartLoad
from heatsim.errors import Fault, Finding, HeatsimError
from heatsim.loads.line import Line, one_blas_thread
from heatsim.scenario.resolved import Resolved
from heatsim.solve.driving import Driven

if TYPE_CHECKING:
    import xarray as xr

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]
Fan = Literal["continuous", "cycling"]

STARTS: tuple[Start, ...] = ("settled", "baked", "full", "coast")
NO_SETPOINT = -60.0
"""[°C] Of a thermostat that never switches off."""
USUAL, TYPICAL = Thermostat(), PartLoad()
AFTERNOON, EVENING = 15.0, 22.0
"""[h] At which a baked boat is switched on, and at which a coasting one is switched off."""


@dataclass(frozen=True)
class Proof:
    """A proof: one data set with dimensions run, zone, unit and time, and the cautions that belong to it.

    See `proof.summary` for its variables. `time` counts minutes from each run's start, whose clock is `start_minute`.
    """

    data: xr.Dataset
    cautions: tuple[Finding, ...]

    def of(self, layout: str, start: Start = "settled") -> xr.Dataset:
        """The runs of one layout from one kind of start, one for each day."""
        chosen = (self.data["layout"].values == layout) & (self.data["start"].values == start)
        return self.data.isel(run=np.flatnonzero(chosen))

    def latest_start(self, layout: str, day: str, comfortable_at: float) -> dict[str, float]:
        """When a baked boat must be switched on so that each zone is at its setpoint by an hour of the clock. [h]

        Among the hours that were proved; NaN where none of them is early enough.
        """
        part = self.of(layout, BAKED)
        part = part.isel(run=np.flatnonzero(part["day"].values == day))
        begin = part["start_minute"].values[:, None] / 60.0
        early = begin + part["pull_down"].values <= comfortable_at
        latest = np.where(early.any(axis=0), np.where(early, begin, -np.inf).max(axis=0, initial=-np.inf), np.nan)
        return {str(zone): float(hour) for zone, hour in zip(part["zone"].values, latest, strict=True)}


def prove(
    resolved: Resolved,
    layouts: Layout | Sequence[Layout],
    heading: float,
    *,
    fan: Fan | None = None,
    step: float = 60.0,
    hour: float | Sequence[float] = AFTERNOON,
    evening: float = EVENING,
    thermostat: Thermostat = USUAL,
    part_load: PartLoad = TYPICAL,
    starts: Sequence[Start] = STARTS,
    candidates: Sequence[Layout] = (),
    line: Line | None = None,
    days: DesignDays | None = None,
    settle: bool = True,
) -> Proof:
    """Run layouts of one boat minute by minute on its hot and humid day.

    Parameters
    ----------
    resolved : Resolved
    layouts : Layout or sequence of Layout
        Impossible ones are left out.
    heading : float
        True bearing of the bow. [°]

    Other Parameters
    ----------------
    fan : {"continuous", "cycling"}, optional
        Whether fans run on while the compressor pauses; as the boat's terms say unless given.
    step : float
        [s] Goes into 900 s.
    hour : float or sequence of float
        Clock at which a baked boat is switched on; with several, one run for each. [h]
    evening : float
        Clock at which a coasting boat is switched off. [h]
    thermostat : Thermostat
    part_load : PartLoad
    starts : sequence of {"settled", "baked", "full", "coast"}
    candidates : sequence of Layout
        Others that go through the same batch only from a baked boat, to be compared; no caution is given for them.
    line : Line, optional
        Of the design days at this heading in steps of 900 s, such as `holding.Reruns.line`; made here unless given.
    days : DesignDays, optional
        Of `baked.design_days` with this heading and step; made here unless given.
    settle : bool
        Whether a day to settle goes before the day that counts; without it that day begins from ideal control.

    Returns
    -------
    Proof

    Raises
    ------
    HeatsimError
        Where no layout is possible, or the step does not fit.
    """
    able = [one for one in ([layouts] if isinstance(layouts, Layout) else layouts) if one.possible and one.offers]
    if not able:
        rule = "nothing can be proved without a possible layout"
        raise HeatsimError(Fault(rule, path="layouts", remedy="Relax one of the limits that the plan names"))
    with one_blas_thread():
        days = design_days(resolved, heading, step, line) if days is None else days
        hours = [hour] if isinstance(hour, float | int) else list(hour)
        dawns = _dawns(days, hours, evening, settle)
        cases = [(layout, start) for layout in able for start in starts] + [(one, BAKED) for one in candidates]
        runs, chosen, which = _runs(cases, days, dawns)
        record, units = _carry(
            days, runs, chosen, which, (fan or resolved.terms.fan) == "continuous", step, thermostat, part_load
        )
    data = summary(days, runs, units, record, which, step, thermostat)
    own = len(runs) - len(candidates) * len(hours) * len(days.days)
    return Proof(data, cautions(data.isel(run=slice(0, own))))


def _dawns(
    days: DesignDays, hours: Sequence[float], evening: float, settle: bool
) -> dict[Start, list[tuple[int, int]]]:
    """First step on the clock, and the step from which the day counts, of every kind of start."""
    before = days.steps if settle else 0
    return {
        SETTLED: [(0, before)],
        FULL: [(0, before)],
        BAKED: [(days.at(hour), 0) for hour in hours],
        COAST: [(0, days.at(evening))],
    }


def _runs(
    cases: Sequence[tuple[Layout, Start]], days: DesignDays, dawns: dict[Start, list[tuple[int, int]]]
) -> tuple[list[Run], list[Layout], Indices]:
    """Every run, its layout, and which day it is."""
    runs, chosen, which = [], [], []
    for layout, start in cases:
        for i, day in enumerate(days.days):
            for first, counted in dawns[start]:
                runs.append(Run(layout.name, day.kind, start, first, counted))
                chosen.append(layout)
                which.append(i)
    return runs, chosen, np.array(which)


def _carry(
    days: DesignDays, runs: list[Run], layouts: list[Layout], which: Indices, always: bool, step: float,
    thermostat: Thermostat, part_load: PartLoad,
) -> tuple[Record, Fleet]:  # fmt: skip
    """Step the whole batch over its day to settle and the day that counts."""
    zones, day = len(days.line.zones), days.steps
    seas = [float(days.weathers[i].sea.mean()) for i in which]
    units = fleet(layouts, seas, days.line.zones)
    terms = days.resolved.terms
    tables = surfaces(units.kinds, terms, days.weathers[0].pressure)
    working = Working(units, tables, thermostat, part_load, terms.duct_gain, always, step)
    steps = max(run.counted for run in runs) + day
    first, counted = np.array([run.first for run in runs]), np.array([run.counted for run in runs])
    full = np.array([run.start == FULL for run in runs])[:, None]
    heat_state, wet_state = _start(days, runs, which)
    heat = Driven(days.operators, days.heat, heat_state, which, first, steps)
    wet = Driven(days.moisture_operators, days.moisture, wet_state, which, first, steps)
    setpoint, allowed = controls(days)
    origin = days.origin[which][:, None]
    coasts = np.array([run.start == COAST for run in runs])
    apart = [replace(one, treated=None) if off else one for one, off in zip(layouts, coasts, strict=True)]
    fresh = treated_air(days, apart, which)
    log = Log(units, len(runs), zones, day, counted, terms.sea_pump)
    unseen = np.full((len(runs), zones), np.nan)
    for k in range(steps):
        clock = (first + k) % day
        reading, ratio = heat.reading(), wet.reading() + origin
        air, operative, read = (reading[:, i * zones : (i + 1) * zones] for i in range(3))
        coldest = np.minimum.reduceat(reading[:, 3 * zones :], days.skins, axis=1) if len(days.skins) else unseen
        fresh_heat, fresh_vapour, beside = fresh.at(clock)
        log.open(k, (air, operative, read, ratio, coldest), working)
        goal = np.where(full, NO_SETPOINT, setpoint[clock])
        flows = working.step(air, ratio, read, goal, allowed[clock] & ~(coasts & (k >= counted))[:, None], beside)
        q, vapour = working.to_zones(zones)
        q, vapour = q + fresh_heat, vapour + fresh_vapour
        heat.step(q)
        wet.step(vapour)
        log.close(k, flows, q, vapour, working)
    return log.record(step, first + counted, fresh), units


def _start(days: DesignDays, runs: list[Run], which: Indices) -> tuple[Array, Array]:
    heat, wet = days.settled[0][which].copy(), days.settled[1][which].copy()
    hot = [i for i, run in enumerate(runs) if run.start == BAKED]
    if hot:
        steps = sorted({runs[i].first for i in hot})
        baked_heat, baked_wet = baked(days, [24.0 * step / days.steps for step in steps])
        place = np.array([steps.index(runs[i].first) for i in hot])
        heat[hot], wet[hot] = baked_heat[place, which[hot]], baked_wet[place, which[hot]]
    return heat, wet

"""From which states a proof starts and what drives it: the design days in fine steps, settled or baked.

Baked is the same boat closed and off, periodic on that day: nobody aboard, cooling and fans off, hatches and blowers
closed. What leaks in still leaks in; lights, equipment and vapour stay all day at the least of their routines, so that
what is always switched on still is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from heatsim.climate.days import design_weather
from heatsim.climate.weather import Weather, routine_values
from heatsim.equipment.needs import DESIGN_DAYS
from heatsim.errors import Fault, HeatsimError
from heatsim.loads.line import Line, make_line, solve_days
from heatsim.scenario.resolved import OUTDOORS, Day, Resolved, Routine, Zone
from heatsim.solve.base import Advanced
from heatsim.solve.driving import Course, course
from heatsim.solve.operators import Operators, prepare_again

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

COARSE = 900.0
"""[s] Step of the days that drive the fine ones: loads are within 0.1 % of those by 300 s."""
NEVER = Routine("never", (0,), (0.0,))


@dataclass(frozen=True)
class DesignDays:
    """The design days of a boat at one heading, ready to be driven in fine steps.

    `heat` watches the air, the operative temperature and what thermostats read, (3 zone) rows, then the inside skins,
    zone by zone from `skins` (zone,) on, which is empty where none are watched; `moisture` the humidity ratio above
    `origin` (day,). `settled` holds states at midnight of the day under ideal control, heat (day, massive node) and
    moisture (day, zone).
    """

    resolved: Resolved
    line: Line
    days: tuple[Day, ...]
    operators: Operators
    moisture_operators: Operators
    heat: Course
    moisture: Course
    origin: Array
    settled: tuple[Array, Array]
    skins: Indices

    @property
    def weathers(self) -> tuple[Weather, ...]:
        """Of the days, in coarse steps."""
        return self.line.weathers

    @property
    def steps(self) -> int:
        """Of a day."""
        return int(self.heat.regime.shape[1])

    def at(self, hour: float) -> int:
        """Step that begins at an hour of the clock."""
        return round(hour / 24.0 * self.steps) % self.steps


def design_days(
    resolved: Resolved, heading: float, step: float, line: Line | None = None, with_skins: bool = True
) -> DesignDays:
    """Solve the design days under ideal control and refine what drives them.

    Drivers run straight within a coarse step, so the fine ones are exactly the same.

    Parameters
    ----------
    heading : float
        True bearing of the bow. [°]
    step : float
        [s] Goes into 900 s.
    line : Line, optional
        Of these days at this heading in coarse steps.
    with_skins : bool
        Whether inside skins are watched, half the work of reading a step off.

    Raises
    ------
    HeatsimError
        Where it does not.
    """
    parts = round(COARSE / step)
    if parts < 1 or abs(parts * step - COARSE) > 1e-9:
        raise HeatsimError(
            Fault(
                "the step of a proof must go into 900 s", path="step", value=f"{step:g} s", remedy="Take 60 s or 30 s"
            )
        )
    days = tuple(day for day in resolved.days if day.kind in DESIGN_DAYS) or resolved.days
    resolved = replace(resolved, days=days, place=replace(resolved.place, headings=(heading,)))
    if line is None:
        line = make_line(resolved, tuple(design_weather(resolved, day, COARSE) for day in days))
    solved = solve_days(line, np.array([heading]))
    rows, skins = inside_skins(line)
    if not with_skins:
        rows, skins = rows[:0], skins[:0]
    operators, moisture_operators = (
        prepare_again(known, step) for known in (line.heat_operators, line.moisture_operators)
    )
    regime = np.repeat(np.stack([stretch.number for stretch in solved]), parts, axis=1)
    heat_u = np.concatenate([stretch.heat_u for stretch in solved], axis=1)
    moist_u = np.concatenate([stretch.moisture_u for stretch in solved], axis=1)
    return DesignDays(
        resolved, line, days, operators, moisture_operators,
        course(operators, *refined(heat_u, parts), regime, np.vstack([watched(line), rows])),
        course(moisture_operators, *refined(moist_u, parts), regime, np.eye(len(line.zones))),
        np.array([stretch.moisture_origin for stretch in solved]),
        (np.concatenate([s.heat_first for s in solved]), np.concatenate([s.moisture_first for s in solved])),
        skins,
    )  # fmt: skip


def controls(days: DesignDays) -> tuple[Array, npt.NDArray[np.bool_]]:
    """Cooling setpoint [°C] and whether cooling is switched on at each step of the clock, (step, zone)."""
    return controls_of(days.resolved, days.line.zones, days.steps)


def controls_of(resolved: Resolved, zones: Sequence[str], steps: int) -> tuple[Array, npt.NDArray[np.bool_]]:
    """The same of any boat, for simulated spaces in order and steps a day."""
    minute = np.arange(steps) * 1440 // steps
    shape = (steps, len(zones))
    setpoint, allowed = np.full(shape, 24.0), np.zeros(shape, dtype=bool)
    by_name: dict[str, Any] = {zone.name: zone for zone in resolved.zones}
    for i, name in enumerate(zones):
        control = by_name[name].control
        if control is not None:
            setpoint[:, i] = routine_values(control.cooling_setpoint, minute)
            allowed[:, i] = routine_values(control.cooling_on, minute) > 0.0
    return setpoint, allowed


def baked(days: DesignDays, hours: Sequence[float]) -> tuple[Array, Array]:
    """States of the closed boat at hours of the clock, heat (hour, day, node) and moisture (hour, day, zone)."""
    resolved = closed(days.resolved)
    line = make_line(resolved, tuple(design_weather(resolved, day, COARSE) for day in days.days))
    if line.heat.nodes != days.line.heat.nodes:
        raise AssertionError("closing a boat must not change its nodes")
    solved = solve_days(line, np.array(resolved.place.headings))
    steps = round(86400.0 / COARSE)
    heat, wet = [], []
    for hour in hours:
        k = round(hour * 3600.0 / COARSE) % steps
        heat.append(np.stack([_state(line.heat_operators, one.heat, one.number, k) for one in solved]))
        vapour = np.stack([_state(line.moisture_operators, one.moisture, one.number, k) for one in solved])
        wet.append(vapour + (np.array([one.moisture_origin for one in solved]) - days.origin)[:, None])
    return np.stack(heat), np.stack(wet)


def closed(resolved: Resolved) -> Resolved:
    """The same boat closed and off."""
    shut = ("fresh_air", "extract", "transfer")
    return replace(
        resolved,
        zones=tuple(_off(zone) for zone in resolved.zones),
        flows=tuple(replace(flow, routine=NEVER) if flow.kind in shut else flow for flow in resolved.flows),
        openings=tuple(
            replace(one, routine=NEVER) if OUTDOORS in (one.first, one.second) else one for one in resolved.openings
        ),
    )


def _off(zone: Zone) -> Zone:
    control = zone.control
    if control is not None:
        control = replace(control, cooling_on=NEVER, heating_on=NEVER)
    return replace(
        zone,
        control=control,
        fan_on=NEVER,
        people=tuple(replace(people, routine=NEVER) for people in zone.people),
        gains=tuple(replace(gain, routine=_least(gain.routine)) for gain in zone.gains),
        moisture=tuple(replace(source, routine=_least(source.routine)) for source in zone.moisture),
    )


def _least(routine: Routine) -> Routine:
    return Routine(f"least of {routine.name}", (0,), (min(routine.values),))


def _state(operators: Operators, advanced: Advanced, number: Indices, k: int) -> Array:
    """State at the start of a step as temperatures (or humidity ratios) of the massive nodes."""
    return np.asarray(advanced.begun(k)[0] @ operators.regimes[number[k]].from_modes.T)


def refined(u: Array, parts: int) -> tuple[Array, Array]:
    """Drivers (2, course, step, driver) at both ends of steps so many times finer."""
    share = np.arange(parts + 1) / parts
    start, rise = u[0][:, :, None], (u[1] - u[0])[:, :, None]
    at = start + share[None, None, :, None] * rise
    shape = (u.shape[1], u.shape[2] * parts, u.shape[3])
    return at[:, :, :-1].reshape(shape), at[:, :, 1:].reshape(shape)


def watched(line: Line) -> Array:
    """Rows that read the air, the operative temperature and the thermostat of every zone, (3 zone, node)."""
    zones, nodes = len(line.zones), len(line.heat.nodes)
    air, operative = np.zeros((zones, nodes)), np.zeros((zones, nodes))
    air[np.arange(zones), line.heat.supplied] = 1.0
    operative[np.arange(zones), line.heat.supplied] += 0.5
    operative[np.arange(zones), line.heat.notes["radiant"].astype(int)] += 0.5
    return np.vstack([air, operative, line.heat.controlled])


def inside_skins(line: Line) -> tuple[Array, Indices]:
    """Rows that read every zone's air and then its inside skins, zone by zone, and where each zone's begin."""
    names = {name: node for node, name in enumerate(line.heat.nodes)}
    nodes: list[int] = []
    first: list[int] = []
    for i, zone in enumerate(line.zones):
        first.append(len(nodes))
        nodes.append(int(line.heat.supplied[i]))
        for face in line.resolved.faces:
            sides = (("inside", face.zone), ("outside", face.beyond))
            nodes += [names[skin] for side, end in sides if end == zone and (skin := f"{face.name} {side}") in names]
    rows = np.zeros((len(nodes), len(names)))
    rows[np.arange(len(nodes)), nodes] = 1.0
    return rows, np.array(first)

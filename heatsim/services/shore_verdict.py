"""How the day's power stands to the shore socket: how far over it, when, and what to switch off to stay below.

The running power is that of the minute-by-minute proof in means of a quarter of an hour, household included; what the
socket carries without end is 80 % of its rating at the dock's lowest voltage.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from heatsim.climate.weather import routine_values
from heatsim.equipment.plan import Plan
from heatsim.equipment.proof import Proof
from heatsim.scenario.courses import QUARTER
from heatsim.scenario.electrics import HOUSEHOLD_FACTOR, carries
from heatsim.services.draws import by_quarters, draws, settled_runs
from heatsim.services.electrical import clock

LEAST = 100.0
"""[W] Of household equipment worth switching off."""
MOST_NAMED = 3
"""Loads named at most; more than that is no advice."""


def shore_verdict(plan: Plan, proof: Proof) -> str:
    """The sentence that belongs under the picture of the day's power; empty where the boat names no socket.

    Parameters
    ----------
    plan : Plan
        With a chosen layout.
    proof : Proof
        Of that layout.
    """
    socket = plan.resolved.power.shore
    if socket is None:
        return ""
    there = carries(socket)
    courses = {str(proof.data["day"].values[run]): np.abs(by_quarters(plan, proof, run))
               for run in settled_runs(plan, proof)}  # fmt: skip
    day = max(courses, key=lambda name: float(courses[name].max()))
    most, at = float(courses[day].max()), int(courses[day].argmax())
    if most <= there:
        return f"Within the {socket.name} socket all day: at most {_kva(most)} of the {_kva(there)} it carries."
    return (
        f"OVER the {socket.name} socket: {_kva(most)} at {clock(at * QUARTER / 60.0)} of the {day} day where it "
        f"carries {_kva(there)}, {_kva(most - there)} too much. Above it {_times(courses[day] > there)}. "
        f"{_to_switch_off(plan, at, most - there)}"
    )


def _kva(amount: float) -> str:
    return f"{amount / 1e3:.1f} kVA"


def _times(over: npt.NDArray[np.bool_]) -> str:
    """The stretches of the clock in which it is so, and how long they are together."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], over, [False]]).astype(int)))
    stretches = [(int(first), int(last)) for first, last in zip(edges[::2], edges[1::2], strict=True)]
    told = sorted(sorted(stretches, key=lambda one: one[0] - one[1])[:MOST_NAMED])
    hours = float(over.sum()) * QUARTER / 60.0
    said = ", ".join(f"{clock(a * QUARTER / 60.0)} to {clock(b * QUARTER / 60.0)}" for a, b in told)
    more = len(stretches) - len(told)
    return f"for {hours:.3g} h: {said}" + (f" and {more} shorter times" if more else "")


def _to_switch_off(plan: Plan, quarter: int, excess: float) -> str:
    """What brings that quarter of an hour below the limit: household first, else units that may wait."""
    minutes = quarter * QUARTER + np.arange(QUARTER)
    household = [] if plan.resolved.power.other_load is not None else [
        (gain.power * float(routine_values(gain.routine, minutes).mean()), f"{gain.name} in {zone.name}")
        for zone in plan.resolved.zones if not zone.is_space
        for gain in zone.gains if gain.kind == "equipment"
    ]  # fmt: skip
    things = _enough([(power, name) for power, name in household if power >= LEAST], excess * HOUSEHOLD_FACTOR)
    units = _enough([(one.active, f"the unit of {' + '.join(one.zones) or one.name}") for one in draws(plan)],
                    excess)  # fmt: skip
    ways = [f"switch off {things}"] if things else []
    ways += [f"let {units} wait"] if units else []
    if not ways:
        return "No three loads are enough to stay below it: take a larger socket, a second one or the generator."
    return f"To stay below it then, {', or '.join(ways)}."


def _enough(loads: list[tuple[float, str]], excess: float) -> str:
    """The smallest single load that is enough, else the largest few together; empty where they are not."""
    single = min((load for load in loads if load[0] >= excess), default=None)
    chosen = [single] if single else sorted(loads, reverse=True)[:MOST_NAMED]
    for count in range(1, len(chosen) + 1):
        if sum(power for power, _ in chosen[:count]) >= excess:
            return " and ".join(f"{name} ({power / 1e3:.1f} kW)" for power, name in chosen[:count])
    return ""

"""Ducts of fresh-air units: outdoor air, cooled and dried apart, from the unit to each room that asks for it.

Each room's flow is what the scenario gives it, so that a damper takes up what its run does not lose: runs are sized by
speed and held against the static, not balanced against each other. Friction and heat gain are those of `ducts`.
"""

from __future__ import annotations

from dataclasses import replace

from heatsim.equipment.plan import Plan
from heatsim.errors import Finding
from heatsim.services.air import treated_air
from heatsim.services.ducts import BENDS, COMFORT, INSULATION, LENGTH, STATIC, Fitted, assumed_runs, carried, sleeping
from heatsim.services.schedule import Assumed, Cell
from heatsim.services.surroundings import VOID, Around
from heatsim.services.units import given


def outdoor_ducts(plan: Plan, around: dict[str, Around]) -> tuple[list[tuple[Cell, ...]], list[Finding], list[Assumed]]:
    """Rows of the ducts' schedule, findings and assumptions; nothing where no fresh-air unit is chosen."""
    made = treated_air(plan)
    if made is None:
        return [], [], []
    rows: list[tuple[Cell, ...]] = []
    found: list[Finding] = []
    assumed: list[Assumed] = []
    available, whole = given(plan).available_static or STATIC, sum(made.flows.values())
    for zone, flow in made.flows.items():
        runs = [replace(one, name=f"outdoor air, {one.name}") for one in assumed_runs(plan, zone, flow)]
        each = flow / len(runs)
        for one in runs:
            run = _warmed(replace(one, flow=each, drop=one.run.drop(each)), made.supply, made.heat_rate * each / whole,
                          around)  # fmt: skip
            rows.append((
                zone, made.label, run.name, run.run.bore, run.run.length, run.run.bends, each, 1.0,
                run.run.speed(each), run.run.gradient(each), run.drop, run.insulation, run.gain, run.supply,
            ))  # fmt: skip
            if run.surface < run.around.dew_point:
                found.append(Finding(
                    "duct-sweats", f"services.ducts.{zone}.{run.name}", "its outside is colder than the dew point "
                    "around it and drips: thicker insulation with a tight vapour barrier", f"{run.surface:.1f} °C",
                    f"{run.around.dew_point:.1f} °C", "heat flow through the insulation",
                ))  # fmt: skip
        assumed.append(Assumed(
            f"outdoor-air ducts to {zone}", f"{len(runs)} × {1e3 * runs[0].run.bore:.0f} mm flexible, {LENGTH:g} m, "
            f"{BENDS} bends, {1e3 * INSULATION:.0f} mm insulation, in its joinery ({VOID:.0f} K above the room)",
            f"trade size at {COMFORT[sleeping(plan, zone)]:g} m/s; length and bends assumed",
        ))  # fmt: skip
    highest = max((float(row[10] or 0.0) for row in rows), default=0.0)
    if highest > available:
        found.append(Finding(
            "static-short", "outdoor air", "a duct asks for more than the fresh-air unit's fan has",
            f"{highest:.0f} Pa", f"{available:.0f} Pa", "friction of ducts, fluids library",
        ))  # fmt: skip
    return rows, found, assumed


def _warmed(one: Fitted, sent: float, rate: float, around: dict[str, Around]) -> Fitted:
    """A run with its air: `sent` °C into it, `rate` W/K of it."""
    room = around.get(one.zone, Around(sent, sent))
    return carried(one, sent, rate, Around(room.temperature + VOID, room.dew_point))

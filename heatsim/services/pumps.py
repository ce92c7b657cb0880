"""What pumps take: each at the duty where its curve meets its pipes, so that power and water tell the same story.

Electrical input is hydraulic power, ρ·g·head·flow, over the efficiency of pump and motor together. A sea water pump is
shared out to its units by the water that each gets.
"""

from __future__ import annotations

from heatsim.equipment.plan import Plan
from heatsim.equipment.selection import SEA_EFFICIENCY
from heatsim.physics.openings import GRAVITY
from heatsim.scenario.electrics import PUMP_FACTOR
from heatsim.services.chilled_water import loop_duty
from heatsim.services.circuits import circuits
from heatsim.services.friction import Fluid
from heatsim.services.schedule import Assumed
from heatsim.services.units import chosen

LOOP_EFFICIENCY = 0.40
"""[-] Of the pump of a chilled-water loop, motor included (assumed)."""


def electrical(flow: float, head: float, fluid: Fluid, efficiency: float) -> float:
    """Electrical input of a pump. [W]

    Parameters
    ----------
    flow : float
        [m³/s]
    head : float
        Of the fluid itself. [m]
    fluid : Fluid
    efficiency : float
        Of pump and motor together. [-]
    """
    return fluid.density * GRAVITY * head * flow / efficiency


def sea_pumps(plan: Plan) -> dict[tuple[str, ...], float]:
    """What one unit's share of the sea water pumps takes, by what the unit serves: as entered, else by the duty. [W]"""
    found: dict[tuple[str, ...], float] = {}
    made, _ = circuits(plan)
    entered = plan.resolved.terms.sea_pump
    if entered > 0.0:
        whole = sum(circuit.wanted for circuit in made)
        for circuit in made:
            found |= {branch.unit.serves: entered * branch.wanted / whole for branch in circuit.branches}
        return found
    for circuit in made:
        duty = circuit.duty()
        power = electrical(duty.flow, max(duty.head, 0.0), circuit.fluid, SEA_EFFICIENCY)
        for branch, flow in zip(circuit.branches, duty.branches, strict=True):
            found[branch.unit.serves] = power * flow / duty.flow if duty.flow > 0.0 else 0.0
    return found


def loop_pump(plan: Plan) -> float:
    """What the pump of a central plant's loop takes with all coils open; 0 without a plant. [W]"""
    if chosen(plan).plant is None:
        return 0.0
    flow, head, fluid = loop_duty(plan)
    return electrical(flow, head, fluid, LOOP_EFFICIENCY)


def assumed(plan: Plan) -> tuple[Assumed, ...]:
    """What was taken of pumps where nobody said it."""
    by_duty = f"{100 * SEA_EFFICIENCY:.0f} % with the motor at the duty of the sea water's schedule, "
    entered = plan.resolved.terms.sea_pump > 0.0
    found = [Assumed("sea water pumps", ("" if entered else by_duty) + f"power factor {PUMP_FACTOR:g}")]
    if chosen(plan).plant is not None:
        value = f"{100 * LOOP_EFFICIENCY:.0f} % with the motor, all coils open"
        found.append(Assumed("pump of the chilled-water loop", value))
    return tuple(found)

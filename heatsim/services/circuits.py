"""Sea water circuits as flow: a pump, what all its water passes, and one branch for every unit it feeds.

Heads in metres of the water itself above the waterline. Branches begin at one manifold: their flows are those at which
pump, common part and branches agree. A branch rises to its highest point, where air breaks the siphon.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatsim.equipment.plan import Plan
from heatsim.physics.openings import GRAVITY
from heatsim.scenario.services import BranchText, CircuitText
from heatsim.services.friction import Fluid, Run, bore_for, water
from heatsim.services.schedule import Assumed
from heatsim.services.units import Rejecting, given, rejecting

HOSES = (0.013, 0.016, 0.019, 0.025, 0.032, 0.038, 0.051, 0.063, 0.076, 0.102)
"""[m] Trade sizes of hose and skin fitting, 1/2 to 4 in (common practice, no source)."""
SUCTION_SPEED, HOSE_SPEED = 1.5, 2.0
"""[m/s] Most in skin fitting and suction hose, and in a unit's hose (common practice, no source)."""
ROUGHNESS = 5e-5
"""[m] Of hose with some growth (assumed)."""
SUCTION_LENGTH, SUCTION_BENDS, BRANCH_BENDS = 3.0, 4, 6
"""[m], and bends (assumed)."""
HIGHEST, OUTLET = 0.5, 0.2
"""[m] Above the waterline (assumed)."""
STRAINER, CONDENSER = 3e3, 25e3
"""[Pa] Clean at the whole flow; a condenser at its rated flow (assumed)."""
SEACOCK, INLET, END = 0.2, 0.57, 1.0
"""[-] Loss factors of a full-bore ball valve with its strum, a sharp entry and a free end (from memory, Rennels)."""
SHUT_OFF = 1.3
"""[-] Head of a pump that nobody entered with its outlet shut over that at its duty (assumed)."""
UNNAMED = "sea water"


@dataclass(frozen=True)
class Branch:
    """The way of one of `unit.count` like units: hose with its condenser, lift to its highest point [m].

    `wanted` is what one should get [m³/s], `extra` the loss of condenser and valve [Pa/(m³/s)²].
    """

    unit: Rejecting
    run: Run
    lift: float
    extra: float
    wanted: float

    def flow(self, manifold: float) -> float:
        """What one gets at a head of the manifold. [m³/s]"""
        return self.run.flow_at((manifold - self.lift) * self.run.fluid.density * GRAVITY, self.extra)

    def head(self, flow: float) -> float:
        """Head it asks of the manifold. [m]"""
        return self.lift + self.run.fluid.head(self.run.drop(flow) + self.extra * flow**2)


@dataclass(frozen=True)
class Circuit:
    """One pump: its curve as flows [m³/s] and heads [m], the common run, the strainer's loss [Pa/(m³/s)²], branches."""

    name: str
    text: CircuitText
    fluid: Fluid
    suction: Run
    through_hull: float
    strainer: float
    branches: tuple[Branch, ...]
    curve: tuple[tuple[float, float], ...]
    entered: bool

    @property
    def wanted(self) -> float:
        """What all units together should get. [m³/s]"""
        return sum(one.unit.count * one.wanted for one in self.branches)

    def common(self, flow: float, opened: float = 1.0) -> float:
        """Head lost from the sea to the manifold with the strainer open to a share. [m]"""
        return self.fluid.head(self.suction.drop(flow) + self.strainer / opened**2 * flow**2)

    def pump(self, flow: float) -> float:
        """Head of the pump; beyond its last point its last slope goes on. [m]"""
        flows, heads = (np.array(values) for values in zip(*self.curve, strict=True))
        if flow <= flows[-1]:
            return float(np.interp(flow, flows, heads))
        return float(heads[-1] + (heads[-1] - heads[-2]) / (flows[-1] - flows[-2]) * (flow - flows[-1]))

    def duty(self, opened: float = 1.0) -> Duty:
        """Where pump and pipes agree with the strainer open to a share."""
        from scipy.optimize import brentq

        def spare(flow: float) -> float:
            manifold = self.pump(flow) - self.common(flow, opened)
            return sum(one.unit.count * one.flow(manifold) for one in self.branches) - flow

        if spare(0.0) <= 0.0:  # the pump does not lift the water to any unit
            return Duty(0.0, self.pump(0.0), tuple(0.0 for _ in self.branches))
        flow = float(brentq(spare, 0.0, _most(self), rtol=1e-12))
        manifold = self.pump(flow) - self.common(flow, opened)
        return Duty(flow, self.pump(flow), tuple(one.flow(manifold) for one in self.branches))


@dataclass(frozen=True)
class Duty:
    """What a pump moves [m³/s], its head [m], and what one unit of each branch gets [m³/s]."""

    flow: float
    head: float
    branches: tuple[float, ...]


def _most(circuit: Circuit) -> float:
    """A flow at which the pump has no head left. [m³/s]"""
    most = circuit.curve[-1][0]
    while circuit.pump(most) > 0.0:
        most *= 1.5
    return most


def circuits(plan: Plan) -> tuple[tuple[Circuit, ...], tuple[Assumed, ...]]:
    """Every circuit of the chosen layout, units that none names together in one more; and what was assumed."""
    fluid = sea(plan)
    left = list(rejecting(plan))
    found: list[Circuit] = []
    assumed: list[Assumed] = []
    if "salinity" not in given(plan).seawater.model_fields_set:
        assumed.append(Assumed("salt of the water", f"{given(plan).seawater.salinity:g} g/kg, as the oceans"))
    for text in given(plan).seawater.circuits:
        fed = [unit for unit in left if set(unit.serves) & set(text.serves)]
        left = [unit for unit in left if unit not in fed]
        if fed:
            found.append(_circuit(plan, text, fed, fluid, assumed))
    if left:
        serves = [zone for unit in left for zone in unit.serves]
        assumed.append(Assumed(f"circuit of {', '.join(serves)}", "one pump for all units that no circuit names"))
        found.append(_circuit(plan, CircuitText(name=UNNAMED, serves=serves), left, fluid, assumed))
    return tuple(found), tuple(assumed)


def sea(plan: Plan) -> Fluid:
    """The water she floats in, at the temperature she is planned for."""
    return water(plan.needs.sea, given(plan).seawater.salinity)


def _circuit(
    plan: Plan, text: CircuitText, fed: list[Rejecting], fluid: Fluid, assumed: list[Assumed]
) -> Circuit:  # fmt: skip
    name = text.name

    def usual(value: float | None, default: float, what: str, unit: str, factor: float, source: str) -> float:
        if value is None:
            assumed.append(Assumed(f"{name}: {what}", f"{default * factor:.3g} {unit}", source))
            return default
        return value

    whole = sum(unit.count * _wanted(plan, unit) for unit in fed)
    by_speed = f"trade size at {SUCTION_SPEED:g} m/s"
    bore = bore_for(whole, SUCTION_SPEED, HOSES)
    through = usual(text.through_hull, bore, "skin fitting and seacock", "mm", 1e3, by_speed)
    hose = usual(text.suction_hose, bore, "suction hose", "mm", 1e3, by_speed)
    length = usual(text.suction_length, SUCTION_LENGTH, "length to the manifold", "m", 1.0, "assumed")
    clean = usual(text.strainer_loss, STRAINER, "loss of the clean strainer", "kPa", 1e-3, "assumed")
    assumed.append(Assumed(f"{name}: bends of the suction", f"{SUCTION_BENDS}"))
    if text.rises_all_the_way is None:
        assumed.append(Assumed(f"{name}: pipes", "rise all the way from inlet to unit"))
    losses = (INLET + SEACOCK) * (hose / through) ** 4
    suction = Run(fluid, hose, length, ROUGHNESS, SUCTION_BENDS, 1.0, losses)
    branches = tuple(_branch(plan, text, unit, fluid, assumed) for unit in fed)
    strainer = clean / whole**2
    if text.pump is not None:
        curve = tuple((point.flow, point.head) for point in text.pump.curve)
        return Circuit(name, text, fluid, suction, through, strainer, branches, curve, True)
    loss = fluid.head(suction.drop(whole) + strainer * whole**2)
    head = loss + max(one.head(one.wanted) for one in branches)
    shares = np.linspace(0.0, 1.5, 31)
    curve = tuple((float(s) * whole, head * (SHUT_OFF - (SHUT_OFF - 1.0) * float(s) ** 2)) for s in shares)
    assumed.append(Assumed(
        f"{name}: pump", f"{6e4 * whole:.0f} L/min at {head:.1f} m, {SHUT_OFF:g} times that head when shut",
        "just does the duty",
    ))  # fmt: skip
    return Circuit(name, text, fluid, suction, through, strainer, branches, curve, False)


def _branch(plan: Plan, text: CircuitText, unit: Rejecting, fluid: Fluid, assumed: list[Assumed]) -> Branch:
    own = next((one for one in text.branches if one.serves in unit.serves), None)
    where = f"{text.name}: branch of {' + '.join(unit.serves)}"
    said = own or BranchText(serves=unit.serves[0])
    flow = _wanted(plan, unit)
    bore, length = said.hose or bore_for(flow, HOSE_SPEED, HOSES), said.length or plan.resolved.length / 2.0
    bends = BRANCH_BENDS if said.bends is None else said.bends
    highest = HIGHEST if said.highest_point is None else said.highest_point
    outlet = OUTLET if said.outlet is None else said.outlet
    loss = CONDENSER if said.condenser_loss is None else said.condenser_loss
    taken = [
        text
        for is_given, text in (
            (said.hose, f"hose {1e3 * bore:.0f} mm"), (said.length, f"{length:.1f} m"), (said.bends, f"{bends} bends"),
            (said.highest_point, f"{highest:g} m above the waterline"), (said.outlet, f"outlet at {outlet:g} m"),
            (said.condenser_loss, f"condenser {loss / 1e3:.0f} kPa"),
        )
        if is_given is None
    ]  # fmt: skip
    if taken:
        assumed.append(Assumed(where, ", ".join(taken), f"hose: trade size at {HOSE_SPEED:g} m/s; else assumed"))
    extra = loss / unit.flow**2 + fluid.density * GRAVITY * said.extra_head / flow**2
    return Branch(unit, Run(fluid, bore, length, ROUGHNESS, bends, 1.0, END), max(highest, outlet), extra, flow)


def _wanted(plan: Plan, unit: Rejecting) -> float:
    """What one unit should get: its rated flow by the share that the plan counts on. [m³/s]"""
    return unit.flow * plan.resolved.terms.water_flow

"""Chilled water of a central plant: flow, pipe, head, water in the loop, and insulation that does not drip.

Flow is coil heat over ρ·c and the water's rise. A pipe's surface must stay above the dew point of the worst space that
it crosses: heat flow through a cylinder, ISO 12241 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite, log, pi

from heatsim.equipment.catalogue import CHILLED_WATER
from heatsim.equipment.plan import Plan
from heatsim.errors import Finding
from heatsim.scenario.resolved import OUTDOORS
from heatsim.scenario.services import ChilledRunText
from heatsim.services.air import TON
from heatsim.services.friction import Fluid, Run, water
from heatsim.services.schedule import (
    BORE,
    HEAD,
    LENGTH,
    POWER,
    PRESSURE,
    SPEED,
    TEMPERATURE,
    VOLUME,
    WATER_FLOW,
    Assumed,
    Cell,
    Column,
    Schedule,
    once,
)
from heatsim.services.surroundings import Around
from heatsim.services.units import all_working, chosen, given

PIPES = (0.013, 0.016, 0.020, 0.026, 0.0326, 0.0396, 0.051, 0.0721, 0.0849)
"""[m] Inside diameters of copper tube 15, 18, 22, 28, 35, 42, 54, 76.1 and 88.9 mm (EN 1057, from memory)."""
WALL = 0.0012
"""[m] (EN 1057, from memory: 1 to 1.5 mm.)"""
SPEED_LIMIT, GRADIENT = 1.5, 400.0
"""[m/s], [Pa/m] Most in pipes through cabins (common practice, no source)."""
ROUGHNESS = 1.5e-6
"""[m] Of drawn tube (Moody 1944, from memory)."""
BENDS, BEND_RADIUS = 10, 1.5
"""Of a run that nobody entered, and their radius over the bore (assumed)."""
COIL_LOSS, CHILLER_LOSS = 30e3, 35e3
"""[Pa] Of an air handler with its valve, and of the evaporators (assumed)."""
COIL_WATER, CHILLER_WATER = 1e-3, 3e-3
"""[m³] In one air handler and in one chiller (assumed)."""
STEPS = (0.009, 0.013, 0.019, 0.025, 0.032, 0.040, 0.050)
"""[m] Trade thicknesses of closed-cell foam (common practice, no source)."""
CONDUCTIVITY, FILM = 0.038, 6.0
"""[W/(m K)] Of closed-cell foam, and [W/(m² K)] of still air around it (assumed)."""
USUAL = 0.025
"""[m] Of foam, by which spaces are compared for how soon a pipe drips (assumed)."""
ABOVE_DEW = 0.5
"""[K] Of a surface above the dew point around it (assumed)."""


@dataclass(frozen=True)
class Pipe:
    """Pipes to one coil and back: heat that the coil takes [W], flow [m³/s], insulation and what it should be [m]."""

    zone: str
    label: str
    heat: float
    flow: float
    run: Run
    insulation: float
    wanted: float
    worst: str
    around: Around
    surface: float
    coils: int
    entered: bool


def surface_temperature(bore: float, insulation: float, inside: float, around: float) -> float:
    """Outside of an insulated pipe; the water's film and the wall are left out. [°C]"""
    inner = bore + 2.0 * WALL
    outer = inner + 2.0 * insulation
    film = 1.0 / (FILM * pi * outer)
    return around - (around - inside) * film / (film + log(outer / inner) / (2.0 * pi * CONDUCTIVITY))


def thickness(bore: float, inside: float, around: Around) -> float:
    """The thinnest trade insulation whose surface stays dry: 0 where a bare pipe does, infinite where none does. [m]"""
    for step in (0.0, *STEPS):
        if surface_temperature(bore, step, inside, around.temperature) >= around.dew_point + ABOVE_DEW:
            return step
    return inf


def bore_for(flow: float, fluid_at: float) -> float:
    """The smallest tube within speed and friction. [m]"""
    fluid = water(fluid_at)
    for bore in PIPES:
        run = Run(fluid, bore, 1.0, ROUGHNESS)
        if run.speed(flow) <= SPEED_LIMIT and run.gradient(flow) <= GRADIENT:
            return bore
    return PIPES[-1]


def chilled_water(plan: Plan, around: dict[str, Around]) -> tuple[Schedule, ...]:
    """Pipes and pump of the chosen layout's plant; nothing where it has none."""
    layout = chosen(plan)
    if layout.plant is None:
        return ()
    assumed = [
        Assumed("insulation and the air around it", f"{CONDUCTIVITY:g} W/(m K), {FILM:g} W/(m² K)"),
        Assumed("drawn tube", f"roughness {1e6 * ROUGHNESS:g} µm, bends of {BEND_RADIUS:g} bores"),
    ]
    if "rise" not in given(plan).chilled_water.model_fields_set:
        rise = given(plan).chilled_water.rise
        assumed.append(Assumed("rise of the water through air handlers", f"{rise:g} K", "common practice, no source"))
    pipes = tuple(_pipes(plan, around, assumed))
    return _pipes_schedule(plan, pipes, assumed), _loop_schedule(plan, pipes)


@dataclass(frozen=True)
class Coil:
    """What hangs on the loop: whom it serves, model, heat of one [W], how many; its pipes as entered and as they are,
    and their flow [m³/s]."""

    zone: str
    label: str
    heat: float
    count: int
    own: ChilledRunText | None
    run: Run
    flow: float


def _coils(plan: Plan) -> list[Coil]:
    """Every coil of the chosen layout with the pipes there and back."""
    said, layout, fluid = given(plan).chilled_water, chosen(plan), water(CHILLED_WATER)
    coils = [(work.offer.zones[0], work.label, float(work.done.coil_heat), work.offer.count)
             for work in all_working(plan)]  # fmt: skip
    if layout.treated is not None:
        treated = layout.treated
        coils.append(("outdoor air", treated.unit.model, float(treated.coil.max()) / treated.count, treated.count))
    found = []
    for zone, label, heat, count in coils:
        own = next((one for one in said.runs if one.zone == zone), None)
        flow = count * heat / (fluid.density * fluid.heat * said.rise)
        length = plan.resolved.length if own is None else own.length
        bore = bore_for(flow, CHILLED_WATER) if own is None or own.bore is None else own.bore
        run = Run(fluid, bore, length, ROUGHNESS, BENDS, BEND_RADIUS)
        found.append(Coil(zone, label, heat, count, own, run, flow))
    return found


def loop_duty(plan: Plan) -> tuple[float, float, Fluid]:
    """What the pump of a plant's loop moves with all coils open [m³/s], its head by the worst coil [m], the water."""
    said, fluid, coils = given(plan).chilled_water, water(CHILLED_WATER), _coils(plan)
    coil = COIL_LOSS if said.coil_loss is None else said.coil_loss
    evaporator = CHILLER_LOSS if said.chiller_loss is None else said.chiller_loss
    head = fluid.head(evaporator + coil + max(one.run.drop(one.flow) for one in coils))
    return sum(one.flow for one in coils), head, fluid


def _pipes(plan: Plan, around: dict[str, Around], assumed: list[Assumed]) -> list[Pipe]:
    found = []
    for coil in _coils(plan):
        own, zone, bore = coil.own, coil.zone, coil.run.bore
        worst, air = _worst(own, bore, around)
        wanted = thickness(bore, CHILLED_WATER, air)
        insulation = min(wanted, STEPS[-1]) if own is None or own.insulation is None else own.insulation
        taken = []
        if own is None:
            taken.append(f"{coil.run.length:.0f} m there and back")
        if own is None or own.bore is None:
            taken.append(f"tube of {1e3 * bore:.0f} mm")
        if own is None or own.insulation is None:
            taken.append(f"{1e3 * insulation:.0f} mm insulation")
        if own is None or not own.through:
            taken.append(f"through {worst}, the worst space aboard")
        assumed.append(Assumed(f"pipes to {zone}", ", ".join([*taken, f"{BENDS} bends"])))
        found.append(Pipe(
            zone, coil.label, coil.count * coil.heat, coil.flow, coil.run, insulation, wanted, worst, air,
            surface_temperature(bore, insulation, CHILLED_WATER, air.temperature), coil.count,
            own is not None and own.bore is not None,
        ))  # fmt: skip
    return found


def _worst(own: ChilledRunText | None, bore: float, around: dict[str, Around]) -> tuple[str, Around]:
    """Where a pipe drips first of the spaces it crosses, of all inside the boat where nobody said which."""
    names = own.through if own is not None and own.through else [name for name in around if name != OUTDOORS]

    def wet(name: str) -> float:
        air = around[name]
        return air.dew_point - surface_temperature(bore, USUAL, CHILLED_WATER, air.temperature)

    worst = max(names, key=wet)
    return worst, around[worst]


def _sweating(pipes: tuple[Pipe, ...]) -> list[Finding]:
    """Pipes that drip, those of one space together."""
    found = []
    wet = [one for one in pipes if one.surface < one.around.dew_point]
    for space in dict.fromkeys(one.worst for one in wet):
        own = [one for one in wet if one.worst == space]
        coldest, wanted = min(own, key=lambda one: one.surface), max(one.wanted for one in own)
        remedy = f"{1e3 * wanted:.0f} mm, and a" if isfinite(wanted) else (
            "no insulation of the trade keeps them dry in air so damp: ventilate or dry the space, or lead them "
            "elsewhere; a"
        )  # fmt: skip
        found.append(Finding(
            "pipe-sweats", f"services.chilled_water.{space}",
            f"pipes to {', '.join(one.zone for one in own)} are colder than the dew point there and drip: {remedy}n "
            "airtight vapour barrier matters more than thickness",
            f"{coldest.surface:.1f} °C", f"{coldest.around.dew_point:.1f} °C", "ISO 12241, from memory",
        ))  # fmt: skip
    return found


def _pipes_schedule(plan: Plan, pipes: tuple[Pipe, ...], assumed: list[Assumed]) -> Schedule:
    said = given(plan).chilled_water
    rows: list[tuple[Cell, ...]] = []
    found = _sweating(pipes)
    for one in pipes:
        rows.append((
            one.zone, one.label, one.heat, one.flow, one.run.bore, one.run.length, one.run.speed(one.flow),
            one.run.gradient(one.flow), one.run.drop(one.flow), one.worst, one.around.dew_point, one.insulation,
            one.wanted if isfinite(one.wanted) else None, one.surface,
        ))  # fmt: skip
        path = f"services.chilled_water.{one.zone}"
        if one.entered and (one.run.speed(one.flow) > SPEED_LIMIT or one.run.gradient(one.flow) > GRADIENT):
            found.append(Finding(
                "pipe-narrow", path, "the pipe is narrow for its flow",
                f"{one.run.speed(one.flow):.1f} m/s, {one.run.gradient(one.flow):.0f} Pa/m",
                f"{SPEED_LIMIT:g} m/s, {GRADIENT:.0f} Pa/m", "common practice, no source",
            ))  # fmt: skip
    columns = (
        Column("zone"), Column("air handler"), Column("coil", POWER), Column("flow", WATER_FLOW), Column("bore", BORE),
        Column("length", LENGTH), Column("speed", SPEED), Column("friction Pa/m"), Column("drop", PRESSURE),
        Column("worst space"), Column("its dew point", TEMPERATURE), Column("insulation", BORE),
        Column("wanted", BORE), Column("surface", TEMPERATURE),
    )  # fmt: skip
    notes = (
        f"Coils at full capacity, water from {CHILLED_WATER:g} °C and {said.rise:g} K warmer behind them. Insulation: "
        f"the thinnest of the trade whose surface stays {ABOVE_DEW:g} K above the dew point of the worst space there.",
    )
    cautions = ("Wet insulation grows mould and rots what it lies on: seal joints, valves and hangers like the pipes.",)
    return Schedule("chilled-water", "Chilled water: pipes", columns, tuple(rows), notes, tuple(found), once(assumed),
                    cautions)  # fmt: skip


def _loop_schedule(plan: Plan, pipes: tuple[Pipe, ...]) -> Schedule:
    plant, said = chosen(plan).plant, given(plan).chilled_water
    assert plant is not None
    whole, head, fluid = loop_duty(plan)
    taken = plant.demand / (fluid.density * fluid.heat * said.rise)
    inside = sum(pi / 4.0 * one.run.bore**2 * one.run.length + one.coils * COIL_WATER for one in pipes)
    inside += plant.count * CHILLER_WATER + said.tank
    found = []
    if inside < plant.loop:
        found.append(Finding(
            "loop-small", "services.chilled_water.tank",
            "the smallest stage starts too often on so little water: a tank of "
            f"{1e3 * (plant.loop - inside):.0f} L more",
            f"{1e3 * inside:.0f} L", f"{1e3 * plant.loop:.0f} L",
            "5 minutes of the smallest stage, 5 K (common practice, no source)",
        ))  # fmt: skip
    main = bore_for(whole, CHILLED_WATER)
    row = (f"{plant.count} × {plant.unit.model}", plant.demand, taken, whole, taken / plant.demand * TON, main, head,
           inside, plant.loop)  # fmt: skip
    columns = (
        Column("chillers"), Column("demand", POWER), Column("flow at demand", WATER_FLOW),
        Column("all coils open", WATER_FLOW), Column("per 12 kBtu/h", WATER_FLOW), Column("main", BORE),
        Column("pump head", HEAD), Column("water in loop", VOLUME), Column("wanted", VOLUME),
    )  # fmt: skip
    assumed = [Assumed("water in an air handler and in a chiller", "1 L and 3 L")]
    if said.coil_loss is None:
        assumed.append(Assumed("loss of an air handler with its valve", f"{COIL_LOSS / 1e3:.0f} kPa"))
    if said.chiller_loss is None:
        assumed.append(Assumed("loss of the evaporators", f"{CHILLER_LOSS / 1e3:.0f} kPa"))
    notes = (
        "Head of the coil that loses most, all coils open; what the pump takes stands in the electrical loads. The "
        "trade moves 2.5 to 2.7 US gal/min for each 12 kBtu/h at 5 K (common practice, no source).",
    )
    return Schedule("chilled-loop", "Chilled water: pump and loop", columns, (row,), notes, tuple(found),
                    tuple(assumed))  # fmt: skip

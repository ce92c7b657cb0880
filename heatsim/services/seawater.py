"""Sea water: what each unit gives to it and gets of it, what a dirty strainer does, and where pumps run dry or freeze.

Heat to the sea over ρ·c and flow is the water's rise. Capacity and the distance to the high-pressure trip at another
flow are those of `equipment.capacity`, the models that chose the units.
"""

from __future__ import annotations

from math import nan

from heatsim.equipment.capacity import heating
from heatsim.equipment.plan import Plan
from heatsim.errors import Finding
from heatsim.physics.sea_water import freezing_point
from heatsim.services.air import TON
from heatsim.services.circuits import HOSE_SPEED, ROUGHNESS, SUCTION_SPEED, Branch, Circuit, Duty, circuits
from heatsim.services.friction import water
from heatsim.services.schedule import (
    BORE,
    DIFFERENCE,
    HEAD,
    LENGTH,
    POWER,
    SHARE,
    SPEED,
    TEMPERATURE,
    WATER_FLOW,
    Assumed,
    Cell,
    Column,
    Schedule,
    once,
)
from heatsim.services.units import SEA_RANGE, Rejecting, given, sea_side

OPENINGS = (1.0, 0.75, 0.5)
"""[-] Shares of a strainer that are open."""
STARVED, WEAK = 0.90, 0.95
"""[-] Of its wanted flow below which a branch starves, and a pump is weak (common practice, no source: 95 % by bucket
and watch on every branch, ± 5 %)."""
IMMERSED = 0.3
"""[m] Below the waterline that a centrifugal pump must lie at every heel (common practice, no source: 1 ft)."""
MOST_ON_A_PUMP = 6
"""Units (common practice, no source)."""
ABOVE_FREEZING = 1.0
"""[K] That water must leave above its freezing point (assumed)."""
DRY = 0.02
"""[-] Of its rated flow below which a unit has none: its pressure switch opens at once (assumed)."""
FLOODING = (
    "A hose that fails behind an open seacock sinks the boat: seacocks on every inlet, double clips, inspected hose; "
    "close them when leaving, and fit a high-water alarm."
)


def at(plan: Plan, branch: Branch, flow: float) -> Rejecting | None:
    """What a branch's unit does with a flow [m³/s]; None where it gets so little that it trips at once."""
    share = flow / branch.unit.flow
    if share < DRY:
        return None
    unit = branch.unit
    zones = tuple(zone for zone in unit.serves if zone in plan.needs.zones)
    return sea_side(plan, unit.unit, unit.count, unit.serves, zones, water_flow=share)


def rise(circuit: Circuit, unit: Rejecting, flow: float) -> float:
    """How much warmer the water leaves a unit. [K]"""
    return unit.heat / (circuit.fluid.density * circuit.fluid.heat * flow)


def sea_schedules(plan: Plan) -> tuple[Schedule, ...]:
    """Units, hoses, pumps, inlets, strainers and freezing."""
    made, assumed = circuits(plan)
    duties = [circuit.duty() for circuit in made]
    return (
        units_schedule(plan, made, duties, assumed),
        hoses_schedule(made, duties),
        pumps_schedule(made, duties),
        inlets_schedule(made, duties),
        strainer_schedule(plan, made),
        freezing_schedule(plan, made, duties),
    )


def units_schedule(
    plan: Plan, made: tuple[Circuit, ...], duties: list[Duty], assumed: tuple[Assumed, ...]
) -> Schedule:  # fmt: skip
    """Every unit's water as its circuit really gives it, and the totals of each circuit."""
    rows: list[tuple[Cell, ...]] = []
    found: list[Finding] = []
    for circuit, duty in zip(made, duties, strict=True):
        heat = 0.0
        for branch, flow in zip(circuit.branches, duty.branches, strict=True):
            unit, serves = at(plan, branch, flow), " + ".join(branch.unit.serves)
            count = branch.unit.count
            label = branch.unit.unit.model if count == 1 else f"{count} × {branch.unit.unit.model}"
            warmed = nan if unit is None else rise(circuit, unit, flow)
            heat += 0.0 if unit is None else count * unit.heat
            rows.append((
                circuit.name, serves, label, 0.0 if unit is None else count * unit.heat, count * branch.wanted,
                count * flow, flow / branch.wanted, warmed, plan.needs.sea + warmed,
                0.0 if unit is None else count * unit.cooling, None if unit is None else unit.trip,
                None if unit is None else count * flow / max(count * unit.cooling, 1.0) * TON,
            ))  # fmt: skip
            path = f"services.seawater.{circuit.name}.{serves}"
            if flow < STARVED * branch.wanted:
                found.append(Finding(
                    "water-starved", path, "this branch starves: less water, less capacity, nearer the trip; throttle "
                    "the others, or give it a larger hose",
                    f"{100.0 * flow / branch.wanted:.1f} %", f"{100.0 * STARVED:.0f} %", "flows at one manifold head",
                ))  # fmt: skip
        rows.append((
            circuit.name, "all", "", heat, circuit.wanted, duty.flow, duty.flow / circuit.wanted,
            heat / (circuit.fluid.density * circuit.fluid.heat * duty.flow) if duty.flow > 0.0 else None,
            *(None,) * 4,
        ))  # fmt: skip
    columns = (
        Column("circuit"), Column("serves"), Column("unit"), Column("heat to sea", POWER), Column("wanted", WATER_FLOW),
        Column("gets", WATER_FLOW), Column("of wanted", SHARE), Column("rise", DIFFERENCE),
        Column("leaves at", TEMPERATURE), Column("cooling", POWER), Column("to trip", DIFFERENCE),
        Column("per 12 kBtu/h", WATER_FLOW),
    )  # fmt: skip
    notes = (
        f"Everything at full capacity in sea of {plan.needs.sea:.1f} °C. To trip: how much warmer the sea may become "
        f"before its own limit or its high-pressure switch stops the unit. Cooling is of the coil, fan heat included.",
        "The trade gives 200 US gal/h (12.6 L/min) for each 12 kBtu/h, 3 US gal/min at least (common practice, no "
        "source); the water then rises by 5 K.",
    )
    return Schedule("seawater", "Sea water: units", columns, tuple(rows), notes, tuple(found), once(list(assumed)),
                    (FLOODING,))  # fmt: skip


def hoses_schedule(made: tuple[Circuit, ...], duties: list[Duty]) -> Schedule:
    """Every branch's hose, and of what the head is made that it asks of the manifold."""
    rows: list[tuple[Cell, ...]] = []
    found: list[Finding] = []
    for circuit, duty in zip(made, duties, strict=True):
        for branch, flow in zip(circuit.branches, duty.branches, strict=True):
            run, serves = branch.run, " + ".join(branch.unit.serves)
            rows.append((
                circuit.name, serves, branch.unit.count, flow, run.bore, run.length, run.bends, run.speed(flow),
                branch.lift, run.fluid.head(run.drop(flow)), run.fluid.head(branch.extra * flow**2), branch.head(flow),
            ))  # fmt: skip
            entered = any(one.hose is not None and one.serves in branch.unit.serves for one in circuit.text.branches)
            if entered and run.speed(flow) > HOSE_SPEED * 1.005:
                found.append(Finding(
                    "water-fast", f"services.seawater.{circuit.name}.{serves}",
                    "water rushes in this hose: one size up", f"{run.speed(flow):.1f} m/s", f"{HOSE_SPEED:g} m/s",
                    "common practice, no source",
                ))  # fmt: skip
    columns = (
        Column("circuit"), Column("serves"), Column("of them"), Column("flow of one", WATER_FLOW), Column("hose", BORE),
        Column("length", LENGTH), Column("bends"), Column("speed", SPEED), Column("lift", HEAD),
        Column("hose and bends", HEAD), Column("condenser and valve", HEAD), Column("branch head", HEAD),
    )  # fmt: skip
    notes = ("All branches of a circuit take the manifold's head, which is the pump's less suction and strainer; what "
             "starves has the longest or narrowest hose for its flow.",)  # fmt: skip
    assumed = (Assumed("hoses", f"roughness {1e3 * ROUGHNESS:g} mm with some growth, bends of one bore"),)
    return Schedule("seawater-hoses", "Sea water: hoses", columns, tuple(rows), notes, tuple(found), assumed)


def pumps_schedule(made: tuple[Circuit, ...], duties: list[Duty]) -> Schedule:
    """Every pump's duty."""
    rows: list[tuple[Cell, ...]] = []
    found: list[Finding] = []
    for circuit, duty in zip(made, duties, strict=True):
        lift = max(branch.lift for branch in circuit.branches)
        rows.append((
            circuit.name, sum(one.unit.count for one in circuit.branches), circuit.wanted, duty.flow, duty.head, lift,
            circuit.fluid.head(circuit.suction.drop(duty.flow)), circuit.fluid.head(circuit.strainer * duty.flow**2),
            "as entered" if circuit.entered else "assumed",
        ))  # fmt: skip
        found += _pump_findings(circuit, duty, f"services.seawater.{circuit.name}")
    columns = (
        Column("circuit"), Column("units"), Column("wanted", WATER_FLOW), Column("duty flow", WATER_FLOW),
        Column("duty head", HEAD), Column("of it lift", HEAD), Column("suction loss", HEAD),
        Column("clean strainer", HEAD), Column("pump"),
    )  # fmt: skip
    notes = ("Duty: where the pump's curve meets suction, strainer and all branches with their condensers.",)
    return Schedule("seawater-pumps", "Sea water: pumps", columns, tuple(rows), notes, tuple(found))


def inlets_schedule(made: tuple[Circuit, ...], duties: list[Duty]) -> Schedule:
    """Skin fittings and suction hoses, and how deep the pumps lie in three attitudes."""
    rows: list[tuple[Cell, ...]] = []
    found: list[Finding] = []
    for circuit, duty in zip(made, duties, strict=True):
        pump, path = circuit.text.pump, f"services.seawater.{circuit.name}"
        speed = circuit.suction.speed(duty.flow) * (circuit.suction.bore / circuit.through_hull) ** 2
        depths = [None] * 3 if pump is None else [pump.below_waterline, pump.below_heeled, pump.below_planing]
        rows.append((circuit.name, circuit.through_hull, speed, circuit.suction.bore, circuit.suction.speed(duty.flow),
                     *depths))  # fmt: skip
        entered = circuit.text.through_hull is not None or circuit.text.suction_hose is not None
        fastest = max(speed, circuit.suction.speed(duty.flow))
        if entered and fastest > SUCTION_SPEED * 1.005:
            found.append(Finding("water-fast", path, "skin fitting or suction hose is narrow: one size up",
                                 f"{fastest:.1f} m/s", f"{SUCTION_SPEED:g} m/s",
                                 "common practice, no source"))  # fmt: skip
        attitudes = dict(zip(("at rest", "heeled", "on the plane"), depths, strict=True))
        unknown = [attitude for attitude, depth in attitudes.items() if depth is None]
        if unknown:
            found.append(Finding(
                "pump-depth-unknown", path, f"nobody said how deep the pump lies {', '.join(unknown)}: it does not "
                "prime itself", "not given", f"{IMMERSED:g} m below the waterline", "common practice, no source",
            ))  # fmt: skip
        for attitude, depth in attitudes.items():
            if depth is not None and depth < IMMERSED:
                found.append(Finding(
                    "pump-dry", path, f"the pump draws air {attitude}", f"{depth:.2f} m below the waterline",
                    f"{IMMERSED:g} m", "common practice, no source",
                ))  # fmt: skip
    columns = (
        Column("circuit"), Column("skin fitting", BORE), Column("speed in it", SPEED), Column("suction hose", BORE),
        Column("hose speed", SPEED), Column("pump below waterline", LENGTH), Column("heeled", LENGTH),
        Column("on the plane", LENGTH),
    )  # fmt: skip
    notes = (
        "Pipes rise all the way from inlet over strainer and pump to the units, with one high point, and fall from "
        "there to outlets 150 to 200 mm above the waterline (common practice, no source). Inlets of their own, low and "
        "near the centreline; on planing boats one size up with a scoop.",
    )
    return Schedule("seawater-inlets", "Sea water: inlets", columns, tuple(rows), notes, tuple(found), (), (FLOODING,))


def _pump_findings(circuit: Circuit, duty: Duty, path: str) -> list[Finding]:
    found = []
    units = sum(one.unit.count for one in circuit.branches)
    if circuit.entered and duty.flow < WEAK * circuit.wanted:
        found.append(Finding(
            "pump-weak", path, "the pump as entered does not move what its units ask for",
            f"{6e4 * duty.flow:.1f} L/min at {duty.head:.1f} m", f"{6e4 * circuit.wanted:.1f} L/min",
            "pump curve against pipes",
        ))  # fmt: skip
    if units > MOST_ON_A_PUMP:
        found.append(Finding(
            "too-many-on-pump", path, "so many branches are hard to balance; a second pump also keeps half the boat "
            "cool when one fails", f"{units} units", f"{MOST_ON_A_PUMP}", "common practice, no source",
        ))  # fmt: skip
    if circuit.text.rises_all_the_way is False:
        found.append(Finding("air-lock", path, "a dip in the pipe traps air, and the pump loses its prime",
                             "rises_all_the_way: false", "true", "common practice, no source"))  # fmt: skip
    return found


def strainer_schedule(plan: Plan, made: tuple[Circuit, ...]) -> Schedule:
    """Flow, capacity and distance to the trip with the strainer open to 100, 75 and 50 %."""
    rows: list[tuple[Cell, ...]] = []
    found: list[Finding] = []
    for circuit in made:
        clean: list[float] = []
        for opened in OPENINGS:
            duty = circuit.duty(opened)
            for i, (branch, flow) in enumerate(zip(circuit.branches, duty.branches, strict=True)):
                unit, serves = at(plan, branch, flow), " + ".join(branch.unit.serves)
                cooling = 0.0 if unit is None else branch.unit.count * unit.cooling
                if opened == 1.0:
                    clean.append(cooling)
                rows.append((
                    circuit.name, serves, opened, branch.unit.count * flow, flow / branch.wanted, cooling,
                    cooling / clean[i] if clean[i] > 0.0 else None, 0.0 if unit is None else unit.trip,
                    0.0 if unit is None else unit.pressure,
                ))  # fmt: skip
                if cooling <= 0.0 < clean[i]:
                    found.append(Finding(
                        "trips-on-strainer", f"services.seawater.{circuit.name}.{serves}",
                        f"with the strainer {100 * (1 - opened):.0f} % shut it trips in the sea it is planned for",
                        f"{100.0 * flow / branch.wanted:.0f} % of its water", "", "condenser model of the unit",
                    ))  # fmt: skip
    columns = (
        Column("circuit"), Column("serves"), Column("strainer open", SHARE), Column("flow", WATER_FLOW),
        Column("of wanted", SHARE), Column("cooling", POWER), Column("of clean", SHARE),
        Column("to trip", DIFFERENCE), Column("by pressure", DIFFERENCE),
    )  # fmt: skip
    notes = (
        "A strainer's loss grows with the inverse square of its open share. It is the first thing to look at when "
        "cooling fades (common practice, no source).",
        "To trip: how much warmer the sea may become before the unit stops, and before its pressure switch alone does; "
        f"{SEA_RANGE:g} K is as far as is looked.",
    )
    cautions = ("Shut the seacock before a strainer is opened, and open it again before the unit is started.",)
    return Schedule("strainer", "Sea water: dirty strainer", columns, tuple(rows), notes, tuple(found), (), cautions)


def freezing_schedule(plan: Plan, made: tuple[Circuit, ...], duties: list[Duty]) -> Schedule:
    """What leaves each unit that heats, in the coldest water it does so."""
    said = given(plan).seawater
    limit = float(freezing_point(said.salinity))
    rows: list[tuple[Cell, ...]] = []
    found: list[Finding] = []
    assumed: list[Assumed] = []
    for circuit, duty in zip(made, duties, strict=True):
        for branch, flow in zip(circuit.branches, duty.branches, strict=True):
            unit = branch.unit.unit
            if unit.heating_capacity <= 0.0 or flow <= 0.0:
                continue
            coldest = unit.coldest_water if said.coldest is None else said.coldest
            warm, power = (
                float(value) for value in heating(unit, coldest, plan.resolved.terms.frequency / unit.frequency)
            )
            cold = water(coldest, said.salinity)
            fall = (warm - power) / (cold.density * cold.heat * flow)
            serves = " + ".join(branch.unit.serves)
            rows.append((circuit.name, serves, coldest, branch.unit.count * warm, branch.unit.count * (warm - power),
                         fall, coldest - fall, limit))  # fmt: skip
            if said.coldest is None:
                assumed.append(Assumed(f"coldest water in which {serves} is heated", f"{coldest:g} °C",
                                       "the unit's own limit"))  # fmt: skip
            if coldest - fall < limit + ABOVE_FREEZING and warm > 0.0:
                found.append(Finding(
                    "freezes", f"services.seawater.{circuit.name}.{serves}",
                    "heating, its water leaves so cold that it freezes in the condenser and bursts it: more water, or "
                    "stop sooner", f"{coldest - fall:.1f} °C", f"{limit + ABOVE_FREEZING:.1f} °C",
                    "heat taken from the sea over its flow",
                ))  # fmt: skip
    columns = (
        Column("circuit"), Column("serves"), Column("coldest sea", TEMPERATURE), Column("heating", POWER),
        Column("from the sea", POWER), Column("fall", DIFFERENCE), Column("leaves at", TEMPERATURE),
        Column("freezes at", TEMPERATURE),
    )  # fmt: skip
    notes = (f"Water of {said.salinity:g} g/kg salt; fresh and brackish water freezes first. A unit stops below its "
             "own limit, often 4.4 °C.",)  # fmt: skip
    cautions = ("Drain condensers, pumps and hoses before winter: ice splits them, and the boat floods in the thaw.",)
    return Schedule("freezing", "Sea water: heating", columns, tuple(rows), notes, tuple(found), once(assumed),
                    cautions)  # fmt: skip

"""The commissioning sheet: what should be read on the day if everything is right, with blanks beside for what is read.

The unit's own model at the day's sea and at the air that enters it, condenser clean, air at its rated flow and sea
water as its circuit gives it; rooms from a run of the proof on that day, switched on in a boat closed and off before.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from heatsim.equipment.capacity import SEA_HEAT, Conditions, air_stream, chiller, operate, rated, water_coil
from heatsim.equipment.catalogue import Unit
from heatsim.equipment.needs import DESIGN_DAYS
from heatsim.equipment.plan import Plan
from heatsim.equipment.proof import prove
from heatsim.equipment.record import BAKED
from heatsim.physics import moist_air
from heatsim.physics.moist_air import DRY_AIR_HEAT, VAPOUR_HEAT
from heatsim.scenario.resolved import Day
from heatsim.services.circuits import circuits
from heatsim.services.condensate import WATER as CONDENSATE_DENSITY
from heatsim.services.draws import COMMON
from heatsim.services.electrical import SHORE_CAUTION, clock
from heatsim.services.schedule import (
    AIR_FLOW,
    CURRENT,
    DIFFERENCE,
    SHARE,
    SMALL_FLOW,
    TEMPERATURE,
    WATER_FLOW,
    Assumed,
    Cell,
    Column,
    Schedule,
)
from heatsim.services.units import PLANT, chosen, given

ROOM_HUMIDITY, HOURS, START = 0.55, 3.0, 12.0
"""[-] At return grilles, [h] after the start, [h] of the clock, where none are entered (assumed)."""
COMFORTABLE, NEAR = 0.60, 1.0
"""[-] Most humidity, and [K] over the setpoint, that usual acceptance allows (common practice, no source: 45–60 %,
±1 K)."""
MEASURED = "measured"
SEA_CAUTION = (
    "Before a strainer, hose or pump is opened, close the seacock: one left open sinks the boat. Nobody opens a "
    "refrigerant circuit without the licence for it."
)


@dataclass(frozen=True)
class TheDay:
    """Conditions of the day: outdoors and sea, air at the return grilles, voltage, and when rooms are read."""

    day: Day
    room: float | None
    room_humidity: float
    voltage_share: float
    hours: float
    start: float
    assumed: tuple[Assumed, ...]


def the_day(plan: Plan) -> TheDay:
    """The day of the file; what it does not say is the hot design day's."""
    entered = given(plan).commissioning
    base = next((day for day in plan.resolved.days if day.kind in DESIGN_DAYS), plan.resolved.days[0])
    assumed = []
    outdoor = base.dry_bulb_max if entered.outdoor is None else entered.outdoor
    sea = base.sea if entered.sea is None else entered.sea
    dew = min(base.dew_point, outdoor)
    if entered.humidity is not None:
        dew = float(moist_air.dew_point(moist_air.humidity_ratio(outdoor, entered.humidity)))
    if all(getattr(entered, field) is None for field in type(entered).model_fields):
        assumed.append(Assumed("day of commissioning", "the hot design day", "enter services.commissioning"))
    if entered.room_humidity is None:
        assumed.append(Assumed("humidity at return grilles", f"{100 * ROOM_HUMIDITY:.0f} %"))
    for name, value, unit in (("hours", HOURS, "h after the start"), ("start", START, ":00, start of the units")):
        if getattr(entered, name) is None:
            assumed.append(Assumed(f"{name} of the reading", f"{value:g} {unit}".replace(" :", ":")))
    return TheDay(
        replace(base, kind="hot", dry_bulb_max=outdoor, dew_point=dew, sea=sea),
        entered.room,
        ROOM_HUMIDITY if entered.room_humidity is None else entered.room_humidity,
        1.0 if entered.voltage_share is None else entered.voltage_share,
        HOURS if entered.hours is None else entered.hours,
        START if entered.start is None else entered.start,
        tuple(assumed),
    )


@dataclass(frozen=True)
class Reading:
    """What one unit should show: air on and off [°C], its flow [m³/s], condensate [m³/s]; sea water out [°C], its rise
    [K] and flow [m³/s]; current [A]. None where it has no such thing."""

    air_on: float
    air_off: float
    air_flow: float
    condensate: float
    sea_out: float | None
    rise: float | None
    water_flow: float | None
    current: float


def reading(
    unit: Unit, temperature: float, humidity: float, sea: float, *, speed: float, volts: float, water: float = 1.0
) -> Reading:
    """A sound unit at full capacity on the day, condenser clean, air as rated.

    Parameters
    ----------
    unit : Unit
    temperature, humidity : float
        Of the air that enters. [°C], [-]
    sea : float
        [°C]
    speed, volts : float
        Mains frequency and voltage at the unit over its rated ones. [-]
    water : float
        Its sea water over the rated. [-]
    """
    ratio = float(moist_air.humidity_ratio(temperature, humidity))
    met = Conditions(temperature, ratio, sea, water_flow=water, speed=speed)
    direct = unit.compressor_power > 0.0
    done = operate(unit, met) if direct else water_coil(unit, met, unit.rating.water)
    air = float(air_stream(unit, np.asarray(temperature), np.asarray(ratio), unit.air_share, met.pressure))
    off = temperature - float(done.sensible) / (air * (DRY_AIR_HEAT + VAPOUR_HEAT * ratio))
    power = float(done.compressor_power + done.fan_power)
    current = unit.running_current * power / (unit.compressor_power + unit.fan_power) / volts
    rate = rated(unit).water_rate * water
    rise = float(done.rejected) / rate if direct else None
    return Reading(
        temperature, off, unit.airflow * unit.air_share, float(done.condensate) / CONDENSATE_DENSITY,
        None if rise is None else sea + rise, rise, rate / SEA_HEAT if direct else None, current,
    )  # fmt: skip


def air_sheet(plan: Plan) -> Schedule:
    """Air on and off, its flow and the condensate of every unit, with blanks."""
    d, rows = the_day(plan), []
    for name, zones, unit, at in _units(plan, d):
        r = reading(unit, at, d.room_humidity, d.day.sea, speed=_speed(plan, unit), volts=d.voltage_share)
        pairs = (r.air_on, r.air_off, r.air_on - r.air_off, r.air_flow, r.condensate)
        rows.append(_blanks((name, zones), pairs))
    columns = _with_blanks(
        (Column("unit"), Column("serves")),
        (Column("air on", TEMPERATURE), Column("air off", TEMPERATURE), Column("air drop", DIFFERENCE),
         Column("air flow", AIR_FLOW), Column("condensate", SMALL_FLOW)),
    )  # fmt: skip
    notes = (
        f"Day: {d.day.dry_bulb_max:.1f} °C outdoors at most, sea {d.day.sea:.1f} °C, {100 * d.room_humidity:.0f} % at "
        "the return grilles. Air off is behind the fan: a grille is warmer by what its duct takes up. Steady "
        "after a quarter of an hour at full; on and off in the return and at the grille nearest to the unit, "
        "thermometers shaded from each other.",
        "Common practice, no source: 8 to 11 K of drop, grilles within 2 K of each other, flow within 10 %.",
    )
    return Schedule(
        "commissioning-air", "Commissioning: air", columns, tuple(rows), notes, (), d.assumed, (SEA_CAUTION,)
    )


def water_sheet(plan: Plan) -> Schedule:
    """Sea water's rise and flow and the current of every unit that takes heat to the sea, with blanks."""
    d, rows = the_day(plan), []
    plant, shares = chosen(plan).plant, _water(plan)
    if plant is not None:
        unit, speed, share = plant.unit, _speed(plan, plant.unit), shares[PLANT,]
        met = Conditions(24.0, 0.01, d.day.sea, water_flow=share, speed=speed)
        cooling, power = (float(v) for v in chiller(unit, met))
        rise = (cooling + power) / (rated(unit).water_rate * share)
        flow = rated(unit).water_rate * share / SEA_HEAT
        current = unit.running_current * power / unit.compressor_power / d.voltage_share
        for _ in range(plant.count):
            rows.append(_blanks((unit.model, PLANT), (d.day.sea, d.day.sea + rise, rise, flow, current)))
    for name, zones, unit, at in _units(plan, d):
        share = shares.get(tuple(zones.split(" + ")), 1.0)
        r = reading(unit, at, d.room_humidity, d.day.sea, speed=_speed(plan, unit), volts=d.voltage_share, water=share)
        sea = None if r.rise is None else d.day.sea
        rows.append(_blanks((name, zones), (sea, r.sea_out, r.rise, r.water_flow, r.current)))
    columns = _with_blanks(
        (Column("unit"), Column("serves")),
        (Column("sea in", TEMPERATURE), Column("sea out", TEMPERATURE), Column("sea rise", DIFFERENCE),
         Column("water flow", WATER_FLOW), Column("current", CURRENT)),
    )  # fmt: skip
    notes = (
        "Clean condenser, full compressor, pump current apart; flow as the sea water's schedule has it, by bucket and "
        "watch at each outlet. The trade sees 4 to 6 K of rise (common practice, no source); current by "
        f"clamp at {100 * d.voltage_share:.0f} % of the rated voltage, within 5 % of it at the unit while it runs.",
        "Write down the discharge pressure and the sea of the day: they tell later how fouled a condenser is.",
    )
    return Schedule(
        "commissioning-water", "Commissioning: water and current", columns, tuple(rows), notes, (), d.assumed,
        (SEA_CAUTION, SHORE_CAUTION),
    )  # fmt: skip


def rooms_sheet(plan: Plan) -> Schedule:
    """Air and humidity of every room some hours after a boat that was closed and off is switched on, with blanks."""
    d = the_day(plan)
    boat = replace(plan.boat, days=(d.day,))
    proof = prove(boat, chosen(plan), plan.heading, hour=d.start, starts=(BAKED,))
    data = proof.data.isel(run=0)
    step = float(proof.data.attrs["step"])
    at = min(round(d.hours * 3600.0 / step), data.sizes["time"] - 1)
    setpoints = {z.name: z.control.cooling_setpoint.values for z in boat.zones if z.control is not None}
    rows = []
    for i, zone in enumerate(data["zone"].values):
        air, humidity = (data[name].values[:, i] for name in ("air_temperature", "relative_humidity"))
        pulled = float(data["pull_down"].values[i])
        there = clock(d.start + pulled) if pulled == pulled else "not that day"
        first = (str(zone), float(min(setpoints[str(zone)])), float(air[0]), there)
        rows.append(_blanks(first, (float(air[at]), float(humidity[at]))))
    columns = _with_blanks(
        (Column("room"), Column("setpoint", TEMPERATURE), Column("at the start", TEMPERATURE),
         Column("at its setpoint by")),
        (Column("air then", TEMPERATURE), Column("humidity then", SHARE)),
    )  # fmt: skip
    notes = [
        f"All units started at {clock(d.start)} in a boat closed and off until then, on that day's sun; then: "
        f"{d.hours:g} h later, at {clock(d.start + d.hours)}. An overcast day begins lower and is there sooner.",
    ]
    warm = [str(row[0]) for row in rows if float(row[4] or 0.0) > float(row[1] or 0.0) + NEAR]
    damp = [str(row[0]) for row in rows if float(row[6] or 0.0) > COMFORTABLE]
    if warm or damp:
        parts = [f"{', '.join(names)} {what}" for names, what in ((warm, "warmer"), (damp, "damper")) if names]
        notes.append(
            f"Expected outside usual acceptance even if everything is right: {'; '.join(parts)}. That is the plan's "
            "choice of units and day, not a fault to look for."
        )
    return Schedule(
        "commissioning-rooms", "Commissioning: rooms", columns, tuple(rows), tuple(notes), (),
        (*d.assumed, Assumed("acceptance", "setpoint ±1 K, 45–60 % humidity", COMMON)),
    )  # fmt: skip


def _units(plan: Plan, d: TheDay) -> list[tuple[str, str, Unit, float]]:
    """Every physical unit but chillers: model, zones, and the air that enters it."""
    found = []
    for offer in chosen(plan).offers:
        at = float(plan.needs.temperature[plan.needs.of(offer.zones)].mean()) if d.room is None else d.room
        found += [(offer.unit.model, " + ".join(offer.covered), offer.unit, at)] * offer.count
    return found


def _water(plan: Plan) -> dict[tuple[str, ...], float]:
    """Sea water of one unit over its rated, by what it serves, as its circuit gives it; rated where it gives none."""
    found = {}
    for circuit in circuits(plan)[0]:
        duty = circuit.duty()
        for branch, flow in zip(circuit.branches, duty.branches, strict=True):
            found[branch.unit.serves] = flow / branch.unit.flow if flow > 0.0 else 1.0
    return found


def _speed(plan: Plan, unit: Unit) -> float:
    return plan.resolved.terms.frequency / unit.frequency


def _blanks(first: tuple[Cell, ...], targets: tuple[Cell, ...]) -> tuple[Cell, ...]:
    """Targets, each with a blank after it."""
    return (*first, *(cell for target in targets for cell in (target, "")))


def _with_blanks(first: tuple[Column, ...], targets: tuple[Column, ...]) -> tuple[Column, ...]:
    return (*first, *(column for t in targets for column in (t, Column(f"{MEASURED}: {t.head}"))))

"""Air: what each zone gets, what it needs, how much of it comes from outdoors, and whether the boat is in balance.

Supply air by the heat it has to carry: sensible load over ρ·c·(room − supply), ASHRAE Handbook, Fundamentals, chapter
on nonresidential load calculations (from memory). Streams on purpose are those of the scenario: outdoor air, transfer
and extract; a zone that is extracted from more than it is supplied draws its air from its neighbours and keeps its
smells. Infiltration is left out of the balance: it is what the balance causes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.climate.weather import routine_values
from heatsim.equipment.capacity import air_stream
from heatsim.equipment.plan import Plan
from heatsim.errors import Finding
from heatsim.physics.moist_air import DRY_AIR_HEAT, STANDARD_PRESSURE, VAPOUR_HEAT
from heatsim.scenario.courses import QUARTER
from heatsim.scenario.plausibility import CARBON_MONOXIDE
from heatsim.scenario.resolved import OUTDOORS, Flow
from heatsim.scenario.services import IntakeText
from heatsim.services.schedule import (
    AIR_FLOW,
    LENGTH,
    POWER,
    SHARE,
    TEMPERATURE,
    Cell,
    Column,
    Schedule,
)
from heatsim.services.units import Working, all_working, chosen, given, run

Array = npt.NDArray[np.float64]

SHORT = 0.95
"""[-] Of the wanted air flow below which a zone is short of air: half of the ±10 % a balance is left with
(common practice, no source)."""
SUCTION = ("galley", "head")
"""Uses that should be under slight suction (common practice, no source)."""
STILL = 1e-9
"""[m³/s] Below which a stream is none."""
TO_EXHAUST = 3.0
"""[m] Of an intake to an exhaust (common practice, no source: as far as the boat allows)."""
TO_GAS = 0.5
"""[m] Of an opening to a gas locker's vent or drain (ISO 10239: 500 mm, from memory)."""
DOWNFLOODING = 1.0 / 17.0
"""[-] Least height of an opening above the waterline over the boat's length (ISO 12217-1, basic height of downflooding,
from memory)."""
TON = 3516.853
"""[W] 12 000 Btu/h (NIST SP 811)."""


def supply(plan: Plan) -> Schedule:
    """Supply air by zone: what its load asks for at the unit's supply temperature, and what the unit's fan gives."""
    works = all_working(plan)
    volume = {zone.name: zone.volume for zone in plan.resolved.zones}
    fresh = fresh_air(plan)
    rows: list[tuple[Cell, ...]] = []
    found: list[Finding] = []
    for work in works:
        for name in work.offer.zones:
            share = work.offer.share(name)
            moved = share * work.offer.count * work.flow
            asked = wanted(plan, work, name)
            outdoor = fresh.get(name, 0.0)
            rows.append((
                name, work.label, work.offer.demand.sensible * share, work.temperature, work.supply, asked, moved,
                moved / asked if asked > STILL else None, 3600.0 * moved / volume[name], outdoor,
                outdoor / moved if moved > STILL else None,
                work.flow / max(float(work.done.total), 1.0) * TON,
            ))  # fmt: skip
            if moved < SHORT * asked:
                found.append(Finding(
                    "air-short", f"zones.{name}",
                    "its share of the unit's air does not carry its sensible load at the unit's supply temperature",
                    f"{100.0 * moved / asked:.0f} % of {3600.0 * asked:.0f} m3/h", f"{100.0 * SHORT:.0f} %",
                    "sensible load over heat capacity and temperature difference",
                ))  # fmt: skip
    rows += _treated(plan)
    columns = (
        Column("zone"), Column("unit"), Column("sensible load", POWER), Column("room", TEMPERATURE),
        Column("supply", TEMPERATURE), Column("wanted", AIR_FLOW), Column("given", AIR_FLOW),
        Column("of wanted", SHARE), Column("air changes 1/h"), Column("outdoor air", AIR_FLOW),
        Column("outdoor share", SHARE), Column("per 12 kBtu/h", AIR_FLOW),
    )  # fmt: skip
    notes = (
        "Supply is the air behind the unit's fan at full capacity; the wanted flow allows for the ducts' share of "
        f"{100.0 * plan.resolved.terms.duct_gain:.0f} %. Shares of a unit's air are those of its zones' peaks.",
        "The trade moves 400 cfm (189 L/s) for each 12 kBtu/h, 300 to 350 in very humid service and 450 in dry "
        "(common practice, no source).",
    )
    return Schedule("air", "Supply air", columns, tuple(rows), notes, tuple(found))


def _treated(plan: Plan) -> list[tuple[Cell, ...]]:
    """What fresh-air units bring, at the hottest hour of the design days."""
    made = treated_air(plan)
    if made is None:
        return []
    whole = sum(made.flows.values())
    return [("outdoor air", made.label, None, made.outdoors, made.supply, whole, whole, 1.0, None, whole, 1.0, None)]


class TreatedAir(NamedTuple):
    """What fresh-air units send out: model and count, outdoors and supply [°C], all its heat [W/K], flows [m³/s]."""

    label: str
    outdoors: float
    supply: float
    heat_rate: float
    flows: dict[str, float]


def treated_air(plan: Plan) -> TreatedAir | None:
    """The chosen layout's fresh-air units at the hottest hour of the design days; None where it has none."""
    treated = chosen(plan).treated
    if treated is None:
        return None
    fresh = fresh_air(plan)
    flows = {zone: fresh[zone] for zone in treated.needs.zones if fresh.get(zone, 0.0) > STILL}
    whole = sum(flows.values())
    share = whole / treated.count / treated.unit.airflow
    hottest = np.unravel_index(int(plan.needs.outdoor_temperature.argmax()), plan.needs.outdoor_temperature.shape)
    T, w = (float(v[hottest]) for v in (plan.needs.outdoor_temperature, plan.needs.outdoor_humidity_ratio))
    done = run(plan, treated.unit, T, w, airflow=share)
    air = float(air_stream(treated.unit, np.asarray(T), np.asarray(w), share, STANDARD_PRESSURE))
    heat_rate = air * (DRY_AIR_HEAT + VAPOUR_HEAT * w)
    label = treated.unit.model if treated.count == 1 else f"{treated.count} × {treated.unit.model}"
    return TreatedAir(label, T, T - float(done.sensible) / heat_rate, treated.count * heat_rate, flows)


def wanted(plan: Plan, work: Working, zone: str) -> float:
    """Air that carries a zone's sensible peak at the unit's supply temperature, ducts' gain as planned. [m³/s]"""
    warmed = plan.resolved.terms.duct_gain * float(work.done.total) * work.offer.count / work.heat_rate
    apart = work.temperature - work.supply - warmed
    if apart <= 0.0:
        return 0.0
    heat = work.offer.demand.sensible * work.offer.share(zone)
    return heat / apart / work.heat_rate * work.offer.count * work.flow


def fresh_air(plan: Plan) -> dict[str, float]:
    """Outdoor air that is supplied to each zone on purpose, at its most. [m³/s]"""
    found: dict[str, float] = {}
    for flow in plan.resolved.flows:
        if flow.kind == "fresh_air" and flow.source == OUTDOORS:
            found[flow.target] = found.get(flow.target, 0.0) + flow.rate * max(flow.routine.values)
    return found


def balance(plan: Plan) -> Schedule:
    """Streams of every zone and of the boat, at their most and as they add up round the clock."""
    resolved = plan.resolved
    minutes = np.arange(0, 24 * 60, QUARTER)
    courses = {id(flow): flow.rate * routine_values(flow.routine, minutes) for flow in resolved.flows}
    purposeful = [flow for flow in resolved.flows if flow.kind != "infiltration"]
    rows: list[tuple[Cell, ...]] = []
    found: list[Finding] = []

    def total(flows: Sequence[Flow]) -> Array:
        return np.asarray(sum((courses[id(flow)] for flow in flows), np.zeros(len(minutes))))

    for zone in resolved.zones:
        own = [flow for flow in purposeful if zone.name in (flow.source, flow.target)]
        if not own:
            continue
        outdoor = total([f for f in own if f.target == zone.name and f.source == OUTDOORS])
        drawn = total([f for f in own if f.target == zone.name and f.source != OUTDOORS])
        passed = total([f for f in own if f.source == zone.name and f.target != OUTDOORS])
        extract = total([f for f in own if f.source == zone.name and f.target == OUTDOORS])
        net = outdoor + drawn - passed - extract
        rows.append((zone.name, *(float(part.max()) for part in (outdoor, drawn, passed, extract)),
                     float(net.min()), float(net.max())))  # fmt: skip
        if zone.use in SUCTION and float((extract - outdoor).max()) <= STILL:
            found.append(Finding(
                "no-suction", f"zones.{zone.name}",
                f"a {zone.use} should be under slight suction: at no hour is more extracted than is supplied to it",
                f"{3600.0 * float((outdoor - extract).min()):.0f} m3/h supplied above extract", "below 0 m3/h",
                "common practice, no source",
            ))  # fmt: skip
    spaces = {zone.name for zone in resolved.zones if zone.is_space}
    brought = total([f for f in purposeful if f.source == OUTDOORS and f.target not in spaces])
    taken = total([f for f in purposeful if f.target == OUTDOORS and f.source not in spaces])
    net = brought - taken
    rows.append(("boat", float(brought.max()), None, None, float(taken.max()), float(net.min()), float(net.max())))
    if float(net.min()) < -STILL:
        found.append(_net_extract(float(net.min()), int(minutes[net.argmin()])))
    columns = (
        Column("zone"), Column("outdoor air", AIR_FLOW), Column("drawn from rooms", AIR_FLOW),
        Column("passed to rooms", AIR_FLOW), Column("extract", AIR_FLOW), Column("net, least", AIR_FLOW),
        Column("net, most", AIR_FLOW),
    )  # fmt: skip
    notes = (
        "Streams at the most of their routines; net adds them up by quarters of an hour, and what is left goes through "
        "cracks and doors: below zero a zone draws air in. Units only turn the air of their own zones round.",
        "Aim for slight suction in galley and heads, and for the boat as a whole neutral or slightly above.",
    )
    cautions = (CARBON_MONOXIDE + ". Aft doors draw exhaust in under way, and so does a neighbour's generator.",)
    return Schedule("air-balance", "Air balance", columns, tuple(rows), notes, tuple(found), (), cautions)


def _net_extract(net: float, minute: int) -> Finding:
    clock = f"{minute // 60:02d}:{minute % 60:02d}"
    return Finding(
        "net-extract", "flows", f"more air is extracted than brought in, at {clock}. {CARBON_MONOXIDE}",
        f"{-3600.0 * net:.0f} m3/h", "0 m3/h", "whole-boat air balance",
    )  # fmt: skip


def intakes(plan: Plan) -> Schedule:
    """Openings for outdoor air and their distance to what must not come in; what is not known is a finding."""
    listed = given(plan).intakes
    fresh = fresh_air(plan)
    least = DOWNFLOODING * plan.resolved.length
    rows: list[tuple[Cell, ...]] = []
    found: list[Finding] = []
    for one in listed:
        flow = sum(fresh.get(zone, 0.0) for zone in one.zones)
        rows.append((one.name, ", ".join(one.zones), flow, one.to_exhaust, one.to_gas_locker, one.above_waterline))
        found += _near(one, least)
    without = [zone for zone in fresh if not any(zone in one.zones for one in listed)]
    if without:
        rows.append(("not stated", ", ".join(without), sum(fresh[zone] for zone in without), None, None, None))
        found.append(Finding(
            "intake-unknown", "services.intakes",
            f"nobody said where the outdoor air of {', '.join(without)} is taken in: an intake near an exhaust draws "
            f"carbon monoxide, one near a gas locker draws gas",
            "not given", "", "common practice, no source",
        ))  # fmt: skip
    columns = (
        Column("intake"), Column("zones"), Column("outdoor air", AIR_FLOW), Column("to exhaust", LENGTH),
        Column("to gas locker", LENGTH), Column("above waterline", LENGTH),
    )  # fmt: skip
    notes = (
        f"Held against {TO_EXHAUST:g} m to any exhaust (common practice, no source), {TO_GAS:g} m to vents of gas "
        f"lockers (ISO 10239, from memory) and {least:.2f} m above the waterline, a seventeenth of her length "
        "(ISO 12217-1, from memory).",
    )
    return Schedule("intakes", "Air intakes", columns, tuple(rows), notes, tuple(found), (), (CARBON_MONOXIDE + ".",))


def _near(one: IntakeText, least: float) -> list[Finding]:
    """What is unknown of an intake, or nearer than it should be."""
    found = []
    for key, value, limit, what in (
        ("to_exhaust", one.to_exhaust, TO_EXHAUST, "an exhaust: carbon monoxide is drawn in"),
        ("to_gas_locker", one.to_gas_locker, TO_GAS, "a gas locker: gas is drawn in and burns"),
        ("above_waterline", one.above_waterline, least, "the waterline: spray and seas come in"),
    ):
        path = f"services.intakes.{one.name}.{key}"
        if value is None:
            found.append(Finding("intake-unknown", path, f"nobody said how near it lies to {what}", "not given",
                                 f"{limit:.2f} m"))  # fmt: skip
        elif value < limit:
            found.append(Finding("intake-near", path, f"it lies too near to {what}", f"{value:.2f} m",
                                 f"{limit:.2f} m"))  # fmt: skip
    return found

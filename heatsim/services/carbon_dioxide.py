"""Outdoor air for people, and the carbon dioxide of a night in a shut cabin.

People breathe out carbon dioxide by their metabolism: ISO 8996 gives (0.23 RQ + 0.77) · 5.88 W h per litre of oxygen at
0 °C; with a respiratory quotient RQ of 0.83 that much less carbon dioxide. Zones mix fully; streams and doors follow
the scenario's routines, doors exchange as at 1 K and no wind. It says nothing about carbon monoxide.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from heatsim.climate.weather import routine_values
from heatsim.equipment.plan import Plan
from heatsim.errors import Finding
from heatsim.network.airflow import exchange, reference_difference
from heatsim.scenario.courses import QUARTER
from heatsim.scenario.resolved import OUTDOORS, Resolved, Zone
from heatsim.services.draws import COMMON
from heatsim.services.electrical import clock
from heatsim.services.schedule import AIR_FLOW, ROOM, SHARE, Assumed, Cell, Column, Schedule
from heatsim.services.units import all_working

Array = npt.NDArray[np.float64]

QUOTIENT = 0.83
"""[-] Carbon dioxide out over oxygen in, of a mixed diet (from memory)."""
OXYGEN_HEAT = (0.23 * QUOTIENT + 0.77) * 5.88 * 3600.0
"""[J/L] Of oxygen at 0 °C (ISO 8996:2004, 7.1.3, from memory)."""
WARMER = 297.0 / 273.15
"""[-] Volume at 24 °C over that at 0 °C, a perfect gas."""
PER_WATT = QUOTIENT / OXYGEN_HEAT * WARMER * 1e-3
"""[m³ s⁻¹ W⁻¹] Carbon dioxide by metabolic heat."""
OUTDOORS_PPM = 425.0
"""[ppm] Of outdoor air (assumed; Mauna Loa's mean of 2024 is 424, from memory)."""
HIGH, DANGEROUS = 1500.0, 5000.0
"""[ppm] Stale (common practice, no source); workplace limit over 8 h (Directive 2006/15/EC, from memory)."""
PERSON = 25.0 / 3600.0
"""[m³/s] Outdoor air a person (flag code for large yachts)."""
SHARE_RULE = 0.4
"""[-] Of supply air that comes from outdoors at least (ISO 7547:2002)."""
PERIODIC, MOST_DAYS = 0.5, 60
"""[ppm] Within which a day repeats, and days after which it is given up."""
NO_AIR = 1e-9
"""[m³/s]"""
CAUTION = (
    "Carbon dioxide says nothing about carbon monoxide: an alarm in every sleeping space, whatever this table says, "
    "and never air from an engine, generator or battery space."
)


def outdoor_air(plan: Plan) -> Schedule:
    """Outdoor air of each zone with people against the persons' minimum, and ISO 7547's share of supply as a check."""
    moved = _supply(plan)
    rows: list[tuple[Cell, ...]] = []
    findings = []
    for zone in plan.resolved.zones:
        persons = max((sum(_people(zone, minute)) for minute in range(0, 1440, QUARTER)), default=0.0)
        if zone.is_space or persons <= 0.0:
            continue
        fresh = _on_purpose(plan.resolved, zone.name)
        share = fresh / moved[zone.name] if moved.get(zone.name, 0.0) > 0.0 else None
        rows.append((
            zone.name, round(persons, 2), persons * PERSON, fresh, "yes" if fresh >= 0.99 * persons * PERSON else "no",
            moved.get(zone.name), share, None if share is None else "yes" if share >= SHARE_RULE else "no",
        ))  # fmt: skip
        if fresh < 0.99 * persons * PERSON:
            findings.append(
                Finding(
                    "outdoor-air-short", zone.name, "less outdoor air than its persons ask for, transfer air aside",
                    f"{3600 * fresh:.0f} m³/h", f"{3600 * persons * PERSON:.0f} m³/h", "25 m³/h a person, flag code",
                )
            )  # fmt: skip
    columns = (
        Column("zone"), Column("persons at most"), Column("they ask for", AIR_FLOW), Column("outdoor air", AIR_FLOW),
        Column("enough"), Column("supply air", AIR_FLOW), Column("outdoor share", SHARE), Column("40 % of supply"),
    )  # fmt: skip
    notes = (
        "Outdoor air: supplied on purpose, infiltration and air from other zones left out. 40 % of the supply air is "
        "ISO 7547's rule for ships; few private yachts come near, and it is shown as a check only.",
    )
    return Schedule(
        "outdoor-air", "Outdoor air for people", columns, tuple(rows), notes, tuple(findings), (), (CAUTION,)
    )


def carbon_dioxide(plan: Plan) -> Schedule:
    """Carbon dioxide of each zone with people through the day that repeats: 8-hour value, peak and hour."""
    resolved = plan.resolved
    names, course = concentrations(resolved)
    rows: list[tuple[Cell, ...]] = []
    findings: list[Finding] = []
    for zone in resolved.zones:
        if zone.is_space or not any(people.count > 0.0 for people in zone.people):
            continue
        ppm = course[:, names.index(zone.name)]
        mean, peak = eight_hours(ppm), float(ppm.max())
        at = clock(int(ppm.argmax()) * QUARTER / 60.0)
        rows.append((zone.name, round(float(ppm[0])), round(mean), round(peak), at, zone.volume))
        findings += _findings(zone.name, mean, peak)
    columns = (
        Column("zone"), Column("at midnight [ppm]"), Column("8 hours [ppm]"), Column("peak [ppm]"), Column("at"),
        Column("volume", ROOM),
    )  # fmt: skip
    notes = (
        "The day repeats, so the night begins from rooms as people left them. Doors and hatches as their routines say, "
        "in still air; 8 hours: the worst running mean. Air that a unit "
        "mixes between the rooms it shares is left out: it would take from the worst room.",
    )
    assumed = (
        Assumed("carbon dioxide of outdoor air", f"{OUTDOORS_PPM:.0f} ppm"),
        Assumed("breathed out", f"{3.6e6 * 100.0 * PER_WATT:.1f} L/h per 100 W", "ISO 8996, from memory"),
    )
    return Schedule(
        "carbon-dioxide", "Carbon dioxide over the night", columns, tuple(rows), notes, tuple(findings), assumed,
        (CAUTION,),
    )  # fmt: skip


def concentrations(resolved: Resolved, outdoors: float = OUTDOORS_PPM) -> tuple[list[str], Array]:
    """Carbon dioxide of every simulated zone at the start of each quarter of an hour of a day that repeats.

    Returns
    -------
    list of str, (quarter, zone) array
        Names, and [ppm].
    """
    from scipy.linalg import expm

    zones = [zone for zone in resolved.zones if zone.temperature is None]
    names = [zone.name for zone in zones]
    volume = np.array([zone.volume for zone in zones])
    minutes = np.arange(0, 1440, QUARTER)
    into = _streams(resolved, names, minutes)
    breathed = np.array([[PER_WATT * sum(_people(zone, int(m), heat=True)) for zone in zones] for m in minutes])
    size = len(names)
    steps, known = [], {}
    for k in range(len(minutes)):
        inflow = into[k]
        key = (inflow.tobytes(), breathed[k].tobytes())
        if key not in known:
            A = np.zeros((size + 1, size + 1))
            A[:size, :size] = (inflow[:, :size] - np.diag(inflow.sum(axis=1))) / volume[:, None]
            A[:size, size] = (inflow[:, size] * outdoors + breathed[k] * 1e6) / volume
            known[key] = expm(A * QUARTER * 60.0)
        steps.append(known[key])
    state = np.append(np.full(size, outdoors), 1.0)
    for _ in range(MOST_DAYS):
        course, first = np.empty((len(minutes), size)), state
        for k, step in enumerate(steps):
            course[k] = state[:size]
            state = step @ state
        if np.abs(state - first).max() < PERIODIC:
            break
    return names, course


def eight_hours(ppm: Array) -> float:
    """Worst mean over eight hours of a course of quarters that repeats. [ppm]"""
    width = 8 * 60 // QUARTER
    sums = np.concatenate([[0.0], np.cumsum(np.concatenate([ppm, ppm[:width]]))])
    return float((sums[width:] - sums[:-width]).max() / width)


def _streams(resolved: Resolved, names: Sequence[str], minutes: npt.NDArray[np.int64]) -> Array:
    """Air into each zone from each zone and, last, from outdoors, (quarter, zone, zone + 1). [m³/s]"""
    index = {name: i for i, name in enumerate(names)}
    size = len(names)
    into, balance = np.zeros((len(minutes), size, size + 1)), np.zeros((len(minutes), size))
    for flow in resolved.flows:
        rate = flow.rate * routine_values(flow.routine, minutes)
        source, target = index.get(flow.source, size), index.get(flow.target)
        if target is not None:
            into[:, target, source] += rate
            balance[:, target] += rate
        if source < size and flow.kind != "infiltration":
            balance[:, source] -= rate
    into[:, :, size] += np.maximum(-balance, 0.0)
    for opening in resolved.openings:
        ends = [index.get(name, size) for name in (opening.first, opening.second)]
        through = float(exchange(opening, reference_difference(resolved, opening), 0.0))
        moved = through * routine_values(opening.routine, minutes)
        for target, source in (ends, ends[::-1]):
            if target < size:
                into[:, target, source] += moved
    return into


def _people(zone: Zone, minute: int, heat: bool = False) -> list[float]:
    """Persons, or their metabolic heat [W], of a zone at a minute of the clock."""
    at = np.array([minute])
    return [
        people.count * float(routine_values(people.routine, at)[0]) * (people.total if heat else 1.0)
        for people in zone.people
    ]


def _on_purpose(resolved: Resolved, name: str) -> float:
    """Outdoor air supplied to a zone at its most. [m³/s]"""
    return sum(
        flow.rate * max(flow.routine.values)
        for flow in resolved.flows
        if flow.kind == "fresh_air" and flow.source == OUTDOORS and flow.target == name
    )


def _supply(plan: Plan) -> dict[str, float]:
    """Air that units blow into each zone. [m³/s]"""
    moved: dict[str, float] = {}
    for work in all_working(plan):
        for zone in work.offer.zones:
            moved[zone] = moved.get(zone, 0.0) + work.offer.count * work.flow * work.offer.share(zone)
    return moved


def _findings(name: str, mean: float, peak: float) -> list[Finding]:
    if peak > DANGEROUS:
        return [
            Finding(
                "carbon-dioxide-danger", name, "a shut room in which nobody should sleep: give it outdoor air",
                f"{peak:.0f} ppm", f"{DANGEROUS:.0f} ppm", "Directive 2006/15/EC, from memory",
            )
        ]  # fmt: skip
    if peak > HIGH:
        return [
            Finding(
                "carbon-dioxide", name, "stale air: more outdoor air, or a door or hatch ajar",
                f"{peak:.0f} ppm, {mean:.0f} over 8 h", f"{HIGH:.0f} ppm", COMMON,
            )
        ]  # fmt: skip
    return []

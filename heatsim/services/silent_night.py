"""The silent night of a plan: its bank through the proof's night, minute by minute, with household, pumps and sun."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from heatsim.climate.days import design_weather
from heatsim.equipment.plan import Plan
from heatsim.errors import Finding
from heatsim.scenario.electrics import HOUSEHOLD_FACTOR
from heatsim.services.battery import (
    CHARGING,
    COMMON,
    Bank,
    Inverter,
    Night,
    bank_of,
    charger_of,
    inverter_of,
    lasting,
    lasting_energy,
    night,
    recharge_hours,
)
from heatsim.services.draws import draws, household, pumping, reactive_part, settled_runs
from heatsim.services.electrical import clock
from heatsim.services.generator import highest_start
from heatsim.services.schedule import CURRENT, ELECTRIC, ENERGY, HOURS, SHARE, Assumed, Cell, Column, Schedule, once

if TYPE_CHECKING:
    from heatsim.equipment.proof import Proof
    from heatsim.scenario.electrics import Storage

Array = npt.NDArray[np.float64]

SOLAR = 0.75
"""[-] Of panels' peak power left after heat, dirt, shadow and controller (common practice, no source: 0.7–0.8)."""
SURGE = 2.0
"""[-] Of its rating that an inverter gives for the seconds of a start (common practice, no source)."""
FULL_SUN = 1000.0
"""[W/m²] At which panels are rated (IEC 60904-3)."""
CAUTIONS = (
    "The night's comfort must never eat what starts the engine, the pumps and the lights: keep the reserve on a bank "
    "of its own or behind a cut-off that nobody can override.",
    "Banks hold fire and gas: fuses at the terminals, cells fixed and vented as their maker asks, a lithium bank only "
    "with its own protection. Carbon monoxide alarms stay on; cool nights with the boat shut need outdoor air.",
)


@dataclass(frozen=True)
class DayNight:
    """The night of one day of the proof: its course, the panels' power (time,) [W], the day's yield of panels [J], the
    hours it would last, and the energy of a bank that lasts through it [J]."""

    day: str
    night: Night
    solar: Array
    day_yield: float
    lasts: float
    wanted: float


def nights(plan: Plan, proof: Proof) -> tuple[Bank, Inverter, list[DayNight], tuple[Assumed, ...]] | None:
    """The bank through the night of each day; None where the boat has none."""
    given = plan.resolved.power.battery
    if given is None:
        return None
    bank, assumed = bank_of(given)
    courses = [(run, *_course(plan, proof, run, given)) for run in settled_runs(plan, proof)]
    inverter, more = inverter_of(given, np.concatenate([load for _, load, _, _ in courses]))
    step, found = float(proof.data.attrs["step"]), []
    for run, load, solar, day_yield in courses:
        course = night(bank, inverter, load, step, begins=float(given.night_begins), solar=solar)
        lasts = lasting(bank, inverter, load, step)
        wanted = bank.energy
        if course.stopped is not None and bank.usable > 0.0:
            wanted = lasting_energy(bank, inverter, load, step, solar)
        found.append(DayNight(str(proof.data["day"].values[run]), course, solar, day_yield, lasts, wanted))
    listed = [*assumed, *more]
    if plan.resolved.power.night_load is None:
        listed.append(Assumed("household on the bank", "lights and equipment of the rooms, by their routines"))
    if plan.resolved.power.solar is not None and plan.resolved.power.solar[1] is None:
        listed.append(Assumed("panels", f"{100 * SOLAR:.0f} % of what the sun on a flat deck would give", COMMON))
    return bank, inverter, found, once(listed)


def battery(plan: Plan, proof: Proof) -> Schedule | None:
    """How long the bank carries each night, what is left, and how long it takes to charge; None without a bank."""
    found = nights(plan, proof)
    if found is None:
        return None
    given = plan.resolved.power.battery
    assert given is not None
    bank, inverter, each, assumed = found
    charger, more = charger_of(given, bank)
    rows: list[tuple[Cell, ...]] = []
    findings: list[Finding] = []
    for one in each:
        n = one.night
        left = float(n.charge[-1])
        rows.append((
            one.day, n.hours, float(one.night.load.mean()) if n.stopped is None else n.served / n.stopped / 3600.0,
            n.served, n.stored_drop, outcome(n), left, one.lasts, n.solar_used, one.day_yield,
            recharge_hours(bank, 1.0 - left, charger),
        ))  # fmt: skip
        if n.stopped is not None:
            findings.append(
                Finding(
                    "battery-short", f"supply.battery: {one.day} day",
                    outcome(n) + enough(one, bank),
                    f"{n.stopped:.1f} h", f"{n.hours:.1f} h", "the night as entered",
                )
            )  # fmt: skip
    findings += _inverter_findings(plan, inverter, each)
    assumed = (
        *assumed, Assumed("charge that a bank keeps of what is put in", f"{100 * CHARGING[bank.kind]:.0f} %", COMMON),
        Assumed("surge of the inverter", f"{SURGE:g} times its rating for a start", COMMON),
    )  # fmt: skip
    columns = (
        Column("day"), Column("night", HOURS), Column("mean load", ELECTRIC), Column("served", ENERGY),
        Column("from the bank", ENERGY), Column("outcome"), Column("left", SHARE), Column("such a night lasts", HOURS),
        Column("sun by night", ENERGY), Column("sun by day", ENERGY), Column("recharge", HOURS),
    )  # fmt: skip
    notes = (
        f"Bank: {bank.capacity:.0f} Ah at {bank.hours:g} h, {bank.voltage:g} V, Peukert {bank.exponent:g}, "
        f"{bank.energy / 3.6e6:.1f} kWh; {100 * bank.usable:.0f} % may be used. Inverter {inverter.rating / 1e3:g} kW "
        f"at {100 * inverter.efficiency:.0f} %, {inverter.idle:.0f} W while it is on.",
        "Such a night lasts: hours to the kept reserve if the same night went on and on without sun. Recharge by the "
        f"chargers ({charger / 1e3:.1f} kW) from shore or generator; a lead bank counts as full at 98 %.",
    )
    return Schedule(
        "battery", "Battery night", columns, tuple(rows), notes, tuple(findings), once([*assumed, *more]), CAUTIONS
    )


def battery_hours(plan: Plan, proof: Proof) -> Schedule | None:
    """The night hour by hour: load, what the bank gives, the sun, and what is left at the end of the hour."""
    found = nights(plan, proof)
    if found is None:
        return None
    bank, _, each, _ = found
    rows: list[tuple[Cell, ...]] = []
    for one in each:
        n, per = one.night, round(3600.0 / one.night.step)
        for k in range(round(n.hours)):
            part = slice(k * per, (k + 1) * per)
            net = float((n.drawn[part] - one.solar[part] * (n.drawn[part] > 0.0)).mean())
            rows.append((
                one.day, clock(n.begins + k), float(n.load[part].mean()), float(n.drawn[part].mean()),
                float(one.solar[part].mean()), net / bank.voltage, float(n.charge[(k + 1) * per]),
            ))  # fmt: skip
    columns = (
        Column("day"), Column("hour from"), Column("load", ELECTRIC), Column("inverter takes", ELECTRIC),
        Column("sun", ELECTRIC), Column("bank", CURRENT), Column("left at its end", SHARE),
    )  # fmt: skip
    return Schedule("battery-hours", "Battery night, hour by hour", columns, tuple(rows))


def outcome(n: Night) -> str:
    """How a night ends, in words."""
    if n.stopped is None:
        return f"lasts the night, {n.charge[-1]:.0%} left"
    return f"stopped at {clock(n.begins + n.stopped)}, reserve kept"


def enough(one: DayNight, bank: Bank) -> str:
    """What would carry a night that ends too early, in words."""
    if bank.usable <= 0.0:
        return "; the reserve leaves nothing to use"
    return f"; {ceil(one.wanted / 3.6e6):d} kWh of its kind would last the night, or less that runs"


def _course(plan: Plan, proof: Proof, run: int, given: Storage) -> tuple[Array, Array, float]:
    """Load [W] and panels' power [W] through the night of a run, and what panels give in its whole day [J]."""
    data, step = proof.data, float(proof.data.attrs["step"])
    minute = (np.arange(data.sizes["time"]) * step / 60.0 + float(data["start_minute"].values[run])).astype(int) % 1440
    beside = plan.resolved.power.night_load
    rest = household(plan.resolved)[minute] if beside is None else np.full(len(minute), beside)
    power = data["power"].values[run] + pumping(plan, proof, run) + rest
    sun = _panels(plan, str(data["day"].values[run]), minute)
    length = (given.night_ends - given.night_begins) % 24
    wanted = (given.night_begins * 3600.0 + np.arange(round(length * 3600.0 / step)) * step) / 60.0 % 1440
    index = (np.round(wanted * 60.0 / step) - round(minute[0] * 60.0 / step)).astype(int) % len(minute)
    return power[index], sun[index], float(sun.sum() * step)


def _panels(plan: Plan, kind: str, minute: npt.NDArray[np.int64]) -> Array:
    """Power of panels flat on deck at minutes of the clock of a day: its sun on a level plane. [W]"""
    given = plan.resolved.power.solar
    if given is None:
        return np.zeros(len(minute))
    peak, efficiency = given
    day = next(day for day in plan.resolved.days if day.kind == kind)
    weather = design_weather(plan.resolved, day, 900.0)
    light = np.interp(minute, weather.local_minute, weather.ghi[0], period=1440.0)
    return np.asarray(peak * (SOLAR if efficiency is None else efficiency) * light / FULL_SUN)


def _inverter_findings(plan: Plan, inverter: Inverter, each: list[DayNight]) -> list[Finding]:
    found = []
    most = max((float(one.night.load.max(initial=0.0)) for one in each), default=0.0)
    if most > inverter.rating:
        found.append(
            Finding(
                "inverter-small", "supply.battery.inverter", "the night asks for more than the inverter gives for long",
                f"{most / 1e3:.1f} kW", f"{inverter.rating / 1e3:.1f} kW",
            )
        )  # fmt: skip
    base = float(household(plan.resolved).mean()) if plan.resolved.power.night_load is None else (
        plan.resolved.power.night_load)  # fmt: skip
    start, soft = (highest_start(list(draws(plan)), complex(base, reactive_part(base, HOUSEHOLD_FACTOR)), False, less)
                   for less in (False, True))  # fmt: skip
    if start > SURGE * inverter.rating:
        found.append(
            Finding(
                "inverter-start", "supply.battery.inverter",
                "starting in the best order goes beyond the inverter's surge: soft starters (then "
                f"{soft / 1e3:.1f} kVA) or variable-speed units",
                f"{start / 1e3:.1f} kVA", f"{SURGE * inverter.rating / 1e3:.1f} kVA", COMMON,
            )
        )  # fmt: skip
    return found

"""Cables: voltage drop running and at start, and the least copper that keeps it.

E = ρ I L / S with the length there and back (ISO 10133 and ISO 13297, annexes on voltage drop; ABYC E-11), √3 times one
way for three phases. Resistance alone: the reactance of small cables is small beside it. Air conditioning and all that
is safety 3 %; 10 % only for direct current to what is not critical.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Literal

from heatsim.equipment.plan import Plan
from heatsim.errors import Finding
from heatsim.scenario.circuits import CableText
from heatsim.services.draws import COMMON, Draw, draws
from heatsim.services.electrical import SHORE_CAUTION
from heatsim.services.schedule import CURRENT, LENGTH, VOLTAGE, Assumed, Cell, Column, Schedule, once
from heatsim.services.units import given

System = Literal["ac", "three-phase", "dc", "dc not critical"]

COPPER = 0.0179
"""[Ω mm²/m] Warm: ABYC E-11's 10.75 Ω per circular mil-foot (from memory)."""
ISO_COPPER = 0.0164
"""[Ω mm²/m] ISO 10133:2012, annex C (from memory)."""
CIRCULAR_MIL = 5.067075e-4
"""[mm²] π/4 of a thousandth of an inch squared."""
SECTIONS = (1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0, 50.0, 70.0, 95.0, 120.0)
"""[mm²] Sizes that are made (IEC 60228)."""
RUNNING, NOT_CRITICAL = 0.03, 0.10
"""[-] ISO 10133 and ABYC E-11 (from memory: 3 % where it matters, 10 % elsewhere)."""
AT_START = 0.15
"""[-] That a motor and its contactor stand while it starts (common practice, no source: 10–20 %)."""
DENSEST = 6.0
"""[A/mm²] Where no bundle and no engine space heats a cable (assumed; ISO 13297's tables by temperature decide)."""
LENGTH_SHARE = 0.5
"""[-] Of the boat's length that a cable is long where none is entered (assumed)."""


@dataclass(frozen=True)
class Drop:
    """Drop of voltage over a cable, and as a share of the voltage."""

    volts: float
    share: float


def drop(
    current: float, length: float, section: float, voltage: float, system: System = "ac", resistivity: float = COPPER
) -> Drop:
    """Voltage drop of a circuit.

    Parameters
    ----------
    current : float
        [A]
    length : float
        One way. [m]
    section : float
        Of one conductor. [mm²]
    voltage : float
        Between conductors. [V]
    system : {"ac", "three-phase", "dc", "dc not critical"}
    resistivity : float
        [Ω mm²/m]
    """
    ways = sqrt(3.0) if system == "three-phase" else 2.0
    volts = resistivity * current * ways * length / section
    return Drop(volts, volts / voltage)


def least_section(
    current: float, length: float, voltage: float, share: float, system: System = "ac", resistivity: float = COPPER
) -> float:
    """Copper at which the drop is just a share of the voltage. [mm²]"""
    return drop(current, length, 1.0, voltage, system, resistivity).share / share


def made(section: float) -> float:
    """The next size that is made; beyond the largest, the section itself. [mm²]"""
    return next((size for size in SECTIONS if size >= section - 1e-9), section)


def cables(plan: Plan) -> Schedule:
    """Every unit's circuit, as entered or by the boat's length, and every other cable of the file."""
    rows: list[tuple[Cell, ...]] = []
    findings: list[Finding] = []
    assumed: list[Assumed] = []
    entered = given(plan).cables
    for draw in draws(plan):
        cable = next((one for one in entered if one.serves is not None and one.serves in draw.zones), None)
        row, found = _of_unit(draw, cable, plan.resolved.length, assumed)
        rows.append(row)
        findings += found
    for number, cable in enumerate(entered):
        if cable.serves is None:
            row, found = _of_file(cable, number)
            rows.append(row)
            findings += found
    columns = (
        Column("tag"), Column("circuit"), Column("one way", LENGTH), Column("copper [mm²]"), Column("voltage", VOLTAGE),
        Column("running", CURRENT), Column("drop [%]"), Column("allowed [%]"), Column("at start", CURRENT),
        Column("drop at start [%]"), Column("by"),
    )  # fmt: skip
    notes = (
        "3 % running for every air-conditioning circuit, the start apart, judged with what else it shares its breaker "
        "with off; 10 % only for direct current to what is not critical.",
        "Sections by drop and by 6 A/mm²: heat, bundles and engine spaces ask for more by the standard's tables.",
    )
    return Schedule("cables", "Cables", columns, tuple(rows), notes, tuple(findings), once(assumed), (SHORE_CAUTION,))


def _of_unit(
    draw: Draw, cable: CableText | None, boat: float, assumed: list[Assumed]
) -> tuple[tuple[Cell, ...], list[Finding]]:
    system: System = "three-phase" if draw.phases == 3 else "ac"
    length, section, by = LENGTH_SHARE * boat, None, "assumed length"
    if cable is not None:
        length, section, by = cable.length, cable.section and 1e6 * cable.section, "as entered"
    else:
        assumed.append(Assumed("cables that are not entered", f"{length:.0f} m, half the boat's length"))
    if section is None:
        section = _chosen(draw.current, draw.start, length, draw.voltage, system)
        by += ", least copper that does"
    running = drop(draw.current, length, section, draw.voltage, system)
    start = drop(draw.start, length, section, draw.voltage, system)
    name = draw.name + (f": {' + '.join(draw.zones)}" if draw.zones else "")
    row: tuple[Cell, ...] = (
        draw.tag, name, length, section, draw.voltage, draw.current, _percent(running.share), _percent(RUNNING),
        draw.start, _percent(start.share), by,
    )  # fmt: skip
    return row, [
        *_too_much(f"services.cables: {name}", running, RUNNING, draw.current, length, draw.voltage, system),
        *_start_too_low(name, start),
    ]


def _of_file(cable: CableText, number: int) -> tuple[tuple[Cell, ...], list[Finding]]:
    assert cable.current is not None
    assert cable.voltage is not None
    allowed = NOT_CRITICAL if cable.system == "dc not critical" else RUNNING
    section, by = (1e6 * cable.section, "as entered") if cable.section is not None else (None, "least copper that does")
    if section is None:
        least = least_section(cable.current, cable.length, cable.voltage, allowed, cable.system)
        section = made(max(least, cable.current / DENSEST, SECTIONS[0]))
    running = drop(cable.current, cable.length, section, cable.voltage, cable.system)
    row: tuple[Cell, ...] = (
        "", cable.name, cable.length, section, cable.voltage, cable.current, _percent(running.share), _percent(allowed),
        None, None, by,
    )  # fmt: skip
    path = f"services.cables[{number}]: {cable.name}"
    return row, _too_much(path, running, allowed, cable.current, cable.length, cable.voltage, cable.system)


def _percent(share: float) -> float:
    """To a tenth."""
    return round(100.0 * share, 1)


def _chosen(current: float, start: float, length: float, voltage: float, system: System) -> float:
    """The least size made that keeps running drop, start dip and density. [mm²]"""
    return made(
        max(
            least_section(current, length, voltage, RUNNING, system),
            least_section(start, length, voltage, AT_START, system),
            current / DENSEST,
            SECTIONS[0],
        )
    )


def _too_much(
    path: str, found: Drop, allowed: float, current: float, length: float, voltage: float, system: System
) -> list[Finding]:
    if found.share <= allowed:
        return []
    better = made(least_section(current, length, voltage, allowed, system))
    return [
        Finding(
            "voltage-drop", path, f"the cable loses {found.volts:.1f} V; {better:g} mm² keeps within the limit",
            f"{found.share:.1%}", f"{allowed:.0%}", "ISO 13297, ABYC E-11, from memory",
        )
    ]  # fmt: skip


def _start_too_low(name: str, found: Drop) -> list[Finding]:
    if found.share <= AT_START:
        return []
    return [
        Finding(
            "start-dip", f"services.cables: {name}", "the unit may not start at the end of this cable",
            f"{found.share:.0%}", f"{AT_START:.0%}", COMMON,
        )
    ]  # fmt: skip

"""Spot readings on the screen and in plan.json: expected beside measured, causes by fit, the reading that separates."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from heatsim.equipment.readings import (
    AIR,
    CALLING,
    CURRENT,
    FREQUENCY,
    LICENSED,
    RISE,
    RUN,
    VOLTAGE,
    WARM,
    WATER,
    WET,
    Diagnosis,
)
from heatsim.report.amounts import AIR_FLOW, UnitSystem, difference, phrase, temperature
from heatsim.report.tables import plain_table

if TYPE_CHECKING:
    from rich.console import Console

US_GALLON_PER_MINUTE = 6.30902e-5
"""[m³/s] (NIST SP 811, appendix B.8)."""
ELECTRICAL = {CURRENT: ("A", 1), VOLTAGE: ("V", 0), FREQUENCY: ("Hz", 1)}
POOR = 16.0
"""Squares left above which even the best cause fits badly: four standard deviations (assumed)."""
LEAST_SEPARATION = 1.0
"""Standard deviations below which one more reading decides nothing (assumed)."""


def print_diagnoses(console: Console, found: tuple[Diagnosis, ...], system: UnitSystem) -> None:
    """For every unit that was read: expected and measured, the causes by fit, what to read next, cautions."""
    for one in found:
        console.print()
        console.print(_compared_table(one, system))
        console.print(verdict(one))
        if tripped(one) or (one.sound and _warm(one) <= CALLING):
            continue
        for candidate in one.candidates:
            strength = f", {100.0 * candidate.strength:.0f} %" if candidate.strength >= 0.005 else ""
            console.print(
                f"  {_percent(candidate.chance):>6}  {candidate.cause}: {candidate.words}{strength} "
                f"(squares left {candidate.misfit:.1f})"
            )
        for candidate in one.candidates[:2]:
            console.print(f"      {candidate.cause}: {candidate.advice}", style="dim")
        if one.candidates[0].misfit > POOR:
            console.print("no single cause fits: look for two at once, or for a slip in a reading", style="bold")
        console.print(next_line(one, system))
        console.print(LICENSED, style="bold")


def tripped(one: Diagnosis) -> bool:
    """Whether a sound unit would not run either in that sea."""
    return any(reading.name == RISE and reading.expected == 0.0 for reading in one.readings)


def verdict(one: Diagnosis) -> str:
    """What the readings say in one sentence, never more than they can."""
    if tripped(one):
        return f"{one.spot.unit}: in sea this warm a sound unit trips too, so that no cause is told from these readings"
    warm = _warm(one)
    chance = f"{_percent(one.likely)} of sound units read like that or worse"
    if one.sound and warm <= CALLING:
        return f"{one.spot.unit}: nothing is wrong that these readings show ({chance})"
    if one.sound:
        return f"{one.spot.unit} reads like a sound unit ({chance}) in a room too warm; what fits that:"
    return f"{one.spot.unit} does not read like a sound unit ({chance}); what fits, best first:"


def next_line(one: Diagnosis, system: UnitSystem) -> str:
    """The one further reading that separates the first two causes."""
    first, second = one.candidates[:2]
    if one.next is None:
        return "every reading was taken; take them again under a steady load if two causes stay close"
    if one.separation < LEAST_SEPARATION:
        return f"no single reading separates {first.cause} from {second.cause} by more than its own scatter"
    a, b = (shown(one.next, candidate.readings[one.next], system) for candidate in (first, second))
    return (
        f"read next: {one.next}; {first.cause} means about {a}, {second.cause} about {b} "
        f"({one.separation:.1f} standard deviations apart)"
    )


def shown(name: str, value: float, system: UnitSystem) -> str:
    """A reading in the units a fitter reads."""
    if name == WATER:
        si, us = f"{6e4 * value:.1f} L/min", f"{value / US_GALLON_PER_MINUTE:.1f} US gal/min"
        return {"si": si, "us": us, "both": f"{si} ({us})"}[system]
    if name == AIR:
        return phrase(value, AIR_FLOW, system)
    if name in ELECTRICAL:
        unit, digits = ELECTRICAL[name]
        return f"{value:.{digits}f} {unit}"
    if name == RUN:
        return f"{100.0 * value:.0f} %"
    return temperature(value, system) if name == WET else difference(value, system)


def _percent(share: float) -> str:
    return "< 1 %" if share < 0.01 else "> 99 %" if share > 0.99 else f"{100.0 * share:.0f} %"


def _warm(one: Diagnosis) -> float:
    return next((reading.measured or 0.0 for reading in one.readings if reading.name == WARM), 0.0)


def _compared_table(one: Diagnosis, system: UnitSystem) -> object:
    rows = []
    for r in one.readings:
        deviation = difference(r.deviation, system) if r.name == WET else shown(r.name, r.deviation, system)
        read = "–" if r.measured is None else shown(r.name, r.measured, system)
        off = "" if r.departure is None else f"{r.departure:+.1f}"
        rows.append([r.name, shown(r.name, r.expected, system), f"± {deviation}", read, off])
    at = f", {one.spot.at}" if one.spot.at else ""
    entering = temperature(one.spot.entering_air, system), temperature(one.spot.sea_in, system)
    title = f"Readings of {one.spot.unit} ({one.model}){at}: air in {entering[0]}, sea in {entering[1]}"
    heads = ["reading", "a sound unit\nwould show", "standard\ndeviation", "was read", "off by,\ndeviations"]
    return plain_table(title, heads, rows, heads[1:])


def as_json(found: tuple[Diagnosis, ...]) -> list[dict[str, Any]]:
    """Plain values in SI: K, °C for wet bulbs, m³/s, A, V, Hz, shares."""
    return [
        {
            "unit": one.spot.unit, "model": one.model, "zones": list(one.zones), "at": one.spot.at,
            "reads_like_a_sound_unit": one.sound, "chance_of_a_sound_unit": one.likely,
            "readings": {
                r.name: {
                    "expected": r.expected, "deviation": r.deviation, "measured": r.measured, "departure": r.departure,
                }
                for r in one.readings
            },
            "candidates": [
                {
                    "cause": c.cause, "how": c.words, "strength": c.strength, "squares_left": c.misfit,
                    "chance": c.chance, "advice": c.advice,
                }
                for c in one.candidates
            ],
            "read_next": one.next, "separation": one.separation, "caution": LICENSED,
        }
        for one in found
    ]  # fmt: skip

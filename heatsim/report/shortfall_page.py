"""Why she falls short, on the screen and in plan.json: float temperatures, the gap by cause, remedies by kW and K."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from heatsim.equipment.holding import HEAT_STRESS
from heatsim.equipment.plan import HOLDS, Plan
from heatsim.equipment.shortfall import Gap, Shortfall
from heatsim.report.amounts import POWER, UnitSystem, difference, phrase, show, temperature, units
from heatsim.report.plan_page import CAUTIONS
from heatsim.report.tables import plain_table

if TYPE_CHECKING:
    from rich.console import Console

ASK = "Remedies ranked by kW and K, each simulated: heatsim plan FILE --remedies (as long again as the plan)."


def print_shortfall(console: Console, made: Plan, found: Shortfall, system: UnitSystem) -> None:
    """Everything that is known of what is installed, cautions beside the numbers they belong to."""
    console.print()
    console.print(headline(made, found, system))
    console.print(_float_table(made, found, system))
    if found.held.stressed:
        console.print(f"{', '.join(found.held.stressed)}: {CAUTIONS['heat']}", style="bold")
    if found.unserved:
        console.print(f"nothing installed serves {', '.join(found.unserved)}")
    for gap in found.gaps:
        console.print(gap_line(gap, system))
        console.print(_cause_table(gap, system))
    if not found.remedies:
        console.print(ASK)
        return
    console.print("Remedies, by what they take off the block load or add in capacity (kW), and off the worst zone (K):")
    for one in found.remedies:
        console.print(f"  {phrase(one.power, POWER, system)}, {_kelvins(one.kelvin, system)}: {one.name}")
        console.print(f"      {one.caution}", style="dim")
    console.print("Their sum is less than its parts: what one keeps out, another cannot.", style="dim")


def headline(made: Plan, found: Shortfall, system: UnitSystem) -> str:
    """Whether what is installed falls short on the design days, and where most."""
    bow = f"design days, bow {made.heading:.0f}°"
    if not found.short:
        lacking = any(gap.lack > 0.0 for gap in found.gaps)
        but = "; some unit lacks total capacity, so that rooms turn damp rather than warm" if lacking else ""
        return (
            f"Why she falls short: with what is installed she does not, {bow}: no zone cooled all day is more than "
            f"{difference(HOLDS, system)} above its setpoint{but}"
        )
    worst = max(found.short, key=found.held.above.__getitem__)
    return (
        f"Why she falls short: with what is installed {', '.join(found.short)} leave their setpoint, {bow}; "
        f"{worst} floats at {temperature(found.held.air[worst], system)}, "
        f"{difference(found.held.above[worst], system)} above it"
    )


def gap_line(gap: Gap, system: UnitSystem) -> str:
    """What a unit is asked for, what it does aboard, and what is lacking or to spare."""
    rest = f"lacks {phrase(gap.lack, POWER, system)}" if gap.lack > 0.0 else f"{phrase(-gap.lack, POWER, system)} spare"
    return (
        f"{gap.unit} ({', '.join(gap.zones)}): asked for {phrase(gap.demand, POWER, system)}, does "
        f"{phrase(gap.capacity, POWER, system)} aboard: {rest}"
    )


def _float_table(made: Plan, found: Shortfall, system: UnitSystem) -> object:
    held = found.held
    rows = [
        [
            name, temperature(held.air[name], system), temperature(held.operative[name], system),
            difference(held.above[name], system) + (" (cooling pauses)" if name in made.paused else ""),
        ]
        for name in sorted(held.above, key=lambda name: -held.above[name])
    ]  # fmt: skip
    heads = ["zone", "floats at, air", "operative", "above setpoint"]
    return plain_table("As installed, design days", heads, rows, heads[1:])


def _cause_table(gap: Gap, system: UnitSystem) -> object:
    shares = dict(gap.shares)
    rows = [
        [name, *show(watts, POWER, system), f"{100.0 * shares[name]:.0f} %" if name in shares else "helps"]
        for name, watts in gap.causes
        if abs(watts) >= 0.5
    ]
    rows.append(["lacking" if gap.lack > 0.0 else "lacking (below zero: to spare)", *show(gap.lack, POWER, system), ""])
    heads = ["cause", *(f"takes\n{unit}" for unit in units(POWER, system)), "share of what\nworks against it"]
    return plain_table("", heads, rows, heads[1:])


def _kelvins(value: float, system: UnitSystem) -> str:
    return difference(round(value, 6) + 0.0, system)


def as_json(made: Plan, found: Shortfall) -> dict[str, Any]:
    """Plain values, SI with the unit in each name."""
    held = found.held
    return {
        "falls_short": list(found.short),
        "not_served": list(found.unserved),
        "zones": {
            name: {
                "floats_at_degC": held.air[name], "operative_degC": held.operative[name],
                "above_setpoint_K": held.above[name], "cooling_pauses": name in made.paused,
                "heat_stress": held.operative[name] >= HEAT_STRESS,
            }
            for name in held.above
        },
        "units": [
            {
                "model": gap.unit, "zones": list(gap.zones), "demand_W": gap.demand, "corrected_W": gap.capacity,
                "lacking_W": gap.lack, "causes_W": dict(gap.causes), "shares": dict(gap.shares),
            }
            for gap in found.gaps
        ],
        "remedies": [
            {"name": one.name, "power_W": one.power, "worst_zone_K": one.kelvin, "caution": one.caution}
            for one in found.remedies
        ]
        or None,
    }  # fmt: skip

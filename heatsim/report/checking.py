"""What `heatsim check` and `heatsim compare` print."""

from __future__ import annotations

from typing import TYPE_CHECKING

from heatsim.report.amounts import BTU_PER_HOUR, POWER, UnitSystem, phrase, show, units
from heatsim.report.pictures import label_of
from heatsim.report.tables import defaults_table, findings_table, plain_table
from heatsim.scenario.thumb import AREA_FACTORS, CUBIC_FOOT, VOLUME_FACTORS, volume_rule

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from heatsim.loads.check import Check
    from heatsim.loads.compare import Comparison

MOST_INPUTS = 40


def print_check(console: Console, result: Check, system: UnitSystem) -> None:
    """What needs an answer first: findings, what to find out next, rules of thumb; the long list of defaults last."""
    count = len(result.findings)
    told = "No findings" if not count else "One finding" if count == 1 else f"{count} findings"
    console.print(f"{result.name}: the file is sound. {told}; {len(result.defaults)} defaults were used, listed last.")
    if result.findings:
        console.print(findings_table(result.findings))
    if result.leverage:
        console.print(_leverage_table(result, system))
    _print_thumb(console, result, system)
    console.print(defaults_table(result.defaults))


def _leverage_table(result: Check, system: UnitSystem) -> Table:
    numbers = [*_both("at from", system), *_both("at to", system)]
    return plain_table(
        "What to find out next: change of the block load over each default's range, largest first",
        ["default", "values", "from", "to", *numbers],
        (
            [
                item.path, str(item.count), item.low, item.high, *_signed(item.at_low, system),
                *_signed(item.at_high, system),
            ]
            for item in result.leverage
        ),
        numbers=["values", *numbers],
    )  # fmt: skip


def _print_thumb(console: Console, result: Check, system: UnitSystem) -> None:
    heads = ["zone", "kind", *_both("volume rule low", system), *_both("high", system), *_both("area rule", system),
             *_both(f"heatsim {result.day}", system)]  # fmt: skip
    rows = []
    for rule in result.thumb:
        ours = result.zones.get(rule.zone, result.block)
        row = [rule.zone, rule.kind]
        for value in (rule.volume_low, rule.volume_high, rule.area, ours):
            row += show(value, POWER, system) if value == value else ["–" for _ in units(POWER, system)]
        rows.append(row)
    console.print(plain_table("The trade's rules of thumb beside (common practice, no source)", heads, rows, heads[2:]))
    console.print(rule_in_words())
    boat = result.thumb[-1]
    console.print(
        f"Rules of thumb know nothing of glass, facing, shade, fresh air or the hour. They add zones up: "
        f"{phrase(boat.volume_low, POWER, system)} to {phrase(boat.volume_high, POWER, system)} by volume, "
        f"{phrase(boat.area, POWER, system)} by area"
        + (f"; the block load here is {phrase(result.block, POWER, system)}." if result.block == result.block else ".")
    )


def rule_in_words() -> str:
    """The volume rule's factors, and one sum as people do it on the back of an envelope."""
    factors = ", ".join(
        f"{low:g}" + (f" to {high:g}" if high > low else "") + f" {kind}"
        for kind, (low, high) in VOLUME_FACTORS.items()
    )
    example = volume_rule(200.0 * CUBIC_FOOT, 15.0) / BTU_PER_HOUR
    return (
        f"Volume rule, Btu/h·ft³: {factors}. So 200 ft³ at 15 Btu/h·ft³ is {example:,.0f} Btu/h. "
        "Area rule by deck level, Btu/h·ft²: " + ", ".join(f"{f:g} {level}" for level, f in AREA_FACTORS.items()) + "."
    )


def _both(head: str, system: UnitSystem) -> list[str]:
    return [f"{head}\n{unit}" for unit in units(POWER, system)]


def _signed(value: float, system: UnitSystem) -> list[str]:
    if value != value:
        return ["refused" for _ in units(POWER, system)]
    texts = show(value, POWER, system)
    return [text.lstrip("-") if not text.strip("-0.") else ("+" if value > 0 else "") + text for text in texts]


def _degrees(celsius: float, system: UnitSystem) -> str:
    return f"{celsius * 1.8 + 32.0:.0f}" if system == "us" else f"{celsius:.1f}"


def print_comparison(console: Console, result: Comparison, system: UnitSystem) -> None:
    """Inputs that differ, then zones."""
    first, second = result.names
    shown = result.inputs[:MOST_INPUTS]
    console.print(
        plain_table(
            f"Inputs that differ ({len(result.inputs)})", ["value", first, second],
            ([item.path, item.first, item.second] for item in shown),
        )
    )  # fmt: skip
    if len(result.inputs) > MOST_INPUTS:
        console.print(f"and {len(result.inputs) - MOST_INPUTS} more (all with --json)")
    heads = ["day", "zone", *_both("first", system), *_both("second", system), *_both("change", system), "at",
             "warmest °F" if system == "us" else "warmest °C", "mostly by"]  # fmt: skip
    parts: UnitSystem = "us" if system == "us" else "si"
    unit = units(POWER, parts)[0]
    rows = []
    for change in result.changes:
        rows.append(
            [
                change.day, change.zone, *show(change.first, POWER, system), *show(change.second, POWER, system),
                *_signed(change.second - change.first, system), f"{change.first_hour} → {change.second_hour}",
                " → ".join(_degrees(warmest, system) for warmest in (change.first_warmest, change.second_warmest)),
                ", ".join(f"{label_of(name)} {_signed(value, parts)[0]} {unit}" for name, value in change.causes),
            ]
        )  # fmt: skip
    console.print(plain_table("Peak cooling of each zone", heads, rows, heads[2:-1]))

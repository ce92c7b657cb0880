"""All layouts of a plan in one table, each a column, and what each amount in it is."""

from __future__ import annotations

from collections.abc import Callable
from math import isfinite

from heatsim.equipment.holding import Held
from heatsim.equipment.layouts import ABOARD, Failure, Layout, value_of_layout
from heatsim.equipment.plan import HOLDS, Plan
from heatsim.equipment.selection import Relaxation
from heatsim.report.amounts import MASS, POWER, UnitSystem, difference, show, temperature, units
from heatsim.report.service_amounts import SHOWN
from heatsim.report.tables import plain_table
from heatsim.services.schedule import WATER_FLOW

NOTHING = "–"
WATER = SHOWN[WATER_FLOW]


def layouts_table(made: Plan, system: UnitSystem) -> object:
    """All layouts side by side, one a column."""
    terms = made.resolved.terms
    heads = ["", *(f"{one.name}\n(chosen)" if one is made.chosen else one.name for one in made.layouts)]
    rows: list[list[str]] = []
    none = not any(one.possible for one in made.layouts)

    def row(name: str, cell: Callable[[Layout], str]) -> None:
        if none:
            return
        rows.append([name, *(cell(one) if one.possible else NOTHING for one in made.layouts)])

    row("units", _unit_count)
    for label, value in (("nameplate", nameplate), ("aboard, corrected", lambda one: one.capacity)):
        for i, unit in enumerate(units(POWER, system)):
            row(f"{label}, {unit}", lambda one, value=value, i=i: show(value(one), POWER, system)[i])  # type: ignore[misc]
    row("least margin over its load", lambda one: f"{100.0 * one.margin:+.0f} %")
    row("worst drift without thermostat", lambda one: difference(one.worst_drift, system))
    row("running, kVA", lambda one: _of(one.running_apparent, terms.shore, "shore"))
    row("largest start, kVA", lambda one: f"{one.start_apparent / 1e3:.1f}")
    row("running, kW electric", lambda one: _of(one.power, terms.generator, "generator"))
    for i, unit in enumerate(units(MASS, system)):
        row(f"weight, {unit}", lambda one, i=i: _known(one.weight, show(one.weight, MASS, system)[i]))  # type: ignore[misc]
    row("price", lambda one: NOTHING if one.name == ABOARD else _known(one.cost, f"{one.cost:,.0f}"))
    row("charge over its limit", _crowded)
    row("hot day, kWh: day + night", _energy)
    for i, unit in enumerate(units(WATER, system)):
        row(f"sea water, {unit}", lambda one, i=i: show(one.sea_water, WATER, system)[i])  # type: ignore[misc]
    row("proof: not held", lambda one: failures(one, system))
    if any(one.cut for one in made.layouts):
        row("choices cut off before", lambda one: str(one.cut))
    row("one unit lost: worst zone", lambda one: _worst_lost(made, one, system))
    rows.append(["stands in the way", *(NOTHING if one.possible else in_the_way(one, made) for one in made.layouts)])
    if any(one.short for one in made.layouts):
        rows.append(["not carried", *(", ".join(one.short) or NOTHING for one in made.layouts)])
    return plain_table("Layouts side by side", heads, rows)


def _energy(layout: Layout) -> str:
    return NOTHING if layout.energy is None else " + ".join(f"{part:.0f}" for part in layout.energy)


def _unit_count(layout: Layout) -> str:
    count = sum(offer.count for offer in layout.offers)
    if layout.plant is None:
        return str(count)
    parts = [_some(count, "air handler"), _some(layout.plant.count, "chiller")]
    if layout.treated is not None:
        parts.append(_some(layout.treated.count, "fresh-air unit"))
    return ", ".join(parts)


def _some(count: int, name: str) -> str:
    return f"{count} {name}" + ("" if count == 1 else "s")


def nameplate(layout: Layout) -> float:
    """Nameplates of what takes heat to the sea, net of their fans. [W]"""
    if layout.plant is not None:
        return layout.plant.count * layout.plant.unit.gross
    return sum(offer.count * (offer.unit.gross - offer.unit.fan_power) for offer in layout.offers)


def _of(value: float, limit: float, name: str) -> str:
    text = f"{value / 1e3:.1f}"
    if not isfinite(limit):
        return text
    return f"{text} of {limit / 1e3:.1f} {name}" + (" EXCEEDED" if value > limit else "")


def _known(value: float, text: str) -> str:
    return text if isfinite(value) else "not in the catalogue"


def _crowded(layout: Layout) -> str:
    return ", ".join(f"{share:.1f} × in {room}" for room, share in layout.crowded.items()) or "nowhere"


def failures(layout: Layout, system: UnitSystem) -> str:
    """What the checks of a layout found, worst first."""
    if layout.failures is None:
        return "not run"
    found = sorted(layout.failures, key=lambda one: -one.value / max(one.limit, 1.0))
    return "; ".join(failure_text(one, system) for one in found) or "all held"


def failure_text(failure: Failure, system: UnitSystem) -> str:
    """A zone that does not keep its terms, in a few words."""
    match failure.why:
        case "too damp":
            amount = f"{failure.value:.0f} h above 65 % humidity"
        case "one unit lost":
            amount = f"{temperature(failure.value, system)} with one unit lost"
        case _:
            amount = f"{difference(failure.value, system)} above, {failure.why}"
    return f"{failure.zone} {amount}"


def worst_zone(made: Plan, held: Held) -> tuple[str, float]:
    """The zone farthest above its setpoint [K]; one whose cooling pauses only where its own unit is lost."""
    own = [] if held.lost is None else held.lost.split(" + ")
    above = {name: k for name, k in held.above.items() if name not in made.paused or name in own} or held.above
    name = max(above, key=above.__getitem__)
    return name, above[name]


def _worst_lost(made: Plan, layout: Layout, system: UnitSystem) -> str:
    held = list(made.lost) if layout is made.chosen else [made.lost_elsewhere[layout.name]]
    if not held:
        return "not run"
    name, above = max((worst_zone(made, one) for one in held), key=lambda found: found[1])
    return "all held" if above <= HOLDS else f"{name} {difference(above, system)} above"


def in_the_way(layout: Layout, made: Plan) -> str:
    if not layout.relaxed:
        return "more than one limit, or no unit is large enough"
    return "; ".join(
        f"{limit_name(one.limit)}{short_of(one)} ({worth_text(one.worth, made)} without it, before its proof)"
        for one in layout.relaxed
    )


def short_of(one: Relaxation) -> str:
    """How much power aboard is asked for, and how much there is, in words; nothing of other limits."""
    if one.asked is None or one.there is None:
        return ""
    unit = "kVA" if one.limit == "shore supply" else "kW"
    return f": at least {one.asked / 1e3:.1f} {unit} asked, {one.there / 1e3:.1f} there"


def limit_name(name: str) -> str:
    """Where a limit stands in the scenario."""
    return "supply.shore" if name == "shore supply" else f"equipment.{name}"


def worth_text(worth: float, made: Plan) -> str:
    """A worth in words, as far as the catalogue tells it."""
    objective = made.resolved.terms.objective
    if not all(isfinite(value_of_layout(one, made.resolved.terms)) for one in made.layouts if one.possible):
        return f"{objective} not known"
    return {"cost": f"price {worth:,.0f}", "weight": f"{worth:,.0f} kg", "power": f"{worth / 1e3:.1f} kW"}[objective]

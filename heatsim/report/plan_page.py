"""A plan on the screen: layouts side by side, the chosen units with their corrections, what they hold, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import TYPE_CHECKING

from heatsim.equipment.capacity import Step, findings
from heatsim.equipment.catalogue import Unit
from heatsim.equipment.holding import HEAT_STRESS, HEAT_STRESS_AT_ONCE
from heatsim.equipment.layouts import Layout, value_of_layout
from heatsim.equipment.needs import Certainty
from heatsim.equipment.plan import HOLDS, Plan, chain, plant_chain
from heatsim.equipment.selection import LONGEST, POWER_ABOARD, Offer
from heatsim.report.amounts import POWER, UnitSystem, difference, phrase, show, temperature, units
from heatsim.report.plan_layouts import NOTHING, layouts_table, limit_name, short_of, worst_zone, worth_text
from heatsim.report.running import CAUTION
from heatsim.report.tables import findings_table, plain_table
from heatsim.scenario.electrics import carries, lowest_of
from heatsim.scenario.resolved import Resolved
from heatsim.scenario.terms import Terms
from heatsim.services.draws import household
from heatsim.tables.loader import by_name

if TYPE_CHECKING:
    from rich.console import Console

INVENTED = "Units come from the catalogue shipped with heatsim: its models, figures and prices are INVENTED."
CAUTIONS = {
    "all": CAUTION,
    "placing": (
        "A self-contained unit takes its air from the room it stands in: never place one, or its return air, in an "
        "engine, generator, battery or petrol space, or where exhaust can leak."
    ),
    "refrigerant": (
        "Refrigerant is handled by certified people only. It displaces air: leave the room and open it up when a "
        "circuit leaks. Groups A2L and A3 burn."
    ),
    "shore": (
        "Shore power: phases are taken as evenly loaded and sockets at 80 % of their rating. Let units start one after "
        "another, and an electrician check cord, plug, earth and polarity: a plug that gets hot starts fires."
    ),
    "sea": (
        "Sea water: a hose that fails behind an open seacock sinks a boat. Close the seacocks of units that nobody "
        "watches, and never start units from afar that may stand behind closed ones."
    ),
    "heat": (
        f"At {temperature(HEAT_STRESS, 'both')} for an hour, or {temperature(HEAT_STRESS_AT_ONCE, 'both')} at all, "
        "people and animals come to harm: nobody sleeps, or is left, in these rooms while their unit is out of order."
    ),
}
"""Each is printed beside the numbers it belongs to."""
LEAST = {"cost": "least price", "weight": "least weight", "power": "least running power"}
FLAMMABLE = ("A2L", "A3")


CHECKED = (
    "Each layout ran through its hot and its humid day minute by minute; a choice that did not hold was cut off, the "
    "next one taken. One unit lost: the other zones taken as held, but for the chosen layout, which was run whole."
)


TWO_PIPES = (
    "Two pipes cool or heat, never both: in {} hours of the simulated days one room asks for heat while another asks "
    "cooling, and one of them goes without; four pipes, or electric heat in those rooms, serve both"
)
ONE_AT_A_TIME = (
    "Two pipes serve her: in no hour of the simulated days does one room ask for heat while another is cooled"
)


def print_plan(console: Console, made: Plan, system: UnitSystem) -> None:
    """Everything a plan says, with each caution beside its numbers."""
    terms = made.resolved.terms
    console.print(_heading(made, system))
    console.print(INVENTED if made.resolved.catalogue is None else f"Units come from {made.resolved.catalogue}.")
    console.print(margins_line(terms, made.certainty))
    console.print(layouts_table(made, system))
    console.print(CHECKED)
    if (line := shore_line(made.resolved)) is not None:
        console.print(line)
    console.print(CAUTIONS["shore"], style="dim")
    console.print()
    if made.chosen is None:
        console.print("No layout can be built within these terms. " + ways_out(made))
        console.print(CAUTION, style="dim")
        return
    console.print(choice_line(made, made.chosen))
    console.print(chain_table(made, made.chosen, system))
    console.print(_sources(made, made.chosen))
    console.print(CAUTIONS["placing"], style="dim")
    console.print(CAUTIONS["sea"], style="dim")
    for line in charge_lines(made):
        console.print(line)
    console.print(CAUTIONS["refrigerant"], style="dim")
    console.print()
    console.print(holding_line(made, system))
    if made.lost:
        console.print(lost_table(made, system))
    if any(held.stressed for held in (*made.lost, *([made.held] if made.held else []))):
        console.print(CAUTIONS["heat"], style="bold")
    found = [finding for unit in _models(made.chosen) for finding in findings(unit)]
    if found:
        console.print(findings_table(found))
    console.print()
    console.print(CAUTION, style="dim")


def _heading(made: Plan, system: UnitSystem) -> str:
    n = made.needs
    peaks = float(n.total.max(axis=(0, 1)).sum())
    days = ", ".join(dict.fromkeys(day for day, _ in n.cases))
    return (
        f"{made.resolved.name}: design days {days}; block load {phrase(n.block, POWER, system)}, sum of zone peaks "
        f"{phrase(peaks, POWER, system)}, sea up to {temperature(n.sea, system)}"
    )


def margins_line(terms: Terms, sure: Certainty | None = None, *, keyed: bool = True) -> str:
    """Margins added up in one line, a computed one before those declared; `keyed` names the file's key for them."""
    if sure is not None:
        rooms = [100.0 * (factor - 1.0) for name, factor in sure.factors.items() if name != "block"]
        computed = (
            f"margin computed: peaks that {100.0 * sure.level:.0f} of 100 stay below, {sure.draws} draws of "
            f"{sure.inputs} uncertain inputs: block {100.0 * (sure.block - 1.0):+.0f} %, rooms {min(rooms):+.0f} to "
            f"{max(rooms):+.0f} %"
        )
        return computed if terms.margin == 1.0 else f"{computed}; {margins_line(terms)}"
    declared = [(name, share) for name, share in terms.margins if share > 0.0]
    if not declared:
        key = " (equipment.margins)" if keyed else ""
        return f"margins: none declared{key}, so that units carry the computed loads and no more"
    parts = " + ".join(f"{name} {100.0 * share:.3g} %" for name, share in declared)
    total = "" if len(declared) == 1 else f" = {100.0 * (terms.margin - 1.0):.3g} %"
    return f"margins on the loads: {parts}{total}, declared once"


def shore_line(resolved: Resolved) -> str | None:
    """What the shore socket leaves for the units, and what else it is kept for; None without a socket."""
    socket, other, pump = resolved.power.shore, resolved.power.other_load, resolved.terms.sea_pump
    if socket is None:
        return None
    text = f"Shore: 80 % of {socket.name} at {lowest_of(socket):.0f} V is {carries(socket) / 1e3:.1f} kVA; sea water "
    text += "pumps are allowed for" if pump == 0.0 else f"pumps keep {pump:.0f} W of it"
    if other is not None:
        return f"{text}, other loads keep {other / 1e3:.1f} kW (supply.other_load)."
    taken = household(resolved) / 1e3
    return (
        f"{text}, lights and equipment of the rooms keep {taken.mean():.1f} kW, their mean; at their most they take "
        f"{taken.max():.1f} kW. Keep more room for them with supply.other_load, or see in the schedules what may wait."
    )


def ways_out(made: Plan) -> str:
    ways = [(one.worth, layout.name, one) for layout in made.layouts for one in layout.relaxed]
    crowded = [layout.name for layout in made.layouts if layout.possible and layout.crowded]
    text = ""
    if ways:
        worth, name, one = min(ways, key=lambda way: way[0])
        text = f"Cheapest way out: lift {limit_name(one.limit)} for {name}{short_of(one)} ({worth_text(worth, made)}); "
        text += "neither its proof nor its refrigerant is run yet: what stands them may cost more. "
        if one.limit in POWER_ABOARD:
            text += "Or lower the load: heatsim check names what it hangs on most. "
    if crowded:
        text += (
            f"Above the limit of refrigerant in a room: {', '.join(crowded)}; give those rooms smaller or split units."
        )
    return text or "No single limit lifted lets her be served: look at the catalogue, the noise and the sizes allowed."


def choice_line(made: Plan, chosen: Layout) -> str:
    """What was chosen, by what, and whether that is proved."""
    terms, choice = made.resolved.terms, chosen.choice
    stand = [one for one in made.layouts if one.failures == () and one.possible]
    among = "that can be built and stand their proof" if stand else "that can be built; NONE stands its proof"
    line = f"chosen: {chosen.name}, {LEAST[terms.objective]} among the layouts {among}; "
    if chosen.cut:
        line += f"{chosen.cut} cheaper choice{'s' if chosen.cut > 1 else ''} failed the proof and "
        line += f"{'were' if chosen.cut > 1 else 'was'} cut off; "
    line += "its units are "
    if choice is None or choice.optimal:
        line += f"proved best of {choice.considered if choice else 0} offers within these terms"
    else:
        line += f"the best found of {choice.considered} offers after {LONGEST:.0f} s, "
        line += f"at most {100.0 * choice.gap:.1f} % off the best"
    if not isfinite(value_of_layout(chosen, terms)):
        line += f". The catalogue does not give every {terms.objective if terms.objective != 'cost' else 'price'}: the "
        line += "power of such units stood in for it"
    if chosen.plant is not None:
        plant = chosen.plant
        line += (
            f". Chillers are the {LEAST[terms.objective]} of the catalogue; their smallest stage of "
            f"{100.0 * plant.smallest_stage:.0f} % needs {1e3 * plant.loop:.0f} L of water in the loop. "
            + (TWO_PIPES.format(made.needs.heat_and_cold) if made.needs.heat_and_cold else ONE_AT_A_TIME)
        )
    return line


def chain_table(made: Plan, chosen: Layout, system: UnitSystem) -> object:
    """Units of each group from nameplate to what they do aboard; factors that are 1 for all are left out."""
    nights = {id(offer.by_night) for offer in chosen.offers}
    lines = [
        (", ".join(o.zones), "the same, by night" if id(o) in nights else o.unit.model, o.count, chain(made, o),
         o.demand.total, o)
        for o in chosen.duties
    ]  # fmt: skip
    chains = [line[3] for line in lines]
    plant = chosen.plant
    if plant is not None:
        chains.append(plant_chain(made, plant.unit))
    factors = [name for name in dict.fromkeys(s.name for steps in chains for s in steps[1:]) if _matters(name, chains)]
    parts: UnitSystem = "us" if system == "us" else "si"
    unit = units(POWER, parts)[0]
    amounts = [f"{name}\n{unit}" for name in ("nameplate", "aboard", "load", "sensible\naboard", "sensible\nload")]
    heads = ["zones", "unit", "count", amounts[0], *(f"× {name}".replace(" ", "\n", 2) for name in factors),
             *amounts[1:], "margin"]  # fmt: skip

    def cells(zones: str, model: str, count: int, steps: Sequence[Step]) -> list[str]:
        by = {step.name: step.factor for step in steps}
        given = [f"{by[name]:.3f}" if name in by else NOTHING for name in factors]
        return [zones, model, str(count), *show(count * steps[0].total, POWER, parts), *given]

    rows = []
    for zones, model, count, steps, load, offer in lines:
        numbers = (offer.total, load, offer.sensible, offer.demand.sensible)
        rows.append(
            [*cells(zones, model, count, steps), *(show(v, POWER, parts)[0] for v in numbers),
             f"{100.0 * offer.margin:+.0f} %"]
        )  # fmt: skip
    if plant is not None:
        first = cells("plant: all air handlers, fans, pipes", plant.unit.model, plant.count, chains[-1])
        totals = [show(v, POWER, parts)[0] for v in (plant.capacity, plant.demand)]
        rows.append([*first, *totals, NOTHING, NOTHING, f"{100.0 * (plant.capacity / plant.demand - 1.0):+.0f} %"])
    return plain_table("Chosen units, from nameplate to what they do aboard", heads, rows, heads[2:])


def _matters(name: str, chains: Sequence[Sequence[Step]]) -> bool:
    return any(step.name == name and abs(step.factor - 1.0) > 5e-4 for steps in chains for step in steps[1:])


def _sources(made: Plan, chosen: Layout) -> str:
    chains = [chain(made, offer) for offer in chosen.duties]
    if chosen.plant is not None:
        chains.append(plant_chain(made, chosen.plant.unit))
    sources = {step.name: step.source for steps in chains for step in steps[1:]}
    acting = [f"{name} ({source})" for name, source in sources.items() if _matters(name, chains)]
    idle = [name for name in sources if not _matters(name, chains)]
    text = "factors: " + "; ".join(acting) if acting else "no factor differs from 1"
    return text + (f". {', '.join(idle).capitalize()}: 1.000 throughout" if idle else "") + "."


def charges(resolved: Resolved, offer: Offer) -> dict[str, str | float] | None:
    """Refrigerant of one unit in the smallest room it can leak into, beside the practical limit; None without any."""
    if not offer.unit.refrigerant or offer.unit.charge <= 0.0:
        return None
    volumes = {zone.name: zone.volume for zone in resolved.zones}
    room = min(offer.zones, key=volumes.__getitem__)
    row = by_name("refrigerants")[offer.unit.refrigerant]
    density, limit = offer.unit.charge / volumes[room], float(row["practical_limit_kg_per_m3"])
    return {
        "refrigerant": offer.unit.refrigerant, "group": str(row["safety_group"]), "charge_kg": offer.unit.charge,
        "room": room, "volume_m3": volumes[room], "kg_per_m3": density, "limit_kg_per_m3": limit,
        "share_of_limit": density / limit,
    }  # fmt: skip


def charge_lines(made: Plan) -> list[str]:
    """How near each refrigerant comes to its limit, in the room where it comes nearest."""
    if made.chosen is None:
        return []
    if made.chosen.plant is not None:
        unit = made.chosen.plant.unit
        return [
            f"refrigerant: {1e3 * unit.charge:.0f} g of {unit.refrigerant} in each chiller; the room it stands in is "
            "not described, so that its limit is not checked"
        ]
    worst: dict[str, dict[str, str | float]] = {}
    for offer in made.chosen.offers:
        found = charges(made.resolved, offer)
        if found is not None:
            name = str(found["refrigerant"])
            if name not in worst or found["share_of_limit"] > worst[name]["share_of_limit"]:  # type: ignore[operator]
                worst[name] = found
    return [
        f"refrigerant: {name} ({one['group']}{', flammable' if one['group'] in FLAMMABLE else ''}) comes nearest to "
        f"its limit in {one['room']}: {1e3 * float(one['charge_kg']):.0f} g in {one['volume_m3']:.1f} m³ is "
        f"{one['kg_per_m3']:.3f} kg/m³ against {one['limit_kg_per_m3']:.3g} (EN 378-1:2016 annex C, from memory)"
        for name, one in worst.items()
    ]


def holding_line(made: Plan, system: UnitSystem) -> str:
    """Whether the chosen layout holds the design days, and which zone does not."""
    if made.held is None:
        return ""
    pauses = ""
    if made.paused:
        above = ", ".join(f"{name} {difference(made.held.above[name], system)}" for name in made.paused)
        pauses = f". Where cooling is off for part of the day rooms leave their setpoint, and recover later: {above}"
    if made.holds:
        return (
            f"with all units the design days are held, bow {made.heading:.0f}°: no zone cooled all day is more than "
            f"{difference(HOLDS, system)} above its setpoint{pauses}"
        )
    short = [(k, name) for name, k in made.held.above.items() if k > HOLDS and name not in made.paused]
    return (
        f"with all units the design days are NOT held, bow {made.heading:.0f}°: "
        + ", ".join(f"{name} {difference(k, system)} above its setpoint" for k, name in sorted(short, reverse=True))
        + f"; its unit carries less than its load, or shares its air otherwise than the load falls{pauses}"
    )


def lost_table(made: Plan, system: UnitSystem) -> object:
    """What becomes of the boat with each unit out of order."""
    rows = []
    for held in made.lost:
        name, above = worst_zone(made, held)
        hot = ", ".join(f"{zone} {temperature(held.operative[zone], system)}" for zone in held.stressed)
        rows.append(
            [held.lost or "", name, difference(above, system), temperature(held.air[name], system), hot or NOTHING]
        )
    heads = ["unit out of order", "worst zone", "above setpoint", "its air", "heat stress, operative"]
    return plain_table("One unit lost, the rest running, design days", heads, rows, heads[2:4])


def _models(chosen: Layout) -> list[Unit]:
    models = {offer.unit.model: offer.unit for offer in chosen.offers}
    if chosen.plant is not None:
        models[chosen.plant.unit.model] = chosen.plant.unit
    return list(models.values())

"""The first page's five answers: how much and when, with which plant, does it hold, what causes most, what helps."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import Any

from heatsim.equipment.plan import HOLDS, Plan
from heatsim.handover.load_sheets import BLOCK, block_causes, clock
from heatsim.handover.proof_words import damp_line, holding
from heatsim.handover.results import Results
from heatsim.handover.words import LAYOUTS, LIMITS, readable, said
from heatsim.report.amounts import POWER, UnitSystem, difference, phrase, temperature
from heatsim.report.pictures import label_of
from heatsim.report.plan_layouts import short_of, worth_text
from heatsim.report.plan_page import margins_line


@dataclass(frozen=True)
class Answer:
    """A question, its answer in a few words, and a sentence or two behind it."""

    question: str
    answer: str
    behind: str


def answers(found: Results, system: UnitSystem) -> tuple[Answer, ...]:
    """All five."""
    return (
        load(found, system), plant(found, system), holds(found, system), cause(found, system), lever(found, system),
    )  # fmt: skip


def load(found: Results, system: UnitSystem) -> Answer:
    """Block load and its hour."""
    day = found.sizing_day
    row: Any = found.peak.loc[(day, BLOCK)]
    behind = (
        f"Block load of the {day} day, bow {row['heading']:.0f}°: all rooms together. Sum of room peaks "
        f"{phrase(row['sum_of_peaks'], POWER, system)}: diversity {row['diversity']:.2f}."
    )
    others = [
        f"{other} day {phrase(float(found.peak.loc[(other, BLOCK), 'total']), POWER, system)}"  # type: ignore[arg-type]
        for other in found.days
        if other != day
    ]
    return Answer(
        "How much cooling, and when?", f"{phrase(row['total'], POWER, system)} at {clock(row['hour'])}",
        behind + (f" Other days: {', '.join(others)}." if others else ""),
    )  # fmt: skip


def plant(found: Results, system: UnitSystem) -> Answer:
    """The layout chosen."""
    made = found.made
    chosen, terms = made.chosen, made.resolved.terms
    question = "With which plant?"
    if chosen is None:
        return Answer(question, "None can be built within the terms", way_out(made))
    count = sum(offer.count for offer in chosen.offers)
    name = f"{count} unit{'' if count == 1 else 's'}: {LAYOUTS.get(chosen.name, chosen.name)}"
    if chosen.plant is not None:
        plant = chosen.plant
        name = f"{plant.count} × {plant.unit.model}, {count} air handlers: {LAYOUTS.get(chosen.name, chosen.name)}"
    others = sum(1 for one in made.layouts if one.possible) - 1
    behind = f"{phrase(chosen.capacity, POWER, system)} aboard after corrections; "
    behind += f"{margins_line(terms, made.certainty, keyed=False)}. "
    if isfinite(terms.cabin_noise):
        behind += f"Units of sleeping cabins make no more than the {terms.cabin_noise:g} dB(A) allowed there. "
    behind += (
        f"Chosen from {others + 1} layouts that can be built." if others
        else "No other layout can be built within the terms set."
    )  # fmt: skip
    if found.shore:
        behind += f" {found.shore}"
    return Answer(question, capital(name), behind)


def way_out(made: Plan) -> str:
    """What to lift where nothing can be built, in an owner's words."""
    ways = [(one.worth, one, layout) for layout in made.layouts for one in layout.relaxed]
    parts = []
    if ways:
        worth, lifted, layout = min(ways, key=lambda way: way[0])
        limit = lifted.limit
        cheapest = LAYOUTS.get(layout.name, layout.name)
        parts.append(
            f"Cheapest way out: without {LIMITS.get(limit, limit)} as a limit{short_of(lifted)} she could have "
            f"{cheapest} ({worth_text(worth, made)}); neither its proof nor its refrigerant is run yet, "
            "and what stands them may cost more."
        )
    crowded = [LAYOUTS.get(one.name, one.name) for one in made.layouts if one.possible and one.crowded]
    if crowded:
        parts.append(
            f"Above the limit of refrigerant in a room: {'; '.join(crowded)}. Give those rooms smaller or split units."
        )
    return " ".join(parts) or (
        "No single limit lifted lets her be served: look at the catalogue, the noise and the sizes allowed."
    )


def holds(found: Results, system: UnitSystem) -> Answer:
    """Whether it holds its setpoints minute by minute, how damp it stays, and what happens with one unit lost."""
    made, question = found.made, "Does it hold?"
    if found.proof is None or made.chosen is None:
        return Answer(question, "Nothing to prove", "No layout can be built within the boat's terms.")
    held, behind = holding(found, system)
    damp = damp_line(found)
    answer = "Yes, on the design days" if held else "No"
    if damp:
        answer = "Yes in temperature, but rooms stay damp" if held else "No, and rooms stay damp"
        behind += f" {damp}"
    lost = max(made.lost, key=lambda one: one.worst[1], default=None)
    if lost is not None:
        zone, above = lost.worst
        behind += f" One unit lost ({lost.lost}): " + (
            "all rooms held." if above <= HOLDS
            else f"{zone} rises to {temperature(lost.air[zone], system)}, {difference(above, system)} above."
        )  # fmt: skip
    return Answer(question, answer, behind)


def cause(found: Results, system: UnitSystem) -> Answer:
    """What the block's peak is mostly made of."""
    parts = block_causes(found, found.sizing_day)
    whole = max(sum(parts.values()), 1e-9)
    first, *rest = sorted(parts, key=lambda name: -parts[name])[:3]
    behind = "Next: " + ", ".join(
        f"{label_of(name)} {phrase(parts[name], POWER, system)} ({parts[name] / whole:.0%})" for name in rest
    )
    said = label_of(first)
    return Answer(
        "What causes most of it?", f"{capital(said)}, {parts[first] / whole:.0%}",
        f"{phrase(parts[first], POWER, system)} of the block load at its peak hour. {behind}.",
    )  # fmt: skip


def lever(found: Results, system: UnitSystem) -> Answer:
    """What takes most load away, and which default most wants a survey."""
    question = "What would help most?"
    unknown = ""
    if found.checked.leverage:
        item = found.checked.leverage[0]
        ends = sorted((item.at_low, item.at_high, 0.0))
        unknown = (
            f" What to find out next: {said(item.path)}, {readable(item.low)} to {readable(item.high)}, moves the "
            f"block load by {signed(ends[0], system)} to {signed(ends[-1], system)}."
        )
    best = next((one for one in found.remedies if one.power > 0.0), None)
    if best is None:
        return Answer(question, "Nothing of the usual changes", unknown.strip())
    behind = f"Simulated alone. {best.caution}"
    return Answer(question, f"{capital(best.name)}: {phrase(best.power, POWER, system)} less", behind + unknown)


def capital(text: str) -> str:
    """A sentence's beginning; what follows stays as it is."""
    return text[:1].upper() + text[1:]


def signed(watts: float, system: UnitSystem) -> str:
    """A change of load with its sign."""
    sign = "+" if watts > 0.0 else "−" if watts < 0.0 else ""
    return sign + phrase(abs(watts), POWER, system).replace("(", f"({sign}")

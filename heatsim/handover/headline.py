"""The first page's five answers: how much and when, with which plant, does it hold, what causes most, what helps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from heatsim.equipment.plan import HOLDS
from heatsim.handover.load_sheets import BLOCK, block_causes, clock
from heatsim.handover.results import Results
from heatsim.report.amounts import POWER, UnitSystem, difference, phrase, temperature
from heatsim.report.pictures import label_of
from heatsim.report.plan_page import holding_line, margins_line, ways_out


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
    chosen = made.chosen
    question = "With which plant?"
    if chosen is None:
        return Answer(question, "None can be built within the terms", ways_out(made))
    count = sum(offer.count for offer in chosen.offers)
    units = f"{count} unit{'' if count == 1 else 's'}"
    if chosen.plant is not None:
        units = f"{chosen.plant.count} × {chosen.plant.unit.model}, {count} air handlers"
    others = sum(1 for one in made.layouts if one.possible) - 1
    margins = margins_line(made.resolved.terms, made.certainty)
    behind = f"{phrase(chosen.capacity, POWER, system)} aboard after corrections; {margins}."
    behind += f" Set beside {others} other layout{'' if others == 1 else 's'} that can be built."
    return Answer(question, f"{capital(chosen.name)}: {units}", behind)


def holds(found: Results, system: UnitSystem) -> Answer:
    """Whether it holds its setpoints, with all units and with one lost."""
    made, question = found.made, "Does it hold?"
    if made.held is None:
        return Answer(question, "Nothing to prove", "No layout can be built within the boat's terms.")
    said = holding_line(made, system)
    lost = max(made.lost, key=lambda one: one.worst[1], default=None)
    behind = f"{capital(said)}."
    if lost is not None:
        zone, above = lost.worst
        behind += f" One unit lost ({lost.lost}): " + (
            "all rooms held." if above <= HOLDS
            else f"{zone} rises to {temperature(lost.air[zone], system)}, {difference(above, system)} above."
        )  # fmt: skip
    return Answer(question, "Yes, on the design days" if made.holds else "No", behind)


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
            f" What to find out next: {item.path} ({item.low} to {item.high}) moves the block load by "
            f"{signed(ends[0], system)} to {signed(ends[-1], system)}."
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

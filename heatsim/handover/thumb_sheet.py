"""The trade's rules of thumb beside the loads, and why they differ: what this boat's largest hour is made of."""

from __future__ import annotations

from math import isfinite
from typing import Any

import numpy as np

from heatsim.climate.weather import routine_values
from heatsim.handover.load_sheets import BLOCK, block_causes, clock
from heatsim.handover.results import Results
from heatsim.report.amounts import AIR_FLOW, AREA, FLUX, UnitSystem, phrase
from heatsim.report.amounts import POWER as SHOWN_POWER
from heatsim.report.checking import rule_in_words
from heatsim.report.pictures import LATENT
from heatsim.services.schedule import POWER, Column, Schedule

PARTS = (
    ("drying the air", (LATENT,)), ("outdoor air let in", ("outdoor_air",)),
    ("sun through glass", ("sun_through_glass",)),
    ("hull, house and decks, the sun on them and the sea included",
     ("outdoor_temperature", "sky", "sun_on_deck", "sun_on_hull_and_house", "sea")),
    ("people, lights and equipment", ("people", "lights", "equipment")),
    ("spaces that are not cooled", ("engine_space", "adjoining")),
)  # fmt: skip
"""Causes of the peak hour as an owner may ask for them."""
LEAST = 0.5
"""[W/m²] Of a part worth a word."""


def thumb(found: Results, system: UnitSystem) -> Schedule:
    """The trade's rules of thumb beside the loads of the day that sizes, and why they differ."""
    day = found.sizing_day
    frame: Any = found.peak.loc[day]
    rows = []
    for rule in found.checked.thumb:
        ours = float(frame.loc[BLOCK if rule.zone not in frame.index else rule.zone, "total"])
        rows.append((rule.zone, rule.kind, rule.volume_low, rule.volume_high, rule.area, ours))
    columns = (
        Column("zone"), Column("kind"), Column("volume rule, low", POWER), Column("volume rule, high", POWER),
        Column("area rule", POWER), Column(f"heatsim, {day} day", POWER),
    )  # fmt: skip
    return Schedule(
        "rules-of-thumb", "Beside the rules of thumb", columns, tuple(rows),
        (gap_line(found, system), reasons_line(found, system), rule_in_words() + " Common practice, no source."),
    )  # fmt: skip


def gap_line(found: Results, system: UnitSystem) -> str:
    """How far the volume rule lies from the block load, for the boat and for each area of sole."""
    total, middle, area = _amounts(found)
    gap = middle - total
    return (
        f"The volume rule's middle, {phrase(middle, SHOWN_POWER, system)}, lies "
        f"{phrase(abs(gap), SHOWN_POWER, system)} {'above' if gap > 0.0 else 'below'} the block load, "
        f"{phrase(total, SHOWN_POWER, system)}. For each area of sole it allows {phrase(middle / area, FLUX, system)} "
        f"by volume alone; her largest hour takes {phrase(total / area, FLUX, system)}."
    )


def reasons_line(found: Results, system: UnitSystem) -> str:
    """What the largest hour is made of in this boat, and what the rule has that it has not."""
    total, middle, area = _amounts(found)
    row: Any = found.peak.loc[(found.sizing_day, BLOCK)]
    causes = block_causes(found, found.sizing_day)
    parts = [(sum(causes.get(name, 0.0) for name in names) / area, words) for words, names in PARTS]
    made = ", ".join(
        f"{phrase(flux, FLUX, system)} {words}" for flux, words in sorted(parts, reverse=True) if abs(flux) >= LEAST
    )
    said = [f"Of that are {made}.", _aboard(found, row["hour"], area, system)]
    together = float(row["sum_of_peaks"]) - total
    if together > 0.005 * total:
        said.append(
            f"The rule adds up rooms that peak at different hours: {phrase(together, SHOWN_POWER, system)} here "
            f"(diversity {row['diversity']:.2f})."
        )
    said.append(_recovery(found))
    ranges = [abs(end) for one in found.checked.leverage for end in (one.at_low, one.at_high) if isfinite(end)]
    if ranges:
        within = max(ranges) < abs(middle - total)
        said.append(
            f"No value that was left open moves the load by more than {phrase(max(ranges), SHOWN_POWER, system)}, "
            f"{'less' if within else 'more'} than the gap: "
            + ("it is the boat as described that differs." if within else "enter that value before trusting either.")
        )
    return " ".join(part for part in said if part)


def _amounts(found: Results) -> tuple[float, float, float]:
    """Block load and the volume rule's middle [W], and the sole of all cooled rooms [m²]."""
    boat = found.checked.thumb[-1]
    cooled = {str(zone) for zone in found.peak.loc[found.sizing_day].index}
    area = sum(zone.floor_area for zone in found.resolved.zones if zone.name in cooled)
    total = float(found.peak.loc[(found.sizing_day, BLOCK), "total"])  # type: ignore[arg-type]
    return total, 0.5 * (boat.volume_low + boat.volume_high), area


def _aboard(found: Results, hour: Any, area: float, system: UnitSystem) -> str:
    """Glass and its shade, persons and outdoor air of the cooled rooms at that hour."""
    boat, at = found.resolved, clock(hour)
    minutes = 60 * int(at[:2]) + np.arange(60)
    cooled = [zone for zone in boat.zones if zone.name in found.peak.loc[found.sizing_day].index]
    names = {zone.name for zone in cooled}
    glass = [face for face in boat.faces if face.kind == "glass" and face.zone in names and face.beyond == "outdoors"]
    panes = sum(face.area for face in glass)
    shaded = sum(face.area for face in glass if face.blind or face.shade or face.awning)
    persons = sum(
        one.count * float(routine_values(one.routine, minutes).mean()) for zone in cooled for one in zone.people
    )
    air = sum(
        flow.rate * float(routine_values(flow.routine, minutes).mean())
        for flow in boat.flows
        if flow.kind == "fresh_air" and flow.target in names
    )
    return (
        f"She has {phrase(panes, AREA, system)} of glass outdoors, {panes / area:.0%} of the sole"
        + (f", {shaded / panes:.0%} of it with a blind, an overhang or an awning" if panes > 0.0 else "")
        + f"; at {at} {persons:.0f} persons are in these rooms and {phrase(air, AIR_FLOW, system)} outdoor air enter."
    )


def _recovery(found: Results) -> str:
    """Whether anything is added for a hot boat, and how soon the chosen units pull her down."""
    if found.proof is None or found.made.chosen is None:
        return "Nothing is added for pulling down a hot boat, which the rule's units have in hand."
    hours = found.proof.of(found.made.chosen.name, "baked")["pull_down"].values
    after = (
        f"take up to {float(hours.max()):.1f} h for it" if np.isfinite(hours).all()
        else "do not bring every room to its setpoint within the day"
    )  # fmt: skip
    return f"Nothing is added for pulling down a boat that stood shut in the sun: the chosen units {after}."

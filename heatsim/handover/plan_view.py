"""The plan view of the boat: decks from above, rooms shaded by load per area, the hour of each peak."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from heatsim.handover.deck_places import decks
from heatsim.handover.deck_plan import Load, drawing
from heatsim.handover.load_sheets import BLOCK, clock
from heatsim.handover.results import Results
from heatsim.report.amounts import UnitSystem

LEAST = 0.5
"""[W] Below which a room has no load worth an hour."""


def plan_view(found: Results, system: UnitSystem) -> Markup | None:
    """A drawing of the decks as SVG text; None for a boat without a room to draw.

    Parameters
    ----------
    found : Results
        Loads are those of its `sizing_day`; outlines those of its scenario.
    system : {"si", "us", "both"}

    Returns
    -------
    Markup or None
        One `svg` element without style attributes or script (the page's policy forbids both); texts escaped; readable
        without colour.
    """
    plan = decks(found.scenario, found.resolved)
    if not plan:
        return None
    frame: Any = found.peak.loc[found.sizing_day]
    loads = {room.name: Load(None) for deck in plan for room in deck.rooms}
    for zone, row in frame.iterrows():
        if zone != BLOCK:
            loaded = float(row["total"]) > LEAST
            loads[str(zone)] = Load(float(row["w_per_m2"]), clock(row["hour"]) if loaded else "")
    return drawing(plan, loads, system, found.sizing_day, found.scenario.yacht.kind != "multihull")

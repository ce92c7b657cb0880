"""What a new scenario file takes for granted, in a line each, with the key that changes it."""

from __future__ import annotations

from calendar import month_name
from pathlib import Path
from typing import Any

from heatsim.scenario import tree as trees
from heatsim.scenario.regions import find_region


def granted(file: Path) -> list[str]:
    """Sentences on place, build, persons, rooms that nobody cools and the plan view of a file just written."""
    content = trees.load(file).value
    yacht, place = content["yacht"], content["place"]
    region = find_region(place["region"])
    name = region[0]["name"] if region else place["region"]
    lines = [
        f"place: {name}, {month_name[place['month']]}, {place['berth']}, heading {place['heading']} (under place:)",
        f"build: {yacht['material']} (yacht.material), {yacht['glazing']} (yacht.glazing)",
        f"colours: hull {yacht['hull_colour']}, house {yacht['house_colour']}, decks {yacht['deck_colour']} "
        "(yacht.hull_colour ...; heatsim list colours)",
        f"beam {yacht['beam']}, by her length (yacht.beam); {yacht['persons']} persons at most (yacht.persons)",
    ]
    rooms: dict[str, dict[str, Any]] = {**content["zones"], **content.get("spaces", {})}
    drawn = [name for name, room in rooms.items() if "length" not in room["quick"]]
    if drawn:
        uses = ", ".join(f"{name}: {rooms[name]['use']}" for name in drawn)
        lines.append(f"uses by their names: {uses} (use:); headroom by deck level (quick.height)")
    lines.append("outdoor air: for the most persons of each room, by day and by night (fresh_air: or flows:)")
    heads = [name for name, room in rooms.items() if room["use"] == "head"]
    if heads:
        lines.append(f"cooled like other rooms: {', '.join(heads)} (conditioned: false leaves them to their extract)")
    guessed = [name for name, room in rooms.items() if "sides" not in room["quick"] and name not in drawn]
    if guessed:
        lines.append(f"both sides outside: {', '.join(guessed)} (sides: [port], or none for an inner room)")
    cold = [name for name, room in content.get("spaces", {}).items() if not {"temperature", "equipment"} & set(room)]
    if cold:
        lines.append(f"nobody cools them, no heat of their own: {', '.join(cold)} (equipment: or temperature:)")
    if not all("outline" in room for room in rooms.values()):
        lines.append("plan view: rooms lie as their names (fore, aft, port) and sides tell, else in the order of the")
        lines.append("  file with the first nearest the bow; an outline for each (station, offset) draws them true")
    return lines

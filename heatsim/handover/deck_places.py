"""Where each room stands on its deck: by the outlines given, else in order and by side, with floor areas to scale.

Without outlines a room's side and place fore and aft follow from its name, from the way its outside faces look, and
from the rooms it shares bulkheads and doors with. A deck is then cut into stretches from the bow aft: rooms of full
beam one after the other, and between them lanes for starboard, middle and port.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from heatsim.scenario.model import Scenario
from heatsim.scenario.outlines import Corners
from heatsim.scenario.resolved import Face, Resolved, Zone
from heatsim.scenario.rooms import UNDERFOOT, SpaceText, ZoneText

Side = Literal["starboard", "middle", "port", "across"]
LANES: tuple[Side, ...] = ("starboard", "middle", "port")
"""From the upper edge of the drawing down: the bow lies at its left."""
DECKS = ("bridge", "upper", "main", "lower")

WORDS = (
    (r"bow|forepeak|chain locker", 0.02), (r"fore|forward|fwd", 0.12), (r"amidships|midships?", 0.5),
    (r"aft|after", 0.85), (r"cockpit", 0.9), (r"stern|transom|lazarette|beach", 0.98),
)  # fmt: skip
"""Words of a name, and where from bow (0) to stern (1) they put a room."""
ONE_SIDED, ENDWAYS, END_OF_SIDE = 0.35, 0.15, 0.5
"""Mean direction of the outside faces, athwart and fore and aft, from which a room lies there: assumed."""
LENGTH_OVER_BEAM = 4.9
"""Of the largest schematic deck as it is drawn, so that it fills a page; areas stay to scale."""
LONE_LANE = 0.55
"""Share of the beam that a lane takes which has no neighbour at the other side, assumed."""
SWEEPS = 400
"""Means of neighbours of means: enough for a row of a hundred rooms to settle within a hundredth."""


@dataclass(frozen=True)
class Room:
    """A room of a deck: its corners in the plan, station and offset. [m]"""

    name: str
    corners: Corners


@dataclass(frozen=True)
class Deck:
    """A deck's rooms from the bow aft, its ends [m], and whether outlines were given for all of them."""

    name: str
    rooms: tuple[Room, ...]
    to_outlines: bool

    @property
    def ends(self) -> tuple[float, float, float, float]:
        """First and last station, least and largest offset. [m]"""
        xs, ys = zip(*(corner for room in self.rooms for corner in room.corners), strict=True)
        return min(xs), max(xs), min(ys), max(ys)


def decks(scenario: Scenario, resolved: Resolved) -> tuple[Deck, ...]:
    """All decks that have rooms, the highest first."""
    shown = [zone for zone in resolved.zones if zone.use not in UNDERFOOT and zone.floor_area > 0.0]
    given: dict[str, ZoneText | SpaceText] = {**scenario.zones, **scenario.spaces}
    outlines = {
        zone.name: outline.corners
        for zone in shown
        if zone.name in given and (outline := given[zone.name].outline) is not None
    }
    # A space of unknown size (a scheduled temperature) takes no place in the drawing.
    shown = [z for z in shown if z.name in outlines or not z.is_space or _sized(given[z.name])]
    by_deck = {deck: [zone for zone in shown if zone.deck == deck] for deck in DECKS}
    schematic = [zones for zones in by_deck.values() if zones and not all(zone.name in outlines for zone in zones)]
    most = max((sum(zone.floor_area for zone in zones) for zones in schematic), default=0.0)
    beam = math.sqrt(most / LENGTH_OVER_BEAM)
    if len(schematic) < sum(bool(zones) for zones in by_deck.values()):  # beside decks that are true to scale
        beam = scenario.yacht.beam or beam
    made = []
    for deck, zones in by_deck.items():
        if not zones:
            continue
        if all(zone.name in outlines for zone in zones):
            rooms = [Room(zone.name, outlines[zone.name]) for zone in zones]
            rooms.sort(key=lambda room: min(x for x, _ in room.corners))
            made.append(Deck(deck, tuple(rooms), True))
        else:
            made.append(Deck(deck, tuple(_laid_out(zones, resolved, beam)), False))
    return tuple(made)


def _sized(room: ZoneText | SpaceText) -> bool:
    return room.floor_area is not None or room.quick is not None


def _laid_out(zones: Sequence[Zone], resolved: Resolved, beam: float) -> Iterator[Room]:
    """Rooms of a deck in stretches of full beam and of lanes."""
    places = order(zones, resolved)
    sides = {zone.name: side(zone.name, _looks(zone.name, resolved.faces)) for zone in zones}
    ordered = sorted(zones, key=lambda zone: places[zone.name])  # rooms at one place stay in the order of the file
    x, waiting = 0.0, list[Zone]()
    for zone in ordered:
        if sides[zone.name] != "across":
            waiting.append(zone)
            continue
        yield from (lanes := _lanes(waiting, sides, x, beam))
        x, waiting = _end(lanes, x), []
        length = zone.floor_area / beam
        yield Room(zone.name, _box(x, x + length, -0.5 * beam, 0.5 * beam))
        x += length
    yield from _lanes(waiting, sides, x, beam)


def _lanes(zones: Sequence[Zone], sides: Mapping[str, Side], x: float, beam: float) -> list[Room]:
    """Rooms side by side: each lane as wide as its share of the area, all as long as one another."""
    areas = {lane: sum(zone.floor_area for zone in zones if sides[zone.name] == lane) for lane in LANES}
    whole = sum(areas.values())
    if whole <= 0.0:
        return []
    used = [lane for lane in LANES if areas[lane] > 0.0]
    lone = len(used) == 1 and used[0] != "middle"
    wide = LONE_LANE * beam if lone else beam
    top = 0.5 * beam if used[0] == "starboard" or not lone else -0.5 * beam + wide
    out = []
    for lane in used:
        across = wide * areas[lane] / whole
        at = x
        for zone in zones:
            if sides[zone.name] == lane:
                out.append(Room(zone.name, _box(at, at + zone.floor_area / across, top - across, top)))
                at += zone.floor_area / across
        top -= across
    return out


def _box(left: float, right: float, low: float, high: float) -> Corners:
    return ((left, low), (left, high), (right, high), (right, low))


def _end(rooms: Sequence[Room], x: float) -> float:
    return max((corner[0] for room in rooms for corner in room.corners), default=x)


def _looks(name: str, faces: Sequence[Face]) -> tuple[float, float] | None:
    """Mean direction of a room's outside faces: forward and to starboard, each -1 to 1; None without any."""
    weight = forward = starboard = 0.0
    for face in faces:
        if face.zone != name or face.kind not in ("hull", "house", "glass"):
            continue
        upright = face.area * math.sin(math.radians(face.tilt))
        bearing = math.radians(face.bearing)
        weight += upright
        forward += upright * math.cos(bearing)
        starboard += upright * math.sin(bearing)
    return (forward / weight, starboard / weight) if weight > 1e-6 else None


def side(name: str, looks: tuple[float, float] | None) -> Side:
    """At which side of the boat a room lies."""
    words = set(re.findall(r"[a-z]+", name.lower()))
    if ("port" in words) != ("starboard" in words):
        return "port" if "port" in words else "starboard"
    if looks is None:
        return "middle"
    return "across" if abs(looks[1]) < ONE_SIDED else "starboard" if looks[1] > 0.0 else "port"


def told_place(name: str, looks: tuple[float, float] | None) -> float | None:
    """Where from bow (0) to stern (1) name or faces put a room; None where they say nothing."""
    words = " ".join(re.findall(r"[a-z]+", name.lower()))
    for pattern, place in WORDS:
        if re.search(rf"\b(?:{pattern})\b", words):
            return place
    if looks is None:
        return None
    # A room at one side looks along the curve of her bow and is no end for it; one of full beam with an end wall is.
    least = ENDWAYS if abs(looks[1]) < ONE_SIDED else END_OF_SIDE
    return 0.5 - 0.45 * looks[0] if abs(looks[0]) > least else None


def order(zones: Sequence[Zone], resolved: Resolved) -> dict[str, float]:
    """Places of a deck's rooms from bow (0) to stern (1).

    A room that neither its name nor its faces place stands at the mean of the rooms it shares bulkheads or doors with.
    """
    names = [zone.name for zone in zones]
    told = {name: told_place(name, _looks(name, resolved.faces)) for name in names}
    shared = [(face.zone, face.beyond) for face in resolved.faces if face.kind == "bulkhead" and 45 < face.tilt < 135]
    shared += [(door.first, door.second) for door in resolved.openings if door.kind == "door"]
    beside: dict[str, list[str]] = {name: [] for name in names}
    for first, second in shared:
        if first in beside and second in beside:
            beside[first].append(second)
            beside[second].append(first)
    places = {name: 0.5 if (place := told[name]) is None else place for name in names}
    for _ in range(SWEEPS):
        for name in names:
            if told[name] is None and beside[name]:
                places[name] = sum(places[other] for other in beside[name]) / len(beside[name])
    return {name: round(place, 3) for name, place in places.items()}

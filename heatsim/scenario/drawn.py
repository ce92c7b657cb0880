"""Quick rooms whose size, sides and neighbours follow from outlines: which faces each of them lists.

Of two rooms that touch, the one drawn so lists the face between them, of two such rooms the first; where the file
lists a bulkhead or a sole between them, or names one above or below the other, that stands instead.
"""

from __future__ import annotations

from typing import NamedTuple

from heatsim.scenario.model import Scenario
from heatsim.scenario.neighbours import Around, Outside, Room, around
from heatsim.scenario.resolved import ADIABATIC, OUTDOORS, SEA
from heatsim.scenario.rooms import QuickText, SpaceText, ZoneText, deck_of


class Drawn(NamedTuple):
    """What an outline gives a quick room.

    Sole [m²]; sides outside; length of other sides but those to which another drawn room lists the face [m]; lengths
    of bulkheads [m], areas of overhead and of sole [m²] that it lists, by room; areas of both that others list [m²].
    """

    floor: float
    outside: tuple[Outside, ...]
    inner: float
    beside: dict[str, float]
    above: dict[str, float]
    below: dict[str, float]
    covered: float
    carried: float


def drawn(scenario: Scenario) -> dict[str, Drawn]:
    """Every quick room that is drawn instead of measured, by name."""
    rooms: dict[str, ZoneText | SpaceText] = {**scenario.zones, **scenario.spaces}
    own = [name for name, room in rooms.items() if room.quick is not None and is_drawn(room.quick)]
    if not own:
        return {}
    outlined = [
        Room(name, deck_of(room), room.outline.corners) for name, room in rooms.items() if room.outline is not None
    ]
    seen = around(outlined)
    listed = _listed(rooms)
    place = {name: i for i, name in enumerate(own)}
    found = {}
    for name in own:
        quick, outline = rooms[name].quick, rooms[name].outline
        assert quick is not None
        assert outline is not None
        mine = seen[name]
        sides = _kept(quick, mine)

        def lists(other: str, name: str = name) -> bool:
            """Whether this room lists the face to another."""
            return frozenset((name, other)) not in listed and place.get(other, len(own)) > place[name]

        beside = {other: length for other, length in mine.beside.items() if lists(other)}
        inward = mine.inner + sum(side.length for side in mine.outside) - sum(side.length for side in sides)
        inward += sum(length for other, length in mine.beside.items() if frozenset((name, other)) in listed)
        above = {other: area for other, area in mine.above.items() if lists(other)}
        below = {other: area for other, area in mine.below.items() if lists(other)}
        found[name] = Drawn(
            outline.area, sides, inward, beside, above, below,
            sum(mine.above.values()) - sum(above.values()), sum(mine.below.values()) - sum(below.values()),
        )  # fmt: skip
    return found


def is_drawn(quick: QuickText) -> bool:
    """Whether a quick room leaves its size to its outline."""
    return quick.length is None


def _listed(rooms: dict[str, ZoneText | SpaceText]) -> set[frozenset[str]]:
    """Pairs of rooms between which the file lists a face or names one over the other."""
    pairs = set()
    for name, room in rooms.items():
        beyond = [face.beyond for face in room.faces if face.kind in ("bulkhead", "sole")]
        if room.quick is not None:
            beyond += [other for other in (room.quick.above, room.quick.below) if other is not None]
        pairs |= {frozenset((name, other)) for other in beyond if other not in (OUTDOORS, ADIABATIC, SEA)}
    return pairs


def _kept(quick: QuickText, mine: Around) -> tuple[Outside, ...]:
    """Sides outside, of them those that the file names, where it names some."""
    if quick.sides is None:
        return mine.outside
    return tuple(side for side in mine.outside if any(word in quick.sides for word in _words(side.name)))


def _words(sector: str) -> list[str]:
    """Sides of the boat that a direction belongs to; a quarter is side and stern."""
    return ["stern" if word == "quarter" else word for word in sector.split()]

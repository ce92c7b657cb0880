"""What outlines in plan say of each other: which sides two rooms share, which face outdoors, what lies above and below.

Two rooms of a deck are neighbours along the stretch where sides of both run against each other no farther apart than a
bulkhead is thick. What is left of a room's sides faces the weather or, below, the hull, unless it looks at another room
across something that is not drawn (a corridor, a locker), or across the centreline.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import atan2, cos, degrees, hypot, radians, sin
from typing import NamedTuple, get_args

from heatsim.scenario.outlines import Corner, Corners, area, shared_area, sides_of
from heatsim.scenario.rooms import DeckLevel

THICKEST = 0.25
"""[m] Between the outlines of two rooms with one bulkhead between them (assumed: joinery and ducts in it)."""
SHORTEST = 0.10
"""[m] Below which a stretch of side is a rounding of the drawing (assumed)."""
PARALLEL = 15.0
"""[°] By which sides against each other may be out of line (assumed: curved hull drawn in chords)."""
SMALLEST = 0.05
"""Share of the smaller of two rooms above each other below which they do not count as such (assumed)."""
ATHWART = 0.5
"""Of a side's outward direction, from which it looks to port or starboard (30° off fore and aft)."""
SECTORS = ("bow", "starboard bow", "starboard", "starboard quarter", "stern", "port quarter", "port", "port bow")
"""Directions in which sides face, an eighth of the circle each, clockwise from the bow."""


class Room(NamedTuple):
    """A room's name, deck level and outline."""

    name: str
    deck: str
    corners: Corners


class Outside(NamedTuple):
    """Sides that face one way: its name, their length [m] and mean bearing from the bow, clockwise [°]."""

    name: str
    length: float
    bearing: float


class Around(NamedTuple):
    """What is round a room: lengths of side shared with others [m], sides outside, the length of those that look inward
    at what is not drawn [m], areas shared above and below [m²].
    """

    beside: dict[str, float]
    outside: tuple[Outside, ...]
    inner: float
    above: dict[str, float]
    below: dict[str, float]


def around(rooms: Sequence[Room]) -> dict[str, Around]:
    """What the outlines say of every room, by name.

    A stretch that two sides share counts for both, with the length it has on the side of the room that comes first.
    """
    decks = get_args(DeckLevel)
    beside: dict[str, dict[str, float]] = {room.name: {} for room in rooms}
    free: dict[str, list[tuple[float, float]]] = {room.name: [] for room in rooms}
    inner = dict.fromkeys(free, 0.0)
    for i, room in enumerate(rooms):
        for side in _turning_right(room.corners):
            taken: list[tuple[float, float]] = []
            for j, other in enumerate(rooms):
                if other.deck != room.deck or other is room:
                    continue
                for a, b in _against(side, other.corners):
                    length = sum(high - low for low, high in _gaps(a, b, taken))
                    taken.append((a, b))
                    if length >= SHORTEST and i < j:
                        beside[room.name][other.name] = beside[room.name].get(other.name, 0.0) + length
            others = [one.corners for one in rooms if one.deck == room.deck and one is not room]
            for low, high in _gaps(0.0, _length(side), taken):
                if high - low < SHORTEST:
                    continue
                if _looks_inward(side, 0.5 * (low + high), others):
                    inner[room.name] += high - low
                else:
                    free[room.name].append((high - low, _bearing(side)))
    for room in rooms:
        for name, length in beside[room.name].items():
            beside[name].setdefault(room.name, length)
    found = {}
    for room in rooms:
        level = decks.index(room.deck)
        above, below = (
            dict(_over(room, [one for one in rooms if decks.index(one.deck) == level + step])) for step in (1, -1)
        )
        found[room.name] = Around(beside[room.name], tuple(_sectors(free[room.name])), inner[room.name], above, below)
    return found


def _turning_right(corners: Corners) -> Iterator[tuple[Corner, Corner]]:
    """Sides of an outline taken so that outdoors lies to one and the same hand."""
    turn = sum(x * v - u * y for (x, y), (u, v) in sides_of(corners))
    yield from sides_of(corners if turn > 0.0 else corners[::-1])


def _length(side: tuple[Corner, Corner]) -> float:
    (x, y), (u, v) = side
    return hypot(u - x, v - y)


def _bearing(side: tuple[Corner, Corner]) -> float:
    """Bearing from the bow of a side's outward normal; stations run aft, offsets to starboard. [°]"""
    (x, y), (u, v) = side
    aft, starboard = v - y, x - u
    return degrees(atan2(starboard, -aft)) % 360.0


def _against(side: tuple[Corner, Corner], corners: Corners) -> Iterator[tuple[float, float]]:
    """Stretches of a side, from its start, along which another outline runs against it."""
    (x, y), (u, v) = side
    length = _length(side)
    if length < SHORTEST:
        return
    along = ((u - x) / length, (v - y) / length)
    for (a, b), (c, d) in _turning_right(corners):
        other = hypot(c - a, d - b)
        if other < SHORTEST:
            continue
        if -((c - a) * along[0] + (d - b) * along[1]) / other < cos(radians(PARALLEL)):
            continue
        ends = [((p - x) * along[0] + (q - y) * along[1], (q - y) * along[0] - (p - x) * along[1])
                for p, q in ((c, d), (a, b))]  # fmt: skip
        (first, near), (last, far) = ends
        low, high = max(first, 0.0), min(last, length)
        if high - low < SHORTEST:
            continue
        gap = near + (far - near) * (0.5 * (low + high) - first) / (last - first)
        if abs(gap) <= THICKEST:
            yield low, high


def _gaps(low: float, high: float, taken: Sequence[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    """Stretches of a stretch that others have not taken."""
    at = low
    for a, b in sorted(taken):
        if b <= at or a >= high:
            continue
        if a > at:
            yield at, a
        at = max(at, b)
    if high > at:
        yield at, high


def _looks_inward(side: tuple[Corner, Corner], at: float, others: Sequence[Corners]) -> bool:
    """Whether straight out of a side, from a point along it, lies the centreline or another outline."""
    (x, y), (u, v) = side
    length = _length(side)
    along = ((u - x) / length, (v - y) / length)
    start, out = (x + at * along[0], y + at * along[1]), (along[1], -along[0])
    if abs(out[1]) > ATHWART and out[1] * start[1] <= 0.0:
        return True
    for corners in others:
        for (a, b), (c, d) in sides_of(corners):
            first, second = ((p - start[0]) * along[0] + (q - start[1]) * along[1] for p, q in ((a, b), (c, d)))
            if (first > 0.0) == (second > 0.0):
                continue
            share = first / (first - second)
            p, q = a + share * (c - a), b + share * (d - b)
            if (p - start[0]) * out[0] + (q - start[1]) * out[1] > 0.0:
                return True
    return False


def _sectors(free: Sequence[tuple[float, float]]) -> Iterator[Outside]:
    """Sides that face outdoors, gathered by the eighth of the circle they face into."""
    for number, name in enumerate(SECTORS):
        own = [(length, bearing) for length, bearing in free if round(bearing / 45.0) % 8 == number]
        if own:
            east = sum(length * sin(radians(bearing)) for length, bearing in own)
            north = sum(length * cos(radians(bearing)) for length, bearing in own)
            yield Outside(name, sum(length for length, _ in own), degrees(atan2(east, north)) % 360.0)


def _over(room: Room, others: Sequence[Room]) -> Iterator[tuple[str, float]]:
    for other in others:
        common = shared_area(room.corners, other.corners)
        if common > SMALLEST * min(area(room.corners), area(other.corners)):
            yield other.name, common

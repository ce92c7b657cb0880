"""Outlines of rooms in plan: a box or a polygon, told by station and offset, with the geometry that drawings need.

Stations run aft from the bow, offsets from the centreline, positive to starboard as bearings do. Lengths in metres.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Annotated, Any

from pydantic import Field, model_validator

from heatsim.scenario.fields import Length, Part
from heatsim.scenario.quantities import Quantity, as_written, refuse

Coordinate = Annotated[float, Quantity("length", least=-200, most=200)]
PointText = Annotated[list[Coordinate], Field(min_length=2, max_length=2)]
Corner = tuple[float, float]
Corners = tuple[Corner, ...]

AREA_TOLERANCE = 0.10
"""Of the larger area, by which an outline and a stated floor area may differ (assumed): joinery, curved sides."""
OVERLAP_TOLERANCE = 0.05
"""Of the smaller room, that two rooms of a deck may share (assumed): thickness of bulkheads, rounded lengths."""
SMALLEST = 0.05
"""[m²] Below which an outline encloses nothing."""


class OutlineText(Part):
    """A room seen from above: `station`, `length` and `beam` of a box, or `points` of any closed shape."""

    station: Coordinate | None = None
    """From the bow aft to the forward end of the room."""
    offset: Coordinate | None = None
    """From the centreline to the middle of the room, positive to starboard; 0 m where not given."""
    length: Length | None = None
    """Length of the room, fore and aft."""
    beam: Length | None = None
    """Width of the room, athwart."""
    points: Annotated[list[PointText], Field(min_length=3, max_length=60)] | None = None
    """Corners in order, each station and offset, such as [4.2 m, -1.5 m]; the last joins the first."""

    @model_validator(mode="after")
    def _one_shape(self) -> OutlineText:
        box = (self.station, self.length, self.beam)
        if self.points is None:
            if None in box:
                raise refuse("an outline needs station, length and beam, or points", "Add what is missing")
            return self
        if box != (None, None, None) or self.offset is not None:
            raise refuse("an outline has a box or points, not both", "Keep one of them")
        if area(self.corners) < SMALLEST:
            raise refuse("the points enclose no area")
        if _crosses_itself(self.corners):
            raise refuse("the sides of an outline may not cross", "List the corners in order, all round")
        return self

    @property
    def corners(self) -> Corners:
        """Corners in order, station and offset. [m]"""
        if self.points is not None:
            return tuple((x, y) for x, y in self.points)
        assert self.station is not None
        assert self.length is not None
        assert self.beam is not None
        x, y, half = self.station, self.offset or 0.0, 0.5 * self.beam
        return ((x, y - half), (x, y + half), (x + self.length, y + half), (x + self.length, y - half))

    @property
    def area(self) -> float:
        """What it encloses. [m²]"""
        return as_written(area(self.corners))

    def agrees(self, floor_area: float) -> bool:
        """Whether a floor area stated beside may be that of the outline."""
        return abs(self.area - floor_area) <= AREA_TOLERANCE * max(self.area, floor_area)


def area(corners: Sequence[Corner]) -> float:
    """Area of a polygon whose sides do not cross, by its corners (Gauss's sum of trapezia). [m²]"""
    return 0.5 * abs(sum(x * v - u * y for (x, y), (u, v) in sides_of(corners)))


def shared_area(first: Sequence[Corner], second: Sequence[Corner]) -> float:
    """Area that two polygons have in common. [m²]

    Between two neighbouring stations of all corners and crossings the common width is linear, so its value at the
    middle times the distance is exact.
    """
    stations = {x for x, _ in (*first, *second)}
    for one in sides_of(first):
        stations |= {x for other in sides_of(second) for x in _crossing(one, other)}
    total = 0.0
    for left, right in pairwise(sorted(stations)):
        middle = 0.5 * (left + right)
        total += (right - left) * sum(
            max(0.0, min(a[1], b[1]) - max(a[0], b[0])) for a in _across(first, middle) for b in _across(second, middle)
        )
    return total


def overlaps(outlines: Sequence[tuple[str, str, Corners]]) -> Iterator[tuple[str, str, float]]:
    """Rooms of one deck that share more than bulkheads do: the later and the earlier of each two, and the area. [m²]

    Parameters
    ----------
    outlines : sequence of (room, deck, corners)
        In the order of the file.
    """
    for i, (name, deck, corners) in enumerate(outlines):
        for other, other_deck, theirs in outlines[:i]:
            if deck != other_deck or not _near(corners, theirs):
                continue
            common = shared_area(corners, theirs)
            if common > OVERLAP_TOLERANCE * min(area(corners), area(theirs)):
                yield name, other, common


def middle(corners: Sequence[Corner]) -> Corner:
    """A point to write at: inside the polygon, in its widest part near the middle of its length."""
    stations = sorted({x for x, _ in corners})
    cuts = [0.5 * (a + b) for a, b in pairwise(stations)]
    centre = 0.5 * (stations[0] + stations[-1])
    best = max(
        ((span[1] - span[0], -abs(x - centre), x, 0.5 * (span[0] + span[1])) for x in [*cuts, centre]
         for span in _across(corners, x)),
        default=(0.0, 0.0, centre, 0.0),
    )  # fmt: skip
    return best[2], best[3]


def _near(first: Corners, second: Corners) -> bool:
    return all(
        min(p[i] for p in first) < max(p[i] for p in second) and min(p[i] for p in second) < max(p[i] for p in first)
        for i in (0, 1)
    )


def sides_of(corners: Sequence[Corner]) -> Iterator[tuple[Corner, Corner]]:
    """Both ends of every side, in order."""
    return zip(corners, (*corners[1:], corners[0]), strict=True)


def _across(corners: Sequence[Corner], x: float) -> list[Corner]:
    """Stretches of offset that a polygon takes at a station on which no corner lies."""
    hits = sorted(y + (v - y) * (x - a) / (b - a) for (a, y), (b, v) in sides_of(corners) if min(a, b) < x < max(a, b))
    return list(zip(hits[::2], hits[1::2], strict=False))


def _crossing(first: tuple[Corner, Corner], second: tuple[Corner, Corner]) -> list[float]:
    """Station at which two sides cross, if they do."""
    at = _meeting(first, second)
    if at is None or not (0.0 <= at[0] <= 1.0 and 0.0 <= at[1] <= 1.0):
        return []
    (x, _), (u, _) = first
    return [x + at[0] * (u - x)]


def _meeting(first: Any, second: Any) -> Corner | None:
    """Where the lines of two sides meet, as shares of each; None where they are parallel."""
    (ax, ay), (bx, by) = first
    (cx, cy), (dx, dy) = second
    turn = (bx - ax) * (dy - cy) - (by - ay) * (dx - cx)
    if abs(turn) < 1e-12:
        return None
    along = ((cx - ax) * (dy - cy) - (cy - ay) * (dx - cx)) / turn
    return along, ((cx - ax) * (by - ay) - (cy - ay) * (bx - ax)) / turn


def _crosses_itself(corners: Sequence[Corner]) -> bool:
    sides = list(sides_of(corners))
    inside = (1e-9, 1.0 - 1e-9)
    return any(
        (at := _meeting(one, other)) is not None and all(inside[0] < share < inside[1] for share in at)
        for i, one in enumerate(sides)
        for other in sides[i + 1 :]
    )

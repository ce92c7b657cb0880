"""Outlines of rooms: their areas by plane geometry, what is refused, what follows from them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from small_boat import SMALL, changed

from heatsim.errors import HeatsimError
from heatsim.scenario.outlines import area, middle, shared_area
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolve import resolve
from heatsim.scenario.writing import to_yaml

ROUND_OFF = 1e-12
"""Sums of a few products of numbers near one."""
BOX = "outline: {station: 5 m, length: 5 m, beam: 4 m}"


def box(x: float, y: float, long: float, wide: float) -> tuple[tuple[float, float], ...]:
    return ((x, y), (x, y + wide), (x + long, y + wide), (x + long, y))


def regular(sides: int, radius: float = 1.0, x: float = 0.0) -> tuple[tuple[float, float], ...]:
    turns = [2.0 * math.pi * i / sides for i in range(sides)]
    return tuple((x + radius * math.cos(turn), radius * math.sin(turn)) for turn in turns)


@pytest.mark.parametrize("sides", [3, 4, 5, 6, 12, 60])
def test_area_of_a_regular_polygon(sides: int) -> None:
    """n/2 · r² · sin(2π/n), plane geometry."""
    assert area(regular(sides, 3.0)) == pytest.approx(0.5 * sides * 9.0 * math.sin(2 * math.pi / sides), rel=ROUND_OFF)


@pytest.mark.parametrize(
    ("first", "second", "common"),
    [
        (box(0, 0, 4, 3), box(1, 1, 4, 3), 6.0),  # 3 by 2
        (box(0, 0, 4, 3), box(4, 0, 4, 3), 0.0),  # they touch
        (box(0, 0, 4, 3), box(1, 1, 1, 1), 1.0),  # one in the other
        (box(0, 0, 2, 2), ((1, 1), (3, 1), (1, 3)), 1.0),  # a corner of the triangle is cut off, 2 - 1/2 - 1/2
        # A cross of two bars, and an L against a box in its notch and across it.
        (box(0, 2, 6, 1), box(2, 0, 1, 6), 1.0),
        (((0, 0), (0, 4), (1, 4), (1, 1), (4, 1), (4, 0)), box(1, 1, 3, 3), 0.0),
        (((0, 0), (0, 4), (1, 4), (1, 1), (4, 1), (4, 0)), box(0, 0, 2, 2), 3.0),
    ],
)
def test_common_area_by_hand(first: tuple, second: tuple, common: float) -> None:
    assert shared_area(first, second) == pytest.approx(common, abs=ROUND_OFF)
    assert shared_area(second, first) == pytest.approx(common, abs=ROUND_OFF)


def test_a_polygon_shares_all_of_itself() -> None:
    for corners in (regular(7, 2.0), ((0, 0), (0, 4), (1, 4), (1, 1), (4, 1), (4, 0))):
        assert shared_area(corners, corners) == pytest.approx(area(corners), rel=1e-9)


def test_two_circles_nearly() -> None:
    """Lens of two unit circles one radius apart, 2π/3 - √3/2 (plane geometry), by polygons of 400 corners.

    A polygon of n corners lacks 2π³/3n² of a circle's area: 1.3e-4 here; the lens lacks no more than both together.
    """
    lens = 2.0 * math.pi / 3.0 - math.sqrt(3.0) / 2.0
    assert shared_area(regular(400), regular(400, x=1.0)) == pytest.approx(lens, abs=2.6e-4)


def test_words_stand_inside() -> None:
    """By winding: an angle of 2π around a point inside, none around one outside."""
    for corners in (((0, 0), (0, 4), (1, 4), (1, 1), (4, 1), (4, 0)), regular(5), box(2, -1, 3, 2)):
        x, y = middle(corners)
        angles = np.unwrap([math.atan2(v - y, u - x) for u, v in (*corners, corners[0])])
        assert abs(angles[-1] - angles[0]) == pytest.approx(2.0 * math.pi, rel=1e-9)


@pytest.mark.parametrize(
    ("outline", "rule"),
    [
        ("{station: 1 m, length: 3 m}", "needs station, length and beam, or points"),
        ("{station: 1 m, length: 3 m, beam: 2 m, points: [[0 m, 0 m], [1 m, 0 m], [0 m, 1 m]]}", "not both"),
        ("{points: [[0 m, 0 m], [4 m, 4 m], [4 m, 0 m], [0 m, 5 m]]}", "may not cross"),
        ("{points: [[0 m, 0 m], [1 m, 1 m], [2 m, 2 m]]}", "enclose no area"),
        ("{points: [[0 m, 0 m], [1 m, 1 m]]}", "at least 3"),
        ("{points: [[0 m, 0 m], [1 m, 0 m, 2 m], [1 m, 1 m]]}", "at most 2"),
        ("{points: [[0 m, 0 m], [1, 0 m], [1 m, 1 m]]}", "a length with its unit"),
        ("{station: 1 m, length: 3 m, width: 2 m}", "is not a key"),
        ("{station: 5 m, length: 5 m, beam: 2 m}", "encloses 10 m2, floor_area says 20 m2"),
    ],
)
def test_what_is_refused(outline: str, rule: str) -> None:
    with pytest.raises(HeatsimError) as caught:
        read_text(changed("floor_area: 20 m2\n", f"floor_area: 20 m2\n    outline: {outline}\n"))
    assert rule in str(caught.value.faults[0])
    assert "zones.saloon" in caught.value.faults[0].path


def test_the_area_follows_from_the_outline_and_stays_in_the_file() -> None:
    scenario = read_text(changed("floor_area: 20 m2\n", BOX + "\n"))
    saloon = next(zone for zone in resolve(scenario).zones if zone.name == "saloon")
    assert saloon.floor_area == pytest.approx(20.0, rel=ROUND_OFF)
    assert read_text(to_yaml(scenario)) == scenario


def test_an_outline_moves_no_number() -> None:
    plain = resolve(read_text(SMALL))
    drawn = resolve(read_text(changed("floor_area: 20 m2\n", f"floor_area: 20 m2\n    {BOX}\n")))
    assert plain == drawn


@pytest.mark.parametrize(("beam", "fits"), [("3 m", True), ("3.3 m", True), ("3.4 m", False), ("2.6 m", False)])
def test_a_quick_zone_agrees_with_its_outline(beam: str, fits: bool) -> None:
    """Its box is 4 m by 3 m; a tenth of the larger area may differ: 12 against 13.2 m² is 9.1 %, 13.6 m² is 11.8 %."""
    text = changed("  cabin:\n", f"  cabin:\n    outline: {{station: 0 m, length: 4 m, beam: {beam}}}\n")
    if fits:
        read_text(text)
    else:
        with pytest.raises(HeatsimError, match="length times beam says 12 m2"):
            read_text(text)


def two(second: str, deck: str) -> str:
    text = changed("    floor_area: 20 m2\n", f"    deck: {deck}\n    floor_area: 20 m2\n    {BOX}\n")
    return text.replace("  cabin:\n", f"  cabin:\n    outline: {second}\n")


def test_rooms_may_not_stand_in_one_another() -> None:
    inside = "{station: 2 m, length: 4 m, beam: 3 m}"  # a metre of its length lies in the saloon
    with pytest.raises(HeatsimError) as caught:
        read_text(two(inside, "lower"))
    (fault,) = caught.value.faults
    assert fault.path == "zones.cabin.outline"
    assert fault.line > 0
    assert 'overlaps the outline of "saloon" on the same deck by 3 m2' in str(fault)
    read_text(two(inside, "main"))
    read_text(two("{station: 1.1 m, length: 4 m, beam: 3 m}", "lower"))  # 0.3 of 12 m², the thickness of a bulkhead

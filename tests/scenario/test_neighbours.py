"""Neighbours, free sides and decks above from outlines, against plans whose lengths are seen at once."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.scenario.neighbours import Room, around


def box(station: float, offset: float, length: float, beam: float) -> tuple[tuple[float, float], ...]:
    x, y, half = station, offset, 0.5 * beam
    return ((x, y - half), (x, y + half), (x + length, y + half), (x + length, y - half))


def test_two_rooms_of_unlike_width_share_the_narrower_side() -> None:
    """A cabin 3 m wide forward of a saloon 4 m wide, a bulkhead of 6 cm between them."""
    cabin, saloon = box(2.0, 0.0, 3.0, 3.0), box(5.06, 0.0, 5.0, 4.0)
    found = around([Room("cabin", "lower", cabin), Room("saloon", "lower", saloon)])
    assert found["cabin"].beside == {"saloon": pytest.approx(3.0)}
    assert found["saloon"].beside == {"cabin": pytest.approx(3.0)}
    sides = {side.name: (side.length, side.bearing) for side in found["cabin"].outside}
    assert sides == {"bow": (3.0, 0.0), "starboard": (3.0, pytest.approx(90.0)), "port": (3.0, pytest.approx(270.0))}
    lengths = {side.name: side.length for side in found["saloon"].outside}
    assert lengths == {
        "bow": pytest.approx(1.0),
        "starboard": pytest.approx(5.0),
        "stern": 4.0,
        "port": pytest.approx(5.0),
    }


def test_cabins_side_by_side_and_a_gap_too_wide() -> None:
    """Two cabins 2 m wide at the centreline; a third a corridor of 0.8 m away is no neighbour."""
    rooms = [Room("port cabin", "lower", box(0.0, -1.0, 3.0, 2.0)),
             Room("starboard cabin", "lower", box(0.0, 1.0, 3.0, 2.0)),
             Room("aft cabin", "lower", box(3.8, 0.0, 2.0, 4.0))]  # fmt: skip
    found = around(rooms)
    assert found["port cabin"].beside == {"starboard cabin": pytest.approx(3.0)}
    assert found["aft cabin"].beside == {}
    assert {side.name for side in found["port cabin"].outside} == {"bow", "port"}, "aft it looks at the aft cabin"
    assert found["port cabin"].inner == pytest.approx(2.0)
    assert found["aft cabin"].inner == pytest.approx(4.0)


def test_decks_above_each_other() -> None:
    """A saloon over two cabins: 3 m × 4 m and 2 m × 4 m of it, and 1 m that overhangs."""
    rooms = [Room("fore", "lower", box(2.0, 0.0, 3.0, 4.0)), Room("aft", "lower", box(5.0, 0.0, 2.0, 4.0)),
             Room("saloon", "main", box(2.0, 0.0, 6.0, 4.0)),
             Room("bridge", "bridge", box(2.0, 0.0, 2.0, 2.0))]  # fmt: skip
    found = around(rooms)
    assert found["saloon"].below == {"fore": pytest.approx(12.0), "aft": pytest.approx(8.0)}
    assert found["fore"].above == {"saloon": pytest.approx(12.0)}
    assert found["saloon"].above == {}, "the bridge is two levels up"
    assert found["saloon"].beside == {}, "rooms of other decks are no neighbours"


@pytest.mark.parametrize("turned", [False, True])
def test_a_fore_cabin_drawn_to_a_point(turned: bool) -> None:
    """A triangle with its apex at the bow, either way round: two sides 18.4° off the beam, and the saloon aft."""
    corners = ((0.0, 0.0), (3.0, 1.0), (3.0, -1.0))
    rooms = [
        Room("fore", "lower", corners[::-1] if turned else corners),
        Room("saloon", "lower", box(3.0, 0.0, 4.0, 2.0)),
    ]
    found = around(rooms)["fore"]
    assert found.beside == {"saloon": pytest.approx(2.0)}
    lean = np.degrees(np.arctan2(1.0, 3.0))
    sides = {side.name: (side.length, side.bearing) for side in found.outside}
    assert sides["starboard"] == (pytest.approx(np.hypot(3.0, 1.0)), pytest.approx(90.0 - lean))
    assert sides["port"] == (pytest.approx(np.hypot(3.0, 1.0)), pytest.approx(270.0 + lean))


def test_lengths_shared_and_free_make_up_the_outline() -> None:
    """Whatever the plan, each room's perimeter is all there; seeded boats of boxes in two rows."""
    rng = np.random.default_rng(7)
    for _ in range(20):
        rooms, station = [], 0.0
        for i in range(5):
            length, beam = rng.uniform(1.5, 4.0), rng.uniform(1.5, 2.5)
            rooms.append(Room(f"p{i}", "lower", box(station, -beam / 2.0, length, beam)))
            rooms.append(Room(f"s{i}", "lower", box(station, beam / 2.0, length, beam)))
            station += length
        for name, found in around(rooms).items():
            corners = next(room.corners for room in rooms if room.name == name)
            perimeter = sum(
                np.hypot(a[0] - b[0], a[1] - b[1]) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)
            )
            whole = sum(found.beside.values()) + found.inner + sum(side.length for side in found.outside)
            assert whole == pytest.approx(perimeter, abs=0.2)  # stretches below 0.1 m are left out, two a room at most

"""Quick rooms drawn by their outlines: faces against a plan measured by hand, and the same boat written out."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.errors import HeatsimError
from heatsim.handover.annotated import to_text
from heatsim.handover.explicit import explicit, same_numbers
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolve import resolve
from heatsim.scenario.resolved import Face, Resolved

DRAWN = """
format: 1
yacht: {name: Dotterel, kind: motor, length: 18 m}
place: {region: CYC, month: 8, heading: 0 deg}
zones:
  fore cabin:
    use: cabin
    outline: {points: [[2 m, -0.9 m], [2 m, 0.9 m], [5 m, 1.8 m], [5 m, -1.8 m]]}
    quick: {deck: lower, height: 2 m}
  guest cabin:
    use: cabin
    outline: {station: 5.05 m, offset: -0.9 m, length: 3 m, beam: 1.8 m}
    quick: {deck: lower, height: 2 m}
  head:
    use: head
    outline: {station: 5.05 m, offset: 0.9 m, length: 1.5 m, beam: 1.8 m}
    quick: {deck: lower, height: 2 m}
  saloon:
    use: saloon
    outline: {station: 4.5 m, length: 6 m, beam: 3.6 m}
    quick: {deck: main, height: 2 m, glass_share: 40 %}
spaces:
  engine space:
    use: engine space
    outline: {station: 8.1 m, length: 3 m, beam: 3.6 m}
    quick: {deck: lower, height: 1.5 m}
"""
"""An invented boat."""


@pytest.fixture(scope="module")
def boat() -> Resolved:
    return resolve(read_text(DRAWN))


def of(boat: Resolved, zone: str, kind: str = "", beyond: str = "") -> list[Face]:
    return [f for f in boat.faces if f.zone == zone and kind in ("", f.kind) and beyond in ("", f.beyond)]


def area(faces: list[Face]) -> float:
    return sum(face.area for face in faces)


def test_bulkheads_stand_once_between_rooms_that_touch(boat: Resolved) -> None:
    """1.8 m of fore cabin's after side to each room aft of it, 1.5 m of head beside the guest cabin, 2 m high."""
    between = {(f.zone, f.beyond): f.area for f in boat.faces if f.kind == "bulkhead" and f.tilt == 90.0}
    walls = {pair: wall for pair, wall in between.items() if pair[1] != "adiabatic"}
    assert walls == {
        ("fore cabin", "guest cabin"): pytest.approx(3.6),
        ("fore cabin", "head"): pytest.approx(3.6),
        ("guest cabin", "head"): pytest.approx(3.0),
        ("guest cabin", "engine space"): pytest.approx(3.6),
    }


def test_a_wall_is_there_once(boat: Resolved) -> None:
    """The head shares two sides with rooms that list them: what is left inward is its after side, 1.8 m by 2 m."""
    assert area(of(boat, "head", "bulkhead", "adiabatic")) == pytest.approx(3.6)


def test_sides_face_where_the_outline_does(boat: Resolved) -> None:
    """The fore cabin's topsides run in by 0.9 m over 3 m: 16.7° off the beam, 3.13 m long; 60 % of them above water."""
    lean = np.degrees(np.arctan2(0.9, 3.0))
    sides = of(boat, "fore cabin", "hull") + of(boat, "fore cabin", "glass")
    for bearing in (90.0 - lean, 270.0 + lean):
        found = [f for f in sides if f.bearing == pytest.approx(bearing, abs=0.01)]
        assert area(found) == pytest.approx(0.6 * np.hypot(3.0, 0.9) * 2.0, rel=1e-3)
    assert {f.bearing for f in of(boat, "guest cabin", "hull")} == {270.0}, "its other sides look inward"


def test_deck_and_sole_are_parted_by_what_lies_there(boat: Resolved) -> None:
    """0.5 m of the saloon lies over the fore cabin, 1.62 to 1.8 m wide on either side there; it covers the others."""
    over = 0.5 * (2.0 * 1.65 + 2.0 * 1.8) / 2.0
    assert area(of(boat, "fore cabin", beyond="saloon")) == pytest.approx(over)
    assert area(of(boat, "fore cabin", "deck")) == pytest.approx(8.1 - over)
    assert area(of(boat, "guest cabin", beyond="saloon")) == pytest.approx(5.4)
    assert of(boat, "guest cabin", "deck") == []
    assert area(of(boat, "saloon", beyond="engine space")) == pytest.approx(2.4 * 3.6)
    for zone, floor in (("fore cabin", 8.1), ("guest cabin", 5.4), ("saloon", 21.6)):
        overhead = [f for f in boat.faces if f.zone == zone and f.tilt == 0.0]
        assert area(overhead) == pytest.approx(floor)


def test_written_out_it_gives_the_same_numbers(boat: Resolved) -> None:
    scenario = read_text(DRAWN)
    assert same_numbers(boat, resolve(read_text(to_text(explicit(scenario), "test"))))


def test_a_bulkhead_that_the_file_lists_stands_instead() -> None:
    listed = DRAWN.replace(
        "    quick: {deck: lower, height: 2 m}\n  head:",
        "    faces: [{kind: bulkhead, name: thin wall, area: 2.5 m2, beyond: head}]\n"
        "    quick: {deck: lower, height: 2 m}\n  head:",
    )
    assert listed != DRAWN
    faces = of(resolve(read_text(listed)), "guest cabin", beyond="head")
    assert [(f.name.split(": ")[1], f.area) for f in faces] == [("thin wall", 2.5)]


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        (
            "quick: {deck: lower, height: 1.5 m}",
            "quick: {deck: lower, length: 3 m, height: 1.5 m}",
            "length and a beam",
        ),
        ("    outline: {station: 8.1 m, length: 3 m, beam: 3.6 m}\n", "", "or an outline beside quick"),
    ],
)
def test_half_a_size_is_refused(old: str, new: str, rule: str) -> None:
    with pytest.raises(HeatsimError, match=rule):
        read_text(DRAWN.replace(old, new))


HANGS = """
format: 1
yacht: {name: Dotterel, kind: multihull, length: 14 m}
place: {region: BVI, month: 4, heading: 0 deg}
zones:
  saloon:
    quick: {deck: main, length: 6 m, beam: 4 m, height: 2 m, below: outdoors}
"""


def test_a_bridge_deck_hangs_over_open_air() -> None:
    """Its sole is a face to outdoors that looks down, and no deck sees it."""
    (sole,) = [face for face in resolve(read_text(HANGS)).faces if face.tilt == 180.0]
    assert (sole.kind, sole.beyond, sole.area) == ("hull", "outdoors", 24.0)


def test_a_room_is_no_longer_than_its_boat() -> None:
    with pytest.raises(HeatsimError, match="no longer than its boat"):
        resolve(read_text(HANGS.replace("length: 6 m", "length: 60 m")))

"""The plan view: rooms where the files put them, areas to scale, everything readable without colour."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import pytest
from hostile import Packed

from heatsim.handover.deck_places import Deck, Room, decks, side, told_place
from heatsim.handover.deck_plan import STEPS, Load, drawing, steps
from heatsim.report.amounts import UnitSystem
from heatsim.scenario.outlines import area, shared_area
from heatsim.scenario.reading import read
from heatsim.scenario.resolve import resolve

DEMO = Path(__file__).resolve().parents[2] / "scenarios"
ROUND_OFF = 1e-9


@cache
def plan(boat: str) -> dict[str, dict[str, Room]]:
    scenario = read(DEMO / f"{boat}.yaml")
    return {deck.name: {room.name: room for room in deck.rooms} for deck in decks(scenario, resolve(scenario))}


def station(room: Room) -> float:
    return min(x for x, _ in room.corners)


def offset(room: Room) -> float:
    return sum(y for _, y in room.corners) / len(room.corners)


@pytest.mark.parametrize("boat", ["tern-24", "dunlin-11", "skua-38"])
def test_rooms_are_their_floor_areas_and_share_none(boat: str) -> None:
    zones = {zone.name: zone for zone in resolve(read(DEMO / f"{boat}.yaml")).zones}
    shown = [room for rooms in plan(boat).values() for room in rooms.values()]
    assert {zone.name for zone in zones.values() if not zone.is_space} <= {room.name for room in shown}
    for room in shown:
        assert area(room.corners) == pytest.approx(zones[room.name].floor_area, rel=ROUND_OFF)
    for rooms in plan(boat).values():
        some = list(rooms.values())
        for i, one in enumerate(some):
            for other in some[:i]:
                assert shared_area(one.corners, other.corners) < 1e-6 * area(one.corners)


def test_the_demo_boat_stands_as_her_file_describes_her() -> None:
    """Comments and bulkheads of tern-24.yaml: the vip cabin in the bow, the crew aft of the engine space."""
    lower = plan("tern-24")["lower"]
    in_order = ["vip cabin", "owner cabin", "engine space", "crew cabin", "lazarette"]
    assert sorted(in_order, key=lambda name: station(lower[name])) == in_order
    assert station(lower["vip bathroom"]) < station(lower["owner cabin"])
    for name, sign in (("port cabin", -1), ("starboard cabin", 1), ("crew cabin", -1), ("crew mess", 1)):
        assert sign * offset(lower[name]) > 0.0, name
    main = plan("tern-24")["main"]
    assert station(main["wheelhouse"]) < station(main["galley"]) < station(main["saloon"])
    assert "bilge" not in lower
    assert list(plan("skua-38")) == ["upper", "main", "lower"]


@pytest.mark.parametrize(
    ("name", "looks", "found"),
    [
        ("starboard guest cabin", None, "starboard"), ("cabin", (0.0, -0.9), "port"), ("cabin", (0.1, 0.0), "across"),
        ("lobby", None, "middle"), ("Port & starboard lockers", (0.0, 0.0), "across"), ("report room", None, "middle"),
    ],
)  # fmt: skip
def test_sides(name: str, looks: tuple[float, float] | None, found: str) -> None:
    assert side(name, looks) == found


def test_words_put_rooms_in_order() -> None:
    names = ["forepeak", "forward cabin", "amidships cabin", "aft cabin", "lazarette"]
    places = [told_place(name, None) for name in names]
    assert None not in places
    assert places == sorted(places)  # type: ignore[type-var]
    assert told_place("before", None) is None
    assert told_place("wheelhouse", (0.4, 0.0)) < 0.5 < told_place("saloon", (-0.4, 0.0))  # type: ignore[operator]


def square(name: str, x: float, size: float = 4.0) -> Room:
    return Room(name, ((x, -0.5 * size), (x, 0.5 * size), (x + size, 0.5 * size), (x + size, -0.5 * size)))


def drawn(loads: Mapping[str, Load], system: UnitSystem = "si", outlines: bool = False) -> ET.Element:
    rooms = tuple(square(name, 4.0 * i) for i, name in enumerate(loads))
    return ET.fromstring(str(drawing([Deck("main", rooms, outlines)], loads, system, "hot")))


def words(root: ET.Element) -> list[str]:
    return [str(element.text) for element in root.iter() if element.tag.endswith("text")]


def test_amount_and_hour_stand_in_each_room() -> None:
    """100 W/m² are 31.7 Btu/h·ft² (NIST SP 811: 1 Btu(IT)/h 0.29307 W, 1 ft 0.3048 m)."""
    loads = {"saloon": Load(100.0, "16:00"), "store": Load(None), "cabin": Load(0.0)}
    said = words(drawn(loads, "both"))
    assert {"saloon", "100 W/m²", "32 Btu/h·ft²", "at 16:00", "not cooled", "no load"} <= set(said)
    assert "32 Btu/h·ft²" in words(drawn(loads, "us"))
    assert not any("W/m²" in text for text in words(drawn(loads, "us")))


def test_rooms_too_small_are_spelt_out_below() -> None:
    loads = {f"cabin number {i}": Load(10.0 * i + 5.0, f"{i % 24:02d}:00") for i in range(60)}
    said = words(drawn(loads))
    for i in range(60):
        assert any(f"cabin number {i}: {10 * i + 5} W/m² at {i % 24:02d}:00" in text for text in said), i
    assert {str(i + 1) for i in range(60)} <= set(said)


@pytest.mark.parametrize("most", [0.0, 3.0, 99.0, 100.0, 101.0, 387.0, 1234.0])
@pytest.mark.parametrize("system", ["si", "us", "both"])
def test_steps_reach_the_largest_and_no_farther_than_hatches(most: float, system: UnitSystem) -> None:
    edges = steps(most, system)
    assert 1 <= len(edges) <= len(STEPS)
    assert edges[-1] >= most * (1.0 - ROUND_OFF)
    assert len(edges) == 1 or edges[-2] < most


def test_more_is_darker_and_hatched_in_another_way() -> None:
    grounds = [int(ground[1:3], 16) + int(ground[3:5], 16) + int(ground[5:7], 16) for ground, _ in STEPS]
    assert grounds == sorted(grounds, reverse=True)
    assert len({hatch for _, hatch in STEPS}) == len(STEPS)
    loads = {"cool": Load(10.0, "10:00"), "warm": Load(50.0, "14:00"), "hot": Load(95.0, "16:00")}
    fills = [element.get("fill") for element in drawn(loads).iter() if element.tag.endswith("path")]
    used = [fill for fill in fills if str(fill).startswith("url(#flux-")]
    assert used == ["url(#flux-0)", "url(#flux-2)", "url(#flux-4)"]


def test_outlines_are_drawn_to_one_scale() -> None:
    """A room of four metres is 0.8 of the scale bar of five."""
    root = drawn({"saloon": Load(50.0, "12:00"), "cabin": Load(40.0, "12:00")}, outlines=True)
    paths = [str(element.get("d")) for element in root.iter() if element.tag.endswith("path")]
    xs = [float(x) for x in re.findall(r"([-\d.]+) [-\d.]+", next(d for d in paths if d.endswith("Z")))]
    bar = next(re.search(r"M([\d.]+) [\d.]+H([\d.]+)M", d) for d in paths if "v16M" in d)
    assert bar is not None
    metres = next(int(text.split()[0]) for text in words(root) if re.fullmatch(r"\d+ m", text))
    # Coordinates are written to a tenth of a unit.
    assert (max(xs) - min(xs)) / (float(bar[2]) - float(bar[1])) == pytest.approx(4.0 / metres, abs=0.002)


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "a & b", "תא אחורי"])
def test_names_are_words_and_nothing_else(name: str) -> None:
    root = drawn({name: Load(50.0, "12:00")})
    kinds = {element.tag.rsplit("}")[-1] for element in root.iter()}
    assert kinds <= {"svg", "defs", "pattern", "path", "text", "rect"}
    assert any(name.split()[0] in text for text in words(root))


def test_it_stands_in_the_report(packed: Packed) -> None:
    page = packed.text("report.html")
    part = page.split('<section id="plan-view">')[1].split("</section>")[0]
    assert part.count("<svg") == 1
    assert "saloon" in part
    assert "style=" not in part

"""Decks drawn in DXF files, made here with ezdxf: units, curves, bow to either side, and what cannot be a boat."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from heatsim.errors import HeatsimError
from heatsim.scenario.drawings import drawn_rooms, from_drawing
from heatsim.scenario.outlines import area
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolve import resolve

ezdxf = pytest.importorskip("ezdxf", reason="drawings need the extra `drawing`")

MM, NOTHING = 4, 0
"""$INSUNITS of a header."""
FORE = [(2000, -900), (2000, 900), (5000, 1800), (5000, -1800)]
GUEST = [(5050, -1800), (8050, -1800), (8050, 0), (5050, 0)]
SALOON = [(4500, -1900), (10500, -1900), (10500, 1900), (4500, 1900)]
ENGINE = [(8100, -1800), (11100, -1800), (11100, 1800), (8100, 1800)]
DECKS = {"lower fore cabin": FORE, "LOWER - Guest_Cabin": GUEST, "main saloon": SALOON, "lower engine space": ENGINE}


def saved(folder: Path, layers: dict[str, list[tuple[float, float]]], unit: int = MM, turned: bool = False) -> Path:
    document = ezdxf.new()
    document.header["$INSUNITS"] = unit
    space = document.modelspace()
    space.add_line((0, 0), (18000, 0), dxfattribs={"layer": "centreline"})
    for layer, points in layers.items():
        placed = [(-x, -y) for x, y in points] if turned else points
        space.add_lwpolyline(placed, close=True, dxfattribs={"layer": layer})
    file = folder / "decks.dxf"
    document.saveas(file)
    return file


@pytest.mark.parametrize("turned", [False, True])
def test_rooms_of_a_drawing(tmp_path: Path, turned: bool) -> None:
    """Millimetres; a bow to the right has the stem at the right and starboard below."""
    rooms = drawn_rooms(saved(tmp_path, DECKS, turned=turned), 18.0, bow="right" if turned else "left")
    assert [(room.name, room.deck) for room in rooms] == [
        ("fore cabin", "lower"), ("guest cabin", "lower"), ("saloon", "main"), ("engine space", "lower"),
    ]  # fmt: skip
    assert area(rooms[0].corners) == pytest.approx(8.1)
    assert {x for x, _ in rooms[1].corners} == {5.05, 8.05}
    assert {y for _, y in rooms[1].corners} == {-1.8, 0.0}, "the guest cabin lies to port"


def test_a_scenario_of_a_drawing(tmp_path: Path) -> None:
    """Uses by name, spaces apart, neighbours by the outlines: 1.8 m of bulkhead, 1.95 m high."""
    text = from_drawing(saved(tmp_path, DECKS), kind="motor", length="18 m")
    boat = resolve(read_text(text))
    assert [(zone.name, zone.use) for zone in boat.zones if not zone.is_space] == [
        ("fore cabin", "cabin"), ("guest cabin", "cabin"), ("saloon", "saloon"),
    ]  # fmt: skip
    wall = [f.area for f in boat.faces if {f.zone, f.beyond} == {"fore cabin", "guest cabin"}]
    assert wall == [pytest.approx(1.8 * 1.95)]
    assert any({f.zone, f.beyond} == {"saloon", "engine space"} for f in boat.faces)


def test_curves_become_chords(tmp_path: Path) -> None:
    """A round settee corner: half a circle of 1.5 m radius on a square of 3 m, to 1 % of its area."""
    document = ezdxf.new()
    document.header["$INSUNITS"] = 6
    document.modelspace().add_lwpolyline(
        [(2, -1.5, 0), (5, -1.5, 1.0), (5, 1.5, 0), (2, 1.5, 0)], format="xyb", close=True,
        dxfattribs={"layer": "main saloon"},
    )  # fmt: skip
    document.saveas(tmp_path / "round.dxf")
    (room,) = drawn_rooms(tmp_path / "round.dxf", 18.0)
    assert area(room.corners) == pytest.approx(9.0 + np.pi * 1.5**2 / 2.0, rel=0.01)
    assert len(room.corners) <= 60


@pytest.mark.parametrize(
    ("layers", "unit", "rule"),
    [
        ({"saloon": SALOON}, MM, "no closed outline in a layer named by a deck level"),
        (DECKS, NOTHING, "does not say its units"),
        ({"main saloon": [(20000, 0), (24000, 0), (24000, 2000)]}, MM, "between stem and stern"),
        ({"main saloon": SALOON, "lower saloon": SALOON}, MM, "drawn twice"),
        ({"main saloon": [(2, 0), (4, 0), (4, 2)]}, MM, "is no room"),
        ({"lower engine space": ENGINE}, MM, "nobody lives in any"),
        ({"main saloon": [(2000, 0), (6000, 2000), (6000, 0), (2000, 1000)]}, MM, "may not cross"),
    ],
)
def test_what_is_refused(tmp_path: Path, layers: dict[str, list[tuple[float, float]]], unit: int, rule: str) -> None:
    with pytest.raises(HeatsimError, match=rule):
        from_drawing(saved(tmp_path, layers, unit), kind="motor", length="18 m")


@pytest.mark.parametrize("content", [b"", b"zones: {}\n", b"\x00\xff" * 100, b"0\nSECTION\n2\nENTITIES\n"])
def test_no_drawing_at_all(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "bad.dxf").write_bytes(content)
    with pytest.raises(HeatsimError, match=r"cannot be read|no closed outline|does not say its units"):
        drawn_rooms(tmp_path / "bad.dxf", 18.0)
    with pytest.raises(HeatsimError, match="No such file"):
        drawn_rooms(tmp_path / "none.dxf", 18.0)

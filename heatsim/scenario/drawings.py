"""Decks drawn in a CAD program, as a scenario: closed outlines in a DXF file, one a room, named by their layers.

The stem stands at x = 0 and the centreline at y = 0, every deck drawn over the others in its own layers, such as
`lower owner cabin`; layers that begin with no deck level are not read. Seen from above a bow to the left has starboard
towards +y, a bow to the right towards −y.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, get_args

from heatsim.errors import Fault, HeatsimError
from heatsim.scenario import reading
from heatsim.scenario import tree as trees
from heatsim.scenario.fittings import lived_in
from heatsim.scenario.neighbours import Room
from heatsim.scenario.outlines import Corner, Corners, area
from heatsim.scenario.resolve import resolve
from heatsim.scenario.rooms import DeckLevel
from heatsim.scenario.starters import REGION, framed, metres_of, write_new
from heatsim.scenario.zone_sheets import BERTHS, scalar
from heatsim.tables.loader import names as table_names

if TYPE_CHECKING:
    from ezdxf.document import Drawing

Bow = Literal["left", "right"]
UNITS = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048}
"""[m] A drawing unit by its name."""
OF_HEADER = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m"}
"""Names of units by the number that a DXF header gives them ($INSUNITS, DXF reference)."""
FLATTEST = 0.02
"""[m] By which a curved side may leave its chords (assumed); more where a room would have too many corners."""
MOST_CORNERS = 60
"""Of an outline in a scenario file."""
HEADROOM = {"lower": 1.95, "main": 2.05, "upper": 2.05, "bridge": 2.0}
"""[m] By deck level (common practice, no source)."""
SAME_POINT = 0.001
"""[m] Between the ends of a line that is closed (assumed)."""
SMALLEST = 0.5
"""[m²] Below which an outline is no room (assumed)."""


def from_drawing(
    drawing: Path, *, kind: str, length: str, region: str = REGION, bow: Bow = "left", unit: str | None = None
) -> str:
    """Text of a scenario file with one quick room for each outline, in the drawing's order.

    A room's use is the longest known use in its name, else cabin; its headroom is that of its deck.

    Parameters
    ----------
    drawing : Path
    kind : {"motor", "sail", "multihull"}
    length : str
        Of the boat, with its unit.
    region : str
        Code of the region she lies in.
    bow, unit
        As for `drawn_rooms`.

    Raises
    ------
    HeatsimError
        With every fault of the drawing.
    """
    rooms = drawn_rooms(drawing, metres_of(length), bow=bow, unit=unit)
    uses = {room.name: _use(room.name) for room in rooms}
    body = "".join(_room_text(room, uses[room.name]) for room in rooms if lived_in(uses[room.name]))
    spaces = "".join(_room_text(room, uses[room.name]) for room in rooms if not lived_in(uses[room.name]))
    if not body:
        remedy = "Name at least one layer for a room that is cooled, such as: main saloon"
        raise HeatsimError(Fault("nobody lives in any of the rooms drawn", str(drawing), remedy=remedy))
    if spaces:
        body += f"\nspaces:                   # rooms that nobody cools: no unit, no return air in them\n{spaces}"
    berths = BERTHS * sum("cabin" in use for use in uses.values())
    source = "".join(sign for sign in drawing.name if sign.isprintable())
    told = f"From the drawing {source}; what it does not say is a default that heatsim check lists."
    content = framed(kind, metres_of(length), length, max(berths, BERTHS), body, told, region)
    resolve(reading.validate(trees.Tree(trees.parse(content, str(drawing)).value, {}, str(drawing))))
    return content


def write_from_drawing(
    file: Path, drawing: Path, *, kind: str, length: str, region: str = REGION, bow: Bow = "left",
    unit: str | None = None, force: bool = False,
) -> None:  # fmt: skip
    """Write the scenario of a drawing to a file, which must not exist unless `force` is set."""
    write_new(
        file, from_drawing(drawing, kind=kind, length=length, region=region, bow=bow, unit=unit).encode(), force=force
    )


def drawn_rooms(file: Path, length: float, *, bow: Bow = "left", unit: str | None = None) -> list[Room]:
    """Rooms of a drawing in the order in which they stand in it, with stations from the stem and offsets. [m]

    Parameters
    ----------
    file : Path
    length : float
        Of the boat. [m]
    bow : {"left", "right"}
    unit : str, optional
        One of `UNITS`, where the drawing's header names none.

    Raises
    ------
    HeatsimError
        With every fault of the drawing, by layer.
    """
    document = _read(file)
    factor = _factor(document, file, unit)
    found: dict[str, Room] = {}
    faults: list[Fault] = []
    for entity in document.modelspace():
        deck, name = _named(str(entity.dxf.layer))
        if deck is None or (corners := _closed(entity, factor)) is None:
            continue
        placed = tuple((x, y) if bow == "left" else (-x, -y) for x, y in corners)
        if area(placed) < SMALLEST:
            rule = f"an outline encloses {area(placed):.2g} m², which is no room"
            faults.append(Fault(rule, str(file), path=f"layer {entity.dxf.layer}", remedy="Look at the drawing's unit"))
        elif name in found:
            remedy = "Give each room one closed outline in a layer of its own"
            faults.append(Fault("a room is drawn twice", str(file), path=f"layer {entity.dxf.layer}", remedy=remedy))
        else:
            found[name] = Room(name, deck, placed)
    faults += _misplaced(file, list(found.values()), length)
    if not found and not faults:
        layers = ", ".join(sorted(str(layer.dxf.name) for layer in document.layers)[:8])
        levels = ", ".join(get_args(DeckLevel))
        rule = f"there is no closed outline in a layer named by a deck level ({levels}) and a room"
        faults.append(
            Fault(rule, str(file), value=f"layers: {layers}", remedy="Name layers such as: lower owner cabin")
        )
    if faults:
        raise HeatsimError(*faults)
    return list(found.values())


def _use(name: str) -> str:
    """The longest use that a name holds as words."""
    held = [use for use in table_names("uses") if re.search(rf"\b{re.escape(use)}\b", name)]
    return max(held, key=len, default="cabin")


def _room_text(room: Room, use: str) -> str:
    points = ", ".join(f"[{x:g} m, {y:g} m]" for x, y in room.corners)
    return (
        f"  {scalar(room.name)}:\n    use: {use}\n    outline: {{points: [{points}]}}\n"
        f"    quick: {{deck: {room.deck}, height: {HEADROOM[room.deck]:g} m}}\n"
    )


def _read(file: Path) -> Drawing:
    try:
        import ezdxf
        from ezdxf.lldxf.const import DXFError
    except ImportError:
        remedy = "Install it: python -m pip install 'heatsim[drawing]'"
        raise HeatsimError(Fault("drawings need a package that is not installed", str(file), remedy=remedy)) from None
    try:
        return ezdxf.readfile(file)  # type: ignore[attr-defined]
    except OSError as error:
        why = error.strerror or "it is no DXF file"
        raise HeatsimError(Fault(f"cannot be read ({why})", str(file), remedy="Check the name")) from None
    except (DXFError, UnicodeDecodeError, ValueError, IndexError, AttributeError, TypeError, KeyError):
        rule, remedy = "cannot be read (it is no DXF file)", "Save the drawing as DXF"
        raise HeatsimError(Fault(rule, str(file), remedy=remedy)) from None


def _factor(document: Drawing, file: Path, unit: str | None) -> float:
    named = unit or OF_HEADER.get(int(document.header.get("$INSUNITS", 0)))
    if named is None:
        remedy = f"Set them in the drawing, or give --drawing-unit: one of {', '.join(UNITS)}"
        raise HeatsimError(Fault("the drawing does not say its units", str(file), path="$INSUNITS", remedy=remedy))
    return UNITS[named]


def _named(layer: str) -> tuple[str | None, str]:
    """Deck level and room of a layer; None where it names no deck level."""
    parts = re.split(r"[\s_\-]+", layer.strip(), maxsplit=1)
    if len(parts) < 2 or parts[0].lower() not in get_args(DeckLevel):
        return None, ""
    return parts[0].lower(), re.sub(r"[\s_]+", " ", parts[1]).strip(" -").lower()


def _closed(entity: Any, factor: float) -> Corners | None:
    """Corners of a closed line, its curves as chords [m]; None of anything else."""
    from ezdxf import path

    if entity.dxftype() not in ("LWPOLYLINE", "POLYLINE", "SPLINE", "CIRCLE", "ELLIPSE"):
        return None
    line = path.make_path(entity)
    flat = FLATTEST
    while True:
        points: list[Corner] = [(factor * p.x, factor * p.y) for p in line.flattening(flat / factor)]
        first, last = points[0], points[-1]
        if abs(first[0] - last[0]) > SAME_POINT or abs(first[1] - last[1]) > SAME_POINT:
            return None
        if len(points) - 1 <= MOST_CORNERS:
            return tuple((round(x, 3) + 0.0, round(y, 3) + 0.0) for x, y in points[:-1])
        flat *= 2.0


def _misplaced(file: Path, rooms: list[Room], length: float) -> list[Fault]:
    stations = [x for room in rooms for x, _ in room.corners]
    if not stations or (min(stations) >= -0.1 and max(stations) <= length + 0.1):
        return []
    remedy = "Draw the stem at x = 0 and the centreline at y = 0; look at --length, --bow and the drawing's unit"
    value = f"{min(stations):.2f} to {max(stations):.2f} m aft of the stem, the boat {length:.2f} m"
    return [Fault("rooms must lie between stem and stern", str(file), value=value, remedy=remedy)]

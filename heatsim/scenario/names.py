"""The second pass over a file: names that must exist, once each, checked on the raw values.

It runs even where the first pass found faults, so it takes nothing for granted about the shape of what it reads.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from heatsim.errors import Fault
from heatsim.scenario.resolved import ADIABATIC, OUTDOORS, SEA
from heatsim.scenario.tree import Spot, Tree, path_text
from heatsim.tables.loader import names as table_names

PLANT = "plant"
"""What stands for the chillers where sea water is shared out."""
Partitions = dict[tuple[bool, frozenset[str]], tuple[str, Spot]]
"""Who listed the level or upright partition of two neighbours first, and where."""


def check_names(tree: Tree) -> list[Fault]:
    """Faults of every name in the file that points nowhere, or stands where it may stand only once."""
    check = _Check(tree)
    return list(check.faults())


class _Check:
    def __init__(self, tree: Tree) -> None:
        self.tree = tree
        self.root = tree.value
        self.zones = [*_mapping(self.root, "zones")]
        self.spaces = [*_mapping(self.root, "spaces")]
        self.rooms = self.zones + self.spaces + self.own_bilges()
        self.named = {
            "lay-up": [*_mapping(self.root, "lay_ups"), *table_names("lay_ups")],
            "glazing": [*_mapping(self.root, "glazings"), *table_names("glazings")],
            "awning": [*_mapping(self.root, "awnings")],
            "routine": [*_mapping(self.root, "routines"), *table_names("routines")],
            "activity": table_names("activities"),
            "colour": table_names("colours"),
            "material": table_names("materials"),
            "fabric": table_names("awnings"),
            "blind": table_names("blinds"),
            "film": table_names("films"),
        }

    def own_bilges(self) -> list[str]:
        """Names of the bilge spaces that quick lower-deck zones make for themselves."""
        return [
            f"{n} bilge" for n, z in _mapping(self.root, "zones").items() if _mapping(z, "quick").get("deck") == "lower"
        ]

    def fault(self, spot: Spot, rule: str, value: object = "", remedy: str = "") -> Fault:
        return Fault(rule, self.tree.file, self.tree.line(spot), path_text(spot), str(value), remedy)

    def known(self, spot: Spot, value: object, kind: str, names: Iterable[str]) -> Iterator[Fault]:
        """A fault where `value` is text that is none of `names`."""
        if isinstance(value, str) and value not in (choices := list(names)):
            close = difflib.get_close_matches(value, choices, 1, 0.5)
            listed = f"Known: {', '.join(choices[:6])}" if choices else f"This file has no {kind}"
            remedy = f'Did you mean "{close[0]}"?' if close else listed + (" ..." if len(choices) > 6 else "")
            yield self.fault(
                spot, f"names {'an' if kind[0] in 'aeio' else 'a'} {kind} that does not exist", value, remedy
            )

    def faults(self) -> Iterator[Fault]:
        for name in self.spaces:
            if name in self.zones:
                yield self.fault(("spaces", name), "zones and spaces share one set of names; this one stands in both")
        yield from self.yacht_and_place()
        for group in ("lay_ups", "glazings", "awnings"):
            for name, part in _mapping(self.root, group).items():
                yield from self.construction((group, name), part)
        partitions: Partitions = {}
        for group in ("zones", "spaces"):
            for name, room in _mapping(self.root, group).items():
                yield from self.room((group, name), name, room, partitions)
        yield from self.air()
        for i, unit in enumerate(_items(_mapping(self.root, "equipment").get("existing"))):
            for j, zone in enumerate(_items(_get(unit, "zones"))):
                yield from self.known(("equipment", "existing", i, "zones", j), zone, "zone", self.zones)
        equipment = _mapping(self.root, "equipment")
        fitted = [name for unit in _items(equipment.get("existing")) if isinstance(name := _get(unit, "name"), str)]
        for i, reading in enumerate(_items(equipment.get("readings"))):
            yield from self.known(("equipment", "readings", i, "unit"), _get(reading, "unit"), "fitted unit", fitted)
        for key in ("apart", "together"):
            for i, listed in enumerate(_items(_mapping(self.root, "equipment").get(key))):
                for j, zone in enumerate(_items(listed)):
                    yield from self.known(("equipment", key, i, j), zone, "zone", self.zones)

        yield from self.day_and_night()
        yield from self.services()

    def day_and_night(self) -> Iterator[Fault]:
        """Rooms of changing units: known, and each in one pair and one half of it."""
        placed: set[str] = set()
        for i, pair in enumerate(_items(_mapping(self.root, "equipment").get("day_and_night"))):
            for key in ("day", "night"):
                for j, zone in enumerate(_items(_get(pair, key))):
                    spot = ("equipment", "day_and_night", i, key, j)
                    yield from self.known(spot, zone, "zone", self.zones)
                    if isinstance(zone, str) and zone in placed:
                        yield self.fault(spot, "is served in turn with others already", zone, "Name each room once")
                    placed.add(str(zone))

    def services(self) -> Iterator[Fault]:
        """Zones and spaces that ducts, grilles, intakes, pipes and drains name."""
        given = _mapping(self.root, "services")
        served = [*self.zones, PLANT]
        for spot, part, key, kind, names in (
            (("ducts",), given, "zone", "zone", self.zones),
            (("ducts",), given, "through", "zone or space", [*self.rooms, OUTDOORS]),
            (("grilles",), given, "zone", "zone", self.zones),
            (("intakes",), given, "zones", "zone", [*self.zones, *self.spaces]),
            (("seawater", "circuits"), _mapping(given, "seawater"), "serves", "zone", served),
            (("chilled_water", "runs"), _mapping(given, "chilled_water"), "zone", "zone", self.zones),
            (("chilled_water", "runs"), _mapping(given, "chilled_water"), "through", "zone or space", self.rooms),
            (("drains", "runs"), _mapping(given, "drains"), "serves", "zone", self.zones),
            (("cables",), given, "serves", "zone", served),
        ):
            for i, item in enumerate(_items(_get(part, spot[-1]))):
                yield from self.each(("services", *spot, i, key), _get(item, key), kind, names)
        for i, circuit in enumerate(_items(_mapping(given, "seawater").get("circuits"))):
            for j, branch in enumerate(_items(_get(circuit, "branches"))):
                here = ("services", "seawater", "circuits", i, "branches", j, "serves")
                yield from self.known(here, _get(branch, "serves"), "zone", served)

    def each(self, spot: Spot, value: object, kind: str, names: list[str]) -> Iterator[Fault]:
        """A fault for every name, of one or of a list, that is none of `names`."""
        if not isinstance(value, list):
            yield from self.known(spot, value, kind, names)
            return
        for j, name in enumerate(value):
            yield from self.known((*spot, j), name, kind, names)

    def yacht_and_place(self) -> Iterator[Fault]:
        yacht = _mapping(self.root, "yacht")
        for key in ("hull_colour", "house_colour", "deck_colour"):
            yield from self.known(("yacht", key), yacht.get(key), "colour", self.named["colour"])
        yield from self.known(("yacht", "glazing"), yacht.get("glazing"), "glazing", self.named["glazing"])
        from heatsim.scenario.place import timezone_faults
        from heatsim.scenario.regions import find_region, region_fault

        place = _mapping(self.root, "place")
        region = place.get("region")
        if isinstance(region, str) and find_region(region) is None:
            rule, remedy = region_fault(region)
            yield self.fault(("place", "region"), rule, region, remedy)
        for rule, value, remedy in timezone_faults(place.get("timezone"), place.get("longitude")):
            yield self.fault(("place", "timezone"), rule, value, remedy)

    def construction(self, spot: Spot, part: object) -> Iterator[Fault]:
        for i, layer in enumerate(_items(_get(part, "layers"))):
            material = _get(layer, "material")
            numbers = isinstance(layer, dict) and {"conductivity", "resistance"} & set(layer)
            if not numbers and material != "air":
                yield from self.known((*spot, "layers", i, "material"), material, "material", self.named["material"])
        for key in ("frames", "stringers"):
            material = _get(_get(part, key), "material")
            yield from self.known((*spot, key, "material"), material, "material", self.named["material"])
        for key in ("fabric", "film"):
            yield from self.known((*spot, key), _get(part, key), key, self.named[key])
        yield from self.routine((*spot, "set"), _get(part, "set"))

    def routine(self, spot: Spot, value: object) -> Iterator[Fault]:
        if isinstance(value, str) and value[:1] not in tuple("+-.0123456789"):
            yield from self.known(spot, value, "routine", self.named["routine"])

    def room(self, spot: Spot, name: str, room: object, partitions: Partitions) -> Iterator[Fault]:
        uses = table_names("uses")
        yield from self.known((*spot, "use"), _get(room, "use"), "use", uses)
        for key in ("cooling", "heating", "fan"):
            yield from self.routine((*spot, key), _get(room, key))
        for key in ("people", "equipment", "moisture"):
            for i, item in enumerate(_items(_get(room, key))):
                yield from self.routine((*spot, key, i, "routine"), _get(item, "routine"))
                activity = _get(item, "activity")
                yield from self.known((*spot, key, i, "activity"), activity, "activity", self.named["activity"])
        yield from self.routine((*spot, "lights", "routine"), _get(_get(room, "lights"), "routine"))
        yield from self.quick((*spot, "quick"), name, _get(room, "quick"), partitions)
        seen: set[str] = set()
        for i, face in enumerate(_items(_get(room, "faces"))):
            here = (*spot, "faces", i)
            face_name = _get(face, "name")
            if isinstance(face_name, str) and face_name in seen:
                yield self.fault(
                    (*here, "name"), "two faces of one zone have the same name", face_name, "Rename one of them"
                )
            if isinstance(face_name, str):
                seen.add(face_name)
            yield from self.face(here, name, face, partitions)

    def quick(self, spot: Spot, name: str, quick: object, partitions: Partitions) -> Iterator[Fault]:
        for key in ("side_lay_up", "deck_lay_up", "sole_lay_up", "bottom_lay_up"):
            yield from self.known((*spot, key), _get(quick, key), "lay-up", self.named["lay-up"])
        yield from self.known((*spot, "glazing"), _get(quick, "glazing"), "glazing", self.named["glazing"])
        for key in ("awning", "film"):
            yield from self.known((*spot, key), _get(quick, key), key, self.named[key])
        for key in ("side_colour", "deck_colour"):
            yield from self.known((*spot, key), _get(quick, key), "colour", self.named["colour"])
        others = [room for room in self.rooms if room != name]
        yield from self.known((*spot, "above"), _get(quick, "above"), "zone or space", [*others, OUTDOORS, ADIABATIC])
        yield from self.known(
            (*spot, "below"), _get(quick, "below"), "zone or space", [*others, OUTDOORS, SEA, ADIABATIC]
        )
        for key in ("above", "below"):
            yield from self.once((*spot, key), name, _get(quick, key), True, partitions)

    def face(self, spot: Spot, name: str, face: object, partitions: Partitions) -> Iterator[Fault]:
        for key, word in (("lay_up", "lay-up"), ("glazing", "glazing"), ("awning", "awning"), ("colour", "colour")):
            yield from self.known((*spot, key), _get(face, key), word, self.named[word])
        yield from self.known((*spot, "film"), _get(face, "film"), "film", self.named["film"])
        front = _get(_get(face, "in_front"), "glazing")
        yield from self.known((*spot, "in_front", "glazing"), front, "glazing", self.named["glazing"])
        blind = _get(face, "blind")
        yield from self.known((*spot, "blind", "kind"), _get(blind, "kind"), "blind", self.named["blind"])
        yield from self.routine((*spot, "blind", "closed"), _get(blind, "closed"))
        kind, beyond = _get(face, "kind"), _get(face, "beyond")
        if kind not in ("bulkhead", "sole") or not isinstance(beyond, str):
            return
        if beyond == name:
            yield self.fault(
                (*spot, "beyond"), "a face may not have its own zone beyond it", beyond, "Name the neighbour"
            )
            return
        allowed = [room for room in self.rooms if room != name] + [ADIABATIC] + ([SEA] if kind == "sole" else [])
        yield from self.known((*spot, "beyond"), beyond, "zone or space", allowed)
        level = kind == "sole" or _is_level(_get(face, "tilt"))
        yield from self.once(spot, name, beyond, level, partitions)

    def once(self, spot: Spot, name: str, beyond: object, level: bool, partitions: Partitions) -> Iterator[Fault]:
        """A fault where two neighbours both list the partition between them."""
        if not isinstance(beyond, str) or beyond not in self.rooms:
            return
        owner, first = partitions.setdefault((level, frozenset((name, beyond))), (name, spot))
        if owner != name:
            where = f"{path_text(first)} (line {self.tree.line(first)})"
            rule = f"the partition to this neighbour is listed from the other side already, at {where}"
            yield self.fault(spot, rule, beyond, "List it once, in one of the two")

    def air(self) -> Iterator[Fault]:
        ends = [*self.rooms, OUTDOORS]
        for group, keys in (("flows", ("source", "target")), ("openings", ("first", "second"))):
            for i, part in enumerate(_items(_mapping(self.root, group, list))):
                for key in keys:
                    yield from self.known((group, i, key), _get(part, key), "zone or space", ends)
                for key in ("routine", "open"):
                    yield from self.routine((group, i, key), _get(part, key))


def _is_level(tilt: object) -> bool:
    """Whether a partition with this tilt, as text, is a floor or an overhead rather than a wall."""
    from pydantic_core import PydanticCustomError

    from heatsim.scenario.quantities import parse

    try:
        return abs(parse(tilt, "angle") - 90) > 45
    except PydanticCustomError:
        return False


def _mapping(part: object, key: str, shape: Callable[..., Any] = dict) -> Any:
    found = part.get(key) if isinstance(part, dict) else None
    return found if isinstance(found, shape) else shape()  # type: ignore[arg-type]


def _get(part: object, key: str) -> object:
    return part.get(key) if isinstance(part, dict) else None


def _items(part: object) -> list[Any]:
    return part if isinstance(part, list) else []

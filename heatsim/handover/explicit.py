"""A scenario with every default written out: `resolved.yaml` of a pack.

Quick zones become full zones, every default that resolving notes stands at its path with its source as a comment, and
what the file format itself takes is marked too. Where a default is shown in words only (persons, foregrounds), the
resolved value is written instead.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from heatsim.loads.dataset import canonical
from heatsim.scenario.drawn import Drawn, drawn
from heatsim.scenario.faces import GlassFace, SkinFace
from heatsim.scenario.fields import OWN_BILGE
from heatsim.scenario.ledger import Ledger
from heatsim.scenario.model import Scenario
from heatsim.scenario.overrides import split
from heatsim.scenario.planes import foreground_level
from heatsim.scenario.quantities import text
from heatsim.scenario.quick import Expanded, expand
from heatsim.scenario.reading import validate
from heatsim.scenario.resolve import partition_areas, resolve
from heatsim.scenario.resolved import DefaultUsed, Face, Foreground, Gain, People, Resolved, Routine
from heatsim.scenario.rooms import QuickText, SpaceText, ZoneText
from heatsim.scenario.tree import Spot, Tree, parse

QUICK = "from a quick zone"
_FACES = re.compile(r"faces (of kind|at) (\w+)( level)?: (tilt|foreground)$")
"""Defaults noted once for all faces of a kind or level."""


@dataclass(frozen=True)
class Explicit:
    """The scenario in full, and the remark that stands beside each value that the file did not give."""

    scenario: Scenario
    remarks: dict[Spot, str]


def explicit(scenario: Scenario, folder: Path | None = None) -> Explicit:
    """Every default of a scenario written out.

    Parameters
    ----------
    scenario : Scenario
        As read, with paths of other files anchored.
    folder : Path, optional
        Where the file will lie: paths of other files lead from there.

    Returns
    -------
    Explicit
        Resolves to the same numbers; `same_numbers` says so.
    """
    full, remarks = _full(scenario)
    resolved = resolve(full)
    tree: dict[str, Any] = json.loads(json.dumps(full.model_dump(mode="json", exclude_unset=True, exclude_none=True)))
    for default in resolved.defaults:
        for spot, value in _written(default, full, resolved):
            if _put(tree, spot, value):
                remarks[spot] = f"default: {default.source}"
    for spot, value in _unnoted(full, resolved):
        if _put(tree, spot, value):
            remarks[spot] = "default: assumed"
    if folder is not None:
        _lead_from(tree, folder)
    return Explicit(validate(Tree(tree, {}, "the scenario with its defaults")), remarks)


def same_numbers(first: Resolved, second: Resolved) -> bool:
    """Whether two resolved boats agree in everything but the names of courses and the remarks on defaults."""
    return bool(_nameless(first) == _nameless(second))


def _nameless(resolved: Resolved) -> Any:
    def without(value: Any) -> Any:
        if isinstance(value, list):
            return [without(item) for item in value]
        if isinstance(value, dict):
            course = value.keys() == {"name", "minutes", "values"}
            return {key: without(item) for key, item in value.items() if not (course and key == "name")}
        return value

    return without(json.loads(canonical(resolved)))


def _full(scenario: Scenario) -> tuple[Scenario, dict[Spot, str]]:
    """Quick zones and spaces as full ones, bilges of zones as spaces, and what the boxes took for granted."""
    remarks: dict[Spot, str] = {}
    zones, spaces = dict(scenario.zones), dict(scenario.spaces)
    areas, outlines = partition_areas(scenario), drawn(scenario)
    for name, zone in scenario.zones.items():
        if zone.quick is not None:
            box, remarks["zones", name] = _box(name, zone.quick, areas.get(name, 0.0), outlines.get(name), space=False)
            zones[name] = zone.model_copy(update=_filled(zone, box))
            if box.bilge is not None:
                spaces[name + OWN_BILGE] = box.bilge
                remarks["spaces", name + OWN_BILGE] = QUICK
    for name, space in scenario.spaces.items():
        if space.quick is not None:
            box, remarks["spaces", name] = _box(name, space.quick, areas.get(name, 0.0), outlines.get(name), space=True)
            spaces[name] = space.model_copy(update=_filled(space, box))
    return scenario.model_copy(update={"zones": zones, "spaces": spaces}), remarks


def _box(name: str, quick: QuickText, partitions: float, outline: Drawn | None, *, space: bool) -> tuple[Expanded, str]:
    """A box in full, and a remark on what it took for granted."""
    ledger = Ledger()
    box = expand(name, quick, partitions, ledger, space=space, drawn=outline)
    taken = "; ".join(f"{one.path.split('.')[-1]} {one.value} ({one.source})" for one in ledger.close())
    return box, QUICK + (f", default: {taken}" if taken else "")


def _filled(room: ZoneText | SpaceText, box: Expanded) -> dict[str, Any]:
    """What a room holds in place of its box."""
    return {
        "quick": None,
        "faces": [*room.faces, *box.faces],
        "deck": box.deck,
        "floor_area": box.floor_area,
        "height": box.height,
        "volume": room.volume or box.volume,
    }


def _written(default: DefaultUsed, scenario: Scenario, resolved: Resolved) -> Iterator[tuple[Spot, Any]]:
    """Where a default stands in the file, and the value that reads back to what was used."""
    shared = _FACES.match(default.path)
    if shared:
        decks = {zone.name: zone.deck for zone in resolved.zones}
        value: Callable[[Face], Any] = _tilt if shared[4] == "tilt" else _foreground

        def meant(face: Face) -> bool:
            if shared[4] == "tilt":
                return face.kind == shared[2]
            return foreground_level(face.kind, face.tilt, decks[face.zone]) == shared[2]

        yield from _of_faces(scenario, resolved, shared[4], value, meant)
        return
    parts = split(default.path)
    spot = tuple(int(part[1:-1]) if part.startswith("[") else part for part in parts)
    zones = {zone.name: zone for zone in resolved.zones}
    if len(spot) == 3 and spot[0] in ("zones", "spaces"):
        zone = zones[str(spot[1])]
        match spot[2]:
            case "people":
                yield spot, [_people(one) for one in zone.people]
                return
            case "equipment":
                yield spot, [_gain(one) for one in zone.gains if one.kind == "equipment"]
                return
            case "sun_shares" if not (
                scenario.zones[zone.name].furnishing_capacity is None or zone.furnishing_capacity
            ):
                yield spot, {"sole": 0.5, "furnishings": 0.0}
                return
    yield spot, parse(f"value: {default.value}", default.path).value["value"]


def _of_faces(
    scenario: Scenario, resolved: Resolved, field: str, value: Callable[[Face], Any],
    meant: Callable[[Face], bool] = lambda face: True,
) -> Iterator[tuple[Spot, Any]]:  # fmt: skip
    """A field of every face meant that does not give it; resolved faces stand in the file's order, room by room."""
    rooms: list[tuple[str, str, ZoneText | SpaceText]] = [("zones", name, one) for name, one in scenario.zones.items()]
    rooms += [("spaces", name, one) for name, one in scenario.spaces.items()]
    for group, name, room in rooms:
        found = [face for face in resolved.faces if face.zone == name]
        for i, (given, face) in enumerate(zip(room.faces, found, strict=True)):
            if field == "foreground" and not isinstance(given, (SkinFace, GlassFace)):
                continue
            if getattr(given, field, None) is None and meant(face):
                yield (group, name, "faces", i, field), value(face)


def _unnoted(scenario: Scenario, resolved: Resolved) -> Iterator[tuple[Spot, Any]]:
    """Constants that resolving takes without noting them each time."""
    if resolved.days:
        yield ("climate", "days"), list(dict.fromkeys(day.kind for day in resolved.days))
    for field in ("inside_absorptance", "inside_emissivity"):
        yield from _of_faces(scenario, resolved, field, lambda face, field=field: getattr(face, field))  # type: ignore[misc]
    for spot, lay_up in _of_faces(scenario, resolved, "lay_up", lambda face: face.lay_up):
        if lay_up is not None:
            yield spot, lay_up
    for i, opening in enumerate(resolved.openings):
        yield ("openings", i, "wind_coefficient"), opening.wind_coefficient


def _tilt(face: Face) -> str:
    return text(face.tilt, "angle", 15)


def _foreground(face: Face) -> dict[str, float]:
    seen: Foreground = face.foreground
    return {
        "sea": seen.sea, "deck": seen.deck, "quay": seen.quay, "deck_reflectance": seen.deck_reflectance,
        "quay_reflectance": seen.quay_reflectance,
    }  # fmt: skip


def _people(one: People) -> dict[str, Any]:
    return {"count": one.count, "activity": one.activity, "routine": _course(one.routine)}


def _gain(one: Gain) -> dict[str, Any]:
    return {
        "name": one.name, "power": text(one.power, "power", 15), "routine": _course(one.routine),
        "radiant_share": one.radiant_share, "latent_share": one.latent_share,
    }  # fmt: skip


def _course(routine: Routine) -> Any:
    """A course of shares by stretches of the clock; hours outside all of them are 0."""
    ends = [*routine.minutes[1:], 1440]
    stretches = {
        f"{first // 60:02d}:{first % 60:02d}-{last // 60:02d}:{last % 60:02d}": value
        for first, last, value in zip(routine.minutes, ends, routine.values, strict=True)
        if value != 0.0
    }
    return stretches or 0.0


def _put(tree: dict[str, Any], spot: Spot, value: Any) -> bool:
    """Write a value at its path, making parts on the way; what the file gives stays."""
    here: Any = tree
    for key in spot[:-1]:
        if isinstance(here, dict) and here.get(key) is None:
            here[key] = {}
        here = here[key]
    if isinstance(here, dict) and spot[-1] in here:
        return False
    here[spot[-1]] = value
    return True


def _lead_from(tree: dict[str, Any], folder: Path) -> None:
    """Paths of other files, from the folder of the new file where one drive holds both."""
    for group, key in (("climate", "weather_file"), ("equipment", "catalogue"), ("report", "study")):
        path = tree.get(group, {}).get(key)
        if path is None:
            continue
        try:
            tree[group][key] = Path(os.path.relpath(path, folder)).as_posix()
        except ValueError:  # another drive
            tree[group][key] = str(path)

"""What is allowed but unlikely, or unwise: findings on a resolved scenario, each with a stable code.

Findings inform and never stop a run. Where a finding concerns carbon monoxide it says what to do about it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

from heatsim.errors import Finding
from heatsim.scenario.construction_findings import construction_findings, shown
from heatsim.scenario.courses import DAY, QUARTER, at
from heatsim.scenario.fittings import lived_in
from heatsim.scenario.ledger import ASSUMED
from heatsim.scenario.occupancy import hourly_total, peak_count
from heatsim.scenario.quick import NARROW
from heatsim.scenario.resolved import OUTDOORS, Day, Face, Resolved, Zone

HIGHEST_DEW_POINT = 33.0
"""[degC] Above it only a handful of hours have ever been recorded, in the Gulf (record 35, common knowledge)."""
HIGHEST_WET_BULB = 35.0
"""[degC] Limit of human survival: Sherwood and Huber, PNAS 107, 2010."""
FRESH_AIR = 25.0 / 3600.0
"""[m³/s a person] Flag code for large yachts."""
COLDEST_SETPOINT = 21.0
"""[degC] Below it coils ice in humid air, common practice, no source."""
STANDING_ROOM = 0.75
"""[m² a person] Less than this is standing room, common practice, no source."""
MOST_EQUIPMENT = 500.0
"""[W/m² of sole] Only a galley at full fire comes near it, common practice, no source."""
MACHINERY = re.compile(r"\b(?:engines?|generators?|genset|petrol|gasoline|machinery)\b(?! control)", re.IGNORECASE)
"""Words of a name by which a room holds machinery or petrol; an engine control room is for people."""
CARBON_MONOXIDE = (
    "Carbon monoxide: exhaust can be drawn in. Balance the air, keep doors of machinery spaces tight, and fit an alarm "
    "in every sleeping space (ABYC A-24)"
)


def findings(resolved: Resolved) -> tuple[Finding, ...]:
    """Everything worth knowing about a scenario before it is simulated.

    Parameters
    ----------
    resolved : Resolved
        The boat in its place.

    Returns
    -------
    tuple of Finding
        In the order clock, climate, persons, air, zones, construction.
    """
    out = [*_clock(resolved), *_climate(resolved), *_persons(resolved), *_air(resolved)]
    for zone in resolved.zones:
        out += [*_zone(zone, resolved)]
    return (*out, *construction_findings(resolved))


def _clock(resolved: Resolved) -> Iterator[Finding]:
    """Ashore people live by a clock with a name; a plain offset knows neither its borders nor summer time."""
    taken = [default for default in resolved.defaults if default.path == "place.timezone"]
    if resolved.place.berth != "under way" and any(default.value.startswith("Etc/") for default in taken):
        yield Finding(
            "plain-clock",
            "place.timezone",
            "routines run on a clock by longitude alone, without summer time; give the zone of the place",
            resolved.place.timezone,
            source=taken[0].source,
        )


def _climate(resolved: Resolved) -> Iterator[Finding]:
    if resolved.days and all(day.kind == "typical" for day in resolved.days):
        yield Finding(
            "no-design-day",
            "climate",
            "typical days only: a sizing needs a hot day, give climate.hot.dry_bulb_max or a correction",
            source="monthly means say nothing of extremes",
        )
    for day in resolved.days:
        yield from _day(day, resolved.place.altitude)
    for default in resolved.defaults:
        if default.path.startswith("climate.") and "few observations" in default.source:
            yield Finding(
                "weak-climate",
                default.path,
                "the sea's climatology rests on few observations here",
                default.value,
                source=default.source,
            )


def _day(day: Day, altitude: float) -> Iterator[Finding]:
    from heatsim.physics.moist_air import humidity_ratio_from_dew_point, standard_pressure, wet_bulb

    path = f"climate.{day.kind}"
    if day.dew_point > day.dry_bulb_max:
        yield Finding(
            "dew-point-above-air",
            f"{path}.dew_point",
            "the dew point is above the day's warmest air, which is then taken as saturated",
            shown(day.dew_point, "temperature"),
            shown(day.dry_bulb_max, "temperature"),
            "psychrometrics",
        )
    if day.dew_point > HIGHEST_DEW_POINT:
        yield Finding(
            "dew-point-high",
            f"{path}.dew_point",
            "the dew point is above almost every record",
            shown(day.dew_point, "temperature"),
            shown(HIGHEST_DEW_POINT, "temperature"),
            "records of the Gulf coast",
        )
    pressure = standard_pressure(altitude)
    ratio = humidity_ratio_from_dew_point(min(day.dew_point, day.dry_bulb_max), pressure)
    wet = float(wet_bulb(day.dry_bulb_max, ratio, pressure))
    if wet > HIGHEST_WET_BULB:
        yield Finding(
            "wet-bulb-high",
            path,
            "the wet bulb is above the limit of human survival",
            f"{wet:.1f} degC",
            shown(HIGHEST_WET_BULB, "temperature"),
            "Sherwood and Huber, PNAS 107, 2010",
        )


def _persons(resolved: Resolved) -> Iterator[Finding]:
    people = {zone.name: zone.people for zone in resolved.zones}
    minute, most = max(hourly_total(people), key=lambda item: item[1])
    if most > resolved.persons_aboard + 1e-9:
        clock = f"{minute // 60:02d}:{minute % 60:02d}"
        yield Finding(
            "too-many-persons",
            "yacht.persons",
            f"zones with people of their own hold more persons than are aboard, at {clock}",
            f"{most:g}",
            f"{resolved.persons_aboard}",
            "persons are conserved",
        )


def _air(resolved: Resolved) -> Iterator[Finding]:
    spaces = {zone.name: zone for zone in resolved.zones if zone.is_space}
    uses = {zone.name: zone.use for zone in resolved.zones}
    worst, when = 0.0, 0
    for minute in range(0, DAY, QUARTER):
        taken = sum(
            f.rate * at(f.routine, minute) for f in resolved.flows if f.kind == "extract" and f.source not in spaces
        )
        given = sum(
            f.rate * at(f.routine, minute) for f in resolved.flows if f.kind == "fresh_air" and f.target not in spaces
        )
        if taken - given > worst:
            worst, when = taken - given, minute
    if worst > 1e-6:
        clock = f"{when // 60:02d}:{when % 60:02d}"
        yield Finding(
            "net-extract",
            "flows",
            f"more air is extracted than brought in, at {clock}. {CARBON_MONOXIDE}",
            shown(worst, "flow"),
            "0 m3/h",
            "whole-boat air balance",
        )
    for flow in resolved.flows:
        machinery = uses.get(flow.source) in ("engine space", "bilge")
        if machinery and flow.target not in spaces and flow.target != OUTDOORS:
            yield Finding(
                "air-from-machinery",
                "flows",
                f"{flow.name} brings air from {flow.source} to {flow.target}. " + CARBON_MONOXIDE,
                shown(flow.rate, "flow"),
            )


def _zone(zone: Zone, resolved: Resolved) -> Iterator[Finding]:
    path = f"zones.{zone.name}"
    faces = [face for face in resolved.faces if zone.name in (face.zone, face.beyond)]
    if not zone.is_space:
        yield from _outdoor_air(zone, path, resolved)
        yield from _control(zone, path)
        yield from _machinery(zone, path, any(zone.name in unit.zones for unit in resolved.terms.installed))
        yield from _sides(path, resolved)
        yield from _crowding(zone, path)
    if zone.temperature is None:
        yield from _enclosure(zone, "spaces." + zone.name if zone.is_space else path, faces)


def _outdoor_air(zone: Zone, path: str, resolved: Resolved) -> Iterator[Finding]:
    outdoors = sum(flow.rate for flow in resolved.flows if flow.target == zone.name and flow.source == OUTDOORS)
    passed = sum(flow.rate for flow in resolved.flows if flow.target == zone.name and flow.source != OUTDOORS)
    opened = any(OUTDOORS in (o.first, o.second) and zone.name in (o.first, o.second) for o in resolved.openings)
    if outdoors + passed <= 0 and not opened:
        yield Finding(
            "no-outdoor-air",
            f"{path}.fresh_air",
            "the zone has no outdoor air at all",
            "0 m3/h",
            source="flag code for large yachts: 25 m3/h a person",
        )
    people = peak_count(zone.people)
    supplied = sum(
        flow.rate for flow in resolved.flows if flow.target == zone.name and flow.kind in ("fresh_air", "transfer")
    )
    if people and supplied < 0.999 * FRESH_AIR * people:
        yield Finding(
            "little-fresh-air",
            f"{path}.fresh_air",
            "less fresh air than the code asks for its persons",
            shown(supplied, "flow"),
            shown(FRESH_AIR * people, "flow"),
            "flag code for large yachts: 25 m3/h a person",
        )


def _crowding(zone: Zone, path: str) -> Iterator[Finding]:
    people = peak_count(zone.people)
    if people * STANDING_ROOM > zone.floor_area:
        yield Finding(
            "crowded",
            f"{path}.people",
            "more persons at once than can stand on the sole",
            f"{people:g}",
            f"{zone.floor_area / STANDING_ROOM:.3g}, one on {shown(STANDING_ROOM, 'area')}",
            "standing room, common practice, no source",
        )
    items = [gain for gain in zone.gains if gain.kind == "equipment"]
    most = max(sum(item.power * at(item.routine, minute) for item in items) for minute in range(0, DAY, QUARTER))
    if most > MOST_EQUIPMENT * zone.floor_area:
        yield Finding(
            "equipment-heavy",
            f"{path}.equipment",
            "equipment gives off more heat at once than a galley at full fire",
            shown(most / zone.floor_area, "power per area"),
            shown(MOST_EQUIPMENT, "power per area"),
            "common practice, no source",
        )


def _control(zone: Zone, path: str) -> Iterator[Finding]:
    control = zone.control
    if control is None:
        return
    if control.heating_limit == 0 or max(control.heating_on.values) == 0:
        yield Finding("no-heating", f"{path}.heating", "the zone has no way of heating", "never")
    lowest = min(control.cooling_setpoint.values)
    if lowest < COLDEST_SETPOINT:
        yield Finding(
            "setpoint-low",
            f"{path}.setpoint",
            "coils ice at setpoints this low in humid air",
            shown(lowest, "temperature"),
            shown(COLDEST_SETPOINT, "temperature"),
            "common practice, no source",
        )
    for minute in range(0, DAY, QUARTER):
        if at(control.heating_setpoint, minute) > at(control.cooling_setpoint, minute):
            yield Finding(
                "setpoints-cross",
                f"{path}.heating_setpoint",
                "heating is set above cooling: both would run",
                shown(at(control.heating_setpoint, minute), "temperature"),
                shown(at(control.cooling_setpoint, minute), "temperature"),
            )
            return


def _machinery(zone: Zone, path: str, served: bool) -> Iterator[Finding]:
    """No air of a room that people breathe, and no unit that stirs it, belongs where an engine or petrol is."""
    if zone.control is None and not served:
        return
    items = [gain.name for gain in zone.gains if gain.kind == "equipment"]
    words = next((name for name in (zone.name, *items) if MACHINERY.search(name)), "")
    if lived_in(zone.use) and not words:
        return
    told = f'"{words}" stands in a room that is cooled' if words != zone.name else "it holds machinery by its name"
    told = told if lived_in(zone.use) else f"{_a(zone.use)} is cooled"
    yield Finding(
        "machinery-cooled",
        f"{path}.use",
        f"{told}. Write it under spaces, or conditioned: false; never site a self-contained unit, or its return air, "
        "in an engine, generator or petrol space. " + CARBON_MONOXIDE,
        zone.use,
        source="common practice, no source",
    )


def _a(word: str) -> str:
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"


def _sides(path: str, resolved: Resolved) -> Iterator[Finding]:
    for default in resolved.defaults:
        if default.path == f"{path}.quick.sides" and NARROW in default.source:
            yield Finding(
                "sides-assumed",
                default.path,
                f"taken with {NARROW}, and the usual glass where none is given; name its sides, or sides: none",
                default.value,
                source=ASSUMED,
            )


def _enclosure(zone: Zone, path: str, faces: list[Face]) -> Iterator[Finding]:
    """A sphere has the least surface for its volume, so less than that cannot enclose it."""
    area = sum(face.area for face in faces)
    least = (36.0 * math.pi) ** (1 / 3) * zone.volume ** (2 / 3)
    if area < least:
        yield Finding(
            "open-enclosure",
            f"{path}.faces",
            "the faces cannot enclose the volume; what is missing is taken as exchanging nothing",
            shown(area, "area"),
            shown(least, "area"),
            "a sphere has the least surface for its volume",
        )
    if abs(zone.volume - zone.floor_area * zone.height) > 0.25 * zone.volume:
        yield Finding(
            "volume-mismatch",
            f"{path}.volume",
            "volume differs from sole times height by more than a quarter",
            shown(zone.volume, "volume"),
            shown(zone.floor_area * zone.height, "volume"),
        )
    soles = sum(face.area for face in faces if face.kind == "sole" and face.zone == zone.name)
    if soles > 1.1 * zone.floor_area:
        yield Finding(
            "sole-too-large",
            f"{path}.faces",
            "the soles are larger than the floor area",
            shown(soles, "area"),
            shown(zone.floor_area, "area"),
        )
    yield from _glass(zone, path, faces)


def _glass(zone: Zone, path: str, faces: list[Face]) -> Iterator[Finding]:
    """Glass of one direction against a side of the zone: no side is longer than three times the sole's square root."""
    by_bearing: dict[float, float] = {}
    for face in faces:
        if face.kind == "glass" and face.tilt > 45:
            by_bearing[face.bearing] = by_bearing.get(face.bearing, 0.0) + face.area * math.sin(math.radians(face.tilt))
    limit = zone.height * 3.0 * math.sqrt(zone.floor_area)
    for bearing, area in by_bearing.items():
        if area > limit:
            yield Finding(
                "glass-larger-than-wall",
                f"{path}.faces",
                f"glass at bearing {bearing:g} deg is larger than any wall there",
                shown(area, "area"),
                shown(limit, "area"),
                "height times three times the square root of the sole",
            )

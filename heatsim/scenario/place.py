"""Where the boat lies: region or position, clock, berth and the headings to simulate."""

from __future__ import annotations

from collections.abc import Iterator

from heatsim.scenario.ledger import ASSUMED, COMMON, Ledger
from heatsim.scenario.model import Scenario
from heatsim.scenario.regions import Row, find_region
from heatsim.scenario.resolved import Obstruction, Place
from heatsim.tables.loader import by_name

HEADING_STEP = 15.0
"""[deg] Between two headings of a sweep or a swing."""


def timezone_faults(timezone: object, longitude: object) -> Iterator[tuple[str, str, str]]:
    """Rule, value and remedy where a time zone is unknown or lies far from the longitude."""
    if not isinstance(timezone, str):
        return
    offset = standard_offset(timezone)
    if offset is None:
        yield "names a time zone that does not exist", timezone, 'Write for example "Europe/Athens"'
        return
    from pydantic_core import PydanticCustomError

    from heatsim.scenario.quantities import parse

    try:
        east = parse(longitude, "angle")
    except PydanticCustomError:
        return
    gap = abs((offset - east / 15.0 + 12.0) % 24.0 - 12.0)
    if gap > 3.5:
        shown = f"{timezone} (UTC{offset:+g} h at {east:g} deg)"
        yield "does not fit the longitude: noon would be more than 3.5 h off", shown, "Check timezone and longitude"


def standard_offset(timezone: str) -> float | None:
    """Offset from UTC in January 2025 or July 2025, whichever is smaller, in hours; None for an unknown zone."""
    from datetime import datetime
    from zoneinfo import ZoneInfo

    try:
        zone = ZoneInfo(timezone)
    except (KeyError, ValueError, OSError):
        return None
    offsets = [datetime(2025, month, 1, tzinfo=zone).utcoffset() for month in (1, 7)]
    return min(offset.total_seconds() / 3600 for offset in offsets if offset is not None)


def months(scenario: Scenario, ledger: Ledger) -> tuple[int, ...]:
    """Months asked for, or the region's hottest."""
    place = scenario.place
    if place.months is not None:
        return tuple(place.months)
    default, source = 8 if (place.latitude or 0) >= 0 else 2, ASSUMED + ": late summer of the hemisphere"
    region = find_region(place.region) if place.region else None
    if region is not None:
        default = max(range(12), key=lambda i: float(region[i]["design_db_C"])) + 1
        source = "regions table: month of the highest design dry bulb"
    return (ledger.take("place.month", place.month, default, str(default), source),)


def resolve_place(scenario: Scenario, ledger: Ledger) -> Place:
    """Place with every default taken."""
    given = scenario.place
    region = find_region(given.region) if given.region else None
    if region is not None and given.latitude is None:
        latitude, longitude = float(region[0]["lat"]), float(region[0]["lon"])
    else:
        latitude, longitude = given.latitude or 0.0, (given.longitude or 0.0)
    longitude = (longitude + 180.0) % 360.0 - 180.0
    shown = (
        region[0]["name"]
        if region
        else f"{abs(latitude):g}° {'NS'[latitude < 0]} {abs(longitude):g}° {'EW'[longitude < 0]}"
    )
    berth = ledger.take("place.berth", given.berth, "alongside", "alongside", ASSUMED)
    mode, headings = _headings(scenario, ledger)
    return Place(
        name=given.name or shown,
        latitude=latitude,
        longitude=longitude,
        altitude=given.altitude or 0.0,
        timezone=_timezone(scenario, region, longitude, ledger),
        berth=berth,
        heading_mode=mode,  # type: ignore[arg-type]
        headings=headings,
        obstructions=tuple(Obstruction(o.first, o.last, o.elevation) for o in given.obstructions),
    )


def berth_row(scenario: Scenario) -> Row:
    """Row of the berths table for the berth given or taken."""
    return by_name("berths")[scenario.place.berth or "alongside"]


def _timezone(scenario: Scenario, region: tuple[Row, ...] | None, longitude: float, ledger: Ledger) -> str:
    if region is not None:
        zone, source = region[0]["timezone"], "regions table"
    else:
        hours = round(longitude / 15.0)
        zone, source = (
            f"Etc/GMT{-hours:+d}" if hours else "Etc/GMT",
            "nautical zone: longitude ÷ 15, rounded, no summer time",
        )
    return ledger.take("place.timezone", scenario.place.timezone, zone, zone, source)


def _headings(scenario: Scenario, ledger: Ledger) -> tuple[str, tuple[float, ...]]:
    given = scenario.place
    if given.course is not None:
        return "under way", (given.course.bearing % 360.0,)
    if given.swing is not None:
        arc = (given.swing.last - given.swing.first) % 360.0 or 360.0
        steps = max(1, round(arc / HEADING_STEP))
        count = steps if arc == 360.0 else steps + 1
        return "swinging", tuple((given.swing.first + i * arc / steps) % 360.0 for i in range(count))
    heading = ledger.take("place.heading", given.heading, "worst", "worst", COMMON + ": a boat may lie on any heading")
    if heading == "worst":
        return "worst", tuple(i * HEADING_STEP for i in range(int(360.0 / HEADING_STEP)))
    from heatsim.scenario.quantities import parse

    return "fixed", (parse(heading, "angle") % 360.0,)

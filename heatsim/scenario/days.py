"""The days to simulate: from the region's row, the sea's climatology, or the user's own values.

A marine place alone gives typical days; a hot or humid day there needs the user's own maximum or a stated correction
to the monthly mean, because a monthly mean says nothing of extremes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from heatsim.scenario.ledger import ASSUMED, Ledger
from heatsim.scenario.model import Scenario
from heatsim.scenario.place import berth_row
from heatsim.scenario.regions import find_region
from heatsim.scenario.resolved import Day, DayKind, Place, WeatherYear
from heatsim.scenario.surroundings import DayText

TYPICAL_CLEARNESS = 0.8
"""Clearness of a typical summer day at sea, assumed (0.6 to 1.0)."""
SEA_DAILY_RANGE = 5.0
"""[K] Daily range of air over a berth near the sea where nothing better is known, assumed (2 to 10 K)."""
READERS = {".epw": "epw", ".tm2": "tmy2", ".csv": "tmy3"}


@dataclass(frozen=True)
class Background:
    """What is known of a month and kind of day before the user says anything."""

    dry_bulb_max: float | None
    daily_range: float
    dew_point: float
    sea: float
    mean_wind: float
    source: str
    mean_air: float


def resolve_days(scenario: Scenario, place: Place, months: tuple[int, ...], ledger: Ledger) -> tuple[Day, ...]:
    """Days by kind, then month."""
    days: list[Day] = []
    for kind in _kinds(scenario):
        for month in months:
            day = _day(scenario, place, kind, month, ledger)
            if day is not None:
                days.append(day)
    return tuple(days)


def resolve_weather_year(scenario: Scenario, ledger: Ledger, folder: Path) -> WeatherYear | None:
    """The weather file, its path made absolute from the folder of the scenario."""
    given = scenario.climate
    if given.weather_file is None:
        return None
    path = (folder / given.weather_file).resolve()
    if not path.is_file():
        ledger.refuse(
            "climate.weather_file", "names a file that does not exist", str(given.weather_file), "Check the path"
        )
    reader = ledger.take(
        "climate.reader", given.reader, READERS.get(path.suffix.lower(), "epw"), "by the file's ending", "file ending"
    )
    shelter = float(berth_row(scenario)["shelter"])
    shelter = ledger.quantity("climate.shelter", given.shelter, shelter, "share", ASSUMED, 0.3, 1.0)
    return WeatherYear(str(path), reader, tuple(given.sea_by_month or ()), shelter)  # type: ignore[arg-type]


def _kinds(scenario: Scenario) -> tuple[DayKind, ...]:
    given = scenario.climate
    if given.days is not None:
        return tuple(given.days)
    if given.weather_file is not None:
        return ()
    if scenario.place.region is not None:
        return ("hot", "humid", "typical")
    own: tuple[DayKind, ...] = ("hot", "humid")
    known = [
        kind
        for kind in own
        if _text(scenario, kind).dry_bulb_max is not None or _text(scenario, kind).correction is not None
    ]
    return (*known, "typical")


def _text(scenario: Scenario, kind: DayKind) -> DayText:
    return {"hot": scenario.climate.hot, "humid": scenario.climate.humid, "typical": scenario.climate.typical}[kind]


def _day(scenario: Scenario, place: Place, kind: DayKind, month: int, ledger: Ledger) -> Day | None:
    given = _text(scenario, kind)
    path = f"climate.{kind}"
    back = _background(scenario, place, kind, month)
    top = back.dry_bulb_max
    if given.correction is not None:
        top = back.mean_air + given.correction
    elif given.dry_bulb_max is None and top is None:
        ledger.refuse(
            path,
            f"a {kind} day at a position needs your own maximum: the sea's climatology holds monthly means only",
            remedy=f"Add climate.{kind}.dry_bulb_max: 34 degC, or correction: 6 K (its error is about 2 K)",
        )
        return None
    source = back.source + (" + stated correction, error about 2 K" if given.correction is not None else "")
    top = given.dry_bulb_max if given.dry_bulb_max is not None else top
    assert top is not None
    if given.dry_bulb_max is None:
        top = ledger.quantity(f"{path}.dry_bulb_max", None, top, "temperature", source, top - 2, top + 2)
    swing = ledger.quantity(
        f"{path}.daily_range",
        given.daily_range,
        back.daily_range,
        "temperature difference",
        back.source,
        max(back.daily_range - 2, 0),
        back.daily_range + 2,
    )
    dew_default = min(back.dew_point, top)
    dew = ledger.quantity(
        f"{path}.dew_point",
        given.dew_point,
        dew_default,
        "temperature",
        back.source,
        dew_default - 2,
        min(dew_default + 2, top),
    )
    return Day(
        kind=kind,
        month=month,
        date=f"2025-{month:02d}-21",
        dry_bulb_max=top,
        daily_range=swing,
        dew_point=dew,
        wind=_wind(scenario, kind, given, back, ledger),
        sea=_sea(scenario, kind, given, back, ledger),
        turbidity=given.turbidity,
        clearness=_clearness(kind, given, ledger),
    )


def _clearness(kind: DayKind, given: DayText, ledger: Ledger) -> float:
    if kind != "typical":
        return given.clearness if given.clearness is not None else 1.0
    return ledger.quantity(
        "climate.typical.clearness",
        given.clearness,
        TYPICAL_CLEARNESS,
        "share",
        ASSUMED + ": fair summer day",
        0.6,
        1.0,
    )


def _wind(scenario: Scenario, kind: DayKind, given: DayText, back: Background, ledger: Ledger) -> float:
    """Wind at the boat: the berth's on design days, the open sea's times shelter on typical ones, her own under way."""
    row = berth_row(scenario)
    wind = float(row["design_wind_m_per_s"])
    low, high, source = wind / 2, wind * 2, row["source"]
    if kind == "typical":
        shelter = scenario.climate.shelter
        shelter = float(row["shelter"]) if shelter is None else shelter
        wind = back.mean_wind * shelter
        low, high, source = (
            wind / 2,
            wind * 1.5,
            f"{back.source}: mean wind {back.mean_wind:.1f} m/s × shelter {shelter:g}",
        )
    course = scenario.place.course
    if course is not None:
        wind = math.hypot(wind, course.speed)
        low, high, source = (
            wind / 2,
            wind * 1.5,
            "true wind and own speed at right angles on the average course, assumed",
        )
    return ledger.quantity(f"climate.{kind}.wind", given.wind, wind, "speed", source, low, high)


def _sea(scenario: Scenario, kind: DayKind, given: DayText, back: Background, ledger: Ledger) -> float:
    if given.sea is not None:
        return given.sea
    offset = float(berth_row(scenario)["marina_offset_K"])
    offset = ledger.quantity(
        "place.marina_offset",
        scenario.place.marina_offset,
        offset,
        "temperature difference",
        ASSUMED + " (0 to 3 K in basins)",
        0.0,
        offset + 1.5,
    )
    sea = back.sea + offset
    return ledger.quantity(
        f"climate.{kind}.sea", None, sea, "temperature", f"{back.source}, with the marina offset", sea - 1, sea + 1
    )


def _background(scenario: Scenario, place: Place, kind: DayKind, month: int) -> Background:
    region = find_region(scenario.place.region) if scenario.place.region else None
    if region is None:
        return _marine(place, kind, month)
    row = {key: float(region[month - 1][key]) for key in _COLUMNS}
    top = {"hot": row["design_db_C"], "humid": row["humid_db_C"], "typical": row["tmax_mean_C"]}[kind]
    dew = {
        "hot": row["design_dp_C"],
        "humid": row["humid_dp_C"],
        "typical": min(row["design_dp_C"], row["tmin_mean_C"]),
    }[kind]
    sea = row["sst_mean_C"] if kind == "typical" else row["sst_max_C"]
    mean = (row["tmax_mean_C"] + row["tmin_mean_C"]) / 2
    source = f"regions table, {region[0]['region']} month {month}"
    swing = row["tmax_mean_C"] - row["tmin_mean_C"]
    if kind == "humid":
        # The table's dry bulb is the mean that goes with the design dew point: the day swings about it, not below it,
        # no farther down than to saturation and no farther up than the hot day.
        swing = max(min(swing, 2.0 * (top - dew), 2.0 * (row["design_db_C"] - top)), 0.0)
        top, source = top + swing / 2.0, source + ": coincident dry bulb as the day's mean"
    return Background(top, swing, dew, sea, row["wind_mean_ms"], source, mean)


_COLUMNS = (
    "tmax_mean_C",
    "tmin_mean_C",
    "design_db_C",
    "design_dp_C",
    "humid_dp_C",
    "humid_db_C",
    "wind_mean_ms",
    "sst_mean_C",
    "sst_max_C",
)


def _marine(place: Place, kind: DayKind, month: int) -> Background:
    from heatsim.tables.marine import nearest

    cell = nearest(place.latitude, place.longitude)
    index = month - 1
    mean = float(cell.air[index])
    source = f"marine climatology, cell {cell.latitude:g}, {cell.longitude:g} ({cell.distance_km:.0f} km)"
    if cell.weak:
        source += ", few observations"
    top = mean + SEA_DAILY_RANGE / 2 if kind == "typical" else None
    dew, sea, wind = (float(column[index]) for column in (cell.dew_point, cell.sea, cell.wind))
    return Background(top, SEA_DAILY_RANGE, dew, sea, wind, source, mean)

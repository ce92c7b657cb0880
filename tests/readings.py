"""Surface temperatures that people have read off decks and topsides, and plain boxes that stand in the same state.

The readings are common practice, no source: a condition in words, an air temperature and a thermometer. What the words
leave open is assumed here once for each condition, never for a single reading: latitude, date, solar hour, wind, dew
point, sea. Absorptances are those of tables/colours.csv and tables/awnings.csv by name. White decks and roofs stand in
use and count as weathered white; a white house side as white; teak look as synthetic teak; yellow, which the table does
not hold, as cream; tan as sand.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from boxes import ALWAYS, plain_box, plain_day, plain_face, plain_place

from heatsim.climate.days import range_fraction
from heatsim.loads.simulate import simulate
from heatsim.scenario import resolved as r
from heatsim.tables.loader import by_name

DAILY_RANGE = 6.0
"""[K] Of a day at sea, assumed; the day's maximum is set so that the air has the stated temperature at the hour."""


@dataclass(frozen=True)
class State:
    """A condition as told, and what is assumed beside it. Hours are solar and name the hour that starts then."""

    told: str
    air: float
    latitude: float
    date: str
    hour: int
    wind: float
    dew_point: float
    sea: float

    @property
    def assumed(self) -> str:
        """The assumptions in words."""
        return (
            f"{self.latitude:g}° N, {self.date[5:]}, {self.hour} h solar, wind {self.wind:g} m/s, dew point "
            f"{self.dew_point:g} °C, sea {self.sea:g} °C"
        )


@dataclass(frozen=True)
class Reading:
    """A surface in a state, what was read [°C], and the face taken for it: kind, bearing, tilt, colour, awning."""

    state: State
    surface: str
    read: float
    kind: r.FaceKind
    colour: str
    bearing: float = 0.0
    tilt: float = 0.0
    awning: str | None = None
    lashed: bool = False
    """Whether the air beneath the awning stands still."""


# Wind is the engine's own for a berth (tables/berths.csv), but for which berth is not told: 2 m/s alongside everywhere
# makes tan and grey of the temperate noon 5 to 7 K too warm together, so that noon counts as one at a mooring, 4 m/s.
# Topsides and house sides of the temperate noon are the sunlit ones.
NOON = State("clear noon, 21 °C", 21.0, 40.0, "2025-05-21", 12, 4.0, 10.0, 16.0)
AFTERNOON = State("subtropics, late afternoon, 31 °C", 31.0, 26.0, "2025-07-21", 15, 2.0, 24.0, 29.0)
MORNING = State("the same, morning, 24 °C", 24.0, 26.0, "2025-07-21", 7, 2.0, 21.0, 29.0)
OVERHEAD = State("subtropics, July, overhead sun, 31 °C", 31.0, 26.0, "2025-07-21", 12, 2.0, 24.0, 32.0)
HOT = State("hot day, air not told (33 °C assumed)", 33.0, 26.0, "2025-07-21", 12, 2.0, 24.0, 30.0)

READINGS = (
    Reading(NOON, "dark green topside", 27.0, "hull", "green", 180.0, 90.0),
    Reading(NOON, "white cabin side", 21.0, "house", "white", 180.0, 90.0),
    Reading(NOON, "white roof", 31.0, "deck", "weathered white"),
    Reading(NOON, "tan roof", 31.0, "deck", "sand"),
    Reading(NOON, "yellow roof", 32.0, "deck", "cream"),
    Reading(NOON, "medium grey deck", 46.0, "deck", "medium grey"),
    Reading(AFTERNOON, "white deck", 43.0, "deck", "weathered white"),
    Reading(AFTERNOON, "teak-look deck", 53.0, "deck", "synthetic teak"),
    Reading(MORNING, "white deck", 26.0, "deck", "weathered white"),
    Reading(MORNING, "teak-look deck", 31.0, "deck", "synthetic teak"),
    Reading(OVERHEAD, "white deck", 47.0, "deck", "weathered white"),
    Reading(OVERHEAD, "white deck under a dark tarp", 40.0, "deck", "weathered white", awning="dark blue canvas"),
    Reading(OVERHEAD, "white deck under a white tarp", 40.0, "deck", "weathered white", awning="white canvas"),
    Reading(
        OVERHEAD, "white deck, white tarp lashed down", 40.0, "deck", "weathered white", 0.0, 0.0, "white canvas", True
    ),
    Reading(OVERHEAD, "white topside", 32.0, "hull", "white", 90.0, 90.0),
    Reading(HOT, "teak deck", 60.0, "deck", "teak"),
)


def surface_temperatures(wind: float | None = None) -> Iterator[tuple[Reading, float]]:
    """Every reading with the mean of the engine's outside surface over its hour [°C]; `wind` replaces the assumed."""
    for state in dict.fromkeys(reading.state for reading in READINGS):
        here = [reading for reading in READINGS if reading.state == state]
        yield from zip(here, _faces(state, here, state.wind if wind is None else wind), strict=True)


def _faces(state: State, readings: list[Reading], wind: float) -> list[float]:
    """One plain box with a face for each reading, held at 24 °C, alone on open sea."""
    top = state.air + DAILY_RANGE * float(range_fraction(np.array(state.hour + 0.5)))
    day = plain_day(
        date=state.date, month=int(state.date[5:7]), dry_bulb_max=top, daily_range=DAILY_RANGE,
        dew_point=state.dew_point, wind=wind, sea=state.sea,
    )  # fmt: skip
    place = plain_place(latitude=state.latitude, longitude=0.0, timezone="UTC")
    sole = plain_face("sole", "sole", 0.0, 180.0, 12.0, beyond=r.ADIABATIC)
    awnings = tuple(_awning(reading) for reading in readings if reading.awning)
    box = plain_box([sole, *map(_face, readings)], place=place, day=day, awnings=awnings)
    hour = simulate(box, causes=False)["face_temperature"].isel(day=0, heading=0, time=state.hour)
    return [float(hour.sel(face=reading.surface)) for reading in readings]


def _face(reading: Reading) -> r.Face:
    row = by_name("colours")[reading.colour]
    return plain_face(
        reading.surface, reading.kind, reading.bearing, reading.tilt, 4.0, absorptance=float(row["absorptance"]),
        emissivity=float(row["emissivity"]), awning=reading.surface if reading.awning else None,
    )  # fmt: skip


def _awning(reading: Reading) -> r.Awning:
    """The awning above one face, named like it."""
    assert reading.awning is not None
    row = by_name("awnings")[reading.awning]
    share, kept, emissivity = (float(row[key]) for key in ("transmittance", "absorptance", "emissivity"))
    return r.Awning(reading.surface, share, kept, emissivity, not reading.lashed, ALWAYS)

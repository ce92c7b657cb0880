"""Models of where the boat lies and what weather she meets."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from heatsim.scenario.fields import (
    AirTemperature,
    Altitude,
    Bearing,
    Difference,
    Elevation,
    Latitude,
    Longitude,
    Month,
    Part,
    PositiveShare,
    Range,
    SeaTemperature,
    Share,
    Speed,
    Text,
)
from heatsim.scenario.quantities import parse, refuse, text

Berth = Literal["alongside", "stern-to", "anchor", "mooring", "yard", "under way"]


POINTS = ("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW")
"""Points of the compass, clockwise from north."""


def compass_point(words: str) -> float | None:
    """Bearing of a point of the compass in words or letters (north, south-east, NNE), None for others. [deg]"""
    short = re.sub(r"north|east|south|west", lambda word: word[0][0], words.lower())
    letters = re.sub(r"[\s-]", "", short).upper()
    return 360.0 / len(POINTS) * POINTS.index(letters) if letters in POINTS else None


def _heading(value: str) -> str:
    point = compass_point(value)
    if point is not None:
        return text(point, "angle")
    if value != "worst" and not (re.match(r"\s*[-+.\d]", value) and 0 <= parse(value, "angle") <= 360):
        raise refuse(
            "must be worst, a true bearing of the bow between 0 deg and 360 deg, or a point of the compass",
            'Write for example "135 deg" or south-east',
        )
    return value


Heading = Annotated[str, AfterValidator(_heading)]


class ObstructionText(Part):
    """A quay, shed or neighbour boat between two bearings on the boat, from `first` clockwise to `last`."""

    first: Bearing
    """Bearing on the boat where it begins."""
    last: Bearing
    """Bearing on the boat where it ends, clockwise from the first."""
    elevation: Elevation
    """Height of its upper edge above the horizon, as an angle seen from the boat."""


class Swing(Part):
    """The arc of true headings of a swinging boat, from `first` clockwise to `last`."""

    first: Bearing
    """True heading at one end of the arc."""
    last: Bearing
    """True heading at the other end, clockwise from the first."""


class CourseSteered(Part):
    """A boat under way: true course and speed."""

    bearing: Bearing
    """True course."""
    speed: Speed
    """Speed over the ground."""


class PlaceText(Part):
    """A region of the table, or a position; the month; how she lies."""

    region: Text | None = None
    """Code or name of a region of the table, or a harbour in it, such as CYC (heatsim list regions)."""
    name: Text | None = None
    """What the place is called in results."""
    latitude: Latitude | None = None
    """Latitude, north positive."""
    longitude: Longitude | None = None
    """Longitude, east positive."""
    altitude: Altitude | None = None
    """Height above the sea, for lakes."""
    timezone: Text | None = None
    """Clock of the routines, such as Europe/Athens."""
    month: Month | None = None
    """Month to simulate, 1 to 12."""
    months: Annotated[list[Month], Field(min_length=1, max_length=12)] | None = None
    """Several months to simulate, such as [6, 7, 8]."""
    berth: Berth | None = None
    """How she lies: sets wind, shelter, foreground and warming of the basin."""
    heading: Heading | None = None
    """True bearing of the bow, such as 135 deg or south-east, or worst to try all round."""
    swing: Swing | None = None
    """Arc of headings of a boat at anchor or mooring."""
    course: CourseSteered | None = None
    """Course and speed of a boat under way."""
    marina_offset: Difference | None = None
    """How much warmer the basin is than the open sea."""
    ground_reflectance: Share | None = None
    """Solar reflectance of quay or yard."""
    obstructions: Annotated[list[ObstructionText], Field(max_length=72)] = Field(default_factory=list)
    """What hides the sky low down: quay, shed, neighbour boat."""

    @model_validator(mode="after")
    def _one_place(self) -> PlaceText:
        if (self.latitude is None) != (self.longitude is None):
            raise refuse("latitude and longitude go together", "Add the missing one")
        if self.region is None and self.latitude is None:
            raise refuse("a place needs a region, or latitude and longitude", "Add region: CYC (heatsim list regions)")
        if self.month is not None and self.months is not None:
            raise refuse("a place has a month or a list of months", "Keep one of them")
        if self.months is not None and len(set(self.months)) != len(self.months):
            raise refuse("a month stands twice in months")
        if sum(way is not None for way in (self.heading, self.swing, self.course)) > 1:
            raise refuse("a place has one of heading, swing and course", "Keep one of them")
        if self.course is not None and self.berth not in (None, "under way"):
            raise refuse("a course is steered under way only", "Write berth: under way")
        if self.berth == "under way" and self.course is None:
            raise refuse("a boat under way needs a course", "Add course: {bearing: 90 deg, speed: 10 kn}")
        return self


class DayText(Part):
    """What the user knows of one day; what is left out comes from the region or the sea's climatology."""

    dry_bulb_max: AirTemperature | None = None
    """Highest air temperature of the day."""
    correction: Difference | None = None
    """Added to the monthly mean to make the day's maximum, in place of dry_bulb_max."""
    daily_range: Range | None = None
    """Difference between the day's highest and lowest air temperature."""
    dew_point: AirTemperature | None = None
    """Dew point, held all day."""
    wind: Speed | None = None
    """Wind at the boat."""
    sea: SeaTemperature | None = None
    """Temperature of the water she lies in."""
    turbidity: Annotated[float, Field(ge=1, le=15)] | None = None
    """Linke turbidity of the clear sky, such as 4; from the map where not given."""
    clearness: PositiveShare | None = None
    """Share of the clear-sky beam that arrives."""

    @model_validator(mode="after")
    def _one_maximum(self) -> DayText:
        if self.dry_bulb_max is not None and self.correction is not None:
            raise refuse("a day has dry_bulb_max or a correction to the monthly mean, not both", "Keep dry_bulb_max")
        top = self.dry_bulb_max
        if top is not None and self.dew_point is not None and self.dew_point > top:
            raise refuse("the dew point may not lie above the day's highest dry bulb", "Check dew_point")
        return self


class ClimateText(Part):
    """The days to simulate and what is known of them, or a weather year."""

    days: Annotated[list[Literal["hot", "humid", "typical"]], Field(min_length=1, max_length=3)] | None = None
    """Kinds of day to simulate."""
    hot: DayText = Field(default_factory=DayText)
    """The hot design day: highest dry bulb."""
    humid: DayText = Field(default_factory=DayText)
    """The humid design day: highest dew point."""
    typical: DayText = Field(default_factory=DayText)
    """An average day of the month, for energy and hours."""
    weather_file: Text | None = None
    """File of hourly weather of a year; its path leads from the folder of this file."""
    reader: Literal["epw", "tmy3", "tmy2", "pvgis"] | None = None
    """Form of the weather file, where its ending does not tell."""
    sea_by_month: Annotated[list[SeaTemperature], Field(min_length=12, max_length=12)] | None = None
    """Sea temperature of the twelve months, for a weather year."""
    shelter: PositiveShare | None = None
    """Wind at the boat over wind at sea."""

    @model_validator(mode="after")
    def _once(self) -> ClimateText:
        if self.days is not None and len(set(self.days)) != len(self.days):
            raise refuse("a day stands twice in days")
        if self.weather_file is None and self.reader is not None:
            raise refuse("a reader needs a weather_file", "Add weather_file: FILE")
        return self

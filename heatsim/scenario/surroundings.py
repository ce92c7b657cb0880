"""Models of where the boat lies and what weather she meets."""

from __future__ import annotations

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
from heatsim.scenario.quantities import parse, refuse

Berth = Literal["alongside", "stern-to", "anchor", "mooring", "yard", "under way"]


def _heading(value: str) -> str:
    if value != "worst" and not 0 <= parse(value, "angle") <= 360:
        raise refuse(
            "must be worst, or a true bearing of the bow between 0 deg and 360 deg", 'Write for example "135 deg"'
        )
    return value


Heading = Annotated[str, AfterValidator(_heading)]


class ObstructionText(Part):
    """A quay, shed or neighbour boat between two bearings on the boat, from `first` clockwise to `last`."""

    first: Bearing
    last: Bearing
    elevation: Elevation


class Swing(Part):
    """The arc of true headings of a swinging boat, from `first` clockwise to `last`."""

    first: Bearing
    last: Bearing


class CourseSteered(Part):
    """A boat under way: true course and speed."""

    bearing: Bearing
    speed: Speed


class PlaceText(Part):
    """A region of the table, or a position; the month; how she lies."""

    region: Text | None = None
    name: Text | None = None
    latitude: Latitude | None = None
    longitude: Longitude | None = None
    altitude: Altitude | None = None
    timezone: Text | None = None
    month: Month | None = None
    months: Annotated[list[Month], Field(min_length=1, max_length=12)] | None = None
    berth: Berth | None = None
    heading: Heading | None = None
    swing: Swing | None = None
    course: CourseSteered | None = None
    marina_offset: Difference | None = None
    ground_reflectance: Share | None = None
    obstructions: Annotated[list[ObstructionText], Field(max_length=72)] = Field(default_factory=list)

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
    correction: Difference | None = None
    daily_range: Range | None = None
    dew_point: AirTemperature | None = None
    wind: Speed | None = None
    sea: SeaTemperature | None = None
    turbidity: Annotated[float, Field(ge=1, le=15)] | None = None
    clearness: PositiveShare | None = None

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
    hot: DayText = Field(default_factory=DayText)
    humid: DayText = Field(default_factory=DayText)
    typical: DayText = Field(default_factory=DayText)
    weather_file: Text | None = None
    reader: Literal["epw", "tmy3", "tmy2", "pvgis"] | None = None
    sea_by_month: Annotated[list[SeaTemperature], Field(min_length=12, max_length=12)] | None = None
    shelter: PositiveShare | None = None

    @model_validator(mode="after")
    def _once(self) -> ClimateText:
        if self.days is not None and len(set(self.days)) != len(self.days):
            raise refuse("a day stands twice in days")
        if self.weather_file is None and self.reader is not None:
            raise refuse("a reader needs a weather_file", "Add weather_file: FILE")
        return self

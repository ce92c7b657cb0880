"""The model of the whole scenario file."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from heatsim.scenario.construction import AwningText, GlazingText, LayUpText
from heatsim.scenario.courses import Course, CourseText
from heatsim.scenario.fields import Length, Name, Part, Text
from heatsim.scenario.rooms import FlowText, OpeningText, SpaceText, ZoneText
from heatsim.scenario.supply import Equipment, Report, Supply
from heatsim.scenario.surroundings import ClimateText, PlaceText

RoutineText = Annotated[CourseText, Course(named=False)]
Material = Literal["cored GRP", "solid GRP", "aluminium", "steel", "timber"]


class Yacht(Part):
    """The boat as a whole: what is not said of a zone or face follows from here."""

    name: Text
    length: Length
    kind: Literal["motor", "sail", "multihull"] = "motor"
    beam: Length | None = None
    persons: Annotated[int, Field(ge=0, le=500)] | None = None
    material: Material | None = None
    hull_colour: Text | None = None
    house_colour: Text | None = None
    deck_colour: Text | None = None
    glazing: Text | None = None


class Scenario(Part):
    """One boat in one place: the content of a scenario file.

    Built in Python with the same texts as a file: `Scenario.model_validate({"format": 1, ...})`.
    """

    format: Literal[1]
    yacht: Yacht
    place: PlaceText
    climate: ClimateText = Field(default_factory=ClimateText)
    lay_ups: dict[Name, LayUpText] = Field(default_factory=dict)
    glazings: dict[Name, GlazingText] = Field(default_factory=dict)
    awnings: dict[Name, AwningText] = Field(default_factory=dict)
    routines: dict[Name, RoutineText] = Field(default_factory=dict)
    zones: Annotated[dict[Name, ZoneText], Field(min_length=1)]
    spaces: dict[Name, SpaceText] = Field(default_factory=dict)
    flows: Annotated[list[FlowText], Field(max_length=500)] = Field(default_factory=list)
    openings: Annotated[list[OpeningText], Field(max_length=500)] = Field(default_factory=list)
    supply: Supply = Field(default_factory=Supply)
    equipment: Equipment = Field(default_factory=Equipment)
    report: Report = Field(default_factory=Report)

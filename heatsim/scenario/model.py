"""The model of the whole scenario file."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, PrivateAttr

from heatsim.scenario.construction import AwningText, GlazingText, LayUpText
from heatsim.scenario.courses import Course, CourseText
from heatsim.scenario.fields import Length, Name, Part, Text
from heatsim.scenario.origin import Origin
from heatsim.scenario.power import Supply
from heatsim.scenario.resolved import HOUR_BY_HOUR, Basis
from heatsim.scenario.rooms import FlowText, OpeningText, SpaceText, ZoneText
from heatsim.scenario.services import Services
from heatsim.scenario.supply import Equipment, Report
from heatsim.scenario.surroundings import ClimateText, PlaceText

RoutineText = Annotated[CourseText, Course(named=False)]
Material = Literal["cored GRP", "solid GRP", "aluminium", "steel", "timber"]


class Yacht(Part):
    """The boat as a whole: what is not said of a zone or face follows from here."""

    name: Text
    """What she is called, in results and pictures."""
    length: Length
    """Length over all."""
    kind: Literal["motor", "sail", "multihull"] = "motor"
    """Kind of boat, for what is not said otherwise."""
    beam: Length | None = None
    """Largest beam."""
    persons: Annotated[int, Field(ge=0, le=500)] | None = None
    """Persons aboard, such as 8; zones without `people` share those whom zones with `people` leave over."""
    material: Material | None = None
    """What shell and decks are built of: chooses the lay-ups of faces that name none."""
    hull_colour: Text | None = None
    """Colour of the topsides where a face names none, such as dark blue."""
    house_colour: Text | None = None
    """Colour of the superstructure's sides where a face names none, such as white."""
    deck_colour: Text | None = None
    """Colour of weather decks and coachroofs where a face names none, such as teak."""
    glazing: Text | None = None
    """Glazing of glass that names none, of the table or of this file (heatsim list glazings)."""


class Scenario(Part):
    """One boat in one place: the content of a scenario file.

    Built in Python with the same texts as a file: `Scenario.model_validate({"format": 1, ...})`.
    """

    format: Literal[1]
    """Version of the file format: 1."""
    basis: Basis = HOUR_BY_HOUR
    """How loads are found: hour by hour, or steady by the ship standard's coefficients or its formula for layers."""
    yacht: Yacht
    """The boat as a whole."""
    place: PlaceText
    """Where she lies, in which months, and how."""
    climate: ClimateText = Field(default_factory=ClimateText)
    """The days to simulate, or a weather year."""
    lay_ups: dict[Name, LayUpText] = Field(default_factory=dict)
    """Lay-ups of this file by name."""
    glazings: dict[Name, GlazingText] = Field(default_factory=dict)
    """Glazings of this file by name."""
    awnings: dict[Name, AwningText] = Field(default_factory=dict)
    """Awnings, covers and biminis by name."""
    routines: dict[Name, RoutineText] = Field(default_factory=dict)
    """Courses over the clock day by name, shares from 0 to 1."""
    zones: Annotated[dict[Name, ZoneText], Field(min_length=1)]
    """Air spaces that people use, by name."""
    spaces: dict[Name, SpaceText] = Field(default_factory=dict)
    """Neighbours that nobody cools, such as engine space and bilge, by name."""
    flows: Annotated[list[FlowText], Field(max_length=500)] = Field(default_factory=list)
    """Air moved on purpose, each stream listed once."""
    openings: Annotated[list[OpeningText], Field(max_length=500)] = Field(default_factory=list)
    """Doors, hatches and stairs, each listed once."""
    supply: Supply = Field(default_factory=Supply)
    """Power aboard."""
    equipment: Equipment = Field(default_factory=Equipment)
    """What is fitted already and what a choice must respect."""
    services: Services = Field(default_factory=Services)
    """Ducts, grilles, intakes, pipes and drains as fitted or drawn."""
    report: Report = Field(default_factory=Report)
    """How results are written."""
    _origin: Origin | None = PrivateAttr(default=None)

    @property
    def origin(self) -> Origin | None:
        """Where it was read; None where it was built in Python."""
        return self._origin

    def read_from(self, origin: Origin) -> None:
        """Remember where it was read."""
        self._origin = origin

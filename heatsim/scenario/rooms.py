"""Models of zones and spaces, and of the air that moves between them."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from heatsim.scenario.faces import FaceText, Side
from heatsim.scenario.fields import (
    AirChanges,
    AirFlow,
    Area,
    CapacityPerArea,
    Count,
    GlassArea,
    HumidityLimit,
    Length,
    MoistureRate,
    Name,
    Part,
    Power,
    PowerPerArea,
    SetpointCourse,
    Share,
    ShareCourse,
    TemperatureCourse,
    Text,
    Volume,
)
from heatsim.scenario.outlines import OutlineText
from heatsim.scenario.quantities import refuse, text

DeckLevel = Literal["lower", "main", "upper", "bridge"]
UNDERFOOT = ("bilge", "tank")
"""Uses of spaces that lie below what a plan of the deck shows."""


class PeopleText(Part):
    """Persons of one activity."""

    count: Count
    """Persons when the routine stands at 1, such as 4."""
    activity: Text = "seated at rest"
    """What they do, such as asleep (heatsim list activities)."""
    routine: ShareCourse | None = None
    """When they are there: a routine, or shares by hours."""


class LightsText(Part):
    """Lights, in all or per area of sole."""

    power: Power | None = None
    """Power of all lights."""
    power_per_area: PowerPerArea | None = None
    """Power per area of sole."""
    routine: ShareCourse | None = None
    """When they burn: a routine, or shares by hours."""
    radiant_share: Share | None = None
    """Share of the heat that leaves as radiation."""

    @model_validator(mode="after")
    def _one(self) -> LightsText:
        if (self.power is None) == (self.power_per_area is None):
            raise refuse("lights have either power or power_per_area", "Give power: 200 W")
        return self


class EquipmentText(Part):
    """One item that gives off heat, and the share of its heat that leaves as vapour."""

    name: Name
    """What it is, such as refrigerator."""
    power: Power
    """Heat it gives off when the routine stands at 1."""
    routine: ShareCourse | None = None
    """When it runs: a routine, or shares by hours."""
    radiant_share: Share | None = None
    """Share of the heat that leaves as radiation."""
    latent_share: Share | None = None
    """Share of the heat that leaves as vapour."""

    @model_validator(mode="after")
    def _whole(self) -> EquipmentText:
        if (self.radiant_share or 0) + (self.latent_share or 0) > 1:
            raise refuse("radiant and latent shares may not add up to more than 1")
        return self


class MoistureText(Part):
    """A source of water vapour: a shower, a wet bilge, a galley."""

    name: Name
    """What it is, such as shower."""
    rate: MoistureRate
    """Water vapour given off when the routine stands at 1."""
    routine: ShareCourse | None = None
    """When: a routine, or shares by hours."""


def _no_sides(given: object) -> object:
    if isinstance(given, str) and given != "none":
        raise refuse("must be a list of sides, or none", "Write for example [port, stern]")
    return [] if given == "none" else given


Sides = Annotated[
    list[Side],
    Field(max_length=4),
    BeforeValidator(_no_sides, json_schema_input_type=list[Side] | Literal["none"]),
]


class QuickText(Part):
    """A zone by its box, for the first hour of a project; it expands to faces, each default named.

    A room with an outline needs neither length nor beam: its sole, sides and neighbours then follow from the outlines.
    `sides` are the sides of the box that face the weather (or, below, the hull); `above` and `below` name the zone or
    space there, where it is not the weather, a bilge of the zone's own, or nothing that matters (adiabatic).
    """

    deck: DeckLevel
    """Deck level of the box."""
    length: Length | None = None
    """Length of the box, fore and aft; without length and beam the room is as its outline draws it."""
    beam: Length | None = None
    """Width of the box, athwart."""
    height: Length
    """Headroom."""
    glass_share: Share | None = None
    """Glass over the area of the sides that face the weather."""
    glass_area: GlassArea | None = None
    """Glass of these sides together in place of its share: an area, or panes, such as 2 x 1.1 x 0.5 m."""
    sides: Sides | None = None
    """Sides of the box that face the weather or, below, the hull; none for an inner room."""
    above: Text | None = None
    """Zone or space above it, where that is not the weather."""
    below: Text | None = None
    """Zone or space below it; outdoors for a bridge deck between two hulls."""
    side_lay_up: Text | None = None
    """Lay-up of its sides."""
    deck_lay_up: Text | None = None
    """Lay-up of its overhead."""
    sole_lay_up: Text | None = None
    """Lay-up of its sole."""
    bottom_lay_up: Text | None = None
    """Lay-up of the wetted hull beside it."""
    glazing: Text | None = None
    """Glazing of its glass."""
    film: Text | None = None
    """Sun film on its glass, such as silver film. On tinted, laminated or sealed glass ask its maker first."""
    side_colour: Text | None = None
    """Colour of its sides, such as white."""
    deck_colour: Text | None = None
    """Colour of its overhead, such as teak."""
    above_water: Share | None = None
    """Share of its sides that stands above the water."""
    awning: Text | None = None
    """Name of the awning above it."""

    @property
    def floor(self) -> float | None:
        """Sole of the box, None where an outline draws it. [m²]"""
        return None if self.length is None or self.beam is None else self.length * self.beam

    @model_validator(mode="after")
    def _one_amount_of_glass(self) -> QuickText:
        if (self.length is None) != (self.beam is None):
            raise refuse("a box has a length and a beam", "Add the other, or leave both to an outline")
        if self.glass_area is not None and self.glass_share is not None:
            raise refuse("glass is given by its share or by its area, not both", "Keep one of them")
        if self.glass_area is not None and self.sides == []:
            raise refuse("a room without outside sides has no glass in them", "Name its sides, or give no glass_area")
        return self


class SunShares(Part):
    """Where sun that passed the glass lands: on the sole, on furnishings, and by area on the other inside skins."""

    sole: Share
    """Share of the sun in the zone that falls on the sole."""
    furnishings: Share
    """Share of the sun in the zone that falls on furnishings."""

    @model_validator(mode="after")
    def _whole(self) -> SunShares:
        if self.sole + self.furnishings > 1 + 1e-9:
            raise refuse("the shares of sole and furnishings may not add up to more than 1")
        return self


class _Room(Part):
    """What zones and spaces share: size, faces, gains and outside air."""

    deck: DeckLevel | None = None
    """Deck level."""
    floor_area: Area | None = None
    """Area of the sole."""
    height: Length | None = None
    """Headroom."""
    volume: Volume | None = None
    """Volume of air, where it is not sole times height."""
    outline: OutlineText | None = None
    """The room seen from above: floor area where none is given, the plan view, and sides and neighbours of a quick room
    that has no length and beam."""
    faces: Annotated[list[FaceText], Field(max_length=200)] = Field(default_factory=list)
    """The planes that bound it, one entry each."""
    lights: LightsText | None = None
    """Lights."""
    equipment: Annotated[list[EquipmentText], Field(max_length=100)] | None = None
    """Items that give off heat."""
    moisture: Annotated[list[MoistureText], Field(max_length=100)] = Field(default_factory=list)
    """Sources of water vapour."""
    infiltration: AirChanges | None = None
    """Air that leaks in."""
    furnishing_capacity: CapacityPerArea | None = None
    """Heat that joinery and loose goods hold, per area of sole."""
    moisture_factor: Annotated[float, Field(ge=1, le=100)] | None = None
    """Water that joinery and loose goods hold, over that of the air, such as 10."""
    air_capacity_factor: Annotated[float, Field(ge=0, le=10)] = 1.0
    """Multiplies the heat the air holds; 1 as it is, 0 for none."""

    @property
    def sole_area(self) -> float | None:
        """Area of the sole as given, or as its outline encloses. [m²]"""
        return self.outline.area if self.floor_area is None and self.outline is not None else self.floor_area

    @model_validator(mode="after")
    def _one_floor(self) -> _Room:
        if self.outline is not None and self.floor_area is not None and not self.outline.agrees(self.floor_area):
            raise _other_area(self.outline, self.floor_area, "floor_area")
        return self

    def box_alone(self, quick: QuickText) -> None:
        """Refuse a second size beside that of a box."""
        if self.floor_area is not None or self.height is not None or self.deck is not None:
            raise refuse("a quick room has its size and deck under quick", "Remove floor_area, height and deck")
        floor = quick.floor
        if floor is None and self.outline is None:
            raise refuse("a quick room needs length and beam, or an outline beside quick", "Add them")
        if floor is not None and self.outline is not None and not self.outline.agrees(floor):
            raise _other_area(self.outline, floor, "length times beam")


def _other_area(outline: OutlineText, floor: float, key: str) -> PydanticCustomError:
    found, stated = text(round(outline.area, 2), "area"), text(round(floor, 2), "area")
    return refuse(
        f"the outline encloses {found}, {key} says {stated}: more than 10 % apart",
        "Correct one of them, or leave one out",
    )


class ZoneText(_Room):
    """A zone that is to be cooled or heated, face by face or quick."""

    use: Text = "cabin"
    """What the zone is for: fills in persons, lights, equipment and setpoints, such as saloon."""
    quick: QuickText | None = None
    """The zone by its box, in place of faces."""
    conditioned: bool = True
    """Whether it is cooled and heated."""
    setpoint: SetpointCourse | None = None
    """Temperature that cooling holds; by hours if wanted."""
    heating_setpoint: SetpointCourse | None = None
    """Temperature that heating holds; by hours if wanted."""
    controlled: Literal["air", "operative"] | None = None
    """Whether the setpoint is of the air or of air and surfaces together."""
    cooling: ShareCourse | None = None
    """When cooling may run: a routine, or hours."""
    heating: ShareCourse | None = None
    """When heating may run: a routine, or hours."""
    cooling_limit: Power | None = None
    """Most sensible cooling there is."""
    heating_limit: Power | None = None
    """Most heating there is."""
    humidity_limit: HumidityLimit | None = None
    """Relative humidity that is held, or none."""
    dehumidifying_limit: Power | None = None
    """Most latent cooling there is."""
    fan: ShareCourse | None = None
    """When the unit's fan stirs the air: a routine, or hours."""
    people: Annotated[list[PeopleText], Field(max_length=50)] | None = None
    """Persons by activity."""
    fresh_air: AirFlow | None = None
    """Outdoor air supplied on purpose."""
    sun_shares: SunShares | None = None
    """Where sunlight lands that passed the glass."""

    @model_validator(mode="after")
    def _size(self) -> ZoneText:
        if self.quick is None:
            if not self.faces:
                raise refuse("a zone needs faces, or quick", "Add faces: with one entry for each plane, or quick:")
            if self.sole_area is None or (self.height is None and self.volume is None):
                raise refuse("a zone with faces needs floor_area, and height or volume", "Add them")
        else:
            self.box_alone(self.quick)
        return self


class SpaceText(_Room):
    """A neighbour that nobody cools (engine space, bilge, tank): simulated, or at a given temperature."""

    use: Text = "locker"
    """What the space is for, such as engine space: fills in equipment and leaks."""
    quick: QuickText | None = None
    """The space by its box, in place of faces."""
    temperature: TemperatureCourse | None = None
    """Its temperature, by hours if wanted, in place of simulating it."""

    @model_validator(mode="after")
    def _size(self) -> SpaceText:
        if self.quick is not None:
            self.box_alone(self.quick)
            return self
        if self.temperature is None and (self.sole_area is None or (self.height is None and self.volume is None)):
            raise refuse(
                "a simulated space needs floor_area, and height or volume", "Add them, or give temperature: 45 degC"
            )
        return self


def guessed_deck(room: ZoneText | SpaceText) -> DeckLevel:
    """Deck of a room that states none: main where it has house sides, else lower."""
    return "main" if any(face.kind == "house" for face in room.faces) else "lower"


def deck_of(room: ZoneText | SpaceText) -> DeckLevel:
    """Deck level of a room."""
    return room.quick.deck if room.quick is not None else room.deck or guessed_deck(room)


class FlowText(Part):
    """Air moved on purpose, listed once: from a zone to another, or out (`to: outdoors` is an extract)."""

    name: Name | None = None
    """What the stream is called."""
    source: Text
    """Zone or space it leaves, or outdoors."""
    target: Text
    """Zone or space it enters, or outdoors."""
    rate: AirFlow
    """Air moved when the routine stands at 1."""
    routine: ShareCourse | None = None
    """When it runs: a routine, or shares by hours."""

    @model_validator(mode="after")
    def _two_ends(self) -> FlowText:
        if self.source == self.target:
            raise refuse("a flow needs two different ends")
        return self


class OpeningText(Part):
    """A door, hatch or stair between two zones, or from a zone to outdoors: its size and how long it stands open."""

    kind: Literal["door", "hatch", "stair"]
    """door: upright; hatch and stair: level."""
    name: Name | None = None
    """What it is called."""
    first: Text
    """Zone or space on one side."""
    second: Text
    """Zone or space on the other side, or outdoors."""
    width: Length
    """Clear width."""
    height: Length | None = None
    """Clear height of a door."""
    length: Length | None = None
    """Clear length of a hatch or stair."""
    open: ShareCourse
    """Share of each hour it stands open: a routine, a share, or shares by hours."""
    wind_coefficient: Share | None = None
    """Share of the wind's speed that blows through an opening to outdoors."""

    @model_validator(mode="after")
    def _shape(self) -> OpeningText:
        if self.first == self.second:
            raise refuse("an opening needs two different ends")
        if (self.kind == "door") != (self.height is not None) or (self.kind == "door") == (self.length is not None):
            raise refuse("a door has width and height; a hatch or stair has width and length", "Give these two sizes")
        return self

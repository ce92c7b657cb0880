"""Models of zones and spaces, and of the air that moves between them."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from heatsim.scenario.faces import FaceText, Side
from heatsim.scenario.fields import (
    AirChanges,
    AirFlow,
    Area,
    CapacityPerArea,
    Count,
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
from heatsim.scenario.quantities import refuse

DeckLevel = Literal["lower", "main", "upper", "bridge"]


class PeopleText(Part):
    """Persons of one activity."""

    count: Count
    activity: Text = "seated at rest"
    routine: ShareCourse | None = None


class LightsText(Part):
    """Lights, in all or per area of sole."""

    power: Power | None = None
    power_per_area: PowerPerArea | None = None
    routine: ShareCourse | None = None
    radiant_share: Share | None = None

    @model_validator(mode="after")
    def _one(self) -> LightsText:
        if (self.power is None) == (self.power_per_area is None):
            raise refuse("lights have either power or power_per_area", "Give power: 200 W")
        return self


class EquipmentText(Part):
    """One item that gives off heat, and the share of its heat that leaves as vapour."""

    name: Name
    power: Power
    routine: ShareCourse | None = None
    radiant_share: Share | None = None
    latent_share: Share | None = None

    @model_validator(mode="after")
    def _whole(self) -> EquipmentText:
        if (self.radiant_share or 0) + (self.latent_share or 0) > 1:
            raise refuse("radiant and latent shares may not add up to more than 1")
        return self


class MoistureText(Part):
    """A source of water vapour: a shower, a wet bilge, a galley."""

    name: Name
    rate: MoistureRate
    routine: ShareCourse | None = None


class QuickText(Part):
    """A zone by its box, for the first hour of a project; it expands to faces, each default named.

    `sides` are the sides of the box that face the weather (or, below, the hull); `above` and `below` name the zone or
    space there, where it is not the weather, a bilge of the zone's own, or nothing that matters (adiabatic).
    """

    deck: DeckLevel
    length: Length
    beam: Length
    height: Length
    glass_share: Share | None = None
    sides: Annotated[list[Side], Field(max_length=4)] | None = None
    above: Text | None = None
    below: Text | None = None
    side_lay_up: Text | None = None
    deck_lay_up: Text | None = None
    sole_lay_up: Text | None = None
    bottom_lay_up: Text | None = None
    glazing: Text | None = None
    side_colour: Text | None = None
    deck_colour: Text | None = None
    above_water: Share | None = None
    awning: Text | None = None


class SunShares(Part):
    """Where sun that passed the glass lands: on the sole, on furnishings, and by area on the other inside skins."""

    sole: Share
    furnishings: Share

    @model_validator(mode="after")
    def _whole(self) -> SunShares:
        if self.sole + self.furnishings > 1 + 1e-9:
            raise refuse("the shares of sole and furnishings may not add up to more than 1")
        return self


class _Room(Part):
    """What zones and spaces share: size, faces, gains and outside air."""

    deck: DeckLevel | None = None
    floor_area: Area | None = None
    height: Length | None = None
    volume: Volume | None = None
    faces: Annotated[list[FaceText], Field(max_length=200)] = Field(default_factory=list)
    lights: LightsText | None = None
    equipment: Annotated[list[EquipmentText], Field(max_length=100)] | None = None
    moisture: Annotated[list[MoistureText], Field(max_length=100)] = Field(default_factory=list)
    infiltration: AirChanges | None = None
    furnishing_capacity: CapacityPerArea | None = None
    moisture_factor: Annotated[float, Field(ge=1, le=100)] | None = None
    air_capacity_factor: Annotated[float, Field(ge=0, le=10)] = 1.0


class ZoneText(_Room):
    """A zone that is to be cooled or heated, face by face or quick."""

    use: Text = "cabin"
    quick: QuickText | None = None
    conditioned: bool = True
    setpoint: SetpointCourse | None = None
    heating_setpoint: SetpointCourse | None = None
    controlled: Literal["air", "operative"] | None = None
    cooling: ShareCourse | None = None
    heating: ShareCourse | None = None
    cooling_limit: Power | None = None
    heating_limit: Power | None = None
    humidity_limit: HumidityLimit | None = None
    dehumidifying_limit: Power | None = None
    fan: ShareCourse | None = None
    people: Annotated[list[PeopleText], Field(max_length=50)] | None = None
    fresh_air: AirFlow | None = None
    sun_shares: SunShares | None = None

    @model_validator(mode="after")
    def _size(self) -> ZoneText:
        if self.quick is None:
            if not self.faces:
                raise refuse("a zone needs faces, or quick", "Add faces: with one entry for each plane, or quick:")
            if self.floor_area is None or (self.height is None and self.volume is None):
                raise refuse("a zone with faces needs floor_area, and height or volume", "Add them")
        elif self.floor_area is not None or self.height is not None or self.deck is not None:
            raise refuse("a quick zone has its size and deck under quick", "Remove floor_area, height and deck")
        return self


class SpaceText(_Room):
    """A neighbour that nobody cools (engine space, bilge, tank): simulated, or at a given temperature."""

    use: Text = "locker"
    temperature: TemperatureCourse | None = None

    @model_validator(mode="after")
    def _size(self) -> SpaceText:
        if self.temperature is None and (self.floor_area is None or (self.height is None and self.volume is None)):
            raise refuse(
                "a simulated space needs floor_area, and height or volume", "Add them, or give temperature: 45 degC"
            )
        return self


class FlowText(Part):
    """Air moved on purpose, listed once: from a zone to another, or out (`to: outdoors` is an extract)."""

    name: Name | None = None
    source: Text
    target: Text
    rate: AirFlow
    routine: ShareCourse | None = None

    @model_validator(mode="after")
    def _two_ends(self) -> FlowText:
        if self.source == self.target:
            raise refuse("a flow needs two different ends")
        return self


class OpeningText(Part):
    """A door, hatch or stair between two zones, or from a zone to outdoors: its size and how long it stands open."""

    kind: Literal["door", "hatch", "stair"]
    name: Name | None = None
    first: Text
    second: Text
    width: Length
    height: Length | None = None
    length: Length | None = None
    open: ShareCourse
    wind_coefficient: Share | None = None

    @model_validator(mode="after")
    def _shape(self) -> OpeningText:
        if self.first == self.second:
            raise refuse("an opening needs two different ends")
        if (self.kind == "door") != (self.height is not None) or (self.kind == "door") == (self.length is not None):
            raise refuse("a door has width and height; a hatch or stair has width and length", "Give these two sizes")
        return self

"""Models of the equipment fitted and how the report is written; power aboard is in `power`."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from heatsim.scenario.fields import (
    AirFlow,
    AirTemperature,
    ClockHour,
    Frequency,
    Length,
    Name,
    Part,
    PositiveShare,
    Power,
    SeaTemperature,
    Share,
    SoundLevel,
    Text,
    Voltage,
)
from heatsim.scenario.quantities import Quantity, refuse


class ExistingUnit(Part):
    """A unit already fitted and the zones it serves."""

    name: Name
    """What the unit is called aboard."""
    zones: Annotated[list[Text], Field(min_length=1)]
    """Names of the zones it serves."""
    capacity: Power
    """Cooling capacity, sensible and latent, on its plate."""
    model: Text | None = None
    """Its model, where the catalogue has it."""
    air_flow: PositiveShare = 1.0
    """Air it is found to move over its rated flow: filter, grille and ducts as they are."""


MeasuredCurrent = Annotated[float, Quantity("current", least=0, most=5000)]
DischargeTemperature = Annotated[float, Quantity("temperature", least=-2, most=70)]


class Reading(Part):
    """Spot readings of one fitted unit, taken together while its thermostat calls for cooling."""

    unit: Text
    """Name of the unit, as under existing."""
    entering_air: AirTemperature
    """Air that enters it, at its return grille."""
    sea_in: SeaTemperature
    """Sea water that enters it."""
    entering_wet_bulb: AirTemperature | None = None
    """Wet bulb of the air that enters."""
    entering_humidity: PositiveShare | None = None
    """Relative humidity of the air that enters, where there is no wet bulb."""
    leaving_air: AirTemperature | None = None
    """Air that leaves it, at its nearest supply grille."""
    leaving_wet_bulb: AirTemperature | None = None
    """Wet bulb of the air that leaves."""
    sea_out: DischargeTemperature | None = None
    """Sea water that leaves it."""
    water_flow: AirFlow | None = None
    """Sea water through it, by bucket and watch."""
    air_flow: AirFlow | None = None
    """Air through all its grilles together."""
    current: MeasuredCurrent | None = None
    """Current it draws, without the sea water pump; 0 A where it stands."""
    voltage: Voltage | None = None
    """Voltage at its own terminals while it runs."""
    frequency: Frequency | None = None
    """Frequency there."""
    run_share: Share | None = None
    """Share of the last hour that its compressor ran."""
    setpoint: AirTemperature | None = None
    """What its thermostat is set to; the setpoint of its zones where not given."""
    at: Text | None = None
    """When, and in what weather, for the record."""

    @model_validator(mode="after")
    def _possible(self) -> Reading:
        if self.entering_wet_bulb is not None and self.entering_wet_bulb > self.entering_air:
            raise refuse("the wet bulb may not lie above the dry bulb", "Check entering_wet_bulb")
        if None not in (self.leaving_wet_bulb, self.leaving_air) and self.leaving_wet_bulb > self.leaving_air:  # type: ignore[operator]
            raise refuse("the wet bulb may not lie above the dry bulb", "Check leaving_wet_bulb")
        if self.entering_wet_bulb is not None and self.entering_humidity is not None:
            raise refuse("the humidity of the entering air is given twice", "Keep entering_wet_bulb, or the humidity")
        if all(getattr(self, name) is None for name in TELLING):
            raise refuse(
                "nothing is given that could tell what is wrong", "Add leaving_air, sea_out, water_flow or current"
            )
        return self


TELLING = ("leaving_air", "leaving_wet_bulb", "sea_out", "water_flow", "air_flow", "current", "voltage", "frequency",
           "run_share")  # fmt: skip
"""Readings that depend on what is wrong with a unit."""


class Margins(Part):
    """What is added to the loads, each once and for its own reason; they are summed up in one line."""

    weather: Share = 0.0
    """For weather beyond the design day."""
    load: Share = 0.0
    """For what is not known of the boat."""
    capacity: Share = 0.0
    """For units that do less than their sheet."""
    growth: Share = 0.0
    """For what will be added."""


DriftLimit = Annotated[float, Quantity("temperature difference", above=0, most=30)]


class LargestSize(Part):
    """The largest unit that fits where units may stand, longest side first."""

    length: Length
    """Longest side."""
    width: Length
    """Second side."""
    height: Length
    """Height as it stands."""


class DayAndNightText(Part):
    """Rooms that one unit may serve in turn, its dampers changing over at two hours of the clock."""

    day: Annotated[list[Text], Field(min_length=1)]
    """Rooms it serves by day."""
    night: Annotated[list[Text], Field(min_length=1)]
    """Rooms it serves by night."""
    night_begins: ClockHour = 21
    """Hour of the clock at which it turns to the rooms of the night."""
    night_ends: ClockHour = 8
    """Hour of the clock at which it turns back."""

    @model_validator(mode="after")
    def _two_times(self) -> DayAndNightText:
        if self.night_begins == self.night_ends:
            raise refuse("night must begin and end at different hours", "Change night_begins or night_ends")
        return self


class Equipment(Part):
    """Catalogue file, units already fitted and what the choice must respect."""

    catalogue: Text | None = None
    """File of units to choose from; its path leads from the folder of this file."""
    accept_unrated: Share | None = None
    """Take units without rating conditions, with this share off their capacity."""
    existing: list[ExistingUnit] = Field(default_factory=list)
    """Units fitted already."""
    readings: Annotated[list[Reading], Field(max_length=50)] = Field(default_factory=list)
    """Spot readings of fitted units, to find what is wrong with them."""
    objective: Literal["cost", "weight", "power"] = "cost"
    """What the choice makes least."""
    margins: Margins = Field(default_factory=Margins)
    """What is added to the loads, each reason once."""
    margin: Literal["declared", "p50", "p90", "p99"] = "declared"
    """Whether loads are raised by `margins`, or to peaks that so many in a hundred draws of the defaults stay below."""
    apart: list[Annotated[list[Text], Field(min_length=2)]] = Field(default_factory=list)
    """Lists of zones of which no two may share a unit."""
    together: list[Annotated[list[Text], Field(min_length=2)]] = Field(default_factory=list)
    """Lists of zones that must share one unit wherever units are shared."""
    day_and_night: list[DayAndNightText] = Field(default_factory=list)
    """Rooms of the day and rooms of the night that one unit may serve in turn."""
    group_size: Annotated[int, Field(ge=1, le=6)] = 5
    """Most zones on one unit; 6 takes a minute on a boat of 20 rooms."""
    largest_drift: DriftLimit | None = None
    """Most that a zone without a thermostat may drift from its setpoint; 2 K where not given."""
    largest_size: LargestSize | None = None
    """The largest unit that fits."""
    cabin_noise: SoundLevel | None = None
    """Loudest unit in the room of a sleeping cabin, A-weighted."""
    fouling: Share = 0.1
    """Share of a condenser's conductance that growth and scale take between cleanings."""
    water_flow: PositiveShare = 1.0
    """Sea water a unit gets over what it is rated with."""
    duct_gain: Share = 0.05
    """Share of a unit's capacity that its ducts take up again outside the served rooms."""
    largest_oversize: Annotated[float, Field(ge=1, le=3)] | None = None
    """Largest capacity over load that a choice may have, such as 1.25."""
    cabin_one_unit_lost: AirTemperature | None = None
    """Warmest air of a sleeping cabin with any one unit out of order, such as 29 degC."""
    most_damp_hours: Annotated[float, Field(ge=0, le=24)] | None = None
    """Most hours of a design day that a room's air may be above 65 % humidity."""
    fan: Literal["continuous", "cycling"] = "continuous"
    """Whether fans run on while compressors pause, or pause with them."""
    sea_pump: Power | None = None
    """Power of all sea water pumps, which run while any unit gives heat to the water; left out where not given."""


class Report(Part):
    """How results are written."""

    study: Text | None = None
    """Folder of a finished study that the pack shows too; its path leads from the folder of this file."""
    title: Text | None = None
    """Title of the report."""
    client: Text | None = None
    """For whom it is written."""
    units: Literal["si", "us", "both"] = "si"
    """Units of printed results: si, us or both."""

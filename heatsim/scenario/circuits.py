"""Models of cables, of the winter a boat is heated through, and of the day on which she is commissioned."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from heatsim.scenario.fields import (
    AirTemperature,
    Area,
    Current,
    Length,
    Month,
    Name,
    Part,
    PositiveShare,
    Power,
    SeaTemperature,
    Speed,
    Text,
    Voltage,
)
from heatsim.scenario.quantities import refuse


class CableText(Part):
    """One cable: to the units of a zone, from the shore socket, or a direct-current feed."""

    name: Name
    """What it is called."""
    serves: Text | None = None
    """A zone whose unit it feeds, "plant" for the chillers; or name voltage and current."""
    length: Length
    """One way, from the board to the unit."""
    section: Area | None = None
    """Copper of one conductor, such as 2.5 mm2; the least that does where not given."""
    current: Current | None = None
    """Current, where it serves no unit."""
    voltage: Voltage | None = None
    """Voltage, where it serves no unit."""
    system: Literal["ac", "three-phase", "dc", "dc not critical"] = "ac"
    """Kind of circuit; only direct current to what is not critical may lose 10 %."""

    @model_validator(mode="after")
    def _whole(self) -> CableText:
        if self.serves is None and (self.current is None or self.voltage is None):
            raise refuse(
                "a cable needs what it serves, or its current and voltage", "Add serves: saloon, or current and voltage"
            )
        return self


class HeatingText(Part):
    """The winter she is heated through."""

    month: Month | None = None
    """Month of the cold day; the one with the coldest sea where not given."""
    outdoor: AirTemperature | None = None
    """Outdoor air of the cold day; 8 K below the month's mean where not given."""
    sea: SeaTemperature | None = None
    """Sea of the cold day; the month's mean where not given."""
    wind: Speed | None = None
    """Wind over the boat; 4 m/s where not given."""
    setpoint: AirTemperature | None = None
    """Rooms; 21 °C where not given."""
    back_up: Power | None = None
    """Heaters aboard beside the units."""
    sea_by_month: Annotated[list[SeaTemperature], Field(min_length=12, max_length=12)] | None = None
    """Sea by month, January first; the marine climatology's where not given."""


class CommissioningText(Part):
    """The day on which she is commissioned; what is not said is taken from the hot design day."""

    outdoor: AirTemperature | None = None
    """Outdoor air at its warmest."""
    humidity: PositiveShare | None = None
    """Its relative humidity then."""
    sea: SeaTemperature | None = None
    """Sea water at the inlet."""
    room: AirTemperature | None = None
    """Air at the return grilles while readings are taken; the setpoints where not given."""
    room_humidity: PositiveShare | None = None
    """Its relative humidity; 55 % where not given."""
    voltage_share: PositiveShare | None = None
    """Voltage at the units over their rated one; 1 where not given."""
    hours: Annotated[float, Field(gt=0, le=12)] | None = None
    """Hours after the start at which rooms are read; 3 where not given."""
    start: Annotated[float, Field(ge=0, lt=24)] | None = None
    """Clock hour of the start; 12 where not given."""

"""Models of the power aboard: shore sockets, generator, battery with its inverter, sun on deck, other loads."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from heatsim.scenario.fields import (
    AirTemperature,
    Charge,
    ClockHour,
    Current,
    Energy,
    Frequency,
    Part,
    PositiveShare,
    Power,
    Share,
    Text,
    Voltage,
)
from heatsim.scenario.quantities import refuse


class Shore(Part):
    """A shore connection; sockets carry 80 % of their rating continuously."""

    voltage: Voltage
    """Voltage of the connection, between its outer conductors."""
    current: Current
    """Rating of one socket."""
    phases: Literal[1, 3] = 1
    """Phases of one socket."""
    legs: Literal[1, 2] = 1
    """2 for a single-phase socket with two legs and a middle conductor, such as 120/240 V."""
    frequency: Frequency = 50.0
    """Mains frequency."""
    sockets: Annotated[int, Field(ge=1, le=8)] = 1
    """Number of sockets that can be used at once."""
    lowest_voltage: Voltage | None = None
    """Lowest voltage at the dock; 90 % of the voltage where not given."""
    name: Text | None = None
    """What the harbour calls it."""

    @model_validator(mode="after")
    def _possible(self) -> Shore:
        if self.phases == 3 and self.legs == 2:
            raise refuse("a three-phase socket has no two legs", "Leave legs out")
        if self.lowest_voltage is not None and not 0.7 * self.voltage <= self.lowest_voltage <= self.voltage:
            raise refuse(
                "the lowest voltage must lie between 70 and 100 % of the voltage", "Write it as the dock states it"
            )
        return self


class Transformer(Part):
    """An isolation or step transformer between socket and boat."""

    power: Power
    """Apparent power on its plate, read as if its power factor were one."""
    inrush: Current | None = None
    """Peak of the current when it is switched on; 10 times its rated current where not given."""


class Generator(Part):
    """A generator and the least share of its rating it should run at."""

    power: Power
    """Electrical rating."""
    least_share: PositiveShare = 0.3
    """Least share of its rating it should run at."""
    frequency: Frequency = 50.0
    """Frequency it makes."""
    derating: Share | None = None
    """Share of its rating lost to the site's heat and height; 5 % where not given."""
    starting_kva: Annotated[float, Field(gt=0, le=10000)] | None = None
    """Motor-starting kVA on its sheet, at the dip beside; twice its kVA where not given."""
    dip: Share | None = None
    """Voltage dip at which that kVA is stated; 30 % where not given."""


class Battery(Part):
    """Storage for a silent night, and the share kept back to start and to be safe."""

    energy: Energy | None = None
    """Energy when full; or capacity and voltage."""
    reserve: PositiveShare = 0.3
    """Share kept back to start and to be safe."""
    inverter: Power | None = None
    """Continuous rating of the inverter."""
    kind: Literal["lithium", "lead"] = "lithium"
    """Kind of bank."""
    capacity: Charge | None = None
    """Capacity, such as 420 Ah, instead of energy."""
    voltage: Voltage | None = None
    """Nominal voltage; 24 V where not given."""
    hours: Annotated[float, Field(gt=0, le=200)] | None = None
    """Hours over which the capacity is rated, such as 20: without it a lead bank's capacity means nothing."""
    peukert: Annotated[float, Field(ge=1, le=1.6)] | None = None
    """Peukert's exponent; 1.25 for lead and 1.03 for lithium where not given."""
    depth: PositiveShare | None = None
    """Deepest discharge that spares the bank; 50 % for lead and 80 % for lithium where not given."""
    temperature: AirTemperature | None = None
    """Of the bank; 25 °C where not given."""
    efficiency: PositiveShare | None = None
    """Of the inverter at work; 90 % where not given."""
    idle: Power | None = None
    """What the inverter takes while it is on; 1 % of its rating where not given."""
    charger: Power | None = None
    """Direct-current power of all chargers; a tenth of the capacity an hour for lead, a fifth for lithium."""
    night_begins: ClockHour = 22
    """Hour of the clock at which shore or generator is left."""
    night_ends: ClockHour = 7
    """Hour of the clock at which one of them comes back."""

    @model_validator(mode="after")
    def _whole(self) -> Battery:
        if (self.energy is None) == (self.capacity is None):
            raise refuse("a bank has either an energy or a capacity", "Keep energy: 40 kWh, or capacity: 420 Ah")
        if self.kind == "lead" and self.hours is None:
            raise refuse(
                "a lead bank's capacity is the one of a rate: without its hours Peukert's law gives a wrong time",
                "Add hours: 20, as on the data sheet",
            )
        if self.night_begins == self.night_ends:
            raise refuse("the silent night must begin and end at different hours", "Change night_begins or night_ends")
        return self


class Solar(Part):
    """Panels flat on deck or hardtop that charge the bank."""

    peak_power: Power
    """Of all panels at 1000 W/m² and 25 °C."""
    efficiency: PositiveShare | None = None
    """Of everything between panels and bank: heat, dirt, shadow, controller; 75 % where not given."""


class Supply(Part):
    """Power aboard."""

    shore: Shore | None = None
    """Connection to the shore."""
    other_sockets: Annotated[list[Shore], Field(max_length=12)] = Field(default_factory=list)
    """Other sockets that she meets on her way."""
    transformer: Transformer | None = None
    """Transformer behind the socket."""
    generator: Generator | None = None
    """Generator set."""
    battery: Battery | None = None
    """Storage for a silent night."""
    solar: Solar | None = None
    """Panels that charge it."""
    other_load: Power | None = None
    """What else runs at most besides air conditioning; lights and equipment of the zones where not given."""
    night_load: Power | None = None
    """What else runs through the silent night; lights and equipment of the zones where not given."""

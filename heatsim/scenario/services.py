"""Models of what a yard fits around the units: ducts, grilles, intakes, sea water, chilled water, drains.

Everything here may be left out; what is, is assumed and stands in its schedule's list of assumptions.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field, model_validator

from heatsim.scenario.circuits import CableText, CommissioningText, HeatingText
from heatsim.scenario.fields import AirFlow, Area, Length, Name, Offset, Part, PositiveShare, SeaTemperature, Text
from heatsim.scenario.quantities import Quantity, refuse

Bore = Annotated[float, Quantity("length", least=0.004, most=1.0)]
Height = Annotated[float, Quantity("length", least=-10, most=30)]
Pressure = Annotated[float, Quantity("pressure", least=0, most=1e6)]
Heel = Annotated[float, Quantity("angle", least=0, most=45)]
Number = Annotated[int, Field(ge=0, le=50)]
Zones = Annotated[list[Text], Field(min_length=1)]
Insulation = Annotated[float, Quantity("length", least=0, most=0.2)]


class DuctText(Part):
    """One run of supply duct, from the unit that serves a zone to a grille there."""

    zone: Text
    """Zone it blows into."""
    name: Name | None = None
    """What the run is called."""
    bore: Bore
    """Inside diameter; of a rectangular duct, that of the round one of the same friction."""
    length: Length
    """Length along its middle, from plenum to grille."""
    bends: Number = 2
    """Bends of about 90°."""
    wyes: Number = 0
    """Wyes in which it leaves or is left by another run."""
    tees: Number = 0
    """Tees in which the air turns."""
    kind: Literal["flexible", "smooth"] = "flexible"
    """Flexible hose, or smooth pipe."""
    insulation: Insulation | None = None
    """Thickness of its insulation; 25 mm where not given."""
    through: Text | None = None
    """Zone or space that it crosses; the joinery of its own zone where not given."""


class GrilleText(Part):
    """A grille: supply or return, with its gross area and the share of it that is open."""

    zone: Text
    """Zone it opens into."""
    kind: Literal["supply", "return"]
    """Blows in, or takes back to the unit."""
    gross_area: Area
    """Area of its opening with the bars."""
    free_share: PositiveShare | None = None
    """Open share of the gross area; 50 % where not given."""
    through: Literal["room", "locker"] = "room"
    """Whether it takes air from the room itself, or through a locker or wardrobe."""
    blows_at: Literal["free", "sensor", "return"] = "free"
    """What a supply grille blows at: the free room, the thermostat's sensor, or the return grille."""


class IntakeText(Part):
    """An opening through which outdoor air is taken, and its distance to what must not come in."""

    name: Name
    """What it is called."""
    zones: Zones
    """Zones whose outdoor air it takes."""
    to_exhaust: Offset | None = None
    """Distance to the nearest exhaust of an engine, generator, heater or galley."""
    to_gas_locker: Offset | None = None
    """Distance to the nearest vent or drain of a gas locker or petrol space."""
    above_waterline: Height | None = None
    """Height of its lower edge above the waterline."""


class PumpPoint(Part):
    """One point of a pump's curve."""

    flow: AirFlow
    """Water it moves."""
    head: Offset
    """Head at that flow, in metres of water."""


class PumpText(Part):
    """A sea water pump."""

    curve: Annotated[list[PumpPoint], Field(min_length=2, max_length=30)]
    """Its curve at the frequency aboard, by rising flow."""
    below_waterline: Height | None = None
    """How far it lies below the waterline at rest; above it is negative."""
    below_heeled: Height | None = None
    """The same, heeled to the side on which it lies highest."""
    below_planing: Height | None = None
    """The same, at speed with the intake as it is then."""

    @model_validator(mode="after")
    def _falling(self) -> PumpText:
        for before, after in pairwise(self.curve):
            if after.flow <= before.flow or after.head >= before.head:
                raise refuse(
                    "a pump's curve rises in flow and falls in head from point to point", "Order its points by flow"
                )
        return self


class BranchText(Part):
    """The hose of one unit from the pump's manifold through its condenser and overboard."""

    serves: Text
    """A zone that the unit serves, or "plant" for the chillers."""
    hose: Bore | None = None
    """Inside diameter; by its velocity where not given."""
    length: Length | None = None
    """Length there and to its outlet; half the boat's where not given."""
    bends: Number | None = None
    """Bends and elbows; 6 where not given."""
    highest_point: Height | None = None
    """Highest point above the waterline; 0.5 m where not given."""
    outlet: Height | None = None
    """Height of its outlet above the waterline; 0.2 m where not given."""
    extra_head: Offset = 0.0
    """Head of a regulating valve at the unit's own flow, to balance the branches."""
    condenser_loss: Pressure | None = None
    """Loss of its condenser at the unit's rated flow; 25 kPa where not given."""


class CircuitText(Part):
    """One sea water pump with its inlet, its strainer and the units it feeds."""

    name: Name
    """What it is called."""
    serves: Zones
    """Zones whose units it feeds, or "plant" for the chillers."""
    pump: PumpText | None = None
    """Its pump; one that just does the duty where not given."""
    through_hull: Bore | None = None
    """Inside diameter of skin fitting and seacock; by its velocity where not given."""
    suction_hose: Bore | None = None
    """Inside diameter up to the manifold; by its velocity where not given."""
    suction_length: Length | None = None
    """Length from the skin fitting to the manifold; 3 m where not given."""
    strainer_loss: Pressure | None = None
    """Loss of the clean strainer at the whole flow; 3 kPa where not given."""
    rises_all_the_way: bool | None = None
    """Whether pipes rise from inlet to unit without a dip that traps air."""
    branches: Annotated[list[BranchText], Field(max_length=30)] = Field(default_factory=list)
    """Hoses to the units."""


class SeawaterText(Part):
    """The sea water side of all units."""

    circuits: Annotated[list[CircuitText], Field(max_length=20)] = Field(default_factory=list)
    """Pumps and what they feed; units that none names share one more."""
    salinity: Annotated[float, Field(ge=0, le=42)] = 35.0
    """Grams of salt in a kilogram of water: 35 oceans, 38 Mediterranean, 7 Baltic, 0 lakes."""
    coldest: SeaTemperature | None = None
    """Coldest water in which she heats, for the check against freezing; each unit's own limit where not given."""


class ChilledRunText(Part):
    """Pipes from the chillers to one air handler and back."""

    zone: Text
    """Zone of the air handler."""
    length: Length
    """Length there and back."""
    bore: Bore | None = None
    """Inside diameter; by its velocity and friction where not given."""
    insulation: Insulation | None = None
    """Thickness of its insulation; what the worst space asks for where not given."""
    through: list[Text] = Field(default_factory=list)
    """Zones and spaces that it crosses."""


class ChilledWaterText(Part):
    """The loop of a central plant."""

    rise: Annotated[float, Quantity("temperature difference", least=2, most=15)] = 5.0
    """Rise of the water through the air handlers."""
    runs: Annotated[list[ChilledRunText], Field(max_length=100)] = Field(default_factory=list)
    """Pipes to the air handlers."""
    tank: Annotated[float, Quantity("volume", least=0, most=100)] = 0.0
    """Water in a buffer tank."""
    coil_loss: Pressure | None = None
    """Loss of an air handler with its valve at its flow; 30 kPa where not given."""
    chiller_loss: Pressure | None = None
    """Loss of the chillers' evaporators at the whole flow; 35 kPa where not given."""


class DrainText(Part):
    """The condensate drain of a unit."""

    serves: Text
    """A zone that the unit serves."""
    length: Length
    """Length to where it ends."""
    drop: Offset
    """How much lower its end lies, upright."""
    lies: Literal["athwart", "fore and aft"] = "athwart"
    """Along which line of the boat it runs, and so whether heel or trim lifts its end."""
    ends: Literal["sump", "overboard", "bilge", "venturi"] = "sump"
    """Where it ends."""
    bore: Bore | None = None
    """Inside diameter; 19 mm where not given."""


class DrainsText(Part):
    """Condensate."""

    heel: Heel | None = None
    """Working heel at which drains must still fall; 5° where not given."""
    trim: Heel | None = None
    """The same for trim; 2° where not given."""
    runs: Annotated[list[DrainText], Field(max_length=100)] = Field(default_factory=list)
    """Drains of the units."""
    sump_volume: Annotated[float, Quantity("volume", above=0, most=1)] | None = None
    """Water between the sump's switch points; 2 L where not given."""
    sump_pump: AirFlow | None = None
    """What the sump pump moves against its lift."""


class Services(Part):
    """Ducts, grilles, intakes, pipes and drains as fitted or drawn."""

    available_static: Pressure | None = None
    """External static pressure that units have at their rated air flow; 100 Pa where not given."""
    ducts: Annotated[list[DuctText], Field(max_length=200)] = Field(default_factory=list)
    """Runs of supply duct."""
    grilles: Annotated[list[GrilleText], Field(max_length=400)] = Field(default_factory=list)
    """Supply and return grilles."""
    intakes: Annotated[list[IntakeText], Field(max_length=50)] = Field(default_factory=list)
    """Openings for outdoor air."""
    seawater: SeawaterText = Field(default_factory=SeawaterText)
    """Sea water pumps, hoses and strainers."""
    chilled_water: ChilledWaterText = Field(default_factory=ChilledWaterText)
    """Pipes of a central plant."""
    drains: DrainsText = Field(default_factory=DrainsText)
    """Condensate drains."""
    cables: Annotated[list[CableText], Field(max_length=100)] = Field(default_factory=list)
    """Cables to units, sockets and bank."""
    heating: HeatingText = Field(default_factory=HeatingText)
    """The winter she is heated through."""
    commissioning: CommissioningText = Field(default_factory=CommissioningText)
    """The day on which she is commissioned."""

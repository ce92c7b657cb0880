"""Models of the power aboard, the equipment fitted and how the report is written."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from heatsim.scenario.fields import (
    Current,
    Energy,
    Frequency,
    Length,
    Name,
    Part,
    PositiveShare,
    Power,
    Share,
    Text,
    Voltage,
)
from heatsim.scenario.quantities import Quantity


class Shore(Part):
    """The shore connection; sockets carry 80 % of their rating continuously."""

    voltage: Voltage
    """Voltage of the connection."""
    current: Current
    """Rating of one socket."""
    phases: Literal[1, 3] = 1
    """Phases of one socket."""
    frequency: Frequency = 50.0
    """Mains frequency."""
    sockets: Annotated[int, Field(ge=1, le=8)] = 1
    """Number of sockets that can be used at once."""


class Generator(Part):
    """A generator and the least share of its rating it should run at."""

    power: Power
    """Electrical rating."""
    least_share: PositiveShare = 0.3
    """Least share of its rating it should run at."""
    frequency: Frequency = 50.0
    """Frequency it makes."""


class Battery(Part):
    """Storage for a silent night, and the share kept back to start and to be safe."""

    energy: Energy
    """Energy when full."""
    reserve: PositiveShare = 0.3
    """Share kept back to start and to be safe."""
    inverter: Power | None = None
    """Continuous rating of the inverter."""


class Supply(Part):
    """Power aboard."""

    shore: Shore | None = None
    """Connection to the shore."""
    generator: Generator | None = None
    """Generator set."""
    battery: Battery | None = None
    """Storage for a silent night."""


class ExistingUnit(Part):
    """A unit already fitted and the zones it serves."""

    name: Name
    """What the unit is called aboard."""
    zones: Annotated[list[Text], Field(min_length=1)]
    """Names of the zones it serves."""
    capacity: Power
    """Cooling capacity, sensible and latent, on its plate."""
    model: Text | None = None
    """Type, for the record."""


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


class Equipment(Part):
    """Catalogue file, units already fitted and what the choice must respect."""

    catalogue: Text | None = None
    """File of units to choose from; its path leads from the folder of this file."""
    accept_unrated: Share | None = None
    """Take units without rating conditions, with this share off their capacity."""
    existing: list[ExistingUnit] = Field(default_factory=list)
    """Units fitted already."""
    objective: Literal["cost", "weight", "power"] = "cost"
    """What the choice makes least."""
    margins: Margins = Field(default_factory=Margins)
    """What is added to the loads, each reason once."""
    apart: list[Annotated[list[Text], Field(min_length=2)]] = Field(default_factory=list)
    """Lists of zones of which no two may share a unit."""
    together: list[Annotated[list[Text], Field(min_length=2)]] = Field(default_factory=list)
    """Lists of zones that must share one unit wherever units are shared."""
    group_size: Annotated[int, Field(ge=1, le=6)] = 5
    """Most zones on one unit; 6 takes a minute on a boat of 20 rooms."""
    largest_drift: DriftLimit | None = None
    """Most that a zone without a thermostat may drift from its setpoint; 2 K where not given."""
    largest_size: LargestSize | None = None
    """The largest unit that fits."""
    cabin_noise: Annotated[float, Field(ge=20, le=80)] | None = None
    """Loudest unit in the room of a sleeping cabin, dB(A)."""
    fouling: Share = 0.1
    """Share of a condenser's conductance that growth and scale take between cleanings."""
    water_flow: PositiveShare = 1.0
    """Sea water a unit gets over what it is rated with."""
    duct_gain: Share = 0.05
    """Share of a unit's capacity that its ducts take up again outside the served rooms."""
    largest_oversize: Annotated[float, Field(ge=1, le=3)] | None = None
    """Largest capacity over load that a choice may have, such as 1.25."""
    survive_one_unit_lost: bool = False
    """Whether a choice must hold the boat with one unit out of order."""


class Report(Part):
    """How results are written."""

    title: Text | None = None
    """Title of the report."""
    client: Text | None = None
    """For whom it is written."""
    units: Literal["si", "us", "both"] = "si"
    """Units of printed results: si, us or both."""

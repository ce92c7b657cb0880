"""Models of the power aboard, the equipment fitted and how the report is written."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from heatsim.scenario.fields import Current, Energy, Frequency, Name, Part, PositiveShare, Power, Text, Voltage


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


class Equipment(Part):
    """Catalogue file, units already fitted and what the choice must respect."""

    catalogue: Text | None = None
    """File of units to choose from; its path leads from the folder of this file."""
    existing: list[ExistingUnit] = Field(default_factory=list)
    """Units fitted already."""
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

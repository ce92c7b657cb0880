"""Models of the power aboard, the equipment fitted and how the report is written."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from heatsim.scenario.fields import Current, Energy, Frequency, Name, Part, PositiveShare, Power, Text, Voltage


class Shore(Part):
    """The shore connection; sockets carry 80 % of their rating continuously."""

    voltage: Voltage
    current: Current
    phases: Literal[1, 3] = 1
    frequency: Frequency = 50.0
    sockets: Annotated[int, Field(ge=1, le=8)] = 1


class Generator(Part):
    """A generator and the least share of its rating it should run at."""

    power: Power
    least_share: PositiveShare = 0.3
    frequency: Frequency = 50.0


class Battery(Part):
    """Storage for a silent night, and the share kept back to start and to be safe."""

    energy: Energy
    reserve: PositiveShare = 0.3
    inverter: Power | None = None


class Supply(Part):
    """Power aboard."""

    shore: Shore | None = None
    generator: Generator | None = None
    battery: Battery | None = None


class ExistingUnit(Part):
    """A unit already fitted and the zones it serves."""

    name: Name
    zones: Annotated[list[Text], Field(min_length=1)]
    capacity: Power
    model: Text | None = None


class Equipment(Part):
    """Catalogue file, units already fitted and what the choice must respect."""

    catalogue: Text | None = None
    existing: list[ExistingUnit] = Field(default_factory=list)
    largest_oversize: Annotated[float, Field(ge=1, le=3)] | None = None
    survive_one_unit_lost: bool = False


class Report(Part):
    """How results are written."""

    title: Text | None = None
    client: Text | None = None
    units: Literal["si", "us", "both"] = "si"

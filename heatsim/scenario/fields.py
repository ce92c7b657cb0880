"""What every model of the file shares: strictness, names, and the quantities by kind and bounds."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from heatsim.scenario.courses import Course, CourseText
from heatsim.scenario.panes import Panes
from heatsim.scenario.quantities import Quantity, refuse


class Part(BaseModel):
    """A part of the file: frozen, unknown keys refused, no silent conversions, no infinite numbers."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False, defer_build=True)


LONGEST_NAME, OWN_BILGE = 60, " bilge"
"""Characters of a name; the bilge that a quick zone brings along is called after it and may be longer by its word."""
RESERVED = ("outdoors", "sea", "adiabatic", "block", "boat")
"""Ends of flows and faces, and the rows that sum up zones in the results."""


def _plain_name(name: str) -> str:
    longest = len(name.removesuffix(OWN_BILGE))
    if not re.fullmatch(r"[^\W_][\w '&/+()-]*", name) or longest > LONGEST_NAME or name != name.strip():
        raise refuse("a name is made of letters, digits, spaces and - ' & / + ( ), and begins with a letter or digit")
    if name.lower() in RESERVED:
        raise refuse(f'"{name}" is a word of the file format or of the results, not a free name', "Choose another name")
    return name


Name = Annotated[str, AfterValidator(_plain_name)]
Text = Annotated[str, Field(max_length=2000)]
Count = Annotated[float, Field(ge=0, le=5000)]
Month = Annotated[int, Field(ge=1, le=12)]

Length = Annotated[float, Quantity("length", above=0, most=200)]
Offset = Annotated[float, Quantity("length", least=0, most=50)]
Thickness = Annotated[float, Quantity("length", above=0, most=5)]
Area = Annotated[float, Quantity("area", above=0, most=5000)]
GlassArea = Annotated[float, Panes("area", above=0, most=500)]
Volume = Annotated[float, Quantity("volume", above=0, most=20000)]
AirTemperature = Annotated[float, Quantity("temperature", least=-60, most=60)]
AnyTemperature = Annotated[float, Quantity("temperature", least=-60, most=150)]
SeaTemperature = Annotated[float, Quantity("temperature", least=-2, most=40)]
Difference = Annotated[float, Quantity("temperature difference", least=-30, most=30)]
Range = Annotated[float, Quantity("temperature difference", least=0, most=30)]
Power = Annotated[float, Quantity("power", least=0, most=1e7)]
PowerPerArea = Annotated[float, Quantity("power per area", least=0, most=5000)]
AirFlow = Annotated[float, Quantity("flow", least=0, most=100)]
AirChanges = Annotated[float, Quantity("air changes", least=0, most=200 / 3600)]
Film = Annotated[float, Quantity("film or u-value", above=0, most=1000)]
Resistance = Annotated[float, Quantity("resistance", above=0, most=100)]
Conductivity = Annotated[float, Quantity("conductivity", above=0, most=500)]
Density = Annotated[float, Quantity("density", above=0, most=20000)]
SpecificHeat = Annotated[float, Quantity("specific heat", above=0, most=10000)]
CapacityPerArea = Annotated[float, Quantity("capacity per area", least=0, most=1e7)]
Bearing = Annotated[float, Quantity("angle", least=0, most=360)]
Latitude = Annotated[float, Quantity("angle", least=-90, most=90)]
Longitude = Annotated[float, Quantity("angle", least=-180, most=360)]
Tilt = Annotated[float, Quantity("angle", least=0, most=180)]
Elevation = Annotated[float, Quantity("angle", least=0, most=90)]
Speed = Annotated[float, Quantity("speed", least=0, most=60)]
Altitude = Annotated[float, Quantity("length", least=-500, most=5000)]
MoistureRate = Annotated[float, Quantity("moisture rate", least=0, most=0.1)]
Voltage = Annotated[float, Quantity("voltage", above=0, most=20000)]
Current = Annotated[float, Quantity("current", above=0, most=5000)]
Frequency = Annotated[float, Quantity("frequency", above=0, most=500)]
Mass = Annotated[float, Quantity("mass", above=0, most=1e6)]
Charge = Annotated[float, Quantity("charge", above=0, most=3.6e8)]
Energy = Annotated[float, Quantity("energy", least=0, most=1e12)]
SoundLevel = Annotated[float, Quantity("sound level", least=20, most=80)]
Share = Annotated[float, Quantity("share", least=0, most=1)]
PositiveShare = Annotated[float, Quantity("share", above=0, most=1)]
ClockHour = Annotated[int, Field(ge=0, le=23)]
NO_HUMIDITY_LIMIT = 2.0
"""A relative humidity that is never reached: what "none" stands for."""
HumidityLimit = Annotated[float, Quantity("share", least=0.2, most=1, word="none", word_value=NO_HUMIDITY_LIMIT)]

ShareCourse = Annotated[CourseText, Course()]
SetpointCourse = Annotated[CourseText, Course("temperature", 5, 40, named=False)]
TemperatureCourse = Annotated[CourseText, Course("temperature", -60, 150, named=False)]

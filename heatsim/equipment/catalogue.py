"""The catalogue of units to choose from: a CSV file or workbook, read at one door and refused with all its faults.

Each row is a unit, each column a field of `UnitText` below; cells are written as in a scenario, with their unit. A
capacity means nothing without the conditions it was rated at: either a named rating point (tables/ratings.csv) or the
entering air and water themselves. The shipped catalogue is invented.
"""

from __future__ import annotations

import difflib
from abc import ABC
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError, model_validator

from heatsim.errors import Fault, HeatsimError
from heatsim.scenario.fields import (
    AirFlow,
    AirTemperature,
    Current,
    Frequency,
    Length,
    Mass,
    Name,
    Part,
    Power,
    SeaTemperature,
    Share,
    Text,
    Voltage,
)
from heatsim.scenario.quantities import refuse
from heatsim.scenario.resolved import Resolved
from heatsim.scenario.sheets import sheet_rows
from heatsim.tables.loader import FOLDER, by_name

Kind = Literal["self-contained", "split", "chiller", "air handler", "fresh-air unit"]
Regulation = Literal["on-off", "staged", "variable speed"]
ROOT_3 = 3.0**0.5
DEMO = "demo_catalogue"
HOTTEST_WATER, COLDEST_WATER = 38.0, 4.4
"""[°C] Where cooling trips on hot sea and heating stops on cold sea (common practice, no source: 35–38 and 4.4 °C)."""
FAN_SHARE = 0.12
"""[-] Of a unit's electrical input that its fan takes where the row does not say (assumed)."""
CHILLED_WATER = 7.0
"""[°C] Leaving a chiller, entering an air handler, where the row does not say (common practice, no source: 6–7 °C)."""


class UnitText(Part):
    """One row of a catalogue."""

    model: Name
    """What the unit is called."""
    kind: Kind
    """self-contained and split cool air with sea water; a chiller cools water for air handlers."""
    total_capacity: Power
    """Cooling, sensible and latent, at the rating."""
    sensible_capacity: Power | None = None
    """Sensible part of it; not for a chiller."""
    capacity_is: Literal["net", "gross"] = "net"
    """Whether the fan's own heat is taken off already (net) or not (gross)."""
    airflow: AirFlow | None = None
    """Air at the rating; not for a chiller."""
    power: Power
    """Electrical input at the rating with the fan, without the sea water pump."""
    fan_power: Power | None = None
    """The fan's part of it."""
    running_current: Current | None = None
    """Current at the rating."""
    start_current: Current | None = None
    """Current when it starts."""
    voltage: Voltage
    """Rated voltage."""
    phases: Literal[1, 3] = 1
    """Phases."""
    frequency: Frequency = 50.0
    """Frequency at which it is rated."""
    refrigerant: Literal["R410A", "R32", "R134a", "R407C", "R454B", "R513A", "R1234yf", "R290"] | None = None
    """Refrigerant; not for an air handler."""
    charge: Mass | None = None
    """Refrigerant charge of one circuit."""
    regulation: Regulation = "on-off"
    """How it follows the load."""
    smallest_stage: Share = 1.0
    """Smallest steady capacity over the full one; 1 for on-off."""
    weight: Mass | None = None
    """Weight."""
    length: Length | None = None
    """Longest side."""
    width: Length | None = None
    """Second side."""
    height: Length | None = None
    """Height as it stands."""
    noise: Annotated[float, Field(ge=0, le=120)] | None = None
    """Sound level in the served room, dB(A)."""
    price: Annotated[float, Field(ge=0, le=1e7)] | None = None
    """Price, in whatever money all rows share."""
    heating_capacity: Power | None = None
    """Heating at the rating, reversed or by element."""
    heating_power: Power | None = None
    """Electrical input then."""
    rating: Text | None = None
    """Named rating point, such as ISO 13256-1 water loop."""
    entering_dry_bulb: AirTemperature | None = None
    """Air entering at the rating, where no point is named."""
    entering_wet_bulb: AirTemperature | None = None
    """Its wet bulb."""
    entering_water: SeaTemperature | None = None
    """Sea water entering at the rating; for an air handler the chilled water."""
    heating_dry_bulb: AirTemperature | None = None
    """Air entering at the heating rating."""
    heating_water: SeaTemperature | None = None
    """Sea water entering at the heating rating."""
    leaving_chilled_water: AirTemperature | None = None
    """Water leaving a chiller at the rating."""
    water_flow: AirFlow | None = None
    """Sea water at the rating; by its heat and 5 K where not given."""
    hottest_water: SeaTemperature = HOTTEST_WATER
    """Sea water above which it trips."""
    coldest_water: SeaTemperature = COLDEST_WATER
    """Sea water below which it may not heat."""

    @model_validator(mode="after")
    def _whole(self) -> UnitText:
        if self.kind != "chiller":
            if self.sensible_capacity is None or self.airflow is None:
                raise refuse(
                    "a unit that cools air needs sensible_capacity and airflow", "Add both from the data sheet"
                )
            if self.sensible_capacity >= self.total_capacity:
                raise refuse("the sensible capacity must lie below the total", "Check both: their difference is latent")
        if self.rating is not None and self.rating not in by_name("ratings"):
            close = difflib.get_close_matches(self.rating, list(by_name("ratings")), 1, 0.4)
            raise refuse("names a rating point that does not exist", f'Did you mean "{close[0]}"?' if close else "")
        if self.regulation == "on-off" and self.smallest_stage != 1.0:
            raise refuse("an on-off unit has no smaller stage", "Write regulation staged or variable speed")
        if self.regulation != "on-off" and not 0.0 < self.smallest_stage < 1.0:
            raise refuse("a unit that follows the load needs a smallest_stage below 1", "Add smallest_stage: 0.5")
        if self.fan_power is not None and self.fan_power >= self.power and self.refrigerant is not None:
            raise refuse("the fan cannot take the whole power", "Check fan_power")
        wet, dry = self.entering_wet_bulb, self.entering_dry_bulb
        if wet is not None and dry is not None and wet > dry:
            raise refuse("the wet bulb may not lie above the dry bulb", "Check entering_wet_bulb")
        return self


@dataclass(frozen=True)
class Rating:
    """Conditions of a capacity: entering air dry and wet bulb, entering sea water (or chilled water) [°C], and those
    of heating. `known` False where they were assumed, at a penalty."""

    dry_bulb: float
    wet_bulb: float
    water: float
    heating_dry_bulb: float
    heating_water: float
    known: bool = True


@dataclass(frozen=True)
class Unit:
    """One unit in SI: heat and power in W, flows in m³/s, currents in A, masses in kg, sizes in m."""

    model: str
    kind: Kind
    gross: float
    """Heat the coil takes off at the rating, fan heat included. [W]"""
    gross_sensible: float
    airflow: float
    compressor_power: float
    fan_power: float
    running_current: float
    start_current: float
    voltage: float
    phases: int
    frequency: float
    refrigerant: str | None
    charge: float
    regulation: Regulation
    smallest_stage: float
    weight: float
    size: tuple[float, float, float]
    noise: float
    price: float
    heating_capacity: float
    heating_power: float
    rating: Rating
    chilled_water: float
    water_flow: float
    hottest_water: float
    coldest_water: float
    air_share: float = 1.0
    """Air it moves as found over its rated flow; below 1 for installed units with a filter or duct in the way."""

    def apparent(self, current: float) -> float:
        """Apparent power at a current of one phase. [VA]"""
        return current * self.voltage * (ROOT_3 if self.phases == 3 else 1.0)


@dataclass(frozen=True)
class SideBySide(ABC):
    """Several of one unit."""

    unit: Unit
    count: int

    @property
    def cost(self) -> float:
        """Price of all."""
        return self.count * self.unit.price

    @property
    def weight(self) -> float:
        """Of all. [kg]"""
        return self.count * self.unit.weight


def read_catalogue(path: Path | None = None, accept_unrated: float | None = None) -> tuple[Unit, ...]:
    """Units of a catalogue file (CSV or .xlsx), or of the invented one that is shipped.

    Parameters
    ----------
    path : Path, optional
    accept_unrated : float, optional
        Share taken off the capacity of rows without rating conditions; without it they are refused. [-]

    Raises
    ------
    HeatsimError
        With one fault for everything that is wrong.
    """
    file = FOLDER / f"{DEMO}.csv" if path is None else path
    faults: list[Fault] = []
    units: list[Unit] = []
    seen: dict[str, int] = {}
    for line, row in sheet_rows(file, UnitText.model_fields, ("phases", "noise", "price")):
        found = _read_row(row, line, file, faults, accept_unrated)
        if found is None:
            continue
        if found.model in seen:
            rule, remedy = f"stands in line {seen[found.model]} already", "Give each unit a name of its own"
            faults.append(Fault(rule, str(file), line, "model", found.model, remedy))
        seen.setdefault(found.model, line)
        units.append(found)
    if faults:
        raise HeatsimError(*faults)
    return tuple(units)


def catalogue_of(resolved: Resolved) -> tuple[Unit, ...]:
    """Units of the catalogue that a scenario names, or of the invented one."""
    file = None if resolved.catalogue is None else Path(resolved.catalogue)
    return read_catalogue(file, resolved.terms.accept_unrated)


def _read_row(
    row: dict[str, Any], line: int, file: Path, faults: list[Fault], accept_unrated: float | None
) -> Unit | None:
    try:
        text = UnitText.model_validate(row)
    except ValidationError as error:
        for details in error.errors(include_url=False):
            faults.append(_fault(details, row, line, file))
        return None
    if _rating(text) is None and accept_unrated is None and text.kind != "air handler":
        faults.append(
            Fault(
                "a capacity without its rating conditions cannot be corrected to your sea", str(file), line, "rating",
                text.model, "Add rating: ISO 13256-1 water loop, or entering_dry_bulb, entering_wet_bulb and "
                "entering_water; or accept it at a loss: equipment.accept_unrated: 10 %",
            )
        )  # fmt: skip
        return None
    return to_unit(text, accept_unrated or 0.0)


def _rating(text: UnitText) -> Rating | None:
    """The conditions of a row, None where they are not all there."""
    named = by_name("ratings")[text.rating] if text.rating else None

    def value(given: float | None, column: str) -> float | None:
        return given if given is not None or named is None else float(named[column])

    dry, wet = (
        value(text.entering_dry_bulb, "entering_dry_bulb_C"),
        value(text.entering_wet_bulb, "entering_wet_bulb_C"),
    )
    water = value(text.entering_water, "entering_water_C")
    if text.kind == "air handler":
        water = CHILLED_WATER if text.entering_water is None else text.entering_water
    if text.kind == "chiller":
        dry, wet = 27.0, 19.0
    if dry is None or wet is None or water is None:
        return None
    warm, warm_water = value(text.heating_dry_bulb, "heating_dry_bulb_C"), value(text.heating_water, "heating_water_C")
    return Rating(dry, wet, water, 20.0 if warm is None else warm, 15.0 if warm_water is None else warm_water)


def to_unit(text: UnitText, accept_unrated: float = 0.0) -> Unit:
    """A row as a unit; `accept_unrated` is taken off the capacity where it has no rating conditions."""
    rating = _rating(text)
    kept = 1.0 if rating is not None else 1.0 - accept_unrated
    fan = text.fan_power if text.fan_power is not None else 0.0 if text.kind == "chiller" else FAN_SHARE * text.power
    heat = fan if text.capacity_is == "net" and text.kind != "chiller" else 0.0
    amps = text.power / (text.voltage * (ROOT_3 if text.phases == 3 else 1.0) * POWER_FACTOR)
    running = text.running_current or amps
    return Unit(
        model=text.model,
        kind=text.kind,
        gross=kept * text.total_capacity + heat,
        gross_sensible=kept * (text.sensible_capacity or 0.0) + heat,
        airflow=text.airflow or 0.0,
        compressor_power=text.power - fan,
        fan_power=fan,
        running_current=running,
        start_current=text.start_current or START_FACTOR[text.regulation] * running,
        voltage=text.voltage,
        phases=text.phases,
        frequency=text.frequency,
        refrigerant=text.refrigerant,
        charge=text.charge or 0.0,
        regulation=text.regulation,
        smallest_stage=text.smallest_stage,
        weight=text.weight or float("nan"),
        size=(text.length or float("nan"), text.width or float("nan"), text.height or float("nan")),
        noise=float("nan") if text.noise is None else text.noise,
        price=float("nan") if text.price is None else text.price,
        heating_capacity=text.heating_capacity or 0.0,
        heating_power=text.heating_power or 0.0,
        rating=rating or Rating(26.7, 19.4, 29.4, 20.0, 15.0, known=False),
        chilled_water=CHILLED_WATER if text.leaving_chilled_water is None else text.leaving_chilled_water,
        water_flow=text.water_flow or 0.0,
        hottest_water=text.hottest_water,
        coldest_water=text.coldest_water,
    )


POWER_FACTOR = 0.9
"""[-] Where a row gives no running current (assumed)."""
START_FACTOR = {"on-off": 5.0, "staged": 3.0, "variable speed": 1.0}
"""[-] Start over running current where a row gives none (common practice, no source: 4.5–7 for one motor)."""


def _fault(details: Any, row: dict[str, Any], line: int, file: Path) -> Fault:
    field = str(details["loc"][0]) if details["loc"] else ""
    context = details.get("ctx", {})
    rule = str(context.get("rule") or details["msg"].removeprefix("Value error, ").removeprefix("Input should "))
    remedy = str(context.get("remedy", ""))
    if details["type"] == "missing":
        rule, remedy = "the column must be filled", f"Add {field}"
    elif details["type"] == "literal_error":
        rule = "must be " + rule.removeprefix("be ")
    value = "" if details["type"] == "missing" else str(row.get(field, row.get("model", "")))[:60]
    return Fault(rule, str(file), line, field, value, remedy)

"""What a unit really does: its nameplate carried to the sea, the air, the flows and the mains it meets.

A unit's rating fixes a small model of it, which is then solved at other conditions: a coil with apparatus dew point and
bypass factor, a compressor whose capacity and power follow its evaporating and condensing temperatures, and a condenser
in sea water. Every correction follows from that one model; `steps` shows them one after the other with their factors.

The compressor's slopes are those of a plain vapour-compression cycle about 8/38 °C (isentropic efficiency 0.65,
clearance 4 %, 5 K superheat and subcooling; tables/refrigerants.csv), which the tests work out anew with CoolProp.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cache, lru_cache
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.equipment.catalogue import Unit
from heatsim.errors import Fault, Finding, HeatsimError
from heatsim.physics import coil, moist_air
from heatsim.physics.films import ZERO_CELSIUS
from heatsim.tables.loader import by_name

Array = npt.NDArray[np.float64]
Scalars = Any  # float or array, broadcast together

PLAIN = "R410A"
"""Whose slopes stand for a unit that names no refrigerant."""
EVAPORATING_BELOW = 4.0
"""[K] Of the evaporating temperature below the apparatus dew point at the rating (assumed)."""
CONDENSING_ABOVE = 3.0
"""[K] Of the condensing temperature above the water that leaves at the rating (assumed)."""
WATER_RISE = 5.0
"""[K] Of the sea water at the rating where the row gives no flow (common practice, no source: 4–6 K)."""
SEA_HEAT = 4.09e6
"""[J m⁻³ K⁻¹] Of sea water, 1023 kg/m³ × 3996 J/(kg·K) at 25 °C (reference: gsw)."""
TRIP = 58.0
"""[°C] Condensing temperature at which the high-pressure switch opens, where the water's own limit does not come first
(assumed; 41–47 °C of water tripped units in practice)."""
ICING = 0.0
"""[°C] Apparatus dew point below which a coil ices."""
SUSPICIOUS_SHARE = 0.65
"""[-] Of Carnot's efficiency above which a rating is a finding (from memory: 60–65 % for small units)."""
ROUNDS = 40
HEATING_BY_WATER = 0.026
"""[1/K] Of reverse-cycle heat with the water's temperature: the evaporating slope, eased by 10 K of approach."""


class Slopes(NamedTuple):
    """Of a compressor's capacity and power with its evaporating and condensing temperatures, d ln. [1/K]"""

    capacity_by_evaporating: float
    capacity_by_condensing: float
    power_by_evaporating: float
    power_by_condensing: float


class Rated(NamedTuple):
    """What the rating says of a unit: its coil, its temperatures, its conductances."""

    bypass: float
    """Bypass factor at the rated air flow. [-]"""
    flow: float
    """Dry air. [kg/s]"""
    evaporating: float
    """[°C]"""
    condensing: float
    """[°C]"""
    surface_resistance: float
    """Apparatus dew point less evaporating temperature, by heat. [K/W]"""
    water_rate: float
    """Sea water's heat capacity rate. [W/K]"""
    condenser_resistance: float
    """Condensing temperature less that of the water that leaves, by heat. [K/W]"""
    share_of_carnot: float
    """Efficiency over Carnot's between apparatus dew point and leaving water. [-]"""
    slopes: Slopes


@dataclass(frozen=True)
class Conditions:
    """What a unit meets; floats or arrays that broadcast together.

    `airflow`, `water_flow` are shares of the rated flows, `fouled` the share of the condenser's conductance lost,
    `speed` the compressor's speed over that at the rated frequency, `charged` what it moves at the same temperatures
    over what it moves when its circuit is sound, `duct_gain` heat into the supply duct [W].
    """

    temperature: Scalars
    humidity_ratio: Scalars
    sea: Scalars
    airflow: Scalars = 1.0
    water_flow: Scalars = 1.0
    fouled: Scalars = 0.0
    speed: Scalars = 1.0
    duct_gain: Scalars = 0.0
    charged: Scalars = 1.0
    pressure: float = moist_air.STANDARD_PRESSURE


@dataclass(frozen=True)
class Operation:
    """What it does then, arrays: heat off the room's air (fan and duct taken off) and its power. [W], [°C]

    `tripped` and `icing` say that it cannot go on like that; then heats and compressor power are zero for a trip.
    """

    total: Array
    sensible: Array
    coil_heat: Array
    condensate: Array
    compressor_power: Array
    fan_power: Array
    rejected: Array
    evaporating: Array
    condensing: Array
    surface: Array
    leaving_temperature: Array
    leaving_humidity_ratio: Array
    tripped: npt.NDArray[np.bool_]
    icing: npt.NDArray[np.bool_]


class Step(NamedTuple):
    """One correction of the chain: what it is for, the capacity after it [W], its factor, where it comes from."""

    name: str
    total: float
    factor: float
    source: str


def rated_ratio(unit: Unit) -> float:
    """Humidity ratio of the air that enters at a unit's rating. [kg/kg]"""
    return float(moist_air.humidity_ratio_from_wet_bulb(unit.rating.dry_bulb, unit.rating.wet_bulb))


@cache
def rated(unit: Unit) -> Rated:
    """The small model that goes through a unit's rating.

    Raises
    ------
    HeatsimError
        When no coil can do what the row says, or its efficiency lies above Carnot's.
    """
    point = unit.rating
    ratio = rated_ratio(unit)
    heat = unit.gross + unit.compressor_power
    water = unit.water_flow * SEA_HEAT if unit.water_flow > 0.0 else heat / WATER_RISE
    leaving_water = point.water + heat / water
    if unit.kind == "chiller":
        surface, bypass, flow = unit.chilled_water, 0.0, 0.0
    else:
        flow = unit.airflow * float(moist_air.dry_air_density(point.dry_bulb, ratio))
        surface, bypass = coil.apparatus(point.dry_bulb, ratio, flow, unit.gross, unit.gross_sensible)
        if np.isnan(surface):
            raise HeatsimError(
                Fault(
                    "no coil can do that: total, sensible, air flow and entering air do not meet on the chart",
                    path=unit.model,
                    value=f"{unit.gross:.0f} W, {unit.gross_sensible:.0f} W sensible, {3600.0 * unit.airflow:.0f} m3/h",
                    remedy="Check them against the data sheet; sensible over total is mostly 0.65 to 0.85",
                )
            )
    row = by_name("refrigerants")[unit.refrigerant or PLAIN]
    evaporating, condensing = surface - EVAPORATING_BELOW, leaving_water + CONDENSING_ABOVE
    carnot = (surface + ZERO_CELSIUS) / max(leaving_water - surface, 1.0)
    share = unit.gross / unit.compressor_power / carnot if unit.compressor_power > 0.0 else 0.0
    if unit.compressor_power > 0.0 and share > 1.0:
        raise HeatsimError(
            Fault(
                "no machine can be that good: its efficiency lies above Carnot's between coil and leaving water",
                path=unit.model, value=f"{100.0 * share:.0f} %", remedy="Check power and capacity: kW or kBtu/h?",
            )
        )  # fmt: skip
    surface_resistance = EVAPORATING_BELOW / unit.gross
    if unit.compressor_power == 0.0:
        surface_resistance = (surface - point.water) / unit.gross
        if surface_resistance <= 0.0:
            rule = "the coil's surface would be colder than its water"
            raise HeatsimError(Fault(rule, path=unit.model, remedy="Check capacity, air flow and entering_water"))
    return Rated(
        bypass,
        flow,
        evaporating,
        condensing,
        surface_resistance,
        water,
        CONDENSING_ABOVE / heat,
        share,
        Slopes(*(float(row[f"{name}_per_K"]) for name in Slopes._fields)),
    )


def findings(unit: Unit) -> list[Finding]:
    """What is odd about a row without being wrong."""
    found = []
    model = rated(unit)
    if model.share_of_carnot > SUSPICIOUS_SHARE:
        found.append(
            Finding(
                "unit-too-good", unit.model, "efficiency is more than small machines reach",
                f"{100.0 * model.share_of_carnot:.0f} % of Carnot", f"{100.0 * SUSPICIOUS_SHARE:.0f} %",
            )
        )  # fmt: skip
    if not unit.rating.known:
        found.append(
            Finding(
                "unit-unrated", unit.model, "no rating conditions are known; a stated share was taken off",
                "rating assumed", "",
            )
        )  # fmt: skip
    return found


def operate(unit: Unit, conditions: Conditions) -> Operation:
    """Solve a unit that cools air with sea water at its conditions.

    The evaporating temperature is where coil and compressor take the same heat; found by halving, all points at once.

    Returns
    -------
    Operation
        Arrays of the broadcast shape of the conditions.
    """
    model, c = rated(unit), conditions
    T, w, sea, airflow, water, fouled, speed, charged = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in
          (c.temperature, c.humidity_ratio, c.sea, c.airflow, c.water_flow, c.fouled, c.speed, c.charged))
    )  # fmt: skip
    airflow = airflow * unit.air_share
    flow = air_stream(unit, T, w, airflow, c.pressure)
    bypass = model.bypass ** (model.flow / np.maximum(flow, 1e-9))
    low, high = np.full(T.shape, -30.0), T.copy()
    for _ in range(ROUNDS):
        middle = 0.5 * (low + high)
        heat, _, _ = _compressor(unit, model, middle, sea, water, fouled, speed, charged)
        surface = middle + model.surface_resistance * heat
        given = flow * coil.heat(T, w, coil.leaving(T, w, surface, bypass, c.pressure), surface)[0]
        low, high = np.where(given > heat, middle, low), np.where(given > heat, high, middle)
    evaporating = 0.5 * (low + high)
    heat, power, condensing = _compressor(unit, model, evaporating, sea, water, fouled, speed, charged)
    surface = evaporating + model.surface_resistance * heat
    behind = coil.leaving(T, w, surface, bypass, c.pressure)
    whole, sensible = (flow * part for part in coil.heat(T, w, behind, surface))
    tripped = (condensing > TRIP) | (sea > unit.hottest_water)
    runs = np.where(tripped, 0.0, 1.0)
    fan = np.broadcast_to(unit.fan_power * airflow**3, T.shape)
    lost = fan + c.duct_gain
    condensate = flow * (w - behind.humidity_ratio) * runs
    return Operation(
        total=whole * runs - lost,
        sensible=sensible * runs - lost,
        coil_heat=whole * runs,
        condensate=condensate,
        compressor_power=power * runs,
        fan_power=np.asarray(fan),
        rejected=(whole + power) * runs,
        evaporating=evaporating,
        condensing=condensing,
        surface=surface,
        leaving_temperature=np.where(tripped, T, behind.temperature),
        leaving_humidity_ratio=np.where(tripped, w, behind.humidity_ratio),
        tripped=tripped,
        icing=np.asarray((surface < ICING) & ~tripped),
    )


def water_coil(unit: Unit, conditions: Conditions, chilled: Scalars) -> Operation:
    """An air handler or fresh-air coil fed with chilled water at a temperature.

    The surface stands above the water by the same resistance as at the rating, whatever the flow.
    """
    model, c = rated(unit), conditions
    T, w, water, airflow = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (c.temperature, c.humidity_ratio, chilled, c.airflow))
    )
    airflow = airflow * unit.air_share
    flow = air_stream(unit, T, w, airflow, c.pressure)
    bypass = model.bypass ** (model.flow / np.maximum(flow, 1e-9))
    low, high = water.copy(), np.maximum(T, water)
    for _ in range(ROUNDS):
        surface = 0.5 * (low + high)
        given = flow * coil.heat(T, w, coil.leaving(T, w, surface, bypass, c.pressure), surface)[0]
        carried = (surface - water) / model.surface_resistance
        low, high = np.where(given > carried, surface, low), np.where(given > carried, high, surface)
    surface = 0.5 * (low + high)
    behind = coil.leaving(T, w, surface, bypass, c.pressure)
    whole, sensible = (flow * part for part in coil.heat(T, w, behind, surface))
    fan, nothing = np.broadcast_to(unit.fan_power * airflow**3, T.shape), np.zeros(T.shape)
    never = np.zeros(T.shape, dtype=bool)
    return Operation(
        total=whole - fan - c.duct_gain, sensible=sensible - fan - c.duct_gain, coil_heat=whole,
        condensate=flow * (w - behind.humidity_ratio), compressor_power=nothing, fan_power=np.asarray(fan),
        rejected=whole, evaporating=water, condensing=nothing, surface=surface,
        leaving_temperature=behind.temperature, leaving_humidity_ratio=behind.humidity_ratio, tripped=never,
        icing=never,
    )  # fmt: skip


def chiller(unit: Unit, conditions: Conditions) -> tuple[Array, Array]:
    """Cooling of the water and compressor power [W] of a chiller that keeps its leaving water; zero where it trips."""
    model, c = rated(unit), conditions
    sea, water, fouled, speed = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (c.sea, c.water_flow, c.fouled, c.speed))
    )
    low, high = np.full(sea.shape, -20.0), np.full(sea.shape, unit.chilled_water)
    for _ in range(ROUNDS):
        middle = 0.5 * (low + high)
        heat, _, _ = _compressor(unit, model, middle, sea, water, fouled, speed)
        over = middle + model.surface_resistance * heat > unit.chilled_water
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    heat, power, condensing = _compressor(unit, model, 0.5 * (low + high), sea, water, fouled, speed)
    runs = np.where((condensing > TRIP) | (sea > unit.hottest_water), 0.0, 1.0)
    return heat * runs, power * runs


def air_stream(unit: Unit, T: Scalars, w: Scalars, airflow: Scalars, pressure: float) -> Array:
    """Dry air through a unit whose fan moves a volume, `airflow` over the rated one. [kg/s]"""
    ratio = rated_ratio(unit)
    at_rating = moist_air.dry_air_density(unit.rating.dry_bulb, ratio)
    return np.asarray(rated(unit).flow * airflow * moist_air.dry_air_density(T, w, pressure) / at_rating)


@lru_cache(maxsize=256)
def steps(unit: Unit, conditions: Conditions) -> tuple[Step, ...]:
    """The chain from nameplate to corrected capacity: conditions, each one number, taken up one after the other.

    Returns
    -------
    tuple of Step
        First the nameplate net of its fan, last the capacity at all of them.
    """
    point = unit.rating
    unit, moved = replace(unit, air_share=1.0), unit.air_share
    here = Conditions(point.dry_bulb, rated_ratio(unit), point.water)
    plate = float(operate(unit, here).total)
    here = replace(
        here, temperature=conditions.temperature, humidity_ratio=conditions.humidity_ratio, pressure=conditions.pressure
    )
    met, told = [here], [("entering air", "coil with apparatus dew point and bypass factor")]
    for name, changed, source in (
        ("sea temperature", {"sea": conditions.sea}, "compressor and condenser about the rating"),
        ("air flow", {"airflow": conditions.airflow * moved}, "bypass factor by flow; fan power by its cube"),
        ("water flow", {"water_flow": conditions.water_flow}, "rise of the sea water"),
        ("fouling", {"fouled": conditions.fouled}, "condenser conductance lost"),
        ("supply frequency", {"speed": conditions.speed}, "compressor speed"),
        ("duct gain", {"duct_gain": conditions.duct_gain}, "as entered"),
    ):  # fmt: skip
        met.append(replace(met[-1], **changed))
        told.append((name, source))
    columns: dict[str, Any] = {f.name: np.array([getattr(one, f.name) for one in met]) for f in fields(Conditions)}
    columns["pressure"] = conditions.pressure
    found = operate(unit, Conditions(**columns)).total.tolist()
    return (
        Step("nameplate, net of its fan", plate, 1.0, "catalogue"),
        *(
            Step(name, now, now / last if last else 0.0, source)
            for (name, source), now, last in zip(told, found, [plate, *found[:-1]], strict=True)
        ),
    )


def heating(unit: Unit, sea: Scalars, speed: Scalars = 1.0) -> tuple[Array, Array]:
    """Reverse-cycle heat and power [W] with the sea at a temperature; none below the unit's cold limit.

    The last kelvins fall faster in practice (cold oil, defrost of the first hours), which is left out.
    """
    sea = np.asarray(sea, dtype=float)
    factor = np.exp(HEATING_BY_WATER * np.minimum(sea - unit.rating.heating_water, 0.0)) * speed
    able = np.where(sea >= unit.coldest_water, 1.0, 0.0)
    return np.asarray(unit.heating_capacity * factor * able), np.asarray(unit.heating_power * speed * able)


def _compressor(
    unit: Unit, model: Rated, evaporating: Array, sea: Array, water: Array, fouled: Array, speed: Array,
    charged: Scalars = 1.0,
) -> tuple[Array, Array, Array]:  # fmt: skip
    """Cooling, power [W] and condensing temperature [°C]; a compressor moves gas in proportion to its speed.

    Where its circuit moves less than it should, power falls half as much as cooling (assumed: motor and friction stay).
    """
    resistance = 1.0 / (model.water_rate * np.maximum(water, 1e-3)) + model.condenser_resistance / np.maximum(
        1.0 - fouled, 1e-3
    )
    cold = evaporating - model.evaporating
    by = model.slopes
    heat = unit.gross * speed * charged * np.exp(by.capacity_by_evaporating * cold)
    power = unit.compressor_power * speed * (0.5 + 0.5 * charged) * np.exp(by.power_by_evaporating * cold)
    hot = np.zeros_like(heat)
    for _ in range(12):  # condensing temperature less the rated one; contracts by a tenth each time
        cooling, work = heat * np.exp(by.capacity_by_condensing * hot), power * np.exp(by.power_by_condensing * hot)
        hot = np.minimum(sea + resistance * (cooling + work) - model.condensing, 60.0)
    return (
        heat * np.exp(by.capacity_by_condensing * hot),
        power * np.exp(by.power_by_condensing * hot),
        hot + model.condensing,
    )

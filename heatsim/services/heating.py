"""Heating: what a cold day asks of each zone, what units give in reverse at that sea, and what must come on top.

The load is simulated like a summer's: one overcast day of steady cold, nobody aboard and nothing switched on, outdoor
air as in the scenario. Reverse cycle stops below the unit's coldest water: for how many hours of a year is read from
the weather year of the scenario where it has one, else from typical days, one standing for each month.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from heatsim.climate.files import YEAR, HourlyYear, read_year
from heatsim.climate.years import monthly_course, sea_course
from heatsim.equipment.capacity import heating as reversed_unit
from heatsim.equipment.catalogue import Unit
from heatsim.equipment.layouts import COARSE_STEP
from heatsim.equipment.plan import Plan
from heatsim.errors import Finding
from heatsim.loads.simulate import simulate
from heatsim.scenario.resolved import Control, Day, Resolved, Routine, Zone
from heatsim.services.draws import COMMON
from heatsim.services.schedule import ELECTRIC, HOURS, POWER, TEMPERATURE, Assumed, Cell, Column, Schedule, once
from heatsim.services.units import chosen, given
from heatsim.tables import marine

Array = npt.NDArray[np.float64]

BELOW_MEAN = 8.0
"""[K] Of a cold night below its month's mean air where none is entered (assumed)."""
DRYER = 3.0
"""[K] Of its dew point below the air (assumed)."""
WIND, SETPOINT = 4.0, 21.0
"""[m/s], [°C] Where none is entered (assumed)."""
WEAK_FROM = 7.0
"""[°C] Sea below which little heat comes (common practice, no source: 7 °C little, 4.4 °C stop)."""
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
HOURS_OF_YEAR = 8760
COLDEST, DESIGN = 0.4, "ASHRAE Fundamentals, climatic design conditions, from memory"
"""[%] Of a weather year's hours that are colder than its cold day."""
DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
CAUTIONS = (
    "Stop reverse cycle below 4 °C of sea water: it freezes in the condenser and bursts it. Drain water circuits for "
    "the winter, fresh water first.",
    "A heater that burns takes its air from outdoors and sends its exhaust there; a carbon monoxide alarm in every "
    "sleeping space. Electric heaters run for hours at full: no loose plugs, nothing hung over them.",
)


@dataclass(frozen=True)
class Winter:
    """The cold day and the sea by month (12,), with what was assumed of them.

    `sea` is that of every hour of a year, (8760,) [°C]; `over` says of which year.
    """

    day: Day
    setpoint: float
    sea_by_month: Array
    assumed: tuple[Assumed, ...]
    sea: Array
    over: str


def winter(plan: Plan) -> Winter:
    """The cold day of a plan's boat: as entered, else from its weather year, else from the climatology of the sea."""
    place, entered, year = plan.resolved.place, given(plan).heating, weather_year(plan)
    cell = marine.nearest(place.latitude, place.longitude)
    assumed = []
    sea, source = sea_months(plan, year)
    if source:
        assumed.append(Assumed("sea by month", f"{sea.min():.1f} to {sea.max():.1f} °C", source))
    month = entered.month or int(np.argmin(sea)) + 1
    outdoor = entered.outdoor
    if outdoor is None and year is not None:
        outdoor = float(np.percentile(year.air, COLDEST))
        source = f"99.6 % of the hours of {year.name or 'the weather year'} are warmer ({DESIGN})"
        assumed.append(Assumed("outdoor air of the cold day", f"{outdoor:.1f} °C", source))
    elif outdoor is None:
        outdoor = float(cell.air[month - 1]) - BELOW_MEAN
        source = f"assumed: {BELOW_MEAN:g} K below the mean of {MONTHS[month - 1]}, {marine.SOURCE}"
        assumed.append(Assumed("outdoor air of the cold day", f"{outdoor:.1f} °C", source))
    wind, setpoint = entered.wind, entered.setpoint
    if wind is None:
        wind = WIND
        assumed.append(Assumed("wind of the cold day", f"{WIND:g} m/s"))
    if setpoint is None:
        setpoint = SETPOINT
        assumed.append(Assumed("heating setpoint", f"{SETPOINT:g} °C"))
    day = Day(
        kind="hot", month=month, date=f"2025-{month:02d}-21", dry_bulb_max=outdoor, daily_range=0.0,
        dew_point=outdoor - DRYER, wind=wind, sea=float(sea[month - 1]) if entered.sea is None else entered.sea,
        turbidity=None, clearness=0.0,
    )  # fmt: skip
    if year is None:
        over = "Over typical days, the sea on a straight line from the middle of each month to that of the next"
        return Winter(day, setpoint, sea, tuple(assumed), typical_course(sea), over)
    over = f"Over the hours of the weather year {year.name}".rstrip() + " on its own standard time"
    first = np.datetime64(f"{YEAR}-01-01T00:30", "s") - np.timedelta64(round(year.utc_offset * 3600.0), "s")
    moments = first + np.arange(HOURS_OF_YEAR).astype("timedelta64[h]")
    return Winter(day, setpoint, sea, tuple(assumed), monthly_course(tuple(sea), moments), over)


def weather_year(plan: Plan) -> HourlyYear | None:
    """The weather year of the scenario; None where it has none."""
    known = plan.resolved.weather_year
    return None if known is None else read_year(known.path, known.reader)[0]


def sea_months(plan: Plan, year: HourlyYear | None) -> tuple[Array, str]:
    """The sea by month, (12,) [°C], and where it comes from; "" where the file says it."""
    entered, known = given(plan).heating.sea_by_month, plan.resolved.weather_year
    if entered is not None:
        return np.array(entered), ""
    if year is not None and known is not None:
        return np.array(sea_course(known, year)), "" if known.sea else marine.SOURCE
    typical = {day.month: day.sea for day in plan.resolved.days if day.kind == "typical"}
    if len(typical) == 12:
        return np.array([typical[month] for month in range(1, 13)]), "the boat's own typical days"
    return marine.nearest(plan.resolved.place.latitude, plan.resolved.place.longitude).sea, marine.SOURCE


def winter_loads(resolved: Resolved, day: Day, setpoint: float, heading: float) -> tuple[dict[str, float], float]:
    """Largest hourly heating of each conditioned zone on a day, and of all at once. [W]"""
    cold = replace(
        resolved,
        days=(day,),
        place=replace(resolved.place, headings=(heading,)),
        zones=tuple(_wintry(zone, setpoint) for zone in resolved.zones),
    )
    loads = simulate(cold, step=COARSE_STEP, causes=False)
    heat = loads["heating"].transpose("day", "heading", "time", "zone").values[0, 0]
    names = [str(name) for name in loads["zone"].values]
    kept = [i for i, held in enumerate(loads["conditioned"].values) if held]
    return {names[i]: float(heat[:, i].max()) for i in kept}, float(heat[:, kept].sum(axis=1).max())


def reverse_cycle(plan: Plan, sea: float) -> tuple[dict[str, float], float]:
    """Heat that reversed units bring to each zone after their ducts, and their electrical input. [W]"""
    layout, terms = chosen(plan), plan.resolved.terms
    kept = 1.0 - terms.duct_gain

    def one(unit: Unit) -> tuple[float, float]:
        heat, power = reversed_unit(unit, sea, terms.frequency / unit.frequency)
        return float(heat), float(power)

    output = dict.fromkeys(plan.needs.zones, 0.0)
    if layout.plant is not None:
        heat, power = (layout.plant.count * part for part in one(layout.plant.unit))
        whole = sum(offer.count * offer.unit.heating_capacity for offer in layout.offers)
        for offer in layout.offers:
            share = offer.count * offer.unit.heating_capacity / max(whole, 1e-9)
            for zone in offer.zones:
                output[zone] += kept * heat * share * offer.share(zone)
        return output, power
    electrical = 0.0
    for offer in layout.offers:
        heat, power = one(offer.unit)
        electrical += offer.count * power
        for duty in offer.duties:
            for zone in duty.zones:
                output[zone] += kept * offer.count * heat * duty.share(zone)
    return output, electrical


def heating(plan: Plan) -> Schedule:
    """Winter load of each zone, reverse-cycle output at that sea, and back-up."""
    w = winter(plan)
    loads, block = winter_loads(plan.resolved, w.day, w.setpoint, plan.heading)
    output, power = reverse_cycle(plan, w.day.sea)
    rows: list[tuple[Cell, ...]] = []
    for zone, load in loads.items():
        rows.append((zone, load, output.get(zone, 0.0), max(load - output.get(zone, 0.0), 0.0)))
    lacking = sum(max(load - output.get(zone, 0.0), 0.0) for zone, load in loads.items())
    rows.append(("boat", block, sum(output.values()), lacking))
    columns = (
        Column("zone"), Column("winter load", POWER), Column("reverse cycle gives", POWER), Column("back-up", ELECTRIC)
    )  # fmt: skip
    notes = (
        f"Cold day in {MONTHS[w.day.month - 1]}: {w.day.dry_bulb_max:.1f} °C, wind {w.day.wind:g} m/s, sea "
        f"{w.day.sea:.1f} °C, no sun, nobody aboard, nothing switched on, rooms at {w.setpoint:g} °C. Warming up a "
        "cold boat asks for more, or for hours.",
        f"Reversed units take {power / 1e3:.1f} kW of electricity then; in the last kelvins above their limit some "
        "give less than here.",
    )
    return Schedule(
        "heating", "Heating", columns, tuple(rows), notes, tuple(_findings(plan, w, lacking)), once(list(w.assumed)),
        CAUTIONS,
    )  # fmt: skip


def months(plan: Plan) -> Schedule:
    """Month by month: the sea, what units give in reverse, and the hours below the cold-sea limit of the coldest."""
    w = winter(plan)
    limit = coldest_water(plan)
    below, weak = hours_below(w.sea, limit), hours_below(w.sea, WEAK_FROM)
    rows: list[tuple[Cell, ...]] = []
    for month in range(12):
        sea = float(w.sea_by_month[month])
        output, _ = reverse_cycle(plan, sea)
        rows.append((MONTHS[month], sea, sum(output.values()), float(below[month]), float(weak[month])))
    rows.append(("year", None, None, float(below.sum()), float(weak.sum())))
    columns = (
        Column("month"), Column("sea", TEMPERATURE), Column("reverse cycle gives", POWER),
        Column("hours below the limit", HOURS), Column("hours of little heat", HOURS),
    )  # fmt: skip
    notes = (
        f"Limit {limit:.1f} °C, the highest of the units'; little heat below {WEAK_FROM:g} °C ({COMMON}).",
        f"{w.over}. Shallow harbours get colder than the sea outside.",
    )
    return Schedule("heating-months", "Reverse cycle through the year", columns, tuple(rows), notes, (),
                    tuple(one for one in w.assumed if one.what == "sea by month"))  # fmt: skip


def coldest_water(plan: Plan) -> float:
    """Highest limit of cold sea of the units that heat. [°C]"""
    layout = chosen(plan)
    units = [layout.plant.unit] if layout.plant is not None else [offer.unit for offer in layout.offers]
    able = [unit for unit in units if unit.heating_capacity > 0.0]
    return max(unit.coldest_water for unit in able or units)


def typical_course(sea_by_month: Array) -> Array:
    """The sea of every hour of a year, monthly means joined straight between mid-months, (8760,). [°C]"""
    days = np.array(DAYS)
    middles = np.cumsum(days) - days / 2.0
    hour = np.arange(HOURS_OF_YEAR) / 24.0 + 0.5 / 24.0
    return np.asarray(np.interp(hour, middles, sea_by_month, period=365.0))


def hours_below(sea: Array, limit: float) -> Array:
    """Hours of each month of a year's hours (8760,) in which the sea lies below a limit, (12,). [h]"""
    month = np.repeat(np.arange(12), np.array(DAYS) * 24)
    return np.bincount(month[sea < limit], minlength=12).astype(float)


def _wintry(zone: Zone, setpoint: float) -> Zone:
    """A zone in winter: heated to the setpoint, nobody in it and nothing switched on."""
    if zone.control is None:
        return replace(zone, people=(), gains=(), moisture=())
    control: Control = replace(
        zone.control,
        heating_setpoint=_steady(setpoint),
        cooling_setpoint=_steady(setpoint + 10.0),
        heating_on=_steady(1.0),
        cooling_on=_steady(0.0),
        heating_limit=np.inf,
    )
    return replace(zone, people=(), gains=(), moisture=(), control=control)


def _steady(value: float) -> Routine:
    return Routine("steady", (0,), (value,))


def _findings(plan: Plan, w: Winter, lacking: float) -> list[Finding]:
    found, entered = [], given(plan).heating
    limit = coldest_water(plan)
    if w.day.sea < limit and sum(reverse_cycle(plan, limit)[0].values()) > 0.0:
        found.append(
            Finding(
                "reverse-cycle-stops", "services.heating", "the sea is too cold for reverse cycle: all heat must come "
                "from back-up, and water must not stand in condensers", f"{w.day.sea:.1f} °C", f"{limit:.1f} °C",
                "the units' coldest water",
            )
        )  # fmt: skip
    if lacking > (entered.back_up or 0.0) + 1.0:
        found.append(
            Finding(
                "heating-short", "services.heating.back_up", "reverse cycle and back-up do not carry the cold day",
                f"{lacking / 1e3:.1f} kW lacking", f"{(entered.back_up or 0.0) / 1e3:.1f} kW entered",
            )
        )  # fmt: skip
    return found

"""What the units of a plan do at full capacity in the air and the sea they are planned for.

The same models that chose the units (`equipment.capacity`) say what they take off the air and give to the sea, so a
schedule never disagrees with the plan it is made from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from heatsim.equipment.capacity import (
    SEA_HEAT,
    Conditions,
    Operation,
    air_stream,
    chiller,
    operate,
    rated,
    water_coil,
)
from heatsim.equipment.catalogue import Unit
from heatsim.equipment.layouts import Layout
from heatsim.equipment.plan import Plan
from heatsim.equipment.selection import Offer
from heatsim.errors import Fault, HeatsimError
from heatsim.physics.moist_air import DRY_AIR_HEAT, STANDARD_PRESSURE, VAPOUR_HEAT
from heatsim.scenario.services import Services

SEA_STEP, SEA_RANGE = 0.1, 20.0
"""[K] In which, and up to which, warmer sea is tried for the trip (assumed)."""


@dataclass(frozen=True)
class Working:
    """One duty of a plan's units at full capacity: what one of them does, and the air it sends out.

    `temperature` and `humidity_ratio` are those of the air that enters, `supply` and `supply_ratio` of the air behind
    its fan; `air` is the dry air one unit moves [kg/s], `flow` the same as the volume that enters [m³/s].
    """

    offer: Offer
    temperature: float
    humidity_ratio: float
    done: Operation
    air: float
    flow: float
    supply: float
    supply_ratio: float

    @property
    def name(self) -> str:
        """The zones it serves."""
        return " + ".join(self.offer.zones)

    @property
    def label(self) -> str:
        """Model, and how many of it."""
        count = self.offer.count
        return self.offer.unit.model if count == 1 else f"{count} × {self.offer.unit.model}"

    @property
    def heat_rate(self) -> float:
        """Of the air all of them move, by its temperature. [W/K]"""
        return self.offer.count * self.air * (DRY_AIR_HEAT + VAPOUR_HEAT * self.humidity_ratio)


def chosen(plan: Plan) -> Layout:
    """The layout schedules are made for.

    Raises
    ------
    HeatsimError
        Where the plan has none.
    """
    if plan.chosen is None:
        raise HeatsimError(
            Fault(
                "no layout can be built within the boat's terms, so there is nothing to make schedules for",
                path="equipment", remedy="See heatsim plan for the limits that stand in the way, or name a layout",
            )
        )  # fmt: skip
    return plan.chosen


def given(plan: Plan) -> Services:
    """What the scenario says of services; nothing for a boat built without a file."""
    return plan.resolved.services or Services()


def conditions(plan: Plan, unit: Unit, temperature: float, humidity_ratio: float, **changes: Any) -> Conditions:
    """What a unit meets aboard; `changes` replace flows or the sea."""
    terms = plan.resolved.terms
    met: dict[str, Any] = {
        "sea": plan.needs.sea, "water_flow": terms.water_flow, "fouled": terms.fouling,
        "speed": terms.frequency / unit.frequency,
    }  # fmt: skip
    return Conditions(temperature, humidity_ratio, **(met | changes))


def run(plan: Plan, unit: Unit, temperature: float, humidity_ratio: float, **changes: Any) -> Operation:
    """A unit that cools air, by sea water or by chilled water of its rating's temperature."""
    met = conditions(plan, unit, temperature, humidity_ratio, **changes)
    return operate(unit, met) if unit.compressor_power > 0.0 else water_coil(unit, met, unit.rating.water)


def working(plan: Plan, offer: Offer, airflow: float = 1.0) -> Working:
    """One duty at full capacity, `airflow` of its rated air moved."""
    zones = plan.needs.of(offer.zones)
    T, w = (float(values[zones].mean()) for values in (plan.needs.temperature, plan.needs.humidity_ratio))
    unit = offer.unit
    done = run(plan, unit, T, w, airflow=airflow)
    share = airflow * unit.air_share
    air = float(air_stream(unit, np.asarray(T), np.asarray(w), share, STANDARD_PRESSURE))
    supply = T - float(done.sensible) / (air * (DRY_AIR_HEAT + VAPOUR_HEAT * w))
    return Working(offer, T, w, done, air, unit.airflow * share, supply, float(done.leaving_humidity_ratio))


def all_working(plan: Plan) -> tuple[Working, ...]:
    """Every duty of the chosen layout, those by night too."""
    return tuple(working(plan, duty) for duty in chosen(plan).duties)


@dataclass(frozen=True)
class Rejecting:
    """What gives heat to the sea: one unit, or one chiller, `count` of them for `serves`.

    `heat` is what one gives then, `cooling` what it takes off air or chilled water, `power` of its compressor [W];
    `flow` is the sea water one is rated with [m³/s]; `trip` how much warmer the sea may be before it trips [K], by its
    own limit or its high-pressure switch, `pressure` the same by the switch alone.
    """

    serves: tuple[str, ...]
    unit: Unit
    count: int
    heat: float
    cooling: float
    power: float
    flow: float
    trip: float
    pressure: float


PLANT = "plant"
"""What stands for the chillers where sea water is shared out."""


def rejecting(plan: Plan) -> tuple[Rejecting, ...]:
    """Everything of the chosen layout that gives heat to the sea, at full capacity; each physical unit once.

    Its distance to the trip is left out: it is that of the water which a unit really gets.
    """
    layout = chosen(plan)
    found = [
        sea_side(plan, offer.unit, offer.count, tuple(offer.covered), offer.zones, margins=False)
        for offer in layout.offers
        if offer.unit.compressor_power > 0.0
    ]
    if layout.plant is not None:
        found.append(sea_side(plan, layout.plant.unit, layout.plant.count, (PLANT,), (), margins=False))
    return tuple(found)


def sea_side(
    plan: Plan, unit: Unit, count: int, serves: tuple[str, ...], zones: tuple[str, ...],
    water_flow: float | None = None, *, margins: bool = True,
) -> Rejecting:  # fmt: skip
    """One kind of unit with `water_flow` of its rated sea water; that of the boat's terms unless given.

    Without `margins` the distance to its trip is not looked for, and NaN.
    """
    share = plan.resolved.terms.water_flow if water_flow is None else water_flow
    T, w = 24.0, 0.01
    if zones:
        rows = plan.needs.of(zones)
        T, w = (float(values[rows].mean()) for values in (plan.needs.temperature, plan.needs.humidity_ratio))
    warmer = plan.needs.sea + (np.arange(0.0, SEA_RANGE, SEA_STEP) if margins else np.zeros(1))
    switch = replace(unit, hottest_water=math.inf)  # the pressure switch alone
    met = conditions(plan, unit, T, w, sea=warmer, water_flow=share)
    if unit.kind == "chiller":
        cooling, power = chiller(switch, met)
        tripped = cooling <= 0.0
    else:
        done = operate(switch, met)
        cooling, power, tripped = done.coil_heat, done.compressor_power, done.tripped
    pressure = float(warmer[tripped.argmax()] - plan.needs.sea) if tripped.any() else SEA_RANGE
    trip = min(pressure, max(unit.hottest_water - plan.needs.sea, 0.0))
    runs = 1.0 if trip > 0.0 else 0.0
    taken, input_ = runs * float(cooling[0]), runs * float(power[0])
    flow = rated(unit).water_rate / SEA_HEAT
    if not margins:
        trip = pressure = math.nan
    return Rejecting(serves, unit, count, taken + input_, taken, input_, flow, trip, pressure)

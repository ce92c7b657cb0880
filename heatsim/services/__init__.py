"""What a yard needs besides the units: schedules of air, water, condensate, power and heating made from a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

from heatsim.services.schedule import Assumed, Column, Schedule

if TYPE_CHECKING:
    from heatsim.equipment.plan import Plan
    from heatsim.equipment.proof import Proof

__all__ = ["Assumed", "Column", "Schedule", "all_schedules"]


def all_schedules(plan: Plan, proof: Proof) -> tuple[Schedule, ...]:
    """Every schedule of a plan whose chosen layout was proved, in the order a yard reads them.

    Parameters
    ----------
    plan : Plan
    proof : Proof
        Of the chosen layout, from settled starts.

    Returns
    -------
    tuple of Schedule
    """
    from heatsim.services import carbon_dioxide, commissioning, electrical, heating, silent_night
    from heatsim.services.air import balance, intakes, supply
    from heatsim.services.cables import cables
    from heatsim.services.chilled_water import chilled_water
    from heatsim.services.condensate import condensate
    from heatsim.services.generator import generator
    from heatsim.services.grilles import air_systems, ducts, grilles
    from heatsim.services.seawater import sea_schedules
    from heatsim.services.surroundings import surroundings

    around = surroundings(plan, proof)
    systems, assumed = air_systems(plan, around)
    runs, outlets = ducts(plan, systems, assumed, around), grilles(plan, systems, around)
    air = (supply(plan), runs, outlets, balance(plan), intakes(plan))
    power = (
        electrical.loads(plan), electrical.together(plan, proof), electrical.shore(plan), electrical.starting(plan),
        generator(plan, proof), cables(plan),
    )  # fmt: skip
    night = (silent_night.battery(plan, proof), silent_night.battery_hours(plan, proof))
    people = (carbon_dioxide.outdoor_air(plan), carbon_dioxide.carbon_dioxide(plan))
    winter = (heating.heating(plan), heating.months(plan))
    sheets = (commissioning.air_sheet(plan), commissioning.water_sheet(plan), commissioning.rooms_sheet(plan))
    water = (*sea_schedules(plan), *chilled_water(plan, around), *condensate(plan, proof))
    return (*air, *water, *power, *(one for one in night if one is not None), *people, *winter, *sheets)

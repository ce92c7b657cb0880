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
    from heatsim.services.air import balance, intakes, supply
    from heatsim.services.grilles import air_systems, ducts, grilles
    from heatsim.services.seawater import sea_schedules
    from heatsim.services.surroundings import surroundings

    around = surroundings(plan, proof)
    systems, assumed = air_systems(plan, around)
    air = (supply(plan), ducts(plan, systems, assumed), grilles(plan, systems, around), balance(plan), intakes(plan))
    return (*air, *sea_schedules(plan))

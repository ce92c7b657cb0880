"""Why an installed boat falls short: what her units lack, and to what that is due.

A unit's gap is its zones' demand less what it does aboard. It is due to the load where that is more than the nameplate,
to control where one thermostat serves rooms that peak at different hours, and to every correction of the chain that
takes from the nameplate; a zone's float temperature is what the rerun at the installed limits reaches.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from heatsim.equipment.catalogue import catalogue_of
from heatsim.equipment.holding import Held, Reruns
from heatsim.equipment.layouts import ABOARD, Layout
from heatsim.equipment.needs import self_controlled
from heatsim.equipment.plan import HOLDS, Plan, chain
from heatsim.equipment.remedies import Remedy, remedies
from heatsim.equipment.upkeep import upkeep
from heatsim.errors import Fault, HeatsimError

LOAD, CONTROL = "load above the nameplate", "one thermostat for several rooms"


@dataclass(frozen=True)
class Gap:
    """One installed unit: demand and capacity aboard [W], and what it lacks by cause [W], largest first.

    The causes add up to demand less capacity; a cause below zero helps.
    """

    unit: str
    zones: tuple[str, ...]
    demand: float
    capacity: float
    causes: tuple[tuple[str, float], ...]

    @property
    def lack(self) -> float:
        """Demand less capacity, below zero where there is some to spare. [W]"""
        return self.demand - self.capacity

    @property
    def shares(self) -> tuple[tuple[str, float], ...]:
        """Of all that works against the unit, each cause's share; they add up to 1, helpers are left out."""
        against = sum(watts for _, watts in self.causes if watts > 0.0)
        return tuple((name, watts / against) for name, watts in self.causes if watts > 0.0)


@dataclass(frozen=True)
class Shortfall:
    """Every installed unit's gap, where zones float at their limits, zones nothing serves, and remedies.

    `short` names the zones cooled all day that leave their setpoint; `remedies` is empty where they were not asked for.
    """

    gaps: tuple[Gap, ...]
    held: Held
    unserved: tuple[str, ...]
    short: tuple[str, ...]
    remedies: tuple[Remedy, ...]


def shortfall(made: Plan, *, with_remedies: bool = True) -> Shortfall:
    """Why the units installed do not hold the boat of a plan.

    Parameters
    ----------
    made : Plan

    Other Parameters
    ----------------
    with_remedies : bool
        Simulate the boat with every remedy too, which takes as long as the plan itself.

    Raises
    ------
    HeatsimError
        Where the scenario names no installed units.
    """
    aboard = fitted(made)
    served = {name for offer in aboard.offers for name in offer.zones}
    held = Reruns(made.resolved, made.heading).hold(aboard)
    found: list[Remedy] = []
    if with_remedies:
        found = remedies(made.resolved, made.heading, aboard)
        found += upkeep(made.resolved, made.heading, made.needs, catalogue_of(made.resolved), aboard)
    return Shortfall(
        tuple(sorted(_gaps(made, aboard), key=lambda gap: -gap.lack)),
        held,
        tuple(name for name in made.needs.zones if name not in served),
        tuple(name for name, kelvin in held.above.items() if kelvin > HOLDS and name not in made.paused),
        tuple(sorted(found, key=lambda one: -one.power)),
    )


def fitted(made: Plan) -> Layout:
    """The layout of what is installed.

    Raises
    ------
    HeatsimError
        Where the scenario names no installed units.
    """
    aboard = next((layout for layout in made.layouts if layout.name == ABOARD), None)
    if aboard is None or not aboard.offers:
        rule = "a boat that falls short needs the units she has"
        remedy = "Add equipment: existing: [{name: saloon unit, zones: [saloon], capacity: 16 kBtu/h}]"
        raise HeatsimError(Fault(rule, path="equipment.existing", remedy=remedy))
    return aboard


def _gaps(made: Plan, aboard: Layout) -> list[Gap]:
    gaps = []
    for offer in aboard.offers:
        steps = chain(made, offer)
        plate, last = offer.count * steps[0].total, offer.count * steps[-1].total
        together = self_controlled(made.needs, made.needs.of(offer.zones)).total
        causes = {LOAD: together - plate}
        if len(offer.zones) > 1:
            causes[CONTROL] = offer.demand.total - together
        for before, after in pairwise(steps):
            causes[after.name] = offer.count * (before.total - after.total)
        found = tuple(sorted(causes.items(), key=lambda item: -item[1]))
        gaps.append(Gap(offer.unit.model, offer.zones, offer.demand.total, last, found))
    return gaps

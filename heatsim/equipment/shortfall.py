"""Why an installed boat falls short: what her units lack, and to what that is due.

A unit's gap is its zones' demand less what it does aboard. It is due to the load where that is more than the nameplate,
and to every correction of the chain that takes from it; a zone's float temperature is what the rerun at the installed
limits reaches.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from heatsim.equipment.holding import Held, Reruns
from heatsim.equipment.layouts import ABOARD, Layout
from heatsim.equipment.plan import Plan, chain
from heatsim.equipment.remedies import Remedy, remedies
from heatsim.errors import Fault, HeatsimError

LOAD = "load above the nameplate"


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


@dataclass(frozen=True)
class Shortfall:
    """Every installed unit's gap, where zones float at their limits, zones nothing serves, and remedies."""

    gaps: tuple[Gap, ...]
    held: Held
    unserved: tuple[str, ...]
    remedies: tuple[Remedy, ...]


def shortfall(made: Plan) -> Shortfall:
    """Why the units installed do not hold the boat of a plan.

    Raises
    ------
    HeatsimError
        Where the scenario names no installed units.
    """
    aboard = next((layout for layout in made.layouts if layout.name == ABOARD), None)
    if aboard is None:
        rule = "a boat that falls short needs the units she has"
        remedy = "Add equipment: existing: [{name: saloon unit, zones: [saloon], capacity: 16 kBtu/h}]"
        raise HeatsimError(Fault(rule, path="equipment.existing", remedy=remedy))
    served = {name for offer in aboard.offers for name in offer.zones}
    return Shortfall(
        tuple(sorted(_gaps(made, aboard), key=lambda gap: gap.capacity - gap.demand)),
        Reruns(made.resolved, made.heading).hold(aboard),
        tuple(name for name in made.needs.zones if name not in served),
        tuple(remedies(made.resolved, made.heading, aboard)),
    )


def _gaps(made: Plan, aboard: Layout) -> list[Gap]:
    gaps = []
    for offer in aboard.offers:
        steps = chain(made, offer)
        plate, last = offer.count * steps[0].total, offer.count * steps[-1].total
        causes = {LOAD: offer.demand.total - plate}
        for before, after in pairwise(steps):
            causes[after.name] = offer.count * (before.total - after.total)
        found = tuple(sorted(causes.items(), key=lambda item: -item[1]))
        gaps.append(Gap(offer.unit.model, offer.zones, offer.demand.total, last, found))
    return gaps

"""A small plan made by hand for tests of power and people: the demonstration sailing yacht with a unit in each room."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import inf

from heatsim import resolve, simulate
from heatsim.equipment.catalogue import read_catalogue
from heatsim.equipment.layouts import EACH, Layout
from heatsim.equipment.needs import needs, own
from heatsim.equipment.plan import Plan
from heatsim.equipment.proof import Proof, prove
from heatsim.equipment.selection import Bench, Choice
from heatsim.scenario.electrics import PowerAboard
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolved import Resolved
from heatsim.scenario.starters import demo

HEADING = 120.0
UNITS = {"forward cabin": "Cove 5 50 Hz", "saloon": "Cove 12 50 Hz", "aft cabin": "Cove 5 50 Hz"}


@cache
def boat() -> Resolved:
    """The boat at one heading on her two design days, without what is said of her power."""
    resolved = resolve(read_text(demo("dunlin-11")))
    return replace(
        resolved,
        place=replace(resolved.place, headings=(HEADING,)),
        days=tuple(day for day in resolved.days if day.kind != "typical"),
        terms=replace(resolved.terms, installed=(), shore=inf, generator=inf),
        power=PowerAboard(),
    )


@cache
def planned() -> Plan:
    """Its plan with a unit of our choice in each room."""
    resolved = boat()
    n = needs(simulate(resolved, step=900.0, causes=False), resolved)
    known = {unit.model: unit for unit in read_catalogue()}
    bench = Bench(known.values(), n, resolved.terms)
    offers = []
    for zone, model in UNITS.items():
        at = n.of([zone])
        offers.append(bench.offer(known[model], at, own(n, at[0])))
    layout = Layout(EACH, Choice(tuple(offers), 0.0, True, 0.0, len(offers)))
    return Plan(resolved, n, (layout,), layout, HEADING, None, ())


@cache
def proved() -> Proof:
    """Its proof from settled starts."""
    plan = planned()
    assert plan.chosen is not None
    return prove(plan.boat, plan.chosen, plan.heading, starts=("settled",))


def powered(power: PowerAboard) -> Plan:
    """The plan with other power aboard."""
    return replace(planned(), resolved=replace(planned().resolved, power=power))

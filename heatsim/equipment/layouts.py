"""Arrangements of equipment compared side by side: one unit, one a zone, groups, a central plant, what is installed.

Each layout is chosen best within its own kind of groups and carries what tells them apart: capacity, margin, drift of
zones without a thermostat, refrigerant in the smallest room, power, weight, price.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from heatsim.equipment.catalogue import Unit
from heatsim.equipment.chilled import Plant, plant_for
from heatsim.equipment.drift import drift
from heatsim.equipment.fresh_air import Treated, treat
from heatsim.equipment.needs import Needs, adjacent, connected_groups, own, shared
from heatsim.equipment.selection import Bench, Choice, Offer, Relaxation, choose, offers_for, relaxations, value_of
from heatsim.errors import Fault, HeatsimError
from heatsim.scenario.resolved import Resolved
from heatsim.scenario.terms import Installed, Terms
from heatsim.tables.loader import by_name

Array = npt.NDArray[np.float64]

ONE, EACH, GROUPS, CENTRAL, ABOARD = "one unit", "one a zone", "groups", "central plant", "installed"
TREATED = "central, treated air"
"""A central plant whose outdoor air goes through a coil of its own first: compared, not chosen, because the reruns that
show what a layout holds do not treat air yet."""


@dataclass(frozen=True)
class Layout:
    """One arrangement.

    `drifts` (zone name → K) and `crowded` (zone name → charge over limit) hold only what is not nothing; `relaxed` says
    which limit to lift where there is no choice; `short` names zones an installed unit does not carry.
    """

    name: str
    choice: Choice | None
    plant: Plant | None = None
    drifts: dict[str, float] = field(default_factory=dict)
    crowded: dict[str, float] = field(default_factory=dict)
    relaxed: tuple[Relaxation, ...] = ()
    short: tuple[str, ...] = ()
    treated: Treated | None = None

    @property
    def offers(self) -> tuple[Offer, ...]:
        """Its units, air handlers for a central plant."""
        return () if self.choice is None else self.choice.offers

    @property
    def possible(self) -> bool:
        """Whether there is a choice at all."""
        return self.choice is not None and (self.name not in (CENTRAL, TREATED) or self.plant is not None)

    @property
    def capacity(self) -> float:
        """Corrected capacity of what takes heat to the sea. [W]"""
        return self.plant.capacity if self.plant is not None else sum(offer.total for offer in self.offers)

    @property
    def power(self) -> float:
        """Electrical input with everything running. [W]"""
        fresh = self.treated.fan_power if self.treated else 0.0
        return sum(o.power for o in self.offers) + (self.plant.power if self.plant else 0.0) + fresh

    @property
    def cost(self) -> float:
        """Price of all units."""
        return sum(o.cost for o in self.offers) + sum(one.cost for one in (self.plant, self.treated) if one)

    @property
    def weight(self) -> float:
        """Of all units. [kg]"""
        return sum(o.weight for o in self.offers) + sum(one.weight for one in (self.plant, self.treated) if one)

    @property
    def running_apparent(self) -> float:
        """Apparent power of everything running. [VA]"""
        running = sum(offer.apparent for offer in self.offers)
        if self.plant is not None:
            running += self.plant.unit.apparent(self.plant.current)
        if self.treated is not None:
            running += self.treated.count * self.treated.unit.apparent(self.treated.unit.running_current)
        return running

    @property
    def start_apparent(self) -> float:
        """Largest step of apparent power when one unit starts while all others run. [VA]"""
        starts = [o.unit.apparent(o.unit.start_current) - o.apparent / o.count for o in self.offers]
        if self.plant is not None:
            one = self.plant.unit
            starts.append(one.apparent(one.start_current - self.plant.current / self.plant.count))
        return self.running_apparent + max(starts, default=0.0)

    @property
    def worst_drift(self) -> float:
        """Of zones without a thermostat, the largest departure from setpoint. [K]"""
        return max((abs(kelvin) for kelvin in self.drifts.values()), default=0.0)

    @property
    def margin(self) -> float:
        """Least margin of a unit over its demand, and of the plant over its own. [-]"""
        margins = [offer.margin for offer in self.offers]
        if self.plant is not None:
            margins.append(self.plant.capacity / self.plant.demand - 1.0)
        return min(margins, default=0.0)


def layouts(resolved: Resolved, n: Needs, units: Iterable[Unit], conductance: Array) -> list[Layout]:
    """Every arrangement that the terms allow or forbid, in the order a designer reads them.

    Parameters
    ----------
    conductance : (zone, zone) array
        `drift.zone_conductance` of the needs' zones. [W/K]
    """
    units = list(units)
    touching, bench = adjacent(resolved, n.zones), Bench(units, n, resolved.terms)
    found = []
    for name, groups in (
        (ONE, [tuple(n.zones)] if len(n.zones) > 1 else []),
        (EACH, [(zone,) for zone in n.zones]),
        (GROUPS, connected_groups(touching, resolved.terms.group_size)),
    ):
        if not groups:
            continue

        def solve(terms: Terms, groups: Sequence[tuple[str, ...]] = groups) -> Choice | None:
            steady = [group for group in groups if _drifts(n, conductance, group) <= terms.largest_drift]
            return choose(offers_for(bench.under(terms), steady, resolved), n.zones, terms)

        terms = resolved.terms if name != EACH else replace(resolved.terms, together=())
        choice = solve(terms)
        relaxed = () if choice is not None else tuple(relaxations(terms, solve))
        found.append(_finished(Layout(name, choice, relaxed=relaxed), resolved, n, conductance))
    found.append(_finished(_central(resolved, n, units), resolved, n, conductance))
    treated = treat(n, resolved, units)
    if treated is not None:
        found.append(_finished(_central(resolved, n, units, treated), resolved, n, conductance))
    if resolved.terms.installed:
        found.insert(0, _finished(aboard(resolved, n, units), resolved, n, conductance))
    return found


def best(found: Sequence[Layout], terms: Terms) -> Layout | None:
    """The layout of least worth among those that a yard may build: no charge above its limit, nothing short."""
    able = [
        one for one in found if one.possible and not one.crowded and not one.short and one.name not in (ABOARD, TREATED)
    ]

    def by_worth(one: Layout) -> tuple[bool, float]:
        """What no row prices or weighs comes after what is known, by its power."""
        value = {"cost": one.cost, "weight": one.weight, "power": one.power}[terms.objective]
        return value != value, one.power if value != value else value

    return min(able, key=by_worth, default=None)


def _drifts(n: Needs, conductance: Array, group: Sequence[str]) -> float:
    """Largest drift in a group with the best shares. [K]"""
    if len(group) == 1:
        return 0.0
    zones = n.of(group)
    return float(np.abs(drift(n, conductance, zones, shared(n, zones).shares)).max())


def _central(resolved: Resolved, n: Needs, units: Sequence[Unit], treated: Treated | None = None) -> Layout:
    """A central plant, with outdoor air treated apart where that is given."""
    terms, name = resolved.terms, CENTRAL if treated is None else TREATED
    rest = n if treated is None else treated.needs
    bench = Bench(units, rest, terms)
    handlers = offers_for(bench, [(zone,) for zone in n.zones], resolved, kinds=("air handler",))
    choice = choose(handlers, n.zones, terms)
    if choice is None:
        return Layout(name, None)
    plant = plant_for(bench, choice.offers, terms, None if treated is None else treated.coil)
    made = Layout(name, choice, plant, treated=treated)
    if plant is None:
        return made
    drawn = plant.unit.apparent(plant.current) + sum(offer.apparent for offer in choice.offers)
    if drawn > terms.shore:
        return Layout(name, None, relaxed=(Relaxation("shore supply", plant.cost),))
    return made


def aboard(resolved: Resolved, n: Needs, units: Sequence[Unit]) -> Layout:
    """What is aboard, by its models where the catalogue has them, else by scaling a unit of its plate capacity."""
    known = {unit.model: unit for unit in units}
    bench = Bench(units, n, resolved.terms)
    offers, short = [], []
    served: set[str] = set()
    for one in resolved.terms.installed:
        unit = known[one.model] if one.model in known else _like(one, units)
        if one.air_flow != 1.0:
            unit = replace(unit, model=f"{unit.model} at {100.0 * one.air_flow:.3g} % air", air_share=one.air_flow)
        names = [zone for zone in one.zones if zone in n.zones]
        if not names:
            continue
        zones = n.of(names)
        offer = bench.offer(unit, zones, own(n, zones[0]) if len(zones) == 1 else shared(n, zones))
        offers.append(offer)
        served.update(names)
        if offer.margin < 0.0:
            short += names
    short += [zone for zone in n.zones if zone not in served]
    worth = sum(value_of(offer, resolved.terms.objective) for offer in offers)
    return Layout(ABOARD, Choice(tuple(offers), worth, True, 0.0, len(offers)), short=tuple(short))


def _like(one: Installed, units: Sequence[Unit]) -> Unit:
    """A unit of the plate's capacity: the nearest self-contained one, scaled."""
    near = [unit for unit in units if unit.kind == "self-contained"]
    if not near:
        rule = "an installed unit needs its model in the catalogue, or a self-contained unit there to scale from"
        raise HeatsimError(Fault(rule, path="equipment.existing", value=one.name))
    base = min(near, key=lambda unit: abs(np.log(one.capacity / (unit.gross - unit.fan_power))))
    factor = one.capacity / (base.gross - base.fan_power)
    scaled = {
        name: getattr(base, name) * factor
        for name in ("gross", "gross_sensible", "airflow", "compressor_power", "fan_power", "running_current",
                     "start_current", "charge", "heating_capacity", "heating_power", "water_flow")
    }  # fmt: skip
    return replace(base, model=one.name, price=0.0, **scaled)


def _finished(layout: Layout, resolved: Resolved, n: Needs, conductance: Array) -> Layout:
    """A layout with its drifts and its refrigerant in the smallest room it can leak into."""
    volume = {zone.name: zone.volume for zone in resolved.zones}
    drifts: dict[str, float] = {}
    crowded: dict[str, float] = {}
    for offer in layout.offers:
        zones = n.of(offer.zones)
        if len(zones) > 1:
            apart = drift(n, conductance, zones, offer.demand.shares)
            drifts |= {name: float(kelvin) for name, kelvin in zip(offer.zones, apart, strict=True) if kelvin}
        if offer.unit.refrigerant and offer.unit.charge > 0.0:
            limit = float(by_name("refrigerants")[offer.unit.refrigerant]["practical_limit_kg_per_m3"])
            room = min(offer.zones, key=volume.__getitem__)
            share = offer.unit.charge / volume[room] / limit
            if share > 1.0:
                crowded[room] = share
    return replace(layout, drifts=drifts, crowded=crowded)

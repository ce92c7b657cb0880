"""Arrangements of equipment compared side by side: one unit, one a zone, groups, a central plant, what is installed.

Each layout is chosen best within its own kind of groups and carries what tells them apart: capacity, margin, drift of
zones without a thermostat, refrigerant in the smallest room, power, weight, price.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from heatsim.equipment.capacity import SEA_HEAT, rated
from heatsim.equipment.catalogue import Unit
from heatsim.equipment.change_over import changed_over, cooled_pairs, offers_by_day_and_night
from heatsim.equipment.chilled import Plant, plant_for
from heatsim.equipment.drift import drift
from heatsim.equipment.fresh_air import Treated, treat
from heatsim.equipment.needs import Needs, adjacent, connected_groups, demand_of, needs, shared
from heatsim.equipment.selection import Bench, Choice, Offer, Relaxation, choose, offers_for, relaxations, value_of
from heatsim.errors import Fault, HeatsimError
from heatsim.loads.simulate import simulate
from heatsim.scenario.resolved import Resolved
from heatsim.scenario.terms import Installed, Terms
from heatsim.tables.loader import by_name

Array = npt.NDArray[np.float64]

ONE, EACH, GROUPS, CENTRAL, ABOARD = "one unit", "one a zone", "groups", "central plant", "installed"
DAY_NIGHT = "day and night"
"""Groups, and units whose dampers turn from rooms of the day to rooms of the night."""
TREATED = "central, treated air"
"""A central plant whose outdoor air goes through a coil of its own first."""
COARSE_STEP = 900.0
"""[s] Of loads for a sweep of headings, or of a boat whose cooling changes over (within 0.1 % of fine ones)."""
TOO_SMALL, TOO_COARSE, NO_THERMOSTAT = "too small", "too coarse", "no thermostat"
TOO_DAMP, ONE_LOST = "too damp", "one unit lost"


@dataclass(frozen=True)
class Failure:
    """A zone that a layout does not serve within its terms: why (one of the names above), the value and the limit.

    In K above the setpoint, in hours of damp air, or in °C with one unit lost.
    """

    zone: str
    why: str
    value: float
    limit: float


@dataclass(frozen=True)
class Layout:
    """One arrangement.

    `drifts` (zone name → K) and `crowded` (zone name → charge over limit) hold only what is not nothing; `relaxed` says
    which limit to lift where there is no choice; `short` names zones an installed unit does not carry. `failures` is
    what its checks found, None where it was not checked; `cut` choices of less worth failed before it.
    """

    name: str
    choice: Choice | None
    plant: Plant | None = None
    drifts: dict[str, float] = field(default_factory=dict)
    crowded: dict[str, float] = field(default_factory=dict)
    relaxed: tuple[Relaxation, ...] = ()
    short: tuple[str, ...] = ()
    treated: Treated | None = None
    failures: tuple[Failure, ...] | None = None
    cut: int = 0
    energy: tuple[float, float] | None = None
    """By day and by night of its hottest day that was proved, kWh."""
    boat: Resolved | None = None
    """The boat with its cooling switched as this layout asks for, where that is not the scenario's."""

    @property
    def offers(self) -> tuple[Offer, ...]:
        """Its units, air handlers for a central plant."""
        return () if self.choice is None else self.choice.offers

    @property
    def duties(self) -> tuple[Offer, ...]:
        """What its units do; one that serves other rooms at night does two."""
        return tuple(duty for offer in self.offers for duty in offer.duties)

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
        """Apparent power of everything running, an allowance for sea water pumps included. [VA]"""
        running = sum(offer.apparent for offer in self.offers)
        if self.plant is not None:
            running += self.plant.apparent
        if self.treated is not None:
            running += self.treated.count * self.treated.unit.apparent(self.treated.unit.running_current)
        return running

    @property
    def sea_water(self) -> float:
        """That all of it is rated with, running together. [m³/s]"""
        units = [(offer.unit, offer.count) for offer in self.offers]
        if self.plant is not None:
            units.append((self.plant.unit, self.plant.count))
        return sum(n * rated(unit).water_rate / SEA_HEAT for unit, n in units if unit.compressor_power > 0.0)

    @property
    def start_apparent(self) -> float:
        """Largest step of apparent power when one unit starts while all others run. [VA]"""
        starts = [o.unit.apparent(o.unit.start_current) - o.unit.apparent(o.current) / o.count for o in self.offers]
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
        margins = [offer.margin for offer in self.duties]
        if self.plant is not None:
            margins.append(self.plant.capacity / self.plant.demand - 1.0)
        return min(margins, default=0.0)


@dataclass(frozen=True)
class Search:
    """What one arrangement is chosen from, and how: `build` makes the layout of least worth from some of its offers."""

    name: str
    offers: tuple[Offer, ...]
    build: Callable[[Sequence[Offer]], Layout]
    boat: Resolved | None = None
    """With its cooling switched as the arrangement asks for, where that is not the scenario's."""


def layouts(resolved: Resolved, n: Needs, units: Iterable[Unit], conductance: Array) -> list[Layout]:
    """Every arrangement that the terms allow or forbid, in the order a designer reads them, none of them checked.

    Parameters
    ----------
    conductance : (zone, zone) array
        `drift.zone_conductance` of the needs' zones. [W/K]
    """
    return [search.build(search.offers) for search in searches(resolved, n, units, conductance)]


def searches(resolved: Resolved, n: Needs, units: Iterable[Unit], conductance: Array) -> list[Search]:
    """The arrangements of `layouts`, each with all it may be chosen from; same parameters."""
    units = list(units)
    terms, bench = resolved.terms, Bench(units, n, resolved.terms)

    def finished(layout: Layout) -> Layout:
        return _finished(layout, resolved, n, conductance)

    found = []
    if terms.installed:
        fitted = finished(aboard(resolved, n, units))
        found.append(Search(ABOARD, (), lambda _: fitted))
    for name, groups in (
        (ONE, [tuple(n.zones)] if len(n.zones) > 1 else []),
        (EACH, [(zone,) for zone in n.zones]),
        (GROUPS, connected_groups(adjacent(resolved, n.zones), terms.group_size)),
    ):
        if groups:
            drifting = {group: _drifts(n, conductance, group) for group in groups}
            found.append(_of_groups(name, drifting, bench, resolved, finished))
    if cooled_pairs(resolved):
        found.append(_day_and_night(resolved, bench, conductance))
    treated = treat(n, resolved, units)
    for name, air in ((CENTRAL, None), (TREATED, treated)):
        if name == CENTRAL or treated is not None:
            found.append(
                _central(name, bench if air is None else bench.under(needs=air.needs), resolved, air, finished)
            )
    return found


def _of_groups(
    name: str, drifting: dict[tuple[str, ...], float], bench: Bench, resolved: Resolved,
    finished: Callable[[Layout], Layout], more: Sequence[Offer] = (),
) -> Search:  # fmt: skip
    """Direct units over groups that may share one; each group with how far it drifts at best [K]; `more` offers."""
    terms = resolved.terms if name != EACH else replace(resolved.terms, together=())

    def offers(terms: Terms) -> list[Offer]:
        return offers_for(bench.under(terms), [g for g, kelvin in drifting.items() if kelvin <= terms.largest_drift],
                          resolved)  # fmt: skip

    def relaxed(terms: Terms) -> Choice | None:
        return choose([*offers(terms), *more], bench.needs.zones, terms)

    def build(some: Sequence[Offer]) -> Layout:
        choice = choose(some, bench.needs.zones, terms)
        why = () if choice is not None or len(some) < len(every) else tuple(relaxations(terms, relaxed))
        return finished(Layout(name, choice, relaxed=why))

    every = (*offers(terms), *more)
    return Search(name, every, build)


def _day_and_night(resolved: Resolved, bench: Bench, conductance: Array) -> Search:
    """Units that serve other rooms at night, and groups for the rooms that are in no such pair."""
    boat = changed_over(resolved)
    n = needs(simulate(boat, step=COARSE_STEP, causes=False), boat)
    own = bench.under(needs=n)
    turning = offers_by_day_and_night(own, boat)
    turned = {zone for pair in cooled_pairs(resolved) for zone in (*pair.day, *pair.night)}
    rest = [zone for zone in n.zones if zone not in turned]
    drifting = {
        group: _drifts(n, conductance, group)
        for group in connected_groups(adjacent(resolved, rest), resolved.terms.group_size)
    }

    def finished(layout: Layout) -> Layout:
        return _finished(replace(layout, boat=boat), boat, n, conductance)

    return replace(_of_groups(DAY_NIGHT, drifting, own, boat, finished, turning), boat=boat)


def best(found: Sequence[Layout], terms: Terms) -> Layout | None:
    """The layout of least worth among those a yard may build, first among those whose checks found nothing.

    No charge above its limit, nothing short, and not what is installed.
    """
    able = [one for one in found if one.possible and not one.crowded and not one.short and one.name != ABOARD]

    def by_worth(one: Layout) -> tuple[bool, bool, float]:
        """What no row prices or weighs comes after what is known, by its power."""
        value = value_of_layout(one, terms)
        return bool(one.failures), value != value, one.power if value != value else value

    return min(able, key=by_worth, default=None)


def value_of_layout(layout: Layout, terms: Terms) -> float:
    """What the objective counts of a layout; NaN where the catalogue is silent."""
    return {"cost": layout.cost, "weight": layout.weight, "power": layout.power}[terms.objective]


def _drifts(n: Needs, conductance: Array, group: Sequence[str]) -> float:
    """Largest drift in a group with the best shares. [K]"""
    if len(group) == 1:
        return 0.0
    zones = n.of(group)
    return float(np.abs(drift(n, conductance, zones, shared(n, zones).shares)).max())


def _central(
    name: str, bench: Bench, resolved: Resolved, treated: Treated | None, finished: Callable[[Layout], Layout]
) -> Search:
    """A central plant, with outdoor air treated apart where that is given."""
    terms, zones = resolved.terms, bench.needs.zones

    def build(some: Sequence[Offer]) -> Layout:
        choice = choose(some, zones, terms)
        if choice is None:
            return Layout(name, None)
        plant = plant_for(bench, choice.offers, terms, None if treated is None else treated.coil)
        if plant is None:
            return finished(Layout(name, choice, treated=treated))
        made = Layout(name, choice, plant, treated=treated)
        for limit, drawn, most in (
            ("shore supply", made.running_apparent, terms.shore), ("generator", made.power, terms.generator)
        ):  # fmt: skip
            if drawn > most:
                worth = value_of_layout(made, terms)
                return Layout(name, None, relaxed=(Relaxation(limit, worth, drawn, most),))
        return finished(made)

    return Search(name, tuple(offers_for(bench, [(zone,) for zone in zones], resolved, ("air handler",))), build)


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
        offer = bench.offer(unit, zones, demand_of(n, zones))
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
    for offer in layout.duties:
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

"""The best units for a boat, by mixed-integer programming over groups of adjacent zones.

Every group that may share a unit is listed once, with the units that carry it; a choice covers each zone exactly once
within the power aboard and makes cost, weight or running power least. Of the units for a group, those that another
beats in all that a choice or its checks weigh are left out, which loses nothing. Solver: HiGHS by scipy.optimize.milp.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from copy import copy
from dataclasses import dataclass, replace
from math import inf

import numpy as np
import numpy.typing as npt

from heatsim.equipment.capacity import SEA_HEAT, Conditions, operate, rated, water_coil
from heatsim.equipment.catalogue import Unit
from heatsim.equipment.needs import Demand, Needs, demand_of
from heatsim.physics.openings import GRAVITY
from heatsim.scenario.electrics import PUMP_FACTOR
from heatsim.scenario.resolved import Resolved
from heatsim.scenario.terms import Terms

Array = npt.NDArray[np.float64]
Scalars = float | Array

DIRECT = ("self-contained", "split")
"""Kinds that cool a group's air with sea water themselves."""
LONGEST = 8.0
"""[s] After which the best choice so far is taken and its gap said."""
MOST_TOGETHER = 4
"""Units of a kind side by side for a group that one cannot carry."""
SAME_FREQUENCY = 1.0
"""[Hz] Within which a unit belongs to the mains aboard; others may be installed, but are not chosen."""
SEA_EFFICIENCY = 0.25
"""[-] Of a small sea water pump, motor included (assumed)."""
PUMP_HEAD = 5.0
"""[m] Against which a sea water pump is allowed for until its pipes are known (assumed)."""
SEA_DENSITY = 1023.0
"""[kg/m³] At 25 °C (reference: gsw)."""
SLEEPING = ("cabin", "owner cabin", "crew cabin")
"""Uses that count as sleeping cabins for noise."""


@dataclass(frozen=True)
class Offer:
    """One unit, or `count` of a kind, for one group of zones: corrected capacity, net of fan and ducts. [W]"""

    zones: tuple[str, ...]
    unit: Unit
    count: int
    demand: Demand
    total: float
    sensible: float
    power: float
    """Electrical input then, fan included."""
    current: float
    """Of one phase, by the rated current and the power's change. [A]"""
    cost: float
    weight: float
    pump: float = 0.0
    """Its share of the sea water pumps, where their power is not entered. [VA]"""
    by_night: Offer | None = None
    """The same unit for the zones that its dampers turn to at night; nothing of it is bought or drawn again."""

    @property
    def duties(self) -> tuple[Offer, ...]:
        """What it does: one, or one by day and one by night."""
        return (self,) if self.by_night is None else (self, self.by_night)

    @property
    def covered(self) -> tuple[str, ...]:
        """All zones it serves at some hour."""
        return tuple(zone for duty in self.duties for zone in duty.zones)

    @property
    def margin(self) -> float:
        """Corrected capacity over demand less one, the smaller of total and sensible."""
        by = (self.total / max(self.demand.total, 1.0), self.sensible / max(self.demand.sensible, 1.0))
        return min(by) - 1.0

    @property
    def apparent(self) -> float:
        """Apparent power, its share of the pumps included. [VA]"""
        return self.unit.apparent(self.current) + self.pump

    @property
    def smallest_step(self) -> float:
        """Sensible capacity that comes on at once when one of them starts at its smallest stage. [W]"""
        return self.sensible * self.unit.smallest_stage / self.count

    @property
    def left(self) -> float:
        """Sensible capacity left with one of them out of order. [W]"""
        return self.sensible * (self.count - 1) / self.count

    def share(self, zone: str) -> float:
        """Of its air that a zone gets, 0 for one it does not serve."""
        return float(self.demand.shares[self.zones.index(zone)]) if zone in self.zones else 0.0


@dataclass(frozen=True)
class Choice:
    """What was chosen: offers, its worth, whether it is proved best within its terms, else the gap left. [-]"""

    offers: tuple[Offer, ...]
    worth: float
    optimal: bool
    gap: float
    considered: int
    """Offers among which it was chosen."""


@dataclass(frozen=True)
class Relaxation:
    """A limit that stood in the way: its name, and the worth of the choice without it, which no proof has tried.

    Of the power aboard also the least that any choice would draw, and what there is. [VA] or [W]
    """

    limit: str
    worth: float
    asked: float | None = None
    there: float | None = None


LIMITS: dict[str, Callable[[Terms], Terms]] = {
    "largest_oversize": lambda t: replace(t, largest_oversize=inf),
    "largest_drift": lambda t: replace(t, largest_drift=inf),
    "largest_size": lambda t: replace(t, largest=(inf, inf, inf)),
    "cabin_noise": lambda t: replace(t, cabin_noise=inf),
    "shore supply": lambda t: replace(t, shore=inf),
    "apart": lambda t: replace(t, apart=()),
    "together": lambda t: replace(t, together=()),
    "generator": lambda t: replace(t, generator=inf),
    "margins": lambda t: replace(t, margins=()),
}
"""Limits of a plan and how each is lifted."""


POWER_ABOARD: dict[str, tuple[Callable[[Offer], float], Callable[[Terms], float]]] = {
    "shore supply": (lambda offer: offer.apparent, lambda t: t.shore),
    "generator": (lambda offer: offer.power, lambda t: t.generator),
}
"""Limits of the power aboard: what an offer draws of it, and how much there is."""


class Bench:
    """Units of a catalogue at the conditions of one boat; each is worked out once for each state of entering air."""

    def __init__(self, units: Iterable[Unit], needs: Needs, terms: Terms) -> None:
        self.needs, self.terms = needs, terms
        self.units = [
            u for u in units if u.compressor_power == 0.0 or abs(u.frequency - terms.frequency) <= SAME_FREQUENCY
        ]
        self._known: dict[tuple[str, float, float], tuple[float, float, float]] = {}

    def under(self, terms: Terms | None = None, needs: Needs | None = None) -> Bench:
        """The same units at the same conditions under other limits (`LIMITS` changes none of them) or other loads."""
        other = copy(self)
        other.terms, other.needs = terms or self.terms, needs or self.needs
        return other

    def state(self, zones: Sequence[int]) -> tuple[float, float]:
        """Temperature and humidity ratio of air mixed from zones, to a hundredth of a kelvin."""
        n, part = self.needs, list(zones)
        return round(float(n.temperature[part].mean()), 2), round(float(n.humidity_ratio[part].mean()), 5)

    def prepare(self, groups: Iterable[Sequence[int]], units: Iterable[Unit] | None = None) -> None:
        """Work units, all by default, out for all these groups at once."""
        wanted = sorted({self.state(zones) for zones in groups})
        for unit in self.units if units is None else units:
            states = [state for state in wanted if (unit.model, *state) not in self._known]
            if unit.kind == "chiller" or not states:
                continue
            T, w = np.array(states).T
            met = self.conditions(unit, T, w)
            done = operate(unit, met) if unit.compressor_power > 0.0 else water_coil(unit, met, unit.rating.water)
            kept = 1.0 - self.terms.duct_gain
            power = done.compressor_power + done.fan_power
            for state, *values in zip(states, kept * done.total, kept * done.sensible, power, strict=True):
                self._known[unit.model, *state] = tuple(map(float, values))  # type: ignore[assignment]

    def performance(self, unit: Unit, zones: Sequence[int]) -> tuple[float, float, float]:
        """Net total and sensible capacity after ducts, and electrical input, for air mixed from zones. [W]"""
        if (unit.model, *self.state(zones)) not in self._known:
            self.prepare([zones], [unit])
        return self._known[unit.model, *self.state(zones)]

    def conditions(self, unit: Unit, temperature: Scalars, humidity_ratio: Scalars) -> Conditions:
        """What a unit aboard meets."""
        t = self.terms
        return Conditions(
            temperature, humidity_ratio, self.needs.sea, water_flow=t.water_flow, fouled=t.fouling,
            speed=t.frequency / unit.frequency,
        )  # fmt: skip

    def offer(self, unit: Unit, zones: Sequence[int], demand: Demand, count: int = 1) -> Offer:
        """A unit, or several of a kind side by side, for zones, whether it suffices or not."""
        total, sensible, power = self.performance(unit, zones)
        rated = unit.compressor_power + unit.fan_power
        names = tuple(self.needs.zones[z] for z in zones)
        current = unit.running_current * power / rated if rated > 0.0 else unit.running_current
        total, sensible, power = count * total, count * sensible, count * power
        return Offer(names, unit, count, demand, total, sensible, power, count * current, count * unit.price,
                     count * unit.weight, count * pump_apparent(unit, self.terms))  # fmt: skip


def offers_for(
    bench: Bench, groups: Iterable[tuple[str, ...]], resolved: Resolved, kinds: Sequence[str] = DIRECT
) -> list[Offer]:
    """Units that carry each group within its terms; of those that another beats in all respects, none."""
    terms, n = bench.terms, bench.needs
    uses = {zone.name: zone.use for zone in resolved.zones}
    groups = list(groups)
    bench.prepare([n.of(names) for names in groups])
    units = [u for u in bench.units if u.kind in kinds and fits(u, terms)]
    found: list[Offer] = []
    for names in groups:
        if any(len(set(listed) & set(names)) > 1 for listed in terms.apart):
            continue
        if any(0 < len(set(listed) & set(names)) < len(listed) for listed in terms.together):
            continue
        zones = n.of(names)
        demand = demand_of(n, zones)
        quiet = any(uses[name] in SLEEPING for name in names)
        fitting = [u for u in units if not (quiet and u.noise > terms.cabin_noise)]
        most = MOST_TOGETHER if len(names) in (1, len(n.zones)) else 1
        offers = [bench.offer(unit, zones, demand, count) for unit in fitting for count in range(1, most + 1)]
        found += undominated([offer for offer in offers if suffices(offer, terms)])
    return found


def suffices(offer: Offer, terms: Terms) -> bool:
    """Whether it carries its demand with the margins, and not too much more."""
    most = terms.largest_oversize * max(offer.demand.total, 1.0)
    return offer.margin + 1.0 >= terms.margin and offer.total <= most


def choose(offers: Sequence[Offer], zones: Sequence[str], terms: Terms, longest: float = LONGEST) -> Choice | None:
    """Cover every zone exactly once at least worth; None where no choice keeps to the terms.

    Parameters
    ----------
    offers : sequence of Offer
    zones : names of all zones
    terms : Terms
        Objective and the power aboard.
    longest : float
        [s]
    """
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csc_matrix

    if not offers:
        return None
    worth = np.array([value_of(offer, terms.objective) for offer in offers])
    number = {name: i for i, name in enumerate(zones)}
    rows = [number[name] for offer in offers for name in offer.covered]
    columns = [j for j, offer in enumerate(offers) for _ in offer.covered]
    cover = csc_matrix((np.ones(len(rows)), (rows, columns)), (len(zones), len(offers)))
    constraints = [LinearConstraint(cover, 1.0, 1.0)]
    for drawn, there in POWER_ABOARD.values():
        if np.isfinite(there(terms)):
            constraints.append(LinearConstraint(np.array([[drawn(offer) for offer in offers]]), -np.inf, there(terms)))
    done = milp(
        worth, integrality=np.ones(len(offers)), bounds=Bounds(0.0, 1.0), constraints=constraints,
        options={"time_limit": longest, "disp": False},
    )  # fmt: skip
    if done.x is None:
        return None
    taken = tuple(offer for offer, share in zip(offers, done.x, strict=True) if share > 0.5)
    gap = float(done.mip_gap) if done.mip_gap is not None else 0.0
    return Choice(taken, float(sum(value_of(o, terms.objective) for o in taken)), done.status == 0, gap, len(offers))


def relaxations(
    terms: Terms, solve: Callable[[Terms], Choice | None], limits: Iterable[str] = tuple(LIMITS)
) -> list[Relaxation]:
    """Which single limit, lifted, would let the boat be served; cheapest first."""
    found = []
    for name in limits:
        lifted = LIMITS[name](terms)
        if lifted == terms:
            continue
        choice = solve(lifted)
        if choice is not None:
            found.append(Relaxation(name, choice.worth, *_asked(name, terms, lifted, solve)))
    return sorted(found, key=lambda one: one.worth)


def _asked(
    limit: str, terms: Terms, lifted: Terms, solve: Callable[[Terms], Choice | None]
) -> tuple[float | None, float | None]:
    """The least that any choice draws of a limit of the power aboard, and what there is; None of other limits."""
    least = solve(replace(lifted, objective="power")) if limit in POWER_ABOARD else None
    if least is None:
        return None, None
    drawn, there = POWER_ABOARD[limit]
    return sum(drawn(offer) for offer in least.offers), there(terms)


def pump_apparent(unit: Unit, terms: Terms) -> float:
    """What the sea water pump takes for one unit until its pipes are known; none where the file enters it. [VA]"""
    if unit.compressor_power == 0.0 or terms.sea_pump > 0.0:
        return 0.0
    flow = rated(unit).water_rate / SEA_HEAT
    return SEA_DENSITY * GRAVITY * PUMP_HEAD * flow / SEA_EFFICIENCY / PUMP_FACTOR


def value_of(offer: Offer, objective: str) -> float:
    """What an offer adds to the objective: money, kilograms or watts; where a row is silent its power stands in."""
    return worth(objective, offer.cost, offer.weight, offer.power)


def worth(objective: str, cost: float, weight: float, power: float) -> float:
    """The one of the three that the objective names; power where it is not known."""
    value = {"cost": cost, "weight": weight, "power": power}[objective]
    return float(value) if value == value else float(power)


def fits(unit: Unit, terms: Terms) -> bool:
    """Whether a unit is no larger than what may stand aboard."""
    return all(not (own > most) for own, most in zip(unit.size, terms.largest, strict=True))


def undominated(offers: Sequence[Offer]) -> list[Offer]:
    """Offers for one group that no other beats or equals in every respect that a choice or its checks may weigh."""
    if not offers:
        return []
    points = np.array(
        [[*(value_of(o, name) for name in ("cost", "weight", "power")), o.apparent, o.smallest_step, -o.left]
         for o in offers]
    )  # fmt: skip
    order = np.lexsort((points[:, 2], points[:, 0]))
    points = points[order]
    beats = np.all(points[:, None] <= points[None, :], axis=-1)
    equal = beats & beats.T
    beaten = (beats & ~equal).any(axis=0) | np.triu(equal, 1).any(axis=0)
    return [offers[i] for i in order[~beaten]]

"""Ducts run by run: pressure lost against the unit's static, speed, heat gained, and what each room really gets.

All runs of a unit begin at one plenum, so they share its pressure: the flows are those at which ducts, grilles and fan
agree, with the ducts as they are entered and not as they are wished. Friction and bends: `friction`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, exp, log, pi

from heatsim.equipment.plan import Plan
from heatsim.equipment.selection import SLEEPING
from heatsim.errors import Finding
from heatsim.scenario.services import DuctText, GrilleText
from heatsim.services.air import SHORT, wanted
from heatsim.services.friction import AIR, SMALLEST, Run, bore_for
from heatsim.services.schedule import Assumed
from heatsim.services.surroundings import VOID, Around
from heatsim.services.units import Working, given, working

SIZES = (0.075, 0.100, 0.125, 0.150, 0.175, 0.200, 0.250, 0.300)
"""[m] Trade sizes of round duct (common practice, no source)."""
LARGEST_ASSUMED = 0.150
"""[m] Above which an assumed run is two."""
COMFORT = {True: 4.0, False: 5.0}
"""[m/s] Most in a duct that ends in a sleeping cabin (common practice, no source: 2.5–4), and in another room
(assumed)."""
ROUGHNESS = {"flexible": 0.9e-3, "smooth": 0.09e-3}
"""[m] Of stretched flexible duct, and of smooth pipe (ASHRAE Handbook, Fundamentals, duct design, from memory: rough
0.9–3 mm, medium smooth 0.09 mm)."""
BEND_RADIUS = 1.0
"""[-] Of a bend's middle over the bore (assumed)."""
ENTRY = 0.57
"""[-] Loss factor from the plenum into a run: a sharp-edged entry (Rennels, as in the fluids library)."""
WYE, TEE = 0.6, 1.3
"""[-] Loss factors of a wye and of a tee in which the air turns (from memory, handbook tables of branches)."""
GRILLE, RETURN_GRILLE = 1.5, 1.2
"""[-] Loss factors by the speed in the free area: supply with what it blows out, and return (assumed)."""
STATIC = 100.0
"""[Pa] External static pressure at the rated air flow (common practice, no source: at most 100 Pa, 0.4 in w.g.)."""
SHUT_OFF = 2.0
"""[-] A fan's pressure with all ducts shut over that at its rated flow; between them it falls with the flow's square
(assumed)."""
LENGTH, BENDS, INSULATION = 3.0, 2, 0.025
"""[m], bends, [m] of a run that nobody entered (assumed)."""
CONDUCTIVITY, INSIDE, OUTSIDE = 0.04, 15.0, 8.0
"""Insulation [W/(m K)], and films in and on a duct [W/(m² K)] (assumed)."""
NOWHERE = Around(0.0, 0.0)
EVEN = 0.10
"""[-] Of its planned share by which a room's air may be off (common practice, no source)."""


FITTINGS = (
    Assumed("fans", f"{SHUT_OFF:g} times the static with all ducts shut, falling with the square of the flow"),
    Assumed("ducts", f"roughness {1e3 * ROUGHNESS['flexible']:g} mm flexible and {1e3 * ROUGHNESS['smooth']:g} mm "
            f"smooth, bends of {BEND_RADIUS:g} bore, entry {ENTRY:g}, wye {WYE:g}, tee {TEE:g} velocity pressures",
            "handbook, from memory; bends assumed"),
    Assumed("grilles", f"{GRILLE:g} velocity pressures of the free area out, {RETURN_GRILLE:g} back"),
    Assumed("insulation of ducts", f"{CONDUCTIVITY:g} W/(m K), films {INSIDE:g} and {OUTSIDE:g} W/(m² K)"),
)  # fmt: skip


@dataclass(frozen=True)
class Fitted:
    """One run as it works: what it is, what flows, and the air where it ends.

    `drop` is lost in it and in its grille [Pa], `gain` taken up from around it [W], `surface` its coldest outside and
    `around` the air there [°C].
    """

    zone: str
    name: str
    run: Run
    kind: str
    insulation: float
    through: str
    assumed: bool
    flow: float = 0.0
    drop: float = 0.0
    gain: float = 0.0
    supply: float = 0.0
    surface: float = 0.0
    around: Around = NOWHERE


@dataclass(frozen=True)
class System:
    """A unit with its ducts: how it works with them, its runs, the pressure they ask for at the planned flows [Pa].

    `share` is the air it moves over the rated.
    """

    planned: Working
    work: Working
    runs: tuple[Fitted, ...]
    asked: float
    available: float
    share: float

    def flow(self, zone: str) -> float:
        """What a zone gets. [m³/s]"""
        return sum(one.flow for one in self.runs if one.zone == zone)

    def plan_of(self, zone: str) -> float:
        """What a zone should get: its share of the rated flow. [m³/s]"""
        return self.planned.offer.share(zone) * self.planned.offer.count * self.planned.flow


def sleeping(plan: Plan, zone: str) -> bool:
    """Whether people sleep in a zone."""
    return any(one.name == zone and one.use in SLEEPING for one in plan.resolved.zones)


def system(
    plan: Plan, work: Working, free: dict[tuple[str, str], float], around: dict[str, Around], taken: set[str]
) -> tuple[System, list[Assumed]]:
    """One unit with its ducts.

    Parameters
    ----------
    free : free area of all supply and return grilles of each zone, by (zone, kind) [m²]
    around : of every space
    taken : zones whose entered ducts belong to another unit already; those used here are added
    """
    services = given(plan)
    available = services.available_static or STATIC
    assumed = []
    if services.available_static is None:
        assumed.append(Assumed("external static of units at their rated air", f"{STATIC:.0f} Pa",
                               "common practice, no source: at most 100 Pa"))  # fmt: skip
    assumed += FITTINGS
    runs: list[Fitted] = []
    for zone in work.offer.zones:
        entered = [one for one in services.ducts if one.zone == zone] if zone not in taken else []
        taken.add(zone)
        if entered:
            runs += [_entered(one, i) for i, one in enumerate(entered, 1)]
            bare = [one for one in entered if one.insulation is None]
            if bare:
                assumed.append(Assumed(f"insulation of ducts to {zone}", f"{1e3 * INSULATION:.0f} mm"))
            if any(one.through is None for one in entered):
                assumed.append(Assumed(f"ducts to {zone} lie", f"in its joinery, {VOID:.0f} K above the room"))
        else:
            own = assumed_runs(plan, zone, work.offer.share(zone) * work.offer.count * work.flow)
            runs += own
            assumed.append(Assumed(
                f"ducts to {zone}", f"{len(own)} × {1e3 * own[0].run.bore:.0f} mm flexible, {LENGTH:g} m, {BENDS} "
                f"bends, {1e3 * INSULATION:.0f} mm insulation, in its joinery ({VOID:.0f} K above the room)",
                f"trade size at {COMFORT[sleeping(plan, zone)]:g} m/s; length and bends assumed",
            ))  # fmt: skip
    return _flowing(plan, work, runs, free, around, available), assumed


def _entered(one: DuctText, number: int) -> Fitted:
    losses = ENTRY + WYE * one.wyes + TEE * one.tees
    run = Run(AIR, one.bore, one.length, ROUGHNESS[one.kind], one.bends, BEND_RADIUS, losses)
    insulation = INSULATION if one.insulation is None else one.insulation
    return Fitted(one.zone, one.name or f"run {number}", run, one.kind, insulation, one.through or "", False)


def assumed_runs(plan: Plan, zone: str, flow: float) -> list[Fitted]:
    """What is taken for a zone whose ducts nobody entered: flexible, by the trade's sizes and speed."""
    speed = COMFORT[sleeping(plan, zone)]
    count = max(ceil(flow / (speed * pi / 4.0 * LARGEST_ASSUMED**2) - 1e-9), 1)
    run = Run(AIR, bore_for(flow / count, speed, SIZES), LENGTH, ROUGHNESS["flexible"], BENDS, BEND_RADIUS, ENTRY)
    return [Fitted(zone, f"run {i} (assumed)", run, "flexible", INSULATION, "", True) for i in range(1, count + 1)]


def _flowing(
    plan: Plan, work: Working, runs: Sequence[Fitted], free: dict[tuple[str, str], float], around: dict[str, Around],
    available: float,
) -> System:  # fmt: skip
    """The flows at which fan, return grille, ducts and supply grilles agree."""
    from scipy.optimize import brentq

    counts = {zone: sum(one.zone == zone for one in runs) for zone in work.offer.zones}
    behind = [GRILLE * AIR.density / 2.0 / (free[one.zone, "supply"] / counts[one.zone]) ** 2 for one in runs]
    back = RETURN_GRILLE * AIR.density / 2.0 / sum(free[zone, "return"] for zone in work.offer.zones) ** 2
    whole = work.offer.count * work.flow

    def flows(pressure: float) -> list[float]:
        return [one.run.flow_at(pressure, extra) for one, extra in zip(runs, behind, strict=True)]

    def spare(flow: float) -> float:
        fan = available * (SHUT_OFF - (SHUT_OFF - 1.0) * (flow / whole) ** 2)
        return sum(flows(fan - back * flow**2)) - flow

    moved = whole if spare(whole) >= 0.0 else float(brentq(spare, 1e-6 * whole, whole, rtol=1e-9))
    most = SHUT_OFF * available
    plenum = float(brentq(lambda p: sum(flows(p)) - moved, 0.0, most, rtol=1e-9))
    share = moved / whole
    now = working(plan, work.offer, share) if share < 1.0 - 1e-6 else work
    asked = back * whole**2 + max(
        _pressure([pair for pair in zip(runs, behind, strict=True) if pair[0].zone == zone],
                  work.offer.share(zone) * whole)
        for zone in work.offer.zones
    )  # fmt: skip
    fitted = [
        _warmed(replace(one, flow=flow, drop=plenum), now, flow / moved, around)
        for one, flow in zip(runs, flows(plenum), strict=True)
    ]
    return System(work, now, tuple(fitted), asked, available, share)


def _pressure(runs: Sequence[tuple[Fitted, float]], flow: float) -> float:
    """At the plenum, for all runs of a zone, each with the loss behind it, to carry its planned flow. [Pa]"""
    from scipy.optimize import brentq

    if flow <= SMALLEST:
        return 0.0
    most = min(one.run.drop(flow) + extra * flow**2 for one, extra in runs)  # one of them alone
    return float(brentq(lambda p: sum(one.run.flow_at(p, extra) for one, extra in runs) - flow, 0.0, 1.001 * most))


def _warmed(one: Fitted, work: Working, part: float, around: dict[str, Around]) -> Fitted:
    """The run's heat gain, the air at its grille and its coldest surface, at the plenum's end."""
    room = around.get(one.zone, Around(work.temperature, work.supply))
    air = around[one.through] if one.through else Around(room.temperature + VOID, room.dew_point)
    return carried(one, work.supply, part * work.heat_rate, air)


def carried(one: Fitted, sent: float, rate: float, air: Around) -> Fitted:
    """A run with air of `sent` °C and `rate` W/K in it and `air` around: gain, air at its grille, coldest surface."""
    bore, outer = one.run.bore, one.run.bore + 2.0 * one.insulation
    inside, outside = 1.0 / (INSIDE * pi * bore), 1.0 / (OUTSIDE * pi * outer)
    resistance = inside + log(outer / bore) / (2.0 * pi * CONDUCTIVITY) + outside
    left = exp(-one.run.length / resistance / rate) if rate > 0.0 else 0.0
    supply = air.temperature + (sent - air.temperature) * left
    surface = air.temperature - (air.temperature - sent) * outside / resistance
    return replace(one, gain=rate * (supply - sent), supply=supply, surface=surface, around=air)


def findings(plan: Plan, made: System) -> list[Finding]:
    """What is wrong with a unit's ducts: too fast, too narrow, uneven, sweating, taking up more heat than planned."""
    found = []
    name = made.work.name
    for one in made.runs:
        path, limit = f"services.ducts.{one.zone}.{one.name}", COMFORT[sleeping(plan, one.zone)]
        if (speed := one.run.speed(one.flow)) > limit * 1.005:
            found.append(Finding("duct-loud", path, "air rushes: a larger bore or a second run",
                                 f"{speed:.1f} m/s", f"{limit:g} m/s", "common practice, no source"))  # fmt: skip
        if one.surface < one.around.dew_point:
            found.append(Finding(
                "duct-sweats", path, "its outside is colder than the dew point around it and drips: thicker insulation "
                "with a tight vapour barrier", f"{one.surface:.1f} °C", f"{one.around.dew_point:.1f} °C",
                "heat flow through the insulation",
            ))  # fmt: skip
    if made.asked > made.available * 1.005:
        found.append(Finding(
            "static-short", f"unit of {name}",
            f"ducts and grilles ask for more than the fan has at its rated flow; it moves {100 * made.share:.0f} % of "
            f"it, and the unit gives {float(made.work.done.total) / 1e3:.2f} kW instead of "
            f"{float(made.planned.done.total) / 1e3:.2f} kW",
            f"{made.asked:.0f} Pa", f"{made.available:.0f} Pa", "friction of ducts, fluids library",
        ))  # fmt: skip
    for zone in made.work.offer.zones:
        off = made.flow(zone) / max(made.plan_of(zone), 1e-9) - 1.0
        if abs(off) > EVEN:
            own_assumed = all(one.assumed for one in made.runs if one.zone == zone)
            found.append(Finding(
                "unbalanced", f"zones.{zone}",
                ("with trade sizes, assumed lengths and no damper it gets " if own_assumed else
                 "with the ducts as they are it gets ")
                + ("more" if off > 0.0 else "less") + " than its share of the air",
                f"{100.0 * (1.0 + off):.0f} %", f"{100 * (1 - EVEN):.0f}–{100 * (1 + EVEN):.0f} %",
                "flows at one plenum pressure",
            ))  # fmt: skip
        asked = wanted(plan, made.planned, zone)
        if made.flow(zone) < SHORT * asked:
            found.append(Finding(
                "air-short", f"zones.{zone}",
                "with its ducts it gets less air than its sensible load asks for at its peak",
                f"{100.0 * made.flow(zone) / asked:.0f} % of {3600.0 * asked:.0f} m3/h", f"{100.0 * SHORT:.0f} %",
                "flows at one plenum pressure",
            ))  # fmt: skip
    gain = sum(one.gain for one in made.runs) / max(made.work.offer.count * float(made.work.done.total), 1.0)
    if gain > plan.resolved.terms.duct_gain:
        found.append(Finding(
            "duct-gain", f"unit of {name}", "ducts take up more heat than the plan allows for: insulate, shorten, or "
            "raise equipment.duct_gain", f"{100.0 * gain:.0f} %", f"{100.0 * plan.resolved.terms.duct_gain:.0f} %",
            "heat flow through the insulation",
        ))  # fmt: skip
    return found


def free_area(one: GrilleText, usual: float) -> float:
    """Open area of a grille. [m²]"""
    return one.gross_area * (usual if one.free_share is None else one.free_share)

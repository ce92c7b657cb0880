"""Units that serve one set of rooms by day and another by night, by dampers that turn at hours of the clock.

Rooms are cooled in their own hours only, so the two sets never ask at once and the unit is as large as the larger asks:
the diversity that sharing on one thermostat does not give. What the rooms gain while nobody cools them comes back at
the turn; those hours of recovery are left out of peaks, as they are everywhere, and shown by the proof.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from heatsim.climate.weather import routine_values
from heatsim.equipment.needs import demand_of
from heatsim.equipment.selection import DIRECT, SLEEPING, Bench, Offer, fits, suffices, undominated
from heatsim.scenario.resolved import Resolved, Routine, Zone
from heatsim.scenario.terms import DayAndNight

MINUTES = np.arange(1440)


def cooled_pairs(resolved: Resolved) -> list[DayAndNight]:
    """The pairs as far as their rooms are cooled; none of which only one half is."""
    cooled = {zone.name for zone in resolved.zones if zone.control is not None}
    pairs = [
        replace(pair, day=tuple(n for n in pair.day if n in cooled), night=tuple(n for n in pair.night if n in cooled))
        for pair in resolved.terms.day_and_night
    ]
    return [pair for pair in pairs if pair.day and pair.night]


def changed_over(resolved: Resolved) -> Resolved:
    """The boat with each room of a pair cooled in its own hours only."""
    hours: dict[str, tuple[DayAndNight, bool]] = {}
    for pair in cooled_pairs(resolved):
        hours |= {zone: (pair, False) for zone in pair.day} | {zone: (pair, True) for zone in pair.night}
    return replace(
        resolved,
        zones=tuple(_within(zone, *hours[zone.name]) if zone.name in hours else zone for zone in resolved.zones),
    )


def _within(zone: Zone, pair: DayAndNight, by_night: bool) -> Zone:
    if zone.control is None:
        return zone
    begins, ends = 60 * pair.night_begins, 60 * pair.night_ends
    after, before = begins <= MINUTES, ends > MINUTES
    night = after & before if begins < ends else after | before
    on = routine_values(zone.control.cooling_on, MINUTES) * (night == by_night)
    edges = np.flatnonzero(np.diff(on, prepend=np.nan) != 0.0)
    name = "by night" if by_night else "by day"
    course = Routine(name, tuple(int(edge) for edge in edges), tuple(float(on[edge]) for edge in edges))
    return replace(zone, control=replace(zone.control, cooling_on=course))


def offers_by_day_and_night(bench: Bench, resolved: Resolved) -> list[Offer]:
    """Units that carry both sets of each pair; `bench` holds the needs of the boat changed over."""
    n, terms = bench.needs, bench.terms
    uses = {zone.name: zone.use for zone in resolved.zones}
    found: list[Offer] = []
    for pair in cooled_pairs(resolved):
        parts = [n.of(names) for names in (pair.day, pair.night)]
        sleeps = any(uses[name] in SLEEPING for name in (*pair.day, *pair.night))
        able = []
        for unit in bench.units:
            if unit.kind not in DIRECT or (sleeps and unit.noise > terms.cabin_noise) or not fits(unit, terms):
                continue
            day, night = (bench.offer(unit, zones, demand_of(n, zones)) for zones in parts)
            larger = max(day, night, key=lambda one: one.demand.total)
            if suffices(larger, terms) and min(day.margin, night.margin) + 1.0 >= terms.margin:
                again = replace(night, power=0.0, current=0.0, cost=0.0, weight=0.0)
                able.append(replace(day, power=max(day.power, night.power), current=max(day.current, night.current),
                                    by_night=again))  # fmt: skip
        found += undominated(able)
    return found

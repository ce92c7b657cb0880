"""Does a layout hold its setpoints, with all its units and with one of them lost: the boat simulated at its limits.

Each zone's sensible cooling is limited to its share of its unit's corrected capacity and to what treated air brings,
and the boat is simulated again; a lost unit is a rerun without it. Minutes of control are the proof's business.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from heatsim.climate.days import design_weather
from heatsim.climate.weather import routine_values
from heatsim.equipment.chilled import Plant
from heatsim.equipment.fresh_air import Treated
from heatsim.equipment.layouts import Layout
from heatsim.equipment.needs import DESIGN_DAYS
from heatsim.equipment.selection import Offer
from heatsim.loads.line import make_line, one_blas_thread, solve_days
from heatsim.loads.paths import hours, temperatures
from heatsim.scenario.resolved import Resolved

Array = npt.NDArray[np.float64]

STEP = 900.0
"""[s] Of these reruns."""
HEAT_STRESS, HEAT_STRESS_AT_ONCE = 32.0, 35.0
"""[°C] Operative temperature that an occupied zone may not keep for an hour, or reach at all (common practice, no
source)."""


Lost = Offer | Plant | Treated
"""What may be out of order: one unit of an offer, one chiller of a plant, one fresh-air unit."""


@dataclass(frozen=True)
class Held:
    """One rerun by zone: highest air and operative temperature [°C] and the most above its setpoint [K]."""

    lost: str | None
    air: dict[str, float]
    operative: dict[str, float]
    above: dict[str, float]

    @property
    def worst(self) -> tuple[str, float]:
        """The zone farthest above its setpoint, and by how much. [K]"""
        name = max(self.above, key=self.above.__getitem__)
        return name, self.above[name]

    @property
    def stressed(self) -> tuple[str, ...]:
        """Zones warm enough for the heat-stress caution."""
        return tuple(name for name, value in self.operative.items() if value >= HEAT_STRESS)


class Reruns:
    """The design days of one boat at one heading, ready to be run again with other limits; its matrices are made once.

    Parameters
    ----------
    heading : float
        True bearing of the bow, the block's worst. [°]
    """

    def __init__(self, resolved: Resolved, heading: float) -> None:
        self.heading = heading
        days = tuple(day for day in resolved.days if day.kind in DESIGN_DAYS) or resolved.days
        self.resolved = replace(resolved, days=days, place=replace(resolved.place, headings=(heading,)))
        with one_blas_thread():
            self.line = make_line(self.resolved, tuple(design_weather(self.resolved, day, STEP) for day in days))
        self._known: dict[tuple[tuple[str, int], ...], Held] = {}

    def of(self, resolved: Resolved | None) -> Reruns:
        """The same days of the boat with other controls, this one where there is no other."""
        return self if resolved is None else Reruns(resolved, self.heading)

    def hold(self, layout: Layout, lost: Lost | None = None) -> Held:
        """Simulate with a layout's limits, `lost` out of order (one of its count)."""
        return self.hold_each(layout, [lost])[0]

    def hold_each(self, layout: Layout, lost: Sequence[Lost | None]) -> list[Held]:
        """The same for several cases, run as one batch."""
        if not lost:
            return []
        limits = [self._by_step(_limits(layout, one)) + self._brought(layout, one) for one in lost]
        return self._simulate(limits, [_named(one) for one in lost])

    def without(self, offers: Sequence[Offer]) -> list[Held]:
        """Each with one unit of an offer out of order and every other zone held whatever it takes."""
        left = [{zone: duty.left * duty.share(zone) for duty in o.duties for zone in duty.zones} for o in offers]
        keys = [tuple(sorted((zone, round(limit)) for zone, limit in limits.items())) for limits in left]
        new = {key: i for i, key in enumerate(keys) if key not in self._known}
        limits = [self._by_step(left[i], others=np.inf) for i in new.values()]
        done = self._simulate(limits, [_named(offers[i]) for i in new.values()]) if new else []
        self._known |= dict(zip(new, done, strict=True))
        return [self._known[key] for key in keys]

    def _by_step(self, limits: dict[str, float], others: float = 0.0) -> Array:
        """Limits of zones while their cooling is switched on, (day, step, zone); `others` of zones not named. [W]"""
        out = np.zeros((len(self.line.weathers), len(self.line.weathers[0].local_minute), len(self.line.zones)))
        for zone in self.resolved.zones:
            if zone.control is not None:
                on = routine_values(zone.control.cooling_on, self.line.weathers[0].local_minute) > 0.0
                out[..., self.line.zones.index(zone.name)] = np.where(on, limits.get(zone.name, others), 0.0)
        return out

    def _brought(self, layout: Layout, lost: Lost | None) -> Array:
        """What treated air takes off rooms, switched on or not, (day, step, zone). [W]"""
        out = self._by_step({})
        if layout.treated is None:
            return out
        treated = layout.treated
        part = (treated.count - 1) / treated.count if lost is treated else 1.0
        headings = len(treated.taken) // len(self.resolved.days)  # outdoor air is the same at every one
        by_hour = part * np.maximum(treated.taken[::headings], 0.0)
        out[..., [self.line.zones.index(name) for name in treated.needs.zones]] = np.repeat(
            by_hour, round(3600.0 / STEP), axis=1
        )
        return out

    def _simulate(self, limits: list[Array], lost: list[str | None]) -> list[Held]:
        """The design days under each of these limits (day, step, zone), all as one batch."""
        held = [zone for zone in self.resolved.zones if zone.control is not None]
        line, count = self.line, len(limits)
        repeated = replace(
            line, weathers=line.weathers * count, regimes=replace(line.regimes, numbers=line.regimes.numbers * count)
        )
        with one_blas_thread():
            stretches = solve_days(repeated, np.array(self.resolved.place.headings), np.concatenate(limits))
            parts = [temperatures(repeated, stretch) for stretch in stretches]
        chosen = [line.zones.index(zone.name) for zone in held]
        by_day = np.array([[values[..., chosen].max(axis=(0, 1)) for values in part] for part in parts])
        highest = by_day.reshape(count, len(line.weathers), 2, len(held)).max(axis=1)
        setpoint = np.array([max(zone.control.cooling_setpoint.values) for zone in held if zone.control is not None])
        by_air = [zone.control.controlled == "air" for zone in held if zone.control is not None]
        names = [zone.name for zone in held]
        found = []
        for name, (air, operative) in zip(lost, highest, strict=True):
            above = np.maximum(np.where(by_air, air, operative) - setpoint, 0.0)
            by_name = (dict(zip(names, map(float, values), strict=True)) for values in (air, operative, above))
            found.append(Held(name, *by_name))
        return found

    def block(self) -> float:
        """Largest simultaneous sensible and latent load of all cooled zones with unlimited plant. [W]"""
        with one_blas_thread():
            parts = [hours(self.line, s) for s in solve_days(self.line, np.array(self.resolved.place.headings))]
        cooled = [self.line.zones.index(zone.name) for zone in self.resolved.zones if zone.control is not None]
        sums = [(part.sensible_cooling + part.latent_cooling)[..., cooled].sum(axis=-1).max() for part in parts]
        return float(max(sums))


def losses(layout: Layout) -> list[Lost]:
    """Everything in a layout of which one may be out of order."""
    return [*layout.offers, *(one for one in (layout.plant, layout.treated) if one is not None)]


def _named(lost: Lost | None) -> str | None:
    match lost:
        case Offer():
            return " + ".join(lost.covered)
        case Plant():
            return "one chiller"
        case Treated():
            return "one fresh-air unit"
    return None


def _limits(layout: Layout, lost: Lost | None) -> dict[str, float]:
    """Of each zone, its share of its units' sensible capacity. [W]"""
    limits: dict[str, float] = {}
    served = 1.0
    if layout.plant is not None:
        chillers = layout.plant.count
        served = min(1.0, (chillers - (lost is layout.plant)) / chillers * layout.plant.capacity / layout.plant.demand)
    for offer in layout.offers:
        for duty in offer.duties:
            working = served * (duty.left if offer is lost else duty.sensible)
            for name in duty.zones:
                limits[name] = limits.get(name, 0.0) + working * duty.share(name)
    return limits

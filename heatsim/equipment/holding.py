"""Does a layout hold its setpoints, with all its units and with one of them lost: the boat simulated at its limits.

Each zone's sensible cooling is limited to its share of its unit's corrected capacity, and the boat is simulated again;
a lost unit is a rerun with its zones uncooled. Hours and minutes of control are the proof's business, not this one's.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from heatsim.climate.days import design_weather
from heatsim.equipment.layouts import Layout
from heatsim.equipment.needs import DESIGN_DAYS
from heatsim.equipment.selection import Offer
from heatsim.loads.line import make_line, one_blas_thread, solve_days
from heatsim.loads.paths import hours
from heatsim.scenario.resolved import Resolved, Zone

STEP = 900.0
"""[s] Of these reruns."""
HEAT_STRESS, HEAT_STRESS_AT_ONCE = 32.0, 35.0
"""[°C] Operative temperature that an occupied zone may not keep for an hour, or reach at all (common practice, no
source)."""


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
        days = tuple(day for day in resolved.days if day.kind in DESIGN_DAYS) or resolved.days
        self.resolved = replace(resolved, days=days, place=replace(resolved.place, headings=(heading,)))
        with one_blas_thread():
            self.line = make_line(self.resolved, tuple(design_weather(self.resolved, day, STEP) for day in days))

    def hold(self, layout: Layout, lost: Offer | None = None) -> Held:
        """Simulate with a layout's limits, `lost` out of order (one of its count)."""
        resolved = replace(self.resolved, zones=_limited(self.resolved, layout, lost))
        held = [zone for zone in resolved.zones if zone.control is not None]
        with one_blas_thread():
            line = replace(self.line, resolved=resolved)
            stretches = solve_days(line, np.array(resolved.place.headings))
            parts = [hours(line, stretch) for stretch in stretches]
        chosen = [line.zones.index(zone.name) for zone in held]
        air, operative = (
            np.max([getattr(part, name)[..., chosen].max(axis=(0, 1)) for part in parts], axis=0)
            for name in ("air_temperature", "operative_temperature")
        )
        setpoint = np.array([max(zone.control.cooling_setpoint.values) for zone in held if zone.control is not None])
        by_air = [zone.control.controlled == "air" for zone in held if zone.control is not None]
        above = np.maximum(np.where(by_air, air, operative) - setpoint, 0.0)
        names = [zone.name for zone in held]
        return Held(
            None if lost is None else " + ".join(lost.zones),
            *({name: float(value) for name, value in zip(names, values, strict=True)}
              for values in (air, operative, above)),
        )  # fmt: skip

    def block(self) -> float:
        """Largest simultaneous sensible and latent load of all cooled zones with unlimited plant. [W]"""
        with one_blas_thread():
            parts = [hours(self.line, s) for s in solve_days(self.line, np.array(self.resolved.place.headings))]
        cooled = [self.line.zones.index(zone.name) for zone in self.resolved.zones if zone.control is not None]
        sums = [(part.sensible_cooling + part.latent_cooling)[..., cooled].sum(axis=-1).max() for part in parts]
        return float(max(sums))


def _limited(resolved: Resolved, layout: Layout, lost: Offer | None) -> tuple[Zone, ...]:
    """Zones with their share of their unit's sensible capacity as their limit."""
    limits: dict[str, float] = {}
    served = 1.0 if layout.plant is None else min(1.0, layout.plant.capacity / layout.plant.demand)
    for offer in layout.offers:
        working = offer.sensible * served * ((offer.count - 1) / offer.count if offer is lost else 1.0)
        for name, share in zip(offer.zones, offer.demand.shares, strict=True):
            limits[name] = limits.get(name, 0.0) + working * float(share)
    return tuple(
        replace(zone, control=replace(zone.control, cooling_limit=limits.get(zone.name, 0.0))) if zone.control else zone
        for zone in resolved.zones
    )

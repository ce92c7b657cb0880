"""From loads to a plan a yard would order: needs, layouts side by side, the chosen one, what it holds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from heatsim.equipment.capacity import Conditions, Step, steps
from heatsim.equipment.catalogue import read_catalogue
from heatsim.equipment.drift import zone_conductance
from heatsim.equipment.holding import Held, Reruns
from heatsim.equipment.layouts import CENTRAL, Layout, best, layouts
from heatsim.equipment.needs import Needs, needs
from heatsim.equipment.selection import Offer
from heatsim.loads.peaks import peaks
from heatsim.loads.simulate import simulate
from heatsim.scenario.resolved import Resolved

if TYPE_CHECKING:
    import xarray as xr

FINE_STEP, COARSE_STEP, FEW_HEADINGS = 300.0, 900.0, 3
"""[s] Step of the loads a plan is made of: fine for few headings, coarse for a sweep (loads within 0.1 %)."""
HOLDS = 0.3
"""[K] Above its setpoint up to which a zone counts as held: a thermostat's own dead band is wider."""


@dataclass(frozen=True)
class Plan:
    """Everything a plan holds: needs, every layout, the chosen one, what it holds, and with each unit lost."""

    resolved: Resolved
    needs: Needs
    layouts: tuple[Layout, ...]
    chosen: Layout | None
    heading: float
    held: Held | None
    lost: tuple[Held, ...]

    @property
    def holds(self) -> bool:
        """Whether every zone stays at its setpoint on the design days."""
        return self.held is not None and self.held.worst[1] <= HOLDS


def plan(resolved: Resolved, loads: xr.Dataset | None = None) -> Plan:
    """Plan the equipment of a boat.

    Parameters
    ----------
    resolved : Resolved
        Its `terms` say what a choice must respect; its `catalogue` names the units, the invented ones by default.
    loads : Dataset, optional
        Of `simulate` on this boat; simulated here unless given.

    Returns
    -------
    Plan
    """
    from pathlib import Path

    if loads is None:
        step = FINE_STEP if len(resolved.place.headings) <= FEW_HEADINGS else COARSE_STEP
        loads = simulate(resolved, step=step, causes=False)
    n = needs(loads, resolved)
    catalogue = None if resolved.catalogue is None else Path(resolved.catalogue)
    units = read_catalogue(catalogue, resolved.terms.accept_unrated)
    found = layouts(resolved, n, units, zone_conductance(resolved, n.zones))
    chosen = best(found, resolved.terms)
    heading = _worst_heading(loads)
    held, lost = None, []
    if chosen is not None:
        reruns = Reruns(resolved, heading)
        held = reruns.hold(chosen)
        if chosen.name != CENTRAL:
            lost = [reruns.hold(chosen, offer) for offer in chosen.offers]
    return Plan(resolved, n, tuple(found), chosen, heading, held, tuple(lost))


def chain(made: Plan, offer: Offer) -> list[Step]:
    """From an offer's nameplate to what it does aboard, one correction after the other (one unit)."""
    n, t = made.needs, made.resolved.terms
    zones = n.of(offer.zones)
    met = Conditions(
        float(n.temperature[zones].mean()), float(n.humidity_ratio[zones].mean()), n.sea, water_flow=t.water_flow,
        fouled=t.fouling, speed=t.frequency / offer.unit.frequency,
    )  # fmt: skip
    before = steps(offer.unit, met)
    kept = before[-1].total * (1.0 - t.duct_gain)
    return [*before[:-1], Step("duct gain", kept, 1.0 - t.duct_gain, "share as entered")]


def _worst_heading(loads: xr.Dataset) -> float:
    """Heading of the block's largest load on the first day."""
    peak = peaks(loads)
    return float(peak.loc[(peak.index[0][0], "block"), "heading"])

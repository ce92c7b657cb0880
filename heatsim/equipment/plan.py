"""From loads to a plan a yard would order: needs, layouts side by side, the chosen one, what it holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from dataclasses import field as kept
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from heatsim.equipment.capacity import Conditions, Operation, Step, chiller, operate, steps, water_coil
from heatsim.equipment.catalogue import Unit, read_catalogue
from heatsim.equipment.chilled import Plant
from heatsim.equipment.drift import zone_conductance
from heatsim.equipment.holding import Held, Reruns, losses
from heatsim.equipment.layouts import COARSE_STEP, Layout, best, searches
from heatsim.equipment.needs import Certainty, Needs, needs
from heatsim.equipment.selection import Offer
from heatsim.equipment.steering import steer
from heatsim.loads.line import Line
from heatsim.loads.peaks import peaks
from heatsim.loads.simulate import simulate
from heatsim.scenario.resolved import Resolved

if TYPE_CHECKING:
    import xarray as xr

Array = npt.NDArray[np.float64]

FINE_STEP, FEW_HEADINGS = 300.0, 3
"""[s] Step of the loads a plan is made of where there are so few headings; else `COARSE_STEP`."""
HOLDS = 0.3
"""[K] Above its setpoint up to which a zone counts as held (assumed): a thermostat's own dead band is wider."""


@dataclass(frozen=True)
class Plan:
    """Everything a plan holds: needs, every layout checked, the chosen one, what it holds, and with each unit lost.

    `lost_elsewhere` is, of each other layout, the worst of its units out of order while all other zones are held.

    `line` is the network of its design days at `heading` in steps of 900 s, for a proof to go on with.
    """

    resolved: Resolved
    needs: Needs
    layouts: tuple[Layout, ...]
    chosen: Layout | None
    heading: float
    held: Held | None
    lost: tuple[Held, ...]
    lost_elsewhere: dict[str, Held] = kept(default_factory=dict)
    line: Line | None = kept(default=None, repr=False, compare=False)
    certainty: Certainty | None = None
    """What raised its loads, where the terms ask for a computed margin (`study.certainty.sure_plan`)."""

    @property
    def boat(self) -> Resolved:
        """The boat with its cooling switched as the chosen layout asks for."""
        return self.resolved if self.chosen is None or self.chosen.boat is None else self.chosen.boat

    @property
    def paused(self) -> tuple[str, ...]:
        """Zones whose cooling is off for part of the day: they leave their setpoint whatever unit they have."""
        controls = {zone.name: zone.control for zone in self.boat.zones}
        return tuple(name for name, control in controls.items() if control and min(control.cooling_on.values) < 1.0)

    @property
    def holds(self) -> bool:
        """Whether every zone that is cooled all day stays at its setpoint, and the proof found nothing either."""
        if self.held is None or self.chosen is None or self.chosen.failures:
            return False
        return all(kelvin <= HOLDS for name, kelvin in self.held.above.items() if name not in self.paused)


def plan(resolved: Resolved, loads: xr.Dataset | None = None) -> Plan:
    """Plan the equipment of a boat.

    Parameters
    ----------
    resolved : Resolved
        Its `terms` say what a choice must respect; its `catalogue` names the units, the invented ones by default.
    loads : Dataset, optional
        Of `simulate` on this boat; simulated here unless given. A margin that is computed is not this function's
        business: `study.certainty.sure_plan` knows the boat's file.

    Returns
    -------
    Plan
    """
    from pathlib import Path

    catalogue = None if resolved.catalogue is None else Path(resolved.catalogue)
    units = read_catalogue(catalogue, resolved.terms.accept_unrated)  # first, for it may be refused
    loads = loads_of(resolved) if loads is None else loads
    n = needs(loads, resolved)
    reruns = Reruns(resolved, _worst_heading(loads))
    found = steer(searches(resolved, n, units, zone_conductance(resolved, n.zones)), reruns)
    chosen = best(found, resolved.terms)
    held, lost, elsewhere, line = None, [], {}, reruns.line
    if chosen is not None:
        ground = reruns.of(chosen.boat)
        held, *lost = ground.hold_each(chosen, [None, *losses(chosen)])
        line = ground.line
    others = [one for one in found if one is not chosen and one.possible and one.offers]
    reruns.without([offer for one in others if one.boat is None for offer in one.offers])  # all as one batch, and kept
    for layout in others:
        ground = reruns.of(layout.boat)
        shared_ones = [one for one in losses(layout) if not isinstance(one, Offer)]
        lacking = [*ground.without(layout.offers), *ground.hold_each(layout, shared_ones)]
        elsewhere[layout.name] = max(lacking, key=lambda one: one.worst[1])
    return Plan(resolved, n, tuple(found), chosen, reruns.heading, held, tuple(lost), elsewhere, line)


def loads_of(resolved: Resolved) -> xr.Dataset:
    """The loads a plan is made of."""
    step = FINE_STEP if len(resolved.place.headings) <= FEW_HEADINGS else COARSE_STEP
    return simulate(resolved, step=step, causes=False)


def chain(made: Plan, offer: Offer) -> list[Step]:
    """From an offer's nameplate to what it does aboard, one correction after the other (one unit)."""
    n, unit = made.needs, offer.unit
    zones = n.of(offer.zones)
    temperature, humidity_ratio = float(n.temperature[zones].mean()), float(n.humidity_ratio[zones].mean())
    if unit.compressor_power > 0.0:
        found: Sequence[Step] = steps(unit, _met(made, unit, temperature, humidity_ratio))[:-1]
    else:
        here = Conditions(temperature, humidity_ratio, n.sea)
        plate, aboard = unit.gross - unit.fan_power, float(water_coil(unit, here, unit.rating.water).total)
        found = [
            Step("nameplate, net of its fan", plate, 1.0, "catalogue"),
            Step("entering air", aboard, aboard / plate, "coil in chilled water of the rating's temperature"),
        ]
    kept = 1.0 - made.resolved.terms.duct_gain
    return [*found, Step("duct gain", found[-1].total * kept, kept, "share as entered")]


def plant_chain(made: Plan, unit: Unit) -> list[Step]:
    """From a chiller's nameplate to what it does aboard (one chiller)."""
    full = _met(made, unit, 24.0, 0.01)
    here = replace(full, sea=unit.rating.water, water_flow=1.0, fouled=0.0, speed=1.0)
    found = [Step("nameplate", unit.gross, 1.0, "catalogue")]
    for name, field, source in (
        ("sea temperature", "sea", "compressor and condenser about the rating"),
        ("water flow", "water_flow", "rise of the sea water"),
        ("fouling", "fouled", "condenser conductance lost"),
        ("supply frequency", "speed", "compressor speed"),
    ):
        here = replace(here, **{field: getattr(full, field)})
        total = float(chiller(unit, here)[0])
        found.append(Step(name, total, total / found[-1].total if found[-1].total > 0.0 else 0.0, source))
    return found


def against_sea(made: Plan, offer: Offer, sea: Array) -> tuple[Array, Array]:
    """Total and sensible capacity of an offer after its ducts in sea of other temperatures [W]; zero where it trips.

    Parameters
    ----------
    sea : (sea,) array
        [°C]
    """
    done = _in_sea(made, offer, sea)
    kept = offer.count * (1.0 - made.resolved.terms.duct_gain)
    return tuple(np.where(done.tripped, 0.0, kept * part) for part in (done.total, done.sensible))  # type: ignore[return-value]


def power_against_sea(made: Plan, offer: Offer, sea: Array) -> Array:
    """Electrical power of an offer, fans included, in sea of other temperatures (sea,); zero where it trips. [W]"""
    done = _in_sea(made, offer, sea)
    return np.where(done.tripped, 0.0, offer.count * (done.compressor_power + done.fan_power))


def _in_sea(made: Plan, offer: Offer, sea: Array) -> Operation:
    """One unit of an offer with the air of its rooms."""
    zones = made.needs.of(offer.zones)
    air = (float(made.needs.temperature[zones].mean()), float(made.needs.humidity_ratio[zones].mean()))
    return operate(offer.unit, replace(_met(made, offer.unit, *air), sea=sea))


def plant_against_sea(made: Plan, plant: Plant, sea: Array) -> Array:
    """Capacity of all chillers in sea water of other temperatures; zero where they trip."""
    met = replace(_met(made, plant.unit, 24.0, 0.01), sea=sea)
    return plant.count * chiller(plant.unit, met)[0]


def _met(made: Plan, unit: Unit, temperature: float, humidity_ratio: float) -> Conditions:
    """What a unit meets aboard."""
    t = made.resolved.terms
    return Conditions(
        temperature, humidity_ratio, made.needs.sea, water_flow=t.water_flow, fouled=t.fouling,
        speed=t.frequency / unit.frequency,
    )  # fmt: skip


def _worst_heading(loads: xr.Dataset) -> float:
    """Heading of the block's largest load on the first day."""
    peak = peaks(loads)
    return float(peak.loc[(peak.index[0][0], "block"), "heading"])

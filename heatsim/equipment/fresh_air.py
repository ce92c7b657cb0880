"""Outdoor air treated once, in a coil of its own, before it goes to the rooms: zone units then carry the rest.

A room held at its setpoint takes outdoor air's heat at once, so what treatment takes off its load is exact for held
rooms: the air's mass flow times the difference of its states before and behind the coil. The coil's own load comes back
at the plant.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from heatsim.equipment.capacity import Conditions, water_coil
from heatsim.equipment.catalogue import SideBySide, Unit
from heatsim.equipment.needs import Needs
from heatsim.equipment.selection import worth
from heatsim.physics import moist_air
from heatsim.physics.moist_air import EVAPORATION
from heatsim.scenario.resolved import OUTDOORS, Resolved

Array = npt.NDArray[np.float64]

LEAST_FLOW, MOST_FLOW = 0.5, 1.1
"""[-] Shares of its rated air flow within which a fresh-air unit is used."""


@dataclass(frozen=True)
class Treated(SideBySide):
    """Fresh-air units: which, how many, the needs that remain for zone units, what sensible heat the air then takes
    off rooms (case, hour, zone), the coils' load (case, hour) and their fans' power, all in W."""

    needs: Needs
    taken: Array
    coil: Array
    fan_power: float


def fresh_flows(resolved: Resolved, names: Sequence[str]) -> Array:
    """Outdoor air supplied on purpose to each zone at its most, (zone,). [m³/s]"""
    flows = np.zeros(len(names))
    for flow in resolved.flows:
        if flow.kind == "fresh_air" and flow.source == OUTDOORS and flow.target in names:
            flows[list(names).index(flow.target)] += flow.rate * max(flow.routine.values)
    return flows


def treat(n: Needs, resolved: Resolved, units: Sequence[Unit]) -> Treated | None:
    """Choose the cheapest fresh-air units for the boat's outdoor air; None where there is none, or no unit fits.

    Notes
    -----
    The flow is taken as steady at its most; a room never gains from air colder than its own coil would have made it.
    """
    flows = fresh_flows(resolved, n.zones)
    whole = float(flows.sum())
    best: Treated | None = None
    least = np.inf
    for unit in units:
        if unit.kind != "fresh-air unit" or unit.compressor_power > 0.0 or whole <= 0.0:
            continue
        count = int(np.ceil(whole / (MOST_FLOW * unit.airflow)))
        if whole / count < LEAST_FLOW * unit.airflow:
            continue
        made = _treated(n, unit, count, flows)
        value = worth("cost", made.cost, made.weight, made.fan_power)
        if value < least:
            best, least = made, value
    return best


def _treated(n: Needs, unit: Unit, count: int, flows: Array) -> Treated:
    T, w = n.outdoor_temperature, n.outdoor_humidity_ratio
    share = float(flows.sum()) / count / unit.airflow
    done = water_coil(unit, Conditions(T, w, n.sea, airflow=share), unit.rating.water)
    fan = count * float(unit.fan_power * share**3)
    mass = moist_air.dry_air_density(T, w)[..., None] * flows
    heat = moist_air.DRY_AIR_HEAT + moist_air.VAPOUR_HEAT * w[..., None]
    behind = done.leaving_temperature[..., None] + fan / np.maximum(mass.sum(axis=-1, keepdims=True) * heat, 1e-9)
    sensible = mass * heat * (T[..., None] - behind)
    latent = mass * EVAPORATION * (w - done.leaving_humidity_ratio)[..., None]
    rest = replace(n, sensible=np.maximum(n.sensible - sensible, 0.0), latent=np.maximum(n.latent - latent, 0.0))
    return Treated(unit, count, rest, sensible, count * done.coil_heat, fan)

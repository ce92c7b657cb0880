"""How far zones without the thermostat drift, when a group shares one unit by fixed air shares.

The unit runs as the zone with the thermostat needs; the others get their share of that, too much or too little. What is
too much or too little divided by what a kelvin costs in the network is the drift, as if every hour lasted; storage
makes the real one smaller, so this is an upper bound.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from heatsim.climate.days import design_weather
from heatsim.equipment.needs import Needs
from heatsim.network.base import system
from heatsim.network.heat import Nominal, heat_network
from heatsim.network.regimes import regimes
from heatsim.scenario.resolved import Resolved
from heatsim.solve.forms import condense

Array = npt.NDArray[np.float64]


def zone_conductance(resolved: Resolved, names: Sequence[str]) -> Array:
    """Steady heat that a kelvin in each zone costs, (zone, zone) W/K: heats = H · temperatures.

    Parameters
    ----------
    names : conditioned zones; all other spaces float
    """
    weathers = tuple(design_weather(resolved, day, 3600.0) for day in resolved.days)
    numbered = regimes(resolved, weathers)
    nominal = Nominal(
        float(np.mean([w.air.mean() for w in weathers])), float(np.mean([w.sea.mean() for w in weathers]))
    )
    network = heat_network(resolved, numbered, nominal)
    most = int(np.bincount(np.concatenate(numbered.numbers)).argmax())
    c = condense(system(network), most)
    response = c.F - c.Y @ np.linalg.solve(c.A, c.G)
    chosen = [network.zones.index(name) for name in names]
    return np.asarray(np.linalg.inv(response[np.ix_(chosen, chosen)]))


def drift(n: Needs, conductance: Array, zones: Sequence[int], shares: Array, sensor: int | None = None) -> Array:
    """Largest steady departure of each zone of a group from its setpoint, (zone,) K, signed; the sensor's is zero.

    Parameters
    ----------
    conductance : (zone, zone) array
        Of all zones, `zone_conductance`; zones of other groups are held.
    zones : numbers of the group's zones
    shares : (zone,) array
        Of the unit's air.
    sensor : int, optional
        Place in the group of the zone with the thermostat; that with the largest peak by default.
    """
    part = list(zones)
    sensible = n.sensible[..., part]
    if sensor is None:
        sensor = int(sensible.max(axis=(0, 1)).argmax())
    others = [i for i in range(len(part)) if i != sensor]
    out = np.zeros(len(part))
    if not others:
        return out
    moved = sensible[..., sensor] / max(float(shares[sensor]), 1e-9)
    short = sensible[..., others] - shares[others] * moved[..., None]
    held = conductance[np.ix_([part[i] for i in others], [part[i] for i in others])]
    apart = np.linalg.solve(held, short[..., None])[..., 0].reshape(-1, len(others))
    out[others] = apart[np.abs(apart).argmax(axis=0), np.arange(len(others))]
    return out

"""The moisture network: humidity ratio of every zone's air, with a buffer, in the same form as the heat network.

Joinery, bedding and linings take up and give back vapour; the buffer is a multiple of the air's own mass (effective
capacitance, 5–15 for furnished rooms, from memory), so a zone is one node.
"""

from __future__ import annotations

import numpy as np

from heatsim.network.airflow import DRY_AIR_DENSITY, air_links
from heatsim.network.base import MOISTURE_SOURCES, Builder, Driver, Network
from heatsim.network.regimes import Regimes
from heatsim.scenario.resolved import Resolved

SEEPAGE = 1e-3
"""[1/h] Vapour exchange given to a space that has no air exchange of its own: nothing is perfectly tight."""


def moisture_network(resolved: Resolved, regimes: Regimes) -> Network:
    """Assemble the moisture network (capacity in kg dry air, conductance in kg/s, sources in kg/s of vapour)."""
    zones = [zone for zone in resolved.zones if zone.temperature is None]
    number = {zone.name: i for i, zone in enumerate(resolved.zones)}
    b = Builder(len(regimes.wind), [zone.name for zone in zones], MOISTURE_SOURCES)
    outdoor = b.driver(Driver("humidity"))
    air = [b.node(zone.name, zone.moisture_factor * zone.volume * DRY_AIR_DENSITY, i) for i, zone in enumerate(zones)]
    reached: set[int] = set()
    for n, link in enumerate(air_links(resolved, regimes, {zone.name: i for i, zone in enumerate(zones)})):
        flow = link.volume * DRY_AIR_DENSITY
        if np.all(link.volume > 0.0):
            reached.add(link.target)
        if link.source >= 0:
            b.moved(air[link.target], air[link.source], flow, link.path)
        else:
            b.fed(air[link.target], outdoor, flow, link.path)
            b.driver(Driver("vapour_correction", (n,), path=link.path, weights=((air[link.target], 1.0),)))
    for i, zone in enumerate(zones):
        if i not in reached:
            b.fed(air[i], outdoor, SEEPAGE / 3600.0 * zone.volume * DRY_AIR_DENSITY, "infiltration")
        at = ((air[i], 1.0),)
        for item in range(len(zone.people)):
            b.driver(Driver("people_vapour", (number[zone.name], item), path="people", weights=at))
        for item in range(len(zone.gains)):
            b.driver(Driver("gain_vapour", (number[zone.name], item), path="equipment", weights=at))
        for item, source in enumerate(zone.moisture):
            path = "bilge" if zone.is_space or "bilge" in source.name else "equipment"
            b.driver(Driver("moisture", (number[zone.name], item), path=path, weights=at))
    holdable = [zone.control is not None and zone.control.humidity_limit <= 1.0 for zone in zones]
    return b.network(air, holdable, np.eye(len(zones)))

"""Air carried between zones and from outdoors, as links with a volume flow for each regime.

Only what flows *into* a zone carries heat and moisture to it; what leaves takes the zone's own air. A zone from which
more is extracted than is supplied makes up the difference from outdoors (infiltration).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from heatsim.network.regimes import Regimes
from heatsim.physics import openings as physics
from heatsim.physics.moist_air import DRY_AIR_HEAT, VAPOUR_HEAT
from heatsim.scenario.resolved import OUTDOORS, Opening, Resolved

Array = npt.NDArray[np.float64]

REFERENCE_DIFFERENCE = 1.0
"""[K] Temperature difference at which a door between two zones is linearised, unless their setpoints differ by more."""
OUTDOOR_DIFFERENCE = 6.0
"""[K] The same for an opening to outdoors; the hour's own difference is carried by the drivers."""
DRY_AIR_DENSITY = 1.15
"""[kg dry air/m³] At 30 °C, 60 %: of the reference air in which links count their volume."""
MOIST_HEAT = DRY_AIR_HEAT + VAPOUR_HEAT * 0.012
"""[J/(kg dry air·K)] Dry air and its vapour at 12 g/kg, between cooled rooms (9) and tropical air (20)."""


@dataclass(frozen=True)
class AirLink:
    """Air from `source` (zone index, −1 outdoors) into `target`; `opening` index or −1.

    `volume` (regime,) is in m³/s of reference air, so that it carries the mass that the flow has at the mean density of
    the weathers; the drivers carry what the hour's own density differs from that.
    """

    source: int
    target: int
    path: str
    volume: Array
    opening: int = -1


def air_links(resolved: Resolved, regimes: Regimes, index: Mapping[str, int]) -> list[AirLink]:
    """Every stream of air into a simulated zone.

    Parameters
    ----------
    resolved : Resolved
    regimes : Regimes
    index : mapping
        Zone name to its number; scheduled spaces are absent and exchange no air.
    """
    links: list[AirLink] = []
    supply = np.zeros((len(index), len(regimes.wind)))
    thin = thinness(regimes)
    for number, flow in enumerate(resolved.flows):
        rate = thin * flow.rate * regimes.flow[:, number]
        source, target = index.get(flow.source, -1), index.get(flow.target, -1)
        if target >= 0:
            supply[target] += rate
            links.append(AirLink(source, target, flow.kind, rate))
        if source >= 0:
            supply[source] -= rate if flow.kind != "infiltration" else 0.0
    for zone in range(len(index)):
        makeup = np.maximum(-supply[zone], 0.0)
        if np.any(makeup > 1e-12):
            links.append(AirLink(-1, zone, "infiltration", makeup))
    for number, opening in enumerate(resolved.openings):
        first, second = index.get(opening.first, -1), index.get(opening.second, -1)
        share = regimes.opening[:, number]
        if first < 0 and second < 0:
            continue
        outdoors = OUTDOORS in (opening.first, opening.second)
        if not outdoors and (first < 0 or second < 0):
            continue
        difference = OUTDOOR_DIFFERENCE if outdoors else reference_difference(resolved, opening)
        wind = regimes.wind if outdoors else np.zeros_like(regimes.wind)
        volume = thin * share * exchange(opening, difference, wind)
        for target, source in ((first, second), (second, first)):
            if target >= 0:
                links.append(AirLink(source, target, "doors", volume, number))
    return links


def thinness(regimes: Regimes) -> float:
    """Mean density of the weathers' air over that of reference air. [-]"""
    return regimes.air_density / DRY_AIR_DENSITY


def reference_difference(resolved: Resolved, opening: Opening) -> float:
    """Temperature difference at which a door between zones is linearised: of the setpoints, at least 1 K."""
    setpoints = {
        zone.name: float(np.mean(zone.control.cooling_setpoint.values)) for zone in resolved.zones if zone.control
    }
    first, second = setpoints.get(opening.first), setpoints.get(opening.second)
    if first is None or second is None:
        return REFERENCE_DIFFERENCE
    return max(abs(first - second), REFERENCE_DIFFERENCE)


def exchange(opening: Opening, difference: float | Array, wind: float | Array) -> Array:
    """Volume flow each way through a fully open door, hatch or stair; wind and buoyancy add in squares. [m³/s]"""
    if opening.kind == "door":
        buoyant = physics.door_exchange(opening.width, opening.height, difference)
    else:
        buoyant = physics.hatch_exchange(opening.width, opening.length, difference)
    area = opening.width * (opening.height if opening.kind == "door" else opening.length)
    blown = physics.wind_exchange(area, wind, opening.wind_coefficient)
    return np.asarray(np.hypot(buoyant, blown), dtype=float)

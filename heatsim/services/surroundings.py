"""How hot and how damp the spaces are that ducts and pipes cross: the boat's own simulation, not a guess."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from heatsim.equipment.holding import Reruns
from heatsim.equipment.plan import Plan
from heatsim.physics.moist_air import dew_point, humidity_ratio
from heatsim.scenario.resolved import OUTDOORS

if TYPE_CHECKING:
    from heatsim.equipment.proof import Proof

VOID = 4.0
"""[K] That joinery voids are warmer than the room they belong to (assumed)."""
OFTEN = 90.0
"""[%] Of the minutes of a proved day in which a room's dew point is lower than what surfaces are held against
(assumed)."""


class Around(NamedTuple):
    """Highest air temperature and dew point of a space on the design days. [°C]"""

    temperature: float
    dew_point: float


def surroundings(plan: Plan, proof: Proof | None = None) -> dict[str, Around]:
    """Every zone and space by name, and outdoors; rooms with units by the proof where there is one.

    Rooms with units are as they are held; all else as it is simulated with those rooms held.
    """
    from heatsim.loads.line import one_blas_thread, solve_days
    from heatsim.loads.paths import hours

    line = plan.line or Reruns(plan.boat, plan.heading).line
    outside = Around(
        max(float(w.air.max()) for w in line.weathers),
        max(float(dew_point(w.humidity_ratio, w.pressure).max()) for w in line.weathers),
    )
    found = {OUTDOORS: outside}
    with one_blas_thread():
        parts = [hours(line, stretch) for stretch in solve_days(line, np.array([plan.heading]))]
    for i, name in enumerate(line.zones):
        air = max(float(part.air_temperature[..., i].max()) for part in parts)
        wet = max(float(dew_point(np.maximum(part.humidity_ratio[..., i], 1e-5)).max()) for part in parts)
        found[name] = Around(air, wet)
    for zone in plan.resolved.zones:
        if zone.temperature is not None:
            hottest = max(zone.temperature.values)
            found[zone.name] = Around(hottest, min(outside.dew_point, hottest))
    for i, name in enumerate(plan.needs.zones):
        held = Around(float(plan.needs.temperature[i]), float(dew_point(plan.needs.humidity_ratio[i])))
        found[name] = held if proof is None else _proved(plan, proof, name, held)
    return found


def _proved(plan: Plan, proof: Proof, zone: str, held: Around) -> Around:
    """A room as the proof has it on its worst settled day, by the dew point that is exceeded in a tenth of it."""
    assert plan.chosen is not None
    part = proof.of(plan.chosen.name)
    if zone not in part["zone"].values or not part.sizes["run"]:
        return held
    air = part["air_temperature"].sel(zone=zone).values
    wet = dew_point(np.maximum(humidity_ratio(air, part["relative_humidity"].sel(zone=zone).values), 1e-5))
    return Around(held.temperature, float(np.percentile(wet, OFTEN, axis=1).max()))

"""Classes of climate: where networks are linearised when boats in many places and months share them.

A boat run alone is linearised at the mean of its own days. A study cannot prepare a network for every place and month,
so it linearises at the middle of one of three classes, told apart by what turns natural convection round: whether decks
in the sun, and the sea, are warmer than rooms. A run's class hangs on its own weather alone; so its result is the same
whatever else is in the study, and `simulate(..., shared=True)` gives it for one boat.

Measured against each boat's own mean: on the three demo boats in August the block's peak moves by up to 0.5 % and a
room's by up to 1.6 %; on tern-24's typical day of a cool January, when most rooms need nothing, the block's by 1.5 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from heatsim.climate.weather import Weather
from heatsim.network.heat import ROOM_TEMPERATURE, SUNLIT_DAY
from heatsim.network.regimes import WIND_STEP
from heatsim.physics.moist_air import dry_air_density


class ClimateClass(NamedTuple):
    """Middle of a class: outdoor air and sea [°C], and the density of outdoor air [kg of dry air per m³]."""

    outdoor: float
    sea: float
    air_density: float


COOL, WARM, HOT = (13.0, 14.0), (23.0, 20.0), (28.0, 28.0)
"""[°C] Middles of the classes, air and sea (assumed, from the regions table): decks colder than rooms; warmer, over a
sea that is not; all warmer."""
DENSITY_STEP = 0.04
"""[kg/m³] To which the density is rounded: half of it is 2 % of what flows between rooms."""

HUMIDITY_RATIO = 0.01
"""[kg/kg] Of the air of a class; twice as much thins it by 0.6 %."""


def climate_class(weathers: Sequence[Weather]) -> ClimateClass:
    """The class of one boat's days or year, by the means of air and sea."""
    air, sea = (float(np.mean([getattr(w, name).mean() for w in weathers])) for name in ("air", "sea"))
    cool, hot = air + SUNLIT_DAY <= ROOM_TEMPERATURE, sea > ROOM_TEMPERATURE
    outdoor, water = COOL if cool else HOT if hot else WARM
    pressure = float(np.mean([w.pressure for w in weathers]))
    density = float(dry_air_density(outdoor, HUMIDITY_RATIO, pressure))
    return ClimateClass(outdoor, water, round(density / DENSITY_STEP) * DENSITY_STEP)


def wind_class(speed: float) -> float:
    """The wind at which the films of a steady day are prepared, within half a step of its own. [m/s]"""
    return WIND_STEP / 3.0 + WIND_STEP * max(0, round((speed - WIND_STEP / 3.0) / WIND_STEP))

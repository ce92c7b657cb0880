"""The networks and boats that are timed: a toy boat of 12 zones and about 100 nodes, and the demo boats."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import toys

from heatsim.network.base import System
from heatsim.solve.base import Band

ZONES, YEAR = 12, 35040
STEP = 900.0
Array = npt.NDArray[np.float64]


def toy_boat() -> System:
    """12 zones with air, furnishings and two walls of three cells: 96 massive nodes, one-way air between cabins."""
    return toys.random_system(np.random.default_rng(2025), ZONES, walls=2, layers=3, one_way=True)


def year_drivers(system: System, runs: int = 1) -> Array:
    """Outdoor air, sea and gains of a year (2, run, step, driver): daily and yearly waves, sun by day, some noise."""
    rng = np.random.default_rng(7)
    hour = np.arange(YEAR + 1) * STEP / 3600.0
    day, year = 2.0 * np.pi * hour / 24.0, 2.0 * np.pi * hour / 8760.0
    zones = len(system.zones)
    edges = np.empty((runs, YEAR + 1, 2 + zones))
    for run in range(runs):
        edges[run, :, 0] = (
            23.0 - 6.0 * np.cos(year) - 4.0 * np.cos(day - 0.6) + rng.normal(0.0, 0.3, YEAR + 1) + run * 0.01
        )
        edges[run, :, 1] = 24.0 - 4.0 * np.cos(year - 0.8)
        sun = np.maximum(-np.cos(day), 0.0)[:, None] * rng.uniform(100.0, 700.0, zones)
        edges[run, :, 2:] = sun + rng.uniform(30.0, 150.0, zones)
    return np.stack([edges[:, :-1], edges[:, 1:]])


def year_band(runs: int = 1) -> Band:
    """Mixed modes: cooled above 24, heated below 20, limits that are reached in the hot weeks."""
    shape = (runs, YEAR, ZONES)
    return Band(*(np.broadcast_to(np.float64(v), shape) for v in (24.0, 20.0, 700.0, 500.0)))

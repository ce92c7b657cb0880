"""The networks and boats that are timed: a toy boat of 12 zones and about 100 nodes, and the demo boats."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import numpy.typing as npt
import toys

from heatsim.network.base import System
from heatsim.solve import compiled, kernel
from heatsim.solve.base import Band
from heatsim.solve.kernel import ABREAST
from heatsim.solve.operators import Operators

ZONES, YEAR = 12, 35040
STEP = 900.0
BANDS = ("cool", "heat", "cool_limit", "heat_limit")
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


def finer(u: Array, parts: int) -> Array:
    """The same straight drivers in `parts` steps for each of (2, run, step, driver)."""
    share = np.arange(parts + 1) / parts
    edges = u[0][:, :, None] + (u[1] - u[0])[:, :, None] * share[None, None, :, None]
    runs, steps, _, drivers = edges.shape
    return np.stack([edges[:, :, :-1], edges[:, :, 1:]]).reshape(2, runs, steps * parts, drivers)


def most_years(operators: Operators, repeats: int = 5) -> float:
    """Years a second that two threads reach with nothing but a step's matrix products, operands in cache."""
    stacked, n, zones = compiled._stack(operators), operators.regimes[0].reads.shape[1], ZONES
    inverse = np.eye(2 * zones)

    def years() -> None:
        reached = stacked.y_heated[0, :zones]
        _products(stacked.reads[0], inverse, reached, stacked.heated[0], np.zeros((ABREAST, n)), YEAR)

    years()
    best = 0.0
    with ThreadPoolExecutor(2) as pool:
        for _ in range(repeats):
            began = time.perf_counter()
            list(pool.map(lambda _: years(), range(16)))
            best = max(best, 16 * ABREAST / (time.perf_counter() - began))
    return best


@kernel._whole
def _products(reads, inverse, reached, heated, z, steps):  # type: ignore[no-untyped-def]
    runs = len(z)
    y, h, e = np.zeros((runs, len(reads))), np.zeros((runs, len(inverse))), np.zeros((runs, len(reached)))
    for _ in range(steps):
        kernel._times_abreast(reads, 0, len(reads), z, y)
        for run in range(runs):
            kernel._times(inverse, y[run, : h.shape[1]], h[run])
            kernel._times(reached, h[run], e[run])
        kernel._add_rows_abreast(h, heated, z)
        y[:] = 0.0
        h[:] = 0.0

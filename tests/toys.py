"""Small networks with known answers, built directly: no boat, no weather."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from heatsim.network.base import System
from heatsim.solve.base import Band


def toy_system(
    capacity: list[float],
    joined: list[tuple[int, int, float]],
    fed: list[tuple[int, int, float]],
    zones: list[int],
    moved: list[tuple[int, int, float]] | None = None,
    drivers: int = 1,
) -> System:
    """Nodes with capacities [J/K]; `joined` (a, b, W/K), `fed` (node, driver, W/K), `moved` (target, source, W/K).

    The last `len(zones)` drivers beyond `drivers` are heat into the zones' nodes [W].
    """
    n, z = len(capacity), len(zones)
    K, B = np.zeros((1, n, n)), np.zeros((1, n, drivers + z))
    for a, b, g in joined:
        K[0, a, b] += g
        K[0, b, a] += g
        K[0, a, a] -= g
        K[0, b, b] -= g
    for node, driver, g in fed:
        K[0, node, node] -= g
        B[0, node, driver] += g
    for target, source, g in moved or []:
        K[0, target, source] += g
        K[0, target, target] -= g
    S, Y = np.zeros((n, z)), np.zeros((z, n))
    for i, node in enumerate(zones):
        S[node, i] = Y[i, node] = B[0, node, drivers + i] = 1.0
    return System(
        np.array(capacity), K, B, S, Y, np.ones(z, dtype=bool), tuple(f"n{i}" for i in range(n)),
        tuple(f"z{i}" for i in range(z)),
    )  # fmt: skip


def random_system(
    rng: np.random.Generator, zones: int = 12, walls: int = 4, layers: int = 2, one_way: bool = False
) -> System:
    """A boat-like network: each zone has air, a massless radiant node, furnishings and `walls` walls of `layers` cells.

    Drivers: outdoor air, sea, then heat into each zone's air.
    """
    capacity: list[float] = []
    joined, fed, moved = [], [], []
    air = []
    for zone in range(zones):
        base = len(capacity)
        air.append(base)
        capacity += [rng.uniform(2e4, 8e4), 0.0, rng.uniform(2e5, 6e5)]
        joined += [(base, base + 2, rng.uniform(20, 60)), (base + 1, base + 2, rng.uniform(20, 60))]
        fed.append((base, 0, rng.uniform(2, 15)))
        for wall in range(walls):
            skin, area = len(capacity), rng.uniform(3, 9)
            capacity.append(0.0)
            joined += [(base, skin, 3.0 * area), (base + 1, skin, 5.0 * area)]
            previous, share = skin, rng.uniform(1.0, 4.0) * area
            for _ in range(layers):
                node = len(capacity)
                capacity.append(rng.uniform(4e3, 2e4) * area)
                joined.append((previous, node, share))
                previous = node
            fed.append((previous, 1 if wall == 0 else 0, 15.0 * area))
        if zone and rng.uniform() < 0.7:
            joined.append((base, air[zone - 1], rng.uniform(5, 40)))
        if zone and one_way:
            moved.append((base, air[zone - 1], rng.uniform(5, 30)))
    return toy_system(capacity, joined, fed, air, moved, drivers=2)


def random_day(
    rng: np.random.Generator, system: System, steps: int, runs: int = 1, hot: bool = True
) -> npt.NDArray[np.float64]:
    """Drivers (2, run, step, driver) for `random_system` over one day, straight between steps."""
    t = np.arange(steps + 1) / steps * 2.0 * np.pi
    zones = len(system.zones)
    u = np.zeros((steps + 1, runs, 2 + zones))
    middle = 31.0 if hot else 24.0
    for run in range(runs):
        u[:, run, 0] = middle - 5.0 * np.cos(t - 0.6) + rng.uniform(-1, 1)
        u[:, run, 1] = 27.0 + rng.uniform(-1, 1)
        sun = np.maximum(-np.cos(t), 0.0)[:, None] * rng.uniform(50, 900, zones)
        u[:, run, 2:] = sun + rng.uniform(20, 150, zones)
    moved = np.moveaxis(u, 0, 1)
    return np.stack([moved[:, :-1], moved[:, 1:]])


def band(
    zones: int, steps: int, runs: int = 1, cool: float = 23.0, heat: float = 20.0, cool_limit: float = np.inf,
    heat_limit: float = np.inf,
) -> Band:  # fmt: skip
    """The same band for all zones and steps."""
    shape = (runs, steps, zones)
    return Band(*(np.full(shape, value) for value in (cool, heat, cool_limit, heat_limit)))

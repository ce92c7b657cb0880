"""The network as a value: nodes, directed links, named drivers; and the matrices made from it.

A link says that its target node receives G (T_source − T_target); a wall is two links, air blown from one zone to the
next is one. Everything the solver needs (`System`) and everything a report needs (which flow crosses which zone's
boundary, `boundary_gain`) comes from the same table of links, but by different code, so that one checks the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

HEAT_PATHS = (
    "hull", "bottom", "deck", "house", "glass", "bulkhead", "sole", "sun", "fresh_air", "infiltration", "doors",
    "transfer", "people", "lights", "equipment", "storage",
)  # fmt: skip
CAUSES = (
    "sun_through_glass", "sun_on_deck", "sun_on_hull_and_house", "sky", "outdoor_temperature", "outdoor_air", "sea",
    "engine_space", "adjoining", "people", "lights", "equipment", "setpoints", "plant", "start",
)  # fmt: skip
LAWS = (
    "fixed", "outside_film", "awning_gap", "awning_top", "inside_convection", "blind_convection", "scheduled_film",
    "long_wave", "door", "outdoor_air",
)  # fmt: skip
"""What a link's conductance is a linearised or binned value of; loads/unlinearised.py evaluates the laws themselves."""
Law = tuple[str, int]
"""One of LAWS and the number of what it is of: network/heat.py says of what."""
FIXED: Law = ("fixed", -1)
MOISTURE_SOURCES = ("fresh_air", "infiltration", "doors", "transfer", "people", "equipment", "bilge", "storage")


@dataclass(frozen=True)
class Driver:
    """One column of u. `kind` and `of` say what fills it: ("sun", face), ("people", (zone, item)) …

    A temperature driver is what links refer to; a source (W or kg/s) enters nodes by `weights`.
    """

    kind: str
    of: tuple[int, ...] = ()
    cause: str = ""
    path: str = ""
    weights: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True)
class Network:
    """Nodes, links and drivers of heat or of moisture.

    `zone_of` (node,) is the zone whose boundary encloses the node, −1 for walls. `source` (link,) counts nodes first,
    then drivers. `conductance` is (regime, link). `controlled` (zone, node) weighs the nodes a thermostat reads;
    `supplied` (zone,) is the node its equipment feeds. `holdable` (zone,) says whether anything may be held there.
    `law` (link,) numbers LAWS and `item` (link,) what the law is of.
    """

    nodes: tuple[str, ...]
    capacity: Array
    zones: tuple[str, ...]
    zone_of: Indices
    controlled: Array
    supplied: Indices
    holdable: npt.NDArray[np.bool_]
    drivers: tuple[Driver, ...]
    paths: tuple[str, ...]
    target: Indices
    source: Indices
    path: Indices
    conductance: Array
    law: Indices
    item: Indices
    notes: dict[str, Array] = field(default_factory=dict)

    @property
    def regimes(self) -> int:
        """Number of regimes."""
        return int(self.conductance.shape[0])


def like_supply(network: Network, column: int) -> int:
    """The zone that a driver enters exactly as its equipment's heat (or moisture) does, −1 where there is none."""
    for node, weight in network.drivers[column].weights:
        zones = np.flatnonzero((network.supplied == node) & (network.capacity[node] > 0.0))
        if len(network.drivers[column].weights) == 1 and weight == 1.0 and len(zones) == 1:
            return int(zones[0])
    return -1


@dataclass(frozen=True)
class System:
    """`C dT/dt = K T + B u + S q`, read by a thermostat as `Y T`; one K and B for each regime.

    Shapes: capacity (node,), K (regime, node, node), B (regime, node, driver), S (node, zone), Y (zone, node).
    """

    capacity: Array
    K: Array
    B: Array
    S: Array
    Y: Array
    holdable: npt.NDArray[np.bool_]
    nodes: tuple[str, ...]
    zones: tuple[str, ...]


def system(network: Network) -> System:
    """Assemble the matrices of a network.

    Returns
    -------
    System
    """
    nodes, drivers, regimes = len(network.nodes), len(network.drivers), network.regimes
    extended = np.zeros((regimes, nodes, nodes + drivers))
    for link in range(len(network.target)):
        target, source, G = network.target[link], network.source[link], network.conductance[:, link]
        extended[:, target, source] += G
        extended[:, target, target] -= G
    B = extended[:, :, nodes:]
    for column, driver in enumerate(network.drivers):
        for node, weight in driver.weights:
            B[:, node, column] += weight
    S = np.zeros((nodes, len(network.zones)))
    S[network.supplied, np.arange(len(network.zones))] = 1.0
    return System(
        network.capacity, extended[:, :, :nodes], B, S, network.controlled, network.holdable, network.nodes,
        network.zones,
    )  # fmt: skip


@dataclass(frozen=True)
class Crossings:
    """Heat crossing zone boundaries as linear forms of node means and driver means.

    `from_nodes` (regime, zone × path, node) and `from_drivers` (regime, zone × path, driver).
    """

    from_nodes: Array
    from_drivers: Array


def crossings(network: Network) -> Crossings:
    """Read off the links which flow crosses which zone's boundary, by path (storage excepted).

    A link counts for the zone that encloses its target when its source lies outside that zone.
    """
    nodes, zones, paths = len(network.nodes), len(network.zones), len(network.paths)
    inside_source = np.where(network.source < nodes, network.zone_of[np.minimum(network.source, nodes - 1)], -1)
    zone = network.zone_of[network.target]
    crossing = np.flatnonzero((zone >= 0) & (zone != inside_source))
    forms = np.zeros((network.regimes, zones * paths, nodes + len(network.drivers)))
    for link in crossing:
        row = zone[link] * paths + network.path[link]
        forms[:, row, network.source[link]] += network.conductance[:, link]
        forms[:, row, network.target[link]] -= network.conductance[:, link]
    for column, driver in enumerate(network.drivers):
        for node, weight in driver.weights:
            if network.zone_of[node] >= 0:
                row = network.zone_of[node] * paths + network.paths.index(driver.path)
                forms[:, row, nodes + column] += weight
    return Crossings(forms[:, :, :nodes], forms[:, :, nodes:])


class Builder:
    """Collects nodes, links and drivers while a network is assembled; `network()` freezes it."""

    def __init__(self, regimes: int, zones: Sequence[str], paths: tuple[str, ...]) -> None:
        self.regimes, self.zones, self.paths = regimes, tuple(zones), paths
        self.names: list[str] = []
        self.capacities: list[float] = []
        self.zone_of: list[int] = []
        self.drivers: list[Driver] = []
        self.links: list[tuple[int, int, int, Array, Law]] = []

    def node(self, name: str, capacity: float = 0.0, zone: int = -1) -> int:
        """Add a node; returns its index."""
        self.names.append(name)
        self.capacities.append(capacity)
        self.zone_of.append(zone)
        return len(self.names) - 1

    def driver(self, driver: Driver) -> int:
        """Add a driver; returns its number, to be passed to `fed`."""
        self.drivers.append(driver)
        return len(self.drivers) - 1

    def moved(self, target: int, source: int, conductance: float | Array, path: str, *, law: Law = FIXED) -> None:
        """One-way link: air carried from node `source` into node `target`."""
        self._add(target, source, conductance, path, law)

    def joined(
        self, first: int, second: int, conductance: float | Array, path: str, back: str | None = None, *,
        law: Law = FIXED,
    ) -> None:  # fmt: skip
        """Two-way link; `path` is how `first`'s zone sees it, `back` how `second`'s does."""
        self._add(first, second, conductance, path, law)
        self._add(second, first, conductance, back or path, law)

    def fed(self, node: int, driver: int, conductance: float | Array, path: str, *, law: Law = FIXED) -> None:
        """Link from a temperature driver into a node."""
        self._add(node, -1 - driver, conductance, path, law)

    def _add(self, target: int, source: int, conductance: float | Array, path: str, law: Law) -> None:
        values = np.broadcast_to(np.asarray(conductance, dtype=float), (self.regimes,))
        if np.any(values != 0.0):
            self.links.append((target, source, self.paths.index(path), values, law))

    def network(self, supplied: Sequence[int], holdable: Sequence[bool], controlled: Array, **notes: Array) -> Network:
        """Freeze."""
        count = len(self.names)
        sources = [s if s >= 0 else count - 1 - s for _, s, _, _, _ in self.links]
        return Network(
            nodes=tuple(self.names),
            capacity=np.array(self.capacities),
            zones=self.zones,
            zone_of=np.array(self.zone_of, dtype=np.int64),
            controlled=controlled,
            supplied=np.array(supplied, dtype=np.int64),
            holdable=np.array(holdable, dtype=bool),
            drivers=tuple(self.drivers),
            paths=self.paths,
            target=np.array([t for t, _, _, _, _ in self.links], dtype=np.int64),
            source=np.array(sources, dtype=np.int64),
            path=np.array([p for _, _, p, _, _ in self.links], dtype=np.int64),
            conductance=np.stack([g for _, _, _, g, _ in self.links], axis=1),
            law=np.array([LAWS.index(law) for _, _, _, _, (law, _) in self.links], dtype=np.int64),
            item=np.array([item for _, _, _, _, (_, item) in self.links], dtype=np.int64),
            notes=notes,
        )

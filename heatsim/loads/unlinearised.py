"""The second reference: the same boat with nothing binned and nothing linearised, carried by scipy's BDF.

Topology, conduction, capacities, sun and gains are the heat network's. Every link that stands for a law is worked out
from the law at each moment by the functions of physics/: convection by the hour's wind, T⁴ exchange with sky, sea,
own deck, awnings and between inner skins, natural convection by the actual sign, doors by the actual temperature
difference, outdoor air by the hour's density (network/laws.py), people's heat at the actual air temperature. Nodes
without capacity get a small one, so that all is one plain differential equation; control is by events
(solve/reference.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from heatsim.climate.weather import routine_values
from heatsim.loads.line import Line, Stretch, make_line, one_blas_thread, solve_days
from heatsim.network.base import LAWS, Network, System
from heatsim.network.drivers import deck_excesses
from heatsim.network.laws import Moment, law_groups
from heatsim.physics import moist_air
from heatsim.scenario.resolved import Resolved
from heatsim.solve.base import Band
from heatsim.solve.forms import condense
from heatsim.solve.periodic import NEAR_ENOUGH, chord_matrices
from heatsim.solve.reference import ReferenceRun, Segment, Solver, carry, open_modes, reference_run, step_band

if TYPE_CHECKING:
    import pandas as pd

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

LIGHT_TIME = 5.0
"""[s] Longest time constant of the nodes that have no capacity of their own. Against an hour it is nothing."""
MOST_DAYS = 6
SOLVER = Solver("BDF", rtol=1e-6, atol=1e-5, atol_heat=10.0, longest=300.0)
"""1e-5 K and 10 J in hours of 1e5 to 1e7 J: a hundred times finer than what is to be told apart (1 %)."""
ALL = (*LAWS, "people")
"""All laws, with people's sensible heat at the actual air temperature."""


@dataclass(frozen=True)
class UnlinearisedDay:
    """One day of one heading, periodic: mean heat of each step (step, zone) [W], air at its end (step, zone) [°C]."""

    heat: Array
    air: Array
    days: int
    distance: float
    evaluations: int


def compare_day(resolved: Resolved, day: int = 0, heading: int = 0, laws: tuple[str, ...] = ALL) -> pd.DataFrame:
    """The engine's day beside the unlinearised one.

    Parameters
    ----------
    day, heading : int
        Which of the scenario's days and headings.
    laws : tuple of str
        Which laws are evaluated, of `ALL`; the others stay as in the linear network.

    Returns
    -------
    DataFrame
        A row for each conditioned zone and the block: hourly sensible `peak` of the engine and of the `reference` [W],
        their difference relative to the reference's peak, `at_peak`, and the largest hourly difference relative to that
        peak, `hourly`, both in %.
    """
    from heatsim.climate.days import design_weather
    from heatsim.loads.simulate import DAY_STEP

    with one_blas_thread():
        line = make_line(resolved, tuple(design_weather(resolved, d, DAY_STEP) for d in resolved.days))
        stretch = solve_days(line, np.array([resolved.place.headings[heading]]))[day]
        return difference(line, stretch, unlinearised_day(line, stretch, laws=laws).heat)


def difference(line: Line, stretch: Stretch, heat: Array) -> pd.DataFrame:
    """The table of `compare_day` from a solved day, its first run, and mean heats of a reference, (step, zone) W."""
    import pandas as pd

    per_hour = round(3600.0 / stretch.weather.step)
    held = np.flatnonzero(line.heat.holdable)

    def hourly(heat: Array) -> Array:
        cooling = np.maximum(-heat[:, held], 0.0).reshape(-1, per_hour, len(held)).mean(axis=1)
        return np.concatenate([cooling, cooling.sum(axis=1, keepdims=True)], axis=1)

    ours, theirs = hourly(stretch.heat.heat[0]), hourly(heat)
    peak, reference = ours.max(axis=0), theirs.max(axis=0)
    scale = 100.0 / np.maximum(reference, 1e-9)
    return pd.DataFrame(
        {
            "peak": peak,
            "reference": reference,
            "at_peak": (peak - reference) * scale,
            "hourly": np.abs(ours - theirs).max(axis=0) * scale,
        },
        index=pd.Index([*(line.zones[i] for i in held), "block"], name="zone"),
    )


def same_network_day(line: Line, stretch: Stretch, solver: Solver = SOLVER) -> ReferenceRun:
    """The first run of a solved day by scipy's solver on the same linear network, from the engine's periodic start."""
    return reference_run(
        line.heat_operators.system, stretch.weather.step, stretch.heat_first[0], stretch.heat_u[0, 0],
        stretch.heat_u[1, 0], stretch.number, stretch.band, solver,
    )  # fmt: skip


def unlinearised_day(
    line: Line, stretch: Stretch, *, laws: tuple[str, ...] = ALL, light_time: float = LIGHT_TIME
) -> UnlinearisedDay:
    """Carry the first run of a solved day through the laws until it is periodic.

    It starts from the engine's periodic state; after each day the engine's chord step corrects the start.

    Parameters
    ----------
    laws : tuple of str
        See `compare_day`.
    light_time : float
        See `LIGHT_TIME`. [s]
    """
    boat = _Boat(line, stretch, laws, light_time)
    band = stretch.band
    massive = np.flatnonzero(line.heat.capacity > 0.0)
    chord = chord_matrices(line.heat_operators, stretch.number, 1)[0]
    x = boat.start(line.heat_operators.system, stretch)
    evaluations, mode = 0, np.zeros(len(line.zones), dtype=np.int8)
    for day in range(1, MOST_DAYS + 1):
        first = x
        heat, air = [], []
        for begin, end in boat.stretches(band):
            boat.begin = begin
            segment = Segment(boat, mode, step_band(band, begin))
            x, jump = open_modes(segment, x)
            samples = np.asarray(np.arange(1, end - begin + 1) * boat.step, dtype=np.float64)
            states, used, _, work = carry(segment, x, samples, SOLVER)
            x, mode, evaluations = states[-1], segment.mode, evaluations + work
            used = np.concatenate([np.zeros((1, used.shape[1])), used + jump])
            heat.append(np.diff(used, axis=0) / boat.step)
            air.append(states[:, line.heat.supplied])
        step = chord @ (x - first)[massive]
        distance = float(np.abs(step).max())
        if distance <= NEAR_ENOUGH or day == MOST_DAYS:
            break
        x = x.copy()
        x[massive] += step - (x - first)[massive]
    return UnlinearisedDay(np.concatenate(heat), np.concatenate(air), day, distance, evaluations)


def _least(network: Network) -> Array:
    """Conductance of each node's weakest link, (node,) W/K, in the regime where that is strongest.

    Not of all links: thin metal would lend its skins the capacity of a thick wall.
    """
    least = np.full((network.regimes, len(network.nodes)), np.inf)
    for r, values in enumerate(network.conductance):
        np.minimum.at(least[r], network.target, np.where(values > 0.0, values, np.inf))
    return np.asarray(np.where(np.isfinite(least), least, 0.0).max(axis=0))


class _Boat:
    """The whole network as a `Course` from step `begin` on: states are all nodes."""

    begin = 0

    def __init__(self, line: Line, stretch: Stretch, laws: tuple[str, ...], light_time: float) -> None:
        network, weather = line.heat, stretch.weather
        self.line, self.network, self.weather, self.step = line, network, weather, weather.step
        self.number, self.laws = stretch.number, laws
        self.nodes = len(network.nodes)
        self.capacity = np.where(network.capacity > 0.0, network.capacity, light_time * _least(network))
        system = line.heat_operators.system
        self.G, self.Y = system.S / self.capacity[:, None], network.controlled
        self._zero = np.zeros(len(network.zones))
        self.knots = _Knots(line, stretch, laws)
        self.groups = law_groups(network, line.resolved, line.regimes, laws)

    def start(self, system: System, stretch: Stretch) -> Array:
        """All nodes as the linear engine has them when the day begins."""
        c = condense(system, int(stretch.number[0]))
        return np.asarray(c.from_state @ stretch.heat_first[0] + c.from_drivers @ stretch.heat_u[0, 0, 0])

    def stretches(self, band: Band) -> Iterator[tuple[int, int]]:
        """First and last step (exclusive) between jumps of routines, setpoints or weather."""
        jump = np.any(np.abs(self.knots.values[0, 1:] - self.knots.values[1, :-1]) > 1e-9, axis=1)
        jump |= np.diff(self.number) != 0
        jump |= np.diff(self.weather.wind) != 0.0
        for part in (band.cool, band.heat, band.cool_limit, band.heat_limit):
            jump |= np.any(part[0, 1:] != part[0, :-1], axis=1)
        edges = [0, *(np.flatnonzero(jump) + 1).tolist(), len(self.number)]
        yield from pairwise(edges)

    def now(self, t: float) -> _Now:
        """Drivers at a moment of the stretch."""
        whole = min(int(t / self.step), len(self.number) - self.begin - 1)
        k = self.begin + whole
        return self.knots.at(k, t / self.step - whole, int(self.number[k]), float(self.weather.wind[k]))

    def conductances(self, now: _Now, x: Array) -> tuple[Array, Array, Array]:
        """Of every link at a moment; temperatures on both its ends; and the heat laws add beyond G ΔT, (link,)."""
        network = self.network
        ends = np.concatenate([x, now.u])
        source, target = ends[network.source], x[network.target]
        G, more = network.conductance[now.moment.regime].copy(), np.zeros(len(network.target))
        for group in self.groups:
            G[group.links], more[group.links] = group(now.moment, source[group.links], target[group.links])
        return G, source - target, more

    def rates(self, t: float, x: Array) -> Array:
        """See `Course`."""
        now = self.now(t)
        G, apart, more = self.conductances(now, x)
        flow = np.bincount(self.network.target, G * apart + more, self.nodes)
        return np.asarray((flow + now.sources + self.knots.people(now, x)) / self.capacity)

    def jacobian(self, t: float, x: Array) -> Any:
        """See `Course`; conductances taken as they are at x."""
        from scipy import sparse

        network = self.network
        G, _, _ = self.conductances(self.now(t), x)
        within = np.flatnonzero(network.source < self.nodes)
        rows = np.concatenate([network.target, network.target[within]])
        columns = np.concatenate([network.target, network.source[within]])
        values = np.concatenate([-G, G[within]]) / self.capacity[rows]
        return sparse.csc_matrix((values, (rows, columns)), (self.nodes, self.nodes))

    def direct(self, t: float) -> Array:
        """See `Course`."""
        return self._zero

    direct_rate = direct


@dataclass(frozen=True)
class _Now:
    """What drives the boat at one moment; `u` the network's drivers, `sources` (node,) W, `present` persons."""

    moment: Moment
    u: Array
    sources: Array
    present: Array


class _Knots:
    """Values at each step's start and end, (2, step, …), straight between."""

    def __init__(self, line: Line, stretch: Stretch, laws: tuple[str, ...]) -> None:
        network, weather, resolved = line.heat, stretch.weather, line.resolved
        u = stretch.heat_u[:, 0].copy()
        replaced = _replaced(laws)
        absorbed = _absorbed(line, stretch)
        for column, driver in enumerate(network.drivers):
            if driver.kind in replaced:
                u[..., column] = absorbed[..., driver.of[0]] if driver.kind == "outer_sun" else 0.0
        weights = np.zeros((len(network.drivers), len(network.nodes)))
        for column, driver in enumerate(network.drivers):
            for node, weight in driver.weights:
                weights[column, node] += weight
        density = moist_air.dry_air_density(weather.air, weather.humidity_ratio, weather.pressure)
        self.groups = [
            (driver, resolved.zones[driver.of[0]].people[driver.of[1]])
            for driver in network.drivers
            if driver.kind == "people" and "people" in replaced
        ]
        present = [people.count * routine_values(people.routine, weather.local_minute) for _, people in self.groups]
        presence = np.zeros((2, len(weather.time), len(self.groups)))
        if present:
            presence[:] = np.stack(present, axis=1)
        air = [next(node for node, _ in driver.weights) for driver, _ in self.groups]
        self.people_air = np.array(air, dtype=np.int64)
        self.people_weights = np.zeros((len(self.groups), len(network.nodes)))
        for i, (driver, _) in enumerate(self.groups):
            for node, weight in driver.weights:
                self.people_weights[i, node] += weight
        self.sensible, self.fall, self.most = (
            np.array([getattr(people, name) for _, people in self.groups], dtype=float)
            for name in ("sensible", "sensible_slope", "total")
        )
        scalars = np.stack([weather.sky, weather.air, weather.sea, density], axis=-1)
        parts = (u, u @ weights, scalars, presence, _deck(line, stretch))
        self.cuts = np.cumsum([part.shape[-1] for part in parts])[:-1]
        self.values = np.concatenate(parts, axis=-1)

    def at(self, k: int, share: float, regime: int, wind: float) -> _Now:
        """A moment of step k."""
        first, last = self.values[0, k], self.values[1, k]
        u, sources, scalars, present, deck = np.split(first + (last - first) * share, self.cuts)
        sky, air, sea, density = map(float, scalars)
        return _Now(Moment(regime, wind, sky, air, sea, density, deck), u, sources, present)

    def people(self, now: _Now, x: Array) -> Array:
        """People's sensible heat at each node's actual air, (node,) W."""
        if not self.groups:
            return np.zeros(self.people_weights.shape[1])
        sensible = np.clip(self.sensible - self.fall * (x[self.people_air] - 24.0), 0.0, self.most)
        return np.asarray((now.present * sensible) @ self.people_weights)


def _replaced(laws: tuple[str, ...]) -> set[str]:
    """Driver kinds whose part the chosen laws take over."""
    kinds = {"outside_film": {"outer_sun", "long_wave"}, "awning_top": {"awning_long_wave"},
             "outdoor_air": {"air_correction"}, "people": {"people"}}  # fmt: skip
    return set().union(*(kinds.get(law, set()) for law in laws))


def _deck(line: Line, stretch: Stretch) -> Array:
    """Temperature with which own deck radiates before each face, (2, step, face) °C; of the air where there is none."""
    air = stretch.weather.air
    excesses = deck_excesses(line.resolved, stretch.weather, stretch.sun)
    return np.stack([air if one is None else air + (one[0] + one[1])[:, 0] for one in excesses], axis=-1)


def _absorbed(line: Line, stretch: Stretch) -> Array:
    """Sun that outer skins absorb, (2, step, face) W: what they absorb, unscaled by any film."""
    faces = line.resolved.faces
    glass = np.array([face.glazing is not None for face in faces])
    opaque = np.array([face.absorptance for face in faces])
    area = np.array([face.area for face in faces])
    return np.asarray(area * np.where(glass, stretch.sun.outer_absorbed[0], opaque * stretch.sun.incident[0]))

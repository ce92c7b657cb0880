"""The load split by driver: each cause alone in the same network, with the recorded modes of the full run.

With the modes known the network is linear, so the heats of the causes add up to the heat of the run. Temperatures are
counted from one origin, the mean setpoint of the cooled zones; what held setpoints differ from it is a cause of its
own, and what a start away from the periodic state leaves is the last.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.loads.line import Line, Stretch
from heatsim.network.base import CAUSES
from heatsim.solve.base import Mode
from heatsim.solve.forcing import Forcing, force
from heatsim.solve.periodic import chord_matrices
from heatsim.solve.stepping import follow

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

TEMPERATURES = ("air", "sea", "scheduled")
CLOSED = 0.02
"""[K] Chord step after which a cause counts as periodic: the next would be a hundredth of it (the mode changes of a
day make the day matrix wrong by some per cent), and the rest goes to the cause `start`."""
RUNS_AT_ONCE = 4
"""Headings whose causes go through together: their state stays within a core's cache."""
ROUNDS = 4
"""Chord steps for the periodic start of the causes; what is left over is the cause `start`."""


def origin(line: Line) -> float:
    """Mean cooling setpoint of the zones that are held: where temperatures of causes are counted from [°C]."""
    setpoints = [
        float(np.mean(zone.control.cooling_setpoint.values)) for zone in line.resolved.zones if zone.control is not None
    ]
    return float(np.mean(setpoints)) if setpoints else 24.0


@dataclass(frozen=True)
class Split:
    """One stretch split by cause: cooling [W] and thermostat reading above the origin [K], both
    (heading, step, zone, cause), and the states at its end (cause, heading, massive node), from which a year goes on.
    """

    load: Array
    reading: Array
    end: Array


Follower = Callable[..., tuple[Array, Array, Array]]


class Recorded(NamedTuple):
    """What a split needs of runs that were carried: regimes (step,) or (run, step); drivers (2, run, step, driver); the
    state it began from (run, massive node) °C; and (run, step, zone) heat, mode, whether a held zone met its setpoint
    at the end only, and that setpoint [°C].
    """

    number: Indices
    u: Array
    first: Array
    heat: Array
    mode: npt.NDArray[np.int8]
    entering: npt.NDArray[np.bool_]
    setpoint: Array

    def of(self, which: slice) -> Recorded:
        """Some of the runs."""
        number = self.number if self.number.ndim == 1 else self.number[which]
        return Recorded(
            number, self.u[:, which], self.first[which], self.heat[which], self.mode[which], self.entering[which],
            self.setpoint[which],
        )  # fmt: skip


def behind(number: Indices, parts: Sequence[Recorded]) -> Recorded:
    """Runs of several records behind each other."""
    return Recorded(
        number, np.concatenate([part.u for part in parts], axis=1), np.concatenate([part.first for part in parts]),
        np.concatenate([part.heat for part in parts]), np.concatenate([part.mode for part in parts]),
        np.concatenate([part.entering for part in parts]), np.concatenate([part.setpoint for part in parts]),
    )  # fmt: skip


def recorded(stretch: Stretch) -> Recorded:
    """Of a stretch of one boat."""
    done = stretch.heat
    setpoint = np.where(done.mode == Mode.HOLD_HEAT, stretch.band.heat, stretch.band.cool)
    return Recorded(
        stretch.number, stretch.heat_u, stretch.heat_first, done.heat, done.mode, done.entering, setpoint
    )  # fmt: skip


def split_days(line: Line, stretches: Sequence[Stretch]) -> list[Split]:
    """Split several days; those that go through the same regimes go through together."""
    first = stretches[0].number
    if not all(np.array_equal(s.number, first) for s in stretches):
        return [split_by_cause(line, recorded(stretch)) for stretch in stretches]
    split = split_by_cause(line, behind(first, [recorded(stretch) for stretch in stretches]))
    runs = len(stretches[0].heat_first)
    cuts = [slice(i * runs, (i + 1) * runs) for i in range(len(stretches))]
    return [Split(split.load[cut], split.reading[cut], split.end[:, cut]) for cut in cuts]


def split_by_cause(
    line: Line, done: Recorded, carried: Array | None = None, base: Array | None = None, follower: Follower = follow
) -> Split:
    """Each driver alone in the same network with the recorded modes.

    Parameters
    ----------
    line : Line
    done : Recorded
        With unlimited plant its loads are those of `load_by_cause`; with limits its readings split the excess.
    carried : (cause, run, massive node) array, optional
        States at the end of the stretch before; without it each cause starts from its own periodic state and what is
        left over is the cause `start`.
    base : (run,) array, optional
        Where temperatures are counted from, `origin` unless given. [°C]
    follower : callable
        `follow`, or `compiled.follow_compiled` for years.

    Returns
    -------
    Split
        The sum of `load` over causes is the run's cooling less its heating, the sum of `reading` what thermostats
        read less the origin.
    """
    u = done.u.copy()
    runs, steps, zones = done.heat.shape
    base = np.full(runs, origin(line)) if base is None else base
    for column, driver in enumerate(line.heat.drivers):
        if driver.kind in TEMPERATURES:
            u[..., column] -= base[:, None]
    above = done._replace(u=u, first=done.first - base[:, None], setpoint=done.setpoint - base[:, None, None])
    load, reading = (np.zeros((runs, steps, zones, len(CAUSES))) for _ in range(2))
    end = np.zeros((len(CAUSES), *done.first.shape))
    for begin in range(0, runs, RUNS_AT_ONCE):
        part = slice(begin, begin + RUNS_AT_ONCE)
        pieces = _Split(line, above.of(part), follower).done(None if carried is None else carried[:, part])
        load[part], reading[part], end[:, part] = pieces
    return Split(load, reading, end)


class _Split(NamedTuple):
    """Causes of some runs under way as one batch; temperatures counted from their origin."""

    line: Line
    runs: Recorded
    follower: Follower

    def done(self, carried: Array | None) -> tuple[Array, Array, Array]:
        """Load and reading (run, step, zone, cause), and the states at the end (cause, run, massive node)."""
        runs, count = self.runs, len(CAUSES)
        target, given = np.zeros((count, *runs.heat.shape)), np.zeros((count, *runs.heat.shape))
        target[CAUSES.index("setpoints")] = runs.setpoint
        limited = (runs.mode == Mode.LIMIT_COOL) | (runs.mode == Mode.LIMIT_HEAT)
        given[CAUSES.index("plant")] = np.where(limited, runs.heat, 0.0)
        forcing = self._forcing()
        states = np.zeros((count, *runs.first.shape)) if carried is None else carried.copy()
        if carried is None:
            states[:-1] = self._periodic(forcing, target[:-1], given[:-1])
        states[-1] = runs.first - states[:-1].sum(axis=0)
        heat, reading, end = self._followed(states, forcing, target, given)
        return -np.moveaxis(heat, 0, -1), np.moveaxis(reading, 0, -1), end

    def _forcing(self) -> Forcing:
        """What the drivers of each cause alone do, cause by cause."""
        drivers, u, by_step = self.line.heat.drivers, self.runs.u, self.follower is follow
        columns = [np.flatnonzero([driver.cause == cause for driver in drivers]) for cause in CAUSES]
        operators, number = self.line.heat_operators, self.runs.number
        alone = [force(operators, u[0][..., own], u[1][..., own], number, own, by_step).rows for own in columns]
        if not by_step:
            return Forcing(np.concatenate(alone))
        return Forcing(np.concatenate([rows.swapaxes(0, 1) for rows in alone], axis=1).swapaxes(0, 1))

    def _followed(self, states: Array, forcing: Forcing, target: Array, given: Array) -> tuple[Array, Array, Array]:
        """Several causes of each run behind each other, (cause, run, ...) all."""
        number, shape = self.runs.number, target.shape
        flat = (-1, *shape[2:])
        heat, reading, end = self.follower(
            self.line.heat_operators, states.reshape(-1, states.shape[-1]), forcing,
            number if number.ndim == 1 else np.tile(number, (shape[0], 1)), self.runs.mode, self.runs.entering,
            target.reshape(flat), given.reshape(flat),
        )  # fmt: skip
        return heat.reshape(shape), reading.reshape(shape), end.reshape(states.shape)

    def _periodic(self, forcing: Forcing, target: Array, given: Array) -> Array:
        """Periodic states of all causes but `start`, (cause, run, node), by chord steps."""
        count, runs = target.shape[:2]
        rows = Forcing(forcing.rows[: count * runs])
        chords = chord_matrices(self.line.heat_operators, self.runs.number, runs)
        state = np.zeros((count, *self.runs.first.shape))
        for _ in range(ROUNDS):
            change = self._followed(state, rows, target, given)[2] - state
            move = change @ chords[0].T if len(chords) == 1 else np.einsum("rij,crj->cri", chords, change)
            state = state + move
            if np.abs(move).max() < CLOSED:
                break
        return state

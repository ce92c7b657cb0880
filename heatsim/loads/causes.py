"""The load split by driver: each cause alone in the same network, with the recorded modes of the full run.

With the modes known the network is linear, so the heats of the causes add up to the heat of the run. Temperatures are
counted from one origin, the mean setpoint of the cooled zones; what held setpoints differ from it is a cause of its
own, and what a start away from the periodic state leaves is the last.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from heatsim.loads.line import Line, Stretch
from heatsim.network.base import CAUSES
from heatsim.solve.base import Mode
from heatsim.solve.periodic import chord_matrices
from heatsim.solve.stepping import Forcing, follow, force

Array = npt.NDArray[np.float64]

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


def split_days(line: Line, stretches: Sequence[Stretch]) -> list[Split]:
    """Split several days; those that go through the same regimes go through together.

    Setpoints are read on the clock, so days that share their regimes and minutes share their bands too.
    """
    first = stretches[0]
    same = all(
        np.array_equal(s.number, first.number) and np.array_equal(s.weather.local_minute, first.weather.local_minute)
        for s in stretches
    )
    if not same:
        return [split_by_cause(line, stretch) for stretch in stretches]
    done = [s.heat for s in stretches]
    whole = replace(
        first,
        heat=replace(
            first.heat,
            heat=np.concatenate([d.heat for d in done]),
            mode=np.concatenate([d.mode for d in done]),
            entering=np.concatenate([d.entering for d in done]),
        ),
        heat_u=np.concatenate([s.heat_u for s in stretches], axis=1),
        heat_first=np.concatenate([s.heat_first for s in stretches]),
    )
    split = split_by_cause(line, whole)
    runs = len(first.heat_first)
    cuts = [slice(i * runs, (i + 1) * runs) for i in range(len(stretches))]
    return [Split(split.load[cut], split.reading[cut], split.end[:, cut]) for cut in cuts]


def split_by_cause(line: Line, stretch: Stretch, carried: Array | None = None) -> Split:
    """Each driver alone in the same network with the recorded modes.

    Parameters
    ----------
    line : Line
    stretch : Stretch
        With unlimited plant its loads are those of `load_by_cause`; with limits its readings split the excess.
    carried : (cause, heading, massive node) array, optional
        States at the end of the stretch before; without it each cause starts from its own periodic state and what is
        left over is the cause `start`.

    Returns
    -------
    Split
        The sum of `load` over causes is the run's cooling less its heating, the sum of `reading` what thermostats
        read less the origin.
    """
    network, base = line.heat, origin(line)
    u = stretch.heat_u.copy()
    for column, driver in enumerate(network.drivers):
        if driver.kind in TEMPERATURES:
            u[..., column] -= base
    runs, steps, zones = stretch.heat.heat.shape
    setpoint = np.where(stretch.heat.mode == Mode.HOLD_HEAT, stretch.band.heat, stretch.band.cool) - base
    nodes = stretch.heat_first.shape[1]
    load, reading = (np.zeros((runs, steps, zones, len(CAUSES))) for _ in range(2))
    end = np.zeros((len(CAUSES), runs, nodes))
    for first in range(0, runs, RUNS_AT_ONCE):
        part = slice(first, first + RUNS_AT_ONCE)
        states = None if carried is None else carried[:, part]
        pieces = _split(line, stretch, u[:, part], setpoint[part], stretch.heat_first[part] - base, part, states)
        load[part], reading[part], end[:, part] = pieces
    return Split(load, reading, end)


def _split(
    line: Line, stretch: Stretch, u: Array, setpoint: Array, first: Array, part: slice, carried: Array | None
) -> tuple[Array, Array, Array]:
    """Carry some runs' causes through the stretch as one batch."""
    operators, number, count = line.heat_operators, stretch.number, len(CAUSES)
    runs, steps, zones = setpoint.shape
    columns = [np.flatnonzero([driver.cause == cause for driver in line.heat.drivers]) for cause in CAUSES]
    alone = [force(operators, u[0][..., own], u[1][..., own], number, own, by_step=True) for own in columns]
    forcing = Forcing(np.concatenate([part.rows.swapaxes(0, 1) for part in alone], axis=1).swapaxes(0, 1))
    mode = np.tile(stretch.heat.mode[part], (count, 1, 1))
    entering = np.tile(stretch.heat.entering[part], (count, 1, 1))
    target, given = np.zeros((count, runs, steps, zones)), np.zeros((count, runs, steps, zones))
    target[CAUSES.index("setpoints")] = setpoint
    limited = (stretch.heat.mode[part] == Mode.LIMIT_COOL) | (stretch.heat.mode[part] == Mode.LIMIT_HEAT)
    given[CAUSES.index("plant")] = np.where(limited, stretch.heat.heat[part], 0.0)
    states = np.zeros((count, runs, first.shape[1])) if carried is None else carried.copy()
    if carried is None:
        states[:-1] = _periodic(line, stretch, part, forcing, target, given)
    states[-1] = first - states[:-1].sum(axis=0)
    flat = (-1, steps, zones)
    heat, read, end = follow(
        operators, states.reshape(count * runs, -1), forcing, number, mode, entering, target.reshape(flat),
        given.reshape(flat),
    )  # fmt: skip
    shape = (count, runs, steps, zones)
    return -np.moveaxis(heat.reshape(shape), 0, -1), np.moveaxis(read.reshape(shape), 0, -1), end.reshape(states.shape)


def _periodic(line: Line, stretch: Stretch, part: slice, forcing: Forcing, target: Array, given: Array) -> Array:
    """Periodic states of all causes but `start`, (cause, run, node), by chord steps."""
    operators, number, count = line.heat_operators, stretch.number, len(CAUSES) - 1
    runs, steps, zones = target.shape[1:]
    mode = np.tile(stretch.heat.mode[part], (count, 1, 1))
    entering = np.tile(stretch.heat.entering[part], (count, 1, 1))
    some = Forcing(forcing.rows[: count * runs])
    flat = (count * runs, steps, zones)
    chord = chord_matrices(operators, number, 1)[0]
    state = np.zeros((count * runs, stretch.heat_first.shape[1]))
    for _ in range(ROUNDS):
        _, _, end = follow(
            operators, state, some, number, mode, entering, target[:-1].reshape(flat), given[:-1].reshape(flat)
        )
        move = (end - state) @ chord.T
        state = state + move
        if np.abs(move).max() < CLOSED:
            break
    return np.asarray(state.reshape(count, runs, -1))

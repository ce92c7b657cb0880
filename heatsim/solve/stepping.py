"""Stepping in numpy: all runs of a batch at once, one step after the other. The readable form of the contract."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from heatsim.solve.base import Advanced, Band, Mode
from heatsim.solve.control import heats, resolve_modes
from heatsim.solve.forcing import Forcing, empty_by_step
from heatsim.solve.operators import Operators

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]


def advance(
    operators: Operators,
    state: Array,
    forcing: Forcing,
    regime: Indices,
    band: Band,
    mode: npt.NDArray[np.int8] | None = None,
    cuts: Indices | None = None,
) -> Advanced:
    """Carry a batch of runs over a stretch of steps under control.

    Parameters
    ----------
    operators : Operators
    state : (run, massive node) array
        Temperatures of the massive nodes at the start.
    forcing : Forcing
    regime : (step,) or (run, step) array
    band : Band
    mode : (run, zone) array of int8, optional
        Modes of the step before.
    cuts : (piece,) array, optional
        First steps of the pieces within which states may be summed (`pieces`); every step is one unless given.

    Returns
    -------
    Advanced
    """
    forcing = forcing.whole(regime)
    (runs, steps, _), n, zones = forcing.rows.shape, state.shape[1], len(operators.system.zones)
    last = np.zeros((runs, zones), dtype=np.int8) if mode is None else mode.copy()
    cuts, piece = numbered(cuts, steps)
    start = np.zeros((len(cuts), runs, n)).swapaxes(0, 1)
    heat, slope, reading = (empty_by_step(runs, steps, zones) for _ in range(3))
    modes = np.empty((runs, steps, zones), dtype=np.int8)
    entering = np.empty((runs, steps, zones), dtype=bool)
    cool, warm, cool_limit, heat_limit = (
        np.broadcast_to(v, (runs, steps, zones)) for v in (band.cool, band.heat, band.cool_limit, band.heat_limit)
    )
    z, current, solves = np.empty((runs, n)), np.full(runs, -1), 0
    for k, groups in enumerate(schedule(regime, runs, steps)):
        for r, these, moved in groups:
            op = operators.regimes[r]
            if moved:
                change_basis(operators, z, state, current, np.arange(runs)[these], r)
            here = z[these]
            start[these, piece[k]] += here
            row = forcing.rows[these, k]
            y = here @ op.reads.T + row[:, n:]
            q, s, m, e, rounds = resolve_modes(
                operators.patterns,
                r,
                y[:, :zones],
                y[:, zones : 2 * zones],
                y[:, 2 * zones :],
                Band(
                    cool[these, k], warm[these, k], cool_limit[these, k], heat_limit[these, k], band.close, band.small
                ),
                last[these],
                operators.system.zones,
            )
            z[these] = op.apply(op.decay, here) + row[:, :n] + q @ op.heat_end.T + s @ op.slope_end.T
            heat[these, k], slope[these, k], reading[these, k] = q, s, y[:, :zones]
            modes[these, k], entering[these, k], last[these] = m, e, m
            solves += rounds
    return Advanced(cuts, start, physical(operators, z, current), heat, slope, reading, modes, entering, solves)


def pieces(regime: Indices, together: int) -> Indices:
    """First steps of pieces of at most `together` steps, each within one regime of (step,) or of all (run, step)."""
    rows = np.atleast_2d(regime)
    changes = np.flatnonzero(np.any(rows[:, 1:] != rows[:, :-1], axis=0)) + 1
    return np.union1d(np.arange(0, rows.shape[1], together), changes)


def numbered(cuts: Indices | None, steps: int) -> tuple[Indices, Indices]:
    """Cuts, each step's unless given, and the piece of each step."""
    if cuts is None:
        return np.arange(steps), np.arange(steps)
    return cuts, np.repeat(np.arange(len(cuts)), np.diff(cuts, append=steps))


Runs = Indices | slice


def schedule(regime: Indices, runs: int, steps: int) -> Iterator[list[tuple[int, Runs, bool]]]:
    """For each step the regimes that occur, the runs in each, and whether some of them were elsewhere before."""
    rows = np.broadcast_to(regime, (runs, steps))
    together = np.all(rows == rows[:1], axis=0)
    changed = np.ones(steps, dtype=bool)
    changed[1:] = np.any(rows[:, 1:] != rows[:, :-1], axis=0)
    groups: list[tuple[int, Runs, bool]] = []
    for k in range(steps):
        if changed[k]:
            if together[k]:
                groups = [(int(rows[0, k]), slice(None), True)]
            else:
                groups = [(int(r), np.flatnonzero(rows[:, k] == r), True) for r in np.unique(rows[:, k])]
            yield groups
            groups = [(r, these, False) for r, these, _ in groups]
        else:
            yield groups


def follow(
    operators: Operators,
    state: Array,
    forcing: Forcing,
    regime: Indices,
    mode: npt.NDArray[np.int8],
    entering: npt.NDArray[np.bool_],
    target: Array,
    given: Array,
) -> tuple[Array, Array, Array]:
    """Carry runs over a stretch with the modes of a recorded run, instead of finding them.

    Parameters
    ----------
    mode, entering : (run, step, zone) arrays
        Recorded by `advance`; of fewer runs they count for several, one after the other.
    target : (run, step, zone) array
        What held thermostats are held at.
    given : (run, step, zone) array
        Heat of zones at a limit.

    Returns
    -------
    heat, reading : (run, step, zone) arrays
        Mean heat and mean of what thermostats read.
    end : (run, massive node) array
    """
    (runs, steps, zones), n = target.shape, state.shape[1]
    mode, entering = np.tile(mode, (runs // len(mode), 1, 1)), np.tile(entering, (runs // len(mode), 1, 1))
    held = (mode == Mode.HOLD_COOL) | (mode == Mode.HOLD_HEAT)
    code = np.ascontiguousarray(np.where(held, np.where(entering, 2, 1), 0).astype(np.int8).swapaxes(0, 1))
    heat, reading = empty_by_step(runs, steps, zones), empty_by_step(runs, steps, zones)
    z, current = np.empty((runs, n)), np.full(runs, -1)
    for k, groups in enumerate(schedule(regime, runs, steps)):
        for r, these, moved in groups:
            op = operators.regimes[r]
            if moved:
                change_basis(operators, z, state, current, np.arange(runs)[these], r)
            here = z[these]
            row, goal = forcing.rows[these, k], target[these, k]
            y = here @ op.reads[zones:].T + row[:, n + zones :]
            end, mean = y[:, :zones], y[:, zones:]
            q, s = heats(operators.patterns, r, code[k][these], goal - end, goal - mean, given[these, k])
            z[these] = op.apply(op.decay, here) + row[:, :n] + q @ op.heat_end.T + s @ op.slope_end.T
            heat[these, k] = q
            reading[these, k] = mean + q @ op.y_heat_mean.T + s @ op.y_slope_mean.T
    return heat, reading, physical(operators, z, current)


def change_basis(operators: Operators, z: Array, state: Array, current: Indices, these: Indices, regime: int) -> None:
    """Bring the states of `these` runs into the coordinates of `regime`, in place."""
    for old in np.unique(current[these]):
        if old == regime:
            continue
        moved = these[current[these] == old]
        x = state[moved] if old < 0 else z[moved] @ operators.regimes[old].from_modes.T
        z[moved] = x @ operators.regimes[regime].to_modes.T
    current[these] = regime


def physical(operators: Operators, z: Array, current: Indices) -> Array:
    """States of runs in the coordinates of their `current` regimes as temperatures of the massive nodes."""
    x = np.empty_like(z)
    for r in np.unique(current):
        these = current == r
        x[these] = z[these] @ operators.regimes[r].from_modes.T
    return x

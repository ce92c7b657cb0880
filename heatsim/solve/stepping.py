"""Stepping in numpy: all runs of a batch at once, one step after the other. The readable form of the contract."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from heatsim.network.base import System
from heatsim.solve.base import Advanced, Band, Form, Mode
from heatsim.solve.control import Patterns, StepBand, heats, resolve_modes
from heatsim.solve.forms import StepOperators, step_operators

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

WORKERS = 2
"""Threads over which regimes are prepared."""


@dataclass(frozen=True)
class Operators:
    """Every regime of a system over one step length."""

    system: System
    step: float
    regimes: tuple[StepOperators, ...]
    patterns: Patterns
    chords: dict[bytes, Array] = field(default_factory=dict)
    """(I − day matrix)⁻¹ by course of regimes, made when first met (periodic.py)."""
    readouts: dict[str, tuple[Readout, ...]] = field(default_factory=dict)
    """Rows read off each regime, by what they are for, made when first asked for."""


@dataclass(frozen=True)
class Forcing:
    """What the drivers alone do over each step: to the state at its end (run, step, mode), and to the thermostats.

    `y_start`, `y_end`, `y_mean` (run, step, zone) are the direct part of drivers at the step's start, at its end and on
    its mean, the last with the part that comes through the state.
    """

    end: Array
    y_start: Array
    y_end: Array
    y_mean: Array


def prepare(system: System, step: float, form: Form | None = None) -> Operators:
    """Condense and integrate every regime of a system for steps of `step` seconds."""
    with ThreadPoolExecutor(WORKERS) as pool:  # eigenvalue routines hold no interpreter lock
        regimes = tuple(pool.map(lambda r: step_operators(system, r, step, form), range(len(system.K))))
    return Operators(system, step, regimes, Patterns(regimes))


def force(
    operators: Operators, u_start: Array, u_end: Array, regime: Indices, columns: Indices | None = None
) -> Forcing:
    """Multiply the drivers out for a stretch.

    Parameters
    ----------
    u_start, u_end : (run, step, driver) arrays
    regime : (step,) or (run, step) array
    columns : (driver,) array, optional
        Only these drivers act (for the split by cause).
    """
    runs, steps = u_start.shape[:2]
    modes, zones = operators.regimes[0].from_modes.shape[1], len(operators.system.zones)
    end = np.empty((runs, steps, modes))
    y_start, y_end, y_mean = (np.empty((runs, steps, zones)) for _ in range(3))
    chosen = slice(None) if columns is None else columns
    regime = np.broadcast_to(regime, (runs, steps))
    for r in np.unique(regime):
        op, here = operators.regimes[r], regime == r
        a, b = u_start[here][:, chosen], u_end[here][:, chosen]
        D = op.condensed.D[:, chosen].T
        end[here] = a @ op.end_start[:, chosen].T + b @ op.end_end[:, chosen].T
        y_start[here], y_end[here] = a @ D, b @ D
        mean_start = (op.read @ op.mean_start[:, chosen]).T + D / 2.0
        mean_end = (op.read @ op.mean_end[:, chosen]).T + D / 2.0
        y_mean[here] = a @ mean_start + b @ mean_end
    return Forcing(end, y_start, y_end, y_mean)


def advance(
    operators: Operators,
    state: Array,
    forcing: Forcing,
    regime: Indices,
    band: Band,
    mode: npt.NDArray[np.int8] | None = None,
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

    Returns
    -------
    Advanced
    """
    runs, steps, zones = forcing.y_end.shape
    last = np.zeros((runs, zones), dtype=np.int8) if mode is None else mode.copy()
    start = np.empty_like(forcing.end)
    heat, slope = np.empty((runs, steps, zones)), np.empty((runs, steps, zones))
    modes = np.empty((runs, steps, zones), dtype=np.int8)
    entering = np.empty((runs, steps, zones), dtype=bool)
    cool, warm, cool_limit, heat_limit = (
        np.broadcast_to(v, (runs, steps, zones)) for v in (band.cool, band.heat, band.cool_limit, band.heat_limit)
    )
    z, current, solves = np.empty((runs, forcing.end.shape[2])), np.full(runs, -1), 0
    for k, groups in enumerate(_schedule(regime, runs, steps)):
        for r, these, moved in groups:
            op = operators.regimes[r]
            if moved:
                _change_basis(operators, z, state, current, np.arange(runs)[these], r)
            here = z[these]
            start[these, k] = here
            free = op.apply(op.decay, here) + forcing.end[these, k]
            q, s, m, e, rounds = resolve_modes(
                operators.patterns,
                r,
                here @ op.read.T + forcing.y_start[these, k],
                free @ op.read.T + forcing.y_end[these, k],
                here @ op.read_mean.T + forcing.y_mean[these, k],
                StepBand(
                    cool[these, k], warm[these, k], cool_limit[these, k], heat_limit[these, k], band.close, band.small
                ),
                last[these],
                operators.system.zones,
            )
            z[these] = free + q @ op.heat_end.T + s @ op.slope_end.T
            heat[these, k], slope[these, k], modes[these, k], entering[these, k], last[these] = q, s, m, e, m
            solves += rounds
    return Advanced(start, _physical(operators, z, current), heat, slope, modes, entering, solves)


Runs = Indices | slice


def _schedule(regime: Indices, runs: int, steps: int) -> Iterator[list[tuple[int, Runs, bool]]]:
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
        Recorded by `advance`.
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
    runs, steps, zones = forcing.y_end.shape
    held = (mode == Mode.HOLD_COOL) | (mode == Mode.HOLD_HEAT)
    code = np.ascontiguousarray(np.where(held, np.where(entering, 2, 1), 0).astype(np.int8).swapaxes(0, 1))
    heat, reading = np.empty((runs, steps, zones)), np.empty((runs, steps, zones))
    z, current = np.empty((runs, forcing.end.shape[2])), np.full(runs, -1)
    for k, groups in enumerate(_schedule(regime, runs, steps)):
        for r, these, moved in groups:
            op = operators.regimes[r]
            if moved:
                _change_basis(operators, z, state, current, np.arange(runs)[these], r)
            here = z[these]
            free = op.apply(op.decay, here) + forcing.end[these, k]
            end = target[these, k] - free @ op.read.T - forcing.y_end[these, k]
            mean = here @ op.read_mean.T + forcing.y_mean[these, k]
            q, s = heats(operators.patterns, r, code[k][these], end, target[these, k] - mean, given[these, k])
            z[these] = free + q @ op.heat_end.T + s @ op.slope_end.T
            heat[these, k] = q
            reading[these, k] = mean + q @ op.y_heat_mean.T + s @ op.y_slope_mean.T
    return heat, reading, _physical(operators, z, current)


def _change_basis(operators: Operators, z: Array, state: Array, current: Indices, these: Indices, regime: int) -> None:
    """Bring the states of `these` runs into the coordinates of `regime`, in place."""
    for old in np.unique(current[these]):
        if old == regime:
            continue
        moved = these[current[these] == old]
        x = state[moved] if old < 0 else z[moved] @ operators.regimes[old].from_modes.T
        z[moved] = x @ operators.regimes[regime].to_modes.T
    current[these] = regime


def _physical(operators: Operators, z: Array, current: Indices) -> Array:
    x = np.empty_like(z)
    for r in np.unique(current):
        these = current == r
        x[these] = z[these] @ operators.regimes[r].from_modes.T
    return x


@dataclass(frozen=True)
class Readout:
    """Rows to be read off each step of one regime: row = state z₀ + start u₀ + end u₁ + heat q̄ + slope σ."""

    state: Array
    start: Array
    end: Array
    heat: Array
    slope: Array


def mean_rows(op: StepOperators, of_nodes: Array, of_drivers: Array) -> Readout:
    """Rows that are linear in the step means of all nodes (row, node), massless ones included, and of the drivers."""
    c = op.condensed
    R = of_nodes @ c.from_state @ op.from_modes
    direct = (of_nodes @ c.from_drivers + of_drivers) / 2.0
    return Readout(
        _through(op, op.mean, R),
        R @ op.mean_start + direct,
        R @ op.mean_end + direct,
        R @ op.heat_mean + of_nodes @ c.from_heat,
        R @ op.slope_mean,
    )


def change_rows(op: StepOperators, of_states: Array) -> Readout:
    """Rows that are linear in the massive nodes' change over the step (row, massive node)."""
    R = of_states @ op.from_modes
    return Readout(_through(op, op.decay, R) - R, R @ op.end_start, R @ op.end_end, R @ op.heat_end, R @ op.slope_end)


def _through(op: StepOperators, operator: tuple[Array, Array], rows: Array) -> Array:
    """rows · F for an operator F of `op`."""
    first, second = operator
    if op.form is Form.DENSE:
        return np.asarray(rows @ first)
    if op.form is Form.SYMMETRIC:
        return np.asarray(rows * first)
    return np.asarray(rows * first + (rows * second)[:, op.pair])


def read_off(
    operators: Operators,
    readouts: Sequence[Readout],
    advanced: Advanced,
    u_start: Array,
    u_end: Array,
    regime: Indices,
    origin: tuple[Array, Array] | None = None,
) -> Array:
    """Read rows off every step.

    Parameters
    ----------
    readouts : sequence of Readout
        One for each regime, all with the same rows.
    origin : (massive node,) array and (driver,) array, optional
        A state and drivers that every row maps to zero; subtracted first to keep digits.

    Returns
    -------
    (run, step, row) array
    """
    runs, steps = advanced.heat.shape[:2]
    rows = np.empty((runs, steps, len(readouts[0].state)))
    regime = np.broadcast_to(regime, (runs, steps))
    u_start, u_end = (np.broadcast_to(u, (runs, *u.shape[1:])) for u in (u_start, u_end))
    for r in np.unique(regime):
        here, form, op = regime == r, readouts[r], operators.regimes[r]
        z, a, b = advanced.start[here], u_start[here], u_end[here]
        if origin is not None:
            z, a, b = z - op.to_modes @ origin[0], a - origin[1], b - origin[1]
        value = z @ form.state.T + a @ form.start.T + b @ form.end.T
        rows[here] = value + advanced.heat[here] @ form.heat.T + advanced.slope[here] @ form.slope.T
    return rows

"""Stepping in numpy: all runs of a batch at once, one step after the other. The readable form of the contract."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.network.base import System
from heatsim.solve.base import Advanced, Band, Form, Mode
from heatsim.solve.control import Patterns, heats, resolve_modes
from heatsim.solve.forms import StepOperators, retimed, step_operators
from heatsim.solve.threads import each

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

ROWS_AT_ONCE = 4096
"""Steps multiplied out at once: some 10 MB of drivers."""


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
    stacked: list[Any] = field(default_factory=list)
    """The regimes as the compiled loop takes them, made when first asked for."""


@dataclass(frozen=True)
class Forcing:
    """What the drivers alone do over each step, (run, step, mode + 3 zone).

    To the state at the step's end, in its regime's coordinates, and to what thermostats read at its start, at its end
    and on its mean (`StepOperators.driven`).
    """

    rows: Array


class Own(NamedTuple):
    """How drivers of boats differ from those that they share: `more` (2, column, boat, step) in some `columns`.

    Of a batch in which each boat has as many runs as what they share.
    """

    columns: Indices
    more: Array


def prepare(system: System, step: float, form: Form | None = None) -> Operators:
    """Condense and integrate every regime of a system for steps of `step` seconds.

    The large matrices of all regimes lie in one piece, as the compiled loop takes them.
    """
    regimes = each(lambda r: step_operators(system, r, step, form), range(len(system.K)))
    to_modes, from_modes = (np.stack([getattr(op, name) for op in regimes]) for name in ("to_modes", "from_modes"))
    whole = tuple(replace(op, to_modes=to_modes[r], from_modes=from_modes[r]) for r, op in enumerate(regimes))
    return Operators(system, step, whole, Patterns(whole))


def prepare_again(operators: Operators, step: float) -> Operators:
    """The same regimes for steps of another length [s], without finding their modes again; bit for bit `prepare`'s."""
    regimes = tuple(each(lambda op: retimed(op, step), operators.regimes))
    return Operators(operators.system, step, regimes, Patterns(regimes))


def force(
    operators: Operators,
    u_start: Array,
    u_end: Array,
    regime: Indices,
    columns: Indices | None = None,
    by_step: bool = False,
) -> Forcing:
    """Multiply the drivers out for a stretch.

    Parameters
    ----------
    u_start, u_end : (run, step, driver) arrays
    regime : (step,) or (run, step) array
    columns : (driver,) array, optional
        The arrays hold these drivers alone, and no other acts.
    by_step : bool
        Lay the runs of a step side by side in memory, as `advance` and `follow` take them; else the steps of a run.
    """
    runs, steps, _ = u_start.shape
    chosen = slice(None) if columns is None else columns
    width = operators.regimes[0].driven.shape[1]
    driven = [op.driven.reshape(2, -1, width)[:, chosen].reshape(-1, width) for op in operators.regimes]
    rows = _by_step(runs, steps, width) if by_step else np.empty((runs, steps, width))
    regime = np.broadcast_to(regime, (runs, steps))

    def one(r: int) -> None:
        run, step = np.nonzero(regime == r)
        for first in range(0, len(run), ROWS_AT_ONCE):
            at = run[first : first + ROWS_AT_ONCE], step[first : first + ROWS_AT_ONCE]
            rows[at] = np.concatenate([u_start[at], u_end[at]], axis=1) @ driven[r]

    each(one, np.unique(regime).tolist())
    return Forcing(rows)


def force_alike(operators: Operators, u: Array, own: Own | None, regime: Indices) -> Forcing:
    """`force` for boats behind each other that share the drivers `u` (2, run of a boat, step, driver) but `own`.

    `regime` is (step,).
    """
    shared = force(operators, u[0], u[1], regime)
    if own is None:
        return shared
    boats, (runs, steps, width) = own.more.shape[2], shared.rows.shape
    rows = np.empty((boats, runs, steps, width))

    def one(r: int) -> None:
        at = np.flatnonzero(regime == r)
        driven = operators.regimes[r].driven.reshape(2, -1, width)[:, own.columns].reshape(-1, width)
        more = np.take(own.more, at, axis=-1).reshape(len(driven), -1).T @ driven
        rows[:, :, at] = more.reshape(boats, 1, len(at), width) + shared.rows[:, at]

    each(one, np.unique(regime).tolist())
    return Forcing(rows.reshape(-1, steps, width))


def _by_step(runs: int, steps: int, width: int) -> Array:
    """An empty (run, step, width) array with the runs of a step side by side in memory."""
    return np.empty((steps, runs, width)).swapaxes(0, 1)


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
    (runs, steps, _), n, zones = forcing.rows.shape, state.shape[1], len(operators.system.zones)
    last = np.zeros((runs, zones), dtype=np.int8) if mode is None else mode.copy()
    start = _by_step(runs, steps, n)
    heat, slope, reading = (_by_step(runs, steps, zones) for _ in range(3))
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
            start[these, k] = here
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
    return Advanced(start, physical(operators, z, current), heat, slope, reading, modes, entering, solves)


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
    heat, reading = _by_step(runs, steps, zones), _by_step(runs, steps, zones)
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


def _sums_of(part: Array, together: int) -> Array:
    """Sums of so many steps each, (run, step ÷ together, ...); a tenth of the time of `np.add.reduceat`."""
    total: Array = part[:, ::together].copy()
    for step in range(1, together):
        total += part[:, step::together]
    return total


def read_off(
    operators: Operators,
    readouts: Sequence[Readout],
    advanced: Advanced,
    u_start: Array,
    u_end: Array,
    regime: Indices,
    origin: tuple[Array, Array] | None = None,
    together: int = 1,
    own: Own | None = None,
) -> Array:
    """Means of rows over every `together` steps.

    Within one regime rows are linear, so what they are made of is summed first and multiplied out once.

    Parameters
    ----------
    readouts : sequence of Readout
        One for each regime, all with the same rows.
    regime : (step,) array
    origin : (massive node,) array and (driver,) array, optional
        A state and drivers that every row maps to zero; subtracted first to keep digits.
    together : int
        Steps of which the mean is taken.
    own : Own, optional
        Where `u_start` and `u_end` are what several boats share.

    Returns
    -------
    (run, step ÷ together, row) array
    """
    steps = len(regime)
    cuts = np.union1d(np.arange(0, steps, together), np.flatnonzero(np.diff(regime)) + 1)
    parts = [advanced.start, advanced.heat, advanced.slope, u_start, u_end]
    parts += [] if own is None else [np.moveaxis(more, 0, -1) for more in own.more]
    even = len(cuts) * together == steps
    sums = [_sums_of(part, together) if even else np.add.reduceat(part, cuts, axis=1) for part in parts]
    length, which = np.diff(cuts, append=steps), regime[cuts]
    rows = np.empty((len(advanced.heat), len(cuts), len(readouts[0].state)))
    for r in np.unique(which):
        here, form, op = np.flatnonzero(which == r), readouts[r], operators.regimes[r]
        z, q, s, a, b, *more = (part[:, here] for part in sums)
        if origin is not None:
            times = length[here, None]
            z, a, b = z - times * (op.to_modes @ origin[0]), a - times * origin[1], b - times * origin[1]
        driven = a @ form.start.T + b @ form.end.T
        if own is not None:
            each = more[0] @ form.start[:, own.columns].T + more[1] @ form.end[:, own.columns].T
            driven = (each[:, None] + driven).reshape(-1, *driven.shape[1:])
        rows[:, here] = z @ form.state.T + driven + q @ form.heat.T + s @ form.slope.T
    if even:
        return rows / together
    return np.asarray(np.add.reduceat(rows, np.searchsorted(cuts, np.arange(0, steps, together)), axis=1) / together)

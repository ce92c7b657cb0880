"""Repeating a day until it is periodic: a chord step on the day matrix, with plain repetition as its check.

The day map with every controllable zone held is linear, x(24 h) = X x(0) + c; X is one matrix for each network, made by
powers over each stretch of one regime. After a day, (I − X)⁻¹ (x(24 h) − x(0)) estimates the distance to the periodic
state and is the chord step. Convergence is asked of that distance, not of the day's change, which for a boat with slow
tanks may be a hundredth of it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError
from heatsim.solve.base import Advanced, Band
from heatsim.solve.control import FLOATING, HELD
from heatsim.solve.stepping import Forcing, Operators, advance

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

NEAR_ENOUGH = 0.01
"""[K] Distance to the periodic state at which a day counts as periodic."""
MOST_DAYS = 60


def chord_matrices(operators: Operators, regime: Indices, runs: int) -> Array:
    """(I − X)⁻¹ of each run's day, (run or 1, node, node); 1 when all runs share their regimes."""
    rows = np.atleast_2d(regime)
    if len(rows) != runs or np.all(rows == rows[:1]):
        rows = rows[:1]
    eye = np.eye(operators.regimes[0].from_modes.shape[0])
    keys = [row.tobytes() for row in rows]
    for key, row in zip(keys, rows, strict=True):
        if key not in operators.chords:
            day = day_matrix(operators, row, np.float32)
            operators.chords[key] = np.asarray(np.linalg.inv(eye - day), dtype=float)
    if len(set(keys)) == 1:
        return operators.chords[keys[0]][None]
    return np.stack([operators.chords[key] for key in keys])


@dataclass(frozen=True)
class Periodic:
    """The last day carried out and its first state, the state to go on from, how many days it took, and the largest
    remaining distance of any node [K].
    """

    advanced: Advanced
    first: Array
    next: Array
    days: int
    distance: float


def day_matrix(operators: Operators, regime: Indices, digits: type[np.floating[Any]] = np.float64) -> Array:
    """The linear map of the massive nodes over one stretch (step,) of regimes with every controllable zone held.

    A chord step only has to come near: six digits of it, at half the time, leave nothing that the next day does not
    find, even of a tank with a week's time constant.
    """
    system = operators.system
    code = np.where(system.holdable, HELD, FLOATING).astype(np.int8)
    held = np.flatnonzero(code == HELD)
    zones = len(code)
    total = np.eye(operators.regimes[0].from_modes.shape[0], dtype=digits)
    steps: dict[int, Array] = {}
    edges = np.flatnonzero(np.diff(regime)) + 1
    for part in np.split(regime, edges):
        r = int(part[0])
        if r not in steps:
            op = operators.regimes[r]
            decay = op.apply(op.decay, np.eye(len(total))).T
            right = np.zeros((2 * zones, len(total)))
            right[held] = -op.reads[held + zones]
            right[held + zones] = -op.reads[held + 2 * zones]
            heat = operators.patterns.inverse(r, code) @ right
            modes = decay + op.heat_end @ heat[:zones] + op.slope_end @ heat[zones:]
            steps[r] = op.from_modes.astype(digits) @ modes.astype(digits) @ op.to_modes.astype(digits)
        total = np.linalg.matrix_power(steps[r], len(part)) @ total
    return total.astype(float)


def repeat_day(
    operators: Operators,
    first: Array,
    forcing: Forcing,
    regime: Indices,
    band: Band,
    near_enough: float = NEAR_ENOUGH,
    chord: bool = True,
    settle: bool = True,
    step: Callable[..., Advanced] = advance,
) -> Periodic:
    """Repeat a day until it is periodic.

    Parameters
    ----------
    first : (run, massive node) array
        Where to start. [°C]
    near_enough : float
        Largest distance of any massive node from its periodic state. [K]
    chord : bool
        False repeats plainly (the check).
    settle : bool
        False stops after one day, for a caller whose drivers still change.
    step : callable
        `advance`, or `kernel.advance_compiled` where many runs are worth a compiler.

    Raises
    ------
    HeatsimError
        When `MOST_DAYS` days do not suffice (plain repetition of a boat with slow tanks may need more).
    """
    chords = chord_matrices(operators, regime, len(first))
    mode = None
    last = np.full(len(first), np.inf)
    for day in range(1, MOST_DAYS + 1):
        done = step(operators, first, forcing, regime, band, mode)
        change = done.end - first
        move = np.einsum("rij,rj->ri", chords, change) if len(chords) > 1 else change @ chords[0].T
        distance = np.abs(move).max(axis=1)
        better = distance < 0.7 * last if chord else np.zeros(len(first), dtype=bool)
        following = first + np.where(better[:, None], move, change)
        if distance.max() <= near_enough or not settle:
            return Periodic(done, first, following, day, float(distance.max()))
        first = following
        mode, last = done.mode[:, -1], distance
    raise HeatsimError(
        Fault(
            rule=f"a day repeated {MOST_DAYS} times must settle",
            value=f"{distance.max():.2g} K from periodic",
            remedy="Look for a heavy node that hardly exchanges heat",
        )
    )

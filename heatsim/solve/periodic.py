"""Repeating a day until it is periodic: a chord step on the day matrix, with plain repetition as its check.

The day map with every controllable zone held is linear, x(24 h) = X x(0) + c; X is one matrix for each network, made by
powers over each stretch of one regime. After a day, (I − X)⁻¹ (x(24 h) − x(0)) estimates the distance to the periodic
state and is the chord step. Convergence is asked of that distance, not of the day's change, which for a boat with slow
tanks may be a hundredth of it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError
from heatsim.solve.base import Advanced, Band
from heatsim.solve.control import FLOATING, HELD
from heatsim.solve.forcing import Forcing
from heatsim.solve.operators import Operators
from heatsim.solve.stepping import advance

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

NEAR_ENOUGH = 0.01
"""[K] Distance to the periodic state at which a day counts as periodic."""
MOST_DAYS = 60
MOST_CHORDS = 64
"""Courses of regimes over a day whose matrices are kept (assumed): those of design days, not of all days of a year."""


def chord_matrices(operators: Operators, regime: Indices, runs: int) -> Array:
    """(I − X)⁻¹ of each run's day, (run or 1, node, node); 1 when all runs share their regimes."""
    rows = np.atleast_2d(regime)
    if len(rows) != runs or np.all(rows == rows[:1]):
        rows = rows[:1]
    eye = np.eye(operators.regimes[0].from_modes.shape[0])
    keys = [row.tobytes() for row in rows]
    found: dict[bytes, Array] = {}
    for key, row in zip(keys, rows, strict=True):
        known = operators.chords.get(key, found.get(key))
        if known is None:
            day = day_matrix(operators, row, np.float32)
            known = np.asarray(np.linalg.inv(eye - day), dtype=float)
            if len(operators.chords) < MOST_CHORDS:
                operators.chords[key] = known
        found[key] = known
    if len(found) == 1:
        return found[keys[0]][None]
    return np.stack([found[key] for key in keys])


@dataclass(frozen=True)
class Periodic:
    """The last day of each run and its first state, how many days it took at most, and the largest remaining distance
    of any node [K].
    """

    advanced: Advanced
    first: Array
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


class Repeated:
    """Runs of a day that is repeated: each stops at its own day, so that none hangs on what else is in its batch.

    Parameters
    ----------
    first : (run, massive node) array
        Where to start. [°C]
    forcing, regime, band
        Of all runs; those of `band` and `regime` may be shared.
    near_enough : float
        Largest distance of any massive node from its periodic state. [K]
    chord : bool
        False repeats plainly (the check).
    step : callable
        `advance`, or `compiled.advance_compiled` where many runs are worth a compiler.
    """

    def __init__(
        self, operators: Operators, first: Array, forcing: Forcing, regime: Indices, band: Band, near_enough: float,
        chord: bool = True, step: Callable[..., Advanced] = advance,
    ) -> None:  # fmt: skip
        self.operators, self.forcing, self.regime, self.band = operators, forcing, regime, band
        self.near_enough, self.chord, self.step = near_enough, chord, step
        self.active = np.arange(len(first))
        self.last = np.full(len(first), np.inf)
        self.days, self.farthest = 0, 0.0
        self._first, self._mode = first, None
        self._chords = chord_matrices(operators, regime, len(first))
        self._whole: tuple[Advanced, Array] | None = None
        self._runs = len(first)

    def day(self) -> tuple[Advanced, npt.NDArray[np.bool_]]:
        """Carry the active runs through one day; what they did, and which of them are near their periodic state."""
        some = None if len(self.active) == self._runs else self.active
        self._done = self.step(
            self.operators, self._first, _of(self.forcing, some), _rows(self.regime, some), _part(self.band, some),
            self._mode,
        )  # fmt: skip
        change = self._done.end - self._first
        chords = self._chords if len(self._chords) == 1 else self._chords[self.active]
        move = np.einsum("rij,rj->ri", chords, change) if len(chords) > 1 else change @ chords[0].T
        self._distance = np.abs(move).max(axis=1)
        better = self._distance < 0.7 * self.last[self.active] if self.chord else np.zeros(len(change), dtype=bool)
        self._next = self._first + np.where(better[:, None], move, change)
        self.days += 1
        return self._done, self._distance <= self.near_enough

    def stop(self, finished: npt.NDArray[np.bool_]) -> None:
        """Keep the day just done of the runs that are finished, and go on with the others."""
        if finished.any():
            self.farthest = max(self.farthest, float(self._distance[finished].max()))
            if finished.all() and self._whole is None:
                self._whole = self._done, self._first
            else:
                which = self.active[finished]
                self._whole = _gathered(self._whole, self._runs, which, self._done, self._first, finished)
        left = ~finished
        self.last[self.active] = self._distance
        self.active, self._first = self.active[left], self._next[left]
        self._mode = self._done.mode[left, -1]

    def found(self) -> Periodic:
        """All runs, once none is active."""
        assert self._whole is not None
        return Periodic(*self._whole, self.days, self.farthest)

    def unsettled(self) -> HeatsimError:
        """The fault of a day that does not settle."""
        return HeatsimError(
            Fault(
                rule=f"a day repeated {MOST_DAYS} times must settle",
                value=f"{self._distance.max():.2g} K from periodic",
                remedy="Look for a heavy node that hardly exchanges heat",
            )
        )


def repeat_day(
    operators: Operators,
    first: Array,
    forcing: Forcing,
    regime: Indices,
    band: Band,
    near_enough: float = NEAR_ENOUGH,
    chord: bool = True,
    step: Callable[..., Advanced] = advance,
) -> Periodic:
    """Repeat a day until it is periodic; parameters of `Repeated`.

    Raises
    ------
    HeatsimError
        When `MOST_DAYS` days do not suffice (plain repetition of a boat with slow tanks may need more).
    """
    repeated = Repeated(operators, first, forcing, regime, band, near_enough, chord, step)
    while len(repeated.active):
        if repeated.days == MOST_DAYS:
            raise repeated.unsettled()
        repeated.stop(repeated.day()[1])
    return repeated.found()


def _gathered(
    whole: tuple[Advanced, Array] | None, runs: int, which: Indices, done: Advanced, first: Array,
    chosen: npt.NDArray[np.bool_],
) -> tuple[Advanced, Array]:  # fmt: skip
    """What runs have done so far, with some more of them."""
    names = [field.name for field in fields(Advanced) if field.name not in ("solves", "cuts")]
    if whole is None:
        empty = {name: np.empty((runs, *getattr(done, name).shape[1:]), getattr(done, name).dtype) for name in names}
        whole = replace(done, **empty, solves=0), np.empty((runs, first.shape[1]))
    for name in names:
        getattr(whole[0], name)[which] = getattr(done, name)[chosen]
    whole[1][which] = first[chosen]
    return replace(whole[0], solves=whole[0].solves + done.solves), whole[1]


def _of(forcing: Forcing, some: Indices | None) -> Forcing:
    return forcing if some is None else Forcing(np.take(forcing.rows.swapaxes(0, 1), some, axis=1).swapaxes(0, 1))


def _rows(regime: Indices, some: Indices | None) -> Indices:
    return regime if some is None or regime.ndim == 1 else regime[some]


def _part(band: Band, some: Indices | None) -> Band:
    if some is None:
        return band
    return band.each(lambda part: part if len(part) == 1 else part[some])

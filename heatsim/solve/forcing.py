"""Drivers multiplied out: what they alone do over each step, for runs with drivers of their own or mostly shared."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.solve.operators import Operators
from heatsim.solve.threads import each

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

ROWS_AT_ONCE = 4096
"""Steps multiplied out at once: some 10 MB of drivers."""


@dataclass(frozen=True)
class Forcing:
    """What the drivers alone do over each step, (run, step, mode + 3 zone).

    To the state at the step's end, in its regime's coordinates, and to what thermostats read at its start, at its end
    and on its mean (`StepOperators.driven`). With `own` the rows are those of each boat's runs, of which all boats
    behind each other have as many.
    """

    rows: Array
    own: OwnForcing | None = None

    def whole(self, regime: Indices) -> Forcing:
        """The same with each boat's own multiplied out; `regime` is (step,)."""
        if self.own is None:
            return self
        (*_, values, _), through = self.own
        boats, (runs, steps, width) = values.shape[1], self.rows.shape
        rows = np.empty((boats, runs, steps, width))
        for r in np.unique(regime):
            at = np.flatnonzero(regime == r)
            rows[:, :, at] = (values[..., at].transpose(1, 2, 0) @ through[r])[:, None] + self.rows[:, at]
        return Forcing(rows.reshape(-1, steps, width))

    def until(self, step: int) -> Forcing:
        """Of the steps before."""
        if self.own is None:
            return Forcing(self.rows[:, :step])
        own, through = self.own
        return Forcing(self.rows[:, :step], OwnForcing(own._replace(values=own.values[..., :step]), through))


class Own(NamedTuple):
    """How drivers of boats differ from those that they share: `values` (value, boat, step) more in the `columns`.

    Each counts by `at_start` at its step's start and by `at_end` at its end (value,): what is steady is held once. The
    last values enter `zones` as their equipment's heat does (`network.base.like_supply`), and nothing else.
    """

    columns: Indices
    at_start: Array
    at_end: Array
    values: Array
    zones: Indices

    def through(self, start: Array, end: Array) -> Array:
        """What the values do where drivers at the start and at the end do (..., driver) each, (..., value)."""
        return np.asarray(start[..., self.columns] * self.at_start + end[..., self.columns] * self.at_end)


def nothing_own(steps: int) -> Own:
    """Of boats that differ in nothing."""
    none = np.zeros(0, dtype=np.int64)
    return Own(none, np.zeros(0), np.zeros(0), np.zeros((0, 1, steps)), none)


class OwnForcing(NamedTuple):
    """What each boat has of its own, and what it goes through: (regime, value, mode + 3 zone)."""

    own: Own
    through: Array


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
    rows = empty_by_step(runs, steps, width) if by_step else np.empty((runs, steps, width))
    regime = np.broadcast_to(regime, (runs, steps))

    def one(r: int) -> None:
        run, step = np.nonzero(regime == r)
        for first in range(0, len(run), ROWS_AT_ONCE):
            at = run[first : first + ROWS_AT_ONCE], step[first : first + ROWS_AT_ONCE]
            rows[at] = np.concatenate([u_start[at], u_end[at]], axis=1) @ driven[r]

    each(one, np.unique(regime).tolist())
    return Forcing(rows)


def force_own(operators: Operators, shared: Forcing, own: Own | None) -> Forcing:
    """What boats behind each other share, with what each has of its own."""
    if own is None:
        return shared
    through = [own.through(*(part.T for part in np.split(op.driven, 2))).T for op in operators.regimes]
    return Forcing(shared.rows, OwnForcing(own, np.ascontiguousarray(np.stack(through))))


def empty_by_step(runs: int, steps: int, width: int) -> Array:
    """An empty (run, step, width) array with the runs of a step side by side in memory."""
    return np.empty((steps, runs, width)).swapaxes(0, 1)

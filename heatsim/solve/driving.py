"""Runs carried open loop: heat is given step by step from outside, by whoever reads the temperatures in between.

`advance` finds the heat that holds a setpoint; here units with thermostats of their own decide, once a step, from what
nodes read when the step begins. Step operators, drivers and changes of regime are those of `stepping.py`; drivers are
multiplied out once for each course of a day, which runs then share, each from its own hour on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from heatsim.solve.forcing import force
from heatsim.solve.operators import Operators
from heatsim.solve.stepping import change_basis, physical, schedule

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Course:
    """What the drivers alone do over a repeated stretch, for one or more courses of weather.

    `end` (course, step, mode) to the state at each step's end, `seen` (course, step, row) to the watched rows at its
    start; `regime` (course, step). `watched` holds for each regime what rows make of its modes (row, mode) and of the
    heat (row, zone).
    """

    end: Array
    seen: Array
    regime: Indices
    watched: tuple[tuple[Array, Array], ...]


def course(operators: Operators, u_start: Array, u_end: Array, regime: Indices, of_nodes: Array) -> Course:
    """Multiply drivers out for runs that will be driven.

    Parameters
    ----------
    u_start, u_end : (course, step, driver) arrays
    regime : (course, step) array
    of_nodes : (row, node) array
        What is to be read: weights of all nodes, massless ones included.

    Returns
    -------
    Course
    """
    n = operators.regimes[0].from_modes.shape[0]
    end = force(operators, u_start, u_end, regime).rows[..., :n]
    seen = np.empty((*regime.shape, len(of_nodes)))
    watched = []
    for r, op in enumerate(operators.regimes):
        c = op.condensed
        here = regime == r
        seen[here] = u_start[here] @ (of_nodes @ c.from_drivers).T
        watched.append((of_nodes @ c.from_state @ op.from_modes, of_nodes @ c.from_heat))
    return Course(np.ascontiguousarray(end), seen, regime, tuple(watched))


class Driven:
    """A batch of runs under way; each reads its own course from its own step on, around and around.

    Parameters
    ----------
    operators : Operators
    driven_by : Course
    state : (run, massive node) array
        Temperatures (or humidity ratios) at the start.
    which, first : (run,) arrays
        Course of each run, and the step of it at which the run begins.
    steps : int
        Steps that will be taken at most.
    """

    def __init__(
        self, operators: Operators, driven_by: Course, state: Array, which: Indices, first: Indices, steps: int
    ) -> None:
        runs, length = len(state), driven_by.regime.shape[1]
        self.operators, self.course = operators, driven_by
        self._state, self._which = state, which
        self._at = (first[:, None] + np.arange(steps)[None, :]) % length
        self._schedule = schedule(driven_by.regime[which[:, None], self._at], runs, steps)
        self._z, self._current = np.empty_like(state), np.full(runs, -1)
        self._heat = np.zeros((runs, len(operators.system.zones)))
        self._k, self._steps = 0, steps
        self._enter()

    def _enter(self) -> None:
        """Bring every run into the coordinates of the regime of the step that begins."""
        if self._k == self._steps:
            return
        self._groups = next(self._schedule)
        runs = np.arange(len(self._z))
        for r, these, moved in self._groups:
            if moved:
                change_basis(self.operators, self._z, self._state, self._current, runs[these], r)

    def reading(self) -> Array:
        """What the watched rows read as the step begins, with the last step's heat still on, (run, row)."""
        rows = self.course.seen[self._which, self._at[:, self._k]]
        for r, these, _ in self._groups:
            by_mode, by_heat = self.course.watched[r]
            rows[these] += self._z[these] @ by_mode.T + self._heat[these] @ by_heat.T
        return np.asarray(rows)

    def step(self, heat: Array) -> None:
        """Carry all runs over one step with constant heat, (run, zone)."""
        end = self.course.end[self._which, self._at[:, self._k]]
        for r, these, _ in self._groups:
            op = self.operators.regimes[r]
            self._z[these] = op.apply(op.decay, self._z[these]) + end[these] + heat[these] @ op.heat_end.T
        self._heat = heat
        self._k += 1
        self._enter()

    def state(self) -> Array:
        """Temperatures (or humidity ratios) of the massive nodes now, (run, massive node)."""
        return np.asarray(physical(self.operators, self._z, self._current))

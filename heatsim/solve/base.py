"""The contract of the solver.

A `System` (network/base.py) is `C dT/dt = K T + B u + S q`, read by thermostats as `Y T`. `prepare` condenses out the
massless nodes and turns each regime into the exact step operators of one step length; `advance` carries a batch of runs
over a stretch of steps, with control as part of each step; `read_off` gives means of any nodes, massless ones
included, over each step. Every public array has a leading `run` axis; one boat is a batch of one.

Within a step the drivers run straight from `u_start` to `u_end` and the solution is exact for that course. A zone is

- floating: no heat;
- held: heat straight within the step, the thermostat at its setpoint on the step's mean and at its end;
- entering (held, but away from the setpoint when the step begins): constant heat, setpoint met at the end;
- at its limit: the limit's heat, constant; limits bound the step's mean.

All zones are solved together: a complementarity problem on zone × zone responses, by an active set started from the
last step's. `stepping.py` advances all runs at once with numpy; `compiled.py` does the same arithmetic in the compiled
loop of `kernel.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, IntEnum
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]


class Form(Enum):
    """How a regime's step is carried out; the value is what the result reports."""

    SYMMETRIC = "symmetric network: real orthogonal modes"
    ONE_WAY = "one-way air: real modes and 2 × 2 blocks, eigenvector condition below 1e4"
    DENSE = "one-way air with nearly parallel eigenvectors: dense step matrix"


class Mode(IntEnum):
    """What a zone's equipment does over one step."""

    FLOAT = 0
    HOLD_COOL = 1
    HOLD_HEAT = 2
    LIMIT_COOL = 3
    LIMIT_HEAT = 4


class Band(NamedTuple):
    """What the equipment may do, (run or 1, step, zone): setpoints, and limits as positive amounts (0: not available).

    `close` and `small` are the tolerances on the controlled state and on the heat. For one step it is (run, zone), for
    one run (step, zone).
    """

    cool: Array
    heat: Array
    cool_limit: Array
    heat_limit: Array
    close: float = 1e-7
    small: float = 1e-6

    def each(self, function: Callable[[Array], Array]) -> Band:
        """The same with a function of each of the arrays."""
        cool, heat, cool_limit, heat_limit = map(function, self[:4])
        return Band(cool, heat, cool_limit, heat_limit, self.close, self.small)


@dataclass(frozen=True)
class Advanced:
    """A stretch of steps done.

    `start` (run, piece, mode) is the state at each step's start in its regime's coordinates, summed over the steps of
    each piece, which begin at `cuts` (piece,); `end` (run, node) the last state as temperatures of the massive nodes;
    `heat` and `slope` (run, step, zone) the mean and the change of the heat over each step; `reading` (run, step, zone)
    what thermostats read at each step's start; `mode` (run, step, zone); `entering` whether a held zone met its
    setpoint at the end only; `solves` counts control solutions.
    """

    cuts: Indices
    start: Array
    end: Array
    heat: Array
    slope: Array
    reading: Array
    mode: npt.NDArray[np.int8]
    entering: npt.NDArray[np.bool_]
    solves: int

    def begun(self, step: int) -> Array:
        """State at the start of a step that is a piece of its own, (run, mode)."""
        piece = int(np.searchsorted(self.cuts, step))
        if self.cuts[piece : piece + 2].tolist() not in ([step, step + 1], [self.heat.shape[1] - 1]):
            raise AssertionError("the state at this step was not kept by itself")
        return self.start[:, piece]

"""Control within a step: which zones float, are held or stand at their limit, and the heat that follows.

With the modes given, mean heat q̄ and slope σ solve a linear system on zone × zone response matrices; the modes are right
when every held zone's q̄ lies within its limits and on its side of zero, every floating zone ends within its band, and
every limited zone ends outside it. That is a linear complementarity problem; with the end-of-step response alone its
matrix is an M-matrix, for which exchanging all violators converges. Holding on mean and end together is not quite of
that kind, so a zone that changes its mind three times in a step is held at the end only, and after many rounds only
the first violator is exchanged (Murty's least-index rule, finite for P-matrices: Cottle, Pang and Stone, The Linear
Complementarity Problem, 1992, section 4.2).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError
from heatsim.solve.base import Mode
from heatsim.solve.forms import StepOperators

Array = npt.NDArray[np.float64]
Modes = npt.NDArray[np.int8]

FLOATING, HELD, HELD_AT_END = 0, 1, 2
FLOAT, HOLD_COOL, HOLD_HEAT, LIMIT_COOL, LIMIT_HEAT = (int(m) for m in Mode)
"""Plain numbers: attribute look-ups on an enumeration would cost a third of a step."""
MOST_ROUNDS = 60
ALL_AT_ONCE = 12
"""Rounds in which all violators are exchanged together; later only the first one."""
MOST_STORED = 4096


@dataclass
class Patterns:
    """Inverses of the control system by regime and pattern of held zones, made when first met."""

    operators: tuple[StepOperators, ...]
    inverses: dict[tuple[int, bytes], Array] = field(default_factory=dict)

    def inverse(self, regime: int, code: npt.NDArray[np.int8]) -> Array:
        """(2 zone, 2 zone) matrix that turns [end target or heat; mean target or 0] into [q̄; σ]."""
        key = (regime, code.tobytes())
        found = self.inverses.get(key)
        if found is None:
            if len(self.inverses) >= MOST_STORED:
                self.inverses.clear()
            found = self.inverses[key] = np.linalg.inv(pattern_matrix(self.operators[regime], code))
        return found


def pattern_matrix(step: StepOperators, code: npt.NDArray[np.int8]) -> Array:
    """The control system of one pattern (zone,) of FLOATING, HELD, HELD_AT_END."""
    zones = len(code)
    matrix = np.eye(2 * zones)
    held = np.flatnonzero(code != FLOATING)
    both = np.flatnonzero(code == HELD)
    matrix[held, :zones], matrix[held, zones:] = step.y_heat_end[held], step.y_slope_end[held]
    matrix[both + zones, :zones], matrix[both + zones, zones:] = step.y_heat_mean[both], step.y_slope_mean[both]
    return matrix


def heats(
    patterns: Patterns, regime: int, code: npt.NDArray[np.int8], end: Array, mean: Array, given: Array
) -> tuple[Array, Array]:
    """Mean heat and slope (run, zone) for given patterns.

    Parameters
    ----------
    code : (run, zone) array of int8
    end, mean : (run, zone) arrays
        What heat must still bring the thermostat at the step's end and on its mean.
    given : (run, zone) array
        Heat of zones that are not held. [W]
    """
    zones = code.shape[1]
    right = np.concatenate([np.where(code != FLOATING, end, given), np.where(code == HELD, mean, 0.0)], axis=1)
    if len(code) == 1 or (code == code[0]).all():
        solved = right @ patterns.inverse(regime, code[0]).T
    else:
        solved = np.empty_like(right)
        rows, member = np.unique(code, axis=0, return_inverse=True)
        member = member.reshape(-1)
        for i, row in enumerate(rows):
            chosen = member == i
            solved[chosen] = right[chosen] @ patterns.inverse(regime, row).T
    return solved[:, :zones], solved[:, zones:]


@dataclass(frozen=True)
class StepBand:
    """The band of one step, (run, zone) each; see `base.Band`."""

    cool: Array
    heat: Array
    cool_limit: Array
    heat_limit: Array
    close: float
    small: float


def resolve_modes(
    patterns: Patterns,
    regime: int,
    before: Array,
    free_end: Array,
    free_mean: Array,
    band: StepBand,
    mode: Modes,
    zones: tuple[str, ...],
) -> tuple[Array, Array, Modes, npt.NDArray[np.bool_], int]:
    """Find modes and heats of one step for a batch of runs.

    Parameters
    ----------
    before : (run, zone) array
        What thermostats read when the step begins.
    free_end, free_mean : (run, zone) arrays
        What they would read at its end and on its mean without heat.
    mode : (run, zone) array of int8
        The last step's modes, where the search starts.

    Returns
    -------
    heat, slope : (run, zone) arrays
    mode : (run, zone) array of int8
    entering : (run, zone) array of bool
    rounds : int

    Raises
    ------
    HeatsimError
        When no consistent set of modes is found; names the zones.
    """
    step = patterns.operators[regime]
    mode = np.where(
        ((mode == HOLD_COOL) | (mode == LIMIT_COOL)) & (band.cool_limit <= 0.0)
        | ((mode == HOLD_HEAT) | (mode == LIMIT_HEAT)) & (band.heat_limit <= 0.0),
        FLOAT,
        mode,
    ).astype(np.int8)
    heat, slope = np.zeros_like(before), np.zeros_like(before)
    entering = np.zeros(before.shape, dtype=bool)
    changes = np.zeros(before.shape, dtype=np.int8)
    active = np.arange(len(before))
    for round_ in range(MOST_ROUNDS):
        now = mode[active]
        limits = StepBand(*(v[active] for v in (band.cool, band.heat, band.cool_limit, band.heat_limit)), band.close, band.small)  # fmt: skip
        held = (now == HOLD_COOL) | (now == HOLD_HEAT)
        target = np.where(now == HOLD_HEAT, limits.heat, limits.cool)
        target = np.where(held, target, 0.0)
        away = held & ((np.abs(before[active] - target) > band.close) | (changes[active] >= 3))
        code = np.where(held, np.where(away, HELD_AT_END, HELD), FLOATING).astype(np.int8)
        given = np.where(now == LIMIT_COOL, -limits.cool_limit, 0.0)
        given = np.where(now == LIMIT_HEAT, limits.heat_limit, given)
        q, s = heats(patterns, regime, code, target - free_end[active], target - free_mean[active], given)
        end = free_end[active] + q @ step.y_heat_end.T + s @ step.y_slope_end.T
        better = _exchange(now, q, end, limits)
        wrong = better != now
        if round_ >= ALL_AT_ONCE:
            first = np.cumsum(wrong, axis=1) == 1
            better, wrong = np.where(wrong & first, better, now), wrong & first
        heat[active], slope[active], entering[active] = q, s, away
        mode[active] = better
        changes[active] += wrong
        active = active[wrong.any(axis=1)]
        if len(active) == 0:
            return heat, slope, mode, entering, round_ + 1
    names = [zones[i] for i in np.flatnonzero(wrong.any(axis=0))]
    raise HeatsimError(
        Fault(
            rule="heating and cooling of neighbouring zones must settle within a step",
            value="no consistent state for " + ", ".join(names),
            remedy="Look for neighbours whose setpoints fight across an open door",
        )
    )


def _exchange(mode: Modes, heat: Array, end: Array, band: StepBand) -> Modes:
    """The mode each zone should have, seen from a solution with its present one."""
    close, small = band.close, band.small
    floating = np.where((end > band.cool + close) & (band.cool_limit > 0.0), HOLD_COOL, FLOAT)
    floating = np.where((end < band.heat - close) & (band.heat_limit > 0.0), HOLD_HEAT, floating)
    cooled = np.where(heat > small, FLOAT, HOLD_COOL)
    cooled = np.where(heat < -band.cool_limit - small, LIMIT_COOL, cooled)
    heated = np.where(heat < -small, FLOAT, HOLD_HEAT)
    heated = np.where(heat > band.heat_limit + small, LIMIT_HEAT, heated)
    spent_cool = np.where(end < band.cool - close, HOLD_COOL, LIMIT_COOL)
    spent_heat = np.where(end > band.heat + close, HOLD_HEAT, LIMIT_HEAT)
    return np.choose(mode, (floating, cooled, heated, spent_cool, spent_heat)).astype(np.int8)

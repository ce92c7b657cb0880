"""Control within a step: which zones float, are held or stand at their limit, and the heat that follows.

With the modes given, mean heat q̄ and slope σ solve a linear system on zone × zone response matrices; they are right
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
from heatsim.solve.base import Band, Mode
from heatsim.solve.forms import StepOperators

Array = npt.NDArray[np.float64]
Modes = npt.NDArray[np.int8]
Rows = npt.NDArray[np.int64] | slice

FLOATING, HELD, HELD_AT_END = 0, 1, 2
FLOAT, HOLD_COOL, HOLD_HEAT, LIMIT_COOL, LIMIT_HEAT = (int(m) for m in Mode)
"""Plain numbers: attribute look-ups on an enumeration would cost a third of a step."""
MOST_ROUNDS = 60
ALL_AT_ONCE = 12
"""Rounds in which all violators are exchanged together; later only the first one."""
MOST_STORED = 4096


@dataclass
class Patterns:
    """Inverses of the control system by regime and pattern of held zones, and which runs share a pattern; made when
    first met."""

    operators: tuple[StepOperators, ...]
    inverses: dict[tuple[int, bytes], Array] = field(default_factory=dict)
    members: dict[bytes, list[tuple[Modes, Rows]]] = field(default_factory=dict)

    def inverse(self, regime: int, code: npt.NDArray[np.int8]) -> Array:
        """(2 zone, 2 zone) matrix that turns [end target or heat; mean target or 0] into [q̄; σ]."""
        key = (regime, code.tobytes())
        found = self.inverses.get(key)
        if found is None:
            if len(self.inverses) >= MOST_STORED:
                self.inverses.clear()
            found = np.asarray(np.linalg.inv(pattern_matrix(self.operators[regime], code)), dtype=float)
            self.inverses[key] = found
        return found

    def groups(self, code: Modes) -> list[tuple[Modes, Rows]]:
        """The different patterns among the rows of (run, zone), and the rows that have each; steps repeat them."""
        key = code.tobytes()
        found = self.members.get(key)
        if found is None:
            if len(self.members) >= MOST_STORED:
                self.members.clear()
            rows: dict[bytes, list[int]] = {}
            for i, row in enumerate(code):
                rows.setdefault(row.tobytes(), []).append(i)
            found = [(code[chosen[0]].copy(), slice(None) if len(rows) == 1 else np.array(chosen))
                     for chosen in rows.values()]  # fmt: skip
            self.members[key] = found
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
    solved = np.empty_like(right)
    for pattern, rows in patterns.groups(code):
        solved[rows] = right[rows] @ patterns.inverse(regime, pattern).T
    return solved[:, :zones], solved[:, zones:]


def resolve_modes(
    patterns: Patterns,
    regime: int,
    before: Array,
    free_end: Array,
    free_mean: Array,
    band: Band,
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
    mode = np.where(
        ((mode == HOLD_COOL) | (mode == LIMIT_COOL)) & (band.cool_limit <= 0.0)
        | ((mode == HOLD_HEAT) | (mode == LIMIT_HEAT)) & (band.heat_limit <= 0.0),
        FLOAT,
        mode,
    ).astype(np.int8)
    heat, slope, entering, better = _try(patterns, regime, before, free_end, free_mean, band, mode, None)
    wrong = better != mode
    if not wrong.any():
        return heat, slope, mode, entering, 1
    mode, changes, active = better, wrong.astype(np.int8), np.flatnonzero(wrong.any(axis=1))
    for round_ in range(2, MOST_ROUNDS):
        limits = Band(
            band.cool[active], band.heat[active], band.cool_limit[active], band.heat_limit[active], band.close,
            band.small,
        )  # fmt: skip
        now = mode[active]
        q, s, away, better = _try(
            patterns, regime, before[active], free_end[active], free_mean[active], limits, now, changes[active] >= 3
        )
        wrong = better != now
        if round_ >= ALL_AT_ONCE:
            first = np.cumsum(wrong, axis=1) == 1
            better, wrong = np.where(wrong & first, better, now), wrong & first
        heat[active], slope[active], entering[active], mode[active] = q, s, away, better
        changes[active] += wrong
        active = active[wrong.any(axis=1)]
        if len(active) == 0:
            return heat, slope, mode, entering, round_
    names = [zones[i] for i in np.flatnonzero(wrong.any(axis=0))]
    raise HeatsimError(
        Fault(
            rule="heating and cooling of neighbouring zones must settle within a step",
            value="no consistent state for " + ", ".join(names),
            remedy="Look for neighbours whose setpoints fight across an open door",
        )
    )


def _try(
    patterns: Patterns,
    regime: int,
    before: Array,
    free_end: Array,
    free_mean: Array,
    band: Band,
    mode: Modes,
    stubborn: npt.NDArray[np.bool_] | None,
) -> tuple[Array, Array, npt.NDArray[np.bool_], Modes]:
    """Heats with the given modes, which zones are held at the end only, and the modes that solution asks for."""
    step = patterns.operators[regime]
    warmed = mode == HOLD_HEAT
    held = warmed | (mode == HOLD_COOL)
    target = np.where(warmed, band.heat, band.cool)
    away = np.abs(before - target) > band.close
    if stubborn is not None:
        away |= stubborn
    away &= held
    code = held.astype(np.int8) + away
    if held.all():
        given = target
    else:
        given = np.where(mode == LIMIT_COOL, -band.cool_limit, np.where(mode == LIMIT_HEAT, band.heat_limit, 0.0))
        target = np.where(held, target, 0.0)
    q, s = heats(patterns, regime, code, target - free_end, target - free_mean, given)
    end = free_end + q @ step.y_heat_end.T + s @ step.y_slope_end.T
    return q, s, away, _exchange(mode, q, end, band)


def _exchange(mode: Modes, heat: Array, end: Array, band: Band) -> Modes:
    """The mode each zone should have, seen from a solution with its present one."""
    close, small = band.close, band.small
    over, under = end - band.cool, end - band.heat
    better = mode.copy()
    cooled = mode == HOLD_COOL
    better[cooled & (heat > small)] = FLOAT
    better[cooled & (heat < -band.cool_limit - small)] = LIMIT_COOL
    if cooled.all():
        return better
    floating, warmed = mode == FLOAT, mode == HOLD_HEAT
    better[floating & (over > close) & (band.cool_limit > 0.0)] = HOLD_COOL
    better[floating & (under < -close) & (band.heat_limit > 0.0)] = HOLD_HEAT
    better[warmed & (heat < -small)] = FLOAT
    better[warmed & (heat > band.heat_limit + small)] = LIMIT_HEAT
    better[(mode == LIMIT_COOL) & (over < -close)] = HOLD_COOL
    better[(mode == LIMIT_HEAT) & (under > close)] = HOLD_HEAT
    return better

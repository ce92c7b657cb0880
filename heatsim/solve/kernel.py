"""The same stepping as one compiled loop per run (numba), for years and studies.

Mathematics, tolerances and the order of decisions are those of `stepping.advance` and `control.resolve_modes`; a run's
arithmetic does not depend on the batch it is in. Runs are spread over threads (the loop holds no interpreter lock), so
one BLAS thread a worker is enough. Design days never come here: nobody waits for a compiler to see a zone table.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError
from heatsim.solve.base import Advanced, Band, Form
from heatsim.solve.control import ALL_AT_ONCE, MOST_ROUNDS
from heatsim.solve.stepping import Forcing, Operators

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

STORED_PATTERNS = 48
"""Control inverses a run keeps; a boat's year meets a few dozen patterns again and again."""


def advance_compiled(
    operators: Operators,
    state: Array,
    forcing: Forcing,
    regime: Indices,
    band: Band,
    mode: npt.NDArray[np.int8] | None = None,
    workers: int = 2,
) -> Advanced:
    """`stepping.advance`, run by run in compiled code.

    Parameters
    ----------
    workers : int
        Threads over which runs are spread.
    """
    runs, steps, zones = forcing.y_end.shape
    n = forcing.end.shape[2]
    loop = _compiled()
    stacked = _stacked(operators)
    regimes = np.ascontiguousarray(np.broadcast_to(regime, (runs, steps)), dtype=np.int64)
    first = np.zeros((runs, zones), dtype=np.int8) if mode is None else mode
    start, heat, slope = np.empty((runs, steps, n)), np.empty((runs, steps, zones)), np.empty((runs, steps, zones))
    modes, entering = np.empty((runs, steps, zones), dtype=np.int8), np.empty((runs, steps, zones), dtype=bool)
    end, solves, failed = np.empty((runs, n)), np.zeros(runs, dtype=np.int64), np.full(runs, -1, dtype=np.int64)
    limits = [
        np.broadcast_to(v, (runs, steps, zones)) for v in (band.cool, band.heat, band.cool_limit, band.heat_limit)
    ]

    def one(i: int) -> None:
        solves[i], failed[i] = loop(
            *stacked, state[i], forcing.end[i], forcing.y_start[i], forcing.y_end[i], forcing.y_mean[i], regimes[i],
            *(np.ascontiguousarray(v[i]) for v in limits), band.close, band.small, first[i],
            start[i], heat[i], slope[i], modes[i], entering[i], end[i],
        )  # fmt: skip

    if runs == 1 or workers == 1:
        for i in range(runs):
            one(i)
    else:
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(one, range(runs)))
    if np.any(failed >= 0):
        raise HeatsimError(
            Fault(
                rule="heating and cooling of neighbouring zones must settle within a step",
                value=f"no consistent state in step {int(failed.max())}",
                remedy="Look for neighbours whose setpoints fight across an open door",
            )
        )
    return Advanced(start, end, heat, slope, modes, entering, int(solves.sum()))


def _stacked(operators: Operators) -> tuple[Any, ...]:
    """All regimes' operators as contiguous arrays in the order `_loop` takes them."""
    ops = operators.regimes
    dense = any(op.form is Form.DENSE for op in ops)
    n = ops[0].from_modes.shape[0]

    def stack(values: list[Array]) -> Array:
        return np.ascontiguousarray(np.stack(values))

    if dense:
        decay = stack([op.decay[0] if op.form is Form.DENSE else _full(op.apply(op.decay, np.eye(n))) for op in ops])
        c, s = np.zeros((len(ops), n)), np.zeros((len(ops), n))
    else:
        decay = np.zeros((len(ops), 0, 0))
        c, s = stack([op.decay[0] for op in ops]), stack([op.decay[1] for op in ops])
    return (
        dense, np.ascontiguousarray(np.swapaxes(decay, 1, 2)), c, s, np.stack([op.pair for op in ops]),
        stack([op.to_modes for op in ops]), stack([op.from_modes for op in ops]),
        stack([op.read.T for op in ops]), stack([op.read_mean.T for op in ops]),
        stack([op.heat_end.T for op in ops]), stack([op.slope_end.T for op in ops]),
        stack([op.y_heat_end for op in ops]), stack([op.y_slope_end for op in ops]),
        stack([op.y_heat_mean for op in ops]), stack([op.y_slope_mean for op in ops]),
    )  # fmt: skip


def _full(applied: Array) -> Array:
    return np.ascontiguousarray(applied.T)


@lru_cache(maxsize=1)
def _compiled() -> Any:
    """Compile on first use; numba keeps the machine code in its cache folder."""
    import numba

    return numba.njit(cache=True, nogil=True)(_loop)


def _loop(  # type: ignore[no-untyped-def]
    dense, decay, c, s, pair, to_modes, from_modes, read, read_mean, heat_end, slope_end,
    y_heat_end, y_slope_end, y_heat_mean, y_slope_mean,
    x, f_end, f_y_start, f_y_end, f_y_mean, regime, cool, warm, cool_limit, heat_limit, close, small, first_mode,
    start, heat, slope, modes, entering, end,
):  # fmt: skip
    """One run over all steps; see the module's head. Codes as in base.Mode and control."""
    steps, zones = f_y_end.shape
    n = f_end.shape[1]
    z, free = np.empty(n), np.empty(n)
    before, y_end, y_mean = np.empty(zones), np.empty(zones), np.empty(zones)
    mode, code, wanted = first_mode.copy(), np.zeros(zones, np.int8), np.zeros(zones, np.int8)
    changes, right, solved = np.zeros(zones, np.int8), np.empty(2 * zones), np.empty(2 * zones)
    stored = np.empty((STORED_PATTERNS, 2 * zones, 2 * zones))
    keys = np.full((STORED_PATTERNS, zones + 1), -1, np.int64)
    count, slot, slot_regime, current, solves = 0, -1, -1, -1, 0
    slot_code = np.full(zones, -1, np.int8)
    for k in range(steps):
        r = regime[k]
        if r != current:
            if current >= 0:
                x = from_modes[current] @ z
            z[:] = to_modes[r] @ x
            current = r
        start[k] = z
        if dense:
            free[:] = f_end[k]
            for i in range(n):
                for j in range(n):
                    free[j] += decay[r, i, j] * z[i]
        else:
            for i in range(n):
                free[i] = c[r, i] * z[i] + s[r, i] * z[pair[r, i]] + f_end[k, i]
        before[:] = f_y_start[k]
        y_end[:] = f_y_end[k]
        y_mean[:] = f_y_mean[k]
        for i in range(n):
            a, b = z[i], free[i]
            for j in range(zones):
                before[j] += read[r, i, j] * a
                y_mean[j] += read_mean[r, i, j] * a
                y_end[j] += read[r, i, j] * b
        for j in range(zones):
            if (mode[j] == 1 or mode[j] == 3) and cool_limit[k, j] <= 0.0:
                mode[j] = 0
            if (mode[j] == 2 or mode[j] == 4) and heat_limit[k, j] <= 0.0:
                mode[j] = 0
        changes[:] = 0
        settled = False
        for round_ in range(MOST_ROUNDS):
            solves += 1
            for j in range(zones):
                code[j] = 0
                right[j], right[j + zones] = 0.0, 0.0
                if mode[j] == 1 or mode[j] == 2:
                    target = cool[k, j] if mode[j] == 1 else warm[k, j]
                    away = abs(before[j] - target) > close or changes[j] >= 3
                    code[j] = 2 if away else 1
                    right[j] = target - y_end[j]
                    if not away:
                        right[j + zones] = target - y_mean[j]
                elif mode[j] == 3:
                    right[j] = -cool_limit[k, j]
                elif mode[j] == 4:
                    right[j] = heat_limit[k, j]
            same = slot >= 0 and slot_regime == r
            if same:
                for j in range(zones):
                    if slot_code[j] != code[j]:
                        same = False
                        break
            if not same:
                slot = -1
                for p in range(min(count, STORED_PATTERNS)):
                    if keys[p, zones] == r:
                        found = True
                        for j in range(zones):
                            if keys[p, j] != code[j]:
                                found = False
                                break
                        if found:
                            slot = p
                            break
                if slot < 0:
                    slot = count % STORED_PATTERNS
                    count += 1
                    matrix = np.eye(2 * zones)
                    for i in range(zones):
                        if code[i] != 0:
                            for j in range(zones):
                                matrix[i, j] = y_heat_end[r, i, j]
                                matrix[i, j + zones] = y_slope_end[r, i, j]
                        if code[i] == 1:
                            for j in range(zones):
                                matrix[i + zones, j] = y_heat_mean[r, i, j]
                                matrix[i + zones, j + zones] = y_slope_mean[r, i, j]
                    stored[slot] = np.linalg.inv(matrix).T
                    for j in range(zones):
                        keys[slot, j] = code[j]
                    keys[slot, zones] = r
                slot_regime = r
                slot_code[:] = code
            solved[:] = 0.0
            for i in range(2 * zones):
                a = right[i]
                for j in range(2 * zones):
                    solved[j] += stored[slot, i, j] * a
            wrong = False
            for j in range(zones):
                e = y_end[j]
                for i in range(zones):
                    e += y_heat_end[r, j, i] * solved[i] + y_slope_end[r, j, i] * solved[i + zones]
                q, m = solved[j], mode[j]
                new = m
                if m == 0:
                    if e > cool[k, j] + close and cool_limit[k, j] > 0.0:
                        new = 1
                    if e < warm[k, j] - close and heat_limit[k, j] > 0.0:
                        new = 2
                elif m == 1:
                    if q > small:
                        new = 0
                    if q < -cool_limit[k, j] - small:
                        new = 3
                elif m == 2:
                    if q < -small:
                        new = 0
                    if q > heat_limit[k, j] + small:
                        new = 4
                elif m == 3:
                    if e < cool[k, j] - close:
                        new = 1
                elif e > warm[k, j] + close:
                    new = 2
                if wrong and round_ >= ALL_AT_ONCE:
                    new = m
                wanted[j] = new
                if new != m:
                    wrong = True
                    changes[j] += 1
            if not wrong:
                settled = True
                break
            mode[:] = wanted
        if not settled:
            return solves, k
        for i in range(n):
            z[i] = free[i]
        for j in range(zones):
            q, w = solved[j], solved[j + zones]
            heat[k, j], slope[k, j] = q, w
            modes[k, j], entering[k, j] = mode[j], code[j] == 2
            for i in range(n):
                z[i] += heat_end[r, j, i] * q + slope_end[r, j, i] * w
    end[:] = from_modes[current] @ z
    return solves, -1

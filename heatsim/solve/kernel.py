"""The same stepping as one compiled loop per run (numba), for years and studies.

Mathematics, tolerances and the order of decisions are those of `stepping.advance` and `control.resolve_modes`; a run's
arithmetic does not depend on the batch it is in. Runs are spread over threads (the loop holds no interpreter lock), so
one BLAS thread a worker is enough. A boat's few design days never come here: nobody waits for a compiler to see a zone
table.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numba
import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError
from heatsim.solve.base import Advanced, Band, Form
from heatsim.solve.control import ALL_AT_ONCE, MOST_ROUNDS
from heatsim.solve.stepping import Forcing, Operators
from heatsim.solve.threads import each

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

STORED_PATTERNS = 48
"""Control inverses a run keeps; a boat's year meets a few dozen patterns again and again."""

_SUMS = {"reassoc", "contract", "nsz"}
"""Sums may be taken in any order, which lets them fill a vector register; infinite limits stay infinite."""
_part: Any = numba.njit(nogil=True, fastmath=_SUMS)
"""Kept with the loop alone: a part from a store of its own would not be laid open within the loop, whose last digits
would then hang on what was stored before (numba before 0.61 differs then all the same)."""
_whole: Any = numba.njit(cache=True, nogil=True, fastmath=_SUMS)


class _Stacked(NamedTuple):
    """All regimes' operators as contiguous arrays, regime first; `heated` and `y_heated` take [q̄; σ]."""

    dense: bool
    decay: Array
    c: Array
    s: Array
    pair: Indices
    to_modes: Array
    from_modes: Array
    reads: Array
    heated: Array
    y_heated: Array
    y_heated_mean: Array


def advance_compiled(
    operators: Operators,
    state: Array,
    forcing: Forcing,
    regime: Indices,
    band: Band,
    mode: npt.NDArray[np.int8] | None = None,
) -> Advanced:
    """`stepping.advance`, run by run in compiled code."""
    (runs, steps, _), n, zones = forcing.rows.shape, state.shape[1], len(operators.system.zones)
    stacked = _stack(operators)
    regimes = np.ascontiguousarray(np.broadcast_to(regime, (runs, steps)), dtype=np.int64)
    first = np.zeros((runs, zones), dtype=np.int8) if mode is None else mode
    rows = np.ascontiguousarray(forcing.rows)
    start, end = np.empty((runs, steps, n)), np.empty((runs, n))
    heat, slope, reading = (np.empty((runs, steps, zones)) for _ in range(3))
    modes, entering = np.empty((runs, steps, zones), dtype=np.int8), np.empty((runs, steps, zones), dtype=bool)
    solves, failed = np.zeros(runs, dtype=np.int64), np.full(runs, -1, dtype=np.int64)
    limits = [_by_run(v, (runs, steps, zones)) for v in (band.cool, band.heat, band.cool_limit, band.heat_limit)]

    def one(i: int) -> None:
        own = Band(limits[0][i], limits[1][i], limits[2][i], limits[3][i], band.close, band.small)
        solves[i], failed[i] = _loop(
            stacked, state[i].copy(), rows[i], regimes[i], own, first[i], start[i], heat[i], slope[i], reading[i],
            modes[i], entering[i], end[i],
        )  # fmt: skip

    each(one, range(runs))
    if np.any(failed >= 0):
        raise HeatsimError(
            Fault(
                rule="heating and cooling of neighbouring zones must settle within a step",
                value=f"no consistent state in step {int(failed.max())}",
                remedy="Look for neighbours whose setpoints fight across an open door",
            )
        )
    return Advanced(start, end, heat, slope, reading, modes, entering, int(solves.sum()))


def _by_run(values: Array, shape: tuple[int, int, int]) -> Array:
    """(run, step, zone) of which each run's part is contiguous; what all runs share is held once."""
    if len(values) > 1 and values.strides[0] != 0:
        return np.ascontiguousarray(np.broadcast_to(values, shape))
    shared = np.array(np.broadcast_to(values[0], shape[1:]), order="C")
    return np.lib.stride_tricks.as_strided(shared, shape, (0, *shared.strides))


def _stack(operators: Operators) -> _Stacked:
    ops = operators.regimes
    dense = any(op.form is Form.DENSE for op in ops)
    n = ops[0].from_modes.shape[0]

    def stack(values: list[Array]) -> Array:
        return np.ascontiguousarray(np.stack(values))

    if dense:
        decay = stack([op.decay[0] if op.form is Form.DENSE else op.apply(op.decay, np.eye(n)).T for op in ops])
        c, s = np.zeros((len(ops), n)), np.zeros((len(ops), n))
    else:
        decay = np.zeros((len(ops), 0, 0))
        c, s = stack([op.decay[0] for op in ops]), stack([op.decay[1] for op in ops])
    return _Stacked(
        dense,
        decay,
        c,
        s,
        np.stack([op.pair for op in ops]),
        stack([op.to_modes for op in ops]),
        stack([op.from_modes for op in ops]),
        stack([op.reads for op in ops]),
        stack([np.hstack([op.heat_end, op.slope_end]).T for op in ops]),
        stack([np.hstack([op.y_heat_end, op.y_slope_end]) for op in ops]),
        stack([np.hstack([op.y_heat_mean, op.y_slope_mean]) for op in ops]),
    )


@_part
def _times(matrix, vector, out):  # type: ignore[no-untyped-def]
    """out += matrix · vector, four rows at a time."""
    rows, columns = matrix.shape
    whole = rows - rows % 4
    for i in range(0, whole, 4):
        a, b, c, d = 0.0, 0.0, 0.0, 0.0
        for j in range(columns):
            v = vector[j]
            a += matrix[i, j] * v
            b += matrix[i + 1, j] * v
            c += matrix[i + 2, j] * v
            d += matrix[i + 3, j] * v
        out[i] += a
        out[i + 1] += b
        out[i + 2] += c
        out[i + 3] += d
    for i in range(whole, rows):
        a = 0.0
        for j in range(columns):
            a += matrix[i, j] * vector[j]
        out[i] += a


@_part
def _add_rows(weights, matrix, out):  # type: ignore[no-untyped-def]
    """out += weights · matrix, four rows at a time."""
    rows, columns = matrix.shape
    whole = rows - rows % 4
    for i in range(0, whole, 4):
        a, b, c, d = weights[i], weights[i + 1], weights[i + 2], weights[i + 3]
        for j in range(columns):
            out[j] += a * matrix[i, j] + b * matrix[i + 1, j] + c * matrix[i + 2, j] + d * matrix[i + 3, j]
    for i in range(whole, rows):
        a = weights[i]
        for j in range(columns):
            out[j] += a * matrix[i, j]


@_part
def _inverse(stacked, r, code, index, work, out):  # type: ignore[no-untyped-def]
    """Inverse of `control.pattern_matrix` into `out`: Gauss and Jordan on what is not simply given, in place."""
    zones, count = len(code), 0
    out[:] = 0.0
    for i in range(zones):
        if code[i] != 0:
            index[count] = i
            count += 1
        else:
            out[i, i] = 1.0
    for i in range(zones):
        if code[i] == 1:
            index[count] = i + zones
            count += 1
        else:
            out[i + zones, i + zones] = 1.0
    for a in range(count):
        row = stacked.y_heated[r, index[a]] if index[a] < zones else stacked.y_heated_mean[r, index[a] - zones]
        for b in range(count):
            work[a, b] = row[index[b]]
    swapped = index[count:]  # room left behind the indices
    for c in range(count):
        best = c
        for a in range(c + 1, count):
            if abs(work[a, c]) > abs(work[best, c]):
                best = a
        swapped[c] = best
        if best != c:
            for b in range(count):
                work[c, b], work[best, b] = work[best, b], work[c, b]
        factor = 1.0 / work[c, c]
        work[c, c] = 1.0
        for b in range(count):
            work[c, b] *= factor
        for a in range(count):
            factor = work[a, c]
            if a != c and factor != 0.0:
                work[a, c] = 0.0
                for b in range(count):
                    work[a, b] -= factor * work[c, b]
    for c in range(count - 1, -1, -1):
        if swapped[c] != c:
            for a in range(count):
                work[a, c], work[a, swapped[c]] = work[a, swapped[c]], work[a, c]
    for a in range(count):
        for b in range(count):
            out[index[a], index[b]] = work[a, b]
        for f in range(zones):
            if code[f] == 0:
                total = 0.0
                for b in range(count):
                    row = (
                        stacked.y_heated[r, index[b]]
                        if index[b] < zones
                        else stacked.y_heated_mean[r, index[b] - zones]
                    )
                    total += work[a, b] * row[f]
                out[index[a], f] = -total


@numba.njit(inline="always")  # called for every zone and step: passing the band would cost a third of the loop
def _better(mode, heat, end, band, k, j):  # type: ignore[no-untyped-def]
    """`control._exchange` for one zone."""
    if mode == 0:
        if end < band.heat[k, j] - band.close and band.heat_limit[k, j] > 0.0:
            return 2
        if end > band.cool[k, j] + band.close and band.cool_limit[k, j] > 0.0:
            return 1
    elif mode == 1:
        if heat < -band.cool_limit[k, j] - band.small:
            return 3
        if heat > band.small:
            return 0
    elif mode == 2:
        if heat > band.heat_limit[k, j] + band.small:
            return 4
        if heat < -band.small:
            return 0
    elif mode == 3:
        if end < band.cool[k, j] - band.close:
            return 1
    elif end > band.heat[k, j] + band.close:
        return 2
    return mode


@_whole
def _loop(  # type: ignore[no-untyped-def]
    stacked, x, rows, regime, band, first_mode, start, heat, slope, reading, modes, entering, end
):
    """One run over all steps; see the module's head. Codes as in base.Mode and control."""
    steps, n = start.shape
    zones = heat.shape[1]
    z, swap, y = np.empty(n), np.empty(n), np.empty(3 * zones)
    mode, code, wanted = first_mode.copy(), np.zeros(zones, np.int8), np.zeros(zones, np.int8)
    changes, right, solved, reached = (
        np.zeros(zones, np.int8),
        np.empty(2 * zones),
        np.empty(2 * zones),
        np.empty(zones),
    )
    stored = np.empty((STORED_PATTERNS, 2 * zones, 2 * zones))
    work, index = np.empty((2 * zones, 2 * zones)), np.empty(4 * zones, np.int64)
    keys = np.full((STORED_PATTERNS, zones + 1), -1, np.int64)
    count, slot, slot_regime, current, solves = 0, -1, -1, -1, 0
    slot_code = np.full(zones, -1, np.int8)
    for k in range(steps):
        r = regime[k]
        if r != current:
            if current >= 0:
                x[:] = 0.0
                _times(stacked.from_modes[current], z, x)
            z[:] = 0.0
            _times(stacked.to_modes[r], x, z)
            current = r
        start[k] = z
        y[:] = rows[k, n:]
        _times(stacked.reads[r], z, y)
        for j in range(zones):
            reading[k, j] = y[j]
            if (mode[j] == 1 or mode[j] == 3) and band.cool_limit[k, j] <= 0.0:
                mode[j] = 0
            if (mode[j] == 2 or mode[j] == 4) and band.heat_limit[k, j] <= 0.0:
                mode[j] = 0
        changes[:] = 0
        settled = False
        for round_ in range(MOST_ROUNDS):
            solves += 1
            for j in range(zones):
                code[j] = 0
                right[j], right[j + zones] = 0.0, 0.0
                if mode[j] == 1 or mode[j] == 2:
                    target = band.cool[k, j] if mode[j] == 1 else band.heat[k, j]
                    away = abs(y[j] - target) > band.close or changes[j] >= 3
                    code[j] = 2 if away else 1
                    right[j] = target - y[zones + j]
                    if not away:
                        right[j + zones] = target - y[2 * zones + j]
                elif mode[j] == 3:
                    right[j] = -band.cool_limit[k, j]
                elif mode[j] == 4:
                    right[j] = band.heat_limit[k, j]
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
                    _inverse(stacked, r, code, index, work, stored[slot])
                    for j in range(zones):
                        keys[slot, j] = code[j]
                    keys[slot, zones] = r
                slot_regime = r
                slot_code[:] = code
            solved[:] = 0.0
            _times(stored[slot], right, solved)
            reached[:] = y[zones : 2 * zones]
            _times(stacked.y_heated[r], solved, reached)
            wrong = False
            for j in range(zones):
                wanted[j] = mode[j]
                if not (wrong and round_ >= ALL_AT_ONCE):
                    wanted[j] = _better(mode[j], solved[j], reached[j], band, k, j)
                if wanted[j] != mode[j]:
                    wrong = True
                    changes[j] += 1
            if not wrong:
                settled = True
                break
            mode[:] = wanted
        if not settled:
            return solves, k
        if stacked.dense:
            swap[:] = rows[k, :n]
            _times(stacked.decay[r], z, swap)
            z[:] = swap
        else:
            swap[:] = z
            for i in range(n):
                z[i] = stacked.c[r, i] * z[i] + stacked.s[r, i] * swap[stacked.pair[r, i]] + rows[k, i]
        _add_rows(solved, stacked.heated[r], z)
        for j in range(zones):
            heat[k, j], slope[k, j] = solved[j], solved[j + zones]
            modes[k, j], entering[k, j] = mode[j], code[j] == 2
    end[:] = 0.0
    _times(stacked.from_modes[current], z, end)
    return solves, -1

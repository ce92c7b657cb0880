"""The compiled loop (numba) of `solve.compiled`: runs four abreast through all steps, control included.

This module holds all that is compiled and nothing else: its store is made anew when this file changes, and only then.
"""

from __future__ import annotations

from typing import Any

import numba
import numpy as np

from heatsim.solve.control import ALL_AT_ONCE, MOST_ROUNDS

ABREAST = 4
"""Runs carried side by side; the loops below are written out for so many."""
STORED_PATTERNS = 256
"""Places for control inverses (assumed), a power of two; a pattern has one place, where a later one may follow it."""

_SUMS = {"reassoc", "contract", "nsz"}
"""Sums may be taken in any order, which lets them fill a vector register; infinite limits stay infinite."""
_part: Any = numba.njit(nogil=True, fastmath=_SUMS)
"""Kept with the loop alone: a part from a store of its own would not be laid open within the loop, whose last digits
would then hang on what was stored before (numba before 0.61 differs then all the same)."""
_whole: Any = numba.njit(cache=True, nogil=True, fastmath=_SUMS)


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
def _times_abreast(matrix, v, out):  # type: ignore[no-untyped-def]
    """out (run, row) += matrix · v (run, column), two rows of four runs at a time."""
    rows, columns = matrix.shape
    whole = rows - rows % 2
    for i in range(0, whole, 2):
        a, b, c, d = 0.0, 0.0, 0.0, 0.0
        e, f, g, h = 0.0, 0.0, 0.0, 0.0
        for j in range(columns):
            m, n = matrix[i, j], matrix[i + 1, j]
            w, x, y, z = v[0, j], v[1, j], v[2, j], v[3, j]
            a += m * w
            b += m * x
            c += m * y
            d += m * z
            e += n * w
            f += n * x
            g += n * y
            h += n * z
        out[0, i] += a
        out[1, i] += b
        out[2, i] += c
        out[3, i] += d
        out[0, i + 1] += e
        out[1, i + 1] += f
        out[2, i + 1] += g
        out[3, i + 1] += h
    for i in range(whole, rows):
        a, b, c, d = 0.0, 0.0, 0.0, 0.0
        for j in range(columns):
            m = matrix[i, j]
            a += m * v[0, j]
            b += m * v[1, j]
            c += m * v[2, j]
            d += m * v[3, j]
        out[0, i] += a
        out[1, i] += b
        out[2, i] += c
        out[3, i] += d


@_part
def _add_rows_abreast(w, matrix, out):  # type: ignore[no-untyped-def]
    """out (run, column) += w (run, row) · matrix, two rows (there are an even number) of four runs at a time."""
    rows, columns = matrix.shape
    for i in range(0, rows, 2):
        a, b, c, d = w[0, i], w[1, i], w[2, i], w[3, i]
        e, f, g, h = w[0, i + 1], w[1, i + 1], w[2, i + 1], w[3, i + 1]
        for j in range(columns):
            m, n = matrix[i, j], matrix[i + 1, j]
            out[0, j] += a * m + e * n
            out[1, j] += b * m + f * n
            out[2, j] += c * m + g * n
            out[3, j] += d * m + h * n


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


@numba.njit(inline="always")  # called for every zone and step
def _better(mode, heat, end, cool, warm, cool_limit, heat_limit, close, small):  # type: ignore[no-untyped-def]
    """`control._exchange` for one zone."""
    if mode == 0:
        if end < warm - close and heat_limit > 0.0:
            return 2
        if end > cool + close and cool_limit > 0.0:
            return 1
    elif mode == 1:
        if heat < -cool_limit - small:
            return 3
        if heat > small:
            return 0
    elif mode == 2:
        if heat > heat_limit + small:
            return 4
        if heat < -small:
            return 0
    elif mode == 3:
        if end < cool - close:
            return 1
    elif end > warm + close:
        return 2
    return mode


@_part
def _places(zones):  # type: ignore[no-untyped-def]
    """Room for inverses and the patterns they belong to, none yet, and for making one."""
    keys, key_regimes = np.zeros((STORED_PATTERNS, zones), np.int8), np.full(STORED_PATTERNS, -1, np.int64)
    stored = np.empty((STORED_PATTERNS, 2 * zones, 2 * zones))
    return keys, key_regimes, stored, np.empty(4 * zones, np.int64), np.empty((2 * zones, 2 * zones))


@_part
def _place(stacked, r, code, keys, key_regimes, stored, index, work):  # type: ignore[no-untyped-def]
    """Where the inverse of a pattern is stored, made if it is not there."""
    zones = len(code)
    mixed = r + 1
    for j in range(zones):
        mixed = mixed * 1000003 + code[j]
    place = (mixed ^ (mixed >> 20)) & (STORED_PATTERNS - 1)
    found = key_regimes[place] == r
    if found:
        for j in range(zones):
            if keys[place, j] != code[j]:
                found = False
                break
    if not found:
        _inverse(stacked, r, code, index, work, stored[place])
        key_regimes[place] = r
        keys[place] = code
    return place


@_part
def _turned(stacked, old, new, x, z):  # type: ignore[no-untyped-def]
    """Bring states z from one regime's coordinates into another's, the first time from temperatures x."""
    if old >= 0:
        x[:] = 0.0
        _times_abreast(stacked.from_modes[old], z, x)
    z[:] = 0.0
    _times_abreast(stacked.to_modes[new], x, z)


@_part
def _decayed(stacked, r, row, z, swap):  # type: ignore[no-untyped-def]
    """Carry one state over a step without heat."""
    n = len(z)
    if stacked.dense:
        swap[:] = row[:n]
        _times(stacked.decay[r], z, swap)
        z[:] = swap
    else:
        c, s, pair = stacked.c[r], stacked.s[r], stacked.pair[r]
        swings = stacked.swings[stacked.begins[r] : stacked.begins[r + 1]]
        for p in range(len(swings)):
            swap[p] = z[pair[swings[p]]]
        for i in range(n):
            z[i] = c[i] * z[i] + row[i]
        for p in range(len(swings)):
            z[swings[p]] += s[swings[p]] * swap[p]


@_whole
def loop(  # type: ignore[no-untyped-def]
    stacked, blocks, course, courses, state, rows, band, first_mode, start, heat, slope, reading, modes, entering, end,
    solves, failed,
):  # fmt: skip
    """Some blocks over all steps; see the module's head. Codes as in base.Mode and control."""
    steps, n, zones = start.shape[1], start.shape[2], heat.shape[2]
    x, z, swap = np.zeros((4, n)), np.zeros((4, n)), np.empty(n)
    y, solved = np.zeros((4, 3 * zones)), np.zeros((4, 2 * zones))
    mode, code, wanted = np.zeros((4, zones), np.int8), np.zeros(zones, np.int8), np.zeros(zones, np.int8)
    changes, right, reached = np.zeros(zones, np.int8), np.empty(2 * zones), np.empty(zones)
    keys, key_regimes, stored, index, work = _places(zones)
    places = np.zeros(4, np.int64)
    cools, warms, cool_limits, heat_limits = band.cool, band.heat, band.cool_limit, band.heat_limit
    close, small = band.close, band.small
    for block in range(len(blocks)):
        runs, current = blocks[block], -1
        x[:], z[:], y[:], solved[:] = 0.0, 0.0, 0.0, 0.0
        count = 0
        for lane in range(4):
            if runs[lane] >= 0:
                count += 1
                x[lane], mode[lane] = state[runs[lane]], first_mode[runs[lane]]
        for k in range(steps):
            r = courses[course[block], k]
            if r != current:
                _turned(stacked, current, r, x, z)
                current = r
            for lane in range(count):
                start[runs[lane], k] = z[lane]
                y[lane] = rows[runs[lane], k, n:]
            _times_abreast(stacked.reads[r], z, y)
            for lane in range(count):
                run = runs[lane]
                cool, warm = cools[min(run, len(cools) - 1), k], warms[min(run, len(warms) - 1), k]
                cool_limit = cool_limits[min(run, len(cool_limits) - 1), k]
                heat_limit = heat_limits[min(run, len(heat_limits) - 1), k]
                own, before, given = mode[lane], y[lane], solved[lane]
                for j in range(zones):
                    reading[run, k, j] = before[j]
                    if (own[j] == 1 or own[j] == 3) and cool_limit[j] <= 0.0:
                        own[j] = 0
                    if (own[j] == 2 or own[j] == 4) and heat_limit[j] <= 0.0:
                        own[j] = 0
                changes[:] = 0
                settled = False
                for round_ in range(MOST_ROUNDS):
                    solves[run] += 1
                    for j in range(zones):
                        code[j] = 0
                        right[j], right[j + zones] = 0.0, 0.0
                        if own[j] == 1 or own[j] == 2:
                            target = cool[j] if own[j] == 1 else warm[j]
                            away = abs(before[j] - target) > close or changes[j] >= 3
                            code[j] = 2 if away else 1
                            right[j] = target - before[zones + j]
                            if not away:
                                right[j + zones] = target - before[2 * zones + j]
                        elif own[j] == 3:
                            right[j] = -cool_limit[j]
                        elif own[j] == 4:
                            right[j] = heat_limit[j]
                    same = key_regimes[places[lane]] == r
                    for j in range(zones):
                        same = same and keys[places[lane], j] == code[j]
                    if not same:
                        places[lane] = _place(stacked, r, code, keys, key_regimes, stored, index, work)
                    place = places[lane]
                    given[:] = 0.0
                    _times(stored[place], right, given)
                    reached[:] = before[zones : 2 * zones]
                    _times(stacked.y_heated[r], given, reached)
                    wrong = False
                    for j in range(zones):
                        wanted[j] = own[j]
                        if not (wrong and round_ >= ALL_AT_ONCE):
                            wanted[j] = _better(
                                own[j], given[j], reached[j], cool[j], warm[j], cool_limit[j], heat_limit[j], close,
                                small,
                            )  # fmt: skip
                        if wanted[j] != own[j]:
                            wrong = True
                            changes[j] += 1
                    if not wrong:
                        settled = True
                        break
                    own[:] = wanted
                if not settled:
                    failed[run] = k
                    return
                for j in range(zones):
                    heat[run, k, j], slope[run, k, j] = given[j], given[j + zones]
                    modes[run, k, j], entering[run, k, j] = own[j], code[j] == 2
            for lane in range(count):
                _decayed(stacked, r, rows[runs[lane], k], z[lane], swap)
            _add_rows_abreast(solved, stacked.heated[r], z)
        x[:] = 0.0
        _times_abreast(stacked.from_modes[current], z, x)
        for lane in range(count):
            end[runs[lane]] = x[lane]


@_whole
def trail(  # type: ignore[no-untyped-def]
    stacked, blocks, course, courses, state, rows, mode, entering, target, given, heat, reading, end
):
    """`stepping.follow` for some blocks: all steps with modes that are known; `mode` and `entering` may be of one run
    for several, one after the other.
    """
    steps, n, zones = heat.shape[1], state.shape[1], heat.shape[2]
    x, z, swap = np.zeros((4, n)), np.zeros((4, n)), np.empty(n)
    y, solved = np.zeros((4, 2 * zones)), np.zeros((4, 2 * zones))
    code, right, mean = np.zeros(zones, np.int8), np.empty(2 * zones), np.empty(zones)
    keys, key_regimes, stored, index, work = _places(zones)
    for block in range(len(blocks)):
        runs, current = blocks[block], -1
        x[:], z[:], y[:], solved[:] = 0.0, 0.0, 0.0, 0.0
        count = 0
        for lane in range(4):
            if runs[lane] >= 0:
                count += 1
                x[lane] = state[runs[lane]]
        for k in range(steps):
            r = courses[course[block], k]
            if r != current:
                _turned(stacked, current, r, x, z)
                current = r
            for lane in range(count):
                y[lane] = rows[runs[lane], k, n + zones :]
            _times_abreast(stacked.reads[r, zones:], z, y)
            for lane in range(count):
                run = runs[lane]
                recorded = run % len(mode)
                for j in range(zones):
                    held = mode[recorded, k, j] == 1 or mode[recorded, k, j] == 2
                    code[j] = 0 if not held else 2 if entering[recorded, k, j] else 1
                    right[j] = target[run, k, j] - y[lane, j] if held else given[run, k, j]
                    right[j + zones] = target[run, k, j] - y[lane, j + zones] if code[j] == 1 else 0.0
                place = _place(stacked, r, code, keys, key_regimes, stored, index, work)
                solved[lane] = 0.0
                _times(stored[place], right, solved[lane])
                mean[:] = y[lane, zones:]
                _times(stacked.y_heated_mean[r], solved[lane], mean)
                for j in range(zones):
                    heat[run, k, j], reading[run, k, j] = solved[lane, j], mean[j]
                _decayed(stacked, r, rows[run, k], z[lane], swap)
            _add_rows_abreast(solved, stacked.heated[r], z)
        x[:] = 0.0
        _times_abreast(stacked.from_modes[current], z, x)
        for lane in range(count):
            end[runs[lane]] = x[lane]

"""The compiled loop (numba) of `solve.compiled`: runs four abreast through all steps, control included.

This module holds all that is compiled and nothing else: its store is made anew when this file changes, and only then.
"""

from __future__ import annotations

from collections import namedtuple
from typing import Any

import numba
from numba.core.options import DefaultOptions

from heatsim.solve.control import ALL_AT_ONCE, MOST_ROUNDS

ABREAST = 4
"""Runs carried side by side; the loops below are written out for so many."""
MOST_PATTERNS, PATTERN_NUMBERS = 4096, 2**22
"""Places for control inverses and the numbers they hold, 32 MB (a fifth of a winter month's time less than with 256
places, measured); a pattern has one place, where a later one may follow it."""
ROWS = 16
"""Rows of a matrix (assumed) that all blocks take in turn, so that they are near when the next one takes them: 40 KB at
320 nodes."""
TILE = 32
"""Steps whose drivers and bands are laid side by side before they are taken: read where they lie, they are more streams
than a core foresees (a seventh of the time, measured)."""
Kept = namedtuple("Kept", ("code", "regime", "inverse", "index", "work"))
"""Inverses by place, the pattern and regime of each, and room for making one."""
Room = namedtuple("Room", "x z mode code driven more done may y gained solved swap trial places kept")
"""Where the loop works; `compiled._room_for` says what is in it. Compiled code here makes no arrays of its own."""

_SUMS = {"reassoc", "contract", "nsz"}
"""Sums may be taken in any order, which lets them fill a vector register; infinite limits stay infinite."""
_UNCOUNTED: dict[str, Any] = {"_nrt": False} if hasattr(DefaultOptions, "_nrt") else {}
"""Nobody counts who holds a part of an array: counting took a fifth of the time, and the caller holds them all."""
_part: Any = numba.njit(nogil=True, fastmath=_SUMS, **_UNCOUNTED)
"""Kept with the loop alone: a part from a store of its own would not be laid open within the loop, whose last digits
would then hang on what was stored before (numba before 0.61 differs then all the same)."""
_whole: Any = numba.njit(cache=True, nogil=True, fastmath=_SUMS, **_UNCOUNTED)
_once: Any = numba.njit(inline="always", **_UNCOUNTED)
"""Laid open where it is called: the arrays of a call are dozens of numbers to hand over."""


@_part
def _put(values, out):  # type: ignore[no-untyped-def]
    """out = values. Numba would first look whether the two overlap."""
    for i in range(len(out)):
        out[i] = values[i]


@_part
def _add(values, out):  # type: ignore[no-untyped-def]
    """out += values."""
    for i in range(len(out)):
        out[i] += values[i]


@_part
def _times(matrix, vector, out):  # type: ignore[no-untyped-def]
    """out += matrix · vector."""
    for i in range(len(out)):
        total = 0.0
        for j in range(len(vector)):
            total += matrix[i, j] * vector[j]
        out[i] += total


@_part
def _times_abreast(matrix, first, last, v, out):  # type: ignore[no-untyped-def]
    """out (run, row) += matrix · v (run, column) of some rows, two rows of four runs at a time."""
    columns = matrix.shape[1]
    whole = last - (last - first) % 2
    for i in range(first, whole, 2):
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
    for i in range(whole, last):
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
    """out (run, column) += w (run, row) · matrix, four rows of four runs at a time."""
    rows, columns = matrix.shape
    whole = rows - rows % 4
    for i in range(0, whole, 4):
        a, b, c, d = w[0, i], w[1, i], w[2, i], w[3, i]
        e, f, g, h = w[0, i + 1], w[1, i + 1], w[2, i + 1], w[3, i + 1]
        p, q, r, s = w[0, i + 2], w[1, i + 2], w[2, i + 2], w[3, i + 2]
        t, u, v, x = w[0, i + 3], w[1, i + 3], w[2, i + 3], w[3, i + 3]
        for j in range(columns):
            first, second, third, last = matrix[i, j], matrix[i + 1, j], matrix[i + 2, j], matrix[i + 3, j]
            out[0, j] += a * first + e * second + p * third + t * last
            out[1, j] += b * first + f * second + q * third + u * last
            out[2, j] += c * first + g * second + r * third + v * last
            out[3, j] += d * first + h * second + s * third + x * last
    for i in range(whole, rows):
        a, b, c, d = w[0, i], w[1, i], w[2, i], w[3, i]
        for j in range(columns):
            m = matrix[i, j]
            out[0, j] += a * m
            out[1, j] += b * m
            out[2, j] += c * m
            out[3, j] += d * m


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
        for b in range(count):
            work[a, b] = stacked.y_heated[r, index[a], index[b]]
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
        row = out[index[a]]
        for b in range(count):
            factor, response = work[a, b], stacked.y_heated[r, index[b]]
            for f in range(2 * zones):
                row[f] -= factor * response[f]
        for b in range(count):
            row[index[b]] = work[a, b]


@_once
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
def _place(stacked, r, code, places, kept):  # type: ignore[no-untyped-def]
    """Where the inverse of a pattern is kept, made if it is not there; whose place it takes has none any more."""
    mixed, zones = r + 1, len(code)
    for j in range(zones):
        mixed = mixed * 1000003 + code[j]
    place = (mixed ^ (mixed >> 20)) & (len(kept.regime) - 1)
    found = kept.regime[place] == r
    for j in range(zones):
        found = found and kept.code[place, j] == code[j]
    if not found:
        _inverse(stacked, r, code, kept.index, kept.work, kept.inverse[place])
        kept.regime[place] = r
        _put(code, kept.code[place])
        for lane in range(len(places)):
            if places[lane] == place:
                places[lane] = -1
    return place


@_once
def _heats(stacked, r, code, same, lane, places, kept, right, solved):  # type: ignore[no-untyped-def]
    """`control.heats` for one run, whose place is known where its pattern is the same."""
    if not same:
        places[lane] = _place(stacked, r, code, places, kept)
    solved[:] = 0.0
    _times(kept.inverse[places[lane]], right, solved)


@_once
def _settled(  # type: ignore[no-untyped-def]
    stacked, r, own, code, lane, places, cool, warm, cool_limit, heat_limit, close, small, before, more, given, trial,
    kept,
):  # fmt: skip
    """`control.resolve_modes` for one run; how often it solved, 0 where nothing settles.

    `own` and `code` are the last step's at first and this one's then; `before` is what thermostats read at its start,
    at its end and on its mean; `given` is the equipment's heat with what else enters as it does, `more` (mean, slope).
    """
    zones = len(own)
    right, reached, changes = trial
    for j in range(zones):
        changes[j] = 0
        if (own[j] == 1 or own[j] == 3) and cool_limit[j] <= 0.0:
            own[j] = 0
        if (own[j] == 2 or own[j] == 4) and heat_limit[j] <= 0.0:
            own[j] = 0
    for round_ in range(MOST_ROUNDS):
        same, held = places[lane] >= 0, True
        for j in range(zones):
            c, end, mean = 0, 0.0, 0.0
            if own[j] == 1 or own[j] == 2:
                target = cool[j] if own[j] == 1 else warm[j]
                end = target - before[zones + j]
                if abs(before[j] - target) > close or changes[j] >= 3:
                    c = 2
                else:
                    c, mean = 1, target - before[2 * zones + j]
            else:
                held, end = False, more[j]
                if own[j] == 3:
                    end -= cool_limit[j]
                elif own[j] == 4:
                    end += heat_limit[j]
            if c != 1:
                mean = more[j + zones]
            right[j], right[j + zones] = end, mean
            if code[j] != c:
                code[j], same = c, False
        _heats(stacked, r, code, same, lane, places, kept, right, given)
        if not held:
            _put(before[zones : 2 * zones], reached)
            _times(stacked.y_heated[r, :zones], given, reached)
        wrong = False
        for j in range(zones):
            if wrong and round_ >= ALL_AT_ONCE:
                break
            better = _better(
                own[j], given[j] - more[j], reached[j], cool[j], warm[j], cool_limit[j], heat_limit[j], close, small
            )
            if better != own[j]:
                own[j], wrong = better, True
                changes[j] += 1
        if not wrong:
            return round_ + 1
    return 0


@_once
def _followed(  # type: ignore[no-untyped-def]
    stacked, r, mode, entering, code, lane, places, target, given, free, more, solved, trial, kept
):
    """The heat of one run whose modes are known, and what its thermostats then read on the step's mean, in `trial`."""
    zones = len(mode)
    right, mean, _ = trial
    same = places[lane] >= 0
    for j in range(zones):
        held = mode[j] == 1 or mode[j] == 2
        c = 0 if not held else 2 if entering[j] else 1
        right[j] = target[j] - free[zones + j] if held else given[j] + more[j]
        right[j + zones] = target[j] - free[2 * zones + j] if c == 1 else more[j + zones]
        if code[j] != c:
            code[j], same = c, False
    _heats(stacked, r, code, same, lane, places, kept, right, solved)
    _put(free[2 * zones :], mean)
    _times(stacked.y_heated[r, zones:], solved, mean)


@_once
def _count(runs):  # type: ignore[no-untyped-def]
    """How many runs a block has; they come first."""
    count = 0
    while count < 4 and runs[count] >= 0:
        count += 1
    return count


@_part
def _times_all(matrix, v, out):  # type: ignore[no-untyped-def]
    """out = matrix · v of all blocks (block, lane, column), so that a large boat's matrix is read once."""
    out[:] = 0.0
    for first in range(0, len(matrix), ROWS):
        for b in range(len(v)):
            _times_abreast(matrix, first, min(first + ROWS, len(matrix)), v[b], out[b])


@_once
def _turned(stacked, old, new, x, z):  # type: ignore[no-untyped-def]
    """Bring states z (block, lane, mode) from one regime's coordinates into another's by temperatures x, which a regime
    of −1 begins from or ends with.
    """
    if old >= 0:
        _times_all(stacked.from_modes[old], z, x)
    if new >= 0:
        _times_all(stacked.to_modes[new], x, z)


@_once
def _ahead(values, k):  # type: ignore[no-untyped-def]
    """Where the run of values equal to that at k ends."""
    end = k + 1
    while end < len(values) and values[end] == values[k]:
        end += 1
    return end


@_once
def _decayed(stacked, r, row, z, swap):  # type: ignore[no-untyped-def]
    """Carry one state over a step without heat."""
    n = len(z)
    if stacked.dense:
        _put(row, swap)
        _times(stacked.decay[r], z, swap)
        _put(swap, z)
    else:
        c, s, pair = stacked.c[r], stacked.s[r], stacked.pair[r]
        swings = stacked.swings[stacked.begins[r] : stacked.begins[r + 1]]
        for p in range(len(swings)):
            swap[p] = z[pair[swings[p]]]
        for i in range(n):
            z[i] = c[i] * z[i] + row[i]
        for p in range(len(swings)):
            z[swings[p]] += s[swings[p]] * swap[p]


@_part
def _copied(values, first, last, out):  # type: ignore[no-untyped-def]
    """Some steps (step, column)."""
    for i in range(last - first):
        for j in range(values.shape[1]):
            out[i, j] = values[first + i, j]


@_part
def _laid(runs, count, rows, band, first, last, driven, may):  # type: ignore[no-untyped-def]
    """Lay some steps' shared drivers and bands of a block side by side."""
    for lane in range(count):
        run = runs[lane]
        _copied(rows[run % len(rows)], first, last, driven[:, lane])
        _copied(band.cool[min(run, len(band.cool) - 1)], first, last, may[0, :, lane])
        _copied(band.heat[min(run, len(band.heat) - 1)], first, last, may[1, :, lane])
        _copied(band.cool_limit[min(run, len(band.cool_limit) - 1)], first, last, may[2, :, lane])
        _copied(band.heat_limit[min(run, len(band.heat_limit) - 1)], first, last, may[3, :, lane])


@_part
def _laid_own(runs, count, headings, own, heats, first, last, more, gained):  # type: ignore[no-untyped-def]
    """Lay some steps' own values of a block side by side, and sum up what enters zones as their equipment's heat."""
    zone, mean, slope = heats
    zones, others = gained.shape[2] // 2, more.shape[2]
    if len(zone) > 0:
        gained[:] = 0.0
    for lane in range(count):
        boat = runs[lane] // headings
        for i in range(others):
            values = own[i, boat, first:last]
            for t in range(len(values)):
                more[t, lane, i] = values[t]
        for i in range(len(zone)):
            values = own[others + i, boat, first:last]
            for t in range(len(values)):
                gained[t, lane, zone[i]] += mean[i] * values[t]
                gained[t, lane, zones + zone[i]] += slope[i] * values[t]


@_once
def _changed(now, last):  # type: ignore[no-untyped-def]
    """Whether some values (lane, value) differ."""
    different = False
    for lane in range(4):
        for i in range(now.shape[1]):
            different = different or now[lane, i] != last[lane, i]
    return different


@_whole
def loop(  # type: ignore[no-untyped-def]
    stacked, blocks, course, courses, piece, state, rows, own, through, heats, band, known, first_mode, start, heat,
    slope, reading, modes, entering, end, solves, failed, room,
):  # fmt: skip
    """Some blocks over all steps; see the module's head. Codes as in base.Mode and control.

    With `known` modes, which may be of one run for several behind each other, it is `stepping.follow`: the band holds
    targets and the heat that is given, `reading` is then the mean, and no states are kept.
    """
    steps, n, zones = heat.shape[1], state.shape[1], heat.shape[2]
    x, z, mode, code, driven, more, done, may, y, gained, solved, swap, trial, places, kept = room
    others = through.shape[1]
    for b in range(len(blocks)):
        for lane in range(_count(blocks[b])):
            _put(state[blocks[b, lane]], x[b, lane])
            _put(first_mode[blocks[b, lane]], mode[b, lane])
    begin = 0
    while begin < len(blocks):
        stop, current, k = _ahead(course, begin), -1, 0
        while k < steps:
            r, until = courses[course[begin], k], _ahead(courses[course[begin]], k)
            _turned(stacked, current, r, x[begin:stop], z[begin:stop])
            for b in range(begin, stop):
                runs, count = blocks[b], _count(blocks[b])
                places[:], solved[count:] = -1, 0.0
                own_values, added = more[b], gained[b]
                for step in range(k, until):
                    t, u = (step - k) % TILE, step % TILE
                    if t == 0:
                        _laid(runs, count, rows, band, step, min(step + TILE, until), driven, may)
                    if u == 0:
                        last = min(step + TILE, steps)
                        _laid_own(runs, count, len(rows), own, heats, step, last, own_values, added)
                    if others > 0 and (step == k or u == 0 or _changed(own_values[u], own_values[u - 1])):
                        done[:] = 0.0
                        _add_rows_abreast(own_values[u], through[r], done)
                    for lane in range(count):
                        if others > 0:
                            _add(done[lane], driven[t, lane])
                        _put(driven[t, lane, n:], y[lane])
                        if not known and step > 0 and piece[step] == piece[step - 1]:
                            _add(z[b, lane], start[runs[lane], piece[step]])
                        elif not known:
                            _put(z[b, lane], start[runs[lane], piece[step]])
                    _times_abreast(stacked.reads[r], zones if known else 0, 3 * zones, z[b], y)
                    for lane in range(count):
                        run = runs[lane]
                        if known:
                            of = run % len(modes)
                            _followed(
                                stacked, r, modes[of, step], entering[of, step], code[b, lane], lane, places,
                                may[0, t, lane], may[1, t, lane], y[lane], added[u, lane], solved[lane], trial, kept,
                            )  # fmt: skip
                            _put(trial[1], reading[run, step])
                        else:
                            rounds = _settled(
                                stacked, r, mode[b, lane], code[b, lane], lane, places, may[0, t, lane],
                                may[1, t, lane], may[2, t, lane], may[3, t, lane], band.close, band.small, y[lane],
                                added[u, lane], solved[lane], trial, kept,
                            )  # fmt: skip
                            if rounds == 0:
                                failed[run] = step
                                return
                            solves[run] += rounds
                            for j in range(zones):
                                slope[run, step, j] = solved[lane, zones + j] - added[u, lane, zones + j]
                            _put(y[lane], reading[run, step])
                            for j in range(zones):
                                modes[run, step, j], entering[run, step, j] = mode[b, lane, j], code[b, lane, j] == 2
                        for j in range(zones):
                            heat[run, step, j] = solved[lane, j] - added[u, lane, j]
                        _decayed(stacked, r, driven[t, lane], z[b, lane], swap)
                    _add_rows_abreast(solved, stacked.heated[r], z[b])
            current, k = r, until
        _turned(stacked, current, -1, x[begin:stop], z[begin:stop])
        begin = stop
    for b in range(len(blocks)):
        for lane in range(_count(blocks[b])):
            _put(x[b, lane], end[blocks[b, lane]])

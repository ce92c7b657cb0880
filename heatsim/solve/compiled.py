"""The same stepping as one compiled loop (numba), for years and studies.

Mathematics, tolerances and the order of decisions are those of `stepping.advance` and `control.resolve_modes`. Runs of
the same course of regimes go four abreast, so that matrices, which do not fit a core's nearest cache, are read once for
four; a run's arithmetic does not depend on what goes beside it. Fours are spread over threads (the loop holds no
interpreter lock), so one BLAS thread a worker is enough. A boat's few design days never come here: nobody waits for a
compiler to see a zone table.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError
from heatsim.solve.base import Advanced, Band, Form
from heatsim.solve.forcing import Forcing, nothing_own
from heatsim.solve.kernel import ABREAST, MOST_PATTERNS, PATTERN_NUMBERS, TILE, Kept, Room, loop
from heatsim.solve.operators import Operators
from heatsim.solve.stepping import numbered
from heatsim.solve.threads import each, shares

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]
_T = TypeVar("_T", bound=np.generic)


class _Stacked(NamedTuple):
    """All regimes' operators as contiguous arrays, regime first; `heated` and `y_heated` take [q̄; σ], the latter to
    what thermostats read at the step's end and then on its mean.

    `swings` numbers the modes that swing, regime behind regime, each one's beginning at `begins`.
    """

    dense: bool
    decay: Array
    c: Array
    s: Array
    pair: Indices
    swings: Indices
    begins: Indices
    to_modes: Array
    from_modes: Array
    reads: Array
    heated: Array
    y_heated: Array


def advance_compiled(
    operators: Operators,
    state: Array,
    forcing: Forcing,
    regime: Indices,
    band: Band,
    mode: npt.NDArray[np.int8] | None = None,
    cuts: Indices | None = None,
) -> Advanced:
    """`stepping.advance` in compiled code."""
    (_, steps, _), (runs, n), zones = forcing.rows.shape, state.shape, len(operators.system.zones)
    courses, blocks, course = _abreast(np.atleast_2d(regime), runs)
    first = np.zeros((runs, zones), dtype=np.int8) if mode is None else _plain(mode)
    begin, driven = _plain(state), _driven(operators, forcing)
    cuts, piece = numbered(cuts, steps)
    start, end = np.empty((runs, len(cuts), n)), np.empty((runs, n))
    heat, slope, reading = (np.empty((runs, steps, zones)) for _ in range(3))
    modes, entering = np.empty((runs, steps, zones), dtype=np.int8), np.empty((runs, steps, zones), dtype=bool)
    solves, failed = np.zeros(runs, dtype=np.int64), np.full(runs, -1, dtype=np.int64)
    held, stacked = band.each(lambda part: _once(part, (runs, steps, zones))), _stack(operators)

    def some(part: slice) -> None:
        with _inverses(operators) as kept:
            loop(
                stacked, blocks[part], course[part], courses, piece, begin, *driven, held, False, first, start, heat,
                slope, reading, modes, entering, end, solves, failed,
                _room_for(len(blocks[part]), n, zones, driven[2].shape[1], kept),
            )  # fmt: skip

    each(some, shares(len(blocks)))
    if np.any(failed >= 0):
        raise HeatsimError(
            Fault(
                rule="heating and cooling of neighbouring zones must settle within a step",
                value=f"no consistent state in step {int(failed.max())}",
                remedy="Look for neighbours whose setpoints fight across an open door",
            )
        )
    return Advanced(cuts, start, end, heat, slope, reading, modes, entering, int(solves.sum()))


def follow_compiled(
    operators: Operators, state: Array, forcing: Forcing, regime: Indices, mode: npt.NDArray[np.int8],
    entering: npt.NDArray[np.bool_], target: Array, given: Array,
) -> tuple[Array, Array, Array]:  # fmt: skip
    """`stepping.follow` in compiled code; `mode` and `entering` are those of run modulo their number of runs."""
    (runs, steps, zones), n = target.shape, state.shape[1]
    courses, blocks, course = _abreast(np.atleast_2d(regime), runs)
    heat, reading, end = np.empty((runs, steps, zones)), np.empty((runs, steps, zones)), np.empty(state.shape)
    begin, goal, amount, driven = _plain(state), _plain(target), _plain(given), _driven(operators, forcing)
    modes, away = _plain(mode), _plain(entering)
    nothing, none = np.zeros((1, steps, zones)), np.zeros((0, steps, zones))
    first, count, stacked = np.zeros((runs, zones), dtype=np.int8), np.zeros(runs, dtype=np.int64), _stack(operators)

    def some(part: slice) -> None:
        with _inverses(operators) as kept:
            loop(
                stacked, blocks[part], course[part], courses, np.zeros(steps, dtype=np.int64), begin, *driven,
                Band(goal, amount, nothing, nothing), True, first, np.zeros((0, 0, n)), heat, none, reading, modes,
                away, end, count, count, _room_for(len(blocks[part]), n, zones, driven[2].shape[1], kept),
            )  # fmt: skip

    each(some, shares(len(blocks)))
    return heat, reading, end


def _room_for(blocks: int, n: int, zones: int, others: int, kept: Kept) -> Room:
    """Where the loop works: temperatures and states (block, lane, massive node), modes and patterns (block, lane,
    zone), a tile's drivers and bands, its own values and heats (block, step, lane, ...), a step's readings and heats.
    """
    states, patterns, width = (blocks, ABREAST, n), (blocks, ABREAST, zones), n + 3 * zones
    tiles = (blocks, TILE, ABREAST)
    return Room(
        x=np.zeros(states), z=np.zeros(states), mode=np.zeros(patterns, np.int8), code=np.zeros(patterns, np.int8),
        driven=np.zeros((TILE, ABREAST, width)), more=np.zeros((*tiles, others)), done=np.zeros((ABREAST, width)),
        may=np.zeros((4, TILE, ABREAST, zones)), y=np.zeros((ABREAST, 3 * zones)),
        gained=np.zeros((*tiles, 2 * zones)), solved=np.zeros((ABREAST, 2 * zones)), swap=np.zeros(n),
        trial=(np.zeros(2 * zones), np.zeros(zones), np.zeros(zones, np.int64)), places=np.zeros(ABREAST, np.int64),
        kept=kept,
    )  # fmt: skip


@contextmanager
def _inverses(operators: Operators) -> Iterator[Kept]:
    """Places for control inverses that nobody else uses meanwhile, with what was left there the last time."""
    zones, count = len(operators.system.zones), 16
    while count < MOST_PATTERNS and count * (2 * zones) ** 2 < PATTERN_NUMBERS:
        count *= 2
    try:
        kept = operators.inverses.pop()
    except IndexError:
        kept = Kept(
            np.zeros((count, zones), np.int8), np.full(count, -1), np.empty((count, 2 * zones, 2 * zones)),
            np.empty(4 * zones, np.int64), np.empty((2 * zones, 2 * zones)),
        )  # fmt: skip
    yield kept
    operators.inverses.append(kept)


def _abreast(regime: Indices, runs: int) -> tuple[Indices, Indices, Indices]:
    """Courses of regimes that differ (course, step), runs of one course side by side (block, ABREAST), −1 where there
    is none, and the course of each block.
    """
    members: dict[bytes, list[int]] = {}
    for run in range(runs):
        members.setdefault(regime[min(run, len(regime) - 1)].tobytes(), []).append(run)
    blocks, course = [], []
    for number, own in enumerate(members.values()):
        for i in range(0, len(own), ABREAST):
            blocks.append((own[i : i + ABREAST] + [-1] * ABREAST)[:ABREAST])
            course.append(number)
    courses = [regime[min(own[0], len(regime) - 1)] for own in members.values()]
    return np.array(courses, dtype=np.int64), np.array(blocks, dtype=np.int64), np.array(course, dtype=np.int64)


def _once(values: Array, shape: tuple[int, int, int]) -> Array:
    """(run or 1, step, zone) in one piece; what all runs share is held once."""
    shared = len(values) == 1 or values.strides[0] == 0
    values, shape = (values[:1], (1, *shape[1:])) if shared else (values, shape)
    return _plain(values if values.shape == shape else np.broadcast_to(values, shape))


def _driven(operators: Operators, forcing: Forcing) -> tuple[Array, Array, Array, tuple[Indices, Array, Array]]:
    """What drivers do, as the loop takes it: rows of runs, each boat's own, what the first of these go through, and the
    zones that the others enter as equipment's heat, with what each brings to its mean and its slope.
    """
    _, steps, width = forcing.rows.shape
    own, through = forcing.own or (nothing_own(steps), np.zeros((len(operators.regimes), 0, width)))
    others = len(own.values) - len(own.zones)
    start, end = own.at_start[others:], own.at_end[others:]
    brought = _plain(own.zones), 0.5 * (start + end), end - start
    return _plain(forcing.rows), _plain(own.values), _plain(through[:, :others]), brought


def _plain(values: npt.NDArray[_T]) -> npt.NDArray[_T]:
    """In one piece and not closed to writing: a kind of array of its own would be compiled for again."""
    return np.require(values, requirements=("C", "W"))


def _stack(operators: Operators) -> _Stacked:
    """Of operators, made once."""
    if not operators.stacked:
        operators.stacked.append(_stacked(operators))
    return operators.stacked[0]  # type: ignore[no-any-return]


def _stacked(operators: Operators) -> _Stacked:
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
        np.concatenate([op.paired for op in ops]).astype(np.int64),
        np.cumsum([0, *(len(op.paired) for op in ops)]),
        _together([op.to_modes for op in ops]),
        _together([op.from_modes for op in ops]),
        stack([op.reads for op in ops]),
        stack([np.hstack([op.heat_end, op.slope_end]).T for op in ops]),
        stack([np.block([[op.y_heat_end, op.y_slope_end], [op.y_heat_mean, op.y_slope_mean]]) for op in ops]),
    )


def _together(views: Sequence[Array]) -> Array:
    """The array that views are the parts of (`operators.prepare`), or their copy where they are not."""
    whole = views[0].base
    if (
        isinstance(whole, np.ndarray)
        and whole.shape == (len(views), *views[0].shape)
        and all(view.base is whole for view in views)
    ):
        return whole
    return np.ascontiguousarray(np.stack(views))

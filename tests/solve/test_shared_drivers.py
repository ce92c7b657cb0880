"""Boats behind each other that share most drivers, and states summed over pieces of steps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from toys import band, random_day, random_system

from heatsim.solve.compiled import advance_compiled, follow_compiled
from heatsim.solve.forcing import Own, force, force_own
from heatsim.solve.kernel import loop
from heatsim.solve.operators import Operators, prepare
from heatsim.solve.readout import mean_rows, read_off
from heatsim.solve.stepping import advance, pieces

BOATS, HEADINGS, ZONES, STEPS = 3, 2, 5, 96
REGIME = np.repeat([0, 1, 0], [30, 41, 25])
"""One change lies within an hour of four steps."""


def _boats() -> tuple[Operators, np.ndarray, Own, np.ndarray]:  # type: ignore[type-arg]
    """Operators, drivers that boats share, what each has of its own, and the drivers of all written out.

    Driver 2 changes within a step and driver 4 is steady; drivers 5 and 3 are the same, but enter zones 1 and 3 as
    their equipment's heat does.
    """
    rng = np.random.default_rng(41)
    first, second = random_system(rng, ZONES), random_system(np.random.default_rng(42), ZONES)
    B = np.concatenate([first.B, second.B])
    B[:, :, 5], B[:, :, 3] = first.S[:, 1], first.S[:, 3]
    system = replace(first, K=np.concatenate([first.K, second.K]), B=B)
    shared = random_day(rng, system, STEPS, HEADINGS, hot=False)
    values = rng.normal(0.0, 40.0, (6, BOATS, STEPS))
    values[2, :, 20:50] = values[2, :, 20:21]  # what does not change need not be multiplied out again
    values[:2, :, 20:50] = 0.0
    own = Own(
        np.array([2, 2, 4, 5, 5, 3]), np.array([1.0, 0.0, 1.0, 1.0, 0.0, 1.0]),
        np.array([0.0, 1.0, 1.0, 0.0, 1.0, 1.0]), values, np.array([1, 1, 3]),
    )  # fmt: skip
    whole = np.tile(shared, (1, BOATS, 1, 1)).reshape(2, BOATS, HEADINGS, STEPS, -1)
    for column, at_start, at_end, more in zip(own.columns, own.at_start, own.at_end, values, strict=True):
        whole[0][..., column] += at_start * more[:, None]
        whole[1][..., column] += at_end * more[:, None]
    return prepare(system, 900.0), shared, own, whole.reshape(2, BOATS * HEADINGS, STEPS, -1)


@pytest.mark.parametrize("stepper", [advance, advance_compiled])
def test_shared_drivers_and_own_ones_give_what_all_drivers_give(stepper) -> None:  # type: ignore[no-untyped-def]
    operators, shared, own, whole = _boats()
    start = np.full((BOATS * HEADINGS, int(np.sum(operators.system.capacity > 0))), 21.0)
    limits = band(ZONES, STEPS, BOATS * HEADINGS, 24.0, 23.0, 500.0, 100.0)
    plain = advance(operators, start, force(operators, whole[0], whole[1], REGIME), REGIME, limits)
    done = stepper(operators, start, force_own(operators, force(operators, *shared, REGIME), own), REGIME, limits)
    # design.md section 5: 1e-12 of the peak; ten times it, as states go through two systems of coordinates.
    for name in ("heat", "slope", "end"):
        peak = np.abs(getattr(plain, name)).max()
        np.testing.assert_allclose(getattr(done, name), getattr(plain, name), atol=1e-11 * peak, err_msg=name)
    np.testing.assert_array_equal(done.mode, plain.mode)
    assert len(np.unique(plain.mode)) == 5, "zones float, are held and stand at their limits, both ways"
    assert plain.entering.any()

    nothing = np.zeros((ZONES, operators.system.B.shape[2]))
    rows = [mean_rows(op, operators.system.Y, nothing) for op in operators.regimes]
    asked = read_off(operators, rows, plain, whole[0], whole[1], REGIME, together=4)
    found = read_off(operators, rows, done, shared[0], shared[1], REGIME, together=4, own=own)
    np.testing.assert_allclose(found, asked, atol=1e-10)  # K, of some 24 that are summed over a hundred nodes


@pytest.mark.parametrize("stepper", [advance, advance_compiled])
def test_states_summed_over_pieces_give_the_same_hours(stepper) -> None:  # type: ignore[no-untyped-def]
    operators, _, _, whole = _boats()
    start = np.full((BOATS * HEADINGS, int(np.sum(operators.system.capacity > 0))), 24.0)
    limits = band(ZONES, STEPS, BOATS * HEADINGS, 24.0, 23.0, 500.0, 400.0)
    forcing = force(operators, whole[0], whole[1], REGIME)
    steps = stepper(operators, start, forcing, REGIME, limits)
    cuts = np.union1d(pieces(REGIME, 4), [1])
    assert cuts[:3].tolist() == [0, 1, 4], "the first step is a piece of its own"
    assert {30, 71} <= set(cuts.tolist()), "no piece holds two regimes"
    summed = stepper(operators, start, forcing, REGIME, limits, None, cuts)
    assert summed.start.shape[1] == len(cuts)
    np.testing.assert_array_equal(summed.begun(0), steps.begun(0))
    with pytest.raises(AssertionError, match="not kept by itself"):
        summed.begun(4)
    nothing = np.zeros((ZONES, operators.system.B.shape[2]))
    rows = [mean_rows(op, operators.system.Y, nothing) for op in operators.regimes]
    asked = read_off(operators, rows, steps, whole[0], whole[1], REGIME)
    found = read_off(operators, rows, summed, whole[0], whole[1], REGIME, together=4)
    # Hourly means of every step's means; 1e-10 K of some 24 that are summed over a hundred nodes.
    np.testing.assert_allclose(found, asked.reshape(len(asked), -1, 4, ZONES).mean(axis=2), atol=1e-10)


def test_the_loop_is_compiled_for_one_kind_of_arrays() -> None:
    """Whatever is given, shared, closed to writing or in another order: to compile again takes ten seconds."""
    operators, shared, own, whole = _boats()
    runs = BOATS * HEADINGS
    start = np.full((runs, int(np.sum(operators.system.capacity > 0))), 24.0)
    limits = band(ZONES, STEPS, runs, 24.0, 23.0, 500.0, 400.0)
    once = limits.each(lambda part: np.broadcast_to(part[:1], part.shape))
    first = limits.each(lambda part: part[:1])
    across = np.asfortranarray(start)
    across.flags.writeable = False
    plain = force(operators, whole[0], whole[1], REGIME, by_step=True)
    alike = force_own(operators, force(operators, *shared, REGIME), own)
    for begin, forcing, may in ((start, plain, limits), (across, plain, once), (start, alike, first)):
        done = advance_compiled(operators, begin, forcing, REGIME, may)
        follow_compiled(operators, begin, plain, REGIME, done.mode, done.entering, may.cool + done.heat, done.heat)
    assert len(loop.signatures) == 1

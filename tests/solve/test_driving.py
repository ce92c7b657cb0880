"""Runs driven from outside: the same steps as under control, with the same heat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
from toys import band, random_day, random_system

from heatsim.network.base import System
from heatsim.solve.base import Mode
from heatsim.solve.driving import Driven, course
from heatsim.solve.forcing import force
from heatsim.solve.operators import prepare
from heatsim.solve.stepping import advance

Array = npt.NDArray[np.float64]


def _two_regimes(one_way: bool) -> tuple[System, Array, npt.NDArray[np.int64]]:
    """A boat-like network with a second regime of other conductances, two runs of 96 steps, regimes by step."""
    rng = np.random.default_rng(11)
    system = random_system(rng, 5, one_way=one_way)
    both = replace(system, K=np.concatenate([system.K, 1.3 * system.K]), B=np.concatenate([system.B, 1.3 * system.B]))
    regime = np.where((np.arange(96) // 20) % 2 == 0, 0, 1)
    return both, random_day(rng, system, 96, 2), np.stack([regime, np.roll(regime, 7)])


@pytest.mark.parametrize("one_way", [False, True])
def test_same_as_advance_with_its_heat(one_way: bool) -> None:
    system, u, regime = _two_regimes(one_way)
    operators = prepare(system, 900.0)
    start = np.full((2, int(np.sum(system.capacity > 0))), 24.0)
    # A setpoint out of reach and 200 W for half the steps: zones float or stand at their limit, never held.
    limits = band(5, 96, 2, -50.0, -60.0, 200.0, 0.0)
    limits.cool_limit[:, np.arange(96) % 5 < 2] = 0.0
    done = advance(operators, start, force(operators, u[0], u[1], regime), regime, limits)
    assert set(np.unique(done.mode)) == {Mode.FLOAT, Mode.LIMIT_COOL}
    driven = Driven(
        operators, course(operators, u[0], u[1], regime, system.Y), start, np.arange(2), np.zeros(2, dtype=int), 96
    )
    for k in range(96):
        # Round-off of sums taken in another order: 1e-12 of 30 °C over 96 steps.
        np.testing.assert_allclose(driven.reading(), done.reading[:, k], atol=1e-10)
        driven.step(done.heat[:, k])
    np.testing.assert_allclose(driven.state(), done.end, atol=1e-10)


def test_a_run_from_the_middle_is_the_rest_of_the_day() -> None:
    """A run that begins at step 30 from the state that the first has there goes on as the first does, and around."""
    system, u, regime = _two_regimes(one_way=True)
    operators = prepare(system, 900.0)
    by = course(operators, u[0], u[1], regime, system.Y)
    start = np.full((1, int(np.sum(system.capacity > 0))), 24.0)
    first = Driven(operators, by, start, np.array([1]), np.array([0]), 200)
    heat = -np.abs(np.random.default_rng(3).normal(150.0, 60.0, (200, 1, 5)))
    for k in range(30):
        first.step(heat[k])
    later = Driven(operators, by, first.state(), np.array([1]), np.array([30]), 150)
    for k in range(30, 180):
        before, after = first.reading(), later.reading()
        if k > 30:  # at its own first step no heat has been on before
            np.testing.assert_allclose(after, before, atol=1e-10)
        first.step(heat[k])
        later.step(heat[k])
    np.testing.assert_allclose(later.state(), first.state(), atol=1e-10)

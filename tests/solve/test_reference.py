"""The reference path against closed forms: when a zone meets its setpoint, its limit, and lets go again."""

from __future__ import annotations

import numpy as np
import pytest
from toys import toy_system

from heatsim.errors import HeatsimError
from heatsim.solve import reference
from heatsim.solve.base import Mode
from heatsim.solve.forms import condense
from heatsim.solve.reference import Segment, Straight, carry, open_modes

CAPACITY, LOSS = 1e5, 50.0  # J/K and W/K: a time constant of 2000 s


def _cabin(outdoor: float, gain: float, gain_rate: float = 0.0, limit: float = np.inf, twin: bool = False) -> Segment:
    """A cabin without walls, or two alike: C dT/dt = −L (T − outdoor) + gain + gain_rate t."""
    count = 2 if twin else 1
    system = toy_system([CAPACITY] * count, [], [(i, 0, LOSS) for i in range(count)], list(range(count)))
    u0 = np.array([outdoor, *[gain] * count])
    course = Straight(condense(system, 0), u0, np.array([0.0, *[gain_rate] * count]))
    ones = np.ones(count)
    return Segment(course, np.zeros(count, np.int8), (24.0 * ones, 20.0 * ones, limit * ones, 0.0 * ones))


@pytest.mark.parametrize("method", ["Radau", "BDF"])
def test_meets_its_setpoint_when_the_exponential_does(method: str) -> None:
    """T = T∞ − (T∞ − T₀) e^(−t/τ) (textbook) is at 24 °C at τ ln((T∞ − T₀)/(T∞ − 24)); then the load is steady."""
    segment = _cabin(30.0, 200.0)
    target, tau = 30.0 + 200.0 / LOSS, CAPACITY / LOSS
    met = tau * np.log((target - 22.0) / (target - 24.0))
    samples = np.array([met / 2.0, met + 600.0, met + 1200.0])
    solver = reference.Solver(method, rtol=1e-9, atol=1e-9, atol_heat=1e-6)
    states, used, changed, _ = carry(segment, np.array([22.0]), samples, solver)
    load = LOSS * 6.0 + 200.0
    # A thermostat counts as met 1e-7 K late, which is 1e-7 · C = 0.01 J; tolerances leave less.
    np.testing.assert_allclose(states[:, 0], [target - 12.0 * np.exp(-met / 2.0 / tau), 24.0, 24.0], atol=1e-6)
    np.testing.assert_allclose(used[:, 0], [0.0, -load * 600.0, -load * 1200.0], atol=0.5)
    assert changed[:, 0].tolist() == [False, True, False]


def test_reaches_its_limit_and_comes_back() -> None:
    """A gain rising and falling by 0.1 W/s passes a limit of 600 W above the 300 W of loss at t = 2000 s; above it the
    zone drifts as the ramp's exact solution, x = a/L (t' − τ (1 − e^(−t'/τ))).
    """
    segment = _cabin(30.0, 100.0, 0.1, limit=600.0)
    x, used = open_modes(segment, np.array([24.0]))
    assert segment.mode[0] == Mode.FLOAT
    samples = np.array([2000.0, 3000.0])
    states, used, _, _ = carry(segment, x, samples, reference.Solver())
    drift = 0.1 / LOSS * (1000.0 - 2000.0 * (1.0 - np.exp(-0.5)))
    np.testing.assert_allclose(states[1, 0], 24.0 + drift, atol=1e-6)
    np.testing.assert_allclose(used[:, 0], [-(400.0 + 600.0) / 2.0 * 2000.0, -1e6 - 600e3], rtol=1e-6)
    assert segment.mode[0] == Mode.LIMIT_COOL


def test_lets_go_when_the_load_ends() -> None:
    segment = _cabin(22.0, 300.0, -0.1)
    x, _ = open_modes(segment, np.array([24.0]))
    states, used, _, _ = carry(segment, x, np.array([2000.0, 4000.0]), reference.Solver())
    # The load 300 − 0.1 t − 100 W ends at 2000 s, having taken 200 · 2000 ÷ 2 J.
    np.testing.assert_allclose(used[:, 0], -200e3, rtol=1e-6)
    assert segment.mode[0] == Mode.FLOAT
    assert states[1, 0] < 24.0


def test_twins_change_together() -> None:
    """Two cabins alike meet their setpoints at the same moment; neither is missed."""
    segment = _cabin(30.0, 200.0, twin=True)
    _, used, changed, _ = carry(segment, np.array([22.0, 22.0]), np.array([7200.0]), reference.Solver())
    assert changed.all()
    np.testing.assert_allclose(used[0, 0], used[0, 1], rtol=1e-9)
    np.testing.assert_array_equal(segment.mode, Mode.HOLD_COOL)


def test_a_plant_switched_on_takes_the_jump_of_the_air() -> None:
    segment = _cabin(30.0, 0.0)
    x, jump = open_modes(segment, np.array([27.0]))
    np.testing.assert_allclose(x, 24.0)
    np.testing.assert_allclose(jump, -3.0 * CAPACITY)
    limited = _cabin(30.0, 0.0, limit=500.0)
    x, jump = open_modes(limited, np.array([27.0]))
    assert limited.mode[0] == Mode.LIMIT_COOL
    assert [x[0], jump[0]] == [27.0, 0.0]


def test_endless_switching_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reference, "MOST_CHANGES", 1)
    with pytest.raises(HeatsimError, match="reference must get through"):
        carry(_cabin(30.0, 200.0), np.array([22.0]), np.array([7200.0]), reference.Solver())

"""Condensing, φ functions and the three forms against closed forms, scipy's matrix exponential and mpmath."""

from __future__ import annotations

from dataclasses import fields, replace

import mpmath
import numpy as np
import pytest
from scipy.linalg import expm
from toys import band, random_day, random_system, toy_system

from heatsim.errors import HeatsimError
from heatsim.solve.base import Form
from heatsim.solve.forcing import force
from heatsim.solve.forms import condense, phi, phi_matrix, step_operators
from heatsim.solve.operators import prepare, prepare_again
from heatsim.solve.readout import change_rows, mean_rows, read_off
from heatsim.solve.stepping import advance


@pytest.mark.parametrize(
    "z", [-1e-12, -1e-5, -0.3, -0.999, -1.001, -7.0, -300.0, complex(-0.4, 2.0), complex(-5.0, 0.1)]
)
def test_phi_functions_against_mpmath(z: complex) -> None:
    mpmath.mp.dps = 80  # the quotient itself loses 36 digits at 1e-12
    exact = [mpmath.exp(z)]
    for k in range(1, 4):
        exact.append((exact[-1] - mpmath.mpf(1) / mpmath.factorial(k - 1)) / mpmath.mpmathify(z))
    ours = phi(np.array([z], dtype=complex))
    # The quotient just above |z| = 1 loses three digits of sixteen to cancellation.
    for value, expected in zip(ours, exact, strict=True):
        assert abs(value[0] - complex(expected)) <= 1e-13 * abs(complex(expected))


def test_the_textbook_quotient_would_fail_where_tanks_live() -> None:
    z = -1e-5
    first = (np.exp(z) - 1.0) / z
    second = (first - 1.0) / z
    third = (second - 0.5) / z
    assert abs(third - phi(np.array([z], dtype=complex))[3][0].real) > 1e-3


def test_phi_matrices_against_the_augmented_exponential() -> None:
    rng = np.random.default_rng(3)
    A = rng.normal(size=(9, 9)) * 2.0 - 6.0 * np.eye(9)
    n = len(A)
    augmented = np.zeros((4 * n, 4 * n))
    augmented[:n, :n] = A
    for k in range(3):
        augmented[k * n : (k + 1) * n, (k + 1) * n : (k + 2) * n] += np.eye(n)
    exact = expm(augmented)
    for k, ours in enumerate(phi_matrix(A)):
        # Doubling five times at double precision: a few 1e-14 of the largest entry.
        np.testing.assert_allclose(ours, exact[:n, k * n : (k + 1) * n], atol=1e-12)


def test_forms_agree_where_they_apply() -> None:
    rng = np.random.default_rng(5)
    symmetric, one_way = random_system(rng, 5), random_system(rng, 5, one_way=True)
    for system, forms in (
        (symmetric, (Form.SYMMETRIC, Form.ONE_WAY, Form.DENSE)),
        (one_way, (Form.ONE_WAY, Form.DENSE)),
    ):
        u = random_day(rng, system, 96)
        regime = np.zeros(96, dtype=int)
        ends = []
        for form in forms:
            operators = prepare(system, 900.0, form)
            assert operators.regimes[0].form is form
            start = np.full((1, int(np.sum(system.capacity > 0))), 24.0)
            done = advance(operators, start, force(operators, u[0], u[1], regime), regime, band(5, 96))
            ends.append((done.heat, done.end))
        peak = np.abs(ends[0][0]).max()
        for heat, end in ends[1:]:
            # Condition below 1e4 leaves at least 1e-12 of sixteen digits.
            np.testing.assert_allclose(heat, ends[0][0], atol=1e-9 * peak)
            np.testing.assert_allclose(end, ends[0][1], atol=1e-9)


def _chain(twins: int, ring: bool = False):  # type: ignore[no-untyped-def]
    """Identical cabins through which air passes one after the other; `ring` sends the last one's air to the first."""
    joined = [(2 * i, 2 * i + 1, 60.0) for i in range(twins)]
    fed = [(2 * i, 0, 25.0) for i in range(twins)] + [(2 * i + 1, 0, 30.0) for i in range(twins)]
    moved = [(2 * i, 2 * i - 2, 20.0) for i in range(1, twins)]
    if ring:
        moved.append((0, 2 * twins - 2, 20.0))
    else:
        fed.append((0, 0, 20.0))  # the first takes as much air from outdoors: all cabins have the same rates
    return toy_system([40e3, 400e3] * twins, joined, fed, [2 * i for i in range(twins)], moved)


@pytest.mark.parametrize("system", [_chain(2), _chain(12), _chain(3, ring=True), _chain(12, ring=True)], ids=str)
def test_twins_in_a_chain_and_rings_keep_their_digits(system) -> None:  # type: ignore[no-untyped-def]
    """Twin cabins in a one-way chain have parallel eigenvectors: the chosen form must match the dense exponential."""
    chosen = step_operators(system, 0, 900.0)
    c = condense(system, 0)
    E = chosen.from_modes @ chosen.apply(chosen.decay, chosen.to_modes.T).T
    # A condition up to 1e4 costs four digits of sixteen.
    np.testing.assert_allclose(E, expm(c.A * 900.0), atol=1e-11)


def test_twins_take_the_dense_form_and_rings_need_not() -> None:
    assert step_operators(_chain(2), 0, 900.0).form is Form.DENSE
    assert step_operators(_chain(3, ring=True), 0, 900.0).form is Form.ONE_WAY


@pytest.mark.parametrize("form", [Form.SYMMETRIC, Form.ONE_WAY, Form.DENSE])
def test_another_step_length_needs_no_new_modes(form: Form) -> None:
    """Every operator of a minute made from those of a quarter of an hour is that made for the minute, to the last bit:
    the same modes go through the same sums. Fifteen of them make the quarter (semigroup of the exponential)."""
    system = random_system(np.random.default_rng(11), 5)
    quarter = prepare(system, 900.0, form)
    again, anew = prepare_again(quarter, 60.0), prepare(system, 60.0, form)
    assert again.step == 60.0
    for one, other in zip(again.regimes, anew.regimes, strict=True):
        for part in fields(other):
            if part.name == "condensed":
                continue
            pair = (getattr(of, part.name) for of in (one, other))
            parts = ((value if isinstance(value, tuple) else (value,)) for value in pair)
            for mine, fresh in zip(*parts, strict=True):
                assert np.array_equal(mine, fresh), part.name
    op, whole = again.regimes[0], quarter.regimes[0]
    z = np.eye(len(op.to_modes))
    assert np.abs(whole.apply(whole.decay, z) - op.apply(op.decay, z)).max() > 0.01
    for _ in range(15):
        z = op.apply(op.decay, z)
    np.testing.assert_allclose(z, whole.apply(whole.decay, np.eye(len(z))), atol=1e-12)  # fifteen round-offs


def test_means_of_all_nodes_close_the_balance() -> None:
    """∫C dT/dt = ∫(K T + B u + S q) over every step and node, massless ones included (energy conservation)."""
    rng = np.random.default_rng(8)
    system = random_system(rng, 6, one_way=True)
    operators = prepare(system, 900.0)
    u, regime = random_day(rng, system, 96, 2), np.zeros(96, dtype=int)
    start = np.full((2, int(np.sum(system.capacity > 0))), 24.0)
    done = advance(operators, start, force(operators, u[0], u[1], regime), regime, band(6, 96, 2))
    op, none = operators.regimes[0], np.zeros((len(system.nodes), system.B.shape[2]))
    means = read_off(operators, [mean_rows(op, np.eye(len(system.nodes)), none)], done, u[0], u[1], regime)
    massive = system.capacity > 0
    change = read_off(operators, [change_rows(op, np.eye(int(massive.sum())))], done, u[0], u[1], regime)
    flow = means @ system.K[0].T + (u[0] + u[1]) / 2.0 @ system.B[0].T + done.heat @ system.S.T
    flow[..., massive] -= change * system.capacity[massive] / 900.0
    assert np.abs(flow).max() < 1e-9 * np.abs(done.heat).max()


def test_a_network_with_no_way_out_is_refused_by_name() -> None:
    system = toy_system([1e4, 1e5, 1e4], [(0, 1, 10.0)], [(2, 0, 5.0)], [0])
    with pytest.raises(HeatsimError, match=r"way for heat to leave.*n0"):
        prepare(system, 300.0)


def test_a_surface_joined_to_nothing_is_refused_by_name() -> None:
    system = toy_system([1e4, 0.0], [], [(0, 0, 5.0)], [0])
    with pytest.raises(HeatsimError, match="n1"):
        condense(system, 0)


def test_order_of_a_massless_chain_does_not_matter() -> None:
    system = random_system(np.random.default_rng(2), 3)
    shuffled = np.random.default_rng(9).permutation(len(system.nodes))
    other = replace(
        system, capacity=system.capacity[shuffled], K=system.K[:, shuffled][:, :, shuffled], B=system.B[:, shuffled],
        S=system.S[shuffled], Y=system.Y[:, shuffled], nodes=tuple(system.nodes[i] for i in shuffled),
    )  # fmt: skip
    u, regime = random_day(np.random.default_rng(1), system, 24), np.zeros(24, dtype=int)
    heats = []
    for s in (system, other):
        operators = prepare(s, 900.0)
        start = np.full((1, int(np.sum(s.capacity > 0))), 24.0)
        heats.append(advance(operators, start, force(operators, u[0], u[1], regime), regime, band(3, 24)).heat)
    np.testing.assert_allclose(heats[0], heats[1], atol=1e-9 * np.abs(heats[0]).max())

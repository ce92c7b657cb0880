"""From a network to exact step operators: condensing massless nodes, choosing a form, integrating φ functions.

Over a step h with drivers linear in time, x₁ = e^{Ah}x₀ + h[φ₁ f₀ + φ₂ (f₁ − f₀)] and the step's mean is
φ₁x₀ + h[φ₂ f₀ + φ₃ (f₁ − f₀)], with φₖ(z) = (φₖ₋₁(z) − 1/(k−1)!)/z, φ₀ = e^z (Hochbruck and Ostermann 2010, section 2).
They are summed as series below |z| = 1 and never formed through an inverse of A.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import factorial

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError
from heatsim.network.base import System
from heatsim.solve.base import Form

Array = npt.NDArray[np.float64]

Functions = tuple[npt.NDArray[np.complex128] | Array, ...]

LARGEST_CONDITION = 1e4
"""Eigenvector condition above which the modal form loses more than about 12 − 4 digits; then the dense form."""
SLOWEST = 1e-11
"""[1/s] A mode slower than this (3000 years) means that heat has no way out."""


@dataclass(frozen=True)
class Condensed:
    """One regime without its massless nodes: ẋ = A x + B u + G q, thermostat y = Y x + D u + F q.

    `from_state`, `from_drivers`, `from_heat` recover all nodes: T = from_state x + from_drivers u + from_heat q.
    """

    A: Array
    B: Array
    G: Array
    Y: Array
    D: Array
    F: Array
    from_state: Array
    from_drivers: Array
    from_heat: Array


@dataclass(frozen=True)
class StepOperators:
    """One regime over one step length; state z in `form`'s coordinates, x = from_modes z.

    `decay` and `mean` are pairs (c, s): F z = c·z + s·z[pair] for modal forms, or (matrix, empty) for the dense form;
    `paired` numbers the few modes that swing, where s is not zero. `rates` (mode,) are the eigenvalues. [1/s]
    `reads` (3 zone, mode) is what thermostats make of z: at the step's start, at its end without heat, and on its mean
    without heat. `driven` (2 driver, mode + 3 zone) is what the drivers at the step's start and end alone bring to the
    state at its end and to those three readings.
    """

    form: Form
    condensed: Condensed
    to_modes: Array
    from_modes: Array
    pair: npt.NDArray[np.int64]
    rates: npt.NDArray[np.complex128]
    paired: npt.NDArray[np.int64]
    decay: tuple[Array, Array]
    mean: tuple[Array, Array]
    end_start: Array
    end_end: Array
    mean_start: Array
    mean_end: Array
    heat_end: Array
    slope_end: Array
    heat_mean: Array
    slope_mean: Array
    reads: Array
    driven: Array
    y_heat_end: Array
    y_slope_end: Array
    y_heat_mean: Array
    y_slope_mean: Array

    def apply(self, operator: tuple[Array, Array], z: Array) -> Array:
        """F z for z (..., mode)."""
        first, second = operator
        if self.form is Form.DENSE:
            return np.asarray(z @ first.T)
        if self.form is Form.SYMMETRIC:
            return np.asarray(first * z)
        moved = first * z
        moved[..., self.paired] += second[self.paired] * z[..., self.pair[self.paired]]
        return np.asarray(moved)


def condense(system: System, regime: int) -> Condensed:
    """Eliminate massless nodes exactly from one regime.

    Raises
    ------
    HeatsimError
        When a massless node is joined to nothing.
    """
    massive = np.flatnonzero(system.capacity > 0.0)
    light = np.flatnonzero(system.capacity <= 0.0)
    K, B, S, Y = system.K[regime], system.B[regime], system.S, system.Y
    loose = light[np.abs(np.diag(K)[light]) < 1e-12]
    if len(loose):
        raise HeatsimError(
            Fault(
                rule="every surface must be joined to something",
                value=", ".join(system.nodes[i] for i in loose[:5]),
                remedy="Give these a film, a layer or a neighbour",
            )
        )
    back = np.linalg.solve(K[np.ix_(light, light)], np.hstack([K[np.ix_(light, massive)], B[light], S[light]]))
    n, m = len(massive), B.shape[1]
    from_state = np.zeros((len(K), n))
    from_drivers, from_heat = np.zeros((len(K), m)), np.zeros_like(S)
    from_state[massive] = np.eye(n)
    from_state[light], from_drivers[light], from_heat[light] = -back[:, :n], -back[:, n : n + m], -back[:, n + m :]
    inverse = 1.0 / system.capacity[massive][:, None]
    A = inverse * (K[massive] @ from_state)
    return Condensed(
        A,
        inverse * (B[massive] + K[massive] @ from_drivers),
        inverse * (S[massive] + K[massive] @ from_heat),
        Y @ from_state,
        Y @ from_drivers,
        Y @ from_heat,
        from_state,
        from_drivers,
        from_heat,
    )


def phi(z: npt.NDArray[np.complex128]) -> tuple[npt.NDArray[np.complex128], ...]:
    """e^z, φ₁, φ₂, φ₃ elementwise."""
    small = np.abs(z) < 1.0
    s = np.where(small, z, 0.0)
    third = np.zeros_like(s)
    for k in range(20, -1, -1):
        third = third * s + 1.0 / factorial(k + 3)
    second = 0.5 + s * third
    first = 1.0 + s * second
    zero = 1.0 + s * first
    big = np.where(small, 1.0, z)
    e = np.exp(big)
    one = (e - 1.0) / big
    two = (one - 1.0) / big
    three = (two - 0.5) / big
    pairs = ((zero, e), (first, one), (second, two), (third, three))
    return tuple(np.where(small, series, quotient) for series, quotient in pairs)


def phi_matrix(A: Array) -> tuple[Array, Array, Array, Array]:
    """e^A, φ₁(A), φ₂(A), φ₃(A) by series and doubling.

    References
    ----------
    .. [1] Hochbruck and Ostermann, Exponential integrators, Acta Numerica 19, 2010, section 2; doubling
       φₖ(2z) = 2⁻ᵏ [e^z φₖ(z) + Σ_{j=1..k} φⱼ(z)/(k−j)!].
    """
    doublings = max(0, int(np.ceil(np.log2(max(float(np.linalg.norm(A, 1)), 1e-30)))) + 1)
    small, eye = A / 2.0**doublings, np.eye(len(A))
    third = np.zeros_like(A)
    for k in range(16, -1, -1):
        third = third @ small + eye / factorial(k + 3)
    second = 0.5 * eye + small @ third
    first = eye + small @ second
    zero = eye + small @ first
    for _ in range(doublings):
        third = (zero @ third + first / 2.0 + second + third) / 8.0
        second = (zero @ second + first + second) / 4.0
        first = (zero @ first + first) / 2.0
        zero = zero @ zero
    return zero, first, second, third


def step_operators(system: System, regime: int, step: float, form: Form | None = None) -> StepOperators:
    """Exact operators of one regime over `step` seconds; `form` forces a form (tests), else it is chosen.

    Raises
    ------
    HeatsimError
        When heat has no way out of some part of the network; names the nodes.
    """
    condensed = condense(system, regime)
    capacity = system.capacity[system.capacity > 0.0]
    root = np.sqrt(capacity)
    scaled = root[:, None] * condensed.A / root[None, :]
    symmetric = np.allclose(scaled, scaled.T, rtol=0.0, atol=1e-12 * np.abs(scaled).max(initial=1e-30))
    if form is None:
        form = Form.SYMMETRIC if symmetric else Form.ONE_WAY
    pair = np.arange(len(capacity))
    if form is Form.SYMMETRIC:
        values, vectors = np.linalg.eigh((scaled + scaled.T) / 2.0)
        from_modes, to_modes = vectors / root[:, None], vectors.T * root[None, :]
        rates = values.astype(complex)
    elif form is Form.ONE_WAY:
        rates, from_modes, pair = _real_modes(condensed.A)
        to_modes = _inverse(from_modes)
        if np.linalg.norm(from_modes, 1) * np.linalg.norm(to_modes, 1) > len(to_modes) * LARGEST_CONDITION:
            form = Form.DENSE
    if form is Form.DENSE:
        from_modes = to_modes = np.eye(len(capacity))
        rates = np.linalg.eigvals(condensed.A).astype(complex)
    _refuse_trapped(system, condensed, rates)
    return _assemble(form, condensed, from_modes, to_modes, pair, rates, step)


def retimed(op: StepOperators, step: float) -> StepOperators:
    """The same regime over steps of another length [s]: its modes are kept, only what depends on time is made anew."""
    return _assemble(op.form, op.condensed, op.from_modes, op.to_modes, op.pair, op.rates, step)


def _real_modes(A: Array) -> tuple[npt.NDArray[np.complex128], Array, npt.NDArray[np.int64]]:
    """Eigenvalues and a real basis; a complex pair spans two columns and `pair` swaps them."""
    values, vectors = np.linalg.eig(A)
    values = values.astype(complex)
    vectors = vectors.astype(complex)
    basis, pair = np.zeros_like(A), np.arange(len(A))
    i = 0
    while i < len(A):
        if values[i].imag == 0.0:
            basis[:, i] = vectors[:, i].real
            i += 1
            continue
        basis[:, i], basis[:, i + 1] = vectors[:, i].real, vectors[:, i].imag
        pair[i], pair[i + 1] = i + 1, i
        i += 2
    return values, basis, pair


def _inverse(matrix: Array) -> Array:
    """The inverse, or infinities where there is none (twin cabins in a chain of air)."""
    try:
        return np.asarray(np.linalg.inv(matrix), dtype=float)
    except np.linalg.LinAlgError:
        return np.full_like(matrix, np.inf)


def _refuse_trapped(system: System, condensed: Condensed, rates: npt.NDArray[np.complex128]) -> None:
    if len(rates) == 0 or np.max(rates.real) < -SLOWEST:
        return
    _, vectors = np.linalg.eig(condensed.A)
    slowest = np.abs(vectors[:, int(np.argmax(np.linalg.eigvals(condensed.A).real))])
    names = [system.nodes[i] for i in np.flatnonzero(system.capacity > 0.0)]
    trapped = [name for name, weight in zip(names, slowest, strict=True) if weight > 0.3 * slowest.max()]
    raise HeatsimError(
        Fault(
            rule="every part of the boat must have a way for heat to leave",
            value=", ".join(trapped[:6]),
            remedy="Give one of these a face to outdoors, sea or a neighbour",
        )
    )


def _assemble(
    form: Form,
    c: Condensed,
    from_modes: Array,
    to_modes: Array,
    pair: npt.NDArray[np.int64],
    rates: npt.NDArray[np.complex128],
    h: float,
) -> StepOperators:
    """Multiply everything out once: forcing, heat and thermostat responses at the step's end and on its mean."""
    functions: Functions = phi_matrix(c.A * h) if form is Form.DENSE else phi(np.asarray(rates * h, dtype=complex))
    B, G, Y = to_modes @ c.B, to_modes @ c.G, c.Y @ from_modes

    def times(function: npt.NDArray[np.complex128] | Array, matrix: Array) -> Array:
        if form is Form.DENSE:
            return np.asarray(function.real @ matrix)
        return np.asarray(function.real[:, None] * matrix + _signed(function, rates)[:, None] * matrix[pair])

    def vectors(function: npt.NDArray[np.complex128] | Array) -> tuple[Array, Array]:
        if form is Form.DENSE:
            return np.ascontiguousarray(function.real), np.zeros(0)
        return np.ascontiguousarray(function.real), _signed(function, rates)

    zero, first, second, third = functions
    end_start, end_end = h * times(first - second, B), h * times(second, B)
    mean_start, mean_end = h * times(second - third, B), h * times(third, B)
    heat_end, slope_end = h * times(first, G), h * times(second - first / 2.0, G)
    heat_mean, slope_mean = h * times(second, G), h * times(third - second / 2.0, G)
    reads = [Y, Y @ _matrix(form, zero, pair, rates), Y @ _matrix(form, first, pair, rates)]
    half, nothing = c.D / 2.0, np.zeros_like(c.D)
    at_start = [end_start, c.D, Y @ end_start, Y @ mean_start + half]
    at_end = [end_end, nothing, Y @ end_end + c.D, Y @ mean_end + half]
    driven = np.hstack([np.vstack(at_start), np.vstack(at_end)]).T.copy()
    modes, drivers = B.shape
    return StepOperators(
        form=form,
        condensed=c,
        to_modes=to_modes,
        from_modes=from_modes,
        pair=pair,
        rates=rates,
        paired=np.flatnonzero(rates.imag != 0.0),
        decay=vectors(zero),
        mean=vectors(first),
        end_start=driven[:drivers, :modes].T,
        end_end=driven[drivers:, :modes].T,
        mean_start=mean_start,
        mean_end=mean_end,
        heat_end=heat_end,
        slope_end=slope_end,
        heat_mean=heat_mean,
        slope_mean=slope_mean,
        reads=np.vstack(reads),
        driven=driven,
        y_heat_end=Y @ heat_end + c.F,
        y_slope_end=Y @ slope_end + c.F / 2.0,
        y_heat_mean=Y @ heat_mean + c.F,
        y_slope_mean=Y @ slope_mean,
    )


def _signed(function: npt.NDArray[np.complex128] | Array, rates: npt.NDArray[np.complex128]) -> Array:
    """Off-diagonal of the 2 × 2 blocks [[Re, Im], [−Im, Re]], row by row (the second of a pair has conjugate rate)."""
    return np.where(rates.imag != 0.0, np.asarray(function).imag, 0.0)


def _matrix(
    form: Form, function: npt.NDArray[np.complex128] | Array, pair: npt.NDArray[np.int64],
    rates: npt.NDArray[np.complex128],
) -> Array:  # fmt: skip
    """A φ function as a full matrix in the form's coordinates."""
    if form is Form.DENSE:
        return np.asarray(function.real)
    matrix = np.diag(function.real)
    paired = np.flatnonzero(rates.imag != 0.0)
    matrix[paired, pair[paired]] = _signed(function, rates)[paired]
    return np.asarray(matrix)

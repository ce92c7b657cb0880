"""The reference path: a network carried by scipy's adaptive solvers, control by events.

A held zone is held by index reduction: its thermostat's rate is kept at zero and the heat that takes is read off as the
residual. Mode changes are found as events and every edge of the drivers restarts the integration, so no step of ours is
in the answer. One run, slow, and written to be believed rather than to be fast. What is carried is a `Course`: here the
condensed linear network over one step; loads/unlinearised.py has the network with its laws unlinearised.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError
from heatsim.network.base import System
from heatsim.solve.base import Band, Mode
from heatsim.solve.forms import Condensed, condense

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]
Modes = npt.NDArray[np.int8]

CLOSE = 1e-7
"""[K] How near its setpoint a thermostat counts as being there."""
SMALL = 1e-6
"""[W] How near zero or its limit the heat of a held zone counts as being there."""
MOST_CHANGES = 200

_NEXT = np.array([
    [Mode.HOLD_COOL, Mode.HOLD_HEAT], [Mode.FLOAT, Mode.LIMIT_COOL], [Mode.FLOAT, Mode.LIMIT_HEAT],
    [Mode.HOLD_COOL, Mode.HOLD_COOL], [Mode.HOLD_HEAT, Mode.HOLD_HEAT],
], dtype=np.int8)  # fmt: skip
"""The two modes each mode can turn into, in the order of `Segment.margins`."""


class Course(Protocol):
    """A stretch of time without jumps: ẋ = rates(t, x) + G q, thermostats y = Y x + direct(t)."""

    G: Array
    Y: Array

    def rates(self, t: float, x: Array) -> Array:
        """ẋ without the equipment's heat."""
        ...

    def jacobian(self, t: float, x: Array) -> Any:
        """Of the rates, (state, state), dense or sparse; for implicit steps an approximate one will do."""
        ...

    def direct(self, t: float) -> Array:
        """What drivers add to the thermostats at once, (zone,)."""
        ...

    def direct_rate(self, t: float) -> Array:
        """Its rate."""
        ...


@dataclass(frozen=True)
class Solver:
    """Method and tolerances of `scipy.integrate.solve_ivp`; `atol_heat` is for the heat in J."""

    method: str = "Radau"
    rtol: float = 1e-9
    atol: float = 1e-9
    atol_heat: float = 1e-9
    longest: float = np.inf


@dataclass(frozen=True)
class ReferenceRun:
    """State at each step's end (step, massive node), mean heat of each step (step, zone), and whether a step held a
    mode change (step, zone); `evaluations` of the right-hand side.
    """

    states: Array
    heat: Array
    changed: npt.NDArray[np.bool_]
    evaluations: int


class Straight:
    """The condensed linear network with drivers straight in time: ẋ = A x + B u(t) + G q."""

    def __init__(self, c: Condensed, u0: Array, rate: Array) -> None:
        self.c, self.G, self.Y = c, c.G, c.Y
        self._forcing, self._forcing_rate = c.B @ u0, c.B @ rate
        self._direct, self._direct_rate = c.D @ u0, c.D @ rate

    def rates(self, t: float, x: Array) -> Array:
        """See `Course`."""
        return np.asarray(self.c.A @ x + self._forcing + self._forcing_rate * t)

    def jacobian(self, t: float, x: Array) -> Any:
        """See `Course`."""
        return self.c.A

    def direct(self, t: float) -> Array:
        """See `Course`."""
        return np.asarray(self._direct + self._direct_rate * t)

    def direct_rate(self, t: float) -> Array:
        """See `Course`."""
        return self._direct_rate


class Segment:
    """A course under control: which mode each zone is in, and the heat that follows.

    `state` is x followed by the heat used since the segment began [J].
    """

    def __init__(self, course: Course, mode: Modes, band: tuple[Array, Array, Array, Array]) -> None:
        self.course, self.n = course, course.G.shape[0]
        self.cool, self.warm, self.cool_limit, self.heat_limit = band
        self.response = np.linalg.inv(course.Y @ course.G)
        self.enter(mode)

    def enter(self, mode: Modes) -> None:
        """Take up modes."""
        self.mode = mode
        self.held = np.flatnonzero((mode == Mode.HOLD_COOL) | (mode == Mode.HOLD_HEAT))
        given = np.where(mode == Mode.LIMIT_COOL, -self.cool_limit, 0.0)
        self.given = np.where(mode == Mode.LIMIT_HEAT, self.heat_limit, given)
        Y, G = self.course.Y[self.held], self.course.G
        self.hold = -np.linalg.inv(Y @ G[:, self.held]) @ Y
        self.hold_direct = -np.linalg.inv(Y @ G[:, self.held])

    def heat(self, t: float, x: Array, rates: Array | None = None) -> Array:
        """Heat of every zone, with held thermostats at rest. [W]"""
        q = self.given.copy()
        if len(self.held):
            free = (self.course.rates(t, x) if rates is None else rates) + self.course.G @ self.given
            q[self.held] = self.hold @ free + self.hold_direct @ self.course.direct_rate(t)[self.held]
        return q

    def slope(self, t: float, state: Array) -> Array:
        """Right-hand side of x and heat used."""
        rates = self.course.rates(t, state[: self.n])
        q = self.heat(t, state[: self.n], rates)
        return np.concatenate([rates + self.course.G @ q, q])

    def jacobian(self, t: float, state: Array) -> Any:
        """Of `slope`, as dense or sparse as the course's."""
        from scipy import sparse

        zones = len(self.mode)
        inner = self.course.jacobian(t, state[: self.n])
        if not sparse.issparse(inner):
            heat = np.zeros((zones, self.n))
            heat[self.held] = self.hold @ inner
            full = np.zeros((self.n + zones, self.n + zones))
            full[: self.n, : self.n], full[self.n :, : self.n] = inner + self.course.G @ heat, heat
            return full
        hold = np.zeros((zones, self.n))
        hold[self.held] = self.hold
        heat = sparse.csr_matrix(hold) @ inner
        top = inner + sparse.csr_matrix(self.course.G) @ heat
        return sparse.bmat([[top, None], [heat, sparse.csr_matrix((zones, zones))]], format="csc")

    def reading(self, t: float, x: Array) -> Array:
        """What thermostats read, (zone,)."""
        return np.asarray(self.course.Y @ x + self.course.direct(t))

    def margins(self, t: float, x: Array) -> Array:
        """Positive while each zone's mode is right, (zone, 2): to the first and to the second mode of `_NEXT`."""
        mode, y, q = self.mode, self.reading(t, x), self.heat(t, x)
        margin = np.full((len(mode), 2), np.inf)
        over, under = self.cool + CLOSE - y, y - self.warm + CLOSE
        floats = mode == Mode.FLOAT
        margin[floats & (self.cool_limit > 0.0), 0] = over[floats & (self.cool_limit > 0.0)]
        margin[floats & (self.heat_limit > 0.0), 1] = under[floats & (self.heat_limit > 0.0)]
        cooled, warmed = mode == Mode.HOLD_COOL, mode == Mode.HOLD_HEAT
        margin[cooled] = np.stack([SMALL - q, q + self.cool_limit + SMALL], axis=1)[cooled]
        margin[warmed] = np.stack([q + SMALL, self.heat_limit + SMALL - q], axis=1)[warmed]
        margin[mode == Mode.LIMIT_COOL, 0] = (y - self.cool + CLOSE)[mode == Mode.LIMIT_COOL]
        margin[mode == Mode.LIMIT_HEAT, 0] = (self.warm + CLOSE - y)[mode == Mode.LIMIT_HEAT]
        return margin

    def exchanged(self, t: float, x: Array) -> Modes:
        """Modes after the event at t: of the zone that is nearest its margin, and of all beyond theirs."""
        margin = self.margins(t, x)
        least = margin.min(axis=1)
        wrong = least <= 0.0
        wrong[np.argmin(least)] = True
        return np.where(wrong, _NEXT[self.mode, np.argmin(margin, axis=1)], self.mode).astype(np.int8)

    def placed(self, t: float, x: Array, before: Modes) -> tuple[Array, Array]:
        """State with zones that are or were held put exactly at their setpoint, and the heat that took [J].

        An integration lets them drift by its tolerance; a released zone must start inside its band.
        """
        want = np.zeros(len(self.mode))
        y = self.reading(t, x)
        for kind, target in ((Mode.HOLD_COOL, self.cool), (Mode.HOLD_HEAT, self.warm)):
            these = (before == kind) | (self.mode == kind)
            want[these] = (target - y)[these]
        impulse = self.response @ want
        return x + self.course.G @ impulse, impulse


def carry(
    segment: Segment, x: Array, samples: Array, solver: Solver
) -> tuple[Array, Array, npt.NDArray[np.bool_], int]:
    """Carry a segment from time 0 to its last sample, through all its mode changes.

    Returns
    -------
    states : (sample, state) array
    used : (sample, zone) array
        Heat since the start. [J]
    changed : (sample, zone) array of bool
        Mode changes between the sample before and this one.
    evaluations : int

    Raises
    ------
    HeatsimError
        When modes go on changing, or scipy's solver gives up.
    """
    from scipy.integrate import solve_ivp

    n, zones = segment.n, len(segment.mode)
    states, heat = np.empty((len(samples), n)), np.empty((len(samples), zones))
    changed = np.zeros((len(samples), zones), dtype=bool)
    t, end, used, evaluations, filled = 0.0, float(samples[-1]), np.zeros(zones), 0, 0
    atol = np.concatenate([np.full(n, solver.atol), np.full(zones, solver.atol_heat)])

    def event(at: float, state: Array) -> float:
        return float(segment.margins(at, state[:n]).min())

    event.terminal, event.direction = True, -1.0  # type: ignore[attr-defined]
    for _ in range(MOST_CHANGES):
        done = solve_ivp(
            segment.slope, (t, end), np.concatenate([x, used]), solver.method, events=event, jac=segment.jacobian,
            rtol=solver.rtol, atol=atol, max_step=solver.longest, dense_output=len(samples) > 1,
        )  # fmt: skip
        evaluations += done.nfev
        x, used, t = done.y[:n, -1], done.y[n:, -1], float(done.t[-1])
        passed = int(np.searchsorted(samples, t, side="right")) if done.status == 1 else len(samples)
        if passed - filled > 1 or (done.status == 1 and passed > filled):
            between = done.sol(samples[filled:passed])
            states[filled:passed], heat[filled:passed] = between[:n].T, between[n:].T
        if done.status == 0:
            states[-1], heat[-1] = x, used
            return states, heat, changed, evaluations
        if done.status < 0:
            break
        filled = passed
        before = segment.mode
        segment.enter(segment.exchanged(t, x))
        changed[min(filled, len(samples) - 1)] |= segment.mode != before
        x, impulse = segment.placed(t, x, before)
        used = used + impulse
    raise HeatsimError(
        Fault(
            rule="the reference must get through every stretch",
            value=f"{done.message} at {t:.1f} s",
            remedy="Look for zones whose equipment switches on and off without end",
        )
    )


def open_modes(segment: Segment, x: Array) -> tuple[Array, Array]:
    """Take up the modes at a driver's edge; an unlimited plant puts a zone outside its band at its setpoint at once.

    Returns
    -------
    x : (state,) array
    used : (zone,) array
        The jump of the zone's air takes C ΔT. [J]
    """
    y, mode, want = segment.reading(0.0, x), segment.mode.copy(), np.zeros(len(segment.mode))
    near = 10.0 * CLOSE
    for i in range(len(mode)):
        cools, heats = segment.cool_limit[i] > 0.0, segment.heat_limit[i] > 0.0
        over, under = y[i] - segment.cool[i], segment.warm[i] - y[i]
        if cools and over > CLOSE:
            mode[i] = Mode.HOLD_COOL if np.isinf(segment.cool_limit[i]) else Mode.LIMIT_COOL
            want[i] = -over if np.isinf(segment.cool_limit[i]) else 0.0
        elif heats and under > CLOSE:
            mode[i] = Mode.HOLD_HEAT if np.isinf(segment.heat_limit[i]) else Mode.LIMIT_HEAT
            want[i] = under if np.isinf(segment.heat_limit[i]) else 0.0
        elif not (mode[i] == Mode.HOLD_COOL and cools and abs(over) <= near) and not (
            mode[i] == Mode.HOLD_HEAT and heats and abs(under) <= near
        ):
            mode[i] = Mode.FLOAT
    segment.enter(mode)
    impulse = segment.response @ want
    return x + segment.course.G @ impulse, impulse


def reference_run(
    system: System,
    step: float,
    first: Array,
    u_start: Array,
    u_end: Array,
    regime: Indices,
    band: Band,
    solver: Solver | None = None,
    days: int = 1,
) -> ReferenceRun:
    """Carry one run of the linear network over its steps `days` times, returning the last time through.

    Parameters
    ----------
    first : (massive node,) array
    u_start, u_end : (step, driver) arrays
    regime : (step,) array
    band : Band
        With one run.
    solver : Solver, optional
        Radau to 1e-9 unless given.
    """
    solver = solver or Solver()
    condensed = [condense(system, r) for r in range(len(system.K))]
    steps, zones, n = len(u_start), len(system.zones), len(first)
    x, evaluations = first.copy(), 0
    mode = np.zeros(zones, dtype=np.int8)
    states, heat = np.empty((steps, n)), np.empty((steps, zones))
    changed = np.zeros((steps, zones), dtype=bool)
    for k in range(steps * days):
        at = k % steps
        course = Straight(condensed[regime[at]], u_start[at], (u_end[at] - u_start[at]) / step)
        segment = Segment(course, mode, step_band(band, at))
        x, jump = open_modes(segment, x)
        opened = segment.mode != mode
        state, used, moved, work = carry(segment, x, np.array([step]), solver)
        x, mode, evaluations = state[-1], segment.mode, evaluations + work
        states[at], heat[at], changed[at] = x, (used[-1] + jump) / step, moved[-1] | opened
    return ReferenceRun(states, heat, changed, evaluations)


def step_band(band: Band, step: int) -> tuple[Array, Array, Array, Array]:
    """Cooling and heating setpoints and limits of one step, (zone,) each."""
    return band.cool[0, step], band.heat[0, step], band.cool_limit[0, step], band.heat_limit[0, step]

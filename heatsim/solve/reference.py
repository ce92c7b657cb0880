"""The reference path: the same network carried by scipy's adaptive solver, control by events.

A held zone is held by index reduction: its thermostat's rate is kept at zero and the heat that takes is read off as the
residual. Mode changes are found as events and every edge of the drivers restarts the integration, so no step of ours is
in the answer. One run, slow, and written to be believed rather than to be fast.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from heatsim.network.base import System
from heatsim.solve.base import Band, Mode
from heatsim.solve.forms import Condensed, condense

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

CLOSE = 1e-7
"""[K] How near its setpoint a thermostat counts as being there."""
MOST_CHANGES = 200


@dataclass(frozen=True)
class ReferenceRun:
    """State at each step's end (step, massive node), mean heat of each step (step, zone), and whether a step held a
    mode change (step, zone); `evaluations` of the right-hand side.
    """

    states: Array
    heat: Array
    changed: npt.NDArray[np.bool_]
    evaluations: int


@dataclass
class _Segment:
    """One stretch with drivers straight in time and modes fixed: ẋ = A x + B u(t) + G q, q affine in x and t."""

    c: Condensed
    u0: Array
    rate: Array
    mode: npt.NDArray[np.int8]
    cool: Array
    warm: Array
    cool_limit: Array
    heat_limit: Array

    def prepare(self) -> None:
        """Heat as q = Qx x + Qu u + q0, with held thermostats at rest."""
        zones = len(self.mode)
        held = np.flatnonzero((self.mode == Mode.HOLD_COOL) | (self.mode == Mode.HOLD_HEAT))
        self.given = np.where(self.mode == Mode.LIMIT_COOL, -self.cool_limit, 0.0)
        self.given = np.where(self.mode == Mode.LIMIT_HEAT, self.heat_limit, self.given)
        self.Qx, self.Qu, self.q0 = np.zeros((zones, len(self.c.A))), np.zeros((zones, len(self.u0))), self.given.copy()
        if len(held):
            Y, G = self.c.Y[held], self.c.G
            solve = np.linalg.inv(Y @ G[:, held])
            self.Qx[held], self.Qu[held] = -solve @ (Y @ self.c.A), -solve @ (Y @ self.c.B)
            self.q0[held] = -solve @ (Y @ (G @ self.given) + self.c.D[held] @ self.rate)
        self.M = self.c.A + self.c.G @ self.Qx

    def u(self, t: float) -> Array:
        return np.asarray(self.u0 + self.rate * t)

    def heat(self, t: float, x: Array) -> Array:
        return np.asarray(self.Qx @ x + self.Qu @ self.u(t) + self.q0)

    def slope(self, t: float, state: Array) -> Array:
        x = state[: len(self.c.A)]
        q = self.heat(t, x)
        return np.concatenate([self.c.A @ x + self.c.B @ self.u(t) + self.c.G @ q, q])

    def jacobian(self, _t: float, state: Array) -> Array:
        n, size = len(self.c.A), len(state)
        full = np.zeros((size, size))
        full[:n, :n], full[n:, :n] = self.M, self.Qx
        return full

    def reading(self, t: float, x: Array) -> Array:
        return np.asarray(self.c.Y @ x + self.c.D @ self.u(t))

    def events(self) -> list[Any]:
        """One terminal event a zone and bound; each function is positive while the mode is right."""
        n = len(self.c.A)
        found: list[Any] = []

        def add(zone: int, to: Mode, function: Any) -> None:
            def event(t: float, state: Array) -> float:
                return float(function(t, state[:n]))

            event.terminal, event.direction = True, -1.0  # type: ignore[attr-defined]
            event.zone, event.to = zone, to  # type: ignore[attr-defined]
            found.append(event)

        for i, mode in enumerate(self.mode):
            if mode == Mode.FLOAT:
                if self.cool_limit[i] > 0.0:
                    add(i, Mode.HOLD_COOL, lambda t, x, i=i: self.cool[i] + CLOSE - self.reading(t, x)[i])
                if self.heat_limit[i] > 0.0:
                    add(i, Mode.HOLD_HEAT, lambda t, x, i=i: self.reading(t, x)[i] - self.warm[i] + CLOSE)
            elif mode == Mode.HOLD_COOL:
                add(i, Mode.FLOAT, lambda t, x, i=i: 1e-6 - self.heat(t, x)[i])
                if np.isfinite(self.cool_limit[i]):
                    add(i, Mode.LIMIT_COOL, lambda t, x, i=i: self.heat(t, x)[i] + self.cool_limit[i] + 1e-6)
            elif mode == Mode.HOLD_HEAT:
                add(i, Mode.FLOAT, lambda t, x, i=i: self.heat(t, x)[i] + 1e-6)
                if np.isfinite(self.heat_limit[i]):
                    add(i, Mode.LIMIT_HEAT, lambda t, x, i=i: self.heat_limit[i] + 1e-6 - self.heat(t, x)[i])
            elif mode == Mode.LIMIT_COOL:
                add(i, Mode.HOLD_COOL, lambda t, x, i=i: self.reading(t, x)[i] - self.cool[i] + CLOSE)
            else:
                add(i, Mode.HOLD_HEAT, lambda t, x, i=i: self.warm[i] + CLOSE - self.reading(t, x)[i])
        return found


def reference_run(
    system: System,
    step: float,
    first: Array,
    u_start: Array,
    u_end: Array,
    regime: Indices,
    band: Band,
    rtol: float = 1e-9,
    atol: float = 1e-9,
    days: int = 1,
) -> ReferenceRun:
    """Carry one run over its steps `days` times, returning the last time through.

    Parameters
    ----------
    first : (massive node,) array
    u_start, u_end : (step, driver) arrays
    regime : (step,) array
    band : Band
        With one run.
    rtol, atol : float
        Of `scipy.integrate.solve_ivp` (Radau).
    """
    from scipy.integrate import solve_ivp

    condensed = [condense(system, r) for r in range(len(system.K))]
    steps, zones, n = len(u_start), len(system.zones), len(first)
    x, evaluations = first.copy(), 0
    mode = np.zeros(zones, dtype=np.int8)
    states, heat = np.empty((steps, n)), np.empty((steps, zones))
    changed = np.zeros((steps, zones), dtype=bool)
    for k in range(steps * days):
        at = k % steps
        segment = _Segment(
            condensed[regime[at]], u_start[at], (u_end[at] - u_start[at]) / step, mode,
            band.cool[0, at], band.heat[0, at], band.cool_limit[0, at], band.heat_limit[0, at],
        )  # fmt: skip
        x, used, mode, moved = _open_step(segment, system, x)
        changed[at] = moved
        t = 0.0
        for _ in range(MOST_CHANGES):
            segment.mode = mode
            segment.prepare()
            events = segment.events()
            done = solve_ivp(
                segment.slope, (t, step), np.concatenate([x, np.zeros(zones)]), "Radau", events=events or None,
                jac=segment.jacobian, rtol=rtol, atol=atol,
            )  # fmt: skip
            evaluations += done.nfev
            x, used, t = done.y[:n, -1], used + done.y[n:, -1], float(done.t[-1])
            if done.status != 1:
                break
            fired = next(i for i, times in enumerate(done.t_events) if len(times))
            mode = mode.copy()
            mode[events[fired].zone] = events[fired].to
            changed[at, events[fired].zone] = True
        states[at], heat[at] = x, used / step
    return ReferenceRun(states, heat, changed, evaluations)


def _open_step(
    segment: _Segment, system: System, x: Array
) -> tuple[Array, Array, npt.NDArray[np.int8], npt.NDArray[np.bool_]]:
    """Modes at a driver's edge; a zone outside its band with unlimited plant is put at its setpoint at once.

    The jump of the zone's air takes C ΔT, counted into the step's heat.
    """
    c, mode, used = segment.c, segment.mode.copy(), np.zeros(len(segment.mode))
    y = c.Y @ x + c.D @ segment.u0
    inverse = np.linalg.inv(c.Y @ c.G)
    want = np.zeros_like(y)
    for i in range(len(mode)):
        cools, heats = segment.cool_limit[i] > 0.0, segment.heat_limit[i] > 0.0
        if cools and y[i] > segment.cool[i] + CLOSE:
            mode[i] = Mode.HOLD_COOL if np.isinf(segment.cool_limit[i]) else Mode.LIMIT_COOL
            want[i] = segment.cool[i] - y[i] if np.isinf(segment.cool_limit[i]) else 0.0
        elif heats and y[i] < segment.warm[i] - CLOSE:
            mode[i] = Mode.HOLD_HEAT if np.isinf(segment.heat_limit[i]) else Mode.LIMIT_HEAT
            want[i] = segment.warm[i] - y[i] if np.isinf(segment.heat_limit[i]) else 0.0
        elif mode[i] == Mode.HOLD_COOL and not (cools and abs(y[i] - segment.cool[i]) <= 10 * CLOSE):
            mode[i] = Mode.FLOAT
        elif mode[i] == Mode.HOLD_HEAT and not (heats and abs(y[i] - segment.warm[i]) <= 10 * CLOSE):
            mode[i] = Mode.FLOAT
        elif mode[i] in (Mode.LIMIT_COOL, Mode.LIMIT_HEAT):
            mode[i] = Mode.FLOAT
    if want.any():
        impulse = inverse @ want
        x, used = x + c.G @ impulse, used + impulse
    return x, used, mode, mode != segment.mode

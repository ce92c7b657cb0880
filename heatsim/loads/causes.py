"""The load split by driver: each cause alone in the same network, with the recorded modes of the full run.

With the modes known the network is linear, so the heats of the causes add up to the heat of the run. Temperatures are
counted from one origin, the mean setpoint of the cooled zones; what held setpoints differ from it is a cause of its
own, and what a start away from the periodic state leaves is the last.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from heatsim.loads.line import Line, Stretch, bands
from heatsim.network.base import CAUSES
from heatsim.solve.base import Mode
from heatsim.solve.periodic import day_matrix
from heatsim.solve.stepping import follow, force

Array = npt.NDArray[np.float64]

TEMPERATURES = ("air", "sea", "scheduled")
CLOSED = 1e-3
"""[K] Distance at which a cause's day counts as periodic."""
ROUNDS = 4
"""Chord steps for the periodic start of the causes; what is left over is the cause `start`."""


def origin(line: Line) -> float:
    """Mean cooling setpoint of the zones that are held: where temperatures of causes are counted from [°C]."""
    setpoints = [
        float(np.mean(zone.control.cooling_setpoint.values)) for zone in line.resolved.zones if zone.control is not None
    ]
    return float(np.mean(setpoints)) if setpoints else 24.0


def load_by_cause(line: Line, stretch: Stretch) -> Array:
    """Sensible load with unlimited plant by cause.

    Returns
    -------
    (heading, step, zone, cause) array
        Positive is cooling. [W] The sum over causes is the run's cooling less its heating.
    """
    network, operators, number = line.heat, line.heat_operators, stretch.number
    base = origin(line)
    u = stretch.heat_u.copy()
    for column, driver in enumerate(network.drivers):
        if driver.kind in TEMPERATURES:
            u[..., column] -= base
    runs, steps, zones = stretch.heat.heat.shape
    band, _ = bands(line, stretch.weather)
    setpoint = np.where(stretch.heat.mode == Mode.HOLD_HEAT, band.heat, band.cool) - base
    no_target, given = np.zeros_like(setpoint), np.zeros_like(setpoint)
    X = day_matrix(operators, number)
    chord = np.linalg.inv(np.eye(len(X)) - X)
    heats = np.zeros((runs, steps, zones, len(CAUSES)))
    left = stretch.heat_first - base
    columns = {
        cause: np.flatnonzero([driver.cause == cause for driver in network.drivers]) for cause in CAUSES[:-2]
    }
    for index, cause in enumerate(CAUSES[:-1]):
        target = setpoint if cause == "setpoints" else no_target
        chosen = columns.get(cause, np.zeros(0, dtype=np.int64))
        if len(chosen) == 0 and not target.any():
            continue
        forcing = force(operators, u[0], u[1], number, chosen)
        state, move = np.zeros_like(stretch.heat_first), np.zeros_like(stretch.heat_first)
        for _ in range(ROUNDS):
            state = state + move
            done = follow(operators, state, forcing, number, stretch.heat.mode, stretch.heat.entering, target, given)
            move = (done.end - state) @ chord.T
            if np.abs(move).max() < CLOSED:
                break
        heats[..., index] = -done.heat
        left = left - state
    forcing = force(operators, u[0] * 0.0, u[1] * 0.0, number)
    done = follow(operators, left, forcing, number, stretch.heat.mode, stretch.heat.entering, no_target, given)
    heats[..., -1] = -done.heat
    return heats

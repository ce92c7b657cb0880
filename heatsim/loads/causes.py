"""The load split by driver: each cause alone in the same network, with the recorded modes of the full run.

With the modes known the network is linear, so the heats of the causes add up to the heat of the run. Temperatures are
counted from one origin, the mean setpoint of the cooled zones; what held setpoints differ from it is a cause of its
own, and what a start away from the periodic state leaves is the last.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from heatsim.loads.line import Line, Stretch, bands
from heatsim.network.base import CAUSES
from heatsim.solve.base import Mode
from heatsim.solve.periodic import chord_matrices
from heatsim.solve.stepping import Forcing, follow, force

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
    columns = [np.flatnonzero([driver.cause == cause for driver in network.drivers]) for cause in CAUSES[:-1]]
    chosen = [i for i, c in enumerate(columns) if len(c) or CAUSES[i] == "setpoints"]
    parts = [force(operators, u[0], u[1], number, columns[i]) for i in chosen]
    forcing = Forcing(*(np.concatenate([getattr(p, f) for p in parts]) for f in ("end", "y_start", "y_end", "y_mean")))

    def tiled(values: npt.NDArray[Any]) -> npt.NDArray[Any]:
        return np.tile(values, (len(chosen), 1, 1))

    target = np.concatenate([setpoint if CAUSES[i] == "setpoints" else no_target for i in chosen])
    mode, entering, given = tiled(stretch.heat.mode), tiled(stretch.heat.entering), tiled(given)
    chord = chord_matrices(operators, number, 1)[0]
    state = np.zeros((len(chosen) * runs, stretch.heat_first.shape[1]))
    move = np.zeros_like(state)
    for _ in range(ROUNDS):
        state = state + move
        done = follow(operators, state, forcing, number, mode, entering, target, given)
        move = (done.end - state) @ chord.T
        if np.abs(move).max() < CLOSED:
            break
    heats = np.zeros((runs, steps, zones, len(CAUSES)))
    heats[..., chosen] = -np.moveaxis(done.heat.reshape(len(chosen), runs, steps, zones), 0, -1)
    left = stretch.heat_first - base - state.reshape(len(chosen), runs, -1).sum(axis=0)
    none = Forcing(*(np.zeros_like(getattr(parts[0], f)) for f in ("end", "y_start", "y_end", "y_mean")))
    rest = follow(
        operators, left, none, number, stretch.heat.mode, stretch.heat.entering, no_target, np.zeros_like(no_target)
    )
    heats[..., -1] = -rest.heat
    return heats

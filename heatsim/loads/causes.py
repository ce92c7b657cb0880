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
from heatsim.solve.periodic import chord_matrices
from heatsim.solve.stepping import Forcing, follow, force

Array = npt.NDArray[np.float64]

TEMPERATURES = ("air", "sea", "scheduled")
CLOSED = 1e-3
"""[K] Distance at which a cause's day counts as periodic."""
RUNS_AT_ONCE = 4
"""Headings whose causes go through together: their state stays within a core's cache."""
FIELDS = ("end", "y_start", "y_end", "y_mean")
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
    network = line.heat
    base = origin(line)
    u = stretch.heat_u.copy()
    for column, driver in enumerate(network.drivers):
        if driver.kind in TEMPERATURES:
            u[..., column] -= base
    runs, steps, zones = stretch.heat.heat.shape
    band, _ = bands(line, stretch.weather)
    setpoint = np.where(stretch.heat.mode == Mode.HOLD_HEAT, band.heat, band.cool) - base
    columns = [np.flatnonzero([driver.cause == cause for driver in network.drivers]) for cause in CAUSES[:-1]]
    chosen = [i for i, c in enumerate(columns) if len(c) or CAUSES[i] == "setpoints"]
    heats = np.zeros((runs, steps, zones, len(CAUSES)))
    for first in range(0, runs, RUNS_AT_ONCE):
        part = slice(first, first + RUNS_AT_ONCE)
        _split(line, stretch, u[:, part], setpoint[part], stretch.heat_first[part] - base, columns, chosen, part, heats)
    return heats


def _split(
    line: Line, stretch: Stretch, u: Array, setpoint: Array, first: Array, columns: list[npt.NDArray[np.int64]],
    chosen: list[int], part: slice, heats: Array,
) -> None:  # fmt: skip
    """Carry some runs' causes through the day as one batch and write their heats."""
    operators, number = line.heat_operators, stretch.number
    parts = [force(operators, u[0], u[1], number, columns[i]) for i in chosen]
    forcing = Forcing(*(np.concatenate([getattr(p, f) for p in parts]) for f in FIELDS))
    runs, steps, zones = setpoint.shape
    recorded_mode, recorded_entering = stretch.heat.mode[part], stretch.heat.entering[part]
    mode, entering = np.tile(recorded_mode, (len(chosen), 1, 1)), np.tile(recorded_entering, (len(chosen), 1, 1))
    none = np.zeros((len(chosen) * runs, steps, zones))
    target = none.copy()
    at = chosen.index(CAUSES.index("setpoints"))
    target[at * runs : (at + 1) * runs] = setpoint
    chord = chord_matrices(operators, number, 1)[0]
    state = np.zeros((len(chosen) * runs, first.shape[1]))
    move = np.zeros_like(state)
    for _ in range(ROUNDS):
        state = state + move
        heat, end = follow(operators, state, forcing, number, mode, entering, target, none)
        move = (end - state) @ chord.T
        if np.abs(move).max() < CLOSED:
            break
    heats[part][..., chosen] = -np.moveaxis(heat.reshape(len(chosen), runs, steps, zones), 0, -1)
    left = first - state.reshape(len(chosen), runs, -1).sum(axis=0)
    rest = Forcing(*(np.zeros_like(getattr(parts[0], f)) for f in FIELDS))
    heat, _ = follow(operators, left, rest, number, recorded_mode, recorded_entering, none[:runs], none[:runs])
    heats[part][..., -1] = -heat

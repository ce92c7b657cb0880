"""Thermostats of many units at once: dead band, shortest run and pause, stages, variable speed.

A thermostat reads once a step. On-off units run between half a dead band above and half a dead band below the setpoint.
Staged ones start at their smallest stage, go to full when that does not bring the room down, and back at the setpoint.
Variable ones move their speed by the error, as slowly as their makers do, and cycle at their smallest stage below it.
Times are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Indices = npt.NDArray[np.int64]

ON_OFF, STAGED, VARIABLE = "on-off", "staged", "variable speed"
FAR = 2.0
"""Dead bands above the setpoint from which a unit starts at full."""
SWING = 1200.0
"""[s] In which a variable unit goes from stop to full with the room half a dead band away."""


@dataclass(frozen=True)
class Thermostat:
    """Settings of every thermostat aboard.

    `dead_band` from start to stop [K]; `shortest_run`, `shortest_off` and `shortest_cycle` (from start to start) in s;
    `offset` is how much too warm the sensor reads [K], `lag` the time constant with which it follows the air [s].
    """

    dead_band: float = 1.0
    shortest_run: float = 120.0
    shortest_off: float = 180.0
    shortest_cycle: float = 360.0
    offset: float = 0.0
    lag: float = 60.0


class Thermostats:
    """State of all units' thermostats, (unit,): the stage they ask for, and for how long they have run or paused.

    Parameters
    ----------
    settings : Thermostat
    regulation : (unit,) array of str
    smallest : (unit,) array
        Smallest stage over full, 1 for on-off.
    step : float
        [s]
    """

    def __init__(self, settings: Thermostat, regulation: npt.NDArray[np.str_], smallest: Array, step: float) -> None:
        units = len(smallest)
        self.settings, self.step, self.smallest = settings, step, smallest
        self.staged, self.variable = regulation == STAGED, regulation == VARIABLE
        self.stage = np.zeros(units)
        self.on = np.zeros(units, dtype=bool)
        self.since = np.full(units, np.inf)
        self.since_start = np.full(units, np.inf)
        self.sensed: Array | None = None
        self._quick = 1.0 - np.exp(-step / settings.lag) if settings.lag > 0.0 else 1.0

    def decide(self, reading: Array, setpoint: Array, allowed: Flags) -> Flags:
        """Take a reading (unit,) and set `stage` for the step that begins; returns which units start."""
        s, half = self.settings, 0.5 * self.settings.dead_band
        last = reading if self.sensed is None else self.sensed
        self.sensed = last + self._quick * (reading - last)
        error = self.sensed + s.offset - setpoint
        rested = (self.since >= s.shortest_off) & (self.since_start >= s.shortest_cycle)
        started = ~self.on & (error >= half) & rested & allowed
        lowest = self.stage <= self.smallest + 1e-9
        stopped = self.on & ((error <= -half) & lowest & (self.since >= s.shortest_run) | ~allowed)
        self._follow(error)
        far = error >= FAR * s.dead_band
        self.stage = np.where(started, np.where(far, 1.0, self.smallest), np.where(stopped, 0.0, self.stage))
        self.on = (self.on | started) & ~stopped
        self.since = np.where(started | stopped, 0.0, self.since)
        self.since_start = np.where(started, 0.0, self.since_start)
        return started

    def _follow(self, error: Array) -> None:
        """Move staged and variable units that run to the stage their error asks for."""
        band = self.settings.dead_band
        by_stage = np.where(error >= band, 1.0, np.where(error <= 0.0, self.smallest, self.stage))
        moved = self.stage + np.clip(2.0 * error / band, -1.0, 1.0) * self.step / SWING
        by_speed = np.clip(moved, self.smallest, 1.0)
        wanted = np.where(self.staged, by_stage, np.where(self.variable, by_speed, self.stage))
        self.stage = np.where(self.on, wanted, 0.0)

    def stop(self, which: Flags) -> None:
        """Stop units whatever the room asks for (a trip, ice)."""
        halted = which & self.on
        self.on = self.on & ~halted
        self.stage = np.where(halted, 0.0, self.stage)
        self.since = np.where(halted, 0.0, self.since)

    def passed(self) -> None:
        """A step has gone by."""
        self.since = self.since + self.step
        self.since_start = self.since_start + self.step

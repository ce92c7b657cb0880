"""Chillers at work: stages that follow the water in the loop, which stores what they take too much or too little.

A further stage comes on when the loop is half its swing too warm and goes off when it is half its swing too cold, one
at a time; variable chillers follow the load down to their smallest stage and cycle below it. Power goes with the stage,
and coils are taken at the chilled water's own temperature: within the swing they would give a little less or more.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.equipment.chilled import LOOP_SWING, WATER_HEAT, Plant

Array = npt.NDArray[np.float64]

STAGE_DELAY = 120.0
"""[s] Between changes of stage (common practice, no source: 2 to 5 min)."""


class Chilled(NamedTuple):
    """Means of one step, (run,): heat taken from the loop and power [W], current [A], chillers started, and the current
    that a start adds [A]."""

    heat: Array
    power: Array
    current: Array
    started: Array
    surge: Array


class Chillers:
    """The plants of all runs, None where a run has none.

    Parameters
    ----------
    plants : of each run
    step : float
        [s]

    Attributes
    ----------
    warm : (run,) array
        Of the loop above the middle of its swing. [K]
    """

    def __init__(self, plants: Sequence[Plant | None], step: float) -> None:
        self.step_length = step

        def of(value: str, none: float = 0.0) -> Array:
            return np.array([none if plant is None else float(getattr(plant, value)) for plant in plants])

        self.there = np.array([plant is not None for plant in plants])
        self.capacity, self.power, self.current = of("capacity"), of("power"), of("current")
        self.count, self.smallest = of("count", 1.0), of("smallest_stage", 1.0)
        self.content = np.maximum(WATER_HEAT * of("loop"), 1.0)
        self.variable = np.array([plant is not None and plant.unit.regulation == "variable speed" for plant in plants])
        self.start_current = np.array([0.0 if plant is None else plant.unit.start_current for plant in plants])
        self.stages = np.maximum(np.round(1.0 / self.smallest), self.count)
        self.warm = np.zeros(len(plants))
        self.stage: Array | None = None
        self.since = np.full(len(plants), np.inf)

    def step(self, load: Array, wanted: npt.NDArray[np.bool_]) -> Chilled:
        """Take what coils and pipes put into each run's loop (run,) over one step [W]; stop where nobody wants cold."""
        share = np.where(self.there, load / np.maximum(self.capacity, 1.0), 0.0)
        before = np.clip(np.ceil(share * self.stages), 0.0, self.stages) if self.stage is None else self.stage
        half = 0.5 * LOOP_SWING
        rested = self.since >= STAGE_DELAY
        more = rested & (self.warm >= half) & (before < self.stages)
        less = rested & (self.warm <= -half) & (before > 0.0)
        now = np.where(self.there & wanted, before + more - less, 0.0)
        self.since = np.where(more | less, 0.0, self.since) + self.step_length
        part = now / self.stages
        part = np.where(self.variable & (now > 0.0), np.clip(share, 1.0 / self.stages, 1.0), part)
        self.stage = now
        heat = part * self.capacity
        self.warm = self.warm + (load - heat) * self.there * self.step_length / self.content
        per_chiller = self.stages / self.count
        running, ran = np.ceil(now / per_chiller - 1e-9), np.ceil(before / per_chiller - 1e-9)
        started = np.maximum(running - ran, 0.0)
        surge = started * np.maximum(self.start_current - self.current / self.count / per_chiller, 0.0)
        return Chilled(heat, part * self.power, part * self.current, started, surge)

    @property
    def stored(self) -> Array:
        """Heat in each run's loop above the middle of its swing. [J]"""
        return np.asarray(self.content * self.warm * self.there)

"""Water on a coil: what it holds before it drains, and what a running fan evaporates from it again.

A coil drains only once it holds all it can; with the compressor off and the fan on that water goes back to the rooms.
Model: Henderson and Rengarajan, A model to predict the latent capacity of air conditioners and heat pumps at part-load
conditions with constant fan operation, ASHRAE Transactions 102(1), 1996 (from memory). Their evaporation falls straight
with time, from a full coil's rate to nothing; that is a rate by the square root of what is held, so it can be carried
on from any wetness.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class PartLoad:
    """What a unit loses when it starts and stops.

    The paper's symbols: `holding` is t_wet, the seconds of rated condensate that a coil holds; `evaporating` is γ, the
    rate at which a full coil evaporates over its rated condensate rate; `start` is τ, the time constant with which
    capacity comes up [s]. Defaults are the paper's typical values (from memory).
    """

    holding: float = 720.0
    evaporating: float = 1.5
    start: float = 60.0


class Wetted(NamedTuple):
    """Water on coils [kg] and its enthalpy [J] after a step, and what drained."""

    water: Array
    heat: Array
    drained: Array
    drained_heat: Array


class Dried(NamedTuple):
    """Water on coils [kg] and its enthalpy [J] after a step, and what evaporated."""

    water: Array
    heat: Array
    evaporated: Array
    evaporated_heat: Array


def wetted(water: Array, heat: Array, most: Array, condensed: Array, brought: Array) -> Wetted:
    """Let condensate come onto coils; what they cannot hold drains at the mean temperature of all of it.

    Parameters
    ----------
    water, heat : (unit,) arrays
        Held before. [kg], [J]
    most : (unit,) array
        What they hold at most. [kg]
    condensed, brought : (unit,) arrays
        Condensate of the step [kg] and its enthalpy [J].
    """
    all_water, all_heat = water + condensed, heat + brought
    drained = np.maximum(all_water - most, 0.0)
    drained_heat = all_heat * drained / np.maximum(all_water, 1e-12)
    return Wetted(all_water - drained, all_heat - drained_heat, drained, drained_heat)


def dried(water: Array, heat: Array, most: Array, rate: Array, seconds: float) -> Dried:
    """Let a fan blow over wet coils.

    Parameters
    ----------
    rate : (unit,) array
        At which a full coil would evaporate now; zero where the fan stands. [kg/s]
    """
    full = np.maximum(most, 1e-12)
    root = np.maximum(np.sqrt(water / full) - 0.5 * rate * seconds / full, 0.0)
    left = np.where(rate > 0.0, full * root**2, water)
    evaporated = water - left
    evaporated_heat = heat * evaporated / np.maximum(water, 1e-12)
    return Dried(left, heat - evaporated_heat, evaporated, evaporated_heat)


def come_up(since: Array, seconds: float, start: float) -> Array:
    """Share of its steady capacity that a unit has on the mean of a step, which begins `since` s after its start."""
    return np.asarray(1.0 - start / seconds * (np.exp(-since / start) - np.exp(-(since + seconds) / start)))

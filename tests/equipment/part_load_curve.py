"""The published part-load curve as a formula, for tests to hold the minute-by-minute coil against.

Henderson and Rengarajan, ASHRAE Transactions 102(1), 1996, from memory: with a fan that runs on,

    LHR / LHR_ss = max((t_on − t_0) / (t_on + τ (e^{−t_on/τ} − 1)), 0),

t_0 being how long a unit runs before its coil drains again: until it has made up what the pause evaporated,
t_0 + τ (e^{−t_0/τ} − 1) = t_e, with t_e = min(γ t_off − γ² t_off² / (4 t_wet), t_wet). A thermostat cycles by
t_on = 1 / (4 N (1 − X)) and t_off = 1 / (4 N X) with N the most cycles (at X = 1/2).
"""

from __future__ import annotations

import numpy as np


def evaporated(pause: float, holding: float, evaporating: float) -> float:
    """t_e: seconds of steady condensate that a pause takes off a coil that was full."""
    whole = 2.0 * holding / evaporating
    if pause >= whole:
        return holding
    return evaporating * pause - evaporating**2 * pause**2 / (4.0 * holding)


def made_up(lost: float, start: float) -> float:
    """t_0 for what was lost, by Newton's rule from above."""
    time = lost + start
    for _ in range(60):
        time -= (time + start * (np.exp(-time / start) - 1.0) - lost) / max(1.0 - np.exp(-time / start), 1e-9)
    return float(time)


def latent_ratio(run: float, pause: float, holding: float, evaporating: float, start: float) -> float:
    """LHR / LHR_ss of a unit that runs and pauses so long, over and over. [-]"""
    first = made_up(evaporated(pause, holding, evaporating), start)
    return max((run - first) / (run + start * (np.exp(-run / start) - 1.0)), 0.0)


def cycle(fraction: float, most: float) -> tuple[float, float]:
    """Run and pause [s] at a run fraction, with `most` cycles an hour at one half."""
    return 3600.0 / (4.0 * most * (1.0 - fraction)), 3600.0 / (4.0 * most * fraction)

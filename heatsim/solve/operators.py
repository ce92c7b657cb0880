"""All regimes of a system made ready for one step length, and what is kept of them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from heatsim.network.base import System
from heatsim.solve.base import Form
from heatsim.solve.control import Patterns
from heatsim.solve.forms import StepOperators, retimed, step_operators
from heatsim.solve.threads import each

if TYPE_CHECKING:
    from heatsim.solve.readout import Readout

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Operators:
    """Every regime of a system over one step length."""

    system: System
    step: float
    regimes: tuple[StepOperators, ...]
    patterns: Patterns
    chords: dict[bytes, Array] = field(default_factory=dict)
    """(I − day matrix)⁻¹ by course of regimes, made when first met (periodic.py)."""
    readouts: dict[str, tuple[Readout, ...]] = field(default_factory=dict)
    """Rows read off each regime, by what they are for, made when first asked for."""
    stacked: list[Any] = field(default_factory=list)
    """The regimes as the compiled loop takes them, made when first asked for."""
    inverses: list[Any] = field(default_factory=list)
    """What the compiled loop kept of control's inverses, which months and boats have in common."""


def prepare(system: System, step: float, form: Form | None = None) -> Operators:
    """Condense and integrate every regime of a system for steps of `step` seconds.

    The large matrices of all regimes lie in one piece, as the compiled loop takes them.
    """
    regimes = each(lambda r: step_operators(system, r, step, form), range(len(system.K)))
    to_modes, from_modes = (
        np.ascontiguousarray(np.stack([getattr(op, name) for op in regimes])) for name in ("to_modes", "from_modes")
    )
    whole = tuple(replace(op, to_modes=to_modes[r], from_modes=from_modes[r]) for r, op in enumerate(regimes))
    return Operators(system, step, whole, Patterns(whole))


def prepare_again(operators: Operators, step: float) -> Operators:
    """The same regimes for steps of another length [s], without finding their modes again; bit for bit `prepare`'s."""
    regimes = tuple(each(lambda op: retimed(op, step), operators.regimes))
    return Operators(operators.system, step, regimes, Patterns(regimes))

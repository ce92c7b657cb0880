"""One axis of a study: its values, as the file writes them and as a coordinate of the results."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from heatsim.scenario.quantities import kind_of, parse
from heatsim.study.file import Scalar


@dataclass(frozen=True)
class Axis:
    """One axis: its name, its values as the file writes them, and the changes each makes to the boat's file."""

    name: str
    values: tuple[Scalar, ...]
    changes: tuple[tuple[str, ...], ...]

    def coordinate(self) -> tuple[npt.NDArray[Any], str]:
        """Values as a coordinate, and their unit: quantities as numbers where all are of one kind."""
        kinds = {kind_of(value) for value in self.values}
        kind = kinds.pop() if len(kinds) == 1 else ""
        if kind:
            return np.array([parse(value, kind) for value in self.values]), UNITS.get(kind, "")
        if all(isinstance(value, int | float) and not isinstance(value, bool) for value in self.values):
            return np.array(self.values), ""
        return np.array([str(value) for value in self.values]), ""


UNITS = {
    "temperature": "degC", "temperature difference": "K", "angle": "degree", "length": "m", "area": "m2", "power": "W",
    "flow": "m3 s-1", "share": "1", "speed": "m s-1", "air changes": "s-1", "film or u-value": "W m-2 K-1",
}  # fmt: skip
"""Of coordinates, in SI (temperatures in °C)."""

"""Pictures of a study."""

from __future__ import annotations

from typing import TYPE_CHECKING

from heatsim.report.amounts import UnitSystem
from heatsim.report.pictures import Drawing
from heatsim.study.design import Design

if TYPE_CHECKING:
    import xarray as xr


def study_drawings(design: Design, data: xr.Dataset, system: UnitSystem) -> list[Drawing]:
    """The pictures of what a study varies."""
    return []

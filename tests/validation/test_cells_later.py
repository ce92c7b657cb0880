"""The test cells of ANSI/ASHRAE 140-2020 and 2023 over their own weather year: reported, not judged.

Their definition is not surely remembered: the window is taken as U 2.10 W/(m²·K) and solar factor 0.769, everything
else as in the earlier editions. What is out lies mostly high in cooling, as with a window that lets in too much; the
setback of 640 and 940 is a jump here, which makes a higher peak than a ramp.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from validation.sheet import Sheet
from validation.test_cells import enter

FAMILY = "standard test cells, later editions"

NUMBERS = ("600", "610", "630", "640", "650", "900", "910", "930", "940", "950", "960", "600FF", "900FF")


@pytest.mark.slow
@pytest.mark.parametrize("number", NUMBERS)
def test_example_results(sheet: Sheet, shared_data: Path, number: str) -> None:
    source = "ANSI/ASHRAE 140-2023, example results"
    enter(sheet, number, shared_data, "2020-2023", source, "the range as published; definition uncertain")

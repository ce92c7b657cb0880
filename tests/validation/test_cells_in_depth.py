"""The in-depth test cells of ANSI/ASHRAE 140, 2001 to 2017 editions: reported, not judged.

Their ranges are less surely remembered than those of the two series, those of 200 to 215 least.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from validation.sheet import Sheet
from validation.test_cells import EDITION, enter

FAMILY = "standard test cells, in depth"

CONDUCTION = ("200", "210", "215", "220", "230", "240", "250", "395", "400", "410", "420", "430", "800")
SUN = ("270", "280", "290", "300", "310", "320", "440", "810")

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("number", [*CONDUCTION, *SUN])
def test_one_thing_at_a_time(sheet: Sheet, shared_data: Path, number: str) -> None:
    """Conduction, emissivity, infiltration, gain and absorptance; sun through glass with and without shade."""
    enter(sheet, number, shared_data, "2001-2017", EDITION, "the range as published")

"""Long-wave exchange in a room: the engine's air and radiant node against radiosity with exact view factors.

The test cell of ANSI/ASHRAE 140 case 600 in the dark, 20 °C inside and 10 °C outside, with the standard's films.
"""

from __future__ import annotations

import numpy as np
from validation import cells
from validation.radiosity import losses, view_factors
from validation.sheet import Sheet
from validation.test_cells import dark_losses

FAMILY = "radiant exchange in rooms"

SOURCE = "Incropera et al., 6th ed., 13.3: radiosity of grey diffuse surfaces, view factors by summing patches"
WINDOWS = ((0.5, 3.5, 0.2, 2.2), (4.5, 7.5, 0.2, 2.2))
"""[m] Of the cell: 3 × 2 m each, sill at 0.2 m, 0.5 m from the corners."""
PATHS = {"hull": "floor", "deck": "roof", "house": "walls", "glass": "windows"}


def resistance(name: str) -> float:
    return sum(thickness / conductivity for _, thickness, conductivity, _, _ in cells.LAY_UPS[name])


def exact() -> dict[str, float]:
    """Loss coefficients of floor, roof, walls and windows by radiosity. [W/K]"""
    area, factor = view_factors((cells.LENGTH, cells.DEPTH, cells.HEIGHT), WINDOWS, (0.25, 0.25, 0.1))
    emissivity = np.array([cells.EMISSIVITY] * 6 + [cells.GLASS_EMISSIVITY])
    film = cells.INSIDE - emissivity * cells.LONG_WAVE_INSIDE
    through = [resistance("light floor"), resistance("roof"), *[resistance("light wall")] * 4, cells.PANES]
    outside = np.array([cells.OUTSIDE] * 6 + [cells.OUTSIDE_GLASS])
    heat = losses(area, factor, emissivity, film, 1.0 / (np.array(through) + 1.0 / outside), 293.15, 283.15) / 10.0
    return {"floor": heat[0], "roof": heat[1], "walls": heat[2:6].sum(), "windows": heat[6]}


def test_loss_of_a_cell_by_radiosity(sheet: Sheet) -> None:
    ours, published = dark_losses("600", to_the_air=False), exact()
    for path, part in PATHS.items():
        sheet.value(
            f"loss coefficient through the {part} of case 600", published[part], ours[path], source=SOURCE, unit="W/K",
            within=0.005 * published[part], confidence="formula",
            because="one radiant node for surfaces that see each other unevenly, T⁴ linearised 3 K away: 0.5 %",
        )  # fmt: skip


def test_view_factors_of_a_cube() -> None:
    """0.2 to every other face (Incropera et al., 6th ed., figure 13.4 at equal sides), nearer with every halving.

    Patches that share an edge of the box are seen too coarsely: 5 % at a tenth of the side.
    """
    off = []
    for patch in (0.1, 0.05):
        area, factor = view_factors((1.0, 1.0, 1.0), (), (patch, patch, patch))
        np.testing.assert_allclose(area[:6], 1.0)
        assert np.all(np.diag(factor) == 0.0)
        off.append(np.abs(factor[:6, :6][~np.eye(6, dtype=bool)] - 0.2).max() / 0.2)
    assert off[0] < 0.05
    assert off[1] < 0.6 * off[0]


def test_radiosity_of_a_room_at_one_temperature_moves_nothing() -> None:
    area, factor = view_factors((2.0, 2.0, 2.0), ((0.4, 1.6, 0.4, 1.6),), (0.2, 0.2, 0.2))
    same = losses(area, factor, np.full(7, 0.9), np.full(7, 3.0), np.full(7, 0.5), 290.0, 290.0)
    np.testing.assert_allclose(same, 0.0, atol=1e-9)

"""EN 673, ISO 10077-1 and EN 410: U of the shipped glazings in the heat network, and their solar factors."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from boxes import plain_face
from validation.rigs import Rig, boat, room
from validation.sheet import Sheet

import heatsim
from heatsim.physics import glazing
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolved import Glazing
from heatsim.tables.loader import names

FAMILY = "glass"
FILMS = (1.0 / 25.0, 1.0 / 7.7)
"""[m²·K/W] Outside and inside, EN 673."""
MARINE = "the shipped value is one for all makes and given to one decimal"
TYPICAL = "EN 410, typical of the trade's data sheets"


@cache
def _shipped() -> dict[str, Glazing]:
    """Every shipped glazing as a scenario resolves it."""
    faces = ", ".join(f"{{kind: glass, area: 1 m2, bearing: 90 deg, glazing: {name}}}" for name in names("glazings"))
    text = f"""format: 1
yacht: {{name: Test, length: 10 m, kind: motor}}
place: {{region: BVI, month: 7, berth: alongside, heading: 0 deg}}
zones: {{room: {{use: cabin, deck: main, floor_area: 30 m2, height: 2 m, faces: [{faces}]}}}}
"""
    return {x.name: x for x in heatsim.resolve(read_text(text)).glazings}


def in_the_network(shipped: Glazing) -> float:
    """U by the heat that the network's own window passes per kelvin and square metre, between the standard's films."""
    window = plain_face(
        "window", "glass", 90.0, 90.0, 1.0, glazing=shipped.name, emissivity=0.0, inside_film=1.0 / FILMS[1],
        outside_film=1.0 / FILMS[0],
    )  # fmt: skip
    dark = replace(shipped, outside_emissivity=0.0, inside_emissivity=0.0)
    skin = Rig(boat([room()], [window], {}, glazings=(dark,))).response(86400.0, 0.0, 1.0)["window inside"]
    return float(np.real(skin)) / FILMS[1]


def en673(*panes: tuple[float, float], gap: float = 0.0) -> float:
    """U by the standard's own procedure: air between upright bare panes of thickness and conductivity."""
    resistance = sum(d / k for d, k in panes)
    if gap:
        density, viscosity, conductivity, heat = 1.232, 1.761e-5, 0.02496, 1008.0
        prandtl = viscosity * heat / conductivity
        grashof = 9.81 * gap**3 * 15.0 * density**2 / (283.0 * viscosity**2)
        convection = max(1.0, 0.035 * (grashof * prandtl) ** 0.38) * conductivity / gap
        radiation = 4.0 * 5.67e-8 * 283.0**3 / (2.0 / 0.837 - 1.0)
        resistance += 1.0 / (convection + radiation)
    return 1.0 / (FILMS[0] + resistance + FILMS[1])


CLEAR = 1.0
U_VALUES = {
    "single clear 6 mm": en673((0.006, CLEAR)),
    "single clear 10 mm": en673((0.010, CLEAR)),
    "single clear 12 mm": en673((0.012, CLEAR)),
    "single grey 10 mm": en673((0.010, CLEAR)),
    "single bronze 6 mm": en673((0.006, CLEAR)),
    "dark privacy 10 mm": en673((0.010, CLEAR)),
    "laminated clear 12 mm": en673((0.0105, CLEAR), (0.0015, 0.2)),
    "laminated solar 12 mm": en673((0.0105, CLEAR), (0.0015, 0.2)),
    "acrylic hatch 12 mm": en673((0.012, 0.2)),
    "smoked acrylic hatch 12 mm": en673((0.012, 0.2)),
    "clear vinyl curtain 1 mm": en673((0.001, 0.16)),
    "double clear 6-12-6": en673((0.006, CLEAR), (0.006, CLEAR), gap=0.012),
    "double grey 6-12-6": en673((0.006, CLEAR), (0.006, CLEAR), gap=0.012),
}
"""Of the glazings whose panes and coats are known."""


@pytest.mark.parametrize("name", U_VALUES)
def test_u_value(name: str, sheet: Sheet) -> None:
    sheet.value(
        f"U of {name}", U_VALUES[name], in_the_network(_shipped()[name]), within=0.06, because=MARINE,
        source="EN 673:2011, its procedure evaluated", unit="W/(m2 K)", confidence="formula",
    )  # fmt: skip


@pytest.mark.parametrize(("name", "published"), [("double clear 6-12-6", 2.8), ("double solar 6-12-6", 1.7)])
def test_double_glass_of_the_table(name: str, published: float, sheet: Sheet) -> None:
    sheet.value(
        f"U of {name}, panes as in the table", published, in_the_network(_shipped()[name]), within=0.05,
        because="printed to one decimal", source="ISO 10077-1:2006, table C.2 (4-12-4)", unit="W/(m2 K)",
        confidence="from memory",
    )  # fmt: skip


SOLAR_FACTORS = {
    "single clear 6 mm": (0.80, 0.84),
    "single clear 10 mm": (0.76, 0.80),
    "single clear 12 mm": (0.73, 0.77),
    "single bronze 6 mm": (0.60, 0.62),
    "double grey 6-12-6": (0.48, 0.50),
    "double solar 6-12-6": (0.25, 0.40),
}


@pytest.mark.parametrize("name", SOLAR_FACTORS)
def test_solar_factor(name: str, sheet: Sheet) -> None:
    """Transmitted, and absorbed times its share inwards, summed from the resolved table at normal incidence."""
    table = _shipped()[name]
    u_value = 1.0 / (FILMS[0] + table.resistance + FILMS[1])
    outer, inner = u_value * FILMS[0], u_value * (FILMS[0] + table.resistance)
    ours = table.transmittance[0] + outer * table.outer_absorptance[0] + inner * table.inner_absorptance[0]
    sheet.span(
        f"solar factor of {name}", SOLAR_FACTORS[name], ours, source=TYPICAL, unit="1", confidence="from memory",
        because="the range of makes",
    )  # fmt: skip


def test_transmittance_of_clear_float(sheet: Sheet) -> None:
    ours = glazing.angular_table(5.7, 0.82, 1).transmittance[0]
    sheet.span(
        "transmittance of 6 mm clear float of g 0.82", (0.77, 0.81), ours, source=TYPICAL, unit="1",
        confidence="from memory", because="the range of makes",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("film", "low", "high"),
    [((0.36, 0.18), 0.42, 0.52), ((0.17, 0.24), 0.28, 0.38), ((0.12, 0.55), 0.18, 0.27)],
)
def test_sun_film_on_clear_float(film: tuple[float, float], low: float, high: float, sheet: Sheet) -> None:
    clear = glazing.fit_glass(5.7, 0.82, 1)._replace(film=glazing.film_of_sheet(*film))
    sheet.span(
        f"solar factor of 6 mm clear float with a film, {film[0]:g} passed and {film[1]:g} reflected", (low, high),
        glazing.solar_factor(glazing.tabulated(clear)), source="data sheets of sun films, several makes", unit="1",
        confidence="from memory", because="the range of makes",
    )  # fmt: skip


def test_another_glass_is_seen() -> None:
    assert abs(in_the_network(_shipped()["single clear 6 mm"]) - U_VALUES["double clear 6-12-6"]) > 1.0

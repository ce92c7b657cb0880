"""ISO 6946: U of sections of a boat through the whole line, air gaps, and films by wind and direction."""

from __future__ import annotations

import pytest
from boxes import plain_day
from validation.rigs import boat, face, room
from validation.sheet import Sheet

import heatsim
from heatsim.physics.films import natural_inside_convection, outside_convection, radiative_coefficient
from heatsim.scenario.shell import air_gap_resistance, material_layer

FAMILY = "layered walls"
INSIDE, OUTSIDE = 0.13, 0.04
"""[m²·K/W] Films of ISO 6946 for a wall."""
BY_HAND = "ISO 6946:2017, 6.7.1, worked by hand to four decimals"

SECTIONS: dict[str, tuple[list[tuple[str, float]], float]] = {
    "4 GRP, 25 PVC foam, 3 GRP": ([("GRP", 3), ("PVC foam", 25), ("GRP", 4)], 1.1018),
    "the same, 40 mineral wool, 9 plywood": (
        [("plywood", 9), ("mineral wool", 40), ("GRP", 3), ("PVC foam", 25), ("GRP", 4)], 0.5059,
    ),
    "6 aluminium, 50 mineral wool, 12 plywood": ([("plywood", 12), ("mineral wool", 50), ("aluminium", 6)], 0.6612),
    "8 steel, 75 mineral wool, 15 plywood": ([("plywood", 15), ("mineral wool", 75), ("steel", 8)], 0.4628),
}  # fmt: skip
"""Inside to outside, mm, of materials of the shipped table; U with the films above."""


@pytest.mark.parametrize("section", SECTIONS)
def test_steady_load_through_a_section(section: str, sheet: Sheet) -> None:
    """10 m² of it between 34 and 24 °C, through `simulate`: U = load ÷ (A ΔT)."""
    stack, published = SECTIONS[section]
    made = [material_layer(name, mm / 1000.0) for name, mm in stack]
    wall = [(x.thickness, x.conductivity, x.density, x.specific_heat) for x in made]
    day = plain_day(dry_bulb_max=34.0, daily_range=0.0, dew_point=10.0)
    skin = face("wall", 10.0, 1.0 / INSIDE, 1.0 / OUTSIDE)
    load = heatsim.simulate(boat([room(air_factor=1.0)], [skin], {"wall": wall}, day=day), causes=False)
    sheet.value(
        f"U of {section} mm", published, float(load["sensible_cooling"].mean()) / 100.0, within=6e-5,
        because="worked to four decimals", source=BY_HAND, unit="W/(m2 K)", confidence="formula",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("mm", "published"), [(5, 0.11), (7, 0.13), (10, 0.15), (15, 0.17), (25, 0.18), (50, 0.18), (100, 0.18)]
)
def test_air_gap(mm: float, published: float, sheet: Sheet) -> None:
    sheet.value(
        f"resistance of an air gap of {mm} mm", published, air_gap_resistance(mm / 1000.0), within=0.005,
        because="printed to two decimals", source="ISO 6946:2017, table 8, horizontal flow", unit="m2 K/W",
        confidence="from memory",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("wind", "published"), [(1, 0.08), (2, 0.06), (3, 0.05), (4, 0.04), (5, 0.04), (7, 0.03), (10, 0.02)]
)
def test_outside_resistance_by_wind(wind: float, published: float, sheet: Sheet) -> None:
    film = outside_convection(wind) + radiative_coefficient(10.0, 10.0, 0.9)
    sheet.value(
        f"outside surface resistance in wind of {wind} m/s", published, 1.0 / film, within=0.006,
        because="printed to two decimals, of a film with another mean temperature", unit="m2 K/W",
        source="ISO 6946:2007, annex A, table A.2", confidence="from memory",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("flow", "tilt", "warmer", "published"),
    [("up", 0.0, False, 0.10), ("sideways", 90.0, True, 0.13), ("down", 0.0, True, 0.17), 
     ("up by a sole", 180.0, True, 0.10)],
)  # fmt: skip
def test_inside_resistance_by_direction(flow: str, tilt: float, warmer: bool, published: float, sheet: Sheet) -> None:
    film = float(natural_inside_convection(tilt, warmer)) + radiative_coefficient(20.0, 20.0, 0.9)
    sheet.value(
        f"inside surface resistance, heat flowing {flow}", published, 1.0 / film, within=0.005,
        because="printed to two decimals", source="ISO 6946:2017, table 7", unit="m2 K/W", confidence="from memory",
        count=int(tilt < 180.0),
    )  # fmt: skip


@pytest.mark.parametrize(("celsius", "published"), [(-10, 4.1), (0, 4.6), (10, 5.1), (20, 5.7), (30, 6.3)])
def test_black_body_coefficient(celsius: float, published: float, sheet: Sheet) -> None:
    sheet.value(
        f"black-body coefficient at {celsius} degC", published, float(radiative_coefficient(celsius, celsius, 1.0)),
        within=0.05, because="printed to one decimal", source="ISO 6946:2017, annex C, h_r0", unit="W/(m2 K)",
        confidence="from memory",
    )  # fmt: skip

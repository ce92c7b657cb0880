"""Surface films beside the handbook's, and sea water as the equipment counts with it."""

from __future__ import annotations

import pytest
from validation.sheet import Sheet

from heatsim.equipment.capacity import SEA_HEAT
from heatsim.physics import films

FAMILY = "films and sea water"
HANDBOOK = "ASHRAE Fundamentals, surface conductances, emittance 0.90"


@pytest.mark.parametrize(("wind", "celsius", "published"), [(3.4, 30.0, 22.7), (6.7, 0.0, 34.0)])
def test_outside_film(wind: float, celsius: float, published: float, sheet: Sheet) -> None:
    ours = films.outside_convection(wind) + films.radiative_coefficient(celsius, celsius, 0.9)
    sheet.value(
        f"outside film in moving air of {wind:g} m/s", published, ours, within=0.1 * published, unit="W/(m2 K)",
        because="correlations of wind and film differ by more than a tenth from each other", source=HANDBOOK,
        confidence="from memory",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("flow", "tilt", "warmer", "published"),
    [("up", 0.0, False, 9.26), ("sideways", 90.0, True, 8.29), ("down", 0.0, True, 6.13)],
)  # fmt: skip
def test_inside_film(flow: str, tilt: float, warmer: bool, published: float, sheet: Sheet) -> None:
    ours = float(films.natural_inside_convection(tilt, warmer)) + films.radiative_coefficient(22.0, 22.0, 0.9)
    sheet.value(
        f"inside film, still air, heat flowing {flow}", published, ours, within=0.1 * published, unit="W/(m2 K)",
        because="another standard's values, ISO 6946: its 7.7 sideways for 8.29", source=HANDBOOK,
        confidence="from memory", judged=False,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("celsius", "published"),
    [(0, 4.0985), (10, 4.0976), (15, 4.0968), (20, 4.0951), (25, 4.0923), (28, 4.0901), (30, 4.0885), (32, 4.0867)],
)
def test_heat_of_sea_water(celsius: float, published: float, sheet: Sheet) -> None:
    sheet.value(
        f"heat capacity of sea water at {celsius} degC", published, SEA_HEAT / 1e6, within=0.01, unit="MJ/(m3 K)",
        because="one value for all seas: 0.25 % of a flow that is known to a tenth",
        source="TEOS-10, reference salinity 35.165 g/kg, by the library gsw", confidence="formula",
    )  # fmt: skip

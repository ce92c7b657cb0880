"""Sea water: density, specific heat, freezing point and viscosity, against the equation of state of today."""

from __future__ import annotations

import pytest
from validation.sheet import Sheet

from heatsim.physics.sea_water import density, freezing_point, specific_heat, viscosity

FAMILY = "sea water"

TODAY = "TEOS-10 by gsw 3.6.23 at the surface"
OCEAN = {0: (1028.107, 3986.45), 10: (1026.954, 3990.06), 20: (1024.766, 3996.14), 25: (1023.344, 3998.98),
         28: (1022.396, 4000.55), 30: (1021.726, 4001.54), 32: (1021.028, 4002.50)}  # fmt: skip
"""[°C]: [kg/m³], [J/(kg K)] at the reference salinity, practical salinity 35."""
OTHERS = {"Mediterranean 28 degC": (28.0, 38.5, 1024.893, 3984.66), "brackish 15 degC": (15.0, 7.0, 1004.461, 4146.67)}
"""[°C], absolute salinity [g/kg]."""
PRACTICAL = 35.0 / 35.16504
DENSE = "both standards claim hundredths of a kg/m3; a rise is known no better than 1 %"
HEAT = "0.1 %: the standard of 1980 lies that far from that of 2010; a rise is known no better than 1 %"


@pytest.mark.parametrize("temperature", OCEAN)
def test_ocean(temperature: int, sheet: Sheet) -> None:
    rho, cp = OCEAN[temperature]
    sheet.value(f"density, ocean, {temperature} degC", rho, float(density(temperature)), within=0.05, because=DENSE,
                source=TODAY, unit="kg/m3", confidence="formula")  # fmt: skip
    sheet.value(f"specific heat, ocean, {temperature} degC", cp, float(specific_heat(temperature)), within=4.0,
                because=HEAT, source=TODAY, unit="J/(kg K)", confidence="formula")  # fmt: skip


@pytest.mark.parametrize("name", OTHERS)
def test_other_waters(name: str, sheet: Sheet) -> None:
    temperature, absolute, rho, cp = OTHERS[name]
    salinity = absolute * PRACTICAL
    sheet.value(f"density, {name}", rho, float(density(temperature, salinity)), within=0.06, because=DENSE,
                source=TODAY, unit="kg/m3", confidence="formula")  # fmt: skip
    sheet.value(f"specific heat, {name}", cp, float(specific_heat(temperature, salinity)), within=4.1, because=HEAT,
                source=TODAY, unit="J/(kg K)", confidence="formula")  # fmt: skip


@pytest.mark.parametrize(
    ("salinity", "temperature", "published"),
    [(0, 5, 999.96675), (0, 25, 997.04796), (35, 5, 1027.67547), (35, 25, 1023.34306)],
)
def test_check_values_of_1980(salinity: int, temperature: int, published: float, sheet: Sheet) -> None:
    sheet.value(
        f"density, salinity {salinity}, {temperature} degC", published, float(density(temperature, salinity)),
        within=5e-5, because="the same polynomial: five rounded decimals", unit="kg/m3", confidence="from memory",
        source="UNESCO technical papers in marine science 44 (1983), check values",
    )  # fmt: skip


def test_freezing(sheet: Sheet) -> None:
    sheet.value("freezing point, ocean", -1.919, float(freezing_point(35.0)), within=0.01, source=TODAY, unit="degC",
                because="0.01 K: far below what any check of a condenser needs", confidence="formula")  # fmt: skip


@pytest.mark.parametrize(("salinity", "published"), [(35.0, 1.18831e-6), (0.0, 1.13902e-6)])
def test_kinematic_viscosity(salinity: float, published: float, sheet: Sheet) -> None:
    ours = float(viscosity(15.0, salinity) / density(15.0, salinity))
    sheet.value(
        f"kinematic viscosity, salinity {salinity:g}, 15 degC", 1e6 * published, 1e6 * ours, within=0.012,
        because="1 %: friction goes with its fourth root", unit="mm2/s", confidence="from memory",
        source="ITTC 1978 towing tank standard",
    )  # fmt: skip

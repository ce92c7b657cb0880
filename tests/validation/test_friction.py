"""Friction in round ducts and pipes, as ducts, hoses and chilled water pipes are sized with it."""

from __future__ import annotations

from math import log10

import pytest
from validation.sheet import Sheet

from heatsim.services.friction import AIR, GRAVITY, Fluid, Run, water

FAMILY = "friction in ducts and pipes"

CHART = "handbook friction chart of round ducts (galvanized, 40 joints per 30 m, air of 1.20 kg/m3)"
ROUGH = 0.15e-3
"""[m] Of the chart's ducts."""
READ = "a chart is read to a tenth of its decade's division"


@pytest.mark.parametrize(
    ("flow", "bore", "published", "within", "because"),
    [
        (1.0, 0.500, 0.55, 0.04, READ),
        (1.888, 0.508, 1.88, 0.28, "15 %: read off in in w.g. per 100 ft, with joints that smooth walls lack"),
    ],
)
def test_chart(flow: float, bore: float, published: float, within: float, because: str, sheet: Sheet) -> None:
    sheet.value(
        f"{1e3 * flow:g} L/s in {1e3 * bore:g} mm", published, Run(AIR, bore, 1.0, ROUGH).gradient(flow), within=within,
        because=because, source=CHART, unit="Pa/m", confidence="seen",
    )  # fmt: skip


def test_chart_from_memory(sheet: Sheet) -> None:
    sheet.span(
        "500 L/s in 300 mm", (1.9, 2.0), Run(AIR, 0.3, 1.0, ROUGH).gradient(0.5), source=CHART, unit="Pa/m",
        confidence="from memory",
    )  # fmt: skip


def test_speed_on_the_chart(sheet: Sheet) -> None:
    speed = Run(AIR, 0.508, 1.0, ROUGH).speed(1.888) / 0.00508
    sheet.value("speed of 1888 L/s in 508 mm", 1850.0, speed, within=25.0, because="read to 25 fpm", source=CHART,
                unit="fpm", confidence="seen")  # fmt: skip


THIN = Fluid(1000.0, 1e-3, 4186.0)


def _factor(reynolds: float, roughness: float) -> float:
    """Darcy's factor as a run of one metre and one metre's bore has it."""
    flow = reynolds * THIN.viscosity / THIN.density * 3.141592653589793 / 4.0
    run = Run(THIN, 1.0, 1.0, roughness)
    return run.gradient(flow) / (THIN.density * run.speed(flow) ** 2 / 2.0)


@pytest.mark.parametrize(
    ("reynolds", "roughness", "published"), [(1e5, 1e-3, 0.0222), (1e6, 1e-2, 0.0380), (4e3, 0.0, 0.0399)]
)
def test_moody(reynolds: float, roughness: float, published: float, sheet: Sheet) -> None:
    sheet.value(
        f"Re {reynolds:.0e}, roughness {roughness:g}", published, _factor(reynolds, roughness), within=2e-4,
        because="the chart is read to two units of the fourth place", source="Moody 1944, friction chart", unit="-",
        confidence="from memory",
    )  # fmt: skip


@pytest.mark.parametrize("reynolds", [1e4, 3e4, 1e5])
def test_blasius(reynolds: float, sheet: Sheet) -> None:
    published = 0.3164 / reynolds**0.25
    sheet.value(
        f"smooth, Re {reynolds:.0e}", published, _factor(reynolds, 0.0), within=0.025 * published,
        because="Blasius' power law stays within 2.5 % of measured smooth pipes below Re 1e5",
        source="Blasius 1913, f = 0.3164 / Re^0.25", unit="-", confidence="formula",
    )  # fmt: skip


@pytest.mark.parametrize(("reynolds", "roughness"), [(2e4, 9e-3), (1e5, 3e-4), (5e6, 1e-4)])
def test_colebrook(reynolds: float, roughness: float, sheet: Sheet) -> None:
    from scipy.optimize import brentq

    def off(root: float) -> float:
        return float(root + 2.0 * log10(roughness / 3.7 + 2.51 * root / reynolds))

    published = brentq(off, 1.0, 20.0) ** -2.0
    sheet.value(
        f"Re {reynolds:.0e}, roughness {roughness:g}, Colebrook", published, _factor(reynolds, roughness),
        within=1e-6 * published, because="both solve one equation: the factors of its logarithm are rounded",
        source="Colebrook 1939, solved by bisection", unit="-", confidence="formula",
    )  # fmt: skip


@pytest.mark.parametrize(("flow", "bore"), [(0.5e-3, 0.025), (1e-3, 0.0254), (3e-3, 0.051), (10e-3, 0.1)])
def test_hazen_williams(flow: float, bore: float, sheet: Sheet) -> None:
    published = 100.0 * 10.67 * flow**1.852 / (150.0**1.852 * bore**4.8704)
    fluid = water(20.0)
    ours = 100.0 * Run(fluid, bore, 1.0, 0.0).gradient(flow) / (fluid.density * GRAVITY)
    sheet.value(
        f"water 20 degC, {1e3 * flow:g} L/s in {1e3 * bore:g} mm, smooth", published, ours, within=0.1 * published,
        because="10 %: a power law of plumbers' pipes with one coefficient for all", unit="m per 100 m",
        source="Hazen and Williams, coefficient 150", confidence="formula",
    )  # fmt: skip

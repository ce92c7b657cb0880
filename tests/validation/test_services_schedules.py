"""The schedules that a yard is handed, row by row, against formulas of the handbook worked from the row's own inputs.

The boat is invented; what is checked is that heat, flow, friction and copper of its rows obey laws that nobody here
wrote, with properties of air and water from elsewhere. Rows are told as ours over the formula's, for their inputs move
with every unit and day of the plan.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import log10, pi, sqrt
from typing import Any

import pytest
from validation.sheet import Sheet

from heatsim.equipment.plan import Plan, plan
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolve import resolve
from heatsim.scenario.services import Services
from heatsim.services.cables import cables
from heatsim.services.chilled_water import chilled_water
from heatsim.services.electrical import loads
from heatsim.services.grilles import air_systems, ducts
from heatsim.services.seawater import sea_schedules
from heatsim.services.surroundings import surroundings

FAMILY = "schedules of services"

COLEBROOK = "Darcy's law with Colebrook 1939, solved by bisection"
GRAVITY = 9.80665
KNOT = """\
format: 1
yacht: {name: Knot, length: 9 m, persons: 4}
place: {region: CYC, month: 8, berth: alongside, heading: 90 deg}
climate: {days: [hot]}
zones:
  saloon:
    use: saloon
    setpoint: 24 degC
    fresh_air: 60 m3/h
    quick: {deck: main, length: 3 m, beam: 2.5 m, height: 2 m}
"""
"""Invented."""


@cache
def _planned() -> Plan:
    return plan(resolve(read_text(KNOT)))


def _fitted(layout: str | None = None, **services: Any) -> Plan:
    made = _planned()
    chosen = made.chosen if layout is None else next(one for one in made.layouts if one.name == layout)
    return replace(made, resolved=replace(made.resolved, services=Services.model_validate(services)), chosen=chosen)


def _gradient(flow: float, bore: float, roughness: float, density: float, viscosity: float) -> float:
    """Pressure lost along a metre. [Pa/m]"""
    from scipy.optimize import brentq

    speed = flow / (pi / 4.0 * bore**2)
    reynolds = density * speed * bore / viscosity

    def off(root: float) -> float:
        return float(root + 2.0 * log10(roughness / bore / 3.7 + 2.51 * root / reynolds))

    return float(brentq(off, 1.0, 20.0) ** -2.0 / bore * density * speed**2 / 2.0)


@pytest.mark.parametrize(("kind", "roughness"), [("flexible", 0.9e-3), ("smooth", 0.09e-3)])
def test_ducts(kind: str, roughness: float, sheet: Sheet) -> None:
    made = _fitted(ducts=[{"zone": "saloon", "bore": "150 mm", "length": "4 m", "kind": kind, "bends": 1}] * 2)
    around = surroundings(made)
    systems, assumed = air_systems(made, around)
    row = ducts(made, systems, assumed, around).to_pandas().to_dict("records")[0]
    published = _gradient(row["flow [m³/s]"], 0.15, roughness, 1.2041, 1.82e-5)
    sheet.value(
        f"friction of a {kind} duct of 150 mm, over the formula's", 1.0, row["friction Pa/m"] / published, within=0.002,
        because="0.2 %: the chart's air of 1.2041 kg/m3 beside 1.204", source=COLEBROOK, unit="-", confidence="formula",
    )  # fmt: skip


def test_sea_water(sheet: Sheet) -> None:
    branch = {"serves": "saloon", "hose": "16 mm", "length": "7 m", "bends": 0, "highest_point": "0.6 m"}
    made = _fitted(seawater={"circuits": [{"name": "main", "serves": ["saloon"], "branches": [branch]}]})
    units, hoses, *_ = sea_schedules(made)
    unit, hose = units.to_pandas().to_dict("records")[0], hoses.to_pandas().to_dict("records")[0]
    flow, density = hose["flow of one [m³/s]"], 1022.4
    carried = 4.0901e6
    rise = unit["heat to sea [W]"] / (carried * unit["gets [m³/s]"])
    sheet.value(
        "rise of the water, over the formula's", 1.0, unit["rise [K]"] / rise, within=0.002,
        because="0.2 %: heat of the sea at 28 degC for that of the plan's", unit="-", confidence="formula",
        source="heat over flow and 4.0901 MJ/(m3 K), TEOS-10 by gsw 3.6.23",
    )  # fmt: skip
    speed = flow / (pi / 4.0 * 0.016**2)
    kinematic = 0.88e-6
    published = (_gradient(flow, 0.016, 5e-5, density, density * kinematic) * 7.0 / density + speed**2 / 2.0) / GRAVITY
    sheet.value(
        "head of a straight hose of 7 m with its free end, over the formula's", 1.0,
        hose["hose and bends [m]"] / published, within=0.02,
        because="2 %: viscosity of the sea at 29 degC is known to some per cent, of which friction takes a fifth",
        source=COLEBROOK + "; one velocity head at the end", unit="-", confidence="formula",
    )  # fmt: skip


def test_chilled_water(sheet: Sheet) -> None:
    made = _fitted("central plant", chilled_water={"runs": [{"zone": "saloon", "length": "10 m", "bore": "16 mm"}]})
    pipes, _ = chilled_water(made, surroundings(made))
    row = pipes.to_pandas().to_dict("records")[0]
    published = row["coil [W]"] / (999.9 * 4196.0 * 5.0)
    sheet.value(
        "flow of chilled water at 5 K, over the formula's", 1.0, row["flow [m³/s]"] / published, within=0.003,
        because="0.3 %: tables of water at 7 degC are rounded", unit="-", confidence="from memory",
        source="999.9 kg/m3 and 4196 J/(kg K), textbook",
    )  # fmt: skip
    friction = _gradient(row["flow [m³/s]"], 0.016, 1.5e-6, 999.9, 1.428e-3)
    sheet.value(
        "friction in drawn tube, over the formula's", 1.0, row["friction Pa/m"] / friction, within=0.02, unit="-",
        because="2 %: viscosity of water at 7 degC by two correlations", source=COLEBROOK + ", 1.428 mPa s",
        confidence="from memory",
    )  # fmt: skip


def _copper(**cable: str) -> float:
    made = _fitted(cables=[{"name": "feed"} | cable])
    rows = cables(made).to_pandas().to_dict("records")
    return float(next(row["copper [mm²]"] for row in rows if row["circuit"] == "feed"))


def test_cables(sheet: Sheet) -> None:
    foot = 0.3048
    copper = _copper(length=f"{15 * foot} m", current="20 A", voltage="12 V", system="dc")
    sheet.value(
        "20 A over 30 ft there and back, 12 V, 3 %: size made", 10.0, copper, within=0.01,
        because="a size is a size: 8.33 mm2 by the standard, then the next of IEC 60228",
        source="ISO 10133:2012, annex C, E = 0.0164 I L / S", unit="mm2", confidence="from memory",
    )  # fmt: skip
    made = _fitted(cables=[{"name": "feed", "length": "20 m", "section": "2.5 mm2", "current": "16 A",
                            "voltage": "230 V", "system": "ac"}])  # fmt: skip
    drop = next(r["drop [%]"] for r in cables(made).to_pandas().to_dict("records") if r["circuit"] == "feed")
    sheet.value(
        "16 A over 20 m of 2.5 mm2 at 230 V", 1.95, drop, within=0.1,
        because="warm copper of 0.0179 for 0.0175, 2 %, and a tenth of print", unit="%", confidence="formula",
        source="two ways of 0.0175 ohm mm2/m",
    )  # fmt: skip


def test_currents(sheet: Sheet) -> None:
    """Currents of the rows as vectors against the power of the list's last row."""
    *rows, total = loads(_fitted("one a zone")).to_pandas().to_dict("records")
    turned = [(row["running current [A]"], row["power factor [-]"]) for row in rows]
    active = 230.0 * sum(amps * factor for amps, factor in turned)
    reactive = 230.0 * sum(amps * sqrt(1.0 - factor**2) for amps, factor in turned)
    for name, ours, theirs in (("power", total["running [W]"], active), (
            "power factor", total["power factor [-]"], active / sqrt(active**2 + reactive**2))):  # fmt: skip
        sheet.value(
            f"{name} of all running, over the vector sum of their currents at 230 V", 1.0, ours / theirs, within=1e-6,
            because="round-off", source="currents of one conductor add by phase", unit="-", confidence="formula",
        )  # fmt: skip

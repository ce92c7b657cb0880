"""What the trade says of air, water and condensate for each 12 kBtu/h, against the schedules of a small boat.

All common practice, no source. The boat is invented and its units come from the invented catalogue, whose air flows are
the trade's own; temperatures, condensate and water's rise are found, not entered.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise

import pytest
from validation.sheet import Sheet

from heatsim.equipment.catalogue import read_catalogue
from heatsim.equipment.plan import Plan, plan
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolve import resolve
from heatsim.scenario.services import Services
from heatsim.services.air import TON, supply
from heatsim.services.chilled_water import chilled_water
from heatsim.services.circuits import circuits
from heatsim.services.condensate import WATER, hourly
from heatsim.services.grilles import air_systems, grilles
from heatsim.services.seawater import rise
from heatsim.services.surroundings import surroundings
from heatsim.services.units import working

FAMILY = "services by the trade"
TOLD = "common practice, no source"
GALLON = 3.785411784e-3 / 60.0
"""[m³/s] One US gallon a minute."""

WREN = """\
format: 1
yacht: {name: Wren, length: 9 m, persons: 4}
place: {region: CYC, month: 8, berth: alongside, heading: 90 deg}
climate: {days: [humid]}
zones:
  saloon:
    use: saloon
    setpoint: 24 degC
    fresh_air: 60 m3/h
    quick: {deck: main, length: 3 m, beam: 2.5 m, height: 2 m}
"""
"""Invented."""


@cache
def _made() -> Plan:
    return plan(resolve(read_text(WREN)))


def test_air(sheet: Sheet) -> None:
    (row,) = supply(_made()).to_pandas().to_dict("records")
    sheet.span("air drop across the coil", (8.0, 11.0), row["room [°C]"] - row["supply [°C]"], source="15 to 20 degF",
               unit="K", confidence=TOLD)  # fmt: skip
    sheet.span("air moved for each 12 kBtu/h", (350.0, 450.0), row["per 12 kBtu/h [m³/s]"] / 4.719474e-4, unit="cfm",
               source="400 cfm a ton; 350 very humid, 450 dry", confidence=TOLD)  # fmt: skip


@pytest.mark.parametrize(("kind", "square_inches", "published"), [("supply", 70.0, 823.0), ("return", 140.0, 411.0)])
def test_grilles(kind: str, square_inches: float, published: float, sheet: Sheet) -> None:
    """The trade's least gross areas at 400 cfm a ton, as speed on the gross area through the grilles' schedule."""
    made = _made()
    assert made.chosen is not None
    work = working(made, made.chosen.offers[0])
    area = square_inches * 0.0254**2 * work.flow / (400.0 * 4.719474e-4)  # for the air it moves
    entered = {"zone": "saloon", "kind": kind, "gross_area": f"{1e4 * area:.6f} cm2", "free_share": "100 %"}
    fitted = replace(made, resolved=replace(made.resolved, services=Services.model_validate({"grilles": [entered]})))
    around = surroundings(fitted)
    schedule = grilles(fitted, air_systems(fitted, around)[0], around)
    row = next(row for row in schedule.to_pandas().to_dict("records") if row["kind"] == kind)
    sheet.value(f"{kind}, {square_inches:g} in2 a ton", published, row["free-area speed [m/s]"] / 0.00508, within=5.0,
                because="given to three figures", source="gross area by ton at 400 cfm", unit="fpm",
                confidence=TOLD)  # fmt: skip


@pytest.mark.parametrize(("gallons", "published"), [(3.0, 5.6), (3.3, 5.0), (4.2, 4.0)])
def test_rise(gallons: float, published: float, sheet: Sheet) -> None:
    """Heat to the sea 1.25 times the cooling, as the trade counts it."""
    (circuit,), _ = circuits(_made())
    unit = replace(circuit.branches[0].unit, heat=1.25 * TON)
    sheet.value(
        f"rise at {gallons:g} US gal/min a ton", published, rise(circuit, unit, gallons * GALLON), within=0.17,
        unit="K", because="given to a tenth, and of fresh water, which carries 2.3 % more",
        source="1.25 times the cooling", confidence=TOLD,
    )  # fmt: skip


CONDENSATE = ((0.5, 2.6), (0.6, 2.1), (0.7, 1.5), (0.8, 1.0))
"""Sensible share, L/h for each 12 kBtu/h."""


def test_condensate(sheet: Sheet) -> None:
    made = _made()
    assert made.chosen is not None
    offer = made.chosen.offers[0]
    done = working(made, offer).done
    share = float(done.sensible / done.total)
    for (low, high), (most, least) in (zip(*pair, strict=True) for pair in pairwise(CONDENSATE)):
        if low <= share <= high:
            published = most + (least - most) * (share - low) / (high - low)
    ours = 3.6e6 * hourly(made, offer) / (float(done.total) * offer.count) * TON
    sheet.value("condensate at its sensible share", published, ours, within=0.15, unit="L/h", confidence=TOLD,
                because="given to a tenth, in steps of a half",
                source="1.0, 1.5, 2.1, 2.6 L/h at 0.8 to 0.5")  # fmt: skip
    unit = next(one for one in read_catalogue() if one.model == "Cove 16 50 Hz")
    large = working(made, replace(offer, unit=unit, count=1))
    sheet.span("16 kBtu/h unit running flat out", (2.0, 3.5), 3.6e6 * float(large.done.condensate) / WATER,
               source="humid tropics", unit="L/h", confidence=TOLD)  # fmt: skip


def test_chilled_water(sheet: Sheet) -> None:
    made = _made()
    central = next((one for one in made.layouts if one.name == "central plant" and one.possible), None)
    assert central is not None
    assert central.plant is not None
    plan_ = replace(made, chosen=central)
    _, loop = chilled_water(plan_, surroundings(plan_))
    (row,) = loop.to_pandas().to_dict("records")
    sheet.span("chilled water at 5 K", (2.5, 2.7), row["per 12 kBtu/h [m³/s]"] / GALLON, unit="US gal/min",
               source="2.5 to 2.7 US gal/min a ton", confidence=TOLD)  # fmt: skip
    stage = central.plant.capacity * central.plant.smallest_stage
    sheet.value("loop of a 17.5 kW stage", 250.0, 1e3 * row["wanted [m³]"] / stage * 17.5e3, within=5.0,
                because="given to tens of litres", source="5 minutes, 5 K", unit="L", confidence=TOLD)  # fmt: skip

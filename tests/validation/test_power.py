"""Banks, cables, sockets and people's breath against a battery manual, the standards' formulas and the trade."""

from __future__ import annotations

import numpy as np
import pytest
from validation.sheet import Sheet

from heatsim.services.battery import Bank, Inverter, night, peukert_hours
from heatsim.services.cables import CIRCULAR_MIL, ISO_COPPER, least_section
from heatsim.services.carbon_dioxide import PER_WATT
from heatsim.services.generator import rule_of_thumb
from heatsim.services.sockets import STANDARD

FAMILY = "power and people"

MANUAL = "a battery manual's table: per cent of a 100 Ah bank rated over 20 h, by current and exponent"
TOLD = "common practice, no source"
FOOT = 0.3048  # m, NIST SP 811
CURRENTS = (5.0, 10.0, 16.7, 25.0, 50.0, 75.0, 100.0, 200.0)
DELIVERED = {
    1.1: (100, 93, 88, 85, 79, 76, 74, 69),
    1.2: (100, 87, 78, 72, 63, 58, 55, 48),
    1.25: (100, 84, 74, 67, 56, 51, 47, 40),
    1.3: (100, 81, 69, 62, 50, 44, 41, 33),
    1.4: (100, 76, 61, 52, 40, 34, 30, 23),
}
"""Exponent → per cent at each current."""


@pytest.mark.parametrize("current", CURRENTS)
@pytest.mark.parametrize("exponent", DELIVERED)
def test_peukert_percentages(sheet: Sheet, exponent: float, current: float) -> None:
    """Through a bank that is run down minute by minute to its end at that current."""
    bank = Bank(100.0, 20.0, exponent, 12.0)
    minutes = int(60.0 * 1.1 * 100.0 / current)
    run = night(bank, Inverter(5000.0, 1.0, 0.0), np.full(minutes, 12.0 * current), 60.0)
    assert run.stopped is not None
    sheet.value(
        f"bank of exponent {exponent:g} at {current:g} A", DELIVERED[exponent][CURRENTS.index(current)],
        run.stopped * current, within=1.0, because="the manual prints whole per cent, some cut and some rounded",
        source=MANUAL, unit="%", confidence="seen",
    )  # fmt: skip


def test_hours_by_the_law(sheet: Sheet) -> None:
    sheet.value(
        "250 Ah at 20 A, exponent 1.3", 10.86, peukert_hours(250.0, 20.0, 1.3, 20.0), within=0.01,
        because="two decimals", source="t = H (C/(I H))^n with H 20 h; without H the misuse gives 5.09 h", unit="h",
        confidence="formula",
    )  # fmt: skip


def test_least_copper(sheet: Sheet) -> None:
    example = least_section(10.0, 21.0 / 2.0 * FOOT, 12.0, 0.10, "dc") / CIRCULAR_MIL
    sheet.span(
        "10 A over 21 ft there and back, 12 V, 10 %: copper", (1620.0, 2583.0), example,
        source="worked example of a wiring guide: 16 AWG (2583), so more than 18 AWG (1620)", unit="circular mil",
        confidence="seen", because="the size it names and the next smaller one",
    )  # fmt: skip
    abyc = least_section(20.0, 15.0 * FOOT, 12.0, 0.03, "dc") / CIRCULAR_MIL
    sheet.value(
        "20 A over 30 ft there and back, 12 V, 3 %: copper", 10.75 * 20.0 * 30.0 / 0.36, abyc, within=90.0,
        because="half a per cent: its K of 10.75 rounded to 0.0179 Ω mm²/m", source="ABYC E-11, CM = K I L / E",
        unit="circular mil", confidence="from memory",
    )  # fmt: skip
    sheet.value(
        "20 A over 30 ft there and back, 12 V, 3 %: copper by ISO", 0.0164 * 20.0 * 30.0 * FOOT / 0.36,
        least_section(20.0, 15.0 * FOOT, 12.0, 0.03, "dc", ISO_COPPER), within=0.01, because="round-off of its formula",
        source="ISO 10133:2012, annex C, E = 0.0164 I L / S", unit="mm2", confidence="from memory",
    )  # fmt: skip


@pytest.mark.parametrize(("name", "kva"), [("120 V 30 A", 3.6), ("120/240 V 50 A", 12.0)])
def test_sockets(sheet: Sheet, name: str, kva: float) -> None:
    socket = next(one for one in STANDARD if one.name == name)
    sheet.value(
        f"shore socket {name}", kva, socket.voltage * socket.current / 1e3, within=0.005, because="one decimal",
        source="a marina guide", unit="kVA", confidence="seen",
    )  # fmt: skip


def test_rules_of_the_trade(sheet: Sheet) -> None:
    run = night(Bank(400.0, 20.0, 1.0, 12.0), Inverter(3000.0, 0.9, 0.0), np.full(480, 11.0 * 120.0), 60.0)
    assert run.stopped is not None
    sheet.value(
        "11 A at 120 V through a 90 % inverter, at 12 V", 120.0, run.drawn[0] / 12.0, within=2.5,
        because="told in tens", source="installers", unit="A", confidence=TOLD,
    )  # fmt: skip
    sheet.value(
        "the same from 400 usable Ah", 3.3, run.stopped, within=0.05, because="one decimal", source="installers",
        unit="h", confidence=TOLD,
    )  # fmt: skip
    sheet.value(
        "generator for 16 kBtu/h by the rule", 2.7, rule_of_thumb(16.0 * 293.07107)[0] / 1e3, within=0.05,
        because="one decimal", source="Btu/h over 6000", unit="kW", confidence=TOLD,
    )  # fmt: skip
    claim = Bank(2 * 105.0, 20.0, 1.25, 12.0)
    draw = claim.rated_current * 5.0 ** (1.0 / 1.25)
    sheet.value(
        "small cabin unit, 4 h on two group-31 batteries: then on three group-27", 8.5,
        Bank(3 * 92.0, 20.0, 1.25, 12.0).lasts(draw), within=0.5, because="told to a half hour",
        source="sellers; 105 and 92 Ah at 20 h", unit="h", confidence=TOLD,
        cause="The two claims do not belong to one draw: the second needs the unit to run two thirds of the time",
    )  # fmt: skip


def test_breath(sheet: Sheet) -> None:
    heat = 1.2 * 58.2 * 1.8
    sheet.value(
        "carbon dioxide of one person at 1.2 met", 0.31, 60e3 * PER_WATT * heat, within=0.031,
        because="a tenth: persons differ by more, and the figure is rounded",
        source="ASHRAE 62.1, informative appendix", unit="L/min", confidence="from memory",
    )  # fmt: skip
    sheet.value(
        "carbon dioxide above outdoors, one person at 1.2 met and 7.5 L/s", 700.0, 1e6 * PER_WATT * heat / 0.0075,
        within=70.0, because="a tenth, as the rate it follows from", source="ASHRAE 62.1, informative appendix",
        unit="ppm", confidence="from memory",
    )  # fmt: skip

"""The example of docs/services.md that is followed by hand, number by number, against the schedules."""

from __future__ import annotations

from pathlib import Path

import pytest
from dunlin import planned, powered, proved

from heatsim import resolve
from heatsim.scenario.reading import read_text
from heatsim.scenario.starters import demo
from heatsim.services.battery import Bank, peukert_hours
from heatsim.services.cables import cables
from heatsim.services.carbon_dioxide import carbon_dioxide
from heatsim.services.draws import draws
from heatsim.services.electrical import loads, shore
from heatsim.services.generator import generator
from heatsim.services.silent_night import battery

DOCS = Path(__file__).resolve().parents[2] / "docs"


@pytest.fixture(scope="module")
def page() -> str:
    return " ".join((DOCS / "services.md").read_text(encoding="utf-8").split())


def test_numbers_of_the_example(page: str) -> None:
    plan = powered(resolve(read_text(demo("dunlin-11"))).power)
    a, b, _ = draws(plan)
    assert f"Saloon unit {a.active:.0f} W, {a.reactive:.0f} var with its pump" in page
    assert f"= {a.apparent:.0f} VA, {a.current:.2f} A at 230 V" in page
    assert f"Each cabin unit {b.active:.0f} W, {b.reactive:.0f} var" in page
    total = float(loads(plan).column("running")[-1] or 0.0)
    assert f"All together {total:.0f} W" in page
    small = next(row for row in shore(plan).rows if row[0] == "230 V 16 A")
    assert f"by phase {float(small[7] or 0.0):.1f} A: all three run" in page
    assert small[3] == "yes"
    rows = {str(row[0]): float(row[1] or 0.0) for row in generator(plan, proved()).rows}
    assert f"/0.95 = {rows['least by running load'] / 1e3:.1f} kW" in page
    assert f"times 0.8: {rows['least by start: in the best order'] / 1e3:.1f} kW" in page
    rule = rows["trade's rule"]
    assert f"is {rule / 1e3:.1f} kW" in page
    saloon = cables(plan).rows[0]
    assert f"0.73 V, {saloon[6]} %; at start {saloon[8]:.0f} A, {saloon[9]} %" in page
    night = battery(plan, proved())
    assert night is not None
    assert float(night.column("such a night lasts")[0] or 0.0) == pytest.approx(1.0, abs=0.1)  # "an hour"
    cabin = carbon_dioxide(planned()).rows[0]
    assert f"above outdoors, {float(cabin[3] or 0.0):.0f} ppm" in page


def test_two_claims_are_told_to_a_flat_bank_and_at_half_depth(page: str) -> None:
    """Of the trade, for one 3.5 kBtu/h unit (common practice, no source): 105 and 92 Ah at 20 h, exponent 1.25."""
    first, second = Bank(2 * 105.0, 20.0, 1.25, 12.0), Bank(3 * 92.0, 20.0, 1.25, 12.0)
    draw = first.rated_current * 5.0 ** (1.0 / 1.25)  # 4 h of the 20 by Peukert's law
    assert f"| {draw:.0f} A at 12 V | {first.lasts(draw):.1f} h |" in page
    assert f"{second.lasts(draw):.1f} h, not 8.5 | {second.lasts(draw) / 8.5:.0%}".replace("%", " %") in page
    assert f"they are {first.lasts(draw, 0.5):.1f} h and {second.lasts(draw, 0.5):.1f} h" in page


def test_misuse_of_the_law_as_told(page: str) -> None:
    assert f"would last {250.0 / 20.0**1.3:.1f} h" in page
    assert f"it lasts {peukert_hours(250.0, 20.0, 1.3, 20.0):.1f} h" in page

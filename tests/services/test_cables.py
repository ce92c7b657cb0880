"""Voltage drop against the standards' formulas and worked examples."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import pytest
from dunlin import planned

from heatsim import HeatsimError
from heatsim.scenario.circuits import CableText
from heatsim.scenario.reading import read_text
from heatsim.scenario.services import Services
from heatsim.scenario.starters import demo
from heatsim.services.cables import CIRCULAR_MIL, COPPER, ISO_COPPER, cables, drop, least_section, made

FOOT = 0.3048  # m


def test_three_phases_lose_less_than_there_and_back() -> None:
    one, three = (drop(20.0, 10.0, 6.0, 400.0, system).volts for system in ("ac", "three-phase"))
    assert three / one == pytest.approx(sqrt(3.0) / 2.0, rel=1e-12)


def test_least_section_goes_round() -> None:
    section = least_section(30.0, 12.0, 24.0, 0.03, "dc")
    assert drop(30.0, 12.0, section, 24.0, "dc").share == pytest.approx(0.03, rel=1e-12)
    assert made(8.4) == 10.0
    assert made(6.0) == 6.0
    assert made(400.0) == 400.0


def test_both_standards_give_the_same_cable() -> None:
    """20 A, 30 ft there and back, 12 V, 3 %: ABYC 17 917 circular mils, ISO 8.33 mm²; both lead to 10 mm²."""
    abyc = least_section(20.0, 15.0 * FOOT, 12.0, 0.03, "dc")
    iso = least_section(20.0, 15.0 * FOOT, 12.0, 0.03, "dc", ISO_COPPER)
    assert made(abyc) == made(iso) == 10.0
    # K of 10.75 in Ω per circular mil-foot, from memory; half a percent: its rounding to 0.0179 Ω mm²/m.
    assert pytest.approx(COPPER, rel=5e-3) == 10.75 * CIRCULAR_MIL / FOOT


def _with(*entered: CableText):  # type: ignore[no-untyped-def]
    plan = planned()
    return cables(replace(plan, resolved=replace(plan.resolved, services=Services(cables=list(entered)))))


def test_cables_as_entered_and_assumed() -> None:
    thin = CableText.model_validate({"name": "saloon unit", "serves": "saloon", "length": "60 m", "section": "1.5 mm2"})
    feed = CableText.model_validate(
        {"name": "cabin lights", "length": "12 m", "current": "4 A", "voltage": "12 V", "system": "dc not critical"}
    )
    schedule = _with(thin, feed)
    drops, allowed = schedule.column("drop [%]"), schedule.column("allowed [%]")
    assert list(allowed) == [3.0, 3.0, 3.0, 10.0]
    by_hand = 0.0179 * 5.53 * 2.0 * 60.0 / 1.5 / 230.0
    assert float(drops[0] or 0.0) == pytest.approx(100.0 * by_hand, abs=0.06)  # printed to a tenth
    assert {finding.code for finding in schedule.findings} == {"start-dip", "voltage-drop"}
    assert float(drops[3] or 0.0) <= 10.0
    assert {one.what for one in schedule.assumptions} == {"cables that are not entered"}


def test_a_running_drop_above_three_percent_is_a_finding() -> None:
    feed = CableText.model_validate(
        {"name": "pump", "length": "12 m", "current": "10 A", "voltage": "12 V", "section": "4 mm2", "system": "dc"}
    )
    found = [finding for finding in _with(feed).findings if "pump" in finding.path]
    assert [finding.code for finding in found] == ["voltage-drop"]
    assert "16 mm²" in found[0].message  # 11.9 mm² needed: 0.0179 · 10 · 24 / 0.36


@pytest.mark.parametrize(
    ("cable", "rule"),
    [
        ("{name: feed, length: 5 m}", "needs what it serves"),
        ("{name: feed, serves: salon, length: 5 m}", 'Did you mean "saloon"'),
        ("{name: feed, serves: saloon, lenght: 5 m}", "lenght"),
        ("{name: feed, serves: saloon, length: 5}", "unit"),
    ],
)
def test_bad_cables_are_refused(cable: str, rule: str) -> None:
    with pytest.raises(HeatsimError, match=rule):
        read_text(demo("dunlin-11") + f"\nservices:\n  cables: [{cable}]\n")

"""Carbon dioxide of shut rooms against the one-room solution, published rates of breathing, and findings."""

from __future__ import annotations

from dataclasses import replace
from math import exp

import numpy as np
import pytest
from dunlin import boat, planned

from heatsim.scenario.resolved import OUTDOORS, Flow, Resolved, Routine
from heatsim.services.carbon_dioxide import (
    OUTDOORS_PPM,
    PER_WATT,
    carbon_dioxide,
    concentrations,
    eight_hours,
    outdoor_air,
)

ALWAYS = Routine("always", (0,), (1.0,))
CABIN = "aft cabin"


def _shut(supply: float, night: tuple[int, int] = (22, 8)) -> Resolved:
    """The boat with the aft cabin shut off from the rest, two asleep in it by night, `supply` m³/s from outdoors."""
    asleep = Routine("night", (0, night[1] * 60, night[0] * 60), (1.0, 0.0, 1.0))
    resolved = boat()
    zones = []
    for zone in resolved.zones:
        people = tuple(replace(p, count=2.0, total=80.0, routine=asleep) for p in zone.people[:1])
        zones.append(replace(zone, people=people) if zone.name == CABIN else zone)
    flows = tuple(flow for flow in resolved.flows if CABIN not in (flow.source, flow.target))
    own = Flow("fresh", "fresh_air", OUTDOORS, CABIN, supply, ALWAYS)
    openings = tuple(one for one in resolved.openings if CABIN not in (one.first, one.second))
    return replace(resolved, zones=tuple(zones), flows=(*flows, own), openings=openings)


def test_against_the_one_room_solution() -> None:
    """V dC/dt = G − Q (C − C₀): ten hours asleep, fourteen empty, over and over, in closed form."""
    supply = 10.0 / 3600.0
    resolved = _shut(supply)
    names, course = concentrations(resolved)
    volume = next(zone.volume for zone in resolved.zones if zone.name == CABIN)
    rate, rise = supply / volume, 1e6 * 2.0 * 80.0 * PER_WATT / supply
    begin = rise * (1.0 - exp(-rate * 10 * 3600.0)) * exp(-rate * 14 * 3600.0) / (1.0 - exp(-rate * 24 * 3600.0))
    hours = np.arange(96) / 4.0
    since = (hours - 22.0) % 24.0
    asleep = begin * np.exp(-rate * since * 3600.0) + rise * (1.0 - np.exp(-rate * since * 3600.0))
    woken = begin * exp(-rate * 36000.0) + rise * (1.0 - exp(-rate * 36000.0))
    empty = woken * np.exp(-rate * (since - 10.0) * 3600.0)
    expected = OUTDOORS_PPM + np.where(since < 10.0, asleep, empty)
    # 0.5 ppm: the day repeats within that.
    np.testing.assert_allclose(course[:, names.index(CABIN)], expected, atol=0.5)


def test_what_people_breathe_out() -> None:
    """ASHRAE 62.1, appendix on carbon dioxide: 0.0052 L/s (0.31 L/min) at 1.2 met, from memory; 1.8 m² at 58.2 W/m².

    10 %: their oxygen uptake is a rounded handbook figure at another temperature.
    """
    ours = 1e3 * PER_WATT * 1.2 * 58.2 * 1.8
    assert ours == pytest.approx(0.0052, rel=0.10)


def test_outdoor_air_of_the_trade_keeps_a_cabin_fresh() -> None:
    """25 m³/h a person, asleep: about 500 ppm above outdoors, well below 1500; none at all passes 5000."""
    fresh, stale, shut = (
        concentrations(_shut(m3h / 3600.0))[1][:, concentrations(_shut(m3h / 3600.0))[0].index(CABIN)].max()
        for m3h in (50.0, 12.0, 1.0)
    )
    assert 425.0 + 350.0 < fresh < 425.0 + 650.0
    assert 1500.0 < stale < 5000.0
    assert shut > 5000.0


@pytest.mark.parametrize(("m3h", "code"), [(50.0, None), (12.0, "carbon-dioxide"), (1.0, "carbon-dioxide-danger")])
def test_findings_by_level(m3h: float, code: str | None) -> None:
    schedule = carbon_dioxide(replace(planned(), resolved=_shut(m3h / 3600.0)))
    found = {finding.code for finding in schedule.findings if finding.path == CABIN}
    assert found == (set() if code is None else {code})
    assert any("carbon monoxide" in caution for caution in schedule.cautions)


def test_eight_hour_value() -> None:
    ppm = np.zeros(96)
    ppm[90:] = ppm[:10] = 1000.0  # over midnight, four hours
    assert eight_hours(ppm) == pytest.approx(500.0, rel=1e-12)  # round-off
    assert eight_hours(np.full(96, 700.0)) == pytest.approx(700.0, rel=1e-12)


def test_streams_conserve() -> None:
    """Nobody aboard: every room ends at the outdoor level, whatever flows between them."""
    empty = replace(boat(), zones=tuple(replace(zone, people=()) for zone in boat().zones))
    np.testing.assert_allclose(concentrations(empty)[1], OUTDOORS_PPM, rtol=1e-9)  # sums of rates


def test_outdoor_air_against_persons_and_the_ship_rule() -> None:
    plan = replace(planned(), resolved=_shut(20.0 / 3600.0))
    schedule = outdoor_air(plan)
    row = next(row for row in schedule.rows if row[0] == CABIN)
    assert float(row[2] or 0.0) == pytest.approx(50.0 / 3600.0, rel=1e-12)  # 25 m³/h a person, flag code
    assert row[4] == "no"
    assert row[7] == "no"
    assert {finding.code for finding in schedule.findings} == {"outdoor-air-short"}

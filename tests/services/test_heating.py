"""Winter load against a steady balance, reverse cycle by the unit's sheet, hours below a limit by a sine."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pvlib
import pytest
from dunlin import HEADING, UNITS, boat, planned

from heatsim.climate.files import read_year
from heatsim.equipment.catalogue import read_catalogue
from heatsim.scenario.circuits import HeatingText
from heatsim.scenario.resolved import WeatherYear
from heatsim.scenario.services import Services
from heatsim.services.heating import (
    coldest_water,
    heating,
    hours_below,
    months,
    reverse_cycle,
    typical_course,
    winter,
    winter_loads,
)


def _cold(**texts: object):  # type: ignore[no-untyped-def]
    plan = planned()
    entered = HeatingText.model_validate(texts)
    return replace(plan, resolved=replace(plan.resolved, services=Services(heating=entered)))


MIAMI = Path(pvlib.__file__).parent / "data" / "12839.tm2"
"""TMY2 of Miami International Airport (NREL, public domain), in pvlib's own wheel."""
COLD = {"month": 2, "outdoor": "2 degC", "sea": "8 degC", "wind": "4 m/s", "setpoint": "20 degC"}


def test_load_is_steady_and_in_proportion() -> None:
    """With the sea as cold as the air, heat lost goes with the difference, but for films and sky: 10 % over 6 K."""
    w = winter(_cold(**{**COLD, "sea": "2 degC"}))
    first, _ = winter_loads(boat(), w.day, 20.0, HEADING)
    second, _ = winter_loads(boat(), w.day, 26.0, HEADING)
    for zone, load in first.items():
        assert load > 0.0
        assert second[zone] / load == pytest.approx(24.0 / 18.0, rel=0.10)


def test_load_of_fresh_air_alone() -> None:
    """50 m³/h more outdoor air costs ρ c V ΔT = 1.26 · 1006 · 50/3600 · 18 = 317 W (dry air at 2 °C); 6 % for its
    vapour and for the air's density in the network, that of the day."""
    w = winter(_cold(**COLD))
    more = tuple(
        replace(flow, rate=flow.rate + 50.0 / 3600.0) if flow.kind == "fresh_air" and flow.target == "saloon" else flow
        for flow in boat().flows
    )
    before, _ = winter_loads(boat(), w.day, 20.0, HEADING)
    after, _ = winter_loads(replace(boat(), flows=more), w.day, 20.0, HEADING)
    assert after["saloon"] - before["saloon"] == pytest.approx(317.0, rel=0.06)


def test_reverse_cycle_by_the_sheet_and_its_limit() -> None:
    plan, known = planned(), {unit.model: unit for unit in read_catalogue()}
    unit = known[UNITS["saloon"]]
    warm, _ = reverse_cycle(plan, unit.rating.heating_water)
    assert warm["saloon"] == pytest.approx(unit.heating_capacity * 0.95, rel=1e-9)  # less 5 % into ducts
    cold, power = reverse_cycle(plan, unit.coldest_water - 0.1)
    assert set(cold.values()) == {0.0}
    assert power == 0.0


def test_units_that_only_cool_have_no_limit_of_a_cold_sea() -> None:
    plan = _cold(**{**COLD, "sea": "3 degC"})
    offers = plan.chosen.choice.offers
    cooling = replace(offers[0], unit=replace(offers[0].unit, heating_capacity=0.0, coldest_water=10.0))
    mixed = replace(
        plan, chosen=replace(plan.chosen, choice=replace(plan.chosen.choice, offers=(cooling, *offers[1:])))
    )
    assert coldest_water(mixed) == offers[1].unit.coldest_water
    none = tuple(replace(one, unit=replace(one.unit, heating_capacity=0.0)) for one in offers)
    only = replace(plan, chosen=replace(plan.chosen, choice=replace(plan.chosen.choice, offers=none)))
    assert {finding.code for finding in heating(only).findings} == {"heating-short"}


def test_schedule_adds_up_and_says_what_is_lacking() -> None:
    schedule = heating(_cold(**{**COLD, "sea": "3 degC"}))
    assert {finding.code for finding in schedule.findings} == {"reverse-cycle-stops", "heating-short"}
    rows, total = schedule.rows[:-1], schedule.rows[-1]
    for row in schedule.rows:
        assert float(row[2] or 0.0) == 0.0
    assert sum(float(row[3] or 0.0) for row in rows) == pytest.approx(float(total[3] or 0.0), rel=1e-12)
    assert float(total[1] or 0.0) == pytest.approx(
        sum(float(row[1] or 0.0) for row in rows), rel=0.02
    )  # no sun: at once
    enough = heating(_cold(**{**COLD, "sea": "3 degC"}, back_up="30 kW"))
    assert {finding.code for finding in enough.findings} == {"reverse-cycle-stops"}
    assert not heating(_cold(**{**COLD, "sea": "15 degC"})).findings


def test_hours_below_a_limit_of_a_sine() -> None:
    """Monthly means of a sine of 10 ± 8 K: below 6 °C while cos < −0.5, a third of the year, but for their smoothing.

    Straight lines between months lie 0.14 K off the sine there, 28 h on each side, and months are not of one length:
    90 h.
    """
    middles = (np.arange(12) + 0.5) / 12.0
    sea = 10.0 - 8.0 * np.cos(2.0 * np.pi * middles)
    course = typical_course(sea)
    assert hours_below(course, 6.0).sum() == pytest.approx(8760.0 / 3.0, abs=90.0)
    assert hours_below(course, 30.0).sum() == 8760.0
    assert hours_below(course, -5.0).sum() == 0.0
    assert hours_below(course, 6.0)[[0, 11]].min() > 600.0  # the coldest months


def test_months_of_an_entered_sea() -> None:
    sea = [f"{t} degC" for t in (2, 2, 3, 6, 10, 15, 18, 18, 15, 11, 7, 4)]
    schedule = months(_cold(sea_by_month=sea))
    assert len(schedule.rows) == 13
    below = [float(row[3] or 0.0) for row in schedule.rows]
    assert below[0] == 31 * 24
    assert below[6] == 0.0
    assert sum(below[:-1]) == below[-1]
    assert winter(_cold(sea_by_month=sea)).day.month == 1
    assert not schedule.assumptions  # the sea is the file's
    assert winter(_cold(sea_by_month=sea)).assumed  # the cold day itself was not entered


def _through_a_year(sea: tuple[float, ...] = ()):  # type: ignore[no-untyped-def]
    return replace(planned(), resolved=replace(boat(), weather_year=WeatherYear(str(MIAMI), "tmy2", sea, 1.0)))


def test_a_weather_year_gives_its_own_hours_and_cold_day() -> None:
    """A sea of 3 °C in winter and 20 °C in summer by the year's hours; the cold day by a sorted list of its air."""
    sea = (3.0, 3.0, 8.0, *[20.0] * 7, 12.0, 6.0)
    plan = _through_a_year(sea)
    w = winter(plan)
    assert "weather year" in w.over
    assert w.sea.shape == (8760,)
    table = months(plan)
    below = [float(hours or 0.0) for hours in table.column("hours below the limit")]
    # 4.4 °C: December's 6 °C falls to January's 3 °C over 31 days, March's 8 °C is 5 K above February's over 29.5.
    wanted = (31.0 * 1.4 / 3.0 + 31.0 + 29.5 * 1.4 / 5.0) * 24.0
    assert below[-1] == pytest.approx(wanted, abs=48.0)  # mid-months by whole days: a day on each side
    assert any("weather year" in note for note in table.notes)
    assert not table.assumptions  # the file says the sea
    air = np.sort(read_year(plan.resolved.weather_year.path, "tmy2")[0].air)
    assert w.day.dry_bulb_max == pytest.approx(air[35], abs=0.2)  # 0.4 % of 8760 hours are 35
    assert any("99.6 %" in one.source for one in w.assumed)


def test_twelve_typical_days_give_the_sea() -> None:
    days = tuple(replace(boat().days[0], kind="typical", month=m, sea=10.0 + m) for m in range(1, 13))
    w = winter(replace(planned(), resolved=replace(boat(), days=days)))
    assert w.sea_by_month == pytest.approx(np.arange(11.0, 23.0))
    assert any(one.source == "the boat's own typical days" for one in w.assumed)
    assert "typical days" in w.over


def test_what_is_not_entered_is_assumed() -> None:
    whole = winter(_cold(**COLD, sea_by_month=["10 degC"] * 12))
    assert whole.assumed == ()
    assert {one.what for one in winter(planned()).assumed} == {
        "sea by month", "outdoor air of the cold day", "wind of the cold day", "heating setpoint",
    }  # fmt: skip

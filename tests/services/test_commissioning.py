"""The sheet for the day: the unit at its own rating, heat balances of what is to be read, blanks beside each target."""

from __future__ import annotations

from dataclasses import replace

import pytest
from dunlin import planned

from heatsim.equipment.capacity import SEA_HEAT, rated_ratio
from heatsim.equipment.catalogue import read_catalogue
from heatsim.physics import moist_air
from heatsim.scenario.circuits import CommissioningText
from heatsim.scenario.services import Services
from heatsim.services.commissioning import air_sheet, reading, rooms_sheet, the_day, water_sheet
from heatsim.services.condensate import hourly
from heatsim.services.seawater import sea_schedules
from heatsim.services.units import all_working


def _on(**texts: object):  # type: ignore[no-untyped-def]
    plan = planned()
    entered = CommissioningText.model_validate(texts)
    return replace(plan, resolved=replace(plan.resolved, services=Services(commissioning=entered)))


def test_a_unit_at_its_rating_reads_its_sheet() -> None:
    """Total by enthalpy, sea rise by all heat, current by the row: what the catalogue says, to a percent.

    1 %: heat of the condensate and the solution of the small model.
    """
    unit = next(one for one in read_catalogue() if one.model == "Cove 12 50 Hz")
    point = unit.rating
    humidity = float(moist_air.relative_humidity(point.dry_bulb, rated_ratio(unit)))
    r = reading(unit, point.dry_bulb, humidity, point.water, speed=1.0, volts=1.0)
    assert r.current == pytest.approx(unit.running_current, rel=0.01)
    assert r.rise is not None
    assert r.water_flow is not None
    assert r.rise * r.water_flow * SEA_HEAT == pytest.approx(unit.gross + unit.compressor_power, rel=0.01)
    latent = r.condensate * 998.0 * moist_air.EVAPORATION
    sensible = unit.gross_sensible - unit.fan_power
    assert latent == pytest.approx(unit.gross - unit.gross_sensible, rel=0.06)  # vapour above 0 °C carries 4 % more
    mass = r.air_flow * float(moist_air.dry_air_density(point.dry_bulb, rated_ratio(unit)))
    assert mass * 1025.0 * (r.air_on - r.air_off) == pytest.approx(sensible, rel=0.02)  # heat of moist air to 1 %


def test_targets_of_the_trade() -> None:
    """8–11 K air drop, 4–6 K water rise (common practice, no source) on the design day; a branch that gets a quarter
    more water than it wants rises by that much less: 3.2 K."""
    drops, rises = air_sheet(planned()).column("air drop"), water_sheet(planned()).column("sea rise")
    assert all(8.0 <= float(drop or 0.0) <= 11.0 for drop in drops)
    assert all(3.2 <= float(rise or 0.0) <= 6.0 for rise in rises)


def test_cold_water_low_voltage_and_cool_rooms_are_followed() -> None:
    hot, mild = planned(), _on(sea="20 degC", room="22 degC", room_humidity="50 %", voltage_share="95 %")
    for sheet, head, sign in ((water_sheet, "sea out", -1), (air_sheet, "air off", -1), (air_sheet, "condensate", -1)):
        before, after = (float(sheet(plan).column(head)[1] or 0.0) for plan in (hot, mild))
        assert sign * (after - before) > 0.0, head
    full, low = (water_sheet(_on(sea="20 degC", voltage_share=v)).column("current")[0] for v in ("100 %", "95 %"))
    assert float(low or 0.0) / float(full or 1.0) == pytest.approx(1.0 / 0.95, rel=1e-12)  # constant power
    assert the_day(mild).day.sea == 20.0


def test_water_is_read_as_its_circuit_gives_it() -> None:
    """On the day the plan is made for, flow and rise are those of the sea water's schedule."""
    plan = planned()
    sea = [row for row in sea_schedules(plan)[0].rows if row[1] != "all"]
    flow = {str(row[1]): float(row[5] or 0.0) for row in sea}
    rise = {str(row[1]): float(row[7] or 0.0) for row in sea}
    sheet = water_sheet(_on(sea=f"{plan.needs.sea} degC"))
    for zone, read, warmed in zip(*(sheet.column(head) for head in ("serves", "water flow", "sea rise")), strict=True):
        assert read == pytest.approx(flow[str(zone)], rel=1e-9)
        # A clean condenser and air of another humidity beside the plan's: 10 %.
        assert warmed == pytest.approx(rise[str(zone)], rel=0.1)


def test_condensate_is_one_water() -> None:
    """998 kg/m³ at 20 °C (textbook) on both sheets: at one state of the air both say the same."""
    plan = planned()
    work = next(one for one in all_working(plan) if one.offer.zones == ("saloon",))
    humidity = float(moist_air.relative_humidity(work.temperature, work.humidity_ratio))
    r = reading(work.offer.unit, work.temperature, humidity, plan.needs.sea, speed=1.0, volts=1.0)
    # The plan's condenser is fouled a little: 3 %.
    assert r.condensate == pytest.approx(hourly(plan, work.offer), rel=0.03)


def test_a_room_that_cannot_pass_is_told() -> None:
    sheet = rooms_sheet(_on(outdoor="40 degC", humidity="60 %", sea="30 degC", hours=0.25))
    assert any("even if everything is right" in note for note in sheet.notes)
    mild = rooms_sheet(_on(outdoor="25 degC", humidity="40 %", sea="20 degC", hours=4.0, start=18.0))
    assert all(float(row[6] or 0.0) > 0.6 or row[0] not in " ".join(mild.notes[1:]) for row in mild.rows)


def test_every_target_has_its_blank() -> None:
    for sheet in (air_sheet(planned()), water_sheet(planned())):
        heads = [column.head for column in sheet.columns]
        targets = [head for head in heads[2:] if not head.startswith("measured")]
        assert [f"measured: {head}" for head in targets] == [head for head in heads if head.startswith("measured")]
        for row in sheet.rows:
            assert all(cell == "" for head, cell in zip(heads, row, strict=True) if head.startswith("measured"))
        assert any("seacock" in caution for caution in sheet.cautions)


def test_rooms_some_hours_after_the_start() -> None:
    """On a mild evening every room is on its way after a quarter of an hour and held after four hours."""
    soon, late = (
        rooms_sheet(_on(outdoor="27 degC", humidity="60 %", sea="24 degC", hours=h, start=19.0)) for h in (0.25, 4.0)
    )
    for first, last in zip(soon.rows, late.rows, strict=True):
        setpoint, start = float(first[1] or 0.0), float(first[2] or 0.0)
        assert start > setpoint
        assert float(last[4] or 0.0) <= setpoint + 1.0  # needs.md's ±1 K (common practice, no source)
        assert float(first[4] or 0.0) < start
        assert last[3] != "not that day"

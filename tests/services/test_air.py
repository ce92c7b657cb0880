"""Air by zone and boat: hand calculations, conservation, and every warning by a boat that has its fault."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from heatsim.equipment.plan import Plan
from heatsim.scenario.resolved import Flow, Routine
from heatsim.services import Schedule
from heatsim.services.air import balance, intakes, supply
from heatsim.services.schedule import Assumed, Column
from heatsim.services.units import all_working

ALWAYS = Routine("always", (0,), (1.0,))


def codes(schedule: Schedule) -> set[str]:
    return {finding.code for finding in schedule.findings}


def with_flows(plan: Plan, *flows: Flow) -> Plan:
    return replace(plan, resolved=replace(plan.resolved, flows=flows))


def test_wanted_air_by_hand(planned: Plan) -> None:
    """Sensible load over ρ·c·ΔT with 1.2 kg/m³ and 1006 J/(kg·K) and the ducts' share of the capacity as warmer supply
    (ASHRAE Handbook, Fundamentals, from memory)."""
    made = supply(planned)
    for work, row in zip(all_working(planned), made.to_pandas().to_dict("records"), strict=True):
        flow = row["given [m³/s]"]
        warmer = 0.05 * float(work.done.total) / (1.2 * 1006.0 * flow)
        apart = row["room [°C]"] - row["supply [°C]"] - warmer
        # Air of 24 °C and 60 % is 1.17 kg/m³ of dry air with vapour: 2 % off the round numbers.
        assert row["wanted [m³/s]"] == pytest.approx(row["sensible load [W]"] / (1.2 * 1006.0 * apart), rel=0.03)


def test_zones_share_out_what_the_unit_moves(fitted: Callable[..., Plan]) -> None:
    plan = fitted("installed")
    (work,) = all_working(plan)
    # Shares sum to one: round-off.
    assert sum(supply(plan).column("given")) == pytest.approx(work.flow, rel=1e-12)  # type: ignore[arg-type]


def test_treated_air_stands_beside_the_rooms_units(fitted: Callable[..., Plan]) -> None:
    plan = fitted("central, treated air")
    *_, row = supply(plan).to_pandas().to_dict("records")
    assert row["zone"] == "outdoor air"
    assert row["given [m³/s]"] == pytest.approx(100.0 / 3600.0, rel=1e-9)  # as the scenario asks: round-off
    assert row["supply [°C]"] < 24.0 < row["room [°C]"]


def test_a_zone_short_of_air_is_told(fitted: Callable[..., Plan]) -> None:
    plan = fitted()
    assert plan.chosen is not None
    assert plan.chosen.choice is not None
    assert "air-short" not in codes(supply(plan))
    offers = tuple(
        replace(one, unit=replace(one.unit, air_share=0.4)) for one in plan.chosen.offers
    )  # a filter full of lint
    choked = replace(plan, chosen=replace(plan.chosen, choice=replace(plan.chosen.choice, offers=offers)))
    assert "air-short" in codes(supply(choked))


def test_the_balance_adds_up(planned: Plan) -> None:
    rows = {row[0]: row for row in balance(planned).rows}
    outdoor, extract = 100.0 / 3600.0, 150.0 / 3600.0
    # The scenario's own numbers: round-off of the units.
    assert rows["boat"][1] == pytest.approx(outdoor, rel=1e-9)
    assert rows["boat"][5] == pytest.approx(outdoor - extract, rel=1e-9)  # while the hood runs
    assert rows["boat"][6] == pytest.approx(outdoor, rel=1e-9)


def test_net_extract_carries_the_caution_about_carbon_monoxide(planned: Plan) -> None:
    (finding,) = [one for one in balance(planned).findings if one.code == "net-extract"]
    assert "12:00" in finding.message
    assert "Carbon monoxide" in finding.message
    assert finding.value == "50 m3/h"
    calm = with_flows(planned, Flow("fresh", "fresh_air", "outdoors", "saloon", 0.02, ALWAYS))
    assert "net-extract" not in codes(balance(calm))


def test_a_galley_that_is_blown_into_is_told(planned: Plan) -> None:
    zones = tuple(replace(zone, use="galley") if zone.name == "saloon" else zone for zone in planned.resolved.zones)
    plan = replace(planned, resolved=replace(planned.resolved, zones=zones))
    assert "no-suction" not in codes(balance(plan))  # its hood takes more than it is given
    fresh = Flow("fresh", "fresh_air", "outdoors", "saloon", 0.02, ALWAYS)
    assert "no-suction" in codes(balance(with_flows(plan, fresh)))
    hood = Flow("hood", "extract", "saloon", "outdoors", 0.03, ALWAYS)
    assert "no-suction" not in codes(balance(with_flows(plan, fresh, hood)))


def test_intakes_nobody_stated_are_a_finding(fitted: Callable[..., Plan]) -> None:
    made = intakes(fitted())
    (finding,) = made.findings
    assert finding.code == "intake-unknown"
    assert "saloon, cabin" in finding.message
    one = {"name": "mushroom", "zones": ["saloon", "cabin"], "to_exhaust": "4 m", "to_gas_locker": "2 m"}
    (unknown,) = intakes(fitted(intakes=[one])).findings
    assert unknown.code == "intake-unknown"
    assert unknown.path.endswith("above_waterline")
    assert intakes(fitted(intakes=[one | {"above_waterline": "1.4 m"}])).findings == ()


@pytest.mark.parametrize(
    ("key", "near"), [("to_exhaust", "1 m"), ("to_gas_locker", "0.3 m"), ("above_waterline", "0.4 m")]
)
def test_an_intake_too_near_is_told(fitted: Callable[..., Plan], key: str, near: str) -> None:
    one = {"name": "mushroom", "zones": ["saloon", "cabin"], "to_exhaust": "4 m", "to_gas_locker": "2 m",
           "above_waterline": "1.4 m"}  # fmt: skip
    (finding,) = intakes(fitted(intakes=[one | {key: near}])).findings
    assert finding.code == "intake-near"
    assert finding.path.endswith(key)


def test_a_schedule_is_a_frame_in_si() -> None:
    schedule = Schedule("x", "X", (Column("zone"), Column("air", "air flow")), (("saloon", 0.1),), (), (),
                        (Assumed("length", "3 m"),))  # fmt: skip
    frame = schedule.to_pandas()
    assert list(frame.columns) == ["zone", "air [m³/s]"]
    assert frame["air [m³/s]"][0] == 0.1
    assert schedule.column("zone") == ("saloon",)

"""Sea water: conservation of water and energy, the duty on a curve, and every warning by a boat that has its fault."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from heatsim.equipment.plan import Plan
from heatsim.services.circuits import circuits
from heatsim.services.friction import GRAVITY
from heatsim.services.seawater import at, rise, sea_schedules
from heatsim.services.units import all_working, rejecting

Make = Callable[..., Plan]
PUMP = {
    "curve": [{"flow": "0 L/min", "head": "10 m"}, {"flow": "25 L/min", "head": "7 m"},
              {"flow": "40 L/min", "head": "3 m"}],
    "below_waterline": "0.6 m", "below_heeled": "0.4 m", "below_planing": "0.35 m",
}  # fmt: skip
WEAK = PUMP | {
    "curve": [{"flow": "0 L/min", "head": "6 m"}, {"flow": "12 L/min", "head": "4.5 m"},
              {"flow": "20 L/min", "head": "1 m"}],
}  # fmt: skip
ALL: dict[str, Any] = {"name": "main", "serves": ["saloon", "cabin"], "pump": PUMP}


def found(plan: Plan) -> dict[str, Any]:
    return {one.code: one for schedule in sea_schedules(plan) for one in schedule.findings}


def test_branches_sum_to_what_the_pump_moves(fitted: Make) -> None:
    branches = [{"serves": "saloon", "hose": "19 mm"}, {"serves": "cabin", "hose": "13 mm", "length": "9 m"}]
    for opened in (1.0, 0.5):
        ((made,), _) = circuits(fitted(seawater={"circuits": [ALL | {"branches": branches}]}))
        duty = made.duty(opened)
        flows = sum(b.unit.count * flow for b, flow in zip(made.branches, duty.branches, strict=True))
        assert flows == pytest.approx(duty.flow, rel=1e-9)  # found to 1e-12
        # Every branch takes the manifold's head: what the pump has less suction and strainer.
        manifold = made.pump(duty.flow) - made.common(duty.flow, opened)
        for branch, flow in zip(made.branches, duty.branches, strict=True):
            assert branch.head(flow) == pytest.approx(manifold, rel=1e-6)  # roots of roots


def test_the_waters_rise_carries_the_units_heat(planned: Plan) -> None:
    """Energy on the water's side: ρ·c·flow·rise is coil heat and compressor power of the units as the plan has them."""
    ((made,), _) = circuits(planned)
    duty = made.duty()
    carried = given = 0.0
    for branch, flow in zip(made.branches, duty.branches, strict=True):
        unit = at(planned, branch, flow)
        assert unit is not None
        carried += made.fluid.density * made.fluid.heat * flow * rise(made, unit, flow)
        given += unit.cooling + unit.power
    assert carried == pytest.approx(given, rel=1e-12)
    # At the plan's own water flow the same units give what `equipment.capacity` says of them.
    planned_heat = {unit.serves: unit.heat for unit in rejecting(planned)}
    for work in all_working(planned):
        assert planned_heat[work.offer.zones] == pytest.approx(float(work.done.rejected), rel=1e-9)


def test_totals_of_the_schedule_are_sums_of_its_rows(planned: Plan) -> None:
    rows = sea_schedules(planned)[0].rows
    for column in (3, 4, 5):
        assert sum(row[column] for row in rows[:-1]) == pytest.approx(rows[-1][column], rel=1e-9)  # type: ignore[arg-type,misc]


def test_the_duty_lies_on_the_entered_curve(fitted: Make) -> None:
    ((made,), _) = circuits(fitted(seawater={"circuits": [ALL]}))
    assert made.pump(25.0 / 6e4) == pytest.approx(7.0)
    assert made.pump(12.5 / 6e4) == pytest.approx(8.5)  # half way along a straight piece
    assert made.pump(46.0 / 6e4) == pytest.approx(1.4)  # the last slope goes on: 4 m in 15 L/min
    duty = made.duty()
    assert duty.head == pytest.approx(made.pump(duty.flow))


def test_an_assumed_pump_just_does_the_duty(planned: Plan) -> None:
    ((made,), assumed) = circuits(planned)
    assert made.duty().flow >= 0.999 * made.wanted
    assert any(one.what == "sea water: pump" for one in assumed)


def test_a_dirty_strainer_takes_water_and_capacity(fitted: Make) -> None:
    clogging = ALL | {"strainer_loss": "40 kPa"}
    _, _, _, _, strainer, _ = sea_schedules(fitted(seawater={"circuits": [clogging]}))
    frame = strainer.to_pandas().set_index(["serves", "strainer open [-]"])
    for zone in ("saloon", "cabin"):
        flow, cooling = (frame.loc[zone][name] for name in ("flow [m³/s]", "cooling [W]"))
        assert flow[1.0] > flow[0.75] > flow[0.5]
        assert cooling[1.0] > cooling[0.75] > cooling[0.5]
        margin = frame.loc[zone]["by pressure [K]"]
        assert margin[1.0] >= margin[0.75] >= margin[0.5]
        assert margin[1.0] > margin[0.5]


def test_a_hot_sea_trips_on_a_dirty_strainer(fitted: Make) -> None:
    choked = fitted(seawater={"circuits": [ALL | {"pump": WEAK, "strainer_loss": "30 kPa"}]})
    assert "trips-on-strainer" not in found(choked)
    hot = _lasting(replace(choked, needs=replace(choked.needs, sea=42.0)))
    trips = [row[7] for row in sea_schedules(hot)[4].rows if row[1] == "saloon"]
    assert trips[0] > trips[-1] == 0.0  # type: ignore[operator]
    assert "trips-on-strainer" in found(hot)


def _lasting(plan: Plan) -> Plan:
    """With units that have no limit of their own in hot sea but the pressure switch, their condensers half scaled."""
    assert plan.chosen is not None
    assert plan.chosen.choice is not None
    offers = tuple(replace(o, unit=replace(o.unit, hottest_water=60.0)) for o in plan.chosen.offers)
    terms = replace(plan.resolved.terms, fouling=0.5)
    return replace(
        plan, resolved=replace(plan.resolved, terms=terms),
        chosen=replace(plan.chosen, choice=replace(plan.chosen.choice, offers=offers)),
    )  # fmt: skip


def test_a_branch_starves_beside_a_better_one_and_a_valve_helps(fitted: Make) -> None:
    bad = {"serves": "cabin", "hose": "13 mm", "length": "25 m", "highest_point": "2 m"}
    good = {"serves": "saloon", "hose": "25 mm", "length": "2 m"}

    def cabin(valve: str) -> float:
        plan = fitted(seawater={"circuits": [ALL | {"pump": WEAK, "branches": [bad, good | {"extra_head": valve}]}]})
        rows = {row[1]: row for row in sea_schedules(plan)[0].rows}
        if valve == "0 m":
            starved = found(plan)["water-starved"]
            assert "cabin" in starved.path
        return float(rows["cabin"][6] or 0.0)

    assert cabin("3 m") > cabin("0 m")


def test_a_pump_that_cannot_lift_moves_nothing(fitted: Make) -> None:
    high = [{"serves": zone, "highest_point": "12 m"} for zone in ("saloon", "cabin")]
    plan = fitted(seawater={"circuits": [ALL | {"branches": high}]})
    schedules = sea_schedules(plan)
    assert schedules[2].column("duty flow") == (0.0,)
    assert {"pump-weak", "water-starved"} <= set(found(plan))
    assert schedules[0].column("cooling")[0] == 0.0


def test_lift_stands_in_the_head(fitted: Make) -> None:
    heads = []
    for height in ("0.5 m", "1.5 m"):
        branches = [{"serves": zone, "highest_point": height} for zone in ("saloon", "cabin")]
        ((made,), _) = circuits(fitted(seawater={"circuits": [ALL | {"branches": branches}]}))
        heads.append(made.branches[0].head(1e-4))
    assert heads[1] - heads[0] == pytest.approx(1.0, rel=1e-9)  # a metre is a metre: round-off


def test_the_head_of_a_branch_is_the_sum_of_its_parts(planned: Plan) -> None:
    _, hoses, pumps, *_ = sea_schedules(planned)
    frame = hoses.to_pandas()
    parts = frame["lift [m]"] + frame["hose and bends [m]"] + frame["condenser and valve [m]"]
    assert parts.to_numpy() == pytest.approx(frame["branch head [m]"].to_numpy(), rel=1e-12)  # round-off
    ((made,), _) = circuits(planned)
    flow, head = (float(pumps.column(name)[0] or 0.0) for name in ("duty flow", "duty head"))
    # What the pump has left behind suction and strainer: roots of roots.
    assert frame["branch head [m]"].to_numpy() == pytest.approx(head - made.common(flow), rel=1e-6)


def test_losses_in_metres_of_sea_water(planned: Plan) -> None:
    ((made,), _) = circuits(planned)
    assert made.fluid.head(made.fluid.density * GRAVITY) == pytest.approx(1.0)
    branch = made.branches[0]
    # The assumed condenser takes 25 kPa at its rated flow; the rest of the branch takes the rest.
    hose = made.fluid.head(branch.run.drop(branch.unit.flow))
    assert branch.head(branch.unit.flow) - branch.lift - hose == pytest.approx(made.fluid.head(25e3), rel=1e-9)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"pump": PUMP | {"below_heeled": "0.1 m"}}, "pump-dry"),
        ({"pump": PUMP | {"below_planing": "-0.2 m"}}, "pump-dry"),
        ({"pump": {"curve": PUMP["curve"]}}, "pump-depth-unknown"),
        ({"through_hull": "13 mm"}, "water-fast"),
        ({"rises_all_the_way": False}, "air-lock"),
        ({"branches": [{"serves": "saloon", "hose": "10 mm", "length": "1 m"}]}, "water-fast"),
    ],
)
def test_every_warning_and_a_boat_without_it(fitted: Make, change: dict[str, Any], code: str) -> None:
    good = ALL | {"through_hull": "32 mm", "suction_hose": "32 mm", "rises_all_the_way": True}
    good["branches"] = [{"serves": "saloon", "hose": "19 mm"}, {"serves": "cabin", "hose": "19 mm"}]
    assert code not in found(fitted(seawater={"circuits": [good]}))
    assert code in found(fitted(seawater={"circuits": [good | change]}))


def test_more_than_six_units_on_a_pump(planned: Plan) -> None:
    assert planned.chosen is not None
    assert planned.chosen.choice is not None
    offers = tuple(replace(one, count=4) for one in planned.chosen.offers)
    crowd = replace(planned, chosen=replace(planned.chosen, choice=replace(planned.chosen.choice, offers=offers)))
    assert "too-many-on-pump" in found(crowd)
    assert "too-many-on-pump" not in found(planned)


def test_fresh_water_freezes_first(fitted: Make) -> None:
    assert "freezes" not in found(fitted(seawater={"coldest": "6 degC"}))
    scant = [ALL | {"pump": WEAK, "strainer_loss": "300 kPa"}]
    lake = found(fitted(seawater={"salinity": 0, "coldest": "4.4 degC", "circuits": scant}))
    assert "freezes" in lake


def test_a_central_plant_gives_its_heat_once(fitted: Make) -> None:
    plan = fitted("central plant")
    (unit,) = rejecting(plan)
    assert plan.chosen is not None
    assert plan.chosen.plant is not None
    assert unit.serves == ("plant",)
    assert unit.count == plan.chosen.plant.count
    # Cooling at the plan's conditions is the capacity that the layout was chosen by.
    assert unit.count * unit.cooling == pytest.approx(plan.chosen.plant.capacity, rel=1e-9)
    named = fitted("central plant", seawater={"circuits": [ALL | {"serves": ["plant"]}]})
    assert circuits(named)[0][0].name == "main"

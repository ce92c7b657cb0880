"""Ducts and grilles: conservation, closed forms of heat gain, and every warning by a boat that has its fault."""

from __future__ import annotations

from collections.abc import Callable
from math import exp, log, pi
from typing import Any

import pytest

from heatsim.equipment.plan import Plan
from heatsim.report.service_pictures import service_drawings
from heatsim.services.air import treated_air
from heatsim.services.ducts import System
from heatsim.services.grilles import air_systems, ducts, grilles, noise_of, noise_text, speed_for
from heatsim.services.surroundings import Around, surroundings

Make = Callable[..., Plan]
RUN = {"zone": "cabin", "bore": "125 mm", "length": "3 m", "bends": 2}


def systems(plan: Plan) -> tuple[System, ...]:
    return air_systems(plan, surroundings(plan))[0]


def found(plan: Plan) -> dict[str, Any]:
    around = surroundings(plan)
    made, assumed = air_systems(plan, around)
    both = (*ducts(plan, made, assumed, around).findings, *grilles(plan, made, around).findings)
    return {finding.code: finding for finding in both}


def test_all_runs_share_the_plenum_and_sum_to_the_unit(fitted: Make) -> None:
    plan = fitted("installed", ducts=[RUN, {"zone": "saloon", "bore": "150 mm", "length": "5 m", "bends": 4}])
    (made,) = systems(plan)
    whole = made.share * made.planned.offer.count * made.planned.flow
    # The plenum's pressure is found to 1e-9.
    assert sum(one.flow for one in made.runs) == pytest.approx(whole, rel=1e-7)
    assert len({one.drop for one in made.runs}) == 1


def test_outdoor_air_has_ducts_of_its_own(fitted: Make) -> None:
    """Fresh-air units' runs carry what the scenario asks for, and warm up by the exponential approach by hand."""
    plan = fitted("central, treated air")
    around = surroundings(plan)
    made, assumed = air_systems(plan, around)
    schedule = ducts(plan, made, assumed, around)
    own = [row for row in schedule.to_pandas().to_dict("records") if "outdoor air" in row["run"]]
    assert sum(row["flow [m³/s]"] for row in own) == pytest.approx(
        100.0 / 3600.0, rel=1e-9
    )  # the scenario's: round-off
    assert {row["zone"] for row in own} == {"saloon", "cabin"}
    treated = treated_air(plan)
    assert treated is not None
    for row in own:
        bore, outer = row["bore [m]"], row["bore [m]"] + 0.05
        assert row["flow [m³/s]"] / (pi / 4.0 * bore**2) <= 5.0 * 1.001  # the trade's speed, by which it is sized
        per_metre = 1.0 / (pi * bore * 15.0) + log(outer / bore) / (2.0 * pi * 0.04) + 1.0 / (pi * outer * 8.0)
        rate = treated.heat_rate * row["flow [m³/s]"] / (100.0 / 3600.0)
        outside = around[row["zone"]].temperature + 4.0
        by_hand = outside + (treated.supply - outside) * exp(-3.0 / per_metre / rate)
        assert row["at grille [°C]"] == pytest.approx(by_hand, abs=1e-6)  # round-off
    assert any("outdoor-air ducts to cabin" in one.what for one in schedule.assumptions)
    plain = fitted("central plant")
    made, assumed = air_systems(plain, around)
    assert not any("outdoor air" in str(run) for run in ducts(plain, made, assumed, around).column("run"))


def test_the_picture_marks_short_what_the_ducts_list_does(fitted: Make) -> None:
    """A room within a tenth of its share may still get less than its load asks for: then both say so."""
    for ducts_ in ([], [RUN | {"bore": "75 mm", "length": "6 m", "bends": 5}], [RUN | {"bore": "150 mm"}] * 2):
        plan = fitted("installed", ducts=ducts_)
        around = surroundings(plan)
        made, assumed = air_systems(plan, around)
        told = {one.path.removeprefix("zones.") for one in ducts(plan, made, assumed, around).findings
                if one.code == "air-short"}  # fmt: skip
        drawn = service_drawings(plan, "si")[0].before[0]
        assert told == {stream.zone for unit in drawn for stream in unit.streams if stream.short}


def test_a_longer_and_a_narrower_run_get_less(fitted: Make) -> None:
    plan = fitted("installed", ducts=[
        RUN | {"name": "near", "length": "1 m"}, RUN | {"name": "far", "length": "8 m"},
        RUN | {"name": "thin", "bore": "75 mm", "length": "1 m"}, {"zone": "saloon", "bore": "150 mm", "length": "2 m"},
    ])  # fmt: skip
    flow = {one.name: one.flow for one in systems(plan)[0].runs}
    assert flow["near"] > flow["far"] > flow["thin"]


def test_starved_ducts_cost_air_and_capacity(fitted: Make) -> None:
    plan = fitted(ducts=[RUN | {"bore": "75 mm", "length": "6 m", "bends": 5}])
    made = next(one for one in systems(plan) if one.planned.name == "cabin")
    assert made.share < 0.8
    assert float(made.work.done.total) < float(made.planned.done.total)
    # With the fan's law as stated: what it has at this flow is what ducts and return grille take.
    fan = made.available * (2.0 - made.share**2)
    assert made.runs[0].drop < fan < 2.0 * made.available
    assert {"static-short", "duct-loud", "unbalanced"} <= set(found(plan))
    uneven = found(plan)["unbalanced"]
    assert uneven.message == "with the ducts as they are it gets less than its share of the air"
    assert (uneven.value, uneven.limit) == (f"{100.0 * made.share:.0f} %", "90–110 %")
    assert not {"static-short", "duct-loud", "unbalanced"} & set(found(fitted(ducts=[RUN, RUN])))


def test_heat_gain_is_that_of_an_insulated_cylinder(fitted: Make) -> None:
    """Exponential approach with films and a cylindrical layer in series (Incropera et al., 6th ed., chapters 3 and 8,
    from memory), with the films and conductivity as stated."""
    plan = fitted(ducts=[RUN | {"through": "locker", "insulation": "25 mm", "length": "4 m"}])
    made = next(one for one in systems(plan) if one.planned.name == "cabin")
    (run,) = made.runs
    layers = 1.0 / (15.0 * pi * 0.125) + log(0.175 / 0.125) / (2.0 * pi * 0.04) + 1.0 / (8.0 * pi * 0.175)
    left = exp(-4.0 / layers / made.work.heat_rate)
    # The same formula by hand: round-off.
    assert run.supply == pytest.approx(45.0 + (made.work.supply - 45.0) * left, rel=1e-9)
    assert run.gain == pytest.approx(made.work.heat_rate * (run.supply - made.work.supply), rel=1e-9)


def test_a_bare_duct_in_a_hot_locker_takes_up_too_much(fitted: Make) -> None:
    assert "duct-gain" in found(fitted(ducts=[RUN | {"through": "locker", "insulation": "0 mm", "length": "8 m"}]))
    assert "duct-gain" not in found(fitted(ducts=[RUN | {"insulation": "25 mm"}] * 2))


@pytest.mark.parametrize(("insulation", "drips"), [("0 mm", True), ("25 mm", False)])
def test_a_bare_duct_in_a_damp_locker_drips(fitted: Make, insulation: str, drips: bool) -> None:
    plan = fitted(ducts=[RUN | {"through": "locker", "insulation": insulation}])
    damp = surroundings(plan) | {"locker": Around(27.0, 24.0)}
    made, assumed = air_systems(plan, damp)
    assert ("duct-sweats" in {one.code for one in ducts(plan, made, assumed, damp).findings}) is drips


def test_what_nobody_gave_is_listed(fitted: Make) -> None:
    _, assumed = air_systems(fitted(), surroundings(fitted()))
    what = {one.what for one in assumed}
    assert {"external static of units at their rated air", "ducts to cabin", "supply grille of cabin"} <= what
    _, less = air_systems(fitted(available_static="80 Pa", ducts=[RUN | {"insulation": "10 mm", "through": "locker"}]),
                          surroundings(fitted()))  # fmt: skip
    assert not {"external static of units at their rated air", "ducts to cabin"} & {one.what for one in less}


def test_grilles_by_their_free_area(fitted: Make) -> None:
    small = {"zone": "cabin", "kind": "supply", "gross_area": "200 cm2", "free_share": "40 %"}
    plan = fitted(grilles=[small])
    made = systems(plan)
    row = next(row for row in grilles(plan, made, surroundings(plan)).rows if row[:2] == ("cabin", "supply"))
    flow = next(one for one in made if one.planned.name == "cabin").flow("cabin")
    assert row[7] == pytest.approx(flow / 0.008, rel=1e-9)  # 200 cm² × 40 %: round-off
    assert "grille-loud" in found(plan)
    assert "grille-loud" not in found(fitted(grilles=[small | {"gross_area": "1200 cm2"}]))


@pytest.mark.parametrize(
    ("kind", "change", "code"),
    [
        ("return", {"through": "locker"}, "return-through-locker"),
        ("supply", {"blows_at": "sensor"}, "sensor-in-supply"),
        ("supply", {"blows_at": "return"}, "supply-at-return"),
    ],
)
def test_grilles_in_the_wrong_place(fitted: Make, kind: str, change: dict[str, str], code: str) -> None:
    good = {"zone": "cabin", "kind": kind, "gross_area": "1200 cm2"}
    assert code in found(fitted(grilles=[good | change]))
    assert code not in found(fitted(grilles=[good]))


def test_a_shared_unit_needs_a_way_back(fitted: Make) -> None:
    assert "no-return-path" in found(fitted("installed"))
    both = [{"zone": zone, "kind": "return", "gross_area": "1500 cm2"} for zone in ("saloon", "cabin")]
    assert "no-return-path" not in found(fitted("installed", grilles=both))
    assert "no-return-path" not in found(fitted())  # each room has a unit of its own


def test_a_grille_sweats_in_a_damp_room(fitted: Make) -> None:
    plan = fitted()
    made = systems(plan)
    dry = {name: Around(24.0, 5.0) for name in ("saloon", "cabin")}
    wet = {name: Around(24.0, 22.0) for name in ("saloon", "cabin")}
    assert "grille-sweats" not in {one.code for one in grilles(plan, made, dry).findings}
    assert "grille-sweats" in {one.code for one in grilles(plan, made, wet).findings}


def test_noise_is_told_no_finer_than_it_is_known() -> None:
    assert noise_text(5.0) == "below 20"
    assert noise_text(60.0) == "above 45"
    assert noise_text(33.2) == "33 ± 5"
    for kind in ("supply", "return"):
        assert noise_of(speed_for(33.0, kind), kind) == pytest.approx(33.0, rel=1e-12)  # its own inverse: round-off


def test_scheduled_spaces_and_outdoors_are_known(planned: Plan) -> None:
    around = surroundings(planned)
    assert around["locker"].temperature == 45.0
    assert around["outdoors"].temperature > around["outdoors"].dew_point

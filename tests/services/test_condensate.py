"""Condensate: what the proof drained is shared out whole; drains at heel and trim by hand."""

from __future__ import annotations

from collections.abc import Callable
from math import radians, sin
from typing import Any

import pytest

from heatsim.equipment.plan import Plan
from heatsim.equipment.proof import Proof
from heatsim.services.condensate import condensate, daily, drains_schedule, hourly

Make = Callable[..., Plan]
DRAIN = {"serves": "saloon", "length": "2 m", "drop": "250 mm"}


def test_units_drain_what_the_boat_drained(planned: Plan, proof: Proof) -> None:
    part = proof.of("one a zone")
    shared = sum(own["hot"] for own in daily(planned, proof))
    assert 1e3 * shared == pytest.approx(float(part["condensate"].values[0]), rel=1e-9)  # shares sum to one
    frame = condensate(planned, proof)[0].to_pandas()
    assert frame["hot day [m³]"].iloc[:-1].sum() == pytest.approx(frame["hot day [m³]"].iloc[-1], rel=1e-9)


def test_no_unit_drains_more_than_flat_out(planned: Plan, proof: Proof) -> None:
    assert planned.chosen is not None
    for offer, own in zip(planned.chosen.offers, daily(planned, proof), strict=True):
        # Damper rooms than planned for drain more in an hour: half as much again at the most (a coil in fog).
        assert 0.0 < own["hot"] < 1.5 * 24.0 * 3600.0 * hourly(planned, offer)


@pytest.mark.parametrize(("lies", "angle"), [("athwart", 10.0), ("fore and aft", 3.0)])
def test_fall_at_heel_and_trim_by_hand(fitted: Make, lies: str, angle: float) -> None:
    made = drains_schedule(fitted(drains={"heel": "10 deg", "trim": "3 deg", "runs": [DRAIN | {"lies": lies}]}))
    row = made.rows[0]
    # Small angles of a straight drain: drop over length less the sine.
    assert row[5] == pytest.approx(0.125, rel=1e-9)
    assert row[6] == pytest.approx(0.125 - sin(radians(angle)), rel=1e-9)


def found(plan: Plan) -> dict[str, Any]:
    return {one.code: one for one in drains_schedule(plan).findings}


def test_a_drain_that_runs_uphill_is_told(fitted: Make) -> None:
    steep = [DRAIN, DRAIN | {"serves": "cabin"}]
    assert found(fitted(drains={"heel": "5 deg", "runs": steep})) == {}
    uphill = found(fitted(drains={"heel": "10 deg", "runs": steep}))["drain-uphill"]
    assert "uphill" in uphill.message
    # The drop that is asked for gives the fall that is asked for.
    wanted = (0.02 + sin(radians(10.0))) * 2.0
    assert f"{1e3 * wanted:.0f} mm" in uphill.message


def test_unknown_drains_are_one_finding(fitted: Make) -> None:
    finding = found(fitted())["drain-unknown"]
    assert "saloon; cabin" in finding.message
    assert "cabin" in found(fitted(drains={"runs": [DRAIN]}))["drain-unknown"].message


def test_the_sumps_duty(fitted: Make) -> None:
    plan = fitted()
    assert plan.chosen is not None
    whole = sum(hourly(plan, offer) for offer in plan.chosen.offers)
    row = drains_schedule(plan).rows[-1]
    assert row[0] == "sump"
    assert row[1] == pytest.approx(whole, rel=1e-12)
    overboard = [DRAIN | {"ends": "overboard"}, DRAIN | {"serves": "cabin", "ends": "overboard"}]
    assert drains_schedule(fitted(drains={"runs": overboard})).rows[-1][1] == 0.0
    assert "sump-weak" in found(fitted(drains={"sump_pump": f"{3.6e6 * whole:.3f} L/h"}))
    assert "sump-weak" in found(fitted(drains={"sump_volume": "0.05 L"}))
    assert "sump-weak" not in found(fitted(drains={"sump_pump": "1000 L/h"}))

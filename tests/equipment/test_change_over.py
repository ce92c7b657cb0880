"""Units that serve other rooms by night: hours, sizes, and the proof of one unit doing two duties."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatsim import resolve
from heatsim.climate.weather import routine_values
from heatsim.equipment.candidates import sized
from heatsim.equipment.change_over import changed_over, cooled_pairs
from heatsim.equipment.layouts import DAY_NIGHT, EACH, Layout
from heatsim.equipment.plan import Plan, plan
from heatsim.equipment.proof import prove
from heatsim.errors import HeatsimError
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolved import Resolved
from heatsim.scenario.starters import demo

PAIR = "equipment.day_and_night=[{day: [saloon], night: [forward cabin, aft cabin]}]"


@pytest.fixture(scope="module")
def boat() -> Resolved:
    resolved = resolve(read_text(demo("dunlin-11"), overrides=[PAIR]))
    return replace(
        resolved, place=replace(resolved.place, headings=(120.0,)), terms=replace(resolved.terms, installed=())
    )


@pytest.fixture(scope="module")
def made(boat: Resolved) -> Plan:
    return plan(boat)


def _of(made: Plan, name: str) -> Layout:
    return next(one for one in made.layouts if one.name == name)


def test_each_half_is_cooled_in_its_own_hours(boat: Resolved) -> None:
    """Night from 21 to 8, as where nothing is said: never both at once, and every minute one of them."""
    minutes = np.arange(1440)
    on = {z.name: routine_values(z.control.cooling_on, minutes) for z in changed_over(boat).zones if z.control}
    night = (minutes >= 21 * 60) | (minutes < 8 * 60)
    np.testing.assert_array_equal(on["forward cabin"] > 0.0, night)
    np.testing.assert_array_equal(on["aft cabin"], on["forward cabin"])
    np.testing.assert_array_equal(on["saloon"] > 0.0, ~night)


def test_one_unit_carries_both_halves_and_counts_once(made: Plan) -> None:
    layout = _of(made, DAY_NIGHT)
    (unit,) = layout.offers
    day, night = layout.duties
    assert (day.zones, night.zones) == (("saloon",), ("forward cabin", "aft cabin"))
    assert day.unit is night.unit
    assert layout.cost == unit.unit.price
    assert layout.weight == unit.unit.weight
    assert layout.running_apparent == unit.apparent
    assert min(day.margin, night.margin) >= 0.0
    # It is as large as the larger half asks, not as both: that is what changing over is for.
    each = _of(made, EACH)
    assert layout.capacity < each.capacity
    assert day.demand.total + night.demand.total > 1.2 * max(day.demand.total, night.demand.total)


def test_the_proof_runs_one_unit_in_turn(made: Plan) -> None:
    """Its two duties never run together, so current never passes one unit's."""
    layout = _of(made, DAY_NIGHT)
    assert layout.boat is not None
    data = prove(layout.boat, layout, 120.0, starts=("settled",)).data
    stages = data["stage"].values.reshape(-1, 2, data.sizes["time"]) > 0.0
    assert stages.any(axis=(0, 2)).all()
    assert not stages.all(axis=1).any()
    rated = layout.offers[0].unit.running_current
    assert float(data["peak_current"].max()) < 1.3 * rated  # warmer air at the turn: up to 5 K on the coil, 2 % per K
    assert float(data["energy_residual"].max()) < 1e-6


def test_a_lost_unit_leaves_both_halves(made: Plan) -> None:
    """With its one unit lost nobody cools: all its rooms are as warm as in a boat without cooling."""
    layout = _of(made, DAY_NIGHT)
    held = made.lost[0] if made.chosen is layout else made.lost_elsewhere[DAY_NIGHT]
    assert held.lost == "saloon + forward cabin + aft cabin"
    assert min(held.above.values()) > 3.0


@pytest.mark.parametrize(
    ("given", "rule"),
    [
        ("[{day: [saloon], night: [fore cabin]}]", "forward cabin"),
        ("[{day: [saloon], night: [saloon]}]", "already"),
        ("[{day: [saloon], night: [aft cabin], night_begins: 8}]", "different hours"),
        ("[{day: [saloon], night: []}]", "night"),
        ("[{day: [saloon], night: [aft cabin], begins: 20}]", "night_begins"),
    ],
)
def test_bad_pairs_are_refused(given: str, rule: str) -> None:
    with pytest.raises(HeatsimError) as caught:
        read_text(demo("dunlin-11"), overrides=[f"equipment.day_and_night={given}"])
    assert rule in str(caught.value)


def test_a_half_that_nobody_cools_is_no_half() -> None:
    """Then there is nothing to turn to: no such layout, and no room pauses for it."""
    boat = resolve(read_text(demo("dunlin-11"), overrides=[PAIR, "zones.saloon.conditioned=false"]))
    assert cooled_pairs(boat) == []
    assert changed_over(boat) == boat
    some = resolve(read_text(demo("dunlin-11"), overrides=[PAIR, "zones.aft cabin.conditioned=false"]))
    assert [pair.night for pair in cooled_pairs(some)] == [("forward cabin",)]


def test_other_sizes_keep_their_duty_by_night(made: Plan) -> None:
    turning = replace(made, chosen=_of(made, DAY_NIGHT))
    larger = sized(turning, "larger")
    assert [duty.zones for duty in larger.duties] == [duty.zones for duty in turning.chosen.duties]  # type: ignore[union-attr]
    assert len({duty.unit.model for duty in larger.duties}) == 1

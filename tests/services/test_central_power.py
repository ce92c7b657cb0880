"""Power, heating and commissioning of a central plant: chillers, air handlers together, the loop's pump."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from dunlin import boat, planned

from heatsim.equipment.capacity import heating as reversed_unit
from heatsim.equipment.catalogue import read_catalogue
from heatsim.equipment.drift import zone_conductance
from heatsim.equipment.layouts import CENTRAL, searches
from heatsim.equipment.plan import Plan
from heatsim.equipment.proof import Proof, prove
from heatsim.services.cables import cables
from heatsim.services.commissioning import air_sheet, water_sheet
from heatsim.services.draws import draws, pumping, settled_runs
from heatsim.services.electrical import loads, shore, together
from heatsim.services.generator import generator
from heatsim.services.heating import coldest_water, reverse_cycle


@cache
def central() -> Plan:
    n = planned().needs
    every = searches(boat(), n, read_catalogue(), zone_conductance(boat(), n.zones))
    search = next(one for one in every if one.name == CENTRAL)
    layout = search.build(search.offers)
    assert layout.plant is not None
    return replace(planned(), layouts=(layout,), chosen=layout)


@cache
def run() -> Proof:
    plan = central()
    assert plan.chosen is not None
    return prove(plan.boat, plan.chosen, plan.heading, starts=("settled",))


def test_loads_are_those_of_the_layout() -> None:
    """Active power is the layout's own and the pumps'; apparent power of chillers by their current."""
    layout = central().chosen
    assert layout is not None
    assert layout.plant is not None
    found = draws(central())
    assert len(found) == layout.plant.count + 1
    assert [draw.name for draw in found].count("all air handlers") == 1
    pumps = sum(draw.pump for draw in found)
    assert sum(draw.active for draw in found) - pumps == pytest.approx(layout.power, rel=1e-12)
    chiller = next(draw for draw in found if draw.zones == ("plant",))
    assert chiller.cooling == pytest.approx(layout.plant.capacity / layout.plant.count, rel=1e-12)
    assert chiller.pump > 0.0
    assert len(loads(central()).rows) == len(found) + 1


def test_the_loop_is_pumped_while_any_handler_runs() -> None:
    first = settled_runs(central(), run())[0]
    power = pumping(central(), run(), first)
    whole = sum(draw.pump for draw in draws(central()))
    assert set(np.unique(power)) <= {0.0, whole}
    assert power.max() == whole
    assert 0.0 < float(together(central(), run()).column("coincidence")[0] or 0.0) < 1.1


def test_schedules_of_a_plant() -> None:
    assert shore(central()).rows
    assert generator(central(), run()).rows
    assert cables(central()).column("circuit")[0] == f"{draws(central())[0].name}: plant"
    water, air = water_sheet(central()), air_sheet(central())
    assert water.column("serves")[0] == "plant"
    # Its rise at the rated flow and a clean condenser: 4–6 K (common practice, no source).
    assert 4.0 <= float(water.column("sea rise")[0] or 0.0) <= 6.0
    assert all(rise is None for rise in water.column("sea rise")[-len(air.rows) :])


def test_heat_of_the_plant_is_shared_out_whole() -> None:
    """Less what ducts lose, and nothing below the chillers' coldest water."""
    layout = central().chosen
    assert layout is not None
    assert layout.plant is not None
    output, power = reverse_cycle(central(), 12.0)
    heat, electrical = (float(part) * layout.plant.count for part in reversed_unit(layout.plant.unit, 12.0))
    assert sum(output.values()) == pytest.approx(0.95 * heat, rel=1e-12)
    assert power == pytest.approx(electrical, rel=1e-12)
    assert coldest_water(central()) == layout.plant.unit.coldest_water
    assert sum(reverse_cycle(central(), layout.plant.unit.coldest_water - 0.1)[0].values()) == 0.0

"""Nothing is silently assumed: each length, bend, curve and size that nobody gave stands in a schedule's list."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from dunlin import planned as powered_plan
from dunlin import powered, proved

from heatsim.equipment.plan import Plan
from heatsim.equipment.proof import Proof
from heatsim.report.service_amounts import heads
from heatsim.scenario.electrics import GeneratorSet, PowerAboard, Storage
from heatsim.services import all_schedules
from heatsim.services.schedule import Assumed

Make = Callable[..., Plan]
CURVE = {"curve": [{"flow": "0 L/min", "head": "10 m"}, {"flow": "25 L/min", "head": "7 m"},
                   {"flow": "40 L/min", "head": "3 m"}], "below_waterline": "1 m", "below_heeled": "1 m",
         "below_planing": "1 m"}  # fmt: skip
DUCT = {"bore": "125 mm", "length": "3 m", "bends": 2, "insulation": "25 mm", "through": "locker"}
BRANCH = {"hose": "19 mm", "length": "4 m", "bends": 3, "highest_point": "0.4 m", "outlet": "0.2 m",
          "condenser_loss": "20 kPa"}  # fmt: skip
ROOMS = ("saloon", "cabin")
ENTERED: dict[str, Any] = {
    "available_static": "100 Pa",
    "ducts": [DUCT | {"zone": zone} for zone in ROOMS],
    "grilles": [
        {"zone": zone, "kind": kind, "gross_area": "1500 cm2", "free_share": "50 %"}
        for zone in ROOMS for kind in ("supply", "return")
    ],
    "seawater": {
        "coldest": "6 degC", "salinity": 38,
        "circuits": [{
            "name": "main", "serves": [*ROOMS], "pump": CURVE, "through_hull": "32 mm", "suction_hose": "32 mm",
            "suction_length": "2 m", "strainer_loss": "3 kPa", "rises_all_the_way": True,
            "branches": [BRANCH | {"serves": zone} for zone in ROOMS],
        }],
    },
    "drains": {"heel": "5 deg", "trim": "2 deg", "sump_volume": "2 L", "runs": [
        {"serves": zone, "length": "2 m", "drop": "250 mm", "bore": "19 mm"} for zone in ROOMS
    ]},
    "cables": [{"name": zone, "serves": zone, "length": "9 m", "section": "2.5 mm2"} for zone in ROOMS],
}  # fmt: skip
"""All that a file can say of lengths, bends and curves."""


def listed(plan: Plan, proof: Proof) -> list[Assumed]:
    return [one for schedule in all_schedules(plan, proof) for one in schedule.assumptions]


@pytest.fixture(scope="module")
def silent(planned: Plan, proof: Proof) -> list[Assumed]:
    """What is assumed of a boat whose file says nothing of services."""
    return listed(planned, proof)


@pytest.mark.parametrize(
    ("what", "value"),
    [
        ("ducts to cabin", "3 m, 2 bends, 25 mm insulation"),
        ("external static", "100 Pa"),
        ("fans", "falling with the square of the flow"),
        ("ducts", "bends of 1 bore"),
        ("supply grille of cabin", "NC"),
        ("sea water: length to the manifold", "3 m"),
        ("sea water: bends of the suction", "4"),
        ("sea water: pump", "times that head when shut"),
        ("sea water: branch of cabin", "4.5 m, 6 bends, 0.5 m above the waterline"),
        ("hoses", "roughness"),
        ("salt of the water", "35 g/kg"),
        ("working heel", "5°"),
        ("sea water pumps", "25 %"),
        ("cables that are not entered", "half the boat's length"),
    ],
)
def test_what_nobody_gave_is_listed(silent: list[Assumed], what: str, value: str) -> None:
    assert any(one.what.startswith(what) and value in one.value for one in silent)
    assert all(one.source for one in silent)


def test_what_the_file_gives_is_not(fitted: Make, proof: Proof) -> None:
    """With every length, bend and curve entered, none of the lists names one of a duct, hose, drain or cable."""
    left = {one.what for one in listed(fitted(**ENTERED), proof)}
    for start in ("ducts to", "insulation of ducts to", "external static", "supply grille", "return grille",
                  "free share", "salt", "main: length", "main: pump", "main: branch", "main: skin", "main: suction",
                  "working", "drain of", "water between", "cables", "coldest"):  # fmt: skip
        assert not [what for what in left if what.startswith(start)], start
    assert "main: bends of the suction" in left  # which no key of the file says


def test_a_plant_lists_its_pipes(fitted: Make, proof: Proof) -> None:
    from heatsim.services.chilled_water import chilled_water
    from heatsim.services.surroundings import surroundings

    plan = fitted("central plant")
    pipes, loop = chilled_water(plan, surroundings(plan))
    assert any("9 m there and back" in one.value and "10 bends" in one.value for one in pipes.assumptions)
    assert any("kPa" in one.value for one in loop.assumptions)


def test_electricity_is_in_kilowatts_in_every_system() -> None:
    """Btu/h is heat: no electrician reads a generator in it."""
    plan, run = powered(PowerAboard(battery=Storage(energy=3.6e6 * 8.0), generator=GeneratorSet(6000.0))), proved()
    for schedule in all_schedules(plan, run):
        if schedule.name in ("electrical", "coincidence", "generator", "battery", "battery-hours"):
            shown = [head for column in schedule.columns for head in heads(column, "us")]
            assert any("kW" in head for head in shown), schedule.name
            assert not any("Btu" in head for head in shown), schedule.name


def test_every_schedule_of_the_sailing_yacht_names_its_sources() -> None:
    for one in listed(powered_plan(), proved()):
        assert one.what, one
        assert one.value, one
        assert one.source, one

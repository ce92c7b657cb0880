"""One-line diagrams show the schedules' numbers, and say in words what falls short."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from io import BytesIO

import pytest

from heatsim.equipment.plan import Plan
from heatsim.report.service_pictures import (
    MOST_ROWS,
    PICTURES,
    AirUnit,
    SeaBranch,
    SeaLine,
    Stream,
    air_line,
    sea_line,
    service_drawings,
)
from heatsim.report.services import of_layout
from heatsim.services.air import supply
from heatsim.services.seawater import sea_schedules
from heatsim.services.surroundings import surroundings

Make = Callable[..., Plan]
PNG = b"\x89PNG\r\n\x1a\n"


def test_air_line_has_the_flows_of_the_schedule(planned: Plan) -> None:
    air, sea = service_drawings(planned, "si")
    assert (air.file, sea.file) == PICTURES
    units: tuple[AirUnit, ...] = air.before[0]
    given = dict(zip(supply(planned).column("zone"), supply(planned).column("given"), strict=True))
    for unit in units:
        for stream in unit.streams:
            # Ducts that nobody entered carry what is planned, so both show the same litres a second.
            assert stream.flow.startswith(f"{1e3 * float(given[stream.zone] or 0.0):.0f} L/s at ")
            assert not stream.short
    assert air.png()[:8] == sea.png()[:8] == PNG


def test_a_thick_line_carries_more_and_bores_are_counted(fitted: Make) -> None:
    """Across units too; and two bores of one room are told by how many there are of each."""
    plan = fitted(ducts=[{"zone": "cabin", "bore": "100 mm", "length": "2 m"}] * 2
                  + [{"zone": "cabin", "bore": "75 mm", "length": "2 m"}])  # fmt: skip
    units: tuple[AirUnit, ...] = service_drawings(plan, "si")[0].before[0]
    streams = {stream.zone: stream for unit in units for stream in unit.streams}
    assert streams["cabin"].way.startswith("1 × 75 mm and 2 × 100 mm")
    assert streams["cabin"].width < streams["saloon"].width  # the saloon's unit moves more


def test_fresh_air_units_are_drawn(fitted: Make) -> None:
    plan = fitted("central, treated air")
    units: tuple[AirUnit, ...] = service_drawings(plan, "si")[0].before[0]
    assert units[-1].sends == "28 L/s from outdoors"  # 100 m³/h as the scenario asks
    assert units[-1].streams[0].zone == "2 rooms"


def test_sea_line_has_the_rise_of_the_schedule(planned: Plan) -> None:
    lines: tuple[SeaLine, ...] = service_drawings(planned, "si")[1].before[0]
    rises = sea_schedules(planned)[0].column("rise")[:-1]
    for branch, rise in zip(lines[0].branches, rises, strict=True):
        assert branch.leaves.startswith(f"rises {rise:.1f} K")


def test_what_falls_short_is_told_in_words(fitted: Make) -> None:
    thin = fitted(ducts=[{"zone": "cabin", "bore": "75 mm", "length": "8 m", "bends": 8}], seawater={"circuits": [
        {"name": "main", "serves": ["saloon", "cabin"], "branches": [{"serves": "cabin", "highest_point": "20 m"}],
         "pump": {"curve": [{"flow": "0 L/min", "head": "9 m"}, {"flow": "40 L/min", "head": "4 m"}]}},
    ]})  # fmt: skip
    air, sea = service_drawings(thin, "both")
    streams = {stream.zone: stream for unit in air.before[0] for stream in unit.streams}
    assert streams["cabin"].short
    assert "too little" in streams["cabin"].way
    branch = next(one for one in sea.before[0][0].branches if one.label == "cabin")
    assert branch.short
    assert "starved" in branch.unit
    assert sea.png()[:8] == PNG


def test_many_rows_still_make_a_picture() -> None:
    streams = tuple(Stream(f"zone {i}", "10 L/s", "1 × 100 mm", "none", 1.0, i == 3) for i in range(MOST_ROWS + 5))
    branches = tuple(SeaBranch(f"zone {i}", "9 L/min", "unit", "rises 5 K", 1.0, False) for i in range(MOST_ROWS + 5))
    for draw, rows in (
        (air_line, (AirUnit("unit", "all of it", streams),)),
        (sea_line, (SeaLine("main", "38 mm", "clean", "100 L/min", branches),)),
    ):
        stream = BytesIO()
        draw(rows, "Many", stream)  # type: ignore[operator]
        assert stream.getvalue()[:8] == PNG


def test_another_layout_keeps_the_line_only_of_the_same_boat(planned: Plan) -> None:
    assert of_layout(planned, "central plant").line is planned.line
    turned = replace(planned.layouts[0], name="turned", boat=planned.resolved)
    other = of_layout(replace(planned, layouts=(turned,)), "turned")
    assert other.line is None
    # Made anew from the same boat it is the same: the same arithmetic on the same numbers.
    for name, around in surroundings(planned).items():
        assert surroundings(replace(planned, line=None))[name] == pytest.approx(around, rel=1e-9)

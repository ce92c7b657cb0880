"""The three identities of the data set, and that a wrong report breaks them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import heatsim
from heatsim.climate.days import design_weather
from heatsim.loads.causes import recorded, split_by_cause
from heatsim.loads.line import Line, Stretch, make_line, solve_days
from heatsim.loads.paths import hours
from heatsim.loads.variables import VARIABLES
from heatsim.network.base import HEAT_PATHS

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
CLOSED = 1e-9
"""Of the peak: round-off of sums over some hundred flows that cancel to the load."""


def _boat(name: str, *changes: str) -> heatsim.Resolved:
    boat = heatsim.resolve(heatsim.read(SCENARIOS / f"{name}.yaml", changes))
    return replace(boat, place=replace(boat.place, headings=boat.place.headings[:1]))


@pytest.mark.parametrize("name", ["tern-24", "dunlin-11", "skua-38"])
def test_paths_causes_and_moisture_close(name: str) -> None:
    loads = heatsim.simulate(_boat(name))
    removed = loads["sensible_cooling"] - loads["heating"]
    peak = np.maximum(np.abs(removed), np.abs(loads["heat_gain"]).max("path")).max(("day", "heading", "time"))
    assert (
        float((np.abs(loads["heat_gain"].sum("path") - removed).max(("day", "heading", "time")) / peak).max()) < CLOSED
    )
    cooled = loads["conditioned"].values
    by_cause = np.abs(loads["load_by_cause"].sum("cause") - removed).max(("day", "heading", "time"))
    assert float((by_cause / peak).values[cooled].max()) < CLOSED
    assert float(np.abs(loads["load_by_cause"]).values[..., ~cooled, :].max(initial=0.0)) == 0.0
    assert float(loads["energy_residual"].max()) < CLOSED
    assert float(loads["moisture_residual"].max()) < CLOSED
    moisture = np.abs(loads["moisture_gain"].sum("source") - loads["moisture_removed"]).max(("day", "heading", "time"))
    assert float(moisture.max()) < CLOSED * float(loads["moisture_removed"].max())


def test_names_dims_units_of_the_data_set() -> None:
    loads = heatsim.simulate(_boat("dunlin-11"))
    assert "excess_by_cause" not in loads, "no plant limit is set"
    for variable in VARIABLES:
        if variable.name == "excess_by_cause":
            continue
        data = loads[variable.name]
        assert data.attrs["units"] == variable.units
        front = ("day", "heading") if "time" in variable.dims else ("day",)
        assert data.dims == (*front, *variable.dims)
    assert loads["time"].dtype.kind == "M"
    assert {"deck", "floor_area", "volume", "conditioned", "local_time", "utc_offset"} <= set(loads.coords)
    assert set(loads["path"].values) == set(HEAT_PATHS)
    for name in ("scenario_hash", "heatsim_version", "resolved_scenario", "defaults"):
        assert loads.attrs[name]


def test_excess_by_cause_adds_up_where_a_limit_is_set() -> None:
    boat = _boat("dunlin-11")
    zones = tuple(replace(z, control=replace(z.control, cooling_limit=800.0)) if z.control else z for z in boat.zones)
    loads = heatsim.simulate(replace(boat, zones=zones, days=boat.days[:1]))
    part = loads.sel(zone=loads["conditioned"].values)
    assert float(part["at_limit"].max()) == 1.0, "the case must reach its limit"
    setpoint = np.array([z.control.cooling_setpoint.values[0] for z in boat.zones if z.control])
    excess = part["air_temperature"] - setpoint
    assert float(np.abs(part["excess_by_cause"].sum("cause") - excess).max()) < 1e-9
    assert float(part["excess_by_cause"].sel(cause="plant").min()) < -1.0
    free = part["load_by_cause"].sum("cause").max()
    assert float(free) > 800.0, "the load by cause is that of an unlimited plant"


@pytest.fixture(scope="module")
def solved() -> tuple[Line, Stretch]:
    boat = _boat("dunlin-11")
    line = make_line(boat, (design_weather(boat, boat.days[0], 900.0),))
    return line, solve_days(line, np.array([60.0]))[0]


def _residual(line: Line, stretch: Stretch) -> float:
    fresh = replace(line, heat_operators=replace(line.heat_operators, readouts={}))
    return float(hours(fresh, stretch).energy_residual.max())


def test_the_balance_as_it_stands(solved: tuple[Line, Stretch]) -> None:
    assert _residual(*solved) < CLOSED


@pytest.mark.parametrize("path", ["deck", "glass", "sun", "people", "fresh_air"])
@pytest.mark.parametrize("factor", [0.0, 2.0])
def test_a_dropped_or_doubled_path_breaks_the_balance(
    solved: tuple[Line, Stretch], path: str, factor: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    from heatsim.loads import paths as reporting

    true = reporting.crossings

    def wrong(network):  # type: ignore[no-untyped-def]
        found = true(network)
        rows = (
            [i for i in range(found.from_nodes.shape[1]) if i % len(network.paths) == network.paths.index(path)]
            if path in network.paths
            else []
        )
        found.from_nodes[:, rows] *= factor
        found.from_drivers[:, rows] *= factor
        return found

    monkeypatch.setattr(reporting, "crossings", wrong)
    assert _residual(*solved) > 1e-4


def test_one_conductance_wrong_in_the_report_only_breaks_the_balance(solved: tuple[Line, Stretch]) -> None:
    line, stretch = solved
    heat = line.heat
    inside = heat.zone_of[heat.target]
    beyond = np.array([heat.zone_of[i] if i < len(heat.nodes) else -1 for i in heat.source])
    link = int(np.flatnonzero((heat.path == HEAT_PATHS.index("deck")) & (inside >= 0) & (beyond != inside))[0])
    conductance = line.heat.conductance.copy()
    conductance[:, link] *= 1.02
    assert _residual(replace(line, heat=replace(line.heat, conductance=conductance)), stretch) > 1e-5


def test_a_cause_forgotten_breaks_the_sum(solved: tuple[Line, Stretch]) -> None:
    line, stretch = solved
    whole = split_by_cause(line, recorded(stretch)).load
    heat = -stretch.heat.heat
    assert np.abs(whole.sum(axis=-1) - heat).max() < CLOSED * np.abs(heat).max()
    drivers = tuple(replace(d, cause="") if d.cause == "sea" else d for d in line.heat.drivers)
    partial = split_by_cause(replace(line, heat=replace(line.heat, drivers=drivers)), recorded(stretch)).load
    assert np.abs(partial.sum(axis=-1) - heat).max() > 1e-3 * np.abs(heat).max()


def test_the_table_says_why_a_limited_zone_floats() -> None:
    from heatsim.report.tables import remarks

    boat = _boat("dunlin-11")
    zones = tuple(replace(z, control=replace(z.control, cooling_limit=800.0)) if z.control else z for z in boat.zones)
    loads = heatsim.simulate(replace(boat, zones=zones, days=boat.days[:1]))
    line = next(line for line in remarks(heatsim.peaks(loads), loads, "hot", "si") if "limit" in line)
    assert "saloon" in line
    assert "plant -" in line
    assert line.count(" K") >= 4

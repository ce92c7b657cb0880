"""Weather years: the demo boat moved to Miami, over the whole year that pvlib ships."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pvlib
import pytest
import xarray as xr

import heatsim
from heatsim.climate.years import year_weather
from heatsim.loads.line import make_line
from heatsim.loads.paths import hours
from heatsim.loads.years import solve_year

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
MIAMI = Path(pvlib.__file__).parent / "data" / "12839.tm2"
"""TMY2 of Miami International Airport (NREL, public domain), in pvlib's own wheel."""


def _boat(name: str) -> heatsim.Resolved:
    changes = [f"climate.weather_file={MIAMI}", "place.region=FLA"]
    boat = heatsim.resolve(heatsim.read(SCENARIOS / f"{name}.yaml", changes))
    assert boat.weather_year is not None
    return replace(boat, place=replace(boat.place, headings=(120.0,)))


@pytest.fixture(scope="module")
def miami() -> xr.Dataset:
    return heatsim.simulate(_boat("tern-24"))


@pytest.mark.slow
def test_identities_over_the_whole_year(miami: xr.Dataset) -> None:
    removed = miami["sensible_cooling"] - miami["heating"]
    peak = np.maximum(np.abs(removed), np.abs(miami["heat_gain"]).max("path")).max(("heading", "time"))
    assert miami.sizes["time"] == 8760
    # 1e-9 of the peak: round-off of some hundred flows that cancel to the load.
    assert float((np.abs(miami["heat_gain"].sum("path") - removed).max(("heading", "time")) / peak).max()) < 1e-9
    assert float(miami["energy_residual"].max()) < 1e-9
    assert float(miami["moisture_residual"].max()) < 1e-9
    assert not np.isnan(miami["sensible_cooling"].values).any()


@pytest.mark.slow
def test_the_year_makes_sense(miami: xr.Dataset) -> None:
    peak = heatsim.peaks(miami)
    block = peak.loc[("year", "block")]
    assert 5 <= block["hour"].month <= 10, "the block peaks in the hot half of the year"
    duration = heatsim.load_duration(miami)
    assert float(duration[0, 0]) == pytest.approx(
        float((miami["sensible_cooling"] + miami["latent_cooling"]).sum("zone").max())
    )
    assert np.all(np.diff(duration.values[0]) <= 0.0)
    total = (miami["sensible_cooling"] + miami["latent_cooling"]).sum("zone").isel(heading=0)
    monthly = total.groupby("time.month").mean().values
    assert monthly[6:9].min() > 1.5 * monthly[[0, 1, 11]].max()
    assert miami["time"].values[0] == np.datetime64("2025-01-01T05:00"), "Eastern standard time starts at 05 UTC"


@pytest.mark.slow
def test_causes_over_a_year_close_and_start_fades() -> None:
    loads = heatsim.simulate(_boat("dunlin-11"), causes=True)
    removed = loads["sensible_cooling"] - loads["heating"]
    peak = float(removed.max())
    assert float(np.abs(loads["load_by_cause"].sum("cause") - removed).max()) < 1e-9 * peak
    start = np.abs(loads["load_by_cause"].sel(cause="start")).max(("heading", "zone"))
    assert float(start[:24].max()) > float(start[24 * 20 :].max())
    assert float(start[24 * 30 :].max()) < 1e-3 * peak


def test_compiled_and_numpy_years_agree_on_one_month() -> None:
    """Both steppers to 1e-12 of the peak (design.md section 5), through January of a real boat."""
    boat = _boat("dunlin-11")
    month = year_weather(boat, 900.0)[:1]
    line = make_line(boat, month)
    heats = [next(iter(solve_year(line, np.array([120.0]), compiled))).heat.heat for compiled in (True, False)]
    # Sums are taken in another order over 2,976 steps that each pass their state on.
    np.testing.assert_allclose(heats[0], heats[1], atol=1e-11 * np.abs(heats[1]).max())


def test_a_step_of_five_minutes_gives_the_same_month() -> None:
    boat = _boat("dunlin-11")
    results = []
    for step in (900.0, 300.0):
        month = year_weather(boat, step)[6:7]
        line = make_line(boat, month)
        results.append(hours(line, next(iter(solve_year(line, np.array([120.0]))))).sensible_cooling)
    error = np.abs(results[0] - results[1]).max() / results[1].max()
    print(f"15 min against 5 min over July: {error:.1e} of the peak")
    # More than the stepper's error: within-hour courses of sun and air have other knots.
    assert error < 2e-3  # four times what is seen

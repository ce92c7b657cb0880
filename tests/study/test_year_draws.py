"""Weather years in a study against single years of the same boats."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import heatsim
from heatsim.errors import HeatsimError
from heatsim.scenario.resolve import resolve
from heatsim.scenario.resolved import Resolved
from heatsim.study.chunks import Worker
from heatsim.study.design import Design
from heatsim.study.units import units_of

KEPT = 1e-6
"""Of the zone's peak: hours of a year are kept in float32, 24 bits; the sums before are the same to round-off."""
SUMMED = 1e-9
"""Sums of 8,760 hours that agree to 1e-12 each, some of which cancel."""


TEXT = (
    "format: 1\nstudy: years\nboat: wagtail.yaml\nkeep: hours\n"
    "set: {climate.weather_file: WEATHER}\naxes: {heading: [30 deg, 90 deg]}\n"
    "draws: {count: 3, seed: 2, of: {zones.saloon.setpoint: {uniform: [22 degC, 25 degC]}, "
    "yacht.persons: {among: [2, 3]}}}\n"
)  # fmt: skip
WEATHER = str(files("pvlib") / "data" / "12839.tm2")


def _run(study: Path, out: Path, more: str = "") -> xr.Dataset:
    study.write_text(TEXT.replace("WEATHER", WEATHER) + more, encoding="utf-8")
    return heatsim.run_study(study, out, workers=1)


def _boat(study: Path, data: xr.Dataset, draw: int) -> Resolved:
    setpoint, persons = data["drawn"].values[draw]
    changes = [f"climate.weather_file={WEATHER}", "place.heading=90 deg",
               f"zones.saloon.setpoint={setpoint:.13g} degC", f"yacht.persons={(2, 3)[int(persons)]}"]  # fmt: skip
    return resolve(heatsim.read(study.parent / "wagtail.yaml", changes))


@pytest.mark.slow
def test_years_of_draws_equal_their_single_years(study: Path, tmp_path: Path) -> None:
    data = _run(study, tmp_path / "out")
    assert data["day"].values.tolist() == ["year"]
    assert data["sensible_cooling"].dtype == np.float32
    for draw in range(3):
        single = heatsim.simulate(_boat(study, data, draw), shared=True)
        for name in ("sensible_cooling", "latent_cooling", "heating", "air_temperature"):
            alone = single[name].isel(heading=0).sel(zone=data["zone"].values).transpose("zone", "time").values
            ours = data[name].isel(remedy=0, draw=draw, heading=1, day=0).transpose("zone", "hour").values
            peak = np.abs(alone).max() + 1.0
            assert np.abs(ours - alone).max() <= KEPT * peak, (draw, name)
        cooling = single["sensible_cooling"] + single["latent_cooling"]
        energy = float(cooling.sel(zone=data["zone"].values).sum()) / 1000.0
        ours = float(data["cooling_energy"].isel(remedy=0, draw=draw, heading=1, day=0).sel(room="block"))
        assert ours == pytest.approx(energy, rel=SUMMED)


@pytest.mark.slow
def test_causes_of_each_month_equal_those_of_single_years(study: Path, tmp_path: Path) -> None:
    data = _run(study, tmp_path / "out", "causes: monthly\n")
    ours = data["monthly_causes"].isel(remedy=0, draw=2, heading=1, day=0).transpose("room", "calendar_month", "cause")
    single = heatsim.simulate(_boat(study, data, 2), shared=True, causes=True)
    load = single["load_by_cause"].isel(heading=0).sel(zone=data["zone"].values).transpose("zone", "time", "cause")
    months = (load["time"].values - np.timedelta64(5, "h")).astype("datetime64[M]")  # the file's standard time
    for number, month in enumerate(np.unique(months)):
        alone = load.values[:, months == month].sum(axis=1) / 1000.0
        np.testing.assert_allclose(ours.values[:-1, number], alone, atol=SUMMED * np.abs(alone).max())
        np.testing.assert_allclose(ours.values[-1, number], alone.sum(axis=0), atol=SUMMED * np.abs(alone).max())


@pytest.mark.slow
def test_causes_of_peak_days_add_up_to_the_hours_of_those_days(study: Path, tmp_path: Path) -> None:
    data = _run(study, tmp_path / "out", "causes: peak day\n").isel(remedy=0, heading=1, day=0)
    for draw in range(3):
        one = data.isel(draw=draw)
        load = (one["sensible_cooling"].astype(float) - one["heating"]).transpose("zone", "hour").values
        load = np.concatenate([load, load.sum(axis=0, keepdims=True)])
        for room, name in enumerate(one["room"].values):
            day = int(one["peak_day"].sel(room=name))
            hours = load[room, 24 * day : 24 * day + 24]
            split = one["peak_day_causes"].sel(room=name).transpose("day_hour", "cause")
            np.testing.assert_allclose(split.sum("cause").values, hours, atol=KEPT * np.abs(hours).max())
            # The days before the hottest are nearly as hot: what they left beside the day's own rhythm is little.
            left = float(np.abs(split.sel(cause="start").values).max())
            assert left < 0.1 * np.abs(hours).max(), (name, left)
            total = one["sensible_cooling"].astype(float) + one["latent_cooling"]
            values = total.sum("zone").values if name == "block" else total.sel(zone=name).values
            assert values[24 * day : 24 * day + 24].max() >= float(one["peak"].sel(room=name)) * (1.0 - KEPT)


def test_causes_are_refused_for_design_days(study: Path) -> None:
    study.write_text("format: 1\nstudy: days\nboat: wagtail.yaml\ncauses: monthly\n", encoding="utf-8")
    with pytest.raises(HeatsimError, match="weather years"):
        Design.read(study)


@pytest.mark.slow
def test_years_are_held_against_units_planned_on_design_days(study: Path, tmp_path: Path) -> None:
    study.write_text(
        f"format: 1\nstudy: held\nboat: wagtail.yaml\nunits: planned\nset: {{climate.weather_file: {WEATHER}}}\n"
        "axes: {heading: [90 deg]}\n", encoding="utf-8"
    )  # fmt: skip
    year = heatsim.run_study(study, tmp_path / "out", workers=1).isel(remedy=0, draw=0, heading=0, day=0)
    assert float(year["capacity_margin"]) == pytest.approx(
        float(year["capacity"]) / float(year["peak"].sel(room="block")) - 1.0,
        rel=1e-12,  # the same quotient
    )
    # Units bear what they were planned for; a year of another place's weather takes rooms a few degrees beyond at most.
    over = year["degree_hours"].values / 8760.0
    assert np.all(over >= 0.0)
    assert np.all(over < 1.0)
    assert float(year["float_temperature"].sel(room="block")) < 30.0


@pytest.mark.slow
def test_a_chunk_is_the_same_whatever_went_before(study: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What boats share is kept from chunk to chunk; a study that was killed goes on without it."""
    monkeypatch.setattr("heatsim.study.design.YEARS_AT_ONCE", 4)
    of = "{zones.saloon.humidity_limit: {uniform: [50 %, 60 %]}}"  # which changes no network
    text = TEXT[: TEXT.index("draws")].replace("WEATHER", WEATHER) + f"draws: {{count: 4, seed: 2, of: {of}}}\n"
    study.write_text(text, encoding="utf-8")
    design = Design.read(study)
    assert len(design.chunks()) == 2
    going, fresh = (Worker(design, units_of(design)) for _ in range(2))
    going.solve(0)
    (kept,) = going.years.outside
    assert len(kept.months) == 12
    second, alone = going.solve(1), fresh.solve(1)
    assert going.years.outside[0] is kept, "the second chunk takes what the first left"
    for name, values in alone.items():
        np.testing.assert_array_equal(second[name], values, err_msg=name)

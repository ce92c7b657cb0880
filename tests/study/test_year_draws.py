"""Weather years in a study against single years of the same boats."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

import heatsim
from heatsim.scenario.resolve import resolve

KEPT = 1e-6
"""Of the zone's peak: hours of a year are kept in float32, 24 bits; the sums before are the same to round-off."""


@pytest.mark.slow
def test_years_of_draws_equal_their_single_years(study: Path, tmp_path: Path) -> None:
    weather = str(files("pvlib") / "data" / "12839.tm2")
    study.write_text(
        "format: 1\nstudy: years\nboat: wagtail.yaml\nkeep: hours\n"
        f"set: {{climate.weather_file: {weather}, heading: 90 deg}}\n"
        "draws: {count: 3, seed: 2, of: {zones.saloon.setpoint: {uniform: [22 degC, 25 degC]}, "
        "yacht.persons: {among: [2, 3]}}}\n", encoding="utf-8"
    )  # fmt: skip
    data = heatsim.run_study(study, tmp_path / "out", workers=1)
    assert data["day"].values.tolist() == ["year"]
    assert data["sensible_cooling"].dtype == np.float32
    for draw in range(3):
        setpoint, persons = data["drawn"].values[draw]
        changes = [f"climate.weather_file={weather}", "place.heading=90 deg",
                   f"zones.saloon.setpoint={setpoint:.13g} degC", f"yacht.persons={(2, 3)[int(persons)]}"]  # fmt: skip
        boat = resolve(heatsim.read(study.parent / "wagtail.yaml", changes))
        single = heatsim.simulate(boat, shared=True)
        for name in ("sensible_cooling", "latent_cooling", "heating", "air_temperature"):
            alone = single[name].isel(heading=0).sel(zone=data["zone"].values).transpose("zone", "time").values
            ours = data[name].isel(remedy=0, draw=draw, heading=0, day=0).transpose("zone", "hour").values
            peak = np.abs(alone).max() + 1.0
            assert np.abs(ours - alone).max() <= KEPT * peak, (draw, name)
        cooling = single["sensible_cooling"] + single["latent_cooling"]
        energy = float(cooling.sel(zone=data["zone"].values).sum()) / 1000.0
        ours = float(data["cooling_energy"].isel(remedy=0, draw=draw, heading=0, day=0).sel(room="block"))
        assert ours == pytest.approx(energy, rel=1e-9)

"""Ways of using a boat on the axis of the remedies: what each must do by its definition."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import heatsim
from heatsim.study import summary
from heatsim.study.design import Design

WAYS = ("away", "hatches open", "cooled all night", "cooled in night bursts")


@pytest.fixture
def used(study: Path) -> Path:
    text = study.read_text(encoding="utf-8")
    listed = "".join(f"  - {{name: {name}, change: {name}}}\n" for name in WAYS)
    study.write_text(text[: text.index("remedies:")] + f"remedies:\n{listed}keep: hours\n", encoding="utf-8")
    return study


def test_ways_are_told_from_remedies(used: Path) -> None:
    assert Design.read(used).ways == WAYS


def test_what_each_way_does(used: Path, tmp_path: Path) -> None:
    data = heatsim.run_study(used, tmp_path / "out", workers=1).load()
    table = summary.ways(data, WAYS)
    energy = table["energy"]
    assert energy["hatches open"] == 0.0
    assert 0.0 < energy["cooled in night bursts"] < energy["cooled all night"] < energy["as she is"]
    assert energy["away"] < energy["as she is"]
    assert table["band_hours"]["as she is"] == 24.0  # held at 23 or 24 °C and 60 % all day
    assert table["band_hours"].drop("as she is").max() < 24.0
    cooling = data["sensible_cooling"].sel(day="typical").isel(draw=0, heading=0)
    by_day = cooling.sel(remedy="cooled all night", hour=slice(8, 20))
    assert float(by_day.max()) == 0.0
    bursts = cooling.sel(remedy="cooled in night bursts")
    assert float(bursts.sel(hour=[0, 1, 2, 5, 6, 12]).max()) == 0.0
    warm = data["air_temperature"].sel(day="hot", remedy="away").max()
    assert float(warm) <= 30.0 + 1e-6  # its setpoint


def test_open_hatches_follow_the_air_outside(used: Path, tmp_path: Path) -> None:
    """Fifteen changes an hour, by hand: a saloon of 15 m³ then loses 75 W/K to outdoors, and stays within 3 K."""
    data = heatsim.run_study(used, tmp_path / "out", workers=1)
    part = data["air_temperature"].sel(day="typical", remedy="hatches open", region="BVI", month=8, heading=0.0, draw=0)
    outdoors = heatsim.simulate(
        _boat(used), causes=False, shared=True, step=1800.0
    )["outdoor_temperature"].values.ravel()  # fmt: skip
    night = [0, 1, 2, 3, 4, 5]
    assert np.abs(part.sel(zone="saloon").values[night] - outdoors[night]).max() < 3.0  # no sun, two people


def _boat(study: Path) -> heatsim.Resolved:
    changes = ["place.region=BVI", "place.month=8", "climate.days=[typical]"]
    return heatsim.resolve(heatsim.read(study.parent / "wagtail.yaml", changes))

"""Members of a study against single runs of the same boats, and the study's shape."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import heatsim
from heatsim.equipment.remedies import white_decks
from heatsim.scenario.resolve import resolve
from heatsim.study.design import Design
from heatsim.study.results import HOURS

ROUND_OFF = 1e-12
"""Of the zone's peak: a run carried in a batch and alone are the same sums in another order."""


def test_every_member_equals_its_single_run(study: Path, tmp_path: Path) -> None:
    data = heatsim.run_study(study, tmp_path / "out", workers=1)
    for region in ("CYC", "BVI"):
        for month in (7, 8):
            for remedy in ("as she is", "white decks"):
                changes = [f"place.region={region}", f"place.month={month}", "climate.days=[hot, typical]"]
                boat = resolve(heatsim.read(study.parent / "wagtail.yaml", changes))
                boat = boat if remedy == "as she is" else white_decks(boat)
                assert boat is not None
                for heading in (0.0, 90.0):
                    placed = _headed(boat, heading)
                    single = heatsim.simulate(placed, causes=False, shared=True, step=1800.0)
                    rooms = single.sel(zone=data["zone"].values, heading=heading)
                    member = data.sel(region=region, month=month, remedy=remedy, heading=heading).isel(draw=0)
                    for name in HOURS:
                        ours = member[name].transpose("day", "hour", "zone").values
                        alone = rooms[name].transpose("day", "time", "zone").values
                        peak = np.abs(alone).max(axis=(0, 1)) + 1.0
                        assert np.abs((ours - alone) / peak).max() <= ROUND_OFF, (name, region, month, remedy)


def _headed(boat: heatsim.Resolved, heading: float) -> heatsim.Resolved:
    from dataclasses import replace

    return replace(boat, place=replace(boat.place, headings=(heading,), heading_mode="fixed"))


def test_moved_boats_are_resolved_as_if_whole(study: Path) -> None:
    design = Design.read(study)
    for i, region in enumerate(("CYC", "BVI")):
        for j, month in enumerate((7, 8)):
            _, boat = design.case((0, 0, i, j), (0.0,))
            changes = [f"place.region={region}", f"place.month={month}", "climate.days=[hot, typical]"]
            assert boat == resolve(heatsim.read(study.parent / "wagtail.yaml", changes))


def test_results_agree_with_peaks_of_the_hours(study: Path, tmp_path: Path) -> None:
    data = heatsim.run_study(study, tmp_path / "out", workers=1).load()
    total = data["sensible_cooling"] + data["latent_cooling"]
    block = total.sum("zone")
    assert np.allclose(data["peak"].sel(room="block"), block.max("hour"), rtol=1e-12)
    assert np.allclose(data["mean"].sel(room="block"), block.mean("hour"), rtol=1e-12)
    rooms = data["peak"].sel(room=data["zone"].values).sum("room")
    assert np.allclose(data["diversity"], data["peak"].sel(room="block") / rooms, rtol=1e-12)
    typical = data.sel(day="typical")
    assert np.allclose(typical["cooling_energy"].sel(room="block"), block.sel(day="typical").sum("hour") / 1000.0)
    assert np.isnan(data["cooling_energy"].sel(day="hot")).all()
    hour = data["peak_hour"].sel(room="block").astype(int)
    assert np.allclose(block.isel(hour=hour), block.max("hour"))


@pytest.mark.usefixtures("small_chunks")
def test_chunks_change_nothing(study: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    parts = heatsim.run_study(study, tmp_path / "parts", workers=1).load()
    monkeypatch.undo()
    whole = heatsim.run_study(study, tmp_path / "whole", workers=1).load()
    assert len(Design.read(study).chunks()) == 1
    peak = float(whole["sensible_cooling"].max())
    assert np.abs(parts["sensible_cooling"] - whole["sensible_cooling"]).max() <= ROUND_OFF * peak


def test_warmer_places_cost_more(study: Path, tmp_path: Path) -> None:
    """The order of regions that a fleet expects (common practice, no source): tropics above the Aegean in July."""
    data = heatsim.run_study(study, tmp_path / "out", workers=1)
    energy = data["electric_energy"].sel(day="typical", remedy="as she is", month=7).mean("heading").isel(draw=0)
    assert float(energy.sel(region="BVI")) > float(energy.sel(region="CYC"))

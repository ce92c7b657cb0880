"""Runs held against units: whose capacity, in which sea, with one of them lost, and by which catalogue."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import heatsim
from heatsim.equipment.layouts import ABOARD
from heatsim.errors import HeatsimError
from heatsim.study.design import Design

FITTED = "equipment: {existing: [{name: settee unit, zones: [saloon, cabin], capacity: 9 kBtu/h}]}\n"
HEAD = (
    "model,kind,total_capacity,sensible_capacity,airflow,power,voltage,frequency,refrigerant,charge,price,weight,rating"
    "\n"
)
ROW = "Own {0},self-contained,{0} kBtu/h,{1} kBtu/h,{2} cfm,{3} kW,230 V,50 Hz,R410A,500 g,2000,27 kg,warm sea\n"


@pytest.fixture
def fitted(study: Path) -> Path:
    """The small boat with one unit for both rooms, in July at home and in the Gulf."""
    boat = study.parent / "wagtail.yaml"
    boat.write_text(boat.read_text(encoding="utf-8") + FITTED, encoding="utf-8")
    text = study.read_text(encoding="utf-8")
    text = text[: text.index("remedies:")].replace("[CYC, BVI]", "[CYC, DXB]").replace("[0 deg, 90 deg]", "[0 deg]")
    study.write_text(text + "units: installed\n", encoding="utf-8")
    return study


def test_warm_seas_leave_less_and_rooms_float(fitted: Path, tmp_path: Path) -> None:
    data = heatsim.run_study(fitted, tmp_path / "out", workers=1).isel(remedy=0, draw=0, heading=0).load()
    cool, hot = (data.sel(region=region, month=8, day="hot") for region in ("CYC", "DXB"))
    assert float(hot["capacity"]) < float(cool["capacity"])  # the Gulf's sea is warmer
    assert float(hot["capacity_margin"]) < float(cool["capacity_margin"])
    assert np.isclose(hot["capacity_margin"], hot["capacity"] / hot["peak"].sel(room="block") - 1.0)
    assert (data["float_temperature"] >= data["warmest"] - 0.01).all()  # limits only let rooms get warmer
    assert (data["degree_hours"] >= 0.0).all()


def test_a_lost_unit_leaves_nothing(fitted: Path, tmp_path: Path) -> None:
    text = fitted.read_text(encoding="utf-8").replace("axes:\n", "axes:\n  unit lost: [none, saloon + cabin]\n")
    fitted.write_text(text, encoding="utf-8")
    data = heatsim.run_study(fitted, tmp_path / "out", workers=1).isel(remedy=0, draw=0, heading=0).load()
    lost, whole = data.sel({"unit lost": "saloon + cabin"}), data.sel({"unit lost": "none"})
    assert (lost["capacity"] == 0.0).all()
    floating = (lost["float_temperature"] - whole["float_temperature"]).sel(day="hot")
    assert float(floating.min()) > 5.0  # a closed box in the sun without cooling (common practice, no source)


@pytest.mark.slow
def test_catalogues_are_an_axis(study: Path, tmp_path: Path) -> None:
    """The same boat planned from two catalogues of one unit each: the larger one leaves the larger margin."""
    for name, numbers in (("small", (9, 6.5, 300, 0.85)), ("large", (18, 13, 600, 1.7))):
        (study.parent / f"{name}.csv").write_text(HEAD + ROW.format(*numbers), encoding="utf-8")
    text = study.read_text(encoding="utf-8")
    text = text[: text.index("remedies:")].replace("[CYC, BVI]", "[CYC]").replace("[7, 8]", "[8]")
    text = text.replace("axes:\n", "axes:\n  catalogue: [small.csv, large.csv]\n") + "units: planned\n"
    study.write_text(text, encoding="utf-8")
    data = heatsim.run_study(study, tmp_path / "out", workers=1).isel(remedy=0, draw=0).load()
    margin = data["capacity_margin"].sel(day="hot").min("heading").squeeze()
    assert float(margin.sel(catalogue="large.csv")) > float(margin.sel(catalogue="small.csv")) >= -0.01
    alike = data["peak"].sel(catalogue="large.csv").values
    assert np.array_equal(alike, data["peak"].sel(catalogue="small.csv").values)  # loads know nothing of units


def test_capacity_is_the_plan_s_own(fitted: Path, tmp_path: Path) -> None:
    """In the sea the plan was made for, the study's capacity is what the plan prints, ducts taken off."""
    text = fitted.read_text(encoding="utf-8").replace("days: [hot, typical]", "days: [hot]")
    fitted.write_text(text, encoding="utf-8")
    data = heatsim.run_study(fitted, tmp_path / "out", workers=1).isel(remedy=0, draw=0, heading=0)
    design = Design.read(fitted)
    made = heatsim.plan(design.base)
    aboard = next(layout for layout in made.layouts if layout.name == ABOARD)
    _, boat = design.case((0, 0, 0, 1), (0.0,))
    assert boat.days[0].sea == pytest.approx(made.needs.sea, rel=1e-12)  # the boat as she is, in August at home
    there = float(data["capacity"].sel(region="CYC", month=8, day="hot"))
    assert there == pytest.approx(aboard.capacity, rel=1e-3)  # straight between whole degrees of sea


def test_a_remedy_may_clean_the_condenser(fitted: Path, tmp_path: Path) -> None:
    text = fitted.read_text(encoding="utf-8") + "remedies:\n  - {name: cleaned, set: {equipment.fouling: 0 %}}\n"
    fitted.write_text(text, encoding="utf-8")
    data = heatsim.run_study(fitted, tmp_path / "out", workers=1).isel(draw=0, heading=0).load()
    assert (data["capacity"].sel(remedy="cleaned") > data["capacity"].sel(remedy="as she is")).all()
    assert np.array_equal(data["peak"].sel(remedy="cleaned"), data["peak"].sel(remedy="as she is"))


def test_equipment_is_not_drawn(fitted: Path) -> None:
    spread = "draws: {count: 4, of: {equipment.fouling: {uniform: [0 %, 20 %]}}}\n"
    fitted.write_text(fitted.read_text(encoding="utf-8") + spread, encoding="utf-8")
    with pytest.raises(HeatsimError, match="Make it an axis"):
        Design.read(fitted)

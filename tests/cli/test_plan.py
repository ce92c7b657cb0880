"""`heatsim plan` in this process: what it prints, what it writes, what it refuses."""

from __future__ import annotations

import json
import re
from math import prod
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml
from matplotlib.image import imread
from terminal import BOX, Run, snapshot

import heatsim
from heatsim.equipment.catalogue import DEMO
from heatsim.equipment.plan import Plan, against_sea, plan
from heatsim.report.plan_page import CAUTIONS, charges, margins_line
from heatsim.report.plan_pictures import PICTURES, plan_drawings
from heatsim.report.planning import FILE
from heatsim.scenario.power import Supply
from heatsim.scenario.supply import Equipment
from heatsim.tables.loader import FOLDER

pytestmark = pytest.mark.usefixtures("unproved")

HEAD = (
    "model,kind,total_capacity,sensible_capacity,airflow,power,voltage,frequency,refrigerant,charge,price,weight,rating"
    "\n"
)
ROW = "Own 12,self-contained,12 kBtu/h,8.6 kBtu/h,400 cfm,1.1 kW,230 V,50 Hz,R410A,500 g,2000,27 kg,warm sea\n"


FEW = ("Cove 5 50 Hz", "Cove 9 50 Hz", "Cove 16 50 Hz", "Firth 30 50 Hz", "Eddy 4", "Eddy 8")
"""Of the shipped catalogue: with these a plan takes a second."""


def _few(folder: Path) -> str:
    head, *rows = (FOLDER / f"{DEMO}.csv").read_text(encoding="utf-8").splitlines()
    kept = [row for row in rows if row.split(",")[0] in FEW]
    (folder / "few.csv").write_text("\n".join([head, *kept]), encoding="utf-8")
    return BOX + "equipment: {catalogue: few.csv}\n"


@pytest.fixture
def box(tmp_path: Path) -> Path:
    """A sound file of an invented boat with two quick zones, and few units to choose from."""
    file = tmp_path / "wagtail.yaml"
    file.write_text(_few(tmp_path), encoding="utf-8")
    return file


@pytest.fixture
def summary(run: Run, box: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(run("plan", box, "--json").stdout, parse_constant=_no_constant)
    return found


def _no_constant(word: str) -> float:
    raise AssertionError(f"{word} is not JSON")


@pytest.fixture(scope="module")
def made(unproved: None, tmp_path_factory: pytest.TempPathFactory) -> Plan:
    folder = tmp_path_factory.mktemp("plan")
    file = folder / "wagtail.yaml"
    file.write_text(_few(folder), encoding="utf-8")
    return plan(heatsim.resolve(heatsim.read(file)))


def test_one_json_object(summary: dict[str, Any]) -> None:
    assert summary["chosen"] in {layout["name"] for layout in summary["layouts"]}
    assert summary["catalogue"].endswith("few.csv")
    covered = sorted(zone for unit in summary["units"] for zone in unit["zones"])
    assert covered == ["cabin", "saloon"]
    assert summary["terms"]["shore_VA"] is None  # no shore connection is described: no limit, and no infinity


def test_factors_lead_from_the_nameplate_to_what_is_done_aboard(summary: dict[str, Any]) -> None:
    """Entering air rounded to 0.01 K and 0.01 g/kg when choosing: less than 0.1 % of the capacity."""
    for unit in summary["units"]:
        links = unit["one_unit"]
        whole = links[0]["capacity_W"] * prod(link["factor"] for link in links)
        assert whole == pytest.approx(links[-1]["capacity_W"], rel=1e-9)  # the same numbers, rounding only
        assert unit["count"] * links[-1]["capacity_W"] == pytest.approx(unit["corrected_W"], rel=1e-3)


def test_the_page_and_the_json_agree(run: Run, box: Path, summary: dict[str, Any]) -> None:
    chosen = next(layout for layout in summary["layouts"] if layout["name"] == summary["chosen"])
    printed = run("plan", box).stdout
    row = next(line for line in printed.splitlines() if line.startswith(" aboard, corrected, kW"))
    assert f"{chosen['corrected_W'] / 1e3:.2f}" in row.split()


def test_btu_per_hour(run: Run, box: Path, summary: dict[str, Any]) -> None:
    """One Btu(IT)/h is 0.29307107 W (NIST SP 811, appendix B.8)."""
    printed = run("plan", box, "--units", "us").stdout
    row = next(line for line in printed.splitlines() if line.startswith(" aboard, corrected, Btu/h"))
    shown = [float(cell.replace(",", "")) for cell in re.findall(r"[\d,]{4,}", row)]
    wanted = [layout["corrected_W"] / 0.29307107 for layout in summary["layouts"] if layout["possible"]]
    assert shown == pytest.approx(wanted, abs=50.0)  # shown to the nearest hundred
    assert "aboard, corrected, kW" not in printed
    assert "°C" not in " ".join(printed.split()).replace(CAUTIONS["heat"], "")


@pytest.mark.parametrize(
    ("given", "line", "whole"),
    [
        ("{weather: 10 %, load: 5 %}", "weather 10 % + load 5 % = 15 %, declared once", 0.15),
        ("{growth: 8 %}", "margins on the loads: growth 8 %, declared once", 0.08),
        ("{}", "margins: none declared", 0.0),
    ],
)
def test_margins_in_one_line(run: Run, box: Path, given: str, line: str, whole: float) -> None:
    result = run("plan", box, "--set", f"equipment.margins={given}")
    assert line in result.stdout
    asked = json.loads(run("plan", box, "--set", f"equipment.margins={given}", "--json").stdout)
    assert all(unit["margin"] >= whole - 1e-9 for unit in asked["units"])


def test_files(run: Run, box: Path, tmp_path: Path, sketched: None) -> None:
    out = tmp_path / "OUT"
    assert run("plan", box, "--out", out).exit_code == 0
    assert {path.name for path in out.iterdir()} == {FILE, *PICTURES, "heatsim.json"}
    written = json.loads((out / FILE).read_text(encoding="utf-8"), parse_constant=_no_constant)
    assert written["title"] == "Wagtail"
    before = snapshot(out)
    again = run("plan", box, "--out", out, "--set", "zones.saloon.setpoint=22 degC")
    assert again.exit_code == 2
    assert "--force" in again.stderr
    assert snapshot(out) == before
    assert run("plan", box, "--out", out, "--force", "--no-pictures", "--quiet").output == ""
    assert {path.name for path in out.iterdir()} == {FILE, "heatsim.json"}


def test_pictures_are_drawn(made: Plan) -> None:
    for system in ("si", "us"):
        drawings = plan_drawings(made, system)  # type: ignore[arg-type]
        assert [drawing.file for drawing in drawings] == list(PICTURES)
        assert all(drawing.png().startswith(b"\x89PNG") for drawing in drawings)


def test_capacity_falls_in_warmer_sea_until_the_trip(made: Plan) -> None:
    """High pressure trips at 38 °C of sea water where a row does not say (common practice, no source: 35–38 °C)."""
    assert made.chosen is not None
    sea = np.array([10.0, 20.0, 30.0, 38.0, 38.5])
    total, sensible = against_sea(made, made.chosen.offers[0], sea)
    assert (np.diff(total) < 0.0).all()
    assert total[-1] == sensible[-1] == 0.0
    here, _ = against_sea(made, made.chosen.offers[0], np.array([made.needs.sea]))
    # The choice rounds the entering air: less than 0.1 %.
    assert here[0] == pytest.approx(made.chosen.offers[0].total, rel=1e-3)


def test_no_unit_runs_in_a_sea_above_its_limit(run: Run, box: Path) -> None:
    """39 °C is above the 38 °C at which all units of the shipped catalogue trip."""
    result = run("plan", box, "--json", "--set", "climate.hot={dry_bulb_max: 44 degC, sea: 39 degC}")
    assert result.exit_code == 0
    found = json.loads(result.stdout)
    assert found["chosen"] is None
    assert not any(layout["possible"] for layout in found["layouts"])


def test_charge_in_a_room(made: Plan) -> None:
    """Mass over the room's volume against 0.44 kg/m³ of R410A (EN 378-1:2016 annex C, from memory)."""
    assert made.chosen is not None
    offer = made.chosen.offers[0]
    found = charges(made.resolved, offer)
    volume = min(zone.volume for zone in made.resolved.zones if zone.name in offer.zones)
    assert found is not None
    assert found["refrigerant"] == "R410A"
    assert found["share_of_limit"] == pytest.approx(offer.unit.charge / volume / 0.44, rel=1e-9)


# A noise no unit keeps to, a socket for one lamp, a space of a letter box.
@pytest.mark.parametrize(
    ("change", "limit"),
    [
        ("equipment.cabin_noise=20", "equipment.cabin_noise"),
        ("supply={shore: {voltage: 230 V, current: 1 A}}", "supply.shore"),
        ("equipment.largest_size={length: 10 cm, width: 10 cm, height: 10 cm}", "equipment.largest_size"),
    ],
)
def test_what_stands_in_the_way(run: Run, box: Path, tmp_path: Path, sketched: None, change: str, limit: str) -> None:
    result = run("plan", box, "--set", change, "--out", tmp_path / "OUT")
    assert result.exit_code == 0
    assert "No layout can be built" in result.stdout
    assert f"lift {limit} for" in " ".join(result.stdout.split())
    assert json.loads((tmp_path / "OUT" / FILE).read_text(encoding="utf-8"))["chosen"] is None
    assert not (tmp_path / "OUT" / "capacity.png").exists()


def test_heat_stress_stands_beside_the_rooms_it_concerns(run: Run, box: Path) -> None:
    hot = ("--set", "climate.hot={dry_bulb_max: 44 degC, dew_point: 24 degC, sea: 33 degC}")
    lost = json.loads(run("plan", box, *hot, "--json").stdout)["one_lost"]
    assert any(held["heat_stress"] for held in lost)
    for held in lost:
        assert set(held["heat_stress"]) == {z for z, t in held["highest_operative_degC"].items() if t >= 32.0}
    flat = " ".join(run("plan", box, *hot).stdout.split())
    assert CAUTIONS["heat"] in flat
    mild = ("--set", "climate.hot={dry_bulb_max: 18 degC, dew_point: 8 degC, sea: 14 degC}")
    cool = json.loads(run("plan", box, *mild, "--json").stdout)
    assert not any(held["heat_stress"] for held in cool["one_lost"])
    assert "come to harm" not in run("plan", box, *mild).stdout


def test_a_pause_of_the_cooling_is_not_held_against_the_unit(run: Run, box: Path) -> None:
    nights = ("--set", "zones.cabin.cooling={'20:00-08:00': 1}")
    found = json.loads(run("plan", box, *nights, "--json").stdout)
    assert found["cooling_pauses"] == ["cabin"]
    assert found["holds"]
    assert found["all_running"]["above_setpoint_K"]["cabin"] > 1.0
    printed = " ".join(run("plan", box, *nights).stdout.split())
    assert "Where cooling is off for part of the day" in printed
    assert "NOT held" not in printed


def test_what_is_installed_stands_first(run: Run, box: Path) -> None:
    weak = "equipment.existing=[{name: old unit, zones: [saloon, cabin], capacity: 2 kBtu/h}]"
    found = json.loads(run("plan", box, "--set", weak, "--json").stdout)
    assert found["layouts"][0]["name"] == "installed"
    assert found["layouts"][0]["margin"] < 0.0
    assert set(found["layouts"][0]["zones_not_carried"]) == {"saloon", "cabin"}
    assert found["chosen"] != "installed"
    assert "not carried" in run("plan", box, "--set", weak).stdout


def test_own_catalogue(run: Run, box: Path, tmp_path: Path) -> None:
    (tmp_path / "own.csv").write_text(HEAD + ROW, encoding="utf-8")
    result = run("plan", box, "--set", "equipment.catalogue=own.csv")
    assert result.exit_code == 0
    assert "own.csv" in " ".join(result.stdout.split())
    assert "INVENTED" not in result.stdout
    assert "Own 12" in result.stdout


def test_a_catalogue_without_prices(run: Run, box: Path, tmp_path: Path) -> None:
    (tmp_path / "own.csv").write_text(HEAD + ROW.replace(",2000,", ",,"), encoding="utf-8")
    printed = " ".join(run("plan", box, "--set", "equipment.catalogue=own.csv").stdout.split())
    assert re.search(r"price (– )?not in the catalogue", printed)
    assert "does not give every price: the power of such units stood in for it" in printed
    assert "(price" not in printed


def test_flammable_charge_above_its_limit_is_not_chosen(run: Run, box: Path, tmp_path: Path) -> None:
    """0.5 kg of R290 needs 62 m³ at 0.008 kg/m³ (EN 378-1:2016 annex C, from memory); the rooms have 15 and 8 m³."""
    (tmp_path / "own.csv").write_text(HEAD + ROW.replace("R410A", "R290"), encoding="utf-8")
    result = run("plan", box, "--set", "equipment.catalogue=own.csv")
    found = json.loads(run("plan", box, "--set", "equipment.catalogue=own.csv", "--json").stdout)
    each = next(layout for layout in found["layouts"] if layout["name"] == "one a zone")
    assert found["chosen"] is None
    assert each["charge_over_limit"]["saloon"] == pytest.approx(0.5 / 15.0 / 0.008, rel=1e-6)
    assert "Above the limit of refrigerant in a room: one a zone" in " ".join(result.stdout.split())


def test_a_bad_catalogue_writes_nothing(run: Run, box: Path, tmp_path: Path) -> None:
    bad = [ROW.replace("12 kBtu/h", "12", 1), ROW.replace("R410A", "R12"), ROW.replace("warm sea", "")]
    bad = [row.replace("Own 12", f"Own {i}") for i, row in enumerate(bad)]
    (tmp_path / "bad.csv").write_text(HEAD + "".join(bad), encoding="utf-8")
    result = run("plan", box, "--set", "equipment.catalogue=bad.csv", "--out", tmp_path / "OUT")
    assert result.exit_code == 2
    assert result.stdout == ""
    lines = result.stderr.splitlines()
    assert [line.startswith("error: ") for line in lines] == [True, True, True, False]
    assert all(f"bad.csv:{number}:" in line for number, line in enumerate(lines[:3], 2))
    assert not (tmp_path / "OUT").exists()


def test_a_catalogue_that_is_not_there(run: Run, box: Path, tmp_path: Path) -> None:
    result = run("plan", box, "--set", "equipment.catalogue=none.csv", "--out", tmp_path / "OUT")
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1
    assert not (tmp_path / "OUT").exists()


@pytest.mark.parametrize(
    ("change", "rule"),
    [("basis=ship-standard-2002", "hourly loads"), ("climate={weather_file: year.epw}", "weather year")],
)
def test_what_no_plan_is_made_of(run: Run, box: Path, tmp_path: Path, change: str, rule: str) -> None:
    (tmp_path / "year.epw").write_text("", encoding="utf-8")
    result = run("plan", box, "--set", change, "--out", tmp_path / "OUT")
    assert result.exit_code == 2
    assert rule in result.stderr
    assert not (tmp_path / "OUT").exists()


def test_margins_add_up_whatever_their_order() -> None:
    from heatsim.scenario.terms import Terms

    terms = Terms(margins=(("weather", 0.05), ("load", 0.0), ("capacity", 0.025), ("growth", 0.1)))
    assert margins_line(terms).endswith("weather 5 % + capacity 2.5 % + growth 10 % = 17.5 %, declared once")


def test_the_page_on_equipment_runs(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """The Python of docs/equipment.md as it stands there, and its YAML taken by the models of the scenario."""
    root = Path(__file__).resolve().parents[2]
    monkeypatch.chdir(root)
    text = (root / "docs" / "equipment.md").read_text(encoding="utf-8")
    (code,) = re.findall(r"```python\n(.*?)```", text, re.S)
    exec(compile(code, "docs/equipment.md", "exec"), {})
    printed = capsys.readouterr().out
    assert "one a zone True" in printed
    assert printed.rstrip().splitlines()[-1].startswith("True ")
    (terms,) = re.findall(r"```yaml\n(.*?)```", text, re.S)
    given = yaml.safe_load(terms)
    assert set(given["equipment"]) <= set(Equipment.model_fields)
    Equipment.model_validate(given["equipment"])
    Supply.model_validate(given["supply"])


def test_the_proof_is_printed_and_written(run: Run, box: Path, tmp_path: Path) -> None:
    out = tmp_path / "proved"
    result = run("plan", box, "--proof", "--out", out)
    assert result.exit_code == 0
    assert "Proof, minute by minute, hot day" in result.stdout
    assert "Baked boat pulled down by size, hot day" in result.stdout
    assert "seacock" in result.stdout
    written = json.loads((out / "plan.json").read_text(encoding="utf-8"), parse_constant=_no_constant)
    hot = written["proof"]["settled"]["hot"]
    assert set(hot["zones"]) == set(written["needs"]["zones"])
    assert abs(hot["boat"]["energy_residual"]) < 1e-6
    assert all(0.0 <= zone["run_fraction"] <= 1.0 for zone in hot["zones"].values())
    sizes = written["proof"]["pull_down_h"]
    assert list(sizes) == ["smaller", "chosen", "larger", "twice"]
    hours = [sizes[size]["hot"]["all_pull_down"] for size in sizes]
    assert hours == sorted(hours, reverse=True)
    assert set(written["proof"]["coast"]["hot"]) == set(written["needs"]["zones"])
    for file in ("proof.png", "pulldown.png"):
        high, wide, _ = imread(out / file).shape
        assert wide > 800
        assert high > 300
    assert "proof" not in json.loads(run("plan", box, "--json").stdout)
    assert run("plan", box, "--proof", "--out", out).exit_code == 2, "its pictures stand there already"

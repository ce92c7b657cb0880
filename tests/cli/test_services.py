"""`heatsim services`: every schedule printed and written, in either system, and bad input told as everywhere."""

import csv
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

Run = Callable[..., Result]

pytestmark = pytest.mark.usefixtures("unproved")

FITTED = """\
services:
  ducts:
    - {zone: saloon, bore: 150 mm, length: 2 m}
  intakes:
    - {name: mushroom, zones: [saloon, cabin], to_exhaust: 4 m, to_gas_locker: 2 m, above_waterline: 1.2 m}
"""
OURS = ("air", "ducts", "grilles", "air-balance", "intakes", "seawater", "seawater-hoses", "seawater-pumps",
        "seawater-inlets", "strainer", "freezing", "condensate", "drains")  # fmt: skip


@pytest.fixture
def boat(box: Path) -> Path:
    """The small boat with some services entered."""
    box.write_text(box.read_text(encoding="utf-8") + FITTED, encoding="utf-8")
    return box


def test_services_prints_and_writes_every_schedule(boat: Path, run: Run, tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run("services", boat, "--out", out, "--units", "both")
    assert result.exit_code == 0
    for words in ("Supply air", "Ducts", "Sea water: pumps", "Condensate drains", "Assumed here", "Carbon monoxide",
                  "US gal/min"):  # fmt: skip
        assert words in result.output
    written = json.loads((out / "services.json").read_text(encoding="utf-8"))
    assert written["title"] == "Wagtail"
    assert set(OURS) <= set(written["schedules"])
    ducts = written["schedules"]["ducts"]
    length = ducts["columns"].index("length [m]")
    assert ducts["rows"][0][length] == 2.0
    for name in OURS:
        rows = list(csv.reader((out / f"{name}.csv").read_text(encoding="utf-8").splitlines()))
        assert len(rows) > 1, name
        assert len({len(row) for row in rows}) == 1, name
    with (out / "ducts.csv").open(encoding="utf-8") as file:
        first = next(csv.DictReader(file))
    assert first["bore, mm"] == "150"
    assert first["bore, in"] == "5.91"
    for picture in ("air-line.png", "sea-line.png"):
        assert (out / picture).read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


def test_another_layout_and_json(boat: Path, run: Run) -> None:
    result = run("services", boat, "--layout", "central plant", "--json")
    assert result.exit_code == 0
    found = json.loads(result.output)
    assert found["layout"] == "central plant"
    assert {"chilled-water", "chilled-loop"} <= set(found["schedules"])


def test_a_layout_that_is_none(boat: Path, run: Run) -> None:
    result = run("services", boat, "--layout", "centrl plant")
    assert result.exit_code == 2
    assert "--layout: is not a layout this boat can have, got centrl plant" in result.output
    assert "central plant" in result.output


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("zone: saloon", "zone: salon", 'names a zone that does not exist, got salon. Did you mean "saloon"?'),
        ("zones: [saloon, cabin]", "zones: [saloon, cabbin]", 'got cabbin. Did you mean "cabin"?'),
        ("bore: 150 mm", "boar: 150 mm", 'is not a key of this part. Did you mean "bore"?'),
        ("bore: 150 mm", "bore: 150", "must be a length with its unit, not a number without a unit"),
        ("bore: 150 mm", "bore: 15 m", "must lie between 0.004 m and 1 m"),
        ("length: 2 m}", "length: 2 m, through: hold}", "names a zone or space that does not exist"),
        ("services:\n", "services:\n  available_static: 100 W\n", '"W" is a unit of power'),
        ("services:\n", "services:\n  seawater: {circuits: [{name: a, serves: [plnt]}]}\n", 'Did you mean "plant"?'),
        ("services:\n", "services:\n  drains: {runs: [{serves: x, length: 1 m, drop: 1 cm}]}\n", "got x"),
        ("services:\n", "services:\n  chilled_water: {runs: [{zone: x, length: 1 m}]}\n", "got x"),
        ("services:\n", "services:\n  seawater: {circuits: [{name: a, serves: [saloon], pump: {curve: "
         "[{flow: 1 L/s, head: 3 m}, {flow: 2 L/s, head: 4 m}]}}]}\n", "falls in head from point to point"),
    ],
)  # fmt: skip
def test_bad_services_are_told_with_line_and_remedy(boat: Path, run: Run, old: str, new: str, told: str) -> None:
    text = boat.read_text(encoding="utf-8")
    assert old in text
    boat.write_text(text.replace(old, new, 1), encoding="utf-8")
    result = run("services", boat)
    assert result.exit_code == 2
    assert told in result.output
    assert f"{boat}:" in result.output


def test_results_already_there_are_kept(boat: Path, run: Run, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "services.json").write_text("mine", encoding="utf-8")
    result = run("services", boat, "--out", out, "--force")
    assert result.exit_code == 2
    assert (out / "services.json").read_text(encoding="utf-8") == "mine"


def test_nothing_possible_is_said(boat: Path, run: Run) -> None:
    result = run("services", boat, "--set", "equipment.group_size=1", "--set", "supply.generator.power=0.1 kW")
    assert result.exit_code == 2
    assert "no layout can be built within the boat's terms" in result.output


@pytest.mark.slow
def test_a_plan_writes_the_same_schedules_beside_it(boat: Path, run: Run, tmp_path: Path) -> None:
    alone, beside = tmp_path / "alone", tmp_path / "beside"
    assert run("services", boat, "--out", alone, "--quiet").exit_code == 0
    assert run("plan", boat, "--services", "--out", beside, "--quiet", "--no-pictures").exit_code == 0
    written = json.loads((beside / "services.json").read_text(encoding="utf-8"))
    assert written["schedules"].keys() == json.loads((alone / "services.json").read_text())["schedules"].keys()
    for name in written["schedules"]:
        assert (beside / f"{name}.csv").read_bytes() == (alone / f"{name}.csv").read_bytes(), name
    assert "services" not in json.loads((beside / "plan.json").read_text(encoding="utf-8"))

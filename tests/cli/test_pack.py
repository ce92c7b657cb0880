"""`heatsim pack`: the folder, the words, one JSON object, and bad input told as everywhere."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

Run = Callable[..., Result]

pytestmark = pytest.mark.usefixtures("unproved", "sketched")
SIX = {"report.html", "schedules.xlsx", "loads.nc", "hourly.csv", "resolved.yaml", "pack.json"}


def test_pack_prints_its_answers_and_what_it_wrote(box: Path, run: Run, tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run("pack", box, "--out", out)
    assert result.exit_code == 0
    for words in ("Wagtail", "How much cooling, and when?", "Does it hold?", "carbon monoxide alarm", "report.html"):
        assert words in result.output
    assert {path.name for path in out.iterdir()} == SIX | {"heatsim.json"}
    again = run("pack", box, "--out", out)
    assert again.exit_code == 2
    assert "--force" in again.output
    assert run("pack", box, "--out", out, "--force", "--quiet").output == ""


def test_json_is_one_object(box: Path, run: Run, tmp_path: Path) -> None:
    result = run("pack", box, "--out", tmp_path / "out", "--json", "--set", "zones.saloon.setpoint=23 degC")
    assert result.exit_code == 0
    found = json.loads(result.output)
    assert found["overrides"] == ["zones.saloon.setpoint=23 degC"]
    assert set(found["files"]) == SIX


def test_bad_input_writes_nothing(box: Path, run: Run, tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run("pack", box, "--out", out, "--set", "zones.salon.setpoint=23 degC")
    assert result.exit_code == 2
    assert 'Did you mean "saloon"?' in result.output
    assert run("pack", box, "--out", out, "--set", "basis=ship-standard-2002").exit_code == 2
    assert not out.exists()


def test_a_folder_must_be_named(box: Path, run: Run) -> None:
    result = run("pack", box)
    assert result.exit_code == 2
    assert "--out" in result.output

"""`heatsim plan` of a boat with units fitted: why she falls short, remedies, a log laid over her, spot readings."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from terminal import BOX, Run, snapshot

from heatsim.equipment.catalogue import DEMO
from heatsim.equipment.readings import LICENSED
from heatsim.equipment.remedies import CHANGES
from heatsim.equipment.upkeep import CHANGES as UPKEEP
from heatsim.report.log_page import PICTURE
from heatsim.tables.loader import FOLDER

pytestmark = pytest.mark.usefixtures("unproved")

WEAK = "equipment.existing=[{name: old unit, zones: [saloon, cabin], capacity: 2 kBtu/h}]"
STRONG = (
    "equipment.existing=[{name: new unit, zones: [saloon], capacity: 9 kBtu/h}, "
    "{name: berth unit, zones: [cabin], capacity: 7 kBtu/h}]"
)
READINGS = (
    "equipment.readings=[{unit: old unit, entering_air: 27 degC, entering_wet_bulb: 20 degC, sea_in: 29 degC, "
    "leaving_air: 18 degC, sea_out: 38 degC, current: 1.2 A}]"
)
FEW = ("Cove 5 50 Hz", "Cove 9 50 Hz", "Cove 16 50 Hz")
"""Of the shipped catalogue: with these a plan takes a second."""
LOG = "time,saloon degC,saloon %,old unit A\n" + "".join(
    f"2025-08-2{day} {hour:02d}:30,{26 + 0.1 * hour:.1f},55,3.0\n" for day in (1, 2) for hour in range(24)
)
"""Invented."""


@pytest.fixture
def box(tmp_path: Path) -> Path:
    """A sound file of an invented boat with two quick zones, and few units to choose from."""
    head, *rows = (FOLDER / f"{DEMO}.csv").read_text(encoding="utf-8").splitlines()
    kept = [row for row in rows if row.split(",")[0] in FEW]
    (tmp_path / "few.csv").write_text("\n".join([head, *kept]), encoding="utf-8")
    (tmp_path / "log.csv").write_text(LOG, encoding="utf-8")
    file = tmp_path / "wagtail.yaml"
    file.write_text(BOX + "equipment: {catalogue: few.csv}\n", encoding="utf-8")
    return file


def _flat(text: str) -> str:
    return " ".join(text.split())


def test_a_boat_without_units_is_not_asked(run: Run, box: Path) -> None:
    result = run("plan", box)
    assert result.exit_code == 0
    assert "Why she falls short" not in result.stdout
    assert "why_she_falls_short" not in json.loads(run("plan", box, "--json").stdout)


def test_why_she_falls_short(run: Run, box: Path) -> None:
    flat = _flat(run("plan", box, "--set", WEAK).stdout)
    assert "Why she falls short: with what is installed" in flat
    assert "leave their setpoint" in flat
    for words in ("floats at", "load above the nameplate", "sea temperature", "fouling", "lacking",
                  "--remedies"):  # fmt: skip
        assert words in flat, words
    found = json.loads(run("plan", box, "--set", WEAK, "--json").stdout)["why_she_falls_short"]
    assert set(found["falls_short"]) == {"saloon", "cabin"}
    assert found["remedies"] is None
    (unit,) = found["units"]
    # Sums of the same numbers: rounding only.
    assert sum(unit["causes_W"].values()) == pytest.approx(unit["lacking_W"], abs=1e-6)
    assert sum(unit["shares"].values()) == pytest.approx(1.0, abs=1e-9)
    for zone in found["zones"].values():
        assert zone["floats_at_degC"] > 24.0
        assert zone["heat_stress"] == (zone["operative_degC"] >= 32.0)


def test_a_boat_that_does_not(run: Run, box: Path) -> None:
    flat = _flat(run("plan", box, "--set", STRONG).stdout)
    assert "with what is installed she does not" in flat
    assert json.loads(run("plan", box, "--set", STRONG, "--json").stdout)["why_she_falls_short"]["falls_short"] == []


def test_remedies_are_ranked_each_above_its_caution(run: Run, box: Path) -> None:
    result = run("plan", box, "--set", WEAK, "--remedies")
    lines = [line.strip() for line in result.stdout.splitlines()]
    cautions = {name: caution for name, (_, caution) in (*CHANGES.items(), *UPKEEP.items())}
    named = [i for i, line in enumerate(lines) if line.split(": ")[-1] in cautions and " kW, " in line]
    assert len(named) >= 3
    for i in named:
        assert lines[i + 1]
        assert cautions[lines[i].split(": ")[-1]].startswith(lines[i + 1][:60])
    powers = [float(lines[i].split(" kW")[0]) for i in named]
    assert powers == sorted(powers, reverse=True)
    found = json.loads(run("plan", box, "--set", WEAK, "--remedies", "--json").stdout)["why_she_falls_short"]
    assert found["remedies"] == sorted(found["remedies"], key=lambda one: -one["power_W"])
    assert all(one["caution"] for one in found["remedies"])
    assert found["remedies"][0]["worst_zone_K"] > 0.0


def test_a_log_is_laid_over_her(run: Run, box: Path, tmp_path: Path, sketched: None) -> None:
    out = tmp_path / "OUT"
    result = run("plan", box, "--set", WEAK, "--log", tmp_path / "log.csv", "--out", out)
    assert result.exit_code == 0
    flat = _flat(result.stdout)
    for words in ("The log beside the installed boat", "bias", "scatter", "driven by: sun and sky", "UTC+",
                  "does not prove the cause"):  # fmt: skip
        assert words in flat, words
    assert (out / PICTURE).exists()
    found = json.loads((out / "plan.json").read_text(encoding="utf-8"))["log"]
    columns = {(one["name"], one["kind"]): one for one in found["columns"]}
    assert set(columns) == {("saloon", "temperature"), ("saloon", "humidity"), ("old unit", "current")}
    for one in columns.values():
        assert one["hours"] == one["readings"] == 48
        assert one["scatter"] >= 0.0
        assert len(one["farthest"]) == 3
    mean = sum(26 + 0.1 * hour for hour in range(24)) / 24
    # Bias is logged less simulated; the simulated mean follows, and must be a temperature of a cabin.
    assert 20.0 < mean - columns["saloon", "temperature"]["bias"] < 40.0


def test_the_picture_of_a_log_is_drawn(run: Run, box: Path, tmp_path: Path) -> None:
    out = tmp_path / "OUT"
    assert run("plan", box, "--set", WEAK, "--log", tmp_path / "log.csv", "--out", out, "--units", "us").exit_code == 0
    assert (out / PICTURE).read_bytes().startswith(b"\x89PNG")


BAD = {
    "salon": (LOG.replace("saloon degC", "salon degC"), "log.csv:1:", 'Did you mean "saloon"?'),
    "words": (LOG.replace("2025-08-21 03:30,26.3", "2025-08-21 03:30,warm"), "log.csv:5:", "must be a number"),
    "slashes": (LOG.replace("2025-08-21 03:30", "21/08/25 3:30"), "log.csv:5:", "year first"),
    "backwards": (LOG.replace("2025-08-22 03:30", "2025-08-20 03:30"), "log.csv:29:", "does not come after"),
    "hot": (LOG.replace("26.3", "263"), "log.csv:5:", "must lie between"),
    "empty": ("", "log.csv:1:", "line of heads"),
    "binary": ("time,saloon degC\0", "log.csv", "must be a text file"),
    "other unit": (LOG.replace("old unit A", "other unit A"), "log.csv:1:", "other unit"),
    "percent": (LOG.replace(",55,", ",550,"), "log.csv:2:", "0 and 100 %"),
    "short": ("\n".join(LOG.splitlines()[:4]), "log.csv", "at least 6 readings"),
}


@pytest.mark.parametrize("kind", BAD)
def test_a_bad_log_writes_nothing(run: Run, box: Path, tmp_path: Path, kind: str) -> None:
    content, where, words = BAD[kind]
    (tmp_path / "log.csv").write_text(content, encoding="utf-8")
    result = run("plan", box, "--set", WEAK, "--log", tmp_path / "log.csv", "--out", tmp_path / "OUT")
    assert result.exit_code == 2
    assert result.stdout == ""
    assert where in result.stderr
    assert words in result.stderr
    assert not (tmp_path / "OUT").exists()


def test_a_log_needs_units_and_a_file(run: Run, box: Path, tmp_path: Path) -> None:
    result = run("plan", box, "--log", tmp_path / "log.csv")
    assert result.exit_code == 2
    assert "equipment.existing" in result.stderr
    result = run("plan", box, "--set", WEAK, "--log", tmp_path / "none.csv")
    assert result.exit_code == 2
    assert "none.csv" in result.stderr


def test_a_log_is_kept_from_what_others_wrote(run: Run, box: Path, tmp_path: Path, sketched: None) -> None:
    out = tmp_path / "OUT"
    out.mkdir()
    (out / PICTURE).write_text("mine", encoding="utf-8")
    before = snapshot(out)
    result = run("plan", box, "--set", WEAK, "--log", tmp_path / "log.csv", "--out", out, "--force")
    assert result.exit_code == 2
    assert snapshot(out) == before


def test_spot_readings(run: Run, box: Path) -> None:
    """A rise of 9 K where 4–6 K are usual (common practice, no source): less sea water."""
    result = run("plan", box, "--set", WEAK, "--set", READINGS)
    flat = _flat(result.stdout)
    for words in ("Readings of old unit", "sea water rise", "does not read like a sound unit", "read next", LICENSED):
        assert words in flat, words
    found: list[dict[str, Any]] = json.loads(run("plan", box, "--set", WEAK, "--set", READINGS, "--json").stdout)[
        "readings"
    ]
    (one,) = found
    assert one["candidates"][0]["cause"] == "water"
    assert {candidate["cause"] for candidate in one["candidates"]} == {
        "water", "air", "load", "control", "refrigerant", "power",
    }  # fmt: skip
    assert one["read_next"] == "sea water flow"
    assert sum(candidate["chance"] for candidate in one["candidates"]) == pytest.approx(1.0, abs=1e-9)


def test_readings_of_a_unit_that_is_not_there(run: Run, box: Path) -> None:
    result = run("plan", box, "--set", WEAK, "--set", READINGS.replace("old unit", "odd unit"))
    assert result.exit_code == 2
    assert 'Did you mean "old unit"?' in result.stderr


def test_readings_that_no_single_cause_explains(run: Run, box: Path) -> None:
    """Sea water that leaves colder than it came in: a slip, and told as such. A sea in which all units trip likewise
    (35–38 °C: common practice, no source)."""
    slip = _flat(run("plan", box, "--set", WEAK, "--set", READINGS.replace("38 degC", "20 degC")).stdout)
    assert "no single cause fits" in slip
    hot = READINGS.replace("sea_in: 29 degC", "sea_in: 39.5 degC").replace("sea_out: 38 degC", "sea_out: 39.6 degC")
    flat = _flat(run("plan", box, "--set", WEAK, "--set", hot).stdout)
    assert "a sound unit trips too" in flat
    assert "read next" not in flat

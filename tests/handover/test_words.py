"""Keys and values of the file in words; what the report says by its proof, and where a day's power stands."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hostile import DEMO

import heatsim
from heatsim.handover.words import readable, said


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("climate.hot.dew_point", "dew point, hot day"),
        ("zones.*.fresh_air", "outdoor air"),
        ("zones.owner cabin.equipment", "equipment, owner cabin"),
        ("zones.saloon.faces[2].lay_up", "layers of faces, saloon"),
        ("zones.*.equipment[*].routine", "hours of equipment"),
        ("faces of kind hull: tilt", "tilt, hull faces"),
        ("supply.shore: hot day", "shore power, hot day"),
        ("services.seawater.sea water", "sea water"),
        ("unit of saloon", "unit of saloon"),
    ],
)
def test_a_key_in_words(path: str, words: str) -> None:
    assert said(path) == words


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("171.428571429 m3/h", "171 m³/h"),
        ("32.75 degC", "32.8 °C"),
        ("1470 J/(kg K)", "1470 J/(kg K)"),
        ("135 deg", "135°"),
        ("0.25 1/h", "0.25 changes/h"),
        ("40 kJ/(K m2)", "40 kJ/(K m²)"),
        ("{power_per_area: 6 W/m2, routine: cabin lights}", "6 W/m², hours: cabin lights"),
        ("[{name: usual, power: 81 W, routine: standby, latent_share: 0}]", "usual, 81 W, hours: standby"),
        ("[]", "none"),
        ("2025-08-21", "2025-08-21"),
        ("09:00-23:00", "09:00-23:00"),
        ("R410A by EN 378-1:2016", "R410A by EN 378-1:2016"),
        ("1.1 seated light work", "1.1 seated light work"),
        ("[broken", "[broken"),
    ],
)
def test_a_value_in_words(value: str, words: str) -> None:
    assert readable(value) == words


@pytest.mark.parametrize("name", ["dunlin-11", "tern-24", "skua-38"])
def test_no_default_of_a_boat_keeps_its_brackets_or_long_numbers(name: str) -> None:
    for default in heatsim.resolve(heatsim.read(DEMO / f"{name}.yaml")).defaults:
        words = f"{said(default.path)}: {readable(default.value)}"
        assert not re.search(r"[{}_*]|\[|\d\.\d{3}|m[23]\b|deg", words), words


def test_the_first_page_speaks_with_the_proof(tmp_path: Path) -> None:
    """Temperatures and hours of the answer against the proof's own table in the same pack."""
    from openpyxl import load_workbook

    file = tmp_path / "wagtail.yaml"
    file.write_text(BOX, encoding="utf-8")
    record = heatsim.pack(file, tmp_path / "out")
    book = load_workbook(tmp_path / "out" / "schedules.xlsx")
    heads, *rows = [[cell.value for cell in row] for row in book["Proof by zone"].iter_rows()]
    rows = [row for row in rows if row[0] in ("hot", "humid")]
    worst = max(float(row[heads.index("above setpoint, K")]) for row in rows)
    damp = max(float(row[heads.index("above 65 %, h")]) for row in rows)
    answer = next(one for one in record["answers"] if one["question"] == "Does it hold?")
    if worst >= 0.05:
        assert f"{worst:.1f} K above its setpoint" in answer["behind"]
    assert ("damp" in answer["answer"]) == (damp >= 8.0)
    assert damp < 8.0 or f"{damp:.0f} h" in answer["behind"]
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "For <bdi>the owners of Wagtail</bdi>" in page
    assert "44 dB" in page
    units = [[cell.value for cell in row] for row in book["Chosen units"].iter_rows()]
    noise, allowed = (units[0].index(head) for head in ("noise, dB(A)", "allowed, dB(A)"))
    kept = [row for row in units[1:] if isinstance(row[allowed], int | float)]
    assert kept
    assert all(row[noise] <= row[allowed] == 44 for row in kept)
    assert all(len(name) <= 31 and not name.endswith((" of", " to", " the", " by")) for name in book.sheetnames)


BOX = """\
format: 1
yacht: {name: Wagtail, length: 8 m, persons: 4}
place: {region: CYC, month: 8, berth: alongside, heading: 90 deg}
equipment: {cabin_noise: 44}
report: {client: the owners of Wagtail}
zones:
  saloon: {use: saloon, setpoint: 24 degC, quick: {deck: main, length: 3 m, beam: 2.5 m, height: 2 m}}
  cabin: {quick: {deck: main, length: 2 m, beam: 2 m, height: 2 m}}
"""

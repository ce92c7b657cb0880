"""Zone sheets: what a designer wrote comes through as it was written, and every mistake is one clear fault."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from click.testing import CliRunner

from heatsim.cli import main
from heatsim.errors import HeatsimError
from heatsim.scenario import tree
from heatsim.scenario.blank_sheets import explained, write_blank_sheet
from heatsim.scenario.fields import Part
from heatsim.scenario.plausibility import findings
from heatsim.scenario.reading import read, read_text
from heatsim.scenario.resolve import resolve
from heatsim.scenario.rooms import QuickText
from heatsim.scenario.zone_sheets import COLUMNS, NEEDED, OF_BOX, from_sheet

HEADS = ("zone", "use", "deck", "length", "beam", "height", "glass_share", "sides", "above", "setpoint", "fresh_air")
ROWS = [
    ("saloon", "saloon", "main", "21 ft", "4.9 m", "84 in", "40 %", "port, starboard; stern", "", "73 degF", "90 cfm"),
    ("owner's cabin", "owner cabin", "lower", "4,100 mm", "5.2 m", "2.1 m", "0.12", "", "saloon", "", ""),
    ("100", "cabin", "lower", "3.0 m", "2.4 m", "2 m", "", "port", "", "22.5 degC", "50 m3/h"),
    ("no", "head", "lower", "1.6 m", "1.2 m", "2 m", "", "port and bow", "", "", ""),
]


def sheet(folder: Path, rows: list[tuple[str, ...]] = ROWS, heads: tuple[str, ...] = HEADS) -> Path:
    """A CSV of these rows."""
    file = folder / "zones.csv"
    with file.open("w", newline="", encoding="utf-8") as out:
        csv.writer(out).writerows([heads, *rows])
    return file


def workbook(folder: Path, rows: list[tuple[object, ...]], heads: tuple[str, ...] = HEADS) -> Path:
    """The same as a workbook."""
    from openpyxl import Workbook

    book = Workbook()
    assert book.active is not None
    for row in (heads, *rows):
        book.active.append(row)
    book.save(folder / "zones.xlsx")
    return folder / "zones.xlsx"


@pytest.mark.parametrize("write", [sheet, workbook])
def test_names_units_and_order_stay(tmp_path: Path, write: object) -> None:
    text = from_sheet(write(tmp_path, ROWS), kind="motor", length="78 ft")  # type: ignore[operator]
    zones = tree.parse(text, "boat.yaml").value["zones"]
    assert list(zones) == [row[0] for row in ROWS]
    for row in ROWS:
        cells = dict(zip(HEADS, row, strict=True))
        found = zones[cells["zone"]]
        for key in ("deck", "length", "beam", "height", "above"):
            assert found["quick"].get(key, "") == cells[key]
        for key in ("use", "setpoint", "fresh_air"):
            assert found.get(key, "") == cells[key]
        assert str(found["quick"].get("glass_share", "")) == cells["glass_share"]
    assert zones["saloon"]["quick"]["sides"] == ["port", "starboard", "stern"]
    assert zones["no"]["quick"]["sides"] == ["port", "bow"]
    assert tree.parse(text, "boat.yaml").value["yacht"]["length"] == "78 ft"
    scenario = read_text(text)
    assert scenario.zones["saloon"].quick is not None
    assert scenario.zones["saloon"].quick.length == pytest.approx(21 * 0.3048, rel=1e-12)  # a foot is 0.3048 m exactly
    resolve(scenario)


def test_units_may_stand_in_the_heads(tmp_path: Path) -> None:
    heads = ("zone", "use", "deck", "length [ft]", "beam (m)", "height [m]", "fresh_air [m3/h]", "setpoint [degC]")
    rows = [("saloon", "saloon", "main", 21, 4.9, 2.15, 150, 23.0), ("den", "office", "main", "3 m", 2, 2.0, None, "")]
    text = from_sheet(workbook(tmp_path, rows, heads), kind="motor", length="20 m")  # type: ignore[arg-type]
    zones = tree.parse(text, "boat.yaml").value["zones"]
    assert [zones["saloon"]["quick"][key] for key in ("length", "beam", "height")] == ["21 ft", "4.9 m", "2.15 m"]
    assert (zones["saloon"]["fresh_air"], zones["saloon"]["setpoint"]) == ("150 m3/h", "23 degC")
    assert zones["den"]["quick"]["length"] == "3 m"
    assert "fresh_air" not in zones["den"]


def test_station_and_offset_become_an_outline(tmp_path: Path) -> None:
    heads = (*HEADS[:6], "station", "offset")
    rows = [
        ("saloon", "saloon", "main", "6 m", "4 m", "2 m", "8 m", ""),
        ("den", "office", "main", "2 m", "2 m", "2 m", "6 m", "-1 m"),
    ]
    scenario = read_text(from_sheet(sheet(tmp_path, rows, heads), kind="motor", length="20 m"))
    saloon, den = (scenario.zones[name].outline for name in ("saloon", "den"))
    assert saloon is not None
    assert den is not None
    assert (saloon.station, saloon.length, saloon.beam) == (8.0, 6.0, 4.0)
    assert den.corners == ((6.0, -2.0), (6.0, 0.0), (8.0, 0.0), (8.0, -2.0))


def row(**cells: str) -> tuple[str, ...]:
    good = dict(zip(HEADS, ROWS[2], strict=True)) | cells
    return tuple(good[key] for key in HEADS)


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ([row(length="3.0")], "100: length: must be a length with its unit"),
        ([row(length="-3 m")], "100: length: must lie between 0 m and 200 m"),
        ([row(length="3 smoots")], '"smoots" is not a known unit'),
        ([row(deck="orlop")], "100: deck: must be 'lower', 'main', 'upper' or 'bridge'"),
        ([row(use="ballroom")], "names a use that does not exist"),
        ([row(sides="port, leeward")], "100: sides[1]"),
        ([row(above="attic")], "100: above"),
        ([row(height="")], "height: the cell is empty"),
        ([row(), row()], "a zone stands twice, first in row 2"),
        ([row(zone="<script>")], "a name is made of letters"),
        ([row(zone="block")], "is a word of the file format"),
        ([row(zone="a\nb")], "one line of plain text"),
        ([row(zone="'x: [1, {2"), row(setpoint="=1+1")], "a name is made of letters"),
        ([row(glass_share="180 %")], "100: glass_share"),
    ],
)
def test_a_mistake_is_one_fault(tmp_path: Path, rows: list[tuple[str, ...]], told: str) -> None:
    with pytest.raises(HeatsimError) as caught:
        from_sheet(sheet(tmp_path, rows), kind="motor", length="20 m")
    faults = [str(fault) for fault in caught.value.faults]
    assert sum(told in fault for fault in faults) == 1, faults
    assert all("zones.csv" in fault for fault in faults)
    assert all(fault.line >= 2 for fault in caught.value.faults)


def test_all_mistakes_at_once_and_nothing_written(tmp_path: Path) -> None:
    file = sheet(tmp_path, [row(zone="a", length="3"), row(zone="b", height="2"), row(zone="c", use="attic")])
    out = tmp_path / "boat.yaml"
    result = CliRunner().invoke(main, ["new", str(out), "--from-sheet", str(file)])
    assert result.exit_code == 2
    lines = [line for line in result.output.splitlines() if line.startswith("error: ")]
    assert len(lines) == 3
    assert [f"zones.csv:{i}" in line for i, line in enumerate(lines, 2)] == [True] * 3, lines
    assert not out.exists()


@pytest.mark.parametrize(
    ("heads", "told"),
    [
        ((*HEADS[:-1], "fresh_aire"), 'Did you mean "fresh_air"?'),
        ((*HEADS[:-1], "deck"), "stands twice"),
        ((*HEADS[:-1], "deck [m]"), "stands twice"),
    ],
)
def test_heads(tmp_path: Path, heads: tuple[str, ...], told: str) -> None:
    with pytest.raises(HeatsimError, match=r"column|twice") as caught:
        from_sheet(sheet(tmp_path, ROWS, heads), kind="motor", length="20 m")
    assert told in str(caught.value)


@pytest.mark.parametrize("suffix", ["csv", "xlsx"])
def test_the_blank_sheet_reads_as_it_stands(tmp_path: Path, suffix: str) -> None:
    blank, out = tmp_path / f"zones.{suffix}", tmp_path / "boat.yaml"
    assert CliRunner().invoke(main, ["new", str(blank), "--blank-sheet"]).exit_code == 0
    assert CliRunner().invoke(main, ["new", str(blank), "--blank-sheet"]).exit_code == 2  # it exists
    result = CliRunner().invoke(main, ["new", str(out), "--from-sheet", str(blank), "--length", "24 m"])
    assert result.exit_code == 0, result.output
    assert list(read(out).zones) == ["forward cabin", "forward head", "saloon", "wheelhouse"]
    assert list(read(out).spaces) == ["engine space"]
    assert CliRunner().invoke(main, ["new", str(out), "--from-sheet", str(blank)]).exit_code == 2
    assert CliRunner().invoke(main, ["new", str(out), "--from-sheet", str(blank), "--force"]).exit_code == 0


def test_other_names_of_a_blank_sheet_are_refused(tmp_path: Path) -> None:
    with pytest.raises(HeatsimError, match="must end in"):
        write_blank_sheet(tmp_path / "zones.ods")
    both = ["new", str(tmp_path / "a.yaml"), "--demo", "tern-24", "--blank-sheet"]
    assert CliRunner().invoke(main, both).exit_code == 2


def test_every_column_is_explained_and_every_box_key_has_one() -> None:
    told = {name: text for name, _, text in explained()}
    assert tuple(told) == COLUMNS
    assert all(len(text) > 8 for text in told.values())
    needed = {key for key, field in QuickText.model_fields.items() if field.is_required()}
    assert needed <= set(NEEDED)
    assert issubclass(QuickText, Part)
    assert set(OF_BOX) - {"glass"} <= set(QuickText.model_fields)


PAPER_HEADS = ("zone", "use", "deck", "length", "beam", "height", "glass", "sides", "persons_day", "persons_night",
               "equipment", "setpoint", "setpoint_night", "temperature")  # fmt: skip
PAPER = [
    ("cabin one", "cabin", "lower", "4 m", "4.8 m", "2 m", "2 x 1.1 x 0.5 m", "port, starboard",
     "0", "2", "", "24 C", "22 C", ""),
    ("saloon", "saloon", "main", "7 m", "4.7 m", "2 m", "9.2 m2", "port, starboard, stern",
     "8", "", "250 W", "", "", ""),
    ("engine room", "engine space", "lower", "3.5 m", "4.8 m", "1.9 m", "", "", "-", "-", "900 W", "-", "", ""),
    ("heads (2)", "head", "lower", "1.6 m", "1.2 m", "2 m", "none", "none", "0", "0", "", "", "", ""),
    ("cabin two", "cabin", "lower", "3 m", "3 m", "2 m", "5 %", "port", "", "", "", "", "23 C", ""),
    ("lazarette", "lazarette", "lower", "2 m", "4 m", "1.5 m", "", "stern", "", "", "", "", "", "35 C"),
]  # fmt: skip


def test_a_designers_paper_comes_through(tmp_path: Path) -> None:
    text = from_sheet(sheet(tmp_path, PAPER, PAPER_HEADS), kind="motor", length="19.5 m", region="BAL")
    found = tree.parse(text, "boat.yaml").value
    assert list(found["zones"]) == ["cabin one", "saloon", "heads (2)", "cabin two"]
    assert list(found["spaces"]) == ["engine room", "lazarette"]
    assert found["place"]["region"] == "BAL"
    one = found["zones"]["cabin one"]
    assert one["people"] == [{"count": 2, "activity": "asleep", "routine": "night"}]
    assert one["setpoint"] == {"07:00-23:00": "24 C", "23:00-07:00": "22 C"}
    assert one["quick"]["glass_area"] == "2 x 1.1 x 0.5 m"
    assert found["zones"]["saloon"]["people"] == [{"count": 8, "activity": "seated at rest", "routine": "day"}]
    assert found["zones"]["saloon"]["quick"]["glass_area"] == "9.2 m2"
    assert found["zones"]["saloon"]["equipment"] == [{"name": "equipment", "power": "250 W"}]
    heads = found["zones"]["heads (2)"]
    assert (heads["people"], heads["quick"]["sides"], heads["quick"]["glass_share"]) == ([], "none", "0 %")
    two = found["zones"]["cabin two"]
    assert "people" not in two  # shared out
    assert two["setpoint"] == {"07:00-23:00": "23 degC", "23:00-07:00": "23 C"}  # by day the cabin's usual 23 °C
    assert found["spaces"]["lazarette"]["temperature"] == "35 C"
    # By day 8; by night 2 of the sheet and two berths of the cabin that says nothing of persons: 8 at most.
    assert found["yacht"]["persons"] == 8


def test_machinery_of_a_sheet_is_not_cooled(tmp_path: Path) -> None:
    boat = resolve(read_text(from_sheet(sheet(tmp_path, PAPER, PAPER_HEADS), kind="motor", length="19.5 m")))
    held = {zone.name for zone in boat.zones if zone.control is not None}
    assert held == {"cabin one", "saloon", "heads (2)", "cabin two"}
    assert not [finding for finding in findings(boat) if finding.code in ("machinery-cooled", "sides-assumed")]


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        ({"persons_night": "two"}, "persons_night: must be a number of persons"),
        ({"temperature": "30 C"}, "temperature: is for rooms that nobody cools"),
        ({"use": "engine space"}, "persons_night: a room with the use engine space is not cooled"),
        ({"use": "engine space"}, "setpoint: a room with the use engine space is not cooled"),
        ({"glass": "30 m2"}, "cabin one: glass_area: glass of 30 m2 is larger than the sides"),
        ({"glass": "2 x 1.1 x 0.5"}, "cabin one: glass_area: must be a length with its unit"),
        ({"sides": "none"}, "a room without outside sides has no glass"),
        ({"setpoint_night": "22"}, "cabin one: setpoint: must be a temperature with its unit"),
        ({"equipment": "400 VA"}, "cabin one: equipment[0].power"),
    ],
)
def test_a_mistake_on_paper_is_told(tmp_path: Path, cells: dict[str, str], told: str) -> None:
    wrong = dict(zip(PAPER_HEADS, PAPER[0], strict=True)) | {"setpoint_night": ""} | cells
    with pytest.raises(HeatsimError) as caught:
        from_sheet(sheet(tmp_path, [tuple(wrong.values())], PAPER_HEADS), kind="motor", length="20 m")
    assert any(told in str(fault) for fault in caught.value.faults)
    assert {fault.line for fault in caught.value.faults} == {2}


def test_glass_is_given_once(tmp_path: Path) -> None:
    heads = (*HEADS[:6], "glass", "glass_share")
    with pytest.raises(HeatsimError, match="glass is given twice"):
        from_sheet(sheet(tmp_path, [(*ROWS[0][:6], "5 %", "4 %")], heads), kind="motor", length="20 m")


def test_new_says_what_it_took_for_granted_and_where(tmp_path: Path) -> None:
    file, out = sheet(tmp_path, PAPER, PAPER_HEADS), tmp_path / "boat.yaml"
    told = CliRunner().invoke(main, ["new", str(out), "--from-sheet", str(file), "--region", "palma"]).output
    for words in ("Balearic", "August", "cored GRP (yacht.material)", "hull white", "beam 5.4 m", "8 persons",
                  "both sides outside: engine room (", "order of the"):  # fmt: skip
        assert words in told
    assert "nobody cools them" not in told  # both spaces have heat or a temperature


def test_a_region_that_is_none_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    out = tmp_path / "boat.yaml"
    result = CliRunner().invoke(main, ["new", str(out), "--region", "Plama"])
    assert result.exit_code == 2
    assert 'Did you mean "BAL"' in result.output
    assert not out.exists()
    assert CliRunner().invoke(main, ["new", str(out), "--demo", "tern-24", "--region", "Palma"]).exit_code == 2


def test_a_sheet_parted_by_semicolons(tmp_path: Path) -> None:
    """As offices write it whose decimals have a comma; cells may then hold commas."""
    sheet = tmp_path / "zones.csv"
    sheet.write_text(
        "zone;use;deck;length;beam;height;sides\nsaloon;saloon;main;6 m;4 m;2 m;port, stern\n", encoding="utf-8"
    )
    boat = resolve(read_text(from_sheet(sheet, kind="motor", length="18 m")))
    assert {face.name for face in boat.faces if face.kind == "house"} == {"saloon: port side", "saloon: stern side"}

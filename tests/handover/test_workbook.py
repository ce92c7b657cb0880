"""The workbook: real numbers in the units of their heads, text that stays text, names that any program takes."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import pytest
from hostile import HOSTILE
from openpyxl import load_workbook

from heatsim.handover.workbook import sheet_name, write_workbook
from heatsim.report.amounts import UnitSystem
from heatsim.services.schedule import BORE, POWER, SHARE, TEMPERATURE, Column, Schedule

RISKY = ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "=cmd|' /C calc'!A0", HOSTILE)


def schedule(title: str = "Loads", text: str = "saloon") -> Schedule:
    columns = (Column("zone"), Column("total", POWER), Column("air", TEMPERATURE), Column("bore", BORE),
               Column("share", SHARE), Column("count"))  # fmt: skip
    rows = ((text, 1000.0, 25.0, 0.0254, 0.5, 3), ("none", None, float("nan"), None, None, None))
    return Schedule("loads", title, columns, rows, notes=(text,), cautions=("Mind the gap.",))


def book(tmp_path: Path, *schedules: Schedule, system: UnitSystem = "both") -> tuple[Path, object]:
    path = tmp_path / "schedules.xlsx"
    write_workbook(path, HOSTILE, schedules, system)
    return path, load_workbook(path)


@pytest.mark.parametrize("text", RISKY)
def test_no_text_becomes_a_formula(tmp_path: Path, text: str) -> None:
    """Cells by their types, and the file's own XML: `f` is the element of formulas (ISO/IEC 29500-1, 18.3.1.40)."""
    path, found = book(tmp_path, schedule(text=text))
    sheet = found["Loads"]  # type: ignore[index]
    assert sheet["A2"].data_type == "s"
    assert sheet["A2"].value.replace("_x000D_", "\r").strip() == text.strip()
    assert sheet["A2"].quotePrefix
    with zipfile.ZipFile(path) as parts:
        for name in parts.namelist():
            if name.startswith("xl/worksheets/"):
                assert not re.search(rb"<f[ >/]", parts.read(name)), name


def test_the_check_sees_a_formula(tmp_path: Path) -> None:
    from openpyxl import Workbook

    path = tmp_path / "formula.xlsx"
    plain = Workbook()
    plain.active["A1"] = "=1+1"  # type: ignore[index]
    plain.save(path)
    with zipfile.ZipFile(path) as parts:
        assert re.search(rb"<f[ >/]", parts.read("xl/worksheets/sheet1.xml"))


def test_numbers_are_numbers_in_the_units_of_their_heads(tmp_path: Path) -> None:
    """1 Btu(IT)/h is 0.293 071 07 W, 1 in is 25.4 mm: NIST SP 811, appendix B.8."""
    _, found = book(tmp_path, schedule())
    sheet = found["Loads"]  # type: ignore[index]
    heads = [cell.value for cell in sheet[1]]
    assert heads == [
        "zone",
        "total, kW",
        "total, Btu/h",
        "air, °C",
        "air, °F",
        "bore, mm",
        "bore, in",
        "share, %",
        "count",
    ]
    values = [cell.value for cell in sheet[2]]
    # A double holds sixteen digits and the file seventeen: a millionth is beyond any rounding of either.
    assert values[1:] == pytest.approx([1.0, 1000.0 / 0.29307107, 25.0, 77.0, 25.4, 1.0, 50.0, 3], rel=1e-6)
    assert all(isinstance(value, int | float) for value in values[1:])
    assert [cell.value for cell in sheet[3]][1:] == [None] * 8


@pytest.mark.parametrize(("system", "heads"), [("si", ["total, kW"]), ("us", ["total, Btu/h"])])
def test_one_system_has_one_column(tmp_path: Path, system: UnitSystem, heads: list[str]) -> None:
    _, found = book(tmp_path, schedule(), system=system)
    sheet = found["Loads"]  # type: ignore[index]
    assert [cell.value for cell in sheet[1] if str(cell.value).startswith("total")] == heads


def test_heads_stay_in_sight_and_on_every_printed_page(tmp_path: Path) -> None:
    _, found = book(tmp_path, schedule())
    sheet = found["Loads"]  # type: ignore[index]
    assert sheet.freeze_panes == "B2"
    assert sheet.print_title_rows == "$1:$1"
    assert (sheet.page_setup.orientation, sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (
        "landscape",
        1,
        0,
    )
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert 5 < sheet.column_dimensions["A"].width < 61


def test_names_are_legal_and_never_twice(tmp_path: Path) -> None:
    titles = ["Loads", "loads", "a/b:c*d?e[f]g\\h", "'quoted'", "History", "", "x" * 40, "x" * 50, HOSTILE, "contents"]
    path, found = book(tmp_path, *(schedule(title) for title in titles))
    names = found.sheetnames  # type: ignore[attr-defined]
    assert len(names) == len(titles) + 1
    assert len({name.lower() for name in names}) == len(names)
    for name in names:
        assert 0 < len(name) <= 31
        assert not set(name) & set("[]:*?/\\")
        assert not name.startswith("'")
        assert not name.endswith("'")
        assert name.lower() != "history"
    assert path.exists()


def test_a_hundred_schedules_of_one_name() -> None:
    taken: list[str] = []
    for _ in range(100):
        taken.append(sheet_name("y" * 40, taken))
    assert len(set(taken)) == 100
    assert max(map(len, taken)) == 31


def test_a_control_character_is_left_out(tmp_path: Path) -> None:
    """XML 1.0 holds none (W3C recommendation, fifth edition, 2.2)."""
    _, found = book(tmp_path, schedule(text="bell\x07 and \x00"))
    assert found["Loads"]["A2"].value == "bell  and  "  # type: ignore[index]

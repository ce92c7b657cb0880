"""A finished study in the pack: its tables and pictures, and what is refused in its place."""

from __future__ import annotations

from pathlib import Path

import pytest
from hostile import HOSTILE, PICTURE, Packed, study

from heatsim.errors import HeatsimError
from heatsim.handover.study_sheets import FinishedStudy, finished_study
from heatsim.services.schedule import POWER


def found(folder: Path, **changes: object) -> FinishedStudy:
    return finished_study(study(folder / "study", "Wren", **changes), "Wren")


def test_tables_hold_what_the_study_wrote(tmp_path: Path) -> None:
    one = found(tmp_path)
    places, remedies = one.schedules
    assert [column.head for column in places.columns] == ["region", "peak of the block", "capacity over peak"]
    assert places.columns[1].quantity == POWER
    assert places.rows == ((HOSTILE[:200], 4000.0, -0.14), ("@b", 5000.0, None))
    assert remedies.rows == (("+foam", 600.0, 360.0, 2600),)
    assert "struck before wind" in remedies.cautions[0]
    assert "2 region, 6 runs" in one.told


def test_only_pictures_are_taken_as_pictures(tmp_path: Path) -> None:
    assert found(tmp_path).pictures == {"study-regions.png": PICTURE.read_bytes()}


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ("", "holds no study that heatsim wrote"), ("[1]", "holds no study"), ('{"title": 1}', "holds no study"),
        ("[" * 100_000, "holds no study"),
        ('{"title": "a", "boat": "Dipper", "runs": 1}', 'a study of "Dipper", not of "Wren"'),
    ],
)  # fmt: skip
def test_what_is_no_study_of_hers_is_refused(tmp_path: Path, content: str, told: str) -> None:
    (tmp_path / "study.json").write_text(content, encoding="utf-8")
    with pytest.raises(HeatsimError) as caught:
        finished_study(tmp_path, "Wren")
    assert told in str(caught.value)
    assert caught.value.faults[0].path == "report.study"


def test_a_folder_without_one_is_refused(tmp_path: Path) -> None:
    with pytest.raises(HeatsimError, match="holds no finished study"):
        finished_study(tmp_path, "Wren")


@pytest.mark.parametrize("records", [None, [], [1], "x", [{}], [{"peak": True}], [{"other": 1}]])
def test_tables_of_another_form_are_left_out(tmp_path: Path, records: object) -> None:
    assert found(tmp_path, by_place=records, remedies=None).schedules == ()


def test_it_stands_in_the_report_and_the_workbook(packed: Packed) -> None:
    from openpyxl import load_workbook

    part = packed.text("report.html").split('<section id="study">')[1].split("</section>")[0]
    assert part.count("<img") == 1
    assert "<script" not in part
    assert part.count("<table") == 2
    book = load_workbook(packed.folder / "schedules.xlsx", read_only=True)
    names = [name for name in book.sheetnames if name.startswith("Study")]
    assert len(names) == 2
    assert packed.record["resolved_gives_the_same_numbers"]
    assert "study's <b>" in packed.text("resolved.yaml")

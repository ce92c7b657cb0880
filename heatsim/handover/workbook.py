"""`schedules.xlsx`: one sheet a schedule, real numbers with their units in the heads, nothing a formula.

Numbers are shown in the trade's units of the system asked for, one column for each; their format shows as many digits
as the report. Text is stored as text whatever it begins with.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from math import ceil, isfinite
from pathlib import Path
from typing import Any

from heatsim.handover.tables import decimals
from heatsim.report.amounts import UnitSystem
from heatsim.report.service_amounts import amounts, heads
from heatsim.services.schedule import Cell, Column, Schedule

LONGEST_NAME = 31
"""[characters] Of a sheet's name (ISO/IEC 29500-1: sheet names; from memory)."""
HANGING = ("a", "and", "by", "for", "from", "in", "of", "on", "the", "to", "what", "with")
"""Words that a name does not end with."""
LONGEST_TEXT = 32_767
"""[characters] Of a cell's text, in the programs that read the format (from memory)."""
_ILLEGAL_NAME = re.compile(r"[\[\]:*?/\\\x00-\x1f]")
_ILLEGAL_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
RISKY = ("=", "+", "-", "@", "\t", "\r", "\n")
"""A text that begins so may be taken for a formula where cells are pasted on."""
NARROWEST, WIDEST = 8.0, 60.0
"""[characters] Of a column."""
NOTE = 100.0
"""[characters] That a line of a note may take, if the columns are as wide."""
LINE = 15.0
"""[pt] Height of a line (from memory: the default row of programs that read the format)."""
HEAD_FILL, INK = "E4EBE7", "1D2B33"


def write_workbook(path: Path, title: str, schedules: Iterable[Schedule], system: UnitSystem) -> None:
    """Write the schedules, a sheet each after one that lists them.

    Parameters
    ----------
    path : Path
    title : str
        Heads the first sheet and every printed page.
    schedules : iterable of Schedule
    system : {"si", "us", "both"}
    """
    from openpyxl import Workbook

    book = Workbook()
    book.properties.title, book.properties.creator = clean(title), "heatsim"
    names: list[str] = ["contents"]
    listed: list[tuple[str, str, int]] = []
    first = book.active
    assert first is not None
    for schedule in schedules:
        names.append(sheet_name(schedule.title, names))
        sheet = book.create_sheet(names[-1])
        _fill(sheet, title, schedule, system)
        listed.append((names[-1], schedule.title, len(schedule.rows)))
    first.title = names[0]
    _contents(first, title, listed)
    book.save(path)


def clean(text: str) -> str:
    """Text without what a workbook cannot hold."""
    return _ILLEGAL_TEXT.sub(" ", text)[:LONGEST_TEXT]


def sheet_name(title: str, taken: Sequence[str]) -> str:
    """A legal name for a sheet that no other has, whatever the case of its letters."""
    plain = " ".join(_ILLEGAL_NAME.sub(" ", title.replace(":", ",")).split()).strip("'")
    if len(plain) > LONGEST_NAME:
        words = plain[: LONGEST_NAME + 1].rpartition(" ")[0].split(" ")
        while len(words) > 1 and words[-1].lower() in HANGING:
            words.pop()
        plain = " ".join(words) or plain[:LONGEST_NAME]
    plain = plain.strip(" ',") or "sheet"
    name, number, used = plain, 1, {one.lower() for one in taken} | {"history"}
    while name.lower() in used:
        number += 1
        tail = f" {number}"
        name = plain[: LONGEST_NAME - len(tail)] + tail
    return name


def _contents(sheet: Any, title: str, listed: Sequence[tuple[str, str, int]]) -> None:
    from openpyxl.styles import Font
    from openpyxl.worksheet.hyperlink import Hyperlink

    _text(sheet.cell(1, 1), title).font = Font(bold=True, size=14, color=INK)
    for column, head in enumerate(("sheet", "schedule", "rows"), 1):
        _head(sheet.cell(3, column), head)
    for row, (name, what, count) in enumerate(listed, 4):
        cell = _text(sheet.cell(row, 1), name)
        quoted = name.replace("'", "''")
        cell.hyperlink = Hyperlink(ref=cell.coordinate, location=f"'{quoted}'!A1")
        cell.font = Font(underline="single", color="1F4E79")
        _text(sheet.cell(row, 2), what)
        sheet.cell(row, 3).value = count
    wide = [max(len(str(row[i])) for row in listed) + 2.0 for i in (0, 1)] if listed else [24.0, 44.0]
    _set_up(sheet, title, [*wide, 8.0], 3)


def _fill(sheet: Any, title: str, schedule: Schedule, system: UnitSystem) -> None:
    """Heads in the first row, rows, then notes and cautions below."""
    from openpyxl.styles import Alignment, Font

    column, widths = 0, []
    for at, given in enumerate(schedule.columns):
        shown = heads(given, system)
        for part, head in enumerate(shown):
            column += 1
            _head(sheet.cell(1, column), head.replace("\n", ", "))
            longest = max((len(word) for word in re.split(r"[ \n]", head)), default=0)
            plain = decimals([cells[at] for cells in schedule.rows])
            for row, cells in enumerate(schedule.rows, 2):
                longest = max(longest, _put(sheet.cell(row, column), given, cells[at], system, part, plain))
            widths.append(float(min(max(longest + 2.0, NARROWEST), WIDEST)))
    row = len(schedule.rows) + 3
    sheet.auto_filter.ref = f"A1:{sheet.cell(1, max(column, 1)).column_letter}{len(schedule.rows) + 1}"
    for text, bold in [*((note, False) for note in schedule.notes), *((one, True) for one in schedule.cautions)]:
        cell = _text(sheet.cell(row, 1), text)
        cell.font, cell.alignment = Font(bold=bold, color=INK), Alignment(wrap_text=True, vertical="top")
        across, wide = _across(widths)
        if across > 1:
            sheet.merge_cells(start_row=row, start_column=1, end_row=row, end_column=across)
        sheet.row_dimensions[row].height = LINE * max(1, ceil(len(text) * (1.1 if bold else 1.0) / wide))
        row += 1
    _set_up(sheet, f"{title}: {schedule.title}", widths, 1)


def _across(widths: Sequence[float]) -> tuple[int, float]:
    """Columns that a note runs across, and how wide they are together. [characters]"""
    wide, count = 0.0, 0
    while count < len(widths) and (wide < NOTE or count == 0):
        wide += widths[count]
        count += 1
    return count, wide


def _put(cell: Any, column: Column, value: Cell, system: UnitSystem, part: int, plain: int | None) -> int:
    """A number as a number, anything else as text; the characters it takes."""
    from openpyxl.styles import Alignment

    if value is None or (isinstance(value, float) and not isfinite(value)):
        return 0
    if isinstance(value, str) or (column.quantity is None and isinstance(value, bool)):
        _text(cell, str(value)).alignment = Alignment(wrap_text=True, vertical="top")
        return min(len(str(value)), 40)
    number, digits = amounts(column, float(value), system)[part] if column.quantity else (value, None)
    cell.value = number
    if digits is None and isinstance(value, float):
        digits = plain
    cell.number_format = _format(digits) if isinstance(number, float) else "#,##0"
    cell.alignment = Alignment(vertical="top")
    return len(f"{number:,.{digits or 0}f}") if digits is not None else 8


def _format(digits: int | None) -> str:
    return "0.0E+00" if digits is None else "#,##0" if digits == 0 else "#,##0." + "0" * digits


def _text(cell: Any, text: str) -> Any:
    """Text that stays text: told so by its type, and by the mark that a program keeps when the cell is edited."""
    cell.value = clean(text)
    cell.data_type = "s"
    if text.startswith(RISKY):
        cell.quotePrefix = True
    return cell


def _head(cell: Any, text: str) -> None:
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

    _text(cell, text)
    cell.font = Font(bold=True, color=INK)
    cell.fill = PatternFill("solid", fgColor=HEAD_FILL)
    cell.alignment = Alignment(wrap_text=True, vertical="top")
    cell.border = Border(bottom=Side(style="thin", color=INK))


def _set_up(sheet: Any, title: str, widths: Sequence[float], heads_end: int) -> None:
    """Widths, frozen heads, and a page that prints on one width."""
    from openpyxl.utils import get_column_letter

    for i, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(i)].width = width
    sheet.freeze_panes = f"{'A' if heads_end > 1 else 'B'}{heads_end + 1}"
    sheet.print_title_rows = f"{heads_end}:{heads_end}"
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", sheet.PAPERSIZE_A4
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.oddHeader.left.text = clean(title).replace("&", "&&")[:200]
    sheet.oddFooter.right.text = "&P / &N"

"""Sheets from a spreadsheet: CSV or .xlsx, one record a row, columns named as the fields of a model.

Cells are written as in a scenario file, with their unit. Every fault of the form (columns, encoding, size) is told
before any cell is read.
"""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Collection, Iterator
from pathlib import Path
from typing import Any

from heatsim.errors import Fault, HeatsimError

MOST_ROWS, MOST_BYTES = 2000, 2_000_000
REMARK = "remark"
"""A column that is read past."""
_UNIT_IN_HEAD = re.compile(r"(?P<name>.*?)\s*[\[(](?P<unit>[^\[\]()]*(?:\([^()]*\))?)[\])]")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


def sheet_rows(
    file: Path, fields: Collection[str], numbers: Collection[str], *, units_in_heads: bool = False
) -> Iterator[tuple[int, dict[str, Any]]]:
    """Line number and filled cells of each row.

    Parameters
    ----------
    file : Path
    fields : names of the columns it may have
    numbers : those whose cells are plain numbers
    units_in_heads : whether a head may bear the unit of the plain numbers below it, as in `length [ft]`

    Raises
    ------
    HeatsimError
    """
    table = _workbook(file) if file.suffix.lower() == ".xlsx" else csv_table(file, semicolons=True)
    if not table or not any(cell.strip() for cell in table[0]):
        remedy = f"Begin with a line such as: {','.join(list(fields)[:6])},..."
        raise HeatsimError(Fault("a sheet begins with a line of column names", str(file), 1, remedy=remedy))
    heads, ends = [cell.strip() for cell in table[0]], dict[str, str]()
    for i, head in enumerate(heads if units_in_heads else ()):
        if (parts := _UNIT_IN_HEAD.fullmatch(head)) is not None:
            heads[i] = parts["name"]
            ends[heads[i]] = parts["unit"].strip()
    faults = [
        Fault("is not a column of this sheet", str(file), 1, head, remedy=_did_you_mean(head, fields))
        for head in heads if head and head not in fields and head != REMARK
    ]  # fmt: skip
    twice = sorted({head for head in heads if head and heads.count(head) > 1})
    faults += [Fault("stands twice in the line of column names", str(file), 1, head) for head in twice]
    if len(table) - 1 > MOST_ROWS:
        faults.append(Fault(f"may hold at most {MOST_ROWS} rows", str(file), value=f"{len(table) - 1:,}"))
    for line, cells in enumerate(table[1:], start=2):
        if any(cell.strip() for cell in cells[len(heads) :]):
            rule = "a row has more cells than there are columns"
            faults.append(Fault(rule, str(file), line, value=str(len(cells)), remedy="Quote cells that hold a comma"))
    if not faults and not any(cell.strip() for cells in table[1:] for cell in cells):
        faults.append(Fault("a sheet needs at least one row", str(file), 2))
    if faults:
        raise HeatsimError(*faults)
    for line, cells in enumerate(table[1:], start=2):
        filled = {head: cell.strip() for head, cell in zip(heads, cells, strict=False) if head and cell.strip()}
        filled.pop(REMARK, None)
        for head in ends.keys() & filled.keys():
            if _NUMBER.fullmatch(filled[head]):
                filled[head] = f"{filled[head]} {ends[head]}".strip()
        if filled:
            yield line, {head: _number(cell) if head in numbers else cell for head, cell in filled.items()}


def _number(cell: str) -> Any:
    """The number a cell stands for, or its text for the model to refuse."""
    try:
        return int(cell) if cell.lstrip("+-").isdigit() else float(cell)
    except ValueError:
        return cell


def csv_table(file: Path, *, semicolons: bool = False) -> list[list[str]]:
    """Cells of a CSV file as they stand, row by row; parted by semicolons where its heads are and that is allowed.

    Raises
    ------
    HeatsimError
        Where it cannot be read, is too large, or is no such file.
    """
    try:
        if file.stat().st_size > MOST_BYTES:
            raise HeatsimError(Fault("a sheet may have at most 2 MB", str(file)))
        content = file.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        remedy = "Save it as CSV in UTF-8, or as .xlsx"
        raise HeatsimError(Fault("must be a text file in UTF-8", str(file), remedy=remedy)) from error
    except OSError as error:
        raise HeatsimError(Fault("must be a file that can be read", str(file), value=error.strerror or "")) from error
    if "\0" in content:
        raise HeatsimError(Fault("must be a text file", str(file), remedy="Save it as CSV in UTF-8, or as .xlsx"))
    try:
        return list(csv.reader(io.StringIO(content), delimiter=_parted_by(content) if semicolons else ",", strict=True))
    except csv.Error as error:
        raise HeatsimError(Fault("must be comma-separated values", str(file), value=str(error))) from error


def _parted_by(content: str) -> str:
    """Comma, or the semicolon of offices that write decimals with a comma."""
    heads = content.partition("\n")[0]
    return ";" if heads.count(";") > heads.count(",") else ","


def _workbook(file: Path) -> list[list[str]]:
    from openpyxl import load_workbook

    try:
        if file.stat().st_size > MOST_BYTES:
            raise HeatsimError(Fault("a sheet may have at most 2 MB", str(file)))
        book = load_workbook(file, read_only=True, data_only=True)
        rows = book.worksheets[0].iter_rows(values_only=True, max_row=MOST_ROWS + 2)
        return [["" if cell is None else str(cell) for cell in row] for row in rows]
    except HeatsimError:
        raise
    except Exception as error:  # a broken workbook ends in anything from a zip to an XML error
        raise HeatsimError(Fault("must be a workbook that can be opened", str(file), value=str(error)[:60])) from error


def _did_you_mean(key: str, fields: Collection[str]) -> str:
    close = difflib.get_close_matches(key, list(fields), 1, 0.55)
    return f'Did you mean "{close[0]}"?' if close else f"Known columns: {', '.join(fields)}"

"""Zone sheets: a designer's list of rooms, one a row, as a scenario of quick zones; and a sheet to fill in.

Columns are named as the keys of the scenario file. A cell is written with its unit, as there, and stays as it was
written; or the unit stands in the head, `length [ft]`, and the cells are plain numbers.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

from heatsim.errors import Fault, HeatsimError
from heatsim.scenario import reading
from heatsim.scenario import tree as trees
from heatsim.scenario.fields import Part
from heatsim.scenario.outlines import OutlineText
from heatsim.scenario.rooms import QuickText, ZoneText
from heatsim.scenario.schema import field_text
from heatsim.scenario.sheets import sheet_rows
from heatsim.scenario.starters import framed, metres_of, write_new
from heatsim.scenario.tree import Tree, plain_value
from heatsim.tables.loader import names as table_names

NAME = "zone"
OF_ZONE = ("use", "setpoint", "heating_setpoint", "fresh_air", "cooling_limit")
OF_BOX = (
    "deck", "length", "beam", "height", "glass_share", "sides", "above", "below", "glazing", "film", "side_colour",
    "deck_colour", "side_lay_up", "deck_lay_up",
)  # fmt: skip
OF_OUTLINE = ("station", "offset")
COLUMNS = (NAME, "use", *OF_BOX[:6], *OF_ZONE[1:4], *OF_OUTLINE, *OF_BOX[6:], OF_ZONE[4])
"""In the order of the sheet to fill in."""
NEEDED = (NAME, "use", "deck", "length", "beam", "height")
BERTHS = 2
"""Persons to a cabin, as in a starter."""
EXAMPLES = (
    ("forward cabin", "cabin", "lower", "4.1 m", "3.9 m", "2.0 m", "6 %", "port, starboard", "22.5 degC"),
    ("saloon", "saloon", "main", "21 ft", "16 ft", "7 ft", "40 %", "port, starboard, stern", "23 degC"),
    ("wheelhouse", "wheelhouse", "main", "2.9 m", "4.2 m", "2.1 m", "50 %", "bow, port, starboard"),
)
"""Invented rooms that show how a row is written, in either system of units."""
_PLAIN = re.compile(r"[+-]?[^\W_][\w .,%/()²³°'+-]*")


def from_sheet(sheet: Path, *, kind: str, length: str) -> str:
    """Text of a scenario file with one quick zone for each row of a sheet, in the sheet's order.

    Parameters
    ----------
    sheet : Path
        CSV or .xlsx, first sheet; columns are `COLUMNS`, those of `NEEDED` filled in every row.
    kind : {"motor", "sail", "multihull"}
    length : str
        Of the boat, with its unit.

    Raises
    ------
    HeatsimError
        With one fault for each mistake, by row and column.
    """
    rows = list(sheet_rows(sheet, COLUMNS, (), units_in_heads=True))
    faults = list(_form_faults(sheet, rows))
    if faults:
        raise HeatsimError(*faults)
    berths = BERTHS * sum("cabin" in row["use"] for _, row in rows)
    source = "".join(sign for sign in sheet.name if sign.isprintable())
    told = f"From the zone sheet {source}, its units kept; what it does not say is a default that heatsim check lists."
    body = "\n".join(_zone_text(row) for _, row in rows)
    content = framed(kind, metres_of(length), length, max(berths, BERTHS), body, told)
    _validate(content, sheet, rows)
    return content


def write_from_sheet(file: Path, sheet: Path, *, kind: str, length: str, force: bool = False) -> None:
    """Write the scenario of a sheet to a file, which must not exist unless `force` is set."""
    write_new(file, from_sheet(sheet, kind=kind, length=length).encode(), force=force)


def write_blank_sheet(file: Path, *, force: bool = False) -> None:
    """Write a sheet to fill in, CSV or workbook by the name of the file."""
    suffix = file.suffix.lower()
    if suffix not in (".csv", ".xlsx"):
        raise HeatsimError(Fault("must end in .csv or .xlsx", str(file), remedy="Write for example zones.xlsx"))
    write_new(file, _blank_workbook() if suffix == ".xlsx" else _blank_csv(), force=force)


def _form_faults(sheet: Path, rows: list[tuple[int, dict[str, Any]]]) -> Iterator[Fault]:
    """Cells that must be there and cells that no scenario can hold; names that stand twice."""
    seen: dict[str, int] = {}
    for line, row in rows:
        for key in NEEDED:
            if key not in row:
                yield Fault("the cell is empty", str(sheet), line, key, remedy=f"Fill in {key}")
        for key, cell in row.items():
            if not cell.isprintable():
                yield Fault("a cell may hold one line of plain text", str(sheet), line, key, repr(cell)[:40])
        name = row.get(NAME)
        if name in seen:
            yield Fault(f"a zone stands twice, first in row {seen[name]}", str(sheet), line, NAME, name)
        elif name is not None:
            seen[name] = line
        if "offset" in row and "station" not in row:
            yield Fault("an offset needs a station beside it", str(sheet), line, "offset", row["offset"])


def _validate(content: str, sheet: Path, rows: list[tuple[int, dict[str, Any]]]) -> None:
    """Faults of the scenario told where the sheet has them: its row, and its column for a path."""
    tree = trees.parse(content, str(sheet))
    lines: dict[trees.Spot, int] = {("zones", row[NAME]): line for line, row in rows}
    names = {f"zones.{row[NAME]}": row[NAME] for _, row in rows}
    try:
        reading.validate(Tree(tree.value, lines, str(sheet)))
    except HeatsimError as error:
        told = []
        for fault in error.faults:
            zone = max((path for path in names if fault.path.startswith(path)), key=len, default="")
            rest = fault.path.removeprefix(zone).lstrip(".")
            path = re.sub(r"^(quick|outline)\.?", "", rest) or NAME
            told.append(
                Fault(fault.rule, fault.file, fault.line, f"{names[zone]}: {path}", fault.value, fault.remedy)
                if zone else fault
            )  # fmt: skip
        raise HeatsimError(*told) from None


def _zone_text(row: dict[str, str]) -> str:
    """A quick zone of the file."""
    lines = [f"  {_scalar(row[NAME])}:"]
    lines += [f"    {key}: {_scalar(row[key])}" for key in OF_ZONE if key in row]
    if "station" in row:
        parts = {"station": row["station"], "offset": row.get("offset"), "length": row["length"], "beam": row["beam"]}
        told = ", ".join(f"{key}: {_scalar(value, flow=True)}" for key, value in parts.items() if value is not None)
        lines.append(f"    outline: {{{told}}}")
    lines.append("    quick:")
    for key in OF_BOX:
        if key in row:
            sides = [side for side in re.split(r"[,;&\s]+|\band\b", row[key]) if side] if key == "sides" else []
            written = f"[{', '.join(_scalar(side, flow=True) for side in sides)}]" if sides else _scalar(row[key])
            lines.append(f"      {key}: {written}")
    return "\n".join(lines) + "\n"


def _scalar(text: str, flow: bool = False) -> str:
    """A cell as text of the file; what would be read as something else, or end it, is quoted."""
    number = isinstance(plain_value(text), (int, float)) and not isinstance(plain_value(text), bool)
    plain = _PLAIN.fullmatch(text) and text == text.strip() and (number or isinstance(plain_value(text), str))
    if plain and not (flow and "," in text):
        return text
    return "'" + text.replace("'", "''") + "'"


def explained() -> list[tuple[str, str, str]]:
    """Every column: its name, whether it must be filled, what it means."""
    models: dict[str, type[Part]] = {key: ZoneText for key in OF_ZONE}
    models |= {key: QuickText for key in OF_BOX} | {key: OutlineText for key in OF_OUTLINE}
    told = [(NAME, "What the room is called.")] + [(key, field_text(models[key], key)) for key in COLUMNS[1:]]
    return [(key, "needed" if key in NEEDED else "", text) for key, text in told]


def _blank_csv() -> bytes:
    import csv
    import io

    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    writer.writerows([*row, *[""] * (len(COLUMNS) - len(row))] for row in EXAMPLES)
    return out.getvalue().encode()


def _blank_workbook() -> bytes:
    """Zones to overwrite on the first sheet, choices where words are fixed; what the columns mean on the second."""
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Font, PatternFill
    from openpyxl.worksheet.datavalidation import DataValidation

    book = Workbook()
    zones = book.active
    assert zones is not None
    zones.title = "zones"
    zones.append(COLUMNS)
    for row in EXAMPLES:
        zones.append(row)
    for cell in zones[1]:
        needed = cell.value in NEEDED
        cell.font = Font(bold=needed)
        cell.fill = PatternFill("solid", fgColor="C3CCCC" if needed else "E4EBE7")
        zones.column_dimensions[cell.column_letter].width = max(12.0, len(str(cell.value)) + 3.0)
    zones.column_dimensions["A"].width = 22.0
    zones.freeze_panes = "B2"
    for key, words in (("use", table_names("uses")), ("deck", ["lower", "main", "upper", "bridge"])):
        choice = DataValidation(type="list", formula1=f'"{",".join(words)}"', allow_blank=True)
        letter = zones.cell(1, COLUMNS.index(key) + 1).column_letter
        choice.add(f"{letter}2:{letter}500")
        zones.add_data_validation(choice)
    columns = book.create_sheet("columns")
    columns.append(
        (
            "column",
            "",
            "what it says; write amounts with their unit, 6.4 m or 21 ft, or the unit in the head: length [ft]",
        )
    )
    for line in explained():
        columns.append(line)
    for cell in columns[1]:
        cell.font = Font(bold=True)
    for letter, width in (("A", 18.0), ("B", 9.0), ("C", 90.0)):
        columns.column_dimensions[letter].width = width
    for (cell,) in columns.iter_rows(min_col=3, max_col=3):
        cell.alignment = Alignment(wrap_text=True, vertical="top")
    content = BytesIO()
    book.save(content)
    return content.getvalue()

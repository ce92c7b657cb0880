"""The zone sheet to fill in: a CSV, or a workbook with choices of words and what each column means."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

from heatsim.errors import Fault, HeatsimError
from heatsim.scenario.fields import Part
from heatsim.scenario.outlines import OutlineText
from heatsim.scenario.rooms import QuickText, SpaceText, ZoneText
from heatsim.scenario.schema import field_text
from heatsim.scenario.starters import write_new
from heatsim.scenario.zone_sheets import COLUMNS, NAME, NEEDED, OF_BOX, OF_OUTLINE, OF_SPACE
from heatsim.tables.loader import names as table_names

EXAMPLES: tuple[dict[str, str], ...] = (
    {"zone": "forward cabin", "use": "cabin", "deck": "lower", "length": "4.1 m", "beam": "3.9 m", "height": "2.0 m",
     "glass": "2 x 0.5 x 0.2 m", "sides": "port, starboard", "persons_night": "2", "setpoint": "22.5 C"},
    {"zone": "forward head", "use": "head", "deck": "lower", "length": "1.6 m", "beam": "1.2 m", "height": "2.0 m",
     "sides": "none", "persons_day": "0"},
    {"zone": "engine space", "use": "engine space", "deck": "lower", "length": "3.5 m", "beam": "4.8 m",
     "height": "1.9 m", "sides": "port, starboard", "equipment": "900 W", "above": "saloon"},
    {"zone": "saloon", "use": "saloon", "deck": "main", "length": "21 ft", "beam": "16 ft", "height": "7 ft",
     "glass": "40 %", "sides": "port, starboard, stern", "persons_day": "6", "setpoint": "23 C",
     "setpoint_night": "25 C"},
    {"zone": "wheelhouse", "use": "wheelhouse", "deck": "main", "length": "2.9 m", "beam": "4.2 m", "height": "2.1 m",
     "glass": "6.2 m2", "sides": "bow, port, starboard", "persons_day": "2", "equipment": "400 W"},
)  # fmt: skip
"""Invented rooms that show how a row is written, in either system of units."""
OWN_TEXTS = {
    NAME: "What the room is called.",
    "use": "What the room is for: fills in persons, lights, equipment and setpoints. An engine space, lazarette, "
    "bilge, tank or locker is not cooled.",
    "glass": "Glass of the sides named, together: a share of them (20 %), an area (2.4 m2), or panes: 2 x 1.1 x 0.5 m, "
    "2 x 0.3 m dia, and several with + between. Without level hatches.",
    "sides": "Sides of the room that face the weather or, below, the hull: port, starboard, bow, stern; none for an "
    "inner room. Left empty: port and starboard.",
    "persons_day": "Persons in the room by day, 7 to 23. Where both cells are empty, those aboard are shared out.",
    "persons_night": "Persons who sleep there, 23 to 7.",
    "equipment": "Heat of what runs in the room, in watts, day and night. Left empty: what its use has.",
    "setpoint": "Temperature that cooling holds, such as 24 C. Left empty: what its use has.",
    "heating_setpoint": "Temperature that heating holds.",
    OF_SPACE: "Of a room that nobody cools, such as an engine space: its temperature, in place of simulating it.",
    "setpoint_night": "The same from 23 to 7, where it is another.",
    "station": "From the bow aft to the room's forward end, for the plan view. Left empty: in the order of rows.",
}
"""Columns that no key of the file says alone."""


def write_blank_sheet(file: Path, *, force: bool = False) -> None:
    """Write a sheet to fill in, CSV or workbook by the name of the file."""
    suffix = file.suffix.lower()
    if suffix not in (".csv", ".xlsx"):
        raise HeatsimError(Fault("must end in .csv or .xlsx", str(file), remedy="Write for example zones.xlsx"))
    write_new(file, _blank_workbook() if suffix == ".xlsx" else _blank_csv(), force=force)


def explained() -> list[tuple[str, str, str]]:
    """Every column: its name, whether it must be filled, what it means."""
    models: dict[str, type[Part]] = dict.fromkeys(COLUMNS, ZoneText)
    models |= dict.fromkeys(OF_BOX, QuickText) | dict.fromkeys(OF_OUTLINE, OutlineText) | {OF_SPACE: SpaceText}
    told = [(key, OWN_TEXTS.get(key) or field_text(models[key], key)) for key in COLUMNS]
    return [(key, "needed" if key in NEEDED else "", text) for key, text in told]


def _blank_csv() -> bytes:
    import csv
    import io

    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    writer.writerows([row.get(key, "") for key in COLUMNS] for row in EXAMPLES)
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
        zones.append([row.get(key) for key in COLUMNS])
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

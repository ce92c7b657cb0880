"""Zone sheets: a designer's list of rooms, one a row, as a scenario of quick zones and spaces.

Columns are named as the keys of the scenario file. A cell is written with its unit, as there, and stays as it was
written; or the unit stands in the head, `length [ft]`, and the cells are plain numbers. Rooms of a use that nobody
lives in, such as an engine space, become spaces: they are not cooled.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from pathlib import Path

from heatsim.errors import Fault, HeatsimError
from heatsim.scenario import reading
from heatsim.scenario import tree as trees
from heatsim.scenario.fittings import lived_in, use_row
from heatsim.scenario.panes import by_sizes
from heatsim.scenario.quantities import kind_of
from heatsim.scenario.resolve import resolve
from heatsim.scenario.sheets import sheet_rows
from heatsim.scenario.starters import REGION, framed, metres_of, write_new
from heatsim.scenario.tree import Tree, plain_value
from heatsim.tables.loader import names as table_names

Row = dict[str, str]
"""Filled cells by column."""

NAME = "zone"
OF_PERSONS = ("persons_day", "persons_night")
OF_ZONE = ("setpoint", "setpoint_night", "heating_setpoint", "fresh_air", "cooling_limit", *OF_PERSONS)
"""Columns of rooms that people live in alone."""
OF_SPACE = "temperature"
"""Column of the other rooms alone."""
AS_IN_FILE = ("heating_setpoint", "fresh_air", "cooling_limit", OF_SPACE)
OF_BOX = (
    "deck", "length", "beam", "height", "glass", "sides", "above", "below", "glazing", "film", "side_colour",
    "deck_colour", "side_lay_up", "deck_lay_up",
)  # fmt: skip
OF_OUTLINE = ("station", "offset")
COLUMNS = (
    NAME, "use", *OF_BOX[:6], *OF_PERSONS, "equipment", *OF_ZONE[:4], *OF_OUTLINE, *OF_BOX[6:], "cooling_limit",
    OF_SPACE,
)  # fmt: skip
"""In the order of the sheet to fill in."""
OTHER_NAMES = {"glass_share": "glass", "glass_area": "glass"}
"""Keys of the file that one column stands for."""
NEEDED = (NAME, "use", "deck", "length", "beam", "height")
NOTHING = ("-", "–", "—", "n/a")
"""Cells that are as good as empty."""
BERTHS = 2
"""Persons to a cabin, as in a starter."""
DAY, NIGHT = "07:00-23:00", "23:00-07:00"
"""The day and night of the default routines."""
_PLAIN = re.compile(r"[+-]?[^\W_][\w .,%/()²³°'+-]*")


def from_sheet(sheet: Path, *, kind: str, length: str, region: str = REGION) -> str:
    """Text of a scenario file with one quick zone or space for each row of a sheet, in the sheet's order.

    Parameters
    ----------
    sheet : Path
        CSV or .xlsx, first sheet; columns are `COLUMNS`, those of `NEEDED` filled in every row.
    kind : {"motor", "sail", "multihull"}
    length : str
        Of the boat, with its unit.
    region : str
        Code of the region she lies in.

    Raises
    ------
    HeatsimError
        With one fault for each mistake, by row and column.
    """
    found = list(sheet_rows(sheet, (*COLUMNS, *OTHER_NAMES), (), units_in_heads=True))
    rows = [(line, {key: cell for key, cell in row.items() if cell not in NOTHING}) for line, row in found]
    faults = list(_form_faults(sheet, rows))
    if faults:
        raise HeatsimError(*faults)
    rows = [(line, {OTHER_NAMES.get(key, key): cell for key, cell in row.items()}) for line, row in rows]
    source = "".join(sign for sign in sheet.name if sign.isprintable())
    told = f"From the zone sheet {source}, its units kept; what it does not say is a default that heatsim check lists."
    body = "".join(_room_text(row) for _, row in rows if _lived_in(row))
    spaces = "".join(_room_text(row) for _, row in rows if not _lived_in(row))
    if spaces:
        body += f"\nspaces:                   # rooms that nobody cools: no unit, no return air in them\n{spaces}"
    persons = persons_aboard([row for _, row in rows])
    content = framed(kind, metres_of(length), length, persons, body, told, region)
    _validate(content, sheet, rows)
    return content


def write_from_sheet(
    file: Path, sheet: Path, *, kind: str, length: str, region: str = REGION, force: bool = False
) -> None:
    """Write the scenario of a sheet to a file, which must not exist unless `force` is set."""
    write_new(file, from_sheet(sheet, kind=kind, length=length, region=region).encode(), force=force)


def persons_aboard(rows: list[Row]) -> int:
    """Most persons at once by the sheet, two to a cabin that says nothing of them."""
    silent = [row for row in rows if not any(key in row for key in OF_PERSONS)]
    day, night = (sum(float(row.get(key, 0)) for row in rows) for key in OF_PERSONS)
    return max(math.ceil(day), math.ceil(night) + BERTHS * sum("cabin" in row["use"] for row in silent), BERTHS)


def _lived_in(row: Row) -> bool:
    return row["use"] not in table_names("uses") or lived_in(row["use"])


def _form_faults(sheet: Path, rows: list[tuple[int, Row]]) -> Iterator[Fault]:
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
        amounts = [key for key in ("glass", *OTHER_NAMES) if key in row]
        if len(amounts) > 1:
            yield Fault("glass is given twice", str(sheet), line, amounts[1], row[amounts[1]], "Keep one of the cells")
        if "use" in row:
            yield from _misplaced(sheet, line, row)


def _misplaced(sheet: Path, line: int, row: Row) -> Iterator[Fault]:
    """Cells that the use of the room has no meaning for, and persons that are no number."""
    for key in OF_PERSONS:
        if key in row and not re.fullmatch(r"\d{1,4}(\.\d+)?", row[key]):
            remedy = "Write for example 2; leave the cell empty where nobody is"
            yield Fault("must be a number of persons", str(sheet), line, key, row[key], remedy)
    if _lived_in(row):
        if OF_SPACE in row:
            remedy = "Write it as setpoint, or leave the cell empty"
            rule = "is for rooms that nobody cools; a room people use has a setpoint"
            yield Fault(rule, str(sheet), line, OF_SPACE, row[OF_SPACE], remedy)
        return
    for key in OF_ZONE:
        if key in row and row[key] != "0":
            rule = f"a room with the use {row['use']} is not cooled and nobody lives in it"
            yield Fault(rule, str(sheet), line, key, row[key], "Leave the cell empty, or change the use")


def _validate(content: str, sheet: Path, rows: list[tuple[int, Row]]) -> None:
    """Faults of the scenario told where the sheet has them: its row, and its column for a path."""
    tree = trees.parse(content, str(sheet))
    groups = {row[NAME]: "zones" if _lived_in(row) else "spaces" for _, row in rows}
    lines: dict[trees.Spot, int] = {(groups[row[NAME]], row[NAME]): line for line, row in rows}
    paths = {f"{group}.{name}": (name, lines[group, name]) for name, group in groups.items()}
    try:
        resolve(reading.validate(Tree(tree.value, lines, str(sheet))))
    except HeatsimError as error:
        told = []
        for fault in error.faults:
            own = max((path for path in paths if fault.path.startswith(path)), key=len, default="")
            if not own:
                told.append(fault)
                continue
            name, line = paths[own]
            column = re.sub(r"^(quick|outline)\.?", "", fault.path.removeprefix(own).lstrip(".")) or NAME
            told.append(Fault(fault.rule, str(sheet), line, f"{name}: {column}", fault.value, fault.remedy))
        raise HeatsimError(*told) from None


def _room_text(row: Row) -> str:
    """A quick zone or space of the file."""
    lines = [f"  {scalar(row[NAME])}:", f"    use: {scalar(row['use'])}"]
    lines += _people(row) + _setpoint(row)
    lines += [f"    {key}: {scalar(row[key])}" for key in AS_IN_FILE if key in row]
    if "equipment" in row:
        lines.append(f"    equipment: [{{name: equipment, power: {scalar(row['equipment'], flow=True)}}}]")
    if "station" in row:
        parts = {"station": row["station"], "offset": row.get("offset"), "length": row["length"], "beam": row["beam"]}
        told = ", ".join(f"{key}: {scalar(value, flow=True)}" for key, value in parts.items() if value is not None)
        lines.append(f"    outline: {{{told}}}")
    lines.append("    quick:")
    lines += [f"      {_box_line(key, row[key])}" for key in OF_BOX if key in row]
    return "\n".join(lines) + "\n"


def _people(row: Row) -> list[str]:
    """Persons by day and by night; a row that says nothing of them leaves them to be shared out."""
    if not _lived_in(row) or not any(key in row for key in OF_PERSONS):
        return []
    known = row["use"] in table_names("uses")
    by_day = use_row(row["use"])["day_activity"] if known else "seated at rest"
    groups = [
        f"{{count: {row[key]}, activity: {activity}, routine: {routine}}}"
        for key, activity, routine in zip(OF_PERSONS, (by_day, "asleep"), ("day", "night"), strict=True)
        if float(row.get(key, 0)) > 0
    ]
    return [f"    people: [{', '.join(groups)}]"]


def _setpoint(row: Row) -> list[str]:
    """One setpoint, or one by day and one by night; by day that of the use where none is given."""
    if "setpoint_night" not in row:
        return [f"    setpoint: {scalar(row['setpoint'])}"] if "setpoint" in row else []
    known = row["use"] in table_names("uses")
    day = row.get("setpoint") or f"{use_row(row['use'])['setpoint_C'] if known else 23} degC"
    night = scalar(row["setpoint_night"], flow=True)
    return [f'    setpoint: {{"{DAY}": {scalar(day, flow=True)}, "{NIGHT}": {night}}}']


def _box_line(key: str, cell: str) -> str:
    """A key of the box and its value."""
    if key == "sides":
        sides = [side for side in re.split(r"[,;&\s]+|\band\b", cell) if side]
        if sides and sides != ["none"]:
            return f"sides: [{', '.join(scalar(side, flow=True) for side in sides)}]"
    if key == "glass":
        if cell.lower() in ("none", "0"):
            return "glass_share: 0 %"
        key = "glass_area" if by_sizes(cell) or kind_of(cell) == "area" else "glass_share"
    return f"{key}: {scalar(cell)}"


def scalar(text: str, flow: bool = False) -> str:
    """A cell as text of the file; what would be read as something else, or end it, is quoted."""
    number = isinstance(plain_value(text), (int, float)) and not isinstance(plain_value(text), bool)
    plain = _PLAIN.fullmatch(text) and text == text.strip() and (number or isinstance(plain_value(text), str))
    if plain and not (flow and "," in text):
        return text
    return "'" + text.replace("'", "''") + "'"

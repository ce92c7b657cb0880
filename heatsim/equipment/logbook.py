"""A log of what was measured aboard: a CSV file of times and readings whose heads carry their units.

Heads are `time`, then names and units: `saloon degC`, `saloon %`, `settee unit A`, `total A`, `sea degC`,
`outdoor degC`, `outdoor %`. A time with its offset from UTC (`2025-07-21T14:30+02:00`, `...Z`) is taken as it stands;
one without is read on the clock of `place.timezone`, and refused where that clock jumps; under the head `time UTC` all
without are UTC. Rows need no even spacing; an empty cell or `-` is a gap.
"""

from __future__ import annotations

import difflib
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from math import isfinite
from pathlib import Path
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError
from heatsim.scenario.quantities import unit_list
from heatsim.scenario.sheets import REMARK, csv_table

Array = npt.NDArray[np.float64]
Times = npt.NDArray[np.datetime64]
Kind = Literal["temperature", "humidity", "current"]

SEA, OUTDOOR, TOTAL = "sea", "outdoor", "total"
TIME, TIME_UTC = "time", "time UTC"
GAPS = ("", "-")
LONGEST = 14
"""[d] From first to last reading: units are run minute by minute, about two seconds a day."""
FEWEST = 6
"""Readings of one column that are worth a comparison."""
MOST_FAULTS = 20
BOUNDS: dict[str, tuple[float, float]] = {
    "temperature": (-40.0, 80.0),
    "humidity": (0.0, 1.0),
    "current": (0.0, 5000.0),
}
"""[°C], [-], [A] Outside of which a reading is a slip or a broken sensor."""
SEA_BOUNDS = (-2.0, 40.0)
"""[°C]"""


class Column(NamedTuple):
    """What a column holds: the name of a zone, unit, sea, outdoor or total, and the kind of quantity."""

    name: str
    kind: Kind


@dataclass(frozen=True)
class Log:
    """Readings in SI by column, NaN where there is a gap: °C, shares, A, all (reading,); `time` is UTC."""

    file: str
    time: Times
    values: dict[Column, Array]


def read_log(file: Path, zones: Collection[str], units: Collection[str], clock: tzinfo) -> Log:
    """Read a log.

    Parameters
    ----------
    file : Path
    zones, units : names that columns may have
    clock : tzinfo
        On which times without an offset are read.

    Raises
    ------
    HeatsimError
        With every fault, at most the first 20.
    """
    table = csv_table(file)
    if not table or not any(cell.strip() for cell in table[0]):
        raise HeatsimError(Fault("a log begins with a line of heads", str(file), 1, remedy="Write: time,saloon degC"))
    heads = [cell.strip() for cell in table[0]]
    columns, faults = _columns(file, heads, zones, units)
    if faults:
        raise HeatsimError(*faults)
    at = next(i for i, head in enumerate(heads) if head in (TIME, TIME_UTC))
    times: list[datetime] = []
    rows: list[list[float]] = []
    for line, cells in enumerate(table[1:], start=2):
        if not any(cell.strip() for cell in cells):
            continue
        found = _row(file, line, [cell.strip() for cell in cells], columns, at, heads)
        faults += found.faults
        moment = _moment(file, line, found.time, clock if heads[at] == TIME else UTC, heads[at], faults)
        if moment is not None and times and moment <= times[-1]:
            rule, remedy = (
                "does not come after the time of the row before",
                "Sort the rows; drop those that stand twice",
            )
            faults.append(Fault(rule, str(file), line, heads[at], found.time, remedy))
        if moment is not None:
            times.append(moment)
            rows.append(found.values)
    if not faults:  # or cells that were refused would count as missing
        faults = _whole(file, times, rows, [columns[i] for i in sorted(columns)])
    if faults:
        more = len(faults) - MOST_FAULTS
        rest = [Fault("has more faults than are told here", str(file), value=f"{more} more")] if more > 0 else []
        raise HeatsimError(*faults[:MOST_FAULTS], *rest)
    stamps = np.array([moment.replace(tzinfo=None) for moment in times], dtype="datetime64[s]")
    values = np.array(rows, dtype=float).T
    return Log(str(file), stamps, {columns[i]: values[k] for k, i in enumerate(sorted(columns))})


def _columns(
    file: Path, heads: Sequence[str], zones: Collection[str], units: Collection[str]
) -> tuple[dict[int, Column], list[Fault]]:
    """What every column holds, and what is wrong with its head."""
    allowed: dict[str, tuple[str, ...]] = {
        **{name: ("temperature", "humidity") for name in (*zones, OUTDOOR)}, SEA: ("temperature",),
    }  # fmt: skip
    for name in (*units, TOTAL):
        allowed[name] = (*allowed.get(name, ()), "current")
    columns: dict[int, Column] = {}
    faults: list[Fault] = []
    if sum(head in (TIME, TIME_UTC) for head in heads) != 1:
        joined = any(";" in head or "\t" in head for head in heads)
        remedy = "Part columns by commas" if joined else "Head the column of times with: time"
        faults.append(Fault("a log needs one column of times", str(file), 1, remedy=remedy))
    for i, head in enumerate(heads):
        if head in (TIME, TIME_UTC, REMARK, ""):
            continue
        name, _, unit = head.rpartition(" ")
        name = name.strip()
        kind = {"%": "humidity", "A": "current"}.get(unit, getattr(unit_list().get(unit), "kind", ""))
        if not name or kind not in BOUNDS:
            unit_rule = "a head ends with its unit: degC, degF, % or A"
            faults.append(Fault(unit_rule, str(file), 1, head, remedy="Write for example: saloon degC"))
        elif name not in allowed:
            close = difflib.get_close_matches(name, list(allowed), 1, 0.55)
            remedy = f'Did you mean "{close[0]}"?' if close else f"Known: {', '.join(allowed)}"
            faults.append(Fault("is no zone, fitted unit, sea, outdoor or total of this boat", str(file), 1, head,
                                remedy=remedy))  # fmt: skip
        elif kind not in allowed[name]:
            rule = f"a {kind} is not read there; only {' and '.join(allowed[name])}"
            faults.append(Fault(rule, str(file), 1, head, remedy="Check name and unit of the head"))
        elif Column(name, kind) in columns.values():  # type: ignore[arg-type]
            faults.append(Fault("stands twice in the line of heads", str(file), 1, head, remedy="Drop one of them"))
        else:
            columns[i] = Column(name, kind)  # type: ignore[arg-type]
    if not faults and not any(column.name in zones or column.kind == "current" for column in columns.values()):
        remedy = "Add a column such as: saloon degC"
        faults.append(Fault("nothing in this log can be laid over a simulation", str(file), 1, remedy=remedy))
    return columns, faults


class _Row(NamedTuple):
    time: str
    values: list[float]
    faults: list[Fault]


def _row(
    file: Path, line: int, cells: list[str], columns: dict[int, Column], at: int, heads: Sequence[str]
) -> _Row:  # fmt: skip
    faults, values = [], []
    if any(cells[len(heads) :]):
        rule, remedy = (
            "a row has more cells than there are heads",
            "Write decimals with a point, quote cells with commas",
        )
        faults.append(Fault(rule, str(file), line, value=str(len(cells)), remedy=remedy))
    for i in sorted(columns):
        text = cells[i] if i < len(cells) else ""
        value = float("nan")
        if text not in GAPS:
            try:
                value = float(text)
            except ValueError:
                value = float("inf")
            if not isfinite(value):
                rule, remedy = "must be a number", "Leave the cell empty where nothing was read"
                faults.append(Fault(rule, str(file), line, heads[i], text[:40], remedy))
                value = float("nan")
        values.append(_in_si(file, line, heads[i], columns[i], value, faults))
    return _Row(cells[at] if at < len(cells) else "", values, faults)


def _in_si(file: Path, line: int, head: str, column: Column, value: float, faults: list[Fault]) -> float:
    """A reading in °C, shares or A; a fault where it cannot be."""
    unit = unit_list()[head.rpartition(" ")[2]]
    found = value * unit.factor + unit.offset
    low, high = SEA_BOUNDS if column.name == SEA else BOUNDS[column.kind]
    if found < low or found > high:
        ends = [f"{(end - unit.offset) / unit.factor:.3g}" for end in (low, high)]
        rule = f"must lie between {ends[0]} and {ends[1]} {head.rpartition(' ')[2]}"
        faults.append(Fault(rule, str(file), line, head, f"{value:g}", "Check the unit of the head, or clear the cell"))
        return float("nan")
    return found


def _moment(file: Path, line: int, text: str, clock: tzinfo, head: str, faults: list[Fault]) -> datetime | None:
    """A time in UTC, None with a fault where it is none, or two."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        rule, remedy = "must be a time, year first", "Write for example: 2025-07-21 14:30, or with +02:00 behind it"
        faults.append(Fault(rule, str(file), line, head, text[:40] or "nothing", remedy))
        return None
    if moment.tzinfo is not None:
        return moment.astimezone(UTC)
    first, second = (moment.replace(tzinfo=clock, fold=fold) for fold in (0, 1))
    if first.utcoffset() != second.utcoffset():
        back = first.astimezone(UTC).astimezone(clock).replace(tzinfo=None) != moment
        rule = (
            "does not exist on this clock, which jumps over it" if back else "comes twice on this clock, set back then"
        )
        faults.append(Fault(rule, str(file), line, head, text, "Write it with its offset from UTC, such as +02:00"))
        return None
    return first.astimezone(UTC)


def _whole(
    file: Path, times: Sequence[datetime], rows: Sequence[Sequence[float]], columns: list[Column]
) -> list[Fault]:
    """What is wrong with a log as a whole."""
    if not times:
        return [Fault("a log needs at least one row", str(file), 2)]
    span = times[-1] - times[0]
    if span > timedelta(days=LONGEST):
        rule, remedy = f"may cover at most {LONGEST} days", "Keep the days that matter, the hot ones"
        return [Fault(rule, str(file), value=f"{span.days} days", remedy=remedy)]
    filled = np.isfinite(np.array(rows, dtype=float)).sum(axis=0)
    return [
        Fault(f"needs at least {FEWEST} readings", str(file), path=f"{column.name} ({column.kind})", value=str(count),
              remedy="Drop the column, or log for longer")
        for column, count in zip(columns, filled, strict=True) if count < FEWEST
    ]  # fmt: skip

"""Schedules as tables of the page: cells as text, which of them are numbers, and no more rows than a page bears."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, isfinite, log10

from heatsim.report.amounts import UnitSystem
from heatsim.report.service_amounts import cells, heads
from heatsim.services.schedule import Cell, Column, Schedule

SUMS = ("all", "boat", "block")
"""First cells of a last row that adds up the others: it is always shown."""
NARROW_TO, WIDE_FROM, FEW_TWICE = 8, 11, 2
"""Columns up to which both units stand side by side, from which a table is set smaller, and how many of them may bear
two units side by side in any table."""


@dataclass(frozen=True)
class Table:
    """One table: `heads` with their units below, rows of cells with both systems below one another."""

    id: str
    title: str
    heads: tuple[tuple[str, str], ...]
    numbers: tuple[bool, ...]
    rows: tuple[tuple[tuple[str, ...], ...], ...]
    left_out: int
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    findings: int
    size: str


def table(
    schedule: Schedule, system: UnitSystem, *, most: int = 40, without: Sequence[str] = (), notes: bool = True
) -> Table:
    """A schedule as a table.

    Parameters
    ----------
    most : int
        Rows shown; the rest stands in the workbook.
    without : sequence of str
        Heads of columns left out.
    notes : bool
        Whether its notes go with it.
    """
    kept = [i for i, column in enumerate(schedule.columns) if column.head not in without]
    columns = [schedule.columns[i] for i in kept]
    shown = schedule.rows[:most]
    if len(schedule.rows) > most and schedule.rows[-1][0] in SUMS:
        shown = (*shown[:-1], schedule.rows[-1])
    places = [decimals([row[i] for row in schedule.rows]) for i in kept]
    return Table(
        schedule.name,
        schedule.title,
        tuple(_head(column, system) for column in columns),
        tuple(_is_number(schedule.columns[i], [row[i] for row in schedule.rows]) for i in kept),
        tuple(
            tuple(_parts(schedule.columns[i], row[i], system, digits) for i, digits in zip(kept, places, strict=True))
            for row in shown
        ),
        len(schedule.rows) - len(shown),
        schedule.notes if notes else (),
        schedule.cautions,
        len(schedule.findings),
        _size(columns, system),
    )


def _size(columns: Sequence[Column], system: UnitSystem) -> str:
    """How wide a table is, and whether few of its columns bear two units, which then stand side by side."""
    twice = sum(1 for column in columns if column.quantity is not None and len(heads(column, system)) > 1)
    wide = "wide" if len(columns) >= WIDE_FROM else "narrow" if len(columns) <= NARROW_TO else ""
    return f"{wide} few".strip() if 0 < twice <= FEW_TWICE else wide


def _head(column: Column, system: UnitSystem) -> tuple[str, str]:
    """Name and unit, both systems' where they differ."""
    if column.quantity is None:
        return column.head, ""
    parts = [head.split("\n") for head in heads(column, system)]
    return parts[0][0], " · ".join(part[-1] for part in parts)


def _is_number(column: Column, values: Sequence[Cell]) -> bool:
    return column.quantity is not None or all(
        value is None or (isinstance(value, int | float) and not isinstance(value, bool)) for value in values
    )


def decimals(values: Sequence[Cell]) -> int | None:
    """Decimals that a column of plain numbers is shown with: three figures of its largest, none where all are whole;
    None for powers of ten."""
    sizes = [abs(value) for value in values if isinstance(value, float) and isfinite(value)]
    most = max(sizes, default=1.0)
    if all(size == floor(size) for size in sizes) and most < 1e6:
        return 0
    return None if most < 1e-3 or most >= 1e6 else min(3, max(0, 2 - floor(log10(most)) + (most < 2.0)))


def _parts(column: Column, cell: Cell, system: UnitSystem, digits: int | None) -> tuple[str, ...]:
    """A cell's lines; a dash stands once."""
    if column.quantity is None and isinstance(cell, float) and isfinite(cell):
        return (f"{cell:.1e}" if digits is None else f"{cell:,.{digits}f}",)
    if column.quantity is None and isinstance(cell, int) and not isinstance(cell, bool):
        return (f"{cell:,}",)
    found = cells(column, cell, system)
    return tuple(dict.fromkeys(found)) if isinstance(cell, str) or cell is None else tuple(found)

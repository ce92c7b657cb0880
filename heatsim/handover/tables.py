"""Schedules as tables of the page: cells as text, which of them are numbers, and no more rows than a page bears."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from heatsim.report.amounts import UnitSystem
from heatsim.report.service_amounts import cells, heads
from heatsim.services.schedule import Cell, Column, Schedule

NARROW_TO, WIDE_FROM = 8, 11
"""Columns up to which both units stand side by side, and from which a table is set smaller."""


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
    return Table(
        schedule.name,
        schedule.title,
        tuple(_head(column, system) for column in columns),
        tuple(_is_number(schedule.columns[i], [row[i] for row in schedule.rows]) for i in kept),
        tuple(tuple(_parts(schedule.columns[i], row[i], system) for i in kept) for row in shown),
        len(schedule.rows) - len(shown),
        schedule.notes if notes else (),
        schedule.cautions,
        len(schedule.findings),
        "wide" if len(columns) >= WIDE_FROM else "narrow" if len(columns) <= NARROW_TO else "",
    )


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


def _parts(column: Column, cell: Cell, system: UnitSystem) -> tuple[str, ...]:
    """A cell's lines; a dash stands once."""
    found = cells(column, cell, system)
    return tuple(dict.fromkeys(found)) if isinstance(cell, str) or cell is None else tuple(found)

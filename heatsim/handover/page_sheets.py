"""Schedules as a page bears them: one row a zone or unit, where the workbook has one for each day or step."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import inf

from heatsim.handover.results import Results
from heatsim.services.schedule import POWER, Cell, Column, Schedule

LEAST_LEVERAGE = 5.0
"""[W] Of a default's whole range, below which it is not worth a line of the page."""
MOST_LEVERAGE = 12
WORSE_IS_LESS = ("27 °C after switch-off",)
"""Figures of the proof of which the smallest counts; of all others the largest, and what is not reached most of all."""


def for_page(found: Results, schedules: Mapping[str, Schedule]) -> dict[str, Schedule]:
    """The schedules of a pack with some set another way."""
    shown = dict(schedules)
    shown["loads"] = zones(found, schedules["loads"])
    if "leverage" in shown:
        shown["leverage"] = weighty(schedules["leverage"])
    if "corrections" in shown:
        shown["corrections"] = side_by_side(schedules["corrections"])
    if "proof" in shown:
        shown["proof"] = worst(schedules["proof"])
    return shown


def zones(found: Results, whole: Schedule) -> Schedule:
    """The zones on the day that sizes, with the totals of the other days beside."""
    day, others = found.sizing_day, [one for one in found.days if one != found.sizing_day]
    heads = [column.head for column in whole.columns]
    total, at = heads.index("total"), heads.index("at")
    by = {(row[0], row[1]): row for row in whole.rows}
    rows = []
    for row in whole.rows:
        if row[0] == day:
            beside = [cell for other in others for cell in (by[other, row[1]][total], by[other, row[1]][at])]
            rows.append((*row[1:], *beside))
    columns = list(whole.columns[1:])
    for other in others:
        columns += [Column(f"{other} day", POWER), Column("at")]
    return Schedule(whole.name, f"Loads by zone, {day} day", tuple(columns), tuple(rows), whole.notes)


def weighty(whole: Schedule) -> Schedule:
    """The defaults that move the load at all, the first dozen."""
    rows = [row for row in whole.rows if max(abs(_number(cell)) for cell in row[-2:]) >= LEAST_LEVERAGE]
    rest = len(whole.rows) - len(rows[:MOST_LEVERAGE])
    notes = whole.notes + ((f"{rest} more move it less: schedules.xlsx.",) if rest else ())
    return Schedule(whole.name, whole.title, whole.columns, tuple(rows[:MOST_LEVERAGE]), notes)


def side_by_side(whole: Schedule) -> Schedule:
    """The chains of corrections, a unit a row: factors that are 1 for all are left out, sources stand below."""
    chains: dict[tuple[Cell, Cell], dict[str, tuple[float, float, str]]] = {}
    for zones, model, step, factor, total, source in whole.rows:
        chains.setdefault((zones, model), {})[str(step)] = (_number(factor), _number(total), str(source))
    named = dict.fromkeys(step for steps in chains.values() for step in list(steps)[1:])
    acting = [n for n in named if any(abs(steps[n][0] - 1.0) > 5e-4 for steps in chains.values() if n in steps)]
    alike: dict[tuple[Cell, ...], list[str]] = {}
    for (zones, model), steps in chains.items():
        first, *_, last = steps.values()
        factors = (round(steps[name][0], 3) if name in steps else None for name in acting)
        alike.setdefault((model, first[1], *factors, round(last[1])), []).append(str(zones))
    rows = [("; ".join(zones), *rest) for rest, zones in alike.items()]
    columns = (
        Column("zones"), Column("unit"), Column("nameplate", POWER), *(Column(f"× {name}") for name in acting),
        Column("aboard", POWER),
    )  # fmt: skip
    sources = {name: steps[name][2] for steps in chains.values() for name in acting if name in steps}
    told = "; ".join(f"{name}: {source}" for name, source in sources.items())
    return Schedule(
        whole.name, whole.title, columns, tuple(rows), (f"One unit of each kind. {told}. Factors of 1 are left out.",)
    )


def worst(whole: Schedule) -> Schedule:
    """The proof by zone, of each figure the worst of all days; None is what was not reached."""
    by: dict[Cell, list[tuple[Cell, ...]]] = {}
    for row in whole.rows:
        by.setdefault(row[1], []).append(row)
    columns = whole.columns[1:]
    rows = tuple(
        (zone, *(_worst(column, [row[i] for row in days]) for i, column in enumerate(columns[1:], 2)))
        for zone, days in by.items()
    )
    title = f"{whole.title}, the worst of {' and '.join(dict.fromkeys(str(row[0]) for row in whole.rows))} day"
    return Schedule(whole.name, title, columns, rows, whole.notes, whole.findings)


def _worst(column: Column, cells: Sequence[Cell]) -> Cell:
    found = [inf if cell is None else _number(cell) for cell in cells]
    most = min(found) if column.head in WORSE_IS_LESS else max(found)
    return None if most == inf else most


def _number(cell: Cell) -> float:
    return float(cell) if isinstance(cell, int | float) else 0.0

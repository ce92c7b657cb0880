"""What `heatsim services` does: plan, prove, every schedule as a table, services.json, a CSV each, and pictures."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from io import StringIO
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any

from heatsim.equipment.plan import Plan
from heatsim.equipment.proof import Proof, prove
from heatsim.errors import Fault, HeatsimError
from heatsim.report.amounts import UnitSystem
from heatsim.report.output import json_value, refuse, staged
from heatsim.report.power_pictures import OVERNIGHT, STRIP, power_drawings
from heatsim.report.running import CAUTION
from heatsim.report.service_amounts import cells, heads
from heatsim.report.service_pictures import PICTURES, service_drawings
from heatsim.report.tables import findings_table, plain_table
from heatsim.services import Schedule, all_schedules

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from heatsim.report.pictures import Drawing

FILE = "services.json"
NOTHING = "–"
WORD, NARROW, WIDE = 9, 12, 60
"""[characters] Of a line of a number's head; least and most of a column of text."""


def run_services(
    file: Path,
    out: Path | None,
    changes: Sequence[str],
    units: UnitSystem | None,
    *,
    layout: str | None,
    force: bool,
    pictures: bool,
    console: Console | None,
    emit: Callable[[dict[str, Any]], None] | None,
) -> None:
    """Make the schedules of a scenario file's chosen layout, or of the one named, and write them into `out`.

    `units` None takes those of the file's `report` part.
    """
    from heatsim.report.planning import plannable
    from heatsim.scenario.reading import read
    from heatsim.scenario.resolve import resolve
    from heatsim.study.certainty import sure_plan

    scenario = read(file, changes)
    plannable(scenario, file)
    system: UnitSystem = units or scenario.report.units
    if out is not None:
        refuse(out, files(pictures), force)
    served = serve(of_layout(sure_plan(file, changes, resolve(scenario)), layout))
    summary = served.as_json() | {"overrides": list(changes)}
    if console is not None:
        with suppress(BrokenPipeError, SystemExit):  # a closed pipe ends the tables, not the run
            print_schedules(console, served.plan, served.schedules, system)
    if emit is not None:
        emit(summary)
    if out is None:
        return
    drawings = served.drawings(system) if pictures else []
    with staged(out, force) as work:
        served.write(work, system, summary)
        for drawing in drawings:
            (work / drawing.file).write_bytes(drawing.png())
    if console is not None and not console.quiet:
        console.print(f"written to {out}: " + ", ".join(sorted(p.name for p in out.iterdir() if p.is_file())))


def files(pictures: bool) -> list[str]:
    """What is written besides a CSV for each schedule."""
    return [FILE, *((*PICTURES, STRIP, OVERNIGHT) if pictures else ())]


@dataclass(frozen=True)
class Served:
    """A plan, the proof of its chosen layout from settled starts, and every schedule made from both."""

    plan: Plan
    proof: Proof
    schedules: tuple[Schedule, ...]

    def as_json(self) -> dict[str, Any]:
        """What `services.json` holds."""
        return as_json(self.plan, self.schedules)

    def drawings(self, system: UnitSystem) -> list[Drawing]:
        """The diagrams of air and sea, the strip of currents and the night on the batteries."""
        return [*service_drawings(self.plan, system), *power_drawings(self.plan, self.proof)]

    def write(self, folder: Path, system: UnitSystem, summary: dict[str, Any]) -> None:
        """`services.json` and a CSV a schedule."""
        (folder / FILE).write_text(json.dumps(summary, indent=1, allow_nan=False), encoding="utf-8")
        for schedule in self.schedules:
            (folder / f"{schedule.name}.csv").write_text(as_csv(schedule, system), encoding="utf-8")


def serve(made: Plan) -> Served:
    """Prove the chosen layout of a plan and make every schedule."""
    proof = settled_proof(made)
    return Served(made, proof, all_schedules(made, proof))


def of_layout(made: Plan, name: str | None) -> Plan:
    """The same plan with another of its layouts taken, the chosen one where no name is given.

    Raises
    ------
    HeatsimError
        Where there is none of that name, or nothing was chosen.
    """
    possible = {one.name: one for one in made.layouts if one.possible and one.offers}
    if name is None:
        if made.chosen is None:
            raise HeatsimError(
                Fault(
                    "no layout can be built within the boat's terms, so there is nothing to make schedules for",
                    path="equipment", remedy="See heatsim plan for what stands in the way"
                    + (f", or take one of: {', '.join(possible)}, with --layout" if possible else ""),
                )
            )  # fmt: skip
        return made
    if name not in possible:
        raise HeatsimError(
            Fault("is not a layout this boat can have", path="--layout", value=name,
                  remedy=f"Possible: {', '.join(possible) or 'none'}")
        )  # fmt: skip
    taken = possible[name]
    same = made.chosen is not None and taken.boat is made.chosen.boat  # else its cooling is switched in another way
    return replace(made, chosen=taken, line=made.line if same else None)


def settled_proof(made: Plan) -> Proof:
    """The chosen layout run minute by minute from settled starts."""
    assert made.chosen is not None
    return prove(made.boat, made.chosen, made.heading, starts=("settled",), line=made.line)


def print_schedules(console: Console, made: Plan, schedules: Sequence[Schedule], system: UnitSystem) -> None:
    """Every schedule with what belongs beside it."""
    assert made.chosen is not None
    console.print(f"Services of {made.resolved.name}: {made.chosen.name}")
    for schedule in schedules:
        print_schedule(console, schedule, system)
    console.print(CAUTION, style="dim")


def print_schedule(console: Console, schedule: Schedule, system: UnitSystem) -> None:
    """A table, its notes, findings, assumptions and cautions."""
    console.print(_table(schedule, system))
    for note in schedule.notes:
        console.print(note)
    if schedule.findings:
        console.print(findings_table(schedule.findings))
    if schedule.assumptions:
        lines = [(one.what, one.value, one.source) for one in schedule.assumptions]
        console.print(plain_table("Assumed here", ("what", "value", "source"), lines))
    for caution in schedule.cautions:
        console.print(caution, style="bold")
    console.print()


def _table(schedule: Schedule, system: UnitSystem) -> Table:
    """Both systems below one another, heads broken by words, so that a wide schedule still fits a screen."""
    shown = [_head(heads(column, system)) for column in schedule.columns]
    numbers = [text for text, column in zip(shown, schedule.columns, strict=True) if column.quantity is not None]
    rows = [
        ["\n".join(cells(column, cell, system)) for column, cell in zip(schedule.columns, row, strict=True)]
        for row in schedule.rows
    ]
    table = plain_table(schedule.title, shown, rows, numbers)
    for shape, column in zip(table.columns, schedule.columns, strict=True):
        if column.quantity is None:
            longest = max((len(str(cell)) for cell in schedule.column(column.head) if cell is not None), default=0)
            shape.no_wrap, shape.min_width, shape.max_width = False, min(longest, NARROW), WIDE
            shape.overflow = "fold"
    return table


def _head(texts: list[str]) -> str:
    """A column's name by words below one another, then its units."""
    name, *unit = texts[0].split("\n")
    return "\n".join([*wrap(name, WORD, break_long_words=False), *unit, *(text.split("\n")[-1] for text in texts[1:])])


def as_csv(schedule: Schedule, system: UnitSystem) -> str:
    """The rows as a yard pastes them, amounts in the units asked for."""
    stream = StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([head.replace("\n", ", ") for column in schedule.columns for head in heads(column, system)])
    for row in schedule.rows:
        writer.writerow([
            "" if text == NOTHING else text.replace(",", "") if column.quantity is not None else text
            for column, cell in zip(schedule.columns, row, strict=True)
            for text in cells(column, cell, system)
        ])  # fmt: skip
    return stream.getvalue()


def as_json(made: Plan, schedules: Sequence[Schedule]) -> dict[str, Any]:
    """All schedules as plain values, SI with the unit in each head."""
    assert made.chosen is not None
    return {
        "title": made.resolved.name,
        "layout": made.chosen.name,
        "schedules": {schedule.name: _plain(schedule) for schedule in schedules},
        "caution": CAUTION,
    }


def _plain(schedule: Schedule) -> dict[str, Any]:
    frame = schedule.to_pandas()
    return {
        "title": schedule.title,
        "columns": list(frame.columns),
        "rows": json_value([list(row) for row in schedule.rows]),
        "notes": list(schedule.notes),
        "findings": [vars(finding) for finding in schedule.findings],
        "assumed": [vars(one) for one in schedule.assumptions],
        "cautions": list(schedule.cautions),
    }

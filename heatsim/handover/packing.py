"""The hand-over pack in a folder: report.html, schedules.xlsx, loads.nc, hourly.csv, resolved.yaml, pack.json."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatsim import __version__
from heatsim.handover.headline import Answer, answers
from heatsim.handover.load_sheets import load_schedules
from heatsim.handover.plan_sheets import plan_schedules
from heatsim.handover.record_sheets import Input, inputs, record_schedules
from heatsim.handover.results import Clock, Pictures, Progress, Results, gather
from heatsim.handover.thumb_sheet import thumb
from heatsim.report.amounts import UnitSystem
from heatsim.report.output import refuse, staged
from heatsim.report.running import CAUTION, hourly_table, write_netcdf
from heatsim.report.worker import Worker
from heatsim.services.schedule import Schedule

if TYPE_CHECKING:
    from rich.console import Console

REPORT, WORKBOOK, DATA, HOURLY, RESOLVED, RECORD = FILES = (
    "report.html", "schedules.xlsx", "loads.nc", "hourly.csv", "resolved.yaml", "pack.json",
)  # fmt: skip
"""What a pack holds."""


def pack(
    file: str | Path,
    out: str | Path,
    overrides: Sequence[str] = (),
    *,
    units: UnitSystem | None = None,
    force: bool = False,
    progress: Progress | None = None,
) -> dict[str, Any]:
    """Work a scenario file through, from loads to the yard's schedules, and write the hand-over pack.

    Parameters
    ----------
    file : str or Path
    out : str or Path
        Folder, made if missing; it stays as it was when anything fails.
    overrides : sequence of str
        Changes such as `zones.saloon.setpoint=23 degC`, as for `read`.

    Other Parameters
    ----------------
    units : {"si", "us", "both"}, optional
        Those of the file's report part unless given.
    force : bool
        Replace files of an earlier run.
    progress : callable, optional
        Called with the stage's name and the share done.

    Returns
    -------
    dict
        What `pack.json` holds: version, hashes, answers, files, seconds of each stage.

    Raises
    ------
    HeatsimError
        For a faulty file, one no plan can be made of, and a folder that would lose something.
    """
    file, out, clock = Path(file), Path(out), Clock(progress)
    refuse(out, FILES, force)
    with Worker(True) as worker:
        pictures = Pictures(worker)
        found = gather(file, overrides, units, worker, pictures, clock)
        with clock.stage("report"):
            schedules = _schedules(found, found.system)
        with staged(out, force) as work:
            record = _write(work, out, found, schedules, pictures, file, clock)
    if progress is not None:
        progress("done", 1.0)
    return record


def _schedules(found: Results, system: UnitSystem) -> dict[str, Schedule]:
    """Every schedule of the pack by name, in the order it is read."""
    boat = [*load_schedules(found, system), thumb(found, system), *plan_schedules(found, system), *found.schedules]
    boat += [] if found.study is None else found.study.schedules
    return {one.name: one for one in [*boat, *record_schedules(found, boat)]}


def _write(
    work: Path, out: Path, found: Results, schedules: dict[str, Schedule], pictures: Pictures, file: Path, clock: Clock
) -> dict[str, Any]:
    """All six files into a folder; `out` is where they will lie."""
    from heatsim.handover.annotated import to_text
    from heatsim.handover.explicit import explicit, same_numbers
    from heatsim.handover.page import report
    from heatsim.handover.workbook import write_workbook
    from heatsim.scenario.resolve import resolve

    name, given, system = found.resolved.name, inputs(found, file), found.system
    with clock.stage("files"):
        full = explicit(found.scenario, out.resolve())
        (work / RESOLVED).write_text(to_text(full, __version__), encoding="utf-8")
        same = same_numbers(found.resolved, resolve(full.scenario, out.resolve()))
        write_netcdf(found.loads, work / DATA)
        hourly_table(found.loads).to_csv(work / HOURLY, index=False, float_format="%.6g")
        write_workbook(work / WORKBOOK, name, schedules.values(), system)
    with clock.stage("report"):
        drawn = pictures.drawn() | ({} if found.study is None else found.study.pictures)
        page = report(found, schedules, drawn, given, __version__, system)
        (work / REPORT).write_text(page, encoding="utf-8")
    record = _record(found, given, same, answers(found, system), clock)
    (work / RECORD).write_text(json.dumps(record, indent=1, allow_nan=False), encoding="utf-8")
    return record


def _record(found: Results, given: Sequence[Input], same: bool, said: Sequence[Answer], clock: Clock) -> dict[str, Any]:
    return {
        "title": found.resolved.name,
        "heatsim_version": __version__,
        "scenario_hash": found.loads.attrs["scenario_hash"],
        "inputs": [vars(one) for one in given],
        "overrides": json.loads(found.loads.attrs["overrides"]),
        "resolved_gives_the_same_numbers": same,
        "chosen": None if found.made.chosen is None else found.made.chosen.name,
        "holds": found.made.holds,
        "answers": [vars(one) for one in said],
        "files": list(FILES),
        "seconds": {stage: round(spent, 3) for stage, spent in clock.seconds.items()},
        "caution": CAUTION,
    }


def run_pack(
    file: Path,
    out: Path,
    changes: Sequence[str],
    units: UnitSystem | None,
    *,
    force: bool,
    progress: Progress | None,
    console: Console | None,
    emit: Callable[[dict[str, Any]], None] | None,
) -> None:
    """Write a pack and print its answers."""
    from contextlib import suppress

    record = pack(file, out, changes, units=units, force=force, progress=progress)
    if emit is not None:
        emit(record)
    if console is None:
        return
    with suppress(BrokenPipeError, SystemExit):  # a closed pipe ends the words, not the run
        console.print(record["title"])
        for one in record["answers"]:
            console.print(f"{one['question']} {one['answer']}. {one['behind']}")
        console.print(CAUTION, style="dim")
        if not console.quiet:
            console.print(f"written to {out}: " + ", ".join(sorted(p.name for p in out.iterdir() if p.is_file())))

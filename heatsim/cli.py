"""The commands. Each parses, calls one library function, writes, and turns our errors into lines and exit codes.

Exit codes: 0 done, 1 findings the user asked to fail on, 2 bad input, 130 interrupted.
"""

from __future__ import annotations

import atexit
import gc
import json
import os
import sys
from collections.abc import Callable
from contextlib import suppress
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from heatsim.errors import HeatsimError

if TYPE_CHECKING:
    from rich.console import Console

MANY_OBJECTS = 200_000
"""New objects between two passes of the garbage collector: a command imports and builds much and makes few cycles."""
UNITS = click.Choice(["si", "us", "both"])
LISTS = (
    "regions", "lay-ups", "materials", "colours", "glazings", "films", "blinds", "fabrics", "uses", "routines",
    "activities", "units",
)  # fmt: skip
"""What `list` shows, those of `scenario.listing` (whose tables need not be read to start)."""


def _guarded(function: Callable[..., Any]) -> Callable[..., Any]:
    """One clear message per fault and exit 2; interrupt 130; a broken pipe is no error."""

    @wraps(function)
    def run(*args: Any, **kwargs: Any) -> Any:
        try:
            return function(*args, **kwargs)
        except HeatsimError as error:
            for fault in error.faults:
                click.echo(f"error: {fault}", err=True)
            count = len(error.faults)
            if count > 1:
                click.echo(f"{count} faults; nothing was written", err=True)
            sys.exit(2)
        except KeyboardInterrupt:
            click.echo("interrupted; nothing was written", err=True)
            sys.exit(130)
        except BrokenPipeError:
            _close_output()
            sys.exit(0)

    return run


def _run_options(folder: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """FILE and the options that every run of a scenario has; `folder` says what `--out` is for."""
    options = (
        click.argument("file", type=click.Path(path_type=Path)),
        click.option("--out", type=click.Path(path_type=Path), help=folder),
        click.option("--set", "changes", multiple=True, metavar="PATH=VALUE", help="Change a value of the scenario."),
        click.option("--units", "system", type=UNITS, help="By default those of the file's report part, else si."),
        click.option("--force", is_flag=True, help="Replace files of an earlier run in the folder."),
        click.option("--no-pictures", is_flag=True),
        click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output."),
        click.option("--quiet", is_flag=True, help="Print nothing but errors."),
    )

    def add(function: Callable[..., Any]) -> Callable[..., Any]:
        for option in reversed(options):
            function = option(function)
        return function

    return add


def _console() -> Console:
    """Standard output for tables: text as it stands, and quiet once nobody reads it."""
    from rich.console import Console

    class Output(Console):
        def on_broken_pipe(self) -> None:
            self.quiet = True
            _close_output()

    return Output(highlight=False, markup=False, emoji=False, width=None if sys.stdout.isatty() else 160)


def _close_output() -> None:
    """Let what is still buffered go nowhere, so that Python does not complain when it ends."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _emit(value: Any) -> None:
    """One JSON object on standard output; whoever has stopped reading stops nothing else."""
    try:
        click.echo(json.dumps(value, indent=1, allow_nan=False))
    except BrokenPipeError:
        _close_output()


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="heatsim")
def main() -> None:
    """Hour-by-hour heat and moisture loads of a yacht, zone by zone.

    Start with: heatsim new boat.yaml, then heatsim check boat.yaml, then heatsim loads boat.yaml --out OUT
    """
    gc.set_threshold(MANY_OBJECTS)
    atexit.register(gc.freeze)  # or the last pass goes over everything imported: 0.3 s


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--kind", type=click.Choice(["motor", "sail", "multihull"]), default="motor", show_default=True)
@click.option("--length", default="20 m", show_default=True, help="Length of the boat, with its unit.")
@click.option("--region", metavar="NAME", help="Where she lies: a region or a harbour in it, such as Palma.")
@click.option("--demo", metavar="NAME", help="Write a shipped demo boat instead: tern-24, dunlin-11 or skua-38.")
@click.option(
    "--from-sheet",
    "sheet",
    type=click.Path(path_type=Path),
    metavar="SHEET",
    help="Take the zones from a sheet, CSV or .xlsx, one a row.",
)
@click.option(
    "--from-drawing",
    "drawing",
    type=click.Path(path_type=Path),
    metavar="DXF",
    help="Take the rooms from closed outlines in layers such as: lower owner cabin.",
)
@click.option(
    "--bow", type=click.Choice(["left", "right"]), default="left", show_default=True, help="Where the drawing has it."
)
@click.option("--drawing-unit", "unit", type=click.Choice(["mm", "cm", "m", "in", "ft"]), help="Where it names none.")
@click.option("--blank-sheet", is_flag=True, help="Write a zone sheet to fill in instead: FILE ends in .xlsx or .csv.")
@click.option("--force", is_flag=True, help="Replace FILE if it exists.")
@_guarded
def new(
    file: Path, kind: str, length: str, region: str | None, demo: str | None, sheet: Path | None, drawing: Path | None,
    bow: Any, unit: str | None, blank_sheet: bool, force: bool,
) -> None:  # fmt: skip
    """Write a commented starter scenario to FILE, or one from your list of zones or your drawing of the decks."""
    if sum(one is not None for one in (demo, sheet, drawing)) + blank_sheet > 1:
        raise click.UsageError("--demo, --from-sheet, --from-drawing and --blank-sheet exclude one another")
    if region is not None and (demo is not None or blank_sheet):
        raise click.UsageError("--region is for a file of your own; a demo boat has its place under place:")
    if blank_sheet:
        from heatsim.scenario.blank_sheets import write_blank_sheet

        write_blank_sheet(file, force=force)
        click.echo(f"wrote {file}; fill it in, then: heatsim new boat.yaml --from-sheet {file}")
        return
    from heatsim.scenario.drawings import write_from_drawing
    from heatsim.scenario.granted import granted
    from heatsim.scenario.regions import region_code
    from heatsim.scenario.starters import REGION, write_starter
    from heatsim.scenario.zone_sheets import write_from_sheet

    code = REGION if region is None else region_code(region)
    if sheet is not None:
        write_from_sheet(file, sheet, kind=kind, length=length, region=code, force=force)
    elif drawing is not None:
        write_from_drawing(file, drawing, kind=kind, length=length, region=code, bow=bow, unit=unit, force=force)
    else:
        write_starter(file, kind=kind, length=length, region=code, demo=demo, force=force)
    if demo is None:
        click.echo("taken for granted, with the key that changes it:")
        for line in granted(file):
            click.echo(f"  {line}")
    click.echo(f"wrote {file}; next: heatsim check {file}")


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--set",
    "changes",
    multiple=True,
    metavar="PATH=VALUE",
    help="Change a value, e.g. zones.saloon.setpoint='23 degC'.",
)
@click.option(
    "--fail-on",
    multiple=True,
    metavar="CODE",
    help="Exit 1 when this finding appears ('any' for all); may be repeated.",
)
@click.option(
    "--no-leverage", is_flag=True, help="Leave out how far each default moves the block load (a few seconds)."
)
@click.option("--units", "system", type=UNITS, default="si", show_default=True)
@click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output.")
@_guarded
def check(
    file: Path, changes: tuple[str, ...], fail_on: tuple[str, ...], no_leverage: bool, system: Any, as_json: bool
) -> None:
    """Validate FILE; list defaults with their leverage, findings, and the trade's rules of thumb beside."""
    from heatsim.loads.check import check as examine
    from heatsim.loads.check import known_codes

    known_codes(fail_on)
    result = examine(file, changes, leverage=not no_leverage, progress=_progress(as_json))
    if as_json:
        _emit(result.as_json())
    else:
        from heatsim.report.checking import print_check

        print_check(_console(), result, system)
    codes = {finding.code for finding in result.findings}
    if codes & set(fail_on) or ("any" in fail_on and codes):
        sys.exit(1)


@main.command()
@_run_options("Folder for loads.nc, hourly.csv, summary.json and pictures.")
@_guarded
def loads(
    file: Path, out: Path | None, changes: tuple[str, ...], system: Any, force: bool, no_pictures: bool,
    as_json: bool, quiet: bool,
) -> None:  # fmt: skip
    """Simulate FILE and print the peak of every zone."""
    from heatsim.report.running import run_loads

    run_loads(
        file, out, changes, system, force=force, pictures=not no_pictures, progress=_progress(as_json or quiet),
        console=None if as_json or quiet else _console(), emit=_emit if as_json else None,
    )  # fmt: skip


@main.command()
@_run_options("Folder for plan.json and pictures.")
@click.option("--proof", is_flag=True, help="Run the chosen units minute by minute too (some seconds more).")
@click.option("--services", is_flag=True, help="Write the yard's schedules of the chosen layout too.")
@click.option("--log", type=click.Path(path_type=Path), help="CSV log to lay over the boat as she is fitted.")
@click.option("--remedies", is_flag=True, help="Simulate what would help what is installed (as long again).")
@_guarded
def plan(
    file: Path, out: Path | None, changes: tuple[str, ...], system: Any, force: bool, no_pictures: bool, proof: bool,
    services: bool, log: Path | None, remedies: bool, as_json: bool, quiet: bool,
) -> None:  # fmt: skip
    """Choose equipment for FILE: layouts side by side, the best one, and what it holds."""
    from heatsim.report.planning import run_plan

    run_plan(
        file, out, changes, system, force=force, pictures=not no_pictures, proof=proof,
        remedies=remedies, services=services, log=log,
        console=None if as_json or quiet else _console(), emit=_emit if as_json else None,
    )  # fmt: skip


@main.command()
@_run_options("Folder for services.json, a CSV a schedule, pictures.")
@click.option("--layout", metavar="NAME", help="Another layout of the plan than the chosen one, such as installed.")
@_guarded
def services(
    file: Path, out: Path | None, changes: tuple[str, ...], layout: str | None, system: Any, force: bool,
    no_pictures: bool, as_json: bool, quiet: bool,
) -> None:  # fmt: skip
    """What a yard needs for FILE besides the units: air, sea water, drains, power and heating, with warnings."""
    from heatsim.report.services import run_services

    run_services(
        file, out, changes, system, layout=layout, force=force, pictures=not no_pictures,
        console=None if as_json or quiet else _console(), emit=_emit if as_json else None,
    )  # fmt: skip


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Folder for the pack.")
@click.option("--set", "changes", multiple=True, metavar="PATH=VALUE", help="Change a value of the scenario.")
@click.option("--units", "system", type=UNITS, help="By default those of the file's report part, else si.")
@click.option("--force", is_flag=True, help="Replace files of an earlier run in the folder.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output.")
@click.option("--quiet", is_flag=True, help="Print nothing but errors.")
@_guarded
def pack(file: Path, out: Path, changes: tuple[str, ...], system: Any, force: bool, as_json: bool, quiet: bool) -> None:
    """All of FILE to hand over: report.html to read and print, workbook of schedules, data, resolved scenario."""
    from heatsim.handover.packing import run_pack

    run_pack(
        file, out, changes, system, force=force, progress=_progress(as_json or quiet),
        console=None if as_json or quiet else _console(), emit=_emit if as_json else None,
    )  # fmt: skip


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Folder of results; a run goes on there.")
@click.option("--workers", type=click.IntRange(1, 256), help="Processes; by the size of the study unless given.")
@click.option("--scheduler", metavar="ADDRESS", help="Run on the Dask cluster of this scheduler instead.")
@click.option("--parquet", is_flag=True, help="Write results.parquet beside results.csv.")
@click.option("--units", "system", type=UNITS, help="si by default.")
@click.option("--no-pictures", is_flag=True)
@click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output.")
@click.option("--quiet", is_flag=True, help="Print nothing but errors.")
@_guarded
def study(
    file: Path, out: Path, workers: int | None, scheduler: str | None, parquet: bool, system: Any, no_pictures: bool,
    as_json: bool, quiet: bool,
) -> None:  # fmt: skip
    """Run the study FILE, or go on with it: one boat over places, months, headings, changes and draws."""
    from heatsim.report.studying import run_the_study

    try:
        run_the_study(
            file, out, system, workers=workers, scheduler=scheduler, parquet=parquet, pictures=not no_pictures,
            progress=_progress(as_json or quiet), console=None if as_json or quiet else _console(),
            emit=_emit if as_json else None,
        )  # fmt: skip
    except KeyboardInterrupt:
        click.echo("interrupted; finished chunks are kept: give the same command again", err=True)
        sys.exit(130)


@main.command()
@click.argument("first", type=click.Path(path_type=Path))
@click.argument("second", type=click.Path(path_type=Path))
@click.option("--set", "changes", multiple=True, metavar="PATH=VALUE", help="Change a value of both scenarios alike.")
@click.option("--units", "system", type=UNITS, default="si", show_default=True)
@click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output.")
@_guarded
def compare(first: Path, second: Path, changes: tuple[str, ...], system: Any, as_json: bool) -> None:
    """What differs between two scenarios (or results), and what that does to each zone."""
    from heatsim.loads.compare import compare as differ

    result = differ(first, second, changes, progress=_progress(as_json))
    if as_json:
        _emit(result.as_json())
    else:
        from heatsim.report.checking import print_comparison

        print_comparison(_console(), result, system)


@main.command("list", epilog=f"WHAT is one of {', '.join(LISTS)}.")
@click.argument("what", type=click.Choice(LISTS), metavar="WHAT")
@click.argument("word", required=False)
@_guarded
def list_(what: str, word: str | None) -> None:
    """Names nobody can guess, one line and source each; WORD narrows them down."""
    from heatsim.report.tables import plain_table
    from heatsim.scenario.listing import rows

    heads, lines = rows(what, word)
    if word and not lines:
        click.echo(f'nothing among the {what} contains "{word}"; all of them: heatsim list {what}')
        return
    _console().print(plain_table(what, heads, lines))


@main.command()
@_guarded
def schema() -> None:
    """Print the JSON Schema of the scenario file, for editors."""
    from heatsim.scenario.schema import json_schema

    _emit(json_schema())


def _progress(silent: bool) -> Callable[[str, float], None] | None:
    """A bar on standard error for anything over two seconds, when that is a terminal."""
    if silent or not sys.stderr.isatty():
        return None
    import time

    began = time.monotonic()

    def report(label: str, done: float) -> None:
        if time.monotonic() - began > 2.0:
            bar = "#" * round(30 * done)
            click.echo(f"\r{label:<12} [{bar:<30}] {done:4.0%}", nl=done >= 1.0, err=True)

    return report

"""One command, one table: seconds with their spread, and ratios to what was asked. Run on an idle machine.

python -m tests.bench            the quick part (two minutes)
python -m tests.bench --all      also the adaptive solver over a stretch, and the references on all boats
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import platform
import resource
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import heatsim
from bench import cases
from heatsim.solve.kernel import advance_compiled
from heatsim.solve.stepping import advance, force, prepare

REPEATS = 5
SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"


def timed(function: Callable[[], object], repeats: int = REPEATS) -> tuple[float, float]:
    """Least of the repeats and their spread (largest less least). [s]"""
    seconds = []
    for _ in range(repeats):
        began = time.perf_counter()
        function()
        seconds.append(time.perf_counter() - began)
    return min(seconds), max(seconds) - min(seconds)


class Table:
    """Rows as they come."""

    def row(self, what: str, least: float, spread: float, unit: str, asked: str, ratio: float | None = None) -> None:
        """Print one line."""
        text = f"{what:<66}{least:>10.3f} {unit:<14} spread {spread:>7.3f}   asked {asked:<16}"
        print(text + (f" ratio {ratio:.2f}" if ratio is not None else ""), flush=True)


def solver(table: Table) -> None:
    """One toy boat over a year, numpy and compiled, and batches of it."""
    system = cases.toy_boat()
    operators, regime = prepare(system, cases.STEP), np.zeros(cases.YEAR, dtype=int)
    massive = int(np.sum(system.capacity > 0))
    print(f"toy boat: {cases.ZONES} zones, {massive} massive nodes, {operators.regimes[0].form.value}")
    u = cases.year_drivers(system)
    forcing, band = force(operators, u[0], u[1], regime), cases.year_band()
    start = np.full((1, massive), 23.0)
    began = time.perf_counter()
    done = advance_compiled(operators, start, forcing, regime, band)
    print(
        f"first compiled run {time.perf_counter() - began:.1f} s; modes {np.bincount(done.mode.ravel(), minlength=5)}"
    )
    least, spread = timed(lambda: advance_compiled(operators, start, forcing, regime, band))
    table.row("year, one boat, compiled", least, spread, "s", "<= 0.25", least / 0.25)
    slow, slow_spread = timed(lambda: advance(operators, start, forcing, regime, band), 3)
    table.row("year, one boat, numpy", slow, slow_spread, "s", "<= 8", slow / 8.0)
    runs = 16
    many = cases.year_drivers(system, runs)
    forcings, bands = force(operators, many[0], many[1], regime), cases.year_band(runs)
    starts = np.full((runs, massive), 23.0)
    both, both_spread = timed(lambda: advance_compiled(operators, starts, forcings, regime, bands), 3)
    table.row(
        f"years a second, batch of {runs}, two threads", runs / both, both_spread, "years/s", ">= 20", runs / both / 20
    )


def sun(table: Table) -> None:
    """36 orientations over a year at 15 min, and design days."""
    import pvlib
    from boxes import plain_box, plain_face

    from heatsim.climate.sun import sun_on_boat
    from heatsim.climate.years import whole_year
    from heatsim.scenario.resolved import WeatherYear

    file = Path(pvlib.__file__).parent / "data" / "12839.tm2"
    faces = [plain_face(f"f{i}", "house", 10.0 * i, 90.0, 1.0) for i in range(36)]
    box = replace(plain_box(faces), weather_year=WeatherYear(str(file), "tmy2", (25.0,) * 12, 1.0))
    weather, _ = whole_year(box, cases.STEP)
    least, spread = timed(lambda: sun_on_boat(box, weather, np.zeros(1)))
    table.row("sun on 36 orientations, year at 15 min", least, spread, "s", "< 0.15", least / 0.15)


def days(table: Table) -> None:
    """288 design days: 24 headings × 12 months, sun and control included."""
    from heatsim.climate.days import design_weather
    from heatsim.loads.line import make_line, solve_days

    boat = heatsim.resolve(heatsim.read(SCENARIOS / "dunlin-11.yaml"))
    hot = boat.days[0]
    months = tuple(
        replace(hot, month=m, date=f"2025-{m:02d}-21", dry_bulb_max=hot.dry_bulb_max - abs(m - 8) * 0.5)
        for m in range(1, 13)
    )
    boat = replace(boat, days=months)

    def run() -> None:
        weathers = tuple(design_weather(boat, day, 300.0) for day in boat.days)
        line = make_line(boat, weathers)
        for stretch in solve_days(line, np.arange(0.0, 360.0, 15.0)):
            assert stretch.distance <= 0.01

    least, spread = timed(run, 3)
    table.row("288 design days (dunlin-11, 24 headings x 12 months, 300 s)", least, spread, "s", "< 1", least)


def adaptive(table: Table) -> None:
    """The adaptive solver with the same control, against both steppers at the same error, over eight days."""
    from heatsim.solve.periodic import repeat_day
    from heatsim.solve.reference import Solver, reference_run

    system, steps = cases.toy_boat(), 96 * 2
    operators, regime = prepare(system, cases.STEP), np.zeros(steps, dtype=int)
    u = cases.year_drivers(system)[:, :, 96 * 180 : 96 * 180 + steps]
    band = cases.year_band()
    short = replace(band, **{n: getattr(band, n)[:, :steps] for n in ("cool", "heat", "cool_limit", "heat_limit")})
    forcing = force(operators, u[0], u[1], regime)
    start = repeat_day(operators, np.full((1, int(np.sum(system.capacity > 0))), 23.0), forcing, regime, short).first
    ours = advance_compiled(operators, start, forcing, regime, short)
    fine = reference_run(system, cases.STEP, start[0], u[0, 0], u[1, 0], regime, short)
    peak = np.abs(fine.heat).max()
    error = np.abs(ours.heat[0] - fine.heat).reshape(-1, 4, cases.ZONES).mean(axis=1).max() / peak
    least, spread = timed(lambda: advance_compiled(operators, start, forcing, regime, short))
    for rtol in (1e-3, 1e-4, 1e-5):
        began = time.perf_counter()
        solver_ = Solver("BDF", rtol=rtol, atol=rtol * 10.0)
        loose = reference_run(system, cases.STEP, start[0], u[0, 0], u[1, 0], regime, short, solver_)
        seconds = time.perf_counter() - began
        loose_error = np.abs(loose.heat - fine.heat).reshape(-1, 4, cases.ZONES).mean(axis=1).max() / peak
        print(f"  rtol {rtol:g}: {seconds:.2f} s, error {loose_error:.1e} of peak; ours {least:.4f} s, {error:.1e}")
        ratio = seconds / least
        table.row(f"adaptive over compiled, one boat, rtol {rtol:g}", ratio, spread, "times", ">= 100", ratio / 100.0)


def references(table: Table) -> None:
    """The engine beside the boat with nothing binned or linearised, on the hot day of all three boats."""
    from heatsim.loads.unlinearised import compare_day

    for name in ("tern-24", "dunlin-11", "skua-38"):
        boat = heatsim.resolve(heatsim.read(SCENARIOS / f"{name}.yaml"))
        began = time.perf_counter()
        compared = compare_day(replace(boat, place=replace(boat.place, headings=boat.place.headings[:1])))
        print(compared.to_string(float_format="%.2f"))
        zones = float(compared.drop("block")["hourly"].max())
        table.row(f"{name}: largest hourly difference of a zone", zones, 0.0, "% of its peak", "< 3", zones / 3.0)
        block = float(compared.loc["block", "hourly"])
        table.row(f"{name}: block ({time.perf_counter() - began:.0f} s)", block, 0.0, "% of peak", "< 2", block / 2.0)


def command(table: Table) -> None:
    """The main command as a user runs it, imports in the disk cache."""
    import subprocess
    import tempfile

    def loads(*options: str) -> None:
        with tempfile.TemporaryDirectory() as folder:
            words = ["loads", str(SCENARIOS / "tern-24.yaml"), "--out", f"{folder}/OUT", *options]
            subprocess.run([sys.executable, "-m", "heatsim", *words], check=True, capture_output=True)

    least, spread = timed(lambda: loads("--no-pictures"), 3)
    table.row("loads tern-24: table and data set", least, spread, "s", "< 3", least / 3.0)
    least, spread = timed(lambda: loads(), 3)
    table.row("loads tern-24 with all pictures", least, spread, "s", "< 8", least / 8.0)


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--all", action="store_true")
    parts = {
        "solver": solver, "sun": sun, "days": days, "command": command, "adaptive": adaptive, "references": references,
    }  # fmt: skip
    parser.add_argument("--only", action="append", choices=list(parts))
    given = parser.parse_args()
    names = given.only or (list(parts) if given.all else ["solver", "sun", "days", "command"])
    print(
        f"{platform.processor() or platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, "
        f"numpy {np.__version__}, load {os.getloadavg()[0]:.2f}; least of repeats, one BLAS thread"
    )
    table = Table()
    for name in names:
        parts[name](table)
    print(f"largest memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB")


if __name__ == "__main__":
    main()

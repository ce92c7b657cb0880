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
import numpy.typing as npt

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import heatsim
from bench import cases
from heatsim.solve.compiled import advance_compiled
from heatsim.solve.forcing import Forcing, force
from heatsim.solve.operators import prepare
from heatsim.solve.stepping import advance

Array = npt.NDArray[np.float64]

REPEATS = 5
SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"


def alternating(repeats: int = REPEATS, **functions: Callable[[], object]) -> dict[str, tuple[float, float]]:
    """Least of the repeats of each and their spread (largest less least), taken in turns. [s]"""
    seconds: dict[str, list[float]] = {name: [] for name in functions}
    for _ in range(repeats):
        for name, function in functions.items():
            began = time.perf_counter()
            function()
            seconds[name].append(time.perf_counter() - began)
    return {name: (min(found), max(found) - min(found)) for name, found in seconds.items()}


def timed(function: Callable[[], object], repeats: int = REPEATS) -> tuple[float, float]:
    """Least of the repeats and their spread. [s]"""
    return alternating(repeats, only=function)["only"]


def resident() -> float:
    """Memory in use, where the system tells. [GB]"""
    try:
        return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize() / 1e9
    except OSError:
        return float("nan")


class Table:
    """Rows as they come."""

    def row(self, what: str, least: float, spread: float, unit: str, asked: str, ratio: float | None = None) -> None:
        """Print one line."""
        text = f"{what:<66}{least:>10.3f} {unit:<14} spread {spread:>7.3f}   asked {asked:<16}"
        print(text + (f" ratio {ratio:.2f}" if ratio is not None else ""), flush=True)


def solver(table: Table) -> None:
    """One toy boat over a year, numpy and compiled, and a batch of 256 in chunks."""
    system = cases.toy_boat()
    operators, regime = prepare(system, cases.STEP), np.zeros(cases.YEAR, dtype=int)
    massive = int(np.sum(system.capacity > 0))
    print(f"toy boat: {cases.ZONES} zones, {massive} massive nodes, {operators.regimes[0].form.value}")
    u = cases.year_drivers(system)
    forcing, band = force(operators, u[0], u[1], regime), cases.year_band()
    start = np.full((1, massive), 23.0)
    began = time.perf_counter()
    done = advance_compiled(operators, start, forcing, regime, band)
    modes = np.bincount(done.mode.ravel(), minlength=5)
    print(f"first compiled run {time.perf_counter() - began:.1f} s; modes {modes}, solves {done.solves}")
    chunk, chunks = 16, 16
    many = cases.year_drivers(system, chunk)
    bands, starts = cases.year_band(chunk), np.full((chunk, massive), 23.0)

    def batch(forcings: Forcing | None) -> None:
        for _ in range(chunks):
            ready = force(operators, many[0], many[1], regime) if forcings is None else forcings
            advance_compiled(operators, starts, ready, regime, bands)

    forcings = force(operators, many[0], many[1], regime)
    batch(forcings)
    before = resident()
    found = alternating(
        compiled=lambda: advance_compiled(operators, start, forcing, regime, band),
        numpy=lambda: advance(operators, start, forcing, regime, band),
        batch=lambda: batch(forcings),
        forced=lambda: batch(None),
    )
    for name, what, most in (("compiled", "compiled", 0.25), ("numpy", "numpy", 8.0)):
        table.row(f"year, one boat, {what}", *found[name], "s", f"<= {most:g}", found[name][0] / most)
    runs = chunk * chunks
    for name, what in (("batch", "solver alone"), ("forced", "with the drivers multiplied out")):
        rate, slowest = runs / found[name][0], runs / sum(found[name])
        table.row(f"batch of {runs}, two threads, {what}", rate, rate - slowest, "years/s", ">= 20", rate / 20.0)
    limit = cases.most_years(operators)
    print(
        f"  {runs / found['batch'][0] / limit:.2f} of the machine's limit: a step's products alone, operands in cache, "
        f"allow {limit:.0f} years/s"
    )
    print(f"  memory held after {REPEATS * 2} further batches of {runs}: {(resident() - before) * 1e3:+.0f} MB")


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

    least, spread = timed(run)
    table.row("288 design days (dunlin-11, 24 headings x 12 months, 300 s)", least, spread, "s", "< 1", least)


def adaptive(table: Table) -> None:
    """The adaptive solver with the same control and Jacobian over two days, against our step with no more error."""
    from heatsim.solve.periodic import repeat_day
    from heatsim.solve.reference import Solver, reference_run

    days = 2
    system, steps, batch = cases.toy_boat(), 96 * days, 64
    u = cases.year_drivers(system)[:, :, 96 * 180 : 96 * 180 + steps]
    whole = cases.year_band()
    band = whole._replace(**{n: getattr(whole, n)[:, :steps] for n in cases.BANDS})
    coarse, regime = prepare(system, cases.STEP), np.zeros(steps, dtype=int)
    forcing = force(coarse, u[0], u[1], regime)
    start = repeat_day(coarse, np.full((1, int(np.sum(system.capacity > 0))), 23.0), forcing, regime, band).first
    fine = reference_run(system, cases.STEP, start[0], u[0, 0], u[1, 0], regime, band)
    peak = np.abs(fine.heat).max()

    def hourly_error(heat: Array) -> float:
        return float(np.abs((heat - fine.heat).reshape(-1, 4, cases.ZONES).mean(axis=1)).max() / peak)

    ours = []
    for parts in (1, 3, 15, 60):
        operators, v = prepare(system, cases.STEP / parts), cases.finer(u, parts)
        number = np.zeros(steps * parts, dtype=int)
        fed = force(operators, v[0], v[1], number)
        limits = band._replace(**{n: np.repeat(getattr(band, n), parts, axis=1) for n in cases.BANDS})
        done = advance_compiled(operators, start, fed, number, limits)
        error = hourly_error(done.heat[0].reshape(steps, parts, -1).mean(axis=1))
        starts, feds = np.repeat(start, batch, axis=0), replace(fed, rows=np.repeat(fed.rows, batch, axis=0))
        found = alternating(
            one=lambda o=operators, f=fed, n=number, b=limits: advance_compiled(o, start, f, n, b),
            many=lambda o=operators, f=feds, s=starts, n=number, b=limits: advance_compiled(o, s, f, n, b),
        )
        ours.append((cases.STEP / parts, error, found["one"][0], found["many"][0] / batch))
        print(
            f"  ours at {cases.STEP / parts:.0f} s: error {error:.1e} of the peak, {found['one'][0]:.4f} s; "
            f"in a batch of {batch} {found['many'][0] / batch:.5f} s a run"
        )
    for rtol in (1e-2, 1e-3, 1e-4):
        began = time.perf_counter()
        loose = reference_run(
            system, cases.STEP, start[0], u[0, 0], u[1, 0], regime, band, Solver("BDF", rtol=rtol, atol=rtol * 10.0)
        )
        seconds, error = time.perf_counter() - began, hourly_error(loose.heat)
        equal = next((o for o in ours if o[1] <= error), ours[-1])
        print(f"  BDF at rtol {rtol:g}: error {error:.1e}, {seconds:.2f} s; ours at {equal[0]:.0f} s: {equal[1]:.1e}")
        for what, one, least in (("one boat", equal[2], 100.0), ("a run in a batch", equal[3], 300.0)):
            ratio = seconds / one
            table.row(f"BDF over ours, {what}, rtol {rtol:g}", ratio, 0.0, "times", f">= {least:g}", ratio / least)


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

    found = alternating(table=lambda: loads("--no-pictures"), pictures=lambda: loads())
    table.row("loads tern-24: table and data set", *found["table"], "s", "< 3", found["table"][0] / 3.0)
    table.row("loads tern-24 with all pictures", *found["pictures"], "s", "< 8", found["pictures"][0] / 8.0)


def study(table: Table) -> None:
    """Studies: the charter regions from cold, weather years of draws, growth with zones and runs."""
    from bench import studies

    seconds, memory = studies.charter()
    table.row("charter-regions from cold (6,912 runs)", seconds, 0.0, "s", "< 45", seconds / 45.0)
    table.row("  most memory of a process", memory, 0.0, "GB", "< 2", memory / 2.0)
    rate, limit, size = studies.in_the_solver(studies.DRIVERS)
    table.row(f"weather years in the solver ({size})", rate, 0.0, "years/s", ">= 20", rate / 20.0)
    print(f"  {rate / limit:.2f} of the machine's limit, {limit:.0f} years/s by a step's products, operands in cache")
    for count, what, spread, causes, asked in (
        (studies.DRAWS, "controls", studies.DRIVERS, "peak day", 10.0),
        (studies.DRAWS, "networks", studies.NETWORKS, "peak day", None),
        (studies.DRAWS // 4, "controls", studies.DRIVERS, "monthly", None),
    ):
        rate = studies.years(count, spread, causes)
        title = f"  end to end, {count} draws of {what}, causes {causes}"
        wanted, ratio = ("timed", None) if asked is None else (f">= {asked:g}", rate / asked)
        table.row(title, rate, 0.0, "years/s", wanted, ratio)
    by_zones, by_runs = studies.growth()
    studies.plot(by_zones, by_runs, SCENARIOS.parent / "docs" / "pictures" / "study-growth.png")
    for what, counts, found in (("zones", studies.ZONES, by_zones), ("runs", studies.RUNS, by_runs)):
        slope = float(np.polyfit(np.log(counts), np.log(found), 1)[0])
        shown = ", ".join(f"{count}: {one:.2f} s" for count, one in zip(counts, found, strict=True))
        table.row(f"growth with {what} ({shown})", slope, 0.0, "power", "< 2" if what == "zones" else "< 1.1", slope)


def kills(table: Table) -> None:
    """Studies killed at random moments."""
    from bench import studies

    alike, asked = studies.kills(), studies.KILLS
    table.row("killed at random and gone on with, ending alike", alike, 0.0, f"of {asked}", f"{asked}", asked / alike)


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--all", action="store_true")
    parts = {
        "solver": solver, "sun": sun, "days": days, "command": command, "adaptive": adaptive, "references": references,
        "study": study, "kills": kills,
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

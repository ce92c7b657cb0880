"""Studies on the clock: the charter regions from cold, years of draws, growth with runs and zones, and kills."""

from __future__ import annotations

import itertools
import random
import resource
import signal
import subprocess
import sys
import tempfile
import time
from importlib.resources import files
from pathlib import Path

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
WEATHER = str(files("pvlib") / "data" / "12839.tm2")
KILLS, DRAWS = 20, 256
DRIVERS = ", ".join(f"zones.cabin {i}.setpoint: {{uniform: [22 degC, 25 degC]}}" for i in range(1, 13))
NETWORKS = "zones.cabin 1.infiltration: {uniform: [0.2 1/h, 1 1/h]}"


def boat(zones: int) -> str:
    """An invented boat of quick zones beside each other on the main deck: ten massive nodes each."""
    rooms = "".join(
        f"  cabin {i}: {{quick: {{deck: main, length: 3 m, beam: 2.4 m, height: 2 m, sides: [{side}]}}}}\n"
        for i, side in zip(range(1, zones + 1), itertools.cycle(("port", "starboard")), strict=False)
    )
    return (
        "format: 1\nyacht: {name: Dipper, kind: motor, length: 40 m, persons: 12, material: solid GRP}\n"
        "place: {region: FLA, month: 8, heading: 90 deg}\n"
        f"zones:\n{rooms}"
    )


def study(folder: Path, zones: int, text: str) -> Path:
    """A study file beside its boat."""
    (folder / "dipper.yaml").write_text(boat(zones), encoding="utf-8")
    file = folder / "study.yaml"
    file.write_text(f"format: 1\nstudy: bench\nboat: dipper.yaml\n{text}", encoding="utf-8")
    return file


def charter() -> tuple[float, float]:
    """The charter regions from cold by the command: seconds, and the most memory of any one process [GB]."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "heatsim", "study", str(SCENARIOS / "charter-regions.yaml"), "--out", folder]
        began = time.perf_counter()
        subprocess.run([*command, "--no-pictures", "--quiet"], check=True)
        seconds = time.perf_counter() - began
    return seconds, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1e6


def draws(folder: Path, count: int, spread: str, causes: str) -> Path:
    """A study of weather years of the boat with 12 rooms."""
    text = f"set: {{climate.weather_file: {WEATHER}}}\nkeep: hours\ncauses: {causes}\n"
    return study(folder, 12, f"{text}draws: {{count: {count}, seed: 1, of: {{{spread}}}}}\n")


def years(count: int, spread: str, causes: str) -> float:
    """Years a second from the command to the last result on disk."""
    with tempfile.TemporaryDirectory() as folder:
        file = draws(Path(folder), count, spread, causes)
        command = [sys.executable, "-m", "heatsim", "study", str(file), "--out", f"{folder}/out"]
        began = time.perf_counter()
        subprocess.run([*command, "--no-pictures", "--quiet"], check=True)
        return count / (time.perf_counter() - began)


def in_the_solver(spread: str) -> tuple[float, float, str]:
    """Years a second of the steps alone, heat and moisture, two threads; the machine's limit; and the boat's size."""
    from bench import cases
    from heatsim.solve import compiled
    from heatsim.study.chunks import Worker
    from heatsim.study.design import Design
    from heatsim.study.units import units_of

    spent, given = [0.0], []
    whole = compiled.advance_compiled

    def watched(*values: object, **named: object) -> object:
        began = time.perf_counter()
        done = whole(*values, **named)  # type: ignore[arg-type]
        spent[0] += time.perf_counter() - began
        given.append(values[0])
        return done

    with tempfile.TemporaryDirectory() as folder:
        design = Design.read(draws(Path(folder), 16, spread, "none"))
        worker = Worker(design, units_of(design))
        worker.solve(0)  # compiled and imported
        compiled.advance_compiled = watched  # type: ignore[assignment]
        try:
            worker.solve(0)
        finally:
            compiled.advance_compiled = whole
    operators = max(given, key=lambda one: len(one.system.nodes))
    massive = int(np.sum(operators.system.capacity > 0.0))
    return 16 / spent[0], cases.most_years(operators), f"{len(operators.system.zones)} zones, {massive} massive nodes"


ZONES, RUNS = (6, 12, 25, 50, 100), (24, 48, 96, 192)


def growth() -> tuple[Array, Array]:
    """Seconds of a chunk by the number of zones (96 runs) and by the number of runs (12 zones)."""
    return (
        np.array([_chunk(count, 96) for count in ZONES]), np.array([_chunk(12, count) for count in RUNS])
    )  # fmt: skip


def plot(by_zones: Array, by_runs: Array, place: Path) -> None:
    """Seconds of a chunk over zones and over runs, with the slopes asked."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    from heatsim.report.pictures import INK, QUIET

    figure, panels = pyplot.subplots(1, 2, figsize=(9.0, 3.8), layout="constrained")
    asked = (("zones (96 runs of a day)", ZONES, by_zones, 2), ("runs of a day (12 zones)", RUNS, by_runs, 1))
    for panel, (label, counts, seconds, power) in zip(panels, asked, strict=True):
        panel.loglog(counts, seconds, "o-", color=INK, label="measured")
        limit = seconds[-1] * (np.array(counts) / counts[-1]) ** power
        panel.loglog(counts, limit, "--", color=QUIET, label="quadratic" if power == 2 else "linear")
        panel.set_xlabel(label)
        panel.set_xticks(counts, [str(count) for count in counts])
        panel.minorticks_off()
        panel.legend(frameon=False)
    panels[0].set_ylabel("s a chunk")
    figure.savefig(place, dpi=120, metadata={"Software": None})
    pyplot.close(figure)


def _chunk(zones: int, runs: int) -> float:
    from heatsim.study.chunks import Worker
    from heatsim.study.design import Design
    from heatsim.study.units import units_of

    with tempfile.TemporaryDirectory() as folder:
        step = 360 / (runs // 12)
        axes = f"axes:\n  month: all\n  heading: {{from: 0 deg, to: {360 - step:g} deg, step: {step:g} deg}}\n"
        design = Design.read(study(Path(folder), zones, f"days: [hot]\n{axes}"))
        worker = Worker(design, units_of(design))
        worker.solve(0)
        seconds = []
        for _ in range(3):
            began = time.perf_counter()
            worker.solve(0)
            seconds.append(time.perf_counter() - began)
    return min(seconds)


def kills() -> int:
    """How many of `KILLS` runs killed at random moments ended, once gone on with, as one that ran through."""
    from heatsim.study.run import run_study

    alike = 0
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        axes = "axes:\n  region: all\n  month: all\n  heading: {from: 0 deg, to: 315 deg, step: 45 deg}\n"
        file = study(place, 2, f"days: [hot]\n{axes}")
        run_study(file, place / "whole", workers=1)
        whole = _content(place / "whole")
        for n in range(KILLS):
            out = place / f"out{n}"
            workers = str(1 + n % 2)  # of two, each writes what it solved
            command = [sys.executable, "-m", "heatsim", "study", str(file), "--out", str(out), "--workers", workers]
            process = subprocess.Popen([*command, "--quiet", "--no-pictures"])
            time.sleep(random.Random(n).uniform(2.0, 8.0))
            process.send_signal(signal.SIGKILL)
            process.wait()
            run_study(file, out, workers=1)
            alike += _content(out) == whole
    return alike


def _content(folder: Path) -> dict[str, bytes]:
    store = folder / "study.zarr"
    return {str(one.relative_to(store)): one.read_bytes() for one in sorted(store.rglob("*")) if one.is_file()}

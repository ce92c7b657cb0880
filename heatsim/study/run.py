"""`run_study`: every chunk of a study solved, written and made sure of, on this machine or on a cluster."""

from __future__ import annotations

import itertools
import os
import platform
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError
from heatsim.study.chunks import Chunk, Worker, layout
from heatsim.study.design import Design
from heatsim.study.store import STORE, Boundary, Store, locked, nowhere
from heatsim.study.units import units_of

if TYPE_CHECKING:
    import xarray as xr

Progress = Callable[[str, float], None]

WORTH_PROCESSES = 12
"""Chunks from which a second process earns back what it takes to start, some seconds (assumed)."""
IN_FLIGHT = 6
"""Chunks that wait or run on a cluster, so that its workers are not idle and few results wait to be written."""
RUN_LOG = "run.log"
MEASURED = "numpy", "scipy", "pvlib", "pandas", "numba"
"""Packages whose version the digits may hang on."""


def run_study(
    file: str | Path,
    out: str | Path,
    *,
    workers: int | None = None,
    scheduler: str | None = None,
    progress: Progress | None = None,
    boundary: Boundary = nowhere,
) -> xr.Dataset:
    """Run a study, or go on with one that was stopped.

    Parameters
    ----------
    file : str or Path
        The study file.
    out : str or Path
        Folder of the store; made if missing.
    workers : int, optional
        Processes of this machine; by the number of chunks and processors unless given. 1 runs in this process.
    scheduler : str, optional
        Address of a Dask scheduler to run on instead.
    progress : callable, optional
        Called with a label and the share done.

    Returns
    -------
    Dataset
        Lazily opened from the store; study axes in front (`Design.axes`), variables of `results.RESULTS`.

    Raises
    ------
    HeatsimError
        With every fault of the study; where the folder holds other results, is in use, full or not to be written.
    """
    folder = Path(out)
    return run_design(
        read_design(file, folder), folder, workers=workers, scheduler=scheduler, progress=progress, boundary=boundary
    )


def read_design(file: str | Path, folder: Path) -> Design:
    """The study of a file, with the draws that its folder holds already."""
    return Design.read(file, _drawn(folder))


def run_design(
    design: Design,
    folder: Path,
    *,
    workers: int | None = None,
    scheduler: str | None = None,
    progress: Progress | None = None,
    boundary: Boundary = nowhere,
) -> xr.Dataset:
    """`run_study` of a study that was read already."""
    with locked(folder):
        store = Store(folder, header(design), boundary)
        if begun := store.begun():
            store.resume()
        parts = design.chunks()
        waiting = [i for i in range(len(parts)) if i not in store.done]
        count = _workers(workers, len(waiting))
        with _mapped(design, count, folder, scheduler) as solved:
            _lay_out(store, design, begun)
            with _log(folder) as say:
                to_do = f"{len(waiting)} to do, {scheduler or f'{count} workers'}"
                say(f"{design.runs} runs in {len(parts)} chunks, {to_do}")
                try:
                    for number, chunk in solved(waiting):
                        store.write(number, parts[number], chunk)
                        say(f"chunk {number} done")
                        if progress is not None:
                            progress("study", len(store.done) / len(parts))
                except OSError as error:  # of a process that writes
                    raise store.broken(error) from error
    return open_study(folder)


def open_study(folder: str | Path) -> xr.Dataset:
    """The results of a study as a data set, read from disk when asked for.

    Raises
    ------
    HeatsimError
        Where there are none.
    """
    import xarray as xr

    place = Path(folder) / STORE
    if not place.exists():
        rule = "there is no study in this folder"
        raise HeatsimError(Fault(rule, path=str(folder), remedy="Run heatsim study first"))
    found: xr.Dataset = xr.open_zarr(place, consolidated=False, chunks=None)
    texts = {
        name: (one.dims, np.array(one.values.tolist(), dtype=str))
        for name, one in found.coords.items() if one.dtype.kind in "TO"
    }  # fmt: skip
    return found.assign_coords(texts)


def _drawn(folder: Path) -> npt.NDArray[np.float64] | None:
    """Draws of the store in a folder, None where there is none."""
    if not (folder / STORE).exists():
        return None
    import zarr

    try:
        return np.asarray(zarr.open_group(str(folder / STORE), mode="r")["drawn"][...])  # type: ignore[index]
    except (KeyError, ValueError, OSError):
        return None


def _lay_out(store: Store, design: Design, begun: bool) -> None:
    """Make the store ready to be written to."""
    arrays, coordinates, attributes = layout(design)
    if begun:
        grid = [-(-size // length) for size, length in zip(design.shape, design.chunk, strict=True)]
        store.sweep(grid, {name: len(dims) - len(grid) for name, (dims, *_) in arrays.items()})
    else:
        store.create(arrays, coordinates, attributes)


def header(design: Design) -> dict[str, Any]:
    """Everything the results hang on, as plain values."""
    from importlib.metadata import version

    import heatsim

    return {
        "written by": "heatsim",
        "version": heatsim.__version__,
        "made of": design.resolved_hash(),
        "study": design.study.model_dump(mode="json"),
        "boat": design.tree.value,
        "files": design.files(),
        "packages": {name: version(name) for name in MEASURED},
        "machine": platform.machine(),
    }


def _workers(asked: int | None, chunks: int) -> int:
    if asked is not None:
        return max(1, min(asked, chunks))
    return 1 if chunks < WORTH_PROCESSES else min(os.cpu_count() or 1, chunks, 8)


Solved = Callable[[list[int]], Iterator[tuple[int, Chunk]]]


@contextmanager
def _mapped(design: Design, workers: int, folder: Path, scheduler: str | None) -> Iterator[Solved]:
    """A function that solves chunks: here, in processes, which write them too, or on a cluster."""
    units = units_of(design)
    if scheduler is not None:
        from heatsim.study.cluster import on_cluster

        with on_cluster(design, units, scheduler) as submit:
            yield lambda numbers: _in_order(submit, numbers, IN_FLIGHT)
    elif workers == 1:
        worker = Worker(design, units)
        yield lambda numbers: ((number, worker.solve(number)) for number in numbers)
    else:
        from heatsim.study.local import on_this_machine

        with on_this_machine(design, units, workers, folder) as solved:
            yield solved


def _in_order(
    submit: Callable[[int], Callable[[], Chunk]], numbers: list[int], ahead: int
) -> Iterator[tuple[int, Chunk]]:
    """Results in the order of the numbers, with a few under way."""
    left = iter(numbers)
    waiting = [(n, submit(n)) for n in itertools.islice(left, ahead)]
    while waiting:
        number, result = waiting.pop(0)
        following = next(left, None)
        done = result()
        if following is not None:
            waiting.append((following, submit(following)))
        yield number, done


@contextmanager
def _log(folder: Path) -> Iterator[Callable[[str], None]]:
    """Lines with the time of day, outside the store: they differ from run to run."""
    with open(folder / RUN_LOG, "a", encoding="utf-8") as file:

        def say(line: str) -> None:
            file.write(f"{time.strftime('%Y-%m-%d %H:%M:%S')} {line}\n")
            file.flush()

        yield say

"""Chunks over processes of this machine: each keeps to its own part of the study, so that neighbours, which share
networks, are prepared once; one that has finished its part takes from the far end of the longest left. Each writes what
it has solved; that a chunk is done is written by the process that gave it out.
"""

from __future__ import annotations

import atexit
import gc
import itertools
import os
import threading
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Future, ProcessPoolExecutor, wait
from contextlib import ExitStack, contextmanager
from multiprocessing import get_context, parent_process
from pathlib import Path

from heatsim.errors import Fault, HeatsimError
from heatsim.solve.threads import keep_to
from heatsim.study.chunks import Chunk, Worker
from heatsim.study.design import Design
from heatsim.study.store import Variables
from heatsim.study.units import Units


@contextmanager
def on_this_machine(
    design: Design, units: Units, workers: int, folder: Path
) -> Iterator[Callable[[list[int]], Iterator[tuple[int, Chunk]]]]:
    """A function that solves chunks, each as it is done, with none of the variables left to write.

    The processes begin at once to make themselves ready.
    """
    with ExitStack() as stack:
        pools = [ProcessPoolExecutor(1, get_context("spawn")) for _ in range(workers)]
        for pool in pools:
            stack.callback(pool.shutdown)
        for pool in pools:  # comes first: all end at once
            stack.callback(pool.shutdown, wait=False, cancel_futures=True)
            pool.submit(_begin, design, units, folder)  # as a task: processes start side by side

        def solved(numbers: list[int]) -> Iterator[tuple[int, Chunk]]:
            parts = shared_out(numbers, workers)
            running: dict[Future[Chunk], tuple[int, int]] = {}

            def give(worker: int) -> None:
                number = next_of(parts, worker)
                if number is not None:
                    running[pools[worker].submit(_solve, number)] = worker, number

            for worker in range(workers):
                give(worker)
            while running:
                for future in wait(running, return_when=FIRST_COMPLETED).done:
                    worker, number = running.pop(future)
                    chunk = _result(future)
                    give(worker)
                    yield number, chunk

        yield solved


def shared_out(numbers: list[int], workers: int) -> list[deque[int]]:
    """Consecutive parts, one for each worker, as equal as they can be."""
    edges = [round(i * len(numbers) / workers) for i in range(workers + 1)]
    return [deque(numbers[a:b]) for a, b in itertools.pairwise(edges)]


def next_of(parts: list[deque[int]], worker: int) -> int | None:
    """What a worker does next: the first left of its own part, else the last of the longest; None when all is given."""
    if parts[worker]:
        return parts[worker].popleft()
    longest = max(parts, key=len)
    return longest.pop() if longest else None


def _result(future: Future[Chunk]) -> Chunk:
    """A chunk; a process that was lost (for want of memory, most often) is one clear error."""
    try:
        return future.result()
    except BrokenExecutor:
        remedy = "Give the same command again; --workers 1 takes least memory"
        raise HeatsimError(Fault("a worker process was lost; finished chunks are kept", remedy=remedy)) from None


_process: tuple[Worker, Variables] | None = None
"""What this process solves with, and where that goes."""


def _begin(design: Design, units: Units, folder: Path) -> None:
    """Make a process ready to solve chunks of a study, on one thread, as there is a process for each processor."""
    global _process
    threading.Thread(target=_end_with_parent, daemon=True).start()
    atexit.register(gc.freeze)  # or the last pass goes over everything imported
    keep_to(1)
    _process = Worker(design, units), Variables(folder)
    _process[0].make_ready()  # what goes wrong here, the first chunk tells again


def _end_with_parent() -> None:
    """End at once where the run is killed: nobody else would end this process, and it must not write into the results
    of a run that goes on.
    """
    parent = parent_process()
    assert parent is not None
    parent.join()
    os._exit(1)


def _solve(number: int) -> Chunk:
    """Solve a chunk of the study this process was made ready for, and write its variables."""
    assert _process is not None
    worker, variables = _process
    variables.write(number, worker.parts[number], worker.solve(number))
    if gc.get_freeze_count() == 0:
        gc.freeze()  # everything is imported now, and need not be looked through again
    return {}

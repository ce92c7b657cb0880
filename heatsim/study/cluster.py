"""The same chunks on a Dask cluster (extra `cluster`)."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from heatsim.errors import Fault, HeatsimError
from heatsim.study.chunks import Chunk, Worker
from heatsim.study.design import Design
from heatsim.study.units import Units

SECONDS = 10
"""How long a scheduler may take to answer."""
TRIES = 5
"""How often a chunk is begun again whose worker was lost."""

_workers: dict[str, Worker] = {}


@contextmanager
def on_cluster(design: Design, units: Units, address: str) -> Iterator[Callable[[int], Callable[[], Chunk]]]:
    """A function that submits a chunk and returns what waits for it.

    Raises
    ------
    HeatsimError
        Where the extra is not installed or nobody answers at the address.
    """
    try:
        from distributed import Client
    except ImportError:
        raise HeatsimError(
            Fault("a cluster needs packages that are not installed", path="--scheduler",
                  remedy="Install them: python -m pip install 'heatsim[cluster]'")
        ) from None  # fmt: skip
    try:
        client = Client(address, timeout=SECONDS)  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TimeoutError) as error:
        raise HeatsimError(
            Fault(f"no scheduler answers there ({type(error).__name__})", path="--scheduler", value=address,
                  remedy="Write for example tcp://host:8786")
        ) from None  # fmt: skip
    try:
        name = design.resolved_hash()
        sent = client.scatter((design, units), broadcast=True, hash=False)  # type: ignore[no-untyped-call]

        def submit(number: int) -> Callable[[], Chunk]:
            future = client.submit(_solve, name, sent, number, pure=False, retries=TRIES)
            return lambda: _result(future)

        yield submit
    finally:
        client.close()  # type: ignore[no-untyped-call]


def _result(future: object) -> Chunk:
    from distributed import CancelledError
    from distributed.scheduler import KilledWorker

    try:
        found: Chunk = future.result()  # type: ignore[attr-defined]
    except (KilledWorker, CancelledError, OSError) as error:
        rule = f"the cluster lost a chunk ({type(error).__name__}); finished chunks are kept"
        remedy = "Look at its workers' memory, then give the same command again"
        raise HeatsimError(Fault(rule, path="--scheduler", remedy=remedy)) from None
    return found


def _solve(name: str, study: tuple[Design, Units], number: int) -> Chunk:
    """On a worker: a chunk, with what earlier ones of the same study prepared."""
    if name not in _workers:
        _workers.clear()
        _workers[name] = Worker(*study)
    return _workers[name].solve(number)

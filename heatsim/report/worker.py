"""One process beside this one, for work on plain values while this one goes on.

A run with pictures has two halves of about the same length, and most machines have two cores. The process is started
afresh (not forked), so that it is the same on every system; where none may be started, or it dies, its work is done
here.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from types import TracebackType
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from multiprocessing.connection import Connection
    from multiprocessing.process import BaseProcess

T = TypeVar("T")


class NotDoneError(Exception):
    """The process beside is gone, or its work failed there; whoever asked does it again and sees why."""


class Worker:
    """Runs functions of plain values in a process beside this one, in the order they are given.

    Parameters
    ----------
    wanted : bool
        False starts nothing, and every result is `NotDoneError`.
    """

    def __init__(self, wanted: bool) -> None:
        self._line: Connection[Any, Any] | None = None
        self._process: BaseProcess | None = None
        self._post = ThreadPoolExecutor(1, "worker")
        if wanted and cores() > 1:
            self._start()

    def _start(self) -> None:
        from multiprocessing import get_context

        try:
            context = get_context("spawn")
            self._line, far_end = context.Pipe()
            process = context.Process(target=_serve, args=(far_end,), daemon=True)
            with _interrupts_held():
                process.start()
            far_end.close()
        except (OSError, ImportError, RuntimeError, AssertionError):  # no processes here; daemons may have none
            self._line = None
        else:
            self._process = process

    def submit(self, function: Callable[..., T], *given: object) -> Future[T]:
        """The result to come of `function(*given)`; both must be importable and picklable."""
        return self._post.submit(self._ask, function, given)

    def _ask(self, function: Callable[..., T], given: tuple[object, ...]) -> T:
        if self._line is None:
            raise NotDoneError
        try:
            self._line.send((function, given))
            good, value = self._line.recv()
        except (EOFError, OSError):
            self._line = None
            raise NotDoneError from None
        if not good:
            raise NotDoneError
        result: T = value
        return result

    def __enter__(self) -> Worker:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if self._process is not None:
            self._process.terminate()
        self._post.shutdown(cancel_futures=True)


def result_or_here(future: Future[T], function: Callable[..., T], *given: object) -> T:
    """The result of work that was given to a worker, or of doing it here if it has not begun or was not done."""
    if not future.cancel():
        try:
            return future.result()
        except NotDoneError:
            pass
    return function(*given)


def cores() -> int:
    """Processor cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Hold interrupts back while the process starts: it inherits that, and stays silent when the user stops the run."""
    import signal

    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _serve(line: Connection[Any, Any]) -> None:
    """Answer calls until the other end closes; an interrupt is for the process that started this one."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    while True:
        try:
            function, given = line.recv()
            line.send((True, function(*given)))
        except EOFError:
            return
        except Exception:  # also for an answer that cannot be sent
            try:
                line.send((False, None))
            except OSError:
                return

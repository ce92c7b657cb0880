"""Work spread over threads; our matrix routines hold no interpreter lock."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

T = TypeVar("T")

_count = 2


def keep_to(threads: int) -> None:
    """Spread work of this process over so many threads from now on: one, where other processes share the machine."""
    global _count
    _count = threads


def each(function: Callable[..., T], *values: Iterable[Any]) -> list[T]:
    """`list(map(function, *values))` over the threads."""
    if _count == 1:
        return list(map(function, *values))
    with ThreadPoolExecutor(_count) as pool:
        return list(pool.map(function, *values))


def shares(count: int) -> list[slice]:
    """A part of so many things in a row for each thread."""
    edges = [round(i * count / _count) for i in range(_count + 1)]
    return [slice(a, b) for a, b in itertools.pairwise(edges) if b > a]

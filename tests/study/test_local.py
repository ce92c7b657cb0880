"""Chunks over processes: every chunk once, neighbours together, and nobody idle while others have work."""

from __future__ import annotations

import pytest

from heatsim.study.local import next_of, shared_out


@pytest.mark.parametrize(("chunks", "workers"), [(72, 2), (7, 3), (2, 4), (1, 1)])
def test_every_chunk_is_given_once(chunks: int, workers: int) -> None:
    parts = shared_out(list(range(chunks)), workers)
    assert [number for part in parts for number in part] == list(range(chunks))
    assert max(map(len, parts)) - min(map(len, parts)) <= 1
    given = []
    while (number := next_of(parts, len(given) % workers)) is not None:
        given.append(number)
    assert sorted(given) == list(range(chunks))


def test_a_worker_keeps_to_its_own_part_and_then_takes_from_the_far_end_of_the_longest() -> None:
    parts = shared_out(list(range(8)), 2)
    assert [next_of(parts, 0) for _ in range(4)] == [0, 1, 2, 3]
    assert next_of(parts, 1) == 4
    assert [next_of(parts, 0) for _ in range(4)] == [7, 6, 5, None]

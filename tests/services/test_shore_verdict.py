"""What is said of the day's power against the shore socket: amounts against the courses, the advice against its sum."""

from __future__ import annotations

import re

import numpy as np
import pytest
from dunlin import powered, proved

from heatsim.scenario.electrics import PowerAboard, Socket, carries
from heatsim.services.draws import by_quarters, settled_runs
from heatsim.services.shore_verdict import _enough, _times, shore_verdict

SMALL, LARGE = Socket("230 V 6 A", 230.0, 6.0), Socket("230 V 63 A", 230.0, 63.0)


def most(socket: Socket) -> float:
    """The largest quarter of an hour of any proved day. [VA]"""
    plan = powered(PowerAboard(shore=socket))
    return max(float(np.abs(by_quarters(plan, proved(), run)).max()) for run in settled_runs(plan, proved()))


def test_within_the_socket() -> None:
    said = shore_verdict(powered(PowerAboard(shore=LARGE)), proved())
    assert said.startswith("Within the 230 V 63 A socket all day")
    assert f"at most {most(LARGE) / 1e3:.1f} kVA of the {carries(LARGE) / 1e3:.1f} kVA" in said


def test_over_the_socket_says_how_far_when_and_what_waits() -> None:
    said = shore_verdict(powered(PowerAboard(shore=SMALL)), proved())
    assert said.startswith("OVER the 230 V 6 A socket")
    assert f"{(most(SMALL) - carries(SMALL)) / 1e3:.1f} kVA too much" in said
    assert re.search(r"Above it for [\d.]+ h: \d\d:\d\d to \d\d:\d\d", said)
    assert "To stay below it then" in said or "larger socket" in said


def test_no_socket_no_verdict() -> None:
    assert shore_verdict(powered(PowerAboard()), proved()) == ""


def test_the_smallest_single_load_that_is_enough_or_the_largest_few() -> None:
    loads = [(300.0, "kettle"), (2500.0, "hob"), (900.0, "iron")]
    assert _enough(loads, 800.0) == "iron (0.9 kW)"
    assert _enough(loads, 3000.0) == "hob (2.5 kW) and iron (0.9 kW)"
    assert _enough(loads, 4000.0) == ""


@pytest.mark.parametrize(
    ("quarters", "words"),
    [([0, 1], "for 0.5 h: 00:00 to 00:30"), ([40, 41, 80], "for 0.75 h: 10:00 to 10:30, 20:00 to 20:15")],
)
def test_stretches_of_the_clock(quarters: list[int], words: str) -> None:
    over = np.zeros(96, dtype=bool)
    over[quarters] = True
    assert _times(over) == words

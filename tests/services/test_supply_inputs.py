"""What is wrong with the power aboard in a file: one clear line each, with what to write instead."""

from __future__ import annotations

import pytest

from heatsim import HeatsimError, resolve
from heatsim.scenario.electrics import described
from heatsim.scenario.reading import read_text
from heatsim.scenario.starters import demo


def _with(supply: str) -> str:
    """The demonstration boat with other power; what follows her supply in the file is left out."""
    head, _ = demo("dunlin-11").split("\nsupply:\n", 1)
    return f"{head}\nsupply:\n{supply}\n"


@pytest.mark.parametrize(
    ("supply", "words"),
    [
        ("  shore: {voltage: 400 V, current: 32 A, phases: 3, legs: 2}", "has no two legs"),
        ("  shore: {voltage: 230 V, current: 16 A, lowest_voltage: 120 V}", "between 70 and 100 %"),
        ("  shore: {voltage: 230, current: 16 A}", "with its unit"),
        ("  shore: {voltage: 230 V, curent: 16 A}", 'Did you mean "current"'),
        ("  battery: {energy: 5 kWh, capacity: 400 Ah}", "either an energy or a capacity"),
        ("  battery: {reserve: 0.3}", "either an energy or a capacity"),
        ("  battery: {kind: lead, energy: 5 kWh}", "hours: 20"),
        ("  battery: {energy: 5 kWh, night_begins: 7}", "different hours"),
        ("  battery: {energy: 5 kWh, peukert: 0.8}", "greater than or equal to 1"),
        ("  battery: {energy: 400 Ah}", '"Ah" is a unit of charge'),
        ("  generator: {power: 6 kVA}", "is the power factor known"),
        ("  solar: {peak_power: 400 W, tilt: 10 deg}", "tilt"),
    ],
)
def test_wrong_power_is_refused(supply: str, words: str) -> None:
    with pytest.raises(HeatsimError) as caught:
        read_text(_with(supply))
    assert words in str(caught.value)
    assert "supply" in str(caught.value)


def test_sockets_are_named_as_docks_write_them() -> None:
    supply = """\
  shore: {voltage: 240 V, current: 50 A, legs: 2, frequency: 60 Hz, sockets: 2}
  other_sockets:
    - {voltage: 400 V, current: 63 A, phases: 3}
    - {name: old quay, voltage: 230 V, current: 16 A}"""
    power = resolve(read_text(_with(supply))).power
    assert power.shore is not None
    assert power.shore.name == "2 × 120/240 V 50 A" == described(power.shore)
    assert [socket.name for socket in power.others] == ["400 V 63 A three-phase", "old quay"]

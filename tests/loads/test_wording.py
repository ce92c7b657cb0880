"""Values in words: units by key, courses by the clock, and no text that hides a difference."""

from __future__ import annotations

import math

import pytest

from heatsim.loads.wording import LONGEST, worded, worded_pair


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("awnings.tent.open_gap", True, "yes"),
        ("awnings.tent.transmittance", 0.12, "12 %"),
        ("zones.bilge.moisture.wet bilge.rate", 40e-3 / 3600, "40 g/h"),
        ("flows.hood.rate", 200 / 3600, "200 m³/h"),
        ("faces.side.foreground.sea", 0.6, "60 %"),
        ("days.hot.sea", 29.0, "29 °C"),
        ("faces.side.bearing", -0.0, "0°"),
        ("glazings.pane.transmittance", [0.8, 0.7, 0.4, 1e-11], "80 % to 0 % (4 values)"),
        ("place.headings", [120.0], "120°"),
        ("zones.saloon.control.cooling_limit", math.inf, "none"),
        ("zones.saloon.control.humidity_limit", 2.0, "none"),
        ("faces.side.shade", {"height": 1.0, "width": 2.5, "overhang": 0.0}, "height 1 m, width 2.5 m"),
        ("faces.side.shade", None, "none"),
        (
            "zones.saloon.people.guests.routine", {"name": "x", "minutes": [0, 495], "values": [0, 1]},
            "0 from 00:00, 1 from 08:15",
        ),
    ],
)  # fmt: skip
def test_words(path: str, value: object, words: str) -> None:
    assert worded(path.split("."), value) == words


def test_values_that_differ_read_differently() -> None:
    path = ["days", "hot", "dry_bulb_max"]
    assert worded_pair(path, 35.0, 34.0) == ("35 °C", "34 °C")
    first, second = worded_pair(path, 35.0, 35.00001)
    assert first != second


def test_long_texts_are_cut() -> None:
    people = [{"name": f"guest {i}", "count": 1.0} for i in range(20)]
    text, _ = worded_pair(["zones", "saloon", "people"], people, [])
    assert len(text) <= LONGEST
    assert text.endswith("...")

"""The stacked day: what is drawn is what was computed, its XML is sound, and its numbers add up."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from heatsim.handover.day_chart import HATCHES, DayLoad, drawing, numbers, patterns, small_drawing
from heatsim.report.amounts import UnitSystem
from heatsim.report.pictures import STYLE

SVG = "<svg xmlns='http://www.w3.org/2000/svg'>{}</svg>"
TENTH = 0.06
"""Coordinates are written to a tenth of the drawing's unit."""


@pytest.fixture
def day() -> DayLoad:
    """An invented day: sun by a half sine, people in the evening, a sky that helps at night."""
    hours = np.arange(24.0)
    sun = 3000.0 * np.maximum(np.sin((hours - 6.0) / 12.0 * np.pi), 0.0)
    people = np.where(hours >= 18.0, 500.0, 0.0)
    return DayLoad("block", "hot", 120.0, hours, {"sun_through_glass": sun, "people": people}, 4000.0)


def points(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"([-\d.]+) ([-\d.]+)", path)]


@pytest.mark.parametrize("system", ["si", "us", "both"])
def test_the_drawing_is_sound_xml(day: DayLoad, system: UnitSystem) -> None:
    for text in (drawing(day, system), small_drawing(day, system), patterns(STYLE)):
        ET.fromstring(SVG.format(text))


def test_layers_reach_the_total(day: DayLoad) -> None:
    """By the drawing's own axis: height of the stack over the height of one kilowatt."""
    text = str(drawing(day, "si"))
    paths = [points(one) for one in re.findall(r'<path d="(M[^"]+)Z" fill="url', text)]
    assert len(paths) == 2
    line = points(re.findall(r'<path d="(M[^"]+)" fill="none" stroke="#1d2b33"', text)[0])
    top = np.array([y for _, y in paths[1][:48:2]])  # there and back: two points an hour each way
    drawn = np.array([y for _, y in line[::2]])
    ticks = dict(
        re.findall(r'y="(\d+)" text-anchor="end" font-size="24" font-weight="400" fill="#1d2b33">([\d.]+)<', text)
    )
    heights = {float(value): float(y) for y, value in ticks.items()}
    per_kw = (heights[0.0] - heights[2.0]) / 2.0
    # Text is placed to a whole unit: two ticks are off by one at most, of some 150 a kilowatt.
    found = (drawn.max() - drawn) / per_kw
    assert found == pytest.approx(day.total / 1e3, abs=0.03)
    assert top == pytest.approx(drawn, abs=2 * TENTH)


def test_every_hatch_of_the_pictures_is_known() -> None:
    assert {hatch for _, hatch, _ in STYLE.values()} <= set(HATCHES)


def test_layers_differ_without_their_colour() -> None:
    """Two fills of the same lightness must differ in hatch; lightness by IEC 61966-2-1 (sRGB) and CIE 1976 L*."""

    def lightness(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
        return 116.0 * float(np.cbrt(luminance)) - 16.0 if luminance > 0.008856 else 903.3 * luminance

    drawn = [name for name in STYLE if name not in ("setpoints", "plant", "start")]
    for i, first in enumerate(drawn):
        for second in drawn[i + 1 :]:
            same = STYLE[first][1] == STYLE[second][1]
            # Ten steps of L* are told apart side by side by anybody (common practice, no source).
            if same:
                apart = abs(lightness(STYLE[first][0]) - lightness(STYLE[second][0]))
                assert apart > 5.0, (first, second)


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "a & b", "תא אחורי"])
def test_names_are_escaped(day: DayLoad, name: str) -> None:
    from dataclasses import replace

    text = str(drawing(replace(day, name=name), "si")) + str(small_drawing(replace(day, name=name), "si"))
    root = ET.fromstring(SVG.format(text))
    kinds = {element.tag.rsplit("}")[-1] for element in root.iter()}
    assert kinds == {"svg", "path", "text", "rect"}
    shown = [element.text for element in root.iter() if element.tag.endswith("text")]
    assert any(str(words).startswith(name[:30]) for words in shown)


def test_numbers_for_the_script_add_up(day: DayLoad) -> None:
    """Whole watts: each of the layers is off by half a watt at most, and so is the total."""
    found = numbers([day], "both")
    one = found["days"][0]
    sums = np.sum([values for _, values in one["layers"]], axis=0)
    assert np.abs(sums - np.array(one["total"])).max() <= 0.5 * (len(one["layers"]) + 1)
    assert one["total"] == [round(float(value)) for value in day.total]
    assert [unit for unit, _, _ in found["units"]] == ["kW", "Btu/h"]


def test_a_day_without_load_is_drawn() -> None:
    quiet = DayLoad("hold", "hot", 0.0, np.arange(24.0), {"people": np.zeros(24)})
    assert "no load" in str(small_drawing(quiet, "si"))

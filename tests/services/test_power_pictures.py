"""Pictures of the power aboard: what they show is what the schedules say, and they are drawn."""

from __future__ import annotations

from io import BytesIO

import numpy as np
import pytest
from dunlin import planned, powered, proved

from heatsim.report.power_pictures import (
    APART,
    OVERNIGHT,
    STRIP,
    _courses,
    _limits,
    electrical_strip,
    power_drawings,
    spaced,
)
from heatsim.scenario.electrics import GeneratorSet, PowerAboard, Socket, Storage
from heatsim.services.electrical import starting, together

SIGNATURE = b"\x89PNG\r\n\x1a\n"
POWER = PowerAboard(
    shore=Socket("quay", 230.0, 16.0, lowest=207.0), others=(Socket("large", 400.0, 125.0, 3),),
    generator=GeneratorSet(6000.0), battery=Storage(energy=3.6e6 * 8.0, inverter=3000.0), other_load=0.0,
)  # fmt: skip


def test_both_are_drawn_where_there_is_a_bank() -> None:
    drawings = power_drawings(powered(POWER), proved())
    assert [drawing.file for drawing in drawings] == [STRIP, OVERNIGHT]
    assert all(drawing.png().startswith(SIGNATURE) for drawing in drawings)
    assert [drawing.file for drawing in power_drawings(planned(), proved())] == [STRIP]


def test_levels_are_those_of_what_carries() -> None:
    levels = {name: level for name, level, _ in _limits(powered(POWER))}
    assert levels["80 % of quay"] == pytest.approx(0.8 * 16.0 * 207.0 / 1e3, rel=1e-12)
    # Three phases: √3 · 400 V · 125 A = 86.6 kVA (IEC 60309 socket by its rating), 80 % at 90 % of the voltage.
    assert levels["80 % of large"] == pytest.approx(86.6 * 0.8 * 0.9, rel=1e-3)
    assert levels["generator"] == pytest.approx(7.5)  # 6 kW at 0.8
    assert levels["inverter"] == 3.0


def test_levels_of_starts_are_those_of_the_starting_list() -> None:
    plan = powered(POWER)
    levels = {name: level for name, level, _ in _limits(plan)}
    schedule = starting(plan)
    assert 1e3 * levels["start: in the best order"] == pytest.approx(max(schedule.column("at its start")), rel=1e-12)
    last = max(float(one or 0.0) for one in schedule.column("started last"))
    assert 1e3 * levels["start: largest unit last"] == pytest.approx(last, rel=1e-12)


def test_course_is_of_the_proof_by_the_clock() -> None:
    """Its mean is the mean of the schedule over the power factor, whatever minute the run begins with."""
    plan = powered(POWER)
    for course, row in zip(_courses(plan, proved()), together(plan, proved()).rows, strict=True):
        assert course.running.shape == (96,)
        factor = float(row[7] or 0.0) / 1e3 / course.running.mean()
        assert 0.88 < factor < 0.90  # 0.887 of these three units together
    nothing = _courses(powered(POWER), proved())[0].running
    assert np.all(nothing >= 0.0)


def test_names_of_levels_keep_apart() -> None:
    places = spaced([0.1, 0.11, 0.12, 0.5, 0.9])
    assert np.diff(places).min() >= APART - 1e-12
    assert [places[0], *places[3:]] == [0.1, 0.5, 0.9]  # what has room stays where it is


def test_levels_above_the_picture_do_not_stretch_it() -> None:
    courses, stream = _courses(powered(POWER), proved()), BytesIO()
    levels = [("far", 1000.0, False), ("near", 1.0, False), ("start", 8.0, True)]
    electrical_strip(courses, levels, "Wren", "Over it all day. " * 20, stream)
    assert stream.getvalue().startswith(SIGNATURE)

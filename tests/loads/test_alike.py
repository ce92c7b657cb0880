"""Boats that count as alike have the same matrices, whatever number of theirs is changed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import heatsim
from heatsim.climate.days import design_weather
from heatsim.loads.alike import alike_outside, of_networks
from heatsim.loads.classes import climate_class
from heatsim.loads.line import Line, make_line
from heatsim.scenario.resolved import Resolved, Routine

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"


@pytest.fixture(scope="module")
def boat() -> Resolved:
    return heatsim.resolve(heatsim.read(SCENARIOS / "dunlin-11.yaml"))


def _line(boat: Resolved) -> Line:
    weathers = (design_weather(boat, boat.days[0], 1800.0),)
    return make_line(boat, weathers, climate_class(weathers), lambda system, step: (system, step))  # type: ignore[arg-type, return-value]


def _changed(thing: Any, path: str) -> Iterator[tuple[str, Any]]:
    """The same with one number changed, for each that it holds."""
    if isinstance(thing, bool | str) or thing is None:
        return
    if isinstance(thing, Routine):
        yield path, replace(thing, values=tuple(0.9 * value + 0.001 for value in thing.values))
    elif isinstance(thing, float):
        if np.isfinite(thing):
            yield path, 0.97 * thing + 0.001
    elif isinstance(thing, tuple):
        for i, one in enumerate(thing):
            for name, other in _changed(one, f"{path}[{i}]"):
                yield name, (*thing[:i], other, *thing[i + 1 :])
    elif is_dataclass(thing):
        for field in fields(thing):
            for name, other in _changed(getattr(thing, field.name), f"{path}.{field.name}"):
                yield name, replace(thing, **{field.name: other})  # type: ignore[type-var]


def _matrices(line: Line) -> list[np.ndarray[Any, Any]]:
    pairs: list[Any] = [line.heat_operators, line.moisture_operators]
    return [getattr(system, name) for system, _ in pairs for name in ("capacity", "K", "B", "S", "Y", "holdable")]


def _some(boat: Resolved, name: str) -> Iterator[tuple[str, Any]]:
    """Changes of one field of the boat; of many alike, of the first three."""
    whole = getattr(boat, name)
    few = whole[:3] if isinstance(whole, tuple) else whole
    for path, changed in _changed(few, name):
        yield path, (*changed, *whole[3:]) if isinstance(whole, tuple) else changed


def test_boats_with_different_matrices_are_never_alike(boat: Resolved) -> None:
    """Every number of every field, but of the days, which are one for all, and of defaults and services, as read."""
    own, networks = _matrices(_line(boat)), of_networks(boat)
    names = [one.name for one in fields(boat) if one.name not in ("days", "defaults", "services")]
    seen, made_anew = set(), set()
    weathers = (design_weather(boat, boat.days[0], 1800.0),)
    for name in names:
        for path, value in _some(boat, name):
            other = replace(boat, **{name: value})
            if of_networks(other) != networks:
                made_anew.add(name)
                continue
            seen.add(path)
            line = make_line(other, weathers, climate_class(weathers), lambda system, step: (system, step))  # type: ignore[arg-type, return-value]
            for mine, theirs in zip(own, _matrices(line), strict=True):
                assert np.array_equal(mine, theirs), path
    assert len(seen) > 20  # setpoints, limits, persons and gains
    assert made_anew >= {"lay_ups", "glazings", "faces", "zones", "flows", "openings", "awnings"}


def test_what_the_sun_sees_tells_boats_apart(boat: Resolved) -> None:
    face = replace(boat.faces[0], absorptance=0.5 * boat.faces[0].absorptance)
    darker = replace(boat, faces=(face, *boat.faces[1:]))
    colder = replace(
        boat,
        zones=tuple(
            zone if zone.control is None
            else replace(zone, control=replace(zone.control, cooling_setpoint=Routine("", (0,), (21.0,))))
            for zone in boat.zones
        ),
    )  # fmt: skip
    assert alike_outside(_line(boat), _line(colder))
    assert not alike_outside(_line(boat), _line(darker))

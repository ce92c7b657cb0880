"""Glass by sizes of panes: areas by hand, and what is no pane."""

from __future__ import annotations

from math import pi

import pytest
from pydantic_core import PydanticCustomError
from small_boat import changed

from heatsim.errors import HeatsimError
from heatsim.handover.explicit import explicit, same_numbers
from heatsim.scenario.panes import glass_area
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolve import resolve


# Products of the sizes by hand; a circle is a quarter of pi times its diameter squared. Double precision: rel 1e-12.
@pytest.mark.parametrize(
    ("written", "area"),
    [
        ("2.4 m2", 2.4),
        ("2 x 1.1 x 0.5 m", 1.1),
        ("2x1.1x0.5 m", 1.1),
        ("1.1 × 0.5 m", 0.55),
        ("110 x 50 cm", 0.55),
        ("0.5 m x 30 cm", 0.15),
        ("2 x 0.3 m dia", 2 * pi / 4 * 0.09),
        ("300 mm diameter", pi / 4 * 0.09),
        ("2 x 1.1 x 0.5 m + 0.6 x 0.6 m + 0.1 m2", 1.1 + 0.36 + 0.1),
        ("2 x 20 x 30 in", 2 * 20 * 30 * 0.0254**2),
    ],
)
def test_area_of_panes(written: str, area: float) -> None:
    assert glass_area(written) == pytest.approx(area, rel=1e-12)


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("1.5 x 1 x 1 m", "whole numbers"),
        ("0 x 1 x 1 m", "whole numbers"),
        ("2 x 3 x 4 x 5 m", "a width and a height"),
        ("3 m", "unit of length"),
        ("a x b m", "must be a length"),
        ("1 x 2", "with its unit"),
        ("1 x", "must be a length"),
        (2.4, "with its unit"),
    ],
)
def test_what_is_no_pane(written: object, told: str) -> None:
    with pytest.raises(PydanticCustomError) as caught:
        glass_area(written)
    assert told in caught.value.message()


def glass_of(keys: str) -> dict[str, float]:
    """Glass of the small boat's cabin (4 m by 3 m by 2 m, below) with these keys of its box."""
    boat = resolve(read_text(changed("{deck: lower, length: 4 m", f"{{{keys}deck: lower, length: 4 m")))
    return {face.name: face.area for face in boat.faces if face.zone == "cabin" and face.kind == "glass"}


def test_panes_are_shared_by_area_among_the_sides_above_water() -> None:
    # Port is 4 m long, the stern 3 m wide: 4/7 and 3/7 of 0.7 m².
    found = glass_of("glass_area: 2 x 0.7 x 0.5 m, sides: [port, stern], ")
    assert found == pytest.approx({"cabin: port glass": 0.4, "cabin: stern glass": 0.3}, rel=1e-12)


def test_an_inner_room_has_no_outside_sides() -> None:
    assert glass_of("sides: none, ") == glass_of("sides: [], ") == {}


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ("glass_area: 1 m2, glass_share: 5 %, ", "not both"),
        ("glass_area: 1 m2, sides: none, ", "no glass in them"),
        ("glass_area: 9.7 m2, ", "larger than the sides"),  # two sides of 8 m², 60 % above water: 9.6 m²
        ("sides: both, ", "a list of sides, or none"),
    ],
)
def test_glass_that_cannot_be(keys: str, told: str) -> None:
    with pytest.raises(HeatsimError, match=told):
        glass_of(keys)


def test_a_space_by_its_box_stands_on_the_bottom_and_has_no_glass() -> None:
    box = "engine space: {use: engine space, quick: {deck: lower, length: 3 m, beam: 4 m, height: 2 m}}"
    scenario = read_text(changed("engine space: {use: engine space, temperature: 45 degC}", box))
    boat = resolve(scenario)
    own = {face.name.removeprefix("engine space: "): face for face in boat.faces if face.zone == "engine space"}
    assert {name: face.kind for name, face in own.items()} == {
        "port side": "hull", "port below water": "bottom", "starboard side": "hull", "starboard below water": "bottom",
        "inner partitions": "bulkhead", "overhead": "deck", "bottom": "bottom",
    }  # fmt: skip
    assert own["overhead"].area == pytest.approx(12.0)
    room = next(zone for zone in boat.zones if zone.name == "engine space")
    assert room.is_space
    assert room.control is None
    assert same_numbers(resolve(explicit(scenario).scenario), boat)

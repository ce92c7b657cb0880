"""Remedies buy back what they should, and a gap is the sum of its causes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heatsim import resolve
from heatsim.equipment.holding import Reruns
from heatsim.equipment.plan import plan
from heatsim.equipment.remedies import CHANGES, WHITE, insulation, remedies, white_decks
from heatsim.equipment.shortfall import Shortfall, shortfall
from heatsim.errors import HeatsimError
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolved import Resolved
from heatsim.scenario.starters import demo
from heatsim.scenario.terms import Installed

SMALL = (Installed("saloon unit", ("saloon",), 1172.0, None), Installed("aft unit", ("aft cabin",), 2051.0, None))
"""Invented: 4 and 7 kBtu/h."""


@pytest.fixture(scope="module")
def boat() -> Resolved:
    resolved = resolve(read_text(demo("dunlin-11")))
    place = replace(resolved.place, headings=(120.0,))
    return replace(resolved, place=place, terms=replace(resolved.terms, installed=SMALL))


@pytest.fixture(scope="module")
def found(boat: Resolved) -> Shortfall:
    return shortfall(plan(boat))


def test_causes_add_up_to_the_gap(found: Shortfall) -> None:
    for gap in found.gaps:
        assert sum(watts for _, watts in gap.causes) == pytest.approx(gap.demand - gap.capacity, abs=1e-6)
    assert found.gaps[0].unit == "saloon unit"
    assert found.gaps[0].causes[0][0] == "load above the nameplate"
    assert found.unserved == ("forward cabin",)
    assert found.held.above["saloon"] > 0.5


def test_remedies_are_ranked_and_carry_their_caution(found: Shortfall) -> None:
    powers = [one.power for one in found.remedies]
    assert powers == sorted(powers, reverse=True)
    assert powers[0] > 0.0
    assert all(one.caution for one in found.remedies)
    film = next(one for one in found.remedies if "film" in one.name)
    assert "glazier" in film.caution


def test_a_remedy_is_a_rerun_of_the_changed_boat(boat: Resolved) -> None:
    changed = white_decks(boat)
    assert changed is not None
    plain = Reruns(boat, 120.0).block() - Reruns(changed, 120.0).block()
    ranked = {one.name: one for one in remedies(boat, 120.0)}
    assert ranked["white decks"].power == pytest.approx(plain, abs=1e-6)
    decks = [f for f in changed.faces if f.kind == "deck" and f.beyond == "outdoors" and f.glazing is None]
    assert all(f.absorptance <= WHITE for f in decks)


def test_foam_lowers_every_u_value(boat: Resolved) -> None:
    changed = insulation(boat)
    assert changed is not None
    before = {one.name: sum(x.thickness / x.conductivity for x in one.layers) for one in boat.lay_ups}
    added = [one for one in changed.lay_ups if one.name not in before]
    assert added
    for one in added:
        whole = sum(x.thickness / x.conductivity for x in one.layers)
        assert whole - before[one.name.removesuffix(" with foam")] == pytest.approx(0.025 / 0.035)


def test_a_boat_that_has_it_all_is_left_alone(boat: Resolved) -> None:
    """White, shaded and screened already: paint and blinds change nothing and are not offered."""
    again = boat
    for name in ("white decks", "white topsides and house", "light blinds closed", "awning over bare decks"):
        again = CHANGES[name][0](again) or again
        assert CHANGES[name][0](again) is None


def test_without_units_nothing_falls_short(boat: Resolved) -> None:
    bare = replace(boat, terms=replace(boat.terms, installed=()))
    with pytest.raises(HeatsimError, match="units she has"):
        shortfall(plan(bare))

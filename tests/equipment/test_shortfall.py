"""Remedies buy back what they should, and a gap is the sum of its causes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heatsim import resolve
from heatsim.equipment.holding import Reruns
from heatsim.equipment.plan import plan
from heatsim.equipment.remedies import CHANGES, WHITE, insulation, remedies, white_decks
from heatsim.equipment.shortfall import CONTROL, Shortfall, shortfall
from heatsim.equipment.upkeep import CHANGES as UPKEEP
from heatsim.equipment.upkeep import EXTRA, EXTRA_CAUTION
from heatsim.errors import HeatsimError
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolved import Resolved
from heatsim.scenario.starters import demo
from heatsim.scenario.terms import Installed

SMALL = (Installed("saloon unit", ("saloon",), 1172.0, None), Installed("aft unit", ("aft cabin",), 2051.0, None))
"""Invented: 4 and 7 kBtu/h."""
pytestmark = pytest.mark.usefixtures("unproved")


@pytest.fixture(scope="module")
def boat() -> Resolved:
    resolved = resolve(read_text(demo("dunlin-11")))
    place = replace(resolved.place, headings=(120.0,))
    return replace(resolved, place=place, terms=replace(resolved.terms, installed=SMALL))


@pytest.fixture(scope="module")
def found(unproved: None, boat: Resolved) -> Shortfall:
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


def test_shares_are_of_all_that_works_against_a_unit(found: Shortfall) -> None:
    for gap in found.gaps:
        against = {name: watts for name, watts in gap.causes if watts > 0.0}
        assert set(dict(gap.shares)) == set(against)
        assert sum(share for _, share in gap.shares) == pytest.approx(1.0, abs=1e-12)
        assert gap.lack == pytest.approx(gap.demand - gap.capacity)


def test_one_thermostat_costs_what_the_peaks_add_beyond_their_hours(boat: Resolved) -> None:
    """With the best shares a group asks for the sum of its zones' sensible peaks; that less the hourly sum is due to
    control, and is none for a room of its own."""
    both = Installed("both", ("saloon", "aft cabin"), 3000.0, None)
    made = plan(replace(boat, terms=replace(boat.terms, installed=(both, SMALL[0]))))
    gaps = {gap.unit: dict(gap.causes) for gap in shortfall(made, with_remedies=False).gaps}
    n = made.needs
    zones = n.of(both.zones)
    sensible = n.sensible[..., zones]
    latent = n.latent[..., zones].sum(axis=-1)
    together = (n.total[..., zones]).sum(axis=-1).max()
    shares = sensible.max(axis=(0, 1)) / sensible.max(axis=(0, 1)).sum()
    apart = ((sensible / shares).max(axis=-1) + latent).max()
    assert gaps["both"][CONTROL] == pytest.approx(apart - together, abs=1e-6)
    assert CONTROL not in gaps["saloon unit"]


def test_without_remedies_none_are_simulated(boat: Resolved) -> None:
    assert shortfall(plan(boat), with_remedies=False).remedies == ()


def test_air_that_is_missing_is_a_cause_and_clearing_it_a_remedy(boat: Resolved) -> None:
    choked = replace(boat, terms=replace(boat.terms, installed=(replace(SMALL[1], air_flow=0.6),), water_flow=0.5))
    lacking = shortfall(plan(choked))
    causes = dict(lacking.gaps[0].causes)
    assert causes["air flow"] > 50.0
    assert causes["water flow"] > 20.0
    names = {one.name for one in lacking.remedies}
    assert {"return grille, filter and ducts cleared", "full sea water flow", "condensers cleaned"} <= names
    assert all(one.caution for one in lacking.remedies)
    assert any(one.name.startswith(EXTRA) for one in lacking.remedies)
    by_name = {one.name: one for one in lacking.remedies}
    whole = replace(choked, terms=replace(choked.terms, water_flow=1.0))
    then = shortfall(plan(whole), with_remedies=False)
    assert by_name["full sea water flow"].power == pytest.approx(
        then.gaps[0].capacity - lacking.gaps[0].capacity, rel=1e-3
    )  # entering air is rounded to 0.01 K when choosing


def test_cautions_say_what_can_hurt() -> None:
    words = " ".join(caution for _, caution in (*CHANGES.values(), *UPKEEP.values())) + EXTRA_CAUTION
    for needed in (
        "fire class",
        "condenses behind",
        "glazier",
        "plastic",
        "seacock",
        "electrician",
        "breaker",
        "engine",
    ):
        assert needed in words

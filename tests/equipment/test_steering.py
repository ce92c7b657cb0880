"""Choices that stand their checks, against every other choice tried one by one."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import pytest

from heatsim import resolve, simulate
from heatsim.equipment.baked import design_days
from heatsim.equipment.catalogue import read_catalogue
from heatsim.equipment.drift import zone_conductance
from heatsim.equipment.holding import Reruns, losses
from heatsim.equipment.layouts import EACH, ONE_LOST, TOO_COARSE, Layout, Search, searches
from heatsim.equipment.needs import Needs, needs
from heatsim.equipment.selection import SLEEPING, Choice, Offer
from heatsim.equipment.steering import MOST_CUTS, STEP, check, steer
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolved import Resolved
from heatsim.scenario.starters import demo
from heatsim.scenario.terms import Terms


@pytest.fixture(scope="module")
def boat() -> Resolved:
    resolved = resolve(read_text(demo("dunlin-11")))
    terms = replace(resolved.terms, installed=())
    return replace(resolved, place=replace(resolved.place, headings=(120.0,)), terms=terms)


@pytest.fixture(scope="module")
def loads(boat: Resolved) -> Needs:
    return needs(simulate(boat, step=900.0, causes=False), boat)


def _each(boat: Resolved, n: Needs, **terms: object) -> tuple[Search, Reruns]:
    boat = replace(boat, terms=replace(boat.terms, **terms))  # type: ignore[arg-type]
    found = searches(boat, n, read_catalogue(None), zone_conductance(boat, n.zones))
    return next(one for one in found if one.name == EACH), Reruns(boat, 120.0)


def _with(layout: Layout, offer: Offer) -> Layout:
    assert layout.choice is not None
    others = [one for one in layout.offers if one.zones != offer.zones]
    return replace(layout, choice=Choice((*others, offer), 0.0, True, 0.0, 1))


def test_cabins_stay_cool_with_any_one_unit_lost(boat: Resolved, loads: Needs) -> None:
    search, reruns = _each(boat, loads, cabin_one_lost=29.0, shore=inf)  # her socket is too small for it
    (made,) = steer([search], reruns)
    assert made.failures == ()
    assert made.cut > 0
    cabins = [zone.name for zone in boat.zones if zone.use in SLEEPING]
    for held in reruns.hold_each(made, losses(made)):
        # Other zones' limits are taken as enough in the check, within what a margin of 0 leaves: 0.2 K.
        assert max(held.air[name] for name in cabins) <= 29.2
    plain = search.build(search.offers)
    assert plain.cost < made.cost
    assert max(max(h.air[name] for name in cabins) for h in reruns.hold_each(plain, losses(plain))) > 29.0


def test_what_nothing_meets_is_said(boat: Resolved, loads: Needs) -> None:
    search, reruns = _each(boat, loads, damp_hours=0.0)
    (made,) = steer([search], reruns)
    assert made.possible
    assert made.failures
    assert made.cut <= MOST_CUTS
    assert all(one.value > one.limit for one in made.failures)


def test_batch_of_losses_equals_single_runs(boat: Resolved, loads: Needs) -> None:
    """The same steps in the same order: only round-off and when iterations stop tell them apart, 0.01 K."""
    search, reruns = _each(boat, loads)
    layout = search.build(search.offers)
    batch = reruns.hold_each(layout, [None, *losses(layout)])
    for one, lost in zip(batch, [None, *losses(layout)], strict=True):
        single = reruns.hold(layout, lost)
        assert one.lost == single.lost
        for name, value in single.air.items():
            assert one.air[name] == pytest.approx(value, abs=0.01)


@pytest.mark.slow
def test_a_wheelhouse_gets_a_unit_that_follows_it() -> None:
    """Between starts an on-off unit leaves a glass wheelhouse 2 to 3 K too warm; each cheaper one fails too."""
    resolved = resolve(read_text(demo("tern-24")))
    loads = needs(simulate(resolved, step=900.0, causes=False), resolved)
    search, reruns = _each(replace(resolved, place=replace(resolved.place, headings=(120.0,))), loads)
    plain = search.build(search.offers)
    days = design_days(reruns.resolved, 120.0, STEP, reruns.line)
    (checked,) = check([plain], reruns, days)
    assert [f.why for f in checked.failures or () if f.zone == "wheelhouse"] == [TOO_COARSE]
    (made,) = steer([search], reruns)
    assert made.failures == ()
    own = next(offer for offer in made.offers if offer.zones == ("wheelhouse",))
    cheaper = [one for one in search.offers if one.zones == own.zones and one.cost < own.cost]
    assert cheaper
    each = [replace(_with(made, one), name=str(i)) for i, one in enumerate(cheaper)]
    for one in check(each, reruns, days):
        assert "wheelhouse" in [failure.zone for failure in one.failures or ()]


def test_terms_are_read() -> None:
    scenario = read_text(
        demo("dunlin-11"),
        overrides=["equipment.cabin_one_unit_lost=85 degF", "equipment.most_damp_hours=6", "equipment.fan=cycling"],
    )
    terms: Terms = resolve(scenario).terms
    assert terms.cabin_one_lost == pytest.approx((85.0 - 32.0) / 1.8)
    assert (terms.damp_hours, terms.fan) == (6.0, "cycling")
    assert ONE_LOST == "one unit lost"

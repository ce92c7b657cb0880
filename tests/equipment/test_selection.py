"""Needs of groups and the choice of units, against brute force on small boats."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from heatsim import resolve
from heatsim.equipment.capacity import SEA_HEAT, rated
from heatsim.equipment.catalogue import Unit, read_catalogue
from heatsim.equipment.needs import Needs, adjacent, best_shares, connected_groups, own, self_controlled, shared
from heatsim.equipment.selection import (
    DIRECT,
    MOST_TOGETHER,
    Bench,
    Choice,
    Offer,
    choose,
    offers_for,
    pump_apparent,
    relaxations,
)
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolved import Resolved
from heatsim.scenario.starters import demo
from heatsim.scenario.terms import NO_TERMS, Terms
from heatsim.services.draws import household as mean_household

ROOMS = ("forward cabin", "saloon", "aft cabin")


@pytest.fixture(scope="module")
def boat() -> Resolved:
    return resolve(read_text(demo("dunlin-11")))


@pytest.fixture(scope="module")
def units() -> tuple[Unit, ...]:
    return read_catalogue()


def _needs(seed: int, names: tuple[str, ...] = ROOMS) -> Needs:
    rng = np.random.default_rng(seed)
    zones = len(names)
    sensible = rng.uniform(0.0, 1.0, (3, 24, zones)) * rng.uniform(400.0, 2200.0, zones)
    return Needs(
        names, (("hot", 0.0), ("hot", 90.0), ("humid", 0.0)), sensible, 0.3 * sensible, np.zeros(zones),
        np.full(zones, 23.5), np.full(zones, 0.0108), 29.0,
    )  # fmt: skip


def test_zones_that_control_themselves_add_up_hour_by_hour() -> None:
    n = _needs(1)
    together = self_controlled(n, [0, 1, 2])
    assert together.total == pytest.approx(float(n.total.sum(axis=-1).max()))
    assert together.total < sum(own(n, zone).total for zone in range(3))


def test_fixed_shares_earn_no_diversity() -> None:
    """The best shares, by brute force over a grid, need the sum of the zones' sensible peaks; any others need more."""
    n = _needs(2)
    peaks = n.sensible.max(axis=(0, 1))
    least = np.inf
    for a, b in product(np.linspace(0.02, 0.96, 95), repeat=2):
        if a + b < 0.99:
            shares = np.array([a, b, 1.0 - a - b])
            least = min(least, shared(n, [0, 1, 2], shares).sensible)
    assert least >= float(peaks.sum()) * (1.0 - 1e-12)
    assert least == pytest.approx(float(peaks.sum()), rel=0.02)  # the grid's own step
    assert shared(n, [0, 1, 2]).sensible == pytest.approx(float(peaks.sum()))
    np.testing.assert_allclose(best_shares(peaks), peaks / peaks.sum())


def _partitions(names: tuple[str, ...]) -> Iterator[list[tuple[str, ...]]]:
    if not names:
        yield []
        return
    first, rest = names[0], names[1:]
    for mask in product((False, True), repeat=len(rest)):
        group = (first, *(name for name, taken in zip(rest, mask, strict=True) if taken))
        left = tuple(name for name, taken in zip(rest, mask, strict=True) if not taken)
        for others in _partitions(left):
            yield [group, *others]


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("objective", ["cost", "weight", "power"])
def test_the_choice_is_the_best_of_all(boat: Resolved, units: tuple[Unit, ...], seed: int, objective: str) -> None:
    """Against every way to part the zones into adjacent groups with every unit that carries each."""
    n, terms = _needs(seed), Terms(objective=objective, shore=9000.0)  # type: ignore[arg-type]
    bench = Bench(units[::3], n, terms)
    touching = adjacent(boat, n.zones)
    groups = connected_groups(touching, 3)
    choice = choose(offers_for(bench, groups, boat), n.zones, terms)
    assert choice is not None
    assert choice.optimal
    best = np.inf
    allowed = {frozenset(group) for group in groups}
    direct = [unit for unit in bench.units if unit.kind in ("self-contained", "split")]
    for parts in _partitions(n.zones):
        if not all(frozenset(part) in allowed for part in parts):
            continue
        carried = []
        for part in parts:
            zones = n.of(part)
            demand = own(n, zones[0]) if len(zones) == 1 else shared(n, zones)
            counts = range(1, MOST_TOGETHER + 1) if len(zones) in (1, len(n.zones)) else (1,)
            offers = [bench.offer(u, zones, demand, count) for u in direct for count in counts]
            carried.append(np.array([(getattr(o, objective), o.apparent) for o in offers if o.margin >= 0.0]))
        sums = np.zeros((1, 2))
        for part_sums in carried:
            sums = (sums[:, None] + part_sums.reshape(1, -1, 2)).reshape(-1, 2)
        best = min(best, float(sums[sums[:, 1] <= terms.shore, 0].min(initial=np.inf)))
    assert choice.worth == pytest.approx(best)


def _resolved(*changes: str) -> Resolved:
    return resolve(read_text(demo("dunlin-11"), overrides=["supply.shore={voltage: 230 V, current: 16 A}", *changes]))


def test_power_left_for_the_units() -> None:
    """16 A × 0.8 (common practice, no source) × 207 V, EN 50160's 90 % of 230 V; less what the file keeps for others.

    Other load of 760 W at 0.95 is 800 VA, a pump of 140 W at 0.7 is 200 VA.
    """
    household = float(mean_household(_resolved()).mean()) / 0.95  # minute by minute, as the schedules have it
    assert _resolved().terms.shore == pytest.approx(16.0 * 0.8 * 207.0 - household)
    assert _resolved("supply.shore.lowest_voltage=220 V").terms.shore == pytest.approx(16.0 * 0.8 * 220.0 - household)
    kept = _resolved("supply.other_load=760 W", "equipment.sea_pump=140 W")
    assert kept.terms.shore == pytest.approx(16.0 * 0.8 * 207.0 - 1000.0)
    assert _resolved("supply.other_load=6 kW").terms.shore == 0.0


def test_a_unit_brings_its_pump(units: tuple[Unit, ...]) -> None:
    """By hand: 0.2 L/s against 5 m of water of 1023 kg/m³ is 10 W of water, 40 W at 25 %, 57 VA at 0.7."""
    unit = next(one for one in units if one.kind == "self-contained")
    flow = rated(unit).water_rate / SEA_HEAT
    assert pump_apparent(unit, Terms()) == pytest.approx(flow / 2e-4 * 1023.0 * 9.80665 * 5.0 * 2e-4 / 0.25 / 0.7)
    assert pump_apparent(unit, Terms(sea_pump=100.0)) == 0.0, "entered for the boat: not counted twice"
    handler = next(one for one in units if one.kind == "air handler")
    assert pump_apparent(handler, Terms()) == 0.0


def test_what_a_boat_without_a_choice_would_ask_of_her_socket(boat: Resolved, units: tuple[Unit, ...]) -> None:
    """The least of any choice, by brute force over every unit of every room, and never less than there is."""
    n, terms = _needs(0), Terms(shore=500.0)
    bench = Bench(units[::3], n, terms)
    groups = [(name,) for name in n.zones]

    def solve(other: Terms) -> Choice | None:
        return choose(offers_for(bench.under(other), groups, boat), n.zones, other)

    assert solve(terms) is None
    (found,) = relaxations(terms, solve, ["shore supply"])
    assert found.there == 500.0
    assert found.asked is not None
    power = 0.0
    for z in range(len(n.zones)):
        offers = [bench.offer(u, [z], own(n, z), k) for u in bench.units if u.kind in DIRECT for k in (1, 2, 3, 4)]
        power += min(offer.power for offer in offers if offer.margin >= 0.0)
    least = solve(Terms(objective="power"))
    assert least is not None
    assert sum(offer.power for offer in least.offers) == pytest.approx(power)
    assert found.asked == pytest.approx(sum(offer.apparent for offer in least.offers))


def test_every_connected_set_once() -> None:
    """A chain of five has n − k + 1 connected sets of each size k; a ring of five has five of each below five."""
    names = "abcde"
    chain = {x: {y for y in names if abs(names.index(x) - names.index(y)) == 1} for x in names}
    ring = {x: {names[i - 1], names[(i + 1) % 5]} for i, x in enumerate(names)}
    for touching, count in ((chain, 5 + 4 + 3 + 2 + 1), (ring, 5 + 5 + 5 + 5 + 1)):
        groups = connected_groups(touching, 5)
        assert len(groups) == len(set(groups)) == count
    assert len(connected_groups(ring, 2)) == 10


def test_neighbours_are_found(boat: Resolved) -> None:
    touching = adjacent(boat, ROOMS)
    assert touching["saloon"] == {"forward cabin", "aft cabin"}
    assert "aft cabin" not in touching["forward cabin"]


def test_limits_are_kept(boat: Resolved, units: tuple[Unit, ...]) -> None:
    n = _needs(3)
    groups = connected_groups(adjacent(boat, n.zones), 3)

    def offers(**terms: object) -> list[Offer]:
        return offers_for(Bench(units, n, replace(NO_TERMS, **terms)), groups, boat)  # type: ignore[arg-type]

    apart = offers(apart=(("saloon", "aft cabin"),))
    assert not any({"saloon", "aft cabin"} <= set(offer.zones) for offer in apart)
    joined = offers(together=(("saloon", "aft cabin"),))
    assert all(len({"saloon", "aft cabin"} & set(offer.zones)) != 1 for offer in joined)
    quiet = offers(cabin_noise=41.0)
    assert all(offer.unit.noise <= 41.0 for offer in quiet if "cabin" in " ".join(offer.zones))
    small = offers(largest=(0.5, 0.4, 0.4))
    assert all(offer.unit.size[0] <= 0.5 for offer in small)
    assert all(offer.total <= 1.3 * offer.demand.total for offer in offers(largest_oversize=1.3))
    assert all(offer.margin >= 0.15 for offer in offers(margins=(("weather", 0.1), ("load", 0.05))))
    assert all(offer.unit.frequency == 60.0 for offer in offers(frequency=60.0))


def test_what_stands_in_the_way_is_named(boat: Resolved, units: tuple[Unit, ...]) -> None:
    """No unit is quieter than 30 dB(A): lifting that limit is the only single one that helps."""
    n, terms = _needs(4), Terms(cabin_noise=30.0, largest_oversize=2.9)
    groups = [(name,) for name in n.zones]

    def solve(now: Terms) -> object:
        return choose(offers_for(Bench(units, n, now), groups, boat), n.zones, now)

    assert solve(terms) is None
    assert [one.limit for one in relaxations(terms, solve)] == ["cabin_noise"]  # type: ignore[arg-type]


def test_a_cord_too_small(boat: Resolved, units: tuple[Unit, ...]) -> None:
    n, terms = _needs(5), Terms(shore=300.0)
    groups = connected_groups(adjacent(boat, n.zones), 3)
    assert choose(offers_for(Bench(units, n, terms), groups, boat), n.zones, terms) is None

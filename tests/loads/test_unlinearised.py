"""The engine's day beside the same boat with nothing binned and nothing linearised, and the laws by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from boxes import ALWAYS, NEVER, SEA_ONLY, plain_box, plain_face, plain_zone

import heatsim
from heatsim.climate.days import design_weather
from heatsim.climate.sun import sun_on_boat
from heatsim.loads.line import Line, Stretch, make_line, one_blas_thread, solve_days
from heatsim.loads.unlinearised import UnlinearisedDay, compare_day, difference, same_network_day, unlinearised_day
from heatsim.network.airflow import DRY_AIR_DENSITY
from heatsim.network.base import LAWS, Network
from heatsim.network.drivers import Site, deck_excesses, heat_drivers
from heatsim.network.heat import Nominal, heat_network
from heatsim.network.laws import LawGroup, Moment, law_groups
from heatsim.network.regimes import Regimes
from heatsim.scenario.resolved import OUTDOORS, Foreground, Opening

SCENARIOS = Path(__file__).parents[2] / "scenarios"
SIGMA = 5.670374419e-8  # CODATA 2018
NOON = Moment(regime=0, wind=2.0, sky=12.0, air=33.0, sea=28.0, density=1.12, deck=np.full(6, 55.0))
OVER_DECK = Foreground(sea=0.3, deck=0.5, quay=0.2, deck_reflectance=0.35, quay_reflectance=0.3)


def _cube(fan: bool, **changes: object) -> tuple[Network, LawGroup]:
    """A cube of 4 m² faces: deck, sole and a side over the sea, the other three adiabatic; one law's links."""
    law = str(changes.pop("law"))
    faces = [plain_face("deck", "deck", 0.0, 0.0, 4.0), plain_face("sole", "sole", 0.0, 180.0, 4.0)]
    before = changes.pop("foreground", SEA_ONLY)
    faces += [plain_face(f"side {b}", "house", float(b), 90.0, 4.0, foreground=before) for b in (0, 90, 180, 270)]
    faces = [f if f.name in ("deck", "sole", "side 0") else replace(f, beyond="adiabatic") for f in faces]
    zone = plain_zone(furnishing_capacity=0.0, furnishing_area=0.0, fan_on=ALWAYS if fan else NEVER)
    box = plain_box(faces, zones=(zone,), **changes)  # type: ignore[arg-type]
    one = np.ones((1, 1))
    regimes = Regimes(
        np.array([2.0]), one * fan, np.zeros((1, 0)), np.ones((1, len(box.openings))), np.zeros((1, 0)),
        np.zeros((1, 0)), (np.zeros(1, dtype=np.int64),), DRY_AIR_DENSITY,
    )  # fmt: skip
    network = heat_network(box, regimes, Nominal(30.0, 28.0))
    return network, law_groups(network, box, regimes, (law,))[0]


def _flow(network: Network, group: LawGroup, name: str, inside: float, beyond: float) -> float:
    """Heat into the node `name` by the group's link to it, from another end at `beyond`."""
    source, target = np.full(len(group.links), beyond), np.full(len(group.links), inside)
    G, more = group(NOON, source, target)
    flow = G * (source - target) + more
    (link,) = np.flatnonzero(network.target[group.links] == network.nodes.index(name))
    return float(flow[link])


@pytest.mark.parametrize(("name", "sky", "sea"), [("deck outside", 1.0, 0.0), ("side 0 outside", 0.5, 0.5),
                                                  ("sole outside", 0.0, 1.0)])  # fmt: skip
def test_outside_skin_by_hand(name: str, sky: float, sea: float) -> None:
    """ISO 6946:2017 annex C, h_ce = 4 + 4 v (from memory); Stefan-Boltzmann to sky and sea; a side sees half each."""
    network, group = _cube(True, law="outside_film")
    T = 58.0
    kelvin = np.array([T, NOON.sky, NOON.sea]) + 273.15
    radiation = 0.9 * SIGMA * (sky * (kelvin[1] ** 4 - kelvin[0] ** 4) + sea * (kelvin[2] ** 4 - kelvin[0] ** 4))
    by_hand = 4.0 * (12.0 * (NOON.air - T) + radiation)
    assert _flow(network, group, name, T, NOON.air) == pytest.approx(by_hand, rel=1e-12)  # the same algebra


def test_a_side_over_own_deck_by_hand() -> None:
    """Stefan-Boltzmann to half a sky, and below it to sea, deck at 55 °C and a quay at air temperature by shares."""
    network, group = _cube(True, law="outside_film", foreground=OVER_DECK)
    T = 40.0
    skin, *seen = (np.array([T, NOON.sky, NOON.sea, 55.0, NOON.air]) + 273.15) ** 4
    radiation = 0.9 * SIGMA * float(np.dot([0.5, 0.15, 0.25, 0.1], np.array(seen) - skin))
    by_hand = 4.0 * (12.0 * (NOON.air - T) + radiation)
    assert _flow(network, group, "side 0 outside", T, NOON.air) == pytest.approx(by_hand, rel=1e-12)


def test_a_hot_deck_drives_the_linear_network_as_the_law_does() -> None:
    """Heat into a side over teak by the linear drivers and by the law, at the skin's own sol-air temperature, hour by
    hour. 1.5 W/m² is 1 % of what the skin receives: coefficients are taken about a first guess of its temperature. The
    deck brings more than ten times as much.
    """
    faces = [plain_face(f"side {b}", "house", float(b), 90.0, 4.0, foreground=OVER_DECK) for b in (0, 90, 180, 270)]
    bare = replace(OVER_DECK, deck=0.0, quay=0.7)
    brought = {}
    for before in (OVER_DECK, bare):
        box = plain_box([replace(face, foreground=before) for face in faces])
        weather = design_weather(box, box.days[0], 300.0)
        line = make_line(box, (weather,))
        sun = sun_on_boat(box, weather, [0.0])
        expected = np.full((1, 288, 1), 24.0), np.zeros((1, 288, 1))
        site = Site(box, line.regimes, line.regimes.numbers[0], weather, *expected, line.links)
        u = heat_drivers(line.heat, site, sun)[0, 0]
        kinds = [(driver.kind, driver.of) for driver in line.heat.drivers]
        linear = u[:, kinds.index(("outer_sun", (2,)))] + u[:, kinds.index(("long_wave", (2,)))]
        (group,) = law_groups(line.heat, box, line.regimes, ("outside_film",))
        film = line.heat.notes["outside_film"][0, 2] * 4.0
        absorbed = 4.0 * 0.4 * sun.incident[0, 0, :, 2]
        decks = [None if one is None else (one[0] + one[1])[0, 0] for one in deck_excesses(box, weather, sun)]
        exact = np.zeros(288)
        for k in range(288):
            air = float(weather.air[0, k])
            skin = air + linear[k] / film  # where the linear network has no flow inwards
            deck = np.array([air if one is None else air + one[k] for one in decks])
            now = Moment(0, float(weather.wind[k]), float(weather.sky[0, k]), air, float(weather.sea[0, k]), 1.1, deck)
            G, more = group(now, np.full(4, air), np.full(4, skin))
            exact[k] = absorbed[k] + (G * (air - skin) + more)[2]
        assert np.abs(exact).max() / 4.0 < 1.5
        brought[before] = linear / 4.0
    assert (brought[OVER_DECK] - brought[bare]).max() > 15.0


def test_long_wave_in_a_cube_by_hand() -> None:
    """A grey cube in the mean-radiant-temperature network of Carroll 1980: F = 1.2 for each face, so that a skin gives
    A σ (T⁴ − T_r⁴)/(1/F + (1 − ε)/ε).
    """
    network, group = _cube(True, law="long_wave")
    by_hand = 4.0 * SIGMA * ((24.0 + 273.15) ** 4 - (45.0 + 273.15) ** 4) / (1.0 / 1.2 + 0.1 / 0.9)
    assert _flow(network, group, "deck inside", 45.0, 24.0) == pytest.approx(by_hand, rel=1e-9)  # F by iteration


@pytest.mark.parametrize(("name", "skin", "coefficient"), [
    ("deck inside", 30.0, 0.7), ("deck inside", 20.0, 5.0), ("sole inside", 30.0, 5.0), ("sole inside", 20.0, 0.7),
    ("side 0 inside", 30.0, 2.5),
])  # fmt: skip
def test_natural_convection_turns_with_the_flow(name: str, skin: float, coefficient: float) -> None:
    """ISO 6946:2017 annex C (from memory): 5.0 up, 0.7 down, 2.5 sideways, whatever the network was built for."""
    network, group = _cube(False, law="inside_convection")
    assert _flow(network, group, name, skin, 24.0) == pytest.approx(4.0 * coefficient * (24.0 - skin), rel=1e-12)


def test_a_door_to_outdoors_by_its_own_difference() -> None:
    """Brown and Solvason 1962 for the buoyant part, BS 5925:1991 for wind (from memory), added in squares."""
    door = Opening("door", "door", "room", OUTDOORS, 0.7, 1.9, 0.0, 0.025, ALWAYS)
    network, group = _cube(True, law="outdoor_air", openings=(door,))
    buoyant = 0.6 / 3.0 * 0.7 * 1.9 * np.sqrt(9.80665 * 1.9 * 11.0 / 300.0)
    volume = np.hypot(buoyant, 0.025 * 0.7 * 1.9 * NOON.wind)
    by_hand = volume * NOON.density * (1006.0 + 1860.0 * 0.012) * 11.0
    assert _flow(network, group, "room air", 22.0, NOON.air) == pytest.approx(by_hand, rel=1e-12)  # the same algebra


def test_every_law_of_a_link_is_known() -> None:
    network, _ = _cube(True, law="long_wave")
    assert {LAWS[i] for i in network.law} == {"fixed", "outside_film", "inside_convection", "long_wave"}


Solved = tuple[Line, Stretch, UnlinearisedDay]


@pytest.fixture(scope="module")
def dunlin() -> Solved:
    resolved = heatsim.resolve(heatsim.read(SCENARIOS / "dunlin-11.yaml"))
    with one_blas_thread():
        line = make_line(resolved, tuple(design_weather(resolved, day, 300.0) for day in resolved.days))
        stretch = solve_days(line, np.array(resolved.place.headings[:1]))[0]
        return line, stretch, unlinearised_day(line, stretch)


@pytest.mark.slow
def test_a_boat_with_nothing_linearised(dunlin: Solved) -> None:
    """3 % of each zone's peak and 2 % of the block's, at the peak and in every hour: what the linear network may cost
    (issue of the main job; a volume rule is off by tens of per cent).
    """
    line, stretch, exact = dunlin
    table = difference(line, stretch, exact.heat)
    print(table.round(2).to_string())
    worst = table[["hourly", "at_peak"]].abs()
    assert worst.drop("block").max().max() < 3.0
    assert worst.loc["block"].max() < 2.0
    assert exact.distance < 0.01


@pytest.mark.slow
def test_the_comparison_sees_a_wrong_load(dunlin: Solved) -> None:
    """One zone 4 % high, or the block an hour late, fails it."""
    line, stretch, exact = dunlin
    wrong = exact.heat.copy()
    wrong[:, 1] *= 1.04
    assert difference(line, stretch, wrong)["at_peak"].abs().max() > 3.0
    assert difference(line, stretch, np.roll(exact.heat, 12, axis=0)).loc["block", "hourly"] > 2.0


@pytest.mark.slow
def test_without_its_laws_it_is_the_linear_network(dunlin: Solved) -> None:
    """Capacity lent to massless nodes and tolerances of BDF then make all the difference; 5 s of 1 h is 0.14 %, of
    which a day's smooth course leaves less.
    """
    line, stretch, _ = dunlin
    with one_blas_thread():
        table = difference(line, stretch, unlinearised_day(line, stretch, laws=()).heat)
    assert table["hourly"].max() < 0.1


@pytest.mark.slow
def test_the_lent_capacity_does_not_matter(dunlin: Solved) -> None:
    """Half of it moves no hour by 0.1 % of the peak, a thirtieth of what is to be told apart."""
    line, stretch, exact = dunlin
    with one_blas_thread():
        half = unlinearised_day(line, stretch, light_time=2.5)
    assert np.abs(half.heat - exact.heat).reshape(24, 12, -1).mean(axis=1).max() < 1e-3 * np.abs(exact.heat).max()


@pytest.mark.slow
def test_tern_on_the_same_network() -> None:
    """Closed loop at 5 min against scipy's solver with mode changes as events: 0.1 % of each zone's peak, 1 % in hours
    that hold a mode change (what the step may cost; a load is not known to 1 %).
    """
    resolved = heatsim.resolve(heatsim.read(SCENARIOS / "tern-24.yaml"))
    with one_blas_thread():
        line = make_line(resolved, tuple(design_weather(resolved, day, 300.0) for day in resolved.days))
        stretch = solve_days(line, np.array(resolved.place.headings[:1]))[0]
        exact = same_network_day(line, stretch)
    held = line.heat.holdable
    ours, theirs = (q.reshape(24, 12, -1).mean(axis=1)[:, held] for q in (stretch.heat.heat[0], exact.heat))
    error = np.abs(ours - theirs) / np.abs(theirs).max(axis=0)
    changed = exact.changed.reshape(24, 12, -1).any(axis=1)[:, held]
    for name, own, moved in zip(np.array(line.zones)[held], error.T, changed.T, strict=True):
        within = f"{own[moved].max():.1e}" if moved.any() else "none"
        print(f"{name}: {own[~moved].max():.1e} of the peak; hours with a mode change: {within}")
    assert changed.any(), "the day must exercise mode changes"
    assert error[~changed].max() < 1e-3
    assert error[changed].max() < 1e-2


@pytest.mark.slow
def test_compare_day_is_the_table() -> None:
    resolved = heatsim.resolve(heatsim.read(SCENARIOS / "dunlin-11.yaml"))
    table = compare_day(resolved, day=0, laws=("outside_film",))
    assert list(table.columns) == ["peak", "reference", "at_peak", "hourly"]
    assert table.index[-1] == "block"


@pytest.mark.slow
def test_reference_by_name() -> None:
    """`solver="reference"` against the engine on a day of two headings: 1 % of each zone's peak, as above."""
    resolved = heatsim.resolve(heatsim.read(SCENARIOS / "dunlin-11.yaml"))
    few = replace(resolved, days=resolved.days[:1], place=replace(resolved.place, headings=(120.0, 300.0)))
    exact, ours = heatsim.simulate(few, solver="reference", step=900.0), heatsim.simulate(few, step=900.0, causes=False)
    assert list(exact.data_vars) == ["sensible_cooling", "heating"]
    peak = exact["sensible_cooling"].max()
    difference = abs(exact["sensible_cooling"] - ours["sensible_cooling"].transpose(*exact["sensible_cooling"].dims))
    assert 0.0 < float(difference.max() / peak) < 0.01

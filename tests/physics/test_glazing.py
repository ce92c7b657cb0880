"""Glass, films and panes behind panes in closed form; data sheets that come back from the tables made of them."""

import numpy as np
import pytest

from heatsim.errors import HeatsimError
from heatsim.physics import glazing

THICK = 0.1676
"""K L of 6 mm clear glass."""


def test_brewster_angle():
    """Parallel light is not reflected where tan θ = n (Born and Wolf, §1.5.3); at normal incidence ((n−1)/(n+1))²."""
    cosine = 1.0 / np.sqrt(1.0 + glazing.REFRACTIVE_INDEX**2)
    assert glazing.fresnel_reflectance(np.array([cosine]), 1.526)[1] == pytest.approx(0.0, abs=1e-15)
    normal = glazing.fresnel_reflectance(np.ones(1), 1.526)
    assert [float(r[0]) for r in normal] == pytest.approx([(0.526 / 2.526) ** 2] * 2)


def test_clear_pane_wastes_nothing():
    """Without absorption everything is passed or reflected; two surfaces give (1−r)/(1+r) (closed form)."""
    r = (0.526 / 2.526) ** 2
    optics = glazing.pane_set(np.ones(1), 0.0, 1)
    assert optics.transmittance == pytest.approx((1 - r) / (1 + r))
    assert optics.outer_absorptance == pytest.approx(0.0, abs=1e-15)
    # A pile of four equal surfaces passes (1 − r)/(1 + 3 r).
    assert glazing.pane_set(np.ones(1), 0.0, 2).transmittance == pytest.approx((1 - r) / (1 + 3 * r))


SINGLE = [(5.7, 0.82, 1), (5.7, 0.60, 1), (5.5, 0.35, 1), (5.6, 0.15, 1)]
DATA_SHEETS = [*SINGLE, (2.8, 0.75, 2), (2.8, 0.49, 2), (1.1, 0.27, 2)]


@pytest.mark.parametrize(("u_value", "g_value", "panes"), DATA_SHEETS)
def test_fitted_table_returns_its_data_sheet(u_value, g_value, panes):
    """U by EN 673 and g by EN 410, summed here from the table itself."""
    table = glazing.angular_table(u_value, g_value, panes)
    assert 1.0 / (1 / 25 + table.resistance + 1 / 7.7) == pytest.approx(u_value, rel=1e-9)
    outer = u_value / 25 * table.outer_absorptance[0]
    inner = u_value * (1 / 25 + table.resistance) * table.inner_absorptance[0]
    assert table.transmittance[0] + outer + inner == pytest.approx(g_value, abs=1e-9)


@pytest.mark.parametrize(("u_value", "g_value", "panes"), DATA_SHEETS)
def test_shares_stay_between_nothing_and_everything(u_value, g_value, panes):
    table = glazing.angular_table(u_value, g_value, panes)
    shares = np.array([table.transmittance, table.outer_absorptance, table.inner_absorptance])
    assert np.all(shares >= 0.0)
    assert np.all(shares.sum(axis=0) <= 1.0 + 1e-12)
    assert np.all(np.diff(table.transmittance) < 0.0)
    assert table.transmittance[-1] < 1e-4
    assert 0.0 < table.back_reflectance < 1.0
    assert table.diffuse_transmittance < table.transmittance[0]


@pytest.mark.parametrize(("g_value", "panes"), [(0.95, 1), (0.9, 2), (-0.1, 1)])
def test_impossible_solar_factor_is_refused(g_value, panes):
    with pytest.raises(HeatsimError, match="solar factor of"):
        glazing.angular_table(5.7, g_value, panes)


FILMS = {"neutral": (0.36, 0.18), "dark": (0.17, 0.24), "silver": (0.12, 0.55)}


@pytest.mark.parametrize("name", FILMS)
def test_film_returns_its_data_sheet_on_6_mm_clear_glass(name):
    film = glazing.film_of_sheet(*FILMS[name])
    found = glazing.filmed_pane(np.ones(1), THICK, film)
    assert found.transmittance.mean() == pytest.approx(FILMS[name][0], abs=1e-12)
    assert found.front.mean() == pytest.approx(FILMS[name][1], abs=1e-12)


def test_film_against_light_followed_bounce_by_bounce():
    """The closed sums against a sum over 200 reflections, at an angle, for each polarisation and from both sides."""
    film, absorption, cosine = glazing.Film(0.3, 0.5), 0.3, np.array([0.5])
    found = glazing.filmed_pane(cosine, absorption, film)
    inner_cosine = np.sqrt(1 - (1 - 0.25) / glazing.REFRACTIVE_INDEX**2)
    a = float(np.exp(-absorption / inner_cosine))
    for k, reflectance in enumerate(glazing.fresnel_reflectance(cosine, glazing.REFRACTIVE_INDEX)):
        r = float(reflectance[0])
        light, passed, thrown, on_film, on_glass = 1 - r, 0.0, r, 0.0, 0.0
        for _ in range(200):
            on_glass, light = on_glass + light * (1 - a), light * a
            passed, on_film = passed + light * film.transmittance, on_film + light * 0.2
            light *= film.reflectance
            on_glass, light = on_glass + light * (1 - a), light * a
            thrown, light = thrown + light * (1 - r), light * r
        assert found.transmittance[k, 0] == pytest.approx(passed)
        assert found.front[k, 0] == pytest.approx(thrown)
        assert found.inner[k, 0] + found.outer[k, 0] == pytest.approx(on_film + on_glass)
        assert found.inner[k, 0] - found.outer[k, 0] == pytest.approx(on_film)
        light, back = film.transmittance, film.reflectance  # from the room
        for _ in range(200):
            light *= a**2 * r
            back, light = back + light * film.transmittance, light * film.reflectance
        assert found.back[k, 0] == pytest.approx(back)


def test_a_film_like_bare_glass_changes_nothing():
    r = (0.526 / 2.526) ** 2
    bare = glazing.filmed_pane(np.ones(1), THICK, glazing.Film(1 - r, r))
    t, front = glazing.pane(np.ones(1), THICK)
    assert bare.transmittance == pytest.approx(t)
    assert bare.front == pytest.approx(front)
    assert bare.back == pytest.approx(front)


def test_a_film_no_glass_can_carry_is_refused():
    for sheet in ((0.9, 0.05), (0.5, 0.6), (0.5, 0.01)):
        with pytest.raises(HeatsimError, match="no film on 6 mm"):
            glazing.film_of_sheet(*sheet)


def test_pane_behind_pane_is_a_double_window_ansi_ashrae_140_2017():
    """The published test cell's window, built of two single panes: transmittance as printed, 0.005 as above."""
    angles = np.array([0, 30, 50, 60])
    single = glazing.Glass(0.0196 * 3.175, 1, 1.0, 0.003)
    found = glazing.glass_behind(single, single, 0.15, np.cos(np.radians(angles)))
    assert found.transmittance.mean(axis=0) == pytest.approx([0.7466, 0.7388, 0.7047, 0.6474], abs=0.005)
    whole = glazing.sheet(np.cos(np.radians(angles)), 0.0196 * 3.175, 2)
    assert found.outer + found.inner == pytest.approx(whole.outer + whole.inner)
    assert found.back == pytest.approx(whole.back)


def test_three_clear_panes_are_a_pile_of_plates():
    """Six equal surfaces without absorption pass (1 − r)/(1 + 5 r) (Born and Wolf, from memory)."""
    r = (0.526 / 2.526) ** 2
    found = glazing.glass_behind(glazing.Glass(0, 1, 1, 0.01), glazing.Glass(0, 2, 1, 0.2), 0.18, np.ones(1))
    assert found.transmittance == pytest.approx((1 - r) / (1 + 5 * r))
    assert found.outer + found.inner == pytest.approx(0.0, abs=1e-14)


def test_heat_within_glass_behind_glass_flows_off_as_in_its_chain_of_resistances():
    """Solar factor of the set against the chain solved surface by surface: films 25 and 7.7, four sources."""
    front, behind, gap = glazing.Glass(0.3, 1, 1.0, 0.006), glazing.Glass(0.5, 1, 1.0, 0.01), 0.18
    first, second = front.sheet(np.ones(1)), behind.sheet(np.ones(1))
    passed = (first.transmittance / (1 - first.back * second.front)).mean()
    back_lit = 0.5 * passed * second.front.mean() * (1 - first.transmittance - first.back).mean()
    sources = np.array([
        first.outer.mean() + back_lit, first.inner.mean() + back_lit, passed * second.outer.mean(),
        passed * second.inner.mean(),
    ])  # fmt: skip
    links = 1.0 / np.array([1 / 25, front.resistance, gap, behind.resistance, 1 / 7.7])
    matrix = np.diag(links[:-1] + links[1:]) - np.diag(links[1:-1], 1) - np.diag(links[1:-1], -1)
    inward = links[-1] * np.linalg.solve(matrix, sources)[-1]
    table = glazing.tabulated(behind, front, gap)
    assert table.resistance == pytest.approx(0.196)
    assert glazing.solar_factor(table) == pytest.approx(table.transmittance[0] + inward, abs=1e-12)
    assert table.diffuse_transmittance < table.transmittance[0]

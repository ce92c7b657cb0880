"""Layered walls: resistances by ISO 6946, the periodic matrix of ISO 13786, and the cells that stand for it."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.physics.layers import cells, periodic_matrix, resistance
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolve import resolve
from heatsim.tables.loader import names

Layers = list[tuple[float, float, float, float]]


@pytest.mark.parametrize(
    ("layers", "U"),
    [
        ([(0.1, 0.77, 0, 0), (0.1, 0.04, 0, 0), (0.0125, 0.25, 0, 0)], 0.3509),
        ([(0.004, 0.30, 0, 0), (0.025, 0.035, 0, 0), (0.003, 0.30, 0, 0)], 1.1018),
        ([(0.006, 160, 0, 0), (0.05, 0.04, 0, 0), (0.012, 0.13, 0, 0)], 0.6612),
        ([(0.008, 50, 0, 0), (0.075, 0.04, 0, 0), (0.015, 0.13, 0, 0)], 0.4628),
    ],
)
def test_u_value_with_standard_films(layers: Layers, U: float) -> None:
    """ISO 6946:2017 6.7.1 with R_si 0.13 and R_se 0.04; values worked by hand to four digits."""
    assert 1.0 / (0.13 + resistance(layers) + 0.04) == pytest.approx(U, abs=6e-5)


def _admittances(layers: Layers, films: tuple[float, float] = (0.13, 0.04), period: float = 86400.0):  # type: ignore[no-untyped-def]
    inside, outside = ((1.0, 1.0 / r, 0.0, 0.0) for r in films)
    Z = periodic_matrix([inside, *layers, outside] if films[0] else layers, period)
    assert abs(np.linalg.det(Z) - 1.0) < 1e-9
    return -Z[0, 0] / Z[0, 1], -Z[1, 1] / Z[0, 1], -1.0 / Z[0, 1]


@pytest.mark.parametrize(
    ("layers", "inner", "outer", "through"),
    [
        ([(0.2, 1.8, 2400, 1000)], 5.704, 11.592, 1.8271),
        ([(0.2, 1.8, 2400, 1000), (0.1, 0.04, 30, 1400), (0.005, 1.0, 1200, 1500)], 5.942, 0.847, 0.0606),
        ([(0.012, 0.13, 500, 1600), (0.04, 0.028, 40, 1400), (0.008, 0.30, 1600, 1200)], 0.883, 1.285, 0.5775),
    ],
)
def test_periodic_matrix(layers: Layers, inner: float, outer: float, through: float) -> None:
    """ISO 13786:2017 7.1, T = 24 h, layers inside to outside; numbers worked independently from the same clause with
    the layer formula in ξ = d/δ, where this code uses complex hyperbolic functions. Four printed digits.
    """
    Y11, Y22, Y12 = _admittances(layers)
    assert abs(Y11) == pytest.approx(inner, abs=6e-4)
    assert abs(Y22) == pytest.approx(outer, abs=6e-4)
    assert abs(Y12) == pytest.approx(through, abs=6e-5)


def test_periodic_matrix_of_the_clause() -> None:
    """The layer matrix exactly as ISO 13786 prints it, for one layer."""
    d, k, rho, c, T = 0.1, 0.51, 1400.0, 1000.0, 86400.0
    depth = np.sqrt(k * T / (np.pi * rho * c))
    x = d / depth
    ch, sh, co, si = np.cosh(x), np.sinh(x), np.cos(x), np.sin(x)
    Z11 = ch * co + 1j * sh * si
    Z12 = -depth / (2 * k) * (sh * co + ch * si + 1j * (ch * si - sh * co))
    Z21 = -k / depth * (sh * co - ch * si + 1j * (sh * co + ch * si))
    np.testing.assert_allclose(periodic_matrix([(d, k, rho, c)]), [[Z11, Z12], [Z21, Z11]], rtol=1e-12)


def _of_cells(layers: Layers, films: tuple[float, float], period: float):  # type: ignore[no-untyped-def]
    between, capacities = cells(layers)
    Z = np.eye(2, dtype=complex)
    chain = [films[0] + between[0], *between[1:]]
    chain[-1] += films[1]
    for i, r in enumerate(chain):
        Z = np.array([[1.0, -r], [0.0, 1.0]]) @ Z
        if i < len(capacities):
            Z = np.array([[1.0, 0.0], [-2j * np.pi / period * capacities[i], 1.0]]) @ Z
    return -Z[0, 0] / Z[0, 1], -Z[1, 1] / Z[0, 1], -1.0 / Z[0, 1]


@pytest.mark.parametrize("name", names("lay_ups"))
def test_cells_stand_for_every_shipped_lay_up(name: str) -> None:
    """Against the exact matrix of ISO 13786: 24 h within 2 %, 6 h within 6 % of each admittance, in marine films."""
    text = f"""
format: 1
yacht: {{name: Test, length: 10 m, kind: motor}}
place: {{region: BVI, month: 7, berth: alongside, heading: 0 deg}}
zones:
  room:
    use: cabin
    deck: main
    floor_area: 10 m2
    height: 2 m
    faces: [{{kind: deck, area: 10 m2, lay_up: {name}}}, {{kind: hull, area: 10 m2, bearing: 90 deg, lay_up: {name}}}]
"""
    lay_up = next(x for x in resolve(read_text(text)).lay_ups if x.name == name)
    layers = [(x.thickness, x.conductivity, x.density, x.specific_heat) for x in lay_up.layers]
    films = (1.0 / 8.0, 1.0 / 18.0)
    for period, within in ((86400.0, 0.02), (21600.0, 0.06)):
        exact = _admittances(layers, films, period)
        ours = _of_cells(layers, films, period)
        errors = [abs(a - b) / abs(b) for a, b in zip(ours, exact, strict=True)]
        print(f"{name}, {period / 3600:.0f} h: " + ", ".join(f"{e:.2%}" for e in errors))
        assert max(errors) < within


def test_cells_keep_resistance_and_capacity() -> None:
    layers = [(0.009, 0.13, 500, 1600), (0.04, 0.04, 40, 1030), (0.02, 0.025, 0, 0), (0.004, 0.3, 1700, 1100)]
    between, capacities = cells(layers)
    assert between.sum() == pytest.approx(resistance(layers), rel=1e-12)
    assert capacities.sum() == pytest.approx(sum(d * rho * c for d, _, rho, c in layers), rel=1e-12)
    assert np.all(between >= 0.0)

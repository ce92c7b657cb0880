"""Films and openings against printed values and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import trapezoid

from heatsim.physics import films, openings


def test_radiative_coefficient_is_exact_for_the_pair() -> None:
    h = films.radiative_coefficient(60.0, 10.0, 0.9)
    exact = 0.9 * films.STEFAN_BOLTZMANN * (333.15**4 - 283.15**4)
    assert h * 50.0 == pytest.approx(exact, rel=1e-12)


def test_forced_convection_lies_between_still_air_and_a_gale() -> None:
    side, overhead, sole = (float(films.forced_inside_convection(30.0, tilt)) for tilt in (90.0, 0.0, 180.0))
    assert side == pytest.approx(0.19 * 30.0**0.8)
    assert 2.5 <= side < overhead < 34.0
    assert 0.7 < sole < side


def test_enclosure_of_a_cube_is_exact() -> None:
    """Six black faces: each sees the five others; the star reproduces 4σT³ A between one face and the rest."""
    area = np.ones(6)
    exchange = films.enclosure_exchange(area, np.ones(6), 20.0)
    black = 4.0 * films.STEFAN_BOLTZMANN * 293.15**3
    np.testing.assert_allclose(films.enclosure_view_factors(area), 1.2, rtol=1e-9)
    one_to_rest = 1.0 / (1.0 / exchange[0] + 1.0 / exchange[1:].sum())
    assert one_to_rest == pytest.approx(black, rel=1e-9)


def test_emissivity_zero_exchanges_nothing() -> None:
    assert np.all(films.enclosure_exchange(np.ones(4), np.zeros(4), 24.0) == 0.0)


def test_doorway_by_hand() -> None:
    """2 m × 1 m door, 5 K at 300 K: 0.2 · 2 · √(9.80665 · 2 · 5/300) = 0.2287 m³/s (Brown and Solvason 1962)."""
    assert openings.door_exchange(1.0, 2.0, 5.0) == pytest.approx(0.22870, abs=1e-5)
    assert openings.door_exchange(1.0, 2.0, -5.0) == openings.door_exchange(1.0, 2.0, 5.0)


def test_doorway_is_the_integral_over_its_height() -> None:
    """The factor C_d/3 is ∫ √(2 g z ΔT/T) over the half above the neutral plane."""
    z = np.linspace(0.0, 1.0, 200_001)
    flow = openings.DISCHARGE * trapezoid(np.sqrt(2.0 * openings.GRAVITY * z * 5.0 / 300.0), z)
    assert openings.door_exchange(1.0, 2.0, 5.0) == pytest.approx(flow, rel=1e-5)


def test_hatch_and_wind_by_hand() -> None:
    # 0.055 √(9.80665 · 0.6⁵ · 4/300): Epstein 1988.
    assert openings.hatch_exchange(0.6, 0.6, 4.0) == pytest.approx(
        0.055 * (9.80665 * 0.6**5 * 4 / 300) ** 0.5, rel=1e-12
    )
    assert openings.wind_exchange(0.36, 4.0) == pytest.approx(0.036)

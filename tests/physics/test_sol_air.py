"""A deck's radiation against its heat balance solved for the fourth powers themselves, and in limits."""

import numpy as np
import pytest

from heatsim.physics.sol_air import deck_radiation

SIGMA = 5.670374419e-8  # CODATA 2018


def _balance(sun: float, absorptance: float, air: float, sky: float, wind: float) -> float:
    """Black-body temperature of the radiation of a skin without heat flow inwards, by halving [°C]."""
    low, high = -50.0, 150.0
    for _ in range(80):
        T = 0.5 * (low + high)
        gain = absorptance * sun + (4 + 4 * wind) * (air - T) + 0.9 * SIGMA * ((sky + 273.15) ** 4 - (T + 273.15) ** 4)
        low, high = (T, high) if gain > 0 else (low, T)
    return float((0.9 * (low + 273.15) ** 4 + 0.1 * (sky + 273.15) ** 4) ** 0.25 - 273.15)


@pytest.mark.parametrize("wind", [1.0, 2.0, 4.0, 8.0])
@pytest.mark.parametrize(("sun", "absorptance"), [(0.0, 0.65), (950.0, 0.25), (950.0, 0.65), (600.0, 0.9)])
def test_deck_radiation_against_the_balance_of_fourth_powers(wind: float, sun: float, absorptance: float) -> None:
    """1 K: one guess of the deck's temperature linearises it, and mixing temperatures for fourth powers costs the rest;
    the share of a window's view that a deck takes makes it a tenth of that.
    """
    by_sun, by_sky = deck_radiation(sun, absorptance, 33.0, 15.0, wind)
    assert 33.0 + by_sun + by_sky == pytest.approx(_balance(sun, absorptance, 33.0, 15.0, wind), abs=1.0)


def test_parts_vanish_with_their_causes() -> None:
    by_sun, by_sky = deck_radiation(0.0, 0.7, 30.0, 12.0, 2.0)
    assert by_sun == 0.0
    assert by_sky < -2.0
    by_sun, by_sky = deck_radiation(np.array([0.0, 800.0]), 0.7, 30.0, 30.0, 2.0)
    assert by_sky == pytest.approx([0.0, 0.0])
    assert by_sun[1] > 20.0

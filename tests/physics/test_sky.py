"""Sky radiation: cloud closes the gap it should, and the law both ways."""

import numpy as np
import pytest

from heatsim.physics import sky


def test_overcast_closes_most_of_the_gap():
    """Martin and Berdahl 1984: low cloud leaves 1 − exp(−1/8.2) of the clear sky's gap."""
    clear = sky.clear_sky_emissivity(15.0)
    gap = (1.0 - sky.cloudy_sky_emissivity(clear, 1.0)) / (1.0 - clear)
    assert gap == pytest.approx(1.0 - np.exp(-1.0 / 8.2), rel=1e-12)
    assert sky.cloudy_sky_emissivity(clear, 0.0) == clear


def test_black_sky_radiates_what_was_measured():
    """Stefan and Boltzmann's law, both ways (closed form)."""
    assert sky.sky_temperature_of_radiation(5.670374419e-8 * 290.0**4) == pytest.approx(16.85, abs=1e-9)
    assert sky.sky_temperature(16.85, 1.0) == pytest.approx(16.85, abs=1e-12)

"""Sky temperature against other published formulas and a standard's flat difference."""

import numpy as np
import pytest

from heatsim.physics import sky


# Clark and Allen 1978, ε = 0.787 + 0.764 ln(T_dp / 273 K), and Prata 1996, ε = 1 − (1 + w) exp(−√(1.2 + 3 w)), both
# from memory. Those two differ from each other by up to 0.05 and leave dry skies uncertain, hence 0.06.
@pytest.mark.parametrize("dew_point", [0.0, 10.0, 20.0, 26.0])
def test_clear_sky_emissivity_among_published_formulas(dew_point):
    clark = 0.787 + 0.764 * np.log((dew_point + 273.15) / 273.0)
    vapour = 6.112 * np.exp(17.62 * dew_point / (243.12 + dew_point))
    w = 46.5 * vapour / (dew_point + 5.0 + 273.15)
    prata = 1.0 - (1.0 + w) * np.exp(-np.sqrt(1.2 + 3.0 * w))
    assert sky.clear_sky_emissivity(dew_point) == pytest.approx(0.5 * (clark + prata), abs=0.06)


def test_sky_below_air_iso_13790():
    """ISO 13790:2008, 11.4.6 (from memory): 11 K below air in intermediate zones, a mean over all weathers.

    Compared at 15 °C, dew point 8 °C and half cover; 3 K because the standard gives one number per zone. Its 13 K for
    the tropics is not met under humid skies: 28 °C with dew point 23 °C gives 10 K clear, 5 K half covered.
    """
    half = sky.cloudy_sky_emissivity(sky.clear_sky_emissivity(8.0), 0.5)
    assert 15.0 - sky.sky_temperature(15.0, half) == pytest.approx(11.0, abs=3.0)


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
